"""Lessons: rules of thumb beside the truth, and worksheets."""

from drainpump.teach.classes import ClassSet as ClassSet
from drainpump.teach.classes import class_set as class_set
from drainpump.teach.sheets import Worksheet as Worksheet
from drainpump.teach.sheets import worksheet as worksheet
from drainpump.teach.sliders import Live as Live
from drainpump.teach.sliders import live as live
from drainpump.why.rules_of_thumb import RulesOfThumb as RulesOfThumb
from drainpump.why.rules_of_thumb import rules_of_thumb as rules_of_thumb
