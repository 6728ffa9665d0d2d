"""What a chosen pump and line must respect: each limit visible, sourced, one's own to set."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.foreign import is_among, nearest
from drainpump.parts.part import Part
from drainpump.parts.scalars import fact, one_measure, one_plain, plain_fact, yes_or_no
from drainpump.physics.tables import read_table
from drainpump.units import View

#: where each limit comes from, by its name
SOURCES = {row["name"]: row["source"] for row in read_table("limits.csv")}

#: limits that only ever warn: what is to be preferred, and what is to be known
ADVICE = ("best_flow_preferred", "need_max_share")

#: what may be soft besides: that a pump does not say a figure which a limit asks for
UNSAID = ("solids_unknown", "voltage_unknown")

#: limits that only storms can break
OF_STORMS = ("pond_depth_max", "pond_max", "overflow")

#: starts per hour that are said of a choice without a limit of its own: the most that is
#: commonly quoted for such small motors, from memory
_STARTS_QUOTED = 20.0

#: what is taken by its name: least and greatest velocity as they are by default, ft/s, and
#: the rest with its guard
_SPEEDS = {"velocity_min": 2.0, "velocity_max": 8.0}
_FACTS = {
    "starts_max": "rate", "run_min": "time", "solids_min": "positive", "voltage": "positive",
    "pond_depth_max": "level", "pond_max": "time", "dry_up_to": "positive",
}  # fmt: skip
_BEST = (0.5, 1.3)
_PREFERRED = (0.7, 1.2)
_RANGE_SHARE = 0.85
_NEED_SHARE = 1.5
_VOLTAGE_PCT = 10.0
_ALIKE_PCT = 5.0


class Limits(Part):
    """Limits that a candidate must keep, and which of them only warn.

    Parameters
    ----------
    velocity_min_fps, velocity_min_mps : float or None, default 2 ft/s
        Least velocity in every run, >= 0: below it grit settles.
    velocity_max_fps, velocity_max_mps : float or None, default 8 ft/s
        Greatest velocity in every run, >= 0.
    starts_max_per_h : float, optional
        Most starts per hour in the worst case over all inflows, >= 0; needs a pit.
    run_min_s : float, optional
        Shortest run, with no inflow while it pumps, >= 0; needs a pit.
    range_share_max : float, optional
        Greatest share of the curve's last flow, 0 < share <= 1. Left out it is 0.85, for
        pumps whose best-efficiency flow is not known.
    best_flow_min_share : float, default 0.5
        Least flow as a share of the best-efficiency flow, > 0, where the pump's is known.
    best_flow_max_share : float, default 1.3
        Greatest flow as a share of it, > 0.
    best_flow_preferred : two floats, default (0.7, 1.2)
        Shares of the best-efficiency flow, > 0, to be preferred among alike; outside them warns.
    need_max_share : float, default 1.5
        Flow as a share of the need, > 0; more is said.
    alike_pct : float, default 5
        Candidates whose cost, or power put into the water, is within so much of the least
        count as alike, 0 to 100: our judgement, no source.
    solids_min_in, solids_min_mm : float, optional
        Solids that have to pass, > 0; a pump that does not say is not accepted.
    voltage_v : float, optional
        The supply's voltage, > 0; a pump that does not say is not accepted.
    voltage_tolerance_pct : float, default 10
        How far the supply may be from the pump's rated voltage, >= 0: so a 115 V pump
        serves on 120 V.
    pond_depth_max_in, pond_depth_max_mm : float, optional
        Deepest pond above the rim, >= 0; needs storms.
    pond_max_min : float, optional
        Longest time that water may stand above the rim, >= 0; needs storms.
    overflow : bool, optional
        False: nothing may run over at the overflow level; needs storms.
    dry_up_to_year : float, optional
        Return period, > 0, up to which the limits on pond and overflow must hold; by default in
        every storm given.
    cost_max : float, optional
        Greatest cost over the years, >= 0; needs costs.
    soft : iterable of str, default ("outlet_size",)
        Limits that only warn. Names: velocity_min, velocity_max, starts_max, run_min,
        range_share_max, best_flow, solids_min, voltage, outlet_size, hand_off,
        pond_depth_max, pond_max, overflow, cost_max; solids_unknown and voltage_unknown, for
        a pump that does not say; and best_flow_preferred and need_max_share, which never do
        more.
    without : iterable of str, default ()
        Limits left out altogether, by the same names.

    Attributes
    ----------
    sources : dict of str
        Where each limit comes from.

    Examples
    --------
    >>> import drainpump as dp
    >>> limits = dp.Limits(velocity_max_fps=6)
    >>> limits.velocity_max_fps, limits.range_share_max, limits.in_words()["velocity_max"]
    (6.0, 0.85, '6 ft/s (1.83 m/s)')
    """

    velocity_min_fps, velocity_min_mps = View("_velocity_min"), View("_velocity_min")
    velocity_max_fps, velocity_max_mps = View("_velocity_max"), View("_velocity_max")
    starts_max_per_h = View("_starts_max", maybe=True)
    run_min_s = View("_run_min", maybe=True)
    range_share_max = View("_range_share_max", maybe=True)
    best_flow_min_share, best_flow_max_share = View("_best_low"), View("_best_high")
    need_max_share = View("_need_max_share")
    alike_pct = View("_alike_pct")
    voltage_tolerance_pct = View("_tolerance_pct")
    solids_min_in, solids_min_mm = View("_solids_min", maybe=True), View("_solids_min", maybe=True)
    voltage_v = View("_voltage", maybe=True)
    pond_depth_max_in = View("_pond_depth_max", maybe=True)
    pond_depth_max_mm = View("_pond_depth_max", maybe=True)
    pond_max_min = View("_pond_max", maybe=True)
    dry_up_to_year = View("_dry_up_to", maybe=True)
    cost_max = View("_cost_max", maybe=True)

    def __init__(
        self,
        *,
        velocity_min_fps: float | None = None,
        velocity_min_mps: float | None = None,
        velocity_max_fps: float | None = None,
        velocity_max_mps: float | None = None,
        starts_max_per_h: float | None = None,
        run_min_s: float | None = None,
        range_share_max: Any = None,
        best_flow_min_share: float | None = None,
        best_flow_max_share: float | None = None,
        best_flow_preferred: Sequence[float] = _PREFERRED,
        need_max_share: float = _NEED_SHARE,
        alike_pct: float = _ALIKE_PCT,
        solids_min_in: float | None = None,
        solids_min_mm: float | None = None,
        voltage_v: float | None = None,
        voltage_tolerance_pct: float | None = None,
        pond_depth_max_in: float | None = None,
        pond_depth_max_mm: float | None = None,
        pond_max_min: float | None = None,
        overflow: bool | None = None,
        dry_up_to_year: float | None = None,
        cost_max: float | None = None,
        soft: Iterable[str] = ("outlet_size",),
        without: Iterable[str] = (),
    ) -> None:
        said = u.Typed(locals())
        self.soft = tuple(dict.fromkeys([*_names("soft", soft, UNSAID), *ADVICE]))
        self.without = _names("without", without)
        self._velocity_min, self._velocity_max = (
            one_measure(name, said.take(name, "velocity", ("fps", usual)))
            for name, usual in _SPEEDS.items()
        )
        slow, fast = self._velocity_min, self._velocity_max
        _in_order("velocity_min", slow, slow.si, "velocity_max", fast, fast.si)
        #: a cap of one's own holds for every pump, the usual one where no better is known
        self.caps_every_pump = range_share_max is not None
        self._range_share_max = _ratio("range_share_max", range_share_max, 1.0, _RANGE_SHARE)
        low = self._best_low = _ratio("best_flow_min_share", best_flow_min_share, 5.0, _BEST[0])
        high = self._best_high = _ratio("best_flow_max_share", best_flow_max_share, 5.0, _BEST[1])
        _in_order("best_flow_min_share", f"{low:g}", low, "best_flow_max_share", f"{high:g}", high)
        self._preferred = _pair("best_flow_preferred", best_flow_preferred)
        self._need_max_share = _ratio("need_max_share", need_max_share, 100.0)
        self._alike_pct = one_plain("alike_pct", alike_pct, "give 5 for 5 %", high=100.0)
        (
            self._starts_max, self._run_min, self._solids_min, self._voltage,
            self._pond_depth_max, self._pond_max, self._dry_up_to,
        ) = (fact(name, guard, **said[name]) for name, guard in _FACTS.items())  # fmt: skip
        tolerance = plain_fact("voltage_tolerance_pct", voltage_tolerance_pct)
        self._tolerance_pct = _VOLTAGE_PCT if tolerance is None else float(tolerance)
        self._cost_max = plain_fact("cost_max", cost_max)
        if overflow is not None:
            yes_or_no("overflow", overflow, "False: none is allowed")
        self.overflow = overflow

    @property
    def sources(self) -> dict[str, str]:
        """Where each limit that applies comes from, by its name."""
        return {k: v for k, v in SOURCES.items() if self.applies(k)}

    @property
    def best_flow_preferred(self) -> tuple[float, float]:
        """Shares of the best-efficiency flow to be preferred among alike."""
        return self._preferred

    def applies(self, name: str) -> bool:
        """True where the limit is set and not left out."""
        given = vars(self).get(f"_{name}", "always")
        if name == "overflow":
            given = True if self.overflow is False else None
        return given is not None and name not in self.without

    def in_words(self) -> dict[str, str]:
        """Return the limits in force, in words, by name."""
        said = {
            name.removeprefix("_"): u.number(x) if isinstance(x, float | np.ndarray) else x
            for name, x in vars(self).items()
        }
        known = "" if self.caps_every_pump else ", where the best-efficiency flow is not known"
        return {
            row["name"]: row["words"].format(**said, unless=known)
            for row in read_table("limits.csv")
            if self.applies(row["name"])
        }

    def __str__(self) -> str:
        parts = [
            f"{name} {value}{' (warns)' if name in self.soft else ''}"
            for name, value in self.in_words().items()
        ]
        return f"Limits({', '.join(parts)})"


def needs_pit(limits: Limits) -> bool:
    """Whether starts or runs are judged, which only a pit tells."""
    return limits.applies("starts_max") or limits.applies("run_min")


def unjudged_starts(limits: Limits, worst: float) -> str:
    """Say that starts (1/s) are many where no limit judges them, or nothing."""
    quoted = float(u.to_si(_STARTS_QUOTED, "per_h"))
    if limits.applies("starts_max") or "starts_max" in limits.without or not worst > quoted:
        return ""
    return (
        f"starts {u.text(worst, 'per_h')} in the worst case, more than the "
        f"{u.text(quoted, 'per_h')} commonly quoted as the most (from memory; no published "
        "limit found for such small motors); no limit is set, give starts_max_per_h in the "
        "limits"
    )


def _names(label: str, names: Iterable[str], more: Iterable[str] = ()) -> tuple[str, ...]:
    if isinstance(names, str | np.ndarray) or not isinstance(names, Iterable):
        raise wrong(label, names, "must be a list of names", "put the name in a list")
    given = tuple(names)
    known = [*SOURCES, *more]
    for name in given:
        if not is_among(name, known):
            raise wrong(label, name, "must name a limit", nearest(name, known))
    return given


def _in_order(least: str, low: Any, low_si: Any, greatest: str, high: Any, high_si: Any) -> None:
    if low_si > high_si:
        raise InputError(
            f"{least} {low} and {greatest} {high}: the least must not be above the greatest; swap "
            "them."
        )


def _pair(label: str, value: Any) -> tuple[float, float]:
    mend = "give two shares of the best-efficiency flow, the lesser first, e.g. (0.7, 1.2)"
    pair = value.tolist() if isinstance(value, np.ndarray) else value
    if not isinstance(pair, list | tuple) or len(pair) != 2:
        raise wrong(label, value, "must be two numbers", mend)
    low, high = (_share(label, x, 5.0) for x in pair)
    if low > high:
        raise wrong(label, value, "must not fall", mend)
    return low, high


def _ratio(label: str, value: Any, high: float, usual: float | None = None) -> Any:
    return usual if value is None else _share(label, value, high)


def _share(label: str, value: Any, high: float) -> float:
    return one_plain(label, value, "give a share, e.g. 0.8", high=high, above_zero=True)
