"""The water: rain, catchments, seepage, and what of it reaches the pit."""

from drainpump.inflow.branch import BranchFlow as BranchFlow
from drainpump.inflow.catchment import Catchment as Catchment
from drainpump.inflow.catchment import Trench as Trench
from drainpump.inflow.catchment import roof as roof
from drainpump.inflow.collector import Collector as Collector
from drainpump.inflow.concentration import Concentration as Concentration
from drainpump.inflow.concentration import time_of_concentration as time_of_concentration
from drainpump.inflow.gravity import GravityCheck as GravityCheck
from drainpump.inflow.gravity import gravity_check as gravity_check
from drainpump.inflow.groundwater import Seepage as Seepage
from drainpump.inflow.groundwater import seepage as seepage
from drainpump.inflow.held_back import held_back as held_back
from drainpump.inflow.nrcs import nrcs_storm as nrcs_storm
from drainpump.inflow.rain import RainDepth as RainDepth
from drainpump.inflow.rain import RainFit as RainFit
from drainpump.inflow.rain import RainTable as RainTable
from drainpump.inflow.rain import RainWarning as RainWarning
from drainpump.inflow.rain_files import read_rain as read_rain
from drainpump.inflow.records import recorded_rain as recorded_rain
from drainpump.inflow.runoff import runoff_hydrograph as runoff_hydrograph
from drainpump.inflow.storm import Hydrograph as Hydrograph
from drainpump.inflow.storm import Hyetograph as Hyetograph
from drainpump.inflow.water import Water as Water
