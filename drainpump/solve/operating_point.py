"""The operating point: pumps against discharge lines, in one call."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any, ClassVar

import numpy as np
import numpy.typing as npt

from drainpump import states
from drainpump import units as u
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.bank import Pump
from drainpump.physics import system
from drainpump.results import Result, caveats_of, shown_rows
from drainpump.solve import members
from drainpump.solve.chunks import PossibleFlow, solve_grid
from drainpump.solve.flat_curve import Share
from drainpump.solve.grid import Grid, make_grid
from drainpump.states import BELOW, BEYOND, MENDS, NAMES, NO_FLOW, OK
from drainpump.units import FloatArray, View

_MAY_NOT_START = (
    "whether the siphon starts is not known: the curve has no point at no flow, and over the high "
    "point it would run before its first; give shutoff_ft"
)


class OperatingPoint(Result):
    """Where pump and line agree; arrays of shape (pumps, lines, *quantities).

    Of a parallel bank, the head and its parts are those of the shared line, its height
    counted from the pump-off level; the losses in a riser are its own pump's.

    Attributes
    ----------
    flow_gpm, flow_lps : float or ndarray
        Operating flow; 0 where ``no_flow``, NaN where it is not known.
    head_ft, head_m : float or ndarray
        Head the line asks at that flow = static + pipe + fittings + outlet, at the
        governing point. The parts are ``static_ft``, ``pipe_ft``, ``fittings_ft`` and
        ``outlet_ft`` (each with its metric twin).
    velocity_fps, velocity_mps : float or ndarray
        Velocity in the last run; ``velocity_slowest_fps`` and ``velocity_fastest_fps``
        look at every run.
    power_w : float or ndarray
        Electrical power, NaN where the curve has none.
    flow_at_least_gpm, flow_at_most_gpm : float or ndarray
        The bound where the crossing lies beyond the last point or before the first;
        equal to the flow where that is known.
    zero_flow_head_ft, shutoff_ft : float or ndarray
        Head the line asks before any flow, high point and lid included, and the head the
        pump makes there (NaN where its curve has no such point): the two numbers
        behind ``no_flow``.
    vented_flow_gpm, vented_flow_lps : float or ndarray
        Flow while air still stands in the high point: that of a siphoning line before it
        siphons, the flow itself of any other.
    range_share : float or ndarray
        Flow as a share of the curve's last point; of a bank, the largest of its pumps'.
    share_gpm, share_lps : ndarray
        Flow of each pump of a bank, always with one axis more than the flow, behind all
        others: as long as the largest bank asked about, padded with NaN; of length 1
        where all are plain pumps. In series each pump carries the whole flow.
    share_status : ndarray of str
        ``ok``, or why that pump gives no known flow, shaped as the shares; "" in the
        padding. ``no_flow`` beside others that run: it is shut out.
    shut_out : bool or ndarray of bool
        True where a pump of a running bank gives nothing.
    crossings : tuple of PossibleFlow
        Every crossing of the elements that are ``multiple``.
    status : str or ndarray of str
        ``ok``, ``no_flow``, ``beyond_curve``, ``below_curve``, ``multiple`` or
        ``bad_input``.
    """

    _grid: Grid
    _flow: FloatArray
    _code: npt.NDArray[np.int8]
    _reckoned: FloatArray
    _several: tuple[PossibleFlow, ...]

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    head_ft, head_m = View("_head"), View("_head")
    static_ft, static_m = View("_static"), View("_static")
    pipe_ft, pipe_m = View("_pipe"), View("_pipe")
    fittings_ft, fittings_m = View("_fittings"), View("_fittings")
    outlet_ft, outlet_m = View("_outlet"), View("_outlet")
    velocity_fps, velocity_mps = View("_velocity"), View("_velocity")
    velocity_slowest_fps, velocity_slowest_mps = View("_slowest"), View("_slowest")
    velocity_fastest_fps, velocity_fastest_mps = View("_fastest"), View("_fastest")
    power_w = View("_power")
    flow_at_least_gpm, flow_at_least_lps = View("_at_least"), View("_at_least")
    flow_at_most_gpm, flow_at_most_lps = View("_at_most"), View("_at_most")
    zero_flow_head_ft, zero_flow_head_m = View("_zero_flow_head"), View("_zero_flow_head")
    shutoff_ft, shutoff_m = View("_shutoff"), View("_shutoff")
    vented_flow_gpm, vented_flow_lps = View("_vented_flow"), View("_vented_flow")
    range_share = View("_range_share")

    _mends: ClassVar[dict[str, str]] = MENDS | {"multiple": MENDS["multiple"] + "; see .crossings"}

    @property
    def _status(self) -> Any:
        return NAMES[self._code]

    @property
    def _failed(self) -> npt.NDArray[np.bool_]:
        return np.asarray(self._code != OK)

    def _counts(self) -> dict[str, int]:
        count = np.bincount(self._code.ravel(), minlength=NAMES.size)
        return {str(NAMES[i]): int(count[i]) for i in np.argsort(NAMES) if count[i]}

    @property
    def crossings(self) -> tuple[PossibleFlow, ...]:
        """Every crossing of the elements that are ``multiple``."""
        return self._several

    def _rows(self, units: u.System, most: int | None) -> Any:
        """Of a large answer only what is shown is worked out."""
        shape = self._code.shape
        row = shown_rows(shape, most)
        if row.size == self._code.size:
            return super()._rows(units, most)
        number, where = np.divmod(row, self._grid.level.size)
        some = (self._some(p, where[number == p]) for p in np.unique(number))
        data = [op._told(units) for op in some]
        return shape, row, {name: np.concatenate([d[name] for d in data]) for name in data[0]}

    def _some(self, pump: int, where: npt.NDArray[np.intp]) -> OperatingPoint:
        """One pump on some of the flat elements."""
        one = self._grid.pumps[pump : pump + 1]
        grid = replace(self._grid.some(where), pumps=one, listed=(False, False))
        held = (self._flow, self._code, self._reckoned)
        flow, code, reckoned = (a.reshape(-1, self._grid.level.size)[pump, where] for a in held)
        return OperatingPoint(grid, flow, code, reckoned, ())

    def _explain_at(self, index: tuple[int, ...]) -> str:
        text = super()._explain_at(index)
        if np.asarray(self._code)[index] == NO_FLOW:
            asked, made = np.asarray(self._zero_flow_head)[index], np.asarray(self._shutoff)[index]
            return (
                f"{text} (the line asks {u.both(asked, 'ft')} before any flow, "
                f"the pump makes {u.both(made, 'ft')})"
            )
        return text

    def at_flow(self, flow: FloatArray) -> OperatingPoint:
        """The same pumps and lines at other flows (m³/s): at a bound, where only that is known."""
        return replace(self, _flow=flow)

    # -- worked out when first asked for, so that a grid of a million flows stays cheap

    @cached_property
    def _flat(self) -> FloatArray:
        """The flows, a row for each pump over the grid's flat elements."""
        return self._flow.reshape(len(self._grid.pumps), -1)

    def _shaped(self, rows: Any) -> FloatArray:
        """Give rows (pumps, N) the answer's axes."""
        return u.frozen(np.reshape(rows, self._grid.shape))  # type: ignore[no-any-return]

    @cached_property
    def _parts(self) -> dict[str, FloatArray]:
        rows = [system.head_parts(q, self._grid.line) for q in self._flat]
        return {
            name: self._shaped([getattr(r, name) for r in rows])
            for name in ("static", "pipe", "fittings", "outlet")
        }

    @cached_property
    def _static(self) -> FloatArray:
        return self._above_water(self._parts["static"])

    def _above_water(self, heads: Any) -> FloatArray:
        """Heads at the lines' starts, counted from the water in the pit."""
        grid = self._grid
        lower = self._shaped([grid.starts(pump) - grid.level for pump in grid.pumps])
        return self._known(self._shaped(heads) + lower)

    @cached_property
    def _shares(self) -> tuple[Share, ...]:
        return members.divide(self._grid, self._flow)

    @property
    def share_gpm(self) -> Any:
        """Flow of each pump of a bank, on one more axis behind all others."""
        return u.from_si(members.padded(self._grid, [s.flow for s in self._shares], np.nan), "gpm")

    @property
    def share_lps(self) -> Any:
        """Flow of each pump of a bank, on one more axis behind all others."""
        return u.from_si(members.padded(self._grid, [s.flow for s in self._shares], np.nan), "lps")

    @property
    def share_status(self) -> Any:
        """Status of each pump of a bank, shaped as its share."""
        return u.out(members.padded(self._grid, [NAMES[s.code] for s in self._shares], ""))

    @property
    def shut_out(self) -> Any:
        """True where a pump of a running bank gives nothing."""
        idle = (np.asarray(self.share_status) == "no_flow").any(axis=-1)
        return u.out(idle & (self._flow > 0))

    @cached_property
    def _pipe(self) -> FloatArray:
        return self._known(self._parts["pipe"])

    @cached_property
    def _fittings(self) -> FloatArray:
        return self._known(self._parts["fittings"])

    @cached_property
    def _outlet(self) -> FloatArray:
        return self._known(self._parts["outlet"])

    @cached_property
    def _head(self) -> FloatArray:
        # the sum of the parts, without parting them
        return self._above_water([self._grid.line.curve.head(q) for q in self._flat])

    def _known(self, values: FloatArray) -> FloatArray:
        return np.where(np.isnan(self._flow), np.nan, values)

    @cached_property
    def _velocity(self) -> FloatArray:
        return self._shaped(self._flat / self._grid.line.area[-1])

    @cached_property
    def _slowest(self) -> FloatArray:
        return self._shaped(self._flat / self._grid.line.area.max(axis=0))

    @cached_property
    def _fastest(self) -> FloatArray:
        return self._shaped(self._flat / self._grid.line.area.min(axis=0))

    @cached_property
    def _power(self) -> FloatArray:
        return self._shaped(members.watts(self._grid, self._shares))

    @cached_property
    def _at_least(self) -> FloatArray:
        return np.where(self._code == BEYOND, self._reckoned, self._flow)

    @cached_property
    def _at_most(self) -> FloatArray:
        return np.where(self._code == BELOW, self._reckoned, self._flow)

    @cached_property
    def _counted(self) -> FloatArray:
        """Flow that may be counted on (m³/s)."""
        return states.counted_on(self._code, self._flow, self._reckoned)

    @cached_property
    def _zero_flow_head(self) -> FloatArray:
        grid = self._grid
        shared = system.start_head(grid.line)
        heads = [np.maximum(shared + grid.starts(pump), 0.0) for pump in grid.pumps]
        return self._shaped(heads - grid.level)

    @cached_property
    def _shutoff(self) -> FloatArray:
        return self._shaped([flat.shutoff() for flat in self._grid.flats])

    @cached_property
    def _peak(self) -> FloatArray:
        """Highest head the pump makes at any flow (m); not known without a point at no flow."""
        tops = self._shaped([flat.top() for flat in self._grid.flats])
        return np.where(np.isnan(self._shutoff), np.nan, tops)

    @cached_property
    def _siphonless(self) -> OperatingPoint:
        return solve(replace(self._grid, line=self._grid.line.without("siphon")))

    @property
    def _vented(self) -> OperatingPoint:
        """The same with air let in at the high points, as it is before a siphon siphons."""
        return self._siphonless if self._grid.line.siphon.any() else self

    @property
    def _vented_flow(self) -> FloatArray:
        return self._vented._flow

    @property
    def _may_not_start(self) -> Any:
        # below its first point a curve does not say whether the pump reaches over a high point
        return (self._vented._code == BELOW) & (self._code != BELOW)

    def _remarks(self) -> list[str]:
        said = [_MAY_NOT_START] * bool(self._may_not_start.any())
        return [*said, *caveats_of(self._grid.pumps)]

    @cached_property
    def _range_share(self) -> FloatArray:
        return self._shaped(members.range_share(self._grid, self._shares))


