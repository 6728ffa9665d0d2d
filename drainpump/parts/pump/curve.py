"""A pump's curve: head against flow from the user's points, never beyond them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.foreign import is_among, stem_of
from drainpump.parts.part import maker
from drainpump.parts.pump import curve_points as points
from drainpump.parts.pump import curve_shown as shown
from drainpump.parts.pump.curve_shown import CurveHead
from drainpump.parts.pump.likely import BOX_NOTE, known_doubt
from drainpump.parts.pump.solved_curve import ONE, SolvedCurve
from drainpump.parts.scalars import (
    check_float,
    check_words,
    fact,
    one_number,
    one_plain,
    plain_fact,
)
from drainpump.results import Frame, one_shape
from drainpump.units import View

#: facts that decide whether a pump fits, and their guards
FACTS = {
    "outlet": "positive", "solids": "positive", "voltage": "positive", "current": "positive",
    "on": "level", "off": "level",
}  # fmt: skip


class PumpCurve(SolvedCurve):
    """A pump: its points of head against flow, and the facts that decide whether it fits.

    Parameters
    ----------
    name : str, default "A"
        What the pump is called.
    flow_gpm, flow_lps, flow_gph, flow_lpm, flow_m3ph : array_like, shape (K,)
        Flows, >= 0, each once, all rising or, as some tables print them, all falling;
        K >= 2, or 1 beside a shutoff head. The last three are turned into gpm and L/s.
    head_ft, head_m, head_psi, head_kpa : array_like, shape (K,)
        Head at each flow, >= 0. May rise before it falls: accepted, and noted. A last
        head above all others warns. A pressure is turned into a height of water.
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
        Levels of a built-in float above the pit's floor, >= 0, off below on.
    best_flow_gpm, best_flow_lps : float, optional
        Flow at the best efficiency point, >= 0.
    invented : bool, default False
        The points are made up and match no maker's pump.
    note : str, optional
        What to know of it.
    origin : {"points", "table", "picture", "box", "learned"}, default "points"
        Where the curve comes from.
    reading_pct : float, default 0
        One-sigma of reading the points off, 0 to 20 % of the largest flow and head.
    learned : mapping, optional
        What `field.learn` left of the doubt: equally likely factors and shapes.

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be; an unsorted or repeated flow is named by index.

    Notes
    -----
    Between the points the head is a shape-preserving cubic (PCHIP); outside the first
    and last point nothing is said. Two points that fall are not a curve: between them
    ``H = H0 - (H0 - H1) x**n``, x from 0 to 1, with n in doubt, see `from_box`. With factors
    from `at_speed` and `worn` the curve is H = a·h(Q/b) and the power c·p(Q/b). A factor may
    be an array: points then have the factor's shape in front, (..., K).

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[10, 30, 50], head_ft=[19, 13, 1], shutoff_ft=20)
    >>> print(pump)
    PumpCurve('A': 4 points, flow 0 to 50 gpm (0 to 3.15 L/s), head 20 to 1 ft (6.1 to 0.305 m))
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
        flow_gph: u.Quantity | None = None,
        flow_lpm: u.Quantity | None = None,
        flow_m3ph: u.Quantity | None = None,
        head_ft: u.Quantity | None = None,
        head_m: u.Quantity | None = None,
        head_psi: u.Quantity | None = None,
        head_kpa: u.Quantity | None = None,
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
        origin: str = "points",
        reading_pct: float = 0.0,
        learned: Mapping[str, Sequence[float]] | None = None,
    ) -> None:
        check_words(name, note, invented)
        if not is_among(origin, shown.ORIGINS):
            raise wrong("origin", origin, f"must be one of {tuple(shown.ORIGINS)}", "pick one")
        said = u.Typed(locals())
        flow, head, self._power = points.read(said)
        self.name, self.invented, self.note, self._origin = name, invented, note, origin
        self._reading = one_plain("reading_pct", reading_pct, "give one sigma", high=20.0) / 100
        two = flow.si.size == 2 and bool(head.si[1] < head.si[0])
        self._likely = likely = known_doubt(learned, two)
        if likely is not None and likely.learned:
            _, by_head, by_flow = likely.middle
            flow, head = points.by(flow, by_flow), points.by(head, by_head)
        self._flow_given, self._head_given = flow, head
        self._price = plain_fact("price", price)
        self._best_given = fact("best_flow", "flow", **said["best_flow"])
        vars(self).update({f"_{x}": fact(x, guard, **said[x]) for x, guard in FACTS.items()})
        self._head_factor = self._flow_factor = self._power_factor = ONE
        self._number = u.frozen(np.zeros((), dtype=np.intp))
        check_float(vars(self)["_off"], vars(self)["_on"])

    @classmethod
    @maker
    def from_box(
        cls,
        name: str = "A",
        *,
        flow_max_gpm: float | None = None,
        flow_max_lps: float | None = None,
        flow_max_gph: float | None = None,
        flow_max_lpm: float | None = None,
        flow_max_m3ph: float | None = None,
        head_max_ft: float | None = None,
        head_max_m: float | None = None,
        head_max_psi: float | None = None,
        head_max_kpa: float | None = None,
        price: float | None = None,
        outlet_in: float | None = None,
        outlet_mm: float | None = None,
        voltage_v: float | None = None,
        current_a: float | None = None,
        invented: bool = False,
        note: str = "",
        learned: Mapping[str, Sequence[float]] | None = None,
    ) -> PumpCurve:
        """Return a pump of which the box tells two figures: largest flow and largest head.

        Parameters
        ----------
        name : str, default "A"
            What the pump is called.
        flow_max_gpm, flow_max_lps, flow_max_gph, flow_max_lpm, flow_max_m3ph : float
            Flow at no head, > 0; ``gph`` are US gallons an hour. Exactly one.
        head_max_ft, head_max_m, head_max_psi, head_max_kpa : float
            Head at no flow, > 0. Exactly one.
        price : float, optional
            In the user's currency, >= 0.
        outlet_in, outlet_mm : float, optional
            Nominal size of the outlet, > 0.
        voltage_v, current_a : float, optional
            Of the motor, > 0.
        invented, note, learned
            Whether it is made up, what to know of it, and what readings left of its doubt.

        Returns
        -------
        PumpCurve
            With the middle shape, and the doubt of it wherever samples are taken.

        Notes
        -----
        ``H = H0 (1 - (Q / Q0)**n)``: n from 0.7 to 2.2, median 1.4, half of the probability
        evenly on each side (our judgement, no source; a printed table of a small pump gave
        1.0 to 1.5).

        Examples
        --------
        >>> import drainpump as dp
        >>> box = dp.PumpCurve.from_box("box", flow_max_gph=3300, head_max_ft=24)
        >>> round(box.run_out_gpm, 1), round(box.head(flow_gpm=27.5).head_ft, 1)
        (55.0, 14.9)
        """
        given = locals()
        flow = points.taken("flow_max", "flow", given)
        head = points.taken("head_max", "head", given)
        for what, figure in (("flow_max", flow), ("head_max", head)):
            key = next(k for k, v in given.items() if k.startswith(what) and v is not None)
            one_number(key, given[key], figure.si, "give the figure on the box", above_zero=True)
        ends: dict[str, Any] = {
            f"flow_{flow.unit}": [0.0, flow.typed],
            f"head_{head.unit}": [head.typed, 0.0],
        }
        typed = ("price", *FACTS, "invented", "note", "learned")
        facts = {k: v for k, v in given.items() if stem_of(k) in typed and v is not None}
        with u.speaking_of(()):
            made = cls(name=name, **ends, **facts, origin="box" if learned is None else "learned")
        return made

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
            "flow_max": self._flow_factor, "head_max": self._head_factor,
        }  # fmt: skip
        given = {"name": self.name} | super().given
        for name, typed in given.items():
            stem = stem_of(name)
            if stem in factors and factors[stem] != 1:
                given[name] = u.out(np.asarray(typed, dtype=np.float64) * factors[stem])
        return given

    def _replaced(self, changes: dict[str, Any]) -> Any:
        # a printed unit spells the same quantity
        new = {stem_of(name) for name in changes}
        gone = {n: None for n in self.given if stem_of(n) in new and stem_of(n) != n}
        return super()._replaced(gone | changes)

    def _value(self) -> tuple[Any, ...]:
        if not self._many:
            return super()._value()
        factors = (self._head_factor, self._flow_factor, self._power_factor, self._number)
        plain = self._with_factors(ONE, ONE, ONE)
        vars(plain)["_number"] = np.zeros((), dtype=np.intp)
        return (*plain._value(), *((f.shape, f.tobytes()) for f in factors))

    @property
    def _curves(self) -> tuple[PumpCurve]:
        """Itself: a bank has several."""
        return (self,)

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader of the points should know, in plain sentences; before any factor."""
        said = points.notes(self._flow_given, self._head_given)
        return (*self._caveats, *said)

    @property
    def two_figures(self) -> bool:
        """True where two figures are all that is known of the curve."""
        return self._likely is not None and not self._likely.learned

    @property
    def _caveats(self) -> tuple[str, ...]:
        return (BOX_NOTE,) if self.two_figures else ()

    @property
    def origin(self) -> str:
        """Where the curve comes from, in words."""
        return shown.ORIGINS[self._origin]

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
        found = CurveHead(flow, head, self._power_at(flow.si), status)
        vars(found)["_caveats"] = self._caveats
        return found

    def to_frame(self, units: u.System = "us") -> Frame:
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

    def __str__(self) -> str:
        ends = [
            f"{word} {points.span(now, given.unit)}"
            for word, now, given in (
                ("flow", self._flow_points, self._flow_given),
                ("head", self._head_points, self._head_given),
            )
        ]
        typed = {"best flow": self._best_given} | {x: vars(self)[f"_{x}"] for x in FACTS}
        now = typed | {"best flow": self._best_given and self._best_flow}
        parts = [f"{self._flow.size} points", *ends, *shown.facts(now, typed)]
        if self._price is not None:
            parts.append(f"price {self.price:.10g}")
        parts += shown.factors(head=self._head_factor, flow=self._flow_factor)
        parts += [f"from {self.origin}"] * (self._origin not in ("points", "table"))
        parts += ["told by two figures"] * (self.two_figures and self._origin != "box")
        parts += ["droops"] * self.droops + ["invented"] * self.invented
        return f"PumpCurve({self.name!r}: {', '.join(parts)})"

    def __repr__(self) -> str:
        made = "PumpCurve." * ("_maker" in vars(self))
        return str(self) if self._many else made + super().__repr__()

    def _repr_html_(self) -> str:
        return shown.table(self._at_points(), str(self), (*self.notes, self.note))


PumpCurve._makers = {"from_box": PumpCurve.from_box}
