"""The commissioning sheet of an as-built record, as blocks of a page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from drainpump import units as u
from drainpump.field.reading import FieldTest
from drainpump.paper.blocks import Block, Bullets, Checklist, Heading, Table
from drainpump.paper.words import TEXTS, clock, clock_span, span, two

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.paper.acceptance import Acceptance
    from drainpump.paper.document.on_site import FloatCheck


@dataclass(frozen=True, eq=False)
class Entry:
    """One field test with the day it was made and a note."""

    on: str
    test: FieldTest
    note: str = ""


def sheet(
    name: str,
    built: Sequence[str],
    need: str,
    *,
    compared: pd.DataFrame,
    tests: Sequence[Entry],
    verdicts: pd.DataFrame,
    open_items: Sequence[str],
    units: u.System,
    floats: Sequence[FloatCheck] = (),
    ahead: Sequence[str] = (),
) -> list[Block]:
    """Lay out what was built, what was expected and measured, and what is open.

    Parameters
    ----------
    name, built, need : str
        Of the site; what was built, line by line; what is needed and how often it is carried.
    compared, verdicts : pandas.DataFrame
        Of `Record.compare` and `Record.verdicts`, in ``units``.
    tests : sequence of Entry
        One for each row of ``verdicts``.
    open_items : sequence of str
    units : {"us", "metric"}
    floats : sequence of FloatCheck
    ahead : sequence of str
        What to expect in year five.
    """
    unit = "gpm" if units == "us" else "lps"
    label = u.UNITS[unit].label
    expected = [
        [point.upper(), u.number(then), u.number(now), f"{change:+.1f}"]
        for point, then, now, change in compared.itertuples(index=False)
    ]
    return [
        Heading(f"Commissioning sheet: {name}", 1),
        Heading("As built"),
        Bullets(built),
        Heading("Expected"),
        Table(["expected flow", f"then, {label}", f"now, {label}", "change, %"], expected),
        Bullets([need]),
        Heading("Measured"),
        *_tests(tests, verdicts, units, unit, label),
        Heading("Floats and alarm"),
        Bullets(
            [": ".join(filter(None, (one.on, str(one), one.note))) for one in floats]
            or ["not tested yet"]
        ),
        Heading("In year five"),
        Bullets(ahead),
        Heading("Open items"),
        Checklist(open_items) if open_items else Bullets(["none"]),
        Heading("Cautions"),
        Bullets(TEXTS["cautions"]),
    ]


#: how much slower than the slowest expected is a matter for worry: our judgement, no source
_WORRY = 1.15


def years_ahead(
    new: Acceptance | None, flow: float, need: float | None, units: u.System
) -> list[str]:
    """Say what a watch shows as new, when to worry, and what then.

    Parameters
    ----------
    new : Acceptance or None
        Its times as reckoned, with their range.
    flow, need : float
        As reckoned and as needed, m³/s.
    units : {"us", "metric"}
    """
    if new is None:
        return ["It moves no water as it was reckoned: there is nothing to hold a watch against."]
    si = new.si
    what = f"a bucket of {two(si.volume, 'gal', units)} at the outlet fills in"
    if si.start is not None:
        what = f"inflow stopped, {span(si.start, si.end, 'in', units)}:"
    said = [f"As new, {what} {clock(si.time)}, {clock_span(si.fast, si.slow)} eight times "
            "in ten. Time it twice a year, in the wet season."]  # fmt: skip
    worry, why = si.slow * _WORRY, "much slower than as new"
    if need is not None and 0 < need < flow:
        lost = si.time * flow / need
        if lost < worry:
            worry, why = lost, "it no longer carries the need"
    if np.isfinite(worry):
        said.append(f"Worry from {clock(worry)} on: {why}.")
    return [*said, TEXTS["look_in_order"], TEXTS["wear"]]


def _tests(
    tests: Sequence[Entry], verdicts: pd.DataFrame, units: u.System, unit: str, label: str
) -> list[Block]:
    if not tests:
        return [Bullets(["no test yet"])]
    heads = ["on", "test", f"measured, {label}", f"expected P10 to P90, {label}", "below",
             "inside", "above", "note"]  # fmt: skip
    rows = []
    for entry, row in zip(tests, verdicts.to_dict("records"), strict=True):
        test = entry.test
        if test.si.head is not None:
            head = "ft" if units == "us" else "m"
            values = (getattr(test, f"{name}_{head}") for name in ("head", "head_sigma"))
            said = "head {} ± {}".format(*(f"{u.number(x)} {head}" for x in values))
            rows.append([entry.on, test.kind, said, "", "", "", "", entry.note])
            continue
        measured = f"{u.number(row[f'flow_{unit}'])} ± {row[f'sigma_{unit}']:.2g}"
        if np.isnan(row["inside"]):
            expected, chances = "not known", ["", "", ""]
        else:
            expected = f"{u.number(row[f'low_{unit}'])} to {u.number(row[f'high_{unit}'])}"
            chances = [f"{row[side]:.0%}" for side in ("below", "inside", "above")]
        rows.append([entry.on, test.kind, measured, expected, *chances, entry.note])
    return [Table(heads, rows), Bullets([TEXTS["shares"]])]
