"""The as-built record: site, prediction and tests in one JSON, to be read years later."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.cycling.switching import cycles_of
from drainpump.doubt.band import Band, band
from drainpump.doubt.doubt import Doubt
from drainpump.errors import InputError, Problems, inside, wrong
from drainpump.field.against_prediction import verdict
from drainpump.field.reading import FieldTest, check_tests
from drainpump.paper.acceptance import acceptance
from drainpump.paper.blocks import Block, fragment, to_markdown
from drainpump.paper.commissioning import Entry, sheet, years_ahead
from drainpump.paper.document import record_shape as shape
from drainpump.paper.document.json_text import load
from drainpump.paper.document.on_site import FloatCheck, Plate, day
from drainpump.paper.words import TEXTS
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.part import Part, each
from drainpump.parts.pit import Pit
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import fact
from drainpump.results import check_units
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import operating_point
from drainpump.units import View

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd


#: what is still to be confirmed, as long as nobody says
OPEN_ITEMS: tuple[str, ...] = tuple(TEXTS["open_items"])

_PARTS: dict[str, type[Part]] = {
    "pump": PumpCurve, "line": DischargeLine, "doubt": Doubt, "pit": Pit, "plate": Plate,
}  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class Record:
    """What was built, what it was predicted to give, and what tests found since.

    Attributes
    ----------
    name, built_on : str
        Of the site; the day, as ``YYYY-MM-DD``.
    pump, line : PumpCurve and DischargeLine
    doubt : Doubt
        Under which the prediction was made.
    predicted_gpm, predicted_lps : dict of str to float
        Flow at the pump-off level, "p10", "p50", "p90", as predicted at the time.
    need_gpm, need_lps : float or None
    tests : tuple of Entry
    open_items : tuple of str
    made_by : str
        Version of this library that made the prediction.
    job : dict or None
        The job this was built from, kept as it was given.
    pit : Pit or None
    plate : Plate or None
        What stands on the pump's plate.
    cover_in, cover_mm : float or None
        Earth above the pipe, where it is least.
    float_checks : tuple of FloatCheck
        At which levels floats and alarm acted.
    """

    name: str
    built_on: str
    pump: PumpCurve
    line: DischargeLine
    doubt: Doubt
    samples: int
    seed: int
    _predicted: dict[str, float]
    _need: float | None
    tests: tuple[Entry, ...]
    open_items: tuple[str, ...]
    made_by: str
    job: dict[str, Any] | None
    pit: Pit | None = None
    plate: Plate | None = None
    _cover: u.Measure | None = None
    float_checks: tuple[FloatCheck, ...] = ()

    need_gpm, need_lps = View("_need", maybe=True), View("_need", maybe=True)
    cover_in, cover_mm = View("_cover", maybe=True), View("_cover", maybe=True)

    @property
    def predicted_gpm(self) -> dict[str, float]:
        """Predicted flow in gpm."""
        return {p: float(u.from_si(q, "gpm")) for p, q in self._predicted.items()}

    @property
    def predicted_lps(self) -> dict[str, float]:
        """Predicted flow in L/s."""
        return {p: float(u.from_si(q, "lps")) for p, q in self._predicted.items()}

    def with_test(self, test: FieldTest, *, on: str, note: str = "") -> Record:
        """Return the record with one more test.

        Parameters
        ----------
        test : FieldTest
            One reading.
        on : str
            The day, as ``YYYY-MM-DD``.
        note : str, optional
        """
        (one,) = check_tests([test])
        return replace(self, tests=(*self.tests, Entry(day("on", on), one, str(note))))

    def with_float_check(self, check: FloatCheck) -> Record:
        """Return the record with one more test of floats and alarm."""
        if not isinstance(check, FloatCheck):
            raise wrong("check", check, "must be a FloatCheck", "make one with FloatCheck(...)")
        return replace(self, float_checks=(*self.float_checks, check))

    def recompute(self) -> Band:
        """Return the prediction as this version of the library makes it now."""
        return band(self.pump, self.line, self.doubt, self.samples, self.seed)

    def compare(self, units: u.System = "us") -> pd.DataFrame:
        """Return the prediction then and now: point, then, now, change in percent."""
        import pandas as pd

        unit = "gpm" if check_units(units) == "us" else "lps"
        then = getattr(self, f"predicted_{unit}")
        now = getattr(self.recompute(), f"flow_{unit}")
        rows = [(p, then[p], now[p], _change(then[p], now[p])) for p in shape.POINTS]
        columns = ["point", f"then_{unit}", f"now_{unit}", "change_pct"]
        return pd.DataFrame(rows, columns=columns)

    def verdicts(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per test: date, kind, flow, error, band, and the probabilities.

        A gauge has a head and no verdict: its probabilities are NaN.
        """
        import pandas as pd

        unit = "gpm" if check_units(units) == "us" else "lps"
        names = [f"{n}_{unit}" for n in ("flow", "sigma", "low", "high")]
        names += ["below", "inside", "above"]
        rows = []
        for entry in self.tests:
            if entry.test.si.head is not None:
                cells = [np.nan] * len(names)
            else:
                found = verdict(
                    self.pump, self.line, entry.test, self.doubt, self.samples, self.seed
                )
                cells = [getattr(found, n) for n in names]
            rows.append([entry.on, entry.test.kind, *cells, entry.note])
        return pd.DataFrame(rows, columns=["on", "kind", *names, "note"])

    def to_json(self) -> str:
        """Return the record as JSON; `from_json` gives the same numbers."""
        plain: dict[str, Any] = {
            "record_version": shape.VERSION,
            "drainpump_version": self.made_by,
            "name": self.name,
            "built_on": self.built_on,
            "pump": self.pump.to_dict(),
            "line": self.line.to_dict(),
            "doubt": self.doubt.to_dict(),
            "prediction": {f"{p}_lps": q for p, q in self.predicted_lps.items()}
            | {"samples": self.samples, "seed": self.seed},
            "need_lps": self.need_lps,
            "tests": [
                {"on": e.on, "note": e.note, "test": shape.field_test_of(e.test)}
                for e in self.tests
            ],
            "open_items": list(self.open_items),
            "job": self.job,
        }
        for key, part in (("pit", self.pit), ("plate", self.plate)):
            plain |= {} if part is None else {key: part.to_dict()}
        plain |= {} if self._cover is None else self._cover.spelled("cover")
        if self.float_checks:
            plain["float_checks"] = [check.to_dict() for check in self.float_checks]
        # what is written can be read
        shape.RECORD.check(plain, "record")
        return json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False)

    @classmethod
    def from_json(cls, text: str) -> Record:
        """Read a record back.

        Raises
        ------
        InputError
            No JSON, another version, an unknown or missing key, a value that cannot be:
            with its path in the document.
        """
        try:
            plain = load(text, "record", "a record needs fewer than ten")
        except json.JSONDecodeError as error:
            raise InputError(f"record: is no JSON ({error}); give the text of to_json().") from None
        given = shape.checked(plain)
        parts: dict[str, Any] = {}
        entries, problems = [], Problems()
        for key, cls_ in _PARTS.items():
            with problems, inside(f"record.{key}"):
                parts[key] = cls_.from_dict(given[key]) if key in given else None
        with problems, inside("record.float_checks"):
            floats = each(FloatCheck.from_dict)(given.get("float_checks", []))
        with problems, inside("record"):
            thick = u.inches(given.get("cover_in"), given.get("cover_mm"))
            cover = fact("cover", "level", **thick)
        for i, entry in enumerate(given["tests"]):
            with problems:
                on = day(f"record.tests[{i}].on", entry["on"])
                test = shape.field_test_from(entry["test"], f"record.tests[{i}].test")
                entries.append(Entry(on, test, entry["note"]))
        with problems:
            built_on = day("record.built_on", given["built_on"])
        problems.end()
        made = given["prediction"]
        need = given["need_lps"]
        return cls(
            given["name"], built_on,
            parts["pump"], parts["line"], parts["doubt"], made["samples"], made["seed"],
            _foreseen(made),
            None if need is None else float(u.measure("record.need_lps", need, "lps", "flow").si),
            tuple(entries), tuple(given["open_items"]), given["drainpump_version"], given["job"],
            parts["pit"], parts["plate"], cover, tuple(floats),
        )  # fmt: skip

    def to_markdown(self, units: u.System = "us") -> str:
        """Return the commissioning sheet in Markdown."""
        return to_markdown(self._sheet(check_units(units)))

    def to_html(self, units: u.System = "us") -> str:
        """Return the commissioning sheet as an HTML fragment; all text is escaped."""
        return fragment(self._sheet(check_units(units)))

    def _sheet(self, units: u.System) -> list[Block]:
        built = [
            f"built on {self.built_on}; prediction by drainpump {self.made_by}",
            str(self.pump),
            *(text.strip() for text in str(self.line).splitlines()),
            *map(str, filter(None, (self.pit, self.plate))),
            *([] if self._cover is None else [f"cover over the pipe {self._cover}, at least"]),
            f"doubt of the prediction: {self.doubt}",
        ]
        need = "no need stated"
        if self._need is not None:
            chance = self.recompute().probability(need_lps=self.need_lps)
            said = u.both(self._need, "gpm" if units == "us" else "lps")
            need = f"need {said}: carried in {chance:.0%} of the samples"
        return sheet(
            self.name, built, need, compared=self.compare(units), tests=self.tests,
            verdicts=self.verdicts(units), open_items=self.open_items, units=units,
            floats=self.float_checks, ahead=self._ahead(units),
        )  # fmt: skip

    def _ahead(self, units: u.System) -> list[str]:
        """What a watch shows as new, when to worry, and what then."""
        flow = float(operating_point(self.pump, self.line).si.counted)
        run = None
        if self.pit is not None:
            pit = self.pit.floats_of(self.pump) if self.pit.open else self.pit
            run = float(cycles_of(self.pump, self.line, pit, np.zeros(())).si.run)
        new = acceptance(flow, run, self.pit, (self._predicted["p10"], self._predicted["p90"]))
        return years_ahead(new, flow, self._need, units)

    def _repr_html_(self) -> str:
        return self.to_html()

    def __repr__(self) -> str:
        said = " / ".join(u.number(q) for q in self.predicted_gpm.values())
        return (
            f"Record({self.name!r}, built {self.built_on}: predicted {said} gpm (P10 / P50 / P90), "
            f"{len(self.tests)} tests)"
        )


