"""Chance: how likely it is that a design leaves a window or lets flue gas into the room in some condition.

A verdict is that of mean coefficients in worst weather. Losses, walls, burners and sensors turn out otherwise than the
tables say, and nobody knows beforehand how. So the design is drawn many times over, everything uncertain at once
(`uncertain_inputs`, `input_draws`), each variant solved in the conditions that decide (`chance_conditions`); the share
of the variants that fail is the chance, with the error of so many draws. It is a chance over what is not known of this
plant, in the worst of its weathers, and not over the years. Load changes in time and the room's exhaust fans are not in
it, nor what is not in the table.

A window is left where it is by more than can be read (`outlet_envelope.READABLE`), as in a verdict. A variant that was
not solved in some condition counts as one that fails.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy

from ventcalc.door import door
from ventcalc.job import chance_conditions, input_draws, sensitivity
from ventcalc.job.chance_conditions import MOST_PROOFS, PROOFS, SCOUTS, WIDE, Deciding, Solved
from ventcalc.job.job_file import Job
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.sensitivity import Fit
from ventcalc.job.steps import Told, nobody, within
from ventcalc.job.uncertain_inputs import Input, inputs
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import READABLE
from ventcalc.words import say

DRAWS = 1024
QUANTILES = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99)
CONFIDENCE = 0.95  # of the error that is told of a chance
DRAWS_AN_INPUT = 8  # below which a fit tells little: twice what `sensitivity` needs for a straight line
FIRST = 3  # inputs to measure first
ENDS = (0.1, 0.9)  # where in its distribution an input may be found when it is measured


@dataclass(frozen=True)
class Share:
    """``failed`` of so many ``draws``; the chance lies between ``low`` and ``high`` with `CONFIDENCE` (Wilson)."""

    failed: int
    draws: int

    @property
    def chance(self) -> float:
        """Share that failed."""
        return self.failed / self.draws

    @property
    def low(self) -> float:
        """Lower end of where the chance may lie, for so many draws."""
        return wilson(self.failed, self.draws)[0]

    @property
    def high(self) -> float:
        """Upper end of it."""
        return wilson(self.failed, self.draws)[1]

    @property
    def error(self) -> float:
        """How far the chance may be off either way, the farther of the two."""
        return max(self.high - self.chance, self.chance - self.low)


@door(plain={"confidence": ""}, above={"confidence": 0.0})
def wilson(failed: int, draws: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Interval of a chance by Wilson's score (1927): right also where none or all of the draws failed.

    ``(p + z^2/2n -+ z sqrt(p (1-p)/n + z^2/4n^2)) / (1 + z^2/n)``. Scrambled Sobol points are at least as even as
    independent draws, for which it is made: the error told is on the safe side.
    """
    z = float(scipy.special.ndtri(0.5 + 0.5 * confidence))
    p, square = failed / draws, z * z / draws
    middle, half = p + 0.5 * square, z * np.sqrt(p * (1.0 - p) / draws + 0.25 * square / draws)
    ends = (middle - half) / (1.0 + square), (middle + half) / (1.0 + square)
    return max(float(ends[0]), 0.0), min(float(ends[1]), 1.0)


@dataclass(frozen=True)
class Outlet:
    """One outlet over all draws: how often it ``leaves`` its window, how often flue gas comes ``back`` through it, and
    the `QUANTILES` of its worst ``margin`` [Pa], over the draws that were solved."""

    appliance: str
    leaves: Share
    back: Share
    margin: np.ndarray


@dataclass(frozen=True)
class Pinned:
    """What measuring an input would do to the chance that a window is left.

    ``first`` and ``total`` index of it. ``known``: the chance if it were found as reckoned, in the middle of its
    distribution; ``found`` if near its lower and its upper end (`ENDS`). By the fit, which says how far to trust it.
    """

    input: Input
    first: float
    total: float
    known: float
    found: tuple[float, float]


@dataclass(frozen=True)
class Chance:
    """What may come of a design.

    ``window``: some outlet leaves its window in some condition; ``flue_gas`` enters the room in some; ``unsolved``: the
    share of variants that failed since they were not solved. ``margin``: `QUANTILES` of the least of all margins [Pa].
    ``fit`` of that on the inputs, None where nothing varies or the draws are too few; ``first`` the inputs to pin
    down or to measure first, the one on which it hangs most first.
    """

    inputs: tuple[Input, ...]
    draws: int
    outlets: tuple[Outlet, ...]
    window: Share
    flue_gas: Share
    unsolved: Share
    margin: np.ndarray
    deciding: Deciding
    fit: Fit | None
    first: tuple[Pinned, ...]

    @property
    def page_one(self) -> "PageOne":
        """The record for the first page."""
        return page_one(self)

    @property
    def sources(self) -> tuple[str, ...]:
        """Where the uncertainty of every kind of input comes from, each once, with how far that may be trusted."""
        kinds = {i.kind.key: i for i in self.inputs}
        return tuple(f"{i.kind.name.format(subject='each')}: {i.kind.source} ({i.kind.status})" for i in kinds.values())


