"""The head-against-flow plot, judged by what it drew."""

from __future__ import annotations

import itertools

import matplotlib as mpl
import numpy as np
import pytest

import drainpump as dp
from drainpump import plots

A = dp.PumpCurve(name="A", flow_gpm=[0, 20, 40, 50], head_ft=[20, 16.8, 7.2, 0])
B = dp.PumpCurve(name="B", flow_gpm=[10, 40, 60], head_ft=[34, 22, 5])
LINE = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3, name="line")
PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=18)


def test_pump_curve_is_the_pumps_points_and_ends_with_them() -> None:
    ax = plots.duty([A, B], LINE)
    # of each pump its curve and the bar at its end, then the line and the operating points
    curve_a, end_a, curve_b, end_b, _, _ = ax.lines
    for pump, line, end in ((A, curve_a, end_a), (B, curve_b, end_b)):
        flow, head = line.get_xdata(), line.get_ydata()
        assert (flow[0], flow[-1]) == pytest.approx((pump.flow_gpm[0], pump.flow_gpm[-1]))
        np.testing.assert_allclose(head, pump.head(flow_gpm=np.asarray(flow)).head_ft, atol=1e-9)
        assert end.get_xdata()[0] == pytest.approx(pump.flow_gpm[-1])


def test_operating_points_lie_where_the_engine_says() -> None:
    ax = plots.duty([A, B], LINE)
    op = dp.operating_point([A, B], LINE)
    points = ax.lines[-1]
    np.testing.assert_allclose(points.get_xdata(), op.flow_gpm)
    np.testing.assert_allclose(points.get_ydata(), op.head_ft)
    texts = {t.get_text() for t in ax.texts}
    assert {"A", "B", "line"} <= texts
    assert any(t.endswith("gpm") for t in texts)


def test_band_spans_the_floats() -> None:
    ax = plots.duty(A, LINE, PIT)
    (band,) = ax.collections
    y = band.get_paths()[0].vertices[:, 1]
    head = np.asarray(ax.lines[2].get_ydata())
    assert y.max() == pytest.approx(head.max())
    assert y.min() == pytest.approx(head.min() - 1.0)


def test_metric_axes_and_the_twin_scales() -> None:
    ax = plots.duty(A, LINE, units="metric")
    assert (ax.get_xlabel(), ax.get_ylabel()) == ("Flow (L/s)", "Head (m)")
    top, right = ax.child_axes
    assert (top.get_xlabel(), right.get_ylabel()) == ("Flow (gpm)", "Head (ft)")
    ax.figure.canvas.draw()
    assert top.get_xlim()[1] == pytest.approx(ax.get_xlim()[1] / 0.0630901964, rel=1e-9)
    assert ax.lines[0].get_xdata()[-1] == pytest.approx(A.flow_lps[-1])


def test_draws_on_the_axes_given_and_changes_no_setting() -> None:
    import matplotlib.pyplot as plt

    before = dict(mpl.rcParams)
    _, ax = plt.subplots()
    assert plots.duty(A, LINE, ax=ax) is ax
    assert dict(mpl.rcParams) == before


@pytest.mark.parametrize("count", [1, 3, 12])
def test_labels_do_not_overlap(count: int) -> None:
    pumps = [
        dp.PumpCurve(
            name=f"Pump {i}",
            flow_gpm=[0, 20 + 3 * i, 40 + 5 * i],
            head_ft=[16 + 3 * i, 12 + 3 * i, 0],
        )
        for i in range(count)
    ]
    ax = plots.duty(pumps, LINE, PIT)
    ax.figure.canvas.draw()
    renderer = ax.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    from matplotlib.text import Text

    boxes = [Text.get_window_extent(t, renderer) for t in ax.texts]
    for i, box in enumerate(boxes):
        assert not any(box.overlaps(other) for other in boxes[:i])
    named = " ".join(t.get_text() for t in ax.texts)
    assert all(p.name in named for p in pumps)


def test_neighbouring_curves_differ_in_dash_not_only_in_colour() -> None:
    from drainpump.plots.frame import style

    looks = [style(i) for i in range(16)]
    assert len({(s.color, str(s.dash)) for s in looks}) == 16
    assert all(str(a.dash) != str(b.dash) for a, b in itertools.pairwise(looks))


def test_arrays_are_refused() -> None:
    many = dp.straight_line(pipe=dp.pvc("2"), length_ft=[100, 150], lift_ft=6)
    with pytest.raises(dp.InputError) as err:
        plots.duty(A, many)
    assert str(err.value) == (
        "duty: the inputs hold arrays or lists; a plot shows one case, give scalars."
    )


def test_a_pump_that_cannot_reach_still_draws() -> None:
    high = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=30, name="high")
    ax = plots.duty(A, high)
    assert len(ax.lines) == 3
    assert not [x for x in ax.lines if x.get_marker() == "o"]
