"""What each single cause would have to be to explain a measured flow, and what to test next."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from scipy.special import erf, softmax

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.field.faults import TABLE, Priors, Site, likelihood, outcome, size_needed
from drainpump.field.next_reading import NextTest, candidates
from drainpump.parts.scalars import one_measure
from drainpump.results import Result, check_units, html_lines, html_table
from drainpump.solve.one_case import one_case
from drainpump.states import MENDS, NAMES
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.curve import PumpCurve

__all__ = ["Diagnosis", "diagnose"]


@dataclass(frozen=True, eq=False, repr=False)
class Diagnosis(Result):
    """Single causes behind a measured flow; arrays have the causes on axis 0.

    Attributes
    ----------
    causes : tuple of str
    sizes : ndarray
        Size each cause needs, SI; NaN where no size in range gives the measured flow.
        `to_frame` answers in the unit of each.
    plausibility : ndarray
        Chance of each cause against the others and against `chance`, under the priors.
    chance : float
        The same for no cause at all: the reading's error, and the prediction's.
    flow_gpm, flow_lps : ndarray
        Flow at the outlet recomputed by the engine with each cause put in.
    pit_gpm, pit_lps : ndarray
        Flow the pit loses with it.
    head_ft, head_m : ndarray
        Head above the water that a gauge at the pump would show with it.
    expected_gpm, measured_gpm, sigma_gpm (and ``_lps``) : float
    next_test : NextTest
        The one test that best tells the plausible causes apart; ``tests`` holds all,
        best first.
    says : tuple of str
        What each cause means.
    status : str or ndarray of str
        ``ok``, ``cannot_explain``, or that of the operating point with it, one per cause:
        flows and heads are then those to be reckoned with.
    """

    causes: tuple[str, ...]
    sizes: FloatArray
    _plausibility: FloatArray
    chance: float
    _outlet: FloatArray
    _pit: FloatArray
    _head: FloatArray
    _expected: FloatArray
    _measured: FloatArray
    _sigma: FloatArray
    _code: Any  # of the operating point with each cause
    tests: tuple[NextTest, ...]
    says: tuple[str, ...]

    plausibility = View("_plausibility")
    flow_gpm, flow_lps = View("_outlet"), View("_outlet")
    pit_gpm, pit_lps = View("_pit"), View("_pit")
    head_ft, head_m = View("_head"), View("_head")
    expected_gpm, expected_lps = View("_expected"), View("_expected")
    measured_gpm, measured_lps = View("_measured"), View("_measured")
    sigma_gpm, sigma_lps = View("_sigma"), View("_sigma")

    _mends: ClassVar[dict[str, str]] = {
        **MENDS,
        "cannot_explain": "no size of this cause alone, within its range, gives this flow",
    }

    @property
    def _status(self) -> Any:
        return np.where(np.isnan(self.sizes), "cannot_explain", NAMES[self._code])

    @property
    def next_test(self) -> NextTest:
        """The test that best tells the plausible causes apart."""
        return self.tests[0]

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per cause: cause, size, unit, plausibility, flow, pit, head, says.

        Parameters
        ----------
        units : {"us", "metric"}
            In which system sizes and flows are given; ``unit`` names the size's.

        Returns
        -------
        pandas.DataFrame
            Most plausible cause first.
        """
        import pandas as pd

        which = ("us", "metric").index(check_units(units))
        flow, head = (("gpm", "ft"), ("lps", "m"))[which]
        unit = [cause.units[which] for cause in TABLE]
        size = [float(u.from_si(x, n)) if n else x for x, n in zip(self.sizes, unit, strict=True)]
        frame = pd.DataFrame(
            {
                "cause": self.causes,
                "size": size,
                "unit": unit,
                "plausibility": self._plausibility,
                f"flow_{flow}": getattr(self, f"flow_{flow}"),
                f"pit_{flow}": getattr(self, f"pit_{flow}"),
                f"head_{head}": getattr(self, f"head_{head}"),
                "status": self._status,
                "says": self.says,
            }
        )
        return frame.sort_values("plausibility", ascending=False, kind="stable", ignore_index=True)

    def __repr__(self) -> str:
        lines = [
            f"Diagnosis: measured {u.both(self._measured, 'gpm')} ± "
            f"{u.text(self._sigma, 'gpm')}, expected {u.both(self._expected, 'gpm')}"
        ]
        order = np.argsort(-self._plausibility, kind="stable")
        for i in order:
            unit = TABLE[i].units[0]
            size = u.both(self.sizes[i], unit) if unit else u.number(float(self.sizes[i]))
            if np.isnan(self.sizes[i]):
                size = "cannot explain it"
            lines.append(f"  {self._plausibility[i]:4.0%}  {self.causes[i]}: {size}")
        lines.append(f"  {self.chance:4.0%}  nothing wrong: reading and prediction errors")
        lines.append(f"  next: {self.next_test}")
        return "\n".join(lines)

    def _repr_html_(self) -> str:
        return html_table(self.to_frame()) + html_lines(str(self.next_test))


