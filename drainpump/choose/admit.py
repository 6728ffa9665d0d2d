"""The smallest change that would admit a rejected candidate: found by solving, not guessed.

Changes are tried in the order of what they ask of a site: the floats, the outlet, the pipe
of one run, the pipe of all, the pit, a second pump. The first that keeps every limit, with
the certainty wished, is the answer. Floats left to the choice are found in the same way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.choose.question import Question
from drainpump.choose.size.floats_and_pit import float_travel
from drainpump.choose.size.pipe_and_duty import standard_pipes
from drainpump.choose.storms import WET
from drainpump.errors import InputError
from drainpump.findings import Finding
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import FreeOutlet, PopUpOutlet
from drainpump.parts.line.pipe import Pipe
from drainpump.parts.pit import Pit, with_floats
from drainpump.parts.pump.bank import Pump, parallel
from drainpump.parts.pump.curve import PumpCurve
from drainpump.solve.changed_line import in_pipes
from drainpump.why.ideas import around

_NOTHING = "no change that was tried admits it"
#: what the floats and the pit decide
_TURNS = {"starts_high", "starts_uncertain", "run_short", "returned_overflows"}
#: what a single flow more or less may mend, by the pipe or the outlet
_BY_FLOW = _TURNS | WET | {
    "flow_short", "flow_uncertain", "velocity_low", "velocity_high", "range_share_high",
    "best_flow_off", "no_flow", "hand_off_short",
}  # fmt: skip
_TOO_LITTLE = {"flow_short", "flow_uncertain", "no_flow"} | WET
#: starts an hour that floats keep where no limit says: what NEMA MG 10 table 2-3 allows a 1-hp
#: two-pole polyphase motor (second-hand); no table found for smaller single-phase motors
_STARTS = 15.0
#: a pit is tried up to so many times as wide, a search goes to so fine a step (m)
_WIDER, _FINE = 4.0, 0.00254


class Change(NamedTuple):
    """One change in words, and what would stand there then."""

    kind: str  # "floats", "outlet", "pipe", "pit" or "pumps"
    words: str
    pump: Pump
    line: DischargeLine
    pit: Pit | None


@dataclass(frozen=True)
class _Miss:
    asked: Question
    pump: Pump
    line: DischargeLine
    pit: Pit | None
    codes: frozenset[str]


def changes(
    asked: Question, pump: Pump, line: DischargeLine, pit: Pit | None, reasons: tuple[Finding, ...]
) -> Iterator[Change]:
    """Yield the changes that admit a rejected pump on a line, the smallest first."""
    if not asked.limits.applies("cost_max"):
        asked = replace(asked, costs=None)  # what is tried need not have a price
    miss = _Miss(asked, pump, line, pit, frozenset(r.code for r in reasons))
    ways: tuple[Callable[[_Miss], Iterator[Change]], ...] = (
        _floats, _outlet, _pipes, _pit, _two_pumps,
    )  # fmt: skip
    for way in ways:
        yield from way(miss)


def _floats(miss: _Miss) -> Iterator[Change]:
    """The on float higher, below inlet, alarm and rim."""
    pit = miss.pit
    if pit is None or not miss.codes <= _TURNS:
        return
    top = float(pit.si.highest_on)

    def at(level: float) -> Pit:
        return pit.variant(on_mm=level * 1000)

    level = _least(miss, at, float(pit.si.on), top)
    if level is not None:
        made = at(level)
        words = f"starts only: on at {_level(miss.asked, level)}"
        yield Change("floats", words, miss.pump, miss.line, made)


def _pit(miss: _Miss) -> Iterator[Change]:
    """A wider pit, its floats as they are."""
    pit = miss.pit
    if pit is None or not miss.codes <= _TURNS | WET:
        return
    round_ = pit.si.diameter is not None
    side = float(pit.si.diameter if round_ else pit.si.side_length)
    name = "diameter_mm" if round_ else "length_mm"

    def at(wide: float) -> Pit:
        return pit.variant(**{name: wide * 1000})

    wide = _least(miss, at, side, _WIDER * side)
    if wide is not None:
        word = "across" if round_ else "long"
        words = f"another pit, {_level(miss.asked, wide)} {word}"
        yield Change("pit", words, miss.pump, miss.line, at(wide))


def _least(miss: _Miss, at: Callable[[float], Pit], low: float, high: float) -> float | None:
    """Least size at which the pit serves, to a tenth of an inch; None where none does."""

    def serves(size: float) -> bool:
        return miss.asked.serves(miss.pump, miss.line, at(size))

    if not high > low or not serves(high):
        return None
    while high - low > _FINE:
        middle = (low + high) / 2
        low, high = (low, middle) if serves(middle) else (middle, high)
    # up to the next tenth of an inch, where there is room for it
    tenth = np.ceil(round(high / _FINE, 6)) * _FINE
    return float(tenth) if serves(float(tenth)) else high


def _outlet(miss: _Miss) -> Iterator[Change]:
    """A gravity pipe that carries what comes, or an end without a lid."""
    outlet = miss.line.outlet
    if not miss.codes <= _BY_FLOW:
        return
    tried: list[tuple[str, DischargeLine]] = []
    if isinstance(outlet, GravityHandOff) and miss.codes == {"hand_off_short"}:
        for pipe in standard_pipes():
            bore = float(pipe.si.bore)
            if bore > outlet.si.bore:
                wider = outlet.variant(bore_mm=bore * 1000)
                words = f"a gravity pipe of {pipe.nominal} in, bore {_level(miss.asked, bore)}"
                tried.append((words, miss.line.variant(outlet=wider)))
    elif isinstance(outlet, FreeOutlet | PopUpOutlet) and outlet.si.least_head > 0:
        tried.append(("an open end without a lid", miss.line.variant(outlet=FreeOutlet())))
    yield from _first(miss, "outlet", tried)


def _pipes(miss: _Miss) -> Iterator[Change]:
    """Another pipe in one run, the shortest first, or in all of them."""
    if not miss.codes <= _BY_FLOW:
        return
    runs = miss.line.runs
    by_run = [around(run.pipe) for run in runs]
    lengths = [float(run.si.length) for run in runs]
    tried: list[tuple[float, float, str, DischargeLine]] = []
    for i, run in enumerate(runs):
        for pipe in by_run[i]:
            if pipe.si.bore < run.pipe.si.bore and 2 * lengths[i] < sum(lengths):
                continue  # a short narrow piece is a throttle, not a pipe
            pipes = [pipe if j == i else x.pipe for j, x in enumerate(runs)]
            where = "" if len(runs) == 1 else f" in {run.name or f'run {i + 1}'}"
            tried.append(
                (lengths[i], _step(run.pipe, pipe), f"{pipe.name}{where}",
                 in_pipes(miss.line, pipes))
            )  # fmt: skip
    if len(runs) > 1:
        for pipe in {p.name: p for each in by_run for p in each}.values():
            most = max(_step(run.pipe, pipe) for run in runs)
            tried.append(
                (sum(lengths), most, f"{pipe.name} all the way",
                 in_pipes(miss.line, [pipe] * len(runs)))
            )  # fmt: skip
    tried.sort(key=lambda x: (x[0], x[1]))
    yield from _first(miss, "pipe", [(words, line) for _, _, words, line in tried])


def _two_pumps(miss: _Miss) -> Iterator[Change]:
    """A second pump of the same kind beside the first, both on the line from the start."""
    if isinstance(miss.pump, PumpCurve) and miss.codes & _TOO_LITTLE and miss.codes <= _BY_FLOW:
        two = parallel([miss.pump, miss.pump])
        if miss.asked.serves(two, miss.line, miss.pit):
            yield Change("pumps", "two of these pumps side by side", two, miss.line, miss.pit)


def _first(miss: _Miss, kind: str, tried: list[tuple[str, DischargeLine]]) -> Iterator[Change]:
    """The changed lines that serve, in their order, all judged at once."""
    costs = miss.asked.costs
    tried = [x for x in tried if costs is None or costs.tells(x[1])]
    if not tried:
        return
    # what fails by its plain figures is not sampled
    plain = replace(miss.asked, doubt=None)
    judged = plain.tried([miss.pump], [line for _, line in tried], miss.pit).judged
    for (words, line), rejected, flow in zip(
        tried, judged.rejected[0], judged.op.si.counted[0], strict=True
    ):
        if not rejected and miss.asked.serves(miss.pump, line, miss.pit):
            said = f"{words}: {miss.asked.said(flow, 'gpm')}"
            yield Change(kind, said, miss.pump, line, miss.pit)


def _step(old: Pipe, new: Pipe) -> float:
    """How far two pipes are apart."""
    return abs(float(np.log(new.si.bore / old.si.bore)))


def _level(asked: Question, si: float) -> str:
    """A level or size, to a tenth of an inch."""
    return asked.said(u.to_si(round(float(u.from_si(si, "in")), 1), "in"), "in")


def said_change(
    asked: Question, pump: Pump, line: DischargeLine, pit: Pit | None,
    reasons: tuple[Finding, ...], *, listed: str, solves: bool,
) -> str:  # fmt: skip
    """What would admit a rejected pump on a line: found by solving where asked, or on the list."""
    short = next((r for r in reasons if r.code == "flow_short"), None)
    lead, said = "", []
    if short is not None:
        missing = u.to_si(short.limit - short.value, short.unit)
        lead = f"{asked.said(missing, 'gpm')} short; "
    found = next(changes(asked, pump, line, pit, reasons), None) if solves else None
    if found is not None:
        said = [found.words if found.kind == "floats" else f"admitted by {found.words}"]
    return lead + ("; ".join([*said, *([listed] if listed else [])]) or _NOTHING)


# -- floats left to the choice


def with_found_floats(asked: Question, pump: Pump, line: DischargeLine, pit: Pit) -> Pit:
    """Return the pit with its on level as low as the starts allow, its off level submerged.

    The off level is the pit's, else the pump's own, else the top of what stands in the pit,
    so that the pump stays under water. The on level stays below inlet, alarm and rim: where
    even that is too often, it is the highest.
    """
    off, whose = _submerged(pump, pit)
    top = float(pit.si.highest_on)
    if not off < top:
        raise InputError(
            f"floats='find': off level {asked.said(off, 'in')} leaves no room below the inlet, the "
            "alarm or the rim; lower it, or deepen the pit."
        )

    def at(on: float) -> Pit:
        return with_floats(pit, {"off": whose, "on": "found"}, {"off": off, "on": on})

    limit = asked.limits.si.starts_max if asked.limits.applies("starts_max") else None
    most = _STARTS if limit is None else float(u.from_si(limit, "per_h"))
    found = float(float_travel(pump, line, at(top), starts_max_per_h=most).si.travel)
    on = top if np.isnan(found) else min(off + found, top)
    made = at(on)
    # as surely as the choice wishes, and with the shortest run that it allows
    codes = asked.tried([pump], [line], made).judged.findings((0, 0), hard=True)
    surer = next(changes(asked, pump, line, made, codes), None) if codes else None
    if surer is not None and surer.pit is not None and surer.kind == "floats":
        return at(float(surer.pit.si.on))
    return made


def _submerged(pump: Pump, pit: Pit) -> tuple[float, str]:
    """The off level (m) and whose it is: the pit's, the pump's own, or the body's top."""
    if pit.off_mm is not None:
        return float(pit.si.off), "the pit's"
    own = getattr(pump, "off_mm", None)
    if own is not None:
        return float(own) / 1000, "the pump's own"
    if pit.body_height_mm is not None:
        return float(pit.si.body_top), "the top of what stands in the pit"
    raise InputError(
        f"floats='find': neither the pit nor pump {pump.name!r} says an off level or how high the "
        "pump stands; give off_in, or body_height_in, to the pit."
    )
