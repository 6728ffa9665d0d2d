"""A pipe: its true bore, the roughness of its wall and its Hazen-Williams C."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, spelled, wrong
from drainpump.parts.part import Part, maker
from drainpump.parts.scalars import check_name
from drainpump.physics import fittings, pipes
from drainpump.results import one_shape, short
from drainpump.units import Measure, Value, View

_ROUGHNESS = pipes.material("plastic", "drawn tubing", what="roughness")
_NEW_PVC = pipes.material("pvc", "new", what="hazen_williams_c")
_ROUGHNESS_FT = 5e-6


class Pipe(Part):
    """A pipe of a given bore; standard pipe is easier by `pvc` and `pvc_metric`.

    Parameters
    ----------
    bore_in, bore_mm : float or array_like
        True inside diameter, > 0. Exactly one.
    roughness_ft, roughness_m : float or array_like, optional
        Height of the wall's roughness, >= 0; by default 0.000005 ft, drawn tubing and
        plastic (Hydraulic Institute, Engineering Data Library, Table 3.A.1).
    hazen_williams_c : float or array_like, default 150
        Hazen-Williams C, 10 to 200; the default is that of new PVC.
    nominal : str or float, optional
        Nominal size, by which the fittings' f_T is read; by default that of the steel
        pipe whose bore is nearest.
    name : str, optional
        What to call the pipe in tables.

    Raises
    ------
    UnitError
        Neither or both units of the bore, or both of the roughness.
    InputError
        An impossible value, or a wall rougher than a twentieth of the bore.

    Examples
    --------
    >>> print(Pipe(bore_in=1.59))
    Pipe('1.59 in bore', bore 1.59 in (40.4 mm), roughness 5e-06 ft (1.52e-06 m), C 150)
    >>> round(Pipe(bore_mm=40).bore_in, 4)
    1.5748
    """

    source: str
    size: pipes.PipeSize | None  # the standard pipe it is, where it is one

    bore_in, bore_mm = View("_bore"), View("_bore")
    roughness_ft, roughness_m = View("_roughness"), View("_roughness")

    def __init__(
        self,
        *,
        bore_in: u.Quantity | None = None,
        bore_mm: u.Quantity | None = None,
        roughness_ft: u.Quantity | None = None,
        roughness_m: u.Quantity | None = None,
        hazen_williams_c: u.Quantity | None = None,
        nominal: str | float | None = None,
        name: str | None = None,
    ) -> None:
        said = u.Typed(locals())
        bore = said.take("bore")
        rough = said.take("roughness", default=("ft", _ROUGHNESS_FT))
        c = u.plain(
            "hazen_williams_c", 150.0 if hazen_williams_c is None else hazen_williams_c,
            low=10.0, high=200.0, mend="150 is new PVC, 130 a usual design value",
        )  # fmt: skip
        check_name(name)
        one_shape("Pipe", bore.si, rough.si, c)
        if (rough.si > bore.si / 20).any():
            raise InputError(
                f"roughness of {u.both(rough.si, 'ft')} in a bore of {u.both(bore.si, 'in')}: "
                "must be at most a twentieth of the bore; give the height of the wall's roughness."
            )
        self._bore, self._roughness, self._c = bore, rough, c
        self.nominal = None if nominal is None else pipes.nominal_label(nominal)
        self.name = _bore_name(bore) if name is None else name
        vars(self).update(source=_sources("as given", self.given), size=None)

    @property
    def hazen_williams_c(self) -> Value:
        """Hazen-Williams C."""
        found: Value = u.out(self._c)
        return found

    def fitting_k(self, name: str) -> Value:
        """Return the table's K of one fitting in this pipe, on this pipe's velocity.

        Parameters
        ----------
        name : str
            A fitting of the table, see ``drainpump.physics.fittings.fitting_names``.

        Returns
        -------
        float or ndarray
            K, in the shape of the bore.

        Raises
        ------
        InputError
            Unknown name; the nearest ones are given.

        Notes
        -----
        K = (L/D)·f_T with f_T of clean commercial steel in the nominal size.

        References
        ----------
        Crane Co., Technical Paper 410, table of K factors (from memory).

        Examples
        --------
        >>> pvc("1-1/2").fitting_k("elbow_90")
        0.6
        """
        k = fittings.fitting_k(name, self._fitting_size())
        found: Value = u.out(np.broadcast_to(k, self._bore.si.shape))
        return found

    def _replaced(self, changes: dict[str, Any]) -> Any:
        if self.size is None or not {"bore_in", "bore_mm"} & set(changes):
            return super()._replaced(changes)
        # with a bore of its own it is no standard pipe any more; its size still tells f_T
        wall = {k: v for k, v in self.given.items() if k.startswith(("roughness", "hazen"))}
        for name in changes:
            for spelling in u.spellings(name, wall):
                del wall[spelling]
        return Pipe(**{"nominal": self.nominal} | wall | changes)

    def _fitting_size(self) -> object:
        """Return the size the fittings' tables are read at: an inch size, else the bore."""
        if self.nominal is not None and self.nominal in fittings.nominal_sizes():
            return self.nominal
        return self._bore.si

    def __str__(self) -> str:
        c = short(self._c) if self._c.ndim else f"{self._c:g}"
        return f"Pipe({self.name!r}, bore {self._bore}, roughness {self._roughness}, C {c})"


