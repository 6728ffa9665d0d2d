"""The take-off: what has to be bought and dug for one pump on one line."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from drainpump import units as u
from drainpump.paper.laying import Laying
from drainpump.paper.words import named_fitting, one, two
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.outlet import FreeOutlet, PopUpOutlet, SubmergedOutlet
from drainpump.parts.pump.bank import PumpBank
from drainpump.physics.fittings import reducer_k
from drainpump.results import check_units, html_table, plain
from drainpump.solve.one_case import one_case

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.limits.costs import Costs
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.line.run import Run
    from drainpump.parts.pit import Pit
    from drainpump.parts.pump.bank import Pump

__all__ = ["Item", "TakeOff", "take_off"]

#: what no drawing of a line and a pit can count
_NEVER = (
    "cement, primer and hangers", "cable, conduit, circuit and ground-fault protection",
    "labour, permits and making good",
)  # fmt: skip
_OUTLETS = {
    FreeOutlet: "open end", PopUpOutlet: "pop-up emitter", SubmergedOutlet: "open end under water",
    GravityHandOff: "air break into the gravity pipe",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Item:
    """One row of a take-off, in SI.

    Attributes
    ----------
    kind : str
        "pump", "pipe", "fitting", "valve", "outlet", "pit" or "trench".
    what, size, note : str
        What it is, of which size, and what to know of it.
    pieces : float
        How many; NaN for what is not counted by the piece.
    length, volume : float
        m and m³; NaN where it has none.
    price : float
        Of all pieces; NaN where no price was given.
    """

    kind: str
    what: str
    size: str = ""
    pieces: float = math.nan
    length: float = math.nan
    volume: float = math.nan
    price: float = math.nan
    note: str = ""


@dataclass(frozen=True, eq=False)
class TakeOff:
    """What has to be bought and dug.

    Attributes
    ----------
    items : tuple of Item
        Row by row.
    not_counted : tuple of str
        What the take-off leaves out, or knows no price of.
    price : float
        Of all that has one; NaN where nothing has.
    currency : str
        What prices are in.
    """

    items: tuple[Item, ...]
    not_counted: tuple[str, ...]
    currency: str

    @property
    def price(self) -> float:
        """Of all that has a price; NaN where nothing has."""
        known = [item.price for item in self.items if not math.isnan(item.price)]
        return sum(known) if known else math.nan

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per item: kind, what, size, pieces, length, volume, price, note."""
        import pandas as pd

        length, volume = ("ft", "ft3") if check_units(units) == "us" else ("m", "m3")
        rows = [
            {
                "kind": x.kind, "what": x.what, "size": x.size, "pieces": x.pieces,
                f"length_{length}": u.from_si(x.length, length),
                f"volume_{volume}": u.from_si(x.volume, volume),
                "price": x.price, "note": x.note,
            }
            for x in self.items
        ]  # fmt: skip
        return pd.DataFrame(rows)

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, both unit systems; what is not known is None."""
        rows = [
            us | {key: value for key, value in metric.items() if key not in us}
            for us, metric in zip(
                *(self.to_frame(units).to_dict("records") for units in ("us", "metric")),
                strict=True,
            )
        ]
        found = {
            "items": rows, "price": self.price, "currency": self.currency,
            "not_counted": self.not_counted,
        }  # fmt: skip
        return dict(plain(found))

    def _repr_html_(self) -> str:
        return html_table(self.to_frame(), rows=60)

    def __repr__(self) -> str:
        frame = self.to_frame().to_string(index=False, na_rep="")
        return f"{frame}\nnot counted: {'; '.join(self.not_counted)}"


def take_off(
    pump: Pump,
    line: DischargeLine,
    pit: Pit | None = None,
    *,
    laying: Laying | None = None,
    costs: Costs | None = None,
) -> TakeOff:
    """Count what has to be bought and dug for one pump on one line.

    Parameters
    ----------
    pump : PumpCurve or bank
    line : DischargeLine
        Both scalar: one case.
    pit : Pit, optional
    laying : Laying, default ``Laying()``
        Lengths that pipe is sold in, waste, and the trench.
    costs : Costs, optional
        Prices of pipe and fittings.

    Returns
    -------
    TakeOff

    Notes
    -----
    Pipe of one size is bought in whole lengths for its runs and the waste together. Runs
    steeper than 1 in 1 are risers and lie in no trench; the trench of the others is as long
    as they are in plan.

    Examples
    --------
    >>> import drainpump as dp
    >>> from drainpump.paper.take_off import take_off
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(
    ...     pipe=dp.pvc("2"), length_ft=150, lift_ft=6, fittings={"elbow_90": 5})
    >>> bought = take_off(pump, line)
    >>> bought.to_frame().query("kind == 'pipe'")[["what", "pieces"]].values.tolist()
    [['2 in Sch 40 PVC', 9.0]]
    """
    one_case("take_off", pump, line)
    laid = Laying() if laying is None else laying
    items = [*_pumps(pump), *_pipes(line, laid, costs), *_pieces(line, costs), *_joints(line)]
    items.append(
        Item(kind="outlet", what=_OUTLETS.get(type(line.outlet), "outlet"), pieces=1,
             price=_price(laid.outlet_price))
    )  # fmt: skip
    if pit is not None:
        items.append(_pit(pit, laid))
    items.append(_trench(line, laid))
    items = [item for item in items if item.pieces > 0 or item.length > 0]
    missing = [f"price of {x.what}" for x in items if math.isnan(x.price) and x.kind != "trench"]
    if laid.si.depth is None:
        missing.append("what is dug out and brought in: no depth and width of the trench given")
    if laid.si.per_length is None:
        missing.append("price of the trench")
    said = [f"{len(missing)} prices" if costs is None and len(missing) > 4 else "; ".join(missing)]
    if line.check_valve and not any(run.has_check_valve for run in line.runs):
        said.append(
            "the check valve: none is among the fittings, and the line is to hold its water"
        )
    currency = "" if costs is None else costs.currency
    return TakeOff(tuple(items), (*filter(None, said), *_NEVER), currency)


def _price(price: Any) -> float:
    return math.nan if price is None else float(price)


def _pumps(pump: Pump) -> Iterator[Item]:
    if isinstance(pump, PumpBank):
        for member in pump.pumps:
            yield from _pumps(member)
        return
    outlet = pump.si.outlet
    size = "" if outlet is None else f"outlet {one(outlet, 'in')}"
    note = "curve invented" if pump.invented else ""
    yield Item(kind="pump", what=f"pump {pump.name}", size=size, pieces=1,
               price=_price(pump.price), note=note)  # fmt: skip


def _pipes(line: DischargeLine, laid: Laying, costs: Costs | None) -> Iterator[Item]:
    """Pipe by size, in whole lengths."""
    by_name: dict[str, list[Run]] = {}
    for run in line.runs:
        by_name.setdefault(run.pipe.name, []).append(run)
    for name, runs in by_name.items():
        length = sum(float(run.si.length) for run in runs)
        stock = float(laid.si.stock)
        pieces = math.ceil(length * (1 + laid.waste_pct / 100) / stock - 1e-9)
        price = math.nan if costs is None else costs.si.of_length(runs[0].pipe, pieces * stock)
        yield Item(
            kind="pipe", what=name, size=f"bore {one(runs[0].pipe.si.bore, 'in')}", pieces=pieces,
            length=length, price=price,
            note=f"lengths of {two(stock, 'ft')}, {laid.waste_pct:g} % waste",
        )  # fmt: skip


def _pieces(line: DischargeLine, costs: Costs | None) -> Iterator[Item]:
    """Fittings and valves by kind and size."""
    counts: Counter[tuple[str, str]] = Counter()
    for run in line.runs:
        for loss in run.losses:
            # how the water enters the pipe is nothing to buy
            if not loss.name.startswith("entrance"):
                counts[loss.name, _size(run)] += float(loss.count)  # type: ignore[assignment]
    for (name, size), count in counts.items():
        # the default of 0 is no price
        priced = costs is not None and "fitting_each" in costs.given
        price = count * costs.fitting(name) if costs is not None and priced else math.nan
        kind = "valve" if "valve" in name else "fitting"
        yield Item(kind=kind, what=named_fitting(name), size=size, pieces=count, price=price)


def _size(run: Run) -> str:
    nominal = run.pipe.nominal
    return run.pipe.name if nominal is None else f"{nominal} in"


def _joints(line: DischargeLine) -> Iterator[Item]:
    """What joins runs of two bores, with the K it would have."""
    for before, after in zip(line.runs, line.runs[1:], strict=False):
        up, down = (float(run.pipe.si.bore) for run in (before, after))
        named = {loss.name for run in (before, after) for loss in run.losses}
        if math.isclose(up, down) or named & {"reducer", "increaser"}:
            continue
        k = float(reducer_k(upstream=up, downstream=down, side="downstream"))
        what = "increaser" if down > up else "reducer"
        yield Item(
            kind="fitting", what=what, size=f"{_size(before)} to {_size(after)}", pieces=1,
            note=f"K {k:.2g} on the {_size(after)} side (sudden: Crane TP 410, from memory); "
            "counted only by a run's own K",
        )  # fmt: skip


def _pit(pit: Pit, laid: Laying) -> Item:
    if pit.si.diameter is not None:
        size = f"{two(pit.si.diameter, 'in')} across"
    else:
        size = f"{two(pit.si.side_length, 'in')} by {two(pit.si.side_width, 'in')}"
    return Item(kind="pit", what="pit with lid", size=f"{size}, {two(pit.si.depth, 'in')} deep",
                pieces=1, price=_price(laid.pit_price))  # fmt: skip


def _trench(line: DischargeLine, laid: Laying) -> Item:
    length = 0.0
    for run in line.runs:
        way, rise = float(run.si.length), abs(float(run.si.rise))
        plan = math.sqrt(max(way**2 - rise**2, 0.0))
        length += plan if plan > rise else 0.0
    depth, width = laid.si.depth, laid.si.width
    volume, size, note = math.nan, "", "in plan, risers left out"
    if depth is not None and width is not None:
        volume = length * float(depth) * float(width)
        size = f"{two(width, 'in')} wide, {two(depth, 'in')} deep"
        bedding = length * float(width) * float(laid.si.bedding)
        note += f"; of it {two(bedding, 'ft3')} of bedding, {two(laid.si.bedding, 'in')} deep, in"
    per = laid.si.per_length
    return Item(kind="trench", what="trench", size=size, length=length, volume=volume,
                price=math.nan if per is None else per * length, note=note)  # fmt: skip
