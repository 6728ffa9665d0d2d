"""Which of the pumps one has is this: measured flows and heads against their curves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import numpy as np
from scipy.special import logsumexp, ndtr, softmax
from scipy.stats import chi2

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import one_plain
from drainpump.results import Result, one_shape
from drainpump.solve.grid import listed
from drainpump.units import FloatArray, View
from drainpump.work_budget import spend

#: fewest and most flows along a curve, and head factors, at which a reading is weighed, so
#: that a step is a small part of its error; and how far the factors reach, in sigma
_FLOWS, _FACTORS, _SIGMAS = (120, 1500), (33, 201), 4.0
#: shapes that stand for a pump told by two figures
_SHAPES = 9
#: chance of a misfit as large below which a pump does not fit: our judgement, no source
_FITS = 0.01


class Matches(Result):
    """How well each pump's curve fits what was measured, in the order given.

    Attributes
    ----------
    best : PumpCurve or None
        The most probable of those that fit; None where none does.
    pumps : tuple of PumpCurve
    misfit : ndarray
        Chi-square of the readings and of the head factor's distance from 1.
    chance : ndarray
        Chance of a misfit as large for the true pump.
    probability : ndarray
        Of being the pump, if it is one of them, each as likely before.
    head_factor : ndarray
        On the curve's head, where it fits best.
    off_ft, off_m : ndarray
        Root mean square of the heads' distance from that curve at the measured flows.
    next_flow_gpm, next_flow_lps : float or None
        Flow at which a reading of the head would best tell the two most probable apart.
    next_gap_ft, next_gap_m : float or None
        How far their heads differ there.
    status : ndarray of str
        ``ok``, or ``no_fit`` where the chance is below 1 % (our judgement, no source).
    """

    pumps: tuple[PumpCurve, ...]
    _misfit: FloatArray
    _chance: FloatArray
    _probability: FloatArray
    _factor: FloatArray
    _off: FloatArray
    _next: tuple[float, float, float] | None  # flow, gap of heads, in sigma

    misfit, chance, probability = View("_misfit"), View("_chance"), View("_probability")
    head_factor = View("_factor")
    off_ft, off_m = View("_off"), View("_off")

    _mends: ClassVar[dict[str, str]] = {
        "no_fit": "its curve lies too far from the readings; look for another pump, or a fault"
    }

    @property
    def _status(self) -> Any:
        return np.where(self._chance >= _FITS, "ok", "no_fit")

    @property
    def best(self) -> PumpCurve | None:
        """The most probable pump of those that fit, or None."""
        fits = np.where(self._chance >= _FITS, self._probability, -1.0)
        return self.pumps[int(fits.argmax())] if fits.max() >= 0 else None

    @property
    def next_flow_gpm(self) -> float | None:
        """Flow at which a reading would tell the two most probable apart, gpm."""
        return None if self._next is None else float(u.from_si(self._next[0], "gpm"))

    @property
    def next_flow_lps(self) -> float | None:
        """The same, L/s."""
        return None if self._next is None else float(u.from_si(self._next[0], "lps"))

    @property
    def next_gap_ft(self) -> float | None:
        """How far the two differ in head there, ft."""
        return None if self._next is None else float(u.from_si(self._next[1], "ft"))

    @property
    def next_gap_m(self) -> float | None:
        """The same, m."""
        return None if self._next is None else float(self._next[1])

    def _axes(self) -> list[tuple[str, list[str]]]:
        return [("pump", [pump.name for pump in self.pumps])]

    def _why(self) -> list[str]:
        return []

    def _remarks(self) -> list[str]:
        best = self.best
        said = ["none of them fits" if best is None else f"best: {best.name}"]
        if best is not None and self._next is not None:
            flow, gap, sigmas = self._next
            right = float(ndtr(sigmas / 2))
            said.append(
                f"to tell the two most probable apart, read the head at {u.both(flow, 'gpm')}: "
                f"they differ by {u.both(gap, 'ft')}, and such a reading names the right one in "
                f"{right:.0%}"
            )
        return said


def match_curves(
    pumps: PumpCurve | Sequence[PumpCurve],
    *,
    flow_gpm: u.Quantity | None = None,
    flow_lps: u.Quantity | None = None,
    head_ft: u.Quantity | None = None,
    head_m: u.Quantity | None = None,
    sigma_gpm: u.Quantity | None = None,
    sigma_lps: u.Quantity | None = None,
    sigma_ft: u.Quantity | None = None,
    sigma_m: u.Quantity | None = None,
    head_factor_sigma_pct: float = 5.0,
) -> Matches:
    """Say which of some pumps made measured flows and heads, and how sure that is.

    Parameters
    ----------
    pumps : PumpCurve or sequence of PumpCurve
        Those it may be; one told by two figures stands for all the shapes it may have.
    flow_gpm, flow_lps, head_ft, head_m : float or array_like, shape (N,)
        Measured flow and head of each reading, >= 0. Exactly one unit of each.
    sigma_gpm, sigma_lps, sigma_ft, sigma_m : float or array_like, shape (N,)
        One-sigma of the flows and of the heads, > 0.
    head_factor_sigma_pct : float, default 5
        One-sigma of the factor on a curve's head, about 1: how far pumps of one kind
        differ, and wear; > 0, at most 50. Our judgement, no source.

    Returns
    -------
    Matches

    Raises
    ------
    UnitError, InputError
        Bad units or values; readings that do not belong together.

    Notes
    -----
    Of each pump the readings are weighed at every flow along its curve and every head factor,
    normal errors in both; the probability of a pump is that of the readings, summed over
    both, among all pumps. The misfit is the least sum of squares, in sigma; of N readings it
    is chi-square with N degrees of freedom for the true pump.

    Examples
    --------
    >>> import drainpump as dp
    >>> a = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> b = dp.PumpCurve(name="B", flow_gpm=[0, 20, 40, 65], head_ft=[35, 31.7, 21.7, 0])
    >>> m = dp.field.match_curves(
    ...     [a, b], flow_gpm=[20, 30], head_ft=[17, 12.5], sigma_gpm=1.5, sigma_ft=0.5)
    >>> m.best.name, m.probability.round(2).tolist()
    ('A', [1.0, 0.0])
    """
    many, _ = listed("pump", pumps, PumpCurve)
    for pump in many:
        if pump.si.many:
            raise InputError(f"pump {pump.name!r}: holds arrays of factors; give each as one.")
    given = (
        u.take("flow", gpm=flow_gpm, lps=flow_lps).si,
        u.take("head", ft=head_ft, m=head_m).si,
        u.take("sigma", guard="positive", gpm=sigma_gpm, lps=sigma_lps).si,
        u.take("sigma", guard="positive", ft=sigma_ft, m=sigma_m).si,
    )
    wide = one_pct(head_factor_sigma_pct)
    shape = one_shape("match_curves", *given)
    read = [np.broadcast_to(a, shape).ravel() for a in given]
    if not read[0].size or any(np.isnan(a).any() for a in read):
        raise InputError("match_curves: readings must be numbers; leave out what was not read.")
    spend("match_curves", pumps=len(many), readings=read[0].size, points_each=1000)
    found = [_weighed(pump, read, wide) for pump in many]
    evidence, misfit, factor, off = (np.array(x) for x in zip(*found, strict=True))
    return Matches(
        many,
        misfit,
        np.asarray(chi2.sf(misfit, read[0].size)),
        np.asarray(softmax(evidence)),
        factor,
        off,
        _telling(many, evidence, factor, read),
    )


def one_pct(value: Any) -> float:
    """Take the one-sigma of the head factor as a plain share."""
    mend = "give one sigma, such as 5"
    return one_plain("head_factor_sigma_pct", value, mend, high=50.0, above_zero=True) / 100


def _curves(pump: PumpCurve, read: list[FloatArray]) -> list[tuple[FloatArray, FloatArray]]:
    """Flow and head along the curves that a pump may have, SI, by steps of a part of the error."""
    flow = float((pump.si.flow[-1] - pump.si.flow[0]) * pump.si.flow_factor)
    head = float(pump.si.head.max() * pump.si.head_factor)
    steps = max(3 * flow / read[2].min(), 2 * head / read[3].min())
    count = int(np.clip(steps, *_FLOWS))
    curve, likely = pump.si.curve, pump.si.likely
    family = [curve]
    if likely is not None and likely.shape is not None:
        which = np.linspace(0, likely.count - 1, _SHAPES).round().astype(int)
        family = [pump.si.family.one(int(i)) for i in which]
    found = []
    for one in family:
        x = np.linspace(one.flow[0], one.flow[-1], count)
        found.append((x * float(pump.si.flow_factor), one.read(x) * float(pump.si.head_factor)))
    return found


def _weighed(pump: PumpCurve, read: list[FloatArray], wide: float) -> tuple[float, ...]:
    """Log of the readings' probability, least misfit, the head factor there, and how far off."""
    flow, head, sigma_q, sigma_h = read
    curves = _curves(pump, read)
    top = max(float(h.max()) for _, h in curves)
    count = int(np.clip(4 * _SIGMAS * wide * top / sigma_h.min(), *_FACTORS)) // 2 * 2 + 1
    steps = np.linspace(-_SIGMAS, _SIGMAS, count)
    factors = np.maximum(1 + wide * steps, 0.05)[:, None, None]
    logs, misfits = [], []
    for q, h in curves:
        # (factors, readings, flows)
        off = ((flow[:, None] - q) / sigma_q[:, None]) ** 2
        off = off + ((head[:, None] - factors * h) / sigma_h[:, None]) ** 2
        each = logsumexp(-0.5 * off, axis=2) + np.log(q[1] - q[0])
        logs.append(each.sum(axis=1) - 0.5 * steps**2 - np.log(count))
        misfits.append(off.min(axis=2).sum(axis=1) + steps**2)
    least = np.array(misfits)
    which, at = np.unravel_index(int(least.argmin()), least.shape)
    factor = float(factors[at, 0, 0])
    evidence = float(logsumexp(np.array(logs)) - np.log(len(logs)))
    off = head - factor * np.interp(flow, *curves[which])
    return evidence, float(least.min()), factor, float(np.sqrt(np.mean(off**2)))


def _telling(
    pumps: tuple[PumpCurve, ...], evidence: FloatArray, factor: FloatArray, read: list[FloatArray]
) -> tuple[float, float, float] | None:
    """Flow, gap of heads and that in sigma where the two most probable differ most."""
    if len(pumps) < 2:
        return None
    first, second = np.argsort(-evidence)[:2]
    ends = [p.si.flow[[0, -1]] * p.si.flow_factor for p in (pumps[first], pumps[second])]
    flow = np.linspace(max(e[0] for e in ends), min(e[1] for e in ends), 201)
    if flow[-1] <= flow[0]:
        return None
    heads = [factor[i] * pumps[i].si.head_at(flow) for i in (first, second)]
    gap = heads[0] - heads[1]
    slope = np.gradient(0.5 * (heads[0] + heads[1]), flow)
    # at a flow that is itself read with an error
    sigma = np.hypot(read[3].mean(), slope * read[2].mean())
    best = int(np.abs(gap / sigma).argmax())
    return float(flow[best]), float(abs(gap[best])), float(abs(gap[best] / sigma[best]))
