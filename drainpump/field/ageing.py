"""How the flow falls over the years at stated rates of deposit and wear, as bands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from scipy.special import ndtri

from drainpump import units as u
from drainpump.doubt.band import PERCENTILES, percentiles
from drainpump.doubt.doubt import of_curves
from drainpump.errors import InputError
from drainpump.parts.scalars import one_measure, one_plain, whole
from drainpump.results import Result
from drainpump.solve.changed_line import with_deposit
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import solve_arrays
from drainpump.states import MENDS, commonest
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    from collections.abc import Mapping

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.curve import PumpCurve


#: ages at which the band is worked out
_AGES = 41


class Outlook(Result):
    """Flow against years; arrays have the ages on axis 0.

    Attributes
    ----------
    age_year : ndarray
    p10_gpm, p50_gpm, p90_gpm : ndarray (and ``_lps``)
        Flow that may be counted on at the pump-off level: 10, 50 and 90 % of the samples
        stay at or below it.
    probability : ndarray or None
        Chance that the need is still carried at each age.
    need_gpm, need_lps : float or None
    status : ndarray of str
        ``ok`` where every sample is, else the commonest other at that age.
    """

    _age: FloatArray
    _p10: FloatArray
    _p50: FloatArray
    _p90: FloatArray
    _carries: FloatArray | None
    _need: FloatArray | None
    _status: Any

    _mends: ClassVar[dict[str, str]] = MENDS

    age_year = View("_age")
    p10_gpm, p10_lps = View("_p10"), View("_p10")
    p50_gpm, p50_lps = View("_p50"), View("_p50")
    p90_gpm, p90_lps = View("_p90"), View("_p90")
    probability = View("_carries", maybe=True)
    need_gpm, need_lps = View("_need", maybe=True), View("_need", maybe=True)

    @property
    def falls_below_year(self) -> Mapping[str, float]:
        """Age at which each percentile of the flow falls below the need.

        A mapping of "p10", "p50" and "p90": infinite where it has not by the horizon, 0
        where it never carried it.
        """
        if self._need is None:
            raise InputError("falls_below_year: no need was given; give outlook a need_gpm.")
        ages = np.asarray(self.age_year)
        return {p: _first_below(getattr(self, f"_{p}"), ages, self._need) for p in PERCENTILES}


def outlook(
    pump: PumpCurve,
    line: DischargeLine,
    *,
    horizon_year: u.Quantity,
    deposit_in_per_year: u.Quantity | None = None,
    deposit_mm_per_year: u.Quantity | None = None,
    wear_per_year: float = 0.0,
    rate_log: float = 0.5,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
    samples: int = 256,
    seed: int = 0,
) -> Outlook:
    """Return the flow against years at the user's own rates of deposit and wear.

    Parameters
    ----------
    pump, line : PumpCurve and DischargeLine
        As they are now, scalars only.
    horizon_year : float
        Years to look ahead, > 0.
    deposit_in_per_year, deposit_mm_per_year : float, default 0
        Middle rate at which a deposit thickens all round the bore, >= 0.
    wear_per_year : float, default 0
        Middle share of its head that the pump loses each year, 0 <= share < 0.5.
    rate_log : float, default 0.5
        One-sigma of the natural logarithm of each rate, 0 to 2: 0.5 is a factor of 1.6
        either way. Our own judgement, no source.
    need_gpm, need_lps : float, optional
        Flow needed.
    samples, seed : int
        Samples of the two rates, 2 or more, and their seed.

    Returns
    -------
    Outlook

    Raises
    ------
    UnitError, InputError
        Bad units or values, arrays, no rate at all.

    Notes
    -----
    Each sample keeps its rates: a deposit ``rate · age`` thick, as rough as it is thick (up
    to a twentieth of the bore that is left), and a head factor ``(1 - wear) ** age``. No
    published rate fits every water and pump, so none is given here. The two rates are
    independent, a scrambled Sobol sequence; the doubt of today's flow is not in the band, but
    for what is not known of the curve itself, such as the shape of one told by two figures.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> ahead = dp.field.outlook(
    ...     pump, line, horizon_year=20, deposit_in_per_year=0.001, wear_per_year=0.01,
    ...     need_gpm=20)
    >>> years = ahead.falls_below_year
    >>> years["p10"] < years["p50"] < years["p90"]
    True
    """
    one_case("outlook", pump, line, banks=False)
    said = u.Typed(locals())
    horizon = _one("horizon", said.take("horizon", "positive"))
    deposit = _one("deposit", said.take("deposit", "not_negative", default=("in_per_year", 0.0)))
    mend = "give the share of head lost a year"
    wear = one_plain("wear_per_year", wear_per_year, mend, high=0.5)
    spread = one_plain("rate_log", rate_log, "give one sigma of the rate's logarithm", high=2.0)
    if deposit == 0 and wear == 0:
        raise InputError(
            "outlook: no rate given; give deposit_in_per_year (or _mm_per_year), wear_per_year, "
            "or both."
        )
    need = said.maybe("need", "flow")
    samples = whole("samples", samples, "give another", low=2, high=1 << 16)
    seed = whole("seed", seed, "give another", low=0)
    from scipy.stats import qmc  # slow to import

    sampled = qmc.Sobol(2, rng=seed).random_base2(int(np.ceil(np.log2(samples))))[:samples]
    factor = np.exp(spread * np.clip(ndtri(sampled), -4, 4))  # (samples, 2)
    age = np.linspace(0.0, horizon, _AGES)[:, None]
    years = age / float(u.to_si(1.0, "year"))
    left = (1.0 - np.minimum(wear * factor[:, 1], 0.9)) ** years
    ones = np.ones(samples)
    # what is not known of the curve itself is sampled, of two figures the shape
    own = pump.si.sampled(ones, ones, **of_curves(samples, seed))
    worn = own.si.scaled(np.maximum(left, 1e-3))
    op = solve_arrays(worn, with_deposit(line.si.arrays, deposit * factor[:, 0] * age))
    flow = op.si.counted
    p10, p50, p90 = percentiles(flow)
    carries = None if need is None else (flow >= _one("need", need)).mean(axis=1)
    wanted = None if need is None else need.si
    return Outlook(age[:, 0], p10, p50, p90, carries, wanted, commonest(op.si.code))


def _one(name: str, measure: u.Measure) -> float:
    return float(one_measure(name, measure, "ask for one at a time").si)


def _first_below(flow: FloatArray, age: FloatArray, need: FloatArray) -> float:
    """Age at which a falling flow crosses the need, linear between the ages worked out."""
    below = np.flatnonzero(flow < need)
    if below.size == 0:
        return float("inf")
    i = int(below[0])
    if i == 0:
        return 0.0
    share = (flow[i - 1] - need) / (flow[i - 1] - flow[i])
    return float(age[i - 1] + share * (age[i] - age[i - 1]))
