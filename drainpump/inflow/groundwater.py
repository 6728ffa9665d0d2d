"""Water that comes from the ground, by formula; what the pit itself tells is better."""

from __future__ import annotations

from typing import Any, Literal, TypeAlias

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, wrong
from drainpump.foreign import is_among
from drainpump.physics import seepage as ground
from drainpump.results import Result, one_shape
from drainpump.units import FloatArray, View


class Seepage(Result):
    """Steady water from the ground, as a band.

    Attributes
    ----------
    flow_gpm, flow_lps : float or ndarray
        With the soil's class average, or the conductivity given.
    flow_low_gpm, flow_high_gpm : float or ndarray (and ``_lps``)
        With the band's ends; equal to the flow for a conductivity given.
    conductivity_in_per_h, conductivity_mm_per_h : float or ndarray
    equivalent_depth_ft, equivalent_depth_m : float or ndarray
        Hooghoudt's depth to the barrier; NaN for a trench.
    """

    _flow: FloatArray
    _low: FloatArray
    _high: FloatArray
    _conductivity: FloatArray
    _equivalent: FloatArray

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    flow_low_gpm, flow_low_lps = View("_low"), View("_low")
    flow_high_gpm, flow_high_lps = View("_high"), View("_high")
    conductivity_in_per_h, conductivity_mm_per_h = View("_conductivity"), View("_conductivity")
    equivalent_depth_ft, equivalent_depth_m = View("_equivalent"), View("_equivalent")

    @property
    def _status(self) -> Any:
        return np.where(np.isnan(self._flow), "bad_input", "ok")


Drain: TypeAlias = Literal["pipe", "trench"]


def seepage(
    *,
    drain: Drain = "pipe",
    soil: str | None = None,
    conductivity_in_per_h: u.Quantity | None = None,
    conductivity_mm_per_h: u.Quantity | None = None,
    length_ft: u.Quantity | None = None,
    length_m: u.Quantity | None = None,
    height_ft: u.Quantity | None = None,
    height_m: u.Quantity | None = None,
    barrier_ft: u.Quantity | None = None,
    barrier_m: u.Quantity | None = None,
    spacing_ft: u.Quantity | None = None,
    spacing_m: u.Quantity | None = None,
    bore_in: u.Quantity | None = None,
    bore_mm: u.Quantity | None = None,
    reach_ft: u.Quantity | None = None,
    reach_m: u.Quantity | None = None,
    sides: int = 2,
) -> Seepage:
    """Return the steady flow of ground water to a drain.

    Parameters
    ----------
    drain : {"pipe", "trench"}
        A perforated pipe among parallel ones (Hooghoudt), or a trench that draws the
        water table down on its way to an undisturbed one (Dupuit).
    soil : str
        A class of the sourced table: the answer is then a band a hundred wide. Either
        this or the conductivity.
    conductivity_in_per_h, conductivity_mm_per_h : float or array_like
        Hydraulic conductivity, > 0.
    length_ft, length_m : float or array_like
        Length of the drain, > 0.
    height_ft, height_m : float or array_like
        Water table above the drain (above the trench's water), >= 0: midway between
        pipes, or undisturbed.
    barrier_ft, barrier_m : float or array_like
        Depth of the impervious layer below the drain (below the trench's water), >= 0.
    spacing_ft, spacing_m, bore_in, bore_mm : float or array_like
        Distance of the pipes, and the drain's diameter with its gravel, > 0; pipe only.
    reach_ft, reach_m : float or array_like
        Distance at which the water table is undisturbed, > 0; trench only.
    sides : {1, 2}
        Sides from which water comes to the trench.

    Returns
    -------
    Seepage

    Raises
    ------
    UnitError, InputError
        An input missing that the drain needs, one it does not use, values that cannot be.

    Notes
    -----
    Pipe: ``q = (8 K d H + 4 K H²)/L²`` over the length times the spacing, d the equivalent
    depth. Trench, each side: ``K (H² - h²)/(2 L)``, heights above the barrier.

    Where the inflow matters, measure it: `inflow_from_rise`, `inflow_from_cycles`.

    References
    ----------
    See `drainpump.physics.seepage`.

    Examples
    --------
    >>> import drainpump as dp
    >>> drain = dp.inflow.seepage(soil="loam", length_ft=60, spacing_ft=30, height_ft=1,
    ...                    barrier_ft=4, bore_in=6)
    >>> [round(x, 3) for x in (drain.flow_low_gpm, drain.flow_gpm, drain.flow_high_gpm)]
    [0.01, 0.101, 1.007]
    """
    low, typical, high = _conductivity(soil, conductivity_in_per_h, conductivity_mm_per_h)
    said = u.Typed(locals())
    length = said.take("length").si
    height, barrier = said.take("height", "level").si, said.take("barrier", "level").si
    spacing = said.maybe("spacing", "length")
    bore, reach = said.maybe("bore", "positive"), said.maybe("reach", "positive")
    _check_drain(drain, sides, {"spacing": spacing, "bore": bore, "reach": reach})
    given = [m.si for m in (spacing, bore, reach) if m is not None]
    one_shape("seepage", typical, length, height, barrier, *given)
    # both formulas are linear in the conductivity: taken at 1, then by soil, low to high
    if drain == "trench":
        assert reach is not None
        unit = sides * ground.trench(1.0, barrier + height, barrier, reach.si) * length
        depth = np.full_like(unit, np.nan)
    else:
        assert spacing is not None
        assert bore is not None
        # Hooghoudt gives the rate over the ground, so over spacing times length for one drain
        depth = ground.equivalent_depth(barrier, spacing.si, 0.5 * bore.si)
        unit = ground.hooghoudt(1.0, 1.0, depth, height, spacing.si) * spacing.si * length
    return Seepage(unit * typical, unit * low, unit * high, typical, depth)


def _conductivity(soil: Any, us: Any, metric: Any) -> tuple[FloatArray, FloatArray, FloatArray]:
    known = u.maybe("conductivity", in_per_h=us, mm_per_h=metric)
    if (soil is None) == (known is None):
        raise UnitError(
            "soil and conductivity: give exactly one of soil, conductivity_in_per_h, "
            "conductivity_mm_per_h."
        )
    # a conductivity that was measured has no band of its own
    if known is not None:
        return known.si, known.si, known.si
    band = ground.soil(soil)
    return np.asarray(band.low), np.asarray(band.typical), np.asarray(band.high)


def _check_drain(drain: Drain, sides: int, given: dict[str, Any]) -> None:
    needs = {"pipe": ("spacing", "bore"), "trench": ("reach",)}
    if not is_among(drain, needs):
        raise wrong("drain", drain, "must be 'pipe' or 'trench'", "pick one of the two")
    if not isinstance(sides, int) or sides not in (1, 2):
        raise wrong("sides", sides, "must be 1 or 2", "count the sides water comes from")
    for name, value in given.items():
        if (value is None) == (name in needs[drain]):
            how = "is needed" if value is None else "is not used"
            raise InputError(
                f"{name}: {how} for drain={drain!r}; it takes {' and '.join(needs[drain])}."
            )