def chance(
    job: Job,
    outcome: Outcome,
    count: int = DRAWS,
    seed: int = 0,
    told: Told = nobody,
    everywhere: bool = False,
    given: Sequence[Input] | None = None,
) -> Chance:
    """The chance of a design, from what was solved of it (``outcome``, in every condition); ``job`` is that as drawn.

    ``count`` draws, a power of two; ``seed`` scrambles them. ``everywhere``: in every condition, not in those alone
    that decide. ``given`` are other inputs than those of the table. ``told`` hears how far it is.
    Raises ValueError for an outcome that was solved in some conditions only.
    """
    if not outcome.everywhere:
        raise ValueError(f"{outcome.remedy.name}: a chance needs an outcome in every condition")
    uncertain = inputs(job, outcome) if given is None else tuple(given)
    network = compile_network(outcome.remedy.plant, job.seasons)
    controls = () if outcome.held is None else outcome.held.controls

    def drawn(many: int, stream: int, wide: float = 1.0) -> input_draws.Draws:
        own = int(np.random.SeedSequence((seed, stream)).generate_state(1)[0])
        at = input_draws.widened(input_draws.points(len(uncertain), many, own), wide)
        return input_draws.draws(network, controls, uncertain, at)

    if everywhere:
        decide = chance_conditions.everything(outcome.scan)
    else:
        scouts, proofs = drawn(SCOUTS, 1, WIDE), (drawn(PROOFS, 2 + k) for k in range(MOST_PROOFS))
        decide = chance_conditions.deciding(outcome, scouts, proofs, within(told, 0.0, 0.5))
    variants = drawn(count, 0)
    solved = chance_conditions.solve_draws(
        outcome, variants, decide.columns, within(told, 0.0 if everywhere else 0.5, 1)
    )
    return gathered(uncertain, variants.points, [a.name for a in outcome.remedy.plant.appliances], solved, decide)


def gathered(
    uncertain: tuple[Input, ...], points: np.ndarray, names: Sequence[str], solved: Solved, decide: Deciding
) -> Chance:
    """The chance, from variants that were solved."""
    lost = ~solved.settled.all(axis=1)
    worst = worst_margins(solved)
    back = (solved.back & solved.settled).any(axis=2)
    outlets = tuple(
        Outlet(name, _share((own < -READABLE) | lost), _share(gas | lost), _quantiles(own[~lost]))
        for name, own, gas in zip(names, worst, back, strict=True)
    )
    least = worst.min(axis=0)
    fitted = _fit(uncertain, points[~lost], least[~lost])
    return Chance(
        inputs=uncertain,
        draws=len(points),
        outlets=outlets,
        window=_share((least < -READABLE) | lost),
        flue_gas=_share(back.any(axis=0) | lost),
        unsolved=_share(lost),
        margin=_quantiles(least[~lost]),
        deciding=decide,
        fit=fitted,
        first=() if fitted is None else _first(uncertain, points, least, lost, fitted),
    )


def worst_margins(solved: Solved) -> np.ndarray:
    """The least margin [Pa] of every outlet over the conditions (appliances, variants), of what was solved."""
    return np.where(solved.settled & ~np.isnan(solved.margin), solved.margin, np.inf).min(axis=2)


def _share(failed: np.ndarray) -> Share:
    return Share(int(failed.sum()), failed.size)


def _quantiles(values: np.ndarray) -> np.ndarray:
    return np.quantile(values, QUANTILES) if values.size else np.full(len(QUANTILES), np.nan)


_KINDS = {"uniform": sensitivity.EVEN, "between": sensitivity.EVEN, "choice": sensitivity.CHOICE}


def _fit(uncertain, points, least) -> Fit | None:
    if len(points) < DRAWS_AN_INPUT * (len(uncertain) + 1) or not np.ptp(least) > 0.0:
        return None
    return sensitivity.fit(points, least, [_KINDS.get(i.kind.distribution, sensitivity.NORMAL) for i in uncertain])


def _first(uncertain, points, least, lost, fitted: Fit) -> tuple[Pinned, ...]:
    """The inputs with the largest total index, and the chance with each of them known.

    What the fit leaves over of every draw stays with it.
    """
    first, total, left = fitted.first, fitted.total, least - fitted.at(points)

    def with_known(k: int, at: float) -> float:
        there = points.copy()
        there[:, k] = at
        return float(np.mean((fitted.at(there) + left < -READABLE) | lost))

    return tuple(
        Pinned(
            uncertain[k], float(first[k]), float(total[k]), with_known(k, 0.5), tuple(with_known(k, e) for e in ENDS)
        )
        for k in np.argsort(-total, kind="stable")[:FIRST].tolist()
    )


@dataclass(frozen=True)
class PageOne:
    """What a client is told: sentences on the ``window``, the ``flue_gas``, what to measure ``first`` and what the
    figures rest on (``basis``)."""

    window: str
    flue_gas: str
    first: tuple[str, ...]
    basis: str


def page_one(found: Chance) -> PageOne:
    """The chance in words a client understands."""

    def told(code: str, share: Share) -> str:
        which = "never" if share.failed == 0 else "always" if share.failed == share.draws else "some"
        figures = {"chance": share.chance, "low": share.low, "high": share.high}
        return say("job", "chance", f"{code} {which}", **figures)

    measure = "first" if found.window.failed else "hangs"
    first = tuple(
        say("job", "chance", measure, name=p.input.name, share=p.total, now=found.window.chance, known=p.known,
            least=min(p.found), most=max(p.found))
        for p in found.first
    )  # fmt: skip
    decided = found.deciding
    figures = {
        "draws": found.draws,
        "inputs": len(found.inputs),
        "columns": decided.columns.size,
        "total": decided.total,
    }
    basis = say("job", "chance", "basis", **figures)
    if decided.looked < decided.total:
        basis += " " + say("job", "chance", "sampled", looked=decided.looked, kept=decided.coverage)
    if found.fit is not None:
        basis += " " + say("job", "chance", "fit", r2=found.fit.r2)
    return PageOne(told("window", found.window), told("flue gas", found.flue_gas), first, basis)
