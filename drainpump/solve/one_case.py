"""One pump on one line: what can only be asked of a single case refuses all else."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump.errors import InputError, wrong
from drainpump.parts.pump.bank import PumpBank
from drainpump.solve.operating_point import OperatingPoint, operating_point


def one_case(
    where: str, pump: Any, line: Any, *, banks: bool = True, told: bool = False
) -> OperatingPoint:
    """Refuse lists, arrays and, if asked, banks and NaN; return the operating point.

    With ``told`` there has to be some flow to be reckoned with.
    """
    op = operating_point(pump, line)
    if np.ndim(op._flow):
        raise InputError(
            f"{where}: pump or line holds arrays or lists; give one case: one pump, such as "
            "pumps[0], and one line of scalars."
        )
    if not banks and isinstance(pump, PumpBank):
        raise wrong("pump", pump.name, "must be one PumpCurve", f"{where} takes no bank")
    if told and np.isnan(op.si.reckoned):
        op.require()
    return op
