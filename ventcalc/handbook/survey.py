"""A survey of a vent that stands: the chapter's live controls, questions and checks; its plant is `hidden_plant`."""

from functools import partial
from typing import Any

import numpy as np
from scipy.stats import multivariate_normal

from ventcalc.checked import Check
from ventcalc.handbook import common_vent
from ventcalc.handbook.hidden_plant import PLANTED, as_drawn, asked, cause_name, conditions, lodge, lodge_vent, planted
from ventcalc.job import evidence, survey_file
from ventcalc.job.calibration import Calibration
from ventcalc.job.performance_test import instruments
from ventcalc.job.survey_causes import blockage_loss
from ventcalc.job.survey_file import ONE_SIGMA
from ventcalc.job.surveyed_vent import Read, joined
from ventcalc.job.suspect_readings import IN_WC_PER_MBAR
from ventcalc.show import survey_sheet
from ventcalc.show.axes import picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, paragraph, percents, slider, table
from ventcalc.show.plots import BLUE, INK, RUST, SIZE
from ventcalc.show.questions import load
from ventcalc.units import Q_, Quantity

# --- What the chapter stands on -------------------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """The vent's own sums: junctions, draft and friction of the chapter on the common vent."""
    return common_vent.checks()


def two_ways() -> tuple[float, float]:
    """Log density of three readings, which hang on two inputs in straight lines, by `evidence` and by scipy."""
    errors, slopes = np.array([0.4, 0.4, 1.2]), np.array([[2.0, 0.1], [1.5, -0.4], [0.2, 3.0]])
    gaps = np.array([[1.0, -0.5, 2.0]])
    ours = float(evidence.log_normal(gaps, evidence.spread_of(errors, slopes))[0])
    whole = np.diag(errors**2) + slopes @ slopes.T
    return ours, float(multivariate_normal(np.zeros(3), whole).logpdf(gaps[0]))


# --- Live controls --------------------------------------------------------------------------------------------------

CAUSES = PLANTED[1:]
FARTHEST = 40.0  # errors that the picture shows


def explorer(system: str) -> Panel:
    """What a cause does to every gauge in the lodge: which, how much of it, and what fires."""
    firing = [(survey_sheet.condition_words(c, lodge()), k) for k, c in enumerate(conditions())]
    controls = {
        "cause": choice("Cause", [(cause_name(*own), k) for k, own in enumerate(CAUSES)], 0),
        "extent": slider("How much of it", percents(range(0, 101, 10)), 0.5),
        "condition": choice("Fire", firing, len(firing) - 1),
    }
    return Panel(partial(explorer_answer, system), controls)


def explorer_answer(system: str, *, cause: int, extent: float, condition: int) -> tuple[str, bytes]:
    """Every reading in a condition as drawn and with a cause at a share ``extent`` of its spread."""
    vent, own, when = lodge_vent(), planted(*CAUSES[cause]), conditions()[condition]
    change = own.change(lodge(), own.value(np.array([extent])))
    solved = vent.solve(joined(vent.values(np.zeros((len(vent.inputs), 1)), formula=0.0), change), 1)
    rows, names, off = [], [], []
    for place, quantity in asked(when):
        read = Read(when, place, quantity)
        before, after = (float(s.read(read)[0]) for s in (as_drawn(), solved))
        error = ONE_SIGMA * float(instruments()[quantity].off(before))
        names.append(f"{survey_file.said(place)}, {quantity}")
        off.append((after - before) / error)
        shown = (survey_sheet.reading_number(quantity, v, system)["shown"] for v in (before, after))
        rows.append((names[-1], *shown, f"{off[-1]:+.1f}"))
    numbers = table(("read", "as drawn", "with the cause", "off, in its errors"), rows)
    if solved.spills(when)[0]:
        numbers += paragraph("Gas comes into the room in this condition: it is not read, the plant is shut down.")
    return numbers, picture(_signature(names, np.nan_to_num(off)))


