"""Floats left to the choice: the least travel that keeps starts, submergence and freeboard."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.choose.admit import changes
from drainpump.choose.question import Question
from drainpump.choose.size.floats_and_pit import float_travel
from drainpump.errors import InputError
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit, with_floats
from drainpump.parts.pump.bank import Pump

#: starts an hour that are kept where no limit says: what NEMA MG 10 table 2-3 allows a 1-hp
#: two-pole polyphase motor (second-hand); no table found for smaller single-phase motors
_STARTS = 15.0


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
            f"floats='find': off level {u.both(off, 'in')} leaves no room below the inlet, the "
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
