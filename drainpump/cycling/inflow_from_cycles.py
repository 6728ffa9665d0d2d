"""Inflow and pump flow from the times the pump stands and runs, without a meter."""

from __future__ import annotations

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.inflow.measured import MeasuredInflow
from drainpump.results import one_shape


def inflow_from_cycles(
    *,
    working_volume_gal: u.Quantity | None = None,
    working_volume_l: u.Quantity | None = None,
    rest_s: u.Quantity,
    run_s: u.Quantity | None = None,
    returned_gal: u.Quantity | None = None,
    returned_l: u.Quantity | None = None,
) -> MeasuredInflow:
    """Return inflow and pump flow from on and off times, without a meter.

    Parameters
    ----------
    working_volume_gal, working_volume_l : float or array_like
        Water between the floats (``pit.working_volume_gal``), > 0. Exactly one.
    rest_s : float or array_like
        Time from stop to start, > 0.
    run_s : float or array_like, optional
        Time from start to stop, > 0; gives the pump's flow.
    returned_gal, returned_l : float or array_like, default 0
        Water that runs back from the line at each stop (``drain_back(...).returned_gal``),
        less than the working volume; 0 with a check valve.

    Returns
    -------
    MeasuredInflow

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    ``q = (V - returned)/t_off`` and ``Q = V/t_on + q``, the inflow being steady: the rest
    begins with what ran back already in the pit, and the run takes all of V and what comes
    in besides. Q is what the pump moves, its mean over filling the line and emptying the pit.

    Examples
    --------
    >>> import drainpump as dp
    >>> seen = dp.field.inflow_from_cycles(working_volume_gal=7.71, rest_s=46.3, run_s=19.2)
    >>> round(seen.inflow_gpm, 1), round(seen.flow_gpm, 1)
    (10.0, 34.1)
    """
    water = u.take("working_volume", guard="volume", gal=working_volume_gal, l=working_volume_l)
    volume = water.si
    rest = u.take("rest", guard="positive", s=rest_s).si
    run = u.maybe("run", guard="positive", s=run_s)
    back = u.maybe("returned", guard="volume", gal=returned_gal, l=returned_l)
    one_shape("inflow_from_cycles", volume, rest, *(x.si for x in (run, back) if x is not None))
    if np.any(volume == 0):
        raise wrong(f"working_volume_{water.unit}", np.asarray(water.typed).tolist(),
                    "must be above 0", "give the water between the floats")  # fmt: skip
    comes_in = volume
    if back is not None:
        comes_in = volume - back.si
        if np.any(comes_in <= 0):
            raise InputError(
                f"returned {back}: must be less than the working volume "
                f"{u.both(volume, water.unit)}; the pump would start again at once and never rest."
            )
    inflow = np.asarray(comes_in / rest)
    return MeasuredInflow(inflow, None if run is None else inflow + volume / run.si)
