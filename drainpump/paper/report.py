"""The report of a job: what was typed and assumed, what came out, and what is still open."""

from __future__ import annotations

import copy
import hashlib
import inspect
import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drainpump import units as u
from drainpump.choose.selection import Selection
from drainpump.data_files import every_table
from drainpump.doubt.doubt import Doubt
from drainpump.errors import InputError, wrong
from drainpump.paper.as_built_record import library_version
from drainpump.paper.assumptions import assumptions
from drainpump.paper.blocks import Block, NewPage, figures, to_html, to_markdown, to_text
from drainpump.paper.cautions import cautions_of
from drainpump.paper.document.asked import SCHEMA_VERSION, Asked
from drainpump.paper.job import Job
from drainpump.paper.outcome import Outcome
from drainpump.paper.pages.appendix import appendix as the_appendix
from drainpump.paper.pages.front import front
from drainpump.paper.pages.second import second
from drainpump.paper.words import TEXTS
from drainpump.parts.pit import Pit
from drainpump.results import check_units, plain

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False, repr=False)
class Report:
    """A report, the same content as plain text, Markdown, HTML and plain values.

    Attributes
    ----------
    title : str
    input_hash : str
        SHA-256 of the job as canonical JSON, pumps by their points; 150 and 150.0 are one.
    data_version : str
        The shipped tables, by the first sixteen digits of their SHA-256.
    """

    _outcome: Outcome

    @property
    def title(self) -> str:
        """The job's name, or a plain one."""
        return self._outcome.job.name or "Choice of a drainage pump and its line"

    @cached_property
    def input_hash(self) -> str:
        """SHA-256 of the inputs."""
        return input_hash(_document(self._outcome.job))

    @property
    def data_version(self) -> str:
        """SHA-256 of the shipped tables, shortened."""
        return data_version()

    @cached_property
    def _content(self) -> dict[str, Any]:
        # every candidate's change is sought for it; the two pages do without
        return _content(self)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, ready for JSON; what is not known or without end is None."""
        return copy.deepcopy(dict(self._content))

    @property
    def take_off(self) -> pd.DataFrame:
        """What has to be bought and dug, one row per item."""
        return self._outcome.take_off.to_frame()

    def to_markdown(self, units: u.System = "us", *, appendix: bool = False) -> str:
        """Return the report in Markdown, the user's text escaped.

        Parameters
        ----------
        units : {"us", "metric"}
            Which system is said first; the other stands in brackets.
        appendix : bool, default False
            With every candidate, assumption and input behind the two pages.
        """
        return to_markdown(self._blocks(units, appendix))

    def to_text(self, units: u.System = "us", *, appendix: bool = False) -> str:
        """Return the report as plain text for a terminal; parameters as of `to_markdown`."""
        return to_text(self._blocks(units, appendix))

    def to_html(self, units: u.System = "us", *, appendix: bool = False) -> str:
        """Return the report as one HTML page that needs nothing else; as of `to_markdown`.

        It prints on two pages, letter or A4; all text is escaped, the pictures are within.
        """
        return to_html(self._blocks(units, appendix), title=self.title)

    def pictures(self, units: u.System = "us") -> dict[str, bytes]:
        """Return the pictures that the Markdown links to: name to PNG."""
        return {one.name: one.png() for one in figures(self._blocks(units, False))}

    def save(
        self, path: str | os.PathLike[str], units: u.System = "us", *, appendix: bool = False
    ) -> None:
        """Write the report to a file: ``.html``, ``.md`` with its pictures beside it, ``.txt``.

        Parameters
        ----------
        path : str or path-like
        units, appendix
            As of `to_markdown`.

        Raises
        ------
        InputError
            Another ending.
        OSError
            A file that cannot be written.
        """
        file = Path(path)
        writers = {".html": self.to_html, ".md": self.to_markdown, ".txt": self.to_text}
        if file.suffix.lower() not in writers:
            raise wrong("path", str(path), f"must end in {', '.join(writers)}", "name the form")
        text = writers[file.suffix.lower()](units, appendix=appendix)
        file.write_text(text, encoding="utf-8")
        if file.suffix.lower() == ".md":
            for name, png in self.pictures(units).items():
                (file.parent / name).write_bytes(png)

    def _blocks(self, units: u.System, appendix: bool) -> list[Block]:
        check_units(units)
        blocks = [*front(self._outcome, self.title, units), *second(self._outcome, units)]
        return [*blocks, NewPage(), *the_appendix(self._content, units)] if appendix else blocks

    def __str__(self) -> str:
        return self.to_text()

    def _repr_html_(self) -> str:
        return to_html(self._blocks("us", False), whole=False)

    def __repr__(self) -> str:
        best = self._outcome.selection.best
        said = "nothing serves" if best is None else f"{best.pump.name} on {best.line.name}"
        return f"Report({self.title!r}: {said}; inputs {self.input_hash[:12]})"


def report(
    subject: Job | Outcome | Selection,
    *,
    pit: Pit | None = None,
    inflow_gpm: float | None = None,
    inflow_lps: float | None = None,
    name: str = "",
    story: str = "",
) -> Report:
    """Report a job: it is run, unless its outcome is given.

    Parameters
    ----------
    subject : Job, Outcome or Selection
        A selection does not hold all of its job: inflow, name and story are given beside
        it, and it is run again.
    pit : Pit, optional
        Of a selection; by default what it was made with.
    inflow_gpm, inflow_lps : float, optional
        Steady inflow for the cycle, >= 0; needs a pit.
    name, story : str, optional

    Returns
    -------
    Report

    Raises
    ------
    UnitError, InputError
        What cannot be reported, or keywords beside a job that has its own.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6, name="yard")
    >>> found = dp.report(dp.Job(pumps=[pump], lines=[line], need_gpm=30, name="garden"))
    >>> found.to_markdown().splitlines()[0], found.to_dict()["results"]["chosen"]["line"]
    ('# garden', 'yard')
    """
    beside: dict[str, Any] = {"pit": pit, "inflow_gpm": inflow_gpm, "inflow_lps": inflow_lps}
    beside = {key: value for key, value in beside.items() if value is not None}
    beside |= {key: text for key, text in (("name", name), ("story", story)) if text != ""}
    if isinstance(subject, Selection):
        subject = _job_of(subject, beside)
    elif beside:
        key, value = next(iter(beside.items()))
        raise wrong(key, value, "goes only beside a selection", "write it into the job")
    if isinstance(subject, Job):
        subject = subject.run()
    if not isinstance(subject, Outcome):
        raise wrong("subject", subject, "must be a Job, its Outcome or a Selection", "make a Job")
    return Report(subject)


def _job_of(chosen: Selection, beside: Mapping[str, Any]) -> Job:
    if chosen._need is None:
        raise InputError("report: the selection has no need; select with need_gpm or need_lps.")
    grid, spread = chosen.operating.si.grid, chosen.band
    given: dict[str, Any] = {"pit": chosen.pit, "floats": chosen.floats} | dict(beside)
    if spread is None:
        given["doubt"] = Doubt()
    else:
        given |= {
            "doubt": spread.doubt,
            "samples": spread.samples,
            "seed": spread.seed,
            "certainty": chosen.certainty,
        }
    # a selection does not tell what was left to its default: there the value does
    usual = inspect.signature(Job).parameters
    given = {key: value for key, value in given.items() if value != usual[key].default}
    return Job(
        pumps=grid.pumps,
        lines=grid.lines,
        **chosen._need.spelled("need"),
        limits=chosen.limits,
        costs=chosen.costs,
        objective=chosen.objective,
        **given,
    )


def _document(job: Asked) -> dict[str, Any]:
    # the points of every pump in place of files
    return job.to_dict() | {"pumps": [pump.to_dict() for pump in job.pumps]}


def _content(report: Report) -> dict[str, Any]:
    outcome = report._outcome
    job = outcome.job
    results = outcome.to_dict()
    rejections = results.pop("rejections")
    content = {
        "title": report.title,
        "story": job.story,
        "library_version": library_version(),
        "schema_version": SCHEMA_VERSION,
        "data_version": report.data_version,
        "input_hash": report.input_hash,
        "inputs": _document(job),
        "assumptions": [asdict(one) for one in assumptions(job)],
        "results": results,
        "rejections": rejections,
        "cautions": cautions_of(outcome),
        "warnings": results.pop("warnings"),
        "open_items": list(TEXTS["open_items"]),
    }
    return dict(plain(content))


def _floats(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _floats(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_floats(item) for item in value]
    number = isinstance(value, int) and not isinstance(value, bool)
    return float(value) if number else value


def input_hash(document: Mapping[str, Any]) -> str:
    """Return the SHA-256 of a job document as canonical JSON.

    Keys are sorted, there is no white space, and every number is a float: the order of
    keys and the spelling of 150 or 150.0 do not count, all else does.
    """
    canonical = json.dumps(
        _floats(dict(document)), sort_keys=True, separators=(",", ":"), ensure_ascii=False
    )
    return hashlib.sha256(canonical.encode()).hexdigest()


@cache
def data_version() -> str:
    """Return the first sixteen digits of the SHA-256 of the shipped tables, by name."""
    found = hashlib.sha256()
    for table in every_table():
        # the same on a checkout that changed the ends of lines
        body = table.read_bytes().replace(b"\r\n", b"\n")
        found.update(f"{table.name} {len(body)}\n".encode() + body)
    return found.hexdigest()[:16]
