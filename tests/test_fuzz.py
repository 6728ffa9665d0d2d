"""Hostile input ends in an answer or in a refusal in words, and in nothing else.

A few dozen cases of each kind as a rule; ``DRAINPUMP_FUZZ=17000 python -m pytest -q
tests/test_fuzz.py`` tries 51,000: jobs of both versions, curve files, parts and functions.
"""

from __future__ import annotations

import copy
import inspect
import json
import random
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

import drainpump as dp
from tests.fuzz import examples
from tests.notebook import ROOT
from tests.problems import DROOPING, PUMP_A, r1_line, r1_pit
from tests.public import public

OLD = json.loads((ROOT / "tests/documents/job_version_1.json").read_text(encoding="utf-8"))
NEW = json.loads((ROOT / "drainpump/paper/data/market_garden.json").read_text(encoding="utf-8"))
CSV = [
    (ROOT / "curves_demo" / name).read_text(encoding="utf-8")
    for name in ("facts.csv", "head_first.csv", "points_metric.csv", "points_small.csv")
]
STORM = dp.Hydrograph(flow_gpm=[0, 40, 0], time_min=[0, 30, 60])
TEST = dp.field.bucket_test(volume_gal=5, fill_s=12)

#: values nobody should give
HOSTILE: list[Any] = [
    None, True, False, 0, -1, 1, 3, 1e-320, 1e300, -1e300, 10**400, float("nan"), float("inf"),
    -float("inf"), "", "x", "ok", "../../etc/passwd", "\x00", "\ud800", "💧" * 50, b"x", [], {},
    [1, "a"], [[1], [2, 3]], [None], {"a": 1}, (), set(), object(), np.nan, np.float32(3),
    np.int16(7), np.uint8(200), np.float64("nan"), np.bool_(True), np.str_("x"), np.array(3),
    np.array([1.0, np.nan]), np.array([]), np.zeros((2, 0)), np.array(["a"]),
    np.ma.masked_array([1.0, 2.0], [True, False]), np.array([1, "a"], dtype=object), np.ones(3),
    np.full((2, 3), 5.0), 1 + 2j, range(3), lambda: 3, int, dp, dp.Pit,
    np.datetime64("2020-01-01"), PUMP_A, DROOPING, r1_line(), r1_pit(), dp.FreeOutlet(),
    dp.FreeOutlet, dp.Doubt.usual(), dp.Limits(), STORM, TEST, [PUMP_A], [PUMP_A, None],
    [r1_line(), PUMP_A], r1_line(lift_ft=[3, 9]), dp.parallel([PUMP_A, PUMP_A]),
]  # fmt: skip
#: what a function may be given in earnest, by its parameter
SOUND: dict[str, Any] = {
    "pump": PUMP_A, "pumps": [PUMP_A], "line": r1_line(), "lines": [r1_line()], "pit": r1_pit(),
    "doubt": dp.Doubt.usual(), "inflow_gpm": 9, "need_gpm": 20, "flow_gpm": 20, "samples": 16,
    "storms": STORM, "tests": [TEST], "test": TEST, "pipe": dp.pvc("2"), "length_ft": 100,
    "lift_ft": 6, "name": "x", "built_on": "2026-04-30", "volume_gal": 5, "fill_s": 12, "seed": 1,
    "depth_in": 2, "area_ft2": 900, "lesson": 3, "pupils": 2, "fall_ft": 3, "n": 0.012,
}  # fmt: skip
#: they open files or draw; a bank is made by parallel or series
LEFT_OUT = ("plots.", "live", "read_", "report", "budget", "PumpBank")
CALLS: dict[str, Callable[..., Any]] = {
    name: item
    for name, item in public()
    if callable(item)
    and not name.startswith(LEFT_OUT)
    and not (inspect.isclass(item) and issubclass(item, BaseException))
    and (inspect.isfunction(item) or hasattr(item, "replace"))
}


def answered(call: Callable[[], Any]) -> Any:
    """The answer of a call, None where it is refused in words; other failures get through."""
    with warnings.catch_warnings(), dp.budget(points=1e5):
        warnings.simplefilter("ignore", dp.DrainpumpWarning)
        try:
            return call()
        except dp.DrainpumpError as error:
            told = str(error)
        except TypeError as error:
            # a keyword too few or too many, as Python says it
            told = str(error)
            if "argument" not in told or ("drainpump" not in told and "()" not in told):
                raise
    assert told
    assert len(told) < 60_000
    return None


