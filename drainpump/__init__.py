"""Operating point, cycling and choice of a drainage pump on a long discharge line."""

from drainpump.engine.cycling import Cycle, cycle
from drainpump.engine.operating import OperatingPoint, operating_point
from drainpump.errors import (
    CatalogError,
    DrainpumpError,
    DrainpumpWarning,
    InputError,
    StatusError,
    UnitError,
    UnusualValueWarning,
)
from drainpump.parts.curve import PumpCurve
from drainpump.parts.fitting import Fitting
from drainpump.parts.line import DischargeLine, LineHead, straight_line
from drainpump.parts.outlet import FreeOutlet
from drainpump.parts.pipe import Pipe, pvc, pvc_metric
from drainpump.parts.pit import Pit, PitWarning
from drainpump.parts.run import Run

__all__ = [
    "CatalogError",
    "Cycle",
    "DischargeLine",
    "DrainpumpError",
    "DrainpumpWarning",
    "Fitting",
    "FreeOutlet",
    "InputError",
    "LineHead",
    "OperatingPoint",
    "Pipe",
    "Pit",
    "PitWarning",
    "PumpCurve",
    "Run",
    "StatusError",
    "UnitError",
    "UnusualValueWarning",
    "cycle",
    "operating_point",
    "pvc",
    "pvc_metric",
    "straight_line",
]
