"""Speed of the common vent's solver beside other ways to solve the same equations, as ratios within one run.

    python tests/benchmarks/bench_common_vent.py            all of it, a few minutes
    python tests/benchmarks/bench_common_vent.py --quick    tiny sizes, a few seconds

Eight appliances of three states each (off, low, high) in three seasons: 3^8 x 3 = 19,683 states. Three ways: the
solver on all states at once; the solver state by state; and `scipy.optimize.root` state by state on residuals coded in
Python (tests/independent_network.py). All on one core, in processor time, best of several turns. Answers are compared
as well.
"""
# ruff: noqa: E402 - the number of threads must be set before numpy is imported

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy is imported

import argparse
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent.parent)]

from independent_network import Vent
from sample_plants import SEASONS, all_states, row_plant, some_states

from ventcalc.vent.common_vent import solve

HOOD = {"kind": "draft hood", "celsius": 180.0, "vent": "Type B gas vent"}
CASES = {
    "(a) forced, idle sealed": {},
    "(a) the same, condensing": {"celsius": 55.0, "vent": "polypropylene vent"},
    "(b1) forced, idle leaking": {"idle": "leaking"},
    "(b2) draft hood": HOOD,
    "barometric": HOOD | {"kind": "barometric"},
}
AGREEMENT = 0.01  # Pa


def timed(function, *arguments):
    """Result and processor time [s] of a call."""
    start = time.process_time()
    result = function(*arguments)
    return result, time.process_time() - start


def sampled(states, count):
    return states[np.random.default_rng(1).choice(len(states), min(count, len(states)), replace=False)]


def scipy_scalar(plant, states, reference):
    """Seconds a state and share of states solved alike by scipy's root on residuals in plain Python."""
    vent, alike = Vent(plant, SEASONS), 0
    start = time.process_time()
    found = []
    for k in range(len(states)):
        state = vent.state(states.codes[:, k], states.season[k])
        drawn, worst, _ = state.solve()
        found.append((state, drawn, worst))
    seconds = (time.process_time() - start) / len(states)
    for k, (state, drawn, worst) in enumerate(found):
        flowing = state.at(drawn)
        pressures = [flowing.outlet_pressure(i) for i in range(len(drawn))]
        alike += worst < 1e-3 and np.abs(pressures - reference.outlet_pressure[:, k]).max() < AGREEMENT
    return seconds, alike / len(states)


def one_by_one(plant, states, reference):
    """Seconds a state of the solver given one state at a time, and the greatest difference [Pa] at an outlet."""
    found, seconds = timed(lambda: [solve(plant, SEASONS, states[np.array([k])]) for k in range(len(states))])
    alone = np.concatenate([f.outlet_pressure for f in found], axis=1)
    return seconds / len(states), np.abs(alone - reference.outlet_pressure).max()


def compare(appliances, every, samples, turns):
    """One line a case: time a state of every way, and its ratio to the solver's on all states at once."""
    print(f"{appliances} appliances, 3 states each, 3 seasons; microseconds a state, and times the solver's\n")
    heads = {"states": 8, "solver": 9, "one by one": 18, "scipy+Python": 18}
    words = "".join(f"{name:>{width}}" for name, width in heads.items())
    print(f"{'':28}{words}  worst difference, scipy alike in")
    for case, options in CASES.items():
        plant = row_plant(appliances, **options)
        states = all_states(plant)
        if every < len(states):
            states = sampled(states, every)
        runs = [timed(solve, plant, SEASONS, states) for _ in range(turns)]
        assert all(found.converged.all() for found, _ in runs), "a state did not converge"
        ours = 1e6 * min(seconds for _, seconds in runs) / len(states)
        few = sampled(states, samples)
        reference = solve(plant, SEASONS, few)
        alone, worst = one_by_one(plant, few, reference)
        assert worst < AGREEMENT, f"{case}: outlet pressures differ by {worst:.3g} Pa"
        scalar = alike = np.nan
        if reference.drawn.any():  # with every appliance forced and sealed there is nothing to solve for
            scalar, alike = scipy_scalar(plant, few, reference)
        cells = [f"{case:28}{len(states):8d}{ours:9.1f}"]
        for value in (1e6 * alone, 1e6 * scalar):
            cells.append(f"{value:9.0f} {value / ours:7.1f}x" if np.isfinite(value) else " " * 17 + "-")
        print("".join(cells), f"  {worst:.0e} Pa" + (f", {100 * alike:.0f} %" if np.isfinite(alike) else ""))


def scaling(counts, states, turns):
    """Cost for each appliance as the plant grows."""
    print(f"\n{states} random states, hot and cold, windy and not; microseconds for each state and appliance\n")
    print(f"{'appliances':28}" + "".join(f"{n:>10}" for n in counts))
    for case in ("(a) forced, idle sealed", "(b1) forced, idle leaking", "(b2) draft hood"):
        costs = []
        for n in counts:
            plant = row_plant(n, **CASES[case])
            picked = some_states(plant, states, 5)
            seconds = min(timed(solve, plant, SEASONS, picked)[1] for _ in range(turns))
            costs.append(1e6 * seconds / states / n)
        print(f"{case:28}" + "".join(f"{c:10.2f}" for c in costs))


def imports(turns):
    """Time to import the library in a fresh interpreter, over that of its largest dependency."""
    print("\nimport in a fresh interpreter, seconds (best of several)\n")
    for module in ("numpy", "pint", "ventcalc", "ventcalc.common_vent", "ventcalc.study"):
        code = f"import time; t = time.perf_counter(); import {module}; print(time.perf_counter() - t)"
        runs = [subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=HERE.parent.parent)
                for _ in range(turns)]  # fmt: skip
        if all(r.returncode == 0 for r in runs):
            print(f"{module:28}{min(float(r.stdout) for r in runs):8.2f}")


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--quick", action="store_true", help="tiny sizes")
    if arguments.parse_args().quick:
        compare(3, 40, 4, 1)
        scaling((2, 4), 40, 1)
    else:
        compare(8, 3**9, 60, 5)
        scaling((2, 4, 8, 16, 32), 2000, 5)
        imports(3)


if __name__ == "__main__":
    main()
