"""A whole job as one object: what is there, what is asked, and JSON in and out."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from drainpump.errors import MOST_PROBLEMS, InputError, Problems, inside, listening, silent
from drainpump.paper.document import part_shapes as shapes
from drainpump.paper.document.asked import SCHEMA_VERSION, Asked
from drainpump.paper.document.curve_files import CurveFiles, CurveFolder
from drainpump.paper.document.json_text import MOST_BYTES, Members, parse, shipped
from drainpump.paper.document.shapes import Key
from drainpump.paper.document.values import Either, Listed, Number, Text, Whole
from drainpump.paper.outcome import Outcome, outcome_of
from drainpump.parts.csv_sheet import read_at_most
from drainpump.parts.part import each
from drainpump.parts.pump.bank import Pump, pump_from_dict
from drainpump.physics.tables import read_table


class Job(Asked):
    """A job: the site and its water, pumps and lines to choose from, and what is wanted.

    Parameters
    ----------
    name, story : str, optional
        The job's name, and the site in words.
    pumps : sequence of PumpCurve or banks, default ()
        May come later, by `with_pumps`.
    lines : sequence of DischargeLine
        One at least; their quantities are scalars.
    pit : Pit or sequence of Pit, optional
        Several are candidates, as pumps and lines are.
    floats : {"given", "find"}
        "find" leaves the on level to the choice, see `select`.
    water : Water, optional
        What comes to the pit: its storms, one a return period of its rain table, are routed
        through every candidate, and its branches held against the chosen pump.
    return_year : sequence of float, optional
        Which storms, > 0, within the table's; by default those of the table.
    annual_maxima : bool, default False
        Whether the rain's return periods are of annual maxima, see `select`.
    pond_area_ft2, pond_area_m2 : float, optional
        Area over which water stands above the pit's rim, > 0.
    pond_storage : PondStorage, optional
        The same as a table of volumes by depth.
    overflow_in, overflow_mm : float, optional
        Level above the pit's floor at which the pond runs over, >= 0.
    need_gpm, need_lps : float, optional
        Flow needed at the pump-off level, >= 0. May be left out where ``limits`` say what
        has to stay dry, and ``dry_up_to_year`` how often.
    inflow_gpm, inflow_lps : float, optional
        Steady inflow for the cycle and the outage, >= 0; by default the water's steady part.
    limits : Limits, optional
        ``Limits()`` where not given.
    backup : Backup, optional
        An outage to be reckoned with, and what carries on in it.
    laying : Laying, optional
        How the line is laid, for the take-off.
    ground : str, default "sandy loam"
        What the water falls on at the outlet, a row of the sourced table.
    costs : Costs, optional
        Prices; without them no cost is said.
    doubt : Doubt, optional
        ``Doubt.usual()`` where not given: results have bands and the need a probability.
        ``Doubt()`` doubts nothing, and the job's ``doubt`` is then None.
    certainty : float, default 0.9
        Probability with which the need must be carried, 0 <= certainty <= 1.
    objective : {"least", "flow", "cost", "starts", "energy"}
        What the accepted are ranked by, see `select`.
    samples, seed : int
        Of the samples from the doubt.
    defaults_of : {1, 2}
        Version of the document whose defaults stand for what is left out: 1 is the first
        release's choice, most flow, nothing doubted and fewer limits.

    Attributes
    ----------
    pits : tuple of Pit
        The one pit, or all of them.
    limits_in_force : Limits
    warnings : tuple of Heard
        Warnings given while the job was read from a document, each with its path.

    Raises
    ------
    UnitError, InputError
        Bad units or values, arrays, nothing wanted, or more work than the `budget`.

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

    @classmethod
    def from_dict(
        cls, document: Mapping[str, Any], *, curves_from: str | os.PathLike[str] | None = None
    ) -> Job:
        """Build a job from plain values.

        Parameters
        ----------
        document : mapping
            As `schema` says; one of the first version is brought up to this one, and keeps
            that version's defaults.
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
        document, folder = _upgraded(document), CurveFolder(curves_from)
        pumps = each(lambda pump: _read_pump(folder, pump))
        try:
            said = JOB.check(document, "$")
        except InputError as error:
            more = _of_values(document, error, {**cls._nested, "pumps": pumps})
            raise InputError.together([error, *more]) from None
        del said["schema_version"]
        problems = Problems()
        with listening() as heard, inside("$"):
            if "pumps" in said:
                with problems, inside("pumps"):
                    said["pumps"] = pumps(said["pumps"])
                if problems.found:
                    del said["pumps"]
            with problems:
                job = super().from_dict(said)
            problems.end()
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
        """Return the JSON Schema (draft 2020-12) of a job: ``paper/data/job.schema.json``.

        Each key has a title, a description, its unit, default, bounds and choices, where it
        has them; alternatives stand as ``oneOf``.
        """
        return shipped("job.schema.json")

    def to_json(self, *, indent: int | None = 2) -> str:
        """Return the job as JSON text."""
        return json.dumps(self.to_dict(), indent=indent, ensure_ascii=False, allow_nan=False)

    def with_pumps(self, pumps: Sequence[Pump]) -> Job:
        """Return the job for other pumps; its document then holds their points."""
        return self.replace(pumps=tuple(pumps))

    def run(self) -> Outcome:
        """Do the job in the order of the work, and keep what was warned of meanwhile.

        Gravity check, water and storms, the choice, its weakest links, cycle and floats, the
        outage, side checks, take-off, acceptance, and what to measure next.

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


