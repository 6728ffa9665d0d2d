"""How common each fault behind a wrong flow is, and how large it usually is."""

from __future__ import annotations

from collections.abc import Mapping

from drainpump import units as u
from drainpump.errors import InputError, closed, wrong
from drainpump.foreign import is_among, nearest
from drainpump.parts.part import Part
from drainpump.parts.scalars import one_factor, one_measure, one_number
from drainpump.physics.tables import read_table
from drainpump.results import Fixed
from drainpump.units import Measure, View

#: what is left when none of them fits: a misread bucket, another curve, two faults at once
LEFT_OVER = "none of these"
#: how common that is against one fault: our own judgement, no source
_LEFT_OVER_WEIGHT = 0.05
#: age at which a deposit has its usual thickness, and that of a line whose age is not given
_GROWN_YEARS = 30.0

#: what each fault is called, and where its usual size comes from
SOURCES = {row["fault"]: row["source"] for row in read_table("faults.csv")}
FAULTS = tuple(SOURCES)
#: sizes that are one number above 0, and how great they may be
_OF_ONE = {
    "head_loss": 1.0, "voltage_loss_share": 1.0, "air_share": 1.0, "stuck_k": 1e6, "extra_k": 1e6,
}  # fmt: skip


class Priors(Part):
    """How large each fault usually is, and how common; no survey was found, see `sources`.

    Parameters
    ----------
    head_loss : float, default 0.15
        One-sigma of the share of head a pump has lost, > 0 and at most 1.
    voltage_loss_share : float, default 0.1
        One-sigma of the share of the rated voltage that is missing at the motor, the same
        range.
    air_share : float, default 0.02
        One-sigma of the share of air in the water the pump draws, the same range.
    stuck_k, extra_k : float, default 6 and 20
        Median K of a check valve that does not open, 2.8 times as much or as little being
        one sigma away; one-sigma of the K of any other obstruction: debris, a valve part
        shut. > 0.
    deposit_in, deposit_mm : float, default 0.03 in
        One-sigma of the thickness of a deposit that is 30 years old, > 0; it grows evenly.
    gap_in, gap_mm : float, default 0.25 in
        Median gap of a lid, > 0; half and twice as much are one sigma away.
    lift_ft, lift_m : float, default 1 ft
        One-sigma of an error of lift, either way, > 0.
    leak_gpm, leak_lps : float, default 5 gpm
        One-sigma of a leak, > 0.
    weights : mapping of str to float, optional
        How common a fault is against nothing wrong, by its name; 1 for each not named, and
        0.05 for ``none of these``.

    Raises
    ------
    UnitError, InputError
        Both units, a scale that is not one number above 0, an unknown fault.

    Examples
    --------
    >>> import drainpump as dp
    >>> priors = dp.field.Priors(lift_ft=0.2, weights={"extra K": 3})
    >>> priors.weight("extra K")
    3.0
    """

    deposit_in, deposit_mm = View("_deposit"), View("_deposit")
    gap_in, gap_mm = View("_gap"), View("_gap")
    head_loss: float
    voltage_loss_share: float
    air_share: float
    stuck_k: float
    extra_k: float

    lift_ft, lift_m = View("_lift"), View("_lift")
    leak_gpm, leak_lps = View("_leak"), View("_leak")

    def __init__(
        self,
        *,
        head_loss: float = 0.15,
        voltage_loss_share: float = 0.1,
        air_share: float = 0.02,
        stuck_k: float = 6.0,
        extra_k: float = 20.0,
        deposit_in: float | None = None,
        deposit_mm: float | None = None,
        gap_in: float | None = None,
        gap_mm: float | None = None,
        lift_ft: float | None = None,
        lift_m: float | None = None,
        leak_gpm: float | None = None,
        leak_lps: float | None = None,
        weights: Mapping[str, float] | None = None,
    ) -> None:
        said, mend = u.Typed(locals()), "give the scale of its usual size"
        for name, high in _OF_ONE.items():
            vars(self)[name] = one_factor(name, said.given[name], high, mend)
        self._deposit = _scale(said, "deposit", ("in", 0.03))
        self._gap = _scale(said, "gap", ("in", 0.25))
        self._lift = _scale(said, "lift", ("ft", 1.0))
        self._leak = _scale(said, "leak", ("gpm", 5.0))
        known = dict.fromkeys(FAULTS, 1.0) | {LEFT_OVER: _LEFT_OVER_WEIGHT}
        if not isinstance(weights, Mapping | None):
            raise wrong("weights", weights, "must be a mapping", "give a weight by fault")
        for fault, weight in (weights or {}).items():
            if not is_among(fault, known):
                mend = nearest(fault, [*known])
                raise InputError(closed(f"weights: unknown fault {fault!r}; {mend}"))
            given = u.plain(f"weights[{fault!r}]", weight, low=0.0, mend="give 0 or more")
            known[fault] = one_number(f"weights[{fault!r}]", weight, given)
        self.weights: Mapping[str, float] = Fixed(known)

    @property
    def sources(self) -> dict[str, str]:
        """Where the usual size of each fault comes from."""
        return dict(SOURCES)

    def weight(self, fault: str) -> float:
        """How common a fault is against nothing wrong."""
        return self.weights[fault]

    def deposit(self, years: float | None) -> float:
        """Usual thickness (m) of a deposit in a line of some age, or of one not known."""
        grown = 1.0 if years is None else years / _GROWN_YEARS
        return float(self._deposit.si) * grown


def _scale(said: u.Typed, name: str, usual: tuple[str, float]) -> Measure:
    return one_measure(name, said.take(name, "positive", default=usual))
