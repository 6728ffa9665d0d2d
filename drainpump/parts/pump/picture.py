"""A printed curve read off its picture: two known points an axis, and one on the line."""

from __future__ import annotations

import os
import struct
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from scipy.signal import savgol_filter

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.foreign import convert
from drainpump.parts.csv_sheet import printable, read_at_most
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.pump.trace import Trace, follow
from drainpump.parts.scalars import check_name
from drainpump.units import FloatArray

_MOST_BYTES = 20_000_000
_MOST_PIXELS = 25_000_000
_LEAST_SIDE, _MOST_SIDE = 100, 10_000
#: points that are kept of a traced line
_POINTS = 24
#: steps between two of them, over which the line's noise is smoothed; an even number
_BETWEEN = 20
#: an end so close to an axis, as a share of the largest, lies on it
_ON_AXIS = 0.008
#: one-sigma of where the known points are, px: our own judgement, no source
_PIXEL = 0.7
#: share of the axis that a line must reach over, to be a curve and no smudge
_LEAST_SPAN = 0.15

#: known points of an axis: pixel and value of each
Known = Sequence[Sequence[float]]


@dataclass(frozen=True)
class Axis:
    """A linear axis: pixel and value (in the unit of ``column``) of one place, and its scale."""

    column: str
    pixel: float
    value: float
    per_pixel: float

    def values(self, pixels: FloatArray) -> FloatArray:
        """Values at pixels."""
        return self.value + self.per_pixel * (pixels - self.pixel)

    def pixels(self, values: FloatArray) -> FloatArray:
        """Pixels at values."""
        return self.pixel + (values - self.value) / self.per_pixel


def read_curve_picture(
    path: str | os.PathLike[str],
    *,
    flow_gpm: Known | None = None,
    flow_lps: Known | None = None,
    flow_gph: Known | None = None,
    flow_lpm: Known | None = None,
    flow_m3ph: Known | None = None,
    head_ft: Known | None = None,
    head_m: Known | None = None,
    head_psi: Known | None = None,
    head_kpa: Known | None = None,
    at: Sequence[float],
    name: str = "A",
    invented: bool = False,
    note: str = "",
) -> PumpCurve:
    """Read a pump curve off the picture of a printed one.

    Parameters
    ----------
    path : str or path-like
        A PNG or JPEG file, 100 to 10,000 px a side, at most 25 million pixels.
    flow_gpm, flow_lps, flow_gph, flow_lpm, flow_m3ph : sequence of (px, value)
        Two or more known points of the flow axis, which runs across: pixels from the left
        edge, and the flow there. Exactly one unit. A third point tells a logarithmic axis.
    head_ft, head_m, head_psi, head_kpa : sequence of (px, value)
        The same of the head axis: pixels from the top edge.
    at : (float, float)
        Pixels from the left and from the top of one point on the line.
    name, invented, note
        As of `PumpCurve`.

    Returns
    -------
    PumpCurve
        Some 24 points along the line. The doubt of reading them, one-sigma of the largest
        flow and head, is part of the curve's doubt in every sample.

    Raises
    ------
    UnitError, InputError
        No picture that can be read, axes that are not linear, no line at the point, or one
        that cannot be followed with certainty: then nothing is given.

    Notes
    -----
    The line is followed both ways in steps of about a pixel, each centred across the line by
    how near its pixels come to the line's colour; straight lines across the whole picture
    (grid, frame) are left out, and gaps of a few percent of the picture, such as a label's, are
    bridged. Where the line bends sharply at a crossing or a label, or ends at one, it may have
    been left for another: then nothing is given. Look at what was found with `plots.traced`.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.read_curve_picture("none.png", flow_gpm=((50, 0), (450, 60)),
    ...     head_ft=((350, 0), (50, 30)), at=(120, 90))
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: none.png: cannot be opened; check the path and who may read it.
    """
    check_name(name)
    flow = axis("flow", gpm=flow_gpm, lps=flow_lps, gph=flow_gph, lpm=flow_lpm, m3ph=flow_m3ph)
    head = axis("head", ft=head_ft, m=head_m, psi=head_psi, kpa=head_kpa)
    picture = load(path)
    trace = _traced(path, picture, at, _quarter(picture.shape, flow, head))
    flows, heads = flow.values(trace.x), head.values(trace.y)
    order = np.argsort(flows, kind="stable")
    flows, heads = flows[order], heads[order]
    shown = printable(Path(os.fspath(path)).name)
    _fits(shown, flow, head, trace, flows, heads)
    top, last = float(heads.max()), float(flows[-1])
    blur = np.hypot(_PIXEL, trace.sigma)
    reading = 100 * max(blur * abs(flow.per_pixel) / last, blur * abs(head.per_pixel) / top)
    flows, heads = _few(flows, heads, top, last)
    given: dict[str, Any] = dict(
        convert(side.column, row) for side, row in ((flow, flows), (head, heads))
    )
    with u.place(shown, guess=False):
        return PumpCurve(
            name=name, **given, invented=invented, note=note, origin="picture",
            reading_pct=float(f"{reading:.2g}"),
        )  # fmt: skip


