"""How many examples a fuzz test tries: few as a rule, as many as one asks for a long run.

``DRAINPUMP_FUZZ=17000 python -m pytest -q tests/test_fuzz.py`` tries that many of each kind.
"""

from __future__ import annotations

import os


def examples(default: int) -> int:
    """Return the number of examples, from the variable DRAINPUMP_FUZZ where it is set."""
    return int(os.environ.get("DRAINPUMP_FUZZ", default))
