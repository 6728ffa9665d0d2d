"""The pit: shapes, floats, volumes, and what is refused or warned about."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate

import drainpump as dp
from tests.problems import r1_pit

GAL_IN3 = 231


def test_the_reference_pit_holds_7_71_gallons_between_its_floats():
    pit = r1_pit()
    assert pit.working_volume_gal == pytest.approx(7.71, abs=0.005)
    assert pit.working_volume_gal == pytest.approx(math.pi / 4 * 18**2 * 7 / GAL_IN3, rel=1e-12)
    assert pit.working_volume_l == pytest.approx(pit.working_volume_gal * 3.785411784, rel=1e-12)
    assert pit.area_ft2 == pytest.approx(math.pi / 4 * 1.5**2)
    assert pit.shape == ()


def test_a_rectangular_pit():
    pit = dp.Pit(length_in=24, width_mm=457.2, depth_in=30, off_in=6, on_in=13)
    assert pit.working_volume_gal == pytest.approx(24 * 18 * 7 / GAL_IN3, rel=1e-12)
    assert pit.area_m2 == pytest.approx(0.6096 * 0.4572)
    assert (pit.diameter_in, pit.width_in) == (None, pytest.approx(18))


def test_both_spellings_are_the_same_pit():
    metric = dp.Pit(diameter_mm=457.2, depth_mm=762, off_mm=152.4, on_mm=330.2)
    assert metric.working_volume_gal == pytest.approx(r1_pit().working_volume_gal, rel=1e-12)


@pytest.mark.parametrize("height", [4, 6, 9, 13, 20])
def test_the_pump_body_takes_room_only_as_high_as_it_stands(height):
    body = 1.5
    pit = r1_pit(body_volume_gal=body, body_height_in=height)
    standing = max(min(height, 13) - 6, 0)  # inches of it between the floats
    expected = math.pi / 4 * 18**2 * 7 / GAL_IN3 - body * standing / height
    assert pit.working_volume_gal == pytest.approx(expected, rel=1e-12)
    assert pit.body_volume_l == pytest.approx(body * 3.785411784)


@given(
    off=st.floats(0, 12),
    more=st.floats(0.5, 16),
    body=st.floats(0.1, 5),
    height=st.floats(8, 20),
)
@settings(max_examples=50, deadline=None)
def test_volume_is_the_integral_of_the_free_area(off, more, body, height):
    pit = r1_pit(off_in=off, on_in=off + more, body_volume_gal=body, body_height_in=height)
    area = math.pi / 4 * 18**2 / GAL_IN3

    def free(level: float) -> float:
        return area - (body / height if level < height else 0)

    expected, _ = integrate.quad(free, off, off + more, points=[min(max(height, off), off + more)])
    assert pit.working_volume_gal == pytest.approx(expected, rel=1e-9)


def test_arrays_of_pits():
    pit = dp.Pit(diameter_in=[[18], [24]], depth_in=30, off_in=6, on_in=[10, 13, 16])
    assert pit.shape == pit.working_volume_gal.shape == (2, 3)
    assert pit.working_volume_gal[1, 2] == pytest.approx(math.pi / 4 * 24**2 * 10 / GAL_IN3)


def test_a_nan_stays_in_its_cell():
    pit = r1_pit(on_in=[13, np.nan], diameter_in=[18, 18])
    assert np.isnan(pit.working_volume_gal).tolist() == [False, True]


# -- what is refused


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"off_in": 13, "on_in": 6},
            "off level 13 in and on 6 in: off must be below on; the floats are crossed, swap them.",
        ),
        (
            {"off_in": 6, "on_in": 6},
            "off level 6 in and on 6 in: off must be below on; the floats are crossed, swap them.",
        ),
        (
            {"off_in": [6, 6, 14]},
            "off level 14 in and on 13 in at index (2,): off must be below on; the floats are "
            "crossed, swap them.",
        ),
        (
            {"depth_in": 12},
            "on level 13 in and depth 12 in: on must be below depth; lower the float or deepen "
            "the pit.",
        ),
        (
            {"alarm_in": 12},
            "on level 13 in and alarm 12 in: on must be below alarm; raise the alarm float.",
        ),
        (
            {"alarm_in": 31},
            "alarm level 31 in and depth 30 in: alarm must be below depth; lower the alarm float.",
        ),
        (
            {"body_volume_gal": 1},
            "body_volume and body_height: only one given; give both, or neither for a pit whose "
            "pump takes no room.",
        ),
        (
            {"body_height_in": 9},
            "body_volume and body_height: only one given; give both, or neither for a pit whose "
            "pump takes no room.",
        ),
        (
            {"body_volume_gal": 12, "body_height_in": 10},
            "body_volume 12 gal (45.4 L): must be less than the pit holds over the body's "
            "height; check the volume and the height.",
        ),
        (
            {"off_in": -1},
            "off_in=-1: must be from 0 in to 3937 in; give the height of the water.",
        ),
        (
            {"diameter_in": 0},
            "diameter_in=0: must be more than 0 in and at most 787.4 in; give the pit's inside "
            "diameter.",
        ),
        (
            {"off_in": [6, 6, 6], "on_in": [13, 14]},
            "pit: arrays of shapes (), (), (3,), (2,) do not broadcast; give arrays of one shape, "
            "or scalars.",
        ),
        (
            {"diameter_in": [18, 24], "off_in": [6, 6, 6]},
            "pit: arrays of shapes (2,), (), (3,), () do not broadcast; give arrays of one shape, "
            "or scalars.",
        ),
    ],
)  # fmt: skip
def test_a_pit_that_cannot_be_is_refused(changes, said):
    with pytest.raises(dp.InputError) as err:
        r1_pit(**changes)
    assert str(err.value) == said


@pytest.mark.parametrize(
    ("shape", "said"),
    [
        (
            {},
            "pit: no shape given; give diameter_in for a round pit, or length_in and width_in for "
            "a rectangular one (or their _mm).",
        ),
        (
            {"length_in": 18},
            "pit: no shape given; give diameter_in for a round pit, or length_in and width_in for "
            "a rectangular one (or their _mm).",
        ),
        (
            {"diameter_in": 18, "width_in": 18},
            "diameter and length or width: both shapes given; give diameter_in for a round pit, "
            "or length_in and width_in for a rectangular one.",
        ),
        (
            {"diameter_in": 18, "diameter_mm": 450},
            "diameter_in=18 and diameter_mm=450: more than one unit given; give exactly one of "
            "diameter_in, diameter_mm.",
        ),
    ],
)  # fmt: skip
def test_a_pit_has_one_shape(shape, said):
    with pytest.raises(dp.UnitError) as err:
        dp.Pit(depth_in=30, off_in=6, on_in=13, **shape)
    assert str(err.value) == said


def test_depth_has_no_default():
    with pytest.raises(dp.UnitError) as err:
        dp.Pit(diameter_in=18, off_in=6, on_in=13)
    assert str(err.value) == "depth: no value given; give exactly one of depth_in, depth_mm."


def test_an_on_level_above_the_inlet_warns_at_the_callers_line():
    with pytest.warns(dp.PitWarning) as seen:
        pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13, inlet_in=12)
    assert [str(w.message) for w in seen] == [
        "on level 13 in is above the inlet's invert 12 in: water backs up into the inlet pipe "
        "before the pump starts; lower the on float or raise the inlet."
    ]
    assert seen[0].filename == __file__
    assert pit.inlet_mm == pytest.approx(304.8)


def test_an_inlet_at_or_above_the_on_level_is_silent():
    assert r1_pit(inlet_in=13).inlet_in == 13
    assert r1_pit(inlet_in=[14, 20]).shape == (2,)


def test_a_pit_stays_as_built_and_says_what_it_is():
    pit = r1_pit(alarm_in=18, body_volume_gal=0.5, body_height_in=10)
    with pytest.raises(AttributeError) as err:
        pit._depth = None
    assert str(err.value) == "_depth is read-only; build a new Pit instead."
    assert str(pit) == (
        "Pit(diameter 18 in (457 mm), depth 30 in (762 mm), off 6 in (152 mm), "
        "on 13 in (330 mm), alarm 18 in (457 mm), body 0.5 gal (1.89 L), "
        "body height 10 in (254 mm); working volume 7.51 gal (28.4 L))"
    )
