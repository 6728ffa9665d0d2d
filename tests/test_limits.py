"""Limits: what each takes, what it refuses, and where it draws the line."""

from __future__ import annotations

from typing import Any

import pytest

import drainpump as dp

POINTS: dict[str, Any] = {"flow_gpm": [0, 30, 50], "head_ft": [20, 12.8, 0]}


def line(size: str = "1-1/2", schedule: str = "40") -> dp.DischargeLine:
    return dp.straight_line(pipe=dp.pvc(size, schedule), length_ft=150, lift_ft=6)


def found(pump: dp.PumpCurve, where: dp.DischargeLine, **limits: Any) -> dp.Candidate:
    return dp.select(pump, where, need_gpm=5, limits=dp.Limits(**limits)).candidates[0]


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"velocity_min_fps": float("nan")}, "velocity_min_fps=nan: must be one number; "
         "give one."),
        ({"starts_max_per_h": float("nan")}, "starts_max_per_h=nan: must be one number; "
         "give one."),
        ({"range_share_max": 0}, "range_share_max=0: must be one number above 0; give a share, "
         "e.g. 0.8."),
        ({"best_flow_preferred": [[1], [2, 3]]}, "best_flow_preferred=[1]: must be one number "
         "above 0; give a share, e.g. 0.8."),
        ({"best_flow_preferred": (0.7, None)}, "best_flow_preferred=None: must be a number or an "
         "array of numbers; give a share, e.g. 0.8."),
        ({"range_share_max": [0.5, 0.6]}, "range_share_max=[0.5, 0.6]: must be one number above "
         "0; give a share, e.g. 0.8."),
        ({"best_flow_min_share": 1.5}, "best_flow_min_share 1.5 and best_flow_max_share 1.3: the "
         "least must not be above the greatest; swap them."),
        ({"soft": "best_flow"}, "soft='best_flow': must be a list of names; put the name in a "
         "list."),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(given: dict[str, Any], message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Limits(**given)
    assert str(err.value) == message


def test_limits_stay_as_built() -> None:
    with pytest.raises(AttributeError) as err:
        dp.Limits().soft = ()
    assert str(err.value) == "soft is read-only; build a new Limits instead."


@pytest.mark.parametrize(
    ("rated", "supply", "tolerance", "code"),
    [
        (115, 120, None, None),
        (230, 208, None, None),  # 9.6 % below
        (115, 230, None, "voltage_other"),
        (115, 120, 3, "voltage_other"),
        (115, 115, 0, None),
    ],
)
def test_voltage_within_its_tolerance(
    rated: float, supply: float, tolerance: float | None, code: str | None
) -> None:
    # 10 % either way: NEMA MG 1, 12.44 (from memory)
    pump = dp.PumpCurve(name="v", voltage_v=rated, **POINTS)
    c = found(pump, line(), voltage_v=supply, voltage_tolerance_pct=tolerance)
    assert [r.code for r in c.reasons] == ([] if code is None else [code])


@pytest.mark.parametrize(
    ("size", "schedule", "warned"),
    [
        ("1-1/4", "40", True),  # a bore of 1.36 in, and yet a size below 1-1/2 in
        ("1-1/4", "80", True),
        ("1-1/2", "40", False),
        ("1-1/2", "80", False),  # a bore of 1.476 in, and yet the pump's own size
        ("2", "80", False),
    ],
)
def test_pipe_below_the_outlet_goes_by_size_not_by_bore(
    size: str, schedule: str, warned: bool
) -> None:
    pump = dp.PumpCurve(name="o", outlet_in=1.5, **POINTS)
    codes = [r.code for r in found(pump, line(size, schedule)).warnings]
    assert ("pipe_below_outlet" in codes) == warned


@pytest.mark.parametrize(
    ("bore_in", "outlet_mm", "warned"), [(1.59, 40, False), (1.36, 40, True), (2.22, 50, False)]
)
def test_a_bore_of_ones_own_and_a_metric_outlet_go_by_the_nearest_size(
    bore_in: float, outlet_mm: float, warned: bool
) -> None:
    pump = dp.PumpCurve(name="o", outlet_mm=outlet_mm, **POINTS)
    own = dp.straight_line(pipe=dp.Pipe(bore_in=bore_in), length_ft=150, lift_ft=6)
    codes = [r.code for r in found(pump, own).warnings]
    assert ("pipe_below_outlet" in codes) == warned


def test_narrowest_run_counts() -> None:
    riser = dp.Run(pipe=dp.pvc("1-1/4"), length_ft=7, rise_ft=6)
    buried = dp.Run(pipe=dp.pvc("2"), length_ft=100)
    pump = dp.PumpCurve(name="o", outlet_in=1.5, **POINTS)
    *_, warning = found(pump, dp.DischargeLine(runs=[riser, buried]), soft=["outlet_size"],
                       velocity_min_fps=0.1).warnings  # fmt: skip
    assert (warning.value, warning.limit, warning.unit) == pytest.approx((1.25, 1.5, "in"))
    assert warning.text == (
        "narrowest pipe is of size 1.25 in (31.8 mm), the pump's outlet of 1.5 in (38.1 mm)"
    )


@pytest.mark.parametrize(
    "name", ["velocity_min", "velocity_max", "starts_max", "run_min", "range_share_max",
             "best_flow", "solids_min", "voltage",
             "hand_off", "outlet_size"],
)  # fmt: skip
def test_each_limit_rejects_warns_or_is_dropped(name: str) -> None:
    pump = dp.PumpCurve(name="p", voltage_v=115, solids_in=0.25, best_flow_gpm=10, outlet_in=2,
                        **POINTS)  # fmt: skip
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=8)
    broken: dict[str, Any] = {
        "starts_max_per_h": 1, "run_min_s": 1000, "range_share_max": 0.1, "solids_min_in": 1,
        "voltage_v": 230,
    }  # fmt: skip
    if name == "velocity_min":
        broken |= {"velocity_min_fps": 7.9}
    else:
        broken |= {"velocity_min_fps": 0.1, "velocity_max_fps": 0.2}
    others = [x for x in dp.Limits(**broken).sources if x != name]
    narrow = dp.GravityHandOff(bore_in=1, slope=0.01, n=0.012)
    where = line().replace(outlet=narrow)

    def judged(**how: Any) -> dp.Candidate:
        limits = dp.Limits(**broken, **how)
        return dp.select(pump, where, pit=pit, need_gpm=5, limits=limits).candidates[0]

    hard = judged(soft=[], without=others)
    assert (len(hard.reasons), len(hard.warnings)) == (1, 0)
    soft = judged(soft=[name], without=others)
    assert soft.reasons == ()
    assert [r.code for r in soft.warnings] == [r.code for r in hard.reasons]
    dropped = judged(soft=[], without=[*others, name])
    assert (dropped.reasons, dropped.warnings) == ((), ())


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"certainty": float("nan")}, "certainty=nan: must be one number; give a probability."),
        ({"certainty": 1.2}, "certainty=1.2: must be from 0 to 1; give a probability."),
        ({"pit": "deep"}, "pit='deep': must be a Pit; make one with Pit(...)."),
        ({"costs": 3}, "costs=3: must be a Costs; make one with Costs(...)."),
        ({"limits": 3}, "limits=3: must be a Limits; make one with Limits(...)."),
    ],
)
def test_select_refuses_what_it_cannot_use(given: dict[str, Any], message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.select(dp.PumpCurve(name="p", **POINTS), line(), need_gpm=5, **given)
    assert str(err.value) == message


def test_each_pump_of_a_bank_is_judged_by_its_own_best_flow() -> None:
    big = dp.PumpCurve(name="big", flow_gpm=[0, 20, 50], head_ft=[26, 24, 10], best_flow_gpm=32)
    small = dp.PumpCurve(name="small", flow_gpm=[0, 20, 30], head_ft=[19, 12, 2], best_flow_gpm=16,
                         solids_in=0.5, voltage_v=115)  # fmt: skip
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=60, lift_ft=16)
    both = dp.parallel([big.replace(solids_in=1, voltage_v=230), small])
    share = dp.operating_point(both, line).share_gpm / [32, 16]
    assert share[0] > 1 > 0.5 > share[1]
    (c,) = dp.select(both, line, need_gpm=20, doubt=None).candidates
    (off,) = [r for r in c.reasons if r.code == "best_flow_off"]
    assert (off.value, off.limit) == (pytest.approx(share[1], rel=1e-6), 0.5)
    # of two that are alike each runs as the other does
    (c,) = dp.select(dp.parallel([big, big]), line, need_gpm=20, doubt=None).candidates
    assert "best_flow_off" not in {r.code for r in c.reasons}
    # a bank passes what the smallest passes, and one that does not tell tells nothing
    asked = {"solids_min_in": 0.75, "voltage_v": 230}
    (c,) = dp.select(both, line, need_gpm=20, limits=dp.Limits(**asked)).candidates
    assert {"solids_small", "voltage_other"} <= {r.code for r in c.reasons}
    mute = dp.parallel([big, small])
    (c,) = dp.select(mute, line, need_gpm=20, limits=dp.Limits(**asked)).candidates
    assert {"solids_unknown", "voltage_unknown"} <= {r.code for r in c.reasons}
    pumps = dp.parallel([big.replace(best_flow_gpm=None), small])
    (c,) = dp.select(pumps, line, need_gpm=20, doubt=None).candidates
    assert "best_flow_off" not in {r.code for r in c.reasons}
