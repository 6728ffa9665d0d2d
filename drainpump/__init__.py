"""Operating point, cycling and choice of a drainage pump on a long discharge line."""

from drainpump import plots
from drainpump.advice.band import Band, band
from drainpump.advice.candidate import Candidate
from drainpump.advice.causes import Priors
from drainpump.advice.checks import SideCheck, SideChecks, side_checks
from drainpump.advice.cost import Costs
from drainpump.advice.diagnose import Diagnosis, diagnose
from drainpump.advice.doubt import Doubt
from drainpump.advice.explain import Explanation, explain
from drainpump.advice.fixes import Fix
from drainpump.advice.floats import FloatTravel, PitSize, float_travel, pit_size
from drainpump.advice.inverse import MaxLength, MaxLift, max_length, max_lift
from drainpump.advice.job import Job, Outcome, read_job
from drainpump.advice.judge import Reason
from drainpump.advice.limits import Limits
from drainpump.advice.next_test import NextTest
from drainpump.advice.outlook import Outlook, outlook
from drainpump.advice.record import Record, as_built_record
from drainpump.advice.report import Report, report
from drainpump.advice.rules import RulesOfThumb, rules_of_thumb
from drainpump.advice.select import Selection, select
from drainpump.advice.sensitivity import sensitivity
from drainpump.advice.shopping import Duty, SmallestPipe, duty_to_buy, smallest_pipe
from drainpump.advice.verdict import Verdict, verdict
from drainpump.advice.worksheet import Worksheet, worksheet
from drainpump.engine.calibrate import Calibration, calibrate
from drainpump.engine.cycling import Cycle, cycle
from drainpump.engine.draining import DrainBack, drain_back
from drainpump.engine.field import bucket_test, cycle_log, drawdown_test
from drainpump.engine.fieldtest import FieldTest, meter_test
from drainpump.engine.gauge import gauge_test
from drainpump.engine.groundwater import (
    MeasuredInflow,
    Seepage,
    inflow_from_cycles,
    inflow_from_rise,
    seepage,
)
from drainpump.engine.high_point import HighPoint, high_point
from drainpump.engine.hydrology import held_back, runoff_hydrograph
from drainpump.engine.operating import OperatingPoint, operating_point
from drainpump.engine.outage import Outage, outage
from drainpump.engine.routing import Routing, route
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
from drainpump.parts.catchment import Catchment, Trench, roof
from drainpump.parts.concentration import Concentration, time_of_concentration
from drainpump.parts.curve import PumpCurve
from drainpump.parts.fitting import Fitting
from drainpump.parts.line import DischargeLine, LineHead, straight_line
from drainpump.parts.outlet import FreeOutlet, GravityHandOff, PopUpOutlet, SubmergedOutlet
from drainpump.parts.pipe import Pipe, pvc, pvc_metric
from drainpump.parts.pit import Pit, PitWarning
from drainpump.parts.pond import PondStorage
from drainpump.parts.rain import RainDepth, RainFit, RainTable, nrcs_storm, read_rain
from drainpump.parts.record import recorded_rain
from drainpump.parts.run import Run
from drainpump.parts.storm import Hydrograph, Hyetograph
from drainpump.physics.fittings import known_fittings as fitting_names

__all__ = [
    "Band",
    "Calibration",
    "Candidate",
    "CatalogError",
    "Catchment",
    "Concentration",
    "Costs",
    "Cycle",
    "Diagnosis",
    "DischargeLine",
    "Doubt",
    "DrainBack",
    "DrainpumpError",
    "DrainpumpWarning",
    "Duty",
    "Explanation",
    "FieldTest",
    "Fitting",
    "Fix",
    "FloatTravel",
    "FreeOutlet",
    "GravityHandOff",
    "HighPoint",
    "Hydrograph",
    "Hyetograph",
    "InputError",
    "Job",
    "Limits",
    "LineHead",
    "MaxLength",
    "MaxLift",
    "MeasuredInflow",
    "NextTest",
    "OperatingPoint",
    "Outage",
    "Outcome",
    "Outlook",
    "Pipe",
    "Pit",
    "PitSize",
    "PitWarning",
    "PondStorage",
    "PopUpOutlet",
    "Priors",
    "PumpBank",
    "PumpCurve",
    "RainDepth",
    "RainFit",
    "RainTable",
    "Reason",
    "Record",
    "Report",
    "Routing",
    "RulesOfThumb",
    "Run",
    "Seepage",
    "Selection",
    "SideCheck",
    "SideChecks",
    "SmallestPipe",
    "StatusError",
    "SubmergedOutlet",
    "Trench",
    "UnitError",
    "UnusualValueWarning",
    "Verdict",
    "WeepLoss",
    "Worksheet",
    "as_built_record",
    "band",
    "bucket_test",
    "calibrate",
    "cycle",
    "cycle_log",
    "diagnose",
    "drain_back",
    "drawdown_test",
    "duty_to_buy",
    "explain",
    "fitting_names",
    "float_travel",
    "gauge_test",
    "held_back",
    "high_point",
    "inflow_from_cycles",
    "inflow_from_rise",
    "max_length",
    "max_lift",
    "meter_test",
    "nrcs_storm",
    "operating_point",
    "outage",
    "outlook",
    "parallel",
    "pit_size",
    "plots",
    "pvc",
    "pvc_metric",
    "read_curves",
    "read_job",
    "read_rain",
    "recorded_rain",
    "report",
    "roof",
    "route",
    "rules_of_thumb",
    "runoff_hydrograph",
    "seepage",
    "select",
    "sensitivity",
    "series",
    "side_checks",
    "smallest_pipe",
    "straight_line",
    "time_of_concentration",
    "verdict",
    "weep_loss",
    "worksheet",
]
