"""The single faults that may stand behind a measured flow: what each does, and how largely.

A fault of one size turns pump and line into altered ones for the same solver; a spread of
sizes, from `Priors`, says how common each size is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeAlias

import numpy as np
from scipy.special import ndtr, ndtri

from drainpump import units as u
from drainpump.field.priors import Priors
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import PopUpOutlet
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import system
from drainpump.physics.system import LineArrays
from drainpump.physics.tables import read_table
from drainpump.solve.changed_line import with_deposit, with_extra_k, with_gap, with_lift
from drainpump.units import FloatArray

#: discharge coefficient of a lid's gap where the outlet states none: that of a sharp-edged
#: opening, Munson, Young & Okiishi, Fundamentals of Fluid Mechanics, ch. 3 (from memory)
_GAP_COEFFICIENT = 0.6
#: slip of a small two-pole motor at its rated load and voltage: 3450 of 3600 rev/min, as on
#: its plate (common practice, no source)
_SLIP = 150 / 3600
#: share of the rated voltage at which the motor stalls: its greatest torque, twice the rated
#: (common practice, no source), falls with the voltage squared
_STALL = 0.71
#: share of air at which a centrifugal pump has lost a tenth of its flow, and the exponent by
#: which it has lost over four tenths at twice as much; past the most it loses its prime:
#: rules of pump handbooks (from memory)
_AIR, _AIR_POWER, _AIR_MOST = 0.02, 2.1, 0.05
#: head factor of a pump that lifts nothing
_DEAD = 0.02
#: one sigma of a stuck valve's K, as a factor: from half shut to three quarters shut
_STUCK = 2.85
#: a lift less than stated is no fault but an error of the level, of so many sigma at the
#: most; one more than stated (m) is said, however little it is believed
_LIFT_SIGMAS, _LIFT_MOST = 4.0, 100.0

#: pump, line and water lost on the way (m³/s)
Altered: TypeAlias = tuple[PumpCurve, LineArrays, FloatArray]


@dataclass(frozen=True, eq=False)
class Plant:
    """Pump, line and the measured flow (m³/s), with what the faults need to know."""

    pump: PumpCurve
    line: DischargeLine
    flow: float
    expected: float
    priors: Priors = field(default_factory=Priors)
    years: float | None = None  # of the line, where known

    @property
    def arrays(self) -> LineArrays:
        """The line as the solver takes it."""
        return self.line.si.arrays  # type: ignore[no-any-return]

    @cached_property
    def asked(self) -> float:
        """Head (m) that the line as built asks at the measured flow."""
        return float(system.head(np.asarray(self.flow), self.arrays))

    @property
    def body(self) -> tuple[float, float]:
        """Diameter (m) of the ring under a lid and its discharge coefficient."""
        outlet = self.line.outlet
        if isinstance(outlet, PopUpOutlet):
            return float(outlet.si.body), float(outlet.si.coefficient)
        return float(self.arrays.diameter[-1]), _GAP_COEFFICIENT

    @property
    def widest_gap(self) -> float:
        """Gap (m) of the lid as built; where it has none stated, one so wide that it is none."""
        outlet = self.line.outlet
        return float(outlet.si.gap) if isinstance(outlet, PopUpOutlet) else 1.0

    @property
    def last_flow(self) -> float:
        """Flow of the curve's last point (m³/s)."""
        return float(self.pump.si.flow[-1] * self.pump.si.flow_factor)

    @property
    def drop(self) -> float:
        """Height (m) by which a siphoning line falls from its high point to its end, else 0."""
        end = self.arrays.end
        return float(np.maximum(end.max(), 0.0) - end[-1]) if self.line.siphon else 0.0

    @property
    def may_have_a_deposit(self) -> bool:
        """False in PVC of unknown age, on which little grows, and in a new line."""
        if self.years is None:
            return any(run.pipe.size is None for run in self.line.runs)
        return self.years > 0


@dataclass(frozen=True, eq=False)
class Fault:
    """One fault: its size in SI, how it alters the plant, and the spread of its sizes."""

    name: str
    #: pump, line and water lost at sizes of any shape
    alter: Callable[[Plant, FloatArray], Altered]
    #: sizes between which the one behind a flow is looked for
    ends: Callable[[Plant], tuple[float, float]]
    #: size at a normal deviate
    spread: Callable[[Plant, FloatArray], FloatArray]
    #: the same in words
    usual: Callable[[Plant], str]
    #: whether the part that it blames is there
    present: Callable[[Plant], bool] = lambda plant: True
    # by its row of the table
    says: str = field(init=False)
    units: tuple[str, str] = field(init=False)  # of the size, US and metric; "" for a number
    nothing: float = field(init=False)  # size at which nothing is wrong

    def __post_init__(self) -> None:
        row = {row["fault"]: row for row in read_table("faults.csv")}[self.name]
        units, nothing = (row["unit_us"], row["unit_metric"]), float(row["nothing"])
        vars(self).update(says=row["says"], units=units, nothing=nothing)


def faults_at(plant: Plant) -> tuple[Fault, ...]:
    """Return the faults whose part is there."""
    return tuple(fault for fault in _TABLE if fault.present(plant))


