"""Operating point, cycling and choice of a drainage pump on a long discharge line."""

from drainpump import plots
from drainpump.advice.band import Band, band
from drainpump.advice.checks import SideCheck, SideChecks, side_checks
from drainpump.advice.doubt import Doubt
from drainpump.advice.floats import FloatTravel, PitSize, float_travel, pit_size
from drainpump.advice.inverse import MaxLength, MaxLift, max_length, max_lift
from drainpump.advice.limits import Limits
from drainpump.advice.select import Candidate, Reason, Selection, select
from drainpump.advice.sensitivity import sensitivity
from drainpump.advice.shopping import Duty, SmallestPipe, duty_to_buy, smallest_pipe
from drainpump.advice.verdict import Verdict, verdict
from drainpump.engine.calibrate import Calibration, calibrate
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
    "Calibration",
    "Candidate",
    "CatalogError",
    "Cycle",
    "DischargeLine",
    "Doubt",
    "DrainBack",
    "DrainpumpError",
    "DrainpumpWarning",
    "Duty",
    "FieldTest",
    "Fitting",
    "FloatTravel",
    "FreeOutlet",
    "GravityHandOff",
    "HighPoint",
    "InputError",
    "Limits",
    "LineHead",
    "MaxLength",
    "MaxLift",
    "OperatingPoint",
    "Pipe",
    "Pit",
    "PitSize",
    "PitWarning",
    "PopUpOutlet",
    "PumpBank",
    "PumpCurve",
    "Reason",
    "Run",
    "Selection",
    "SideCheck",
    "SideChecks",
    "SmallestPipe",
    "StatusError",
    "SubmergedOutlet",
    "UnitError",
    "UnusualValueWarning",
    "Verdict",
    "WeepLoss",
    "band",
    "bucket_test",
    "calibrate",
    "cycle",
    "cycle_log",
    "drain_back",
    "drawdown_test",
    "duty_to_buy",
    "fitting_names",
    "float_travel",
    "gauge_test",
    "high_point",
    "max_length",
    "max_lift",
    "meter_test",
    "operating_point",
    "parallel",
    "pit_size",
    "plots",
    "pvc",
    "pvc_metric",
    "read_curves",
    "select",
    "sensitivity",
    "series",
    "side_checks",
    "smallest_pipe",
    "straight_line",
    "verdict",
    "weep_loss",
]
