"""What is read on site when a pump is installed: its plate, and where its floats act."""

from __future__ import annotations

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.parts.part import Part
from drainpump.parts.scalars import check_float, fact
from drainpump.units import View


class Plate(Part):
    """What stands on the pump's plate.

    Parameters
    ----------
    model, serial : str, optional
        As they stand there.
    voltage_v, current_a, power_w : float, optional
        Rated, > 0.
    note : str, optional
        What else it says.

    Examples
    --------
    >>> import drainpump as dp
    >>> plate = dp.field.Plate(model="P 50", voltage_v=115, current_a=6.8)
    >>> print(plate)
    plate: model P 50, 115 V, 6.8 A
    """

    voltage_v, current_a = View("_voltage", maybe=True), View("_current", maybe=True)
    power_w = View("_power", maybe=True)

    def __init__(
        self,
        *,
        model: str = "",
        serial: str = "",
        voltage_v: float | None = None,
        current_a: float | None = None,
        power_w: float | None = None,
        note: str = "",
    ) -> None:
        _check_texts(model=model, serial=serial, note=note)
        self.model, self.serial, self.note = model, serial, note
        self._voltage = fact("voltage", "positive", v=voltage_v)
        self._current = fact("current", "positive", a=current_a)
        self._power = fact("power", "positive", w=power_w)

    def __str__(self) -> str:
        words = ((f"model {self.model}", self.model), (f"serial {self.serial}", self.serial))
        said = [text for text, given in words if given]
        rated = ((self._voltage, "v"), (self._current, "a"), (self._power, "w"))
        said += [u.text(measure.si, unit) for measure, unit in rated if measure is not None]
        return f"plate: {', '.join([*said, *filter(None, [self.note])]) or 'not read'}"


class FloatCheck(Part):
    """One test of the floats and the alarm: at which levels they acted.

    Parameters
    ----------
    on : str
        The day, as ``YYYY-MM-DD``.
    start_in, start_mm, stop_in, stop_mm : float, optional
        Levels above the floor at which the pump started and stopped, >= 0.
    alarm_in, alarm_mm : float, optional
        Level at which the alarm sounded, >= 0.
    alarm_sounded : bool, optional
        Whether it did.
    note : str, optional
        What else was seen.

    Examples
    --------
    >>> import drainpump as dp
    >>> check = dp.field.FloatCheck(on="2026-04-30", start_in=20, stop_in=8, alarm_sounded=True)
    >>> print(check)
    started at 20 in (508 mm), stopped at 8 in (203 mm), alarm sounded
    """

    start_in, start_mm = View("_start", maybe=True), View("_start", maybe=True)
    stop_in, stop_mm = View("_stop", maybe=True), View("_stop", maybe=True)
    alarm_in, alarm_mm = View("_alarm", maybe=True), View("_alarm", maybe=True)

    def __init__(
        self,
        *,
        on: str,
        start_in: float | None = None,
        start_mm: float | None = None,
        stop_in: float | None = None,
        stop_mm: float | None = None,
        alarm_in: float | None = None,
        alarm_mm: float | None = None,
        alarm_sounded: bool | None = None,
        note: str = "",
    ) -> None:
        _check_texts(note=note)
        said = u.Typed(locals())
        self.on, self.note = day("on", on), note
        self._start, self._stop, self._alarm = (
            said.maybe(name, "level") for name in ("start", "stop", "alarm")
        )
        check_float(self._stop, self._start)
        if not (alarm_sounded is None or isinstance(alarm_sounded, bool)):
            raise wrong("alarm_sounded", alarm_sounded, "must be True or False", "or leave it out")
        self.alarm_sounded = alarm_sounded
        if all(x is None for x in (self._start, self._stop, self._alarm, alarm_sounded)):
            raise InputError("FloatCheck: nothing seen; give a level, or alarm_sounded.")

    def __str__(self) -> str:
        levels = (("started", self._start), ("stopped", self._stop), ("alarm", self._alarm))
        said = [
            f"{word} at {u.both(level.si, 'in')}" for word, level in levels if level is not None
        ]
        if self.alarm_sounded is not None:
            said.append("alarm sounded" if self.alarm_sounded else "alarm did not sound")
        return ", ".join(said)


def day(name: str, text: object) -> str:
    """Take a day as ``YYYY-MM-DD``."""
    import datetime

    try:
        return datetime.date.fromisoformat(text).isoformat()  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise wrong(name, text, "must be a day as YYYY-MM-DD", "such as 2026-04-30") from None


def _check_texts(**texts: object) -> None:
    for name, text in texts.items():
        if not isinstance(text, str):
            raise wrong(name, text, "must be text", "write it in quotes")
