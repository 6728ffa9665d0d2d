"""What a field test answers: a flow, its one-sigma and what that is made of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar, Literal, TypeAlias

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.results import Result, one_shape
from drainpump.units import FloatArray, Measure, View

Kind: TypeAlias = Literal["meter", "bucket", "drawdown", "cycle log", "gauge", "gauge, valve shut"]
#: where the water was read
Place: TypeAlias = Literal["pit", "outlet"]


class FieldTest(Result):
    """What one field test found.

    Attributes
    ----------
    kind : str
        ``drawdown``, ``bucket``, ``cycle log``, ``gauge``, ``gauge, valve shut`` or
        ``meter``.
    place : str
        Where the flow was seen: ``pit`` (what leaves it) or ``outlet``.
    flow_gpm, flow_lps, sigma_gpm, sigma_lps : float or ndarray
        Flow and its one-sigma.
    inflow_gpm, inflow_lps : float or ndarray or None
        Inflow that was allowed for, or that a cycle log found.
    level_above_off_ft, level_above_off_m : float or ndarray
        Mean water level of the test above the pit's off level.
    head_ft, head_m, head_sigma_ft, head_sigma_m : float or ndarray or None
        Pump head above the water, where a gauge was read; its flow then comes from the
        pump's own curve and stands only for a pump as good as new.
    shares : dict of str
        Each reading's share of the variance of the flow (of the head for a gauge).
    status : str or ndarray of str
        ``ok`` or ``bad_input``; a gauge may be ``off_curve``.
    """

    kind: Kind
    place: Place
    _flow: FloatArray
    _sigma: FloatArray
    _level: FloatArray
    _parts: dict[str, FloatArray]
    _inflow: FloatArray | None = None
    _head: FloatArray | None = None
    _head_sigma: FloatArray | None = None

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    sigma_gpm, sigma_lps = View("_sigma"), View("_sigma")
    inflow_gpm, inflow_lps = View("_inflow", maybe=True), View("_inflow", maybe=True)
    level_above_off_ft, level_above_off_m = View("_level"), View("_level")
    head_ft, head_m = View("_head", maybe=True), View("_head", maybe=True)
    head_sigma_ft, head_sigma_m = View("_head_sigma", maybe=True), View("_head_sigma", maybe=True)

    _mends: ClassVar[dict[str, str]] = {
        "bad_input": "an input of this element is NaN",
        "off_curve": "the curve makes this head at no flow, or at several; the head still stands",
    }

    @property
    def _status(self) -> Any:
        off = np.isnan(self._flow + self._sigma)
        if self._head is None or self._head_sigma is None:
            return np.where(off, "bad_input", "ok")
        unknown = np.isnan(self._head + self._head_sigma)
        return np.where(unknown, "bad_input", np.where(off, "off_curve", "ok"))

    @property
    def shares(self) -> dict[str, Any]:
        """Each reading's share of the variance, largest uses of care first."""
        total = sum(self._parts.values(), start=np.zeros(()))
        with np.errstate(invalid="ignore"):
            return {name: u.out(part / total) for name, part in self._parts.items()}


def check_tests(tests: Any) -> list[FieldTest]:
    """Return the tests as a list, each one known case; refuse anything else by its index."""
    if not isinstance(tests, FieldTest | Sequence):
        raise wrong("tests", tests, "must be a FieldTest or a list", "make one with bucket_test")
    listed = [tests] if isinstance(tests, FieldTest) else list(tests)
    if not listed:
        raise wrong("tests", [], "must hold at least one FieldTest", "make one with bucket_test")
    for i, test in enumerate(listed):
        if not isinstance(test, FieldTest):
            raise wrong(
                f"tests[{i}]", test, "must be a FieldTest", "make one with bucket_test or another"
            )
        if np.ndim(test.status):
            raise InputError(f"tests[{i}]: holds arrays; give each reading as a test of its own.")
        if test.status == "bad_input" or not (
            test._sigma > 0 or (test._head_sigma is not None and test._head_sigma > 0)
        ):
            raise InputError(
                f"tests[{i}]: {test.kind} of {test.flow_gpm} gpm has no known error; give readings "
                "that are numbers, with errors above 0."
            )
    return listed


def meter_test(
    *,
    flow_gpm: u.Quantity | None = None,
    flow_lps: u.Quantity | None = None,
    sigma_gpm: u.Quantity | None = None,
    sigma_lps: u.Quantity | None = None,
    level_above_off_ft: u.Quantity | None = None,
    level_above_off_m: u.Quantity | None = None,
) -> FieldTest:
    """Return a flow at the outlet measured in some other way, with its stated one-sigma.

    Parameters
    ----------
    flow_gpm, flow_lps, sigma_gpm, sigma_lps : float or array_like
        Flow >= 0 and its one-sigma > 0. Exactly one of each.
    level_above_off_ft, level_above_off_m : float or array_like, default 0
        Water level in the pit above its off level.

    Returns
    -------
    FieldTest

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.field.meter_test(flow_gpm=18, sigma_gpm=1).place
    'outlet'
    """
    said = u.Typed(locals())
    flow, sigma = said.take("flow").si, said.take("sigma", "positive").si
    level = read_level(said)
    one_shape("meter_test", flow, sigma, level)
    return make_test("meter", "outlet", flow, level, {"meter": sigma**2})


def make_test(
    kind: Kind,
    place: Place,
    flow: FloatArray,
    level: FloatArray,
    parts: dict[str, FloatArray],
    inflow: FloatArray | None = None,
) -> FieldTest:
    shape = np.broadcast_shapes(*(np.shape(a) for a in (flow, level, *parts.values())))
    wide = {name: np.broadcast_to(part, shape) for name, part in parts.items()}
    sigma = np.sqrt(sum(wide.values(), start=np.zeros(shape)))
    return FieldTest(
        kind, place, np.broadcast_to(flow, shape), sigma, np.broadcast_to(level, shape), wide,
        None if inflow is None else np.broadcast_to(inflow, shape),
    )  # fmt: skip


def read_time(said: u.Typed, name: str) -> FloatArray:
    return more_than_0(name, said.take(name, "time"))


def more_than_0(name: str, given: Measure) -> FloatArray:
    if np.any(given.si <= 0):
        raise wrong(f"{name}_{given.unit}", given.typed, "must be more than 0", "read it again")
    return given.si


def read_level(said: u.Typed) -> FloatArray:
    return said.take("level_above_off", "any", default=("ft", 0.0)).si


def read_error(said: u.Typed, name: str, usual: tuple[str, float]) -> FloatArray:
    return said.take(name, "not_negative", default=usual).si
