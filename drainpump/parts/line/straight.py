"""The commonest discharge line: one run that rises all the way."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drainpump import units as u
from drainpump.errors import UnitError
from drainpump.parts.all_faults import all_at_once
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import OF_RUN, DischargeLine, Friction
from drainpump.parts.line.outlet import Outlet
from drainpump.parts.line.pipe import Pipe
from drainpump.parts.line.run import Run


@all_at_once
def straight_line(
    *,
    pipe: Pipe,
    length_ft: u.Quantity | None = None,
    length_m: u.Quantity | None = None,
    lift_ft: u.Quantity | None = None,
    lift_m: u.Quantity | None = None,
    fittings: Mapping[str, Fitting | u.Quantity] | None = None,
    k: u.Quantity | None = None,
    equivalent_length_ft: u.Quantity | None = None,
    equivalent_length_m: u.Quantity | None = None,
    outlet: Outlet | None = None,
    friction: Friction | None = None,
    water_f: u.Quantity | None = None,
    water_c: u.Quantity | None = None,
    siphon: bool | None = None,
    check_valve: bool | None = None,
    name: str | None = None,
) -> DischargeLine:
    """Return a line of one run, rising all the way by the lift.

    Parameters
    ----------
    pipe, length_ft, length_m, fittings, k, equivalent_length_ft, equivalent_length_m
        As in `Run`.
    lift_ft, lift_m : float or array_like
        Height of the outlet above the pump-off water level. Exactly one.
    outlet, friction, water_f, water_c, siphon, check_valve, name
        As in `DischargeLine`.

    Returns
    -------
    DischargeLine

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Examples
    --------
    >>> import drainpump as dp
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=200, lift_ft=8, k=6.0)
    >>> round(line.head(flow_gpm=40).head_ft, 1)
    15.4
    """
    given: dict[str, Any] = locals()
    if lift_ft is None and lift_m is None:
        raise UnitError("lift: no value given; give exactly one of lift_ft, lift_m.")
    # what is left out stays left out: no default is passed on as if it had been typed
    given = {name: value for name, value in given.items() if value is not None}
    of_run = {name.replace("lift", "rise"): given.pop(name) for name in OF_RUN if name in given}
    with u.called(rise="lift"):
        run = Run(**of_run)
    return DischargeLine(runs=[run], **given)
