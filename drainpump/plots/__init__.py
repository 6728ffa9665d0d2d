"""Axes-level plots: each takes ``ax=None`` and returns the Axes it drew on.

matplotlib is imported when a plot is drawn, never before.
"""

from drainpump.plots.band import band
from drainpump.plots.check_up import check_up
from drainpump.plots.duty import duty
from drainpump.plots.pareto import pareto
from drainpump.plots.profile import profile
from drainpump.plots.starts import outage, starts
from drainpump.plots.storm import storm
from drainpump.plots.swings import swings

__all__ = ["band", "check_up", "duty", "outage", "pareto", "profile", "starts", "storm", "swings"]
