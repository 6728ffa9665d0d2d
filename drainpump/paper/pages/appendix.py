"""The appendix of a report: every candidate, assumption and input behind the two pages."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from drainpump import units as u
from drainpump.cycling.switching import ENDLESS, PATTERNS
from drainpump.paper.blocks import Block, Bullets, Heading, Paragraph, Table

__all__ = ["appendix"]

#: rejected candidates that are told one by one, and rows of the ranked table
_MOST = 10


def appendix(content: Mapping[str, Any]) -> list[Block]:
    """Lay a report's content out, nearest misses first, the rest in counts."""
    blocks: list[Block] = [Heading("Appendix", 1)]
    if content["story"]:
        blocks.append(Paragraph(content["story"]))
    blocks += _results(content["results"])
    blocks += [Heading("Rejected, and why"), *_rejections(content["rejections"])]
    if content["warnings"]:
        blocks += [
            Heading("Values to look at again"),
            Bullets(
                [
                    f"{w['path']}: {w['text']}" if w["path"] else w["text"]
                    for w in content["warnings"]
                ]
            ),
        ]
    blocks += [
        Heading("Assumptions"),
        Table(
            ("assumption", "value", "default", "source", "lines"),
            [
                (a["name"], a["value"], "default" if a["defaulted"] else "", a["source"],
                 ", ".join(a["where"]))
                for a in content["assumptions"]
            ],
        ),
        Heading("Inputs as typed"),
        Table(("place", "value"), list(_inputs(content["inputs"]))),
        Heading("Versions"),
        Table(
            ("what", "version"),
            [
                (name.replace("_", " "), str(content[name]))
                for name in ("library_version", "schema_version", "data_version", "input_hash")
            ],
        ),
    ]  # fmt: skip
    return blocks


def _both(row: Mapping[str, Any], name: str, unit: str) -> str:
    value = row.get(f"{name}_{unit}")
    return "-" if value is None else u.both(u.to_si(value, unit), unit)


def _number(value: Any) -> str:
    return "-" if value is None else u.number(float(value))


def _results(results: Mapping[str, Any]) -> Iterator[Block]:
    yield Heading("Result")
    chosen = results["chosen"]
    said = "Nothing on the list serves."
    if chosen is not None:
        first = results["candidates"][0]
        said = (
            f"Chosen: {chosen['pump']} on {chosen['line']}, {_both(first, 'flow', 'gpm')} at "
            f"{_both(first, 'head', 'ft')} of head."
        )
        if first["probability"] is not None:
            said += f" It carries the need with probability {_number(first['probability'])}."
        cycle = results["cycle"]
        if cycle is not None and not cycle["keeps_up"]:
            said += f" It does not keep up with the inflow of {_both(cycle, 'inflow', 'gpm')}."
    need = f"Needed: {results['needed']} at the pump-off level; ranked by {results['ranked_by']}."
    yield Paragraph(f"{said} {need}")
    yield _candidates(results)
    named = f"{results['reported']['pump']} on {results['reported']['line']}"
    if results["band"] is not None:
        yield Heading(f"How sure: {named}")
        yield _band(results["band"])
    if results["cycle"] is not None:
        yield Heading(f"Cycle: {named}")
        yield _cycle(results["cycle"])
    if results["measure_next"]:
        yield Heading("What to measure next")
        yield Bullets([f"{row['text']}; {row['measure']}" for row in results["measure_next"]])


def _candidates(results: Mapping[str, Any]) -> Table:
    """The ranked table; a column that is empty throughout is left out."""
    rows = results["candidates"][: 2 * _MOST]
    cost = f"cost ({results['currency']})" if results["currency"] else "cost"
    columns = {
        "rank": [str(r["rank"]) for r in rows],
        "pump": [r["pump"] for r in rows],
        "line": [r["line"] for r in rows],
        "flow": [_both(r, "flow", "gpm") for r in rows],
        "flow P10 to P90": [_span(r) for r in rows],
        "head": [_both(r, "head", "ft") for r in rows],
        "fastest": [_both(r, "velocity_fastest", "fps") for r in rows],
        "probability": [_number(r["probability"]) for r in rows],
        cost: [_number(r["cost"]) for r in rows],
        "verdict": ["accepted" if r["accepted"] else ", ".join(r["codes"]) for r in rows],
        "notes": ["; ".join((*r["warnings"], *r["notes"])) or "-" for r in rows],
    }
    kept = {name: cells for name, cells in columns.items() if set(cells) != {"-"}}
    return Table(tuple(kept), list(zip(*kept.values(), strict=True)))


def _span(row: Mapping[str, Any]) -> str:
    known = row.get("flow_band_gpm")
    if known is None or known["p10"] is None:
        return "-"
    return f"{_number(known['p10'])} to {_number(known['p90'])} gpm"


def _band(band: Mapping[str, Any]) -> Table:
    rows = []
    for label, name, unit in (
        ("flow", "flow", "gpm"),
        ("head", "head", "ft"),
        ("velocity in the last run", "velocity", "fps"),
        ("starts in the worst case", "worst_starts", "per_h"),
        ("starts at the inflow", "starts", "per_h"),
    ):
        spread = band.get(f"{name}_{unit}")
        if spread is not None:
            rows.append((label, *(_both({f"x_{unit}": v}, "x", unit) for v in spread.values())))
    rows.append(("draws", str(band["samples"]), f"seed {band['seed']}", band["doubt"]))
    return Table(("quantity", "P10", "P50", "P90"), rows)


def _cycle(cycle: Mapping[str, Any]) -> Table:
    pattern = cycle["pattern"]
    rows = [("keeps up", "yes" if cycle["keeps_up"] else "no")]
    rows.append(("pattern", PATTERNS.get(pattern, pattern)))
    # what has no end is None in the content
    endless = {} if pattern == "unknown" else ENDLESS
    for label, name, unit in (
        ("inflow", "inflow", "gpm"),
        ("run", "run", "s"),
        ("rest", "rest", "s"),
        ("starts", "starts", "per_h"),
        ("most starts over all inflows", "worst_starts", "per_h"),
        ("at an inflow of", "worst_inflow", "gpm"),
        ("working volume", "working_volume", "gal"),
    ):
        said = _both(cycle, name, unit)
        rows.append((label, endless.get(name, said) if said == "-" else said))
    return Table(("cycle", "value"), rows)


def _rejections(rejections: Sequence[Mapping[str, Any]]) -> Iterator[Block]:
    if not rejections:
        yield Paragraph("None.")
        return
    yield Table(
        ("pump", "line", "reasons", "smallest change"),
        [
            (r["pump"], r["line"], "; ".join(x["text"] for x in r["reasons"]), r["change"])
            for r in rejections[:_MOST]
        ],
    )
    rest = Counter(x["code"].replace("_", " ") for r in rejections[_MOST:] for x in r["reasons"])
    if rest:
        counts = ", ".join(f"{code} {count}" for code, count in rest.most_common())
        yield Paragraph(f"And {len(rejections) - _MOST} more, further off: {counts}.")


def _inputs(inputs: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What was typed; of each pump its facts in one row."""
    for key, value in inputs.items():
        if key == "pumps":
            for pump in value:
                facts = (f"{name} {_said(item)}" for name, item in pump.items() if name != "name")
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
        yield place, _said(value)


def _said(value: Any) -> str:
    """A typed value in words, a list of them in one row."""
    if isinstance(value, list):
        return ", ".join(map(_said, value))
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
