"""What gets through a pipe that carries only so much, and what waits for it."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.inflow.storm import Hydrograph, merged
from drainpump.parts.scalars import check_kind, known, one_measure
from drainpump.results import one_shape
from drainpump.units import FloatArray


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
    cap = float(one_measure("flow", carried, "give what the pipe carries", above_zero=True).si)
    given = said.maybe("room", "not_negative")
    room = np.inf if given is None else known("room", given, "a storm needs every one")
    return through_pipe(inflow, cap, room)


def through_pipe(inflow: Hydrograph, cap: float, room: FloatArray | float = np.inf) -> Hydrograph:
    """The same in SI: a pipe that carries ``cap`` (m³/s), room for so much (m³) before it."""
    shape = one_shape("held_back", inflow._peak, room)
    source = Hydrograph._of(
        np.broadcast_to(inflow._flow.si, (*shape, inflow._time.size)), inflow._time
    )
    # between these the inflow is all above what the pipe carries, or all below it
    stretches = np.unique(np.append(inflow._time, _meets(inflow, cap)))
    until = _waits_until(source, stretches, cap, room)
    edges = np.unique(np.append(stretches, until))
    of = np.searchsorted(stretches, edges[:-1], side="right") - 1
    waits = 0.5 * (edges[1:] + edges[:-1]) < until[..., of]
    through = np.where(np.repeat(waits, 2, axis=-1), cap, source.si.on_both_sides(edges))
    flow, time = merged(np.minimum(through, cap), np.repeat(edges, 2)[1:-1])
    return Hydrograph._of(flow, time, inflow.note, inflow.rain, inflow._return, inflow.branches)


def _meets(inflow: Hydrograph, cap: float) -> FloatArray:
    """When the inflow crosses what the pipe carries."""
    time, past = inflow._time, inflow._flow.si - cap
    crosses = past[..., :-1] * past[..., 1:] < 0
    share = past[..., :-1] / np.where(crosses, past[..., :-1] - past[..., 1:], 1.0)
    return np.asarray((time[:-1] + share * np.diff(time))[crosses])


def _waits_until(
    source: Hydrograph, stretches: FloatArray, cap: float, room: FloatArray | float
) -> FloatArray:
    """Until when water waits in each stretch, and in the last behind them all (..., n).

    In a stretch what waits is a parabola that only rises or only falls: held at the room
    where it rises above it, and gone at its root where it falls below nothing.
    """
    past = source.si.on_both_sides(stretches) - cap
    first, last, span = past[..., ::2], past[..., 1::2], np.diff(stretches)
    until = np.array(np.broadcast_to(stretches, (*past.shape[:-1], stretches.size)))
    more = (np.maximum(first, last) > 0).reshape(-1, span.size).any(axis=0)
    waits, any_waits = np.zeros(past.shape[:-1]), False
    for i in range(span.size):
        if not (any_waits or more[i]):
            continue
        a, b, long = first[..., i], last[..., i], span[i]
        after = waits + 0.5 * (a + b) * long
        # the root of waits + a t + (b - a) / long t² / 2, without cancellation
        inside = np.maximum(a**2 - 2 * (b - a) / long * waits, 0.0)
        fall = np.sqrt(inside) - a
        root = np.divide(2 * waits, fall, out=np.zeros_like(fall), where=fall > 0)
        until[..., i] = stretches[i] + np.where(after > 0, long, np.minimum(root, long))
        waits = np.clip(after, 0.0, room)
        any_waits = bool(waits.any())
    until[..., -1] = stretches[-1] + waits / cap
    return until