@maker
def pvc(
    nominal: str | float,
    schedule: str | int = "40",
    *,
    bore: pipes.Convention = "average",
    roughness_ft: u.Quantity | None = None,
    roughness_m: u.Quantity | None = None,
    hazen_williams_c: u.Quantity | None = None,
) -> Pipe:
    """Return standard PVC pipe of an inch size.

    Parameters
    ----------
    nominal : str or float
        Nominal size, 1 to 6 in: ``"1-1/2"``, ``1.5``, ``"2 in"``.
    schedule : str or int, default "40"
        ``"40"``, ``"80"``, ``"DWV"``, ``"SDR 21"``, ``"SDR 26"`` or ``"SDR 35"``.
    bore : {"average", "minimum_wall", "1.03_minimum_wall"}
        Which wall the bore allows for: the middle of its tolerance, the smallest allowed
        (published friction tables), or 1.03 times that.
    roughness_ft, roughness_m : float or array_like, optional
        Height of the wall's roughness, >= 0; by default that of plastic, see `Pipe`.
    hazen_williams_c : float or array_like, optional
        Hazen-Williams C, 10 to 200; by default that of new PVC, see `Pipe`.

    Returns
    -------
    Pipe

    Raises
    ------
    InputError
        No such size, schedule or convention; the message lists those that exist.

    Notes
    -----
    average: OD − (t_min + t_max). minimum_wall: OD − 2 t_min.

    References
    ----------
    ASTM D1785 (Schedule 40, 80), D2665 (DWV), D2241 (SDR 21, 26), D3034 (SDR 35). The
    pipe's ``source`` says which figures were seen and which are derived.

    Examples
    --------
    >>> print(pvc("1-1/2"))
    Pipe('1-1/2 in Sch 40 PVC', bore 1.59 in (40.4 mm), roughness 5e-06 ft (1.52e-06 m), C 150)
    >>> pvc(2, bore="minimum_wall").bore_in
    2.067
    """
    if pipes.nominal_label(nominal).endswith("mm"):
        raise wrong("nominal", nominal, "must be an inch size", "metric pipe is pvc_metric(63, 21)")
    found = pipes.size(nominal, schedule)
    name = f"{found.nominal} in {found.schedule} PVC"
    return _standard(found, bore, "in", name, roughness_ft, roughness_m, hazen_williams_c)


