"""The shapes of an as-built record and its field tests as JSON, and the reading of both.

A record of the first version is brought up to this one.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import numpy as np

from drainpump import units as u
from drainpump.errors import inside, joined, wrong
from drainpump.field.reading import FieldTest, Kind, Place, check_tests
from drainpump.paper.document import part_shapes as shapes
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

#: what a test holds, each with the guard of what it may be
_GUARDS = {
    "flow": "flow", "sigma": "flow", "level_above_off": "lift", "inflow": "inflow",
    "head": "head", "head_sigma": "head",
}  # fmt: skip
#: a number, or null where a test has none; text goes on to the quantity's own check
_READING = Either((str, type(None)), ANYTHING, Number())

FIELD_TEST = Object(
    "field test",
    (
        Key("kind", Text(choices=get_args(Kind)), required=True),
        Key("place", Text(choices=get_args(Place)), required=True),
        *shapes.keys_of(
            {view.name: float for view in u.views(FieldTest) if view.unit is not None},
            ("flow", "sigma", "level_above_off"),
            dict.fromkeys(_GUARDS, _READING),
        ),
        Key("shares", Named(Number(), 20), required=True),
    ),
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


def field_test_of(test: FieldTest) -> dict[str, Any]:
    """Return a field test as plain values; NaN becomes None."""
    plain: dict[str, Any] = {"kind": test.kind, "place": test.place}
    for name in ("flow_lps", "sigma_lps", "level_above_off_m", "inflow_lps", "head_m",
                 "head_sigma_m"):  # fmt: skip
        value = getattr(test, name)
        if value is not None:
            plain[name] = None if np.isnan(value) else float(value)
    return plain | {"shares": test.shares}


def field_test_from(given: Mapping[str, Any], path: str) -> FieldTest:
    """Build a field test from values that `FIELD_TEST` has checked."""
    si: dict[str, Any] = {}
    for key, value in given.items():
        if (unit := u.suffix_of(key)) is not None:
            name, number = key.removesuffix(f"_{unit}"), np.nan if value is None else value
            with u.speaking_of(()):  # a number that the library wrote
                si[name] = u.measure(joined(path, key), number, unit, _GUARDS[name]).si
    whole = si["head_sigma" if "head" in si else "sigma"]
    mend = "give its share of the variance"
    parts = {
        name: u.plain(f"{path}.shares.{name}", share, low=0.0, high=1.0, mend=mend) * whole**2
        for name, share in given["shares"].items()
    }
    test = FieldTest(
        given["kind"], given["place"], si["flow"], si["sigma"], si["level_above_off"], parts,
        si.get("inflow"), si.get("head"), si.get("head_sigma"),
    )  # fmt: skip
    with inside(path):
        return check_tests([test])[0]
