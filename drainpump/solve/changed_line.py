"""A line that is no longer as it was built: deposits, an obstruction, a lid, a longer lift.

Each change takes an array of sizes and answers a line of that shape, ready for the same
solver; the line it starts from holds no arrays of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump.errors import InputError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics.constants import GRAVITY
from drainpump.solve.operating_point import OperatingPoint, operating_point
from drainpump.units import FloatArray

if TYPE_CHECKING:
    from drainpump.physics.system import LineArrays

__all__ = [
    "lone_case",
    "one_case",
    "with_deposit",
    "with_extra_k",
    "with_friction",
    "with_gap",
    "with_lift",
]

#: a wall may be at most this rough, as a share of its bore: what Colebrook's chart covers
_ROUGHEST = 0.05


def one_case(where: str, pump: Any, line: Any) -> OperatingPoint:
    """Refuse all but one pump on one line; return its operating point."""
    for name, item, kind in (("pump", pump, PumpCurve), ("line", line, DischargeLine)):
        if not isinstance(item, kind):
            raise wrong(
                name, item, f"must be one {kind.__name__}", f"make one with {kind.__name__}(...)"
            )
    op = operating_point(pump, line)
    if np.ndim(op.flow_gpm):
        raise InputError(
            f"{where}: pump or line holds arrays; give one case: one pump and one line of scalars."
        )
    return op


def lone_case(where: str, pump: Any, line: Any) -> OperatingPoint:
    """Refuse lists, arrays and what has no one answer; return the operating point."""
    op = operating_point(pump, line)
    if np.ndim(op.flow_gpm):
        raise InputError(
            f"{where}: pump or line holds arrays or lists; give one case: one pump, such as "
            "pumps[0], and one line of scalars."
        )
    if str(op.status) in ("multiple", "bad_input"):
        op.require()
    return op


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
