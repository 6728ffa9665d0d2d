"""The built-in demo site: a market garden of our own invention, every figure made up."""

from __future__ import annotations

from dataclasses import dataclass

from drainpump.advice.limits import Limits
from drainpump.parts.line import DischargeLine
from drainpump.parts.outlet import FreeOutlet
from drainpump.parts.pipe import pvc
from drainpump.parts.pit import Pit
from drainpump.parts.run import Run
from drainpump.units import Measure, View, take

__all__ = ["DemoSite", "market_garden"]


@dataclass(frozen=True, eq=False)
class DemoSite:
    """A described site: what the water has to do, and what may be laid.

    Attributes
    ----------
    story : str
        The site in words.
    lines : tuple of DischargeLine
        The pipe sizes considered on the one route.
    pit : Pit
    limits : Limits
    need_gpm, need_lps : float
        Flow needed at the pump-off level.
    inflow_gpm, inflow_lps : float
        Steady inflow for the cycle that is reported.
    """

    story: str
    lines: tuple[DischargeLine, ...]
    pit: Pit
    limits: Limits
    _need: Measure
    _inflow: Measure
    need_gpm, need_lps = View("_need"), View("_need")
    inflow_gpm, inflow_lps = View("_inflow"), View("_inflow")


def market_garden() -> DemoSite:
    """Return the invented market garden.

    Returns
    -------
    DemoSite

    Examples
    --------
    >>> from drainpump.advice.demo import market_garden
    >>> site = market_garden()
    >>> [line.name for line in site.lines]
    ['1-1/2 in line', '2 in line', '3 in line']
    """
    return DemoSite(
        story=(
            "Invented site: a market garden whose lower beds stand in water after rain. Two catch "
            "basins and a French drain lead to a pit beside the packing shed; a submersible pump "
            "lifts the water through 235 ft of buried PVC past the glasshouse to an open swale at "
            "the road side of the garden, from where it runs off by gravity."
        ),
        lines=tuple(_line(size) for size in ("1-1/2", "2", "3")),
        pit=Pit(
            diameter_in=24,
            depth_in=42,
            off_in=8,
            on_in=20,
            alarm_in=26,
            inlet_in=24,
            body_volume_gal=2.5,
            body_height_in=14,
        ),
        limits=Limits(starts_max_per_h=60, run_min_s=20),
        _need=take("need", guard="flow", gpm=35, lps=None),
        _inflow=take("inflow", guard="inflow", gpm=14, lps=None),
    )


def _line(size: str) -> DischargeLine:
    """The one route in one size: a riser out of the pit, then the buried run to the swale."""
    riser = Run(
        pipe=pvc("2" if size == "3" else size),
        length_ft=7,
        rise_ft=6.5,
        fittings={"check_valve_swing": 1, "union": 1, "elbow_90": 1},
        name="riser",
    )
    buried = Run(
        pipe=pvc(size),
        length_ft=228,
        rise_ft=3,
        fittings={"elbow_45": 4, "elbow_90": 2},
        name="buried run",
    )
    return DischargeLine(
        runs=[riser, buried], outlet=FreeOutlet(), water_f=55, name=f"{size} in line"
    )
