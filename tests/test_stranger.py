"""What a program that calls the library may hand over: no bare traceback, no number of a slip."""

from __future__ import annotations

import copy
import json
import math
import pickle
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

import drainpump as dp
from drainpump.results import html_table, plain
from tests import refused
from tests.storms import LINE, A, pit

SITE: dict[str, Any] = {"lines": [LINE], "need_gpm": 20}

REFUSED: dict[str, list[tuple[Callable[[], Any], str]]] = {
    "points": [
        (
            lambda: dp.PumpCurve(flow_gpm=[0, 1e-320, 30], head_ft=[20, 19, 1]),
            "flow_gpm=[0.0, 1e-320, 30.0]: must differ by more than 1e-12 of the last; leave out "
            "the points that are one flow, or give their flows in the right unit.",
        ),
    ],
    "limits": [
        (
            lambda: dp.Limits(soft=None),  # type: ignore[arg-type]
            "soft=None: must be a list of names; put the name in a list.",
        ),
        (
            lambda: dp.Limits(without=3),  # type: ignore[arg-type]
            "without=3: must be a list of names; put the name in a list.",
        ),
    ],
    "a job": [
        (
            lambda: dp.Job(pumps=A, **SITE),
            f"pumps={A!r}: must be a list; put it in one, pumps=[...].",
        ),
        (
            lambda: dp.Job(pumps=[A, A], **SITE),
            f"pumps[1].name={A.name!r}: is the name of pumps[0] already; give each a name of its "
            "own.",
        ),
        (
            lambda: dp.Job(lines=[LINE.replace(name="x")] * 2, need_gpm=20),
            "lines[1].name='x': is the name of lines[0] already; give each a name of its own.",
        ),
    ],
    "a band": [
        (
            lambda: dp.band(A, LINE, dp.Doubt(), pit=18),  # type: ignore[arg-type]
            "pit=18: must be a Pit; make one with Pit(...).",
        ),
    ],
    "a record": [
        (
            lambda: dp.field.as_built_record(
                A,
                LINE,
                name="yard",
                built_on="2026-04-30",
                need_gpm=[1, 2],  # type: ignore[arg-type]
            ),
            "need_gpm=[1.0, 2.0]: must be one number; give one.",
        ),
    ],
}


@refused.each(REFUSED)
def test_a_slip_is_refused_by_name(call: Callable[[], Any], message: str) -> None:
    refused.check(call, message)


def test_a_missing_argument_is_said_with_what_misses_it() -> None:
    with pytest.raises(TypeError) as err:
        dp.Job(pumps=[A])  # type: ignore[call-arg]
    assert str(err.value) == "Job(): missing a required argument: 'lines'"


def test_lines_that_nobody_named_are_told_apart() -> None:
    job = dp.Job(lines=[LINE.replace(name=None)] * 2, need_gpm=20)
    first, second = job.lines
    assert second.name == f"{first.name} (line 2)"
    assert "name" not in job.to_dict()["lines"][1]
    assert dp.Job.from_dict(job.to_dict()) == job


@pytest.mark.parametrize("count", [np.int16(10_000), np.int8(100), np.uint64(64)])
def test_any_whole_number_counts_draws(count: Any) -> None:
    found = dp.band(A, LINE, dp.Doubt(lift_ft=1), count)
    assert found.flow_gpm == dp.band(A, LINE, dp.Doubt(lift_ft=1), int(count)).flow_gpm


@pytest.mark.parametrize(
    "again", [copy.copy, copy.deepcopy, lambda x: pickle.loads(pickle.dumps(x))]
)
def test_a_worksheet_can_be_sent(again: Callable[[Any], Any]) -> None:
    sheet = dp.teach.worksheet(8, seed=1)
    other = again(sheet)
    assert other.html(answer=True) == sheet.html(answer=True)
    with pytest.raises(TypeError):
        other.answers["rest_s"] = 0


