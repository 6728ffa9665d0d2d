"""Operating point, cycling and choice of a drainage pump on a long discharge line."""

from drainpump import plots
from drainpump.advice.band import Band, band
from drainpump.advice.doubt import Doubt
from drainpump.advice.limits import Limits
from drainpump.advice.select import Candidate, Reason, Selection, select
from drainpump.advice.sensitivity import sensitivity
from drainpump.engine.cycling import Cycle, cycle
from drainpump.engine.draining import DrainBack, drain_back
from drainpump.engine.field import bucket_test, cycle_log, drawdown_test
from drainpump.engine.fieldtest import FieldTest, meter_test
from drainpump.engine.gauge import gauge_test
from drainpump.engine.high_point import HighPoint, high_point
from drainpump.engine.operating import OperatingPoint, operating_point
from drainpump.engine.weep import WeepLoss, weep_loss
from drainpump.errors import (
    CatalogError,
    DrainpumpError,
    DrainpumpWarning,
    InputError,
    StatusError,
    UnitError,
    UnusualValueWarning,
)
from drainpump.parts.bank import PumpBank, parallel, series
from drainpump.parts.catalog import read_curves
from drainpump.parts.curve import PumpCurve
from drainpump.parts.fitting import Fitting
from drainpump.parts.line import DischargeLine, LineHead, straight_line
from drainpump.parts.outlet import FreeOutlet, GravityHandOff, PopUpOutlet, SubmergedOutlet
from drainpump.parts.pipe import Pipe, pvc, pvc_metric
from drainpump.parts.pit import Pit, PitWarning
from drainpump.parts.run import Run
from drainpump.physics.fittings import known_fittings as fitting_names

__all__ = [
    "Band",
    "Candidate",
    "CatalogError",
    "Cycle",
    "DischargeLine",
    "Doubt",
    "DrainBack",
    "DrainpumpError",
    "DrainpumpWarning",
    "FieldTest",
    "Fitting",
    "FreeOutlet",
    "GravityHandOff",
    "HighPoint",
    "InputError",
    "Limits",
    "LineHead",
    "OperatingPoint",
    "Pipe",
    "Pit",
    "PitWarning",
    "PopUpOutlet",
    "PumpBank",
    "PumpCurve",
    "Reason",
    "Run",
    "Selection",
    "StatusError",
    "SubmergedOutlet",
    "UnitError",
    "UnusualValueWarning",
    "WeepLoss",
    "band",
    "bucket_test",
    "cycle",
    "cycle_log",
    "drain_back",
    "drawdown_test",
    "fitting_names",
    "gauge_test",
    "high_point",
    "meter_test",
    "operating_point",
    "parallel",
    "plots",
    "pvc",
    "pvc_metric",
    "read_curves",
    "select",
    "sensitivity",
    "series",
    "straight_line",
    "weep_loss",
]
