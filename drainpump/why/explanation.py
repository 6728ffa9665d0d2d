"""Why so little water: the flow lost to each cause, the head, and the fixes."""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.doubt.band import Band, band
from drainpump.doubt.doubt import Doubt
from drainpump.limits.costs import Costs
from drainpump.limits.limits import Limits
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import PumpBank
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import check_kinds, one_measure
from drainpump.results import caveats_of, check_units, html_notes, html_table, plain
from drainpump.solve.grid import listed
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import OperatingPoint
from drainpump.units import FloatArray, View
from drainpump.why import losses as engine
from drainpump.why.fixes import Fix, best_fix, brief, list_fixes
from drainpump.work_budget import spend

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.parts.pump.bank import Pump

_FIRST = "pump alone"


@dataclass(frozen=True, eq=False, repr=False)
class Explanation(u.Measured):
    """Where the water went; ``print`` says it in plain words.

    Attributes
    ----------
    pump, line
        What was explained.
    operating : OperatingPoint
    names : tuple of str
        The causes, in the order in which they are taken in.
    order, division : str
        How the steps and the shares come about, in words.
    flow_gpm, flow_lps : float
        Operating flow as it is to be reckoned with, the end of the steps; ``operating`` has
        the status, and the text says what of it is not known.
    free_flow_gpm, free_flow_lps : float
        Flow with no line at all, the start of the steps; the end of the pump's data where
        it makes head there, of which the flow is at least.
    lost_gpm, lost_lps : float
        The difference.
    steps, shares, ledger, fixes_table : pandas.DataFrame
        See each.
    fixes : tuple of Fix
        Every change tried, most gain first, other pumps last.
    fix : Fix or None
        The sensible one that gains most for its price or its effort; with a need the
        easiest that carries it.
    band : Band or None
        Spread of the flow, where a doubt was given.
    pit : Pit or None
        The pit that was given; the text says whose floats are in force.
    """

    pump: Pump
    line: DischargeLine
    operating: OperatingPoint
    names: tuple[str, ...]
    fixes: tuple[Fix, ...]
    band: Band | None
    pit: Pit | None
    _flows: FloatArray  # (n + 1,) after each step, m³/s
    _status: Any  # (n + 1,)
    _losses: FloatArray  # (n,) m³/s, order-free
    _heads: FloatArray  # (n,) m
    order: str = "lift, pipe, elbows, other fittings, valves, adapters and exit, lid"
    division: str = field(
        default="Shapley: each cause's loss, averaged over all orders of taking the causes in"
    )

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    free_flow_gpm, free_flow_lps = View("_free_flow"), View("_free_flow")
    lost_gpm, lost_lps = View("_lost"), View("_lost")

    @property
    def _flow(self) -> FloatArray:
        return self._flows[-1]  # type: ignore[no-any-return]

    @property
    def _free_flow(self) -> FloatArray:
        return self._flows[0]  # type: ignore[no-any-return]

    @property
    def _lost(self) -> FloatArray:
        return np.asarray(self._free_flow - self._flow)

    @property
    def cause(self) -> str:
        """The cause with the largest order-free share."""
        return self.names[int(np.argmax(self._losses))]

    @property
    def fix(self) -> Fix | None:
        """The sensible fix that gains most for what it asks, or None where none serves."""
        return best_fix(self.fixes)

    @property
    def steps(self) -> pd.DataFrame:
        """Flow left as the causes are taken in one after the other: cause, flow_gpm, flow_lps."""
        return self._frame([_FIRST, *self.names], flow=(self._flows, "gpm"))

    @property
    def shares(self) -> pd.DataFrame:
        """Order-free loss of each cause: cause, lost_gpm, lost_lps, share of the whole loss."""
        frame = self._frame(self.names, lost=(self._losses, "gpm"))
        with np.errstate(divide="ignore", invalid="ignore"):
            frame["share"] = self._losses / self._lost
        return frame

    @property
    def ledger(self) -> pd.DataFrame:
        """Head each cause takes at the operating flow: cause, head_ft, head_m, share."""
        frame = self._frame(self.names, head=(self._heads, "ft"))
        with np.errstate(divide="ignore", invalid="ignore"):
            frame["share"] = self._heads / self._heads.sum()
        return frame

    @property
    def fixes_table(self) -> pd.DataFrame:
        """The fixes as a frame: name, flows, gains, velocities, what each breaks.

        ``print(why.fixes_table.to_string())`` shows all columns; a bare ``print`` cuts it.
        """
        import pandas as pd

        rows = [
            {"fix": f.name, "kind": f.kind}
            | {v.name: v.__get__(f) for v in u.views(Fix)}
            | {"price": f.price, "serves": f.serves}
            | {"sensible": f.sensible, "breaks": "; ".join(map(str, f.breaks)), "asks": f.asks}
            for f in self.fixes
        ]
        return pd.DataFrame(rows)

    def _frame(self, names: Sequence[str], **columns: tuple[FloatArray, str]) -> pd.DataFrame:
        import pandas as pd

        data: dict[str, Any] = {"cause": list(names)}
        for stem, (si, unit) in columns.items():
            for one in (unit, u.UNITS[unit].twin):
                data[f"{stem}_{one}"] = np.array(u.from_si(si, one))
        return pd.DataFrame(data)

    def to_dict(self) -> dict[str, Any]:
        """Return plain Python values, both spellings of each quantity."""
        found = {
            "pump": self.pump.name,
            "line": self.line.name,
            **{v.name: v.__get__(self) for v in u.views(type(self))},
            "cause": self.cause,
            "order": self.order,
            "division": self.division,
            "steps": self.steps.to_dict("records"),
            "shares": self.shares.to_dict("records"),
            "ledger": self.ledger.to_dict("records"),
            "fix": None if self.fix is None else self.fix.name,
            "fixes": self.fixes_table.to_dict("records"),
        }
        return dict(plain(found))

    def text(self, units: u.System = "us") -> str:
        """Say it in plain words: the number, its cause, its band, the best single step.

        Parameters
        ----------
        units : {"us", "metric"}, default "us"

        Returns
        -------
        str
        """
        flow, head = ("gpm", "ft") if check_units(units) == "us" else ("lps", "m")
        said = [self._said_flow(flow)]
        if self.band is not None:
            low, high = (brief(self.band.si.flow[i], flow) for i in (0, -1))
            said.append(f"Eight times in ten it is {low} to {high}.")
        if states.bound(self.operating.status) == "not known":
            said.append(f"That is not known: {states.MENDS[str(self.operating.status)]}.")
        if self._flow <= 0:
            op = self.operating.si
            asked, made = (brief(x, head) for x in (op.zero_flow_head, op.shutoff))
            said.append(
                f"The line asks {asked} before any water flows and the pump makes {made} at most: "
                "it needs more shutoff head or less lift."
            )
        said.append(self._said_causes(flow))
        if self._flow > 0:
            heads = zip(self.names, self._heads, strict=True)
            sums = " + ".join(f"{name} {brief(h, head)}" for name, h in heads)
            said.append(f"The head there is {brief(self._heads.sum(), head)} = {sums}.")
        floats = "" if self.pit is None else self.pit.floats_said(self.pump)
        said += [*self._said_fixes(units), *caveats_of([self.pump]), *([floats] if floats else [])]
        return "\n".join(said)

    def _said_flow(self, unit: str) -> str:
        now, free = (_before(s) for s in (self.operating.status, self._status[0]))
        return (
            f"{self.pump.name} moves {now}{brief(self._flow, unit)} through {self.line.name}; with "
            f"no line at all it would move {free}{brief(self._free_flow, unit)}."
        )

    def _said_causes(self, unit: str) -> str:
        if self._lost <= 0:
            return (
                "Even on this line the pump runs past the end of its data, so nothing can be said "
                "of losses; get points further out."
            )
        order = np.argsort(-self._losses, kind="stable")
        # whatever the order, each cause's loss rests on the flows at both ends
        least = engine.least_of(self._status[[0, -1]])
        parts = ", ".join(f"{self.names[i]} {least}{brief(self._losses[i], unit)}" for i in order)
        return (
            f"The first cause is the {self.cause}. Of the {least}{brief(self._lost, unit)} lost, "
            f"whatever the order (Shapley): {parts}."
        )

    def _said_fixes(self, units: u.System) -> list[str]:
        best = self.fix
        own = [f for f in self.fixes if f.kind != "pump" and f is not best and f._gain > 0]
        pumps = [f for f in self.fixes if f.kind == "pump"]
        lines = ["No single change to the line is worth having and keeps the limits."]
        if best is not None:
            step = "Best two steps together" if best.kind == "both" else "Best single step"
            price = "" if best.price is None else f", for {u.number(best.price)} of material"
            lines = [f"{step}: {best.text(units)}. It asks for {best.asks}{price}."]
        for title, fixes in (("Also tried:", own), ("Apart from that:", pumps)):
            lines += [title, *(f"  - {f.text(units)}" for f in fixes)] if fixes else []
        return lines

    def __str__(self) -> str:
        return self.text()

    def __repr__(self) -> str:
        fix = "none" if self.fix is None else self.fix.text()
        return (
            f"Explanation({self.pump.name} on {self.line.name}: {u.both(self._flow, 'gpm')} of "
            f"{u.both(self._free_flow, 'gpm')}; first cause {self.cause}; best single step {fix})"
        )

    def _repr_html_(self) -> str:
        said = "".join(f"<p>{html.escape(line)}</p>" for line in self.text().splitlines()[:3])
        tables = "".join(
            f"<h4>{title}</h4>{html_table(frame)}"
            for title, frame in (
                ("Flow left, causes taken in one by one", self.steps),
                (f"Order-free losses ({self.division})", self.shares),
                ("Head at the operating point", self.ledger),
                ("Fixes", self.fixes_table),
            )
        )
        return said + tables + html_notes(caveats_of([self.pump]))


