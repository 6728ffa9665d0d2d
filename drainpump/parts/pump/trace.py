"""A line followed in a picture, through grid, labels, gaps and blur; pixels only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.ndimage import map_coordinates
from scipy.signal import savgol_filter

from drainpump.units import FloatArray

#: likeness from which a pixel belongs to the line
_LINE = 0.45
#: least contrast of a line to its ground, of 1
_CONTRAST = 0.15
#: share of a row or column from which a straight line in it is grid or frame
_GRID = 0.55
#: longest gap that is bridged, and the shortest, as a share of the picture and in px
_GAP, _LEAST_GAP = 0.035, 8.0
#: steps over which the direction is taken: at least, and as a share of the picture
_LAG = 12, 0.025
#: share of the steps that must lie on the line, and the jitter that is allowed (px, share)
_COVERED, _JITTER = 0.45, (1.2, 0.004)
#: share of the steps one way that may lie beside another line
_DOUBTFUL = 0.3
#: bend of the line, as a slope, that tells another line behind a crossing at a wide angle,
#: which is short and soon over, and behind one at a narrow angle or a label
_KINK = 0.2, 0.1
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
    inside = np.ones(near.shape, dtype=bool) if inside is None else inside
    near = np.where(inside, near, 0.0)
    start = _nearest(near, x, y)
    if start is None:
        return _none("there is no line near the point; give one on the line")
    thick = _thickness(near, *start)
    if thick > 0.04 * min(near.shape):
        return _none("the point lies on a surface, not on a line; give one on the line")
    # stretches of doubt closer than this are one
    apart = max(20.0, 4 * thick, 0.02 * float(np.hypot(*near.shape)))
    right, left = (_walk(near, start, thick, apart, sign) for sign in (1.0, -1.0))
    if isinstance(right, str) or isinstance(left, str):
        return _none(right if isinstance(right, str) else str(left))
    if trouble := _in_doubt(right, left, inside, thick, apart):
        return _none(trouble)
    on, doubtful, path = (
        np.concatenate([a[::-1], b[1:]]) for a, b in zip(left, right, strict=True)
    )
    return _judged(path[on], _kinked(path[on & ~doubtful], path[doubtful], thick, apart), thick)


def _in_doubt(
    right: _Way, left: _Way, inside: npt.NDArray[np.bool_], thick: float, apart: float
) -> str:
    """What speaks against the line as a whole: gaps, or others beside it or at its ends."""
    steps = len(right.on) + len(left.on)
    if right.on.sum() + left.on.sum() < _COVERED * steps:
        return "the line is broken too often to be followed" + _TYPE
    if all(way.doubtful[: round(apart)].any() for way in (left, right)):
        return "the point lies where lines meet; give one where the line stands alone"
    for way in (left, right):
        if way.doubtful.mean() > _DOUBTFUL:
            return "the line runs together with another" + _TYPE
        if way.doubtful[-round(apart) :].any() and not _at_edge(inside, way.path[-1], thick):
            return "the line ends at a crossing or a label" + _TYPE
    return ""


def _at_edge(inside: npt.NDArray[np.bool_], end: FloatArray, thick: float) -> bool:
    """Whether a line ends where it must: at an axis, or at the edge of the picture."""
    reach = 2 * thick + 4
    (x, y), (tall, wide) = end, inside.shape
    rows, columns = (slice(max(round(v - reach), 0), round(v + reach) + 1) for v in (y, x))
    whole = reach <= x < wide - reach and reach <= y < tall - reach
    return not (whole and inside[rows, columns].all())


class _Way(NamedTuple):
    """Steps one way: whether each lies on the line, is not clearly it, and where (n, 2)."""

    on: npt.NDArray[np.bool_]
    doubtful: npt.NDArray[np.bool_]
    path: FloatArray


def _none(trouble: str) -> Trace:
    nothing = np.empty(0)
    return Trace(nothing, nothing, 0.0, 0.0, trouble)


def _likeness(picture: FloatArray, x: float, y: float) -> FloatArray | str:
    """How near each pixel comes to the line's colour, from 0 to 1, without grid and frame."""
    red, green, blue = np.moveaxis((picture * 31).astype(np.uint16), -1, 0)
    levels = red * 1024 + green * 32 + blue
    ground = picture[levels == np.bincount(levels.ravel()).argmax()].mean(axis=0)
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
    sides = ((on, clean), (on.T, clean.T))
    grids = [_straight(drawn) for drawn, _ in sides]
    for (drawn, kept), grid, across in zip(sides, grids, grids[::-1], strict=True):
        for i in grid:
            # a thicker line over the grid, seen on both sides of it, stays
            wide = drawn[max(i - 2, 0)] & drawn[min(i + 2, len(drawn) - 1)]
            wide[across] = False
            kept[max(i - 1, 0) : i + 2, ~wide] = 0.0
    return clean


def _straight(drawn: npt.NDArray[np.bool_]) -> list[int]:
    """The rows that are drawn for the most part of what is drawn at all."""
    along = np.flatnonzero(drawn.any(axis=0))
    span = 1.0 if along.size == 0 else float(np.ptp(along) + 1) / drawn.shape[1]
    return np.flatnonzero(drawn.mean(axis=1) > _GRID * span).tolist()


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
    """Width of the line: the least over all directions, the lower third of places close by."""
    reach = 0.05 * min(like.shape) + 3
    top, left = max(round(y) - 4, 0), max(round(x) - 4, 0)
    rows, columns = np.nonzero(like[top : top + 9, left : left + 9] > 0.6)
    found = []
    # a place at the end of a dash alone would make it too thin
    for row, column in zip((rows + top)[::3], (columns + left)[::3], strict=True):
        widths = []
        for turn in np.linspace(0, np.pi, 24, endpoint=False):
            across = _profile(like, column, row, np.cos(turn), np.sin(turn), reach)
            run = _run(across, reach)
            widths.append(reach * 2 if run is None else run.width)
        found.append(min(widths))
    return max(float(np.quantile(found, 0.3)), 1.0)


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


