"""Ponds by survey and by form, beside the formulas of cones, planes and paraboloids."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp

Pond = dp.PondStorage
SQUARE: dict[str, Any] = {"x_ft": [0, 20, 20, 0, 10], "y_ft": [0, 0, 20, 20, 10],
                          "z_ft": [10, 10, 10, 10, 9]}  # fmt: skip


def cone(sides: int, radius: float, deep: float) -> dict[str, Any]:
    """A pyramid of so many sides, with spots on rings, which is exact between plane faces."""
    angle = np.arange(sides) * 2 * np.pi / sides
    rings = [(0.0, 0.0, 0.0)]
    for share in (0.25, 0.6, 1.0):
        rings += [(share * radius * np.cos(a), share * radius * np.sin(a), share * deep)
                  for a in angle]  # fmt: skip
    x, y, z = np.array(rings).T
    return {"x_m": x + 300, "y_m": y - 40, "z_m": z + 220}


def test_a_cone_has_a_third_of_base_times_height() -> None:
    sides, radius, deep = 64, 6.0, 0.5
    pond = Pond.from_survey(**cone(sides, radius, deep))
    base = 0.5 * sides * radius**2 * np.sin(2 * np.pi / sides)
    depth = pond.depth_mm / 1e3
    assert depth[-1] == pytest.approx(deep)
    assert pond.volume_l / 1e3 == pytest.approx(base * depth**3 / (3 * deep**2), rel=1e-9)


def test_a_valley_between_two_planes_is_a_wedge() -> None:
    # sides fall 1 in 20 to a level bottom line, both ends walled: V = length x depth² x 20
    x = np.repeat([-10.0, 0.0, 10.0], 2)
    y = np.tile([0.0, 30.0], 3)
    z = np.abs(x) / 20
    ends = [(float(a), b, 0.5) for a in (-10, 0, 10) for b in (-1e-6, 30 + 1e-6)]
    more = np.array(ends).T
    pond = Pond.from_survey(x_m=np.append(x, more[0]), y_m=np.append(y, more[1]),
                            z_m=np.append(z, more[2]))  # fmt: skip
    depth = pond.depth_mm / 1e3
    assert pond.volume_l / 1e3 == pytest.approx(30 * depth**2 * 20, rel=1e-6)


@given(st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_the_volume_is_that_of_a_fine_grid(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wall = np.array([(0, 0), (8, 0), (8, 6), (0, 6)], dtype=float)
    plan = np.concatenate([wall, rng.uniform([0.5, 0.5], [7.5, 5.5], (12, 2))])
    z = np.concatenate([np.full(4, 1.0), rng.uniform(0, 0.8, 12)])
    pond = Pond.from_survey(x_m=plan[:, 0], y_m=plan[:, 1], z_m=z)
    from scipy.interpolate import LinearNDInterpolator

    x, y = np.meshgrid((np.arange(400) + 0.5) / 50, (np.arange(300) + 0.5) / 50)
    height = LinearNDInterpolator(plan, z)(x, y)
    rows = np.array([20, 40, 59])
    level = z.min() + pond.depth_mm[rows] / 1e3
    by_grid = [np.clip(h - height, 0, None).sum() / 2500 for h in level]
    assert pond.volume_l[rows] / 1e3 == pytest.approx(by_grid, rel=0.01, abs=2e-4)
    assert np.all(np.diff(pond.volume_l) > 0)


def test_a_rim_above_the_lowest_spot_counts_from_the_rim() -> None:
    whole, above = Pond.from_survey(**SQUARE), Pond.from_survey(**SQUARE, rim_ft=9.5)
    assert above.depth_in[-1] == pytest.approx(6)
    half = 400 * 0.5**3 / 3  # ft³ below the rim
    assert above.volume_gal[-1] == pytest.approx(whole.volume_gal[-1] - half * 1728 / 231)


def test_a_pond_comes_back_from_plain_values_and_is_changed_by_its_own_words() -> None:
    for pond in (Pond.from_survey(**SQUARE), Pond.bowl(area_ft2=800, depth_in=6)):
        again = Pond.from_dict(json.loads(json.dumps(pond.to_dict())))
        assert again == pond
        assert again.volume_gal.tolist() == pond.volume_gal.tolist()
    raised = Pond.from_survey(**SQUARE).replace(z_ft=[11, 11, 11, 11, 9])
    assert raised.depth_in[-1] == pytest.approx(24)
    branch = dp.inflow.Collector(bore_in=4, slope=0.01, n=0.012,
                                 pond_storage=Pond.bowl(area_m2=50, depth_mm=100))  # fmt: skip
    assert dp.inflow.Collector.from_dict(json.loads(json.dumps(branch.to_dict()))) == branch


def test_a_file_of_spot_heights_is_read_or_refused_by_row(tmp_path: Path) -> None:
    file = tmp_path / "yard.csv"
    rows = "\n".join(",".join(map(str, row)) for row in zip(*SQUARE.values(), strict=True))
    file.write_text(f"# invented\nx_ft,y_ft,z_ft\n{rows}\n")
    assert Pond.read_survey(file) == Pond.from_survey(**SQUARE)
    assert Pond.read_survey(file, rim_ft=9.5) == Pond.from_survey(**SQUARE, rim_ft=9.5)
    file.write_text("x_ft,y_ft,z_ft\n0,0,ten\n1,2\n")
    with pytest.raises(dp.InputError) as err:
        Pond.read_survey(file)
    assert str(err.value) == (
        "2 problems in the file:\n"
        "  yard.csv, row 3: '1,2': must have 3 cells, one for each column name, not 2\n"
        "  yard.csv, row 2, column 'z_ft': 'ten': must be a number such as 12.5; write decimals "
        "with a point and no unit"
    )
    file.write_text("x,y,z\n0,0,1\n")
    with pytest.raises(dp.InputError, match="row 1: 'x,y,z': must have x_ft, y_ft, z_ft or x_m"):
        Pond.read_survey(file)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"z_ft": [10, 10, 10, 10]}, "PondStorage: x, y and z of shapes (5,), (5,) and (4,); give "
         "three lists of one length, 3 to 20000 spots."),
        ({"z_ft": [10, 10, 10, np.nan, 9]}, "PondStorage: spot 3 is missing (NaN); leave it out."),
        ({"x_ft": [0, 20, 20, 0, 20], "y_ft": [0, 0, 20, 20, 20]},
         "PondStorage: spot 2 stands twice in plan; give each spot once."),
        ({"x_ft": [0, 1, 2, 3, 4], "y_ft": [0, 1, 2, 3, 4]},
         "PondStorage: all spots lie on one line; give spots across it as well."),
        ({"z_ft": [10, 10, 10, 9, 9]}, "PondStorage: the survey's edge is as low as the rim, so "
         "water would run off; survey up to the ground that holds it."),
        ({"rim_ft": 8}, "rim_ft=8: must be at the lowest spot or above it, 9 ft (2.74 m); check "
         "the heights."),
    ],
)  # fmt: skip
def test_a_survey_that_cannot_be_is_refused(change: dict[str, Any], message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        Pond.from_survey(**SQUARE | change)
    assert str(err.value) == message


def test_a_bowl_is_a_paraboloid() -> None:
    pond = Pond.bowl(area_m2=60, depth_mm=300)
    share = pond.depth_mm / 300
    assert pond.volume_l == pytest.approx(0.5 * 60 * 300 * share**2)
    with pytest.raises(dp.InputError) as err:
        Pond.from_dict({"kind": "sea"})
    assert str(err.value) == "kind='sea': must be one of ('survey', 'bowl'); or leave it out."
