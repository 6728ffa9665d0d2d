"""The discharge line: runs in order from the pump, and the outlet."""

from __future__ import annotations

import inspect
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any, ClassVar, Literal, TypeAlias, get_args

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, wrong
from drainpump.foreign import check_keywords, is_among
from drainpump.parts.all_problems import all_at_once
from drainpump.parts.line import hand_off, profile  # noqa: F401  an outlet that plain values may name
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.outlet import FreeOutlet, Junction, Outlet, SubmergedOutlet
from drainpump.parts.line.pipe import Pipe
from drainpump.parts.line.run import Run, granted_valve
from drainpump.parts.part import Part, each
from drainpump.parts.scalars import check_name, yes_or_no
from drainpump.physics import system, water
from drainpump.results import Frame, Result, one_shape
from drainpump.units import FloatArray, View

Friction: TypeAlias = Literal["darcy", "hazen_williams"]
_FRICTION = get_args(Friction)
#: what a line of one run takes in `DischargeLine.replace` for its run
_OF_RUN = (
    "pipe", "length_ft", "length_m", "lift_ft", "lift_m", "fittings", "k",
    "equivalent_length_ft", "equivalent_length_m",
)  # fmt: skip


class LineHead(Result):
    """The head a line asks at a flow, and what it is made of.

    Attributes
    ----------
    head_ft, head_m : float or ndarray
        Total head at the governing point: static + pipe + fittings + outlet.
    static_ft, static_m : float or ndarray
        Height of the governing point above the water in the pit.
    pipe_ft, pipe_m, fittings_ft, fittings_m : float or ndarray
        Friction of the pipe and losses of the fittings up to the governing point.
    outlet_ft, outlet_m : float or ndarray
        Velocity head lost where the water leaves the full pipe, at the outlet or the high
        point that governs, and the outlet's lid; 0 elsewhere.
    velocity_fps, velocity_mps : float or ndarray
        Mean velocity in the last run.
    governing_run : int or ndarray of int
        1, 2, ... the run whose end governs; 0 where the start does.
    """

    _flow: FloatArray
    _static: FloatArray
    _pipe: FloatArray
    _fittings: FloatArray
    _outlet: FloatArray
    _velocity: FloatArray
    _point: Any
    _status: Any

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    head_ft, head_m = View("_head"), View("_head")
    static_ft, static_m = View("_static"), View("_static")
    pipe_ft, pipe_m = View("_pipe"), View("_pipe")
    fittings_ft, fittings_m = View("_fittings"), View("_fittings")
    outlet_ft, outlet_m = View("_outlet"), View("_outlet")
    velocity_fps, velocity_mps = View("_velocity"), View("_velocity")
    governing_run = View("_point")

    @property
    def _head(self) -> FloatArray:
        return self._static + self._pipe + self._fittings + self._outlet


