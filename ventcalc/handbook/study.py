"""The study of a job: one study that the chapter reads, its tables, live controls for several jobs, questions."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import ipywidgets as widgets
from matplotlib.figure import Figure

from ventcalc import tables
from ventcalc.checked import Check, compare
from ventcalc.flow import fittings, friction, junctions, stack_effect
from ventcalc.handbook import common_vent
from ventcalc.handbook.common_vent import all_high_in_summer, draft_text, swim_hall
from ventcalc.job import findings, job_file, performance_test, record_judgement
from ventcalc.job import study as whole
from ventcalc.job.findings import Finding
from ventcalc.job.job_file import Job
from ventcalc.job.performance_test import GAUGE, KINDS, OUTLET, PRESSURE, UNITS, Expected, Place, Weather
from ventcalc.job.reading_verdicts import Judged
from ventcalc.job.record_judgement import JudgedRecord
from ventcalc.job.site_record import Reading, Record
from ventcalc.job.study import Study
from ventcalc.show import finding_records, path_plots, remedy_plots
from ventcalc.show.drawing import layout_drawing
from ventcalc.show.envelope_plot import envelopes
from ventcalc.show.exercises import Exercise
from ventcalc.show.page_one import page_one
from ventcalc.show.panels import Panel, choice, table, with_static_text
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import firing_states, outlet_envelope
from ventcalc.vent.layout import Plant
from ventcalc.vent.outlet_envelope import Envelope

# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """What the swimming hall's vent is made of: its cap and elbows, the friction factor, the junction, the draft."""
    right_angle = Q_(90.0, "degree")
    losses = {
        "L002": fittings.fitting("low-resistance cap").loss,
        "L008": fittings.fitting("elbow 90").loss,
        "L009": fittings.fitting("elbow 45").loss,
        "L060": friction.friction_factor(1e5, 1e-4),
        "L061": friction.friction_factor(1e5, 5e-3),
        "L086": junctions.branch_loss(0.5, 1.0, right_angle),
        "L087": junctions.run_loss(0.5, 1.0, right_angle),
    }
    draft = stack_effect.steam_book_draft(Q_(100.0, "ft"), Q_(14.7, "psi"), Q_(521.0, "degR"), Q_(961.0, "degR"))
    return compare("losses_checks", losses) + compare("draft_checks", {"D001": draft})


# --- The study ----------------------------------------------------------------------------------------------


@cache
def hall() -> Study:
    """The swimming hall as drawn and with the remedy that its file offers; takes seconds the first time.

    Without what the chapter looks at apart: its other remedies are compared in the chapter on remedies, and its
    alternates differ in their windows alone (`alternates_table`). Neither changes what is found here.
    """
    return whole.study(replace(swim_hall(), alternates=()), compare=False)


def appliances_table(job: Job, system: str) -> str:
    """What a job says of its appliances."""
    rows = [
        (
            a.name,
            a.category or "",
            f"{show(a.levels[-1].heat_input, system)} at {show(a.levels[-1].flue_temperature, system)}",
            _window(a.window, system),
            a.idle,
        )
        for a in job.plant.appliances
    ]
    return table(("appliance", "category", "highest level, flue gas", "window", "when off"), rows)


def _window(window: Sequence[Quantity], system: str) -> str:
    return " to ".join(show(edge, system, "draft") for edge in window)


def spoilt_file() -> tuple[str, ...]:
    """What is said of the hall's file with two faults in it: a unit left out, a key misspelled."""
    text = (tables.DATA / "jobs" / "swim_hall.toml").read_text(encoding="utf-8")
    spoilt = text.replace('altitude = "650 ft"', 'altitude = "650"').replace("purge_flow", "purge_flwo", 1)
    try:
        job_file.read(spoilt.encode(), "spoilt.toml")
    except job_file.JobError as error:
        return tuple(map(str, error.problems))
    return ()


def findings_table(found: Sequence[Finding], system: str) -> str:
    """Findings in their order, with weight, title and sentence."""
    rows = [(f.weight, f.title, findings.sentence(f, system)) for f in found]
    return table(("weight", "about", "what was found"), rows)


def alternates_table(found: Study, system: str) -> str:
    """The pressures of a study against the windows of the makes that the hall's file accepts besides."""
    rows = [
        (a.name, e.appliance, _window(a.window, system), draft_text(e.below, system), draft_text(e.above, system))
        for a in swim_hall().alternates
        for e in whole.alternate_envelopes(found, a)
    ]
    return table(("alternate", "in place of", "its window", "falls below it by", "rises above it by"), rows)


def pieces_drawing(system: str) -> Figure:
    """The hall's vent to scale, with a schedule of its pieces."""
    return layout_drawing(swim_hall().plant, system)


def envelopes_figure(system: str) -> Figure:
    """Between which pressures every outlet of the hall gets, beside its window."""
    return envelopes(hall(), system)