def _quarter(shape: tuple[int, ...], flow: Axis, head: Axis) -> Any:
    """Where flow and head are 0 or more, a pixel of slack about it, (rows, columns)."""
    tall, wide = shape[:2]
    across = flow.values(np.arange(float(wide))) >= -abs(flow.per_pixel)
    down = head.values(np.arange(float(tall))) >= -abs(head.per_pixel)
    return down[:, None] & across


def _traced(path: str | os.PathLike[str], picture: FloatArray, at: Any, inside: Any) -> Trace:
    place = np.asarray(u.plain("at", at, mend="give pixels from the left and from the top"))
    tall, wide = picture.shape[:2]
    if place.shape != (2,) or not (0 <= place[0] < wide and 0 <= place[1] < tall):
        raise wrong(
            "at", at, f"must be (x_px, y_px) within the picture, {wide} by {tall} px",
            "give a point on the line; pixels count from the top left",
        )  # fmt: skip
    trace = follow(picture, float(place[0]), float(place[1]), inside)
    if trace.trouble:
        shown = printable(Path(os.fspath(path)).name)
        raise InputError(f"{shown}: {trace.trouble}.")
    return trace


def axis(name: str, **given: Any) -> Axis:
    """Take the known points of an axis in whichever unit."""
    found = [unit for unit, known in given.items() if known is not None]
    if len(found) != 1:
        u.take(name, guard=name, **given)  # says what is missing, or twice there
    return _read_axis(f"{name}_{found[0]}", given[found[0]])


def _read_axis(column: str, known: Any) -> Axis:
    """Take the known points of an axis; refuse one that is not linear."""
    mend = "give two points of the axis, ((px, value), (px, value))"
    points = np.asarray(u.plain(column, known, mend=mend))
    if points.ndim != 2 or points.shape[0] < 2 or points.shape[1] != 2 or np.isnan(points).any():
        raise wrong(column, known, "must be pairs of pixel and value", mend)
    pixel, value = points[np.argsort(points[:, 0])].T
    steps, rises = np.diff(pixel), np.diff(value)
    if (steps < 2).any() or (rises == 0).any() or (np.sign(rises) != np.sign(rises[0])).any():
        raise wrong(column, known, "must be places apart, their values rising or falling", mend)
    slope, start = np.polyfit(pixel, value, 1)
    off = np.abs(start + slope * pixel - value).max() / np.ptp(value)
    if off > 0.01:
        if (value > 0).all():
            log = np.polyfit(pixel, np.log(value), 1)
            if np.abs(np.polyval(log, pixel) - np.log(value)).max() < 0.01 * np.ptp(np.log(value)):
                raise wrong(
                    column, known, "is a logarithmic axis, which is not read",
                    "type points off the picture: flow_gpm=[...], head_ft=[...]",
                )  # fmt: skip
        raise wrong(column, known, "must lie on a linear axis", "check pixels and values")
    return Axis(column, float(pixel[0]), float(start + slope * pixel[0]), float(slope))


# -- the file


def load(path: str | os.PathLike[str]) -> FloatArray:
    """Return a picture's colours, (rows, columns, 3) from 0 to 1, its transparency on white."""
    if not isinstance(path, str | os.PathLike) or not isinstance(os.fspath(path), str):
        raise wrong("path", path, "must be the path of a PNG or JPEG file")
    file = Path(path)
    shown = printable(file.name or str(path))
    try:
        raw, size = read_at_most(file, _MOST_BYTES)
    except (OSError, ValueError):
        raise InputError(
            f"{shown}: cannot be opened; check the path and who may read it."
        ) from None
    if max(size, len(raw)) > _MOST_BYTES:
        raise InputError(f"{shown}: must be at most {_MOST_BYTES / 1e6:.0f} MB; cut or shrink it.")
    kind, sides = _sides(raw)
    if kind is None or sides is None:
        said = "is empty" if not raw else "is no PNG or JPEG picture"
        raise InputError(f"{shown}: {said}; save the curve as one.")
    wide, tall = sides
    if not (min(sides) >= _LEAST_SIDE and max(sides) <= _MOST_SIDE) or wide * tall > _MOST_PIXELS:
        raise InputError(
            f"{shown}: {wide} by {tall} px: must be {_LEAST_SIDE} to {_MOST_SIDE} px a side and at "
            f"most {_MOST_PIXELS / 1e6:.0f} million in all; cut or scale it."
        )
    return _decoded(raw, kind, shown, (tall, wide))


