"""The line's profile: its elevations, its high points, and the dips that hold water."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.physics.system import high_points
from drainpump.results import Frame, axis_columns, check_units, frame_of
from drainpump.units import FloatArray

if TYPE_CHECKING:
    from drainpump.physics.system import LineArrays


#: height (m) below which two elevations are one: rises summed in feet differ by rounding
_LEVEL = 1e-9


def points(line: LineArrays) -> tuple[FloatArray, FloatArray]:
    """Distance and elevation (m) of the start and each run's end, (R + 1, ...)."""
    length = np.broadcast_to(line.length, np.broadcast_shapes(line.length.shape, line.end.shape))
    zero = np.zeros((1, *length.shape[1:]))
    distance = np.concatenate([zero, np.cumsum(length, axis=0)])
    elevation = np.concatenate([zero, np.broadcast_to(line.end, length.shape)])
    return distance, elevation


def held(line: LineArrays) -> FloatArray:
    """Share of each run (R, ...) that stays full when the line has drained.

    Water stands in a dip up to the lower of the highest points on its two sides; towards
    the pit the line is open at the pump-off level.
    """
    _, z = points(line)
    # the highest point on the way back to the pit, and on the way on to the outlet
    before = np.maximum.accumulate(z, axis=0)[:-1]
    after = np.maximum.accumulate(z[::-1], axis=0)[::-1][1:]
    surface = np.minimum(before, after)
    low, high = np.minimum(z[:-1], z[1:]), np.maximum(z[:-1], z[1:])
    with np.errstate(divide="ignore", invalid="ignore"):
        slopes = (surface - low) / (high - low)
        share = np.where(high - low > _LEVEL, slopes, surface - low > _LEVEL)
    return np.asarray(np.clip(share, 0.0, 1.0))


def filling(line: LineArrays) -> FloatArray:
    """Share of each run (R, ...) that must fill before the outlet sees water.

    All that rises or lies level; of what falls past a vented high point only the dip at
    its foot, for water runs down the rest and leaves it part full.
    """
    _, z = points(line)
    return np.where(z[1:] >= z[:-1] - _LEVEL, 1.0, held(line))


def returning_share(line: LineArrays) -> FloatArray:
    """Share of each run (R, ...) that runs back to the pit when nothing holds it.

    All that stands above every point between it and the pit, as far as the first highest
    point; dips keep theirs, and what lies past the high point leaves by the outlet.
    """
    end = line.end
    start = np.concatenate([np.zeros_like(end[:1]), end[:-1]])
    before = np.maximum.accumulate(np.maximum(start, 0.0), axis=0)
    # a run gives back the share of its length that climbs above all that came before;
    # a level run at the highest point so far counts whole, the careful side
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(end > before, (end - before) / (end - start), 0.0)
        share = np.where((end == start) & (start >= before), 1.0, share)
    return np.asarray(share)


def returning(line: LineArrays) -> FloatArray:
    """Water (m³) that runs back to the pit when nothing holds it."""
    return np.asarray((returning_share(line) * line.area * line.length).sum(axis=0))


def dips(line: LineArrays) -> FloatArray:
    """Water (m³) that each run holds when the line has drained, (R, ...)."""
    return np.asarray(held(line) * line.area * line.length)


def kinds(elevation: FloatArray) -> Any:
    """What each point (R + 1, ...) is: start, high point, low point, end or nothing."""
    high = high_points(elevation[1:])
    low = high_points(-elevation[1:], level_is_risen=False)
    kind = np.full(elevation.shape, "", dtype="<U10")
    kind[1:] = np.select([high, low], ["high point", "low point"], "")
    kind[0], kind[-1] = "start", "end"
    return kind


def frame(line: LineArrays, units: u.System = "us") -> Frame:
    """Return the points of the line in order, one row each (see `DischargeLine.profile`)."""
    length, volume = ("ft", "gal") if check_units(units) == "us" else ("m", "l")
    distance, elevation = points(line)
    shape = np.broadcast_shapes(distance.shape, elevation.shape)
    water = np.concatenate([np.zeros_like(elevation[:1]), dips(line)])
    columns = axis_columns(shape, range(1, len(shape)))
    number = np.arange(shape[0]).reshape(-1, *[1] * (len(shape) - 1))
    for name, values in (("run", number), ("point", kinds(elevation))):
        columns[name] = np.broadcast_to(values, shape).ravel()
    for name, values in (
        (f"distance_{length}", distance),
        (f"elevation_{length}", elevation),
        (f"held_{volume}", water),
    ):
        wide = np.broadcast_to(values, shape)
        columns[name] = np.ravel(u.from_si(wide, name.rpartition("_")[2]))
    return frame_of(columns)


def notes(line: LineArrays, check_valve: bool) -> tuple[str, ...]:
    """Say in plain sentences what the profile asks of a reader."""
    water = dips(line)
    said = []
    for i, volume in enumerate(water, 1):
        most = float(np.nanmax(volume)) if np.isfinite(volume).any() else 0.0
        if most > 1e-9:
            said.append(
                f"Run {i} holds {u.both(most, 'gal')} in a dip when the line has drained: it may "
                "freeze and burst; keep it below the frost depth of the local code, or give it a "
                "drain."
            )
    if check_valve and np.any(line.end.max(axis=0) > 0):
        said.append(
            "The check valve keeps the rising line full between runs: that water may freeze "
            "where the pipe lies above the frost depth."
        )
    return tuple(said)
