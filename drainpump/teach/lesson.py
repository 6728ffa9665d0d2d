"""What a lesson's problem is made of: sampled numbers, questions, worked steps, answers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.parts.line.line import DischargeLine, straight_line
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.parts.pit import Pit
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import water
from drainpump.physics.constants import GRAVITY
from drainpump.solve.operating_point import operating_point
from drainpump.units import Measure

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
EITHER = f"either is right, within ±{100 * TOLERANCE:g} %"
POINTS = "the pump's points, in the table"
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


class Draft:
    """A problem while it is being written: what is given, questions, and the steps below each.

    ``page`` is the story on its first line, and on each further line a thing that is given.
    """

    def __init__(self, sample: Sample, page: str) -> None:
        self.sample = sample
        self.story, *self.given = _lines(page)
        #: rows, their heads first
        self.table: list[tuple[str, ...]] = []
        self.questions: list[str] = []
        self.steps: list[Step] = []
        self.answers: dict[str, float | str] = {}
        self.accepted: dict[str, tuple[float, float]] = {}

    def show(self, pump: PumpCurve) -> None:
        """Give a pump's points as the table."""
        units = [self.sample.unit(us) for us in ("gpm", "ft")]
        flow, head = self.sample.bare("gpm", "ft")
        names = (f"{w} ({u.UNITS[x].label})" for w, x in zip(("flow", "head"), units, strict=True))
        points = zip(pump.si.flow, pump.si.head, strict=True)
        self.table = [tuple(names), *((flow(q), head(h)) for q, h in points)]

    def ask(self, page: str) -> None:
        """Ask what stands on a page's first line; below it, three lines each, the steps."""
        question, *worked = _lines(page)
        self.questions.append(question)
        steps = zip(worked[::3], worked[1::3], worked[2::3], strict=True)
        self.steps += [Step(*said, question=len(self.questions)) for said in steps]

    def verdict(self, name: str, words: str) -> str:
        """Keep an answer that is words."""
        self.answers[name] = words
        return words

    def answer(self, stem: str, si: Any, us: str, *ends: float) -> str:
        """Keep an answer under its name and unit ("" without one); return it in words.

        Two readings are what the smooth curve gives, and straight lines between its points.
        """
        self.keep(stem, si, us, *ends)
        smooth, *ruled = (self.sample.say(x, us) if us else u.carried(x) for x in np.ravel(si))
        return f"by straight lines {ruled[0]}, by the smooth curve {smooth}" if ruled else smooth

    def keep(self, stem: str, si: Any, us: str, *ends: float) -> None:
        """Keep an answer: right are its readings and what is near them, and other ``ends``."""
        unit = self.sample.unit(us) if us else ""
        name = f"{stem}_{unit}" if us else stem
        near = [(1 + side) * x for x in np.ravel(si) for side in (0, -TOLERANCE, TOLERANCE)]
        shown = [float(u.from_si(x, unit)) if us else float(x) for x in (*near, *ends)]
        self.answers[name], self.accepted[name] = shown[0], (min(shown), max(shown))

    def velocity(self, flow: Any, bore: float, stem: str = "velocity") -> tuple[float, str]:
        """Work out the velocity (m/s) of a flow, in one or two readings: it, and the steps."""
        us, speeds = self.sample.us, np.ravel(flow) / area_of(bore)
        self.keep(stem, speeds, "fps")
        (gpm,), rate, speed = self.sample.bare("gpm"), float(np.ravel(flow)[0]), float(speeds[0])
        unit, si = ("in", _INCH) if us else ("m", 1.0)
        wide, area, per_s = (
            u.carried(round(x, 12)) for x in (bore / si, area_of(bore) / si**2, rate / si**3)
        )
        formula, times = (
            (" * 231 in³/gal / 60 s", "× 231 / 60") if us else (" / 1000 L/m³", "/ 1000")
        )
        feet = f"{u.carried(speed / si)} in/s / 12 = " if us else ""
        return (
            speed,
            f"""
        Bring the flow to the units of the bore.
        Q{formula}
        {gpm(rate)} {times} = {per_s} {unit}³/s

        The true bore sets the area.
        A = pi/4 * D^2
        0.7854 × {wide}² = {area} {unit}²

        Velocity is flow over area.
        V = Q / A
        {per_s} / {area} = {feet}{self.sample.say(speed, "fps")}""",
        )


def _lines(page: str) -> list[str]:
    """The lines of a page that say something; those behind a backslash are one."""
    return [" ".join(line.split()) for line in page.splitlines() if line.strip()]


