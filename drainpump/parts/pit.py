"""The pit: what it holds between the floats, less the pump that stands in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import DrainpumpWarning, InputError, UnitError, warn
from drainpump.parts.part import Part
from drainpump.parts.scalars import plain_fact
from drainpump.results import one_shape
from drainpump.units import FloatArray, Measure, View

#: levels of which the first must be below the second, and the mend
_ORDER = {
    ("off", "on"): "the floats are crossed, swap them",
    ("on", "depth"): "lower the float or deepen the pit",
    ("on", "alarm"): "raise the alarm float",
    ("alarm", "depth"): "lower the alarm float",
}


class PitWarning(DrainpumpWarning):
    """A pit that will work, but not well."""


class Pit(Part):
    """A pit, round or rectangular, with its floats. Levels are heights above the floor.

    Parameters
    ----------
    diameter_in, diameter_mm : float or array_like
        Inside diameter of a round pit, > 0. Either this, or length and width.
    length_in, length_mm, width_in, width_mm : float or array_like
        Inside length and width of a rectangular pit, > 0.
    depth_in, depth_mm : float or array_like
        Floor to rim, > 0.
    off_in, off_mm, on_in, on_mm : float or array_like
        Levels at which the pump stops and starts; 0 <= off < on <= depth. Left out, the
        pump's own built-in float is in force where it says its levels: see `floats_of`.
    alarm_in, alarm_mm : float or array_like, optional
        High-water alarm, >= 0; on <= alarm <= depth.
    inlet_in, inlet_mm : float or array_like, optional
        Invert of the lowest inlet pipe, >= 0. A pump-on level above it drowns the pipe: warned.
    body_volume_gal, body_volume_l, body_height_in, body_height_mm : float or array_like
        Water displaced by the pump body and what else stands in the pit, >= 0, spread
        evenly over its height. Both or neither.

    price : float, optional
        In the user's currency, >= 0.

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be, floats crossed, a pit shallower than its float.

    Warns
    -----
    PitWarning
        The pump-on level drowns the inlet.

    Examples
    --------
    >>> import drainpump as dp
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> round(pit.working_volume_gal, 2)
    7.71
    """

    diameter_in, diameter_mm = View("_diameter", maybe=True), View("_diameter", maybe=True)
    length_in, length_mm = View("_side_length", maybe=True), View("_side_length", maybe=True)
    width_in, width_mm = View("_side_width", maybe=True), View("_side_width", maybe=True)
    depth_in, depth_mm = View("_depth"), View("_depth")
    off_in, off_mm = View("_off_given"), View("_off_given")
    on_in, on_mm = View("_on_given"), View("_on_given")
    alarm_in, alarm_mm = View("_alarm", maybe=True), View("_alarm", maybe=True)
    inlet_in, inlet_mm = View("_inlet", maybe=True), View("_inlet", maybe=True)
    body_volume_gal, body_volume_l = View("_body", maybe=True), View("_body", maybe=True)
    body_height_in = View("_body_height", maybe=True)
    body_height_mm = View("_body_height", maybe=True)
    price = View("_price", maybe=True)
    #: whose a float is that was left open, by its name
    whose: Mapping[str, str] = MappingProxyType({})
    area_ft2, area_m2 = View("_area"), View("_area")
    working_volume_gal, working_volume_l = View("_working_volume"), View("_working_volume")

    def __init__(
        self,
        *,
        diameter_in: u.Quantity | None = None,
        diameter_mm: u.Quantity | None = None,
        length_in: u.Quantity | None = None,
        length_mm: u.Quantity | None = None,
        width_in: u.Quantity | None = None,
        width_mm: u.Quantity | None = None,
        depth_in: u.Quantity | None = None,
        depth_mm: u.Quantity | None = None,
        off_in: u.Quantity | None = None,
        off_mm: u.Quantity | None = None,
        on_in: u.Quantity | None = None,
        on_mm: u.Quantity | None = None,
        alarm_in: u.Quantity | None = None,
        alarm_mm: u.Quantity | None = None,
        inlet_in: u.Quantity | None = None,
        inlet_mm: u.Quantity | None = None,
        body_volume_gal: u.Quantity | None = None,
        body_volume_l: u.Quantity | None = None,
        body_height_in: u.Quantity | None = None,
        body_height_mm: u.Quantity | None = None,
        price: float | None = None,
    ) -> None:
        said = u.Typed(locals())
        self._price = plain_fact("price", price)
        self._diameter = said.maybe("diameter")
        self._side_length, self._side_width = (said.maybe(x, "side") for x in ("length", "width"))
        self._check_shape()
        self._depth = said.take("depth")
        self._off_given, self._on_given = said.maybe("off", "level"), said.maybe("on", "level")
        self._alarm, self._inlet = said.maybe("alarm", "level"), said.maybe("inlet", "level")
        self._body = said.maybe("body_volume", "volume")
        self._body_height = said.maybe("body_height", "body")
        self.shape  # noqa: B018  refuses arrays that do not broadcast
        self._check_levels()
        self._check_body()

    def _check_shape(self) -> None:
        sides = [s is not None for s in (self._side_length, self._side_width)]
        if self._diameter is not None and any(sides):
            raise UnitError(
                "diameter and length or width: both shapes given; give diameter_in for a round "
                "pit, or length_in and width_in for a rectangular one."
            )
        if self._diameter is None and not all(sides):
            raise UnitError(
                "pit: no shape given; give diameter_in for a round pit, or length_in and width_in "
                "for a rectangular one (or their _mm)."
            )

    def _check_levels(self) -> None:
        off, on = self._off_given, self._on_given
        levels = {"off": off, "on": on, "depth": self._depth, "alarm": self._alarm}
        for names, mend in _ORDER.items():
            low, high = (levels[name] for name in names)
            if low is None or high is None:
                continue
            crossed = np.asarray(low.si >= high.si if high is on else low.si > high.si)
            if crossed.any():
                index = np.unravel_index(int(np.argmax(crossed)), crossed.shape)
                where = f" at index {tuple(map(int, index))}" if crossed.ndim else ""
                a, b = (
                    u.text(np.broadcast_to(m.si, crossed.shape)[index], m.unit) for m in (low, high)
                )
                raise InputError(
                    f"{names[0]} level {a} and {names[1]} {b}{where}: {names[0]} must be below "
                    f"{names[1]}; {mend}."
                )
        if self._inlet is not None and on is not None and np.any(on.si > self._inlet.si):
            warn(
                f"on level {u.text(on.si, on.unit)} is above the inlet's invert "
                f"{u.text(self._inlet.si, self._inlet.unit)}: water backs up into the inlet pipe "
                "before the pump starts; lower the on float or raise the inlet.",
                PitWarning,
            )

    def _check_body(self) -> None:
        if (self._body is None) != (self._body_height is None):
            raise UnitError(
                "body_volume and body_height: only one given; give both, or neither for a pit "
                "whose pump takes no room."
            )
        if self._body is not None and np.any(self._body_area >= self._area):
            raise InputError(
                f"body_volume {self._body}: must be less than the pit holds over the body's "
                "height; check the volume and the height."
            )

    @property
    def open(self) -> bool:
        """True where a float is left to the pump's own."""
        return self._off_given is None or self._on_given is None

    def floats_of(self, pump: Any) -> Pit:
        """Return the pit with its open floats at the levels of a pump's built-in float.

        Parameters
        ----------
        pump : PumpCurve
            With ``on_in`` and ``off_in``, or their metric twins.

        Returns
        -------
        Pit
            The pit itself where no float is open.

        Raises
        ------
        InputError
            A float is open, and the pump does not say its level.

        Examples
        --------
        >>> import drainpump as dp
        >>> pump = dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0], on_in=12, off_in=5)
        >>> pit = dp.Pit(diameter_in=18, depth_in=30)
        >>> pit.open, round(pit.floats_of(pump).on_in, 6)
        (True, 12.0)
        """
        own: dict[str, float] = {}
        off, on = getattr(pump, "off_mm", None), getattr(pump, "on_mm", None)
        for name, given, level in (("off", self._off_given, off), ("on", self._on_given, on)):
            if given is not None:
                continue
            if level is None:
                raise InputError(
                    f"pit: its {name} float is open, and pump {pump.name!r} does not say its own; "
                    f"give {name}_in or {name}_mm to the pit or the pump."
                )
            own[name] = float(level) / 1e3
        return with_floats(self, dict.fromkeys(own, "the pump's own"), own) if own else self

    def floats_said(self, pump: Any) -> str:
        """Say whose floats are in force under a pump, and where; "" where there is one set."""
        here = self.floats_of(pump)
        levels = {"off": here.si.off, "on": here.si.on}
        own = {name: getattr(pump, f"{name}_mm", None) for name in levels}
        named = {name: f"{name} {u.both(level, 'in')}" for name, level in levels.items()}
        if here.whose:
            whose = [here.whose.get(name, "the pit's") for name in levels]
            off, on = (f"{level}, {who}" for level, who in zip(named.values(), whose, strict=True))
            return (
                f"floats: {named['off']}, {on}" if len(set(whose)) == 1 else f"floats: {off}; {on}"
            )
        if None in own.values() or all(np.all(own[x] == 1e3 * levels[x]) for x in levels):
            return ""
        unused = ", ".join(f"{x} {u.both(np.asarray(mm) / 1e3, 'in')}" for x, mm in own.items())
        used = ", ".join(named.values())
        return f"floats: {used}, the pit's; the pump's own, {unused}, are not used"

    @property
    def _off(self) -> Measure:
        return self._closed("off", self._off_given)

    @property
    def _on(self) -> Measure:
        return self._closed("on", self._on_given)

    def _closed(self, name: str, level: Measure | None) -> Measure:
        if level is None:
            raise InputError(
                f"pit: its {name} float is open; give {name}_in or {name}_mm, or take the "
                "pump's own with pit.floats_of(pump)."
            )
        return level

    @property
    def _highest_on(self) -> FloatArray:
        """How high (m) the on float may rise: to the lowest of inlet, alarm and rim."""
        tops = (self._depth, self._alarm, self._inlet)
        return np.min([level.si for level in tops if level is not None], axis=0)  # type: ignore[no-any-return]

    @property
    def _area(self) -> FloatArray:
        """Plan area of the empty pit, m²."""
        if self._diameter is not None:
            return np.asarray(0.25 * np.pi * self._diameter.si**2)
        return np.asarray(self.si.side_length * self.si.side_width)

    @property
    def _body_area(self) -> FloatArray:
        """Plan area taken by the pump body up to its height, m²."""
        if self._body is None or self._body_height is None:
            return np.zeros(())
        with np.errstate(over="ignore"):  # of no height at all: wider than any pit
            return np.asarray(self._body.si / self._body_height.si)

    @property
    def _body_top(self) -> FloatArray:
        return np.zeros(()) if self._body_height is None else self._body_height.si

    def _wet_area(self, level: FloatArray) -> FloatArray:
        """Plan area of the water at a level (m above the floor), m²."""
        return np.asarray(self._area - np.where(level < self._body_top, self._body_area, 0.0))

    def _volume_between(self, low: FloatArray, high: FloatArray) -> FloatArray:
        """Water between two levels (m above the floor), less the body, m³; signed."""
        # of the body only what lies between the two levels takes room
        top = self._body_top
        return np.asarray(
            self._area * (high - low)
            - self._body_area * (np.minimum(high, top) - np.minimum(low, top))
        )

    @property
    def _working_volume(self) -> FloatArray:
        return self._volume_between(self._off.si, self._on.si)

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape that all the pit's quantities broadcast to."""
        given = (m.si for m in vars(self).values() if isinstance(m, Measure))
        return one_shape("pit", *given)

    def __str__(self) -> str:
        parts = [f"diameter {self._diameter}"]
        if self._diameter is None:
            parts = [f"{self._side_length} × {self._side_width}"]
        parts.append(f"depth {self._depth}")
        for word, level in (("off", self._off_given), ("on", self._on_given)):
            parts.append(f"{word} {level or 'left to the pump'}")
        more = {"alarm": self._alarm, "inlet": self._inlet, "body": self._body}
        more["body height"] = self._body_height
        parts += [f"{label} {item}" for label, item in more.items() if item is not None]
        held = "" if self.open else f"; working volume {u.both(self._working_volume, 'gal')}"
        return f"Pit({', '.join(parts)}{held})"


def with_floats(pit: Pit, whose: Mapping[str, str], levels: Mapping[str, float]) -> Pit:
    """The pit with floats, by name, at levels (m) that are not its own, and whose they are."""
    made = pit.variant(**{f"{name}_mm": round(1e3 * level, 6) for name, level in levels.items()})
    vars(made)["whose"] = MappingProxyType({**pit.whose, **whose})
    return made


def floats_in_force(pit: Pit, pumps: Sequence[Any]) -> list[str]:
    """Whose floats are in force under each of several pumps, by their names."""
    said = {pump.name: pit.floats_said(pump) for pump in pumps}
    return [x if len(pumps) == 1 else f"{name}: {x}" for name, x in said.items() if x]
