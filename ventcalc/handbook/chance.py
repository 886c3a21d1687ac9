"""Chance, the chapter: how sure it is that a held vent holds; tables, figures, live controls, checks, questions.

All of it is the mountain lodge with the fan and damper of its file, its boilers shut tight by flaps while idle: nothing
leaks past them, and some hundred variants of it are solved in a blink.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import cycle
from textwrap import fill

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from scipy.stats import norm

from ventcalc import checked, tables
from ventcalc.job import chance, chance_conditions, input_draws, job_file, remedies, remedy_outcome, sensitivity
from ventcalc.job import uncertain_inputs as uncertain
from ventcalc.job.chance import Chance, Share
from ventcalc.job.chance_conditions import SCOUTS, WIDE, Deciding, Solved
from ventcalc.job.chance_findings import MOST_PEOPLE
from ventcalc.job.input_draws import Draws
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import as_drawn
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.uncertain_inputs import Input, Uncertain
from ventcalc.show.axes import label, number, one_axes, picture, plain, two_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, counted, paragraph, slider, steps, table
from ventcalc.show.plots import GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import firing_states
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import READABLE
from ventcalc.words import say

# --- The lodge, held ------------------------------------------------------------------------------------------------


@cache
def lodge() -> Job:
    """The demo job, its boilers shut tight while idle."""
    job = job_file.demonstration("lodge")
    shut = tuple(replace(a, idle="sealed") for a in job.plant.appliances)
    return replace(job, plant=replace(job.plant, appliances=shut))


@cache
def offered() -> Outcome:
    """The lodge with its fan and damper, the header held as its file says, solved in every condition."""
    return remedies.offered(lodge())


@cache
def held(pascal: float) -> Outcome:
    """The same devices with the header held at another pressure [Pa]."""
    base, point = offered(), Q_(pascal, "Pa")
    controls = tuple(replace(c, set_point=point) for c in base.remedy.controls)
    remedy = replace(base.remedy, controls=controls, set_point=point, start=None)
    return remedy_outcome.outcome(lodge(), remedy, base.scan)


def set_point() -> float:
    """What the lodge's file holds its header at [Pa]."""
    return float(offered().remedy.set_point.m_as("Pa"))


def middle() -> float:
    """The set point [Pa] in the middle of those that serve both outlets, by mean values."""
    return float(np.mean(offered().remedy.serve))


@cache
def sure(pascal: float) -> Chance:
    """The chance of the lodge held at a pressure [Pa]: as many draws as a study takes."""
    return chance.chance(lodge(), held(pascal))


def held_table(pascal: float, system: str) -> str:
    """Windows, and between which pressures the outlets get by mean values, the header held at a pressure [Pa]."""
    rows = [
        (e.appliance, *(show(Q_(v, "Pa"), system, "draft") for v in (*e.window, e.low, e.high, e.margin)))
        for e in held(pascal).envelopes
    ]
    return table(("outlet", "window from", "to", "lowest", "highest", "least margin"), rows)


# --- What is not known ----------------------------------------------------------------------------------------------

_SHOWN_AS = {"Pa": "draft", "m": "height", "delta_degC": "temperature difference"}


def spread_words(kind: Uncertain, own: Sequence[Input], system: str) -> str:
    """How a kind of input is spread, in words, with its figure in the unit of its row."""
    unit = tables.row("uncertain_inputs", kind.key, "key")["unit"]
    spread = max(i.spread for i in own) if np.isnan(kind.spread) else kind.spread
    told = show(Q_(spread, unit), system, _SHOWN_AS[unit]) if unit in _SHOWN_AS else f"{spread:g}"
    percent = f"{100.0 * spread:g}"
    return say("handbook", "chance", kind.distribution, spread=told, percent=percent)