def _half(z: FloatArray) -> FloatArray:
    """Half-normal deviates in the order of the normal ones."""
    return np.asarray(-ndtri(0.5 * ndtr(-z)))


def _of_pump(plant: Plant, head: FloatArray | float, flow: FloatArray | float) -> Altered:
    """The pump's head and flow times factors."""
    return plant.pump.si.scaled(head, flow), plant.arrays, np.zeros(np.broadcast(head, flow).shape)


def _of_line(plant: Plant, line: LineArrays, size: FloatArray) -> Altered:
    return plant.pump, line, np.zeros(np.shape(size))


def _slowed(plant: Plant, volts: FloatArray) -> Altered:
    """A motor at a share of its rated voltage; the torque is taken as it was.

    Torque goes with slip and voltage squared, so the slip grows by 1/voltage²: common
    textbook of induction motors (from memory). Head and flow follow by the affinity laws.
    """
    speed = (1 - _SLIP / np.maximum(volts, _STALL) ** 2) / (1 - _SLIP)
    return _of_pump(plant, np.where(volts < _STALL, _DEAD, speed**2), speed)


def _aerated(plant: Plant, air: FloatArray) -> Altered:
    """A pump that draws air: its flow at each head falls, its head at no flow stays."""
    left = 1 - 0.1 * (np.minimum(air, _AIR_MOST) / _AIR) ** _AIR_POWER
    return _of_pump(plant, np.where(air > _AIR_MOST, _DEAD, 1.0), left)


_TABLE: tuple[Fault, ...] = (
    Fault(
        "head factor",
        alter=lambda p, x: _of_pump(p, x, 1.0),
        ends=lambda p: (_DEAD, 1.0),
        spread=lambda p, z: np.maximum(1.0 - p.priors.head_loss * _half(z), _DEAD),
        usual=lambda p: f"1 less {u.number(p.priors.head_loss)}",
    ),
    Fault(
        "low voltage",
        alter=_slowed,
        ends=lambda p: (_STALL, 1.0),
        spread=lambda p, z: 1.0 - p.priors.voltage_loss_share * _half(z),
        usual=lambda p: f"1 less {u.number(p.priors.voltage_loss_share)}",
    ),
    Fault(
        "air",
        alter=_aerated,
        ends=lambda p: (0.0, _AIR_MOST),
        spread=lambda p, z: p.priors.air_share * _half(z),
        usual=lambda p: u.number(p.priors.air_share),
    ),
    Fault(
        "air in the high point",
        present=lambda p: p.drop > 0,
        alter=lambda p, x: _of_line(p, with_lift(p.arrays, x), x),
        ends=lambda p: (0.0, p.drop),
        spread=lambda p, z: p.drop * ndtr(z),
        usual=lambda p: f"anything up to {u.both(p.drop, 'ft')}",
    ),
    Fault(
        "stuck valve",
        present=lambda p: p.line.check_valve,
        alter=lambda p, x: _of_line(p, with_extra_k(p.arrays, x), x),
        ends=lambda p: (0.0, 1e6),
        spread=lambda p, z: p.priors.stuck_k * _STUCK**z,
        usual=lambda p: f"{u.number(p.priors.stuck_k)}, {_STUCK} times more or less",
    ),
    Fault(
        "extra K",
        alter=lambda p, x: _of_line(p, with_extra_k(p.arrays, x), x),
        ends=lambda p: (0.0, 1e6),
        spread=lambda p, z: p.priors.extra_k * _half(z),
        usual=lambda p: u.number(p.priors.extra_k),
    ),
    Fault(
        "deposit",
        present=lambda p: p.may_have_a_deposit,
        alter=lambda p, x: _of_line(p, with_deposit(p.arrays, x), x),
        # the wall is at most as rough as the friction formula allows: D/22
        ends=lambda p: (0.0, float(p.arrays.diameter.min() / 22)),
        spread=lambda p, z: p.priors.deposit(p.years) * _half(z),
        usual=lambda p: u.both(p.priors.deposit(p.years), "in"),
    ),
    Fault(
        "lid gap",
        present=lambda p: bool(p.arrays.lid > 0 or p.arrays.orifice > 0),
        alter=lambda p, x: _of_line(p, with_gap(p.arrays, x, *p.body), x),
        ends=lambda p: (1e-6, p.widest_gap),
        spread=lambda p, z: np.minimum(p.priors.si.gap * 2.0**z, p.widest_gap),
        usual=lambda p: f"{u.both(p.priors.si.gap, 'in')}, twice more or less",
    ),
    Fault(
        "extra lift",
        alter=lambda p, x: _of_line(p, with_lift(p.arrays, x), x),
        ends=lambda p: (-_LIFT_SIGMAS * p.priors.si.lift, _LIFT_MOST),
        spread=lambda p, z: p.priors.si.lift * z,
        usual=lambda p: f"{u.both(p.priors.si.lift, 'ft')} either way",
    ),
    Fault(
        "leak at the pump",
        alter=lambda p, x: (p.pump, p.arrays, np.asarray(x, dtype=np.float64)),
        ends=lambda p: (0.0, max(p.last_flow - p.flow, 0.0)),
        spread=lambda p, z: p.priors.si.leak * _half(z),
        usual=lambda p: u.both(p.priors.si.leak, "gpm"),
    ),
)
