"""What readings on site leave of the doubt of a pump's curve."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy.special import softmax
from scipy.stats import chi2

from drainpump.doubt.doubt import Doubt, Samples, sample
from drainpump.errors import InputError
from drainpump.field.reading import FieldTest, check_tests
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import whole
from drainpump.solve.changed_line import with_lift
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import solve_arrays
from drainpump.units import FloatArray
from drainpump.work_budget import spend

#: curves that are kept of the doubt, equally likely
_KEPT = 256
#: samples that should count, and up to how many are made for that
_COUNT, _MOST = 400.0, 1 << 16
#: chance of a misfit as large as the best sample's below which nothing is learned
_LEAST_CHANCE = 1e-3


def learn(
    curve: PumpCurve,
    tests: FieldTest | Sequence[FieldTest],
    line: DischargeLine,
    doubt: Doubt | None = None,
    samples: int = 4096,
    seed: int = 0,
) -> PumpCurve:
    """Return a pump's curve with its doubt narrowed by readings on its line.

    Parameters
    ----------
    curve : PumpCurve
        By two figures, as bought, read off a picture, or learned before.
    tests : FieldTest or sequence of FieldTest
        A bucket, a drawdown, a meter, a gauge; each with its one-sigma.
    line : DischargeLine
        The line on which they were read.
    doubt : Doubt, optional
        What is not known before: of the pump's head and flow, and of the line. By default
        ``Doubt(grade="up to 10 kW")``: the line is as told.
    samples, seed : int
        Samples of the doubt, and their seed.

    Returns
    -------
    PumpCurve
        Its shape, head and flow are the middle of what is left; all that is left is sampled
        wherever a doubt is, in place of a tolerance of head and flow, which the readings of
        this very pump have seen.

    Raises
    ------
    InputError
        Readings that no such pump makes on this line.

    Notes
    -----
    By Bayes' rule: samples from what was not known before (the shape as in
    `PumpCurve.from_box`), each as likely as the readings' normal errors make the readings
    from it, and 256 of them taken again in proportion. One reading at one duty narrows the
    others too; two readings at two duties pin most of it.

    References
    ----------
    A. F. M. Smith, A. E. Gelfand, "Bayesian statistics without tears", The American
    Statistician 46 (1992), sampling and importance resampling (from memory).

    Examples
    --------
    >>> import drainpump as dp
    >>> box = dp.PumpCurve.from_box("box", flow_max_gph=3300, head_max_ft=24)
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> test = dp.field.meter_test(flow_gpm=24, sigma_gpm=0.5)
    >>> known = dp.field.learn(box, test, line)
    >>> band = dp.band(known, line, dp.Doubt()).flow_gpm
    >>> 1 < band["p90"] - band["p10"] < 2, known.origin  # from two figures it was 7 gpm
    (True, 'readings on site')
    """
    one_case("learn", curve, line, banks=False)
    listed = check_tests(tests)
    prior = Doubt(grade="up to 10 kW") if doubt is None else doubt
    count = whole("samples", samples, "give another", low=64, high=_MOST)
    while True:
        spend("learn", tests=len(listed), runs=len(line.runs), samples=count)
        sampled = sample(prior, count, seed)
        curves = curve.si.sampled(sampled.head, sampled.flow, sampled.which, sampled.misread)
        misfit = _misfit(curves, sampled, listed, line)
        weight = softmax(-0.5 * misfit)
        if 1 / (weight**2).sum() >= _COUNT or count >= _MOST:
            break
        count = min(4 * count, _MOST)
    if chi2.sf(misfit.min(), len(listed)) < _LEAST_CHANCE:
        raise InputError(
            f"tests: no pump like {curve.name!r} makes these readings on this line; check them "
            "and the line, or diagnose what is wrong."
        )
    return _narrowed(curve, curves, _again(weight))


def _misfit(
    curves: PumpCurve, sampled: Samples, tests: Sequence[FieldTest], line: DischargeLine
) -> FloatArray:
    """Sum of squares of the readings' distance from each sample, in sigma."""
    total = np.zeros(sampled.count)
    for test in tests:
        # a level below the off level is as much more lift
        op = solve_arrays(curves, sampled.line(with_lift(line.si.arrays, -test.si.level)))
        flow = op.si.counted
        if test.head_ft is None:
            off = (test.si.flow - flow) / test.si.sigma
        else:
            at = np.zeros_like(flow) if test.kind == "gauge, valve shut" else flow
            off = (test.si.head - curves.si.head_at(at)) / test.si.head_sigma
        total += np.where(np.isfinite(off), off, np.inf) ** 2
    return np.where(np.isfinite(total), total, 1e12)


def _again(weight: FloatArray) -> Any:
    """Samples taken again in proportion to their weight, evenly along their order."""
    ladder = (np.arange(_KEPT) + 0.5) / _KEPT
    return np.minimum(np.searchsorted(np.cumsum(weight), ladder), weight.size - 1)


def _narrowed(curve: PumpCurve, curves: PumpCurve, pick: Any) -> PumpCurve:
    """The curve with those samples in place of what was not known before."""
    likely = curve.si.likely
    by_head, by_flow = (1.0, 1.0) if likely is None else likely.middle[1:]
    # the curve's own factors, of speed and wear, stay with its points
    head = curves.si.head_factor[pick] / float(curve.si.head_factor) * by_head
    flow = curves.si.flow_factor[pick] / float(curve.si.flow_factor) * by_flow
    left = {"head": head, "flow": flow}
    order = np.argsort(head, kind="stable")
    if likely is not None and likely.shape is not None:
        left["shape"] = likely.shape[curves.si.number[pick]]
        order = np.argsort(left["shape"], kind="stable")
    learned = {name: [float(f"{x:.5g}") for x in row[order]] for name, row in left.items()}
    more: dict[str, Any] = {} if "from_box" in curve.to_dict() else {
        "origin": "learned", "reading_pct": 0.0,
    }  # fmt: skip
    return curve.variant(learned=learned, **more)
