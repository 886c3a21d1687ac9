"""How fast the loop in time is, beside solving the vent anew in every step of it.

    .venv/bin/python tests/benchmarks/bench_draft_control.py           all, half a minute
    .venv/bin/python tests/benchmarks/bench_draft_control.py --quick   few steps of the slow way

200 s of the swimming hall: Boiler 2 purges, lights and goes to high fire beside two that burn. Ours solves the vent
in the knots of that schedule and interpolates (`draft_control.simulate`), here with gas that answers at once: the other
way knows no inertia, and where a burner starts it is tens of pascals off. That way solves it at every step of 50 ms,
as one batch of all steps with what the device really added (which ours found), and state by state, one call a step, as
a loop would have to that knows nothing of what comes. Both answers are compared. Processor time, best of several turns.
"""

# ruff: noqa: E402 - the number of threads must be set before numpy is imported

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"

import argparse
import time

import numpy as np

from ventcalc import tables
from ventcalc.draft import draft_control, firing_schedule, transient_response
from ventcalc.draft.actuators import Lag
from ventcalc.draft.controller import Gains
from ventcalc.draft.draft_control import Loop
from ventcalc.draft.fan_table import fan
from ventcalc.draft.final_element import FanSpeed
from ventcalc.draft.firing_schedule import Schedule, start_up
from ventcalc.draft.limit_switches import Limits
from ventcalc.draft.pressure_sensor import Sensor
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve_network
from ventcalc.vent.network import compile_network

AGREEMENT = 0.5  # Pa, over all steps


def timed(function, turns=5):
    """Result and processor time [s] of a call, the best of some turns."""
    best = np.inf
    for _ in range(turns):
        start = time.process_time()
        result = function()
        best = min(best, time.process_time() - start)
    return result, best


def main(quick: bool) -> None:
    """Print the times of both ways."""
    hall = job_file.load(tables.DATA / "jobs" / "swim_hall.toml")
    device = FanSpeed(fan("roof 16"))
    start = start_up("Boiler 2", Q_(20, "s"), Q_(30, "s"), (("low", Q_(0, "s")), ("high", Q_(20, "s"))))
    loop = Loop(
        Sensor(Q_(-0.25, "inH2O"), Q_(0.25, "inH2O")), Gains(Q_(0.8, "1/inH2O"), Q_(4, "s")), Lag(Q_(3, "s")),
        Q_(-0.05, "inH2O"), least=0.22,
    )  # fmt: skip
    still = Schedule(Q_(200, "s"), ("high", "off", "high"), start, season=2)
    warming = Schedule(Q_(200, "s"), ("high", "off", "high"), start, season=2, cold=1.0)
    tripping = {"Boiler 1": Limits(high=Q_(0.10, "inH2O"), delay=Q_(2, "s"))}
    print("200 s of the swimming hall in steps of 50 ms, processor time")
    for name, schedule, limits in (
        ("walls warmed through", still, {}),
        ("walls that warm", warming, {}),
        ("one trip on the way", still, tripping),
    ):
        trace, seconds = timed(
            lambda s=schedule, g=limits: draft_control.simulate(
                hall.plant, hall.seasons, s, "stack", device, loop, g, at_once=True
            )
        )
        print(f"{name:24}{1e3 * seconds:9.0f} ms   {len(trace.trips)} trip(s), {trace.unsolved} unsolved")
    response = transient_response.respond(hall.plant, hall.seasons, still, "stack", device, at_once=True)
    trace, seconds = timed(lambda: draft_control.follow(loop, response))
    print(f"{'the loop alone':24}{1e3 * seconds:9.1f} ms   {1e6 * seconds / trace.time.size:.1f} us a step")

    network, row = compile_network(hall.plant, hall.seasons), len(hall.plant.order) - 1
    states = firing_schedule.firing_path(hall.plant, still).states(trace.time)
    added = np.zeros((row + 1, trace.time.size))
    added[row] = trace.added
    solution, batch = timed(lambda: solve_network(network, states, added), 1)
    worst = np.abs(solution.outlet_pressure - trace.outlets).max()
    print(f"{'every step, one batch':24}{1e3 * batch:9.0f} ms   worst difference of an outlet {worst:.2f} Pa")
    assert worst < AGREEMENT, "interpolated and solved outlets differ"
    count = 40 if quick else 400
    pick = np.linspace(0, trace.time.size - 1, count).astype(int)
    _, alone = timed(lambda: [solve_network(network, states[[i]], added[:, [i]]) for i in pick], 1)
    print(f"{'every step, one by one':24}{1e3 * alone / count * trace.time.size:9.0f} ms   from {count} steps")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true")
    main(parser.parse_args().quick)
