"""The water: rain, catchments, seepage, and what of it reaches the pit."""

from drainpump.inflow.branch.collector import Collector as Collector
from drainpump.inflow.branch.gravity import GravityCheck as GravityCheck
from drainpump.inflow.branch.gravity import gravity_check as gravity_check
from drainpump.inflow.branch.level_pool import BranchFlow as BranchFlow
from drainpump.inflow.branch.waiting import held_back as held_back
from drainpump.inflow.groundwater import Seepage as Seepage
from drainpump.inflow.groundwater import seepage as seepage
from drainpump.inflow.rain.files import read_rain as read_rain
from drainpump.inflow.rain.hyetograph import Hyetograph as Hyetograph
from drainpump.inflow.rain.nrcs import nrcs_storm as nrcs_storm
from drainpump.inflow.rain.records import recorded_rain as recorded_rain
from drainpump.inflow.rain.table import RainDepth as RainDepth
from drainpump.inflow.rain.table import RainFit as RainFit
from drainpump.inflow.rain.table import RainTable as RainTable
from drainpump.inflow.rain.table import RainWarning as RainWarning
from drainpump.inflow.storm import Hydrograph as Hydrograph
from drainpump.inflow.surface.catchment import Catchment as Catchment
from drainpump.inflow.surface.catchment import Trench as Trench
from drainpump.inflow.surface.catchment import roof as roof
from drainpump.inflow.surface.concentration import Concentration as Concentration
from drainpump.inflow.surface.concentration import time_of_concentration as time_of_concentration
from drainpump.inflow.surface.runoff import runoff_hydrograph as runoff_hydrograph
from drainpump.inflow.water import Water as Water
