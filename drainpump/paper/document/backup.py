"""What is to carry on when the power is out."""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import UnitError, wrong
from drainpump.parts.part import Part
from drainpump.parts.pump.bank import Pump, pump_from_dict
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import fact
from drainpump.units import View


class Backup(Part):
    """An outage to be reckoned with, and the battery and pump that carry on in it.

    A second pump on the mains is a bank: see `parallel`.

    Parameters
    ----------
    outage_min : float, default 60
        How long the power is out, > 0, from the heaviest inflow of each storm on; our
        judgement, no source.
    battery_wh : float, optional
        What a battery gives to the pump, after the inverter's losses, > 0.
    battery_pump : PumpCurve or bank, optional
        What runs on the battery; the chosen pump by default.
    power_w : float, optional
        What it takes while it runs, > 0; by default that of its curve.

    Raises
    ------
    UnitError, InputError
        Values that cannot be; a battery's pump or power without a battery.

    Examples
    --------
    >>> import drainpump as dp
    >>> backup = dp.Backup(outage_min=90, battery_wh=600)
    >>> print(backup)
    Backup(600 Wh, power out for 90 min)
    """

    outage_min = View("_outage")
    battery_wh = View("_battery", maybe=True)
    power_w = View("_power", maybe=True)

    _nested: ClassVar = {"battery_pump": pump_from_dict}

    def __init__(
        self,
        *,
        outage_min: float = 60.0,
        battery_wh: float | None = None,
        battery_pump: Pump | None = None,
        power_w: float | None = None,
    ) -> None:
        self._outage = fact("outage", "positive", min=outage_min)
        self._battery = fact("battery", "positive", wh=battery_wh)
        self._power = fact("power", "positive", w=power_w)
        if battery_pump is not None and not isinstance(battery_pump, Pump):
            raise wrong("battery_pump", battery_pump, "must be a PumpCurve or a bank", "make one")
        self.battery_pump = battery_pump
        if self._battery is None and (battery_pump is not None or power_w is not None):
            raise UnitError("battery_wh: no value given; battery_pump and power_w belong to it.")

    def runs_on_it(self, pump: Pump) -> Pump:
        """What runs on the battery, with the power that was told of it."""
        runs = pump if self.battery_pump is None else self.battery_pump
        return runs if self._power is None else _taking(runs, float(self._power.si))

    def __str__(self) -> str:
        battery = "no battery" if self._battery is None else u.both(self._battery.si, "wh")
        return f"Backup({battery}, power out for {u.both(self.si.outage, 'min')})"


def _taking(pump: Pump, power: float) -> Pump:
    """A pump that takes so much (W) at any flow; the pumps of a bank share it alike."""
    if isinstance(pump, PumpCurve):
        flow = np.asarray(pump.flow_lps)
        return PumpCurve(
            name=pump.name, flow_lps=flow, head_m=pump.head_m, power_w=np.full(flow.shape, power)
        )
    each = power / len(pump.pumps)
    return pump.variant(pumps=[_taking(one, each) for one in pump.pumps])
