"""The low spot that floods when the pit is full."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, ClassVar

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.errors import FileError, InputError, wrong
from drainpump.parts.csv_sheet import read_sheet
from drainpump.parts.part import Part
from drainpump.parts.scalars import check_kind, one_measure
from drainpump.units import FloatArray, View

#: rows into which a surveyed or formed pond is put, closer together where it is shallow
_ROWS = 60
#: spot heights of one survey
_MOST_POINTS = 20_000


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
        Depths above the rim, > 0, rising; a depth of 0 with no water is added in front.
    volume_gal, volume_l : array_like, shape (K,)
        Water that stands there, > 0, rising.

    Notes
    -----
    Linear between the rows and never extrapolated: a storm that ponds more than the last
    row holds is at least as deep as that row, and says so by its status.
    ``PondStorage.from_survey(...)`` makes the table from spot heights,
    ``PondStorage.read_survey(path)`` from a file of them, ``PondStorage.bowl(...)`` from
    one area at one depth.

    Examples
    --------
    >>> import drainpump as dp
    >>> pond = dp.PondStorage(depth_in=[1, 3, 6], volume_gal=[40, 300, 1400])
    >>> print(pond)
    PondStorage(3 rows, to 6 in (152 mm), 1400 gal (5300 L))
    """

    depth_in, depth_mm = View("_depth"), View("_depth")
    volume_gal, volume_l = View("_volume"), View("_volume")

    #: the same from spot heights, and from one area at one depth
    from_survey: ClassVar[type[SurveyedPond]]
    bowl: ClassVar[type[BowlPond]]

    @staticmethod
    def read_survey(
        path: str | os.PathLike[str],
        *,
        rim_ft: u.Quantity | None = None,
        rim_m: u.Quantity | None = None,
    ) -> SurveyedPond:
        """Read spot heights from a CSV with columns x_ft, y_ft, z_ft, or x_m, y_m, z_m.

        Parameters
        ----------
        path : str or path
        rim_ft, rim_m : float, optional
            As `from_survey`.

        Raises
        ------
        InputError
            With ``.problems``, every one found: file, row, column, value and what is allowed.
        """
        if not isinstance(path, str | os.PathLike):
            raise wrong("path", path, "must be the path of a CSV file", "give the spot heights")
        sheet = read_sheet(Path(path))
        known = [[f"{axis}_{unit}" for axis in "xyz"] for unit in ("ft", "m")]
        columns = next((names for names in known if set(names) <= set(sheet.columns)), None)
        if columns is None and not sheet.problems:
            given = ",".join(sheet.columns)
            sheet.wrong(sheet.header, None, given, "must have x_ft, y_ft, z_ft or x_m, y_m, z_m")
        values: dict[str, Any] = {
            name: [sheet.number(row, name, "any") for row in sheet.rows] for name in columns or ()
        }
        if sheet.problems:
            raise FileError(sheet.problems)
        return SurveyedPond(**values, rim_ft=rim_ft, rim_m=rim_m)

    def __init__(
        self,
        *,
        depth_in: u.Quantity | None = None,
        depth_mm: u.Quantity | None = None,
        volume_gal: u.Quantity | None = None,
        volume_l: u.Quantity | None = None,
    ) -> None:
        said = u.Typed(locals())
        self._depth, self._volume = said.take("depth", "level"), said.take("volume")
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


class SurveyedPond(PondStorage):
    """How much water stands over surveyed ground: ``PondStorage.from_survey``.

    Parameters
    ----------
    x_ft, x_m, y_ft, y_m : array_like, shape (P,)
        Where each spot is in plan, from any corner.
    z_ft, z_m : array_like, shape (P,)
        Its height, over any level. Survey up to where the water would run over.
    rim_ft, rim_m : float, optional
        Height of the pit's rim or grate over the same level; by default the lowest spot.

    Notes
    -----
    The ground is taken as plane triangles between the spots (Delaunay), over which the
    volume below a level is exact; the table has 60 rows, exact themselves. It ends at the
    lowest spot of the survey's edge, over which water would run. All ground below a level
    counts: leave out a second low spot that does not drain to the pit.

    Examples
    --------
    >>> import drainpump as dp
    >>> pond = dp.PondStorage.from_survey(
    ...     x_ft=[0, 20, 20, 0, 10], y_ft=[0, 0, 20, 20, 10], z_ft=[100, 100, 100, 100, 99.5])
    >>> pond.depth_in[-1].round(6).item(), round(float(pond.volume_gal[-1]) * 231 / 1728, 2)
    (6.0, 66.67)
    """

    _kind = "survey"

    def __init__(
        self,
        *,
        x_ft: u.Quantity | None = None,
        x_m: u.Quantity | None = None,
        y_ft: u.Quantity | None = None,
        y_m: u.Quantity | None = None,
        z_ft: u.Quantity | None = None,
        z_m: u.Quantity | None = None,
        rim_ft: u.Quantity | None = None,
        rim_m: u.Quantity | None = None,
    ) -> None:
        said = u.Typed(locals())
        x, y, z = (said.take(axis, "any").si for axis in "xyz")
        if x.ndim != 1 or not x.shape == y.shape == z.shape or not 3 <= x.size <= _MOST_POINTS:
            raise InputError(
                f"PondStorage: x, y and z of shapes {x.shape}, {y.shape} and {z.shape}; give three "
                f"lists of one length, 3 to {_MOST_POINTS} spots."
            )
        if np.isnan(x + y + z).any():
            i = int(np.argmax(np.isnan(x + y + z)))
            raise InputError(f"PondStorage: spot {i} is missing (NaN); leave it out.")
        rim = said.maybe("rim", "any")
        low = z.min() if rim is None else one_measure("rim", rim).si
        if rim is not None and low < z.min() - 1e-9:
            lowest = f"must be at the lowest spot or above it, {u.both(z.min(), 'ft')}"
            raise wrong(f"rim_{rim.unit}", rim.typed, lowest, "check the heights")
        ground, edge = _triangles(x, y)
        full = float(z[edge].min() - low)
        if not full > 0:
            raise InputError(
                "PondStorage: the survey's edge is as low as the rim, so water would run off; "
                "survey up to the ground that holds it."
            )
        depth = full * np.linspace(0.0, 1.0, _ROWS + 1) ** 2
        volume = _below(ground, x, y, z, low + depth)
        _fill(self, depth[1:], volume[1:] - volume[0])


