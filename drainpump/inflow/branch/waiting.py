"""What gets through a pipe that carries only so much, and what waits for it."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.inflow.storm import Hydrograph, merged
from drainpump.parts.scalars import check_kind, known, one_measure
from drainpump.results import one_shape
from drainpump.units import FloatArray

#: room without a bound, gal
_ALL = 1e300


def held_back(
    inflow: Hydrograph,
    *,
    flow_gpm: u.Quantity | None = None,
    flow_lps: u.Quantity | None = None,
    room_gal: u.Quantity | None = None,
    room_l: u.Quantity | None = None,
) -> Hydrograph:
    """Return what gets through a pipe that carries only so much.

    Parameters
    ----------
    inflow : Hydrograph
        What would arrive.
    flow_gpm, flow_lps : float
        What the pipe carries, > 0: for a gravity pipe its full flow by Manning
        (``GravityHandOff.capacity_gpm``), for a drain the flow of its perforations.
    room_gal, room_l : float, optional
        Water that can wait upstream, >= 0: the voids of a gravel trench
        (``Trench.storage_gal``). Without it all that does not get through waits.

    Returns
    -------
    Hydrograph
        What arrives, until the last of the waiting water is through.
        What finds no room goes elsewhere: the volume is smaller by that much.

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    The moments at which the inflow crosses what the pipe carries, the room fills and the last
    of the waiting water has gone are found exactly; between them the flow is linear.

    Examples
    --------
    >>> import drainpump as dp
    >>> inflow = dp.Hydrograph(flow_gpm=[100, 20, 0], block_min=5)
    >>> dp.inflow.held_back(inflow, flow_gpm=50).flow_gpm.round(6).tolist()
    [50.0, 50.0, 50.0, 50.0, 0.0, 0.0]
    """
    check_kind("inflow", inflow, Hydrograph)
    said = u.Typed(locals())
    carried = said.take("flow", "inflow")
    cap = one_measure("flow", carried, "give what the pipe carries", above_zero=True).si
    given = said.take("room", "not_negative", default=("gal", _ALL))
    room = known("room", given, "a storm needs every one")
    shape = one_shape("held_back", inflow._peak, room)
    flows = np.broadcast_to(inflow._flow.si, (*shape, inflow._time.size))
    rooms = np.broadcast_to(room, shape)
    passed = [
        _passed(inflow._time, flows[at], float(cap), float(rooms[at])) for at in np.ndindex(shape)
    ]
    edges = np.unique(np.concatenate([t for t, _ in passed]))
    both = [Hydrograph._of(q, t).si.on_both_sides(edges) for t, q in passed]
    through, time = merged(np.reshape(both, (*shape, -1)), np.repeat(edges, 2)[1:-1])
    return Hydrograph._of(through, time, inflow.note, inflow.rain, inflow._return, inflow.branches)


def _passed(
    time: FloatArray, flow: FloatArray, cap: float, room: float
) -> tuple[FloatArray, FloatArray]:
    """One storm through the pipe: times and flows of what gets through, linear between.

    Within a stretch of the inflow the waiting water follows a parabola, so that the moments
    at which the inflow crosses the capacity, the room is full and the last has gone are
    roots of a line or a parabola.
    """
    out: list[tuple[float, float]] = []
    waits = 0.0

    def pipe_full(start: float, span: float, q: float, slope: float) -> float:
        """Follow the waiting water while the pipe runs full; return how long it did."""
        nonlocal waits
        if waits <= 0 and (q < cap or (q == cap and slope <= 0)):
            return 0.0
        # empty again where waits + (q - cap) t + slope t²/2 = 0
        gone = [t for t in _roots(0.5 * slope, q - cap, waits) if t > 0]
        lasts = min([span, *gone])
        # the most that waited within it, which the room may not hold
        peak = -(q - cap) / slope if slope < 0 else lasts
        peak = min(max(peak, 0.0), lasts)
        most = waits + (q - cap) * peak + 0.5 * slope * peak**2
        if most > room:  # what is above the room goes elsewhere, so it is full at the peak
            rest = span - peak
            waits = room
            out.extend([(start, cap), (start + peak, cap)])
            if rest <= 0:
                return peak
            return peak + pipe_full(start + peak, rest, q + slope * peak, slope)
        waits = max(waits + (q - cap) * lasts + 0.5 * slope * lasts**2, 0.0)
        if lasts < span:
            waits = 0.0
        out.extend([(start, cap), (start + lasts, cap)])
        return lasts

    for i in range(time.size - 1):
        start, span = float(time[i]), float(time[i + 1] - time[i])
        if span <= 0:
            continue
        q, slope = float(flow[i]), float(flow[i + 1] - flow[i]) / span
        done = 0.0
        while span - done > 1e-12 * span:
            here = q + slope * done
            done += pipe_full(start + done, span - done, here, slope)
            if span - done <= 1e-12 * span:
                break
            # nothing waits: the inflow goes through as it comes, up to where it meets the cap
            here = q + slope * done
            meets = (cap - here) / slope if slope > 0 else np.inf
            step = min(span - done, max(meets, 0.0))
            out.extend([(start + done, here), (start + done + step, here + slope * step)])
            done += max(step, 0.0)
    end = float(time[-1])
    if waits > 0:
        out.extend([(end, cap), (end + waits / cap, cap)])
    found = np.array(out)
    return found[:, 0], found[:, 1]


def _roots(a: float, b: float, c: float) -> list[float]:
    """Real roots of a parabola or a line, in order, without cancellation."""
    if a == 0:
        return [] if b == 0 else [-c / b]
    inside = b * b - 4 * a * c
    if inside < 0:
        return []
    half = -0.5 * (b + np.copysign(np.sqrt(inside), b))
    return sorted([half / a, *([c / half] if half else [])])
