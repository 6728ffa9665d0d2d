"""How sure the inputs are, and samples from that doubt that go through the plain solver."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.special import ndtri

from drainpump import units as u
from drainpump.doubt.grades import Grade, grade
from drainpump.errors import InputError, wrong
from drainpump.parts.part import Part
from drainpump.parts.pump.bank import PumpBank
from drainpump.parts.scalars import check_kind, one_sigma, whole
from drainpump.physics.tables import read_table
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    from drainpump.parts.pump.bank import Pump
    from drainpump.physics.system import LineArrays


#: the inputs in doubt, in the order of the sequence's columns: a new one goes last, so that
#: the samples of the others stay
INPUTS = ("length", "lift", "bore", "friction", "k", "head", "flow", "inflow")

#: what of the water is in doubt, sampled from a sequence of its own: see `water_samples`
WATER = ("rain", "runoff", "seepage")

#: how each is said, of its one-sigma
_SAID = {
    "length": "length {} %", "lift": "lift {}", "bore": "bore ±{} %", "friction": "friction {} %",
    "k": "ln K {}", "head": "head {} %", "flow": "flow {} %", "inflow": "inflow {} %",
    "rain": "rain {} %", "runoff": "runoff {} %", "seepage": "ln seepage {}",
}  # fmt: skip

#: normal samples stop here, so that a factor stays above 0; beyond lie 6 in 100,000
_CUT = 4.0


class Doubt(Part):
    """How far each input may be off: one-sigma values, independent of each other.

    Parameters
    ----------
    length_pct : float, default 0
        Length of the line, 0 to 20 % of it; all runs together.
    lift_ft, lift_m : float, default 0
        Height of the whole line above the pump-off water level, 0 to 20 ft. At most one.
    bore_pct : float, default 0
        Bore, as the half-width of a uniform spread, 0 to 20 %; all runs together.
    friction_pct : float, default 0
        Head lost along the pipe at a given flow, 0 to 20 %.
    k_log : float, default 0
        All local losses, in ln K, 0 to 1: fittings, equivalent lengths, the exit and an
        outlet's gap. A lid's constant head is not in it.
    head_pct, flow_pct : float, default 0
        The pump's head at each flow and its flow at each head, 0 to 20 %.
    inflow_pct : float, default 0
        Water that comes in, 0 to 20 %.
    rain_pct, runoff_pct : float, default 0
        Depth of the rain, and the share of it that runs off, 0 to 20 %: both on what of a
        hydrograph is above its least flow.
    seepage_log : float, default 0
        Water from the ground, in ln, 0 to 1: on a hydrograph's least flow.
    grade : str, optional
        Acceptance grade that stands for ``head_pct`` and ``flow_pct``:
        ``"up to 10 kW"``, ``"1B"``, ``"1E"``, ``"1U"``, ``"2B"``, ``"2U"``, ``"3B"``,
        ``"1999 class 1"``, ``"1999 class 2"``.

    Attributes
    ----------
    grade : Grade or None
        With its ``source`` and ``certainty``.

    Raises
    ------
    UnitError, InputError
        Both units of the lift, a value out of range, an unknown grade, or a grade beside
        ``head_pct`` or ``flow_pct``.

    Notes
    -----
    What is not named is not doubted. Factors are normal, ``1 + sigma·z`` with z cut off at
    ±4; ln K is normal; the lift is normal and added; the bore is uniform. The pump is
    H = a·h(Q/b) with a for the head and b for the flow. A pump known by two figures samples
    its shape besides, whatever is named here, and one that readings narrowed what they
    left of its factors and shape in place of a and b. A grade's tolerance is taken as
    two sigma about its middle: our own choice, no source, since a grade says what may be
    refused and not how pumps scatter. A one-sided grade raises the middle of the curve.

    References
    ----------
    ISO 9906:2012, Rotodynamic pumps: hydraulic performance acceptance tests, Table 8;
    ANSI/HI 14.6-2011 (each figure's certainty is in the grade).

    Examples
    --------
    >>> import drainpump as dp
    >>> doubt = dp.Doubt(lift_ft=0.75, length_pct=5, grade="up to 10 kW")
    >>> print(doubt)
    Doubt(length 5 %, lift 0.75 ft (0.229 m), head 4 %, flow 5 %)
    """

    length_pct, bore_pct = View("_length"), View("_bore")
    lift_ft, lift_m = View("_lift"), View("_lift")
    friction_pct, k_log = View("_friction"), View("_k")
    head_pct, flow_pct, inflow_pct = View("_head"), View("_flow"), View("_inflow")
    rain_pct, runoff_pct, seepage_log = View("_rain"), View("_runoff"), View("_seepage")

    def __init__(
        self,
        *,
        length_pct: float = 0.0,
        lift_ft: float | None = None,
        lift_m: float | None = None,
        bore_pct: float = 0.0,
        friction_pct: float = 0.0,
        k_log: float = 0.0,
        head_pct: float | None = None,
        flow_pct: float | None = None,
        inflow_pct: float = 0.0,
        rain_pct: float = 0.0,
        runoff_pct: float = 0.0,
        seepage_log: float = 0.0,
        grade: str | None = None,
    ) -> None:
        given = locals()
        known = _grade(grade, head_pct, flow_pct)
        if known is not None:
            head_pct, flow_pct = known.head_pct, known.flow_pct
        lift = u.Typed(given).take("lift", "not_negative", default=("ft", 0.0))
        limit = float(u.to_si(20.0, "ft"))
        if lift.si.ndim != 0 or not lift.si <= limit:
            allowed = f"must be one number, 0 to {u.text(limit, lift.unit)}"
            mend = "give one sigma of the lift's doubt"
            raise wrong(f"lift_{lift.unit}", lift.typed, allowed, mend)
        self.grade = known
        self._lift = lift
        sigmas = {n: x for n, x in given.items() if n.endswith(("_pct", "_log"))}
        for name, known_by in (("head_pct", head_pct), ("flow_pct", flow_pct)):
            sigmas[name] = 0.0 if known_by is None else known_by
        for name, sigma in sigmas.items():
            stem, _, kind = name.rpartition("_")
            vars(self)[f"_{stem}"] = one_sigma(name, sigma, high=1.0 if kind == "log" else 20.0)

    @classmethod
    def usual(cls) -> Doubt:
        """Return the doubt of a paced yard and a catalogue curve; `sources` says why each.

        >>> print(Doubt.usual())
        Doubt(length 5 %, lift 0.5 ft (0.152 m), bore ±0.63 %, friction 5 %, ln K 0.25, head 4 %,
        flow 5 %, rain 20 %, runoff 20 %, ln seepage 0.7)
        """
        usual = {row["keyword"]: row["usual"] for row in read_table("doubts.csv") if row["usual"]}
        return cls(**{name: json.loads(x) for name, x in usual.items()}, grade="up to 10 kW")

    @property
    def sources(self) -> dict[str, str]:
        """Where the values of `usual` come from, and this doubt's grade where it has one."""
        told = {r["keyword"]: r["source"] for r in read_table("doubts.csv") if r["source"]}
        return told | ({} if self.grade is None else {"grade": str(self.grade)})

    def _sigma(self, name: str) -> float:
        """One sigma of an input (the bore's half-width) as a plain ratio; the lift's in m."""
        value = getattr(self, f"_{name}")
        if name == "lift":
            return float(value.si)
        return float(value) if name in ("k", "seepage") else float(value) / 100

    def _middle(self, name: str) -> float:
        """Shift of an input's middle: that of a one-sided grade, else 0."""
        if self.grade is None:
            return 0.0
        middles = {"head": self.grade.head_middle_pct, "flow": self.grade.flow_middle_pct}
        return middles.get(name, 0.0) / 100

    def __str__(self) -> str:
        values = {name: getattr(self, f"_{name}") for name in _SAID if self._sigma(name) > 0}
        said = [
            _SAID[name].format(x if name == "lift" else u.number(float(x)))
            for name, x in values.items()
        ]
        return f"Doubt({', '.join(said) or 'none'})"


@dataclass(frozen=True, eq=False)
class Samples:
    """The same N samples of every input, to be laid on any pump and line.

    A line or pump of quantities of shape S becomes one of shape (*S, N).
    """

    length: FloatArray  # factor
    lift: FloatArray  # m, added
    bore: FloatArray  # factor
    friction: FloatArray  # factor
    k: FloatArray  # factor
    head: FloatArray  # factor
    flow: FloatArray  # factor
    inflow: FloatArray  # factor
    #: what a curve brings of its own: which of those it may have, 0 to 1, and how far its
    #: points were misread, in sigma; the middle ones where there is none
    which: FloatArray | None = None
    misread: FloatArray | None = None

    @property
    def count(self) -> int:
        """Number of samples."""
        return int(self.length.size)

    def some(self, part: slice) -> Samples:
        """Return these samples alone."""
        taken = {name: a[part] for name, a in vars(self).items() if a is not None}
        return replace(self, **taken)

    def line(self, line: LineArrays) -> LineArrays:
        """Return the line with every sample laid on it."""
        wide = line.map(lambda _, a: a[..., None])
        length = wide.length * self.length
        return replace(
            wide,
            diameter=wide.diameter * self.bore,
            length=length,
            # doubted friction is more or less of a pipe to rub along, but holds no more water
            fitting_length=wide.fitting_length * self.k + length * (self.friction - 1.0),
            k=wide.k * self.k,
            end=wide.end + self.lift,
            exit_k=wide.exit_k * self.k,
            high_point_k=wide.high_point_k * self.k,
            orifice=wide.orifice * self.k,
        )

    def pump(self, pump: Pump) -> Pump:
        """Return the pump with every sample laid on its curve.

        The pumps of a bank share one sample, and their risers are not doubted.
        """
        if isinstance(pump, PumpBank):
            return pump.variant(pumps=[self.pump(p) for p in pump.pumps])
        return pump.si.sampled(self.head, self.flow, self.which, self.misread)  # type: ignore[no-any-return]


def sample(doubt: Doubt, samples: int = 1024, seed: int = 0) -> Samples:
    """Sample a doubt: the same samples and seed give the same numbers.

    Parameters
    ----------
    doubt : Doubt
    samples : int, default 1024
        Number of samples, 2 to 1,048,576; a power of two is spread most evenly.
    seed : int, default 0
        Any whole number, >= 0.

    Returns
    -------
    Samples

    Notes
    -----
    A scrambled Sobol sequence, one column per input whether doubted or not, so that one
    input's samples do not hang on the others' doubt, and more samples keep the first ones.

    References
    ----------
    Owen, "Scrambling Sobol' and Niederreiter-Xing points", J. Complexity 14 (1998), as in
    ``scipy.stats.qmc.Sobol``.
    """
    check_kind("doubt", doubt, Doubt)
    samples, seed = sample_count(samples), whole("seed", seed, "give another", low=0)
    columns, normal = _sequence(len(INPUTS), samples, seed)
    sampled = {
        name: 1 + doubt._middle(name) + doubt._sigma(name) * normal[i]
        for i, name in enumerate(INPUTS)
    }
    sampled["lift"] = doubt._sigma("lift") * normal[INPUTS.index("lift")]
    sampled["bore"] = 1 + doubt._sigma("bore") * (2 * columns[INPUTS.index("bore")] - 1)
    sampled["k"] = np.exp(doubt._sigma("k") * normal[INPUTS.index("k")])
    sampled |= of_curves(samples, seed)
    return Samples(**{name: u.frozen(array) for name, array in sampled.items()})


def sample_count(samples: int) -> int:
    """Return how many samples are asked, checked."""
    mend = "give another"
    if not isinstance(samples, Real):
        mend = "other inputs, such as pit=, are given by name"
    return whole("samples", samples, mend, low=2, high=1 << 20)


def _sequence(columns: int, samples: int, rng: Any) -> tuple[FloatArray, FloatArray]:
    """Samples of a scrambled Sobol sequence, evenly in 0 to 1 and normal, (columns, samples)."""
    from scipy.stats import qmc  # slow to load: only when samples are made

    points = qmc.Sobol(columns, rng=rng).random_base2(math.ceil(math.log2(samples)))
    even = points[:samples].T
    with np.errstate(divide="ignore"):
        return even, np.clip(ndtri(even), -_CUT, _CUT)


def of_curves(samples: int, seed: int) -> dict[str, FloatArray]:
    """Samples of what curves bring, by name of `Samples`.

    From a sequence of their own, so that the samples of the inputs stay as they were.
    """
    even, normal = _sequence(len(INPUTS) + 2, samples, seed)
    return {"which": even[-2], "misread": normal[-1]}


def water_samples(doubt: Doubt, samples: int, seed: int) -> tuple[FloatArray, FloatArray]:
    """Factors of a storm's own water, and of the steady water besides, one a sample.

    Each about a median of 1; from a sequence of its own, so that the samples of pump and
    line stay what they are.
    """
    _, normal = _sequence(len(WATER), samples, np.random.default_rng([seed, 1]))
    z = dict(zip(WATER, normal, strict=True))
    storm = np.prod([1 + doubt._sigma(n) * z[n] for n in ("rain", "runoff")], axis=0)
    return np.maximum(storm, 0.0), np.exp(doubt._sigma("seepage") * z["seepage"])


def middle(doubt: Doubt, shape: tuple[int, ...]) -> dict[str, FloatArray]:
    """Return every input at its middle, by name: factors of 1 but for one-sided grades."""
    columns = {name: np.full(shape, 1 + doubt._middle(name)) for name in INPUTS}
    columns["lift"] -= 1
    return columns


def _grade(name: str | None, head_pct: Any, flow_pct: Any) -> Grade | None:
    if name is None:
        return None
    if head_pct is not None or flow_pct is not None:
        raise InputError(
            f"grade={name!r} beside head_pct or flow_pct: a grade stands for both; "
            "give the grade or the two."
        )
    return grade(name)
