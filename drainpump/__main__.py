"""The main job on the command line: ``python -m drainpump CURVES`` for the built-in demo site,
``python -m drainpump --job job.json`` for one of one's own.

Exit code 0: a choice was made; 3: nothing on the list serves; 2: what was given cannot be used.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from drainpump.errors import DrainpumpError, DrainpumpWarning
from drainpump.paper.as_built_record import library_version
from drainpump.paper.brief import brief
from drainpump.paper.demo import market_garden
from drainpump.paper.document.json_text import MOST_BYTES
from drainpump.paper.job import Job, read_job
from drainpump.paper.report import Report, report
from drainpump.parts.pump.catalog import read_curves
from drainpump.parts.pump.curve import PumpCurve
from drainpump.plots.duty import duty
from drainpump.plots.page import save

if TYPE_CHECKING:
    from drainpump.paper.outcome import Outcome
    from drainpump.units import System


_PICTURES = (".png", ".pdf", ".svg")
_REPORTS = (".html", ".md", ".txt")
_DEMO_PICTURE = "drainpump_duty.png"
#: width and height of the picture, in
_SIZE = (7.0, 5.0)
_SERVES, _BAD, _NOTHING = 0, 2, 3
#: by whoever began it, as shells count it
_STOPPED = 130
#: control characters, which the name of a file may hold, other than a new line
_OBEYED = re.compile(r"[^\n\x20-\x7e\xa0-\U0010ffff]")


def main(argv: Sequence[str] | None = None) -> int:
    """Run the main job; returns the process's exit code."""
    asked = _asked(argv)
    # pictures go to files, whatever the surroundings would open a window with
    os.environ["MPLBACKEND"] = "agg"
    try:
        with warnings.catch_warnings():
            # the outcome keeps them, and they are shown with it
            warnings.simplefilter("ignore", DrainpumpWarning)
            return _run(asked)
    except (DrainpumpError, OSError) as error:
        _say(f"drainpump: {error}", sys.stderr)
        return _BAD
    except KeyboardInterrupt:
        return _STOPPED


def _asked(argv: Sequence[str] | None) -> argparse.Namespace:
    """What was asked for, as typed."""
    parser = argparse.ArgumentParser(
        prog="drainpump",
        description="Choose a pump and a pipe: for a job in JSON, or for the built-in demo site, "
        "an invented market garden. Exit code 0: a choice was made; 3: nothing serves; 2: what "
        "was given cannot be used.",
    )
    parser.add_argument(
        "curves",
        nargs="?",
        help="a folder of pump-curve CSV files, or one such file; may be left out for a job that "
        "holds its pumps",
    )
    parser.add_argument(
        "--job",
        help="a job in JSON, or - for standard input; CURVES, if given, replace its pumps; CSV "
        "files that a job names are read from its own folder alone, and not from standard input",
    )
    parser.add_argument("--full", action="store_true", help="print the report with its appendix")
    parser.add_argument("--json", action="store_true", help="with --job: print the report as JSON")
    parser.add_argument(
        "--report", help="where the report goes, .html, .md (its pictures beside it) or .txt"
    )
    parser.add_argument(
        "--units", choices=("us", "metric"), default="us", help="which system is said first"
    )
    parser.add_argument(
        "--plot",
        help=f"where the picture goes, .png, .pdf or .svg; the demo's is {_DEMO_PICTURE} "
        "unless told, a job draws none unless told",
    )
    parser.add_argument("--version", action="version", version=f"drainpump {library_version()}")
    asked = parser.parse_args(argv)
    if asked.json and asked.job is None:
        parser.error("--json needs --job")
    if asked.curves is None and asked.job is None:
        parser.error("give CURVES, or --job with a job that holds its pumps")
    for name, endings in (("plot", _PICTURES), ("report", _REPORTS)):
        path = getattr(asked, name)
        if path is not None and Path(path).suffix.lower() not in endings:
            parser.error(f"--{name} {path!r}: must end in {', '.join(endings)}")
    return asked


def _run(asked: argparse.Namespace) -> int:
    # pictures go into files, whatever screen the surroundings name
    os.environ["MPLBACKEND"] = "Agg"
    outcome = _job(asked).run()
    found = report(outcome)
    _say(_answer(asked, outcome, found))
    code = _SERVES if outcome.selection.best is not None else _NOTHING
    # the answer stands, whether or not a file can be written
    if asked.report is not None:
        found.save(asked.report, asked.units, appendix=asked.full)
        _say(f"drainpump: report written to {asked.report}", sys.stderr)
    if asked.plot is not None:
        _picture(outcome, asked.plot, asked.units)
        _say(f"drainpump: head against flow drawn in {asked.plot}", sys.stderr)
    elif asked.job is None:
        try:
            _picture(outcome, _DEMO_PICTURE, asked.units)
        except OSError as error:
            _say(f"drainpump: no picture drawn: {error}", sys.stderr)
        else:
            _say(f"Picture    {_DEMO_PICTURE}: head against flow")
    return code


def _job(asked: argparse.Namespace) -> Job:
    """The demo's job, or one's own."""
    if asked.job is None:
        return market_garden().with_pumps(read_curves(asked.curves))
    if asked.job == "-":
        job = Job.from_json(sys.stdin.buffer.read(MOST_BYTES + 1) if sys.stdin else b"")
    else:
        # whoever types the command may read what lies beside the job
        job = read_job(asked.job, curves_from=Path(asked.job).parent)
    if asked.curves is None:
        return job
    if job.pumps:
        count = len(job.pumps)
        _say(f"drainpump: the pumps of {asked.curves} replace the {count} of the job", sys.stderr)
    return job.with_pumps(read_curves(asked.curves))


def _answer(asked: argparse.Namespace, outcome: Outcome, found: Report) -> str:
    if asked.json:
        # in ASCII, which any console's encoding carries
        return json.dumps(found.to_dict(), indent=2, allow_nan=False)
    if asked.full:
        return found.to_text(asked.units, appendix=True)
    return brief(outcome, found.title, asked.units)


def _say(text: str, to: TextIO | None = None) -> None:
    """Print text; what the encoding lacks, or a terminal would obey, is shown as its code."""
    to = sys.stdout if to is None else to
    if to is None:  # closed by whoever began us
        return
    shown = _OBEYED.sub(lambda found: ascii(found.group())[1:-1], text)
    encoding = to.encoding or "utf-8"
    try:
        print(shown.encode(encoding, "backslashreplace").decode(encoding), file=to, flush=True)
    except BrokenPipeError:
        # whoever read the answer has seen enough; the files are written all the same
        os.dup2(os.open(os.devnull, os.O_WRONLY), to.fileno())


def _picture(outcome: Outcome, plot: str, units: System) -> None:
    """Draw the best candidates on the chosen line, or the nearest misses where none serves."""
    candidates = outcome.selection.candidates
    need: Any = outcome.job.need_lps
    line = candidates[0].line
    pumps = {
        c.pump.name: c.pump for c in candidates if c.line is line and isinstance(c.pump, PumpCurve)
    }
    best = list(pumps.values())[:5]
    invented = " (invented pumps)" if any(pump.invented for pump in best) else ""
    which = f"the best {len(best)} pumps" if len(best) > 1 else "the best pump"

    def draw(ax: Any) -> None:
        duty(best, line, candidates[0].pit, ax, units=units, need_lps=need)
        ax.set_title(f"{line.name}: {which} for it{invented}")

    save(draw, _SIZE, plot)


if __name__ == "__main__":
    raise SystemExit(main())
