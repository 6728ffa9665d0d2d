"""How one sees on the spot that what was built does what was reckoned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drainpump import units as u
from drainpump.units import View

if TYPE_CHECKING:
    from drainpump.parts.pit import Pit

#: volume of the bucket where there is no pit to draw down, 5 gal
_BUCKET = float(u.to_si(5.0, "gal"))


@dataclass(frozen=True, eq=False)
class Acceptance(u.Measured):
    """What a watch has to show.

    Attributes
    ----------
    start_in, end_in : float or None (and ``_mm``)
        Levels above the floor between which the pump draws the pit down, inflow stopped;
        None where there is no pit, and a bucket is filled at the outlet.
    volume_gal, volume_l : float
        Water moved meanwhile.
    time_s, fast_s, slow_s : float
        As reckoned, and at the P90 and the P10 of the flow; all three are one without a doubt.

    Notes
    -----
    The pump-down time is that of `cycle` without inflow; its range goes with the flow's.
    """

    _start: float | None
    _end: float | None
    _volume: float
    _time: float
    _fast: float
    _slow: float

    start_in, start_mm = View("_start", maybe=True), View("_start", maybe=True)
    end_in, end_mm = View("_end", maybe=True), View("_end", maybe=True)
    volume_gal, volume_l = View("_volume"), View("_volume")
    time_s, fast_s, slow_s = View("_time"), View("_fast"), View("_slow")


def acceptance(
    flow: float, run: float | None, pit: Pit | None, spread: tuple[float, float] | None
) -> Acceptance | None:
    """Return what to look for when the pump is first run; None where it moves no water.

    Parameters
    ----------
    flow : float
        That may be counted on, m³/s.
    run : float or None
        Pump-down time without inflow, s; None without a pit.
    pit : Pit, optional
    spread : two floats, optional
        P10 and P90 of the flow, m³/s.
    """
    if not flow > 0:
        return None
    low, high = (flow, flow) if spread is None else spread
    levels: tuple[float | None, float | None] = (None, None)
    if pit is None or run is None:
        volume, time = _BUCKET, _BUCKET / flow
    else:
        levels = (float(pit.si.on), float(pit.si.off))
        volume, time = float(pit.si.working_volume), run
    slow = time * flow / low if low > 0 else float("inf")
    return Acceptance(*levels, volume, time, time * flow / high, slow)
