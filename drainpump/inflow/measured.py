"""The inflow that the pit itself shows: better than any formula."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.pit import Pit
from drainpump.parts.scalars import check_kind
from drainpump.results import Result, one_shape
from drainpump.units import FloatArray, View


class MeasuredInflow(Result):
    """Inflow that the pit itself shows.

    Attributes
    ----------
    inflow_gpm, inflow_lps : float or ndarray
        Water that comes in.
    flow_gpm, flow_lps : float or ndarray or None
        Pump flow; None where it was not measured.
    """

    _inflow: FloatArray
    _flow: FloatArray | None

    inflow_gpm, inflow_lps = View("_inflow"), View("_inflow")
    flow_gpm, flow_lps = View("_flow", maybe=True), View("_flow", maybe=True)

    @property
    def _status(self) -> Any:
        return np.where(np.isnan(self._inflow), "bad_input", "ok")


def inflow_from_rise(
    pit: Pit,
    *,
    rise_in_per_min: u.Quantity | None = None,
    rise_mm_per_min: u.Quantity | None = None,
    level_in: u.Quantity | None = None,
    level_mm: u.Quantity | None = None,
) -> MeasuredInflow:
    """Return the inflow from how fast the water rises in the pit, the pump at rest.

    Parameters
    ----------
    pit : Pit
    rise_in_per_min, rise_mm_per_min : float or array_like
        Rise of the water, >= 0. Exactly one.
    level_in, level_mm : float or array_like, optional
        Level at which it was measured: beside the pump body the pit holds less. Without
        it the mean between the floats counts.

    Returns
    -------
    MeasuredInflow

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Examples
    --------
    >>> import drainpump as dp
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> round(dp.field.inflow_from_rise(pit, rise_in_per_min=18).inflow_gpm, 1)
    19.8
    """
    check_kind("pit", pit, Pit)
    said = u.Typed(locals())
    rise, level = said.take("rise", "not_negative").si, said.maybe("level")
    read = () if level is None else (level.si,)
    one_shape("inflow_from_rise", rise, np.zeros(pit.shape), *read)
    if level is not None and np.any(level.si > pit.si.depth):
        raise InputError(
            f"level {level}: must not be above the pit's rim ({pit._depth}); measure the level "
            "from the floor."
        )
    if level is None:
        area = pit.si.working_volume / (pit.si.on - pit.si.off)
    else:
        area = pit.si.wet_area(level.si)
    return MeasuredInflow(np.asarray(rise * area), None)
