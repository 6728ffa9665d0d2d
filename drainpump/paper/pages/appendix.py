"""The appendix of a report: every candidate, assumption and input behind the two pages."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from drainpump import units as u
from drainpump.cycling.switching import ENDLESS, PATTERNS
from drainpump.paper.blocks import Block, Bullets, Heading, Paragraph, Table
from drainpump.paper.words import span, turned, two

#: candidates that are told one by one, of the accepted and of the rejected
_MOST = 10
#: rows of the tables of spread and cycle: label, name, unit
_SPREAD = (
    ("flow", "flow", "gpm"),
    ("head", "head", "ft"),
    ("velocity in the last run", "velocity", "fps"),
    ("starts in the worst case", "worst_starts", "per_h"),
    ("starts at the inflow", "starts", "per_h"),
)
_CYCLE = (
    ("inflow", "inflow", "gpm"),
    ("run", "run", "s"),
    ("rest", "rest", "s"),
    ("starts", "starts", "per_h"),
    ("most starts over all inflows", "worst_starts", "per_h"),
    ("at an inflow of", "worst_inflow", "gpm"),
    ("working volume", "working_volume", "gal"),
)
_ASSUMED = ("assumption", "value", "default", "source", "lines")
_VERSIONS = ("library_version", "schema_version", "data_version", "input_hash")


def appendix(content: Mapping[str, Any], units: u.System) -> list[Block]:
    """Lay a report's content out, nearest misses first, the rest in counts."""
    results, warned = content["results"], content["warnings"]
    named = f"{results['reported']['pump']} on {results['reported']['line']}"
    at = " at the pump-off level" if {"need_gpm", "need_lps"} & set(content["inputs"]) else ""
    needed = f"Needed: {results['needed']}{at}; ranked by {results['ranked_by']}."
    parts: list[tuple[str, list[Block]]] = [
        ("The whole story", [Paragraph(content["story"])] if content["story"] else []),
        ("Result", [Paragraph(needed), *_candidates(results, units)]),
        ("Rejected, and why", list(_rejections(content["rejections"], units))),
        (f"How sure: {named}", _band(results["band"], units)),
        (f"Cycle: {named}", _cycle(results["cycle"], units)),
        ("Values to look at again", [Bullets([
            f"{w['path']}: {w['text']}" if w["path"] else w["text"] for w in warned
        ])] if warned else []),
        ("Assumptions", [Table(_ASSUMED, [
            (a["name"], turned(a["value"], units), "default" if a["defaulted"] else "",
             a["source"], ", ".join(a["where"]))
            for a in content["assumptions"]
        ])]),
        ("Inputs as typed", [Table(("place", "value"), list(_inputs(content["inputs"])))]),
        ("Versions", [Table(("what", "version"), [
            (name.replace("_", " "), str(content[name])) for name in _VERSIONS
        ])]),
    ]  # fmt: skip
    found: list[Block] = [Heading("Appendix", 1)]
    for title, blocks in parts:
        found += [Heading(title), *blocks] if blocks else []
    return found


def _said(value: Any, unit: str, units: u.System) -> str:
    return "-" if value is None else two(u.to_si(value, unit), unit, units)


def _candidates(results: Mapping[str, Any], units: u.System) -> Iterator[Block]:
    """The accepted; a column that is empty throughout is left out."""
    rows = [r for r in results["candidates"] if r["accepted"]][:_MOST]
    pits = len({r["pit"] for r in results["candidates"]}) > 1
    cost = f"cost ({results['currency']})" if results["currency"] else "cost"
    columns = {
        "rank": [str(r["rank"]) for r in rows],
        "pump": [r["pump"] for r in rows],
        "line": [r["line"] for r in rows],
        "pit": [str(r["pit"]) if pits else "-" for r in rows],
        "flow": [_said(r["flow_gpm"], "gpm", units) for r in rows],
        "P10 to P90": [_span(r, units) for r in rows],
        "head": [_said(r["head_ft"], "ft", units) for r in rows],
        "fastest": [_said(r["velocity_fastest_fps"], "fps", units) for r in rows],
        "probability": ["-" if (x := r["probability"]) is None else u.number(x) for r in rows],
        cost: ["-" if r["cost"] is None else u.carried(r["cost"]) for r in rows],
        "notes": [turned("; ".join((*r["warnings"], *r["notes"])), units) or "-" for r in rows],
    }
    kept = {name: cells for name, cells in columns.items() if set(cells) - {"-"}}
    if rows:
        yield Table(tuple(kept), list(zip(*kept.values(), strict=True)))


def _span(row: Mapping[str, Any], units: u.System) -> str:
    low, high = row["flow_low_gpm"], row["flow_high_gpm"]
    if low is None or high is None:
        return "-"
    return span(u.to_si(low, "gpm"), u.to_si(high, "gpm"), "gpm", units)


def _band(band: Mapping[str, Any] | None, units: u.System) -> list[Block]:
    if band is None:
        return []
    rows = [
        (label, *(_said(x, unit, units) for x in spread.values()))
        for label, name, unit in _SPREAD
        if (spread := band.get(f"{name}_{unit}")) is not None
    ]
    rows.append(("samples", str(band["samples"]), f"seed {band['seed']}", band["doubt"]))
    return [Table(("quantity", "P10", "P50", "P90"), rows)]


def _cycle(cycle: Mapping[str, Any] | None, units: u.System) -> list[Block]:
    if cycle is None:
        return []
    pattern = cycle["pattern"]
    rows = [("keeps up", "yes" if cycle["keeps_up"] else "no")]
    rows.append(("pattern", PATTERNS.get(pattern, pattern)))
    # what has no end is None in the content
    endless = {} if pattern == "unknown" else ENDLESS
    for label, name, unit in _CYCLE:
        said = _said(cycle[f"{name}_{unit}"], unit, units)
        rows.append((label, endless.get(name, said) if said == "-" else said))
    return [Table(("cycle", "value"), rows)]


def _rejections(rejections: Sequence[Mapping[str, Any]], units: u.System) -> Iterator[Block]:
    if not rejections:
        yield Paragraph("None.")
        return
    yield Table(
        ("pump", "line", "reasons", "smallest change"),
        [
            (r["pump"], r["line"], turned("; ".join(x["text"] for x in r["reasons"]), units),
             turned(r["change"], units))
            for r in rejections[:_MOST]
        ],
    )  # fmt: skip
    rest = Counter(x["code"].replace("_", " ") for r in rejections[_MOST:] for x in r["reasons"])
    if rest:
        counts = ", ".join(f"{code} {count}" for code, count in rest.most_common())
        yield Paragraph(f"And {len(rejections) - _MOST} more, further off: {counts}.")


def _inputs(inputs: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What was typed; of each pump its facts in one row."""
    for key, value in inputs.items():
        if key == "pumps":
            for pump in value:
                facts = (f"{name} {_typed(item)}" for name, item in pump.items() if name != "name")
                yield f"pump {pump.get('name', '')}", "; ".join(facts)
        else:
            yield from _leaves({key: value}, "")


def _leaves(value: Any, place: str) -> Iterator[tuple[str, str]]:
    """Every typed value with its place in the job; a list of plain values in one row."""
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from _leaves(item, f"{place} {key.replace('_', ' ')}".strip())
    elif isinstance(value, list) and any(isinstance(item, Mapping | list) for item in value):
        for i, item in enumerate(value):
            yield from _leaves(item, f"{place} {i + 1}")
    else:
        yield place, _typed(value)


def _typed(value: Any) -> str:
    """A typed value in words, a list of them in one row."""
    if isinstance(value, list):
        return ", ".join(map(_typed, value))
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
