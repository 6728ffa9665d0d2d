"""The shape of an as-built record as JSON, and a record of the first version brought up to it."""

from __future__ import annotations

from typing import Any

from drainpump.errors import wrong
from drainpump.paper.document import part_shapes as shapes
from drainpump.paper.document.field_tests import FIELD_TEST
from drainpump.paper.document.on_site import FloatCheck, Plate
from drainpump.paper.document.shapes import Key, Object
from drainpump.paper.document.values import (
    ANYTHING,
    Either,
    Listed,
    Named,
    Number,
    Shape,
    Text,
    Whole,
)

#: of the JSON; what the second version added may be missing
VERSION = 2
POINTS = ("p10", "p50", "p90")
_ADDED = ("pit", "plate", "float_checks")


def _all_of(title: str, whole: str, **members: Shape) -> Object:
    """The shape of an object that lacks none of its keys, but perhaps what was added."""
    keys = (Key(name, shape, required=name not in _ADDED) for name, shape in members.items())
    cover = (Key("cover", Number(), ("in", "mm")),) if "record_version" in members else ()
    return Object(title, (*keys, *cover), whole=whole)


_PREDICTION = _all_of(
    "prediction", "give it", **{f"{p}_lps": Number() for p in POINTS},
    samples=Whole(1, 65_536), seed=Whole(0, 2**32 - 1),
)  # fmt: skip
_ENTRY = _all_of("test", "give it", on=ANYTHING, note=shapes.LONG, test=FIELD_TEST)
RECORD = _all_of(
    "as-built record", "give the whole record", record_version=Whole(VERSION, VERSION),
    drainpump_version=Text(), name=shapes.LONG, built_on=ANYTHING, pump=shapes.POINTS,
    line=shapes.LINE, doubt=shapes.DOUBT, prediction=_PREDICTION,
    need_lps=Either((type(None),), ANYTHING, Number()), tests=Listed(_ENTRY, 0, 10_000),
    open_items=Listed(shapes.LONG, 0, 1000),
    job=Either((type(None), dict), ANYTHING, Named(ANYTHING, 100)), pit=shapes.PIT,
    plate=shapes.shape_of("plate", Plate, note=shapes.LONG),
    float_checks=Listed(shapes.shape_of("float check", FloatCheck, note=shapes.LONG), 0, 10_000),
)  # fmt: skip


def checked(plain: Any) -> dict[str, Any]:
    """Return the members of a record of either version, or refuse it."""
    if isinstance(plain, dict):
        version = plain.get("record_version", VERSION)
        if version not in (1, VERSION) or isinstance(version, bool):
            raise wrong(
                "record.record_version", version, f"must be 1 or {VERSION}",
                "read it with the version of the library that wrote it",
            )  # fmt: skip
        # the first version's keys are all of this one's
        if version == 1 and "record_version" in plain:
            plain["record_version"] = VERSION
    return RECORD.check(plain, "record")
