"""Which pump is it, and what do readings leave of the doubt: by simulation."""

from __future__ import annotations

import json

import numpy as np
import pytest
from scipy.special import ndtri
from scipy.stats import qmc

import drainpump as dp

BOX = dp.PumpCurve.from_box("box", flow_max_gpm=55, head_max_ft=24, invented=True)
LONG = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
HIGH = dp.straight_line(pipe=dp.pvc("2"), length_ft=60, lift_ft=12, k=6.3)
TOLERANCE = dp.Doubt(grade="up to 10 kW")


def wide(pump: dp.PumpCurve, line: dp.DischargeLine, doubt: dp.Doubt = TOLERANCE) -> float:
    flow = dp.band(pump, line, doubt).flow_gpm
    return float(flow["p90"] - flow["p10"])


# -- what readings leave


def test_one_reading_narrows_the_other_duties_too_and_two_pin_it() -> None:
    true = dp.PumpCurve(
        flow_gpm=(q := np.linspace(0, 54, 50)), head_ft=23.5 * (1 - (q / 54) ** 1.1)
    )
    tests = [
        (line, dp.field.meter_test(flow_gpm=dp.operating_point(true, line).flow_gpm, sigma_gpm=0.4))
        for line in (LONG, HIGH)
    ]
    one = dp.field.learn(BOX, tests[0][1], LONG)
    assert wide(one, LONG) < 0.2 * wide(BOX, LONG)
    assert wide(one, HIGH) < 0.5 * wide(BOX, HIGH)
    two = dp.field.learn(one, tests[1][1], HIGH)
    between = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=60, lift_ft=9, k=6.3)
    assert wide(two, between) < 0.75 * wide(one, between) < 0.3 * wide(BOX, between)
    for line in (LONG, HIGH, between):
        flow = dp.operating_point(true, line).flow_gpm
        assert dp.operating_point(two, line).flow_gpm == pytest.approx(flow, abs=0.8)


def test_a_tolerance_no_longer_adds_to_what_was_learned() -> None:
    known = dp.field.learn(BOX, dp.field.meter_test(flow_gpm=24, sigma_gpm=0.5), LONG)
    assert wide(known, HIGH, dp.Doubt()) == wide(known, HIGH, dp.Doubt(head_pct=9, flow_pct=9))
    assert wide(known, HIGH, dp.Doubt(lift_ft=1)) > wide(known, HIGH, dp.Doubt())


def test_eighty_percent_bands_hold_eighty_percent_of_simulated_pumps() -> None:
    # evenly laid draws stray less than as many at random
    drawn = qmc.Sobol(4, seed=5).random(128)
    sigma, x = 1.0, np.linspace(0, 1, 40)
    held = np.zeros(2)
    for u, *z in zip(drawn[:, 0], *ndtri(drawn[:, 1:]).T, strict=True):
        n = np.interp(u, [0, 0.5, 1], [0.7, 1.4, 2.2])
        head, flow = 1 + 0.04 * z[0], 1 + 0.05 * z[1]
        true = dp.PumpCurve(flow_gpm=55 * flow * x, head_ft=24 * head * (1 - x**n))
        here, there = dp.operating_point(true, [LONG, HIGH]).flow_gpm
        test = dp.field.meter_test(flow_gpm=here + sigma * z[2], sigma_gpm=sigma)
        known = dp.field.learn(BOX, test, LONG, samples=512)
        band = dp.band(known, [LONG, HIGH], dp.Doubt(), samples=256).flow_gpm
        held += (band["p10"] <= [here, there]) & ([here, there] <= band["p90"])
    # of 500 such pumps 0.79 and 0.81 were held
    assert 0.73 < held[0] / len(drawn) < 0.87
    assert 0.73 < held[1] / len(drawn) < 0.87


def test_a_gauge_and_a_catalogue_curve_are_learned_from_too() -> None:
    q = np.array([0, 15, 30, 45, 55.0])
    listed = dp.PumpCurve(name="L", flow_gpm=q, head_ft=24 * (1 - (q / 55) ** 1.6))
    shut = dp.field.gauge_test(
        listed,
        pressure_psi=22.5 / 2.311,
        gauge_above_water_ft=0,
        valve_shut=True,
        pressure_error_psi=0.05,
        height_error_in=0.2,
    )
    known = dp.field.learn(listed, shut, LONG)
    assert known.shutoff_ft == pytest.approx(22.5, abs=0.1)
    assert known.given["learned"].keys() == {"head", "flow"}
    assert known.notes == ()
    flowing = dp.field.gauge_test(listed, pressure_psi=6.0, gauge_above_water_ft=1)
    assert wide(dp.field.learn(listed, flowing, LONG), LONG) < wide(listed, LONG)


def test_what_was_learned_is_kept_with_the_curve() -> None:
    test = dp.field.meter_test(flow_gpm=24, sigma_gpm=0.5)
    plain = dp.PumpCurve(name="two", flow_gpm=[0, 55], head_ft=[24, 0])
    for pump in (BOX, plain, BOX.at_speed(0.98)):
        known = dp.field.learn(pump, test, LONG)
        again = dp.PumpCurve.from_dict(json.loads(json.dumps(known.to_dict())))
        assert again == known
        assert known.origin == again.origin == "readings on site"
        assert not known.two_figures
        assert dict(dp.band(again, HIGH, TOLERANCE).flow_gpm) == dict(
            dp.band(known, HIGH, TOLERANCE).flow_gpm
        )
        assert dp.operating_point(known, LONG).flow_gpm == pytest.approx(24, abs=0.4)
        assert known.at_speed(0.9).shutoff_ft == pytest.approx(0.81 * known.shutoff_ft)


