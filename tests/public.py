"""Every public name: those of the main job, and those reached by a room's door."""

from __future__ import annotations

import types
from collections.abc import Iterator
from typing import Any

import drainpump as dp

#: the doors beside the flat names
ROOMS = ("inflow", "field", "size", "teach")


def public() -> Iterator[tuple[str, Any]]:
    """Yield name and thing; plots are named with their room in front."""
    for room, prefix in ((dp, ""), *((getattr(dp, r), "") for r in ROOMS), (dp.plots, "plots.")):
        for name in room.__all__:
            item = getattr(room, name)
            if not isinstance(item, types.ModuleType):
                yield prefix + name, item
