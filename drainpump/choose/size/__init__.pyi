"""The question turned round: how long, how high, how narrow, which floats, which duty."""

from drainpump.choose.size.floats_and_pit import FloatTravel as FloatTravel
from drainpump.choose.size.floats_and_pit import PitSize as PitSize
from drainpump.choose.size.floats_and_pit import float_travel as float_travel
from drainpump.choose.size.floats_and_pit import pit_size as pit_size
from drainpump.choose.size.furthest import MaxLength as MaxLength
from drainpump.choose.size.furthest import MaxLift as MaxLift
from drainpump.choose.size.furthest import max_length as max_length
from drainpump.choose.size.furthest import max_lift as max_lift
from drainpump.choose.size.pipe_and_duty import Duty as Duty
from drainpump.choose.size.pipe_and_duty import LeastPump as LeastPump
from drainpump.choose.size.pipe_and_duty import SmallestPipe as SmallestPipe
from drainpump.choose.size.pipe_and_duty import duty_to_buy as duty_to_buy
from drainpump.choose.size.pipe_and_duty import least_pump as least_pump
from drainpump.choose.size.pipe_and_duty import smallest_pipe as smallest_pipe
