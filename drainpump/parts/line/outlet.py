"""Where the discharge line ends. The outlet alone charges the exit, K = 1.

All that the line asks of an outlet are four numbers: the exit's K, the head that holds it
open, a loss per flow squared, and the water that stands above it. A new kind of outlet
answers those four and goes through the same system curve.
"""

from __future__ import annotations

from typing import Any, Literal, Self

import numpy as np

from drainpump import units as u
from drainpump.errors import wrong
from drainpump.foreign import is_among
from drainpump.parts.part import Part
from drainpump.parts.scalars import factor
from drainpump.physics.constants import GRAVITY
from drainpump.results import Result, one_shape, short
from drainpump.units import FloatArray, View

#: discharge coefficient of a sharp-edged opening: Munson, Young & Okiishi, *Fundamentals
#: of Fluid Mechanics*, ch. 3 and 8 (0.61 for a sharp-edged hole; from memory)
_DISCHARGE = 0.6

Opens = Literal["usual", "least", "most"]

#: pop-ups by size (in): body (in), then gap (in) and opening head (ft) as they usually are, and
#: as the lid opens least and most. Common practice, no source: measure where it matters
_USUAL: dict[str, tuple[float, dict[Opens, tuple[float, float]]]] = {
    "3": (3.0, {"usual": (0.5, 0.2), "least": (0.25, 0.5), "most": (1.0, 0.05)}),
    "4": (4.0, {"usual": (0.5, 0.2), "least": (0.25, 0.5), "most": (1.0, 0.05)}),
    "6": (6.0, {"usual": (0.75, 0.2), "least": (0.375, 0.5), "most": (1.5, 0.05)}),
}


class Outlet(Part):
    """What a discharge line needs to know of its outlet; each kind changes some of it.

    By itself it charges its exit and nothing more. ``least_head`` (m) holds it open once
    water flows, ``orifice`` (s²/m⁵) is a loss per flow squared, the larger of the two counts;
    ``tail`` (m) is the water that stands above the end of the line.
    """

    #: head (m) that holds it open, loss per flow squared (s²/m⁵), water (m) above its end
    _least_head = _orifice = _tail = u.frozen(np.zeros(()))

    @property
    def kind(self) -> str:
        """The kind of outlet by name: free, submerged, pop_up or gravity."""
        return self._kind

    @property
    def exit_k(self) -> float:
        """Loss coefficient of the exit: the whole velocity head is lost."""
        return 1.0


class Junction(Outlet):
    """Where a pump's riser meets the shared line: no exit, for the water runs on."""

    @property
    def exit_k(self) -> float:
        """Loss coefficient: none."""
        return 0.0


class FreeOutlet(Outlet):
    """An open end above the water it runs to, with or without a lid.

    Parameters
    ----------
    lid_ft, lid_m : float or array_like, default 0
        Head that holds a lid open once water flows, ft or m, >= 0. At most one.

    Notes
    -----
    The jet leaves with its velocity head, ``V²/2g`` on the last run's bore (K = 1):
    Hydraulic Institute, *Engineering Data Library*, exit and sudden enlargement. The
    lid adds a constant head.

    Examples
    --------
    >>> from drainpump.parts.line.outlet import FreeOutlet
    >>> outlet = FreeOutlet(lid_ft=0.25)
    >>> print(outlet)
    FreeOutlet(lid 0.25 ft (0.0762 m))
    """

    _kind = "free"

    lid_ft, lid_m = View("_lid"), View("_lid")

    def __init__(
        self, *, lid_ft: u.Quantity | None = None, lid_m: u.Quantity | None = None
    ) -> None:
        self._lid = u.Typed(locals()).take("lid", default=("ft", 0.0))
        self._least_head = self._lid.si

    def __str__(self) -> str:
        return f"FreeOutlet(lid {self._lid})"


class SubmergedOutlet(Outlet):
    """An end under water: the pump lifts to the water's surface, not to the pipe's end.

    Parameters
    ----------
    depth_ft, depth_m : float or array_like
        Tail water above the end of the line, >= 0. Exactly one.

    Notes
    -----
    The depth counts as static head, at every flow; the exit is K = 1 as in the open.

    Examples
    --------
    >>> import drainpump as dp
    >>> outlet = dp.SubmergedOutlet(depth_ft=1.5)
    >>> print(outlet)
    SubmergedOutlet(depth 1.5 ft (0.457 m))
    """

    _kind = "submerged"

    depth_ft, depth_m = View("_depth"), View("_depth")

    def __init__(
        self, *, depth_ft: u.Quantity | None = None, depth_m: u.Quantity | None = None
    ) -> None:
        self._depth = u.Typed(locals()).take("depth", "level")
        self._tail = self._depth.si

    def __str__(self) -> str:
        return f"SubmergedOutlet(depth {self._depth})"


