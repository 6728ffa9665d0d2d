"""What a lesson's problem is made of: drawn numbers, questions, worked steps, answers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.parts.line.straight import straight_line
from drainpump.parts.pit import Pit
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import water
from drainpump.physics.constants import GRAVITY
from drainpump.solve.operating_point import operating_point
from drainpump.units import Measure

__all__ = ["TOLERANCE", "Draft", "Draw", "Step", "area_of", "with_ruler"]

_INCH, _LB_PER_FT3 = 0.0254, 0.45359237 / 0.3048**3

#: places of our own invention
_PLACES = (
    "a school yard", "a market garden", "a railway cutting", "a bakery's loading bay",
    "a riding ring", "an orchard's packing shed", "a village bowling green",
    "a boat builder's slip", "a nursery's glasshouse", "a joiner's timber yard",
)  # fmt: skip
#: shape of the invented pump curves: shares of the last flow, and of the shutoff head there
_FLOWS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
_HEADS = (1.0, 0.96, 0.85, 0.66, 0.39, 0.05)


#: share within which an answer is right: three digits carried along, and a curve read by eye
TOLERANCE = 0.02
#: a straight line between two points of a curve, in so many pieces
_PIECES = 40


class Step(NamedTuple):
    """One step of a worked answer: what is done, by which formula, with which numbers.

    ``question`` is the number of the question it answers.
    """

    words: str
    formula: str
    result: str
    question: int


@dataclass
class Draft:
    """A problem while it is being written."""

    story: str
    given: list[str] = field(default_factory=list)
    table: list[tuple[str, ...]] = field(default_factory=list)  # its head first
    questions: list[str] = field(default_factory=list)
    steps: list[Step] = field(default_factory=list)
    answers: dict[str, float | str] = field(default_factory=dict)
    accepted: dict[str, tuple[float, float]] = field(default_factory=dict)

    def step(self, words: str, formula: str, result: str, *, more: bool = False) -> None:
        """Add a step: it answers the next question, or ``more`` of the last one."""
        last = self.steps[-1].question if self.steps else 0
        self.steps.append(Step(words, formula, result, last if more else last + 1))

    def verdict(self, name: str, words: str) -> str:
        """Keep an answer that is words."""
        self.answers[name] = words
        return words


class Draw:
    """Draws round numbers that a yard might have, and says quantities in one unit system."""

    def __init__(self, lesson: int, seed: int, units: u.System) -> None:
        self.rng = np.random.default_rng([lesson, seed])
        self.units, self.us = units, units == "us"
        #: the water, round in the unit system in use
        self.cold: dict[str, Any] = {"water_f": 60} if self.us else {"water_c": 15}

    def place(self) -> str:
        """Return a place of our own invention."""
        return str(self.rng.choice(_PLACES))

    def of(self, *choices: Any) -> Any:
        """Return one of the choices."""
        return choices[int(self.rng.integers(len(choices)))]

    def measure(
        self,
        us: tuple[str, float, float, float],
        metric: tuple[str, float, float, float],
    ) -> Measure:
        """Draw from (unit, least, most, step) of the unit system in use."""
        unit, least, most, step = us if self.us else metric
        count = round((most - least) / step)
        typed = round(least + step * int(self.rng.integers(count + 1)), 6)
        return Measure(u.frozen(u.to_si(typed, unit)), unit, typed)

    def unit(self, us: str) -> str:
        """Return the unit of the system in use, from its US one."""
        return us if self.us else u.UNITS[us].twin

    def say(self, si: Any, us: str) -> str:
        """Print a quantity in the system in use."""
        return u.text(np.asarray(si), self.unit(us))

    def bare(self, si: Any, us: str) -> str:
        """Print a quantity in the system in use without its unit, to be reckoned with."""
        return u.number(float(u.from_si(si, self.unit(us))))

    def answer(self, draft: Draft, stem: str, si: Any, us: str, ruler: Any = None) -> str:
        """Keep an answer under its name and unit; return it in words.

        ``ruler`` is what straight lines between the points give, where a curve is read.
        """
        unit = self.unit(us)
        readings = [float(u.from_si(x, unit)) for x in (si, ruler) if x is not None]
        name = f"{stem}_{unit}"
        draft.answers[name] = readings[0]
        draft.accepted[name] = (
            (1 - TOLERANCE) * min(readings),
            (1 + TOLERANCE) * max(readings),
        )
        if ruler is None:
            return self.say(si, us)
        return f"by straight lines {self.say(ruler, us)}, by the smooth curve {self.say(si, us)}"

    # -- things of the yard

    def pump(self, name: str = "the pump") -> PumpCurve:
        """Draw an invented pump of six points, in round numbers."""
        most = self.measure(("gpm", 45, 80, 5), ("lps", 3, 5, 0.25))
        head = self.measure(("ft", 20, 36, 2), ("m", 6, 11, 0.5))
        flow = np.round(np.array(_FLOWS) * most.typed, 2)
        heads = np.round(np.array(_HEADS) * head.typed, 1 if self.us else 2)
        given = {f"flow_{most.unit}": flow, f"head_{head.unit}": heads}
        return PumpCurve(name=name, invented=True, **given)

    def curve_table(self, pump: PumpCurve) -> list[tuple[str, ...]]:
        """Return the pump's points as rows, units in the head."""
        flow, head = self.unit("gpm"), self.unit("ft")
        rows = zip(
            np.asarray(u.from_si(pump.si.flow, flow)),
            np.asarray(u.from_si(pump.si.head, head)),
            strict=True,
        )
        title = (f"flow ({u.UNITS[flow].label})", f"head ({u.UNITS[head].label})")
        return [title, *((u.number(float(a)), u.number(float(b))) for a, b in rows)]

    def lift(self) -> Measure:
        """Draw a static lift."""
        return self.measure(("ft", 4, 11, 0.5), ("m", 1.2, 3.4, 0.1))

    def length(self) -> Measure:
        """Draw the length of a discharge line."""
        return self.measure(("ft", 60, 240, 10), ("m", 20, 75, 5))

    def pipe(self) -> Pipe:
        """Draw a pipe."""
        return pvc(self.of("1-1/4", "1-1/2", "2"))

    def line(self, pipe: Pipe, lift: Measure, length: Measure, k: float) -> DischargeLine:
        """Return a plain line; its name is of no account."""
        return straight_line(
            pipe=pipe, k=k, **length.spelled("length"), **lift.spelled("lift"), **self.cold
        )

    def pit(self) -> Pit:
        """Draw a round pit with its floats."""
        diameter = self.measure(("in", 18, 36, 6), ("mm", 450, 900, 150))
        off = self.measure(("in", 4, 8, 1), ("mm", 100, 200, 25))
        travel = self.measure(("in", 6, 14, 1), ("mm", 150, 350, 25))
        on = Measure(u.frozen(off.si + travel.si), off.unit, off.typed + travel.typed)
        depth = Measure(u.frozen(on.si * 2), on.unit, on.typed * 2)
        sizes = {"diameter": diameter, "off": off, "on": on, "depth": depth}
        given: dict[str, Any] = {}
        for name, size in sizes.items():
            given |= size.spelled(name)
        return Pit(**given)

    def working(self, least: float = 0.3) -> tuple[PumpCurve, DischargeLine, list[str]]:
        """Draw a pump and a line that agree well inside the pump's data, and what is given."""
        while True:
            pump, pipe = self.pump(), self.pipe()
            lift, length, k = self.lift(), self.length(), float(self.of(3, 4, 5, 6, 7))
            line = self.line(pipe, lift, length, k)
            op = operating_point(pump, line)
            if op.ok and least < op.range_share < 0.85:
                return pump, line, [self.described(line, length, k), self.wet(line)]

    def described(self, line: DischargeLine, length: Measure, k: float) -> str:
        """Say a plain line in words."""
        return (
            f"{self.say(length.si, 'ft')} of {self.wall(line.runs[0].pipe)}, lift "
            f"{self.say(line.si.lift, 'ft')}, fittings K {k:g} in all, open outlet (its exit "
            "takes K 1 more)"
        )

    def wall(self, pipe: Pipe) -> str:
        """Say what of a pipe the water feels."""
        return (
            f"{pipe.name} (true bore {self.say(pipe.si.bore, 'in')}, roughness "
            f"{self.say(pipe.si.roughness, 'ft')})"
        )

    def density(self, si: float) -> str:
        """Print a density without its unit: lb/ft³ or kg/m³."""
        return u.number(si / _LB_PER_FT3 if self.us else si)

    def viscosity(self, si: float) -> str:
        """Print a kinematic viscosity without its unit: ft²/s or m²/s."""
        return f"{si / 0.3048**2 if self.us else si:.3g}"

    def wet(self, line: DischargeLine) -> str:
        """Say what of the water counts."""
        celsius = line.si.water
        heavy, thick = ("lb/ft³", "ft²/s") if self.us else ("kg/m³", "m²/s")
        return (
            f"water at {self.say(celsius, 'f')}: density "
            f"{self.density(float(water.density(celsius)))} {heavy}, kinematic viscosity "
            f"{self.viscosity(float(line.si.arrays.viscosity))} {thick}; g = "
            f"{self.bare(GRAVITY, 'ft')} {self.unit('ft')}/s²"
        )

    def flow_in_base(self, flow: float) -> tuple[str, str]:
        """Return how a flow becomes a volume a second of the bore's units: formula, numbers."""
        if self.us:
            per_s = u.number(float(u.from_si(flow, "gpm")) * 231 / 60)
            return "Q * 231 in³/gal / 60 s", f"{self.bare(flow, 'gpm')} × 231 / 60 = {per_s} in³/s"
        return "Q / 1000 L/m³", f"{self.bare(flow, 'gpm')} / 1000 = {u.number(flow)} m³/s"

    def velocity(
        self, draft: Draft, flow: float, bore: float, *, more: bool, stem: str = "velocity"
    ) -> float:
        """Work out the velocity (m/s) in a bore, step by step."""
        speed = flow / area_of(bore)
        formula, numbers = self.flow_in_base(flow)
        draft.step("Bring the flow to the units of the bore.", formula, numbers, more=more)
        unit, per_s = ("in", 1 / _INCH) if self.us else ("m", 1.0)
        wide, area = u.number(bore * per_s), u.number(area_of(bore) * per_s**2)
        draft.step(
            "The true bore sets the area.", "A = pi/4 * D^2",
            f"0.7854 × {wide}² = {area} {unit}²", more=True,
        )  # fmt: skip
        feet = f"{u.number(speed * per_s)} in/s / 12 = " if self.us else ""
        said = self.answer(draft, stem, speed, "fps")
        draft.step("Velocity is flow over area.", "V = Q / A",
                   f"{numbers.split(' = ')[1].split()[0]} / {area} = {feet}{said}",
                   more=True)  # fmt: skip
        return speed


def area_of(bore: float) -> float:
    """Area (m²) of a round bore (m)."""
    return float(0.25 * np.pi * bore**2)


def with_ruler(pump: PumpCurve) -> list[PumpCurve]:
    """Return a pump by its smooth curve, and by straight lines between its points."""
    at, flow = np.arange(pump.si.flow.size), pump.si.flow
    fine = np.interp(np.linspace(0, at[-1], at[-1] * _PIECES + 1), at, flow)
    heads = np.interp(fine, flow, pump.si.head)
    return [pump, PumpCurve(name="by the ruler", flow_lps=fine * 1e3, head_m=heads)]
