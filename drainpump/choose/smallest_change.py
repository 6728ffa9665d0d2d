"""What on the list would take the place of a rejected candidate."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

from drainpump import units as u
from drainpump.choose.candidate import Candidate

#: so many of the nearest misses are asked what would admit them beyond the list; the rest
#: only what on the list does
_ASKED = 40


def listed_changes(candidates: Sequence[Candidate]) -> Iterator[Candidate]:
    """Give each rejected candidate what on the list would take its place.

    The same pump on another line first, the nearest in the water it holds; else another
    pump on the same line, the weakest that serves.
    """
    by_pump: dict[int, list[Candidate]] = defaultdict(list)
    by_line: dict[int, list[Candidate]] = defaultdict(list)
    for c in candidates:
        if c.accepted:
            by_pump[id(c.pump)].append(c)
            by_line[id(c.line)].append(c)
    asked = 0
    for c in candidates:
        if c.accepted:
            yield c
            continue
        asked += 1
        like = partial(_on_the_list, c, by_pump[id(c.pump)], by_line[id(c.line)])
        yield replace(c, _listed=like, _solves=asked <= _ASKED)


def _on_the_list(c: Candidate, lines: Sequence[Candidate], pumps: Sequence[Candidate]) -> str:
    if lines:
        own = float(c.line.si.volume)
        # runs may differ in bore: what a line holds tells the next size up from the one after
        near = min(lines, key=lambda x: abs(float(x.line.si.volume) - own))
        return f"the same pump on {near.line.name} gives {u.both(near.si.flow, 'gpm')}"
    if pumps:
        near = min(pumps, key=lambda x: float(x.si.flow))
        return f"{near.pump.name} on the same line gives {u.both(near.si.flow, 'gpm')}"
    return ""