class DischargeLine(Part):
    """From the pump's outlet to where the water leaves.

    The datum is the pump-off water level: the first run starts there, and the sum of
    the rises is the static lift.

    Parameters
    ----------
    runs : Run or sequence of Run
        In order from the pump. Each has its own bore, length, rise and fittings.
    outlet : outlet, default ``FreeOutlet()``
        The outlet alone charges the exit, K = 1 on the last run's bore.
    friction : {"darcy", "hazen_williams"}
        Darcy-Weisbach with Colebrook-White, or Hazen-Williams with each pipe's C.
    water_f, water_c : float or array_like, default 60 °F
        Water temperature, 32 °F to 104 °F (0 °C to 40 °C); sets the viscosity. The
        default is common practice, no source.
    siphon : bool, default False
        Whether the drop past a high point is credited. The vented line is the careful
        assumption: air enters at a high point.
    check_valve : bool, default True
        Whether the line holds its water when the pump stops. Stated, never inferred;
        the valve's loss comes only from ``fittings`` or ``k``.
    name : str, optional
        What to call the line in tables; made from its pipes when not given.

    Raises
    ------
    UnitError, InputError
        Bad units or values, or a check-valve fitting with ``check_valve=False``.

    Notes
    -----
    The head asked is the largest, over the start and all run ends, of elevation plus
    losses up to there; a high point adds the velocity head of the run that ends there,
    the last end the outlet's loss. With ``siphon=True`` it is that at the outlet alone.

    Examples
    --------
    >>> import drainpump as dp
    >>> riser = dp.Run(pipe=dp.pvc("1-1/2"), length_ft=10, rise_ft=6)
    >>> buried = dp.Run(pipe=dp.pvc("2"), length_ft=140, fittings={"elbow_90": 3})
    >>> line = dp.DischargeLine(runs=[riser, buried], outlet=dp.FreeOutlet(lid_ft=0.25))
    >>> head = line.head(flow_gpm=30)
    >>> round(head.head_ft, 2), round(head.static_ft, 2)
    (9.57, 6.0)
    """

    water_f, water_c = View("_water"), View("_water")
    lift_ft, lift_m = View("_lift"), View("_lift")
    length_ft, length_m = View("_length"), View("_length")
    volume_gal, volume_l = View("_volume"), View("_volume")
    dip_volume_gal, dip_volume_l = View("_dip_volume"), View("_dip_volume")

    _nested: ClassVar = {
        "runs": each(Run.from_dict),
        "outlet": Outlet.from_dict,
    }

    def __init__(
        self,
        *,
        runs: Run | Sequence[Run],
        outlet: Outlet | None = None,
        friction: Friction = "darcy",
        water_f: u.Quantity | None = None,
        water_c: u.Quantity | None = None,
        siphon: bool = False,
        check_valve: bool = True,
        name: str | None = None,
    ) -> None:
        self.runs = tuple(runs) if isinstance(runs, Sequence) else (runs,)
        if not self.runs or not all(isinstance(run, Run) for run in self.runs):
            raise wrong("runs", runs, "must be one Run or more", "make them with Run(...)")
        self._given["runs"] = list(self.runs)  # one run is a list of one
        if not is_among(friction, _FRICTION):
            raise wrong("friction", friction, f"must be one of {_FRICTION}", "pick one of the two")
        self.siphon = yes_or_no("siphon", siphon)
        self.check_valve = yes_or_no("check_valve", check_valve)
        if outlet is not None and not isinstance(outlet, Outlet):
            mend = "make one with FreeOutlet(...), PopUpOutlet(...), SubmergedOutlet(...) or "
            raise wrong("outlet", outlet, "must be an outlet", mend + "GravityHandOff(...)")
        check_name(name)
        if not check_valve and any(run.has_check_valve for run in self.runs):
            mend = "remove it from the fittings, or say check_valve=True"
            raise wrong("check_valve", False, "the fittings contain a check valve", mend)
        self.outlet: Outlet = FreeOutlet() if outlet is None else outlet
        self.friction = friction
        self._water = u.Typed(locals()).take("water", default=("f", 60.0))
        self.name = name or self._describe()
        self._doubt_lift()
        self._arrays  # noqa: B018  refuses arrays that do not broadcast while the line is built

    def _doubt_lift(self) -> None:
        """Warn of an open end below the pump-off level, to which the water would run by itself."""
        try:
            lift = self._lift
        except ValueError:
            return  # arrays that do not broadcast: refused by their shapes
        if (
            lift.size
            and np.all(lift < 0)
            and not isinstance(self.outlet, SubmergedOutlet | Junction)
        ):
            u.unusual(
                f"lift {u.both(lift, 'ft')}: the open end is below the pump-off level, where water "
                "runs by itself; give the outlet's height above the water in the pit.",
                "runs", "rise_ft", "rise_m", "lift_ft", "lift_m",
            )  # fmt: skip

    def _replaced(self, changes: dict[str, Any]) -> Any:
        if len(self.runs) == 1:
            own = inspect.signature(self._make).parameters
            check_keywords("DischargeLine.replace", changes, [*own, *_OF_RUN])
        of_run = {name: changes.pop(name) for name in _OF_RUN if name in changes}
        if not of_run:
            return super()._replaced(changes)
        if len(self.runs) > 1 or "runs" in changes:
            raise InputError(
                f"{', '.join(of_run)}: belongs to a run, and the line has {len(self.runs)}; give "
                "runs=[...], each made with run.replace(...)."
            )
        of_run = {name.replace("lift", "rise"): value for name, value in of_run.items()}
        with u.called(rise="lift"):
            run = self.runs[0]._replaced(of_run)
        return super()._replaced(changes | {"runs": [run]})

    @cached_property
    def _arrays(self) -> system.LineArrays:
        """The line as plain SI arrays, runs on axis 0."""
        runs = [run.si.columns for run in self.runs]
        columns = {name: [run[name] for run in runs] for name in runs[0]}
        shape = one_shape("line", *(a for arrays in columns.values() for a in arrays))
        ends = {
            "lid": self.outlet.si.least_head,
            "orifice": self.outlet.si.orifice,
            "tail": self.outlet.si.tail,
            "viscosity": water.kinematic_viscosity(self._water.si),
        }
        one_shape("line", np.zeros(shape), *ends.values())
        # a field keeps its own axes; only runs that differ in shape are broadcast together
        stacked = {k: np.stack(np.broadcast_arrays(*arrays)) for k, arrays in columns.items()}
        stacked["end"] = np.cumsum(stacked["end"], axis=0)
        ndim = len(np.broadcast_shapes(shape, *(np.shape(a) for a in ends.values())))
        return system.LineArrays(
            **stacked,
            **{k: np.asarray(a, dtype=np.float64) for k, a in ends.items()},
            exit_k=np.asarray(self.outlet.exit_k, dtype=np.float64),
            high_point_k=np.ones(()),
            darcy=np.asarray(self.friction == "darcy"),
            siphon=np.asarray(self.siphon),
            holds=np.asarray(self.check_valve),
        ).aligned(ndim)

    @property
    def _lift(self) -> FloatArray:
        return np.asarray(sum(run.si.rise for run in self.runs))

    @property
    def _length(self) -> FloatArray:
        return np.asarray(sum(run.si.length for run in self.runs))

    @property
    def _volume(self) -> FloatArray:
        return np.asarray(sum(run.si.volume for run in self.runs))

    @property
    def _returning_volume(self) -> FloatArray:
        return profile.returning(self._arrays)

    def head(
        self,
        *,
        flow_gpm: u.Quantity | None = None,
        flow_lps: u.Quantity | None = None,
        level_above_off_ft: u.Quantity | None = None,
        level_above_off_m: u.Quantity | None = None,
    ) -> LineHead:
        """Return the head the line asks at a flow, in its parts.

        Parameters
        ----------
        flow_gpm, flow_lps : float or array_like
            Flow, >= 0. Exactly one.
        level_above_off_ft, level_above_off_m : float or array_like, default 0
            Water level above the pump-off level, which lowers the head by as much.

        Returns
        -------
        LineHead
            Parts at the governing point, of the broadcast shape.
        """
        said = u.Typed(locals())
        level = said.take("level_above_off", "level", default=("ft", 0.0))
        return head_of(self, said.take("flow").si, level.si)

    @property
    def _dip_volume(self) -> FloatArray:
        return np.asarray(profile.dips(self._arrays).sum(axis=0))

    @property
    def notes(self) -> tuple[str, ...]:
        """What the profile asks of a reader: dips that hold water, and frost."""
        return profile.notes(self._arrays, self.check_valve)

    def profile(self, units: u.System = "us") -> Frame:
        """Return the start and the end of each run in order, above the pump-off level.

        Parameters
        ----------
        units : {"us", "metric"}
            Which spelling of each quantity becomes a column.

        Returns
        -------
        pandas.DataFrame
            Columns run (0 the start), point ("start", "high point", "low point", "end" or
            nothing), distance, elevation, and the water that the run ending there still
            holds when the line has drained; axis numbers in front for a line of arrays.

        Examples
        --------
        >>> import drainpump as dp
        >>> pipe = dp.Pipe(bore_in=2.047)
        >>> over = [dp.Run(pipe=pipe, length_ft=30, rise_ft=12), dp.Run(pipe=pipe, length_ft=9)]
        >>> dp.DischargeLine(runs=over).profile()["elevation_ft"].tolist()
        [0.0, 12.0, 12.0]
        """
        return profile.frame(self._arrays, units)

    def _describe(self) -> str:
        pipes = list(dict.fromkeys(run.pipe.name for run in self.runs))
        unit = self.runs[0]._length.unit
        return f"{' + '.join(pipes)}, {u.text(self._length, unit)}"

    def __str__(self) -> str:
        runs = "\n".join(f"  {i}. {run}" for i, run in enumerate(self.runs, 1))
        high = "siphoning" if self.siphon else "vented at high points"
        valve = granted_valve(self.runs) or "check valve holds the line"
        valve = valve if self.check_valve else "no check valve, drains back"
        return (
            f"DischargeLine {self.name!r}\n{runs}\n  outlet: {self.outlet}\n"
            f"  lift {u.both(self._lift, 'ft')}; friction {self.friction}; water {self._water}; "
            f"{high}; {valve}"
        )


def head_of(line: DischargeLine, flow: FloatArray, level: FloatArray) -> LineHead:
    """The head a line asks at a flow (m³/s), the water standing so high (m) above the off level."""
    shape = np.broadcast_shapes(
        one_shape("head", flow, level, np.zeros(line._arrays.shape)), line._arrays.shape
    )
    q = np.broadcast_to(flow, shape)
    arrays = line._arrays.aligned(len(shape))
    parts = system.head_parts(q, arrays)
    status = np.where(np.isnan(parts.total + level), "bad_input", "ok")
    velocity = q / arrays.area[-1]
    return LineHead(
        q, parts.static - level, parts.pipe, parts.fittings, parts.outlet, velocity,
        parts.point, status,
    )  # fmt: skip


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
    of_run = {name.replace("lift", "rise"): given.pop(name) for name in _OF_RUN if name in given}
    with u.called(rise="lift"):
        run = Run(**of_run)
    return DischargeLine(runs=[run], **given)
