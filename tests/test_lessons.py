"""The figures that lessons state in words are the library's, and each lesson has its parts."""

from __future__ import annotations

import re
from typing import Any

import fluids
import numpy as np
import pytest

import drainpump as dp
from tests.notebook import NOTEBOOKS, ROOT, fresh, load

LESSONS = {path.stem[:2]: path for path in NOTEBOOKS if "02" <= path.stem[:2] <= "13"}


def words(number: str) -> str:
    cells = load(LESSONS[number])["cells"]
    text = "\n".join("".join(c["source"]) for c in cells if c["cell_type"] == "markdown")
    return text.replace("**", "")


def names(number: str) -> dict[str, Any]:
    """The names a lesson leaves behind, and what its answers need besides."""
    return fresh(LESSONS[number])[0] | {"dp": dp, "np": np, "op": dp.operating_point} | TOOLS


def colebrook(speed_fps: float, bore_in: float) -> float:
    """Friction factor in PVC at 60 °F, by `fluids`."""
    return float(
        fluids.friction.Colebrook(speed_fps * bore_in / 12 / 1.21e-5, 5e-6 / (bore_in / 12))
    )


def hump(outlet_ft: float) -> dp.DischargeLine:
    pipe = dp.pvc("2")
    return dp.DischargeLine(
        runs=[
            dp.Run(pipe=pipe, length_ft=30, rise_ft=12, k=3.9),
            dp.Run(pipe=pipe, length_ft=120, rise_ft=outlet_ft - 12, k=2.4),
        ]
    )


def over(lift_ft: float, length_ft: float = 30) -> dp.DischargeLine:
    return dp.straight_line(
        pipe=dp.pvc("2"), length_ft=length_ft, lift_ft=lift_ft, fittings={"elbow_90": 2}
    )


def green(size: str, length_ft: float, flow_gpm: float, water_f: float = 60) -> float:
    line = dp.straight_line(pipe=dp.pvc(size), length_ft=length_ft, lift_ft=4, water_f=water_f)
    return float(line.head(flow_gpm=flow_gpm).pipe_ft)


def ponds(at: dict[str, Any], **changes: Any) -> str:
    """Depth and time of ponding on the dairy's yard with changes."""
    given = {x: at[x] for x in ("pump", "line", "pit", "inflow")} | {"pond_area_ft2": 900} | changes
    found = dp.route(
        given["pump"], given["line"], given["pit"], given["inflow"],
        pond_area_ft2=given["pond_area_ft2"],
    )  # fmt: skip
    return f"{found.peak_pond_in:.2f} in", f"{found.pond_min:.0f} min"


def paving(at: dict[str, Any], **changes: Any) -> tuple[str, str]:
    """Depth and time of water on the pottery's paving, its drain changed."""
    found, _ = at["rains_on"](at["old"].replace(**changes))
    return f"{found.peak_depth_in:.2f} in", f"{found.pond_min:.0f} min"


TOOLS = {
    "paving": paving,
    "f": colebrook,
    "hump": hump,
    "over": over,
    "green": green,
    "ponds": ponds,
}