@maker
def pvc_metric(
    od_mm: float,
    sdr: str | float,
    *,
    bore: pipes.Convention = "average",
    roughness_ft: u.Quantity | None = None,
    roughness_m: u.Quantity | None = None,
    hazen_williams_c: u.Quantity | None = None,
) -> Pipe:
    """Return standard PVC-U pipe by its nominal outside diameter and SDR.

    Parameters
    ----------
    od_mm : float
        Nominal outside diameter: 32, 40, 50, 63, 75, 90, 110, 125, 140 or 160 mm.
    sdr : str or float
        Outside diameter over wall: 41, 34, 26, 21, 17 or 13.6 (not every size has all).
    bore : {"average", "minimum_wall", "1.03_minimum_wall"}
        Which wall the bore allows for, see `pvc`.
    roughness_ft, roughness_m : float or array_like, optional
        Height of the wall's roughness, >= 0; by default that of plastic, see `Pipe`.
    hazen_williams_c : float or array_like, optional
        Hazen-Williams C, 10 to 200; by default that of new PVC, see `Pipe`.

    Returns
    -------
    Pipe

    Raises
    ------
    InputError
        No such size, SDR or convention; the message lists those that exist.

    References
    ----------
    ISO 4065 and ISO 1452-2 (EN ISO 1452-2), walls and tolerances from memory.

    Examples
    --------
    >>> print(pvc_metric(63, 21))
    Pipe('63 mm SDR 21 PVC-U', bore 56.5 mm (2.22 in), roughness 5e-06 ft (1.52e-06 m), C 150)
    """
    if isinstance(od_mm, str):
        raise wrong("od_mm", od_mm, "must be a number", "write it without quotes")
    text = str(sdr).strip()
    with spelled({"nominal": "od_mm", "schedule": "sdr"}):
        found = pipes.size(f"{od_mm} mm", text if text[:1].isalpha() else f"SDR {text}")
    name = f"{found.nominal} {found.schedule} PVC-U"
    return _standard(found, bore, "mm", name, roughness_ft, roughness_m, hazen_williams_c)


def _standard(
    found: pipes.PipeSize, convention: pipes.Convention, unit: str, name: str, *wall: Any
) -> Pipe:
    """Build a standard pipe, and say where its bore comes from."""
    # to what a table could print: 1e-5 in, 1e-4 mm
    true = round(float(u.from_si(found.bore(convention), unit)), {"in": 5, "mm": 4}[unit])
    of_wall = dict(zip(("roughness_ft", "roughness_m", "hazen_williams_c"), wall, strict=True))
    pipe = Pipe(**{f"bore_{unit}": true}, **of_wall, nominal=found.nominal, name=name)
    basis = f"; {found.wall_max_basis}" if convention == "average" else ""
    source = f"{convention} of {found.source} ({found.certainty}{basis})"
    vars(pipe).update(source=_sources(source, pipe.given), size=found)
    return pipe


def _sources(bore: str, given: Mapping[str, Any]) -> str:
    rough = "roughness_ft" in given or "roughness_m" in given
    roughness = "as given" if rough else f"default, plastic: {_ROUGHNESS.source}"
    c = "as given" if "hazen_williams_c" in given else f"default, new PVC: {_NEW_PVC.source}"
    return f"bore: {bore}; roughness: {roughness}; Hazen-Williams C: {c}"


def pipe_in_words(pipe: Pipe, say: Callable[[Any, str], str]) -> str:
    """A pipe's name; one that nobody named by its bore, as ``say`` says a length in inches."""
    named = pipe.nominal is not None or "name" in pipe.given or pipe.si.bore.ndim
    return pipe.name if named else f"{say(pipe.si.bore, 'in')} bore"


def _bore_name(bore: Measure) -> str:
    if bore.si.ndim:
        return f"bores {u.text(bore.si, bore.unit)}"
    return f"{bore.typed} {u.UNITS[bore.unit].label} bore"


Pipe._makers = {"pvc": pvc, "pvc_metric": pvc_metric}
