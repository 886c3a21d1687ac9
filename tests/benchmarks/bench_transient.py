"""Speed of the vent in time: against the time it stands for, one run and many, coarse and fine.

    python tests/benchmarks/bench_transient.py            all of it, some minutes
    python tests/benchmarks/bench_transient.py --quick    tiny sizes, a few seconds

Three boilers in a row, one of which lights on a cold stack; sealed, leaking, behind draft hoods, condensing. Printed is
how many times faster than the clock on the wall a run is, what 200 starts side by side cost against as many one by one,
and what coarser or finer cells and steps cost in time and in pressure. All on one core, in processor time.
"""
# ruff: noqa: E402 - the number of threads must be set before numpy is imported

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy is imported

import argparse
import sys
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from sample_plants import SEASONS, row_plant

from ventcalc.vent.course import Start
from ventcalc.vent.time_step import Method
from ventcalc.vent.transient import starts

CASES = {
    "forced, idle sealed": {},
    "the same, condensing": {"celsius": 55.0, "vent": "polypropylene vent"},
    "forced, idle leaking": {"idle": "leaking"},
    "draft hood": {"kind": "draft hood", "celsius": 180.0, "vent": "Type B gas vent"},
}
FINEST = Method(cell=0.2, step=0.0125, walls=40, films=4)
METHODS = {
    "cells 1 m, step 0.1 s": Method(cell=1.0, step=0.1, walls=5, films=1),
    "as it comes (0.5 m, 0.05 s)": Method(),
    "cells 0.25 m, step 0.025 s": Method(cell=0.25, step=0.025, walls=20),
}
ALIKE = 0.3  # Pa: runs side by side share the steps of the fastest


def timed(function, *arguments, **more):
    """Result and processor time [s] of a call."""
    begin = time.process_time()
    result = function(*arguments, **more)
    return result, time.process_time() - begin


def changes(count):
    """Starts of one, two or three boilers at random, in any season."""
    rng = np.random.default_rng(1)
    after = rng.integers(0, 3, (count, 3))
    after[0] = (2, 0, 0)
    return [Start((0, 0, 0), tuple(int(c) for c in a), season=int(s))
            for a, s in zip(after, rng.integers(0, 3, count), strict=True)]  # fmt: skip


def main(quick: bool) -> None:
    """Print the ratios."""
    seconds, many = (6.0, 4) if quick else (60.0, 200)
    for name, options in CASES.items():
        _, cost = timed(starts, row_plant(**options), SEASONS, changes(1), seconds)
        print(f"{name:28s} one start of {seconds:.0f} s: {cost:6.2f} s, {seconds / cost:6.0f} times real time")
    for name in ("forced, idle sealed", "draft hood"):
        plant, several = row_plant(**CASES[name]), changes(many)
        together, cost = timed(starts, plant, SEASONS, several, seconds)
        few = several[: min(many, 5)]
        alone = [timed(starts, plant, SEASONS, [c], seconds) for c in few]
        gap = max(np.abs(together.outlet_pressure[..., i] - r.outlet_pressure[..., 0]).max()
                  for i, (r, _) in enumerate(alone))  # fmt: skip
        assert gap < ALIKE, f"side by side they differ by {gap:.3g} Pa"
        one = sum(c for _, c in alone) / len(few)
        print(f"{name:28s} {many} starts side by side: {cost:6.2f} s, {one * many / cost:5.1f} times faster than one "
              f"by one, {seconds * many / cost:6.0f} times real time; apart by {gap:.2f} Pa")  # fmt: skip
    finest, cost = timed(starts, row_plant(), SEASONS, changes(1), seconds, method=FINEST)
    for name, method in METHODS.items():
        found, own = timed(starts, row_plant(), SEASONS, changes(1), seconds, method=method)
        gap = np.abs(found.outlet_pressure - finest.outlet_pressure)
        print(f"{name:28s} {cost / own:6.1f} times faster than the finest, apart by {gap.max():.2f} Pa at most, "
              f"{gap.mean():.2f} Pa on average")  # fmt: skip


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="tiny sizes, to see that it runs")
    main(parser.parse_args().quick)
