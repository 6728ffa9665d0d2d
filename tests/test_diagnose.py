"""Single causes behind a measured flow, each recomputed another way."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from tests.problems import PUMP_A, r1_line

LINE = r1_line()
FOUND = dp.field.diagnose(PUMP_A, LINE, measured_gpm=18, sigma_gpm=1)
SIZES = dict(zip(FOUND.causes, FOUND.to_frame().set_index("cause").loc[list(FOUND.causes), "size"],
                 strict=True))  # fmt: skip


@pytest.mark.parametrize(
    ("cause", "size", "within"),
    [
        ("head factor", 0.61, 0.005),
        ("deposit", 0.036, 0.0005),
        ("extra K", 51, 0.5),
        ("extra lift", 6.7, 0.05),
        ("leak at the pump", 16, 0.5),
    ],
)
def test_what_each_cause_would_have_to_be(cause: str, size: float, within: float) -> None:
    assert FOUND.expected_gpm == pytest.approx(25.68, abs=0.01)
    assert SIZES[cause] == pytest.approx(size, abs=within)


def test_the_deposit_leaves_a_bore_of_1_52_in() -> None:
    assert 1.59 - 2 * SIZES["deposit"] == pytest.approx(1.52, abs=0.005)


def rebuilt(cause: str) -> float:
    """Flow at the outlet of a site built anew from public parts with the cause in it."""
    size = SIZES[cause]
    if cause == "head factor":
        return float(dp.operating_point(PUMP_A.worn(head=size), LINE).flow_gpm)
    changes: dict[str, Any] = {}
    if cause == "deposit":
        changes["pipe"] = dp.Pipe(bore_in=1.59 - 2 * size, roughness_ft=size / 12)
    elif cause == "extra K":
        changes["k"] = size
    elif cause == "extra lift":
        changes["lift_ft"] = 6 + size
    else:
        changes["outlet"] = dp.PopUpOutlet(opening_head_ft=0.25, gap_in=size, body_in=1.59)
    return float(dp.operating_point(PUMP_A, r1_line(**changes)).flow_gpm)


@pytest.mark.parametrize("cause", ["head factor", "deposit", "extra K", "extra lift", "lid gap"])
def test_put_back_in_it_gives_the_measured_flow(cause: str) -> None:
    assert rebuilt(cause) == pytest.approx(18, rel=0.03)
    # and in fact as closely as the root was found
    assert rebuilt(cause) == pytest.approx(18, rel=1e-6)


def test_rounded_as_printed_each_cause_still_gives_it_within_3_percent() -> None:
    assert dp.operating_point(PUMP_A.worn(head=0.61), LINE).flow_gpm == pytest.approx(18, rel=0.03)
    for changes in (
        {"pipe": dp.Pipe(bore_in=1.518, roughness_ft=0.036 / 12)},
        {"k": 51},
        {"lift_ft": 12.7},
    ):
        flow = dp.operating_point(PUMP_A, r1_line(**changes)).flow_gpm
        assert flow == pytest.approx(18, rel=0.03)


def test_a_leak_out_of_the_pit() -> None:
    i = FOUND.causes.index("leak at the pump")
    assert FOUND.flow_gpm[i] == pytest.approx(18, rel=1e-6)
    assert FOUND.pit_gpm[i] == pytest.approx(34, abs=0.2)
    # the pump makes at 34 gpm what the line asks at 18
    made = PUMP_A.head(flow_gpm=FOUND.pit_gpm[i]).head_ft
    assert made == pytest.approx(LINE.head(flow_gpm=18).head_ft, rel=1e-6)


def test_a_leak_back_into_the_pit_is_said_to_read_like_wear() -> None:
    assert "a leak back into the pit reads the same by bucket and drawdown" in FOUND.says[0]


def test_every_recomputed_flow_is_the_measured_one() -> None:
    assert FOUND.status.tolist() == ["ok"] * 6
    np.testing.assert_allclose(FOUND.flow_gpm, 18, rtol=1e-6)


def test_plausibilities_sum_to_1_and_follow_the_priors() -> None:
    assert FOUND.plausibility.sum() + FOUND.chance == pytest.approx(1)
    # 6.7 ft of lift is nearly seven times the scale of an error of lift
    assert FOUND.plausibility[FOUND.causes.index("extra lift")] < 1e-3
    loose = dp.field.diagnose(
        PUMP_A, LINE, measured_gpm=18, sigma_gpm=1,
        priors=dp.field.Priors(lift_ft=7, weights={"deposit": 0}),
    )  # fmt: skip
    shares = dict(zip(loose.causes, loose.plausibility, strict=True))
    assert shares["extra lift"] > 0.1
    assert shares["deposit"] == 0


def test_plausibility_is_the_mean_over_the_usual_sizes() -> None:
    # by another road: 200,000 draws of wear and of lift through the plain solver
    rng = np.random.default_rng(5)
    n = 200_000
    usual = {
        "head factor": dp.operating_point(
            PUMP_A.worn(head=np.maximum(1 - 0.15 * np.abs(rng.standard_normal(n)), 0.02)), LINE
        ).flow_gpm,
        "extra lift": dp.operating_point(
            PUMP_A, r1_line(lift_ft=6 + 2 * rng.standard_normal(n))
        ).flow_gpm,
    }
    mean = {k: np.exp(-0.5 * ((20 - q) / 1.5) ** 2).mean() for k, q in usual.items()}
    found = dp.field.diagnose(
        PUMP_A, LINE, measured_gpm=20, sigma_gpm=1.5, priors=dp.field.Priors(lift_ft=2)
    )
    ours = dict(zip(found.causes, found.plausibility, strict=True))
    ratio = ours["head factor"] / ours["extra lift"]
    assert ratio == pytest.approx(mean["head factor"] / mean["extra lift"], rel=0.02)
    none = np.exp(-0.5 * ((20 - 25.684) / 1.5) ** 2)
    assert ours["head factor"] / found.chance == pytest.approx(mean["head factor"] / none, rel=0.02)


def test_near_the_expected_flow_nothing_need_be_wrong() -> None:
    found = dp.field.diagnose(PUMP_A, LINE, measured_gpm=25.5, sigma_gpm=1, expected_error_gpm=1.3)
    others = found.plausibility
    assert (others >= 0).all()
    assert found.chance >= others.max() > 0


def test_more_than_expected_has_few_causes() -> None:
    found = dp.field.diagnose(PUMP_A, LINE, measured_gpm=28, sigma_gpm=1)
    frame = found.to_frame().set_index("cause")
    assert frame.loc["head factor", "size"] > 1
    assert frame.loc["head factor", "plausibility"] == 0
    assert frame.loc["extra lift", "size"] < 0
    assert frame.loc["deposit", "status"] == "cannot_explain"
    assert np.isnan(frame.loc["deposit", "size"])
    with pytest.raises(dp.StatusError) as err:
        found.require()
    assert str(err.value) == (
        "Diagnosis at index (1,): cannot_explain; no size of this cause alone, within its range, "
        "gives this flow"
    )


def test_the_next_test_reads_what_the_causes_say() -> None:
    names = [t.name for t in FOUND.tests]
    assert FOUND.next_test is FOUND.tests[0]
    powers = [t.power for t in FOUND.tests]
    assert all(0 <= p <= 1 for p in powers)
    assert powers == sorted(powers, reverse=True)
    gauge = FOUND.tests[names.index("gauge at the pump")].readings
    asked = LINE.head(flow_gpm=18).head_ft
    assert gauge["head factor"] == pytest.approx(asked, rel=1e-6)
    assert gauge["extra K"] == pytest.approx(PUMP_A.head(flow_gpm=18).head_ft, rel=1e-6)
    shut = FOUND.tests[names.index("gauge with the valve shut")].readings
    assert shut["head factor"] == pytest.approx(20 * 0.6134, abs=0.01)
    assert shut["deposit"] == pytest.approx(20)
    bare = FOUND.tests[names.index("bucket with the lid off")].readings
    assert bare["lid gap"] == pytest.approx(25.93, abs=0.01)


def test_the_next_test_is_the_one_between_the_two_that_are_left() -> None:
    """With two causes in question, the test that sees their difference comes first."""

    def next_of(*left: str) -> str:
        weights = {c: float(c in left) for c in FOUND.causes}
        priors = dp.field.Priors(weights=weights, lift_ft=5)
        found = dp.field.diagnose(PUMP_A, LINE, measured_gpm=18, sigma_gpm=1, priors=priors)
        return str(found.next_test.name)

    assert next_of("extra K", "extra lift") == "lift by level"
    assert next_of("extra K", "lid gap") == "bucket with the lid off"
    assert next_of("head factor", "deposit").startswith("gauge")
    assert next_of("extra K", "leak at the pump") == "gauge at the pump"
    assert next_of("head factor", "leak at the pump") in ("gauge with the valve shut", "drawdown")


def test_a_pop_up_outlet_keeps_its_own_ring() -> None:
    line = r1_line(outlet=dp.PopUpOutlet(opening_head_ft=0.25, gap_in=0.25, body_in=4))
    found = dp.field.diagnose(PUMP_A, line, measured_gpm=18, sigma_gpm=1)
    gap = found.to_frame().set_index("cause").loc["lid gap", "size"]
    narrow = r1_line(outlet=dp.PopUpOutlet(opening_head_ft=0.25, gap_in=gap, body_in=4))
    assert dp.operating_point(PUMP_A, narrow).flow_gpm == pytest.approx(18, rel=1e-6)
    # 4-in lid: the same area under a wider ring
    assert gap == pytest.approx(SIZES["lid gap"] * 1.59 / 4, rel=0.02)


def test_behind_a_high_point_the_causes_still_hold() -> None:
    pipe = dp.Pipe(bore_in=1.59)
    up = dp.Run(pipe=pipe, length_ft=30, rise_ft=12, k=3.9)
    down = dp.Run(pipe=pipe, length_ft=120, rise_ft=-8, k=2.4)
    found = dp.field.diagnose(
        PUMP_A, dp.DischargeLine(runs=[up, down]), measured_gpm=20, sigma_gpm=1
    )
    known = found.status == "ok"
    np.testing.assert_allclose(found.flow_gpm[known], 20, rtol=1e-6)
    assert known.sum() >= 5


@given(st.floats(8, 25))
@settings(max_examples=10, deadline=None)
def test_a_lower_flow_never_needs_a_smaller_cause(flow: float) -> None:
    a = dp.field.diagnose(PUMP_A, LINE, measured_gpm=flow, sigma_gpm=1).sizes
    b = dp.field.diagnose(PUMP_A, LINE, measured_gpm=flow - 1, sigma_gpm=1).sizes
    # head factor and lid gap shrink; deposit, K, lift and leak grow
    way = np.array([-1, 1, 1, -1, 1, 1])
    change = way * (b - a)
    assert (change[np.isfinite(change)] > 0).all()


def test_metric_and_us_agree() -> None:
    metric = dp.field.diagnose(PUMP_A, LINE, measured_lps=18 * 0.0630901964, sigma_lps=0.0630901964)
    a, b = (x.to_frame("metric").set_index("cause") for x in (FOUND, metric))
    np.testing.assert_allclose(a["size"], b["size"], rtol=1e-6)
    assert a.loc["deposit", "unit"] == "mm"
    assert a.loc["deposit", "size"] == pytest.approx(25.4 * SIZES["deposit"])


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            {"measured_gpm": 0},
            "measured_gpm=0: must be one number above 0; a site that gives nothing needs its "
            "power, float and check valve looked at.",
        ),
        (
            {"measured_gpm": 55},
            "measured 55 gpm (3.47 L/s): lies outside the points of pump 'A', so its head there "
            "is not known; check the reading and the curve.",
        ),
        (
            {"line": r1_line(lift_ft=30)},
            "diagnose: as built the site is no_flow, with no flow to compare; check pump and line "
            "first.",
        ),
    ],
)
def test_refusals(change: dict, message: str) -> None:
    given = {"line": LINE, "measured_gpm": 18, "sigma_gpm": 1} | change
    with pytest.raises(dp.InputError) as err:
        dp.field.diagnose(PUMP_A, **given)
    assert str(err.value) == message


def test_an_unknown_cause_in_the_weights_is_named() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.field.Priors(weights={"extra k": 2})
    assert str(err.value) == (
        "weights: unknown cause 'extra k'; did you mean 'extra K' or 'extra lift'?"
    )


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"lift_ft": 0}, "lift_ft=0: must be finite and more than 0 ft; give a positive number."),
        (
            {"gap_in": 1, "gap_mm": 25},
            "gap_in=1 and gap_mm=25: more than one unit given; give exactly one of gap_in, gap_mm.",
        ),
        (
            {"head_loss": 2.0},
            "head_loss=2.0: must be more than 0 and at most 1; give the scale of its usual size.",
        ),
    ],
)
def test_priors_that_cannot_be(given: dict, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.field.Priors(**given)
    assert str(err.value) == message
