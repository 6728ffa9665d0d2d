"""The live figure: its sliders move line and pump, and the picture shows what is solved."""

from __future__ import annotations

import io
import itertools
import time

import matplotlib.pyplot as plt
import numpy as np
import pytest

import drainpump as dp
from tests.problems import PUMP_A, r1_pit

LINE = dp.straight_line(
    pipe=dp.pvc("1-1/2"),
    length_ft=150,
    lift_ft=6,
    fittings={"elbow_90": dp.Fitting(5, k=0.8), "check_valve_swing": 1},
)


def test_each_slider_moves_what_it_names() -> None:
    shown = dp.teach.live(PUMP_A, LINE, r1_pit(), need_gpm=30)
    assert shown.operating.flow_gpm == dp.operating_point(PUMP_A, LINE).flow_gpm
    size = [pipe.name for pipe in shown.pipes].index(dp.pvc("2").name)
    moves = {"lift": 8.0, "length": 200.0, "pipe": size, "elbows": 9, "wear": 20}
    for name, value in moves.items():
        shown.sliders[name].set_val(value)
    moved = LINE.replace(
        lift_ft=8,
        length_ft=200,
        pipe=dp.pvc("2"),
        fittings={"elbow_90": dp.Fitting(9, k=0.8), "check_valve_swing": 1},
    )
    op = dp.operating_point(PUMP_A.worn(head=0.8), moved)
    assert shown.operating.flow_gpm == pytest.approx(op.flow_gpm, rel=1e-12)
    # the mark stands where pump and line agree
    mark = next(x for x in shown.ax.lines if x.get_marker() == "o")
    assert np.ravel(mark.get_data()).tolist() == pytest.approx([op.flow_gpm, op.head_ft])
    assert shown.sliders["pipe"].valtext.get_text() == dp.pvc("2").name


def test_the_sentence_says_flow_need_and_first_cause() -> None:
    shown = dp.teach.live(PUMP_A, LINE, need_gpm=30)
    why = dp.explain(PUMP_A, LINE)
    assert shown.sentence.startswith(
        f"A: {why.operating.flow_gpm:.3g} gpm, short of the 30 gpm needed; the first cause is the "
        f"{why.cause}, with "
    )
    shown.sliders["need"].set_val(20)
    assert "enough for the 20" in shown.sentence
    shown.sliders["lift"].set_val(22)
    assert shown.sentence.startswith("A: no flow, short of the 20")
    still = "\nThis backend shows a still picture; the sliders move in a window."
    assert shown.ax.figure.texts[0].get_text().endswith(still)


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_a_file_keeps_the_words_and_the_sliders(kind: str) -> None:
    shown = dp.teach.live(PUMP_A, LINE)
    for _ in range(2):
        file = io.BytesIO()
        shown.ax.figure.savefig(file, format=kind)
        shown.sliders["lift"].set_val(9)
    if kind == "svg":
        drawn = file.getvalue().decode()
        assert all(f"<!-- {said} -->" in drawn for said in ("lift (ft)", "elbows", "need (gpm)"))
        assert f"<!-- {shown.sentence.split(';')[0][:6]}" in drawn
        return
    ink = plt.imread(io.BytesIO(file.getvalue()))[..., :3].mean(axis=2) < 0.6
    rows = np.linspace(0, len(ink), 11).astype(int)
    # words and sliders fill the lower third
    assert all(ink[a:b].any() for a, b in itertools.pairwise(rows[6:]))


def test_a_move_is_answered_while_one_looks() -> None:
    shown = dp.teach.live(PUMP_A, LINE, r1_pit(), need_gpm=30)
    # once drawn, a move paints what moves over what stands
    shown.ax.figure.canvas.draw()
    moves = {"lift": (5, 8), "length": (50, 300), "pipe": (1, 4), "elbows": (1, 9), "wear": (9, 30)}
    for name, values in moves.items():
        took = []
        for value in (*values, *values):
            start = time.process_time()
            shown.sliders[name].set_val(value)
            took.append(time.process_time() - start)
        assert min(took) < 0.15, name


def test_metric_and_a_pipe_of_ones_own() -> None:
    own = dp.Pipe(bore_mm=43, name="hose")
    line = dp.straight_line(pipe=own, length_m=40, lift_m=2)
    shown = dp.teach.live(PUMP_A, line, units="metric")
    assert own in shown.pipes
    assert shown.sliders["length"].val == 40
    assert shown.ax.get_xlabel() == "Flow (L/s)"
    flow = dp.operating_point(PUMP_A, line).flow_lps
    assert shown.sentence.startswith(f"A: {flow:.3g} L/s; the first cause is the ")


def test_several_runs_and_arrays_are_refused() -> None:
    runs = [dp.Run(pipe=dp.pvc("2"), length_ft=9), dp.Run(pipe=dp.pvc("2"), length_ft=9)]
    with pytest.raises(dp.InputError) as err:
        dp.teach.live(PUMP_A, dp.DischargeLine(runs=runs))
    assert str(err.value).endswith(": must be of one run; give dp.straight_line(...).")
    with pytest.raises(dp.InputError) as err:
        dp.teach.live(PUMP_A, LINE.replace(lift_ft=[5, 6]))
    assert str(err.value) == (
        "live: pump or line holds arrays or lists; give one case: one pump, such as pumps[0], "
        "and one line of scalars."
    )


def test_a_loss_that_rests_on_a_bound_is_said_as_one() -> None:
    short = dp.PumpCurve(name="Short", flow_gpm=[0, 15, 28], head_ft=[45, 42, 38])
    shown = dp.teach.live(short, LINE.replace(lift_ft=34))
    assert shown.operating.ok
    assert shown.sentence.count(" at least ") == 2
    assert " of the at least " in shown.sentence