def operating_point(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    *,
    level_above_off_ft: u.Quantity | None = None,
    level_above_off_m: u.Quantity | None = None,
) -> OperatingPoint:
    """Find the flow at which the pump makes just the head the line asks.

    Parameters
    ----------
    pump : PumpCurve, bank of pumps, or sequence of them
        Banks come from `parallel` and `series`. A list adds an axis in front, even of one.
    line : DischargeLine or sequence of DischargeLine
        A list adds an axis behind the pumps'.
    level_above_off_ft, level_above_off_m : float or array_like, default 0
        Water level above the pump-off level, >= 0, ft or m. The default is the off
        level, the hardest.

    Returns
    -------
    OperatingPoint
        Arrays of shape (pumps, lines, *shape of the quantities).

    Raises
    ------
    UnitError, InputError
        Bad units or values, or arrays that do not broadcast. An element that has no
        operating point is a status, never an error; ``.require()`` raises.

    Notes
    -----
    Solves ``H_pump(Q) = H_line(Q) - level``. The curve is never extrapolated: past its
    last point the status is ``beyond_curve``, before its first ``below_curve``, each
    with its bound.

    Examples
    --------
    >>> import numpy as np
    >>> import drainpump as dp
    >>> q = np.linspace(0, 50, 26)
    >>> pump = dp.PumpCurve(name="A", flow_gpm=q, head_ft=20 * (1 - (q / 50) ** 2))
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=[50, 150], lift_ft=6, k=6.3)
    >>> op = dp.operating_point(pump, line)
    >>> op.flow_gpm.round(1).tolist(), op.status.tolist()
    ([31.5, 25.9], ['ok', 'ok'])
    """
    spelled = {"ft": level_above_off_ft, "m": level_above_off_m}
    level = u.take("level_above_off", guard="level", default=("ft", 0.0), **spelled)
    return solve(make_grid(pump, line, level.si))


def solve(grid: Grid) -> OperatingPoint:
    """Solve a grid."""
    found = solve_grid(grid)
    return OperatingPoint(
        grid,
        found.flow.reshape(grid.shape),
        found.code.reshape(grid.shape),
        found.reckoned.reshape(grid.shape),
        tuple(found.several),
    )


def solve_arrays(
    pump: Pump | Sequence[Pump],
    line: system.LineArrays | Sequence[system.LineArrays],
    level: FloatArray | float = 0.0,
    *,
    risers: Sequence[system.LineArrays] = (),
) -> OperatingPoint:
    """Solve pumps against lines given as arrays, the water ``level`` (m) above the off level.

    For lines that nobody typed: a part's arrays with something in them changed. ``risers``
    stand in place of one bank's own.
    """
    grid = make_grid(pump, line, np.asarray(level, dtype=np.float64))
    return solve(replace(grid, risers=tuple(riser.flat(grid.inner, 1) for riser in risers)))
