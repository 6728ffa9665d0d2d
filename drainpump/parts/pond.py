"""The low spot that floods when the pit is full."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.parts.part import Part
from drainpump.units import FloatArray, View

__all__ = ["PondStorage", "take_pond"]


class _Ground:
    """What stands above the pit's rim, as the rooms ask for it (SI)."""

    def _volume_at(self, depth: FloatArray) -> FloatArray:
        raise NotImplementedError

    def _room_to(self, level: FloatArray, rim: FloatArray) -> FloatArray:
        """Water that ponds before it stands at a level (m above the floor), m³.

        Raises
        ------
        InputError
            The level lies above the rim where the pond's size is not known.
        """
        above = np.maximum(level - rim, 0.0)
        volume = np.where(above > 0, self._volume_at(above), 0.0)
        if np.any(np.isnan(volume) & ~np.isnan(above)):
            raise InputError(
                f"overflow level {u.both(level, 'in')}: lies above the rim and the pond's size "
                "there is not known; give pond_area_ft2, or a pond_storage that reaches so high."
            )
        return volume


class PondStorage(_Ground, Part):
    """How much water stands around the pit at each depth above its rim.

    Parameters
    ----------
    depth_in, depth_mm : array_like, shape (K,)
        Depths above the rim, rising; a depth of 0 with no water is added in front.
    volume_gal, volume_l : array_like, shape (K,)
        Water that stands there, rising.

    Notes
    -----
    Linear between the rows and never extrapolated: a storm that ponds more than the last
    row holds is at least as deep as that row, and says so by its status.

    Examples
    --------
    >>> import drainpump as dp
    >>> pond = dp.PondStorage(depth_in=[1, 3, 6], volume_gal=[40, 300, 1400])
    >>> print(pond)
    PondStorage(3 rows, to 6 in (152.4 mm), 1400 gal (5300 L))
    """

    depth_in, depth_mm = View("_depth"), View("_depth")
    volume_gal, volume_l = View("_volume"), View("_volume")

    def __init__(
        self,
        *,
        depth_in: u.Quantity | None = None,
        depth_mm: u.Quantity | None = None,
        volume_gal: u.Quantity | None = None,
        volume_l: u.Quantity | None = None,
    ) -> None:
        self._depth = u.take("depth", guard="level", **u.inches(depth_in, depth_mm))
        self._volume = u.take("volume", guard="volume", gal=volume_gal, l=volume_l)
        depth, volume = self._depth.si, self._volume.si
        if depth.ndim != 1 or depth.shape != volume.shape or depth.size == 0:
            raise InputError(
                f"PondStorage: depths of shape {depth.shape} and volumes of shape {volume.shape}; "
                "give two lists of one length, one row or more."
            )
        for label, column in (("depth", depth), ("volume", volume)):
            falls = ~(np.diff(column, prepend=0.0) > 0)
            if falls.any():
                i = int(np.argmax(falls))
                raise InputError(
                    f"{label}[{i}]: must be above the row before it and above 0; sort the rows by "
                    "depth, each once."
                )

    @property
    def _rows(self) -> tuple[FloatArray, FloatArray]:
        return tuple(np.append(0.0, m.si) for m in (self._depth, self._volume))  # type: ignore[return-value]

    def _volume_at(self, depth: FloatArray) -> FloatArray:
        depths, volumes = self._rows
        return np.asarray(np.interp(depth, depths, volumes, right=np.nan))

    def _depth_at(self, volume: FloatArray) -> FloatArray:
        """Depth (m), past the last row at least that row's."""
        depths, volumes = self._rows
        return np.asarray(np.interp(volume, volumes, depths))

    def _is_past(self, volume: FloatArray) -> npt.NDArray[np.bool_]:
        return np.asarray(volume > self._rows[1][-1])

    @property
    def _area(self) -> FloatArray:
        # a table is one ground, whatever else is an array
        return np.zeros(())

    def __str__(self) -> str:
        return (
            f"PondStorage({self._depth.si.size} rows, to {u.both(self._depth.si[-1], 'in')}, "
            f"{u.both(self._volume.si[-1], 'gal')})"
        )


class _PondArea(_Ground):
    """A low spot of one area at every depth (m²); the area is NaN where it is not known."""

    def __init__(self, area: FloatArray) -> None:
        self._area = area

    @property
    def si(self) -> u.SI:
        """As a part's."""
        return u.SI(self)

    def _volume_at(self, depth: FloatArray) -> FloatArray:
        return np.asarray(depth * self._area)

    def _depth_at(self, volume: FloatArray) -> FloatArray:
        return np.asarray(volume / self._area)

    def _is_past(self, volume: FloatArray) -> npt.NDArray[np.bool_]:
        return np.zeros(np.shape(volume), dtype=bool)


def take_pond(area_ft2: Any, area_m2: Any, storage: Any) -> PondStorage | _PondArea:
    """Take an area or a table of storage; an area that is not known is NaN."""
    area = u.maybe("pond_area", guard="area", ft2=area_ft2, m2=area_m2)
    if storage is None:
        return _PondArea(np.asarray(np.nan) if area is None else area.si)
    if area is not None:
        raise InputError(
            "pond_area and pond_storage: both given; give the area, or the table of storage."
        )
    if not isinstance(storage, PondStorage):
        raise wrong("pond_storage", storage, "must be a PondStorage", "make one with "
                    "PondStorage(...)")  # fmt: skip
    return storage