ODD: dict[str, tuple[Callable[[], Any], str]] = {
    "share for percent": (
        lambda: dp.Doubt(head_pct=0.05),
        "head_pct=0.05 is 0.05 %, a share would be 5 %; give 5 for 5 %.",
    ),
    "half a fitting": (
        lambda: LINE.replace(fittings={"elbow_90": 2.5}),
        "fittings['elbow_90']=2.5 is no whole number of pieces; give how many there are, and a "
        "loss of one's own as k=...",
    ),
    "an end below the pit": (
        lambda: dp.straight_line(pipe=dp.pvc("2"), length_ft=50, lift_ft=-5),
        "lift -5 ft (-1.52 m): the open end is below the pump-off level, where water runs by "
        "itself; give the outlet's height above the water in the pit.",
    ),
}


@pytest.mark.parametrize("slip", ODD)
def test_what_is_possible_but_odd_is_doubted(slip: str) -> None:
    make, said = ODD[slip]
    with pytest.warns(dp.UnusualValueWarning) as heard:
        made = make()
    assert [str(w.message) for w in heard] == [said]
    made.variant()  # a copy that nobody typed is not doubted again


def test_tail_water_may_stand_over_an_end_below_the_pit(recwarn: Any) -> None:
    dp.straight_line(
        pipe=dp.pvc("2"), length_ft=50, lift_ft=-5, outlet=dp.SubmergedOutlet(depth_ft=7)
    )
    dp.straight_line(pipe=dp.pvc("2"), length_ft=50, lift_ft=[])  # no line is none below it
    assert not recwarn.list


def strictly(thing: Any) -> Any:
    """What a strict reader of JSON gets."""
    return json.loads(json.dumps(thing, allow_nan=False))


def test_what_has_no_end_is_null_and_said_so() -> None:
    found = dp.cycle(A, LINE, pit(), inflow_gpm=[0, 8])
    told = strictly(found.to_dict())
    rest = told["rest_s"]
    assert rest[0] is None
    assert rest[1] == found.rest_s[1]
    assert told["endless"]["rest_s"] == [True, False]
    assert "endless" not in dp.operating_point(A, LINE).to_dict()


def test_a_number_not_known_is_null_and_not_endless() -> None:
    told = strictly(dp.operating_point(A, LINE.replace(lift_ft=[6, np.nan])).to_dict())
    assert told["status"] == ["ok", "bad_input"]
    assert told["flow_gpm"][1] is None
    assert "flow_gpm" not in told.get("endless", {})


@given(
    values=arrays(
        np.float64, array_shapes(min_dims=0, max_dims=3, max_side=3), elements=st.floats()
    )
)
def test_plain_values_are_the_numbers_one_by_one(values: Any) -> None:
    def one(item: Any) -> Any:
        if isinstance(item, list):
            return [one(x) for x in item]
        return item if math.isfinite(item) else None

    assert strictly(plain(values)) == one(values.tolist())


def test_a_notebook_shows_both_ends_of_a_long_answer() -> None:
    op = dp.operating_point(A, LINE.replace(length_ft=np.linspace(50, 300, 5000)))
    assert op._repr_html_() == html_table(op.to_frame())


def problems(call: Callable[[], Any]) -> list[tuple[Any, ...]]:
    """What a program reads in the refusal of a call."""
    with pytest.raises(dp.InputError) as err:
        call()
    return [tuple(problem) for problem in pickle.loads(pickle.dumps(err.value)).problems]


def test_a_program_reads_what_is_wrong() -> None:
    assert problems(lambda: dp.Limits(soft=None)) == [  # type: ignore[arg-type]
        ("soft", "value", None, "must be a list of names", "put the name in a list")
    ]
    said = "give exactly one of length_ft, length_m"
    assert problems(lambda: dp.Run(pipe=dp.pvc("2"))) == [("length", "unit", None, said, "")]


def test_a_program_reads_the_place_in_a_document() -> None:
    job = dp.Job(pumps=[A], **SITE).to_dict()
    job["lines"][0]["runs"][0]["k"] = -3
    (only,) = problems(lambda: dp.Job.from_dict(job))
    assert only[:3] == ("$.lines[0].runs[0].k", "value", -3)
    del job["lines"][0]["runs"][0]["k"]
    job["samples"] = "many"
    (only,) = problems(lambda: dp.Job.from_dict(job))
    assert only[:4] == ("$.samples", "value", "many", "must be a whole number")
