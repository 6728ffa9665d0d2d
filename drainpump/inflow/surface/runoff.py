"""From rain on catchments to water at the pit: the time-area method.

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
from drainpump.errors import InputError, warn
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.rain.table import RainWarning
from drainpump.inflow.storm import Hydrograph
from drainpump.inflow.surface.catchment import Catchment
from drainpump.parts.scalars import check_kind, one_or_more
from drainpump.results import one_shape
from drainpump.units import FloatArray
from drainpump.work_budget import spend


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

    Warns
    -----
    RainWarning
        Blocks longer than a time of concentration, which hide the peak.

    Notes
    -----
    Rational method by time-area: ``Q = C A × (rain averaged over tc)``. With a curve number the
    excess at time t is ``Q(P(t))``, ``Q = (P - 0.2 S)² / (P + 0.8 S)``, averaged likewise.

    References
    ----------
    FHWA, *Highway Hydrology*, HDS-2, 2nd ed., 2002, ch. 5 and 6 (rational method and the
    time-area concept); NRCS, *National Engineering Handbook*, part 630 ch. 10 (curve number).

    Examples
    --------
    >>> import drainpump as dp
    >>> roof = dp.inflow.Catchment(area_ft2=1200, runoff=0.95, tc_min=5)
    >>> storm = dp.inflow.Hyetograph(depth_in=[0.2, 0.6, 0.1], block_min=5)
    >>> inflow = dp.inflow.runoff_hydrograph([roof], storm)
    >>> inflow.flow_gpm.round(1).tolist()
    [0.0, 28.4, 85.3, 14.2, 0.0]
    """
    listed = one_or_more("catchments", catchments, Catchment)
    if not listed:
        raise InputError("catchments: none given; give one Catchment or more.")
    check_kind("storm", storm, Hyetograph)
    block, depth = float(storm.si.block), storm.si.depth
    for one in listed:
        if np.any(one._tc.si < block * (1 - 1e-9)):
            warn(
                f"storm: blocks of {block / 60:g} min are longer than the time of concentration "
                f"of {one.name!r}, {u.text(one._tc.si.min(), 'min')}: the peak within a block is "
                "hidden; give rain in blocks no longer than that.",
                RainWarning,
            )
            break
    fallen = np.zeros((*depth.shape[:-1], depth.shape[-1] + 1))
    np.cumsum(depth, axis=-1, out=fallen[..., 1:])
    one_shape("runoff_hydrograph", depth[..., 0], *(x.si.whole_shape for x in listed))
    storms, lags = depth[..., 0].size, 1 + sum(x._tc.si.size for x in listed)
    spend("runoff_hydrograph", storms=storms, blocks=depth.shape[-1], bends=lags, areas=len(listed))
    places = _places(depth.shape[-1], [x._tc.si / block for x in listed])
    flow = np.zeros(places.size)
    for one in listed:
        tc = np.asarray(one._tc.si)[..., None]
        # what runs off is even within a block, as the rain is
        shed = one.si.shed(fallen)
        gone = _at(shed, places) - _at(shed, places - tc / block)
        # what rounding leaves after the last of the rain has passed is no flow
        gone = np.where(np.abs(gone) < 1e-12 * shed[..., -1:], 0.0, gone)
        flow = flow + gone / tc
    return Hydrograph._of(flow, storm.si.edges[0] + block * places, storm.note, storm)


def _places(count: int, lags: Sequence[FloatArray]) -> FloatArray:
    """Where the averaged rain bends, counted in blocks: block ends, and those shifted by tc."""
    ends = np.arange(count + 1, dtype=np.float64)
    shifted = [np.add.outer(np.ravel(lag), ends).ravel() for lag in lags]
    places = np.concatenate([ends, *shifted])
    # a whole number of blocks to rounding is that number
    whole = np.round(places)
    return np.unique(np.where(np.abs(places - whole) < 1e-9, whole, places))


def _at(fallen: FloatArray, place: FloatArray) -> FloatArray:
    """What has run off so far at a place counted in blocks, linear between them."""
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
