"""Doubt, acceptance grades, and the draws that go through the solver."""

from __future__ import annotations

import numpy as np
import pytest

import drainpump as dp
from drainpump.doubt.doubt import INPUTS, sample
from drainpump.doubt.grades import grade, grade_names
from drainpump.parts.line.profile import returning
from drainpump.physics import system
from drainpump.solve.operating_point import solve_arrays
from tests.r1 import LINE, A, B, line

GPM = 231 * 0.0254**3 / 60

FULL = dp.Doubt(
    length_pct=5, lift_ft=0.75, bore_pct=1.2, friction_pct=5, k_log=0.25, head_pct=5, flow_pct=5,
    inflow_pct=10,
)  # fmt: skip


def laid(pumps, lines, samples):
    """Pumps and lines that each hold all samples, on an axis behind their own."""
    every = sample(FULL, samples)
    return [every.pump(p) for p in pumps], [every.line(x.si.arrays) for x in lines]


def test_draws_have_the_stated_spread() -> None:
    drawn = sample(FULL, 4096)
    # a scrambled Sobol sequence of 4096 points holds a standard deviation to well below 1 %
    for name, sigma in (
        ("length", 0.05), ("friction", 0.05), ("head", 0.05), ("flow", 0.05), ("inflow", 0.1),
    ):  # fmt: skip
        values = getattr(drawn, name)
        assert values.mean() == pytest.approx(1, abs=1e-3), name
        assert values.std() == pytest.approx(sigma, rel=0.01), name
    assert drawn.lift.std() == pytest.approx(0.75 * 0.3048, rel=0.01)
    assert np.log(drawn.k).std() == pytest.approx(0.25, rel=0.01)
    assert abs(drawn.bore - 1).max() <= 0.012
    assert drawn.bore.std() == pytest.approx(0.012 / np.sqrt(3), rel=0.01)


def test_draws_are_independent_and_all_factors_positive() -> None:
    drawn = sample(dp.Doubt(length_pct=20, friction_pct=20, head_pct=20, flow_pct=20, lift_ft=1))
    table = np.array([getattr(drawn, n) for n in ("length", "friction", "head", "flow", "lift")])
    assert abs(np.corrcoef(table) - np.eye(5)).max() < 0.03
    assert table[:4].min() >= 1 - 4 * 0.2 - 1e-12


def test_same_seed_same_numbers_and_another_seed_others() -> None:
    one, again, other = (sample(FULL, 256, seed) for seed in (3, 3, 4))
    for name in INPUTS:
        np.testing.assert_array_equal(getattr(one, name), getattr(again, name))
        assert (getattr(one, name) != getattr(other, name)).any()


def test_more_samples_keep_the_first_and_one_doubt_leaves_the_others_draws() -> None:
    few, many = sample(FULL, 100), sample(FULL, 1000)
    np.testing.assert_array_equal(few.lift, many.lift[:100])
    np.testing.assert_array_equal(few.lift, sample(dp.Doubt(lift_ft=0.75), 100).lift)


def test_every_input_changes_what_it_names() -> None:
    """Each draw, laid on a line, gives the head of a line typed with that draw's values."""
    drawn = sample(FULL, 16)
    asked = drawn.line(LINE.si.arrays)
    spread = system.head(np.full(16, 25 * GPM), asked) / 0.3048
    i = 7
    pipe = dp.Pipe(bore_in=1.59 * drawn.bore[i], roughness_ft=5e-6)
    typed = line(
        1.59, pipe=pipe, length_ft=150 * drawn.length[i] * drawn.friction[i],
        lift_ft=6 + drawn.lift[i] / 0.3048, k=6.3 * drawn.k[i],
    ).head(flow_gpm=25)  # fmt: skip
    # the exit's K is in doubt too, and stands at 1 in a typed outlet
    exit_ft = typed.outlet_ft - 0.25
    assert spread[i] == pytest.approx(typed.head_ft + exit_ft * (drawn.k[i] - 1), rel=1e-12)
    made = drawn.pump(A).head(flow_gpm=25).head_ft
    by_hand = drawn.head[i] * A.head(flow_gpm=25 / drawn.flow[i]).head_ft
    assert made[i] == pytest.approx(by_hand, rel=1e-12)


def test_a_draw_of_many_is_the_point_of_one() -> None:
    """The array call and a loop of single draws agree."""
    pumps, lines = laid([A, B], [LINE, line(2.047)], samples=8)
    op = solve_arrays(pumps, lines)
    assert op.flow_gpm.shape == (2, 2, 8)
    drawn = sample(FULL, 8)
    for i in (0, 5):
        k = drawn.k[i]
        pipe = dp.Pipe(bore_in=2.047 * drawn.bore[i], roughness_ft=5e-6)
        # an exit in doubt is typed as a further K of the same bore
        typed = line(
            2.047, pipe=pipe, length_ft=150 * drawn.length[i] * drawn.friction[i],
            lift_ft=6 + drawn.lift[i] / 0.3048, k=7.3 * k - 1,
        )  # fmt: skip
        pump = B.worn(head=drawn.head[i], flow=drawn.flow[i])
        one = dp.operating_point(pump, typed)
        assert op.flow_gpm[1, 1, i] == pytest.approx(one.flow_gpm, rel=1e-9)


def test_friction_in_doubt_does_not_change_what_runs_back() -> None:
    bare = line(2.047, check_valve=False)
    held = bare.si.returning_volume
    drawn = sample(dp.Doubt(friction_pct=10), 64).line(bare.si.arrays)
    assert returning(drawn) == pytest.approx(np.full(64, held), rel=1e-12)
    longer = sample(dp.Doubt(length_pct=10), 64)
    assert returning(longer.line(bare.si.arrays)) == pytest.approx(held * longer.length, rel=1e-12)


