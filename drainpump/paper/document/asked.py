"""All that a job says: the site, its water, what to choose from, and what is wanted."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar, Literal

from drainpump import units as u
from drainpump.choose.question import RankedBy
from drainpump.choose.select import USUAL
from drainpump.doubt.doubt import Doubt
from drainpump.errors import Heard, InputError, UnitError, wrong
from drainpump.inflow.water import Water
from drainpump.limits.costs import Costs
from drainpump.limits.limits import OF_STORMS, UNSAID, Limits
from drainpump.paper.document.backup import Backup
from drainpump.paper.document.curve_files import CurveFiles
from drainpump.paper.document.shapes import Object
from drainpump.paper.laying import Laying
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.part import Part, each
from drainpump.parts.pit import Pit
from drainpump.parts.pond import PondStorage, take_pond
from drainpump.parts.pump.bank import Pump
from drainpump.units import View
from drainpump.work_budget import spend

#: of the document: raised when a reader of the old one could misread the new one
SCHEMA_VERSION = 2
_CLASSES: dict[str, type[Part]] = {
    "limits": Limits,
    "doubt": Doubt,
    "costs": Costs,
    "water": Water,
    "pond_storage": PondStorage,
    "backup": Backup,
    "laying": Laying,
}


class Asked(Part):
    """What a job is about; the public one is `Job`."""

    #: of the document: its keys are the keywords
    _shape: ClassVar[Object]
    #: heard while the job was read
    warnings: tuple[Heard, ...] = ()

    need_gpm, need_lps = View("_need", maybe=True), View("_need", maybe=True)
    inflow_gpm, inflow_lps = View("_inflow", maybe=True), View("_inflow", maybe=True)
    overflow_in, overflow_mm = View("_overflow", maybe=True), View("_overflow", maybe=True)
    pond_area_ft2, pond_area_m2 = View("_pond_area", maybe=True), View("_pond_area", maybe=True)
    return_year = View("_return", maybe=True)

    _nested: ClassVar = {
        "lines": each(DischargeLine.from_dict),
        "pit": lambda pit: each(Pit.from_dict)(pit) if _many(pit) else Pit.from_dict(pit),
        **{name: cls.from_dict for name, cls in _CLASSES.items()},
    }

    def __init__(
        self,
        *,
        name: str = "",
        story: str = "",
        pumps: Sequence[Pump | CurveFiles] = (),
        lines: Sequence[DischargeLine],
        pit: Pit | Sequence[Pit] | None = None,
        floats: Literal["given", "find"] = "given",
        water: Water | None = None,
        return_year: u.Quantity | None = None,
        annual_maxima: bool = False,
        pond_area_ft2: float | None = None,
        pond_area_m2: float | None = None,
        pond_storage: PondStorage | None = None,
        overflow_in: float | None = None,
        overflow_mm: float | None = None,
        need_gpm: float | None = None,
        need_lps: float | None = None,
        inflow_gpm: float | None = None,
        inflow_lps: float | None = None,
        limits: Limits | None = None,
        backup: Backup | None = None,
        laying: Laying | None = None,
        ground: str = "sandy loam",
        costs: Costs | None = None,
        doubt: Doubt | None = None,
        certainty: float = 0.9,
        objective: RankedBy = "least",
        samples: int = 512,
        seed: int = 0,
        defaults_of: Literal[1, 2] = 2,
    ) -> None:
        said = dict(locals())
        for key, cls in _CLASSES.items():
            if said[key] is not None and not isinstance(said[key], cls):
                raise wrong(key, said[key], f"must be {cls.__name__}", "make one, or leave it")
        self.pits: tuple[Pit, ...] = () if pit is None else _all_of(pit)
        for key, listed, kind in (
            ("pumps", pumps, (Pump, CurveFiles)), ("lines", lines, DischargeLine),
            ("pit", self.pits, Pit),
        ):  # fmt: skip
            _check_list(key, listed, kind)
        self._need = u.maybe("need", guard="flow", gpm=need_gpm, lps=need_lps)
        self._inflow = u.maybe("inflow", guard="inflow", gpm=inflow_gpm, lps=inflow_lps)
        self._overflow = u.maybe("overflow", guard="level", **u.inches(overflow_in, overflow_mm))
        self._pond_area = u.maybe("pond_area", guard="area", ft2=pond_area_ft2, m2=pond_area_m2)
        self._return = u.maybe("return", guard="positive", year=return_year)
        self.pond = take_pond(pond_area_ft2, pond_area_m2, pond_storage)
        u.plain("certainty", certainty, low=0.0, high=1.0, mend="give a probability")
        self.pumps, self.lines = tuple(_opened(pumps)), _told_apart(lines)
        self.pit, self.floats = pit, floats
        self.water, self.annual_maxima = water, annual_maxima
        self.pond_storage, self.backup, self.laying = pond_storage, backup, laying
        self.limits, self.costs, self.ground = limits, costs, ground
        usual = _Usual(self.given, defaults_of)
        self.certainty: float = usual("certainty", certainty)
        self.objective: RankedBy = usual("objective", objective)
        doubted = usual("doubt", USUAL if doubt is None else doubt)
        self.doubt: Doubt | None = None if doubted == Doubt() else doubted
        self.limits_in_force = usual.limits(Limits() if limits is None else limits)
        self.samples, self.seed, self.defaults_of = samples, seed, defaults_of
        self.name, self.story = name, story
        self._shape.check(self.to_dict(), "$")
        samples = 1 if self.doubt is None else self.samples
        many = {"pumps": self.pumps, "lines": self.lines, "pits": self.pits or (None,)}
        spend("job", **{name: len(parts) for name, parts in many.items()}, samples=samples)
        self._check_wanted()
        for key, named in (("pumps", self.pumps), ("lines", self.lines)):
            _check_names(key, named)

    def _check_wanted(self) -> None:
        """Refuse a job that does not say what is wanted, or cannot tell whether it comes so."""
        for key in ("inflow", "water"):
            if getattr(self, f"_{key}" if key == "inflow" else key) is not None and not self.pits:
                raise InputError(
                    f"{key}: no pit given; what comes in is pumped out of a pit, give one."
                )
        if self._need is None and not any(map(self.limits_in_force.applies, OF_STORMS)):
            raise UnitError(
                "need: missing; give need_gpm or need_lps, or water with limits on the pond, such "
                "as pond_depth_max_in."
            )

    def to_dict(self) -> dict[str, Any]:
        """Return the job as plain values: numbers, units and files of curves as typed."""
        return {"schema_version": SCHEMA_VERSION} | super().to_dict()

    def _replaced(self, changes: dict[str, Any]) -> Any:
        job = super()._replaced(changes)
        vars(job)["warnings"] = self.warnings
        return job

    def __str__(self) -> str:
        name = f"{self.name!r}: " if self.name else ""
        wanted = "limits on pond and overflow kept"
        if self._need is not None:
            wanted = f"{u.both(self._need.si, self._need.unit)} needed"
        asked = [f"{wanted}, by {self.objective}"]
        asked += [key for key in ("pit", *_CLASSES) if getattr(self, key) is not None]
        counts = f"{len(self.pumps)} pumps × {len(self.lines)} lines"
        return f"Job({name}{counts}; {'; '.join(asked)})"

    def _repr_html_(self) -> str:
        import html

        return f"<p>{html.escape(str(self))}</p><p>{html.escape(self.story)}</p>"


class _Usual:
    """What stands for what a job leaves out: ours, or that of the first version.

    The first chose the pump that moves most, doubted nothing, and rejected by fewer limits.
    """

    def __init__(self, given: dict[str, Any], version: int) -> None:
        self.given, self.first = given, isinstance(version, int) and version == 1

    def __call__(self, key: str, now: Any) -> Any:
        then = {"certainty": 0.8, "objective": "flow", "doubt": Doubt()}[key]
        return then if self.first and key not in self.given else now

    def limits(self, given: Limits) -> Limits:
        """The limits in force."""
        if not self.first:
            return given
        then: dict[str, Any] = {"best_flow_min_share": 0.7, "best_flow_max_share": 1.2}
        changes = {key: value for key, value in then.items() if key not in given.given}
        soft = given.given.get("soft", ("best_flow", "outlet_size"))
        later = ["hand_off", "need_max_share", "best_flow_preferred"]
        if "range_share_max" not in given.given:
            later.append("range_share_max")
        return given.variant(soft=[*soft, *UNSAID], without=[*given.without, *later], **changes)


def _all_of(pit: Pit | Sequence[Pit]) -> tuple[Pit, ...]:
    return tuple(pit) if isinstance(pit, Sequence) else (pit,)


def _many(given: Any) -> bool:
    # what is left of a list stands by its numbers
    numbered = isinstance(given, Mapping) and any(isinstance(key, int) for key in given)
    return isinstance(given, list | tuple) or numbered


def _check_list(key: str, listed: Any, kind: Any) -> None:
    if not isinstance(listed, Sequence):
        raise wrong(key, listed, "must be a list", f"put it in one, {key}=[...]")
    for one in listed:
        if not isinstance(one, kind):
            name = {"pumps": "PumpCurve or banks", "pit": "Pit"}.get(key, "DischargeLine")
            raise wrong(key, one, f"must hold {name}", f"make one with {name.split()[0]}(...)")


def _opened(pumps: Sequence[Any]) -> Iterator[Pump]:
    """The pumps, those of files in their place."""
    for pump in pumps:
        yield from pump.pumps if isinstance(pump, CurveFiles) else (pump,)


def _told_apart(lines: Sequence[DischargeLine]) -> tuple[DischargeLine, ...]:
    """The lines; one that nobody named, and that is described as another is, with a number."""
    taken = [line.name for line in lines]
    again = [name in taken[:i] for i, name in enumerate(taken)]
    return tuple(
        line.variant(name=f"{line.name} (line {i + 1})")
        if again[i] and "name" not in line.given
        else line
        for i, line in enumerate(lines)
    )


def _check_names(key: str, parts: Sequence[Any]) -> None:
    """Refuse two of one name: nobody could tell which of them was chosen."""
    first: dict[str, int] = {}
    for i, part in enumerate(parts):
        if (at := first.setdefault(part.name, i)) != i:
            allowed = f"is the name of {key}[{at}] already"
            raise wrong(f"{key}[{i}].name", part.name, allowed, "give each a name of its own")
