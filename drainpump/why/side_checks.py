"""Side checks, all rough: water hammer, pressure class, standing pressure, scour, hand-off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.findings import Finding, Verdict, at_most, findings_table, found
from drainpump.foreign import is_among, nearest
from drainpump.parts.line import profile
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.outlet import PopUpOutlet
from drainpump.parts.pump.bank import PumpBank
from drainpump.parts.scalars import fact
from drainpump.physics import surge, system, water
from drainpump.physics.constants import GRAVITY
from drainpump.physics.tables import read_table
from drainpump.results import caveats_of, html_notes, html_table
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import OperatingPoint
from drainpump.units import FloatArray, Measure

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.line.run import Run
    from drainpump.parts.pump.bank import Pump

#: a column that comes to rest within this time (s) may slam the check valve; common
#: practice, no source
_SLAM = 1.0
#: points and weights (Gauss) between no flow and the pump's, over which a column slows
_NODES = np.polynomial.legendre.leggauss(16)
#: each check's unit, source and words, by its code
_CHECKS = {row["code"]: row for row in read_table("side_checks.csv")}
#: pipes made for drainage without pressure, by schedule
_UNRATED = ("DWV", "SDR 35")


@dataclass(frozen=True, eq=False)
class SideChecks:
    """All side checks of one pump on one line.

    Attributes
    ----------
    checks : tuple of Finding
        In order: by run, then the outlet. Codes: ``water_hammer``, ``pressure_class``,
        ``standing_pressure``, ``valve_slam``, and ``scour`` or ``gravity_pipe``.
    operating : OperatingPoint
        The operating point they rest on.
    caution : str
        What they are not.
    """

    checks: tuple[Finding, ...]
    operating: OperatingPoint

    caution = (
        "These checks are rough: they say where to look, not that a pipe is safe. A pressure "
        "test and the local code decide."
    )

    @property
    def to_look_at(self) -> tuple[Finding, ...]:
        """The checks whose number is outside its limit."""
        return tuple(c for c in self.checks if c.verdict == "look")

    def of(self, code: str) -> tuple[Finding, ...]:
        """The checks of one code."""
        known = list(dict.fromkeys(c.code for c in self.checks))
        if code not in known:
            raise InputError(f"code={code!r}: not among these checks; {nearest(code, known)}")
        return tuple(c for c in self.checks if c.code == code)

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per check; value and limit are in the row's own unit."""
        return findings_table(self.checks, units)

    @property
    def _cautions(self) -> tuple[str, ...]:
        return (self.caution, *caveats_of(self.operating.si.grid.pumps))

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, one mapping a check."""
        return {"checks": [check.to_dict() for check in self.checks], "cautions": [*self._cautions]}

    def _repr_html_(self) -> str:
        return html_table(self.to_frame()) + html_notes(self._cautions)

    def __repr__(self) -> str:
        lines = [f"{c.verdict.replace('_', ' '):9} {c.where}: {c}" for c in self.checks]
        return "\n".join(["SideChecks (rough)", *lines, *self._cautions])


@dataclass(frozen=True)
class _Stretch:
    """A run of the line or a riser of a bank, and what stands in it (SI)."""

    where: str
    run: Run
    velocity: float
    low: float  # its lowest point above the pump-off level
    top: float  # so high stands a full line at rest: the highest point to come, or tail water

    @property
    def standing(self) -> float:
        return max(self.top - self.low, 0.0)


class _Bears:
    """What one line has to bear under one pump, as several checks ask it (SI)."""

    def __init__(
        self, pump: Pump, line: DischargeLine, rating: Measure | None, wall: Measure | None
    ) -> None:
        self.op = one_case("side_checks", pump, line)
        self.line = line
        self.flow = float(self.op.si.reckoned)
        # the head with it, which is not known where the flow is only bounded
        runs = self.op.at_flow(self.op.si.reckoned)
        self.head = float(runs.si.head)
        self.weight = float(water.density(line.si.water)) * GRAVITY
        self.shutoff, self.peak = float(self.op.si.shutoff), float(self.op.si.peak)
        self.velocity = self.flow / line.si.arrays.area
        self.stretches = self._stretches(pump, runs.si.shares[0].flow[:, 0])
        self.given_rating, self.given_wall = rating, wall

    def _stretches(self, pump: Pump, shares: FloatArray) -> list[_Stretch]:
        """The risers of a bank, each with its pump's flow, and the line's runs behind them."""
        risers = pump.risers if isinstance(pump, PumpBank) else ()
        start = float(self.op.si.grid.starts(pump)[0])
        _, z = profile.points(self.line.si.arrays)
        z = z + start
        # at rest the tail water over the outlet stands in the line as well
        surface = z.copy()
        surface[-1] = surface[-1] + self.line.si.arrays.tail
        top = np.maximum.accumulate(surface[::-1])[::-1]
        found = [
            _Stretch(
                f"riser {i} ({riser.name or riser.pipe.name})", riser,
                float(flow / (0.25 * np.pi * riser.pipe.si.bore**2)), min(0.0, start),
                float(top[0]),
            )
            for i, (riser, flow) in enumerate(zip(risers, shares, strict=False), 1)
            if riser is not None
        ]  # fmt: skip
        lows = np.minimum(z[:-1], z[1:])
        for i, run in enumerate(self.line.runs):
            where = f"run {i + 1} ({run.pipe.name})"
            speed, low, high = (float(a[i]) for a in (self.velocity, lows, top[1:]))
            found.append(_Stretch(where, run, speed, low, high))
        return found

    def judged(self, value: float, limit: float, *, most: bool = True) -> Verdict:
        """Judge a number that rises with the flow, which may be no more than a bound."""
        code = self.op.si.code
        more, less = states.may_be_more(code), states.may_be_less(code)
        broken, open_ = (states.over if most else states.under)(value, limit, more, less)
        return "not_known" if open_ or np.isnan(limit) else "look" if broken else "fine"

    def rest_time(self) -> float:
        """Time (s) in which what runs back comes to rest once the pump's head is gone.

        The rigid column is slowed by the head the line asks: ``sum(L / A) dQ/dt = -g H(Q)``,
        of a vented line over what stands before its highest point, of one that siphons or
        ends under the highest water over all.
        """
        line = self.line.si.arrays
        height, share = float(line.end[-1] + line.tail), np.ones(line.end.shape)
        top = max(float(line.end.max()), 0.0)
        if not self.line.siphon and not (line.tail > 0 and height >= top):
            height, share = top, profile.returning_share(line)
        if not height > 0:
            return np.inf
        flow, weight = 0.5 * self.flow * (1 + _NODES[0]), 0.5 * self.flow * _NODES[1]
        slowed = float((weight / system.head(flow, line.aligned(1))).sum())
        return float((share * line.length / line.area).sum()) * slowed / GRAVITY

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
    pressure_class_psi: u.Quantity | None = None,
    pressure_class_kpa: u.Quantity | None = None,
    wall_in: u.Quantity | None = None,
    wall_mm: u.Quantity | None = None,
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
    The standing pressure is that of the highest point still to come, or of the tail water
    over a submerged outlet. Water hammer is Joukowsky's ``a V / g`` on top of it: the upper
    bound, reached by a stop quicker than 2L/a. What runs back comes to rest as a rigid column
    under the head that the line asks at each flow, ``sum(L / A) dQ/dt = -g H(Q)``; a short
    steep line stops it quickly and may slam a swing check valve. That time errs on the short,
    the safe side: the pump is taken to stop at once, and what stands in a bank's risers to
    weigh nothing.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    >>> checks = dp.side_checks(pump, line)
    >>> [c.code for c in checks.to_look_at]
    ['scour']
    """
    rating = fact("pressure_class", "positive", psi=pressure_class_psi, kpa=pressure_class_kpa)
    wall = fact("wall", "positive", **u.inches(wall_in, wall_mm))
    if wall is not None and wall.si < 1e-5:
        name = f"wall_{wall.unit}"
        raise wrong(name, wall.typed, "must be thicker than a film", "give the pipe's wall")
    bears = _Bears(pump, line, rating, wall)
    checks = []
    for one in bears.stretches:
        checks += [_hammer(bears, one), _class(bears, one), _standing(bears, one)]
    checks += [_slam(bears), _outlet(bears, ground)]
    return SideChecks(tuple(checks), bears.op)


