"""The same case twice: for the independent solvers, and in the library's words."""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

import drainpump as dp
from tests.oracles.hydraulics import FOOT, GPM, INCH, Leg, Line, Pump, pump
from tests.oracles.no_check_valve import Hole

#: how many random cases of the quick kind; those marched through time are a tenth of it
CASES = int(os.environ.get("DRAINPUMP_ORACLES", "60"))
#: viscosity 1.22e-5 ft²/s
WATER_F = 59.31


def leg(bore_in: float, length_ft: float, rise_ft: float = 0.0, k: float = 0.0, **more: Any) -> Leg:
    return Leg(bore_in * INCH, length_ft * FOOT, rise_ft * FOOT, k, **more)


def run_of(one: Leg, **more: Any) -> dp.Run:
    pipe = dp.Pipe(
        bore_in=one.bore / INCH, roughness_ft=one.roughness / FOOT, hazen_williams_c=one.c
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", dp.DrainpumpWarning)
        return dp.Run(
            pipe=pipe, length_ft=one.length / FOOT, rise_ft=one.rise / FOOT, k=one.k, **more
        )


def line_of(line: Line, **more: Any) -> dp.DischargeLine:
    outlet: Any = dp.FreeOutlet(lid_ft=line.lid / FOOT)
    if line.tail:
        outlet = dp.SubmergedOutlet(depth_ft=line.tail / FOOT)
    given = {"outlet": outlet, "friction": line.law, "siphon": line.siphon, "water_f": WATER_F}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", dp.DrainpumpWarning)
        return dp.DischargeLine(runs=[run_of(one) for one in line.legs], **(given | more))


def pump_of(made: Pump, **more: Any) -> dp.PumpCurve:
    return dp.PumpCurve(flow_gpm=made.flow / GPM, head_ft=made.lifts / FOOT, invented=True, **more)


def pit_of(hole: Hole, off_in: float = 6.0) -> dp.Pit:
    return dp.Pit(
        diameter_in=float(np.sqrt(4 * hole.area / np.pi)) / INCH,
        off_in=off_in,
        on_in=off_in + hole.travel / INCH,
        depth_in=off_in + hole.deep / INCH,
    )


def hole_of(diameter_in: float, travel_in: float, deep_in: float) -> Hole:
    return Hole(np.pi / 4 * (diameter_in * INCH) ** 2, travel_in * INCH, deep_in * INCH)


def differ(cases: int, compare: Callable[[np.random.Generator], str | None]) -> str:
    """Run numbered random cases; "" where all agree, else how many do not and the first few."""
    said = []
    for number in range(cases):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", dp.DrainpumpWarning)
            found = compare(np.random.default_rng(number))
        if found:
            said.append(f"case {number}: {found}")
    return "\n".join([f"{len(said)} of {cases} differ", *said[:8]]) if said else ""


def gap(what: str, library: Any, oracle: float, rel: float) -> str | None:
    """The two figures where they differ by more than a share of the oracle's."""
    if np.isfinite(library) and abs(float(library) - oracle) <= rel * abs(oracle):
        return None
    return f"{what}: library {float(library):.6g}, oracle {oracle:.6g}"


def any_pump(rng: np.random.Generator, level: bool = False) -> Pump:
    """A curve that falls all the way, now and then with a level stretch."""
    points = int(rng.integers(4, 9))
    q = np.concatenate([[0.0], np.sort(rng.uniform(3, rng.uniform(30, 90), points - 1))])
    q += np.arange(points)  # no two alike
    head = rng.uniform(12, 40) * (1 - (q / (q[-1] * rng.uniform(1.0, 1.2))) ** rng.uniform(1, 3))
    if level:
        at = int(rng.integers(0, points - 1))
        head[at + 1] = head[at]
    return pump(q, head)


def any_line(rng: np.random.Generator, legs: int | None = None, falls: bool = True) -> Line:
    """One to four runs, up and down, by either law, now and then with a lid."""
    count = legs or int(rng.integers(1, 5))
    found = []
    for i in range(count):
        rise = rng.uniform(1, 9) if i == 0 or not falls else rng.uniform(-5, 5)
        length = abs(rise) + rng.uniform(0, 150)
        found.append(leg(rng.uniform(1.0, 3.0), length, rise, rng.uniform(0, 6)))
    law = "darcy" if rng.random() < 0.6 else "hazen_williams"
    return Line(tuple(found), lid=float(rng.choice([0.0, 0.25])) * FOOT, law=law)


def bank_of(pumps: Sequence[Pump], risers: Sequence[Leg | None], **more: Any) -> dp.PumpBank:
    return dp.parallel(
        [pump_of(p) for p in pumps], [run_of(r) if r else None for r in risers], **more
    )
