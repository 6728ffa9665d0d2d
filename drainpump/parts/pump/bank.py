"""Several pumps as one: side by side on a shared line, or one behind the other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.parts.line.run import Run
from drainpump.parts.part import Part, each, maker
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import check_kind, check_name, yes_or_no
from drainpump.results import caveats_of
from drainpump.units import FloatArray, Measure, View


class PumpBank(Part):
    """Pumps that work as one; make it with `parallel` or `series`.

    Parameters
    ----------
    pumps : sequence of PumpCurve
        The members in order; the first is the lead pump.
    risers : Run or sequence of Run or None
        What each pump has to itself before the shared line; None in series.
    in_series : bool
        One behind the other, each adding its head, rather than side by side.
    name : str, optional
        What to call the bank in tables.
    lag_on : measure, optional
        Level above the pit's floor at which all pumps but the lead start; read it as
        ``lag_on_in`` or ``lag_on_mm``.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 50], head_ft=[20, 0])
    >>> bank = dp.parallel([pump, pump], lag_on_in=20)
    >>> bank.name, bank.lag_on_in
    ('2 × A', 20.0)
    """

    lag_on_in, lag_on_mm = View("_lag_on", maybe=True), View("_lag_on", maybe=True)
    price = View("_price", maybe=True)

    def __init__(
        self,
        pumps: Sequence[PumpCurve | PumpBank],
        risers: Run | Sequence[Run | None] | None = None,
        in_series: bool = False,
        name: str | None = None,
        lag_on: Measure | None = None,
    ) -> None:
        check_name(name)
        yes_or_no("in_series", in_series, "say how the pumps stand")
        self.pumps = _in_series(pumps) if in_series else _side_by_side(pumps)
        self.risers = _riser_runs(risers, len(self.pumps))
        if in_series and any(self.risers):
            raise InputError("risers: pumps in series have none; put the pipe into the line.")
        self.in_series = in_series
        self.name = name or _called(self.pumps, " > " if in_series else " + ")
        if lag_on is not None:
            check_kind("lag_on", lag_on, Measure, "parallel(..., lag_on_in=...)")
        self._lag_on = lag_on
        alone = in_series or len(self.pumps) == 1
        if lag_on is not None and (alone or lag_on.si.ndim or np.isnan(lag_on.si)):
            allowed = "must be one number, with a pump besides the lead"
            mend = "leave it out where all pumps start together"
            raise wrong(f"lag_on_{lag_on.unit}", lag_on.typed, allowed, mend)

    @property
    def _price(self) -> FloatArray | None:
        prices = [pump._price for pump in self.pumps]
        known = [p for p in prices if p is not None]
        return np.asarray(np.sum(known)) if len(known) == len(prices) else None

    @property
    def notes(self) -> tuple[str, ...]:
        """Notes of the members, each once."""
        return tuple(dict.fromkeys(note for pump in self.pumps for note in pump.notes))

    @property
    def invented(self) -> bool:
        """True where a member's points are made up."""
        return any(pump.invented for pump in self.pumps)

    @property
    def _caveats(self) -> tuple[str, ...]:
        return caveats_of(self.pumps)

    @property
    def two_figures(self) -> bool:
        """True where two figures are all that is known of a member's curve."""
        return any(pump.two_figures for pump in self.pumps)

    @property
    def lead(self) -> PumpCurve | PumpBank:
        """The lead pump alone, on its own riser."""
        if self.risers[0] is None:
            return self.pumps[0]
        return parallel(self.pumps[:1], self.risers[:1], name=self.pumps[0].name)

    @cached_property
    def _curves(self) -> tuple[PumpCurve, ...]:
        """Every pump curve in the bank, banks within it opened."""
        return tuple(curve for pump in self.pumps for curve in pump._curves)

    @property
    def _rise(self) -> FloatArray:
        """Height of the shared line's start above the pump-off level, m."""
        return np.zeros(()) if self.risers[0] is None else self.risers[0]._rise.si

    def at_speed(self, ratio: u.Quantity) -> PumpBank:
        """Return the bank with every pump at another speed, see `PumpCurve.at_speed`."""
        return self.variant(pumps=[pump.at_speed(ratio) for pump in self.pumps])

    def worn(self, *, head: u.Quantity = 1.0, flow: u.Quantity = 1.0) -> PumpBank:
        """Return the bank with every pump worn alike, see `PumpCurve.worn`."""
        return self.variant(pumps=[pump.worn(head=head, flow=flow) for pump in self.pumps])

    def _scaled(self, head_factor: Any = 1.0, flow_factor: Any = 1.0) -> PumpBank:
        return self.variant(pumps=[pump._scaled(head_factor, flow_factor) for pump in self.pumps])

    def __str__(self) -> str:
        how = "series" if self.in_series else "parallel"
        lag = "" if self._lag_on is None else f", lag on at {self._lag_on}"
        lines = [f"PumpBank({self.name!r}, {how}{lag})"]
        for pump, riser in zip(self.pumps, self.risers, strict=True):
            lines.append(f"  {pump}" + ("" if riser is None else f"\n    riser: {riser}"))
        return "\n".join(lines)


