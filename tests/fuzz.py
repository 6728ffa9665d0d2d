"""How many examples a fuzz test tries: few as a rule, as many as one asks for a long run.

``DRAINPUMP_FUZZ=17000 python -m pytest -q tests/test_fuzz.py`` tries that many of each kind.
"""

from __future__ import annotations

import os


def blotted(raw: bytes, cuts: list[tuple[int, int, bytes]]) -> bytes:
    """Bytes with some taken out and others put in: each cut is a place, how many go, what comes."""
    for place, gone, put_in in cuts:
        place %= len(raw) + 1
        raw = raw[:place] + put_in + raw[place + gone :]
    return raw


def examples(default: int) -> int:
    """Return the number of examples, from the variable DRAINPUMP_FUZZ where it is set."""
    return int(os.environ.get("DRAINPUMP_FUZZ", default))
