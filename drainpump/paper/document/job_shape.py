"""The shape of a job document: every key, its units, and how many there may be."""

from __future__ import annotations

from typing import Any

from drainpump.choose.objectives import OBJECTIVES
from drainpump.limits.limits import SOURCES as LIMITS
from drainpump.paper.document.shapes import (
    Either,
    Flag,
    Key,
    Listed,
    Named,
    Number,
    Object,
    OneOf,
    Text,
    Whole,
    quantity,
)

__all__ = ["JOB", "SCHEMA_VERSION", "job_schema"]

#: of the document: raised when a reader of the old one could misread the new one
SCHEMA_VERSION = 1

_number, _flag, _name, _long = Number(), Flag(), Text(), Text(most=10_000)
_points = Listed(_number, 1, 1000)
_text_or_number = Either((str,), Text(), _number)
_prices = Either((int, float), _number, Named(_number, 500))
_names_of_limits = Listed(Text(choices=tuple(LIMITS)), 0, len(LIMITS))

_CURVES = Object("curves", (Key("curves", Text(most=4000), required=True),))
_POINTS = Object(
    "pump",
    (
        Key("name", _name, required=True),
        quantity("flow", "gpm", required=True, shape=_points),
        quantity("head", "ft", required=True, shape=_points),
        quantity("power", "w", shape=_points),
        quantity("shutoff", "ft"),
        Key("price", _number),
        quantity("outlet", "in"),
        quantity("solids", "in"),
        quantity("voltage", "v"),
        quantity("current", "a"),
        quantity("on", "in"),
        quantity("off", "in"),
        quantity("best_flow", "gpm"),
        Key("invented", _flag),
        Key("note", _long),
    ),
)
PUMP = OneOf((("curves", _CURVES), ("", _POINTS)))

_wall = (quantity("roughness", "ft"), Key("hazen_williams_c", _number))
_convention = Key("bore", Text(choices=("average", "minimum_wall", "1.03_minimum_wall")))
PIPE = OneOf(
    (
        (
            "pvc",
            Object(
                "pvc pipe",
                (
                    Key("pvc", _text_or_number, required=True),
                    Key("schedule", _text_or_number),
                    _convention,
                    *_wall,
                ),
            ),
        ),
        (
            "pvc_metric",
            Object(
                "metric pvc pipe",
                (
                    Key("pvc_metric", _number, required=True),
                    Key("sdr", _text_or_number, required=True),
                    _convention,
                    *_wall,
                ),
            ),
        ),
        (
            "",
            Object(
                "pipe of one's own",
                (
                    quantity("bore", "in", required=True),
                    *_wall,
                    Key("nominal", _text_or_number),
                    Key("name", _name),
                ),
            ),
        ),
    )
)

FITTING = Object(
    "fitting",
    (
        Key("count", _number),
        Key("k", _number),
        Key("name", _name),
        quantity("equivalent_length", "ft"),
    ),
)
RUN = Object(
    "run",
    (
        Key("name", _name),
        Key("pipe", PIPE, required=True),
        quantity("length", "ft", required=True),
        quantity("rise", "ft"),
        Key("fittings", Named(Either((int, float), _number, FITTING), 100)),
        Key("k", _number),
        quantity("equivalent_length", "ft"),
    ),
    (("lift", "rise"),),
)


def _outlet(kind: str, *keys: Key) -> tuple[str, Object]:
    mark = Key("kind", Text(choices=(kind,)), required=True)
    return kind, Object(f"{kind} outlet", (mark, *keys))


OUTLET = OneOf(
    (
        _outlet("free", quantity("lid", "ft")),
        _outlet("submerged", quantity("depth", "ft", required=True)),
        _outlet(
            "pop_up",
            quantity("opening_head", "ft", required=True),
            quantity("gap", "in", required=True),
            quantity("body", "in", required=True),
            Key("discharge_coefficient", _number),
        ),
        _outlet(
            "gravity",
            quantity("bore", "in", required=True),
            Key("slope", _number, required=True),
            Key("n", _number, required=True),
        ),
    ),
    kind="kind",
)
LINE = Object(
    "line",
    (
        Key("name", _name),
        Key("runs", Listed(RUN, 1, 100), required=True),
        Key("outlet", OUTLET),
        Key("friction", Text(choices=("darcy", "hazen_williams"))),
        quantity("water", "f"),
        Key("siphon", _flag),
        Key("check_valve", _flag),
    ),
)
PIT = Object(
    "pit",
    (
        quantity("diameter", "in"),
        quantity("length", "in"),
        quantity("width", "in"),
        quantity("depth", "in", required=True),
        quantity("off", "in", required=True),
        quantity("on", "in", required=True),
        quantity("alarm", "in"),
        quantity("inlet", "in"),
        quantity("body_volume", "gal"),
        quantity("body_height", "in"),
    ),
)
LIMIT = Object(
    "limits",
    (
        quantity("velocity_min", "fps"),
        quantity("velocity_max", "fps"),
        quantity("starts_max", "per_h"),
        quantity("run_min", "s"),
        Key("range_share_max", _number),
        Key("best_flow_min_share", _number),
        Key("best_flow_max_share", _number),
        quantity("solids_min", "in"),
        quantity("voltage", "v"),
        Key("voltage_tolerance_pct", _number),
        Key("soft", _names_of_limits),
        Key("without", _names_of_limits),
    ),
)
DOUBT = Object(
    "doubt",
    (
        Key("length_pct", _number),
        quantity("lift", "ft"),
        Key("bore_pct", _number),
        Key("friction_pct", _number),
        Key("k_log", _number),
        Key("head_pct", _number),
        Key("flow_pct", _number),
        Key("inflow_pct", _number),
        Key("grade", _name),
    ),
)
COSTS = Object(
    "costs",
    (
        Key("pipe_per", _prices, ("ft", "m"), required=True),
        Key("fitting_each", _prices),
        quantity("energy_per", "kwh"),
        quantity("water_per_year", "gal"),
        Key("years", _number),
        Key("efficiency", _number),
        Key("currency", _name),
    ),
)
JOB = Object(
    "drainpump job",
    (
        Key("schema_version", Whole(SCHEMA_VERSION, SCHEMA_VERSION), required=True),
        Key("name", _name),
        Key("story", _long),
        Key("pumps", Listed(PUMP, 0, 2000)),
        Key("lines", Listed(LINE, 1, 200), required=True),
        Key("pit", PIT),
        quantity("need", "gpm", required=True),
        quantity("inflow", "gpm"),
        Key("limits", LIMIT),
        Key("doubt", DOUBT),
        Key("costs", COSTS),
        Key("certainty", _number),
        Key("objective", Text(choices=tuple(OBJECTIVES))),
        Key("samples", Whole(1, 65_536)),
        Key("seed", Whole(0, 2**32 - 1)),
    ),
)


def job_schema() -> dict[str, Any]:
    """Return the JSON Schema of a job document, as shipped in ``data/job.schema.json``."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:drainpump:job:{SCHEMA_VERSION}",
        "description": "A drainage pump job: pumps, lines, pit, need, limits, doubt and costs. "
        "The unit is the last word of every key; a quantity stands under exactly one of its "
        "spellings.",
        **JOB.schema(),
    }
