"""Tests that could tell faults apart: what each fault would make them read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drainpump import units as u
from drainpump.field.fault_outcomes import Outcome, beside_leak
from drainpump.field.faults import Fault, Plant
from drainpump.physics.tables import read_table
from drainpump.results import html_lines
from drainpump.solve.operating_point import solve_arrays
from drainpump.units import FloatArray


@dataclass(frozen=True, eq=False)
class NextTest:
    """A test, its error, and what each fault would make it read.

    Attributes
    ----------
    name : str
    how : str
        What to do.
    power : float
        Chance, over pairs of faults weighed by their plausibility, of naming the right one
        of the two from one reading: 0 where it tells nothing, 1 where it settles all.
    unit : str
        Of the readings, in US units: ``gpm``, ``ft`` or ``v``.
    """

    name: str
    how: str
    unit: str
    _faults: tuple[str, ...]
    _predicted: FloatArray  # per fault, SI
    _sigma: float
    power: float = 0.0

    @property
    def readings(self) -> dict[str, float]:
        """What each fault would make the test read, in ``unit``."""
        values = np.atleast_1d(u.from_si(self._predicted, self.unit))
        return dict(zip(self._faults, values.tolist(), strict=True))

    def _repr_html_(self) -> str:
        return html_lines(str(self))

    def __str__(self) -> str:
        said = ", ".join(
            f"{name} {u.number(x)}" for name, x in self.readings.items() if np.isfinite(x)
        )
        label = u.UNITS[self.unit].label
        sigma = u.both(self._sigma, self.unit)
        return f"{self.name} ({self.how}); error {sigma}; would read, in {label}: {said}"


def candidates(
    plant: Plant, faults: tuple[Fault, ...], sizes: FloatArray, shown: Outcome
) -> list[NextTest]:
    """Return every test that can be made, with its predictions, one per fault."""
    names = tuple(fault.name for fault in faults)
    rises = plant.line.si.lift + np.where(np.isnan(sizes), np.nan, 0.0)
    rises[names.index("extra lift")] += sizes[names.index("extra lift")]

    rated = plant.pump.voltage_v
    read = {
        "drawdown": shown.pit,
        "gauge at the pump": shown.head,
        "gauge with the valve shut": shown.shutoff,
        "lift by level": rises,
    }
    if "lid gap" in names:
        read["bucket with the lid off"] = _without_lid(plant, faults, sizes)
    if rated is not None:
        volts = np.where(np.isnan(sizes), np.nan, rated)
        volts[names.index("low voltage")] *= sizes[names.index("low voltage")]
        read["voltage"] = volts
    usual = {"gpm": plant.expected, "v": 0.0 if rated is None else float(rated)}
    tests = []
    for row in read_table("next_tests.csv"):
        name, unit = row["test"], row["unit"]
        if name in read:
            one = usual[unit] if row["share"] else float(u.to_si(1.0, unit))
            sigma = float(row["share"] or row["error"]) * one
            tests.append(NextTest(name, row["how"], unit, names, read[name], sigma))
    return tests


def _without_lid(plant: Plant, faults: tuple[Fault, ...], sizes: FloatArray) -> FloatArray:
    """Flow with the lid off under each fault, m³/s."""
    flows = np.full(len(faults), np.nan)
    for i in np.flatnonzero(np.isfinite(sizes)):
        pump, line, leak = faults[i].alter(plant, np.asarray(sizes[i]))
        bare = line.without("lid", "orifice")
        # a leak stays near to what it was: the pump runs at nearly the same head
        if leak:
            flows[i] = beside_leak(pump, bare, leak)
        else:
            flows[i] = solve_arrays(pump, bare).si.reckoned
    return flows
