"""How long a chance takes, and how well what is told of it holds; times depend on the machine.

python tests/benchmarks/bench_chance.py                 all of it, some ten minutes
python tests/benchmarks/bench_chance.py time            1,024 draws of the hall and of eight boilers, with a remedy
python tests/benchmarks/bench_chance.py agreement       the lodge: two scrambles, and 1,024 draws against 16,384
python tests/benchmarks/bench_chance.py coverage        twenty random plants: conditions that the fast way misses
python tests/benchmarks/bench_chance.py live            the chapter's controls: time to an answer
python tests/benchmarks/bench_chance.py --quick         tiny sizes of the first three, under a minute
"""
# ruff: noqa: E402 - the number of threads must be set before numpy is imported

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy is imported: draws are solved side by side as it is

import argparse
import sys
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent.parent)]

import sample_jobs
from sample_chances import LEVEL, drawn_outcome, fast_and_full, missed, offered_outcome, outcome_of
from sample_plants import row_plant
from sample_remedies import job_of

from ventcalc.job import chance, device_remedies, remedy_outcome
from ventcalc.show import progress
from ventcalc.vent import firing_states

RANDOM = range(20)  # numbers of the random plants


def eight_boilers(most):
    """Eight boilers that leak while idle, on one vent held by a fan and a damper, in so many conditions."""
    job = job_of(row_plant(8, idle="leaking", celsius=80.0), -12.0)
    scan = firing_states.scan(job.plant, job.seasons, most)
    remedy = device_remedies.fan_and_damper(job, job.plant, job.set_point, scan.conditions)
    return job, remedy_outcome.outcome(job, remedy, scan)


def told(share) -> str:
    """A chance and where it may lie."""
    return f"{share.chance:.2%} ({share.low:.2%} to {share.high:.2%})"


def timed(name, job, outcome, draws) -> None:
    """One chance, with progress where someone watches, and what it took."""
    heard = []
    began, processor = time.perf_counter(), time.process_time()
    with progress.bar() as bar:

        def listen(step, share):
            heard.append(share)
            bar(step, share)

        found = chance.chance(job, outcome, draws, told=listen)
    took, worked = time.perf_counter() - began, time.process_time() - processor
    decided = found.deciding
    print(
        f"{name}: {took:.0f} s by the clock, {worked:.0f} s of processor; {draws} draws of {len(found.inputs)} inputs"
    )
    print(f"    {decided.columns.size} of {decided.total} conditions decide, proved in {decided.looked} to "
          f"{decided.coverage:.0%}, {len(decided.missed)} added; progress told {len(heard)} times")  # fmt: skip
    print(f"    a window left {told(found.window)}, flue gas {told(found.flue_gas)}", flush=True)


def times(draws, most) -> None:
    """The chance of the hall with its remedy, and of eight boilers with one."""
    timed("swimming hall", *offered_outcome("swim_hall"), draws)
    timed("eight boilers", *eight_boilers(most), draws)


def agreement(few, many) -> None:
    """The lodge with its remedy and as drawn: two scrambles of few draws, and many."""
    for words, (job, outcome) in (("as drawn", drawn_outcome("lodge")), ("offered", offered_outcome("lodge"))):
        one, two = (chance.chance(job, outcome, few, seed) for seed in (0, 1))
        whole = chance.chance(job, outcome, many)
        for name in ("window", "flue_gas"):
            a, b, c = (getattr(found, name) for found in (one, two, whole))
            scrambles = abs(a.chance - b.chance) <= np.hypot(a.error, b.error)
            within = abs(a.chance - c.chance) <= a.error
            print(f"lodge {words}, {name}: {few} draws {told(a)}, again {told(b)}, {many} draws {told(c)}")
            print(
                f"    scrambles {'agree' if scrambles else 'DIFFER'}, many {'agree' if within else 'DIFFER'}",
                flush=True,
            )


def coverage(numbers, draws) -> None:
    """Random plants as drawn: those that decide, and those missed that are the worst in `LEVEL` of the variants."""
    lost = 0
    for number in numbers:
        job = sample_jobs.job_of(number)
        decided, full = fast_and_full(job, outcome_of(job), draws)
        gone = missed(decided, full)
        lost += bool(gone)
        print(f"plant {number:2d}: {decided.columns.size:3d} of {decided.total:4d} conditions, covered "
              f"{decided.coverage:.0%}, missed {sorted(gone) or 'none'}", flush=True)  # fmt: skip
    print(f"{len(numbers) - lost} of {len(numbers)} plants miss no condition that is the worst in {LEVEL:.0%} of cases")


def live() -> None:
    """Processor time and time by the clock from a move to an answer of the chapter's controls, picture included."""
    from bench_controls import settings

    from ventcalc.handbook import chance as chapter

    panel, draw, spent = chapter.explorer("US"), np.random.default_rng(1), []
    for _ in range(50):
        values = settings(panel, draw)
        began, processor = time.perf_counter(), time.process_time()
        panel.answer(**values)
        spent.append((time.process_time() - processor, time.perf_counter() - began))
    for words, took in zip(("processor", "clock"), 1e3 * np.array(spent).T, strict=True):
        print(f"live controls, {words}: median {np.median(took):.0f} ms, longest {took.max():.0f} ms")


def main() -> None:
    """Run what is asked for."""
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("which", nargs="*", help="time, agreement, coverage, live; none: all")
    arguments.add_argument("--quick", action="store_true", help="tiny sizes")
    options = arguments.parse_args()
    if options.quick:
        return _quick()
    work = {
        "time": lambda: times(1024, firing_states.MOST_STATES),
        "agreement": lambda: agreement(1024, 16_384),
        "coverage": lambda: coverage(RANDOM, 256),
        "live": live,
    }
    for name in options.which or work:
        work[name]()


def _quick() -> None:
    timed("laundry", *drawn_outcome("laundry"), 64)
    coverage(RANDOM[:2], 64)


if __name__ == "__main__":
    main()
