"""A survey of a vent that stands: the chapter's live controls, questions and checks; its plant is `hidden_plant`."""

from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np
from IPython.display import HTML

from ventcalc.checked import Check
from ventcalc.handbook import common_vent
from ventcalc.handbook.hidden_plant import PLANTED, as_drawn, asked, cause_name, conditions, lodge, lodge_vent, planted
from ventcalc.job import survey_file, survey_plan
from ventcalc.job.changed_network import joined
from ventcalc.job.performance_test import FOOT, ONE_SIGMA, OUTLET, PRESSURE, TEMPERATURE, instruments
from ventcalc.job.survey import Condition, Place
from ventcalc.job.survey_causes import Cause, blockage_loss
from ventcalc.job.surveyed_vent import Read, Solved
from ventcalc.job.suspect_readings import IN_WC_PER_MBAR
from ventcalc.show import survey_form, survey_sheet
from ventcalc.show.axes import picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.panels import Panel, choice, paragraph, percents, slider, table
from ventcalc.show.plots import BLUE, INK, RUST, SIZE
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity

# --- What the chapter stands on -------------------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """The vent's own sums: junctions, draft and friction of the chapter on the common vent."""
    return common_vent.checks()


# --- Before anything is read ----------------------------------------------------------------------------------------


def form_words(system: str) -> tuple[str, HTML, str]:
    """What the form of the lodge's survey says first: its cautions, and what to bring about in which order."""
    form = survey_form.records(survey_plan.plan(lodge()), system)
    rows = [
        (s["number"], s["name"], "cold" if s["cold"] else "hot", len(s["readings"]), f"{s['minutes']} min")
        for s in form["steps"]
    ]
    steps = table(("", "condition", "stack", "readings", "takes"), rows)
    time = f"in all about {form['minutes']['all']} minutes, the first {form['minutes']['set_up']} to set up"
    return "\n".join(f"- {caution}" for caution in form["cautions"]), HTML(steps), time


def causes_words(causes: Sequence[Cause], told: int = 8) -> str:
    """How many causes a plant can have, of how many kinds, and some of them by name."""
    named = [cause_name(c.code, c.subject) for c in causes[:: max(len(causes) // told, 1)]]
    return f"{len(causes)} causes, of {len({c.code for c in causes})} kinds, such as: {'; '.join(named)}"


def asked_words(read: Read) -> str:
    """The reading that is asked for."""
    words = survey_sheet.condition_words(read.condition, lodge())
    return f"Read next the {read.quantity} at the {survey_file.said(read.place)}, with {words}."


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


def with_cause(cause: tuple[str, str], extents: np.ndarray) -> Solved:
    """The lodge with one cause (its code and subject) at shares ``extents`` of its spread, a variant for each."""
    vent, own = lodge_vent(), planted(*cause)
    drawn = vent.values(np.zeros((len(vent.inputs), extents.size)))
    return vent.solve(joined(drawn, own.change(lodge(), own.value(extents))), extents.size)


def explorer_answer(system: str, *, cause: int, extent: float, condition: int) -> tuple[str, bytes]:
    """Every reading in a condition as drawn and with a cause at a share ``extent`` of its spread."""
    solved, when = with_cause(CAUSES[cause], np.array([extent])), conditions()[condition]
    rows, names, off = [], [], []
    for place, quantity in asked(when):
        read = Read(when, place, quantity)
        before, after = (float(s.read(read)[0]) for s in (as_drawn(), solved))
        error = float(instruments()[quantity].deviation(after))
        names.append(f"{survey_file.said(place)}, {quantity}")
        off.append((after - before) / error)
        shown = (survey_sheet.reading_number(quantity, v, system)["shown"] for v in (before, after))
        rows.append((names[-1], *shown, f"{off[-1]:+.1f}"))
    numbers = table(("read", "as drawn", "with the cause", "moved by, in errors of its instrument"), rows)
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
        words, right = f"{value:+.1f}" if abs(value) < 100.0 else f"{value:+.0f}", bar >= 0.0
        where = {"xytext": (3 if right else -3, 0), "textcoords": "offset points", "ha": "left" if right else "right"}
        axes.annotate(words, (bar, y), va="center", size=SIZE, **where)
    plain(axes, "moved, in errors of its instrument", "")
    axes.set_yticks(at, names, size=SIZE)
    axes.axvline(0.0, color=INK, lw=0.8)
    axes.set_xlim(-1.6 * FARTHEST, 1.6 * FARTHEST)
    return figure


# --- Prediction, and what is to be written --------------------------------------------------------------------------

BLOCKED_END, BLOCKED_RUN = ("terminal_blocked", "top"), ("section_blocked", "long run")
# The readings to choose from, in the order of the choices.
PARTING = ((Place(OUTLET, "Boiler B"), PRESSURE), (Place(FOOT), PRESSURE), (Place(FOOT), TEMPERATURE))
END_EXTENT = 0.5  # of what is usually found: how far the end is blocked


def prediction(system: str = "US") -> Prediction:
    """Which reading the reader expects to tell a blocked end from a blocked run."""
    return predict("survey", parted, system)


def alike(when: Condition) -> tuple[Solved, Solved]:
    """The lodge with its end blocked, and with its long run blocked as far as the outlet of Boiler A reads the same."""
    one, outlet = with_cause(BLOCKED_END, np.array([END_EXTENT])), Read(when, Place(OUTLET, "Boiler A"), PRESSURE)
    extents = np.linspace(0.0, 1.0, 401)
    off = with_cause(BLOCKED_RUN, extents).read(outlet) - one.read(outlet)[0]
    return one, with_cause(BLOCKED_RUN, extents[[int(np.abs(off).argmin())]])


def parted() -> dict[str, Any]:
    """How far each reading of `PARTING` parts the two, in errors of its instrument; right is the farthest."""
    when = conditions()[-1]
    solved, errors = alike(when), []
    for place, quantity in PARTING:
        one, other = (float(s.read(Read(when, place, quantity))[0]) for s in solved)
        errors.append(abs(one - other) / float(instruments()[quantity].deviation(one)))
    end, run = (Q_(float(s.read(Read(when, Place(FOOT), PRESSURE))[0]), "Pa") for s in solved)
    told = zip(("outlet", "foot", "gas"), errors, strict=True)
    return {"right": int(np.argmax(errors)), "figure": abs(end - run), "end": end, "run": run, **dict(told)}


def writing(system: str = "US") -> Writing:
    """The chance of one of two causes, to be written by the reader."""
    return load_writing("survey", two_causes, system)


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


def two_causes(often: float, near: float, far: float, seldom: float = 1.0) -> dict[str, Any]:
    """Chance of the more frequent of two causes, from one reading that both foretell equally sharply."""
    likely = np.exp(-0.5 * np.array([near, far]) ** 2)
    joint = likely * np.array([often, seldom])
    shares = {"answer": joint, "reading_alone": likely, "prior_alone": np.array([often, seldom])}
    ratios = {name: Q_(float(v[0] / v.sum()), "") for name, v in shares.items()}
    swapped = likely[::-1] * np.array([often, seldom])
    plain = np.exp(-np.array([near, far])) * np.array([often, seldom])
    return ratios | {
        "swapped": Q_(float(swapped[0] / swapped.sum()), ""),
        "not_squared": Q_(float(plain[0] / plain.sum()), ""),
        "odds": Q_(float(joint[0] / joint[1]), ""),
        "first": joint[0],
        "second": joint[1],
    }


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
