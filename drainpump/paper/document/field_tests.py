"""A field test as plain values for JSON, and back, refusing what does not fit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

import numpy as np

from drainpump import units as u
from drainpump.errors import inside, joined
from drainpump.field.reading import FieldTest, Kind, Place, check_tests
from drainpump.paper.document.part_shapes import keys_of
from drainpump.paper.document.shapes import Key, Object
from drainpump.paper.document.values import ANYTHING, Either, Named, Number, Text

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
        *keys_of(
            {view.name: float for view in u.views(FieldTest) if view.unit is not None},
            ("flow", "sigma", "level_above_off"),
            dict.fromkeys(_GUARDS, _READING),
        ),
        Key("shares", Named(Number(), 20), required=True),
    ),
)


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
