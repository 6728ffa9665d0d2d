"""A choice by what storms do: against plain routing, a fine ladder of storms, draws by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump.doubt.doubt import sample, water_samples
from tests.dry_years import PIT, Drawn, kept, kept_years, ladder, water
from tests.problems import PUMP_A, PUMP_B

WIDE = PIT.replace(diameter_in=36)
MINI = dp.PumpCurve(name="mini", flow_gpm=[0, 12, 24], head_ft=[18, 15, 4])
PUMPS = [MINI, PUMP_A, PUMP_B]
LINES = [dp.straight_line(pipe=dp.pvc(s), length_ft=200, lift_ft=7, k=3) for s in ("1-1/2", "2")]
LAX: dict[str, Any] = {"without": ["velocity_min", "velocity_max", "range_share_max"]}
DRY = dp.Limits(pond_depth_max_in=1.0, pond_max_min=45, **LAX)


def chosen(storms: dp.Hydrograph, limits: dp.Limits = DRY, **given: Any) -> dp.Selection:
    asked: dict[str, Any] = {"pit": PIT, "pond_area_ft2": 800, **given}
    return dp.select(PUMPS, LINES, storms=storms, limits=limits, **asked)


def keeps(c: dp.Candidate, storms: dp.Hydrograph, pond_ft2: float = 800) -> Any:
    """Whether each storm keeps DRY, by a plain routing."""
    assert c.pit is not None
    return kept(dp.route(c.pump, c.line, c.pit, storms, pond_area_ft2=pond_ft2))


def test_what_storms_do_is_what_routing_says() -> None:
    storms = water(2000)
    for c in chosen(storms).candidates:
        found = dp.route(c.pump, c.line, PIT, storms, pond_area_ft2=800)
        assert c.peak_pond_in == pytest.approx(found.peak_pond_in.max())
        assert c.peak_pond_gal == pytest.approx(found.peak_pond_gal.max())
        assert c.pond_min == pytest.approx(found.pond_min.max())
        assert c.starts == found.starts.max()
        assert c.longest_run_min == pytest.approx(found.longest_run_min.max())
        assert c.accepted == bool(keeps(c, storms).all())
        assert c.probability is None
    room = (PIT.area_ft2 * (42 - 20) / 12) * 7.48051948
    assert c.to_overflow_min == pytest.approx(room / storms.peak_gpm.max())


@pytest.mark.parametrize("seed", range(40))
def test_the_chosen_one_keeps_every_limit_and_every_cheaper_one_breaks_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    area, pond = rng.uniform(400, 3000), rng.uniform(300, 1500)
    peak = area * rng.uniform(1.5, 5) / 12 / 60 * 7.48
    shape = np.array([0, 0.3, 1, 0.6, 0.3, 0.1, 0])
    storm = dp.Hydrograph(flow_gpm=2 + peak * shape, time_min=np.linspace(0, 90, 7))
    costs = dp.Costs(pipe_per_ft={"1-1/2": 1.6, "2": 2.2})
    pumps = [p.replace(price=x) for p, x in zip(PUMPS, (90, 160, 290), strict=True)]
    limits = dp.Limits(pond_depth_max_in=1.0, pond_max_min=45, alike_pct=0)
    sel = dp.select(pumps, LINES, pit=PIT, storms=storm, pond_area_ft2=pond, limits=limits,
                    costs=costs, doubt=None)  # fmt: skip

    def fine(c: dp.Candidate) -> bool:
        op = dp.operating_point(c.pump, c.line)
        slow, fast = op.velocity_slowest_fps, op.velocity_fastest_fps
        return bool(op.ok and slow >= 2 and fast <= 8 and op.range_share <= 0.85
                    and keeps(c, storm, pond))  # fmt: skip

    best = sel.best
    if best is None:
        assert not any(fine(c) for c in sel.candidates)
        return
    assert fine(best)
    assert not any(fine(c) for c in sel.candidates if c.cost < best.cost)


@pytest.mark.parametrize("area", [900, 1400, 1800, 2300, 2800, 3600])
def test_dry_up_to_by_a_fine_ladder_of_storms(area: float) -> None:
    # each storm of the ladder is 4 % rarer than the one before
    years = ladder(100)
    storms = water(area, years)
    said = []
    for c in chosen(water(area)).candidates:
        fails = np.flatnonzero(~keeps(c, storms))
        said.append(c.dry_status)
        if not fails.size:
            assert (c.dry_status, c.dry_up_to_year) == ("beyond", pytest.approx(100))
        elif fails[0] == 0:
            assert (c.dry_status, c.dry_up_to_year) == ("below", pytest.approx(2))
        else:
            assert c.dry_status == "ok"
            assert c.dry_up_to_year == pytest.approx(years[fails[0]], rel=0.05)
            assert c.yearly_probability == pytest.approx(-np.expm1(-1 / c.dry_up_to_year))
    assert len(said) == 6


def test_its_band_by_draws_laid_on_by_hand() -> None:
    (c,) = [x for x in chosen(water(3600)).candidates if x.pump is PUMP_B and x.line is LINES[1]]
    doubt, count = dp.Doubt.usual(), 64
    drawn = sample(doubt, count, 0)
    storm, steady = water_samples(doubt, count, 0)
    draws = (
        Drawn(drawn.length[i], drawn.lift[i] / 0.3048, drawn.bore[i], drawn.friction[i],
              drawn.k[i], drawn.head[i], drawn.flow[i], storm[i], steady[i])
        for i in range(count)
    )  # fmt: skip
    low, high = np.quantile(kept_years(draws, 3600, 128), [0.1, 0.9], method="inverted_cdf")
    # a step of the ladder is 3 %; both ends lie within the table
    assert 2 < low < c.dry_up_to_year < high < 100
    assert c.dry_up_to_low_year == pytest.approx(low, rel=0.04)
    assert c.dry_up_to_high_year == pytest.approx(high, rel=0.04)
    assert c.dry.startswith(f"dry up to the {c.dry_up_to_year:.3g}-year storm (")


def test_pits_are_candidates_too() -> None:
    storms = water(1800)
    sel = chosen(storms, pit=[PIT, WIDE])
    assert len(sel.candidates) == 12
    assert {c.number for c in sel.candidates} == {1, 2}
    for c in sel.candidates:
        one = chosen(storms, pit=[PIT, WIDE][c.number - 1])
        (same,) = [x for x in one.candidates if x.pump is c.pump and x.line is c.line]
        assert c.peak_pond_in == same.peak_pond_in
        assert c.accepted == same.accepted


def test_limits_up_to_a_return_period() -> None:
    storms = water(1800)
    for most in (2, 10, 100):
        limits = DRY.replace(dry_up_to_year=most)
        for c in chosen(storms, limits).candidates:
            listed = np.asarray([2, 5, 10, 25, 50, 100])
            assert c.accepted == bool(keeps(c, storms)[listed <= most].all())


def test_a_storm_rejection_says_what_admits_it() -> None:
    storms = water(1100)
    limits = DRY.replace(dry_up_to_year=5)
    rejected = [c for c in chosen(storms, limits).rejected if c.pump is PUMP_A]
    assert {r.code for c in rejected for r in c.reasons} <= {"pond_deep", "pond_long"}
    for c in rejected:
        assert c.change


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"storms": None, "limits": dp.Limits()},
         "need: missing; give need_gpm or need_lps, or storms with limits on the pond, such as "
         "Limits(pond_depth_max_in=1)."),
        ({"storms": None}, "pond_depth_max: no storms given; give storms=Hydrograph(...)."),
        ({"limits": dp.Limits()},
         "need: missing; give need_gpm or need_lps, or storms with limits on the pond, such as "
         "Limits(pond_depth_max_in=1)."),
        ({"pond_area_ft2": None},
         "pond_depth_max: no pond given; give pond_area_ft2, pond_area_m2 or pond_storage."),
        ({"pit": None}, "storms: no pit given; give pit=Pit(...)."),
        ({"pit": []}, "pit=[]: must hold at least one Pit; the list is empty."),
        ({"limits": dp.Limits(overflow=False)},
         "overflow=False: no overflow level given; give overflow_in."),
        ({"storms": 3}, "storms=3: must be a Hydrograph; make one with Hydrograph(...), storms "
         "on its leading axis."),
    ],
)  # fmt: skip
def test_what_cannot_be_asked_is_refused(given: dict[str, Any], message: str) -> None:
    asked: dict[str, Any] = {"storms": water(900), "limits": DRY} | given
    storms, limits = asked.pop("storms"), asked.pop("limits")
    with pytest.raises((dp.InputError, dp.UnitError)) as err:
        chosen(storms, limits, **asked)
    assert str(err.value) == message


def test_what_each_further_dry_year_costs() -> None:
    costs = dp.Costs(pipe_per_ft={"1-1/2": 1.6, "2": 2.2})
    pumps = [p.replace(price=x) for p, x in zip(PUMPS, (90, 160, 290), strict=True)]
    sel = dp.select(pumps, LINES, pit=[PIT, WIDE.replace(price=120)], storms=water(1800),
                    pond_area_ft2=800, limits=DRY, costs=costs)  # fmt: skip
    front = sel.dry_pareto
    assert len(front) > 2
    assert (np.diff([c.cost for c in front]) > 0).all()
    assert (np.diff([c.dry_up_to_year for c in front]) > 0).all()
    for c in sel.candidates:
        assert c.dry_status == "below" or any(
            x.cost <= c.cost and x.dry_up_to_year >= c.dry_up_to_year for x in front
        )
    with pytest.raises(dp.InputError) as err:
        _ = chosen(water(1800)).dry_pareto
    assert str(err.value) == (
        "dry_pareto: give costs=Costs(...) and storms with their return_year to select."
    )


def test_annual_maxima_are_said_by_the_caller() -> None:
    with pytest.raises(dp.InputError) as err:
        chosen(water(1800), annual_maxima=1)
    assert str(err.value) == "annual_maxima=1: must be True or False; state which it is."
    partial, annual = (chosen(water(1800), annual_maxima=x).candidates for x in (False, True))
    for a, b in zip(partial, annual, strict=True):
        assert a.yearly_probability == pytest.approx(-np.expm1(-1 / a.dry_up_to_year))
        assert b.yearly_probability == pytest.approx(1 / b.dry_up_to_year)


def test_the_picture_of_cost_against_dry_years() -> None:
    costs = dp.Costs(pipe_per_ft={"1-1/2": 1.6, "2": 2.2})
    pumps = [p.replace(price=x) for p, x in zip(PUMPS, (90, 160, 290), strict=True)]
    sel = dp.select(pumps, LINES, pit=PIT, storms=water(1800), pond_area_ft2=800, limits=DRY,
                    costs=costs)  # fmt: skip
    ax = dp.plots.pareto(sel, against="dry")
    assert (ax.get_xlabel(), ax.get_xscale()) == ("Dry up to (years)", "log")
    *groups, front = ax.lines
    drawn = sorted(spot for g in groups for spot in g.get_xydata().tolist())
    want = sorted((c.dry_up_to_year, c.cost) for c in sel.candidates)
    np.testing.assert_allclose(drawn, want)
    beyond = [c for c in sel.candidates if c.dry_status == "beyond"]
    assert len(groups[1].get_xdata()) == len(beyond) > 0
    np.testing.assert_allclose(front.get_ydata(), [c.cost for c in sel.dry_pareto])
    texts = {t.get_text().replace("\n", " ") for t in ax.texts}
    assert f"{sel.dry_pareto[0].pump.name}, {sel.dry_pareto[0].line.name}: " in "".join(texts)
    with pytest.raises(dp.InputError) as err:
        dp.plots.pareto(sel, against="years")  # type: ignore[arg-type]
    assert str(err.value) == "against='years': must be 'flow' or 'dry'; pick one of the two."


def test_a_band_past_the_tables_ends_says_so() -> None:
    (c,) = [x for x in chosen(water(3200)).candidates if x.pump is PUMP_B and x.line is LINES[1]]
    assert c.dry_up_to_high_year == pytest.approx(100)
    assert f"({c.dry_up_to_low_year:.3g} to more than 100 eight times in ten)" in c.dry
