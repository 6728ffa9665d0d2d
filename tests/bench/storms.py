"""A day's storm with floats and a year of 5-minute record, beside ``solve_ivp`` with events.

The reference is what one would write by hand: scipy's ``solve_ivp`` from float to float,
the pump's flow interpolated over the level from the same operating points, the inflow
linear between the hydrograph's points, restarted at each of them. Beside it Euler's steps of a
second, plain and by numba where that is installed.
"""

from __future__ import annotations

import time

import numpy as np
from scipy.integrate import solve_ivp

import drainpump as dp
from tests.bench.compiled import compiled, euler
from tests.bench.timing import best, say

#: levels (in) above off at which the rivals read the pump's flow, up to the rim
_LEVELS = np.linspace(0, 24, 65)


def site() -> tuple[dp.PumpCurve, dp.DischargeLine, dp.Pit]:
    """Return an invented pump, line and pit."""
    q = np.linspace(0, 50, 26)
    pump = dp.PumpCurve(name="A", flow_gpm=q, head_ft=20 * (1 - (q / 50) ** 2), invented=True)
    line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=6.3)
    return pump, line, dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=16)


def catchments() -> list[dp.inflow.Catchment]:
    """Return a roof and a lawn."""
    return [
        dp.inflow.Catchment(area_ft2=1200, runoff=0.95, tc_min=5),
        dp.inflow.Catchment(area_ft2=4000, runoff=0.35, tc_min=10),
    ]


def day() -> dp.Hydrograph:
    """Return the inflow of a 24-hour storm in blocks of 5 minutes."""
    return dp.inflow.runoff_hydrograph(
        catchments(), dp.inflow.nrcs_storm("II", depth_in=4, block_min=5)
    )


def year(days: int = 365) -> dp.Hydrograph:
    """Return the inflow of an invented record: some hundred storms of a few hours."""
    rng = np.random.default_rng(7)
    depth = np.zeros(days * 288)
    for start in rng.integers(0, depth.size - 80, max(days // 4, 1)):
        length = int(rng.integers(12, 72))
        depth[start : start + length] += rng.gamma(0.6, 0.03, length)
    return dp.inflow.runoff_hydrograph(
        catchments(), dp.inflow.Hyetograph(depth_in=depth, block_min=5)
    )


def by_hand(
    pump: dp.PumpCurve, line: dp.DischargeLine, pit: dp.Pit, inflow: dp.Hydrograph
) -> tuple[int, float]:
    """Step through the storm with solve_ivp; return starts and the highest volume (m³)."""
    flows = dp.operating_point(pump, line, level_above_off_ft=_LEVELS / 12).flow_lps * 1e-3
    area = pit.area_m2
    volumes, on_volume = _LEVELS * 0.0254 * area, (pit.on_in - pit.off_in) * 0.0254 * area
    times, rates = inflow._time, inflow._flow.si
    volume, runs, starts, highest = 0.0, False, 0, 0.0

    def change(t: float, y: np.ndarray) -> list[float]:
        gain = float(np.interp(t, times, rates))
        return [gain - float(np.interp(y[0], volumes, flows)) if runs else gain]

    def switch(t: float, y: np.ndarray) -> float:
        return float(y[0] if runs else y[0] - on_volume)

    switch.terminal = True  # type: ignore[attr-defined]
    ends = [*times[1:].tolist(), times[-1] + 36000.0]
    t = float(times[0])
    for end in ends:
        while t < end:
            switch.direction = -1.0 if runs else 1.0  # type: ignore[attr-defined]
            got = solve_ivp(change, (t, end), [volume], events=switch, rtol=1e-8, atol=1e-9)
            t, volume = float(got.t[-1]), float(got.y[0, -1])
            highest = max(highest, float(got.y[0].max()))
            if got.status == 1:
                runs = not runs
                starts += runs
                volume = on_volume if runs else 0.0
            elif end == ends[-1] and not runs:
                t = end
    return starts, highest


def main() -> None:
    """Print times and starts beside the reference's."""
    pump, line, pit = site()
    inflow = day()
    took, ours = best(lambda: dp.route(pump, line, pit, inflow), 5)
    start = time.perf_counter()
    starts, _ = by_hand(pump, line, pit, inflow)
    hand = time.perf_counter() - start
    say(
        f"24-h storm, {ours.starts} starts; solve_ivp {starts} starts in {hand:.2f} s",
        f"{took * 1e3:.1f} ms, {hand / took:.0f} times",
        "wanted below 20 ms, 50 times",
    )
    flows = dp.operating_point(pump, line, level_above_off_ft=_LEVELS / 12).flow_lps * 1e-3
    volumes = _LEVELS * 0.0254 * pit.area_m2
    given = (inflow.si.time, inflow.si.flow, volumes, flows,
             (pit.on_in - pit.off_in) * 0.0254 * pit.area_m2, 1.0)  # fmt: skip
    rivals = {"plain": euler, "by numba": compiled(euler)}
    for name, rival in rivals.items():
        if rival is not None:
            rival(*given)
            stepped, (starts, _) = best(lambda rival=rival: rival(*given))
            say(f"24-h storm by Euler's steps of 1 s, {name}, {starts} starts",
                f"{stepped * 1e3:.1f} ms", f"{stepped / took:.2f} times ours")  # fmt: skip
    long = year()
    took, ours = best(lambda: dp.route(pump, line, pit, long), 3)
    say(
        f"a year of 5-min record, {ours.starts} starts, {ours.pond_min:.0f} min ponded",
        f"{took:.2f} s",
        "wanted below 1 s",
    )
    part = year(20)
    took, ours = best(lambda: dp.route(pump, line, pit, part), 3)
    start = time.perf_counter()
    starts, _ = by_hand(pump, line, pit, part)
    hand = time.perf_counter() - start
    say(
        f"20 days of 5-min record, {ours.starts} starts; solve_ivp {starts} in {hand:.1f} s",
        f"{hand / took:.0f} times",
        "wanted 50 times",
    )


if __name__ == "__main__":
    main()
