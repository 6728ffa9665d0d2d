"""What a lesson's problem is made of: sampled numbers, and the words they are filled into."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from string import Formatter
from typing import Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.data_files import texts
from drainpump.parts.line.line import DischargeLine, straight_line
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.parts.pit import Pit
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import water
from drainpump.physics.constants import GRAVITY
from drainpump.solve.operating_point import operating_point
from drainpump.units import Measure

#: what sheets say, by lesson; how numbers stand in it is said at its head
TEXTS: Mapping[str, Any] = texts("teach", "lessons.toml")
#: and what several of them say
WORDS: Mapping[str, str] = TEXTS["words"]
#: share within which an answer is right: three digits carried along, and a curve read by eye
TOLERANCE = 0.02

_INCH, _LB_PER_FT3 = 0.0254, 0.45359237 / 0.3048**3
#: shape of the invented pump curves: shares of the last flow, and of the shutoff head there
_FLOWS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
_HEADS = (1.0, 0.96, 0.85, 0.66, 0.39, 0.05)
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


class Hangs(NamedTuple):
    """An answer (SI) that hangs on another; ``ends`` are what right values of that lead to."""

    readings: Any
    ends: Any


class Draft:
    """A problem: what is given, questions, the steps below each, and the answers.

    Parameters
    ----------
    yard : Yard
        Whose unit system it is said in.
    text : mapping
        The lesson's part of `TEXTS`.
    values : dict
        What the text names: quantities in SI, in one reading or two, numbers and words;
        ``table`` holds rows, their heads first.
    """

    def __init__(self, yard: Yard, text: Mapping[str, Any], values: dict[str, Any]) -> None:
        self._yard = yard
        given: dict[str, Any] = {"place": yard.place(), "small": yard.small, "per": yard.per}
        given |= {"tolerance": 100 * TOLERANCE, "twice_g": 2 * GRAVITY}
        self._values = given | values
        self.table: list[tuple[str, ...]] = values.get("table", [])
        self.answers: dict[str, float | str] = {}
        self.accepted: dict[str, tuple[float, float]] = {}
        self.story, *self.given = self._page(text["problem"])
        self.questions: list[str] = []
        self.steps: list[Step] = []
        for asked in text["asked"]:
            self.questions += self._page(asked["question"])
            worked = self._page(asked["steps"])
            steps = zip(worked[::3], worked[1::3], worked[2::3], strict=True)
            self.steps += [Step(*said, question=len(self.questions)) for said in steps]

    def _page(self, page: str) -> list[str]:
        """The lines of a page that are said in this unit system, filled in."""
        return [filled(line, self._field) for line in _lines(page, self._yard.units)]

    def _field(self, name: str, us: str, kept: str | None) -> str:
        """Say a field of the text, and keep what is an answer.

        Two readings are what the smooth curve gives, and straight lines between its points:
        right is either, what is near it, and what any right value of another answer leads to.
        """
        value = self._values[name]
        if kept is None:
            return self._yard.said(value, us)
        if kept == "v":
            self.answers[name] = value
            return str(value)
        readings, ends = value if isinstance(value, Hangs) else Hangs(value, ())
        unit = self._yard.unit(us) if us else ""
        near = [(1 + off) * x for x in np.ravel(readings) for off in (0, -TOLERANCE, TOLERANCE)]
        shown = [float(u.from_si(x, unit) if us else x) for x in (*near, *np.ravel(ends))]
        name = f"{name}_{unit}" if us else name
        self.answers[name], self.accepted[name] = shown[0], (min(shown), max(shown))
        smooth, *ruled = (self._yard.said(x, us) for x in np.ravel(readings))
        if kept == "a" and ruled:
            return f"by straight lines {ruled[0]}, by the smooth curve {smooth}"
        return smooth


def filled(text: str, field: Callable[[str, str, str | None], str]) -> str:
    """Fill in a text; ``field`` says one of its fields by name, specification and conversion."""
    return "".join(
        words + ("" if name is None else field(name, spec or "", kept))
        for words, name, spec, kept in Formatter().parse(text)
    )


def _lines(page: str, units: u.System, prefix: str = "") -> list[str]:
    """The lines of a page that say something in a unit system, those of its ``use:`` put in."""
    found = []
    for line in (" ".join(x.split()) for x in page.splitlines() if x.strip()):
        word, _, rest = line.partition(": ")
        if word == "use":
            name, *begins = rest.split()
            found += _lines(TEXTS["steps"][name], units, "".join(begins))
        elif word not in ("us", "metric"):
            found.append(line)
        elif word == units:
            found.append(rest)
    return [re.sub(r"{(?=\w)", "{" + prefix, line) for line in found]


class Yard:
    """Samples round numbers that a yard might have, and says quantities in one unit system."""

    def __init__(self, lesson: int, seed: int, units: u.System) -> None:
        self.rng = np.random.default_rng([lesson, seed])
        self.units, self.us = units, units == "us"
        #: what brings a level to the unit of a lift
        self.small, self.per = ("12", "in/ft") if self.us else ("1000", "mm/m")
        #: the water, round in the unit system in use
        self.cold: dict[str, Any] = {"water_f": 60} if self.us else {"water_c": 15}

    def place(self) -> str:
        """Return a place of our own invention."""
        return str(self.rng.choice(TEXTS["places"]))

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
        return u.spelled(us, self.units)

    def said(self, value: Any, spec: str) -> str:
        """Print what a field of a text asks, of several readings the first."""
        if isinstance(value, str):
            return value
        si = value.si if isinstance(value, Measure) else value
        one, us = float(np.ravel(si)[0]), spec.removeprefix("=")
        if us not in u.UNITS:
            return format(one, spec) if spec else u.carried(one)
        unit = self.unit(us)
        return u.text(one, unit, u.carried) if spec == us else u.carried(u.from_si(one, unit))

    def words(self, of: str, **values: Any) -> str:
        """Fill in what several lessons say."""
        return filled(WORDS[of], lambda field, spec, _: self.said(values[field], spec))

    # -- things of the yard

    def pump(self) -> PumpCurve:
        """Sample an invented pump of six points, in round numbers."""
        most = self.measure(("gpm", 45, 80, 5), ("lps", 3, 5, 0.25))
        head = self.measure(("ft", 20, 36, 2), ("m", 6, 11, 0.5))
        flow = np.round(np.array(_FLOWS) * most.typed, 2)
        heads = np.round(np.array(_HEADS) * head.typed, 1 if self.us else 2)
        given = {f"flow_{most.unit}": flow, f"head_{head.unit}": heads}
        return PumpCurve(name="the pump", invented=True, **given)

    def points(self, pump: PumpCurve) -> list[tuple[str, ...]]:
        """Return a pump's points as a table, its heads first."""
        columns = {"flow": ("gpm", pump.si.flow), "head": ("ft", pump.si.head)}
        heads = (f"{x} ({u.UNITS[self.unit(us)].label})" for x, (us, _) in columns.items())
        rows = ([self.said(x, f"={us}") for x in si] for us, si in columns.values())
        return [tuple(heads), *zip(*rows, strict=True)]

    def lift(self) -> Measure:
        """Sample a static lift."""
        return self.measure(("ft", 4, 11, 0.5), ("m", 1.2, 3.4, 0.1))

    def length(self) -> Measure:
        """Sample the length of a discharge line."""
        return self.measure(("ft", 60, 240, 10), ("m", 20, 75, 5))

    def pipe(self) -> Pipe:
        """Sample a pipe."""
        return pvc(self.of("1-1/4", "1-1/2", "2"))

    def pit(self) -> Pit:
        """Sample a round pit with its floats."""
        diameter = self.measure(("in", 18, 36, 6), ("mm", 450, 900, 150))
        off = self.measure(("in", 4, 8, 1), ("mm", 100, 200, 25)).typed
        on = off + self.measure(("in", 6, 14, 1), ("mm", 150, 350, 25)).typed
        levels = {"off": off, "on": on, "depth": 2 * on}
        given = {f"{name}_{diameter.unit}": level for name, level in levels.items()}
        return Pit(**diameter.spelled("diameter"), **given)

    def working(self, least: float = 0.3) -> tuple[PumpCurve, DischargeLine, dict[str, Any]]:
        """Sample a pump and a line that agree well inside the pump's data, and what is given."""
        while True:
            pump, pipe = self.pump(), self.pipe()
            lift, length, k = self.lift(), self.length(), float(self.of(3, 4, 5, 6, 7))
            line = straight_line(
                pipe=pipe, k=k, **length.spelled("length"), **lift.spelled("lift"), **self.cold
            )
            op = operating_point(pump, line)
            if op.ok and least < op.range_share < 0.85:
                said = self.words("line", length=length, lift=lift, k=k, wall=self.wall(pipe))
                return pump, line, {"table": self.points(pump), "line": said} | self.wet(line)

    def wall(self, pipe: Pipe) -> str:
        """Say what of a pipe the water feels."""
        si = pipe.si
        return self.words("wall", name=pipe.name, bore=si.bore, roughness=si.roughness)

    def gravity(self) -> str:
        """Say the acceleration of gravity."""
        return self.words("gravity", gravity=GRAVITY, ft=self.unit("ft"))

    def wet(self, line: DischargeLine) -> dict[str, str]:
        """What of the water counts: said whole, and density and viscosity without a unit."""
        celsius, thick = line.si.water, float(line.si.arrays.viscosity)
        heavy = float(water.density(celsius))
        numbers = {
            "density": u.carried(heavy / _LB_PER_FT3 if self.us else heavy),
            "viscosity": f"{thick / 0.3048**2 if self.us else thick:.3g}",
        }
        units = ("lb/ft³", "ft²/s") if self.us else ("kg/m³", "m²/s")
        labels = dict(zip(("heavy", "thick"), units, strict=True))
        wet = self.words("wet", water=celsius, gravity=self.gravity(), **numbers, **labels)
        return {"wet": wet, **numbers}

    def speed(self, flow: Any, bore: float, begins: str = "") -> dict[str, Any]:
        """Work out the velocity of a flow, in one or two readings: numbers of its steps."""
        speeds, si = np.ravel(flow) / area_of(bore), _INCH if self.us else 1.0
        worked = {
            "wide": bore / si,
            "area": area_of(bore) / si**2,
            "per_s": float(np.ravel(flow)[0]) / si**3,
            "fast": float(speeds[0]) / si,
        }
        # what a unit leaves of a round number is rounded off, so that half is half
        rounded = {name: round(value, 12) for name, value in worked.items()}
        numbers = {"flow": flow, "bore": bore, "velocity": speeds, **rounded}
        return {begins + name: value for name, value in numbers.items()}


def area_of(bore: float) -> float:
    """Area (m²) of a round bore (m)."""
    return float(0.25 * np.pi * bore**2)


def with_ruler(pump: PumpCurve) -> list[PumpCurve]:
    """Return a pump by its smooth curve, and by straight lines between its points."""
    at, flow = np.arange(pump.si.flow.size), pump.si.flow
    fine = np.interp(np.linspace(0, at[-1], at[-1] * _PIECES + 1), at, flow)
    heads = np.interp(fine, flow, pump.si.head)
    return [pump, PumpCurve(name="by the ruler", flow_lps=fine * 1e3, head_m=heads)]
