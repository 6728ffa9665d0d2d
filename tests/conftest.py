"""Every test draws without a screen, with matplotlib's own settings and fonts, and leaves no
figure behind."""

from __future__ import annotations

import atexit
import os
import shutil
import tempfile
from collections.abc import Iterator

import pytest
from hypothesis import settings

# how long an example takes says nothing on a loaded machine
settings.register_profile("no clock", deadline=None)
settings.load_profile("no clock")

os.environ.setdefault("MPLBACKEND", "Agg")

# a machine's own settings, and a list of fonts kept there by another version, stay outside
SETTINGS = tempfile.mkdtemp(prefix="drainpump-matplotlib-")
os.environ["MPLCONFIGDIR"] = SETTINGS
atexit.register(shutil.rmtree, SETTINGS, ignore_errors=True)


@pytest.fixture(autouse=True)
def _close_figures() -> Iterator[None]:
    yield
    import sys

    if "matplotlib.pyplot" in sys.modules:
        sys.modules["matplotlib.pyplot"].close("all")
