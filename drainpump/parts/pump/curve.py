"""A pump's curve: head against flow from the user's points, never beyond them."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.pump import curve_points as points
from drainpump.parts.pump import curve_shown as shown
from drainpump.parts.pump.curve_shown import CurveHead
from drainpump.parts.pump.head_curve import Curve, through
from drainpump.parts.pump.scaled_curve import ONE, ScaledCurve
from drainpump.parts.scalars import check_float, check_words, fact, plain_fact
from drainpump.results import one_shape
from drainpump.units import FloatArray, Measure, View

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CurveHead", "PumpCurve"]


class PumpCurve(ScaledCurve):
    """A pump: its points of head against flow, and the facts that decide whether it fits.

    Parameters
    ----------
    name : str, default "A"
        What the pump is called.
    flow_gpm, flow_lps : array_like, shape (K,)
        Flows, >= 0, each once and in rising order; K >= 2, or 1 beside a shutoff head.
    head_ft, head_m : array_like, shape (K,)
        Head at each flow, >= 0. May rise before it falls: accepted, and noted. A last
        head above all others warns.
    power_w : array_like, shape (K,), optional
        Electrical power taken at each flow, > 0.
    shutoff_ft, shutoff_m : float, optional
        Head at no flow, >= 0; adds that point in front.
    price : float, optional
        In the user's currency, >= 0.
    outlet_in, outlet_mm, solids_in, solids_mm : float, optional
        Nominal size of the outlet, and the largest solids that pass, > 0.
    voltage_v, current_a : float, optional
        Of the motor, > 0.
    on_in, on_mm, off_in, off_mm : float, optional
        Levels of a built-in float above the pit's floor, off below on.
    best_flow_gpm, best_flow_lps : float, optional
        Flow at the best efficiency point.
    invented : bool, default False
        The points are made up and match no maker's pump.
    note : str, optional

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be; an unsorted or repeated flow is named by index.

    Notes
    -----
    Between the points the head is a shape-preserving cubic (PCHIP); outside the first
    and last point nothing is said. With factors from `at_speed` and `worn` the curve is
    H = a·h(Q/b) and the power c·p(Q/b). A factor may be an array: points then have the
    factor's shape in front, (..., K).

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[10, 30, 50], head_ft=[19, 13, 1], shutoff_ft=20)
    >>> print(pump)
    PumpCurve('A': 4 points, flow 0 to 50 gpm (0 to 3.155 L/s), head 20 to 1 ft (6.096 to 0.3048 m))
    >>> round(pump.head(flow_gpm=40).head_ft, 1)
    7.9
    >>> pump.head(flow_gpm=51).status
    'beyond_curve'
    """

    flow_gpm, flow_lps = View("_flow_points"), View("_flow_points")
    head_ft, head_m = View("_head_points"), View("_head_points")
    power_w = View("_power_points", maybe=True)
    shutoff_ft, shutoff_m = View("_shutoff", maybe=True), View("_shutoff", maybe=True)
    run_out_gpm, run_out_lps = View("_run_out"), View("_run_out")
    best_flow_gpm, best_flow_lps = View("_best_flow", maybe=True), View("_best_flow", maybe=True)
    price = View("_price", maybe=True)
    outlet_in, outlet_mm = View("_outlet", maybe=True), View("_outlet", maybe=True)
    solids_in, solids_mm = View("_solids", maybe=True), View("_solids", maybe=True)
    voltage_v = View("_voltage", maybe=True)
    current_a = View("_current", maybe=True)
    on_in, on_mm = View("_on", maybe=True), View("_on", maybe=True)
    off_in, off_mm = View("_off", maybe=True), View("_off", maybe=True)

    def __init__(
        self,
        *,
        name: str = "A",
        flow_gpm: u.Quantity | None = None,
        flow_lps: u.Quantity | None = None,
        head_ft: u.Quantity | None = None,
        head_m: u.Quantity | None = None,
        power_w: u.Quantity | None = None,
        shutoff_ft: float | None = None,
        shutoff_m: float | None = None,
        price: float | None = None,
        outlet_in: float | None = None,
        outlet_mm: float | None = None,
        solids_in: float | None = None,
        solids_mm: float | None = None,
        voltage_v: float | None = None,
        current_a: float | None = None,
        on_in: float | None = None,
        on_mm: float | None = None,
        off_in: float | None = None,
        off_mm: float | None = None,
        best_flow_gpm: float | None = None,
        best_flow_lps: float | None = None,
        invented: bool = False,
        note: str = "",
    ) -> None:
        check_words(name, note, invented)
        flow = u.take("flow", guard="flow", gpm=flow_gpm, lps=flow_lps)
        head = u.take("head", guard="head", ft=head_ft, m=head_m)
        power = u.maybe("power", guard="power", w=power_w)
        shutoff = fact("shutoff", "head", ft=shutoff_ft, m=shutoff_m)
        points.check(flow, head, power, shutoff)
        watts = None if power is None else power.si
        if shutoff is not None:
            flow = points.in_front(flow, 0.0)
            head = points.in_front(head, shutoff.get(head.unit))
            watts = None if watts is None else u.frozen(np.concatenate([[np.nan], watts]))
        points.doubt_rise(head)
        self.name, self.invented, self.note = name, invented, note
        self._flow_given, self._head_given = flow, head  # (K,), a given shutoff's point included
        self._power = watts  # (K,) W; NaN at the point a given shutoff added
        self._best_given = fact("best_flow", "flow", gpm=best_flow_gpm, lps=best_flow_lps)
        self._price = plain_fact("price", price)
        self._outlet = fact("outlet", "positive", **u.inches(outlet_in, outlet_mm))
        self._solids = fact("solids", "positive", **u.inches(solids_in, solids_mm))
        self._voltage = fact("voltage", "positive", v=voltage_v)
        self._current = fact("current", "positive", a=current_a)
        self._on = fact("on", "level", **u.inches(on_in, on_mm))
        self._off = fact("off", "level", **u.inches(off_in, off_mm))
        self._head_factor = self._flow_factor = self._power_factor = ONE
        check_float(self._off, self._on)

    @property
    def given(self) -> dict[str, Any]:
        """The keywords as typed; of a worn or slowed curve its points as they are now."""
        if self._many:
            raise InputError(
                f"pump {self.name!r}: a curve with arrays of factors is many curves; "
                "describe the one it came from, before at_speed or worn."
            )
        factors = {
            "flow": self._flow_factor, "best_flow": self._flow_factor, "head": self._head_factor,
            "shutoff": self._head_factor, "power": self._power_factor,
        }  # fmt: skip
        given = {"name": self.name} | super().given
        for name, typed in given.items():
            stem = name.removesuffix(f"_{u.suffix_of(name)}")
            if stem in factors and factors[stem] != 1:
                given[name] = u.out(np.asarray(typed, dtype=np.float64) * factors[stem])
        return given

    def _value(self) -> tuple[Any, ...]:
        if not self._many:
            return super()._value()
        factors = (self._head_factor, self._flow_factor, self._power_factor)
        plain = self._with_factors(ONE, ONE, ONE)
        return (*plain._value(), *((f.shape, f.tobytes()) for f in factors))

    # what the solver reads, all SI
    @property
    def _flow(self) -> FloatArray:
        """The knots' flows before any factor, (K,) m³/s."""
        return self._flow_given.si

    @property
    def _head(self) -> FloatArray:
        """The knots' heads before any factor, (K,) m."""
        return self._head_given.si

    @cached_property
    def _curve(self) -> Curve:
        """The head before any factor."""
        return through(self._flow, self._head)

    @cached_property
    def _power_curve(self) -> Curve | None:
        """The power before any factor, at points of its own: a given shutoff brings none."""
        if self._power is None or (known := np.isfinite(self._power)).sum() < 2:
            return None
        return through(self._flow[known], self._power[known])

    def _head_at(self, flow: FloatArray) -> FloatArray:
        """Head (m) at ``flow`` (m³/s), NaN outside the points."""
        return np.asarray(self._head_factor * self._curve.read(flow / self._flow_factor))

    def _power_at(self, flow: FloatArray) -> FloatArray | None:
        """Power (W) at ``flow`` (m³/s), NaN where not known; None without power points."""
        if self._power_curve is None:
            return None
        return np.asarray(self._power_factor * self._power_curve.read(flow / self._flow_factor))

    # what the views answer
    @property
    def _flow_points(self) -> Measure | FloatArray:
        return points.times(self._flow_factor, self._flow_given)

    @property
    def _head_points(self) -> Measure | FloatArray:
        return points.times(self._head_factor, self._head_given)

    @property
    def _power_points(self) -> FloatArray | None:
        return None if self._power is None else np.multiply.outer(self._power_factor, self._power)

    @property
    def _shutoff(self) -> Measure | FloatArray | None:
        if self._flow[0] > 0:
            return None
        return points.times(self._head_factor, self._head_given, 0)

    @property
    def _run_out(self) -> Measure | FloatArray:
        return points.times(self._flow_factor, self._flow_given, -1)

    @property
    def _best_flow(self) -> Measure | FloatArray | None:
        return (
            None if self._best_given is None else points.times(self._flow_factor, self._best_given)
        )

    @property
    def droops(self) -> bool:
        """True where the head at the first point is not the highest."""
        return bool(self._head[0] < self._head.max())

    @property
    def rises(self) -> bool:
        """True where the head rises with flow anywhere."""
        return bool((np.diff(self._head) > 0).any())

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader of the points should know, in plain sentences; before any factor."""
        return points.notes(self._flow_given, self._head_given)

    def head(
        self, *, flow_gpm: u.Quantity | None = None, flow_lps: u.Quantity | None = None
    ) -> CurveHead:
        """Read the curve at given flows; never beyond its points.

        Parameters
        ----------
        flow_gpm, flow_lps : float or array_like
            Flow, >= 0. Exactly one. Broadcasts against the curve's factors.

        Returns
        -------
        CurveHead
            Head and power, shaped as the flow; NaN and a status outside the points.

        Examples
        --------
        >>> import drainpump as dp
        >>> dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0]).head(flow_gpm=[10, 60]).status.tolist()
        ['ok', 'beyond_curve']
        """
        flow = u.take("flow", guard="flow", gpm=flow_gpm, lps=flow_lps)
        one_shape("flow", flow.si, self._flow_factor, self._head_factor, self._power_factor)
        head = self._head_at(flow.si)
        q = np.broadcast_to(flow.si / self._flow_factor, head.shape)
        with np.errstate(invalid="ignore"):
            outside = np.where(q < self._flow[0], "below_curve", "beyond_curve")
        outside = np.where(np.isfinite(q * self._head_factor), outside, "bad_input")
        status = np.where(np.isfinite(head), "ok", outside)
        return CurveHead(flow, head, self._power_at(flow.si), status)

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per point (and per element of the factors), in one unit system.

        Parameters
        ----------
        units : {"us", "metric"}
            Which spelling of each quantity becomes a column.

        Returns
        -------
        pandas.DataFrame
            Columns pump, axis numbers of array factors, point, flow, head and power.
        """
        return shown.frame(self.name, self._at_points(), units)

    def _at_points(self) -> CurveHead:
        return CurveHead(self._flow_points, self._head_points, self._power_points, "ok")

    def _facts(self) -> dict[str, Measure | None]:
        """The facts of the pump, by what they are called."""
        return {
            "best flow": self._best_given, "outlet": self._outlet, "solids": self._solids,
            "voltage": self._voltage, "current": self._current, "on": self._on, "off": self._off,
        }  # fmt: skip

    def __str__(self) -> str:
        parts = [
            f"{self._flow.size} points",
            f"flow {points.span(self._flow_points, self._flow_given.unit)}",
            f"head {points.span(self._head_points, self._head_given.unit)}",
        ]
        for word, known in self._facts().items():
            if known is not None:
                now = self._best_flow if word == "best flow" else known
                said = str(now) if isinstance(now, Measure) else u.both(np.asarray(now), known.unit)
                parts.append(f"{word} {said}")
        if self._price is not None:
            parts.append(f"price {self.price:.10g}")
        for label, by in (("head", self._head_factor), ("flow", self._flow_factor)):
            if by.ndim:
                low, high = (u.number(float(x)) for x in (np.nanmin(by), np.nanmax(by)))
                parts.append(f"{label} factor {low} to {high}, shape {by.shape}")
            elif by != 1:
                parts.append(f"{label} factor {u.number(float(by))}")
        parts += ["droops"] * self.droops + ["invented"] * self.invented
        return f"PumpCurve({self.name!r}: {', '.join(parts)})"

    def __repr__(self) -> str:
        return str(self) if self._many else super().__repr__()

    def _repr_html_(self) -> str:
        return shown.table(self._at_points(), str(self), (*self.notes, self.note))
