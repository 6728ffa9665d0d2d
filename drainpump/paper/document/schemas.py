"""Writes the JSON Schemas that are shipped: ``python -m drainpump.paper.document.schemas``."""

from __future__ import annotations

import inspect
import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from drainpump.paper.document.answer import ANSWER, ANSWER_VERSION
from drainpump.paper.document.asked import SCHEMA_VERSION
from drainpump.paper.document.shapes import Object
from drainpump.paper.document.values import Definitions
from drainpump.paper.job import JOB
from drainpump.paper.outcome import Outcome

_DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schemas() -> dict[str, dict[str, Any]]:
    """Return each schema by the name of its file."""
    return {
        "job.schema.json": _schema("job", SCHEMA_VERSION, JOB),
        "answer.schema.json": _schema(
            "answer", ANSWER_VERSION, replace(ANSWER, doc=inspect.getdoc(Outcome.to_dict) or "")
        ),
    }


def _schema(what: str, version: int, shape: Object) -> dict[str, Any]:
    named: Definitions = {}
    head = {"$schema": _DIALECT, "$id": f"urn:drainpump:{what}:{version}"}
    return {**head, **shape.whole_schema(named), "$defs": dict(sorted(named.items()))}


def write() -> None:
    """Write them where they are shipped."""
    folder = Path(str(files("drainpump.paper"))) / "data"
    for name, schema in schemas().items():
        text = json.dumps(schema, indent=1, ensure_ascii=False)
        (folder / name).write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    write()
