"""The duty to shop for: the least flow, and its head, with which the limits on storms hold."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.choose.storms import Storms, asked_storms
from drainpump.inflow.storm import Hydrograph
from drainpump.limits.limits import Limits
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pond import PondStorage, take_pond
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import check_kind
from drainpump.results import Result
from drainpump.solve.grid import listed
from drainpump.units import FloatArray, View

#: flows tried at once, and how often between the last that fails and the next: to a
#: sixty-thousandth of the greatest inflow
_AT_ONCE, _ROUNDS = 17, 4
#: how steep the pump is that is tried: it gives its flow to this share at any head
_STEEP = 5e-4


class LeastPump(Result):
    """The least duty that keeps the limits; an array over a list of lines.

    Attributes
    ----------
    flow_gpm, flow_lps : float or ndarray
        Flow at which the limits just hold, whatever the level; 0 where they hold without a
        pump, NaN where no flow keeps them.
    head_ft, head_m : float or ndarray
        What the line asks at that flow, from the off level.
    velocity_fps, velocity_mps : float or ndarray
        In the last run, at that flow: a pipe may be too narrow or too wide for it.
    status : str or ndarray of str
        ``ok``, ``none_needed`` or ``none_serves``.
    """

    _flow: FloatArray
    _head: FloatArray
    _velocity: FloatArray
    _status: Any
    _names: tuple[str, ...] = ()

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    head_ft, head_m = View("_head"), View("_head")
    velocity_fps, velocity_mps = View("_velocity"), View("_velocity")

    _mends: ClassVar[dict[str, str]] = {
        "none_needed": "the limits hold without a pump",
        "none_serves": "even a pump of the greatest inflow does not keep the limits; lower the on "
        "float, or allow for more",
    }

    def _axes(self) -> list[tuple[str, list[str]]]:
        return [("line", list(self._names))] if np.ndim(self._flow) else []


def least_pump(
    lines: DischargeLine | Sequence[DischargeLine],
    pit: Pit,
    storms: Hydrograph,
    limits: Limits,
    *,
    pond_area_ft2: float | None = None,
    pond_area_m2: float | None = None,
    pond_storage: PondStorage | None = None,
    overflow_in: float | None = None,
    overflow_mm: float | None = None,
) -> LeastPump:
    """Return the flow and head such that the limits on pond and overflow just hold.

    Parameters
    ----------
    lines : DischargeLine or sequence of them
        Of scalars.
    pit : Pit
        With its floats.
    storms : Hydrograph
        Storms on its leading axis; the limits must hold in every one, or in those up to
        their ``dry_up_to_year``.
    limits : Limits
        On pond and overflow; without any of them nothing may pond.
    pond_area_ft2, pond_area_m2, pond_storage, overflow_in, overflow_mm : optional
        The low spot around the pit, as in `route`.

    Returns
    -------
    LeastPump

    Raises
    ------
    UnitError, InputError
        Bad units or values, or what `select` refuses of storms.

    Notes
    -----
    Pumps that give one flow at any head are routed, from none to the greatest inflow, then
    between the last that fails and the next. A greater flow may fail where a smaller one
    keeps the limits, by how full the pit happens to be when the burst comes: the answer is
    the flow from which on all that were tried keep them. A real pump of that duty gives
    more at higher water, so it is on the safe side.

    Examples
    --------
    >>> import drainpump as dp
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    >>> pit = dp.Pit(diameter_in=24, depth_in=42, off_in=8, on_in=20)
    >>> burst = dp.Hydrograph(flow_gpm=[10, 90, 30, 5, 0], block_min=10)
    >>> limits = dp.Limits(pond_depth_max_in=1)
    >>> duty = dp.size.least_pump(line, pit, burst, limits, pond_area_ft2=800)
    >>> round(duty.flow_gpm, 1), round(duty.head_ft, 1)
    (34.4, 9.4)
    """
    check_kind("limits", limits, Limits)
    check_kind("pit", pit, Pit)
    many, listing = listed("lines", lines, DischargeLine)
    overflow = u.maybe("overflow", guard="level", **u.inches(overflow_in, overflow_mm))
    pond = take_pond(pond_area_ft2, pond_area_m2, pond_storage)
    asked = asked_storms(storms, pond, overflow, limits, False)
    rows = [_least(asked, line, pit) for line in many]
    flow, head, velocity, status = (np.array(column) for column in zip(*rows, strict=True))
    if not listing:
        flow, head, velocity, status = (x[0] for x in (flow, head, velocity, status))
    names = tuple(line.name for line in many)
    return LeastPump(np.asarray(flow), np.asarray(head), np.asarray(velocity), status, names)


def _least(asked: Storms, line: DischargeLine, pit: Pit) -> tuple[float, float, float, str]:
    """Flow, head, velocity and status on one line."""
    low, high = 0.0, 1.02 * float(asked.inflow.si.flow.max())
    for _ in range(_ROUNDS):
        flows = np.linspace(low, high, _AT_ONCE)
        keeps = _keeps(asked, line, pit, flows) if high > 0 else np.ones(_AT_ONCE, dtype=bool)
        if not keeps[-1]:
            return np.nan, np.nan, np.nan, "none_serves"
        if keeps.all():
            return 0.0, 0.0, 0.0, "none_needed"
        last = int(np.flatnonzero(~keeps)[-1])
        low, high = flows[last : last + 2]
    there = line.head(flow_lps=u.from_si(high, "lps"))
    return float(high), float(there.si.head), float(there.si.velocity), "ok"


def _keeps(asked: Storms, line: DischargeLine, pit: Pit, flows: FloatArray) -> Any:
    """Whether pumps of these flows (m³/s) at any head keep the limits in the storms asked."""
    head = 2 * float(line.head(flow_lps=u.from_si(flows[-1], "lps")).si.head) + 10.0
    # none at all is a pump that hardly gives anything
    rates = np.atleast_1d(u.from_si(np.maximum(flows, 1e-6 * flows[-1]), "lps"))
    with u.speaking_of(()):
        pumps = [
            PumpCurve(name="of one flow", flow_lps=[0, (1 - _STEEP) * q, q], head_m=[head, head, 0])
            for q in rates
        ]
    suffered = asked.suffered(pumps, [line], pit)
    return (suffered.margin[:, 0, suffered.asked] <= 0).all(axis=-1)
