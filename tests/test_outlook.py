"""Flow over the years at stated rates."""

from __future__ import annotations

import numpy as np
import pytest

import drainpump as dp
from tests.problems import PUMP_A, r1_line

LINE = r1_line()


def test_without_spread_it_is_the_site_rebuilt_at_each_age() -> None:
    ahead = dp.field.outlook(
        PUMP_A, LINE, horizon_year=20, deposit_in_per_year=0.002, wear_per_year=0.01, rate_log=0
    )
    for i in (0, 10, 40):
        age = ahead.age_year[i]
        thick = 0.002 * age
        pipe = dp.Pipe(bore_in=1.59 - 2 * thick, roughness_ft=max(5e-6, thick / 12))
        flow = dp.operating_point(PUMP_A.worn(head=0.99**age), r1_line(pipe=pipe)).flow_gpm
        assert ahead.p10_gpm[i] == pytest.approx(flow, rel=1e-9)
        assert ahead.p90_gpm[i] == pytest.approx(flow, rel=1e-9)


def test_where_it_falls_below_the_need() -> None:
    ahead = dp.field.outlook(
        PUMP_A, LINE, horizon_year=40, wear_per_year=0.01, rate_log=0, need_gpm=20
    )
    # the head factor at which the line gets 20 gpm, by hand
    factor = LINE.head(flow_gpm=20).head_ft / (20 * (1 - 0.4**2))
    years = np.log(factor) / np.log(0.99)
    assert ahead.falls_below_year["p50"] == pytest.approx(years, rel=1e-3)


def test_the_spread_of_the_rate_is_the_spread_of_the_year() -> None:
    ahead = dp.field.outlook(
        PUMP_A, LINE, horizon_year=100, deposit_in_per_year=0.002, need_gpm=20, samples=1024
    )
    years = ahead.falls_below_year
    # thickness is rate times age: the year is lognormal as the rate is
    ratio = np.log(years["p90"] / years["p50"])
    assert ratio == pytest.approx(0.5 * 1.2816, rel=0.06)
    i = int(np.searchsorted(ahead.age_year, years["p50"]))
    assert ahead.probability[i - 1] >= 0.5 >= ahead.probability[i]


def test_bands_are_ordered_and_fall() -> None:
    ahead = dp.field.outlook(
        PUMP_A, LINE, horizon_year=30, deposit_in_per_year=0.001, wear_per_year=0.01
    )
    bands = np.array([ahead.p10_gpm, ahead.p50_gpm, ahead.p90_gpm])
    assert (np.diff(bands, axis=0) >= 0).all()
    assert (np.diff(bands, axis=1) < 0).all()
    np.testing.assert_allclose(bands[:, 0], 25.68, atol=0.01)
    assert ahead.to_frame("metric").columns.tolist() == [
        "axis_0", "age_year", "p10_lps", "p50_lps", "p90_lps", "status",
    ]  # fmt: skip


def test_a_need_never_carried_or_never_lost() -> None:
    given = {"horizon_year": 5, "wear_per_year": 0.001}
    assert dp.field.outlook(PUMP_A, LINE, **given, need_gpm=30).falls_below_year["p50"] == 0
    assert dp.field.outlook(PUMP_A, LINE, **given, need_gpm=5).falls_below_year["p10"] == np.inf


def test_same_seed_same_numbers() -> None:
    given = {"horizon_year": 5, "wear_per_year": 0.01}
    a, b, c = (dp.field.outlook(PUMP_A, LINE, **given, seed=s).p10_gpm for s in (1, 1, 2))
    np.testing.assert_array_equal(a, b)
    assert not np.array_equal(a, c)


def test_both_spellings_agree() -> None:
    us = dp.field.outlook(PUMP_A, LINE, horizon_year=9, deposit_in_per_year=0.002)
    metric = dp.field.outlook(PUMP_A, LINE, horizon_year=9, deposit_mm_per_year=0.0508)
    np.testing.assert_allclose(us.p50_lps, metric.p50_lps, rtol=1e-12)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        (
            {},
            "outlook: no rate given; give deposit_in_per_year (or _mm_per_year), wear_per_year, or "
            "both.",
        ),
        (
            {"wear_per_year": 0.7},
            "wear_per_year=0.7: must be from 0 to 0.5; give the share of head lost a year.",
        ),
        (
            {"horizon_year": 0, "wear_per_year": 0.1},
            "horizon_year=0: must be finite and more than 0 years; give a positive number.",
        ),
        (
            {"deposit_in_per_year": [0.001, 0.002]},
            "deposit_in_per_year=[0.001, 0.002]: must be one number; ask for one at a time.",
        ),
        (
            {"wear_per_year": 0.1, "seed": -1},
            "seed=-1: must be a whole number, 0 or more; give another.",
        ),
    ],
)
def test_refusals(given: dict, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.field.outlook(PUMP_A, LINE, **({"horizon_year": 10} | given))
    assert str(err.value) == message


def test_the_year_needs_a_need() -> None:
    ahead = dp.field.outlook(PUMP_A, LINE, horizon_year=5, wear_per_year=0.01)
    with pytest.raises(dp.InputError) as err:
        ahead.falls_below_year  # noqa: B018
    assert str(err.value) == "falls_below_year: no need was given; give outlook a need_gpm."
