"""Chance findings: a design that works by mean figures, and is not likely enough to; only where its chance was asked.

What counts is the upper end of where a chance may lie for so many draws: few draws that show no failure do not show
that there is none.
"""

from collections.abc import Iterator

from ventcalc.job.chance import Chance, Share
from ventcalc.job.findings import Finding
from ventcalc.job.operation import Operation

# What a chance has to stay below in the worst weather of the plant (settings of this library; common practice, no
# source).
MOST_PEOPLE = 0.01  # of what may harm people
MOST_FAULT = 0.05  # of a fault


def chances(op: Operation) -> Iterator[Finding]:
    """Where flue gas enters the room, or an outlet leaves its window, more often than may be."""
    if op.sure is None:
        return
    sure = op.sure
    back = tuple(o.appliance for o in sure.outlets if o.back.high >= MOST_PEOPLE)
    leaves = tuple(o.appliance for o in sure.outlets if o.leaves.high >= MOST_FAULT)
    for code, share, most, names in (
        ("chance_flue_gas", sure.flue_gas, MOST_PEOPLE, back),
        ("chance_window", sure.window, MOST_FAULT, leaves),
    ):
        if share.high >= most:
            yield Finding(code, names, _figures(sure, share, most))


def _figures(sure: Chance, share: Share, most: float) -> dict:
    return {
        "chance": share.chance,
        "low": share.low,
        "high": share.high,
        "most": most,
        "draws": sure.draws,
        "unsolved": sure.unsolved.chance,
        "few": share.chance < most,
        "first": tuple(p.input.name for p in sure.first),
    }
