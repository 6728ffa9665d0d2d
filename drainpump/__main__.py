"""``python -m drainpump CURVES``: the main job, on the built-in demo site or a job of one's own."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drainpump.advice.demo import market_garden
from drainpump.advice.job import read_job
from drainpump.advice.report import report
from drainpump.advice.summary import site, summary
from drainpump.errors import DrainpumpError
from drainpump.parts.catalog import read_curves

if TYPE_CHECKING:
    from drainpump.advice.candidate import Candidate
    from drainpump.parts.pit import Pit


def main(argv: Sequence[str] | None = None) -> int:
    """Run the main job; returns the process's exit code."""
    parser = argparse.ArgumentParser(
        prog="python -m drainpump",
        description="Choose a pump and a pipe: for a job in JSON, or for the built-in demo site, "
        "an invented market garden.",
    )
    parser.add_argument("curves", help="a folder of pump-curve CSV files, or one such file")
    parser.add_argument("--job", help="a job in JSON; its pumps are then those of the curves")
    parser.add_argument("--json", action="store_true", help="with --job: print the report as JSON")
    parser.add_argument("--units", choices=("us", "metric"), default="us", help="of the tables")
    parser.add_argument(
        "--plot", help="where the picture goes (PNG); drainpump_duty.png by default"
    )
    asked = parser.parse_args(argv)
    if asked.json and asked.job is None:
        parser.error("--json needs --job")
    try:
        if asked.job is None:
            return _demo(asked.curves, asked.units, asked.plot or "drainpump_duty.png")
        return _job(asked.curves, asked.job, asked.json, asked.units, asked.plot)
    except (DrainpumpError, OSError) as error:
        print(f"drainpump: {error}", file=sys.stderr)
        return 2


def _demo(curves: str, units: str, plot: str) -> int:
    job = market_garden().with_pumps(read_curves(curves))
    outcome = job.run()
    chosen = outcome.selection
    turning = None if chosen.best is None else outcome.cycling
    _say(f"{site(job)}\n\n{summary(chosen, turning, units)}\n")
    _picture(chosen.candidates, job.pit, plot, units)
    print(f"Head against flow drawn in {plot}")
    return 0


def _job(curves: str, path: str, as_json: bool, units: str, plot: str | None) -> int:
    """A job of one's own: its report as Markdown, or as JSON and nothing else."""
    job = read_job(path).with_pumps(read_curves(curves))
    outcome = job.run()
    found = report(outcome)
    if plot is not None:
        # before anything is said, so that a picture that cannot be written leaves no half answer
        _picture(outcome.selection.candidates, job.pit, plot, units)
    # JSON in ASCII, which any console's encoding carries
    _say(json.dumps(found.to_dict(), indent=2, allow_nan=False) if as_json else found.to_markdown())
    return 0


def _say(text: str) -> None:
    """Print text; what standard output's encoding lacks is shown as its code."""
    encoding = sys.stdout.encoding or "utf-8"
    print(text.encode(encoding, "backslashreplace").decode(encoding))


def _picture(candidates: Sequence[Candidate], pit: Pit | None, plot: str, units: str) -> None:
    """Draw the best candidates on the chosen line, or the nearest misses where none serves."""
    import matplotlib

    matplotlib.use("Agg")
    from drainpump.parts.curve import PumpCurve
    from drainpump.plots import duty

    line = candidates[0].line
    pumps = {
        c.pump.name: c.pump for c in candidates if c.line is line and isinstance(c.pump, PumpCurve)
    }
    best = list(pumps.values())[:5]
    ax = duty(best, line, pit, units=units)
    invented = " (invented pumps)" if any(pump.invented for pump in best) else ""
    ax.set_title(f"{line.name}: the best {len(best)} of its candidates{invented}")
    figure: Any = ax.figure
    figure.savefig(Path(plot), dpi=120, format="png")


if __name__ == "__main__":
    raise SystemExit(main())
