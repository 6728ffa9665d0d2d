"""Axes-level plots: each takes ``ax=None`` and returns the Axes it drew on.

matplotlib is imported when a plot is drawn, never before.
"""

from drainpump.plots.duty import duty

__all__ = ["duty"]