def inputs_table(found: Chance, system: str) -> str:
    """Every kind of uncertain input of a design: how it is spread, how often it is drawn, and who says so."""
    rows = []
    for key in dict.fromkeys(i.kind.key for i in found.inputs):
        own = [i for i in found.inputs if i.kind.key == key]
        kind = own[0].kind
        name = kind.name.format(subject="each")
        rows.append((name, spread_words(kind, own, system), len(own), kind.source, kind.status))
    return table(("what", "how it is spread", "drawn", "source", "status"), rows)


# --- What a chance comes to -----------------------------------------------------------------------------------------


def percents(share: Share) -> tuple[str, str]:
    """A chance, and where it may lie for so many draws."""
    return f"{share.chance:.1%}", f"{share.low:.1%} to {share.high:.1%}"


def chance_table(found: Chance, system: str) -> str:
    """Chance and margins of every outlet and of the whole; the 5 % and 50 % quantile of the worst margin."""
    low, half = (chance.QUANTILES.index(q) for q in (0.05, 0.5))

    def margins(values: np.ndarray) -> tuple[str, str]:
        return tuple(show(Q_(float(values[k]), "Pa"), system, "draft") for k in (low, half))

    rows = [(f"{o.appliance} leaves its window", *percents(o.leaves), *margins(o.margin)) for o in found.outlets]
    rows.append(("some outlet does", *percents(found.window), *margins(found.margin)))
    rows.append(("flue gas enters the room", *percents(found.flue_gas), "", ""))
    return table(("", "chance", "95 % interval", "worst margin: 1 in 20 below", "half of them below"), rows)


def page_one_words(found: Chance) -> str:
    """A chance as page one of a study tells it."""
    told = found.page_one
    return "\n".join((told.window, told.flue_gas, told.basis))


def first_table(found: Chance) -> str:
    """The inputs on which it hangs most: shares of the scatter, and the chance with each of them known."""
    rows = [
        (p.input.name, f"{p.first:.0%}", f"{p.total:.0%}", f"{p.known:.1%}", " and ".join(f"{v:.1%}" for v in p.found))
        for p in found.first
    ]
    heads = ("measure first", "first index", "total index", "chance if found as assumed", "near its ends")
    return table(heads, rows)


def against_mean_table(pascals: Sequence[float], system: str) -> str:
    """The verdict by mean values beside the chance, at some set points [Pa]."""
    rows = []
    for pascal in pascals:
        found = sure(pascal)
        points = (show(Q_(p, "Pa"), system, "draft") for p in (pascal, held(pascal).margin))
        rows.append((*points, *percents(found.window), "none" if found.fit is None else f"{found.fit.r2:.0%}"))
    return table(("header held at", "least margin by mean values", "chance", "95 % interval", "R² of the fit"), rows)


# --- Solved again in a moment ---------------------------------------------------------------------------------------

LIVE = 256  # draws
NEAR, COVERED = 0.25, 0.99  # Pa, of an outlet's worst; share of the draws in which one of the conditions is so near it
NOTHING = "nothing"
# What somebody can find out on site, by the kinds of input that are then known.
MEASURED = {
    NOTHING: (),
    "set point, sensor, damper's stops": ("sensor", "set_point", "actuator", "tube"),
    "losses of pipe and fittings": ("friction", "roughness", "fittings", "fitting", "junction_formula", "junction"),
    "what the burners do": ("flue_temperature", "oxygen", "rate"),
    "pressure of the room": ("room_pressure", "room_leakage"),
}  # fmt: skip


@cache
def _inputs() -> tuple[Input, ...]:
    return uncertain.inputs(lodge(), offered())


@cache
def variants(measured: str = NOTHING, count: int = LIVE, stream: int = 0, wide: float = 1.0) -> Draws:
    """The lodge as it may turn out, what is ``measured`` as reckoned; the same points whatever that is."""
    own, base = _inputs(), offered()
    at = input_draws.widened(input_draws.points(len(own), count, stream), wide)
    left = [k for k, i in enumerate(own) if i.kind.key not in MEASURED[measured]]
    network = compile_network(base.remedy.plant, lodge().seasons)
    return input_draws.draws(network, base.held.controls, [own[k] for k in left], at[:, left])


