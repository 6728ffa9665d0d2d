"""Sizes of standard PVC pipe, and the roughness and Hazen-Williams C of pipe walls.

Everything is in metres. The tables are ``data/pipe_sizes.csv`` (inch sizes),
``data/pipe_sizes_metric.csv`` and ``data/pipe_materials.csv``, each row with its source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Literal, TypeAlias

from drainpump.errors import InputError, wrong
from drainpump.foreign import is_among
from drainpump.physics.tables import read_rows

Convention: TypeAlias = Literal["average", "minimum_wall", "1.03_minimum_wall"]
#: The three conventions in print for the bore of standard pipe: which wall each one
#: takes, as (share of the smallest wall, share of the largest wall).
BORES: dict[Convention, tuple[float, float]] = {
    "average": (0.5, 0.5),
    "minimum_wall": (1.0, 0.0),
    "1.03_minimum_wall": (1.03, 0.0),
}


@dataclass(frozen=True)
class PipeSize:
    """One standard pipe: outside diameter and limits of the wall, in metres."""

    standard: str
    schedule: str
    nominal: str
    od: float
    wall_min: float
    wall_max: float
    wall_max_basis: str
    source: str
    certainty: str

    def bore(self, convention: Convention = "average") -> float:
        """Return the inside diameter (m) under one of the conventions of `BORES`.

        Notes
        -----
        ``average``: OD − (t_min + t_max), the middle of the wall's tolerance.
        ``minimum_wall``: OD − 2 t_min, as the published friction tables for Schedule 40
        plastic pipe. ``1.03_minimum_wall``: OD − 2 (1.03 t_min), as the Hydraulic
        Institute's Engineering Data Library.

        Examples
        --------
        >>> round(size("1-1/2", "40").bore() / 0.0254, 3)
        1.59
        """
        if not is_among(convention, BORES):
            allowed = "must be one of " + ", ".join(map(repr, BORES))
            raise wrong("bore", convention, allowed, "pick one of them")
        low, high = BORES[convention]
        return self.od - 2 * (low * self.wall_min + high * self.wall_max)


@cache
def sizes() -> tuple[PipeSize, ...]:
    """Return every standard pipe of the tables: inch sizes first, then metric ones."""
    return (*read_rows(PipeSize, "pipe_sizes.csv"), *read_rows(PipeSize, "pipe_sizes_metric.csv"))


def schedules(*, metric: bool = False) -> list[str]:
    """Return the schedules of the inch sizes, or of the metric ones.

    >>> schedules()
    ['Sch 40', 'Sch 80', 'DWV', 'SDR 21', 'SDR 26', 'SDR 35']
    """
    return list(dict.fromkeys(s.schedule for s in sizes() if _is_metric(s.nominal) == metric))


def size(nominal: object, schedule: object = "40") -> PipeSize:
    """Find one standard pipe.

    Parameters
    ----------
    nominal : str or float
        Nominal size: ``"1-1/2"``, ``"1 1/2"``, ``"1.5 in"``, ``1.5`` are one; the
        metric sizes are named by outside diameter, ``"63 mm"``.
    schedule : str or int
        ``"40"``, ``40``, ``"Sch 40"``, ``"SDR 21"``, ``"sdr-21"``, ``"DWV"`` ...

    Raises
    ------
    InputError
        No such schedule, or it has no such size; the message lists those that exist.

    Examples
    --------
    >>> pipe = size(2, "SDR21")
    >>> pipe.standard, pipe.nominal, round(pipe.wall_min / 0.0254, 3)
    ('ASTM D2241', '2', 0.113)
    """
    wanted = nominal_label(nominal)
    chosen = schedule_label(schedule, metric=_is_metric(wanted))
    rows = {s.nominal: s for s in sizes() if s.schedule == chosen}
    if wanted in rows:
        return rows[wanted]
    same = [n for n in rows if _is_metric(n) == _is_metric(wanted)]
    raise wrong(
        "nominal",
        nominal,
        f"{chosen} pipe comes in {', '.join(same)}",
        "pick one of them, or give the true bore with Pipe(bore_in=...)",
    )


_FRACTIONS = str.maketrans({"¼": " 1/4", "½": " 1/2", "¾": " 3/4"})


def nominal_label(nominal: object) -> str:
    """Return the one spelling of a nominal size used in the tables.

    >>> [nominal_label(n) for n in ("1 1/2", 1.5, "1½ in", 2, '3/4"', "63 mm")]
    ['1-1/2', '1-1/2', '1-1/2', '2', '3/4', '63 mm']
    """
    text = str(nominal).translate(_FRACTIONS).strip().lower()
    metric = text.endswith("mm")
    body = re.sub(r"\s*(mm|inches|inch|in\.?|\")$", "", text)
    match = re.fullmatch(r"(?:(\d+(?:\.\d*)?|\.\d+)(?:[\s-]+|$))?(?:(\d+)/([1-9]\d*))?", body)
    if isinstance(nominal, bool) or not 0 < len(body) < 20 or match is None:
        raise wrong("nominal", nominal, "must be a nominal size such as '1-1/2', 1.5 or '2 in'")
    whole, top, bottom = match.groups()
    value = Fraction(whole or "0") + Fraction(int(top or 0), int(bottom or 1))
    if metric:
        return f"{float(value):g} mm"
    units, rest = divmod(value, 1)
    if not rest:
        return str(units)
    return f"{units}-{rest}" if units else str(rest)


def schedule_label(schedule: object, *, metric: bool = False) -> str:
    """Return the one spelling of a schedule used in the tables.

    >>> [schedule_label(s) for s in (40, "sch. 80", "SDR21", "sdr-26", "dwv")]
    ['Sch 40', 'Sch 80', 'SDR 21', 'SDR 26', 'DWV']
    """
    known = {_key(name): name for name in schedules(metric=metric)}
    key = _key(str(schedule))
    if metric and key == "sdr34.4":  # the standard's own series number for SDR 34
        key = "sdr34"
    if key not in known:
        allowed = "must be one of " + ", ".join(map(repr, known.values()))
        raise wrong("schedule", schedule, allowed, "pick one of them, or use Pipe(bore_in=...)")
    return known[key]


def _key(schedule: str) -> str:
    """Reduce a schedule to its letters and number; a bare number is a Schedule."""
    return re.sub(r"^sch(edule)?|(?<![0-9])[\s._-]+", "", schedule.strip().lower()).lstrip(" .-_")


def _is_metric(nominal: str) -> bool:
    return nominal.endswith("mm")


@dataclass(frozen=True)
class Material:
    """One published property of a pipe wall: roughness (m) or Hazen-Williams C."""

    name: str
    condition: str
    roughness: float | None
    hazen_williams_c: float | None
    source: str
    certainty: str


@cache
def materials() -> tuple[Material, ...]:
    """Return every row of the table of pipe materials."""
    return tuple(read_rows(Material, "pipe_materials.csv", key="material"))


def material(name: str, condition: str, *, what: str) -> Material:
    """Find the row of a material that holds ``what``: "roughness" or "hazen_williams_c".

    >>> material("pvc", "new", what="hazen_williams_c").hazen_williams_c
    150.0
    """
    rows = {(m.name, m.condition): m for m in materials() if getattr(m, what) is not None}
    if (name, condition) not in rows:
        listed = ", ".join(f"{n!r} {c!r}" for n, c in rows)
        raise InputError(
            f"material={name!r}, condition={condition!r}: no {what} in the table; known: {listed}."
        )
    return rows[name, condition]


def roughness(name: str = "plastic", condition: str = "drawn tubing") -> float:
    """Return a published wall roughness in metres.

    >>> round(roughness() / 0.3048, 9)  # in feet
    5e-06
    """
    found = material(name, condition, what="roughness").roughness
    assert found is not None
    return found


def hazen_williams_c(name: str = "pvc", condition: str = "new") -> float:
    """Return a published Hazen-Williams C.

    >>> hazen_williams_c(), hazen_williams_c("pvc", "aged")
    (150.0, 135.0)
    """
    found = material(name, condition, what="hazen_williams_c").hazen_williams_c
    assert found is not None
    return found