def pressure_paths(system: str) -> Figure:
    """Pressure along the vent from the first outlet, in the states in which it is lowest and highest."""
    found, first = hall(), hall().envelopes[0]
    return path_plots.pressure_path(found.scan, first.appliance, [first.low_state, first.high_state], system)


def temperature_path(system: str) -> Figure:
    """Temperature along the vent from the first outlet, in the state in which it is lowest."""
    found, first = hall(), hall().envelopes[0]
    return path_plots.temperature_path(found.scan, first.appliance, first.low_state, system)


def trial_figure(system: str) -> Figure:
    """The start of the remedy offered, in the season in which it goes worst."""
    return remedy_plots.trial(hall().offered.trial, system)


def page_one_words(system: str) -> str:
    """What page one of the hall's report says first: the verdict, what speaks against the vent as drawn, the remedy."""
    told, verdict = page_one(hall(), system), finding_records.verdict(hall())
    against = [f"{row['weight']}: {row['title']}. {row['subjects']}" for row in told["against"]]
    return "\n".join([verdict["sentence"], *against, *finding_records.remedy_verdicts(verdict)])


# --- Live controls ------------------------------------------------------------------------------------------

JOBS = {  # by name their files in data/jobs
    "Swimming hall": "swim_hall",
    "School": "school",
    "Mountain lodge": "lodge",
    "Laundry": "laundry",
    "Condensing row": "condensing_row",
    "Masonry retrofit": "masonry_retrofit",
}


@cache
def _job(key: str) -> Job:
    return job_file.demonstration(key)


class Jobs(widgets.VBox):
    """The controls of `common_vent.explorer` for one of `JOBS`, which is chosen above them.

    A job with a fan that stands there is none of them: these controls know of none, and would show the vent without it.
    """

    def __init__(self, system: str):
        self.system = system
        self.job = choice("Job", JOBS.items(), next(iter(JOBS.values())))
        self.job.style.description_width = "initial"
        super().__init__([self.job, self._panel()])
        self.job.observe(self._choose, names="value")

    @property
    def panel(self) -> Panel:
        """The controls of the job chosen."""
        return self.children[1]

    def _panel(self) -> Panel:
        chosen = _job(self.job.value)
        return common_vent.explorer(self.system, chosen.plant, chosen.seasons)

    def _choose(self, _change: Any) -> None:
        before = self.panel
        self.children = (self.job, self._panel())
        before.close()

    def take_over(self, before: "Jobs") -> None:
        """Go on from the same job and controls in the other unit system."""
        self.job.value = before.job.value
        self.panel.take_over(before.panel)

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        shown = self.panel._repr_mimebundle_(**kwargs)
        return with_static_text(super()._repr_mimebundle_(**kwargs), shown["text/plain"], shown["text/html"])


def explorer(system: str) -> Jobs:
    """The live controls of the chapter; at first the swimming hall's."""
    return Jobs(system)


# --- Prediction, and what is to be written ------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of where flue gas enters the room."""
    return predict("study", into_the_room, system)


def into_the_room(system: str) -> dict[str, Any]:
    """Through which appliance most flue gas enters the room of the hall, and what that one does then."""
    found = hall()
    enters = [r for r in found.reversals if r.dangerous]
    if not enters:
        return {"right": 0, "figure": Q_(0.0, "kg/s"), "boiler": "", "state": "", "times": 0, "states": 0}
    worst = max(enters, key=lambda r: r.flue_gas)
    return {
        "right": 2 if worst.kind == "idle" else 1,
        "figure": Q_(worst.flue_gas, "kg/s"),
        "boiler": worst.appliance,
        "state": found.scan.describe(worst.state, system),
        "times": found.outcome.gas_in_room,
        "states": len(found.scan.conditions),
    }


def writing(system: str = "US") -> Writing:
    """The margin of an outlet, to be written by the reader."""
    return load_writing("study", the_margin, system)


def the_margin(lowest: Quantity, highest: Quantity, low: Quantity, high: Quantity) -> dict[str, Quantity]:
    """The margin of an outlet in its window `low` to `high`, and what it becomes by the slips that are made with it."""
    pressures, window = ([float(p.m_as("Pa")) for p in pair] for pair in ((lowest, highest), (low, high)))
    answer = Q_(Envelope("", *pressures, 0, 0, tuple(window)).margin, "Pa")
    below, above = lowest - low, high - highest
    return {
        "answer": answer,
        "larger": max(below, above),
        "above": above,
        "below": below,
        "as_excess": -answer,
    }


# --- A record from site ---------------------------------------------------------------------------------------

COOL_DAY = Weather(Q_(40.0, "degF"), Q_(70.0, "degF"))
GAUGE_OFF = Q_(-0.02, "inH2O")


