"""Side checks, all rough: water hammer, pressure class, standing pressure, scour, hand-off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.foreign import nearest
from drainpump.parts.line import profile
from drainpump.parts.line.outlet import GravityHandOff, PopUpOutlet
from drainpump.physics import surge, water
from drainpump.physics.constants import GRAVITY
from drainpump.physics.tables import read_table
from drainpump.results import check_units, html_lines, html_table
from drainpump.solve.operating_point import OperatingPoint, operating_point
from drainpump.units import Measure

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.line.run import Run
    from drainpump.parts.pump.bank import Pump

__all__ = ["SideCheck", "SideChecks", "side_checks"]

#: a column that comes to rest within this time (s) may slam the check valve; common
#: practice, no source
_SLAM = 1.0
#: pipes made for drainage without pressure, by schedule
_UNRATED = ("DWV", "SDR 35")


@dataclass(frozen=True, eq=False)
class SideCheck:
    """One rough check.

    Attributes
    ----------
    code : str
        ``water_hammer``, ``valve_slam``, ``pressure_class``, ``standing_pressure``,
        ``scour`` or ``gravity_pipe``.
    where : str
        The run or the outlet it is about.
    value, limit : float
        The number found and what it should keep to, in ``unit``; the limit is NaN where
        none is known.
    unit : str
        Unit suffix of both numbers.
    verdict : str
        ``fine``, ``look`` or ``no_limit``.
    text, source : str
        The same in words, in both unit systems, and where the method comes from.
    """

    code: str
    where: str
    _value: float
    _limit: float
    _unit: str
    verdict: str
    text: str
    source: str

    def _repr_html_(self) -> str:
        return html_lines(f"{self.where}: {self.text} ({self.verdict})")

    @property
    def unit(self) -> str:
        """Unit suffix of the value and the limit."""
        return self._unit

    @property
    def value(self) -> float:
        """The number found, in ``unit``."""
        return float(u.from_si(self._value, self._unit))

    @property
    def limit(self) -> float:
        """What it should keep to, in ``unit``; NaN where none is known."""
        return float(u.from_si(self._limit, self._unit))

    def __repr__(self) -> str:
        return f"SideCheck({self.code}, {self.where}, {self.verdict}: {self.text})"


@dataclass(frozen=True, eq=False)
class SideChecks:
    """All side checks of one pump on one line.

    Attributes
    ----------
    checks : tuple of SideCheck
        In order: by run, then the outlet.
    operating : OperatingPoint
        The operating point they rest on.
    caution : str
        What they are not.
    """

    checks: tuple[SideCheck, ...]
    operating: OperatingPoint

    caution = (
        "These checks are rough: they say where to look, not that a pipe is safe. A pressure "
        "test and the local code decide."
    )

    @property
    def to_look_at(self) -> tuple[SideCheck, ...]:
        """The checks whose number is outside its limit."""
        return tuple(c for c in self.checks if c.verdict == "look")

    def of(self, code: str) -> tuple[SideCheck, ...]:
        """The checks of one code."""
        known = list(dict.fromkeys(c.code for c in self.checks))
        if code not in known:
            raise InputError(f"code={code!r}: not among these checks; {nearest(code, known)}")
        return tuple(c for c in self.checks if c.code == code)

    def to_frame(self, units: str = "us") -> pd.DataFrame:
        """Return one row per check; value and limit are in the row's own unit."""
        import pandas as pd

        check_units(units)
        rows = []
        for c in self.checks:
            unit = c.unit
            if u.UNITS[unit].system not in (units, "both"):
                unit = u.UNITS[unit].twin
            rows.append(
                {
                    "code": c.code,
                    "where": c.where,
                    "value": u.from_si(c._value, unit),
                    "limit": u.from_si(c._limit, unit),
                    "unit": unit,
                    "verdict": c.verdict,
                    "text": c.text,
                    "source": c.source,
                }
            )
        return pd.DataFrame(rows)

    def _repr_html_(self) -> str:
        return html_table(self.to_frame()) + html_lines(self.caution)

    def __repr__(self) -> str:
        lines = [f"{c.verdict:8} {c.where}: {c.text}" for c in self.checks]
        return "\n".join(["SideChecks (rough)", *lines, self.caution])