#: what a lesson says, and how it is worked out with the lesson's own names
STATED = [
    ("02", "{op(pump, over(6)).flow_gpm:.1f} gpm become {op(pump, over(6, 60)).flow_gpm:.1f} gpm"),
    ("02", "costs {op(pump, over(6)).flow_gpm - op(pump, over(7)).flow_gpm:.2f} gpm, at 14 ft "
     "{op(pump, over(14)).flow_gpm - op(pump, over(15)).flow_gpm:.2f} gpm"),
    ("03", "smooth line through all points says {steep.head(flow_gpm=20).head_ft:.1f} ft"),
    ("03", "at 8 ft it is {op(steep, line).flow_gpm:.1f} against {op(low, line).flow_gpm:.1f} gpm"),
    ("03", "{op(low, line).power_w / op(low, line).flow_gpm / 60:.2f} Wh a gallon against "
     "{op(steep, line).power_w / op(steep, line).flow_gpm / 60:.2f} Wh"),
    ("03", "gives {op(steep, line.replace(lift_ft=0)).flow_gpm:.1f} gpm and the low one "
     "{op(low, line.replace(lift_ft=0)).flow_gpm:.1f} gpm"),
    ("04", "{line.head(flow_gpm=40).velocity_fps:.2f} ft/s "
     "({line.head(flow_gpm=40).velocity_mps:.2f} m/s)"),
    ("04", "factor by Colebrook: {f(6.46, 1.59):.4f}"),
    ("04", "4 + {line.head(flow_gpm=40).pipe_ft:.1f} + {line.head(flow_gpm=40).fittings_ft:.2f} + "
     "{line.head(flow_gpm=40).outlet_ft:.2f} = {line.head(flow_gpm=40).head_ft:.1f} ft"),
    ("04", "{60 * green('1-1/2', 60, 30) / green('2', 60, 30):.0f} ft: more than three times"),
    ("04", "takes {green('1-1/2', 180, 30, 80):.2f} ft at 80 °F and "
     "{green('1-1/2', 180, 30, 35):.1f} ft at 35 °F"),
    ("05", "lift {why.operating.static_ft:.2f} + pipe {why.operating.pipe_ft:.2f} + fittings "
     "{why.operating.fittings_ft:.2f} + exit {why.operating.outlet_ft:.2f} = "
     "{why.operating.head_ft:.1f} ft"),
    ("05", "to {op(pump, line.replace(k=20)).flow_gpm:.1f} gpm and "
     "{op(pump, line.replace(k=20)).head_ft:.1f} ft"),
    ("05", "{op(dp.PumpCurve(flow_gpm=pump.flow_gpm, head_ft=2 * pump.head_ft), line).flow_gpm:.1f}"
     " gpm in place of {op(pump, line).flow_gpm:.1f} gpm"),
    ("06", "runs at {op(small, lines[1]).flow_gpm:.1f} gpm; there the 1-1/2 in pipe takes "
     "{op(small, lines[1]).pipe_ft:.2f} ft"),
    ("06", "pump again: {op(small, lines[2]).flow_gpm:.1f} gpm"),
    ("06", "{op(small, lines[2].replace(length_ft=324)).flow_gpm:.1f} gpm. Beyond it the small"),
    ("06", "At 324 ft, where both give {op(big, lines[1].replace(length_ft=324)).flow_gpm:.1f}"),
    ("06", "{op(small, dp.DischargeLine(runs=[dp.Run(pipe=dp.pvc('2'), length_ft=75, rise_ft=6, "
     "k=3.15), dp.Run(pipe=dp.pvc('1-1/2'), length_ft=75, k=3.15)], "
     "outlet=dp.FreeOutlet(lid_ft=0.25))).flow_gpm:.1f} gpm, where all of 1-1/2 in"),
    ("07", "a 45 has K {pipe.fitting_k('elbow_45'):.2f}, a pair "
     "{2 * pipe.fitting_k('elbow_45'):.2f}, a 90 has K {pipe.fitting_k('elbow_90'):.2f}"),
    ("08", "vented line gives {dp.high_point(pump, line).vented_flow_gpm:.1f} gpm"),
    ("08", "never siphons: {dp.high_point(pump, line).vented_flow_gpm:.1f} gpm, not "
     "{dp.high_point(pump, line).siphon_flow_gpm:.1f} gpm"),
    ("08", "pipe up to the top, friction factor {f(2.86, 2.047):.4f}"),
    ("08", "all: 12 + 0.49 + 0.62 = {op(pump, line).head_ft:.1f} ft"),
    ("08", "{dp.high_point(pump, hump(4)).high_point_head_ft:.1f} ft with the ditch 4 ft up, "
     "{dp.high_point(pump, hump(-8)).high_point_head_ft:.1f} ft with it 8 ft down"),
    ("09", "{pit.working_volume_gal:.2f} gal"),
    ("09", "{dp.cycle(flow_gpm=68.8, pit=pit, inflow_gpm=9).worst_starts_per_h:.0f} an hour in "
     "place of {dp.cycle(flow_gpm=34.4, pit=pit, inflow_gpm=9).worst_starts_per_h:.1f}"),
    ("09", "even at the rim, 30 in, it starts "
     "{dp.cycle(pump, line, pit.replace(on_in=30), inflow_gpm=9).worst_starts_per_h:.1f} times"),
    ("09", "may sit at {dp.size.float_travel(pump, line, pit=pit.replace(diameter_in=24), "
     "starts_max_per_h=20).on_in:.1f} in"),
    ("10", "stands {ponds(vars)[0]} deep for {ponds(vars)[1]} as it is"),
    ("10", "3 in line: {ponds(vars, line=line.replace(pipe=dp.pvc('3')))[0]} for "
     "{ponds(vars, line=line.replace(pipe=dp.pvc('3')))[1]}"),
    ("10", "same line: {ponds(vars, pump=dp.parallel([pump, pump]))[0]} for "
     "{ponds(vars, pump=dp.parallel([pump, pump]))[1]}"),
    ("10", "twice the area: {ponds(vars, pond_area_ft2=1800)[0]} deep"),
    ("10", "each {ponds(vars, inflow=dp.inflow.Hydrograph(flow_gpm=inflow.flow_gpm / 2, "
     "block_min=5))[0]} for"),
    ("12", "× 448.8 gpm/cfs = {old.capacity_gpm(depth_in=0.5):.1f} gpm "
     "({old.capacity_lps(depth_in=0.5):.3f} L/s)"),
    ("12", "× 448.8 = {old.capacity_gpm():.0f} gpm ({old.capacity_lps():.2f} L/s)"),
    ("12", "The paving stands {paving(vars, clear_share=1.0)[0]} deep for "
     "{paving(vars, clear_share=1.0)[1]} in place of {paving(vars)[0]} for {paving(vars)[1]}. Now"),
    ("12", "{paving(vars, catchments=sources)[0]} for {paving(vars, catchments=sources)[1]} in "
     "place of {paving(vars)[0]} for {paving(vars)[1]}: the same water"),
    ("13", "{0.6 * 4.2 / 12 * 3200:.0f} ft³/h; × 7.481 gal/ft³ / 60 min/h = "
     "{0.6 * 4.2 / 12 * 3200 * 7.48052 / 60:.1f} gpm"),
    ("13", "dry up to the {front[1].dry_up_to_year:.1f}-year storm: in any year 1 - e^(-1/14.2) = "
     "{front[1].yearly_probability:.3f}"),
    ("13", "1 - e^(-10/14.2) = {-np.expm1(-10 / front[1].dry_up_to_year):.3f}"),
    ("13", "Once in {chosen(rain.replace(depth_in=1.2 * rain.depth_in)).dry_pareto[1]"
     ".dry_up_to_year:.1f} years in place of {front[1].dry_up_to_year:.1f}"),
    ("13", "Once in {chosen(rain, 1600).dry_pareto[0].dry_up_to_year:.1f} years in place of "
     "{front[0].dry_up_to_year:.1f}"),
    ("11", "{pit.working_volume_gal:.2f} gal / 26 s × 60 s/min = {test.flow_gpm:.1f} gpm"),
]  # fmt: skip


@pytest.mark.parametrize(("number", "stated"), STATED)
def test_what_a_lesson_states_is_so(number: str, stated: str) -> None:
    at = names(number)
    said = eval(f"f{stated!r}", at | {"vars": at})
    assert said in " ".join(words(number).split())


@pytest.mark.parametrize("number", LESSONS)
def test_a_lesson_has_its_parts(number: str) -> None:
    text = words(number)
    for part in ("After this lesson you can", "## By hand", "## To try", "## To remember"):
        assert text.count(part) == 1
    tries = text.split("## To try")[1].split("\n## ")[0]
    questions = re.findall(r"^\d+\. ", tries, re.MULTILINE)
    assert tries.count("<details><summary>Answer</summary>") == len(questions) >= 2
    by_hand = text.split("## By hand")[1].split("\n## ")[0]
    assert re.search(r"= [\d.]+ (ft|psi|gpm|gal|in)", by_hand) or "0.283" in by_hand


def test_readme_lists_every_notebook() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for path in NOTEBOOKS:
        assert f"](notebooks/{path.name})" in readme