def paths(document: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items: Any = document.items() if isinstance(document, dict) else enumerate(document)
    found = []
    for key, item in items:
        found.append((*path, key))
        if isinstance(item, dict | list):
            found += paths(item, (*path, key))
    return found


def mutated(document: Any, dice: random.Random, values: list[Any]) -> Any:
    """A copy of a document with some of its places changed, taken out, doubled or renamed."""
    again = json.loads(json.dumps(document))
    for _ in range(dice.choice((1, 1, 1, 2, 5))):
        spots = paths(again)
        if not spots:
            break
        *way, key = dice.choice(spots)
        place = again
        for step in way:
            place = place[step]
        what = dice.randrange(5)
        if what == 0:
            del place[key]
        elif what == 1 and isinstance(place, dict):
            place[dice.choice((key[:-1], key + "x", "length_ft", "need_lps", "k"))] = place.pop(key)
        elif what == 2 and isinstance(place, list):
            place *= dice.choice((0, 2, 40))
        else:
            place[key] = copy.deepcopy(dice.choice(values))
    return again


@settings(max_examples=examples(40), deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 2**60))
def test_a_job_is_read_or_refused(seed: int) -> None:
    dice = random.Random(seed)
    plain = [v for v in HOSTILE if isinstance(v, str | int | float | list | dict | type(None))]
    plain = [v for v in plain if not isinstance(v, list) or not v or not hasattr(v[0], "given")]
    document = mutated(dice.choice((OLD, NEW)), dice, [*plain, {"curves": ".env"}, 1e9, -3, 0.5])
    job = answered(lambda: dp.Job.from_dict(document))
    if job is not None:
        json.dumps(job.to_dict(), allow_nan=False)
        if dice.random() < 0.05:
            out = answered(lambda: job.replace(samples=16).run())
            assert out is None or json.dumps(dp.report(out).to_dict(), allow_nan=False)


@settings(max_examples=examples(40), deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 2**60))
def test_a_curve_file_is_read_or_refused(seed: int) -> None:
    dice = random.Random(seed)
    text = list(dice.choice(CSV))
    bits = ["\n", ",", '"', ";", "#", "\x00", "-", "1e999", "nan", "x" * 300, "gpm", "é", "\ufeff"]
    for _ in range(dice.choice((1, 2, 8, 60))):
        i = dice.randrange(len(text) + 1)
        text[i : i + dice.choice((0, 1, 1, 30))] = dice.choice((bits, text))[: dice.randrange(9)][
            -1:
        ]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "c.csv"
        file.write_bytes("".join(text).encode("utf-8", "surrogatepass"))
        answered(lambda: dp.read_curves(file))


@settings(max_examples=examples(120), deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 2**60))
def test_a_call_is_answered_or_refused(seed: int) -> None:
    dice = random.Random(seed)
    name = dice.choice(sorted(CALLS))
    call = CALLS[name]
    given = {}
    for parameter in inspect.signature(call).parameters.values():
        if parameter.kind in (parameter.VAR_KEYWORD, parameter.VAR_POSITIONAL):
            continue
        needed = parameter.default is parameter.empty
        if parameter.name in SOUND and (needed or dice.random() < 0.3):
            given[parameter.name] = SOUND[parameter.name]
        elif needed or dice.random() < 0.15:
            given[parameter.name] = dice.choice(HOSTILE)
    if given and dice.random() < 0.6:
        given[dice.choice(sorted(given))] = dice.choice(HOSTILE)
    found = answered(lambda: call(**given))
    if hasattr(found, "to_dict") and not hasattr(found, "to_numpy"):
        plain = answered(found.to_dict)
        assert plain is None or json.dumps(plain, allow_nan=False)


@pytest.mark.parametrize("value", HOSTILE, ids=lambda value: type(value).__name__)
def test_every_main_question_bears_every_value(value: Any) -> None:
    for call in (
        lambda: dp.operating_point(value, r1_line()),
        lambda: dp.operating_point(PUMP_A, value),
        lambda: dp.cycle(PUMP_A, r1_line(), value, inflow_gpm=9),
        lambda: dp.cycle(PUMP_A, r1_line(), r1_pit(), inflow_gpm=value),
        lambda: dp.select([PUMP_A], [r1_line()], need_gpm=value),
        lambda: dp.Job.from_dict(value),
        lambda: dp.Job.from_json(value),
        lambda: dp.read_job(value),
        lambda: dp.DischargeLine.from_dict(value),
    ):
        answered(call)
