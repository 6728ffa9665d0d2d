"""Numbers of the lessons on the line: height, losses, fittings, high points."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import DischargeLine, straight_line
from drainpump.parts.line.pipe import pvc
from drainpump.parts.line.run import Run
from drainpump.physics import friction, water
from drainpump.physics.constants import GRAVITY
from drainpump.solve.operating_point import operating_point
from drainpump.teach.lesson import Yard, with_ruler

#: a common guess: pipe an elbow is worth, m, in US and metric yards (common practice, no source)
_PER_ELBOW = {"us": 8 * 0.3048, "metric": 2.4}
#: where the search for a friction factor starts: a usual one of plastic pipe
_FIRST_FACTOR = 0.02


def height(yard: Yard) -> dict[str, Any]:
    """Head is height: from levels to lift, pressure, and whether the pump reaches."""
    off = yard.measure(("in", 4, 10, 1), ("mm", 100, 250, 25)).si
    outlet = yard.measure(("ft", 5, 14, 0.5), ("m", 1.5, 4.2, 0.1)).si
    pump, pipe = yard.pump(), yard.pipe()
    lift, shutoff = float(outlet - off), float(pump.si.head[0])
    line = straight_line(pipe=pipe, length_m=60, lift_m=lift, **yard.cold)
    pressure = float(water.density(line.si.water)) * GRAVITY * lift
    numbers = {"off": off, "outlet": outlet, "shutoff": shutoff, "lift": lift,
               "pressure": pressure, "left": shutoff - lift}  # fmt: skip
    return yard.wet(line) | numbers


def line_head(yard: Yard) -> dict[str, Any]:
    """The line pushes back: the head a line asks at a flow, part by part."""
    pump, line, said = yard.working()
    unit = yard.unit("gpm")
    running = u.from_si(operating_point(pump, line).si.flow, unit)
    flow = float(u.to_si(np.round(running, 0 if yard.us else 1), unit))
    run, plain, lift = line.runs[0], line.si.arrays, float(line.si.lift)
    bore, rough, k = float(plain.diameter[0]), float(plain.roughness[0]), float(run.si.k)
    numbers = yard.speed(flow, bore)
    speed = float(numbers["velocity"][0])
    reynolds = float(friction.reynolds(speed, bore, plain.viscosity))
    factor = float(friction.friction_factor(reynolds, rough / bore))
    square = speed**2 / (2 * GRAVITY)
    pipe = factor * float(plain.length[0]) / bore * square
    return said | numbers | {
        "table": [], "reynolds": reynolds, "flows": _flows(reynolds), "rough": rough,
        "ratio": rough / bore, "trials": ", ".join(_trials(reynolds, rough / bore)),
        "factor": factor, "length": run.si.length, "k": k, "lift": lift, "exit": square,
        "pipe": pipe, "fittings": k * square, "head": lift + pipe + k * square + square,
    }  # fmt: skip


def _flows(reynolds: float) -> str:
    if reynolds >= 4000:
        return "turbulently"
    return "smoothly" if reynolds <= 2000 else "between the two"


def _trials(reynolds: float, ratio: float) -> list[str]:
    """Colebrook's factor by trial, to four decimals, until it repeats."""
    factor, tried = _FIRST_FACTOR, [f"{_FIRST_FACTOR:.4f}"]
    while len(tried) < 2 or tried[-1] != tried[-2]:
        factor = (-2 * math.log10(ratio / 3.7 + 2.51 / (reynolds * math.sqrt(factor)))) ** -2
        tried.append(f"{factor:.4f}")
    return tried


def fittings(yard: Yard) -> dict[str, Any]:
    """Fittings and valves: K, the head it takes, and the length of pipe it is worth."""
    elbows, pipe = int(yard.rng.integers(3, 9)), yard.pipe()
    k_elbow, k_valve = yard.of(0.6, 0.7, 0.8, 0.9), yard.of(1.5, 2.0, 2.5)
    length = yard.length()
    fitted = {
        "elbow_90": Fitting(count=elbows, k=k_elbow),
        "check_valve_swing": Fitting(count=1, k=k_valve),
    }
    line = straight_line(
        pipe=pipe, lift_m=0, fittings=fitted, **length.spelled("length"), **yard.cold
    )
    flow = yard.measure(("gpm", 20, 45, 5), ("lps", 1.2, 3.0, 0.2)).si
    plain, each = line.si.arrays, _PER_ELBOW[yard.units]
    bore, k = float(plain.diameter[0]), elbows * k_elbow + k_valve
    numbers = yard.speed(flow, bore)
    speed = float(numbers["velocity"][0])
    square = speed**2 / (2 * GRAVITY)
    slope = float(friction.darcy_slope(speed, bore, plain.roughness[0], plain.viscosity))
    worth = elbows * k_elbow * square / slope
    return numbers | yard.wet(line) | {
        "elbows": elbows, "k_elbow": k_elbow, "k_valve": k_valve, "k": k,
        "wall": yard.wall(pipe), "length": length, "fittings": k * square, "square": square,
        "factor": slope * bore / square, "slope": slope, "pipe": slope * length.si,
        "equivalent_length": k * square / slope, "each": each, "guess": each * elbows,
        "elbows_length": worth, "off": each * elbows / worth,
    }  # fmt: skip


def high_points(yard: Yard) -> dict[str, Any]:
    """High points and air: the high point counts, unless the line siphons."""
    while True:
        pump, pipe = yard.pump(), pvc(yard.of("1-1/2", "2"))
        up, down = yard.length(), yard.length()
        top = yard.measure(("ft", 8, 16, 0.5), ("m", 2.4, 4.8, 0.1))
        fall = yard.measure(("ft", 4, 7, 0.5), ("m", 1.2, 2.1, 0.1)).si
        runs = [
            Run(pipe=pipe, k=3, **up.spelled("length"), **top.spelled("rise")),
            Run(pipe=pipe, k=2, length_m=float(down.si), rise_m=-float(fall)),
        ]
        lines = [DischargeLine(runs=runs, siphon=s, **yard.cold) for s in (False, True)]
        ops = operating_point(pump, lines)
        low, high = ops.si.flow
        if np.all(ops.ok) and high > 1.1 * low:
            break
    vented, siphoning = operating_point(with_ruler(pump), lines).si.flow.T
    numbers = {"up": up, "down": down, "top": top.si, "fall": fall,
               "outlet": top.si - fall, "flow": vented, "siphon_flow": siphoning}  # fmt: skip
    said = {"wall": yard.wall(pipe), "table": yard.points(pump)}
    return yard.wet(lines[0]) | said | numbers