class _Site:
    """Numbers of one pump on one line that several checks share (SI)."""

    def __init__(
        self, pump: Pump, line: DischargeLine, rating: Measure | None, wall: Measure | None
    ) -> None:
        self.op = operating_point(pump, line)
        if np.ndim(self.op._flow) or line._arrays.shape:
            raise InputError(
                "side_checks: an input holds an array or a list; give one case: one pump, such as "
                "pumps[0], and one line of scalars."
            )
        self.line = line
        self.flow = float(np.nan_to_num(self.op._bounded))
        self.weight = float(water.density(line._water.si)) * GRAVITY
        self.shutoff = float(self.op._shutoff)
        _, z = profile.points(line._arrays)
        self.low = np.minimum(z[:-1], z[1:])
        # a full line at rest stands as high as the highest point still to come
        self.top = np.maximum.accumulate(z[::-1])[::-1][1:]
        self.velocity = self.flow / line._arrays.area
        self.given_rating, self.given_wall = rating, wall

    def where(self, i: int) -> str:
        return f"run {i + 1} ({self.line.runs[i].pipe.name})"

    def rating(self, run: Run) -> float:
        """Pressure (Pa) the pipe is made for: given, or that of its standard; else NaN."""
        if self.given_rating is not None:
            return float(self.given_rating.si)
        size = run.pipe.size
        if size is None or size.schedule in _UNRATED:
            return float("nan")
        return float(surge.pressure_rating(size.od, size.wall_min))

    def wall(self, run: Run) -> float:
        if self.given_wall is not None:
            return float(self.given_wall.si)
        return float("nan") if run.pipe.size is None else run.pipe.size.wall_min


def side_checks(
    pump: Pump,
    line: DischargeLine,
    *,
    ground: str = "sandy loam",
    pressure_class_psi: Any = None,
    pressure_class_kpa: Any = None,
    wall_in: Any = None,
    wall_mm: Any = None,
) -> SideChecks:
    """Check roughly what else a discharge line has to bear.

    Parameters
    ----------
    pump : PumpCurve or bank
    line : DischargeLine
        Both scalar: one case.
    ground : str, default "sandy loam"
        What the water falls on at the outlet, a row of the sourced table.
    pressure_class_psi, pressure_class_kpa : float, optional
        What every pipe is rated for, > 0; by default worked out from a standard pipe's
        least wall. DWV and SDR 35 have no rating: they are not pressure pipe.
    wall_in, wall_mm : float, optional
        Wall of every pipe, > 0; by default a standard pipe's least wall.

    Returns
    -------
    SideChecks

    Raises
    ------
    InputError
        An input holds an array, or the ground is not in the table.

    Notes
    -----
    Water hammer is Joukowsky's ``a V / g`` on top of the standing pressure: the upper
    bound, reached by a stop quicker than 2L/a. The column at rest after ``V L / (g H)``
    with H what pushes it back; a short steep line stops it quickly and may slam a swing
    check valve.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    >>> checks = dp.side_checks(pump, line)
    >>> [c.code for c in checks.to_look_at]
    ['scour']
    """
    rating = u.maybe(
        "pressure_class", guard="positive", psi=pressure_class_psi, kpa=pressure_class_kpa
    )
    wall = u.maybe("wall", guard="positive", **{"in": wall_in, "mm": wall_mm})
    site = _Site(pump, line, rating, wall)
    checks = []
    for i, run in enumerate(line.runs):
        checks += [_hammer(site, i, run), _class(site, i, run), _standing(site, i, run)]
    checks += [_slam(site), _outlet(site, ground)]
    return SideChecks(tuple(checks), site.op)


def _judge(value: float, limit: float) -> str:
    return "no_limit" if np.isnan(limit) else "look" if not value <= limit else "fine"


def _standing_head(site: _Site, i: int) -> float:
    return max(float(site.top[i] - site.low[i]), 0.0)


