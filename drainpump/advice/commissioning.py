"""The commissioning sheet: one content, laid out in Markdown or in HTML, all text escaped."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.advice.cautions import CAUTIONS

if TYPE_CHECKING:
    from drainpump.advice.record import Record

__all__ = ["html", "markdown"]


class _Block(NamedTuple):
    """A heading with a table (first row its head) or a list under it."""

    title: str
    rows: list[list[str]]
    items: list[str]


def markdown(record: Record, units: str) -> str:
    """Lay the sheet out in Markdown."""
    lines = [f"# Commissioning sheet: {_plain(record.name)}"]
    for block in _blocks(record, units):
        lines += ["", f"## {block.title}", ""]
        for i, row in enumerate(block.rows):
            lines.append("| " + " | ".join(map(_plain, row)) + " |")
            if i == 0:
                lines.append("|" + " --- |" * len(row))
        if block.rows and block.items:
            lines.append("")
        lines += [f"- {_plain(item)}" for item in block.items]
    return "\n".join(lines) + "\n"


def html(record: Record, units: str) -> str:
    """Lay the sheet out as an HTML fragment."""
    parts = [f"<h1>Commissioning sheet: {escape(record.name)}</h1>"]
    for block in _blocks(record, units):
        parts.append(f"<h2>{escape(block.title)}</h2>")
        if block.rows:
            head, *rest = block.rows
            body = "".join(f"<tr>{_cells('td', row)}</tr>" for row in rest)
            parts.append(f"<table><tr>{_cells('th', head)}</tr>{body}</table>")
        if block.items:
            items = "".join(f"<li>{escape(item)}</li>" for item in block.items)
            parts.append(f"<ul>{items}</ul>")
    return "\n".join(parts)


def _blocks(record: Record, units: str) -> list[_Block]:
    unit = "gpm" if units == "us" else "lps"
    label = u.UNITS[unit].label
    built = [
        f"built on {record.built_on}; prediction by drainpump {record.made_by}",
        repr(record.pump),
        *(text.strip() for text in repr(record.line).splitlines()),
        f"doubt of the prediction: {record.doubt!r}",
    ]
    frame = record.compare(units)
    band = [["expected flow", f"then, {label}", f"now, {label}", "change, %"]]
    for point, then, now, change in frame.itertuples(index=False):
        band.append([point.upper(), u.number(then), u.number(now), f"{change:+.1f}"])
    blocks = [_Block("As built", [], built), _Block("Expected", band, _need(record, unit))]
    blocks.append(_tests(record, units, unit, label))
    items = [f"[ ] {item}" for item in record.open_items]
    blocks.append(_Block("Open items", [], items or ["none"]))
    blocks.append(_Block("Cautions", [], list(CAUTIONS)))
    return blocks


def _need(record: Record, unit: str) -> list[str]:
    if record._need is None:
        return ["no need stated"]
    chance = record.recompute().probability(need_lps=record.need_lps)
    return [f"need {u.both(record._need, unit)}: carried in {chance:.0%} of the draws"]


def _tests(record: Record, units: str, unit: str, label: str) -> _Block:
    if not record.tests:
        return _Block("Measured", [], ["no test yet"])
    rows = [["on", "test", f"measured, {label}", f"expected P10 to P90, {label}", "below",
             "inside", "above", "note"]]  # fmt: skip
    found = record.verdicts(units)
    for entry, row in zip(record.tests, found.to_dict("records"), strict=True):
        if np.isnan(row["inside"]):
            head = "ft" if units == "us" else "m"
            test = entry.test
            values = (getattr(test, f"{name}_{head}") for name in ("head", "head_sigma"))
            said = "head {} ± {}".format(*(f"{u.number(x)} {head}" for x in values))
            rows.append([entry.on, entry.test.kind, said, "", "", "", "", entry.note])
            continue
        measured = f"{u.number(row[f'flow_{unit}'])} ± {row[f'sigma_{unit}']:.2g}"
        expected = f"{u.number(row[f'low_{unit}'])} to {u.number(row[f'high_{unit}'])}"
        chances = [f"{row[side]:.0%}" for side in ("below", "inside", "above")]
        rows.append([entry.on, entry.test.kind, measured, expected, *chances, entry.note])
    return _Block(
        "Measured", rows,
        ["below, inside, above: probability that the true flow lies there against the band"],
    )  # fmt: skip


def _plain(text: str) -> str:
    """Escape text for a Markdown cell: no tags, no cell breaks, no line breaks."""
    safe = escape(text, quote=False).replace("\\", "\\\\").replace("|", "\\|").replace("`", "\\`")
    return " ".join(safe.split())


def _cells(tag: str, row: list[str]) -> str:
    return "".join(f"<{tag}>{escape(cell)}</{tag}>" for cell in row)
