"""Loss coefficients of fittings: K = (L/D)·f_T or a fixed K, from sourced tables.

f_T is the published friction factor in complete turbulence of clean commercial steel
pipe of the fitting's nominal size. It says how the shape of a fitting changes with its
size and has nothing to do with the roughness of the pipe beside it.

Bores are in metres. The tables are ``data/fittings.csv``, ``data/f_t.csv`` and
``data/equivalent_lengths.csv``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import numpy.typing as npt

from drainpump.errors import InputError, wrong
from drainpump.foreign import is_among, nearest
from drainpump.physics.pipes import nominal_label
from drainpump.physics.tables import read_rows, read_table
from drainpump.units import FloatArray

_INCH = 0.0254
#: Nominal sizes read as numbers would be bores of a metre and more: the mark of a mix-up.
_LARGEST_BORE = 0.9

#: how the names of fittings begin that hold back the water of the line
CHECK_VALVES = ("check_valve", "foot_valve")

_EXIT_NAMES = ("exit", "exit_loss", "outlet", "pipe_exit", "discharge")
_REDUCER_NAMES = ("reducer", "enlarger", "enlargement", "contraction", "increaser")


@dataclass(frozen=True)
class Published:
    """One printed value for a fitting; ``form`` says whether it is "L/D" or "K"."""

    name: str
    form: str
    value: float
    low: float
    high: float
    only_nominal: str
    default: bool
    source: str
    certainty: str

    def k(self, nominal_or_bore: object) -> FloatArray:
        """Return K at a size; NaN at sizes the print does not cover."""
        scale = f_t(nominal_or_bore) if self.form == "L/D" else _ones(nominal_or_bore)
        k = self.value * scale
        if self.only_nominal:
            k = np.where(
                _index(nominal_or_bore) == nominal_sizes().index(self.only_nominal), k, np.nan
            )
        return np.asarray(k)


@dataclass(frozen=True)
class EquivalentLength:
    """One printed equivalent length (m) of a fitting in one nominal size."""

    name: str
    kind: str
    nominal: str
    length: float
    source: str
    certainty: str


def fitting_names() -> list[str]:
    """Return the names of the fittings in the table.

    Returns
    -------
    list of str
        What ``fittings`` of a run may be called; no unit, no order of size.

    Examples
    --------
    >>> fitting_names()[:3]
    ['elbow_90', 'elbow_90_long', 'elbow_45']
    """
    return list(_rows())


def published(name: str) -> tuple[Published, ...]:
    """Return every printed value for one fitting, the default first.

    >>> [(p.form, p.value) for p in published("return_bend")]
    [('L/D', 50.0), ('K', 2.0), ('K', 1.5)]

    Raises
    ------
    InputError
        Unknown name (the nearest ones are given), or one that is no fitting.
    """
    rows = _rows()
    if name in rows:
        return rows[name]
    said = f"{nearest(name, list(rows)).removesuffix('?')}; or give your own Fitting(k=...)"
    allowed = "is not in the table of fittings"
    if name in _EXIT_NAMES:
        allowed = "is not a fitting: the outlet alone charges the exit's K = 1"
        said = "leave it out"
    elif name in _REDUCER_NAMES:
        allowed = "has no K without its two bores"
        said = "compute it with reducer_k and give it as k of the run whose side you name"
    raise wrong("fitting", name, allowed, said)


def is_check_valve(name: str) -> bool:
    """Tell whether a fitting holds the water of the line back: a check or a foot valve.

    >>> is_check_valve("check_valve_swing"), is_check_valve("gate_valve")
    (True, False)
    """
    return published(name)[0].name.startswith(CHECK_VALVES)


def source(name: str) -> str:
    """Return where the default value of a fitting comes from, and how sure that is.

    >>> source("return_bend")
    'L/D 50: Crane Technical Paper 410, Flow of Fluids, K factor table (from memory)'
    """
    row = published(name)[0]
    return f"{row.form} {row.value:g}: {row.source} ({row.certainty})"


def fitting_k(name: str, nominal_or_bore: object) -> FloatArray:
    """Return the default K of a fitting, on the velocity in its own bore.

    Parameters
    ----------
    name : str
        One of `fitting_names`.
    nominal_or_bore : str, float or array_like
        Nominal size as text (``"1-1/2"``), or true bore in metres, > 0.

    Returns
    -------
    ndarray
        K, in the shape of the bore; NaN where the bore is NaN.

    Notes
    -----
    K = (L/D)·f_T, or a fixed K for entrances and joints.

    References
    ----------
    Crane Co., Technical Paper 410, Flow of Fluids Through Valves, Fittings, and Pipe,
    table of K factors (from memory).

    Examples
    --------
    >>> round(float(fitting_k("elbow_90", "1-1/2")), 2)
    0.6
    """
    return published(name)[0].k(nominal_or_bore)


def fitting_k_range(name: str, nominal_or_bore: object) -> tuple[FloatArray, FloatArray]:
    """Return the smallest and the largest K in print for a fitting at a size.

    >>> low, high = fitting_k_range("elbow_90", "2")
    >>> round(float(low), 2), round(float(high), 2)
    (0.57, 1.5)
    """
    low, high = [], []
    for row in published(name):
        k = row.k(nominal_or_bore)
        low.append(k * (row.low / row.value))
        high.append(k * (row.high / row.value))
    # the default covers every size, so a NaN there is a NaN bore and stays one
    missing = np.isnan(low[0])
    return (
        np.where(missing, np.nan, np.fmin.reduce(low)),
        np.where(missing, np.nan, np.fmax.reduce(high)),
    )


def equivalent_lengths(name: str) -> tuple[EquivalentLength, ...]:
    """Return the equivalent lengths of a fitting as printed, table by table.

    >>> max(e.length / 0.3048 for e in equivalent_lengths("elbow_90") if e.nominal == "2")
    11.0
    """
    published(name)
    rows = read_rows(EquivalentLength, "equivalent_lengths.csv")
    return tuple(row for row in rows if row.name == name)


def f_t(nominal_or_bore: object) -> FloatArray:
    """Return the published f_T of a nominal size, or of the one nearest to a bore.

    Parameters
    ----------
    nominal_or_bore : str, float or array_like
        Nominal size as text, or true bore in metres. A bore takes the nominal size whose
        Schedule 40 steel bore is nearest; beyond either end of the table its end holds.

    Examples
    --------
    >>> float(f_t("1-1/2")), float(f_t(1.59 * 0.0254))
    (0.02, 0.02)
    """
    index = _index(nominal_or_bore)
    values = np.array([float(row["f_t"]) for row in read_table("f_t.csv")] + [np.nan])
    return np.asarray(values[index])


def enlargement_k(bore_ratio: npt.ArrayLike) -> FloatArray:
    """Return K of a sudden enlargement, on the velocity in the smaller bore.

    Parameters
    ----------
    bore_ratio : float or array_like
        Smaller bore over larger bore, 0 < ratio <= 1.

    Notes
    -----
    K = (1 − β²)², Borda-Carnot.

    References
    ----------
    Crane Co., Technical Paper 410, sudden and gradual enlargement (from memory).

    Examples
    --------
    >>> float(enlargement_k(0.5))
    0.5625
    """
    return np.asarray((1 - _ratio(bore_ratio) ** 2) ** 2)


def contraction_k(bore_ratio: npt.ArrayLike) -> FloatArray:
    """Return K of a sudden contraction, on the velocity in the smaller bore.

    Parameters
    ----------
    bore_ratio : float or array_like
        Smaller bore over larger bore, 0 < ratio <= 1.

    Notes
    -----
    K = 0.5 (1 − β²).

    References
    ----------
    Crane Co., Technical Paper 410, sudden and gradual contraction (from memory).

    Examples
    --------
    >>> float(contraction_k(0.5))
    0.375
    """
    return np.asarray(0.5 * (1 - _ratio(bore_ratio) ** 2))


def reducer_k(*, upstream: npt.ArrayLike, downstream: npt.ArrayLike, side: str) -> FloatArray:
    """Return K of a sudden change of bore, on the velocity of the side named.

    Parameters
    ----------
    upstream, downstream : float or array_like
        The two bores, > 0, both in the same unit (only their ratio counts).
    side : {"upstream", "downstream"}
        The side whose velocity K refers to: give the K to the run on that side.

    Notes
    -----
    Contraction or enlargement by the smaller bore; on the larger bore K is divided by β⁴.

    Examples
    --------
    >>> float(reducer_k(upstream=1, downstream=2, side="upstream"))
    0.5625
    >>> float(reducer_k(upstream=1, downstream=2, side="downstream"))
    9.0
    """
    if not is_among(side, ("upstream", "downstream")):
        raise wrong("side", side, "must be 'upstream' or 'downstream'", "name K's side")
    up = np.asarray(upstream, dtype=np.float64)
    down = np.asarray(downstream, dtype=np.float64)
    for name, value in (("upstream", up), ("downstream", down)):
        if (value <= 0).any() or np.isinf(value).any():
            allowed = "must be finite and more than 0"
            raise wrong(name, value.tolist(), allowed, "give the true bore")
    ratio = np.minimum(up, down) / np.maximum(up, down)
    small = np.where(up > down, contraction_k(ratio), enlargement_k(ratio))
    own = up if side == "upstream" else down
    return np.asarray(small * (own / np.minimum(up, down)) ** 4)


def _ratio(bore_ratio: npt.ArrayLike) -> FloatArray:
    ratio = np.asarray(bore_ratio, dtype=np.float64)
    if ((ratio <= 0) | (ratio > 1)).any():
        mend = "divide the smaller bore by the larger"
        raise wrong("bore_ratio", ratio.tolist(), "must be more than 0 and at most 1", mend)
    return ratio


@cache
def _rows() -> dict[str, tuple[Published, ...]]:
    """Gather the printed values by fitting, default first."""
    rows: dict[str, list[Published]] = {}
    for row in read_rows(Published, "fittings.csv"):
        # where no span is in print, both ends are the value
        low, high = row.low or row.value, row.high or row.value
        rows.setdefault(row.name, []).append(replace(row, low=low, high=high))
    return {k: tuple(sorted(v, key=lambda p: not p.default)) for k, v in rows.items()}


@cache
def nominal_sizes() -> list[str]:
    """Return the nominal sizes (in) that have an f_T."""
    return [row["nominal"] for row in read_table("f_t.csv")]


def _index(nominal_or_bore: object) -> npt.NDArray[np.intp]:
    """Return the row of the f_T table for a size; one past its end for a NaN bore."""
    if isinstance(nominal_or_bore, str):
        label = nominal_label(nominal_or_bore)
        if label not in nominal_sizes():
            allowed = f"has no f_T; the table holds {', '.join(nominal_sizes())} in"
            raise wrong("nominal", nominal_or_bore, allowed, "give the true bore instead")
        return np.asarray(nominal_sizes().index(label))
    bore = np.asarray(nominal_or_bore, dtype=np.float64)
    if ((bore <= 0) | (bore > _LARGEST_BORE)).any():
        raise InputError(
            f"bore={bore.tolist()!r}: must be in metres, more than 0 and at most {_LARGEST_BORE}; "
            "a nominal size is given as text, '1-1/2'."
        )
    steel = np.array([float(row["steel_bore_in"]) for row in read_table("f_t.csv")]) * _INCH
    index = np.argmin(np.abs(bore[..., None] - steel), axis=-1)
    return np.where(np.isnan(bore), len(steel), index)


def _ones(nominal_or_bore: object) -> FloatArray:
    """Return 1 in the shape of the size, NaN where the bore is NaN."""
    return f_t(nominal_or_bore) * 0 + 1
