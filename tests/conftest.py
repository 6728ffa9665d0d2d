"""Every test draws without a screen and leaves no figure behind."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

os.environ.setdefault("MPLBACKEND", "Agg")


@pytest.fixture(autouse=True)
def _close_figures() -> Iterator[None]:
    yield
    import sys

    if "matplotlib.pyplot" in sys.modules:
        sys.modules["matplotlib.pyplot"].close("all")
