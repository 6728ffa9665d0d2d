"""What storms do at a site, and the rarest storm in which the limits on water still hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import brentq

from drainpump import units as u
from drainpump.doubt.doubt import Doubt, sample, water_samples
from drainpump.errors import InputError
from drainpump.inflow.storm import Hydrograph
from drainpump.limits.limit_tests import Rule
from drainpump.limits.limits import Limits
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kind
from drainpump.routing.route import Routing, routed
from drainpump.units import FloatArray

#: water (m³), or a time (s), that is no more than rounding, and what of ln N is close enough
_NOTHING, _FINE = 1e-9, 2e-3
#: limits that storms may break, by code: name, what a routing calls it, and the status by
#: which it may be more
_RULES = (
    ("pond_deep", "pond_depth_max", "peak_depth", "beyond_pond"),
    ("pond_long", "pond_max", "ponded", "still_ponded"),
    ("overflows", "overflow", "overflow", ""),
)
#: codes of the limits that storms alone break
WET = frozenset(rule[0] for rule in _RULES)
#: halvings of ln N for each sample: a two-hundredth of a table from 2 to 100 years
_HALVINGS = 10


class Dry(NamedTuple):
    """The rarest storm that is kept (s), and whether the table holds it."""

    period: float
    status: str  # "ok", "below" the table's first period, or "beyond" its last


@dataclass(frozen=True, eq=False)
class Suffered:
    """What storms do in one pit, (P, L, S); ``margin`` is above 0 where a limit is not kept."""

    routing: Routing
    margin: FloatArray
    asked: Any  # (S,) which of the storms the limits must be kept in

    def worst(self, name: str) -> FloatArray:
        """The greatest over all storms (P, L)."""
        return np.asarray(getattr(self.routing.si, name).max(axis=-1))


@dataclass(frozen=True, eq=False)
class Storms:
    """Storms side by side, the ground they pond on, and what must be kept in them."""

    inflow: Hydrograph  # flows (S, n)
    pond: Any
    overflow: FloatArray | None
    limits: Limits
    annual: bool

    @property
    def period(self) -> FloatArray | None:
        """How rare each storm is (s), where that is known."""
        rare = self.inflow.return_year
        return None if rare is None else np.atleast_1d(u.to_si(rare, "year"))

    def suffered(self, pumps: Any, lines: Any, pit: Pit) -> Suffered:
        """Route every storm through every pump on every line."""
        found = self._routed(pumps, lines, pit, self.inflow)
        period, most = self.period, self.limits.si.dry_up_to
        asked = np.ones(found.si.starts.shape[-1], dtype=bool)
        if period is not None and most is not None:
            asked = period <= most * (1 + 1e-9)
        return Suffered(found, self.margin(found), asked)

    def _routed(self, pumps: Any, lines: Any, pit: Pit, inflow: Hydrograph) -> Routing:
        return routed(pumps, lines, pit, inflow, pond=self.pond, overflow=self.overflow)

    @property
    def _rules(self) -> Iterator[tuple[Any, ...]]:
        """The limits that are asked, each with what it allows."""
        most = {
            "pond_depth_max": self.limits.si.pond_depth_max,
            "pond_max": self.limits.si.pond_max,
            "overflow": np.zeros(()),
        }
        return ((*rule, most[rule[1]]) for rule in _RULES if self.limits.applies(rule[1]))

    def margin(self, found: Routing) -> FloatArray:
        """How far each storm is past its limits: above 0 where one is not kept, or not known."""
        status, parts = np.asarray(found.status), []
        for *_, what, bound, most in self._rules:
            past = _past(getattr(found.si, what), most)
            # what is at least so much, or stands on ground not known, is not kept
            parts.append(np.where(status == bound, np.maximum(past, 1e-3), past))
        if not parts:  # dry is what has no pond
            parts.append(_past(found.si.ponded, np.zeros(())))
        return np.asarray(np.max(parts, axis=0))

    def rules(self, suffered: Suffered) -> list[Rule]:
        """The tests of a choice that the storms bring."""
        found = []
        status = np.asarray(suffered.routing.status)[..., suffered.asked]
        for code, _, what, bound, most in self._rules:
            value = getattr(suffered.routing.si, what)[..., suffered.asked].max(axis=-1)
            more = (status == bound).any(axis=-1)
            kept = value <= np.maximum(most, _NOTHING)
            found.append(Rule(code, ~kept | more, value, most, more=more, open=kept & more))
        return found

    def to_overflow(self, pit: Pit) -> float:
        """Time (s) from the on level to the rim without power, at the greatest inflow."""
        room = float(pit.si.volume_between(pit.si.on, pit.si.depth))
        most = float(self.inflow.si.flow.max())
        return room / most if most > 0 else np.inf

    # -- dry up to the N-year storm

    def dry(self, pump: Pump, line: Any, pit: Pit, margin: FloatArray) -> Dry:
        """The rarest storm kept; ``margin`` (S,) is that of the storms side by side."""
        period = self.period
        assert period is not None
        fails = np.flatnonzero(margin > 0)
        if not fails.size:
            return Dry(float(period[-1]), "beyond")
        first = int(fails[0])
        if first == 0:
            return Dry(float(period[0]), "below")

        def past(x: float) -> float:
            found = self._routed(pump, line, pit, self._between(np.exp([x])))
            return float(self.margin(found).ravel()[0])

        low, high = np.log(period[first - 1]), np.log(period[first])
        return Dry(float(np.exp(brentq(past, low, high, xtol=_FINE))), "ok")

    def dry_sampled(
        self, pump: Pump, line: Any, pit: Pit, doubt: Doubt, samples: int, seed: int
    ) -> FloatArray:
        """The rarest storm kept (s) in each sample of pump, line and water, at the table's ends."""
        period = self.period
        assert period is not None
        sampled = sample(doubt, samples, seed)
        storm, steady = water_samples(doubt, samples, seed)
        one, where = sampled.pump(pump), sampled.line(line.si.arrays)

        def fails(x: FloatArray) -> Any:
            flow = self._between(np.exp(x)).si.flow
            base = flow.min(axis=-1, keepdims=True)
            wet = base * steady[:, None] + (flow - base) * storm[:, None]
            inflow = _hydrograph(wet, self.inflow.si.time)
            return self.margin(self._routed(one, where, pit, inflow)) > 0

        low, high = (np.full(samples, np.log(p)) for p in period[[0, -1]])
        high = np.where(fails(low), low, high)
        low = np.where(~fails(high), high, low)
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            past = fails(middle)
            low, high = np.where(past, low, middle), np.where(past, middle, high)
        return np.asarray(np.exp(0.5 * (low + high)))

    def chance(self, period: float) -> float:
        """Probability in any year of a storm rarer than this (s)."""
        years = float(u.from_si(period, "year"))
        return 1 / years if self.annual else float(-np.expm1(-1 / years))

    def _between(self, period: FloatArray) -> Hydrograph:
        known = self.period
        assert known is not None
        inside = np.clip(period, known[0], known[-1])
        typed = u.from_si(inside, "year")
        return self.inflow.si.between(u.Measure(u.frozen(inside), "year", typed))  # type: ignore[no-any-return]


