"""One look a cause in waterfall, ledger and swings, that holds for every eye and in grey."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from matplotlib.colors import to_rgb, to_rgba

import drainpump as dp
from drainpump import plots
from drainpump.plots.looks import CAUSES, cause_of
from tests.eyes import EYES, lightness
from tests.pictures import DOUBT, LINE
from tests.problems import PUMP_A

WHY = dp.explain(PUMP_A, LINE)
#: three fixed points of one pump whose data end short of the line's head
SHORT = dp.PumpCurve(name="Short", flow_gpm=[0, 15, 28], head_ft=[45, 42, 38])


@pytest.mark.parametrize("eye", EYES)
def test_causes_that_stand_on_each_other_differ_in_lightness_or_hatch(eye: str) -> None:
    np.testing.assert_allclose(EYES[eye].sum(axis=1), 1, atol=2e-6)
    stack = [CAUSES[k] for k in ("lift", "pipe", "elbows", "fittings", "valve", "exit", "lid")]
    for one, other in itertools.pairwise(stack):
        assert abs(lightness(one.color, eye) - lightness(other.color, eye)) > 20
    # where a cause is missing its neighbours meet: any two are told apart
    for one, other in itertools.combinations(stack, 2):
        apart = abs(lightness(one.color, eye) - lightness(other.color, eye)) > 20
        assert apart or (one.hatch != other.hatch and one.dash != other.dash)
        # a hatch is seen on its own ground
        assert abs(lightness(one.color, eye) - lightness(one.ink, eye)) > 20


def test_a_dark_bar_keeps_its_dash_between_light_gaps() -> None:
    for name, look in CAUSES.items():
        bar = look.bar
        if look.dash == "solid":
            continue
        if look.ink == "black":
            assert bar["ls"] == look.dash
            continue
        # what the light line leaves out is the dark dash, from its beginning on
        start, gaps = bar["ls"]
        own = look.dash[1]
        drawn = [i % 2 == 0 for i, x in enumerate(own) for _ in range(round(2 * x))]
        light = [i % 2 == 0 for i, x in enumerate(gaps) for _ in range(round(2 * x))]
        shifted = np.roll(light, -round(2 * start))
        assert (shifted != drawn).all(), name
        assert bar["lw"] > 0


def test_the_exit_is_no_alarm() -> None:
    red, green, _ = to_rgb(CAUSES["exit"].color)
    assert red - green < 0.3


def test_a_cause_looks_the_same_in_every_picture() -> None:
    _, fallen = plots.waterfall(WHY).containers
    stacked = [c[0] for c in plots.ledger(WHY).containers]  # type: ignore[index]
    for name, fall, part in zip(WHY.names, fallen, stacked, strict=True):
        look = cause_of(name)
        for bar in (fall, part):
            assert bar.get_facecolor() == to_rgba(look.color)  # type: ignore[attr-defined]
            assert bar.get_hatch() == look.hatch  # type: ignore[attr-defined]
    ax = plots.swings(PUMP_A, LINE, DOUBT, 64)
    for label, bar in zip(ax.get_yticklabels(), ax.containers[0], strict=True):
        assert bar.get_facecolor() == to_rgba(cause_of(label.get_text()).color)  # type: ignore[attr-defined]


def test_a_loss_that_rests_on_a_bound_is_at_least_that() -> None:
    why = dp.explain(SHORT, LINE)
    for in_turn in (False, True):
        texts = [t.get_text() for t in plots.waterfall(why, in_turn=in_turn).texts]
        assert texts[:2] == ["≥ 28", "≥ 28"]
        assert texts[2] == "?"
    # the pump alone runs past its data, the line holds it within
    high = dp.explain(SHORT, dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=36))
    assert [s == "ok" for s in high._status[[0, -1]]] == [False, True]
    assert plots.waterfall(high).texts[2].get_text().startswith("− ≥ ")
    said = next(x for x in high.text().splitlines() if "Shapley" in x)
    assert said.count("at least ") == 1 + len(high.names)
