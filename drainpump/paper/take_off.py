"""The take-off: what has to be bought and dug for one pump on one line."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from drainpump import units as u
from drainpump.paper.laying import Laying
from drainpump.paper.words import TEXTS, list_of, named_fitting, one, two
from drainpump.parts.line.pipe import pipe_in_words
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


@dataclass(frozen=True, kw_only=True)
class Item:
    """One row of a take-off, in SI.

    Attributes
    ----------
    kind : str
        "pump", "pipe", "fitting", "valve", "outlet", "pit", "trench", "bedding" or "lump sum".
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
        What the take-off leaves out, and what it knows no price of.
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
        Prices.

    Returns
    -------
    TakeOff

    Notes
    -----
    Pipe of one size is bought in whole lengths for its runs and the waste together, the
    risers of a bank with them. Runs steeper than 1 in 1 are risers and lie in no trench; the
    trench of the others is as long as they are in plan, and is priced by that length. Where
    bores meet that differ, a piece is counted that the runs do not name.

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
    runs = [*(r for r in getattr(pump, "risers", ()) if r is not None), *line.runs]
    items = [
        *_pumps(pump, runs[0], costs),
        *_pipes(runs, laid, costs),
        *_pieces(runs, costs),
        *_joints(line),
        Item(kind="outlet", what=TEXTS["outlets"][line.outlet.kind], pieces=1,
             price=_known(costs, "outlet_each", lambda c: c.si.of_outlet(line.outlet))),
        *([] if pit is None else [_pit(pit, costs)]),
        *_trench(line, laid, costs),
        *(Item(kind="lump sum", what=name, pieces=1, price=price)
          for name, price in ({} if costs is None else costs.lump_sums).items()),
    ]  # fmt: skip
    items = _together(x for x in items if x.pieces > 0 or x.length > 0 or x.volume > 0)
    priced = {x.kind for x in items if not math.isnan(x.price)}
    # a kind as a whole, or those of it that alone have none
    bare = list(dict.fromkeys(
        x.what if x.kind in priced else x.kind
        for x in items if math.isnan(x.price) and x.kind != "bedding"
    ))  # fmt: skip
    said = [f"the price of {list_of(bare)}"] if bare else []
    if laid.si.depth is None:
        said.append("what is dug out and brought in: no depth and width of the trench given")
    if line.check_valve and not any(run.has_check_valve for run in runs):
        said.append(
            "the check valve: none is among the fittings, and the line is to hold its water"
        )
    return TakeOff(
        tuple(items), (*said, *TEXTS["never_counted"]), "" if costs is None else costs.currency
    )


def _together(items: Iterable[Item]) -> list[Item]:
    """The items, those that are alike as one with their pieces."""
    found: dict[tuple[str, ...], Item] = {}
    for item in items:
        key = (item.kind, item.what, item.size, item.note)
        if (one := found.get(key)) is not None:
            item = replace(one, pieces=one.pieces + item.pieces, price=one.price + item.price)
        found[key] = item
    return list(found.values())


def _known(costs: Costs | None, keyword: str, price: Callable[..., float], *of: Any) -> float:
    """A price, where one was given under a keyword (a default of 0 is none), else NaN."""
    if costs is None or not any(key.startswith(keyword) for key in costs.given):
        return math.nan
    return float(price(costs, *of))


def _pumps(pump: Pump, first: Run, costs: Costs | None) -> Iterator[Item]:
    """The pumps, and what joins each to its pipe."""
    if isinstance(pump, PumpBank):
        for member, riser in zip(pump.pumps, pump.risers, strict=True):
            yield from _pumps(member, riser or first, costs)
        return
    each = _known(costs, "pump_each", lambda c, pump: c.of_pump(pump), pump)
    yield Item(kind="pump", what=f"pump {pump.name}", pieces=1,
               price=each if pump.price is None else float(pump.price),
               note="curve invented" if pump.invented else "")  # fmt: skip
    outlet = pump.si.outlet
    if outlet is not None and "adapter" not in (loss.name for loss in first.losses):
        yield Item(kind="fitting", what="adapter at the pump", pieces=1,
                   size=f"{one(outlet, 'in')} to {_size(first)}")  # fmt: skip


