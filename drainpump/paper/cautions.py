"""The cautions: those tied to what was computed, then the usual; the law and the trade first."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from drainpump import units as u
from drainpump.paper.words import TEXTS, clock, two
from drainpump.parts.line.outlet import FreeOutlet, PopUpOutlet, SubmergedOutlet
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.pump.curve_shown import ORIGINS

if TYPE_CHECKING:
    from drainpump.paper.outcome import Outcome

#: resistance of 16 AWG copper, ohm/m: NEC chapter 9, table 8, 4.89 ohm in 1,000 ft, stranded,
#: at 75 °C; 5 % in all is what its notes recommend (from memory)
_THIN = 4.89 / 304.8


def cautions_of(outcome: Outcome) -> list[str]:
    """Return the cautions that fit an outcome: its own first, then the usual ones, each once."""
    return list(dict.fromkeys([*_own(outcome), *TEXTS["cautions"]]))


def in_short(caution: str) -> str:
    """The first sentence of a caution, which stands by itself.

    >>> in_short("Run pump no. 5 on no thin cord. It draws 6 A."), in_short("Never enter a pit.")
    ('Run pump no. 5 on no thin cord.', 'Never enter a pit.')
    """
    return re.split(r"\. (?=[A-Z])", caution)[0].removesuffix(".") + "."


def _own(outcome: Outcome) -> Iterator[str]:
    """What this job's own answer warns of; the first sentence of each stands by itself."""
    first = outcome.first
    where = f"{first.pump.name} on {first.line.name}"
    if outcome.selection.best is None:
        yield "Nothing on the list serves. What is told is the nearest of the rejected."
    if any(r.code == "hand_off_short" for r in (*first.reasons, *first.warnings)):
        yield (
            "The gravity pipe after the outlet carries less than the pump gives. The water comes "
            "up where the two meet."
        )
    curves = first.pump.si.curves
    for curve in curves:
        if curve.origin not in (ORIGINS["points"], ORIGINS["table"]):
            yield f"The curve of {curve.name} comes from {curve.origin}."
    if first.pump.invented:
        yield f"The curve of {first.pump.name} is invented: no pump to buy is like it."
    if outcome.cycling is not None and not outcome.cycling.keeps_up:
        inflow = two(outcome.cycling.si.inflow, "gpm")
        yield f"{where} does not keep up with the inflow of {inflow}: the pit overflows."
    if outcome.band is not None and outcome.band.ok_share < 1:
        yield (
            f"{where}: {outcome.band.ok_share:.0%} of the samples have an operating point. A "
            "sample without flow counts as 0, one beyond the curve as its last point, one with "
            "several crossings as 0."
        )
    if isinstance(first.line.outlet, PopUpOutlet | SubmergedOutlet):
        yield (
            "Give the line a relief opening at the house end, where water may come out and does "
            "no harm. The outlet can be blocked or freeze shut."
        )
    if isinstance(first.line.outlet, FreeOutlet | PopUpOutlet) and first.si.flow > 0:
        yield (
            "Keep the outlet off paths, drives and a neighbour's ground. Up to "
            f"{two(first.si.flow, 'gpm')} come out there, wash out and freeze."
        )
    if first.pit is not None:
        out = outcome.outage
        soon = "" if out is None else f" after {clock(float(out.si.minutes))}"
        yield (
            f"Say where the water goes when the pump fails: it runs over the pit's rim{soon}. "
            "Keep it off paths and away from walls."
        )
    for curve in {id(c): c for c in curves}.values():
        if curve.si.voltage is not None and curve.si.current is not None:
            yield _cord(curve)


def _cord(pump: PumpCurve) -> str:
    """How long a thin cord may be, there and back, for a twentieth of the voltage."""
    volts, amps = float(pump.si.voltage), float(pump.si.current)
    far = 0.05 * volts / (2 * amps * _THIN)
    return (
        f"Run {pump.name} on no long thin cord. It draws {u.number(amps)} A at {u.number(volts)} "
        f"V, and of 16 AWG copper {two(far, 'ft')} takes 5 % of the voltage."
    )
