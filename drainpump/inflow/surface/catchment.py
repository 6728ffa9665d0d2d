"""What drains to the pit: catchments, a roof by its downspouts, a gravel trench."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import UnitError, wrong
from drainpump.parts.part import Part
from drainpump.parts.scalars import check_name, factor, whole
from drainpump.physics import runoff as tables
from drainpump.results import one_shape, short
from drainpump.units import FloatArray, View


class Catchment(Part):
    """A surface whose rain runs to the pit.

    Parameters
    ----------
    area_ft2, area_m2 : float or array_like
        Plan area, > 0. Exactly one.
    runoff : float, array_like or str
        Share of the rain that runs off, 0 to 1; or a surface of the sourced table
        (``"roof"``), of whose range the middle is taken. Either this or the curve number.
    curve_number : float, array_like or str
        Curve number, 0 < CN <= 100, or a cover on a soil of the sourced table
        (``"lawn good, soil C"``): the first rain is lost, within the storm.
    tc_min : float or array_like
        Time of concentration, > 0: how long water from the far end takes to arrive.
        See `time_of_concentration`. Five minutes is the usual least (common practice,
        no source).
    name : str, optional
        What to call it in tables.

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be; an unknown surface names its neighbours.

    Examples
    --------
    >>> import drainpump as dp
    >>> yard = dp.inflow.Catchment(area_ft2=400, runoff=0.90, tc_min=5)
    >>> yard.runoff, dp.inflow.Catchment(area_ft2=400, runoff="roof", tc_min=5).runoff_range
    (0.9, (0.75, 0.95))
    """

    area_ft2, area_m2 = View("_area"), View("_area")
    tc_min = View("_tc")
    runoff = View("_runoff")
    curve_number = View("_curve_number")

    def __init__(
        self,
        *,
        area_ft2: u.Quantity | None = None,
        area_m2: u.Quantity | None = None,
        runoff: Any = None,
        curve_number: Any = None,
        tc_min: u.Quantity,
        name: str | None = None,
    ) -> None:
        if (runoff is None) == (curve_number is None):
            raise UnitError(
                "runoff and curve_number: give exactly one of the two, the share that runs off or "
                "the curve number."
            )
        keywords = u.Typed(locals())
        self._area, self._tc = keywords.take("area"), keywords.take("tc", "positive")
        found = tables.coefficient(runoff) if isinstance(runoff, str) else None
        self.runoff_range = None if found is None else (found.low, found.high)
        source = "" if found is None else found.source
        if found is not None:
            runoff = 0.5 * (found.low + found.high)
        if isinstance(curve_number, str):
            curve_number, source = tables.curve_number(curve_number)
        self.source = source
        if runoff is None:
            kept = factor("curve_number", curve_number, 100.0, "usually 40 to 98")
        else:
            mend = "give the share of the rain that runs off"
            kept = u.plain("runoff", runoff, low=0.0, high=1.0, mend=mend)
        self._runoff = None if runoff is None else kept
        self._curve_number = kept if runoff is None else None
        # an array of the catchment's own shape
        self._whole_shape = np.zeros(one_shape("Catchment", self._area.si, kept, self._tc.si))
        said = "runoff" if curve_number is None else "curve_number"
        given = {f"area_{self._area.unit}": self._area.si, said: kept}
        for label, value in (given | {"tc_min": self._tc.si}).items():
            if np.isnan(value).any():
                raise wrong(label, float("nan"), "must be a number", "a storm needs every one")
        check_name(name)
        self.name = name or "catchment"

    def _shed(self, fallen: FloatArray) -> FloatArray:
        """Volume (m³) that has run off when rain of depth ``fallen`` (m) has fallen, (..., n)."""
        area = self._area.si[..., None]
        if self._curve_number is not None:
            return area * tables.curve_number_depth(fallen, self._curve_number[..., None])
        assert self._runoff is not None
        return area * self._runoff[..., None] * fallen

    @property
    def _sheds(self) -> str:
        """What of the rain runs off, in words."""
        if self._curve_number is not None:
            return f"curve number {short(self._curve_number)}"
        return f"runoff {short(self._runoff)}"

    def __str__(self) -> str:
        return f"Catchment({self.name!r}: area {self._area}, {self._sheds}, tc {self._tc})"


def roof(
    *,
    area_ft2: u.Quantity | None = None,
    area_m2: u.Quantity | None = None,
    downspouts: int,
    reaching: int,
    runoff: Any = "roof",
    tc_min: u.Quantity = 5.0,
    name: str = "roof",
) -> Catchment:
    """Return the part of a roof whose downspouts reach the pit.

    Parameters
    ----------
    area_ft2, area_m2 : float or array_like
        Plan area of the whole roof, > 0.
    downspouts, reaching : int
        How many downspouts share the roof evenly, and how many of them run to the pit;
        0 < reaching <= downspouts.
    runoff, tc_min, name
        As in `Catchment`. Five minutes is common practice, no source.

    Returns
    -------
    Catchment

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.inflow.roof(area_ft2=2400, downspouts=4, reaching=2, runoff=0.95).area_ft2
    1200.0
    """
    roofed = u.take("area", ft2=area_ft2, m2=area_m2)
    for label, count in (("downspouts", downspouts), ("reaching", reaching)):
        whole(label, count, "count the downspouts")
    if reaching > downspouts:
        raise wrong("reaching", reaching, f"must be at most {downspouts}, the downspouts there are",
                    "count those that run to the pit")  # fmt: skip
    area = np.asarray(roofed.get(roofed.unit)) * (reaching / downspouts)
    return Catchment(
        **{f"area_{roofed.unit}": u.out(area)}, runoff=runoff, tc_min=tc_min, name=name
    )


class Trench(Part):
    """A gravel trench around a drain, whose voids hold water back.

    Parameters
    ----------
    length_ft, length_m, width_ft, width_m, depth_ft, depth_m : float or array_like
        Of the gravel below the level at which the trench overflows, > 0.
    voids : float, 0 < voids < 1
        Share of the gravel's room that is water when full; about 0.4 for clean stone
        (common practice, no source).

    Examples
    --------
    >>> import drainpump as dp
    >>> trench = dp.inflow.Trench(length_ft=60, width_ft=1, depth_ft=2, voids=0.4)
    >>> round(trench.storage_gal, 1)
    359.1
    """

    storage_gal, storage_l = View("_storage"), View("_storage")

    def __init__(
        self,
        *,
        length_ft: u.Quantity | None = None,
        length_m: u.Quantity | None = None,
        width_ft: u.Quantity | None = None,
        width_m: u.Quantity | None = None,
        depth_ft: u.Quantity | None = None,
        depth_m: u.Quantity | None = None,
        voids: Any,
    ) -> None:
        said = u.Typed(locals())
        self._length, self._width = said.take("length"), said.take("width", "side")
        self._depth = said.take("depth")
        self._voids = u.plain("voids", voids, low=0.0, high=1.0, mend="about 0.4 for clean stone")
        one_shape("Trench", self._length.si, self._width.si, self._depth.si, self._voids)

    @property
    def _storage(self) -> FloatArray:
        return np.asarray(self._length.si * self._width.si * self._depth.si * self._voids)

    def __str__(self) -> str:
        return (
            f"Trench(length {self._length}, width {self._width}, depth {self._depth}, "
            f"voids {short(self._voids)}; {u.both(self._storage, 'gal')})"
        )