def _walk(
    like: FloatArray, start: tuple[float, float], thick: float, apart: float, sign: float
) -> _Way | str:
    """Follow the line from the start by steps of a pixel, or say why that is not certain."""
    tx, ty = (sign * t for t in _heading(like, *start, thick))
    x, y = start
    tall, wide = like.shape
    size = float(np.hypot(tall, wide))
    most_gap = max(_GAP * size, _LEAST_GAP, 5.0 * thick)
    lag = int(max(_LAG[0], _LAG[1] * size, 3 * thick))
    places, on, doubtful, gap, beside = [(x, y)], [True], [False], 0.0, 0.0
    for _ in range(3 * (tall + wide)):
        x, y = x + tx, y + ty
        if not (0 <= x < wide and 0 <= y < tall):
            break
        reach = 1.2 * thick + 2.0 + min(0.2 * gap, 0.5 * thick + 3.0)
        run = _run(_profile(like, x, y, -ty, tx, reach), reach)
        # a stretch far wider than the line is another across it, and tells nothing
        seen = run is not None and run.width < 1.8 * thick + 1.0 and not run.cut
        if run is not None and beside > 1.5 * thick + 3 and not run.alone:
            return "the line runs together with another" + _TYPE
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
        doubtful.append(gap > 0.5 * apart if run is None else both or not run.alone)
        tx, ty = _direction(places, on, tx, ty, lag)
    last = int(np.flatnonzero(on)[-1])
    way = _Way(*(np.array(a[: last + 1]) for a in (on, doubtful, places)))
    if _goes_on(like, way.path[last], (tx, ty), thick, (most_gap, 4 * most_gap)):
        return "the line is broken off and goes on further along" + _TYPE
    return way


def _goes_on(
    like: FloatArray, end: FloatArray, way: Any, thick: float, span: tuple[float, float]
) -> bool:
    """Whether there is line further ahead, so far from the end."""
    (x, y), (tx, ty) = end, way
    reach = thick + 0.012 * float(np.hypot(*like.shape))
    ahead = np.arange(*span)
    aside = np.arange(-reach, reach + 1)
    places = np.stack([y + ty * ahead[:, None] + tx * aside, x + tx * ahead[:, None] - ty * aside])
    found = map_coordinates(like, places, order=1, mode="constant") > _LINE
    return bool(found.any())


def _direction(
    places: list[tuple[float, float]], on: list[bool], tx: float, ty: float, lag: int
) -> tuple[float, float]:
    """The way that the last steps on the line took; as before where too few were."""
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


def _judged(seen: FloatArray, kinked: bool, thick: float) -> Trace:
    """The centres that were seen, or what makes them no curve."""
    if len(seen) < 20:
        return _none("the line could not be followed" + _TYPE)
    x, y = seen.T
    back = np.maximum.accumulate(x) - x
    if back.max() > 2.0 + 0.5 * thick:
        return _none("the line turns back, as no pump curve does, or was lost" + _TYPE)
    jitter = _jitter(x, y)
    size = float(np.hypot(np.ptp(x), np.ptp(y)))
    if kinked or jitter > max(_JITTER[0], _JITTER[1] * size) + 0.1 * thick:
        return _none("the line was lost at a crossing or a label" + _TYPE)
    return Trace(x, y, thick, float(np.hypot(jitter, 0.1 * thick)))


def _kinked(clear: FloatArray, doubtful: FloatArray, thick: float, apart: float) -> bool:
    """Whether the line bends sharply over a stretch of doubt: then it goes on as another line."""
    stretches = np.split(
        doubtful, np.flatnonzero(np.hypot(*np.diff(doubtful, axis=0).T) > apart) + 1
    )
    for stretch in stretches if len(doubtful) else ():
        a, b = stretch[0], stretch[-1]
        half = 0.5 * float(np.hypot(*(b - a))) + 1.0
        reach = half + 2.0 * apart
        away = clear - 0.5 * (a + b)
        near = away[(np.hypot(*away.T) < reach) & (np.hypot(*away.T) > half)]
        if len(near) < 20:
            continue
        way = np.linalg.svd(near - near.mean(axis=0))[2][0]
        t, v = near @ way / reach, near @ [-way[1], way[0]]
        if min((t < 0).sum(), (t > 0).sum()) < 10:
            continue
        # a cubic, and beside it a bend of so much
        terms = np.stack([t**0, t, t**2, t**3, np.maximum(t, 0.0)], axis=1)
        found, rest, *_ = np.linalg.lstsq(terms, v, rcond=None)
        sigma = np.sqrt(rest.sum() / (t.size - 5) * np.linalg.inv(terms.T @ terms)[4, 4])
        least = _KINK[0] if half < thick + 2.0 else _KINK[1]
        if abs(found[4]) > max(least * reach, 3 * sigma):
            return True
    return False


def _jitter(x: FloatArray, y: FloatArray) -> float:
    """Root mean square of the steps' distance from a smooth line through them, px."""
    along = np.append(0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y))))
    even = np.arange(along[-1])
    width = 2 * (int(max(15.0, along[-1] / 12)) // 2) + 1
    if even.size < width:
        return 0.0
    lines = [np.interp(even, along, v) for v in (x, y)]
    off = [line - savgol_filter(line, width, 3) for line in lines]
    return float(np.sqrt(2 * np.mean(np.square(off))))
