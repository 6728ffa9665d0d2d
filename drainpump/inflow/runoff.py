"""From rain on catchments to water at the pit: the time-area method, and what holds it back.

Each catchment's rain is averaged over its time of concentration tc, which is the
time-area method with an area that grows evenly with time:

    Q(t) = C A [D(t) - D(t - tc)] / tc,

D being the depth fallen so far. Rain that is steady over each block gives a flow that is
linear between the block ends and the same shifted by tc, so the hydrograph holds just
those points: its volume is C A D exactly, and under a nested storm with tc a multiple of
the block the peak of one catchment is C i(tc) A exactly.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.inflow.catchment import Catchment
from drainpump.inflow.storm import Hydrograph, Hyetograph
from drainpump.parts.scalars import one_measure
from drainpump.results import one_shape
from drainpump.units import FloatArray

__all__ = ["held_back", "runoff_hydrograph"]

#: room without a bound, gal
_ALL = 1e300


def runoff_hydrograph(catchments: Catchment | Sequence[Catchment], storm: Hyetograph) -> Hydrograph:
    """Return the surface water that a storm brings to the pit.

    Parameters
    ----------
    catchments : Catchment or sequence of Catchment
        What drains to the pit; their flows add.
    storm : Hyetograph
        The rain. Storms on its leading axes stay there.

    Returns
    -------
    Hydrograph
        From the storm's begin until the longest time of concentration has run off.

    Raises
    ------
    InputError
        No catchment, or arrays that do not broadcast.

    Notes
    -----
    Rational method by time-area: ``Q = C A × (rain averaged over tc)``.

    References
    ----------
    FHWA, *Highway Hydrology*, HDS-2, 2nd ed., 2002, ch. 5 and 6 (rational method and the
    time-area concept).

    Examples
    --------
    >>> import drainpump as dp
    >>> roof = dp.inflow.Catchment(area_ft2=1200, runoff=0.95, tc_min=5)
    >>> storm = dp.inflow.Hyetograph(depth_in=[0.2, 0.6, 0.1], block_min=5)
    >>> inflow = dp.inflow.runoff_hydrograph([roof], storm)
    >>> inflow.flow_gpm.round(1).tolist()
    [0.0, 28.4, 85.3, 14.2, 0.0]
    """
    listed = list(catchments) if isinstance(catchments, Sequence) else [catchments]
    for i, one in enumerate(listed):
        if not isinstance(one, Catchment):
            raise wrong(
                f"catchments[{i}]", one, "must be a Catchment", "make one with Catchment(...)"
            )
    if not listed:
        raise InputError("catchments: none given; give one Catchment or more.")
    if not isinstance(storm, Hyetograph):
        raise wrong("storm", storm, "must be a Hyetograph", "make one with Hyetograph(...)")
    block, depth = float(storm._block), storm._depth.si
    shape = one_shape("runoff_hydrograph", depth[..., 0], *(x._factor for x in listed),
                      *(x._tc.si for x in listed))  # fmt: skip
    fallen = np.zeros((*depth.shape[:-1], depth.shape[-1] + 1))
    np.cumsum(depth, axis=-1, out=fallen[..., 1:])
    places = _places(depth.shape[-1], [x._tc.si / block for x in listed])
    flow = np.zeros((*shape, places.size))
    for one in listed:
        tc = np.asarray(one._tc.si)[..., None]
        gone = _at(fallen, places) - _at(fallen, places - tc / block)
        # what rounding leaves after the last of the rain has passed is no flow
        gone = np.where(np.abs(gone) < 1e-12 * fallen[..., -1:], 0.0, gone)
        flow += one._factor[..., None] * gone / tc
    return Hydrograph._of(flow, storm._edges[0] + block * places, storm.note, storm)


def _places(count: int, lags: Sequence[FloatArray]) -> FloatArray:
    """Where the averaged rain bends, counted in blocks: block ends, and those shifted by tc."""
    ends = np.arange(count + 1, dtype=np.float64)
    shifted = [np.add.outer(np.ravel(lag), ends).ravel() for lag in lags]
    places = np.concatenate([ends, *shifted])
    # a whole number of blocks to rounding is that number
    whole = np.round(places)
    return np.unique(np.where(np.abs(places - whole) < 1e-9, whole, places))


def _at(fallen: FloatArray, place: FloatArray) -> FloatArray:
    """Depth fallen so far at a place counted in blocks, linear between them."""
    last = fallen.shape[-1] - 1
    whole = np.round(place)
    place = np.clip(np.where(np.abs(place - whole) < 1e-9, whole, place), 0.0, last)
    i = np.minimum(place.astype(np.intp), max(last - 1, 0))
    shape = np.broadcast_shapes(fallen.shape[:-1], i.shape[:-1])
    i = np.broadcast_to(i, (*shape, i.shape[-1]))
    wide = np.broadcast_to(fallen, (*shape, fallen.shape[-1]))
    low = np.take_along_axis(wide, i, axis=-1)
    high = np.take_along_axis(wide, i + 1, axis=-1)
    return np.asarray(low + (place - i) * (high - low))


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
        What arrives; its blocks go on until the last of the waiting water is through.
        What finds no room goes elsewhere: the volume is smaller by that much.

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    Between the hydrograph's points the waiting water is balanced exactly, and the flow that
    gets through is the mean over that time.

    Examples
    --------
    >>> import drainpump as dp
    >>> inflow = dp.Hydrograph(flow_gpm=[100, 20, 0], block_min=5)
    >>> dp.inflow.held_back(inflow, flow_gpm=50).flow_gpm.round(6).tolist()
    [50.0, 50.0, 50.0, 50.0, 20.0, 20.0]
    """
    if not isinstance(inflow, Hydrograph):
        raise wrong("inflow", inflow, "must be a Hydrograph", "make one with Hydrograph(...)")
    carried = u.take("flow", guard="inflow", gpm=flow_gpm, lps=flow_lps)
    given = u.take("room", guard="not_negative", default=("gal", _ALL), gal=room_gal, l=room_l)
    cap, room = carried.si, given.si
    one_measure("flow", carried, "give what the pipe carries", above_zero=True)
    if np.isnan(room).any():
        typed = np.asarray(given.typed).tolist()
        raise wrong(f"room_{given.unit}", typed, "must be known", "a storm needs every one")
    shape = one_shape("held_back", inflow._peak, room)
    spans = np.diff(inflow._time)
    some = spans > 0
    steps = [float(x) for x in spans[some]]
    waiting, through = np.zeros(shape), []
    for volume, step in zip(np.moveaxis(inflow._volumes[..., some], -1, 0), steps, strict=True):
        out = np.minimum(volume + waiting, cap * step)
        waiting = np.minimum(volume + waiting - out, room)
        through.append(out / step)
    # what still waits comes at the pipe's own flow, each storm's for as long as it lasts
    lasts = waiting / cap
    ends = np.unique(lasts[lasts > 1e-12 * steps[-1]])
    through += [np.where(lasts >= end, cap, 0.0) for end in ends]
    steps += np.diff(ends, prepend=0.0).tolist()
    edges = inflow._time[0] + np.concatenate([[0.0], np.cumsum(steps)])
    flow = np.repeat(np.stack(through, axis=-1), 2, axis=-1)
    return Hydrograph._of(flow, np.repeat(edges, 2)[1:-1], inflow.note, inflow.rain)
