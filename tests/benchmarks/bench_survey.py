"""Surveys of invented plants: how often the planted cause is found, and whether the chances told are those that hold.

    python tests/benchmarks/bench_survey.py              200 plants with a cause, 60 without, 16 for the next reading
    python tests/benchmarks/bench_survey.py --quick      a few
    python tests/benchmarks/bench_survey.py --look       other seeds: to look at while something is changed

Everything uncertain of a plant is drawn as the tables say, the formula of its junctions too. Readings: an outlet's at
full fire, then five that are the most telling after those before, each with the noise of its instrument. Causes
that the readings cannot tell apart stand together: the true one is found where it is in the first such group. Seeds are
kept; none of those printed was looked at while the priors were set.
"""
# ruff: noqa: E402 - the number of threads must be set before numpy is imported

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy is imported

import argparse
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent), str(HERE.parent.parent)]

from sample_surveys import hidden, is_it, place_among_causes, rank, surveyed, surveys

from ventcalc.job import survey_causes
from ventcalc.job.next_reading import next_reading

LOOKED, KEPT = 20_000, 150_000  # first seeds: to look at, and to report
READINGS = 6
# Causes that any of the plants may have: no job here has a fan that stands already, or a header's sensor.
FOUND = frozenset(survey_causes.kinds()) - {"as_drawn", "something_else", "fan_slow", "fan_backward", "sensor_offset"}
BINS = (0.0, 0.3, 0.5, 0.7, 0.9, 1.0001)
NEAR = 0.01 * 249.089  # Pa, 0.01 in. w.c.
SURE, MOST = 0.9, 10  # chance at which a cause counts as certain; most readings taken for it


def held_out(of, found):
    """Whether a reading not taken was foretold: gap within `NEAR` (a pressure) or two standard deviations."""
    following = next_reading(found).candidates
    if not following:
        return None
    pick = following[int(np.random.default_rng(of.seed + 5).integers(len(following)))]
    (taken,) = of.take((pick.read,))
    shares = np.array([found.explanations[k].chance for k in pick.leading])
    shares /= shares.sum()
    mean = shares @ np.array(pick.means)
    deviation = np.sqrt(shares @ (np.square(pick.deviations) + np.square(pick.means)) - mean**2)
    gap = abs(taken.value - mean)
    return bool(gap <= 2.0 * deviation or (taken.quantity == "pressure" and gap <= NEAR))


def planted(first, count, every):
    """Each plant: place of the truth, chance of the first group, its size, the place by single causes, whether what was
    held out was foretold, and the place among the groups that name a cause."""
    rows = []
    for seed in range(first, first + count):
        of, start = hidden(seed), time.process_time()
        found, readings = surveyed(of, READINGS)
        seconds = time.process_time() - start
        place, chance = rank(found, of.cause)
        alone = next((k for k, e in enumerate(found.explanations) if is_it(e, of.cause)), 999)
        row = place, chance, len(found.groups[0][0]), alone, held_out(of, found), place_among_causes(found, of.cause)
        rows.append(row)
        if every:
            told = [(e.code, *(c.subject for c in e.causes), round(e.chance, 2)) for e in found.groups[0][0]][:3]
            print(seed, len(of.job.plant.appliances), len(readings), of.cause.code, of.cause.subject,
                  round(float(of.cause.value(of.point[0, 0])), 3), "|", place, alone, round(chance, 2), told,
                  f"{seconds:.1f} s", flush=True)  # fmt: skip
    return rows


def report(rows):
    place, chance, size, alone = (np.array([r[k] for r in rows]) for k in range(4))
    out = [r[4] for r in rows if r[4] is not None]
    print(f"\n{len(rows)} plants with a cause, {READINGS} readings each")
    print(f"true cause in the first group {np.mean(place == 0):.1%}, in the first three {np.mean(place < 3):.1%}")
    named = np.array([r[5] for r in rows])
    print(
        f"among groups that name a cause: first {np.mean(named == 0):.1%}, in the first three {np.mean(named < 3):.1%}"
    )
    print(f"the same by single causes, ties not counted: {np.mean(alone == 0):.1%}, {np.mean(alone < 3):.1%}")
    print(f"causes in the first group: mean {size.mean():.1f}, at most {size.max()}")
    print(f"held-out reading foretold {np.mean(out):.1%} of {len(out)}")
    calibrated(place == 0, chance)
    return list(zip(place == 0, chance, strict=True))


def calibrated(right, chance):
    print("chance told     surveys   right")
    for low, high in pairwise(BINS):
        inside = (chance >= low) & (chance < high)
        if inside.any():
            print(f"{low:4.0%} to {min(high, 1.0):5.0%}  {inside.sum():8d}  {right[inside].mean():6.0%}"
                  f"   (mean told {chance[inside].mean():.0%})")  # fmt: skip


def unplanted(first, count):
    wins = []
    for seed in range(first, first + count):
        found, _ = surveyed(hidden(seed, planted=False), READINGS)
        place, chance = rank(found, None)
        wins.append((place == 0, chance))
    print(f"\n{count} plants as drawn: as drawn wins in {np.mean([w for w, _ in wins]):.1%}", flush=True)
    return wins


def mixed(with_cause, without):
    """Chances where vents as drawn are read as often as the table of causes says."""
    kinds = survey_causes.kinds().values()
    causes = sum(k.weight for k in kinds if k.key in FOUND)
    count = round(len(with_cause) * survey_causes.prior(survey_causes.AS_DRAWN) / causes)
    rows = [*with_cause, *without[:count]]
    print(
        f"\n{len(with_cause)} plants with a cause and {min(count, len(without))} as drawn, as often as the table says"
    )
    calibrated(*(np.array(part) for part in zip(*rows, strict=True)))


def readings_to_certainty(first, count):
    """Readings until a group is 90 % certain, chosen and at random; what is not certain by then counts as one more."""
    found = {True: [], False: []}
    for seed in range(first, first + count):
        for chosen in found:
            total = MOST + 1
            for calibration, taken in surveys(hidden(seed), chosen):
                if calibration.groups[0][1] >= SURE:
                    total = len(taken)
                if len(taken) >= min(total, MOST):
                    break
            found[chosen].append(total)
    chosen, anyhow = (np.array(found[k], float) - 1.0 for k in (True, False))
    print(f"\n{count} plants: readings beyond the first to {SURE:.0%} certainty: chosen {chosen.mean():.1f}, "
          f"at random {anyhow.mean():.1f}, ratio {anyhow.mean() / max(chosen.mean(), 1e-9):.2f}")  # fmt: skip


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--quick", action="store_true", help="a few plants")
    arguments.add_argument("--look", action="store_true", help="other seeds, each told")
    arguments.add_argument("--count", type=int, default=200)
    arguments.add_argument("--start", type=int, default=0, help="seeds to leave out")
    chosen = arguments.parse_args()
    if chosen.quick:
        report(planted(LOOKED, 2, False))
        return
    first = (LOOKED if chosen.look else KEPT) + chosen.start
    with_cause = report(planted(first, chosen.count, chosen.look))
    mixed(with_cause, unplanted(first + 1_000, 20 if chosen.look else 60))
    if not chosen.look:
        readings_to_certainty(first + 2_000, 16)


if __name__ == "__main__":
    main()