def _found(
    code: str, where: str, value: float, limit: float, verdict: Verdict, *, instead: str = "",
    mend: str = "", source: str = "", **said: str,
) -> Finding:  # fmt: skip
    """One check in its table's words, or in those that stand ``instead``."""
    row = _CHECKS[code]
    numbers = dict(zip(("value", "limit"), u.apart(value, limit, row["unit"]), strict=True))
    return found(
        value, limit, row["unit"], code=code, where=where, verdict=verdict, mend=mend,
        text=instead or row["text"].format(**numbers | said), source=source or row["source"],
    )  # fmt: skip


def _hammer(bears: _Bears, one: _Stretch) -> Finding:
    run, wall = one.run, bears.wall(one.run)
    speed = float(surge.wave_speed(run.pipe.si.bore, wall, bears.weight / GRAVITY))
    head = float(surge.joukowsky_head(speed, one.velocity)) + one.standing
    value, limit = head * bears.weight, bears.rating(run)
    unknown = np.isnan(wall)
    return _found(
        "water_hammer", one.where, value, limit, bears.judged(value, limit),
        instead="water hammer not known: the wall is not known" if unknown else "",
        mend="give wall_in" if unknown else "",
        soon=f"{surge.return_time(bears.line.si.length, speed):.2g}",
    )  # fmt: skip


