"""The smallest change that would admit a rejected candidate, among those at hand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from drainpump import units as u

if TYPE_CHECKING:
    from drainpump.choose.candidate import Candidate

__all__ = ["smallest_change"]


def smallest_change(candidates: Sequence[Candidate]) -> Iterator[Candidate]:
    """Say at each rejected candidate which single change on the list would admit it.

    The same pump on another line first, the nearest in the water it holds; else another
    pump on the same line, the weakest that serves.
    """
    by_pump: dict[int, list[Candidate]] = defaultdict(list)
    by_line: dict[int, list[Candidate]] = defaultdict(list)
    for c in candidates:
        if c.accepted:
            by_pump[id(c.pump)].append(c)
            by_line[id(c.line)].append(c)
    for c in candidates:
        if c.accepted:
            yield c
            continue
        yield replace(c, change=_say(c, by_pump[id(c.pump)], by_line[id(c.line)]))


def _say(c: Candidate, lines: Sequence[Candidate], pumps: Sequence[Candidate]) -> str:
    short = next((r for r in c.reasons if r.code == "flow_short"), None)
    lead = ""
    if short is not None:
        lead = f"{u.both(u.to_si(short.limit - short.value, short.unit), short.unit)} short; "
    if lines:
        own = float(c.line.si.volume)
        # runs may differ in bore: what a line holds tells the next size up from the one after
        near = min(lines, key=lambda x: abs(float(x.line.si.volume) - own))
        return f"{lead}the same pump on {near.line.name} gives {u.both(near._flow, 'gpm')}"
    if pumps:
        near = min(pumps, key=lambda x: x._flow)
        return f"{lead}{near.pump.name} on the same line gives {u.both(near._flow, 'gpm')}"
    return f"{lead}no single change on the list admits it"
