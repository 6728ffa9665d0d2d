"""Pipe dimensions and fittings: standards, code tables and printed equivalent lengths."""

from __future__ import annotations

from collections.abc import Callable

import fluids

from drainpump.physics import fittings, pipes
from drainpump.physics.tables import read_table
from tests.reference.check import Check

_INCH, _MM, _FOOT = 0.0254, 1e-3, 0.3048

_D1785 = "ASTM D1785, PVC plastic pipe Schedules 40, 80 and 120, dimension tables (read in a copy)"
_HI = "Hydraulic Institute, Engineering Data Library, PVC pipe table, inside diameter"
_D2241 = "ASTM D2241, PVC pressure-rated pipe (SDR series), wall table (second-hand)"
_MPCA = (
    "Minnesota Pollution Control Agency and University of Minnesota, Pump Selection Design "
    "Worksheet: equivalent length of plastic fittings"
)
_IRC = "International Residential Code 2018, appendix A, Table A.2.2, screwed fittings"
_FT = "fluids (PyPI), fittings.ft_Crane: fit to Crane Technical Paper 410's f_T"
_STEEL = "fluids (PyPI), piping.nearest_pipe: ASME B36.10M Schedule 40 steel pipe"

# nominal: inside diameter in inches, OD − 2 t_min
_SCH40_MINIMUM = {
    "1": 1.049,
    "1-1/4": 1.380,
    "1-1/2": 1.610,
    "2": 2.067,
    "2-1/2": 2.469,
    "3": 3.068,
    "4": 4.026,
    "5": 5.047,
    "6": 6.065,
}
# nominal: inside diameter in inches, OD − 2 (1.03 t_min). Left out: 5 in Schedule 40, which
# the library prints with the Schedule 80 wall (0.375 in, 4.791 in).
_HI_BORES = {
    "Sch 40": {
        "1": 1.041,
        "1-1/4": 1.372,
        "1-1/2": 1.601,
        "2": 2.058,
        "2-1/2": 2.457,
        "3": 3.055,
        "4": 4.012,
        "6": 6.048,
    },
    "Sch 80": {
        "1": 0.946,
        "1-1/4": 1.267,
        "1-1/2": 1.488,
        "2": 1.926,
        "2-1/2": 2.306,
        "3": 2.882,
        "4": 3.806,
        "5": 4.791,
        "6": 5.735,
    },
    "SDR 21": {"3": 3.157, "4": 4.059, "6": 5.975},
    "SDR 26": {"3": 3.223, "4": 4.143, "6": 6.100},
}
# nominal: smallest and largest wall in millimetres
_WALLS_MM = {
    "Sch 40": {
        "1": (3.38, 3.89),
        "1-1/4": (3.56, 4.07),
        "1-1/2": (3.68, 4.19),
        "2": (3.91, 4.42),
        "2-1/2": (5.16, 5.77),
        "3": (5.49, 6.15),
        "4": (6.02, 6.73),
        "6": (7.11, 7.97),
    },
    "Sch 80": {
        "1": (4.55, 5.08),
        "1-1/4": (4.85, 5.43),
        "1-1/2": (5.08, 5.69),
        "2": (5.54, 6.20),
        "2-1/2": (7.01, 7.85),
        "3": (7.62, 8.53),
        "4": (8.56, 9.58),
        "6": (10.97, 12.29),
    },
}
_SDR21_WALL_MM = {"1-1/4": 2.0, "1-1/2": 2.29, "2": 2.87, "3": 4.24, "4": 5.44, "6": 8.02}

# fitting: {nominal: equivalent length in feet}
_MPCA_FT = {
    "elbow_90": {"1-1/2": 4.03, "2": 5.17, "3": 7.67},
    "elbow_45": {"1-1/2": 2.15, "2": 2.76, "3": 4.09},
    "tee_run": {"1-1/2": 2.68, "2": 3.45, "3": 5.11},
    "tee_branch": {"1-1/2": 8.05, "2": 10.3, "3": 15.3},
    "check_valve_swing": {"1-1/2": 13.4, "2": 17.2, "3": 25.5},
    "gate_valve": {"1-1/2": 1.07, "2": 1.38, "3": 2.04},
    "angle_valve": {"1-1/2": 20.1, "2": 25.8, "3": 38.4},
    "globe_valve": {"1-1/2": 45.6, "2": 58.6, "3": 86.9},
    "butterfly_valve": {"2": 7.75, "3": 11.5},
}
_IRC_FT = {
    "elbow_90": {
        "1": 2.62,
        "1-1/4": 3.45,
        "1-1/2": 4.02,
        "2": 5.17,
        "2-1/2": 6.16,
        "3": 7.67,
        "4": 10.1,
    },
    "tee_branch": {
        "1": 5.24,
        "1-1/4": 6.9,
        "1-1/2": 8.04,
        "2": 10.3,
        "2-1/2": 12.3,
        "3": 15.3,
        "4": 20.2,
    },
}
_STEEL_SIZES = {"1": 1.0, "1-1/4": 1.25, "1-1/2": 1.5, "2": 2.0, "2-1/2": 2.5, "3": 3.0, "4": 4.0}


