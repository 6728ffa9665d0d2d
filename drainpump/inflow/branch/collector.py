"""A branch to the pit: a grate, a pipe, the low spot above them, and which of them limits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, wrong
from drainpump.findings import Finding, found
from drainpump.inflow.surface.catchment import Catchment
from drainpump.parts.part import Part
from drainpump.parts.pond import PondStorage, take_pond
from drainpump.parts.scalars import (
    check_name,
    factor,
    known,
    one_factor,
    one_measure,
    one_or_more,
    yes_or_no,
)
from drainpump.physics import open_channel
from drainpump.results import one_shape
from drainpump.units import FloatArray, Measure, View

#: share of a grate's edge and of its area that stays open: a state highway manual (ch. 10,
#: after FHWA HEC-22) recommends about a half
CLOGGING = 0.5
#: share of a grate that is open where nobody measured it: our judgement, no source
_OPEN = 0.5


class Collector(Part):
    """A branch to the pit: catch basin, French drain or downspout, with its pipe.

    Parameters
    ----------
    bore_in, bore_mm : float
        Inside diameter of the pipe, > 0. Exactly one.
    slope : float
        Fall over length of the pipe, 0 < slope <= 1.
    n : float
        Manning's n, 0 < n <= 0.1: about 0.009 to 0.011 smooth PVC, 0.018 to 0.025
        corrugated (``drainpump.physics.open_channel.manning_n`` has the sources).
    grate_length_in, grate_length_mm, grate_width_in, grate_width_mm : float, optional
        Of a rectangular grate in a sag, > 0.
    grate_diameter_in, grate_diameter_mm : float, optional
        Of a round one, > 0.
    grate_open_share : float, default 0.5
        Open share of the grate, 0 < share <= 1; the default is our judgement, no source.
    clear_share : float, default 0.5
        What leaves and grit leave of its edge and its open area, 0 < share <= 1.
    kerb : bool, default False
        Whether a long side of the grate stands against a kerb, and takes in nothing.
    seepage_gpm, seepage_lps : float, optional
        What a perforated drain gathers from the ground, >= 0, besides its catchments.
    catchments : Catchment or sequence of them, optional
        What drains to the branch.
    pond_area_ft2, pond_area_m2 : float, optional
        Area over which water stands at the branch's low spot, > 0.
    pond_storage : PondStorage, optional
        The same as a table.
    overflow_in, overflow_mm : float, optional
        Depth at the low spot above which water runs elsewhere, > 0.
    name : str, optional
        What to call it in tables.

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be, half a grate, a grate of two shapes.

    References
    ----------
    FHWA, *Urban Drainage Design Manual*, HEC-22 (grate inlets in sag); V. T. Chow,
    *Open-Channel Hydraulics*, 1959 (Manning's equation).

    Examples
    --------
    >>> import drainpump as dp
    >>> basin = dp.inflow.Collector(
    ...     bore_in=4, slope=0.01, n=0.012, grate_length_in=6, grate_width_in=6)
    >>> round(basin.capacity_gpm(), 1), round(basin.capacity_gpm(depth_in=1), 1)
    (92.5, 32.4)
    >>> basin.weakest(depth_in=1), basin.weakest(depth_in=5)
    ('grate', 'pipe')
    """

    bore_in, bore_mm = View("_bore"), View("_bore")
    seepage_gpm, seepage_lps = View("_seepage"), View("_seepage")
    overflow_in, overflow_mm = View("_overflow"), View("_overflow")
    pipe_gpm, pipe_lps = View("_pipe"), View("_pipe")

    _nested: ClassVar = {
        "catchments": lambda many: [Catchment.from_dict(one) for one in many],
        "pond_storage": PondStorage.from_dict,
    }

    def __init__(
        self,
        *,
        bore_in: u.Quantity | None = None,
        bore_mm: u.Quantity | None = None,
        slope: float,
        n: float,
        grate_length_in: u.Quantity | None = None,
        grate_length_mm: u.Quantity | None = None,
        grate_width_in: u.Quantity | None = None,
        grate_width_mm: u.Quantity | None = None,
        grate_diameter_in: u.Quantity | None = None,
        grate_diameter_mm: u.Quantity | None = None,
        grate_open_share: float = _OPEN,
        clear_share: float = CLOGGING,
        kerb: bool = False,
        seepage_gpm: u.Quantity | None = None,
        seepage_lps: u.Quantity | None = None,
        catchments: Catchment | Sequence[Catchment] = (),
        pond_area_ft2: u.Quantity | None = None,
        pond_area_m2: u.Quantity | None = None,
        pond_storage: PondStorage | None = None,
        overflow_in: u.Quantity | None = None,
        overflow_mm: u.Quantity | None = None,
        name: str | None = None,
    ) -> None:
        said = u.Typed(locals())
        self._bore = said.take("bore")
        self.slope = one_factor("slope", slope, 1.0, "give fall over length, 0.01 for 1 %")
        self.n = one_factor("n", n, 0.1, "about 0.01 smooth plastic, 0.02 corrugated")
        sides = ("grate_length", "grate_width", "grate_diameter")
        length, width, across = (said.maybe(side, "positive") for side in sides)
        open_share = factor("grate_open_share", grate_open_share, 1.0, "give the open share")
        clear = factor("clear_share", clear_share, 1.0, "0.5 is usual, 1 is a clean grate")
        #: True where water enters through a grate
        self.has_grate = (length, width, across) != (None, None, None)
        self._edge, self._open = (
            clear * x for x in _grate(length, width, across, open_share, yes_or_no("kerb", kerb))
        )
        self._seepage = said.maybe("seepage", "inflow")
        if self._seepage is not None:
            known("seepage", self._seepage)
        self.catchments = one_or_more("catchments", catchments, Catchment)
        self._given["catchments"] = list(self.catchments)
        self._pond_known = pond_storage is not None or (pond_area_ft2, pond_area_m2) != (None, None)
        self._pond = take_pond(pond_area_ft2, pond_area_m2, pond_storage)
        self._overflow = said.maybe("overflow", "level")
        self._check_overflow(pond_storage)
        check_name(name)
        self.name = name or f"{self._bore.typed} {u.UNITS[self._bore.unit].label} drain"

    def _check_overflow(self, storage: PondStorage | None) -> None:
        """Refuse an overflow of no depth, without a pond, or deeper than its table."""
        if (overflow := self._overflow) is None:
            return
        label = f"overflow_{overflow.unit}"
        if not self._pond_known:
            raise wrong(
                label, overflow.typed, "needs the size of the low spot",
                "give pond_area_ft2 or pond_storage",
            )  # fmt: skip
        if np.any(overflow.si <= 0):
            raise wrong(
                label, overflow.typed, "must be more than 0", "give the depth of water there"
            )
        if storage is not None and np.any(overflow.si > storage.si.depth[-1]):
            deepest = (
                f"must be at most the pond table's last depth, {storage.si.depth[-1] / 0.0254:g} in"
            )
            raise wrong(label, overflow.typed, deepest, "or give a table that goes further")

    def _one(self) -> None:
        """Refuse, for a storm, a branch that is several, or of which something is not known."""
        ground = () if isinstance(self._pond, PondStorage) else (("pond_area", self._pond.si.area),)
        overflow = () if self._overflow is None else (("overflow", self._overflow.si),)
        grate = (("the grate", self._edge), ("its opening", self._open)) if self.has_grate else ()
        needed = ground if self._pond_known else ()
        for what, value in (("bore", self._bore.si), *grate, *needed, *overflow):
            if np.ndim(value) or np.isnan(value):
                raise InputError(
                    f"collector {self.name!r}: {what} must be one number; a storm goes through one "
                    "branch, so make a Collector for each."
                )

    @property
    def _pipe(self) -> FloatArray:
        """What the pipe carries just full, m³/s."""
        return open_channel.full_flow(self._bore.si, self.slope, self.n)

    def _grate_at(self, depth: FloatArray) -> FloatArray:
        """What the grate takes in under water so deep (m), m³/s; no bound without one."""
        if not self.has_grate:
            return np.full(np.shape(depth), np.inf)
        return open_channel.sag_grate(depth, self._edge, self._open)

    def _capacity(self, depth: FloatArray) -> FloatArray:
        """What gets to the pit under water so deep (m), m³/s."""
        return np.minimum(self._pipe, self._grate_at(depth))

    def capacity_gpm(
        self, *, depth_in: u.Quantity | None = None, depth_mm: u.Quantity | None = None
    ) -> u.Value:
        """Return what the branch brings, in gpm.

        Parameters
        ----------
        depth_in, depth_mm : float or array_like, optional
            Water above the grate, >= 0. Without it the pipe's own flow.

        Returns
        -------
        float or ndarray
        """
        return u.from_si(self._carried(depth_in, depth_mm), "gpm")

    def capacity_lps(
        self, *, depth_in: u.Quantity | None = None, depth_mm: u.Quantity | None = None
    ) -> u.Value:
        """Return what the branch brings, in L/s, as `capacity_gpm`."""
        return u.from_si(self._carried(depth_in, depth_mm), "lps")

    def _carried(self, us: Any, metric: Any) -> FloatArray:
        depth = u.maybe("depth", guard="level", **u.inches(us, metric))
        return self._pipe if depth is None else self._capacity(depth.si)

    def weakest(
        self, *, depth_in: u.Quantity | None = None, depth_mm: u.Quantity | None = None
    ) -> str:
        """Return what limits the branch under so much water: ``"grate"`` or ``"pipe"``.

        Parameters
        ----------
        depth_in, depth_mm : float
            Water above the grate, >= 0. Exactly one.
        """
        given = u.take("depth", guard="level", **u.inches(depth_in, depth_mm))
        depth = one_measure("depth", given).si
        return "grate" if bool(np.all(self._grate_at(depth) < self._pipe)) else "pipe"

    def link(self, flow: FloatArray) -> Finding:
        """Say whether the branch or a pump of ``flow`` (m³/s) is the weaker."""
        brings, pumped = float(self._pipe), float(flow)
        short = brings < pumped
        said = "it brings {}, the pump takes {}".format(*u.apart(brings, pumped, "gpm"))
        weaker = f"the {self.name}, not the pump" if short else f"the pump, not the {self.name}"
        return found(
            brings, pumped, "gpm",
            code="branch_short", where=self.name, verdict="look" if short else "fine",
            text=f"{weaker}: {said}", mend="a larger or steeper pipe to the pit" if short else "",
            source="Manning's equation, pipe full: V. T. Chow, Open-Channel Hydraulics, 1959",
        )  # fmt: skip

    def __str__(self) -> str:
        parts = [f"bore {self._bore}", f"slope {self.slope:g}", f"n {self.n:g}"]
        parts += ["a grate"] * self.has_grate
        if self._seepage is not None:
            parts.append(f"seepage {self._seepage}")
        parts += [one.name for one in self.catchments]
        return f"Collector({self.name!r}: {', '.join(parts)}; {u.both(self._pipe, 'gpm')} full)"


def _grate(
    length: Measure | None,
    width: Measure | None,
    across: Measure | None,
    open_share: FloatArray,
    kerb: bool,
) -> tuple[FloatArray, FloatArray]:
    """Edge (m) and open area (m²) of a clean grate; NaN where there is none."""
    if across is not None:
        if length is not None or width is not None:
            said = "grate_diameter and grate_length: both shapes given; give the one of the two."
            raise UnitError(said)
        if kerb:
            raise wrong("kerb", kerb, "must be False for a round grate", "leave it out")
        return np.pi * across.si, 0.25 * np.pi * across.si**2 * open_share
    if length is None or width is None:
        if length is not width:
            raise UnitError("grate_length and grate_width: only one given; give both, or neither.")
        return np.asarray(np.nan), np.asarray(np.nan)
    one_shape("Collector", length.si, width.si)
    sides = length.si + 2 * width.si if kerb else 2 * (length.si + width.si)
    return np.asarray(sides), np.asarray(length.si * width.si * open_share)
