"""What a lesson's problem is made of: drawn numbers, questions, worked steps, answers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.parts.line.straight import straight_line
from drainpump.parts.pit import Pit
from drainpump.parts.pump.curve import PumpCurve
from drainpump.solve.operating_point import operating_point
from drainpump.units import Measure

__all__ = ["Draft", "Draw", "Step"]

#: places of our own invention
_PLACES = (
    "a school yard", "a market garden", "a railway cutting", "a bakery's loading bay",
    "a riding ring", "an orchard's packing shed", "a village bowling green",
    "a boat builder's slip", "a nursery's glasshouse", "a joiner's timber yard",
)  # fmt: skip
#: shape of the invented pump curves: shares of the last flow, and of the shutoff head there
_FLOWS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
_HEADS = (1.0, 0.96, 0.85, 0.66, 0.39, 0.05)


class Step(NamedTuple):
    """One step of a worked answer: what is done, by which formula, with which result.

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
    answers: dict[str, float] = field(default_factory=dict)

    def step(self, words: str, formula: str, result: str, *, more: bool = False) -> None:
        """Add a step: it answers the next question, or ``more`` of the last one."""
        last = self.steps[-1].question if self.steps else 0
        self.steps.append(Step(words, formula, result, last if more else last + 1))


class Draw:
    """Draws round numbers that a yard might have, and says quantities in one unit system."""

    def __init__(self, lesson: int, seed: int, units: u.System) -> None:
        self.rng = np.random.default_rng([lesson, seed])
        self.us = units == "us"

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

    def answer(self, draft: Draft, stem: str, si: Any, us: str) -> str:
        """Keep an answer under its name and unit; return it in words."""
        unit = self.unit(us)
        draft.answers[f"{stem}_{unit}"] = float(u.from_si(si, unit))
        return self.say(si, us)

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
            np.asarray(getattr(pump, f"flow_{flow}")),
            np.asarray(getattr(pump, f"head_{head}")),
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
            pipe=pipe, k=k, **length.spelled("length"), **lift.spelled("lift"), name="the line"
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

    def working(self, least: float = 0.3) -> tuple[PumpCurve, DischargeLine, str]:
        """Draw a pump and a line that agree well inside the pump's data, and the line in words."""
        while True:
            pump, pipe = self.pump(), self.pipe()
            lift, length, k = self.lift(), self.length(), float(self.of(3, 4, 5, 6, 7))
            line = self.line(pipe, lift, length, k)
            op = operating_point(pump, line)
            if op.ok and least < op.range_share < 0.85:
                return pump, line, self.described(line, k)

    def described(self, line: DischargeLine, k: float) -> str:
        """Say a plain line in words."""
        pipe = line.runs[0].pipe
        return (
            f"{line.runs[0]._length.typed:g} {u.UNITS[line.runs[0]._length.unit].label} of "
            f"{pipe.name} (true bore {self.say(pipe._bore.si, 'in')}, roughness "
            f"{self.say(pipe._roughness.si, 'ft')}), lift {self.say(line._lift, 'ft')}, fittings "
            f"K {k:g} in all, open outlet (its exit takes K 1 more), water at "
            f"{self.say(line._water.si, 'f')}"
        )


def area_of(bore: npt.NDArray[np.float64]) -> float:
    """Area (m²) of a round bore (m)."""
    return float(0.25 * np.pi * bore**2)
