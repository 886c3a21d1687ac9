"""Wild plants by the thousand: solved, refused in words, raised, states that did not come to rest, and time.

python tests/benchmarks/bench_wild_plants.py                 10,000 plants, or as many as an hour allows
python tests/benchmarks/bench_wild_plants.py --count 200 --budget 60
"""

import argparse
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from sample_wild_plants import RAISED, SOLVED, STATES, tried  # noqa: E402 - its folder is on the path only now


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--count", type=int, default=10_000)
    arguments.add_argument("--budget", type=float, default=3600.0, help="seconds")
    arguments.add_argument("--start", type=int, default=1_000_000, help="first seed")
    chosen = arguments.parse_args()
    end, every = time.monotonic() + chosen.budget, []
    tried(0)  # compiles
    for seed in range(chosen.start, chosen.start + chosen.count):
        if time.monotonic() > end:
            break
        every.append(tried(seed))
        if every[-1].how == RAISED or every[-1].open or every[-1].nan:
            print(every[-1], flush=True)
    solved = [t for t in every if t.how == SOLVED]
    seconds = np.array([t.seconds for t in every])
    print(f"{len(every)} plants: {dict(Counter(t.how for t in every))}")
    print(f"states not at rest: {sum(t.open for t in solved)} of {STATES * len(solved)}")
    print(f"plants with a number that is none: {sum(t.nan for t in solved)}")
    print(f"worst mass {max(t.mass for t in solved):.1e}, worst energy {max(t.energy for t in solved):.1e}")
    print(f"slowest over median: {seconds.max() / np.median(seconds):.0f}")
    for words, count in Counter(t.words[:100] for t in every if t.words).most_common(5):
        print(f"  {count:5d}  {words}")


if __name__ == "__main__":
    main()