def as_built_record(
    pump: PumpCurve,
    line: DischargeLine,
    *,
    name: str,
    built_on: str,
    doubt: Doubt | None = None,
    need_gpm: float | None = None,
    need_lps: float | None = None,
    open_items: Sequence[str] = OPEN_ITEMS,
    samples: int = 1024,
    seed: int = 0,
    job: dict[str, Any] | None = None,
    pit: Pit | None = None,
    plate: Plate | None = None,
    cover_in: float | None = None,
    cover_mm: float | None = None,
) -> Record:
    """Start the record of a site as it was built, with its prediction.

    Parameters
    ----------
    pump, line : PumpCurve and DischargeLine
        As built, scalars only.
    name : str
        Of the site.
    built_on : str
        The day, as ``YYYY-MM-DD``.
    doubt : Doubt, default ``Doubt.usual()``
    need_gpm, need_lps : float, optional
        Flow needed at the pump-off level.
    open_items : sequence of str
        What is still to be confirmed; by default the usual list.
    samples, seed : int
        Of the prediction, as in `band`.
    job : dict, optional
        The job it was built from, kept word for word.
    pit : Pit, optional
        As built, with its floats.
    plate : Plate, optional
        What stands on the pump's plate.
    cover_in, cover_mm : float, optional
        Earth above the pipe, where it is least, >= 0.

    Returns
    -------
    Record

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> record = dp.field.as_built_record(pump, line, name="market garden", built_on="2026-04-30")
    >>> record = record.with_test(dp.field.bucket_test(volume_gal=5, fill_s=12), on="2026-05-02")
    >>> again = dp.field.Record.from_json(record.to_json())
    >>> change = again.compare()["change_pct"].abs().max()
    >>> again.name, len(again.verdicts()), bool(change < 1e-9)
    ('market garden', 1, True)
    """
    one_case("as_built_record", pump, line, banks=False)
    doubt = Doubt.usual() if doubt is None else doubt
    if isinstance(open_items, str) or not isinstance(open_items, list | tuple):
        raise wrong("open_items", open_items, "must be a list of texts", "put it in a list")
    need = fact("need", "flow", gpm=need_gpm, lps=need_lps)
    found = band(pump, line, doubt, samples, seed)
    return Record(
        str(name), day("built_on", built_on), pump, line, doubt, samples, seed,
        {p: float(u.to_si(q, "lps")) for p, q in found.flow_lps.items()},
        None if need is None else float(need.si), (), tuple(map(str, open_items)),
        library_version(), job, pit, plate, fact("cover", "level", **u.inches(cover_in, cover_mm)),
    )  # fmt: skip


def _foreseen(made: dict[str, Any]) -> dict[str, float]:
    """Predicted flows (m³/s) of a record that is read, in order."""
    keys = [f"{p}_lps" for p in shape.POINTS]
    with u.speaking_of(()):  # numbers that the library wrote
        flows = [u.measure(f"record.prediction.{k}", made[k], "lps", "flow") for k in keys]
    for key, low, high in zip(keys, flows, flows[1:], strict=False):
        if low.si > high.si:
            raise wrong(
                f"record.prediction.{key}", low.typed, f"must not be above {high}",
                "a lower percentile is a lower flow",
            )  # fmt: skip
    return {p: float(flow.si) for p, flow in zip(shape.POINTS, flows, strict=True)}


def _change(then: float, now: float) -> float:
    return 100 * (now - then) / then if then else np.nan


def library_version() -> str:
    """Return the version of this library that is installed."""
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("drainpump")
    except PackageNotFoundError:
        return "not installed"
