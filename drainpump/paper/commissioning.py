"""The commissioning sheet of an as-built record, as blocks of a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drainpump import units as u
from drainpump.paper.blocks import Block, Bullets, Checklist, Heading, Table
from drainpump.paper.cautions import CAUTIONS

if TYPE_CHECKING:
    from drainpump.paper.as_built_record import Record

__all__ = ["sheet"]


def sheet(record: Record, units: str) -> list[Block]:
    """Lay out what was built, what was expected and measured, and what is open."""
    unit = "gpm" if units == "us" else "lps"
    label = u.UNITS[unit].label
    built = [
        f"built on {record.built_on}; prediction by drainpump {record.made_by}",
        repr(record.pump),
        *(text.strip() for text in repr(record.line).splitlines()),
        f"doubt of the prediction: {record.doubt!r}",
    ]
    expected = [
        [point.upper(), u.number(then), u.number(now), f"{change:+.1f}"]
        for point, then, now, change in record.compare(units).itertuples(index=False)
    ]
    return [
        Heading(f"Commissioning sheet: {record.name}", 1),
        Heading("As built"),
        Bullets(built),
        Heading("Expected"),
        Table(["expected flow", f"then, {label}", f"now, {label}", "change, %"], expected),
        Bullets(_need(record, unit)),
        Heading("Measured"),
        *_tests(record, units, unit, label),
        Heading("Open items"),
        Checklist(record.open_items) if record.open_items else Bullets(["none"]),
        Heading("Cautions"),
        Bullets(CAUTIONS),
    ]


def _need(record: Record, unit: str) -> list[str]:
    if record._need is None:
        return ["no need stated"]
    chance = record.recompute().probability(need_lps=record.need_lps)
    return [f"need {u.both(record._need, unit)}: carried in {chance:.0%} of the draws"]


def _tests(record: Record, units: str, unit: str, label: str) -> list[Block]:
    if not record.tests:
        return [Bullets(["no test yet"])]
    heads = ["on", "test", f"measured, {label}", f"expected P10 to P90, {label}", "below",
             "inside", "above", "note"]  # fmt: skip
    rows = []
    found = record.verdicts(units)
    for entry, row in zip(record.tests, found.to_dict("records"), strict=True):
        test = entry.test
        if test._head is not None:
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
    said = "below, inside, above: probability that the true flow lies there against the band"
    return [Table(heads, rows), Bullets([said])]