def test_readings_that_no_such_pump_makes_are_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.field.learn(BOX, dp.field.meter_test(flow_gpm=4, sigma_gpm=0.5), LONG)
    assert str(err.value) == (
        "tests: no pump like 'box' makes these readings on this line; check them and the line, "
        "or diagnose what is wrong."
    )


# -- which pump it is


def catalogue() -> list[dp.PumpCurve]:
    """Twelve invented pumps."""
    x = np.linspace(0, 1, 40)
    return [
        dp.PumpCurve(
            name=f"P{i}",
            flow_gpm=(42 + 5 * ((i * 5) % 12)) * x,
            head_ft=(18 + 3.2 * i) * (1 - x ** (1.5, 2.0, 1.2)[i % 3]),
        )
        for i in range(12)
    ]


def test_the_true_pump_is_first_and_its_probability_is_what_it_says() -> None:
    rng = np.random.default_rng(3)
    pumps = catalogue()
    said, right, apart = [], [], []
    for _ in range(200):
        j = int(rng.integers(12))
        flow = rng.uniform(0.15, 0.85, 3) * pumps[j].run_out_gpm
        head = (1 + 0.05 * rng.standard_normal()) * pumps[j].head(flow_gpm=flow).head_ft
        m = dp.field.match_curves(
            pumps,
            flow_gpm=np.maximum(flow + rng.standard_normal(3), 0),
            head_ft=np.maximum(head + 0.5 * rng.standard_normal(3), 0),
            sigma_gpm=1.0,
            sigma_ft=0.5,
        )
        said.append(m.probability.max())
        right.append(m.pumps[int(m.probability.argmax())] is pumps[j])
        apart.append(np.sort(m.misfit)[1] - np.sort(m.misfit)[0] > 9)
        assert m.probability.sum() == pytest.approx(1)
    p, hit, far = np.array(said), np.array(right), np.array(apart)
    assert hit[far].mean() >= 0.8
    assert far.mean() > 0.5
    # of those that are told with a probability, so many are right
    assert abs(hit.mean() - p.mean()) < 0.03
    unsure = p < 0.95
    assert abs(hit[unsure].mean() - p[unsure].mean()) < 0.2


def test_the_head_factor_is_found_and_what_to_read_next_is_said() -> None:
    a, b = catalogue()[2:4]
    flow = np.array([15.0, 25])
    worn = 0.93 * a.head(flow_gpm=flow).head_ft
    m = dp.field.match_curves([a, b], flow_gpm=flow, head_ft=worn, sigma_gpm=0.3, sigma_ft=0.1)
    assert m.best is a
    assert m.head_factor[0] == pytest.approx(0.93, abs=0.01)
    assert m.status.tolist() == ["ok", "no_fit"]
    assert m.off_ft[0] < 0.1 < 0.7 < m.off_ft[1]
    gap = abs(
        m.head_factor[0] * a.head(flow_gpm=m.next_flow_gpm).head_ft
        - m.head_factor[1] * b.head(flow_gpm=m.next_flow_gpm).head_ft
    )
    assert m.next_gap_ft == pytest.approx(gap)
    assert m.to_frame().columns.tolist() == [
        "pump", "misfit", "chance", "probability", "head_factor", "off_ft", "status",
    ]  # fmt: skip
    assert "best: P2" in repr(m)


def test_none_fits_is_an_answer_and_a_box_stands_for_all_its_shapes() -> None:
    m = dp.field.match_curves(catalogue(), flow_gpm=10, head_ft=90, sigma_gpm=1, sigma_ft=0.5)
    assert m.best is None
    assert set(m.status) == {"no_fit"}
    assert "none of them fits" in repr(m)
    for n in (0.8, 1.4, 2.1):
        read = {"flow_gpm": [15, 35], "head_ft": [24 * (1 - (q / 55) ** n) for q in (15, 35)]}
        found = dp.field.match_curves(BOX, **read, sigma_gpm=0.5, sigma_ft=0.3)
        assert found.best is BOX
        straight = dp.PumpCurve(flow_gpm=[0, 20, 55], head_ft=[24, 24 - 24 * 20 / 55, 0])
        other = dp.field.match_curves(straight, **read, sigma_gpm=0.5, sigma_ft=0.3)
        assert (other.best is None) == (n > 1)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"head_ft": [1, 2, 3]}, "match_curves: arrays of shapes (2,), (3,), (), () do not "
         "broadcast; give arrays of one shape, or scalars."),
        ({"head_ft": [1, np.nan]}, "match_curves: readings must be numbers; leave out what was not "
         "read."),
        ({"sigma_ft": 0}, "sigma_ft=0: must be finite and more than 0 ft; give a positive number."),
        ({"head_factor_sigma_pct": 0}, "head_factor_sigma_pct=0: must be one number above 0; give "
         "one sigma, such as 5."),
        ({"pumps": []}, "pump=[]: must hold at least one PumpCurve; the list is empty."),
    ],
)  # fmt: skip
def test_refused(more, said) -> None:
    given = {"pumps": catalogue(), "flow_gpm": [10, 20], "head_ft": [9, 8], "sigma_gpm": 1,
             "sigma_ft": 1} | more  # fmt: skip
    with pytest.raises(dp.InputError) as err:
        dp.field.match_curves(**given)
    assert str(err.value) == said
