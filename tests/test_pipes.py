"""Standard pipe and pipes of one's own."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drainpump.errors import InputError, UnitError
from drainpump.parts.line.pipe import Pipe, pvc, pvc_metric
from drainpump.physics import pipes
from drainpump.physics.tables import read_table

INCH = 0.0254


@pytest.mark.parametrize(
    ("nominal", "schedule", "bore_in"),
    [
        ("1-1/4", "40", 1.360),
        ("1-1/2", "40", 1.590),
        ("2", "40", 2.047),
        ("2-1/2", "40", 2.445),
        ("3", "40", 3.042),
        ("4", "40", 3.998),
        ("6", "40", 6.031),
        ("1-1/2", "80", 1.476),
        ("2", "80", 1.913),
        ("4", "80", 3.786),
    ],
)
def test_default_bore_is_the_middle_of_the_wall_tolerance(nominal, schedule, bore_in):
    # OD − (t_min + t_max) with the walls printed in ASTM D1785 in mm; 0.001 in is the print
    assert pvc(nominal, schedule).bore_in == pytest.approx(bore_in, abs=0.0011)


@pytest.mark.parametrize(
    "nominal", ["1-1/2", "1 1/2", 1.5, "1.5", "1.5 in", '1-1/2"', " 1-1/2 IN "]
)
def test_spellings_of_a_nominal_size(nominal):
    assert pipes.size(nominal).nominal == "1-1/2"


@pytest.mark.parametrize("schedule", ["SDR 21", "SDR21", "sdr-21", "sdr_21", "Sdr  21"])
def test_spellings_of_an_sdr(schedule):
    assert pipes.size(2, schedule).schedule == "SDR 21"


@pytest.mark.parametrize("schedule", ["40", 40, "Sch 40", "sch40", "Schedule 40", "SCH-40"])
def test_spellings_of_a_schedule(schedule):
    assert pipes.size("2 in", schedule).schedule == "Sch 40"


@pytest.mark.parametrize("pipe", pipes.sizes(), ids=lambda p: f"{p.nominal} {p.schedule}")
def test_every_size_is_sound_and_sourced(pipe):
    assert 0 < pipe.wall_min < pipe.wall_max < 0.4 * pipe.od
    low, middle, high = (pipe.bore(c) for c in ("average", "1.03_minimum_wall", "minimum_wall"))
    assert 0 < low < middle < high < pipe.od
    assert pipe.source
    assert pipe.wall_max_basis
    assert pipe.certainty in ("seen", "seen in a copy", "second-hand", "derived", "from memory")
    assert pipes.size(pipe.nominal, pipe.schedule) == pipe


@pytest.mark.parametrize(
    "pipe",
    [p for p in pipes.sizes() if "SDR" in p.schedule],
    ids=lambda p: f"{p.nominal} {p.schedule}",
)
def test_sdr_walls_follow_the_ratio(pipe):
    ratio = float(pipe.schedule.split()[1])
    metric = pipe.nominal.endswith("mm")
    # walls are printed to 0.1 mm (metric, rounded up, floor 1.5 mm) or 0.001 in (floor 0.060 in)
    floor, down, up = (1.5e-3, 0.05e-3, 0.15e-3) if metric else (0.060 * INCH, 0.03e-3, 0.03e-3)
    exact = max(pipe.od / ratio, floor)
    assert exact - down <= pipe.wall_min <= exact + up


@pytest.mark.parametrize(
    "pipe",
    [p for p in pipes.sizes() if p.standard.startswith("ASTM")],
    ids=lambda p: f"{p.nominal} {p.schedule}",
)
def test_largest_inch_wall_follows_the_stated_rule(pipe):
    rule = pipe.wall_min + max(0.12 * pipe.wall_min, 0.020 * INCH)
    assert pipe.wall_max == pytest.approx(rule, abs=0.0005 * INCH + 1e-9)


def test_dwv_has_the_walls_of_schedule_40():
    for nominal in ("1-1/4", "1-1/2", "2", "3", "4", "6"):
        dwv, sch40 = pipes.size(nominal, "DWV"), pipes.size(nominal, "40")
        assert (dwv.od, dwv.wall_min, dwv.wall_max) == (sch40.od, sch40.wall_min, sch40.wall_max)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: pvc(7),
            "nominal=7: Sch 40 pipe comes in 1, 1-1/4, 1-1/2, 2, 2-1/2, 3, 4, 5, 6; pick one of "
            "them, or give the true bore with Pipe(bore_in=...).",
        ),
        (
            lambda: pvc(2, "SDR 35"),
            "nominal=2: SDR 35 pipe comes in 4, 6; pick one of them, or give the true bore with "
            "Pipe(bore_in=...).",
        ),
        (
            lambda: pvc(2, "SDR 99"),
            "schedule='SDR 99': must be one of 'Sch 40', 'Sch 80', 'DWV', 'SDR 21', 'SDR 26', "
            "'SDR 35'; pick one of them, or use Pipe(bore_in=...).",
        ),
        (
            lambda: pvc("two"),
            "nominal='two': must be a nominal size such as '1-1/2', 1.5 or '2 in'.",
        ),
        (
            lambda: pvc(True),
            "nominal=True: must be a nominal size such as '1-1/2', 1.5 or '2 in'.",
        ),
        (
            lambda: pvc(2, bore="mean"),
            "bore='mean': must be one of 'average', 'minimum_wall', '1.03_minimum_wall'; "
            "pick one of them.",
        ),
        (
            lambda: pvc("63 mm", "SDR 21"),
            "nominal='63 mm': must be an inch size; metric pipe is pvc_metric(63, 21).",
        ),
        (
            lambda: pvc_metric("63", 41),  # type: ignore[arg-type]
            "od_mm='63': must be a number; write it without quotes.",
        ),
        (
            lambda: pvc_metric(64, 41),
            "od_mm='64 mm': SDR 41 pipe comes in 63 mm, 75 mm, 90 mm, 110 mm, 125 mm, 140 mm, "
            "160 mm; pick one of them, or give the true bore with Pipe(bore_in=...).",
        ),
        (
            lambda: pipes.roughness("wood", "new"),
            "material='wood', condition='new': no roughness in the table; known: 'plastic' "
            "'drawn tubing', 'pvc' 'friction tables', 'commercial steel' 'new', "
            "'galvanised iron' 'new', 'cast iron' 'new', 'concrete' 'smooth', 'concrete' 'rough'.",
        ),
        (
            lambda: Pipe(bore_in=-2),
            "bore_in=-2: must be more than 0 in and at most 196.9 in; give the true inside "
            "diameter.",
        ),
        (
            lambda: Pipe(bore_in=2, hazen_williams_c=0),
            "hazen_williams_c=0: must be from 10 to 200; 150 is new PVC, 130 a usual design value.",
        ),
        (
            lambda: Pipe(bore_in=1, roughness_m=0.004),
            "roughness of 0.0131 ft (0.004 m) in a bore of 1 in (25.4 mm): must be at most a "
            "twentieth of the bore; give the height of the wall's roughness.",
        ),
        (
            lambda: Pipe(bore_in=[1.0, 2.0], roughness_ft=[1e-5, 1e-5, 1e-5]),
            "Pipe: arrays of shapes (2,), (3,), () do not broadcast; give arrays of one shape, "
            "or scalars.",
        ),
    ],
)
def test_what_is_refused_and_how(call, message):
    with pytest.raises(InputError) as err:
        call()
    assert str(err.value) == message


def test_a_bore_needs_exactly_one_unit():
    with pytest.raises(UnitError) as none:
        Pipe()
    assert str(none.value) == "bore: no value given; give exactly one of bore_in, bore_mm."
    with pytest.raises(UnitError) as both:
        Pipe(bore_in=2, bore_mm=50)
    assert str(both.value) == (
        "bore_in=2 and bore_mm=50: more than one unit given; give exactly one of bore_in, bore_mm."
    )


def test_defaults_are_the_sourced_ones():
    pipe = Pipe(bore_in=1.59)
    assert pipe.roughness_ft == 5e-6
    assert pipe.roughness_m == pytest.approx(pipes.roughness(), rel=1e-12)
    assert pipe.hazen_williams_c == pipes.hazen_williams_c() == 150
    assert pipe.source == (
        "bore: as given; roughness: default, plastic: Hydraulic Institute, Engineering Data "
        "Library, Table 3.A.1; Hazen-Williams C: default, new PVC: Illinois Administrative Code, "
        "title 77 part 906, app. A exh. I: friction loss in Schedule 40 plastic pipe, C = 150"
    )
    given = Pipe(bore_mm=40, roughness_m=2e-6, hazen_williams_c=140)
    assert given.source == "bore: as given; roughness: as given; Hazen-Williams C: as given"


def test_the_source_of_a_standard_bore_says_how_sure_it_is():
    assert pvc_metric(50, 26, roughness_m=1e-6, hazen_williams_c=150).source == (
        "bore: average of ISO 4065 and ISO 1452-2 (EN ISO 1452-2), PVC-U pipe, tables of nominal "
        "outside diameter and wall (from memory; derived: wall tolerance 0.1 e + 0.2 mm, e rounded "
        "up to 1 mm (ISO 11922-1 grade W, from memory)); roughness: as given; "
        "Hazen-Williams C: as given"
    )


def test_repr_echoes_what_was_typed_in_both_units():
    assert str(Pipe(bore_mm=40, roughness_m=0.000002, hazen_williams_c=140, name="hose")) == (
        "Pipe('hose', bore 40 mm (1.57 in), roughness 2e-06 m (6.56e-06 ft), C 140)"
    )
    assert Pipe(bore_in=[1.5, 2.0]).name == "bores 1.5 to 2 in, shape (2,)"


def test_a_pipe_cannot_be_changed():
    pipe = Pipe(bore_in=[1.5, 2.0])
    with pytest.raises(AttributeError) as err:
        pipe.bore_in = 3
    assert str(err.value) in (
        "cannot assign to field 'bore_in'",
        "bore_in is read-only; build a new Pipe instead.",
    )
    assert not pipe.bore_in.flags.writeable


def test_array_pipes_keep_shape_and_nan():
    pipe = Pipe(bore_in=[[1.59, np.nan], [2.047, 3.042]], hazen_williams_c=[150, 130])
    k = pipe.fitting_k("elbow_90")
    assert k.shape == (2, 2)
    assert np.isnan(k[0, 1])
    assert k[0, 0] == Pipe(bore_in=1.59).fitting_k("elbow_90")


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 12.0))
def test_both_spellings_of_a_bore_agree(bore_in):
    us, metric = Pipe(bore_in=bore_in), Pipe(bore_mm=bore_in * 25.4)
    assert metric.bore_in == pytest.approx(us.bore_in, rel=1e-12)
    assert us.bore_mm == pytest.approx(metric.bore_mm, rel=1e-12)


def test_nothing_warns_for_any_standard_pipe():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for p in pipes.sizes():
            if p.nominal.endswith("mm"):
                pipe = pvc_metric(float(p.nominal.split()[0]), p.schedule)
                assert pipe.bore_mm == pytest.approx(p.bore() * 1e3, abs=1e-3)
            else:
                pipe = pvc(p.nominal, p.schedule)
                assert pipe.bore_in == pytest.approx(p.bore() / INCH, abs=1e-4)


@pytest.mark.parametrize(
    "file",
    [
        "pipe_sizes.csv",
        "pipe_sizes_metric.csv",
        "pipe_materials.csv",
        "fittings.csv",
        "f_t.csv",
        "equivalent_lengths.csv",
    ],
)
def test_every_row_of_every_table_has_its_source(file):
    rows = read_table(file)
    assert rows
    assert all(row["source"] and row["certainty"] and None not in row for row in rows)