def _past(value: FloatArray, most: FloatArray) -> FloatArray:
    """How far above its limit, as a share of it; of no limit at all, whether there is any."""
    if most > 0:
        return np.nan_to_num(value / most - 1, nan=1.0)
    return np.where(value > _NOTHING, 1.0, -1.0)


def _hydrograph(flow: FloatArray, time: FloatArray, year: Any = None) -> Hydrograph:
    with u.speaking_of(()):
        return Hydrograph(
            flow_lps=u.from_si(flow, "lps"), time_min=u.from_si(time, "min"), return_year=year
        )


def asked_storms(
    storms: Hydrograph,
    pond: Any,
    overflow: u.Measure | None,
    limits: Limits,
    annual: bool,
) -> Storms:
    """Check the storms of a choice and put them side by side, the most frequent first."""
    check_kind("storms", storms, Hydrograph, "Hydrograph(...), storms on its leading axis")
    flow = np.atleast_2d(storms.si.flow)
    if flow.ndim > 2:
        raise InputError(f"storms: of shape {flow.shape[:-1]}; give one list of storms.")
    year = storms.return_year
    if year is not None:
        years = np.atleast_1d(year)
        order = np.argsort(years, kind="stable")
        flow, year = flow[order], years[order]
    elif limits.si.dry_up_to is not None:
        raise InputError("dry_up_to_year: the storms have no return_year; give it with them.")
    if limits.applies("pond_depth_max") and np.any(np.isnan(pond.si.area)):
        raise InputError(
            "pond_depth_max: no pond given; give pond_area_ft2, pond_area_m2 or pond_storage."
        )
    if limits.applies("overflow") and overflow is None:
        raise InputError("overflow=False: no overflow level given; give overflow_in.")
    level = None if overflow is None else overflow.si
    return Storms(_hydrograph(flow, storms.si.time, year), pond, level, limits, annual)