def _signature(names: list[str], off: np.ndarray):
    """Bars of how far every reading moves, in errors of its instrument."""
    figure, (axes,) = row_of_axes(1, 0.32 * len(names) + 1.2)
    left = 0.42
    axes.set_position([left, *axes.get_position().bounds[1:2], 0.97 - left, axes.get_position().height])
    at = np.arange(len(names))[::-1]
    shown = np.clip(off, -FARTHEST, FARTHEST)
    axes.barh(at, shown, color=[BLUE if v < 0.0 else RUST for v in shown], height=0.6)
    for y, value, bar in zip(at, off, shown, strict=True):
        side = "left" if bar >= 0.0 else "right"
        axes.annotate(f"{value:+.1f}" if abs(value) < 100.0 else f"{value:+.0f}", (bar, y), (3 if bar >= 0.0 else -3, 0), textcoords="offset points", ha=side,
                      va="center", size=SIZE)  # fmt: skip
    plain(axes, "moved, in errors of its instrument", "")
    axes.set_yticks(at, names, size=SIZE)
    axes.axvline(0.0, color=INK, lw=0.8)
    axes.set_xlim(-1.6 * FARTHEST, 1.6 * FARTHEST)
    return figure


def chances_figure(surveys: list[tuple[str, Calibration]]):
    """Chances of the leading explanations after each of several surveys, side by side."""
    figure, every = row_of_axes(len(surveys), 2.6)
    leading = [members[0] for members, _ in surveys[0][1].groups[:4]]
    names = [survey_sheet.name(e) for e in leading]
    left, width = 0.42, (0.97 - 0.42 - 0.05 * (len(surveys) - 1)) / len(surveys)
    at = np.arange(len(names))[::-1]
    for k, (axes, (title, found)) in enumerate(zip(every, surveys, strict=True)):
        axes.set_position([left + k * (width + 0.05), 0.24, width, 0.60])
        by_code = {survey_sheet.name(e): chance for members, chance in found.groups for e in members}
        axes.barh(at, [100.0 * by_code.get(name, 0.0) for name in names], color=BLUE, height=0.6)
        plain(axes, "chance, %", "", title)
        axes.set_xlim(0.0, 100.0)
        axes.set_yticks(at, names if not k else [""] * len(names), size=SIZE)
    return figure


# --- Questions ------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("survey", (errors_off, two_causes, blocked_cap, wrong_unit), system, seed)


def errors_off(read: Quantity, drawn: Quantity, limit: Quantity) -> dict[str, Any]:
    """How far a reading is off, in standard deviations of an instrument that is off by no more than a limit."""
    off, sigma = (read - drawn).to("Pa"), limit.to("Pa") * ONE_SIGMA
    return {
        "answer": Q_(float((off / sigma).m_as("")), ""),
        "sigma": sigma,
        "off": off,
        "limits": Q_(float((off / limit).m_as("")), ""),
        "multiplied": Q_(float((off * ONE_SIGMA / limit).m_as("")), ""),
    }


def two_causes(often: float, seldom: float, near: float, far: float) -> dict[str, Any]:
    """Chance of the more frequent of two causes, from one reading that both foretell equally sharply."""
    likely = np.exp(-0.5 * np.array([near, far]) ** 2)
    joint = likely * np.array([often, seldom])
    shares = {"answer": joint, "reading_alone": likely, "prior_alone": np.array([often, seldom])}
    ratios = {name: Q_(float(v[0] / v.sum()), "") for name, v in shares.items()}
    swapped = likely[::-1] * np.array([often, seldom])
    return ratios | {"swapped": Q_(float(swapped[0] / swapped.sum()), ""), "first": joint[0], "second": joint[1]}


def blocked_cap(blocked: float, head: Quantity) -> dict[str, Any]:
    """Pressure that a blocked opening costs, by the velocity head of the whole one."""
    left = 1.0 - blocked
    loss = float(blockage_loss(np.array(blocked)))
    return {
        "answer": (loss * head).to("Pa"),
        "loss": loss,
        "left": left,
        "no_contraction": ((1.0 / left - 1.0) ** 2 * head).to("Pa"),
        "head_alone": ((1.0 / left) ** 2 * head).to("Pa"),
    }


def wrong_unit(written: float) -> dict[str, Any]:
    """The pressure that a gauge in mbar showed, whose number was written down as inches of water."""
    true = Q_(written, "mbar").to("Pa")
    return {
        "answer": true,
        "told": Q_(written, "inH2O"),
        "factor": IN_WC_PER_MBAR,
        "as_told": Q_(written, "inH2O").to("Pa"),
        "wrong_way": (true * IN_WC_PER_MBAR**2).to("Pa"),
    }