def _class(bears: _Bears, one: _Stretch) -> Finding:
    # with the outlet all but shut the pump's highest head stands over the pump-off level
    value = max(bears.peak - one.low, 0.0) * bears.weight
    limit, size = bears.rating(one.run), one.run.pipe.size
    verdict, rated = at_most(value, limit), "; the pipe's class is not known"
    if not np.isnan(limit):
        rated = f", the pipe's class {u.both(limit, 'psi')} at 73 °F (fittings and joints apart)"
    elif size is not None and size.schedule in _UNRATED:
        rated = f"; {size.schedule} is not pressure pipe and has no class"
        verdict = "look"
    not_known = "the pressure at shutoff is not known: the curve has no point at no flow"
    droops = bears.peak > bears.shutoff
    return _found(
        "pressure_class", one.where, value, limit, verdict,
        instead=not_known + rated if np.isnan(value) else "",
        at="the curve's highest head" if droops else "shutoff head", rated=rated,
    )  # fmt: skip


def _standing(bears: _Bears, one: _Stretch) -> Finding:
    value, limit = one.standing * bears.weight, bears.rating(one.run)
    held = "the check valve holds" if bears.line.check_valve else "were it held"
    verdict = at_most(value, limit)
    return _found("standing_pressure", one.where, value, limit, verdict, held=held)


def _slam(bears: _Bears) -> Finding:
    value, status = bears.rest_time(), str(bears.op.status)
    verdict, instead, unless = bears.judged(value, _SLAM, most=False), "", ""
    if not bears.line.check_valve or bears.flow == 0:
        verdict = "fine"
    elif np.isinf(value):
        instead = "nothing stands above the pit that could turn the column back"
        verdict = "fine"
    elif status != "ok":
        # the flow is a bound, and so is the time
        unless = f"not known: the flow is not ({status}); "
        verdict = "look" if verdict == "look" else "not_known"
    return _found(
        "valve_slam", "check valve", value, _SLAM, verdict, instead=instead, unless=unless,
        rest=f"{value:.2g}", least=f"{_SLAM:g}",
    )  # fmt: skip


def _outlet(bears: _Bears, ground: str) -> Finding:
    outlet = bears.line.outlet
    if isinstance(outlet, GravityHandOff):
        limit = float(outlet.si.capacity)
        verdict = bears.judged(bears.flow, limit)
        return _found("gravity_pipe", "outlet", bears.flow, limit, verdict)
    rows = {row["ground"]: row for row in read_table("scour_velocity.csv")}
    if not is_among(ground, rows):
        raise InputError(f"ground={ground!r}: not in the table; {nearest(ground, list(rows))}")
    row = rows[ground]
    limit = float(u.to_si(float(row["velocity_fps"]), "fps"))
    value = float(bears.velocity[-1])
    if isinstance(outlet, PopUpOutlet):
        value = bears.flow / float(np.pi * outlet.si.body * outlet.si.gap)
    verdict = bears.judged(value, limit)
    return _found(
        "scour", "outlet", value, limit, verdict, ground=ground,
        mend="lay stone or a splash block" if verdict == "look" else "",
        source=f"{row['source']} ({row['certainty']})",
    )  # fmt: skip
