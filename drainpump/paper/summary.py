"""The main job in words: reasons, the choice, its cycle, the cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.choose.ranked_table import ranked_table
from drainpump.choose.selection import Selection
from drainpump.cycling.switching import ENDLESS, Cycle
from drainpump.paper.cautions import CAUTIONS, OPEN_ITEMS

if TYPE_CHECKING:
    from drainpump.paper.job import Job

__all__ = ["site_in_words", "summary"]


def summary(selection: Selection, cycling: Cycle | None = None, units: u.System = "us") -> str:
    """Say the result of the main job in plain words.

    Parameters
    ----------
    selection : Selection
    cycling : Cycle, optional
        The chosen pump's cycle at the inflow of interest.
    units : {"us", "metric"}, default "us"
        Unit system of the table; the sentences say both.

    Returns
    -------
    str
    """
    best = selection.best
    parts = [
        f"Needed: {selection.wanted} at the pump-off level, the hardest. "
        f"{selection.sure[0].upper()}{selection.sure[1:]}. Ranked by {selection.rule}.",
        "Nothing on the list serves; see the reasons below." if best is None else _choice(best),
    ]
    if cycling is not None:
        parts.append(_cycle(cycling))
    parts += [
        ranked_table(selection.candidates, units)
        + "\n(starts/h: in the worst case; what each verdict means stands below)",
        _limits(selection),
        _rejections(selection),
    ]
    parts.append(_listed("Cautions (local codes and licensed practice come first)", CAUTIONS))
    parts.append(_listed("Still to be confirmed by you", OPEN_ITEMS))
    return "\n\n".join(parts)


def site_in_words(job: Job) -> str:
    """Say what is assumed of a job's site: its story, pit, inflow and lines.

    Parameters
    ----------
    job : Job

    Returns
    -------
    str
    """
    assumed = [f"need {job._need}"]
    if job._inflow is not None:
        assumed.append(f"inflow {job._inflow}")
    if job.pit is not None:
        assumed.append(str(job.pit))
    assumed += [str(line).replace("\n", "\n    ") for line in job.lines]
    text = _listed("The site as assumed", assumed)
    return f"{job.story}\n\n{text}" if job.story else text


def _listed(title: str, items: Sequence[str]) -> str:
    return f"{title}:\n" + "\n".join(f"  - {item}" for item in items)


def _limits(selection: Selection) -> str:
    limits = selection.limits
    said = [
        f"{name.replace('_', ' ')} {value}{' (warns)' if name in limits.soft else ''} "
        f"({limits.sources[name]})"
        for name, value in limits.in_words().items()
    ]
    return _listed("Limits applied", said)


def _rejections(selection: Selection) -> str:
    said = [
        f"{c.pump.name} on {c.line.name}: " + "; ".join([*(r.text for r in c.reasons), c.change])
        for c in selection.rejected
    ]
    return _listed("Rejected, and why", said or ["none"])


def _choice(best: Candidate) -> str:
    low, high = best.si.low, best.si.high
    band = "" if low is None else f" (P10 {u.both(low, 'gpm')}, P90 {u.both(high, 'gpm')})"
    text = (
        f"Chosen: {best.pump.name} on {best.line.name}: {u.both(best.si.flow, 'gpm')}{band} at "
        f"{u.both(best.si.head, 'ft')} of head."
    )
    invented = " Its curve is invented." if best.pump.invented else ""
    warned = "".join(f" Warning: {r.text}." for r in best.warnings)
    return text + invented + warned + "".join(f" Note: {note}." for note in best.notes)


def _cycle(c: Cycle) -> str:
    keeps = "keeps up" if c.keeps_up else "does not keep up"
    run = ENDLESS["run"] if np.isinf(c._run) else f"runs {u.text(c._run, 's')}"
    rest = ENDLESS["rest"] if np.isinf(c._rest) else f"rests {u.text(c._rest, 's')}"
    return (
        f"At {u.both(c._inflow, 'gpm')} of inflow it {keeps} (pattern: {c.pattern}): {run}, "
        f"{rest}, {u.number(c.starts_per_h)} starts "
        f"an hour; at worst {u.number(c.worst_starts_per_h)} starts an hour, at "
        f"{u.both(c._worst_inflow, 'gpm')} of inflow. Working volume "
        f"{u.both(c._working, 'gal')}."
    )