class BowlPond(PondStorage):
    """A low spot rounded like a bowl: ``PondStorage.bowl``.

    Parameters
    ----------
    area_ft2, area_m2 : float
        Area of the water when it stands ``depth`` deep, > 0. Exactly one.
    depth_in, depth_mm : float
        That depth above the rim, > 0, up to which the table reaches. Exactly one.

    Notes
    -----
    A paraboloid: the area rises with the depth, so half of area times depth stands in it.

    Examples
    --------
    >>> import drainpump as dp
    >>> pond = dp.PondStorage.bowl(area_ft2=800, depth_in=6)
    >>> round(float(pond.volume_gal[-1]) * 231 / 1728, 6)
    200.0
    """

    _kind = "bowl"

    def __init__(
        self,
        *,
        area_ft2: u.Quantity | None = None,
        area_m2: u.Quantity | None = None,
        depth_in: u.Quantity | None = None,
        depth_mm: u.Quantity | None = None,
    ) -> None:
        said = u.Typed(locals())
        area = one_measure("area", said.take("area"))
        deep = one_measure("depth", said.take("depth", "level"), above_zero=True)
        share = np.linspace(0.0, 1.0, _ROWS + 1)[1:]
        _fill(self, share * deep.si, 0.5 * area.si * deep.si * share**2)


PondStorage.from_survey, PondStorage.bowl = SurveyedPond, BowlPond


def _fill(pond: PondStorage, depth: FloatArray, volume: FloatArray) -> None:
    """Give a pond that was computed its table, m and m³."""
    pond._depth = u.Measure(u.frozen(depth), "mm", u.frozen(depth * 1e3))
    pond._volume = u.Measure(u.frozen(volume), "l", u.frozen(volume * 1e3))


def _triangles(x: FloatArray, y: FloatArray) -> tuple[Any, Any]:
    """Triangles between spots, by their numbers, and the spots of the survey's edge."""
    from scipy.spatial import Delaunay, QhullError

    plan = np.stack([x - x.mean(), y - y.mean()], axis=-1)
    _, first, count = np.unique(plan, axis=0, return_index=True, return_counts=True)
    if (count > 1).any():
        i = int(first[np.argmax(count > 1)])
        raise InputError(f"PondStorage: spot {i} stands twice in plan; give each spot once.")
    try:
        found = Delaunay(plan / max(np.abs(plan).max(), 1e-300))
    except QhullError:
        raise InputError(
            "PondStorage: all spots lie on one line; give spots across it as well."
        ) from None
    return found.simplices, np.unique(found.convex_hull)


def _below(ground: Any, x: FloatArray, y: FloatArray, z: FloatArray, level: FloatArray) -> Any:
    """Volume (m³) between plane triangles and each level above them, exact."""
    (x1, x2, x3), (y1, y2, y3) = x[ground].T, y[ground].T
    area = 0.5 * np.abs((x2 - x1) * (y3 - y1) - (x3 - x1) * (y2 - y1))
    low, middle, high = np.sort(z[ground], axis=-1).T
    h = level[:, None]
    deep, above = np.maximum(h - low, 0.0), np.maximum(high - h, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        # a corner under water is a tetrahedron, and so is one that rises out of it
        corner = np.where(deep > 0, deep**3 / (3 * (middle - low) * (high - low)), 0.0)
        island = np.where(above > 0, above**3 / (3 * (high - middle) * (high - low)), 0.0)
    whole = h - (low + middle + high) / 3 + island
    return (area * np.where(h <= middle, corner, whole)).sum(axis=-1)


class _PondArea(_Ground, u.Measured):
    """A low spot of one area at every depth (m²); the area is NaN where it is not known."""

    def __init__(self, area: FloatArray) -> None:
        self._area = area

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
    check_kind("pond_storage", storage, PondStorage)
    return storage  # type: ignore[no-any-return]
