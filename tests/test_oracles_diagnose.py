"""Diagnoses beside sites drawn from stated faults, and Bayes' rule by an independent solver.

``DRAINPUMP_ORACLES=600 pytest tests/test_oracles_diagnose.py`` draws 600 sites.
"""

from __future__ import annotations

import numpy as np
import pytest

import drainpump as dp
from tests.oracles import field as oracle
from tests.oracles.many import many
from tests.problems import PUMP_A, r1_line

YARD = oracle.Yard()
LINE = r1_line()
field = dp.field


def shares(found: dp.field.Diagnosis) -> dict[str, float]:
    """Plausibility by fault."""
    return dict(zip(found.faults, np.asarray(found.plausibility, float).tolist(), strict=True))


def test_it_can_say_that_no_fault_fits() -> None:
    found = field.diagnose(PUMP_A, LINE, measured_gpm=40, sigma_gpm=1)
    assert "no fault fits: check the bucket, the curve, the line" in repr(found)
    assert "100%  nothing wrong" not in repr(found)
    # 40 is 14 sigma above what is expected
    assert found.chance < 0.01


@pytest.mark.parametrize("measured", [28, 30, 33, 40])
def test_a_lift_far_out_of_its_prior_is_no_fault(measured: float) -> None:
    found = field.diagnose(PUMP_A, LINE, measured_gpm=measured, sigma_gpm=1)
    i = found.faults.index("extra lift")
    size = found.to_frame().set_index("fault").loc["extra lift", "size"]
    assert np.isnan(size) or size > -4  # four sigma of its own prior
    if measured > 30:
        assert found.status[i] == "cannot_explain"


def test_only_what_is_there_is_blamed() -> None:
    open_end = r1_line(outlet=dp.FreeOutlet())
    assert "lid gap" not in field.diagnose(PUMP_A, open_end, measured_gpm=18, sigma_gpm=1).faults
    no_valve = r1_line(fittings={"elbow_90": dp.Fitting(count=5, k=0.8)}, check_valve=False)
    assert (
        "stuck valve" not in field.diagnose(PUMP_A, no_valve, measured_gpm=18, sigma_gpm=1).faults
    )
    faults = field.diagnose(PUMP_A, LINE, measured_gpm=18, sigma_gpm=1).faults
    assert {"lid gap", "stuck valve", "low voltage", "air"} <= set(faults)


def test_a_deposit_in_pvc_needs_an_age_that_could_have_grown_it() -> None:
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    new = field.diagnose(PUMP_A, line, measured_gpm=18, sigma_gpm=1)
    assert "deposit" not in new.faults
    one, old = (
        field.diagnose(PUMP_A, line, measured_gpm=18, sigma_gpm=1, age_year=y) for y in (1, 30)
    )
    assert shares(one).get("deposit", 0) < 0.05 < shares(old)["deposit"]


@pytest.mark.parametrize("by", [-0.02, 0.02])
def test_nothing_jumps_at_the_expected_flow(by: float) -> None:
    expected = float(YARD.flow())
    at, near = (
        field.diagnose(PUMP_A, LINE, measured_gpm=q, sigma_gpm=1) for q in (expected, expected + by)
    )
    assert near.chance == pytest.approx(at.chance, abs=0.02)
    for fault, share in shares(at).items():
        assert shares(near)[fault] == pytest.approx(share, abs=0.02)


@pytest.mark.parametrize("measured", [14, 18, 20, 22, 24, 25, 25.6, 25.8, 26.5, 27.5])
def test_plausibilities_are_by_bayes(measured: float) -> None:
    # the share of each among the faults that the oracle knows hangs on no other fault
    found = field.diagnose(PUMP_A, LINE, measured_gpm=measured, sigma_gpm=1)
    wanted = {"nothing": 1.0, **oracle.odds(YARD, measured, 1.0)}
    got = {"nothing": float(found.chance), **shares(found)}
    got = {fault: got[fault] for fault in wanted}
    for fault in wanted:
        share = wanted[fault] / sum(wanted.values())
        assert got[fault] / sum(got.values()) == pytest.approx(share, abs=0.01), fault


def test_the_first_named_is_right_as_often_as_it_says() -> None:
    rng = np.random.default_rng(19)
    others = set(field.diagnose(PUMP_A, LINE, measured_gpm=20, sigma_gpm=1).faults)
    rare = dict.fromkeys(others - set(oracle.FAULTS), 1e-06)
    priors = field.Priors(weights=rare)
    names = ["nothing", *oracle.FAULTS]
    first, hits, tops = [], 0, 0
    for _ in range(many(60)):
        true = names[int(rng.integers(len(names)))]
        flow = YARD.flow() if true == "nothing" else oracle.with_fault(
            YARD, true, rng.standard_normal()
        )  # fmt: skip
        read = float(flow + rng.standard_normal())
        found = field.diagnose(
            PUMP_A, LINE, measured_gpm=max(read, 0.1), sigma_gpm=1, priors=priors
        )
        said = {"nothing": float(found.chance), **shares(found)}
        ranked = sorted(said, key=said.__getitem__, reverse=True)
        first.append(said[ranked[0]])
        hits += ranked[0] == true
        tops += true in ranked[:2]
    error = np.sqrt(0.25 / len(first))
    assert hits / len(first) == pytest.approx(np.mean(first), abs=2.5 * error)
    assert tops >= hits