def _hammer(site: _Site, i: int, run: Run) -> SideCheck:
    wall = site.wall(run)
    speed = float(surge.wave_speed(run.pipe._bore.si, wall, site.weight / GRAVITY))
    head = float(surge.joukowsky_head(speed, site.velocity[i])) + _standing_head(site, i)
    value, limit = head * site.weight, site.rating(run)
    text = (
        "water hammer not known: the wall is not known; give wall_in"
        if np.isnan(wall)
        else f"up to {u.both(value, 'psi')} on a sudden stop (Joukowsky, the upper bound), "
        f"sudden being within {float(surge.return_time(site.line._length, speed)):.2g} s"
    )
    source = "N. Joukowsky, 1898; wave speed: Wylie and Streeter, Fluid Transients, 1993, ch. 1"
    return SideCheck(
        "water_hammer", site.where(i), value, limit, "psi",
        "no_limit" if np.isnan(wall) else _judge(value, limit), text, f"{source} (from memory)",
    )  # fmt: skip


def _class(site: _Site, i: int, run: Run) -> SideCheck:
    # with the outlet shut the pump's shutoff head stands over the pump-off level
    value = max(site.shutoff - float(site.low[i]), 0.0) * site.weight
    limit = site.rating(run)
    text = f"{u.both(value, 'psi')} at shutoff head"
    size = run.pipe.size
    if not np.isnan(limit):
        text += f", the pipe's class {u.both(limit, 'psi')} at 73 °F (fittings and joints apart)"
    elif size is not None and size.schedule in _UNRATED:
        text += f"; {size.schedule} is not pressure pipe and has no class"
    else:
        text += "; the pipe's class is not known"
    verdict = _judge(value, limit)
    if size is not None and size.schedule in _UNRATED and site.given_rating is None:
        verdict = "look"
    source = "ASTM D1785 and D2241, P = 2 S t / (OD - t) (from memory)"
    return SideCheck("pressure_class", site.where(i), value, limit, "psi", verdict, text, source)


def _standing(site: _Site, i: int, run: Run) -> SideCheck:
    value, limit = _standing_head(site, i) * site.weight, site.rating(run)
    held = "the check valve holds" if site.line.check_valve else "were it held"
    return SideCheck(
        "standing_pressure", site.where(i), value, limit, "psi", _judge(value, limit),
        f"{u.both(value, 'psi')} at its lowest point, stopped and full ({held})",
        "weight of the water above",
    )  # fmt: skip


def _slam(site: _Site) -> SideCheck:
    speed = float(np.max(site.velocity))
    # what turns the column back: the lift and, at first, the losses
    back = max(float(np.nan_to_num(site.op._head)), 1e-9)
    value = speed * float(site.line._length) / (GRAVITY * back)
    verdict = "look" if site.line.check_valve and 0 < value < _SLAM else "fine"
    return SideCheck(
        "valve_slam", "check valve", value, _SLAM, "s", verdict,
        f"the column comes to rest in about {value:.2g} s after a stop; under {_SLAM:g} s a swing "
        "check valve may slam: a spring-loaded one closes sooner",
        "rigid column V L / (g H); the limit is common practice, no source",
    )  # fmt: skip


def _outlet(site: _Site, ground: str) -> SideCheck:
    outlet = site.line.outlet
    if isinstance(outlet, GravityHandOff):
        limit = float(outlet._capacity)
        return SideCheck(
            "gravity_pipe", "outlet", site.flow, limit, "gpm", _judge(site.flow, limit),
            f"{u.both(site.flow, 'gpm')} into a gravity pipe that carries {u.both(limit, 'gpm')}",
            "V. T. Chow, Open-Channel Hydraulics, 1959, ch. 6 (Manning)",
        )  # fmt: skip
    rows = {row["ground"]: row for row in read_table("scour_velocity.csv")}
    if ground not in rows:
        raise InputError(f"ground={ground!r}: not in the table; {nearest(ground, list(rows))}")
    row = rows[ground]
    limit = float(u.to_si(float(row["velocity_fps"]), "fps"))
    value = float(site.velocity[-1])
    if isinstance(outlet, PopUpOutlet):
        value = site.flow / float(np.pi * outlet._body.si * outlet._gap.si)
    verdict = _judge(value, limit)
    mend = "; lay stone or a splash block" if verdict == "look" else ""
    return SideCheck(
        "scour", "outlet", value, limit, "fps", verdict,
        f"the water leaves at {u.both(value, 'fps')}, {ground} stands {u.both(limit, 'fps')}{mend}",
        f"{row['source']} ({row['certainty']})",
    )  # fmt: skip