#: what stands wherever a pump can
Pump: TypeAlias = PumpCurve | PumpBank


@maker
def parallel(
    pumps: Sequence[Pump],
    risers: Run | Sequence[Run | None] | None = None,
    *,
    name: str | None = None,
    lag_on_in: u.Quantity | None = None,
    lag_on_mm: u.Quantity | None = None,
) -> PumpBank:
    """Return pumps side by side on one discharge line; usable wherever a pump is.

    Parameters
    ----------
    pumps : sequence of PumpCurve
        At least one, alike or not; the first is the lead. A series bank may be a member.
    risers : Run or sequence of Run or None, optional
        What each pump has to itself up to where the shared line begins: one for each
        pump, or one Run that all have alike. Their rise comes before the shared line's
        and is the same for all, for they meet at one point.
    name : str, optional
        What to call the bank; made from its pumps when not given.
    lag_on_in, lag_on_mm : float, optional
        Level above the pit's floor, >= 0, at which the other pumps join the lead, above
        the pit's on level. All stop together at the pit's off level. Without it all start
        together.

    Returns
    -------
    PumpBank

    Raises
    ------
    InputError
        No pumps, a parallel bank among them, risers that do not match them, or rises that
        differ.

    Notes
    -----
    At one head at the junction the flows add. A riser's losses use the shared line's
    water and friction. Each pump is taken to have its own check valve, so none runs
    backwards: one shut out by the others gives nothing and is ``no_flow`` in
    ``share_status``. The valve's loss comes only from the riser's fittings or k. Where one
    pump runs before its curve's first point the bank is ``below_curve`` and nothing is
    counted on, though the others run: give that pump's ``shutoff_ft``. A drooping pump that
    the others might hold shut makes the bank ``multiple``.

    References
    ----------
    Hydraulic Institute, *Engineering Data Library*, pump curves, pumps in parallel.

    Examples
    --------
    >>> import numpy as np
    >>> import drainpump as dp
    >>> q = np.linspace(0, 50, 26)
    >>> pump = dp.PumpCurve(name="A", flow_gpm=q, head_ft=20 * (1 - (q / 50) ** 2))
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=4)
    >>> riser = dp.Run(pipe=dp.Pipe(bore_in=1.59), length_ft=0, k=2.5)
    >>> op = dp.operating_point(dp.parallel([pump, pump], riser), line)
    >>> round(op.flow_gpm, 1), op.share_gpm.round(1).tolist()
    (50.3, [25.1, 25.1])
    """
    lag = u.Typed(locals()).maybe("lag_on", "level")
    return PumpBank(pumps, risers, False, name, lag)


@maker
def series(pumps: Sequence[Pump], *, name: str | None = None) -> PumpBank:
    """Return pumps one behind the other, each adding its head; usable wherever a pump is.

    Parameters
    ----------
    pumps : sequence of PumpCurve
        At least one, alike or not. A bank in series may be a member, one in parallel not.
    name : str, optional
        What to call the bank; made from its pumps when not given.

    Returns
    -------
    PumpBank

    Raises
    ------
    InputError
        No pumps, a parallel bank among them, or curves with no flow in common.

    Notes
    -----
    At one flow the heads add. The bank's curve reaches only as far as every member's
    does, for none is extrapolated.

    References
    ----------
    Hydraulic Institute, *Engineering Data Library*, pump curves, pumps in series.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=25)
    >>> op = dp.operating_point(dp.series([pump, pump]), line)
    >>> op.status, op.share_gpm.size
    ('ok', 2)
    """
    return PumpBank(pumps, None, True, name)


