"""Fitting what cannot be measured directly to field tests, with standard errors.

Generalised least squares (scipy): residuals are L⁻¹ (predicted - measured), L Lᵀ being the
covariance of the readings' errors, and the covariance of the fitted values is (JᵀJ)⁻¹ at the
solution, J being the residuals' Jacobian: Bard, *Nonlinear Parameter Estimation* (1974),
ch. 7 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import numpy as np
from scipy.linalg import solve_triangular
from scipy.optimize import least_squares

from drainpump.errors import InputError, wrong
from drainpump.field.reading import FieldTest, check_tests
from drainpump.foreign import is_among, nearest
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics.system import LineArrays
from drainpump.results import Frame, Result, frame_of, plain
from drainpump.solve.changed_line import refitted, with_extra_k, with_friction, with_lift
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import solve_arrays
from drainpump.states import MENDS, NAMES, OK, first_failed
from drainpump.units import FloatArray, System
from drainpump.work_budget import spend

#: how far each fitted number might plausibly be off before any test, in the number's own
#: scale (head factor, K, natural logarithm of C and of roughness): our own judgement, no
#: source. A set of tests that moves by less than its error over this range tells nothing.
_RANGE = {"head_factor": 0.3, "k": 20.0, "hazen_williams_c": 0.3, "roughness": 3.0}
_LOW = {"head_factor": 0.05, "k": -np.inf, "hazen_williams_c": np.log(10), "roughness": -25.0}
_HIGH = {"head_factor": 1.5, "k": 1e5, "hazen_williams_c": np.log(200), "roughness": -3.0}
#: readings by kind of test whose error is the barrel's, the ruler's, the pit's or the tape's,
#: and so the same in every test of that kind
_SHARED = {
    "bucket": ("volume",),
    "drawdown": ("levels", "diameter"),
    "cycle log": ("volume",),
    "gauge": ("height",),
    "gauge, valve shut": ("height",),
}
#: error of its own, as a share of its variance, that a test keeps beside what it shares, so
#: that tests which share all their error can still be weighed
_OWN = 1e-6
#: step of the Jacobian, as a share of the range
_STEP = 1e-4
#: distance of the first guess from both ends, as a share of the range
_INSIDE = 0.05


class Calibration(Result):
    """What was fitted to field tests, and how surely.

    Attributes
    ----------
    fitted : tuple of str
        Names of the fitted numbers.
    values, standard_errors : dict of str to float
        By name: ``head_factor`` (what is left of the pump's head), ``k`` (further loss on
        the first run), ``hazen_williams_c`` or ``roughness_ft`` and ``roughness_m`` (one for
        all runs). NaN where the tests cannot tell.
    correlation : ndarray, shape (n, n)
        Of the fitted numbers.
    misfit : float
        Chance that tests with these errors fit as badly or worse; NaN without more tests
        than numbers. A small one says that something else is wrong.
    alternatives : tuple of Calibration
        Where the tests cannot tell the numbers apart: each number fitted alone.
    pump, line : PumpCurve and DischargeLine
        With the fitted numbers put in; as given where the tests cannot tell.
    says : str
        The outcome in a sentence.
    status : str
        ``ok``; ``cannot_tell``; ``at_limit``: a number ran to the end of its range; or
        that of the first test's flow which is only to be reckoned with.
    """

    fitted: tuple[str, ...]
    values: dict[str, float]
    standard_errors: dict[str, float]
    correlation: FloatArray
    misfit: float
    alternatives: tuple[Calibration, ...]
    pump: PumpCurve
    line: DischargeLine
    says: str
    _code: str

    _mends: ClassVar[dict[str, str]] = {
        **MENDS,
        "cannot_tell": "one test cannot tell these apart; add a gauge at the pump beside a bucket",
        "at_limit": "no value in range explains the tests; fit another number",
    }

    @property
    def _status(self) -> str:
        return self._code

    def to_frame(self, units: System = "us") -> Frame:
        """Return one row per fitted number: parameter, value, standard_error, status."""
        from drainpump.results import check_units

        drop = "roughness_m" if check_units(units) == "us" else "roughness_ft"
        names = [n for n in self.values if n != drop]
        return frame_of(
            {
                "parameter": names,
                "value": [self.values[n] for n in names],
                "standard_error": [self.standard_errors[n] for n in names],
                "status": self._code,
            }
        )

    def to_dict(self) -> dict[str, Any]:
        """Return plain values; NaN becomes None."""
        found = {
            "values": self.values,
            "standard_errors": self.standard_errors,
            "misfit": self.misfit,
            "says": self.says,
            "status": self._code,
        }
        return dict(plain(found))

    def __repr__(self) -> str:
        return "\n".join([f"Calibration ({self._code})", f"  {self.says}", *self._noted()])


def calibrate(
    pump: PumpCurve,
    line: DischargeLine,
    tests: FieldTest | Sequence[FieldTest],
    *,
    fit: str | Sequence[str] | None = None,
) -> Calibration:
    """Fit wear, friction or an obstruction to one or more field tests.

    Parameters
    ----------
    pump, line : PumpCurve and DischargeLine
        As built, scalars only.
    tests : FieldTest or sequence of FieldTest
        A gauge counts by its head, every other test by its flow, each at its own water
        level.
    fit : str or sequence of str, optional
        Any of ``head_factor``, ``k``, and ``hazen_williams_c`` or ``roughness`` by the
        line's friction. By default the head factor and the friction.

    Returns
    -------
    Calibration
        Its status is ``cannot_tell`` where some mix of the numbers, over its plausible
        range, moves the tests by less than their error.

    Raises
    ------
    InputError
        Arrays, an unknown name, a test that is no FieldTest.

    Notes
    -----
    Minimises ``rᵀ V⁻¹ r``, r being predicted less measured and V the covariance of the
    errors. Tests of one kind share the error of their barrel, of their ruler and pit, or of
    the gauge's height, which no repetition takes away; stopwatch and gauge err anew in each.
    C and roughness are fitted by their logarithm. Standard errors hold while the model is
    near to linear over them.

    References
    ----------
    Y. Bard, *Nonlinear Parameter Estimation*, 1974, ch. 7 (from memory).

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> test = dp.field.bucket_test(volume_gal=5, fill_s=16.7)
    >>> print(dp.field.calibrate(pump, line, test).status)
    cannot_tell
    >>> found = dp.field.calibrate(pump, line, test, fit="head_factor")
    >>> round(found.values["head_factor"], 2), round(found.standard_errors["head_factor"], 2)
    (0.59, 0.02)
    """
    one_case("calibrate", pump, line, banks=False)
    listed = check_tests(tests)
    # each shares its error with every other of its kind
    spend("calibrate", tests=len(listed), points_each=max(len(listed), 1000))
    wall = "roughness" if line.friction == "darcy" else "hazen_williams_c"
    names = ("head_factor", wall) if fit is None else _names(fit, wall)
    model = _Model(pump, line, listed, names)
    start = np.array([model.start(n) for n in names])
    low, high = (np.array([ends[n] for n in names]) for ends in (_LOW, _HIGH))
    if "k" in names:
        low[names.index("k")] = -float(line.si.arrays.k[0])
    scale = np.array([_RANGE[n] for n in names])
    if model.blind(start, scale):
        others = dict.fromkeys((*names, "head_factor", wall, "k"))
        alone = () if len(names) == 1 else tuple(
            calibrate(pump, line, listed, fit=n) for n in others
        )  # fmt: skip
        return _untold(model, names, alone)
    # a start close to an end would be held there
    inside = _INSIDE * scale
    found = least_squares(
        model.residuals, np.clip(start, low + inside, high - inside), model.jacobian,
        bounds=(low, high), x_scale=scale, xtol=1e-6, ftol=1e-8, gtol=None,
    )  # fmt: skip
    if model.blind(found.x, scale):
        return _untold(model, names, ())
    return _told(model, names, found)


class _Model:
    """Residuals of the tests, and their Jacobian, in one array call of the solver."""

    def __init__(
        self, pump: PumpCurve, line: DischargeLine, tests: list[FieldTest], names: tuple[str, ...]
    ) -> None:
        self.pump, self.line, self.names = pump, line, names
        # a gauge counts by its head
        self.gauge = np.array([t._head is not None for t in tests])
        self.shut = np.array([t.kind == "gauge, valve shut" for t in tests])
        if self.shut.any() and np.isnan(solve_arrays(pump, line.si.arrays).si.shutoff):
            raise InputError(
                f"tests[{int(self.shut.argmax())}]: a gauge with the valve shut reads the shutoff "
                f"head, and {pump.name!r} has no point at no flow; give the pump shutoff_ft."
            )
        pairs = [
            (t._flow, t._sigma) if t._head is None else (t._head, t._head_sigma) for t in tests
        ]
        self.seen, sigma = np.array(pairs, dtype=np.float64).T
        self.levelled = with_lift(line.si.arrays, np.array([[-float(t._level)] for t in tests]))
        as_built = self.made(pump, self.levelled).reshape(len(tests))
        self.spread = np.linalg.cholesky(covariance(tests, self.seen, sigma, as_built))
        self._last: tuple[FloatArray, FloatArray, FloatArray] | None = None

    def start(self, name: str) -> float:
        first = self.line.si.arrays
        return {
            "head_factor": 1.0,
            "k": 0.0,
            "hazen_williams_c": float(np.log(first.hazen_c.flat[-1])),
            "roughness": float(np.log(np.maximum(first.roughness.flat[-1], 1e-7))),
        }[name]

    def altered(self, line: LineArrays, theta: FloatArray) -> tuple[PumpCurve, LineArrays]:
        """Pump and line with the numbers (n, ...) put in."""
        pump = self.pump
        for name, value in zip(self.names, theta, strict=True):
            if name == "head_factor":
                pump = pump.si.scaled(value)
            elif name == "k":
                line = with_extra_k(line, value)
            else:
                line = with_friction(line, np.exp(value))
        return pump, line

    def residuals(self, theta: FloatArray) -> FloatArray:
        return self._both(theta)[0]

    def jacobian(self, theta: FloatArray) -> FloatArray:
        return self._both(theta)[1]

    def blind(self, theta: FloatArray, scale: FloatArray) -> bool:
        """True where a mix of the numbers moves the tests by less than their error."""
        jacobian = self.jacobian(theta) * scale
        if len(self.seen) < len(scale):
            return True
        return bool(np.linalg.svd(jacobian, compute_uv=False)[-1] < 1.0)

    def _both(self, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        if self._last is not None and np.array_equal(self._last[0], theta):
            return self._last[1:]
        n = len(theta)
        steps = _STEP * np.array([_RANGE[name] for name in self.names])
        # column 0 is theta itself, then one step forward and one back in each number
        grid = theta[:, None] + np.concatenate(
            [np.zeros((n, 1)), np.diag(steps), -np.diag(steps)], axis=1
        )
        made = self.made(*self.altered(self.levelled, grid))
        off = np.broadcast_to(made, (len(self.seen), 2 * n + 1)) - self.seen[:, None]
        off = solve_triangular(self.spread, off, lower=True)
        slope = (off[:, 1 : n + 1] - off[:, n + 1 :]) / (2 * steps)
        self._last = (theta.copy(), off[:, 0], slope)
        return self._last[1:]

    def made(self, pump: PumpCurve, line: LineArrays) -> FloatArray:
        """What the tests would read, (tests, ...)."""
        op = solve_arrays(pump, line)
        # with the valve shut nothing rests on the flow at all
        self.codes = np.where(self.shut, OK, op.si.code[..., 0])
        # a pump that was seen to run: what is reckoned with, and the head with it
        op = op.at_flow(op.si.reckoned)
        head = np.where(self.shut[:, None], op.si.shutoff, op.si.head)
        return np.asarray(np.where(self.gauge[:, None], head, op.si.flow))


def covariance(
    tests: Sequence[FieldTest], seen: FloatArray, sigma: FloatArray, as_built: FloatArray
) -> FloatArray:
    """Covariance (tests, tests) of the readings' errors, with what tests of one kind share.

    A shared error is taken as a share of what the site should give and not of each reading,
    or a barrel that filled slowly once would count as the surer one, and pull all down.
    """
    whole = np.diag(sigma**2)
    known = np.isfinite(as_built) & (as_built > 0)
    for kind, parts in _SHARED.items():
        at = [i for i, test in enumerate(tests) if test.kind == kind]
        if len(at) < 2:
            continue
        should = as_built[at] / as_built[at].mean() if known[at].all() else np.ones(len(at))
        for part in parts:
            one = np.sqrt([float(tests[i].si.parts.get(part, 0.0)) for i in at])
            shared = one / seen[at] * should * seen[at].mean()
            whole[np.ix_(at, at)] += np.outer(shared, shared) - np.diag(one**2)
        whole[at, at] += _OWN * sigma[at] ** 2
    return whole


def _names(fit: str | Sequence[str], wall: str) -> tuple[str, ...]:
    known = ["head_factor", "k", wall]
    if not isinstance(fit, Sequence):
        raise wrong("fit", fit, f"must be among {known} for this line", "name them in a list")
    names = (fit,) if isinstance(fit, str) else tuple(fit)
    for name in names:
        if not is_among(name, known):
            raise wrong("fit", name, f"must be among {known} for this line", nearest(name, known))
    names = tuple(dict.fromkeys(names))
    if not names:
        raise wrong("fit", [], "must name at least one number", nearest("", known))
    return names


def _shown(names: Sequence[str], theta: FloatArray, spread: FloatArray) -> list[dict[str, float]]:
    """Values and standard errors by public name and unit."""
    values: dict[str, float] = {}
    errors: dict[str, float] = {}
    for name, x, sigma in zip(names, theta, spread, strict=True):
        if name in ("head_factor", "k"):
            values[name], errors[name] = float(x), float(sigma)
        elif name == "hazen_williams_c":
            values[name], errors[name] = float(np.exp(x)), float(np.exp(x) * sigma)
        else:
            for unit, factor in (("ft", 0.3048), ("m", 1.0)):
                values[f"{name}_{unit}"] = float(np.exp(x) / factor)
                errors[f"{name}_{unit}"] = float(np.exp(x) * sigma / factor)
    return [values, errors]


def _told(model: _Model, names: tuple[str, ...], found: Any) -> Calibration:
    from scipy.stats import chi2

    jacobian = model.jacobian(found.x)
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    spread = np.sqrt(np.diag(covariance))
    values, errors = _shown(names, found.x, spread)
    free = len(model.seen) - len(names)
    misfit = float(chi2.sf(2 * found.cost, free)) if free else np.nan
    pump, _ = model.altered(model.levelled, found.x)
    line = refitted(model.line, dict(zip(names, found.x, strict=True)))
    said = ", ".join(f"{n} {values[n]:.4g} ± {errors[n]:.2g}" for n in values)
    # a residual that no value in range removes, or a number at the end of its range
    code, more = str(NAMES[first_failed(model.codes)]), ""
    if found.active_mask.any():
        code, more = "at_limit", "; at the end of its range"
    elif code != "ok":
        more = f"; {MENDS[code]}"
    return Calibration(
        names, values, errors, covariance / np.outer(spread, spread), misfit, (), pump, line,
        f"{said} (one sigma){more}.", code,
    )  # fmt: skip


def _untold(model: _Model, names: tuple[str, ...], alone: tuple[Calibration, ...]) -> Calibration:
    nothing = np.full(len(names), np.nan)
    values, errors = _shown(names, nothing, nothing)
    who = "one test" if len(model.seen) == 1 else f"these {len(model.seen)} tests"
    if len(names) == 1:
        says = f"{who} cannot tell {names[0]}: it moves them by less than their error."
    else:
        says = f"{who} cannot tell these apart: {', '.join(names)}."
        if alone:
            says += " Each alone: " + " or ".join(x.says[:-1] for x in alone) + "."
    return Calibration(
        names, values, errors, np.full((len(names),) * 2, np.nan), np.nan, alone, model.pump,
        model.line, says, "cannot_tell",
    )  # fmt: skip
