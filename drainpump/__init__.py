"""Operating point, cycling and choice of a drainage pump on a long discharge line.

Every public name is exported here, one by one, and loaded from its home when it is first
asked for: importing the package costs next to nothing.
"""

import typing as _typing
from importlib import import_module as _import_module

# for type checkers and editors, which read and do not run
if _typing.TYPE_CHECKING:
    from drainpump import plots as plots
    from drainpump.advice.band import Band as Band
    from drainpump.advice.band import band as band
    from drainpump.advice.candidate import Candidate as Candidate
    from drainpump.advice.causes import Priors as Priors
    from drainpump.advice.checks import SideCheck as SideCheck
    from drainpump.advice.checks import SideChecks as SideChecks
    from drainpump.advice.checks import side_checks as side_checks
    from drainpump.advice.cost import Costs as Costs
    from drainpump.advice.diagnose import Diagnosis as Diagnosis
    from drainpump.advice.diagnose import diagnose as diagnose
    from drainpump.advice.doubt import Doubt as Doubt
    from drainpump.advice.explain import Explanation as Explanation
    from drainpump.advice.explain import explain as explain
    from drainpump.advice.fixes import Fix as Fix
    from drainpump.advice.floats import FloatTravel as FloatTravel
    from drainpump.advice.floats import PitSize as PitSize
    from drainpump.advice.floats import float_travel as float_travel
    from drainpump.advice.floats import pit_size as pit_size
    from drainpump.advice.inverse import MaxLength as MaxLength
    from drainpump.advice.inverse import MaxLift as MaxLift
    from drainpump.advice.inverse import max_length as max_length
    from drainpump.advice.inverse import max_lift as max_lift
    from drainpump.advice.job import Job as Job
    from drainpump.advice.job import Outcome as Outcome
    from drainpump.advice.job import read_job as read_job
    from drainpump.advice.judge import Reason as Reason
    from drainpump.advice.limits import Limits as Limits
    from drainpump.advice.next_test import NextTest as NextTest
    from drainpump.advice.outlook import Outlook as Outlook
    from drainpump.advice.outlook import outlook as outlook
    from drainpump.advice.record import Record as Record
    from drainpump.advice.record import as_built_record as as_built_record
    from drainpump.advice.report import Report as Report
    from drainpump.advice.report import report as report
    from drainpump.advice.rules import RulesOfThumb as RulesOfThumb
    from drainpump.advice.rules import rules_of_thumb as rules_of_thumb
    from drainpump.advice.select import Selection as Selection
    from drainpump.advice.select import select as select
    from drainpump.advice.sensitivity import sensitivity as sensitivity
    from drainpump.advice.shopping import Duty as Duty
    from drainpump.advice.shopping import SmallestPipe as SmallestPipe
    from drainpump.advice.shopping import duty_to_buy as duty_to_buy
    from drainpump.advice.shopping import smallest_pipe as smallest_pipe
    from drainpump.advice.verdict import Verdict as Verdict
    from drainpump.advice.verdict import verdict as verdict
    from drainpump.advice.worksheet import Worksheet as Worksheet
    from drainpump.advice.worksheet import worksheet as worksheet
    from drainpump.engine.calibrate import Calibration as Calibration
    from drainpump.engine.calibrate import calibrate as calibrate
    from drainpump.engine.cycling import Cycle as Cycle
    from drainpump.engine.cycling import cycle as cycle
    from drainpump.engine.draining import DrainBack as DrainBack
    from drainpump.engine.draining import drain_back as drain_back
    from drainpump.engine.field import bucket_test as bucket_test
    from drainpump.engine.field import cycle_log as cycle_log
    from drainpump.engine.field import drawdown_test as drawdown_test
    from drainpump.engine.fieldtest import FieldTest as FieldTest
    from drainpump.engine.fieldtest import meter_test as meter_test
    from drainpump.engine.gauge import gauge_test as gauge_test
    from drainpump.engine.groundwater import MeasuredInflow as MeasuredInflow
    from drainpump.engine.groundwater import Seepage as Seepage
    from drainpump.engine.groundwater import inflow_from_cycles as inflow_from_cycles
    from drainpump.engine.groundwater import inflow_from_rise as inflow_from_rise
    from drainpump.engine.groundwater import seepage as seepage
    from drainpump.engine.high_point import HighPoint as HighPoint
    from drainpump.engine.high_point import high_point as high_point
    from drainpump.engine.hydrology import held_back as held_back
    from drainpump.engine.hydrology import runoff_hydrograph as runoff_hydrograph
    from drainpump.engine.operating import OperatingPoint as OperatingPoint
    from drainpump.engine.operating import operating_point as operating_point
    from drainpump.engine.outage import Outage as Outage
    from drainpump.engine.outage import outage as outage
    from drainpump.engine.routing import Routing as Routing
    from drainpump.engine.routing import route as route
    from drainpump.engine.weep import WeepLoss as WeepLoss
    from drainpump.engine.weep import weep_loss as weep_loss
    from drainpump.errors import CatalogError as CatalogError
    from drainpump.errors import DrainpumpError as DrainpumpError
    from drainpump.errors import DrainpumpWarning as DrainpumpWarning
    from drainpump.errors import InputError as InputError
    from drainpump.errors import StatusError as StatusError
    from drainpump.errors import UnitError as UnitError
    from drainpump.errors import UnusualValueWarning as UnusualValueWarning
    from drainpump.parts.bank import PumpBank as PumpBank
    from drainpump.parts.bank import parallel as parallel
    from drainpump.parts.bank import series as series
    from drainpump.parts.catalog import read_curves as read_curves
    from drainpump.parts.catchment import Catchment as Catchment
    from drainpump.parts.catchment import Trench as Trench
    from drainpump.parts.catchment import roof as roof
    from drainpump.parts.concentration import Concentration as Concentration
    from drainpump.parts.concentration import time_of_concentration as time_of_concentration
    from drainpump.parts.curve import PumpCurve as PumpCurve
    from drainpump.parts.fitting import Fitting as Fitting
    from drainpump.parts.line import DischargeLine as DischargeLine
    from drainpump.parts.line import LineHead as LineHead
    from drainpump.parts.outlet import FreeOutlet as FreeOutlet
    from drainpump.parts.outlet import GravityHandOff as GravityHandOff
    from drainpump.parts.outlet import PopUpOutlet as PopUpOutlet
    from drainpump.parts.outlet import SubmergedOutlet as SubmergedOutlet
    from drainpump.parts.pipe import Pipe as Pipe
    from drainpump.parts.pipe import pvc as pvc
    from drainpump.parts.pipe import pvc_metric as pvc_metric
    from drainpump.parts.pit import Pit as Pit
    from drainpump.parts.pit import PitWarning as PitWarning
    from drainpump.parts.pond import PondStorage as PondStorage
    from drainpump.parts.rain import RainDepth as RainDepth
    from drainpump.parts.rain import RainFit as RainFit
    from drainpump.parts.rain import RainTable as RainTable
    from drainpump.parts.rain import nrcs_storm as nrcs_storm
    from drainpump.parts.rain import read_rain as read_rain
    from drainpump.parts.record import recorded_rain as recorded_rain
    from drainpump.parts.run import Run as Run
    from drainpump.parts.storm import Hydrograph as Hydrograph
    from drainpump.parts.storm import Hyetograph as Hyetograph
    from drainpump.parts.straight import straight_line as straight_line
    from drainpump.physics.fittings import known_fittings as fitting_names  # noqa: F401