def _decoded(raw: bytes, kind: str, shown: str, sides: tuple[int, int]) -> FloatArray:
    import io

    from matplotlib.image import imread  # slow to load: only when a picture is read

    try:
        image = np.asarray(imread(io.BytesIO(raw), format=kind))
    except Exception:  # whatever a decoder makes of a broken file
        raise InputError(f"{shown}: cannot be decoded; save it again.") from None
    if image.shape[:2] != sides or image.ndim not in (2, 3):
        raise InputError(f"{shown}: is not what its header says; save it again.")
    if image.dtype.kind in "ui":
        image = image / float(np.iinfo(image.dtype).max)
    image = np.asarray(image, dtype=np.float64)
    if image.ndim == 2:
        image = image[..., None]
    if image.shape[2] in (2, 4):
        clear = image[..., -1:]
        image = image[..., :-1] * clear + 1.0 - clear
    return np.repeat(image, 3, axis=2) if image.shape[2] == 1 else image[..., :3]


def _sides(raw: bytes) -> tuple[str | None, tuple[int, int] | None]:
    """Kind of picture, and its width and height as the header says, before any decoding."""
    if raw[:8] == b"\x89PNG\r\n\x1a\n" and raw[12:16] == b"IHDR" and len(raw) >= 24:
        return "png", struct.unpack(">II", raw[16:24])
    if raw[:2] != b"\xff\xd8":
        return None, None
    at = 2
    while at + 9 <= len(raw) and raw[at] == 0xFF:
        mark = raw[at + 1]
        if mark == 0xFF:  # padding
            at += 1
            continue
        # start of frame, but for the tables among its numbers
        if 0xC0 <= mark <= 0xCF and mark not in (0xC4, 0xC8, 0xCC):
            tall, wide = struct.unpack(">HH", raw[at + 5 : at + 9])
            return "jpeg", (wide, tall)
        at += 2 + struct.unpack(">H", raw[at + 2 : at + 4])[0]
    return None, None


# -- from pixels to points


def _fits(
    shown: str, flow: Axis, head: Axis, trace: Trace, flows: FloatArray, heads: FloatArray
) -> None:
    """Refuse a trace that cannot be a pump curve on these axes."""
    least_q, least_h = (-3 * abs(side.per_pixel) * (1 + trace.thick) for side in (flow, head))
    if flows.min() < least_q or heads.min() < least_h:
        raise InputError(
            f"{shown}: the line goes below 0 on its axes; check the axes' known points."
        )
    if flows[-1] <= 0 or np.ptp(flows) < _LEAST_SPAN * flows[-1]:
        raise InputError(
            f"{shown}: only {np.ptp(trace.x):.0f} px of the line could be followed; give a larger "
            "picture, or type points off it."
        )


def _few(
    flows: FloatArray, heads: FloatArray, top: float, last: float
) -> tuple[FloatArray, FloatArray]:
    """Some points along the line, even by its length, each a mean over its neighbours."""
    length = np.append(0.0, np.cumsum(np.hypot(np.diff(flows) / last, np.diff(heads) / top)))
    places = np.linspace(0.0, length[-1], (_POINTS - 1) * _BETWEEN + 1)
    # by short parabolas, so that a bend is not flattened and the ends are not moved
    q, h = (
        savgol_filter(np.interp(places, length, given), _BETWEEN + 1, 2)[::_BETWEEN]
        for given in (flows, heads)
    )
    q = np.where(np.abs(q) < _ON_AXIS * last, 0.0, q)
    h = np.where(np.abs(h) < _ON_AXIS * top, 0.0, h)
    keep = np.append(True, q[1:] > np.maximum.accumulate(q)[:-1])
    return np.maximum(q[keep], 0.0), np.maximum(h[keep], 0.0)