class Sample:
    """Samples round numbers that a yard might have, and says quantities in one unit system."""

    def __init__(self, lesson: int, seed: int, units: u.System) -> None:
        self.rng = np.random.default_rng([lesson, seed])
        self.units, self.us = units, units == "us"
        #: what brings a level to the unit of a lift
        self.small, self.per = ("12", "in/ft") if self.us else ("1000", "mm/m")
        #: the water, round in the unit system in use
        self.cold: dict[str, Any] = {"water_f": 60} if self.us else {"water_c": 15}

    def draft(self, page: str) -> Draft:
        """Begin a problem, see `Draft`."""
        return Draft(self, page)

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
        """Sample from (unit, least, most, step) of the unit system in use."""
        unit, least, most, step = us if self.us else metric
        count = round((most - least) / step)
        typed = round(least + step * int(self.rng.integers(count + 1)), 6)
        return Measure(u.frozen(u.to_si(typed, unit)), unit, typed)

    def unit(self, us: str) -> str:
        """Return the unit of the system in use, from its US one."""
        return us if self.us else u.UNITS[us].twin

    def say(self, si: Any, us: str) -> str:
        """Print a quantity in the system in use."""
        return u.text(np.asarray(si), self.unit(us), u.carried)

    def bare(self, *us: str) -> tuple[Callable[[Any], str], ...]:
        """Return, for each unit, what prints a quantity without it, to be reckoned with."""

        def printer(unit: str) -> Callable[[Any], str]:
            return lambda si: u.carried(float(u.from_si(si, unit)))

        return tuple(printer(self.unit(unit)) for unit in us)

    # -- things of the yard

    def pump(self, name: str = "the pump") -> PumpCurve:
        """Sample an invented pump of six points, in round numbers."""
        most = self.measure(("gpm", 45, 80, 5), ("lps", 3, 5, 0.25))
        head = self.measure(("ft", 20, 36, 2), ("m", 6, 11, 0.5))
        flow = np.round(np.array(_FLOWS) * most.typed, 2)
        heads = np.round(np.array(_HEADS) * head.typed, 1 if self.us else 2)
        given = {f"flow_{most.unit}": flow, f"head_{head.unit}": heads}
        return PumpCurve(name=name, invented=True, **given)

    def lift(self) -> Measure:
        """Sample a static lift."""
        return self.measure(("ft", 4, 11, 0.5), ("m", 1.2, 3.4, 0.1))

    def length(self) -> Measure:
        """Sample the length of a discharge line."""
        return self.measure(("ft", 60, 240, 10), ("m", 20, 75, 5))

    def pipe(self) -> Pipe:
        """Sample a pipe."""
        return pvc(self.of("1-1/4", "1-1/2", "2"))

    def line(self, pipe: Pipe, lift: Measure, length: Measure, k: float) -> DischargeLine:
        """Return a plain line; its name is of no account."""
        return straight_line(
            pipe=pipe, k=k, **length.spelled("length"), **lift.spelled("lift"), **self.cold
        )

    def pit(self) -> Pit:
        """Sample a round pit with its floats."""
        diameter = self.measure(("in", 18, 36, 6), ("mm", 450, 900, 150))
        off = self.measure(("in", 4, 8, 1), ("mm", 100, 200, 25)).typed
        on = off + self.measure(("in", 6, 14, 1), ("mm", 150, 350, 25)).typed
        levels = {"off": off, "on": on, "depth": 2 * on}
        given = {f"{name}_{diameter.unit}": level for name, level in levels.items()}
        return Pit(**diameter.spelled("diameter"), **given)

    def working(self, least: float = 0.3) -> tuple[PumpCurve, DischargeLine, str]:
        """Sample a pump and a line that agree well inside the pump's data, and what is given."""
        while True:
            pump, pipe = self.pump(), self.pipe()
            lift, length, k = self.lift(), self.length(), float(self.of(3, 4, 5, 6, 7))
            line = self.line(pipe, lift, length, k)
            op = operating_point(pump, line)
            if op.ok and least < op.range_share < 0.85:
                return pump, line, f"{self.described(line, length, k)}\n{self.wet(line)}"

    def described(self, line: DischargeLine, length: Measure, k: float) -> str:
        """Say a plain line in words."""
        return (
            f"{self.say(length.si, 'ft')} of {self.wall(line.runs[0].pipe)}, lift "
            f"{self.say(line.si.lift, 'ft')}, fittings of K {k:g} together, open outlet (its exit "
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
        return u.carried(si / _LB_PER_FT3 if self.us else si)

    def viscosity(self, si: float) -> str:
        """Print a kinematic viscosity without its unit: ft²/s or m²/s."""
        return f"{si / 0.3048**2 if self.us else si:.3g}"

    def falls(self) -> str:
        """Say the acceleration of gravity."""
        return f"g = {self.bare('ft')[0](GRAVITY)} {self.unit('ft')}/s²"

    def wet(self, line: DischargeLine) -> str:
        """Say what of the water counts."""
        celsius = line.si.water
        heavy, thick = ("lb/ft³", "ft²/s") if self.us else ("kg/m³", "m²/s")
        return (
            f"water at {self.say(celsius, 'f')}: density "
            f"{self.density(float(water.density(celsius)))} {heavy}, kinematic viscosity "
            f"{self.viscosity(float(line.si.arrays.viscosity))} {thick}; {self.falls()}"
        )


def area_of(bore: float) -> float:
    """Area (m²) of a round bore (m)."""
    return float(0.25 * np.pi * bore**2)


def with_ruler(pump: PumpCurve) -> list[PumpCurve]:
    """Return a pump by its smooth curve, and by straight lines between its points."""
    at, flow = np.arange(pump.si.flow.size), pump.si.flow
    fine = np.interp(np.linspace(0, at[-1], at[-1] * _PIECES + 1), at, flow)
    heads = np.interp(fine, flow, pump.si.head)
    return [pump, PumpCurve(name="by the ruler", flow_lps=fine * 1e3, head_m=heads)]
