"""Speed of a year: every hour of 8,760 solved with the devices of a remedy.

    python tests/benchmarks/bench_year.py            all of it, about two minutes
    python tests/benchmarks/bench_year.py --quick    a few days each, some seconds

The swimming hall of three boilers, with the fan and the damper that its file offers; eight boilers in a row on one
stack that leak while they are off, with a fan and a damper; and ten condensing boilers of the demo jobs as drawn.
Printed is the processor time of one core, how many states the hours come to, and how long an hour takes; held against
limits where the year is whole. A few hours are solved once more alone, and must come out the same.
"""
# ruff: noqa: E402 - the number of threads must be set before numpy is imported

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy is imported

import argparse
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from sample_plants import SEASONS, row_plant
from sample_remedies import job_of

from ventcalc import tables
from ventcalc.building import climate
from ventcalc.job import device_remedies, job_file, job_year, remedies, year
from ventcalc.job.design import Design, drawn
from ventcalc.units import Q_
from ventcalc.vent.states import States

LIMITS = {"hall, fan and damper": 20.0, "row of eight, fan and damper": 60.0}  # s of processor time for a year
ALIKE = 1e-9  # of parts of an hour: hours solved alone come out the same
SEED, SAMPLE = 3, 400


def demo(name):
    """A demonstration job by its file."""
    return job_file.load(tables.DATA / "jobs" / f"{name}.toml")


def hall():
    """The hall with what its file offers."""
    job = demo("swim_hall")
    return Design(job, remedies.offered(job).remedy)


def row_of_eight():
    """Eight leaking boilers on one stack with a fan and a damper, sized over states at random."""
    plant = row_plant(8, idle="leaking", stack_height=18.0)
    job = replace(job_of(plant), year=job_year.plan(plant, SEASONS))
    random = np.random.default_rng(SEED)
    levels = [len(a.states) for a in plant.appliances]
    codes = np.array([random.integers(0, n, SAMPLE) for n in levels])
    codes[:, 0] = [n - 1 for n in levels]
    states = States(codes, np.arange(SAMPLE) % len(SEASONS), np.zeros(SAMPLE), np.zeros(SAMPLE))
    return Design(job, device_remedies.fan_and_damper(job, plant, Q_(-12.0, "Pa"), states))


DESIGNS = {
    "hall, fan and damper": hall,
    "row of eight, fan and damper": row_of_eight,
    "ten condensing, as drawn": lambda: drawn(demo("condensing_row")),
}


def main(quick: bool) -> int:
    """Print the times; returns how many are beyond their limit."""
    beyond = 0
    for name, make in DESIGNS.items():
        design = make()
        whole = climate.typical_year(design.job.year.climate)
        weather = whole[: 24 * 3] if quick else whole
        year.year(design, whole[:24])  # compiled before
        begin = time.process_time()
        found = year.year(design, weather)
        took = time.process_time() - begin
        states = len(found.hours.states)
        told = f"{name:30s} {len(weather):5,} hours as {states:6,} states: {took:6.2f} s"
        told += f", {1e6 * took / states:6.0f} us each"
        if not quick and name in LIMITS:
            late = took > LIMITS[name]
            beyond += late
            told += f"; limit {LIMITS[name]:.0f} s: {'MISSED' if late else 'kept'}"
        assert abs(found.hours.share.sum() - len(weather)) < 1e-6, "the parts of the hours do not sum to the year"
        again = year.year(design, weather[:24])
        gap = max(np.abs(getattr(found, part)[..., :24] - getattr(again, part)).max() for part in ("below", "above"))
        assert gap <= ALIKE, f"hours solved alone differ by {gap:.3g}"
        print(f"{told}; unsettled in {found.unsettled.sum():.1f} h")
    return beyond


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="tiny sizes, to see that it runs")
    sys.exit(main(parser.parse_args().quick))
