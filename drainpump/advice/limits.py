"""What a chosen pump and line must respect: each limit visible, sourced, one's own to set."""

from __future__ import annotations

from typing import Any

from drainpump import units as u
from drainpump.parts.part import Part
from drainpump.units import View

__all__ = ["Limits"]

#: where each limit comes from, by the attribute's name without its unit
SOURCES: dict[str, str] = {
    "velocity_min": "force main at least 2 ft/s at normal rate: NJAC 7:14A-23.10(g)",
    "velocity_max": "8 ft/s, Ten States Standards 49.1 (from memory); UFC 3-240-06A allows "
    "10 ft/s, general handbook advice for plastic pipe is about 5 ft/s (second-hand)",
    "starts_max": "no published limit found for such small motors; set by the user "
    "(larger stations: 10 to 15 min a cycle below 15 kW, UFC 3-240-04A table 7-1)",
    "run_min": "no published limit found for such small motors; set by the user",
    "range_share_max": "no published limit found; set by the user",
}


class Limits(Part):
    """Limits that a candidate must keep; None leaves a limit out.

    Parameters
    ----------
    velocity_min_fps, velocity_min_mps : float or None, default 2 ft/s
        Least velocity in every run, > 0: below it grit settles.
    velocity_max_fps, velocity_max_mps : float or None, default 8 ft/s
        Greatest velocity in every run, > 0.
    starts_max_per_h : float, optional
        Most starts per hour in the worst case over all inflows; needs a pit.
    run_min_s : float, optional
        Shortest run, with no inflow while it pumps; needs a pit.
    range_share_max : float, optional
        Greatest share of the curve's last flow, 0 < share <= 1.
    no_velocity_min, no_velocity_max : bool, default False
        Leave the default velocity limit out.

    Attributes
    ----------
    sources : dict of str
        Where each limit comes from.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.Limits(velocity_max_fps=6)
    Limits(velocity_min 2.0 ft/s (0.6096 m/s), velocity_max 6 ft/s (1.829 m/s))
    """

    velocity_min_fps, velocity_min_mps = View("_velocity_min"), View("_velocity_min")
    velocity_max_fps, velocity_max_mps = View("_velocity_max"), View("_velocity_max")
    starts_max_per_h = View("_starts_max")
    run_min_s = View("_run_min")
    range_share_max = View("_range_share_max")

    def __init__(
        self,
        *,
        velocity_min_fps: Any = None,
        velocity_min_mps: Any = None,
        velocity_max_fps: Any = None,
        velocity_max_mps: Any = None,
        starts_max_per_h: Any = None,
        run_min_s: Any = None,
        range_share_max: Any = None,
        no_velocity_min: bool = False,
        no_velocity_max: bool = False,
    ) -> None:
        self._velocity_min = (
            None
            if no_velocity_min
            else u.take(
                "velocity_min",
                guard="velocity",
                default=("fps", 2.0),
                fps=velocity_min_fps,
                mps=velocity_min_mps,
            )
        )
        self._velocity_max = (
            None
            if no_velocity_max
            else u.take(
                "velocity_max",
                guard="velocity",
                default=("fps", 8.0),
                fps=velocity_max_fps,
                mps=velocity_max_mps,
            )
        )
        self._starts_max = u.maybe("starts_max", guard="rate", per_h=starts_max_per_h)
        self._run_min = u.maybe("run_min", guard="time", s=run_min_s)
        self._range_share_max = (
            None
            if range_share_max is None
            else u.plain(
                "range_share_max",
                range_share_max,
                low=0.0,
                high=1.0,
                mend="give a share of the curve's last flow",
            )
        )
        self.sources = dict(SOURCES)

    def __repr__(self) -> str:
        parts = [
            f"{name[1:]} {value}"
            for name, value in vars(self).items()
            if name.startswith("_") and value is not None
        ]
        return f"Limits({', '.join(parts)})"