def spoilt_record(found: Study, weather: Weather = COOL_DAY) -> Record:
    """An invented record of a study's sheet with three errors planted in what was expected.

    At the last appliance the gauge's tubes are swapped, the gauge at the header reads `GAUGE_OFF` too low, and with all
    at their highest the first appliance stays at its lowest.
    """
    rows = performance_test.expected(found, weather)
    plant = performance_test.design(found).job.plant
    first, last = Place(OUTLET, plant.appliances[0].name), Place(OUTLET, plant.appliances[-1].name)
    at_lowest = {e.asked.quantity: e.value for e in rows if e.asked.place == first and _all_at(e, plant, 0)}

    def read(e: Expected) -> float:
        if e.asked.quantity == PRESSURE:
            off = float(GAUGE_OFF.m_as("Pa")) if e.asked.place == Place(GAUGE) else 0.0
            return -e.value if e.asked.place == last else e.value + off
        return at_lowest[e.asked.quantity] if e.asked.place == first and _all_at(e, plant, -1) else e.value

    return Record(weather, {e.asked.key: Reading(read(e), line) for line, e in enumerate(rows, 2)})


def _all_at(e: Expected, plant: Plant, level: int) -> bool:
    """Whether a line is read with all appliances at a level: 0 their lowest, -1 their highest."""
    return e.asked.condition.levels == tuple(a.levels[level].name for a in plant.appliances)


@cache
def judged() -> JudgedRecord:
    """The spoilt record of the hall, read back."""
    return record_judgement.judge(hall(), spoilt_record(hall()))


FIRST_CONDITIONS = 2  # that are printed


def record_table(found: JudgedRecord, system: str) -> str:
    """The first lines of a record: what was expected, with its band, what was read, and the verdict of it."""
    told = tuple(dict.fromkeys(line.expected.asked.condition.name for line in found.lines))[:FIRST_CONDITIONS]
    rows = [_record_row(line, system) for line in found.lines if line.expected.asked.condition.name in told]
    return table(("condition", "place", "quantity", "expected", "read", "verdict"), rows)


def _record_row(line: Judged, system: str) -> tuple[str, ...]:
    what, unit = line.expected.asked.quantity, UNITS[line.expected.asked.quantity]
    expected, read = (show(Q_(v, unit), system, KINDS[what]) for v in (line.expected.value, line.reading.value))
    band = (line.expected.band, "delta_degC", None) if unit == "K" else (line.expected.band, unit, KINDS[what])
    within = show(Q_(*band[:2]), system, *filter(None, band[2:]))
    return (*line.expected.asked.key, f"{expected} ± {within}", read, line.verdict)


# --- Questions, all on the swimming hall ----------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("study", (lacking, alternate, wider, at_rest), system, seed)


def lacking(set_point: Quantity, system: str) -> dict[str, Any]:
    """The draft that is lacking at the end of the header."""
    found = hall()
    highest = Q_(found.header[1], "Pa")
    state = found.scan.describe(found.header_states[1], system)
    return {"answer": (highest - set_point).to("Pa"), "highest": highest, "state": state}


def alternate(name: str, boiler: str) -> dict[str, Any]:
    """How far the outlet of a boiler in another's place stands above its window."""
    found = hall()
    low, high = next(a for a in swim_hall().alternates if a.name == name).window
    own = next(e for e in found.envelopes if e.appliance == boiler)
    pressure = Q_(own.high, "Pa")
    told = {
        "low": low,
        "high": high,
        "pressure": pressure,
        "specified": Q_(own.above, "Pa"),
        "swing": Q_(own.swing, "Pa"),
    }
    return {"answer": pressure - high, **told}


def wider(diameter: Quantity, system: str) -> dict[str, Any]:
    """The highest outlet pressure with a wider header and stack."""
    found, as_drawn = hall(), hall().envelopes[0]
    plant, seasons = found.job.plant, found.job.seasons
    sections = tuple(s if s.name in plant.feeds else replace(s, diameter=diameter) for s in plant.sections)
    wide = replace(plant, sections=sections)
    scan = firing_states.scan(wide, seasons)
    now = outlet_envelope.envelopes(scan)[0]
    return {
        "answer": Q_(now.high, "Pa"),
        "drawn": plant.section("stack").diameter,
        "as_drawn": Q_(as_drawn.high, "Pa"),
        "edge": Q_(as_drawn.window[1], "Pa"),
        "lowest": Q_(now.low, "Pa"),
        "all_high": all_high_in_summer(wide, seasons),
        "state": scan.describe(now.high_state, system),
    }


@cache
def hall_as_drawn() -> Study:
    """The hall without the remedy that its file offers."""
    return replace(hall(), offered=None)


def at_rest(outdoor: Quantity, room: Quantity) -> dict[str, Any]:
    """What a gauge at the end of the header should show with all boilers off, on a day and on that of the sheet."""
    drawn = hall_as_drawn()
    printed = performance_test.likely_weather(drawn.job)
    shown, sheet = (
        next(Q_(e.value, "Pa") for e in performance_test.expected(drawn, day) if e.asked.place == Place(GAUGE))
        for day in (Weather(outdoor, room), printed)
    )
    return {"answer": shown, "printed": printed.outdoor, "sheet": sheet, "pushed": -shown}
