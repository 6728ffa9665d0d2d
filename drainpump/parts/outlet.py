"""Where the discharge line ends. The outlet alone charges the exit, K = 1."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np

from drainpump import units as u
from drainpump.units import FloatArray, Measure, View

__all__ = ["FreeOutlet", "Outlet"]


class Outlet(Protocol):
    """What a discharge line needs to know of its outlet (all SI)."""

    @property
    def exit_k(self) -> float:
        """Loss coefficient of the exit on the last run's velocity head."""

    @property
    def _least_head(self) -> FloatArray:
        """Head that holds the outlet open once water flows, m."""

    @property
    def _orifice(self) -> FloatArray:
        """Loss per flow squared, s²/m⁵; the larger of it and the least head counts."""

    @property
    def _tail(self) -> FloatArray:
        """Water standing above the end of the line, m."""


class FreeOutlet:
    """An open end above the water it runs to, with or without a lid.

    Parameters
    ----------
    lid_ft, lid_m : float or array_like, default 0
        Head that holds a lid open once water flows, ft or m, >= 0. At most one.

    Notes
    -----
    The jet leaves with its velocity head, ``V²/2g`` on the last run's bore (K = 1):
    Hydraulic Institute, *Engineering Data Library*, exit and sudden enlargement. The
    lid adds a constant head.

    Examples
    --------
    >>> from drainpump.parts.outlet import FreeOutlet
    >>> FreeOutlet(lid_ft=0.25)
    FreeOutlet(lid 0.25 ft (0.0762 m))
    """

    lid_ft, lid_m = View("_lid"), View("_lid")

    def __init__(self, *, lid_ft: Any = None, lid_m: Any = None) -> None:
        self._lid: Measure = u.take("lid", guard="lid", default=("ft", 0.0), ft=lid_ft, m=lid_m)

    @property
    def exit_k(self) -> float:
        """Loss coefficient of the exit: the whole velocity head is lost."""
        return 1.0

    @property
    def _least_head(self) -> FloatArray:
        return self._lid.si

    @property
    def _orifice(self) -> FloatArray:
        return np.zeros(())

    @property
    def _tail(self) -> FloatArray:
        return np.zeros(())

    def __repr__(self) -> str:
        return f"FreeOutlet(lid {self._lid})"
