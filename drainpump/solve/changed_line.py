"""A line that is no longer as it was built: other pipe, deposits, a lid, a longer lift.

Each change but that of the pipe takes a line's arrays and sizes of any shape, and answers
arrays of that shape for `solve_arrays`; the line it starts from holds no arrays of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from drainpump.physics.constants import GRAVITY
from drainpump.physics.system import LineArrays
from drainpump.units import FloatArray

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.line.pipe import Pipe


#: a wall may be at most this rough, as a share of its bore: what Colebrook's chart covers
_ROUGHEST = 0.05


def in_pipes(line: DischargeLine, pipes: Sequence[Pipe]) -> DischargeLine:
    """Return the line with each run in another pipe; named fittings take its K from the table."""
    runs = [run.variant(pipe=pipe) for run, pipe in zip(line.runs, pipes, strict=True)]
    return line.variant(runs=runs, name=None)


def refitted(line: DischargeLine, numbers: dict[str, float]) -> DischargeLine:
    """Return the line with fitted numbers: ``k`` on the first run, ln of C or roughness (m)."""
    runs = list(line.runs)
    if "k" in numbers:
        first, total = runs[0], runs[0].k_total + numbers["k"]
        more = first.k + numbers["k"]
        # less than its own further K: what is left stands for the fittings too
        kept = {"k": more} if more >= 0 else {"k": max(total, 0.0), "fittings": None}
        runs[0] = first.variant(**kept)
    for i, run in enumerate(runs):
        if "roughness" in numbers:
            # a wall is at most a twentieth of the bore rough
            rough = min(float(np.exp(numbers["roughness"])), float(run.pipe.si.bore) / 20)
            runs[i] = run.variant(pipe=run.pipe.variant(roughness_m=rough))
        if "hazen_williams_c" in numbers:
            c = float(np.exp(numbers["hazen_williams_c"]))
            runs[i] = run.variant(pipe=run.pipe.variant(hazen_williams_c=c))
    return line.variant(runs=runs)


def with_deposit(line: LineArrays, thickness: FloatArray) -> LineArrays:
    """Return the line with a deposit (m) all round every bore, as rough as it is thick.

    The roughness stops at a twentieth of the bore that is left. Hazen-Williams lines keep
    their C and lose bore alone. Every K stays and is on the narrowed bore's velocity.
    """
    plain = line.aligned(np.ndim(thickness))
    bore = np.maximum(plain.diameter - 2 * thickness, 0.02 * plain.diameter)
    rough = np.minimum(np.maximum(plain.roughness, thickness), _ROUGHEST * bore)
    return replace(plain, diameter=bore, roughness=rough)


def with_extra_k(line: LineArrays, k: FloatArray) -> LineArrays:
    """Return the line with a further K on the first run's velocity head."""
    plain = line.aligned(np.ndim(k))
    more = plain.k + np.zeros(np.shape(k))
    more[0] = more[0] + k
    return replace(plain, k=more)


def with_lift(line: LineArrays, rise: FloatArray) -> LineArrays:
    """Return the line with every run's end higher by ``rise`` (m) above the water."""
    plain = line.aligned(np.ndim(rise))
    return replace(plain, end=plain.end + rise)


def with_gap(line: LineArrays, gap: FloatArray, body: float, coefficient: float) -> LineArrays:
    """Return the line whose outlet has a ring-shaped gap (m) under a lid of diameter ``body``."""
    orifice = 1.0 / (2 * GRAVITY * (coefficient * np.pi * body * gap) ** 2)
    return replace(line.aligned(np.ndim(gap)), orifice=orifice)


def with_friction(line: LineArrays, value: FloatArray) -> LineArrays:
    """Return the line with this roughness (m) or, where it is Hazen-Williams, this C."""
    plain = line.aligned(np.ndim(value))
    if plain.darcy.all():
        return replace(plain, roughness=plain.roughness * 0.0 + value)
    return replace(plain, hazen_c=plain.hazen_c * 0.0 + value)