def _bore(nominal: str, schedule: str, convention: str) -> Callable[[], float]:
    return lambda: pipes.size(nominal, schedule).bore(convention) / _INCH


def _wall(nominal: str, schedule: str, which: str) -> Callable[[], float]:
    return lambda: getattr(pipes.size(nominal, schedule), which) / _MM


def _steel_bore(nominal: str) -> float:
    rows = {row["nominal"]: row for row in read_table("f_t.csv")}
    return float(rows[nominal]["steel_bore_in"])


def _equivalent(name: str, nominal: str) -> Callable[[], float]:
    """The length whose loss at f_T equals our K: L = K·D/f_T, with the steel bore D."""

    def length() -> float:
        bore = _steel_bore(nominal) * _INCH
        return float(fittings.fitting_k(name, nominal) * bore / fittings.f_t(nominal)) / _FOOT

    return length


def _dimensions() -> list[Check]:
    ours_rounded = "printed to 0.001 in from walls printed to 0.001 in"
    checks = [
        Check(
            f"bore at minimum wall, {nominal} in Sch 40",
            _bore(nominal, "40", "minimum_wall"),
            published,
            _D1785,
            "in",
            abs=0.0006,
            why="printed to 0.001 in",
        )
        for nominal, published in _SCH40_MINIMUM.items()
    ]
    for schedule, bores in _HI_BORES.items():
        for nominal, published in bores.items():
            checks.append(
                Check(
                    f"bore at 1.03 minimum wall, {nominal} in {schedule}",
                    _bore(nominal, schedule, "1.03_minimum_wall"),
                    published,
                    _HI,
                    "in",
                    abs=0.0016,
                    why=ours_rounded,
                )
            )
    for schedule, walls in _WALLS_MM.items():
        for nominal, (low, high) in walls.items():
            for which, published in (("wall_min", low), ("wall_max", high)):
                checks.append(
                    Check(
                        f"{which}, {nominal} in {schedule}",
                        _wall(nominal, schedule, which),
                        published,
                        _D1785,
                        "mm",
                        abs=0.013,
                        why="our walls are kept to 0.001 in, half of which is 0.013 mm",
                    )
                )
    for nominal, published in _SDR21_WALL_MM.items():
        checks.append(
            Check(
                f"wall_min, {nominal} in SDR 21",
                _wall(nominal, "SDR 21", "wall_min"),
                published,
                _D2241,
                "mm",
                abs=0.02,
                why="the millimetre print rounds 0.001 in to 0.01 mm, 6 in by up to 0.02 mm",
            )
        )
    return checks


def _lengths() -> list[Check]:
    checks = []
    for source, tag, table in ((_MPCA, "Minnesota", _MPCA_FT), (_IRC, "residential code", _IRC_FT)):
        for name, row in table.items():
            for nominal, published in row.items():
                checks.append(
                    Check(
                        f"equivalent length of {name}, {nominal} in ({tag})",
                        _equivalent(name, nominal),
                        published,
                        source,
                        "ft",
                        rel=0.005,
                        why="printed to three digits",
                    )
                )
    return checks


def _friction_factors() -> list[Check]:
    checks = []
    for nominal, nps in _STEEL_SIZES.items():
        steel = fluids.piping.nearest_pipe(NPS=nps, schedule="40")[1]
        checks.append(
            Check(
                f"f_T, {nominal} in",
                lambda nominal=nominal: float(fittings.f_t(nominal)),
                fluids.fittings.ft_Crane(steel),
                _FT,
                abs=0.0005,
                why="the table prints f_T to 0.001; half of that",
            )
        )
        checks.append(
            Check(
                f"steel bore the f_T table is read by, {nominal} in",
                lambda nominal=nominal: _steel_bore(nominal),
                steel / _INCH,
                _STEEL,
                "in",
                abs=0.003,
                why="steel walls are printed in mm and differ by up to 0.003 in",
            )
        )
    return checks


CHECKS: list[Check] = [
    *_dimensions(),
    *_lengths(),
    *_friction_factors(),
    Check(
        "K of a 90° elbow, 1-1/2 in",
        lambda: float(fittings.fitting_k("elbow_90", "1-1/2")),
        0.60,
        "Crane Technical Paper 410, 30 f_T with f_T 0.020 (from memory)",
        abs=0.001,
        why="printed to 0.01, both factors exact",
    ),
    Check(
        "K of a swing check valve, 1-1/2 in",
        lambda: float(fittings.fitting_k("check_valve_swing", "1-1/2")),
        2.0,
        "Hydraulic Institute, Engineering Data Library, worked example: swing check K 2.0",
        rel=0.15,
        why="a round figure for all sizes; charts of the same source are read to 15 %",
    ),
]