#: the stem of return_year is no keyword of Python
_RETURN: dict[str, Any] = {"return": Listed(Number(), 1, 50)}
#: a job's keys are the keywords of `Job`
JOB = shapes.shape_of(
    "drainpump job", Job,
    before=[Key("schema_version", Whole(SCHEMA_VERSION, SCHEMA_VERSION), required=True,
                about="Version of this document.")],
    pumps=Listed(shapes.PUMP, 0, 2000), lines=Listed(shapes.LINE, 1, 200),
    pit=Either((list, tuple), Listed(shapes.PIT, 1, 50), shapes.PIT),
    limits=shapes.LIMITS, doubt=shapes.DOUBT, costs=shapes.COSTS, water=shapes.WATER,
    pond_storage=shapes.POND, backup=shapes.BACKUP, laying=shapes.LAYING, story=shapes.LONG,
    ground=Text(choices=tuple(row["ground"] for row in read_table("scour_velocity.csv"))),
    samples=Whole(1, 65_536), seed=Whole(0, 2**32 - 1), defaults_of=Whole(1, SCHEMA_VERSION),
    **_RETURN,
)  # fmt: skip
Job._shape = JOB


def _upgraded(document: Any) -> Any:
    """Return a document of this version.

    Every key of the first version is one of this one; what it left out had other defaults,
    which are named, and not written out: nobody gave them.
    """
    version = document.get("schema_version") if isinstance(document, Mapping) else None
    if type(version) is not int or version != 1:
        return document
    if "defaults_of" in document:
        raise InputError("$.defaults_of: unknown key; it came with version 2.")
    found = Members({**document, "schema_version": 2, "defaults_of": 1})
    found.twice = getattr(document, "twice", None)
    return found


def _of_values(
    document: Any, shapes: InputError, readers: Mapping[str, Callable[[Any], Any]]
) -> list[InputError]:
    """What is wrong with the values of those members, or items of them, whose shape is right."""
    problems, wrong = Problems(), tuple(problem.path for problem in shapes.problems)

    def sound(place: str) -> bool:
        around = (path for path in wrong if path != "$")
        return not any(path.startswith(place) or place.startswith(path) for path in around)

    # of too many problems not all shapes were looked at
    whole = isinstance(document, Mapping) and len(wrong) < MOST_PROBLEMS
    for key, read in readers.items() if whole else ():
        given = document.get(key)
        if isinstance(given, list):
            given = {i: item for i, item in enumerate(given) if sound(f"$.{key}[{i}]")} or None
        elif not sound(f"$.{key}"):
            given = None
        if given is None:
            continue
        with problems, silent(), inside("$"), inside(key):
            read(given)
    return problems.found


def _read_pump(folder: CurveFolder, given: Mapping[str, Any]) -> Pump | CurveFiles:
    """Build a pump or a bank of its points, or read those of files."""
    curves = given.get("curves")
    return pump_from_dict(given) if curves is None else folder.read(curves)


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
