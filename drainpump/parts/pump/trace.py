"""A line followed in a picture, through grid, labels, gaps and blur; pixels only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.ndimage import map_coordinates

from drainpump.units import FloatArray

#: likeness from which a pixel belongs to the line
_LINE = 0.45
#: least contrast of a line to its ground, of 1
_CONTRAST = 0.15
#: share of a row or column from which a straight line in it is grid or frame
_GRID = 0.55
#: longest gap that is bridged, and the shortest, as a share of the picture and in px
_GAP, _LEAST_GAP = 0.035, 8.0
#: steps over which the direction is taken
_LAG = 12
#: share of the steps that must lie on the line, and the jitter that is allowed (px, share)
_COVERED, _JITTER = 0.45, (1.2, 0.004)
#: what is left to do where nothing is given
_TYPE = "; give a clearer picture, or type points off it"


@dataclass(frozen=True, eq=False)
class Trace:
    """What was followed: centres of the line in order, how wide it is, how sure they are."""

    x: FloatArray
    y: FloatArray
    thick: float
    sigma: float
    trouble: str = ""


def follow(picture: FloatArray, x: float, y: float, inside: Any = None) -> Trace:
    """Follow the line at a point both ways; ``trouble`` says why nothing is given.

    ``inside`` are the pixels among which it may run: what is printed below no flow and no
    head is no curve. (rows, columns), true where it may.
    """
    near = _likeness(picture, x, y)
    if isinstance(near, str):
        return _none(near)
    if inside is not None:
        near = np.where(inside, near, 0.0)
    start = _nearest(near, x, y)
    if start is None:
        return _none("there is no line near the point; give one on the line")
    thick = _thickness(near, *start)
    if thick > 0.04 * min(near.shape):
        return _none("the point lies on a surface, not on a line; give one on the line")
    right, left = (_walk(near, start, thick, sign) for sign in (1.0, -1.0))
    if right.trouble or left.trouble:
        return _none(right.trouble or left.trouble)
    on = np.concatenate([left.on[::-1], right.on[1:]])
    path = np.concatenate([left.path[::-1], right.path[1:]])
    return _judged(on, path, thick)


class _Way(NamedTuple):
    """Steps one way: whether each lies on the line, and where (n, 2)."""

    on: npt.NDArray[np.bool_]
    path: FloatArray
    trouble: str = ""


def _none(trouble: str) -> Trace:
    nothing = np.empty(0)
    return Trace(nothing, nothing, 0.0, 0.0, trouble)


def _likeness(picture: FloatArray, x: float, y: float) -> FloatArray | str:
    """How near each pixel comes to the line's colour, from 0 to 1, without grid and frame."""
    levels = (picture * 31).astype(np.int64) @ [1024, 32, 1]
    values, counts = np.unique(levels, return_counts=True)
    ground = np.median(picture[levels == values[counts.argmax()]], axis=0)
    colour = _colour(picture, ground, x, y)
    way = colour - ground
    contrast = float(np.sqrt(way @ way))
    if contrast < _CONTRAST:
        return "there is no line near the point; give one on the line"
    off = picture - ground
    along = off @ way / contrast**2
    aside = np.sqrt(np.maximum((off**2).sum(axis=2) - (along * contrast) ** 2, 0.0)) / contrast
    # darker than the line is another line, as black beside grey
    beyond = np.maximum(along - 1.35, 0.0)
    like = np.clip(along, 0.0, 1.0) - 0.9 * np.maximum(aside - 0.12, 0.0) - 2.0 * beyond
    return _without_grid(np.clip(like, 0.0, 1.0))


def _colour(picture: FloatArray, ground: FloatArray, x: float, y: float) -> FloatArray:
    """The line's colour: of the pixels close by the one that stands out most."""
    row, column, reach = round(y), round(x), 4
    top, left = max(row - reach, 0), max(column - reach, 0)
    part = picture[top : row + reach + 1, left : column + reach + 1]
    rows, columns = np.indices(part.shape[:2])
    away = np.hypot(rows + top - y, columns + left - x)
    out = np.sqrt(((part - ground) ** 2).sum(axis=2)) - 0.04 * away
    found: FloatArray = part[np.unravel_index(out.argmax(), out.shape)]
    return found