class PopUpOutlet(Outlet):
    """A pop-up emitter: a lid that water lifts, and the ring-shaped gap under it.

    Parameters
    ----------
    opening_head_ft, opening_head_m : float or array_like
        Head that lifts the lid, >= 0. Exactly one.
    gap_in, gap_mm : float or array_like
        Height of the open gap under the lid, > 0. Exactly one.
    body_in, body_mm : float or array_like
        Diameter of the ring the water leaves by, > 0. Exactly one.
    discharge_coefficient : float or array_like, default 0.6
        Of the gap, 0 < C <= 1; that of a sharp-edged opening.

    Notes
    -----
    The water leaves through a curtain of area ``π · body · gap``. The loss is the larger
    of the opening head and the gap's ``(Q / C A)² / 2g``, and the exit's K = 1 besides.
    The gap is held at the height given: a real lid rises with the flow, so measure it at
    the flow that matters, or begin with `usual`.

    References
    ----------
    B. R. Munson, D. F. Young, T. H. Okiishi, *Fundamentals of Fluid Mechanics*, ch. 3,
    flow through an orifice (0.6: rounded, from memory).

    Examples
    --------
    >>> import drainpump as dp
    >>> emitter = dp.PopUpOutlet(opening_head_ft=0.25, gap_in=0.125, body_in=4)
    >>> round(emitter.gap_loss(flow_gpm=25).loss_ft, 2)
    1.13
    """

    _kind = "pop_up"

    opening_head_ft, opening_head_m = View("_opening_head"), View("_opening_head")
    gap_in, gap_mm = View("_gap"), View("_gap")
    body_in, body_mm = View("_body"), View("_body")
    discharge_coefficient = View("_coefficient")

    def __init__(
        self,
        *,
        opening_head_ft: u.Quantity | None = None,
        opening_head_m: u.Quantity | None = None,
        gap_in: u.Quantity | None = None,
        gap_mm: u.Quantity | None = None,
        body_in: u.Quantity | None = None,
        body_mm: u.Quantity | None = None,
        discharge_coefficient: u.Quantity = _DISCHARGE,
    ) -> None:
        said = u.Typed(locals())
        self._opening_head = said.take("opening_head", "lid")
        self._gap, self._body = said.take("gap", "positive"), said.take("body", "bore")
        self._coefficient = factor(
            "discharge_coefficient", discharge_coefficient, 1.0, "0.6 is a sharp-edged opening"
        )
        one_shape("PopUpOutlet", self._gap.si, self._body.si, self._coefficient)
        # the water leaves by the curtain under the lid's rim, all round
        area = np.pi * self._body.si * self._gap.si
        self._least_head = self._opening_head.si
        self._orifice = np.asarray(1.0 / (2 * GRAVITY * (self._coefficient * area) ** 2))

    @classmethod
    def usual(cls, size: str, opens: Opens = "usual") -> Self:
        """Return a pop-up of a size as they usually are: common practice, no source.

        Parameters
        ----------
        size : {"3", "4", "6"}
            Of the pipe it ends, in.
        opens : {"usual", "least", "most"}
            The doubt: gap and opening head of a lid that opens least or most. Between the
            two the loss at the gap differs by a factor of 16.

        Returns
        -------
        PopUpOutlet
            With its numbers, as if they had been typed.

        Raises
        ------
        InputError
            A size or an opening not known.

        Examples
        --------
        >>> import drainpump as dp
        >>> lids = [dp.PopUpOutlet.usual("4", opens) for opens in ("least", "usual", "most")]
        >>> [round(lid.gap_loss(flow_gpm=35).head_ft, 2) for lid in lids]
        [0.55, 0.2, 0.05]
        """
        if not is_among(size, _USUAL):
            raise wrong("size", size, f"must be one of {tuple(_USUAL)}", "or give its numbers")
        body, ways = _USUAL[size]
        if not is_among(opens, ways):
            raise wrong("opens", opens, f"must be one of {tuple(ways)}", "pick one")
        gap, head = ways[opens]
        return cls(opening_head_ft=head, gap_in=gap, body_in=body)

    def gap_loss(
        self, *, flow_gpm: u.Quantity | None = None, flow_lps: u.Quantity | None = None
    ) -> GapLoss:
        """Return the head the gap and the lid take at a flow, without the exit's own.

        Parameters
        ----------
        flow_gpm, flow_lps : float or array_like
            Flow, >= 0. Exactly one.

        Returns
        -------
        GapLoss
            Loss at the gap, and the larger of it and the opening head.
        """
        flow = u.take("flow", gpm=flow_gpm, lps=flow_lps).si
        one_shape("gap_loss", flow, self._orifice, self._least_head)
        loss = self._orifice * flow**2
        return GapLoss(loss, np.maximum(loss, self._least_head))

    def __str__(self) -> str:
        return (
            f"PopUpOutlet(opening head {self._opening_head}, gap {self._gap}, "
            f"body {self._body}, discharge coefficient {short(self._coefficient)})"
        )


class GapLoss(Result):
    """What a pop-up emitter takes at a flow.

    Attributes
    ----------
    loss_ft, loss_m : float or ndarray
        Orifice loss at the gap.
    head_ft, head_m : float or ndarray
        The larger of that and the opening head.
    """

    _loss: FloatArray
    _head: FloatArray

    loss_ft, loss_m = View("_loss"), View("_loss")
    head_ft, head_m = View("_head"), View("_head")

    @property
    def _status(self) -> Any:
        return np.where(np.isnan(self._head), "bad_input", "ok")