def _side_by_side(pumps: Any) -> tuple[Pump, ...]:
    """The members of a parallel bank, none of them one itself."""
    members = _members("parallel", pumps)
    for i, pump in enumerate(members):
        if isinstance(pump, PumpBank) and not pump.in_series:
            raise InputError(
                f"parallel: pumps[{i}] is a parallel bank itself; give all its pumps to one call."
            )
    return members


def _in_series(pumps: Any) -> tuple[PumpCurve, ...]:
    """The members of a series bank, banks among them opened, with some flow in common."""
    opened: list[PumpCurve] = []
    for i, pump in enumerate(_members("series", pumps)):
        if isinstance(pump, PumpBank) and not pump.in_series:
            raise InputError(
                f"series: pumps[{i}] is a parallel bank, whose head at a flow is not one curve's; "
                "put series banks in parallel instead."
            )
        opened += pump._curves
    first = max(float(np.max(p._flow[0] * p._flow_factor)) for p in opened)
    last = min(float(np.min(p._flow[-1] * p._flow_factor)) for p in opened)
    if first >= last:
        raise InputError(
            f"series: one curve begins at {u.both(first, 'gpm')}, another ends at "
            f"{u.both(last, 'gpm')}; the pumps have no flow in common, choose others."
        )
    return tuple(opened)


def _riser_runs(risers: Any, count: int) -> tuple[Run | None, ...]:
    """One riser or None for each pump, all of one rise."""
    if risers is None or isinstance(risers, Run):
        runs: tuple[Run | None, ...] = (risers,) * count
    elif isinstance(risers, Sequence):
        runs = tuple(risers)
    elif isinstance(risers, Pump):
        raise InputError(
            f"parallel: {risers.name!r} stands where the risers do; give the pumps as a list: "
            "parallel([a, b])."
        )
    else:
        raise wrong("risers", risers, "must be a Run or a list of them", "make one with Run(...)")
    if len(runs) != count:
        raise InputError(
            f"risers: {len(runs)} for {count} pumps; give one Run a pump, None where a "
            "pump has no riser of its own."
        )
    for i, run in enumerate(runs):
        if run is not None and not isinstance(run, Run):
            raise wrong(f"risers[{i}]", run, "must be a Run or None", "make one with Run(...)")
    rises = [np.zeros(()) if run is None else run._rise.si for run in runs]
    for i, rise in enumerate(rises):
        if np.any(np.abs(rise - rises[0]) > 1e-9):
            raise InputError(
                f"risers[{i}]: rises {u.both(rise, 'ft')}, the first {u.both(rises[0], 'ft')}; "
                "all meet at the start of the shared line, give them one rise."
            )
    return runs


def _members(how: str, pumps: Any) -> tuple[Pump, ...]:
    members = tuple(pumps) if isinstance(pumps, Sequence) else (pumps,)
    if not members:
        raise InputError(f"{how}: no pumps; give a list of one PumpCurve or more.")
    for i, pump in enumerate(members):
        if not isinstance(pump, Pump):
            allowed = "must be a PumpCurve or a bank"
            raise wrong(f"pumps[{i}]", pump, allowed, "make one with PumpCurve(...)")
    return members


def _called(members: Sequence[Pump], sign: str) -> str:
    """Name a bank by its members: "2 × A" or "A + B"."""
    names = [pump.name for pump in members]
    if len(names) > 1 and len(set(names)) == 1:
        return f"{len(names)} × {names[0]}" + (" in series" if sign == " > " else "")
    return sign.join(names)


def pump_from_dict(given: Mapping[str, Any]) -> Pump:
    """Build a pump or a bank from what its ``to_dict`` gave."""
    bank = isinstance(given, Mapping) and any(maker in given for maker in PumpBank._makers)
    return PumpBank.from_dict(given) if bank else PumpCurve.from_dict(given)


def _risers_from_dict(given: Any) -> Any:
    if isinstance(given, Mapping):
        return Run.from_dict(given)
    return each(lambda run: None if run is None else Run.from_dict(run))(given)


PumpBank._makers = {"parallel": parallel, "series": series}
PumpBank._nested = {
    "pumps": each(pump_from_dict),
    "risers": _risers_from_dict,
}