def _without_grid(like: FloatArray) -> FloatArray:
    """Leave out straight lines across the picture; where the line crosses one is a gap."""
    on, clean = like > _LINE, like.copy()
    # the rows, and the columns as rows of the picture turned
    for drawn, kept in ((on, clean), (on.T, clean.T)):
        along = np.flatnonzero(drawn.any(axis=0))
        span = 1.0 if along.size == 0 else float(np.ptp(along) + 1) / drawn.shape[1]
        for i in np.flatnonzero(drawn.mean(axis=1) > _GRID * span).tolist():
            # a thicker line over the grid, seen on both sides of it, stays
            wide = drawn[max(i - 2, 0)] & drawn[min(i + 2, len(drawn) - 1)]
            kept[max(i - 1, 0) : i + 2, ~wide] = 0.0
    return clean


def _nearest(like: FloatArray, x: float, y: float) -> tuple[float, float] | None:
    reach = max(6, round(0.012 * max(like.shape)))
    top, left = max(round(y) - reach, 0), max(round(x) - reach, 0)
    part = like[top : round(y) + reach + 1, left : round(x) + reach + 1]
    rows, columns = np.nonzero(part > 0.6)
    if not rows.size:
        return None
    best = np.hypot(rows + top - y, columns + left - x).argmin()
    return float(columns[best] + left), float(rows[best] + top)


def _profile(
    like: FloatArray, x: float, y: float, nx: float, ny: float, reach: float
) -> FloatArray:
    """Likeness across the line, every half pixel from -reach to reach."""
    count = 2 * int(np.ceil(2 * reach)) + 1
    at = np.linspace(-reach, reach, count)
    places = np.array([y + at * ny, x + at * nx])
    return np.asarray(map_coordinates(like, places, order=1, mode="constant"))


class _Run(NamedTuple):
    """A stretch of line in a profile: its centre and width, whether the profile cuts it off."""

    centre: float
    width: float
    cut: bool
    alone: bool  # no other stretch beside it


def _run(profile: FloatArray, reach: float) -> _Run | None:
    """The stretch nearest the middle."""
    on = np.concatenate([[False], profile > _LINE, [False]])
    begins, ends = np.flatnonzero(on[1:] & ~on[:-1]), np.flatnonzero(~on[1:] & on[:-1])
    if not begins.size:
        return None
    at = np.linspace(-reach, reach, profile.size)
    middle = 0.5 * (at[begins] + at[ends - 1])
    inside = (at[begins] <= 0) & (at[ends - 1] >= 0)
    pick = int(np.argmin(np.where(inside, 0.0, np.abs(middle))))
    a, b = int(begins[pick]), int(ends[pick])
    cut = a == 0 or b == profile.size
    # the blurred flanks count too
    a, b = max(a - 2, 0), min(b + 2, profile.size)
    weight = profile[a:b]
    step = at[1] - at[0]
    centre = float(weight @ at[a:b] / weight.sum())
    return _Run(centre, float(weight.sum() * step), cut, begins.size == 1)


def _thickness(like: FloatArray, x: float, y: float) -> float:
    """Width of the line: the least over all directions at a point, and along a short way."""
    reach = 0.05 * min(like.shape) + 3
    widths = []
    for turn in np.linspace(0, np.pi, 24, endpoint=False):
        run = _run(_profile(like, x, y, np.cos(turn), np.sin(turn), reach), reach)
        widths.append(reach * 2 if run is None else run.width)
    return max(float(min(widths)), 1.0)


def _heading(like: FloatArray, x: float, y: float, thick: float) -> tuple[float, float]:
    """Direction in which most of the line lies, to the right."""
    far = 6 * thick + 10
    best, way = -1.0, (1.0, 0.0)
    for turn in np.linspace(-np.pi / 2, np.pi / 2, 90, endpoint=False):
        cos, sin = float(np.cos(turn)), float(np.sin(turn))
        mass = float(_profile(like, x, y, cos, sin, far).sum())
        if mass > best:
            best, way = mass, (cos, sin)
    return way