def test_arrays_keep_their_axes_in_front_of_the_draws() -> None:
    many = line(1.59, length_ft=[100, 150, 200])
    op = solve_arrays(*laid([A.worn(head=[1, 0.9, 0.8])], [many], samples=16))
    assert op.flow_gpm.shape == (1, 1, 3, 16)
    one = solve_arrays(*laid([A.worn(head=0.9)], [LINE], samples=16))
    np.testing.assert_allclose(op.flow_gpm[0, 0, 1], one.flow_gpm[0, 0], rtol=1e-12)


def test_a_bank_shares_its_pumps_draw() -> None:
    bank = dp.parallel([A, A])
    (drawn,), lines = laid([bank], [line(2.047)], samples=16)
    share = solve_arrays(drawn, lines[0]).share_gpm
    np.testing.assert_allclose(share[:, 0], share[:, 1], rtol=1e-9)


@pytest.mark.parametrize(
    ("name", "flow", "head"),
    # ISO 9906:2012 / HI 14.6 Table 8 from memory; the 10 kW row and ISO 9906:1999 second-hand
    [
        ("up to 10 kW", (-10, 10), (-8, 8)), ("1B", (-5, 5), (-3, 3)), ("1E", (-5, 5), (-3, 3)),
        ("1U", (0, 10), (0, 6)), ("2B", (-8, 8), (-5, 5)), ("2U", (0, 16), (0, 10)),
        ("3B", (-9, 9), (-7, 7)), ("1999 class 1", (-4.5, 4.5), (-3, 3)),
        ("1999 class 2", (-8, 8), (-5, 5)),
    ],
)  # fmt: skip
def test_grades(name: str, flow: tuple[float, float], head: tuple[float, float]) -> None:
    found = grade(name)
    assert (found.flow_low_pct, found.flow_high_pct) == flow
    assert (found.head_low_pct, found.head_high_pct) == head
    assert found.certainty in ("from memory", "second-hand")
    assert found.source
    doubt = dp.Doubt(grade=name)
    # the tolerance is four sigma wide
    assert doubt.flow_pct == pytest.approx((flow[1] - flow[0]) / 4)
    assert doubt.head_pct == pytest.approx((head[1] - head[0]) / 4)


def test_every_grade_is_checked() -> None:
    assert len(grade_names()) == 9


def test_a_one_sided_grade_raises_the_middle() -> None:
    drawn = sample(dp.Doubt(grade="2U"), 4096)
    assert drawn.flow.mean() == pytest.approx(1.08, abs=1e-3)
    assert drawn.head.mean() == pytest.approx(1.05, abs=1e-3)


def test_usual_names_a_source_for_each_value() -> None:
    usual = dp.Doubt.usual()
    assert set(usual.sources) == {
        "length_pct", "lift_ft", "bore_pct", "friction_pct", "k_log", "head_pct", "flow_pct",
        "grade", "rain_pct", "runoff_pct", "seepage_log",
    }  # fmt: skip
    assert (usual.flow_pct, usual.head_pct) == (5.0, 4.0)


def test_repr_says_what_is_doubted() -> None:
    assert str(dp.Doubt()) == "Doubt(none)"
    assert str(dp.Doubt(lift_m=0.2, bore_pct=1)) == "Doubt(lift 0.2 m (0.656 ft), bore ±1 %)"


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (
            {"length_pct": 21},
            "length_pct=21: must be from 0 to 20; give one sigma of the input's doubt.",
        ),
        (
            {"k_log": -0.1},
            "k_log=-0.1: must be from 0 to 1; give one sigma of the input's doubt.",
        ),
        (
            {"head_pct": [1, 2]},
            "head_pct=[1, 2]: must be one number; give one sigma of the input's doubt.",
        ),
        (
            {"flow_pct": float("nan")},
            "flow_pct=nan: must be one number; give one sigma of the input's doubt.",
        ),
        (
            {"lift_ft": 30},
            "lift_ft=30: must be one number, 0 to 20 ft; give one sigma of the lift's doubt.",
        ),
        (
            {"lift_ft": 1, "lift_m": 1},
            "lift_ft=1 and lift_m=1: more than one unit given; give exactly one of lift_ft, "
            "lift_m.",
        ),
        (
            {"grade": "1999 class 3"},
            "grade='1999 class 3': must be an acceptance grade; did you mean '1999 class 2' or "
            "'1999 class 1'.",
        ),
        (
            {"grade": "2B", "head_pct": 3},
            "grade='2B' beside head_pct or flow_pct: a grade stands for both; give the grade or "
            "the two.",
        ),
    ],
)
def test_bad_doubt_is_refused(given: dict[str, object], message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Doubt(**given)  # type: ignore[arg-type]
    assert str(err.value) == message


@pytest.mark.parametrize(
    ("samples", "seed", "message"),
    [
        (1, 0, "samples=1: must be a whole number, 2 to 1048576; give another."),
        (1e3, 0, "samples=1000.0: must be a whole number, 2 to 1048576; give another."),
        (
            "pit",
            0,
            "samples='pit': must be a whole number, 2 to 1048576; other inputs, such as pit=, are "
            "given by name.",
        ),
        (64, -1, "seed=-1: must be a whole number, 0 or more; give another."),
    ],
)
def test_bad_draws_are_refused(samples: int, seed: int, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        sample(FULL, samples, seed)
    assert str(err.value) == message


def test_something_else_than_a_doubt_is_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        sample(0.05)  # type: ignore[arg-type]
    assert str(err.value) == "doubt=0.05: must be a Doubt; make one with Doubt(...)."
