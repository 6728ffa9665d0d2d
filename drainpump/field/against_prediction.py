"""A field test against the prediction: how likely each side of the band is, as numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from scipy.special import ndtr, softmax

from drainpump.doubt.band import percentiles
from drainpump.doubt.doubt import Doubt, sample
from drainpump.errors import InputError
from drainpump.field.reading import FieldTest, check_tests
from drainpump.results import Result
from drainpump.solve.changed_line import with_lift
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import OperatingPoint, solve_arrays
from drainpump.states import MENDS, commonest
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.curve import PumpCurve


class Verdict(Result):
    """Where a measured flow lies against the predicted band, as probabilities.

    Attributes
    ----------
    flow_gpm, flow_lps, sigma_gpm, sigma_lps : float
        Measured, with its one-sigma.
    low_gpm, middle_gpm, high_gpm : float (and ``_lps``)
        Predicted flow that 10, 50 and 90 % of the samples stay below, at the water level of
        the test.
    below, inside, above : float
        Probability that the true flow lies below, inside and above the predicted band,
        given the reading with its error and the prediction with its doubt; they sum to 1.
    as_low, as_high : float
        Share of sites as predicted whose test would read as low, as high, as this one or
        more so: a small one speaks against the prediction.
    status : str
        ``ok`` where every sample is, else the commonest other.
    """

    _flow: FloatArray
    _sigma: FloatArray
    _low: FloatArray
    _middle: FloatArray
    _high: FloatArray
    _below: FloatArray
    _inside: FloatArray
    _above: FloatArray
    _as_low: FloatArray
    _as_high: FloatArray
    _status: Any

    _mends: ClassVar[dict[str, str]] = MENDS

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    sigma_gpm, sigma_lps = View("_sigma"), View("_sigma")
    low_gpm, low_lps = View("_low"), View("_low")
    middle_gpm, middle_lps = View("_middle"), View("_middle")
    high_gpm, high_lps = View("_high"), View("_high")
    below = View("_below")
    inside = View("_inside")
    above = View("_above")
    as_low = View("_as_low")
    as_high = View("_as_high")


def verdict(
    pump: PumpCurve,
    line: DischargeLine,
    test: FieldTest,
    doubt: Doubt,
    samples: int = 1024,
    seed: int = 0,
) -> Verdict:
    """Compare one field test with the flow predicted under a doubt.

    Parameters
    ----------
    pump, line : PumpCurve and DischargeLine
        As built.
    test : FieldTest
        Its flow, one-sigma and mean water level.
    doubt : Doubt
        How far the inputs may be off.
    samples, seed : int
        As in `band`.

    Returns
    -------
    Verdict

    Notes
    -----
    By Bayes' rule: the samples are the prior, each as likely as the reading's normal error
    makes the reading from it. So a rough reading leaves the prediction as it was, and over
    sites as doubtful as stated "inside" is as often true as it says. What the doubt does not
    hold, a fault, shows in ``as_low`` and ``as_high``. Of each sample it is the flow that may
    be counted on, as in `band`.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> test = dp.field.meter_test(flow_gpm=18, sigma_gpm=1)
    >>> found = dp.field.verdict(pump, line, test, dp.Doubt(lift_ft=0.75, k_log=0.25, head_pct=5))
    >>> found.below > 0.99, found.as_low < 0.01
    (True, True)
    """
    one_case("verdict", pump, line, banks=False)
    (test,) = check_tests([test])
    if test._head is not None:
        raise InputError(
            "test: a gauge reads a head, and its flow only by the curve in question; give a flow "
            "test, and take the gauge to calibrate."
        )
    op = predicted(pump, line, test, doubt, samples, seed)
    flows = op.si.counted
    low, middle, high = percentiles(flows)
    flow, sigma = test._flow, test._sigma
    # by logarithms: a reading far from every sample still is nearest to some
    likely = softmax(-0.5 * ((flow - flows) / sigma) ** 2)
    below, above = likely[flows < low].sum(), likely[flows > high].sum()
    inside = 1 - below - above
    as_low = ndtr((flow - flows) / sigma).mean()
    found = {
        "flow": flow, "sigma": sigma, "low": low, "middle": middle, "high": high,
        "below": below, "inside": inside, "above": above, "as_low": as_low, "as_high": 1 - as_low,
        "status": commonest(op.si.code),
    }  # fmt: skip
    return Verdict(**{f"_{name}": np.asarray(value) for name, value in found.items()})


def predicted(
    pump: PumpCurve, line: DischargeLine, test: FieldTest, doubt: Doubt, samples: int, seed: int
) -> OperatingPoint:
    """Operating points of all samples at the water level of the test."""
    sampled = sample(doubt, samples, seed)
    # a level below the off level is as much more lift
    levelled = with_lift(line.si.arrays, -test._level)
    return solve_arrays(sampled.pump(pump), sampled.line(levelled))
