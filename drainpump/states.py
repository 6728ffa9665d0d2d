"""What a status means, what may be counted on, and what has to be reckoned with.

A pump that falls off the end of its points still bounds its flow, and a bound serves two
kinds of question unlike. Whether a need is carried asks what may be *counted on*: the least
the flow can be. Whether a pipe or a pump is overdone asks what has to be *reckoned with*.
Every room asks here, so that no two of them take the same bound for different numbers.

=================  ====================  ====================  ========================
status             flow                  counted on            reckoned with
=================  ====================  ====================  ========================
``ok``             Q                     Q                     Q
``no_flow``        0                     0                     0
``beyond_curve``   at least last point   last point            last point
``below_curve``    at most first point   0                     first point
``multiple``       not known             0                     the greatest crossing
``bad_input``      not known             NaN                   NaN
=================  ====================  ====================  ========================
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump.units import FloatArray

Codes = npt.NDArray[np.int8]
Flags = npt.NDArray[np.bool_]

OK, NO_FLOW, BEYOND, BELOW, MULTIPLE, BAD = range(6)


class State(NamedTuple):
    """One status: how what is reckoned with stands to the truth, how it is said, its mend."""

    name: str
    bound: str  # "" where the flow is known, "at least", "at most", or "not known"
    said: str  # of a flow, to be filled with its number
    mend: str


#: by code
STATES = (
    State("ok", "", "{}", ""),
    State(
        "no_flow", "", "no flow",
        "choose a pump with more shutoff head, or lower the line's high point",
    ),
    State(
        "beyond_curve", "at least", "at least {}",
        "the flow is at least the curve's last point, which is used; get points further out",
    ),
    State(
        "below_curve", "at most", "at most {}",
        "the flow is at most the curve's first point, and none is counted on; give shutoff_ft or "
        "points nearer to no flow",
    ),
    State(
        "multiple", "not known", "flow not known",
        "the drooping curve crosses the line more than once, and no flow is counted on; choose "
        "another pump",
    ),
    State("bad_input", "not known", "flow not known", "an input of this element is NaN"),
)  # fmt: skip

#: names by code, and the mends by name
NAMES = np.array([s.name for s in STATES])
MENDS = {s.name: s.mend for s in STATES if s.mend}

_BY_NAME = {s.name: s for s in STATES}
#: by code: whether the truth may be more, or less, than what is reckoned with
_MORE = np.array([s.bound in ("at least", "not known") for s in STATES])
_LESS = np.array([s.bound in ("at most", "not known") for s in STATES])


#: whether there is one flow, or a bound of it
_FLOWS = np.array([s.bound != "not known" and s.name != "no_flow" for s in STATES])


def counted_on(code: Codes, flow: FloatArray, last: FloatArray) -> FloatArray:
    """Flow that may be counted on, for a need: of arrays of codes, flows and last points.

    >>> counted_on(np.arange(6), np.array([3.0, 0, np.nan, np.nan, np.nan, np.nan]), 5.0)
    array([ 3.,  0.,  5.,  0.,  0., nan])
    """
    kept = np.where(code == BEYOND, last, flow)
    # a pump that may have no steady flow, or has one short of its data, is not relied on
    return np.where((code == BELOW) | (code == MULTIPLE), 0.0, kept)


def reckoned_with(
    code: Codes, flow: FloatArray, first: FloatArray, last: FloatArray, greatest: FloatArray
) -> FloatArray:
    """Flow to be reckoned with, for velocities, starts and what an outlet has to carry.

    ``greatest`` is the greatest crossing of the elements that are ``multiple``.

    >>> unknown = np.array([3.0, 0, np.nan, np.nan, np.nan, np.nan])
    >>> reckoned_with(np.arange(6), unknown, 1.0, 5.0, 4.0)
    array([ 3.,  0.,  5.,  1.,  4., nan])
    """
    flow = np.where(code == BEYOND, last, flow)
    flow = np.where(code == BELOW, first, flow)
    return np.where(code == MULTIPLE, greatest, flow)


def has_flow(code: Codes) -> Flags:
    """True where there is one flow, or a bound of it: of the rest the status says all.

    >>> has_flow(np.arange(6))
    array([ True, False,  True,  True, False, False])
    """
    return np.asarray(_FLOWS[code])


def counts(code: Codes) -> Flags:
    """True where some flow may be counted on.

    >>> counts(np.arange(6))
    array([ True, False,  True, False, False, False])
    """
    return has_flow(code) & ~may_be_less(code)


def may_be_more(code: Codes) -> Flags:
    """True where the flow may be more than what is reckoned with."""
    return np.asarray(_MORE[code])


def may_be_less(code: Codes) -> Flags:
    """True where the flow may be less than what is reckoned with."""
    return np.asarray(_LESS[code])


def over(value: Any, most: Any, more: Any, less: Any) -> tuple[Flags, Flags]:
    """Where a number that rises with the flow is over a limit: surely, and where not known.

    ``more`` and ``less`` say where the flow behind it `may_be_more` or `may_be_less`.
    """
    above = np.asarray(value > most)
    unknown = np.where(above, less, more) | np.isnan(value)
    return above & ~unknown, unknown


def under(value: Any, least: Any, more: Any, less: Any) -> tuple[Flags, Flags]:
    """Where a number that rises with the flow is under a limit: surely, and where not known."""
    below = np.asarray(value < least)
    unknown = np.where(below, more, less) | np.isnan(value)
    return below & ~unknown, unknown


def codes(status: Any) -> Codes:
    """Codes of an array of names.

    >>> codes(["ok", "multiple"]).tolist()
    [0, 4]
    """
    return (np.asarray(status)[..., None] == NAMES).argmax(axis=-1).astype(np.int8)  # type: ignore[no-any-return]


def first_failed(code: Codes) -> Codes:
    """Of each row along the last axis the first code that is not ok, or ok."""
    first = np.argmax(code != OK, axis=-1)[..., None]
    return np.asarray(np.take_along_axis(code, first, axis=-1)[..., 0])


def commonest(code: Codes) -> npt.NDArray[np.str_]:
    """Status of many samples along the last axis: ok where all are, else the commonest other.

    >>> str(commonest(np.array([OK, OK, OK, BEYOND, BELOW, BELOW])))
    'below_curve'
    """
    counts = np.stack([(code == c).sum(axis=-1) for c in range(len(STATES))])
    counts[OK] = 0
    return np.asarray(NAMES[counts.argmax(axis=0)])


def bound(status: Any) -> str:
    """Words before the number reckoned with: "at least", "at most", "" or "not known".

    >>> bound("beyond_curve"), bound("below_curve"), bound("ok")
    ('at least', 'at most', '')
    """
    return _BY_NAME[str(status)].bound


def said(number: str, status: Any) -> str:
    """Say a flow, or its bound, by its status.

    >>> said("20 gpm", "beyond_curve"), said("20 gpm", "multiple"), said("0 gpm", "no_flow")
    ('at least 20 gpm', 'flow not known', 'no flow')
    """
    return _BY_NAME[str(status)].said.format(number)
