"""Is a pump needed at all: what a gravity pipe of each stock size would carry."""

from __future__ import annotations

from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.findings import Finding, found
from drainpump.parts.scalars import factor, one_factor, one_measure
from drainpump.physics import open_channel
from drainpump.results import Result
from drainpump.units import FloatArray, View

#: inside diameters one can buy by name, in: common practice, no source
_SIZES = (3.0, 4.0, 6.0, 8.0, 10.0, 12.0)
#: Manning's n of a corrugated wall where none is told: middle of the laboratory range
_CORRUGATED = 0.5 * sum(open_channel.manning_n("corrugated pe")[:2])
#: least velocity (m/s) that keeps a drain clean: 2 ft/s, common practice, no source
_CLEAN = 0.6096


class GravityCheck(Result):
    """Gravity pipes of the stock sizes, smooth and corrugated, on one fall.

    Attributes
    ----------
    wall : ndarray of str, shape (W,)
        ``"smooth"`` or ``"corrugated"``.
    bore_in, bore_mm, n, capacity_gpm, capacity_lps : ndarray, shape (W,)
        Inside diameter, Manning's n, and the flow just full.
    velocity_fps, velocity_mps : ndarray, shape (W,)
        Velocity at the need, or full where the need is more than that.
    depth_ratio : ndarray, shape (W,)
        Depth over bore at the need; 1 where the pipe runs full.
    slope : float
        Fall over length.
    need_gpm, need_lps : float
    status : ndarray of str
        ``ok`` where the pipe carries the need, else ``short``.
    """

    _mends: ClassVar[dict[str, str]] = {
        "short": "the pipe carries less than the need; take a larger one, or pump",
    }

    wall: Any
    _bore: FloatArray
    n: FloatArray
    _capacity: FloatArray
    _velocity: FloatArray
    _ratio: FloatArray
    slope: float
    _need: FloatArray
    _status: Any

    bore_in, bore_mm = View("_bore"), View("_bore")
    capacity_gpm, capacity_lps = View("_capacity"), View("_capacity")
    velocity_fps, velocity_mps = View("_velocity"), View("_velocity")
    depth_ratio = View("_ratio")
    need_gpm, need_lps = View("_need"), View("_need")

    def _columns(self, units: u.System) -> dict[str, Any]:
        return {"wall": self.wall, "n": self.n, **super()._columns(units)}

    @property
    def serves(self) -> bool:
        """True where a stock size carries the need by gravity."""
        return bool(np.any(self.ok))

    @property
    def finding(self) -> Finding:
        """The answer in a sentence: whether gravity will do, and in which pipe."""
        need = u.both(self._need, "gpm")
        said, mend = "no stock size carries it by gravity", "pump it"
        i = int(np.argmax(self.ok) if self.serves else self._capacity.argmax())
        if self.serves:
            slow = "" if self._velocity[i] >= _CLEAN else ", though so slowly that grit settles"
            pipe = f"{u.text(self._bore[i], 'in')} {self.wall[i]} pipe"
            said = f"{pipe} carries it by gravity{slow}"
            mend = "no pump is needed where the whole way falls; check that it does"
        return found(
            self._capacity[i], self._need, "gpm",
            code="gravity_serves" if self.serves else "gravity_short",
            where="the way to the outlet", verdict="look" if self.serves else "fine",
            text=f"{need} needed on a fall of {100 * self.slope:.3g} %: {said} "
            f"({u.both(self._capacity[i], 'gpm')} full)",
            mend=mend, source=f"Manning's equation; n: {open_channel.manning_n('pvc smooth')[2]}",
        )  # fmt: skip

    def _remarks(self) -> list[str]:
        return [str(self.finding)]


def gravity_check(
    *,
    fall_ft: u.Quantity | None = None,
    fall_m: u.Quantity | None = None,
    length_ft: u.Quantity | None = None,
    length_m: u.Quantity | None = None,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
    n: float = 0.012,
    n_corrugated: float = _CORRUGATED,
) -> GravityCheck:
    """Return what gravity pipes of the stock sizes would carry over a fall.

    Parameters
    ----------
    fall_ft, fall_m : float
        From the inlet down to the outlet, > 0. Exactly one.
    length_ft, length_m : float
        Of the way, > 0, and more than the fall. Exactly one.
    need_gpm, need_lps : float
        Flow to be carried, >= 0. Exactly one.
    n : float, default 0.012
        Manning's n of a smooth wall. The laboratory range of smooth PVC is 0.009 to 0.011
        (FHWA HDS-5, Table 4); 0.012 allows for joints and dirt (common practice, no source).
    n_corrugated : float, default 0.0215
        That of a corrugated one: the middle of 0.018 to 0.025 (FHWA HDS-5, Table 4).

    Returns
    -------
    GravityCheck

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be.

    Notes
    -----
    Each pipe just full by Manning's equation, ``Q = A (D/4)^(2/3) S^(1/2) / n``.

    Examples
    --------
    >>> import drainpump as dp
    >>> check = dp.inflow.gravity_check(fall_ft=3, length_ft=235, need_gpm=35)
    >>> check.serves, round(float(check.capacity_gpm[2]), 1)
    (True, 104.5)
    """
    said, guards = u.Typed(locals()), {"fall": "positive", "length": "positive", "need": "flow"}
    fall, length, need = (one_measure(x, said.take(x, guard)) for x, guard in guards.items())
    slope = float(factor("slope", fall.si / length.si, 1.0, "the fall is height, the length way"))
    walls = [("smooth", n), ("corrugated", n_corrugated)]
    rough = [one_factor(f"n of {wall} pipe", x, 0.1, "about 0.01 to 0.02") for wall, x in walls]
    size = np.repeat(u.to_si(_SIZES, "in"), 2)
    roughness = np.tile(rough, len(_SIZES))
    full = open_channel.full_flow(size, slope, roughness)
    ratio = open_channel.depth_ratio(need.si, size, slope, roughness)
    angle = 2 * np.arccos(1 - 2 * np.clip(ratio, 0.0, 1.0))
    area = 0.125 * size**2 * (angle - np.sin(angle))
    carried = np.minimum(need.si, full)
    velocity = np.divide(carried, area, out=np.zeros_like(area), where=area > 0)
    return GravityCheck(
        np.tile([wall for wall, _ in walls], len(_SIZES)), size, roughness, full, velocity, ratio,
        slope, need.si, np.where(full >= need.si, "ok", "short"),
    )  # fmt: skip
