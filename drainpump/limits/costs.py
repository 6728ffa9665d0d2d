"""What a pump and a line cost: pipe, fittings, pump, and the energy over the years."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, wrong
from drainpump.parts.part import Part
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import one_measure, one_plain
from drainpump.physics import water
from drainpump.physics.constants import GRAVITY
from drainpump.results import Fixed
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.line.outlet import Outlet
    from drainpump.parts.line.run import Run
    from drainpump.parts.pit import Pit
    from drainpump.solve.operating_point import OperatingPoint

#: share below which energy is said to hardly matter: our own choice of words
_HARDLY = 0.1
_NO_LESS = "give 0 or more"


class Costs(Part):
    """Prices, in whatever currency the user thinks in.

    Parameters
    ----------
    pipe_per_ft, pipe_per_m : float or mapping of str to float
        Price of pipe by length, >= 0: one for all, or by nominal size or pipe name.
    fitting_each : float or mapping of str to float, default 0
        Price of a fitting, >= 0: one for all, or by the fitting's name.
    pump_each : float or mapping of str to float, optional
        Price of a pump that has none of its own, >= 0: one for all, or by the pump's name.
    pit_each : float, default 0
        Price of a pit that has none of its own, >= 0.
    outlet_each : float or mapping of str to float, default 0
        Price of the outlet, >= 0: one for all, or by its kind, such as ``"pop_up"``.
    digging_per_ft, digging_per_m : float, default 0
        Price of the trench by the line's length, >= 0. At most one.
    lump_sums : mapping of str to float, optional
        What is paid whatever is chosen, by name, >= 0: an electrician, a permit.
    energy_per_kwh : float, default 0
        Price of electricity, >= 0.
    water_per_year_gal, water_per_year_l : float, default 0
        Water to be pumped in a year, >= 0; with it the energy is counted.
    years : float, default 10
        Over which energy is added up, >= 0; common practice, no source.
    efficiency : float, default 0.25
        Overall efficiency (water power over electrical power) assumed where a pump's
        curve has no power, 0 < efficiency <= 1; a stated estimate: common practice, no
        source.
    currency : str, default ""
        What to write behind the numbers.

    Examples
    --------
    >>> import drainpump as dp
    >>> prices = {"1-1/2": 1.6, "2": 2.2}
    >>> costs = dp.Costs(pipe_per_ft=prices, energy_per_kwh=0.2, currency="crowns")
    >>> print(costs)
    Costs(pipe {'1-1/2': 1.6, '2': 2.2} per ft, energy 0.2 per kWh, 10 years, crowns)
    """

    water_per_year_gal, water_per_year_l = View("_water"), View("_water")

    def __init__(
        self,
        *,
        pipe_per_ft: float | None = None,
        pipe_per_m: float | None = None,
        fitting_each: Any = 0.0,
        pump_each: Any = None,
        pit_each: float = 0.0,
        outlet_each: Any = 0.0,
        digging_per_ft: float | None = None,
        digging_per_m: float | None = None,
        lump_sums: Mapping[str, float] | None = None,
        energy_per_kwh: float = 0.0,
        water_per_year_gal: float | None = None,
        water_per_year_l: float | None = None,
        years: float = 10.0,
        efficiency: float = 0.25,
        currency: str = "",
    ) -> None:
        laid = _spelled(ft=pipe_per_ft, m=pipe_per_m)
        if len(laid) != 1:
            raise UnitError("pipe: give its price in exactly one of pipe_per_ft, pipe_per_m.")
        ((self._pipe_unit, pipe),) = laid.items()
        self.pipe = _prices(f"pipe_per_{self._pipe_unit}", pipe)
        dug = _spelled(ft=digging_per_ft, m=digging_per_m)
        if len(dug) > 1:
            raise UnitError("digging: give its price in one of digging_per_ft, digging_per_m.")
        self._digging = sum(
            one_plain(f"digging_per_{unit}", price, _NO_LESS) / u.UNITS[unit].factor
            for unit, price in dug.items()
        )
        self.fitting_each = _prices("fitting_each", fitting_each)
        self.pump_each = None if pump_each is None else _prices("pump_each", pump_each)
        self.pit_each = one_plain("pit_each", pit_each, _NO_LESS)
        self.outlet_each = _prices("outlet_each", outlet_each)
        if lump_sums is not None and not isinstance(lump_sums, Mapping):
            raise wrong("lump_sums", lump_sums, "must map names to sums", "{'electrician': 300}")
        self.lump_sums: dict[str, float] = _prices("lump_sums", lump_sums or {})
        self.energy_per_kwh = one_plain("energy_per_kwh", energy_per_kwh, _NO_LESS)
        both = {"gal": water_per_year_gal, "l": water_per_year_l}
        water = u.take("water_per_year", guard="not_negative", default=("gal", 0.0), **both)
        self._water = one_measure("water_per_year", water, _NO_LESS)
        self.years = one_plain("years", years, _NO_LESS)
        self.efficiency = one_plain(
            "efficiency", efficiency, "give a share, e.g. 0.25", high=1.0, above_zero=True
        )
        if not isinstance(currency, str):
            raise wrong("currency", currency, "must be text", "say what the prices are in")
        self.currency = currency

    def runs(self, runs: Sequence[Run]) -> tuple[float, float]:
        """Price of some runs' pipe and of their fittings; a missing one is refused by name."""
        pipe = sum(self._of_length(run.pipe, float(run.si.length)) for run in runs)
        fittings = sum(
            self.fitting(loss.name) * float(loss.count) for run in runs for loss in run.losses
        )
        return pipe, fittings

    def others(self, line: DischargeLine, pit: Pit | None) -> float:
        """Price of pit, outlet and trench, and the lump sums."""
        sums = self.digging(line.runs) + sum(self.lump_sums.values())
        if pit is not None:
            sums += self.pit_each if pit.price is None else float(pit.price)
        return sums + self._of_outlet(line.outlet)

    def _of_outlet(self, outlet: Outlet) -> float:
        what = f"outlet {outlet.kind!r}"
        return _told("outlet_each", what, self.outlet_each, outlet.kind)

    def tells(self, line: DischargeLine) -> bool:
        """Whether every piece of a line, outlet included, has its price."""
        pieces: list[tuple[Any, ...]] = [
            (self.pipe, run.pipe.nominal, run.pipe.name) for run in line.runs
        ]
        pieces += [(self.fitting_each, loss.name) for run in line.runs for loss in run.losses]
        pieces.append((self.outlet_each, line.outlet.kind))
        return all(_price(prices, *names) is not None for prices, *names in pieces)

    def digging(self, runs: Sequence[Run]) -> float:
        """Price of the trench of some runs."""
        return self._digging * sum(float(run.si.length) for run in runs)

    def of_pump(self, pump: Pump) -> float:
        """Price of a pump, or of all in a bank; NaN where one has none."""
        if isinstance(pump, PumpBank):
            return sum(self.of_pump(member) for member in pump.pumps)
        if pump.price is not None:
            return float(pump.price)
        price = None if self.pump_each is None else _price(self.pump_each, pump.name)
        return np.nan if price is None else price

    def _of_length(self, pipe: Any, length: float) -> float:
        """Price of so much (m) of a pipe."""
        what = f"pipe {pipe.name!r} (nominal {pipe.nominal!r})"
        each = _told(f"pipe_per_{self._pipe_unit}", what, self.pipe, pipe.nominal, pipe.name)
        return each * length / u.UNITS[self._pipe_unit].factor

    def fitting(self, name: str) -> float:
        """Price of one piece of a fitting; a missing one is refused by name."""
        return _told("fitting_each", f"fitting {name!r}", self.fitting_each, name)

    def __str__(self) -> str:
        dug = _spelled(ft=self.given.get("digging_per_ft"), m=self.given.get("digging_per_m"))
        told = {
            "pipe": f"{self.pipe} per {self._pipe_unit}",
            "fittings": f"{self.fitting_each} each" if self.fitting_each else "",
            "pumps": self.pump_each,
            "pit": self.pit_each,
            "outlet": self.outlet_each,
            "lump sums": self.lump_sums,
            "digging": "".join(f"{price} per {unit}" for unit, price in dug.items() if price),
            "energy": f"{self.energy_per_kwh:g} per kWh",
            "water": f"{self._water} a year" if self._water.si > 0 else "",
        }
        said = [f"{word} {price}" for word, price in told.items() if price]
        said += [f"{self.years:g} years", *([self.currency] if self.currency else [])]
        return f"Costs({', '.join(said)})"


