"""Does it still work: tests on site, what they say, what to do next."""

from drainpump.cycling.inflow_from_cycles import inflow_from_cycles as inflow_from_cycles
from drainpump.field.against_prediction import Verdict as Verdict
from drainpump.field.against_prediction import verdict as verdict
from drainpump.field.ageing import Outlook as Outlook
from drainpump.field.ageing import outlook as outlook
from drainpump.field.bucket_and_drawdown import bucket_test as bucket_test
from drainpump.field.bucket_and_drawdown import cycle_log as cycle_log
from drainpump.field.bucket_and_drawdown import drawdown_test as drawdown_test
from drainpump.field.calibration import Calibration as Calibration
from drainpump.field.calibration import calibrate as calibrate
from drainpump.field.diagnosis import Diagnosis as Diagnosis
from drainpump.field.diagnosis import diagnose as diagnose
from drainpump.field.gauge import gauge_test as gauge_test
from drainpump.field.learning import learn as learn
from drainpump.field.matching import Matches as Matches
from drainpump.field.matching import match_curves as match_curves
from drainpump.field.next_reading import NextTest as NextTest
from drainpump.field.priors import Priors as Priors
from drainpump.field.reading import FieldTest as FieldTest
from drainpump.field.reading import meter_test as meter_test
from drainpump.inflow.measured import MeasuredInflow as MeasuredInflow
from drainpump.inflow.measured import inflow_from_rise as inflow_from_rise
from drainpump.paper.as_built_record import Record as Record
from drainpump.paper.as_built_record import as_built_record as as_built_record
from drainpump.paper.document.on_site import FloatCheck as FloatCheck
from drainpump.paper.document.on_site import Plate as Plate
