"""A line that is no longer as it was built: other pipe, deposits, a lid, a longer lift.

Each change but that of the pipe takes an array of sizes and answers a line of that shape,
ready for the same solver; the line it starts from holds no arrays of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump.physics.constants import GRAVITY
from drainpump.units import FloatArray

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.line.pipe import Pipe
    from drainpump.physics.system import LineArrays

__all__ = [
    "in_pipes",
    "with_deposit",
    "with_extra_k",
    "with_friction",
    "with_gap",
    "with_lift",
]

#: a wall may be at most this rough, as a share of its bore: what Colebrook's chart covers
_ROUGHEST = 0.05


def in_pipes(line: DischargeLine, pipes: Sequence[Pipe]) -> DischargeLine:
    """Return the line with each run in another pipe; named fittings take its K from the table."""
    runs = [run.variant(pipe=pipe) for run, pipe in zip(line.runs, pipes, strict=True)]
    return line.variant(runs=runs, name=None)


def with_deposit(line: DischargeLine, thickness: FloatArray) -> DischargeLine:
    """Return the line with a deposit (m) all round every bore, as rough as it is thick.

    The roughness stops at a twentieth of the bore that is left. Hazen-Williams lines keep
    their C and lose bore alone. Every K stays and is on the narrowed bore's velocity.
    """
    plain = line._arrays.aligned(np.ndim(thickness))
    bore = np.maximum(plain.diameter - 2 * thickness, 0.02 * plain.diameter)
    rough = np.minimum(np.maximum(plain.roughness, thickness), _ROUGHEST * bore)
    return _changed(line, plain, diameter=bore, roughness=rough)


def with_extra_k(line: DischargeLine, k: FloatArray) -> DischargeLine:
    """Return the line with a further K on the first run's velocity head."""
    plain = line._arrays.aligned(np.ndim(k))
    more = plain.k + np.zeros(np.shape(k))
    more[0] = more[0] + k
    return _changed(line, plain, k=more)


def with_lift(line: DischargeLine, rise: FloatArray) -> DischargeLine:
    """Return the line with every run's end higher by ``rise`` (m) above the water."""
    plain = line._arrays.aligned(np.ndim(rise))
    return _changed(line, plain, end=plain.end + rise)


def with_gap(
    line: DischargeLine, gap: FloatArray, body: float, coefficient: float
) -> DischargeLine:
    """Return the line whose outlet has a ring-shaped gap (m) under a lid of diameter ``body``."""
    plain = line._arrays.aligned(np.ndim(gap))
    orifice = 1.0 / (2 * GRAVITY * (coefficient * np.pi * body * gap) ** 2)
    return _changed(line, plain, orifice=orifice)


def with_friction(line: DischargeLine, value: FloatArray) -> DischargeLine:
    """Return the line with this roughness (m) or, where it is Hazen-Williams, this C."""
    name = "roughness" if line.friction == "darcy" else "hazen_c"
    plain = line._arrays.aligned(np.ndim(value))
    return _changed(line, plain, **{name: getattr(plain, name) * 0.0 + value})


def _changed(line: DischargeLine, plain: LineArrays, **fields: Any) -> DischargeLine:
    return line._with(plain.map(fields.get))
