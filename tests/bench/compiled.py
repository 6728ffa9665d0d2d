"""Rivals written as plain scalar loops, which numba compiles where it is installed.

The grid: Newton's method for each pair, to a gap of 1e-9 m. The storm: Euler's steps of a second.
"""

from __future__ import annotations

import importlib
import importlib.util
import math
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

import drainpump as dp
from drainpump.physics.laws import ROUGH
from drainpump.units import FloatArray

_G, _LN10 = 9.80665, math.log(10.0)


def compiled(loop: Callable[..., Any]) -> Callable[..., Any] | None:
    """Return the loop compiled, or None without numba."""
    if importlib.util.find_spec("numba") is None:
        return None
    made: Callable[..., Any] = importlib.import_module("numba").njit(loop)
    return made


def pairs(
    knots: Any,
    cubics: Any,
    lengths: Any,
    ends: Any,
    d: float,
    rough: float,
    nu: float,
    steepest: float,
    minor: float,
    found: Any,
) -> None:
    """Solve all pumps on all lines, a pair at a time; Darcy's law where nu > 0."""  # fmt: skip
    area = math.pi * d * d / 4
    for p in range(knots.shape[0]):
        last = knots[p, -1]
        q = 0.5 * last
        for k in range(lengths.size):
            for _ in range(60):
                v = q / area
                if nu > 0:
                    re = max(v * d / nu, 4000.0)
                    a, b = ROUGH * rough / d * re, math.log(re * _LN10 / 5.02)
                    y = b - 0.2
                    for _ in range(2):
                        w = a + y
                        e = (math.log(w) + y - b) / (1 + w)
                        y -= (1 + w + 0.5 * e) * e * w / (1 + w + e * (1 + e / 3))
                    f = (0.5 * _LN10 / y) ** 2
                    rate = 2 * f * v / (2 * _G * d) * (a + y) / (1 + a + y)
                    slope = f * v * v / (2 * _G * d)
                    re = v * d / nu
                    if re < 4000:
                        held = max(re, 2000.0)
                        climb = (f - 0.032) / 2000
                        bridge = (0.032 + climb * (held - 2000)) * held
                        slope = bridge * v * nu / (2 * _G * d * d)
                        rate = bridge if re <= 2000 else 2 * bridge + climb * held * held
                        rate *= nu / (2 * _G * d * d)
                else:
                    share = v / steepest
                    rest = share ** (1 / 0.54 - 1)
                    slope, rate = rest * share, rest / (0.54 * steepest)
                i = 0
                while i < knots.shape[1] - 2 and knots[p, i + 1] <= q:
                    i += 1
                t = q - knots[p, i]
                c3, c2, c1, c0 = cubics[p, 0, i], cubics[p, 1, i], cubics[p, 2, i], cubics[p, 3, i]
                gap = ((c3 * t + c2) * t + c1) * t + c0 - ends[k] - slope * lengths[k]
                gap -= minor * q * q
                if abs(gap) < 1e-9:
                    break
                change = (3 * c3 * t + 2 * c2) * t + c1 - rate * lengths[k] / area - 2 * minor * q
                q = min(max(q - gap / change, 1e-9), last)
            found[p, k] = q


def inputs(pumps: list[dp.PumpCurve], line: dp.DischargeLine) -> tuple[Any, ...]:
    """The same pumps and lines as `pairs` takes them, all but the answer's room."""
    a = line.si.arrays
    d = float(a.diameter[0, 0])
    knots = np.array([p.si.flow for p in pumps])
    cubics = np.array([PchipInterpolator(p.si.flow, p.si.head).c for p in pumps])
    steepest = 1.318 * 0.3048**0.37 * 150.0 * (d / 4) ** 0.63
    nu = float(a.viscosity) if line.friction == "darcy" else 0.0
    minor = 7.3 / (2 * _G * (math.pi * d * d / 4) ** 2)
    # an array of a constant is not contiguous, which a compiler minds
    lengths, ends = (np.ascontiguousarray(x[0]) for x in (a.length, a.end))
    return knots, cubics, lengths, ends, d, float(a.roughness[0, 0]), nu, steepest, minor


def euler(
    times: FloatArray,
    rates: FloatArray,
    volumes: FloatArray,
    flows: FloatArray,
    on: float,
    dt: float,
) -> tuple[int, float]:
    """Step through a storm; starts, and the highest volume (m³)."""  # fmt: skip
    t, end, i, volume, runs = times[0], times[-1] + 36000.0, 0, 0.0, False
    starts, highest = 0, 0.0
    width = volumes[1] - volumes[0]
    while t < end and (t < times[-1] or runs):
        while i < times.size - 2 and times[i + 1] <= t:
            i += 1
        coming = 0.0
        if t < times[-1]:
            share = (t - times[i]) / (times[i + 1] - times[i])
            coming = rates[i] + share * (rates[i + 1] - rates[i])
        pumped = 0.0
        if runs:
            place = min(max(volume / width, 0.0), volumes.size - 1.001)
            k = int(place)
            pumped = flows[k] + (place - k) * (flows[k + 1] - flows[k])
        volume = max(volume + dt * (coming - pumped), 0.0)
        if volume > highest:
            highest = volume
        if runs and volume <= 0.0:
            runs = False
        elif not runs and volume >= on:
            runs, starts = True, starts + 1
        t += dt
    return starts, highest
