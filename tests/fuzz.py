"""How many examples a fuzz test tries: few as a rule, as many as one asks for a long run.

``DRAINPUMP_FUZZ=10000 python -m pytest -q tests -k read_or_refused`` tries that many of each.
"""

from __future__ import annotations

import os


def examples(default: int) -> int:
    """Return the number of examples, from the variable DRAINPUMP_FUZZ where it is set."""
    return int(os.environ.get("DRAINPUMP_FUZZ", default))
