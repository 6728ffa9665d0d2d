"""Pictures, one a file: each draws on one matplotlib Axes and returns it.

All take ``ax``, the Axes to draw on, by default fresh ones in a figure of their own; on the
axes of another picture of the same quantities and units they join it. ``units``, "us" (the
default) or "metric", is the unit system of the near axes and of what is said; the far axes
show the other, unless ``twin=False``. Letters follow ``font.size``, colours the axes' ground.
A picture too small for its words gives a `PictureWarning`. Where nothing can be shown, pyplot
keeps the last picture only, as its current figure. No picture calls show or changes a
setting, and matplotlib is imported when one is drawn, never before.
"""

from drainpump.doors import ask_as_a_door as _ask_as_a_door
from drainpump.plots.check_up import check_up
from drainpump.plots.cycle import cycle
from drainpump.plots.duty import duty
from drainpump.plots.explained import ledger, waterfall
from drainpump.plots.families import pump_family, system_family
from drainpump.plots.frame import PictureWarning
from drainpump.plots.pareto import pareto
from drainpump.plots.profile import profile
from drainpump.plots.sizes import pipe_sizes
from drainpump.plots.sketch import sketch
from drainpump.plots.spread import band, swings
from drainpump.plots.starts import outage, starts
from drainpump.plots.storm import storm
from drainpump.plots.traced import traced

__all__ = [
    "PictureWarning",
    "band",
    "check_up",
    "cycle",
    "duty",
    "ledger",
    "outage",
    "pareto",
    "pipe_sizes",
    "profile",
    "pump_family",
    "sketch",
    "starts",
    "storm",
    "swings",
    "system_family",
    "traced",
    "waterfall",
]

_ask_as_a_door(__name__)