def _walk(like: FloatArray, start: tuple[float, float], thick: float, sign: float) -> _Way:
    """Follow the line from the start by steps of a pixel."""
    tx, ty = (sign * t for t in _heading(like, *start, thick))
    x, y = start
    tall, wide = like.shape
    size = float(np.hypot(tall, wide))
    most_gap = max(_GAP * size, _LEAST_GAP, 5.0 * thick)
    places, on, gap, beside = [(x, y)], [True], 0.0, 0.0
    for _ in range(3 * (tall + wide)):
        x, y = x + tx, y + ty
        if not (0 <= x < wide and 0 <= y < tall):
            break
        reach = 1.2 * thick + 2.0 + min(0.2 * gap, 0.5 * thick + 3.0)
        run = _run(_profile(like, x, y, -ty, tx, reach), reach)
        # a stretch far wider than the line is another across it, and tells nothing
        seen = run is not None and run.width < 1.8 * thick + 1.0 and not run.cut
        if run is not None and beside > 1.5 * thick + 3 and not run.alone:
            return _Way(
                np.array(on), np.array(places), "the line runs together with another" + _TYPE
            )
        # two lines side by side, before they part or cross
        both = run is not None and (run.width > 1.4 * thick + 0.6 or run.cut)
        beside = beside + 1.0 if both else max(beside - 0.25, 0.0)
        if seen and run is not None:
            x, y, gap = x - ty * run.centre, y + tx * run.centre, 0.0
        else:
            gap += 1.0 if run is None else 0.6
            if gap > most_gap:
                break
        places.append((x, y))
        on.append(seen)
        tx, ty = _direction(places, on, tx, ty, thick)
    last = int(np.flatnonzero(on)[-1])
    goes_on = _goes_on(like, places[last], (tx, ty), thick, most_gap)
    return _Way(np.array(on[: last + 1]), np.array(places[: last + 1]), goes_on)


def _goes_on(
    like: FloatArray, end: tuple[float, float], way: tuple[float, float], thick: float, gap: float
) -> str:
    """Say so where line lies further ahead than a gap that is bridged."""
    (x, y), (tx, ty) = end, way
    reach = 1.5 * thick + 0.012 * float(np.hypot(*like.shape))
    ahead = np.arange(gap, 4 * gap)
    aside = np.arange(-reach, reach + 1)
    places = np.stack([y + ty * ahead[:, None] + tx * aside, x + tx * ahead[:, None] - ty * aside])
    found = map_coordinates(like, places, order=1, mode="constant") > _LINE
    return "the line is broken off and goes on further along" + _TYPE if found.any() else ""


def _direction(
    places: list[tuple[float, float]], on: list[bool], tx: float, ty: float, thick: float
) -> tuple[float, float]:
    """The way that the last steps on the line took; as before where too few were."""
    lag = int(max(_LAG, 3 * thick))
    recent = [p for p, seen in zip(places[-lag:], on[-lag:], strict=True) if seen]
    if len(recent) < 0.4 * lag or not on[-1]:
        return tx, ty
    points = np.array(recent)
    half = len(points) // 2
    ahead = points[half:].mean(axis=0) - points[:half].mean(axis=0)
    size = float(np.hypot(*ahead))
    if size < 1e-9 or ahead @ [tx, ty] < 0.5 * size:
        return tx, ty
    return float(ahead[0] / size), float(ahead[1] / size)


def _judged(on: FloatArray, path: FloatArray, thick: float) -> Trace:
    """The centres that were seen, or what makes them no curve."""
    seen = path[on.astype(bool)]
    if len(seen) < 20:
        return _none("the line could not be followed" + _TYPE)
    if on.mean() < _COVERED:
        return _none("the line is broken too often to be followed" + _TYPE)
    x, y = seen.T
    back = np.maximum.accumulate(x) - x
    if back.max() > 2.0 + 0.5 * thick:
        return _none("the line turns back, as no pump curve does, or was lost" + _TYPE)
    jitter = _jitter(x, y)
    size = float(np.hypot(np.ptp(x), np.ptp(y)))
    if jitter > max(_JITTER[0], _JITTER[1] * size) + 0.1 * thick:
        return _none("the line was lost at a crossing or a label" + _TYPE)
    return Trace(x, y, thick, float(np.hypot(jitter, 0.1 * thick)))


def _jitter(x: FloatArray, y: FloatArray) -> float:
    """Root mean square of the steps' distance from a smooth line through them, px."""
    along = np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y))))
    width = max(15.0, along[-1] / 12)
    off = []
    for begin in np.arange(0.0, along[-1], width):
        part = (along >= begin) & (along < begin + width)
        if part.sum() > 8:
            t = along[part] - begin
            off += [v[part] - np.polyval(np.polyfit(t, v[part], 3), t) for v in (x, y)]
    return float(np.sqrt(2 * np.mean(np.concatenate(off) ** 2))) if off else 0.0