def _prices(label: str, value: Any) -> Any:
    if isinstance(value, Mapping):
        return Fixed({str(k): one_plain(f"{label}[{k!r}]", v, _NO_LESS) for k, v in value.items()})
    return one_plain(label, value, _NO_LESS)


def _price(prices: Any, *names: Any) -> float | None:
    """The one price of all, or that under the first name that has one."""
    if isinstance(prices, float):
        return prices
    return next((float(prices[name]) for name in names if name in prices), None)


def _told(label: str, what: str, prices: Any, *names: Any) -> float:
    """The same, refused by name where there is none."""
    price = _price(prices, *names)
    if price is None:
        known = ", ".join(map(repr, prices))
        raise InputError(f"{label}: no price for {what}; known: {known}. Add its price.")
    return price


def _spelled(**given: Any) -> dict[str, Any]:
    return {unit: price for unit, price in given.items() if price is not None}


@dataclass(frozen=True, eq=False)
class CostGrid:
    """Costs of every pair (P, L), in the user's currency; NaN where a price is missing."""

    pump: FloatArray
    pipe: FloatArray
    fittings: FloatArray
    others: FloatArray  # pit, outlet, trench, lump sums
    energy: FloatArray  # over all the years
    estimated: Any  # where the power is an estimate
    left_out: str = ""  # why no energy is counted

    @property
    def total(self) -> FloatArray:
        return self.pump + self.pipe + self.fittings + self.others + self.energy

    def note(self, at: tuple[int, ...]) -> str:
        """How much the energy matters, honestly."""
        total = float(self.total[at])
        if not total > 0:
            return ""
        if self.left_out:
            return f"energy not counted: no {self.left_out} given"
        share = float(self.energy[at]) / total
        word = "energy hardly matters" if share < _HARDLY else "energy matters"
        guess = ", power estimated from an assumed efficiency" if self.estimated[at] else ""
        return f"{word}: {100 * share:.0f} % of the cost over the years{guess}"


