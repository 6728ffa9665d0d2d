"""The main job on the command line: ``python -m drainpump CURVES`` for the built-in demo site,
``python -m drainpump --job job.json`` for one of one's own.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from drainpump.errors import DrainpumpError
from drainpump.paper.demo import market_garden
from drainpump.paper.job import read_job
from drainpump.paper.report import report
from drainpump.paper.summary import site_in_words, summary
from drainpump.parts.pump.catalog import read_curves
from drainpump.units import System

if TYPE_CHECKING:
    from drainpump.choose.candidate import Candidate
    from drainpump.parts.pit import Pit


_PICTURES = (".png", ".pdf", ".svg")
#: control characters, which the name of a file may hold, other than a new line
_OBEYED = re.compile(r"[^\n\x20-\x7e\xa0-\U0010ffff]")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the main job; returns the process's exit code."""
    parser = argparse.ArgumentParser(
        prog="python -m drainpump",
        description="Choose a pump and a pipe: for a job in JSON, or for the built-in demo site, "
        "an invented market garden.",
    )
    parser.add_argument(
        "curves",
        nargs="?",
        help="a folder of pump-curve CSV files, or one such file; may be left out for a job that "
        "holds its pumps",
    )
    parser.add_argument("--job", help="a job in JSON; CURVES, if given, replace its pumps")
    parser.add_argument("--json", action="store_true", help="with --job: print the report as JSON")
    parser.add_argument(
        "--units",
        choices=("us", "metric"),
        default="us",
        help="of the demo's table and of the picture; a job's report says both",
    )
    parser.add_argument(
        "--plot",
        help="where the picture goes, .png, .pdf or .svg; the demo's is drainpump_duty.png "
        "unless told, a job draws none unless told",
    )
    asked = parser.parse_args(argv)
    if asked.json and asked.job is None:
        parser.error("--json needs --job")
    if asked.curves is None and asked.job is None:
        parser.error("give CURVES, or --job with a job that holds its pumps")
    if asked.plot is not None and Path(asked.plot).suffix.lower() not in _PICTURES:
        parser.error(f"--plot {asked.plot!r}: must end in {', '.join(_PICTURES)}")
    try:
        if asked.job is None:
            return _demo(asked.curves, asked.units, asked.plot or "drainpump_duty.png")
        return _job(asked.curves, asked.job, asked.json, asked.units, asked.plot)
    except BrokenPipeError:
        # whoever read the answer has seen enough; nothing more can be said to them
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except (DrainpumpError, OSError) as error:
        _say(f"drainpump: {error}", sys.stderr)
        return 2


def _demo(curves: str, units: System, plot: str) -> int:
    job = market_garden().with_pumps(read_curves(curves))
    outcome = job.run()
    chosen = outcome.selection
    turning = None if chosen.best is None else outcome.cycling
    # before anything is said, so that a picture that cannot be written leaves no half answer
    _picture(chosen.candidates, job.pit, plot, units)
    _say(f"{site_in_words(job)}\n\n{summary(chosen, turning, units)}\n")
    _say(f"Head against flow drawn in {plot}")
    return 0


def _job(curves: str | None, path: str, as_json: bool, units: System, plot: str | None) -> int:
    """A job of one's own: its report as plain text, or as JSON and nothing else."""
    job = read_job(path)
    if curves is not None:
        if job.pumps:
            count = len(job.pumps)
            _say(f"drainpump: the pumps of {curves} replace the {count} of the job", sys.stderr)
        job = job.with_pumps(read_curves(curves))
    outcome = job.run()
    found = report(outcome)
    if plot is not None:
        _picture(outcome.selection.candidates, job.pit, plot, units)
        _say(f"drainpump: head against flow drawn in {plot}", sys.stderr)
    # JSON in ASCII, which any console's encoding carries
    _say(json.dumps(found.to_dict(), indent=2, allow_nan=False) if as_json else found.to_text())
    return 0


def _say(text: str, to: TextIO | None = None) -> None:
    """Print text; what the encoding lacks, or a terminal would obey, is shown as its code."""
    to = sys.stdout if to is None else to
    shown = _OBEYED.sub(lambda found: ascii(found.group())[1:-1], text)
    encoding = to.encoding or "utf-8"
    print(shown.encode(encoding, "backslashreplace").decode(encoding), file=to, flush=True)


def _picture(candidates: Sequence[Candidate], pit: Pit | None, plot: str, units: System) -> None:
    """Draw the best candidates on the chosen line, or the nearest misses where none serves."""
    import matplotlib

    matplotlib.use("Agg")
    from drainpump.parts.pump.curve import PumpCurve
    from drainpump.plots import duty

    line = candidates[0].line
    pumps = {
        c.pump.name: c.pump for c in candidates if c.line is line and isinstance(c.pump, PumpCurve)
    }
    best = list(pumps.values())[:5]
    ax = duty(best, line, pit, units=units)
    invented = " (invented pumps)" if any(pump.invented for pump in best) else ""
    which = f"the best {len(best)} pumps" if len(best) > 1 else "the best pump"
    ax.set_title(f"{line.name}: {which} for it{invented}")
    figure: Any = ax.figure
    figure.savefig(Path(plot), dpi=120)


if __name__ == "__main__":
    raise SystemExit(main())