def _pipes(runs: Sequence[Run], laid: Laying, costs: Costs | None) -> Iterator[Item]:
    """Pipe by size, in whole lengths."""
    by_name: dict[str, list[Run]] = {}
    for run in runs:
        by_name.setdefault(run.pipe.name, []).append(run)
    for alike in by_name.values():
        length, stock = sum(float(run.si.length) for run in alike), float(laid.si.stock)
        pieces = math.ceil(length * (1 + laid.waste_pct / 100) / stock - 1e-9)
        bought, pipe = pieces * stock, alike[0].pipe
        yield Item(
            kind="pipe", what=pipe_in_words(pipe, two), size=_size(alike[0]), pieces=pieces,
            length=length,
            price=_known(costs, "pipe_per", lambda c, *of: c.si.of_length(*of), pipe, bought),
            note=f"of {two(stock, 'ft')}, for {two(length, 'ft')} and {laid.waste_pct:g} % waste",
        )  # fmt: skip


def _pieces(runs: Sequence[Run], costs: Costs | None) -> Iterator[Item]:
    """Fittings and valves by kind and size."""
    counts: Counter[tuple[str, str]] = Counter()
    for run in runs:
        for loss in run.losses:
            # how the water enters the pipe is nothing to buy
            if not loss.name.startswith("entrance"):
                counts[loss.name, _size(run)] += float(loss.count)  # type: ignore[assignment]
    for (name, size), count in counts.items():
        kind = "valve" if "valve" in name else "fitting"
        each = _known(costs, "fitting_each", lambda c, name: c.fitting(name), name)
        yield Item(kind=kind, what=named_fitting(name), size=size, pieces=count,
                   price=count * each)  # fmt: skip


def _size(run: Run) -> str:
    nominal = run.pipe.nominal
    if nominal is None:
        return f"bore {two(run.pipe.si.bore, 'in')}"
    return nominal if nominal.endswith("mm") else f"{nominal} in"


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


def pit_in_words(pit: Pit, units: u.System = "us") -> str:
    """How wide and how deep a pit is."""
    sides = (pit.si.diameter,) if pit.si.diameter is not None else (
        pit.si.side_length, pit.si.side_width)  # fmt: skip
    wide = " by ".join(two(side, "in", units) for side in sides)
    return f"{wide}{' across' if len(sides) == 1 else ''}, {two(pit.si.depth, 'in', units)} deep"


def _pit(pit: Pit, costs: Costs | None) -> Item:
    each = _known(costs, "pit_each", lambda c: c.pit_each)
    return Item(kind="pit", what="pit with lid", size=pit_in_words(pit), pieces=1,
                price=each if pit.price is None else float(pit.price))  # fmt: skip


def _trench(line: DischargeLine, laid: Laying, costs: Costs | None) -> Iterator[Item]:
    length = 0.0
    for run in line.runs:
        way, rise = float(run.si.length), abs(float(run.si.rise))
        plan = math.sqrt(max(way**2 - rise**2, 0.0))
        length += plan if plan > rise else 0.0
    dug = Item(
        kind="trench",
        what="trench",
        length=length,
        note="in plan, risers left out",
        price=_known(costs, "digging_per", lambda c: c.si.digging * length),
    )
    depth, width, bed = laid.si.depth, laid.si.width, laid.si.bedding
    if depth is None or width is None:
        yield dug
        return
    size = f"{two(width, 'in')} wide, {two(depth, 'in')} deep"
    yield replace(dug, size=size, volume=length * float(depth) * float(width))
    yield Item(kind="bedding", what="bedding", size=f"{two(bed, 'in')} under the pipe",
               volume=length * float(width) * float(bed),
               note="paid for with the trench")  # fmt: skip
