"""A whole job as one object: what is there, what is asked, and JSON in and out."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, ClassVar

from drainpump import units as u
from drainpump.choose.objectives import RankedBy
from drainpump.choose.select import USUAL
from drainpump.doubt.doubt import Doubt
from drainpump.errors import Heard, InputError, inside, listening, wrong
from drainpump.inflow.water import Water
from drainpump.limits.costs import Costs
from drainpump.limits.limits import Limits
from drainpump.paper.document import part_shapes as shapes
from drainpump.paper.document.curve_files import CurveFiles, CurveFolder
from drainpump.paper.document.json_text import MOST_BYTES, parse
from drainpump.paper.document.shapes import Key, Listed, Whole
from drainpump.paper.laying import Laying
from drainpump.paper.outcome import Outcome, outcome_of
from drainpump.parts.csv_sheet import read_at_most
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.part import Part, each
from drainpump.parts.pit import Pit
from drainpump.parts.pump.curve import PumpCurve
from drainpump.units import View

__all__ = ["JOB", "SCHEMA_VERSION", "Job", "read_job"]

#: of the document: raised when a reader of the old one could misread the new one
SCHEMA_VERSION = 1
#: operating points a job may ask for; select keeps 9 bytes of each
_MOST_POINTS = 50_000_000
_CLASSES: dict[str, type[Part]] = {
    "pit": Pit,
    "limits": Limits,
    "doubt": Doubt,
    "costs": Costs,
    "water": Water,
    "laying": Laying,
}


class Job(Part):
    """A job: pumps and lines to choose from, the pit, and what is needed of them.

    Parameters
    ----------
    pumps : sequence of PumpCurve, default ()
        May come later, by `with_pumps`.
    lines : sequence of DischargeLine
        One at least; their quantities are scalars.
    need_gpm, need_lps : float
        Flow needed at the pump-off level, >= 0. Exactly one.
    inflow_gpm, inflow_lps : float, optional
        Steady inflow for the cycle that is reported, >= 0; needs a pit.
    pit : Pit, optional
    limits : Limits, optional
        ``Limits()`` where not given.
    doubt : Doubt, optional
        ``Doubt.usual()`` where not given: results have bands and the need a probability.
        ``Doubt()`` doubts nothing, and the job's ``doubt`` is then None.
    costs : Costs, optional
    water : Water, optional
        What comes to the pit: its storms, one a return period of its rain table, are routed
        through the pit, and its branches held against the pump.
    laying : Laying, optional
        How the line is laid, for the take-off.
    certainty : float, default 0.9
    objective : {"least", "flow", "cost", "starts", "energy"}
    samples, seed : int
        Of the draws from the doubt.
    name, story : str, optional
        The job's name, and the site in words.

    Attributes
    ----------
    warnings : tuple of Heard
        Warnings given while the job was read from a document, each with its path.

    Raises
    ------
    UnitError, InputError
        Bad units or values, arrays, or more operating points than 50 million.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    >>> job = dp.Job(pumps=[pump], lines=[line], need_gpm=30)
    >>> again = dp.Job.from_json(job.to_json())
    >>> again.to_dict() == job.to_dict()
    True
    >>> round(again.run().selection.best.flow_gpm, 1)
    36.3
    """

    #: heard while the job was read
    warnings: tuple[Heard, ...] = ()

    need_gpm, need_lps = View("_need"), View("_need")
    inflow_gpm, inflow_lps = View("_inflow"), View("_inflow")

    _nested: ClassVar = {
        "lines": each(DischargeLine.from_dict),
        **{name: cls.from_dict for name, cls in _CLASSES.items()},
    }

    def __init__(
        self,
        *,
        pumps: Sequence[PumpCurve | CurveFiles] = (),
        lines: Sequence[DischargeLine],
        need_gpm: float | None = None,
        need_lps: float | None = None,
        inflow_gpm: float | None = None,
        inflow_lps: float | None = None,
        pit: Pit | None = None,
        limits: Limits | None = None,
        doubt: Doubt | None = None,
        costs: Costs | None = None,
        water: Water | None = None,
        laying: Laying | None = None,
        certainty: float = 0.9,
        objective: RankedBy = "least",
        samples: int = 512,
        seed: int = 0,
        name: str = "",
        story: str = "",
    ) -> None:
        given = {
            "pit": pit,
            "limits": limits,
            "doubt": doubt,
            "costs": costs,
            "water": water,
            "laying": laying,
        }
        for key, part in given.items():
            if part is not None and not isinstance(part, _CLASSES[key]):
                raise wrong(key, part, f"must be {_CLASSES[key].__name__}", "make one, or leave it")
        for key, listed in (("pumps", pumps), ("lines", lines)):
            if not isinstance(listed, Sequence):
                raise wrong(key, listed, "must be a list", f"put it in one, {key}=[...]")
        for line in lines:
            if not isinstance(line, DischargeLine):
                mend = "make one with DischargeLine(...)"
                raise wrong("lines", line, "must hold DischargeLine", mend)
        need = u.take("need", guard="flow", gpm=need_gpm, lps=need_lps)
        inflow = u.maybe("inflow", guard="inflow", gpm=inflow_gpm, lps=inflow_lps)
        if inflow is not None and pit is None:
            raise InputError("inflow: no pit given; an inflow is pumped out of a pit, give one.")
        u.plain("certainty", certainty, low=0.0, high=1.0, mend="give a probability")
        self._need, self._inflow = need, inflow
        self.pumps, self.lines = tuple(_single(pumps)), _told_apart(lines)
        self.pit, self.limits, self.costs = pit, limits, costs
        self.doubt = USUAL if doubt is None else None if doubt == Doubt() else doubt
        self.water, self.laying = water, laying
        self.certainty, self.objective = certainty, objective
        self.samples, self.seed = samples, seed
        self.name, self.story = name, story
        JOB.check(self.to_dict(), "$")
        self._check_size()
        _check_names("pumps", self.pumps)
        _check_names("lines", self.lines)

    def _check_size(self) -> None:
        draws = 1 if self.doubt is None else self.samples
        points = len(self.pumps) * len(self.lines) * draws
        if points > _MOST_POINTS:
            raise InputError(
                f"job: {points} operating points: must be at most {_MOST_POINTS}; give fewer "
                "pumps, lines or samples."
            )

    @classmethod
    def from_dict(
        cls, document: Mapping[str, Any], *, curves_from: str | os.PathLike[str] | None = None
    ) -> Job:
        """Build a job from plain values.

        Parameters
        ----------
        document : mapping
            As `schema` says.
        curves_from : path-like, optional
            The folder whose CSV files a pump's ``{"curves": "path"}`` may name, 20 MB in all.
            Without it the document opens no file, and such a pump is refused.

        Returns
        -------
        Job
            It answers the document again by `to_dict`, exactly.

        Raises
        ------
        UnitError, InputError
            With the place in the document: ``$.lines[0].runs[1].length_ft=-3: ...``.
        """
        if isinstance(document, Mapping) and "schema_version" in document:
            # first, for another version's keys may all be other ones
            JOB.keys[0].shape.check(document["schema_version"], "$.schema_version")
        said = JOB.check(document, "$")
        del said["schema_version"]
        with listening() as heard, inside("$"):
            if "pumps" in said:
                with inside("pumps"):
                    folder = CurveFolder(curves_from)
                    said["pumps"] = each(lambda pump: _read_pump(folder, pump))(said["pumps"])
            job = super().from_dict(said)
        vars(job)["warnings"] = tuple(heard)
        return job

    @classmethod
    def from_json(
        cls, text: str | bytes, *, curves_from: str | os.PathLike[str] | None = None
    ) -> Job:
        """Build a job from JSON text of at most 10 MB; see `from_dict`, and `read_job` for files.

        Raises
        ------
        UnitError, InputError
            No JSON, a key twice, a number that is not finite, nested beyond 40 levels, or
            what `from_dict` refuses.
        """
        return cls.from_dict(parse(text), curves_from=curves_from)

    @staticmethod
    def schema() -> dict[str, Any]:
        """Return the JSON Schema (draft 2020-12) of a job, as ``paper/data/job.schema.json``."""
        return {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$id": f"urn:drainpump:job:{SCHEMA_VERSION}",
            "description": "A drainage pump job: pumps, lines, pit, need, limits, doubt and "
            "costs. The unit is the last word of every key; a quantity stands under exactly one "
            "of its spellings.",
            **JOB.schema(),
        }

    def to_dict(self) -> dict[str, Any]:
        """Return the job as plain values: numbers, units and files of curves as typed."""
        return {"schema_version": SCHEMA_VERSION} | super().to_dict()

    def to_json(self, *, indent: int | None = 2) -> str:
        """Return the job as JSON text."""
        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False)

    def _replaced(self, changes: dict[str, Any]) -> Any:
        job = super()._replaced(changes)
        vars(job)["warnings"] = self.warnings
        return job

    def with_pumps(self, pumps: Sequence[PumpCurve]) -> Job:
        """Return the job for other pumps; its document then holds their points."""
        return self.replace(pumps=tuple(pumps))

    def run(self) -> Outcome:
        """Choose, and work out what is reported of the choice.

        Returns
        -------
        Outcome

        Raises
        ------
        InputError
            No pumps, or what `select` refuses.
        """
        if not self.pumps:
            raise InputError("$.pumps: none; give curves, or the path of their files.")
        return outcome_of(self)

    def __str__(self) -> str:
        name = f"{self.name!r}: " if self.name else ""
        asked = [f"{u.both(self._need.si, self._need.unit)} needed, by {self.objective}"]
        asked += [key for key in _CLASSES if getattr(self, key) is not None]
        counts = f"{len(self.pumps)} pumps × {len(self.lines)} lines"
        return f"Job({name}{counts}; {'; '.join(asked)})"

    def _repr_html_(self) -> str:
        import html

        return f"<p>{html.escape(str(self))}</p><p>{html.escape(self.story)}</p>"


#: a job's keys are the keywords of `Job`
JOB = shapes.shape_of(
    "drainpump job", Job, "need",
    before=[Key("schema_version", Whole(SCHEMA_VERSION, SCHEMA_VERSION), required=True)],
    pumps=Listed(shapes.PUMP, 0, 2000), lines=Listed(shapes.LINE, 1, 200), pit=shapes.PIT,
    limits=shapes.LIMITS, doubt=shapes.DOUBT, costs=shapes.COSTS, water=shapes.WATER,
    laying=shapes.LAYING, story=shapes.LONG,
    samples=Whole(1, 65_536), seed=Whole(0, 2**32 - 1),
)  # fmt: skip


def _single(pumps: Sequence[Any]) -> Iterator[PumpCurve]:
    """The pumps, those of files in their place; a bank is refused by name."""
    for pump in pumps:
        if isinstance(pump, CurveFiles):
            yield from pump.pumps
        elif isinstance(pump, PumpCurve):
            yield pump
        else:
            name = getattr(pump, "name", pump)
            raise InputError(f"pump {name!r}: a job holds single pumps, no bank; give its curves.")


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


def _read_pump(folder: CurveFolder, given: Mapping[str, Any]) -> PumpCurve | CurveFiles:
    """Build a pump of its points, or read those of files."""
    curves = given.get("curves")
    return PumpCurve.from_dict(given) if curves is None else folder.read(curves)


def read_job(
    path: str | os.PathLike[str], *, curves_from: str | os.PathLike[str] | None = None
) -> Job:
    """Read a job from a JSON file; it opens other files only where that is allowed.

    Parameters
    ----------
    path : str or path-like
        At most 10 MB of UTF-8.
    curves_from : path-like, optional
        The folder whose CSV files its pumps may name; see `Job.from_dict`.

    Returns
    -------
    Job

    Raises
    ------
    UnitError, InputError
        A file that cannot be read, or what `Job.from_json` refuses.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.read_job("no such file.json")
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: no such file.json: cannot be read (No such file or directory);
    give the path of a job file.
    """
    try:
        file = Path(path)
        text, size = read_at_most(file, MOST_BYTES)
    except (OSError, ValueError, TypeError) as error:
        why = getattr(error, "strerror", None) or error
        raise InputError(f"{path}: cannot be read ({why}); give the path of a job file.") from None
    if size > MOST_BYTES:
        raise InputError(
            f"{path}: {size} bytes: must be at most {MOST_BYTES}; give the curves as CSV."
        )
    return Job.from_json(text, curves_from=curves_from)
