"""What each single fault would have to be to explain a measured flow, and what to test next."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from scipy.special import erf, softmax

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.field.fault_outcomes import Outcome, likelihood, outcomes, size_needed
from drainpump.field.faults import Fault, Plant, faults_at
from drainpump.field.next_reading import NextTest, candidates
from drainpump.field.priors import LEFT_OVER, Priors
from drainpump.parts.scalars import one_measure, one_plain
from drainpump.results import (
    Frame,
    Result,
    check_units,
    frame_of,
    html_lines,
    html_notes,
    html_table,
)
from drainpump.solve.one_case import one_case
from drainpump.states import MENDS, NAMES
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.curve import PumpCurve


#: plausibility from which a fault is said in a line of its own
_SHOWN = 0.01
_NO_FIT = "no fault fits: check the bucket, the curve, the line"


class Diagnosis(Result):
    """Single faults behind a measured flow; arrays have the faults on axis 0.

    Attributes
    ----------
    faults : tuple of str
        Those whose part is there.
    sizes : ndarray
        Size each fault needs, SI; NaN where no size in range gives the measured flow.
        `to_frame` answers in the unit of each.
    plausibility : ndarray
        Chance of each fault under the priors; they sum to 1 with the next two.
    chance : float
        The same for no fault at all: the reading's error, and the prediction's.
    unexplained : float
        The same for none of these. Where it is above a half no fault fits, and the bucket,
        the curve and the line want checking first.
    usual : tuple of str
        How large each fault usually is: one-sigma, or as it says.
    weight : ndarray
        How common each is against nothing wrong, before the reading.
    flow_gpm, flow_lps : ndarray
        Flow at the outlet recomputed by the engine with each fault put in.
    pit_gpm, pit_lps : ndarray
        Flow the pit loses with it.
    head_ft, head_m : ndarray
        Head above the water that a gauge at the pump would show with it.
    expected_gpm, measured_gpm, sigma_gpm (and ``_lps``) : float
    next_test : NextTest
        The one test that best tells the plausible faults apart; ``tests`` holds all,
        best first.
    says : tuple of str
        What each fault means.
    status : str or ndarray of str
        ``ok``, ``cannot_explain``, or that of the operating point with it, one per fault:
        flows and heads are then those to be reckoned with.
    """

    faults: tuple[str, ...]
    sizes: FloatArray
    _plausibility: FloatArray
    chance: float
    unexplained: float
    usual: tuple[str, ...]
    _weight: FloatArray
    _units: tuple[tuple[str, str], ...]
    _outlet: FloatArray
    _pit: FloatArray
    _head: FloatArray
    _expected: FloatArray
    _measured: FloatArray
    _sigma: FloatArray
    _code: Any  # of the operating point with each fault
    tests: tuple[NextTest, ...]
    says: tuple[str, ...]

    plausibility, weight = View("_plausibility"), View("_weight")
    flow_gpm, flow_lps = View("_outlet"), View("_outlet")
    pit_gpm, pit_lps = View("_pit"), View("_pit")
    head_ft, head_m = View("_head"), View("_head")
    expected_gpm, expected_lps = View("_expected"), View("_expected")
    measured_gpm, measured_lps = View("_measured"), View("_measured")
    sigma_gpm, sigma_lps = View("_sigma"), View("_sigma")

    _mends: ClassVar[dict[str, str]] = {
        **MENDS,
        "cannot_explain": "no size of this fault alone, within its range, gives this flow",
    }

    @property
    def _status(self) -> Any:
        return np.where(np.isnan(self.sizes), "cannot_explain", NAMES[self._code])

    @property
    def next_test(self) -> NextTest:
        """The test that best tells the plausible faults apart."""
        return self.tests[0]

    def to_frame(self, units: u.System = "us") -> Frame:
        """Return one row per fault.

        Its columns: fault, size, unit, usual, weight, plausibility, flow, pit, head, status,
        says.

        Parameters
        ----------
        units : {"us", "metric"}
            In which system sizes and flows are given; ``unit`` names the size's.

        Returns
        -------
        pandas.DataFrame
            Most plausible fault first.
        """
        which = ("us", "metric").index(check_units(units))
        flow, head = (("gpm", "ft"), ("lps", "m"))[which]
        unit = [both[which] for both in self._units]
        size = [float(u.from_si(x, n)) if n else x for x, n in zip(self.sizes, unit, strict=True)]
        frame = frame_of(
            {
                "fault": self.faults,
                "size": size,
                "unit": unit,
                "usual": self.usual,
                "weight": self._weight,
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
        if self.unexplained > 0.5:
            lines.append(f"  {_NO_FIT}")
        order = np.argsort(-self._plausibility, kind="stable")
        for i in order[self._plausibility[order] >= _SHOWN]:
            said = f"{self.faults[i]}: {self._size_said(i)} (usual: {self.usual[i]})"
            lines.append(f"  {self._plausibility[i]:4.0%}  {said}")
        rest = [self.faults[i] for i in order if self._plausibility[i] < _SHOWN]
        if rest:
            lines.append(f"  under 1% each: {', '.join(rest)}")
        lines.append(f"  {self.chance:4.0%}  nothing wrong: reading and prediction errors")
        lines.append(f"  {self.unexplained:4.0%}  {LEFT_OVER}")
        if self.next_test.power > 0:
            lines.append(f"  next: {self.next_test}")
        return "\n".join([*lines, *self._noted()])

    def _size_said(self, i: int) -> str:
        size, unit = float(self.sizes[i]), self._units[i][0]
        if np.isfinite(size):
            return u.both(size, unit) if unit else u.number(size)
        near = abs(self._measured - self._expected) < 2 * self._sigma
        return "too small to be seen" if near else "no size gives this flow"

    def _repr_html_(self) -> str:
        said = html_lines(str(self.next_test)) + html_notes(self._caveats)
        return html_table(self.to_frame()) + said


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
    age_year: float | None = None,
    priors: Priors | None = None,
) -> Diagnosis:
    """Say what each single fault would have to be to explain a flow at the outlet.

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
    age_year : float, optional
        Age of the line, 0 or more. A deposit is as thick as its years; in PVC whose age is
        not given none is blamed.
    priors : Priors, optional
        How large and how common each fault usually is.

    Returns
    -------
    Diagnosis

    Raises
    ------
    UnitError, InputError
        Bad units or values, arrays, a site without an operating point as built.

    Notes
    -----
    Size: the root of ``H_pump(Q) - H_line(Q)`` at the measured Q. Plausibility, by Bayes'
    rule: each fault's weight times the mean over its usual sizes of the normal density of
    the measured flow about the recomputed one, made to sum to 1 together with no fault at
    all (weight 1) and with none of these (any flow the curve has alike). A fault that no
    size of could give the reading may still be there, too small to be seen. Two faults at
    once are not looked at.

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
    >>> frame = found.to_frame().set_index("fault")
    >>> frame.loc[["head factor", "extra K", "leak at the pump"], "size"].round(2).tolist()
    [0.61, 51.25, 16.15]
    """
    op = one_case("diagnose", pump, line, banks=False)
    if op.status != "ok":
        raise InputError(
            f"diagnose: as built the site is {op.status}, with no flow to compare; "
            "check pump and line first."
        )
    said = u.Typed(locals())
    measured = said.take("measured", "flow")
    sigma = one_measure("sigma", said.take("sigma", "positive"))
    own = said.take("expected_error", "not_negative", default=("gpm", 0.0))
    one_measure("expected_error", own)
    mend = "a site that gives nothing needs its power, float and check valve looked at"
    one_measure("measured", measured, mend, above_zero=True)
    if not np.isfinite(pump.si.head_at(measured.si)):
        raise InputError(
            f"measured {measured}: lies outside the points of pump {pump.name!r}, so its head "
            "there is not known; check the reading and the curve."
        )
    years = None if age_year is None else one_plain("age_year", age_year, "give its years")
    plant = Plant(pump, line, float(measured.si), float(op.si.flow), priors or Priors(), years)
    return _diagnosed(plant, float(sigma.si), float(own.si))


def _diagnosed(plant: Plant, sigma: float, own: float) -> Diagnosis:
    faults = faults_at(plant)
    sizes = np.array([size_needed(plant, fault) for fault in faults])
    bad = np.isnan(sizes)
    shows = [
        outcomes(plant, fault, fault.nothing if np.isnan(size) else size)
        for fault, size in zip(faults, sizes, strict=True)
    ]
    rows = [row for row, _ in shows]
    shown = {name: np.where(bad, np.nan, [float(getattr(row, name)) for row in rows])
             for name in ("outlet", "pit", "head", "shutoff")}  # fmt: skip
    *share, none, left = _plausibilities(
        plant, faults, [flow for _, flow in shows], float(np.hypot(sigma, own))
    )
    tests = candidates(plant, faults, sizes, Outcome(**shown, code=None))
    return Diagnosis(
        faults=tuple(c.name for c in faults),
        sizes=sizes,
        _plausibility=np.array(share),
        chance=float(none),
        unexplained=float(left),
        usual=tuple(c.usual(plant) for c in faults),
        _weight=np.array([plant.priors.weight(c.name) for c in faults]),
        _units=tuple(c.units for c in faults),
        _outlet=shown["outlet"],
        _pit=shown["pit"],
        _head=shown["head"],
        _expected=np.asarray(plant.expected),
        _measured=np.asarray(plant.flow),
        _sigma=np.asarray(sigma),
        _code=np.array([int(row.code) for row in rows]),
        tests=_ranked(tests, np.array(share) * ~bad),
        says=tuple(c.says for c in faults),
    )


def _plausibilities(
    plant: Plant, faults: tuple[Fault, ...], flows: list[FloatArray], sigma: float
) -> FloatArray:
    """Chance of each fault, from its usual flows, of none at all, and of none of these."""
    weights = [plant.priors.weight(name) for name in (*(c.name for c in faults), LEFT_OVER)]
    logs = [likelihood(plant, flow, sigma) for flow in flows]
    logs.append(-0.5 * ((plant.flow - plant.expected) / sigma) ** 2)
    # none of these: every flow up to the curve's last point is as likely as another
    logs.append(float(np.log(sigma * np.sqrt(2 * np.pi) / plant.last_flow)))
    with np.errstate(divide="ignore"):
        common = np.log([*weights[:-1], 1.0, weights[-1]])
    return np.asarray(softmax(common + logs))


def _ranked(made: list[NextTest], likely: FloatArray) -> tuple[NextTest, ...]:
    """Order the tests by the chance that they tell two plausible faults apart."""
    pairs = np.outer(likely, likely)
    np.fill_diagonal(pairs, 0.0)
    scored = []
    for test in made:
        apart = np.abs(test._predicted[:, None] - test._predicted[None, :])
        told = np.nan_to_num(erf(apart / test._sigma / (2 * np.sqrt(2))))
        power = float((pairs * told).sum() / pairs.sum()) if pairs.sum() > 0 else 0.0
        scored.append(replace(test, power=power))
    return tuple(sorted(scored, key=lambda t: -t.power))