#: the same for the running program: where each name lives
_HOMES = {
    "advice.band": "Band band",
    "advice.candidate": "Candidate",
    "advice.causes": "Priors",
    "advice.checks": "SideCheck SideChecks side_checks",
    "advice.cost": "Costs",
    "advice.diagnose": "Diagnosis diagnose",
    "advice.doubt": "Doubt",
    "advice.explain": "Explanation explain",
    "advice.fixes": "Fix",
    "advice.floats": "FloatTravel PitSize float_travel pit_size",
    "advice.inverse": "MaxLength MaxLift max_length max_lift",
    "advice.job": "Job Outcome read_job",
    "advice.judge": "Reason",
    "advice.limits": "Limits",
    "advice.next_test": "NextTest",
    "advice.outlook": "Outlook outlook",
    "advice.record": "Record as_built_record",
    "advice.report": "Report report",
    "advice.rules": "RulesOfThumb rules_of_thumb",
    "advice.select": "Selection select",
    "advice.sensitivity": "sensitivity",
    "advice.shopping": "Duty SmallestPipe duty_to_buy smallest_pipe",
    "advice.verdict": "Verdict verdict",
    "advice.worksheet": "Worksheet worksheet",
    "engine.calibrate": "Calibration calibrate",
    "engine.cycling": "Cycle cycle",
    "engine.draining": "DrainBack drain_back",
    "engine.field": "bucket_test cycle_log drawdown_test",
    "engine.fieldtest": "FieldTest meter_test",
    "engine.gauge": "gauge_test",
    "engine.groundwater": "MeasuredInflow Seepage inflow_from_cycles inflow_from_rise seepage",
    "engine.high_point": "HighPoint high_point",
    "engine.hydrology": "held_back runoff_hydrograph",
    "engine.operating": "OperatingPoint operating_point",
    "engine.outage": "Outage outage",
    "engine.routing": "Routing route",
    "engine.weep": "WeepLoss weep_loss",
    "errors": "CatalogError DrainpumpError DrainpumpWarning InputError StatusError UnitError "
    "UnusualValueWarning",
    "parts.bank": "PumpBank parallel series",
    "parts.catalog": "read_curves",
    "parts.catchment": "Catchment Trench roof",
    "parts.concentration": "Concentration time_of_concentration",
    "parts.curve": "PumpCurve",
    "parts.fitting": "Fitting",
    "parts.line": "DischargeLine LineHead",
    "parts.outlet": "FreeOutlet GravityHandOff PopUpOutlet SubmergedOutlet",
    "parts.pipe": "Pipe pvc pvc_metric",
    "parts.pit": "Pit PitWarning",
    "parts.pond": "PondStorage",
    "parts.rain": "RainDepth RainFit RainTable nrcs_storm read_rain",
    "parts.record": "recorded_rain",
    "parts.run": "Run",
    "parts.storm": "Hydrograph Hyetograph",
    "parts.straight": "straight_line",
}
_WHERE = {name: home for home, names in _HOMES.items() for name in names.split()}

__all__ = sorted(["fitting_names", "plots", *_WHERE])  # noqa: PLE0605


# hidden from type checkers, so that they still find a misspelt name
if not _typing.TYPE_CHECKING:

    def __getattr__(name: str) -> _typing.Any:
        """Load a public name from its home, once."""
        if name == "plots":
            return _import_module("drainpump.plots")
        if name == "fitting_names":
            found = _import_module("drainpump.physics.fittings").known_fittings
        elif name in _WHERE:
            found = getattr(_import_module(f"drainpump.{_WHERE[name]}"), name)
        else:
            raise AttributeError(f"module 'drainpump' has no attribute {name!r}")
        globals()[name] = found
        return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