def diagnose(
    pump: PumpCurve,
    line: DischargeLine,
    *,
    measured_gpm: u.Quantity | None = None,
    measured_lps: u.Quantity | None = None,
    sigma_gpm: u.Quantity | None = None,
    sigma_lps: u.Quantity | None = None,
    expected_error_gpm: u.Quantity | None = None,
    expected_error_lps: u.Quantity | None = None,
    priors: Priors | None = None,
) -> Diagnosis:
    """Say what each single cause would have to be to explain a flow at the outlet.

    Parameters
    ----------
    pump, line : PumpCurve and DischargeLine
        As built, scalars only; the flow is taken at the pump-off level.
    measured_gpm, measured_lps : float
        Flow measured at the outlet, > 0. Exactly one.
    sigma_gpm, sigma_lps : float
        Its one-sigma, > 0. Exactly one.
    expected_error_gpm, expected_error_lps : float, default 0
        One-sigma of the predicted flow itself: about (P90 - P10) / 2.56 of `band`.
    priors : Priors, optional
        How large and how common each cause usually is.

    Returns
    -------
    Diagnosis

    Raises
    ------
    UnitError, InputError
        Bad units or values, arrays, a site without an operating point as built.

    Notes
    -----
    Size: the root of ``H_pump(Q) - H_line(Q)`` at the measured Q. Plausibility: each
    cause's weight times the mean over its usual sizes of the normal density of the
    measured flow about the recomputed one, made to sum to 1 together with no cause at
    all (weight 1). Two causes at once are not looked at.

    A drawdown in the pit sees what leaves the pit: a leak out of it is counted, a leak
    back into it is not, and cannot be told from a worn pump by bucket or drawdown.

    Examples
    --------
    >>> import numpy as np
    >>> import drainpump as dp
    >>> q = np.linspace(0, 50, 101)
    >>> pump = dp.PumpCurve(name="A", flow_gpm=q, head_ft=20 * (1 - (q / 50) ** 2))
    >>> line = dp.straight_line(
    ...     pipe=dp.Pipe(bore_in=1.59), length_ft=150, lift_ft=6, k=6.3,
    ...     outlet=dp.FreeOutlet(lid_ft=0.25))
    >>> found = dp.field.diagnose(pump, line, measured_gpm=18, sigma_gpm=1)
    >>> frame = found.to_frame().set_index("cause")
    >>> frame.loc[["head factor", "extra K", "extra lift"], "size"].round(2).tolist()
    [0.61, 51.25, 6.74]
    """
    op = one_case("diagnose", pump, line, banks=False)
    if op.status != "ok":
        raise InputError(
            f"diagnose: as built the site is {op.status}, with no flow to compare; "
            "check pump and line first."
        )
    measured = u.take("measured", guard="flow", gpm=measured_gpm, lps=measured_lps)
    sigma = u.take("sigma", guard="positive", gpm=sigma_gpm, lps=sigma_lps)
    own = u.take(
        "expected_error", guard="not_negative", default=("gpm", 0.0),
        gpm=expected_error_gpm, lps=expected_error_lps,
    )  # fmt: skip
    one_measure("sigma", sigma)
    one_measure("expected_error", own)
    mend = "a site that gives nothing needs its power, float and check valve looked at"
    one_measure("measured", measured, mend, above_zero=True)
    if not np.isfinite(pump.si.head_at(measured.si)):
        raise InputError(
            f"measured {measured}: lies outside the points of pump {pump.name!r}, so its head "
            "there is not known; check the reading and the curve."
        )
    site = Site(pump, line, float(measured.si), float(op._flow), priors or Priors())
    return _diagnosed(site, float(sigma.si), float(own.si))


def _diagnosed(site: Site, sigma: float, own: float) -> Diagnosis:
    sizes = np.array([size_needed(site, cause) for cause in TABLE])
    both = float(np.hypot(sigma, own))
    logs = [-0.5 * ((site.flow - site.expected) / both) ** 2]
    rows = []
    for cause, size in zip(TABLE, sizes, strict=True):
        rows.append(outcome(site, cause, np.asarray(cause.nothing if np.isnan(size) else size)))
        weight = site.priors.weight(cause.name)
        chance = likelihood(site, cause, float(size), both)
        logs.append(np.log(weight) + chance if weight > 0 else -np.inf)
    none, *share = softmax(logs)
    bad = np.isnan(sizes)
    outlet, pit, head, shutoff = (
        np.where(bad, np.nan, [float(getattr(row, name)) for row in rows])
        for name in ("outlet", "pit", "head", "shutoff")
    )
    found = Diagnosis(
        tuple(c.name for c in TABLE), sizes, np.array(share), float(none),
        outlet, pit, head, np.asarray(site.expected), np.asarray(site.flow), np.asarray(sigma),
        np.array([int(row.code) for row in rows]), (), tuple(c.says for c in TABLE),
    )  # fmt: skip
    return replace(found, tests=_ranked(site, found, pit, head, shutoff))


def _ranked(
    site: Site, found: Diagnosis, pit: FloatArray, head: FloatArray, shutoff: FloatArray
) -> tuple[NextTest, ...]:
    """Order the tests by the chance that they tell two plausible causes apart."""
    likely = found._plausibility * np.isfinite(found.sizes)
    pairs = np.outer(likely, likely)
    np.fill_diagonal(pairs, 0.0)
    made = candidates(site, found.sizes, pit, head, shutoff)
    scored = []
    for test in made:
        apart = np.abs(test._predicted[:, None] - test._predicted[None, :])
        told = np.nan_to_num(erf(apart / test._sigma / (2 * np.sqrt(2))))
        power = float((pairs * told).sum() / pairs.sum()) if pairs.sum() > 0 else 0.0
        scored.append(replace(test, power=power))
    return tuple(sorted(scored, key=lambda t: -t.power))
