"""How a line is laid: lengths that one can buy, what is cut off, and the trench."""

from __future__ import annotations

from drainpump import units as u
from drainpump.errors import UnitError, wrong
from drainpump.parts.part import Part
from drainpump.parts.scalars import fact, one_measure, one_plain
from drainpump.units import View


class Laying(Part):
    """How a line is laid; what it costs is told by `Costs`.

    Parameters
    ----------
    stock_ft, stock_m : float, default 20 ft
        Length in which pipe is sold, > 0 (from memory: PVC comes in 10 and 20 ft, metric
        in 6 m).
    waste_pct : float, default 10
        Pipe that is cut off or broken, >= 0; common practice, no source.
    trench_depth_in, trench_depth_mm, trench_width_in, trench_width_mm : float, optional
        Of the trench, > 0; with both its volume is told.
    bedding_in, bedding_mm : float, default 4 in
        Granular bedding under the pipe, >= 0: ASTM D2321, 4 to 6 in (from memory).

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be; a depth without a width.

    Examples
    --------
    >>> import drainpump as dp
    >>> laid = dp.Laying(trench_depth_in=24, trench_width_in=12)
    >>> laid.stock_ft, laid.bedding_in
    (20.0, 4.0)
    """

    stock_ft, stock_m = View("_stock"), View("_stock")
    waste_pct = View("_waste_pct")
    trench_depth_in, trench_depth_mm = View("_depth", maybe=True), View("_depth", maybe=True)
    trench_width_in, trench_width_mm = View("_width", maybe=True), View("_width", maybe=True)
    bedding_in, bedding_mm = View("_bedding"), View("_bedding")

    def __init__(
        self,
        *,
        stock_ft: float | None = None,
        stock_m: float | None = None,
        waste_pct: float = 10.0,
        trench_depth_in: float | None = None,
        trench_depth_mm: float | None = None,
        trench_width_in: float | None = None,
        trench_width_mm: float | None = None,
        bedding_in: float | None = None,
        bedding_mm: float | None = None,
    ) -> None:
        stock = u.take("stock", guard="positive", default=("ft", 20.0), ft=stock_ft, m=stock_m)
        bed = u.inches(bedding_in, bedding_mm)
        bedding = u.take("bedding", guard="level", default=("in", 4.0), **bed)
        self._stock, self._bedding = one_measure("stock", stock), one_measure("bedding", bedding)
        self._waste_pct = one_plain("waste_pct", waste_pct, "give 0 or more")
        depth, width = (trench_depth_in, trench_depth_mm), (trench_width_in, trench_width_mm)
        self._depth = fact("trench_depth", "positive", **u.inches(*depth))
        self._width = fact("trench_width", "positive", **u.inches(*width))
        if (self._depth is None) != (self._width is None):
            raise UnitError("trench_depth and trench_width: only one given; give both, or neither.")
        if self._depth is not None and self._bedding.si >= self._depth.si:
            raise wrong(
                "bedding", str(self._bedding), "must be less than the trench is deep", "check both"
            )

    def __str__(self) -> str:
        trench = "" if self._depth is None else f", trench {self._width} wide, {self._depth} deep"
        return f"Laying(pipe in lengths of {self._stock}, {self._waste_pct:g} % waste{trench})"
