"""How long a section drawing takes: processor time of reading one solved state, drawing it and solving it anew.

    .venv/bin/python tests/benchmarks/bench_section_drawing.py                 every demo job
    .venv/bin/python tests/benchmarks/bench_section_drawing.py swim_hall       one of them

Times depend on the machine. What follows a live control aims at 150 ms.
"""

import sys
import time
from statistics import median

import numpy as np

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show.section_drawing import section_drawing
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.states import States

DRAWN = 20  # states of each job


def spent(plant, seasons) -> tuple[list[float], list[float], int]:
    """Seconds of processor time that each state took to solve and to draw, and the letters of the longest drawing."""
    random = np.random.default_rng(1)
    solving, drawing, longest = [], [], 0
    for _ in range(DRAWN + 1):
        codes = np.array([[random.integers(0, len(a.states))] for a in plant.appliances])
        states = States(codes, random.integers(0, len(seasons), 1), random.random(1) < 0.5, np.zeros(1, bool))
        began = time.process_time()
        scan = Scan(plant, seasons, solve(plant, seasons, states), 1, False)
        solved = time.process_time()
        longest = max(longest, len(section_drawing(scan).svg))
        solving.append(solved - began)
        drawing.append(time.process_time() - solved)
    return solving[1:], drawing[1:], longest  # the first compiles


def main(names: list[str]) -> None:
    """Print median and longest time of each job named, or of all."""
    for path in sorted((tables.DATA / "jobs").glob("*.toml")):
        if names and path.stem not in names:
            continue
        job = job_file.load(path)
        solving, drawing, letters = spent(job.plant, tuple(job.seasons))
        print(
            f"{path.stem:18} {len(job.plant.sections):2} sections: solved in {1e3 * median(solving):4.0f} ms, drawn in "
            f"{1e3 * median(drawing):4.0f} ms (at most {1e3 * max(drawing):4.0f} ms), {letters / 1024:.0f} KiB",
            flush=True,
        )


if __name__ == "__main__":
    main(sys.argv[1:])
