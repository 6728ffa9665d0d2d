"""Field tests, verdicts and records beside sites drawn from stated priors.

``DRAINPUMP_ORACLES=600 pytest tests/test_oracles_field.py`` draws 600 sites each.
"""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump.errors import InputError
from tests.oracles import field as oracle
from tests.oracles.many import many
from tests.problems import BORES_IN, FLOWS_GPM, PUMP_A, r1_line

YARD = oracle.Yard()
LINE = r1_line()
field = dp.field


# ------------------------------------------------------------------ the oracle itself


def test_the_oracle_gives_the_reference_flows_and_the_stated_faults() -> None:
    for bore, flow in zip(BORES_IN, FLOWS_GPM["A"], strict=True):
        assert oracle.Yard(bore_in=bore).flow() == pytest.approx(flow, abs=0.006)
    # the sizes that three solvers found behind 18 gpm
    assert YARD.flow(head=0.61) == pytest.approx(18, abs=0.15)
    assert YARD.flow(extra_k=51.0) == pytest.approx(18, abs=0.1)
    assert YARD.flow(lift=6.7) == pytest.approx(18, abs=0.1)
    assert YARD.flow(leak=16.0) == pytest.approx(18, abs=0.3)
    rng = np.random.default_rng(1)
    low, high = np.quantile(oracle.healthy(YARD, 20000, rng), [0.1, 0.9])
    drawn = dp.band(PUMP_A, LINE, dp.Doubt.usual()).flow_gpm
    assert [low, high] == pytest.approx([drawn["p10"], drawn["p90"]], rel=0.005)


# ------------------------------------------------------------------ verdict


@pytest.mark.parametrize("reading", [20.0, 23.0, 24.5, 25.6, 27.0, 29.0])
def test_a_verdict_takes_the_prediction_as_its_prior(reading: float) -> None:
    test = field.meter_test(flow_gpm=reading, sigma_gpm=2.5)
    got = field.verdict(PUMP_A, LINE, test, dp.Doubt.usual())
    flows = oracle.healthy(YARD, 40000, np.random.default_rng(20))
    wanted = oracle.inside(flows, float(got.low_gpm), float(got.high_gpm), reading, 2.5)
    assert [got.below, got.inside, got.above] == pytest.approx(wanted.tolist(), abs=0.03)


def test_over_healthy_sites_inside_is_what_truly_is() -> None:
    rng = np.random.default_rng(21)
    sites = oracle.healthy(YARD, many(16), rng)
    said, true = [], []
    for flow in sites:
        test = field.meter_test(flow_gpm=float(flow + 2.5 * rng.standard_normal()), sigma_gpm=2.5)
        got = field.verdict(PUMP_A, LINE, test, dp.Doubt.usual(), samples=256)
        said.append(float(got.inside))
        true.append(got.low_gpm <= flow <= got.high_gpm)
    assert np.mean(said) == pytest.approx(0.8, abs=0.05 + 0.2 / np.sqrt(len(said)))
    assert np.mean(true) == pytest.approx(0.8, abs=3 * np.sqrt(0.16 / len(true)))


def test_the_sheet_prints_the_verdict() -> None:
    record = field.as_built_record(PUMP_A, LINE, name="s", built_on="2026-04-30")
    record = record.with_test(field.meter_test(flow_gpm=23, sigma_gpm=2.5), on="2026-05-02")
    flows = oracle.healthy(YARD, 40000, np.random.default_rng(20))
    low, high = np.quantile(flows, [0.1, 0.9])
    wanted = oracle.inside(flows, low, high, 23.0, 2.5)
    row = next(x for x in record.to_markdown().splitlines() if x.startswith("| 2026-05-02"))
    printed = [float(x.strip(" %")) / 100 for x in row.split("|") if x.strip().endswith("%")]
    assert printed[:3] == pytest.approx(wanted.tolist(), abs=0.04)


# ------------------------------------------------------------------ calibrate


def fills(factor: float, rng: np.random.Generator, *, number: int = 10) -> list[Any]:
    """So many fills of one 25-gal barrel, whose own error of 0.5 gal they share."""
    flow = float(YARD.flow(head=factor))
    true = 25 + 0.5 * rng.standard_normal()
    seconds = true / flow * 60 + 0.5 * rng.standard_normal(number)
    return [field.bucket_test(volume_gal=25, fill_s=t, volume_error_gal=0.5) for t in seconds]


@pytest.mark.parametrize("number", [1, 3, 10, 30])
def test_fills_of_one_barrel_share_its_error(number: int) -> None:
    seconds = 5 / float(YARD.flow()) * 60
    tests = [field.bucket_test(volume_gal=5, fill_s=seconds)] * number
    found = field.calibrate(PUMP_A, LINE, tests, fit="head_factor")
    wanted = oracle.barrel_error(YARD, 5, number, 0.1, 0.5)
    assert found.values["head_factor"] == pytest.approx(1, abs=0.002)
    assert found.standard_errors["head_factor"] == pytest.approx(wanted, rel=0.03)