def power(op: OperatingPoint, efficiency: float) -> tuple[FloatArray, Any]:
    """Electrical power (P, L), W, and where it is only estimated from ``efficiency``."""
    # a flow that is only bounded takes what it takes at its bound
    at_bound = op.at_flow(op.si.reckoned)
    known = np.asarray(at_bound.si.power)
    density = np.array([float(water.density(x.si.water)) for x in op.si.grid.lines])
    guess = density * GRAVITY * op.si.reckoned * _own_head(at_bound) / efficiency
    missing = np.isnan(known)
    return np.where(missing, guess, known), missing


def energy(op: OperatingPoint) -> FloatArray:
    """Energy for each cubic metre moved (J), NaN where the power is not known."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(op.si.reckoned > 0, op.si.power / op.si.reckoned, np.nan)


def _own_head(op: OperatingPoint) -> FloatArray:
    """Head (m) the pumps make at their flows: past a curve's end more than the line asks."""
    heads = [
        pump.si.head_at(flow) if isinstance(pump, PumpCurve) else line
        for pump, flow, line in zip(op.si.grid.pumps, op.si.flow, op.si.head, strict=True)
    ]
    return np.stack(heads)


def _risers(pump: Pump) -> list[Run]:
    return [r for r in pump.risers if r is not None] if isinstance(pump, PumpBank) else []


def cost_grid(op: OperatingPoint, costs: Costs, pit: Pit | None = None) -> CostGrid:
    """Work out every pair's costs."""
    pumps, lines = op.si.grid.pumps, op.si.grid.lines
    shape = (len(pumps), len(lines))
    by_line = np.array([costs.runs(line.runs) for line in lines])
    risers = np.array([costs.runs(_risers(pump)) for pump in pumps])
    pipe, fittings = np.moveaxis(by_line + risers[:, None], -1, 0)
    prices = [costs.of_pump(p) for p in pumps]
    watts, estimated = power(op, costs.efficiency)
    with np.errstate(divide="ignore", invalid="ignore"):
        seconds = np.where(op.si.reckoned > 0, float(costs.si.water) / op.si.reckoned, np.nan)
    joules = watts * seconds
    if costs.si.water == 0:
        joules = np.zeros(shape)
    return CostGrid(
        np.broadcast_to(np.array(prices)[:, None], shape),
        pipe,
        fittings,
        np.broadcast_to(np.array([costs.others(line, pit) for line in lines]), shape),
        joules / 3.6e6 * costs.energy_per_kwh * costs.years,
        estimated,
        _left_out(costs),
    )


def _left_out(costs: Costs) -> str:
    missing = {
        "water_per_year": costs.si.water == 0,
        "energy_per_kwh": costs.energy_per_kwh == 0,
        "years": costs.years == 0,
    }
    return " and no ".join(name for name, out in missing.items() if out)
