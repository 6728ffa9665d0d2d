"""``python -m drainpump CURVES``: the main job on the built-in demo site."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from drainpump.advice.demo import market_garden
from drainpump.advice.select import Selection, select
from drainpump.advice.summary import summary
from drainpump.engine.cycling import cycle
from drainpump.errors import DrainpumpError
from drainpump.parts.catalog import read_curves


def main(argv: Sequence[str] | None = None) -> int:
    """Run the main job; returns the process's exit code."""
    parser = argparse.ArgumentParser(
        prog="python -m drainpump",
        description="Choose a pump and a pipe for the built-in demo site, an invented market garden.",
    )
    parser.add_argument("curves", help="a folder of pump-curve CSV files, or one such file")
    parser.add_argument(
        "--units", choices=("us", "metric"), default="us", help="units of the table"
    )
    parser.add_argument("--plot", default="drainpump_duty.png", help="where the picture goes (PNG)")
    asked = parser.parse_args(argv)
    try:
        return _run(asked.curves, asked.units, asked.plot)
    except (DrainpumpError, OSError) as error:
        print(f"drainpump: {error}", file=sys.stderr)
        return 2


def _run(curves: str, units: str, plot: str) -> int:
    site = market_garden()
    pumps = read_curves(curves)
    chosen = select(pumps, site.lines, pit=site.pit, need_gpm=site.need_gpm, limits=site.limits)
    best = chosen.best
    turning = None
    if best is not None:
        turning = cycle(best.pump, best.line, site.pit, inflow_gpm=site.inflow_gpm)
    print(f"{site.story}\n\n{summary(chosen, turning, units)}\n")
    _picture(chosen, plot, units)
    print(f"Head against flow drawn in {plot}")
    return 0


def _picture(chosen: Selection, plot: str, units: str) -> None:
    """Draw the best candidates on the chosen line, or the nearest misses where none serves."""
    import matplotlib

    matplotlib.use("Agg")
    from drainpump.advice.demo import market_garden
    from drainpump.plots import duty

    first = chosen.candidates[0]
    pumps = list({c.pump.name: c.pump for c in chosen.candidates if c.line is first.line}.values())
    ax = duty(pumps[:5], first.line, market_garden().pit, units=units)
    ax.set_title(f"{first.line.name}: the five best of its candidates (invented demo site)")
    figure = ax.get_figure(root=True)
    assert figure is not None
    figure.savefig(plot, dpi=120, format="png")


if __name__ == "__main__":
    raise SystemExit(main())
