"""A pump of which too little is known for one curve: the curves it may have, equally likely.

Two facts, such as the largest flow and the largest head on a box, are not a curve. Between
them the head falls as ``1 - x**n``, and n is in doubt.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.parts.pump.head_curve import Curve
from drainpump.units import FloatArray

#: least, middle and greatest exponent; half of the probability lies evenly on each side of
#: the middle. Our judgement, no source; a small pump's printed table gave 1.0 to 1.5
LEAST, MEDIAN, GREATEST = 0.7, 1.4, 2.2
#: curves the doubt is cut into, an odd number, so that the middle one is among them
COUNT = 65
#: knots of one curve; closer where an exponent below 1 bends most
_KNOTS = 49
_MOST = 1024

BOX_NOTE = (
    "From two figures: get the curve. Its shape between them is not known; the middle one is "
    "used, and the others are part of the doubt."
)


def box_shapes(count: int = COUNT) -> FloatArray:
    """Exponents n of equal probability, rising; the middle one is the median.

    >>> [round(float(x), 2) for x in box_shapes()[[0, 32, -1]]]
    [0.71, 1.4, 2.19]
    """
    luck = (np.arange(count) + 0.5) / count
    shapes: FloatArray = u.frozen(np.interp(luck, [0.0, 0.5, 1.0], [LEAST, MEDIAN, GREATEST]))
    return shapes


def falling(flow: FloatArray, head: FloatArray, exponents: npt.ArrayLike) -> Curve:
    """Curves from the first of two points to the last, end to end: ``H0 - (H0 - H1) x**n``."""
    from scipy.interpolate import PchipInterpolator

    many = np.atleast_1d(np.asarray(exponents, dtype=np.float64))
    share = np.linspace(0.0, 1.0, _KNOTS) ** 2
    knots = flow[0] + (flow[-1] - flow[0]) * share
    heads = head[0] - (head[0] - head[-1]) * share[:, None] ** many
    knots[-1], heads[-1] = flow[-1], head[-1]
    cubic = np.asarray(PchipInterpolator(knots, heads).c)  # (4, segments, curves)
    return Curve(
        u.frozen(np.tile(knots, many.size)),
        u.frozen(heads.T.ravel()),
        u.frozen(np.ascontiguousarray(cubic.transpose(0, 2, 1)).reshape(4, -1)),
        np.arange(many.size) * _KNOTS,
    )


@dataclass(frozen=True, eq=False)
class Likely:
    """M curves of equal probability, against the middle one: exponent and two factors."""

    shape: FloatArray | None  # (M,) exponents; None where points tell the shape
    head: FloatArray  # (M,) factor on the middle one's head
    flow: FloatArray  # (M,) factor on its flow
    middle: tuple[float | None, float, float]  # exponent, factors of head and flow
    learned: bool = False  # whether a tolerance of catalogue curves no longer applies

    @property
    def count(self) -> int:
        """Number of curves."""
        return int(self.head.size)

    @classmethod
    def box(cls) -> Likely:
        """What two figures leave open."""
        ones = u.frozen(np.ones(COUNT))
        return cls(box_shapes(), ones, ones, (MEDIAN, 1.0, 1.0))

    def heads(
        self, at: FloatArray, flow: FloatArray, head: FloatArray, number: npt.NDArray[np.intp]
    ) -> FloatArray:
        """Head at flows ``at``, each of its numbered curve; NaN outside both points."""
        assert self.shape is not None
        share = (at - flow[0]) / (flow[-1] - flow[0])
        with np.errstate(invalid="ignore"):
            inside = (share >= -1e-12) & (share <= 1 + 1e-12)
        fallen = np.clip(share, 0.0, 1.0) ** self.shape[number]
        return np.where(inside, head[0] - (head[0] - head[-1]) * fallen, np.nan)


def known_doubt(learned: Any, two_points: bool) -> Likely | None:
    """What is not known of a curve itself: two points leave the shape, readings a part of it."""
    if learned is not None:
        return read_learned(learned, two_points)
    return Likely.box() if two_points else None


def read_learned(given: Any, two_points: bool) -> Likely:
    """Take what readings left of the doubt: lists of equally likely heads, flows, shapes."""
    mend = "give what learn(...) found"
    if not isinstance(given, Mapping):
        raise wrong("learned", given, "must be a mapping of head, flow and shape", mend)
    names = ("head", "flow", "shape") if two_points else ("head", "flow")
    if set(given) != set(names):
        raise wrong("learned", sorted(map(str, given)), f"must hold {', '.join(names)}", mend)
    lists = {
        name: u.plain(f"learned[{name!r}]", given[name], low=0.05, high=20.0, mend=mend)
        for name in names
    }
    head = lists["head"]
    alike = all(array.shape == head.shape for array in lists.values())
    known = not any(np.isnan(array).any() for array in lists.values())
    if not (alike and known and head.ndim == 1 and 2 <= head.size <= _MOST):
        raise InputError(f"learned: must be lists of one length, 2 to {_MOST} numbers; {mend}.")
    shape = lists.get("shape")
    middle = float(np.mean(lists["head"])), float(np.mean(lists["flow"]))
    return Likely(
        None if shape is None else u.frozen(shape),
        u.frozen(lists["head"] / middle[0]),
        u.frozen(lists["flow"] / middle[1]),
        (None if shape is None else float(np.mean(shape)), *middle),
        learned=True,
    )