def explain(
    pump: Pump,
    line: DischargeLine,
    *,
    pumps: Sequence[Pump] | None = None,
    limits: Limits | None = None,
    pit: Pit | None = None,
    doubt: Doubt | None = None,
    need_gpm: float | None = None,
    need_lps: float | None = None,
    costs: Costs | None = None,
) -> Explanation:
    """Say what takes the flow, cause by cause, and which single change helps most.

    Parameters
    ----------
    pump : PumpCurve or PumpBank
    line : DischargeLine
        One of each, of scalars.
    pumps : sequence of pumps, optional
        Other pumps to try on the line; they are listed apart.
    limits : Limits, optional
        What a fix must keep; defaults to ``Limits()``, 2 to 8 ft/s.
    pit : Pit, optional
        Needed for limits on starts and runs.
    doubt : Doubt, optional
        Adds the band of the flow.
    need_gpm, need_lps : float, optional
        Flow needed: the best fix is then the easiest that carries it, and two changes
        together are tried where no single one does.
    costs : Costs, optional
        Prices of what a fix asks for, by which they are ranked where they are known.

    Returns
    -------
    Explanation

    Raises
    ------
    InputError
        Arrays, other pumps that are none, or a limit that needs a pit without one.
    StatusError
        No operating flow can be told: an input is NaN.

    Notes
    -----
    The steps take the causes in one after another in a fixed order; what each takes
    depends on it. The shares do not: they are the Shapley values over all subsets of the
    causes, solved in one call, and sum to the whole loss. Sensible fixes are single steps
    worth having, 2 % of the flow at least, that break no limit the present line keeps and
    worsen none it breaks: a valve wide open or of a better kind, the next pipe size in one
    run or in all (the one after it, too, where the next is less than a fifth wider), a tenth
    less length, half the elbows, no lid. Larger pipe is listed beside them.

    References
    ----------
    L. S. Shapley, "A value for n-person games", *Contributions to the Theory of Games II*,
    1953 (from memory). That a fix is one step is common practice, no source.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6,
    ...                         fittings={"elbow_90": 5, "check_valve_swing": 1})
    >>> why = dp.explain(pump, line)
    >>> why.cause, why.fix.name
    ('pipe', '2 in Sch 40 PVC (bore 2.05 in)')
    """
    kinds = {"limits": Limits, "pit": Pit, "doubt": Doubt, "costs": Costs}
    check_kinds(kinds, locals())
    op = one_case("explain", pump, line, told=True)
    need = u.maybe("need", guard="flow", gpm=need_gpm, lps=need_lps)
    if need is not None:
        one_measure("need", need, "give the flow needed")
    none = pumps is None or (isinstance(pumps, Sequence) and not pumps)
    others = () if none else listed("pumps", pumps, PumpCurve, PumpBank)[0]
    # each run is tried in other pipe, and each of those lines is solved
    spend("explain", runs=len(line.runs), changes=len(line.runs), points_each=100)
    causes = engine.loss_causes(pump, line)
    flows, status = engine.by_subset(pump, line, causes)
    chain = (1 << np.arange(len(causes) + 1)) - 1
    steps = flows[chain]
    steps[-1] = op.si.reckoned  # all at work is the line itself, free of the sums' rounding
    flows[-1] = steps[-1]
    heads = engine.head_by_cause(line, causes, float(steps[-1]))
    lead = op.at_flow(op.si.reckoned).si.shares[0].flow[0]
    heads = heads + engine.riser_by_cause(pump, line, causes, float(lead[0]))
    return Explanation(
        pump=pump,
        line=line,
        operating=op,
        names=tuple(c.name for c in causes),
        fixes=list_fixes(pump, line, others, limits, pit, None if need is None else need.si, costs),
        band=None if doubt is None else band(pump, line, doubt),
        pit=pit,
        _flows=u.frozen(steps),
        _status=status[chain],
        _losses=u.frozen(engine.shapley(flows)),
        _heads=u.frozen(heads),
    )


def _before(status: Any) -> str:
    """Words before a flow that is to be reckoned with."""
    bound = states.bound(status)
    return "perhaps " if bound == "not known" else f"{bound} ".lstrip()
