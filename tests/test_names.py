"""Names and texts of others are shown by a terminal or page, never obeyed."""

from __future__ import annotations

import pytest

import drainpump as dp
from drainpump.errors import InputError
from drainpump.paper.blocks import Heading, to_text
from drainpump.paper.demo import market_garden

#: clears a screen; the second by a single control character of ISO 6429
HOSTILE = ["red\x1b[2J", "red\x9b2J", "two\nlines", "back\u202ewards"]
PIPE = dp.Pipe(bore_in=2.067)
PUMP = dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0])
NAMED = {
    "pipe": lambda name: dp.Pipe(bore_in=2, name=name),
    "run": lambda name: dp.Run(pipe=PIPE, length_ft=9, name=name),
    "line": lambda name: dp.straight_line(pipe=PIPE, length_ft=9, lift_ft=5, name=name),
    "fitting": lambda name: dp.Fitting(name=name),
    "parallel": lambda name: dp.parallel([PUMP, PUMP], name=name),
    "series": lambda name: dp.series([PUMP, PUMP], name=name),
    "catchment": lambda name: dp.inflow.Catchment(area_ft2=900, runoff=0.9, tc_min=5, name=name),
}


@pytest.mark.parametrize("thing", NAMED)
def test_a_name_is_text_that_can_be_printed(thing):
    make = NAMED[thing]
    make("Garten · 2½ in")
    make(None)
    for name in HOSTILE:
        with pytest.raises(InputError) as err:
            make(name)
        assert str(err.value) == (
            f"name={name!r}: must be a printable name; leave it out, or say what to call it."
        )
    with pytest.raises(InputError) as err:
        make(3)
    assert str(err.value) == "name=3: must be text; leave it out, or say what to call it."


@pytest.mark.parametrize("key", [3, *HOSTILE])
def test_a_fitting_of_ones_own_stands_under_a_name(key):
    with pytest.raises(InputError) as err:
        dp.Run(pipe=PIPE, length_ft=9, fittings={key: dp.Fitting(k=0.5)})
    assert str(err.value) == (
        f"fittings={{{key!r}: Fitting(k=0.5)}}: must map names to numbers of "
        "pieces; give {'elbow_90': 5}."
    )


@pytest.mark.parametrize("bad", ["\x1b[2J", "\x9b2J", "\x7f", "\x85", "\ud800"])
def test_a_jobs_text_holds_nothing_a_terminal_obeys(bad):
    with pytest.raises(InputError) as err:
        dp.Job.from_dict(market_garden().to_dict() | {"story": f"a{bad}"})
    assert str(err.value) == ("$.story: holds characters that cannot be printed; take them out.")


def test_a_heading_of_two_lines_is_one_line_of_plain_text():
    assert to_text([Heading("site\nRejected: none", level=1)]) == (
        "site Rejected: none\n===================\n"
    )
