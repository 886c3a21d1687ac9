"""Speed of the common vent's solver beside other ways to solve the same equations, as ratios within one run.

    python tests/benchmarks/bench_common_vent.py            all of it, a few minutes
    python tests/benchmarks/bench_common_vent.py --quick    tiny sizes, a few seconds

Eight appliances of three states each (off, low, high) in three seasons: 3^8 x 3 = 19,683 states. Four ways: the
solver; the same equations as compiled scalar code (numba) state after state, compilation not counted; that very code
left uncompiled; and `scipy.optimize.root` state by state on residuals coded in Python (tests/independent_network.py)
and on the compiled ones. All on one core, in processor time, best of several turns. Answers are compared as well.
"""
# ruff: noqa: E402 - the number of threads must be set before numpy is imported

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy is imported

import argparse
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent.parent)]

import compiled_vent
from independent_network import Vent
from sample_plants import SEASONS, all_states, row_plant, some_states
from scipy.optimize import root

from ventcalc.common_vent import solve

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


def scipy_compiled(plant, states):
    """Seconds a state by scipy's root on compiled residuals."""
    vent, network = Vent(plant, SEASONS), compiled_vent.compiled_network(plant, SEASONS)
    jobs = [(compiled_vent.Mismatch(network, states.codes[:, k], states.season[k]),
             vent.state(states.codes[:, k], states.season[k]).guess()) for k in range(len(states))]  # fmt: skip
    start = time.process_time()
    for mismatch, guess in jobs:
        if len(guess):
            root(mismatch, guess)
    return (time.process_time() - start) / len(states)


def uncompiled(case, count):
    """Seconds a state of the compiled code's own source run by the interpreter."""
    code = f"import bench_common_vent as b; print(b.interpreted({case!r}, {count}))"
    run = subprocess.run([sys.executable, "-c", code], cwd=HERE, env=os.environ | {"NUMBA_DISABLE_JIT": "1"},
                         capture_output=True, text=True, check=True)  # fmt: skip
    return float(run.stdout)


def interpreted(case, count):
    plant = row_plant(8, **CASES[case])
    states = sampled(all_states(plant), count)
    return timed(compiled_vent.solve, plant, SEASONS, states)[1] / count


def compare(appliances, every, samples, turns):
    """One line a case: time a state of every way, and its ratio to the solver's."""
    print(f"{appliances} appliances, 3 states each, 3 seasons; microseconds a state, and times the solver's\n")
    heads = {"states": 8, "solver": 9, "compiled": 17, "uncompiled": 18, "scipy+Python": 18, "scipy+compiled": 17}
    words = "".join(f"{name:>{width}}" for name, width in heads.items())
    print(f"{'':28}{words}  worst difference, scipy alike in")
    for case, options in CASES.items():
        plant = row_plant(appliances, **options)
        states = all_states(plant)
        if every < len(states):
            states = sampled(states, every)
        compiled_vent.solve(plant, SEASONS, states[:1])  # compiles
        ours = theirs = np.inf
        for _ in range(turns):  # in turns, so that both meet the same neighbours on the machine
            (sections, outlets, converged), seconds = timed(compiled_vent.solve, plant, SEASONS, states)
            theirs = min(theirs, seconds)
            found, seconds = timed(solve, plant, SEASONS, states)
            ours = min(ours, seconds)
        assert found.converged.all() and converged.all(), "a state did not converge"
        worst = np.abs(outlets[0] - found.outlet_pressure).max()
        assert worst < AGREEMENT, f"{case}: outlet pressures differ by {worst:.3g} Pa"
        assert np.abs(sections[2] - found.downstream).max() < 0.01, f"{case}: temperatures differ"
        ours, theirs = 1e6 * ours / len(states), 1e6 * theirs / len(states)
        few = sampled(states, samples)
        python = 1e6 * uncompiled(case, samples) if appliances == 8 else np.nan
        scalar = general = alike = np.nan
        if found.drawn.any():  # with every appliance forced and sealed there is nothing to solve for
            scalar, alike = scipy_scalar(plant, few, solve(plant, SEASONS, few))
            general = 1e6 * scipy_compiled(plant, few)
        cells = [f"{case:28}{len(states):8d}{ours:9.1f}"]
        for value, width in ((theirs, 10), (python, 10), (1e6 * scalar, 10), (general, 9)):
            cells.append(f"{value:{width}.0f} {value / ours:5.2f}x" if np.isfinite(value) else " " * (width + 6) + "-")
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