def test_one_sigma_covers_the_truth_as_often_as_it_should() -> None:
    rng, runs, within = np.random.default_rng(22), many(120), 0
    for _ in range(runs):
        factor = float(rng.uniform(0.75, 1.05))
        found = field.calibrate(PUMP_A, LINE, fills(factor, rng), fit="head_factor")
        error = abs(found.values["head_factor"] - factor)
        within += error < found.standard_errors["head_factor"]
    assert within / runs == pytest.approx(0.68, abs=0.08 * np.sqrt(max(600 / runs, 1)))


def test_drawdowns_in_one_pit_share_its_diameter() -> None:
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    volume = np.pi / 4 * 18**2 * 7 / 231
    flow = float(YARD.flow(lift=-3.5 / 12))
    tests = [field.drawdown_test(pit, from_in=13, to_in=6, run_s=volume / flow * 60)] * 10
    found = field.calibrate(PUMP_A, LINE, tests, fit="head_factor")
    step = 1e-4
    slope = (
        YARD.flow(head=1 + step, lift=-3.5 / 12) - YARD.flow(head=1 - step, lift=-3.5 / 12)
    ) / (2 * step)
    # twice the diameter's 0.25/18, which no repetition takes away
    least = flow * 2 * 0.25 / 18 / float(slope)
    assert found.standard_errors["head_factor"] >= 0.98 * least


# ------------------------------------------------------------------ gauges and records


@pytest.mark.parametrize("value", ["no", "yes", None, np.nan])
def test_a_valve_is_shut_or_not(value: Any) -> None:
    with pytest.raises(InputError) as err:
        field.gauge_test(PUMP_A, pressure_psi=6, gauge_above_water_ft=2, valve_shut=value)
    assert str(err.value).startswith(f"valve_shut={value!r}: ")


PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13, alarm_in=20)
PLATE = dp.PumpCurve(
    name="plate", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0],
    power_w=[250, 300, 340, 350], voltage_v=115, current_a=5.2, price=200, invented=True,
)  # fmt: skip


def record(**more: Any) -> dp.field.Record:
    """An invented site with two tests."""
    built = field.as_built_record(
        PLATE, LINE, name="s", built_on="2026-04-30", need_gpm=20, samples=64, **more
    )
    bucket = field.bucket_test(volume_gal=5, fill_s=12)
    gauge = field.gauge_test(PLATE, pressure_psi=6, gauge_above_water_ft=2)
    return built.with_test(bucket, on="2026-05-02").with_test(gauge, on="2026-05-02", note="damp")


@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("prediction", "p10_lps"), 99.0),
        (("prediction", "p10_lps"), -1.0),
        (("prediction", "p50_lps"), np.nan),
        (("prediction", "p90_lps"), 1e308),
        (("need_lps",), -1.0),
        (("need_lps",), 1e308),
        (("tests", 0, "test", "flow_lps"), -1.0),
        (("tests", 0, "test", "flow_lps"), np.nan),
        (("tests", 0, "test", "sigma_lps"), 0.0),
        (("tests", 0, "test", "sigma_lps"), 1e308),
        (("tests", 1, "test", "head_m"), -3.0),
        (("tests", 0, "test", "shares", "volume"), 7.0),
        (("line", "runs", 0, "length_ft"), -150.0),
        (("line", "runs", 0, "length_ft"), 1e308),
        (("pump", "flow_gpm", 2), -3.0),
        (("doubt", "length_pct"), -5.0),
    ],
    ids=lambda x: ".".join(map(str, x)) if isinstance(x, tuple) else None,
)
def test_a_record_refuses_by_place_what_cannot_be(place: tuple[Any, ...], value: float) -> None:
    document = json.loads(record().to_json())
    at = document
    for key in place[:-1]:
        at = at[key]
    at[place[-1]] = value
    with pytest.raises(InputError) as err:
        field.Record.from_json(json.dumps(document))
    branch = "".join(f"[{x}]" if isinstance(x, int) else f".{x}" for x in place[:2]).lstrip(".")
    assert branch in str(err.value)


def test_a_record_read_back_says_what_was_built() -> None:
    built = record()
    again = field.Record.from_json(built.to_json())
    assert again.line.runs[0].fittings == built.line.runs[0].fittings
    assert "check_valve_swing" in again.line.runs[0].fittings
    assert repr(again.line.runs[0]) == repr(built.line.runs[0])
    assert (again.pump.voltage_v, again.pump.current_a) == (115, 5.2)
    assert again.pump.power_w.tolist() == [250, 300, 340, 350]
    assert again.pump.invented
    assert [(x.on, x.note) for x in again.tests] == [(x.on, x.note) for x in built.tests]
    assert again.to_markdown() == built.to_markdown()
    assert again.to_json() == built.to_json()


def test_a_record_keeps_its_pit_and_floats() -> None:
    built = record(pit=PIT)
    again = field.Record.from_json(built.to_json())
    for one in (built, again):
        assert (one.pit.diameter_in, one.pit.off_in, one.pit.on_in, one.pit.alarm_in) == (
            18, 6, 13, 20,
        )  # fmt: skip
        assert "13 in" in one.to_markdown()