def _at(draws: Draws, pascal: float) -> Draws:
    return replace(draws, controls=tuple(replace(c, set_point=Q_(pascal, "Pa")) for c in draws.controls))


@cache
def governing(pascal: float) -> np.ndarray:
    """Columns that say how an outlet stands at worst with the header held there [Pa]: `NEAR` it, in `COVERED` of the
    draws."""
    outcome, scouts = held(pascal), variants(count=SCOUTS // 2, stream=1, wide=WIDE)
    kept = chance_conditions.deciding(outcome, _at(scouts, pascal), ()).columns
    return kept[covering(chance_conditions.solve_draws(outcome, _at(variants(), pascal), kept).margin)]


def covering(margin: np.ndarray) -> np.ndarray:
    """Few columns of margins [Pa] (outlets, variants, columns), one of them `NEAR` the worst in `COVERED` of the rows.

    The one that adds most is taken first, so that they need not be the fewest."""
    every = np.where(np.isnan(margin), np.inf, margin)
    near = (every <= every.min(axis=2, keepdims=True) + NEAR).reshape(-1, margin.shape[2])
    left, kept = np.ones(len(near), bool), []
    while left.mean() > 1.0 - COVERED:
        kept.append(int(near[left].sum(axis=0).argmax()))
        left &= ~near[:, kept[-1]]
    return np.array(sorted(kept))


@dataclass(frozen=True)
class Drawn:
    """Draws that were solved: their ``chance``, and the worst ``margins`` [Pa] of every outlet (outlets, draws)."""

    chance: Chance
    margins: np.ndarray


def drawn(pascal: float, measured: str = NOTHING, count: int = LIVE) -> Drawn:
    """The lodge held at a pressure [Pa], solved anew in all its variants where it is governed; ``count`` are told."""
    columns, many = governing(pascal), variants(measured)
    solved = chance_conditions.solve_draws(held(pascal), _at(many, pascal), columns)
    few = Solved(solved.margin[:, :count], solved.pushed[:, :count], solved.back[:, :count], solved.settled[:count])
    decided = Deciding(columns, len(offered().scan.states), 0, 0, columns.size)
    names = [a.name for a in lodge().plant.appliances]
    found = chance.gathered(many.inputs, many.points[:count], names, few, decided)
    return Drawn(found, chance.worst_margins(few))


def governing_table(pascal: float, system: str, most: int = 3) -> str:
    """Of each outlet the conditions that are most often its worst, of those that govern, in words."""
    scan, columns = held(pascal).scan, governing(pascal)
    margin = chance_conditions.solve_draws(held(pascal), _at(variants(), pascal), columns).margin
    worst = np.where(np.isnan(margin), np.inf, margin).argmin(axis=2)
    rows = []
    for appliance, own in zip(lodge().plant.appliances, worst, strict=True):
        count = np.bincount(own, minlength=columns.size)
        often = np.argsort(-count, kind="stable")[:most]
        rows += [(appliance.name, f"{count[k] / own.size:.0%}", scan.describe(int(columns[k]), system)) for k in often]
    return table(("outlet", "its worst in", "condition"), rows)


# --- Figures --------------------------------------------------------------------------------------------------------

MOST_BARS = 6
_BINS = 24


def chance_figure(found: Drawn, system: str) -> Figure:
    """Worst margin of every outlet over the draws, with the window's edge; and what the scatter hangs on.

    Its axes are placed by hand: it follows a control.
    """
    figure = Figure((WIDTH, 3.4))
    _histogram(figure.add_axes((0.075, 0.16, 0.35, 0.66)), found, system)
    _bars(figure.add_axes((0.7, 0.16, 0.27, 0.66)), found.chance)
    return figure


_STYLES = ({"fill": True, "fc": PALE, "ec": GREY}, {"color": INK, "lw": 1.8}, {"color": RUST, "lw": 1.8, "ls": "--"})


def _histogram(axes: Axes, found: Drawn, system: str) -> None:
    """Draws by the worst margin of each outlet; what lies outside the windows is hatched, their edge a thick line."""
    finite = found.margins[np.isfinite(found.margins)]
    edges = np.linspace(min(finite.min(), -1.0), max(finite.max(), 1.0), _BINS + 1)
    shown = number(edges, "Pa", "draft", system)
    for outlet, own, style in zip(found.chance.outlets, found.margins, cycle(_STYLES)):
        counts = np.histogram(own[np.isfinite(own)], edges)[0]
        axes.stairs(counts, shown, label=f"{outlet.appliance}: outside in {outlet.leaves.chance:.1%}", **style)
    axes.axvspan(shown[0], 0.0, fc="none", ec=GREY, hatch="//", lw=0.0, alpha=0.6)
    axes.axvline(0.0, color=INK, lw=2.2)
    plain(axes, f"worst margin, {label('draft', system)}", "draws")
    axes.set_xlim(shown[0], shown[-1])
    axes.locator_params(axis="both", nbins=4)
    axes.legend(fontsize=SIZE, frameon=False, loc="lower left", bbox_to_anchor=(-0.05, 1.0), borderaxespad=0.1)


def _bars(axes: Axes, found: Chance) -> None:
    """Total indices as bars, the first index the dark part of each."""
    if found.fit is None:
        axes.axis("off")
        axes.text(0.3, 0.5, fill(say("handbook", "chance", "no_fit"), 26), ha="center", va="center", size=SIZE)
        return
    order = np.argsort(-found.fit.total, kind="stable")[:MOST_BARS]
    at = np.arange(order.size)
    for index, color, words in ((found.fit.total, "white", "total index"), (found.fit.first, GREY, "first index")):
        axes.barh(at, 100.0 * index[order], 0.62, fc=color, ec=INK, label=words)
    axes.set_yticks(at, [fill(found.inputs[k].name, 22) for k in order])
    axes.invert_yaxis()
    plain(axes, f"% of the scatter (R² {found.fit.r2:.0%})", "")
    axes.legend(fontsize=SIZE, frameon=False, loc="lower left", bbox_to_anchor=(-0.05, 1.0), ncols=1, borderaxespad=0.1)


def set_point_figure(system: str) -> Figure:
    """The least margin by mean values, and the chance that a window is left, over the header's set point."""
    pascals = np.array([value for _, value in set_points(system)])
    points = number(pascals, "Pa", "draft", system)
    figure, (left, right) = two_axes(3.0)
    margin = np.array([held(p).margin for p in pascals])
    left.plot(points, number(margin, "Pa", "draft", system), "o-", color=INK, lw=1.8)
    left.axhline(0.0, color=INK, lw=2.2)
    plain(left, f"header held at, {label('draft', system)}", f"least margin by mean values, {label('draft', system)}")
    shares = [drawn(float(p)).chance.window for p in pascals]
    value = 100.0 * np.array([s.chance for s in shares])
    bars = np.abs(100.0 * np.array([(s.low, s.high) for s in shares]).T - value)
    right.errorbar(points, value, bars, fmt="s-", color=INK, ecolor=RUST, capsize=4, lw=1.8)
    right.set_ylim(0.0, 100.0)
    plain(right, f"header held at, {label('draft', system)}", "chance that a window is left, %")
    for axes in (left, right):
        axes.locator_params(axis="x", nbins=5)
    return figure


def spread_figure() -> Figure:
    """The normal law: the same margin with a spread and with half of it; what lies beyond the edge is hatched."""
    figure, axes = one_axes(2.7)
    margin = np.linspace(-2.5, 4.5, 400)
    for spread, style, words in ((1.0, "-", "as it is"), (0.5, "--", "half the spread")):
        density = norm.pdf(margin, 1.0, spread)
        axes.plot(margin, density, style, color=INK, lw=2.0, label=f"{words}: {norm.cdf(-1.0 / spread):.1%} outside")
        if spread == 1.0:
            axes.fill_between(margin, density, where=margin <= 0.0, fc="white", ec=RUST, hatch="////")
    axes.axvline(0.0, color=INK, lw=2.2)
    plain(axes, "worst margin, in spreads", "density")
    axes.legend(fontsize=SIZE, frameon=False)
    return figure


# --- Checks ---------------------------------------------------------------------------------------------------------

_FITTED = 8192  # draws
_DEGREE = 10  # of the polynomials: the Ishigami function is far from straight


def ishigami(x: np.ndarray) -> np.ndarray:
    """The function of Ishigami and Homma (1990) of points (draws, 3), with the usual factors 7 and 0.1."""
    return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


@cache
def _fits() -> dict[str, sensitivity.Fit]:
    at = input_draws.points(3, _FITTED, 0)
    curved = ishigami(np.pi * (2.0 * at - 1.0))
    straight = norm.ppf(at) @ np.array([1.0, 2.0, 3.0])
    return {
        "ishigami": sensitivity.fit(at, curved, [sensitivity.EVEN] * 3, _DEGREE, _DEGREE),
        "linear": sensitivity.fit(at, straight, [sensitivity.NORMAL] * 3),
    }


def checks() -> tuple[checked.Check, ...]:
    """Wilson's interval, and indices of two functions that are known."""
    ours = {}
    for row in tables.read("chance_checks"):
        if row["failed"]:
            ends = chance.wilson(int(row["failed"]), int(row["draws"]))
            ours[row["id"]] = ends[row["quantity"].startswith("upper")]
        else:
            found = _fits()["ishigami" if "Ishigami" in row["quantity"] else "linear"]
            indices = found.total if row["quantity"].startswith("total") else found.first
            ours[row["id"]] = float(indices[int(row["input"]) - 1])
    return checked.compare("chance_checks", ours)


_NORMAL_LAW = (-1.0, 0.0, 1.0)  # margins in spreads
_SMALL = 0.25  # of the usual spread: so little that the margin is straight in every input


@dataclass(frozen=True)
class OneOutlet:
    """The laundry's boiler alone, in a calm winter, its normal inputs little spread.

    ``high`` [Pa] is its highest outlet pressure by mean values and ``spread`` [Pa] the standard deviation of it: the
    root of the sum of squares of what each input does by one of its own.
    """

    job: Job
    inputs: tuple[Input, ...]
    high: float
    spread: float

    def chance(self, margin: float, share: float = 1.0) -> Share:
        """The chance that the window is left where its edge leaves so much ``margin`` in spreads; all inputs spread
        by a ``share`` of what they are."""
        window = Q_(self.high - 3000.0, "Pa"), Q_(self.high + margin * self.spread, "Pa")
        job = _with_window(self.job, window)
        given = [replace(i, spread=share * i.spread) for i in self.inputs]
        return chance.chance(job, _as_drawn(job), given=given).window

    def normal_law(self, margin: float, share: float = 1.0) -> float:
        """The same by the normal law; less than can be read beyond an edge is not counted."""
        return float(norm.cdf(-(margin + READABLE / self.spread) / share))


def _with_window(job: Job, window: tuple[Quantity, Quantity]) -> Job:
    appliance = replace(job.plant.appliances[0], window=window)
    return replace(job, plant=replace(job.plant, appliances=(appliance,)))


def _as_drawn(job: Job) -> Outcome:
    return remedy_outcome.outcome(job, as_drawn(job), firing_states.scan(job.plant, job.seasons))


@cache
def one_outlet() -> OneOutlet:
    """The laundry's boiler, with what a step of each of its inputs moves worked out."""
    job = job_file.demonstration("laundry")
    job = replace(job, seasons=(replace(job.seasons[0], wind=Q_(0.0, "m/s")),))
    outcome = _as_drawn(job)
    high = outcome.envelopes[0].high
    job = _with_window(job, (Q_(high - 3000.0, "Pa"), Q_(high, "Pa")))
    outcome = _as_drawn(job)
    normal = ("share", "factor", "normal")
    own = [i for i in uncertain.inputs(job, outcome) if i.kind.distribution in normal]
    own = tuple(replace(i, spread=_SMALL * i.spread) for i in own)
    at = np.full((2 * len(own), len(own)), 0.5)
    for k in range(len(own)):
        at[2 * k, k], at[2 * k + 1, k] = norm.cdf(0.5), norm.cdf(-0.5)  # a whole step, half of it either way
    both = input_draws.draws(compile_network(job.plant, job.seasons), (), own, at)
    column = np.array([outcome.envelopes[0].high_state])
    margin = chance_conditions.solve_draws(outcome, both, column).margin[0, :, 0]
    return OneOutlet(job, own, high, float(np.sqrt(((margin[::2] - margin[1::2]) ** 2).sum())))


@cache
def normal_law_rows() -> tuple[tuple[float, float, Share, float], ...]:
    """Margin in spreads, share of the spreads, the library's chance, and that of the normal law."""
    alone = one_outlet()
    return tuple((m, s, alone.chance(m, s), alone.normal_law(m, s)) for s in (1.0, 0.5) for m in _NORMAL_LAW)


# --- Live controls --------------------------------------------------------------------------------------------------

TRUSTED = 0.7  # R² below which shares are not to be taken by the letter (common practice, no source)


def set_points(system: str) -> list[tuple[str, float]]:
    """Set points of the header to choose from: (label, Pa)."""
    return steps("draft", system, [-0.09 + 0.01 * k for k in range(7)], range(-22, -6, 2))


def controls(system: str = "US") -> dict:
    """The controls of `explorer` by name; the set point in Pa, at first near the middle of those that serve."""
    return {
        "set_point": slider("Header held at", set_points(system), middle()),
        "measured": choice("Found on site", MEASURED, NOTHING),
        "draws": slider("Draws", counted((64, 128, LIVE)), LIVE),
    }


def explorer(system: str = "US") -> Panel:
    """The lodge held at another set point, some of it measured; all is made ready first, then moves are quick."""
    for measured in MEASURED:
        variants(measured)
    for _, pascal in set_points(system):
        governing(pascal)
    return Panel(partial(explorer_answer, system), controls(system))


def explorer_answer(system: str, *, set_point: float, measured: str, draws: float) -> tuple[str, bytes]:
    """Chances, margins and what they hang on, solved anew; the set point in Pa."""
    found = drawn(set_point, measured, int(draws))
    mean = show(Q_(held(set_point).margin, "Pa"), system, "draft")
    told = {"mean": mean, "conditions": governing(set_point).size, "inputs": len(found.chance.inputs)}
    words = say("handbook", "chance", "told", **told, draws=int(draws))
    fitted = found.chance.fit
    if fitted is not None and fitted.r2 < TRUSTED:
        words += " " + say("handbook", "chance", "poor_fit", r2=fitted.r2)
    numbers = paragraph(words) + chance_table(found.chance, system)
    if fitted is not None:
        numbers += first_table(found.chance)
    return numbers, picture(chance_figure(found, system))


# --- Prediction, and what is to be written --------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of a design whose every mean value lies inside."""
    return predict("chance", some_outlet_leaves, system)


OFFERED = (0.01, 0.1, 0.3)  # the chances to choose from


def some_outlet_leaves() -> dict:
    """The chance that a window is left, the header held as the lodge's file says; right is the nearest by its ratio."""
    found, outcome = sure(set_point()), held(set_point())
    figure = found.window.chance
    low, half = (float(found.margin[chance.QUANTILES.index(q)]) for q in (0.05, 0.5))
    return {
        "right": int(np.argmin(np.abs(np.log(np.array(OFFERED) / figure)))),
        "figure": _ratio(figure),
        "margin": Q_(outcome.margin, "Pa"),
        "held": outcome.remedy.set_point,
        "conditions": len(outcome.scan.states),
        "half": Q_(half, "Pa"),
        "low": Q_(-low, "Pa"),
    }


def writing(system: str = "US") -> Writing:
    """The upper end of Wilson's interval, to be written by the reader."""
    return load_writing("chance", upper_end, system)


def upper_end(failed: int, draws: int) -> dict[str, Quantity]:
    """Wilson's upper end at 95 %, and what it becomes by the slips that are made with it."""
    p, z = failed / draws, float(norm.ppf(0.5 + 0.5 * chance.CONFIDENCE))
    square, root = z * z / draws, z * np.sqrt(p * (1.0 - p) / draws + 0.25 * z * z / draws**2)
    return {
        "answer": _ratio(chance.wilson(failed, draws)[1]),
        "normal": _ratio(p + z * np.sqrt(p * (1.0 - p) / draws)),
        "lower": _ratio(chance.wilson(failed, draws)[0]),
        "not_divided": _ratio(p + 0.5 * square + root),
        "one_sided": _ratio(chance.wilson(failed, draws, 0.9)[1]),
        "whole_square": _ratio((p + square + root) / (1.0 + square)),
    }


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("chance", (beyond_edge, elbows, hangs_on, none_failed), system, seed)


def _ratio(value: float) -> Quantity:
    return Q_(float(value), "")


def beyond_edge(margin: Quantity, spread: Quantity) -> dict:
    """The chance that an outlet is outside, by the normal law."""
    by = float((margin / spread).m_as(""))
    return {
        "answer": _ratio(norm.cdf(-by)),
        "by": by,
        "inside": _ratio(norm.cdf(by)),
        "both_sides": _ratio(2.0 * norm.cdf(-by)),
        "halved": _ratio(norm.cdf(-2.0 * by)),
    }


def elbows(count: int, loss: Quantity) -> dict:
    """The spread of the loss of so many elbows: the table off as a whole, and each elbow for itself."""
    whole, own = (uncertain.table()[key].spread for key in ("fittings", "fitting"))
    shared, each = count * loss * whole, np.sqrt(count) * loss * own
    return {
        "answer": np.hypot(shared, each),
        "shared": shared,
        "each": each,
        "whole": whole,
        "own": own,
        "all_alike": count * loss * np.hypot(whole, own),
        "all_own": np.sqrt(count) * loss * np.hypot(whole, own),
        "added": shared + each,
    }


def hangs_on(first: Quantity, second: Quantity, third: Quantity) -> dict:
    """The index of the largest of three parts of a straight sum, and the spread that is left without it."""
    parts = np.array([float(p.m_as("Pa")) for p in (first, second, third)])
    left = Q_(float(np.hypot(*parts[1:])), "Pa")
    share = parts[0] ** 2 / (parts**2).sum()
    wrong = {"plain": _ratio(parts[0] / parts.sum()), "root": _ratio(np.sqrt(share))}
    return {"answer": _ratio(share), "left": left, "whole": Q_(float(np.sqrt((parts**2).sum())), "Pa"), **wrong}


def none_failed(draws: int) -> dict:
    """How high a chance may still be where none of so many draws failed."""
    square = float(norm.ppf(0.5 + 0.5 * chance.CONFIDENCE) ** 2)
    return {
        "answer": _ratio(chance.wilson(0, draws)[1]),
        "shown": 100.0 * chance.wilson(0, draws)[1],
        "square": square,
        "most": MOST_PEOPLE,
        "needed": int(np.ceil(square / MOST_PEOPLE - square)),
        "nought": _ratio(0.0),
        "one": _ratio(1.0 / draws),
    }
