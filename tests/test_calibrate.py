"""Fitting wear, friction and obstructions to field tests."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import qmc

import drainpump as dp
from tests.problems import PUMP_A, r1_line

LEVELS_FT = (0.0, 0.6)
C, WEAR = 120.0, 0.85
AS_BUILT = r1_line(friction="hazen_williams")


def readings_of(pump: dp.PumpCurve, line: dp.DischargeLine) -> list[dp.field.FieldTest]:
    """A flow and a gauge reading at two water levels, without noise."""
    op = dp.operating_point(pump, line, level_above_off_ft=LEVELS_FT)
    gauge = dp.field.gauge_test(PUMP_A, pressure_psi=5, gauge_above_water_ft=2)
    flows = [
        dp.field.meter_test(flow_gpm=q, sigma_gpm=0.6, level_above_off_ft=level)
        for q, level in zip(op.flow_gpm, LEVELS_FT, strict=True)
    ]
    heads = [
        replace(gauge, _head=np.asarray(h * 0.3048), _level=np.asarray(level * 0.3048))
        for h, level in zip(op.head_ft, LEVELS_FT, strict=True)
    ]
    return flows + heads


def worn_site() -> tuple[dp.PumpCurve, dp.DischargeLine]:
    pipe = dp.Pipe(bore_in=1.59, hazen_williams_c=C)
    return PUMP_A.worn(head=WEAR), r1_line(pipe=pipe, friction="hazen_williams")


def noisy(test: dp.field.FieldTest, z: float) -> dp.field.FieldTest:
    if test._head is None:
        return replace(test, _flow=test._flow + z * test._sigma)
    return replace(test, _head=test._head + z * test._head_sigma)


def test_exact_tests_give_the_site_back() -> None:
    found = dp.field.calibrate(PUMP_A, AS_BUILT, readings_of(*worn_site()))
    assert found.status == "ok"
    assert found.values["head_factor"] == pytest.approx(WEAR, abs=1e-5)
    assert found.values["hazen_williams_c"] == pytest.approx(C, abs=1e-2)
    assert found.misfit == pytest.approx(1, abs=1e-3)
    op = dp.operating_point(found.pump, found.line)
    assert op.flow_gpm == pytest.approx(dp.operating_point(*worn_site()).flow_gpm, rel=1e-4)


def test_recovers_c_and_wear_within_its_own_errors() -> None:
    """Errors in its own standard errors, over evenly laid readings: mean 0 and spread 1."""
    exact = readings_of(*worn_site())
    noise = ndtri(qmc.Sobol(len(exact), seed=2024).random(64))
    off = []
    for row in noise:
        tests = [noisy(t, z) for t, z in zip(exact, row, strict=True)]
        found = dp.field.calibrate(PUMP_A, AS_BUILT, tests)
        off.append(
            [
                (found.values[n] - true) / found.standard_errors[n]
                for n, true in (("head_factor", WEAR), ("hazen_williams_c", C))
            ]
        )
    assert np.mean(off, axis=0) == pytest.approx([0, 0], abs=0.06)
    assert np.std(off, axis=0) == pytest.approx([1, 1], abs=0.06)


def test_one_test_cannot_tell_wear_from_friction() -> None:
    found = dp.field.calibrate(PUMP_A, AS_BUILT, dp.field.meter_test(flow_gpm=18, sigma_gpm=1))
    assert found.status == "cannot_tell"
    assert np.isnan(list(found.values.values())).all()
    assert found.says.startswith(
        "one test cannot tell these apart: head_factor, hazen_williams_c. Each alone: head_factor "
    )
    alone = {x.fitted[0]: x for x in found.alternatives}
    # what the line asks at 18 gpm over what a new pump makes there
    by_hand = AS_BUILT.head(flow_gpm=18).head_ft / PUMP_A.head(flow_gpm=18).head_ft
    assert alone["head_factor"].values["head_factor"] == pytest.approx(by_hand, rel=1e-5)
    assert set(alone) == {"head_factor", "hazen_williams_c", "k"}
    assert found.pump is PUMP_A
    with pytest.raises(dp.StatusError) as err:
        found.require()
    assert str(err.value) == (
        "Calibration: cannot_tell; one test cannot tell these apart; add a gauge at the pump "
        "beside a bucket"
    )


def test_two_like_tests_cannot_tell_either_but_a_gauge_can() -> None:
    exact = readings_of(*worn_site())
    assert dp.field.calibrate(PUMP_A, AS_BUILT, [exact[0], exact[0]]).status == "cannot_tell"
    assert dp.field.calibrate(PUMP_A, AS_BUILT, [exact[0], exact[2]]).status == "ok"


def test_an_obstruction_alone() -> None:
    true = dp.operating_point(PUMP_A, r1_line(k=51.0))
    test = dp.field.meter_test(flow_gpm=true.flow_gpm, sigma_gpm=0.5)
    found = dp.field.calibrate(PUMP_A, r1_line(), test, fit="k")
    assert found.values["k"] == pytest.approx(51.0, rel=1e-3)
    # one sigma of the test moved through the solver
    step = dp.field.calibrate(
        PUMP_A,
        r1_line(),
        dp.field.meter_test(flow_gpm=true.flow_gpm - 0.05, sigma_gpm=0.5),
        fit="k",
    )
    slope = (step.values["k"] - found.values["k"]) / 0.05
    assert found.standard_errors["k"] == pytest.approx(0.5 * slope, rel=0.02)


def test_an_obstruction_in_a_line_without_any_k() -> None:
    # K cannot fall below 0 here, and 0 is where it stands
    line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6)
    found = dp.field.calibrate(
        PUMP_A, line, dp.field.meter_test(flow_gpm=18, sigma_gpm=0.5), fit="k"
    )
    asked = (
        dp.field.diagnose(PUMP_A, line, measured_gpm=18, sigma_gpm=0.5)
        .to_frame()
        .set_index("fault")
    )
    assert found.status == "ok"
    assert found.values["k"] == pytest.approx(asked.loc["extra K", "size"], rel=1e-4)
    assert dp.operating_point(PUMP_A, found.line).flow_gpm == pytest.approx(18, rel=1e-5)


def test_roughness_of_a_darcy_line() -> None:
    rough = r1_line(pipe=dp.Pipe(bore_in=1.59, roughness_ft=1e-3))
    test = dp.field.meter_test(flow_gpm=dp.operating_point(PUMP_A, rough).flow_gpm, sigma_gpm=0.5)
    found = dp.field.calibrate(PUMP_A, rough, test, fit="roughness")
    assert found.values["roughness_ft"] == pytest.approx(1e-3, rel=1e-3)
    assert found.values["roughness_m"] == pytest.approx(3.048e-4, rel=1e-3)
    frame = found.to_frame("metric")
    assert frame["parameter"].tolist() == ["roughness_m"]


def test_roughness_of_a_smooth_line_is_not_seen() -> None:
    found = dp.field.calibrate(
        PUMP_A, r1_line(), dp.field.meter_test(flow_gpm=25, sigma_gpm=2), fit="roughness"
    )
    assert found.says == "one test cannot tell roughness: it moves them by less than their error."


def test_a_shut_valve_tells_the_wear_alone() -> None:
    test = dp.field.gauge_test(PUMP_A, pressure_psi=6.5, gauge_above_water_ft=2, valve_shut=True)
    found = dp.field.calibrate(PUMP_A, r1_line(), test, fit="head_factor")
    assert found.values["head_factor"] == pytest.approx(test.head_ft / 20, rel=1e-6)
    assert found.standard_errors["head_factor"] == pytest.approx(test.head_sigma_ft / 20, rel=1e-3)


def test_two_tests_that_disagree_show_in_the_misfit() -> None:
    tests = [dp.field.meter_test(flow_gpm=q, sigma_gpm=0.5) for q in (18, 22)]
    found = dp.field.calibrate(PUMP_A, r1_line(), tests, fit="head_factor")
    # 4 gpm apart, each 2 from the mean of sigma 0.5: chi² 32 with one degree of freedom
    assert found.misfit == pytest.approx(1.5e-8, rel=0.1)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            {"tests": []},
            "tests=[]: must hold at least one FieldTest; make one with bucket_test.",
        ),
        (
            {"tests": 18},
            "tests=18: must be a FieldTest or a list; make one with bucket_test.",
        ),
        (
            {"tests": [18]},
            "tests[0]=18: must be a FieldTest; make one with bucket_test or another.",
        ),
        (
            {"tests": dp.field.bucket_test(volume_gal=5, fill_s=[15, 16])},
            "tests[0]: holds arrays; give each reading as a test of its own.",
        ),
        (
            {"fit": "heed_factor"},
            "fit='heed_factor': must be among ['head_factor', 'k', 'roughness'] for this line; "
            "did you mean 'head_factor'?",
        ),
        (
            {"line": r1_line(length_ft=[100, 150])},
            "calibrate: pump or line holds arrays or lists; give one case: one pump, such as "
            "pumps[0], and one line of scalars.",
        ),
    ],
)
def test_refusals(change: dict, message: str) -> None:
    given = {"line": r1_line(), "tests": dp.field.meter_test(flow_gpm=18, sigma_gpm=1)} | change
    with pytest.raises(dp.InputError) as err:
        dp.field.calibrate(PUMP_A, **given)
    assert str(err.value) == message


def test_a_site_as_predicted_lies_inside_its_band() -> None:
    doubt = dp.Doubt.usual()
    test = dp.field.meter_test(flow_gpm=25.68, sigma_gpm=0.1)
    found = dp.field.verdict(PUMP_A, r1_line(), test, doubt)
    assert found.inside > 0.999
    assert found.below + found.inside + found.above == pytest.approx(1)
    assert found.as_low == pytest.approx(0.5, abs=0.05)
    band = dp.band(PUMP_A, r1_line(), doubt)
    assert found.low_gpm == pytest.approx(band.flow_gpm["p10"], rel=2e-3)
    assert found.high_gpm == pytest.approx(band.flow_gpm["p90"], rel=2e-3)


def test_at_the_edge_of_the_band_a_sure_reading_is_nearly_a_half() -> None:
    doubt = dp.Doubt.usual()
    low = dp.field.verdict(
        PUMP_A, r1_line(), dp.field.meter_test(flow_gpm=25, sigma_gpm=1), doubt
    ).low_gpm
    edge = dp.field.verdict(
        PUMP_A, r1_line(), dp.field.meter_test(flow_gpm=low, sigma_gpm=0.2), doubt
    )
    # flows just inside were likelier before the reading than those just outside
    assert edge.below + edge.inside == pytest.approx(1)
    assert 0.38 < edge.below < 0.5
    assert edge.as_low == pytest.approx(0.10, abs=0.01)


def test_a_verdict_is_at_the_water_level_of_the_test() -> None:
    test = dp.field.meter_test(flow_gpm=25, sigma_gpm=1, level_above_off_ft=0.6)
    found = dp.field.verdict(PUMP_A, r1_line(), test, dp.Doubt(lift_ft=0.01))
    op = dp.operating_point(PUMP_A, r1_line(), level_above_off_ft=0.6)
    assert found.middle_gpm == pytest.approx(op.flow_gpm, rel=1e-4)


def test_a_gauge_gets_no_verdict() -> None:
    gauge = dp.field.gauge_test(PUMP_A, pressure_psi=5, gauge_above_water_ft=2)
    with pytest.raises(dp.InputError) as err:
        dp.field.verdict(PUMP_A, r1_line(), gauge, dp.Doubt.usual())
    assert str(err.value) == (
        "test: a gauge reads a head, and its flow only by the curve in question; give a flow "
        "test, and take the gauge to calibrate."
    )
