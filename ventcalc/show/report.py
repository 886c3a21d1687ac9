"""Report: a study as one HTML page, as a file of numbers, and where wanted as a PDF.

``report.html`` stands alone: pictures and style are inside it, nothing is fetched, no script runs. It is made
from the same `results` that go into ``results.json``, so that the two cannot disagree.

``results.json``, schema 1. A number with a unit is ``{"value": plain SI number or null, "unit": its unit,
"shown": text in the chosen unit system}``; pressures are gauge, as ``convention`` says; a state is ``{"index",
"words", "appliances": {name: what it does}, "season", "cold_stack", "wind"}``. Keys:

- ``schema``, ``version`` of the library, ``date``, ``system`` ("US" or "SI"), ``convention``
- ``job``: ``name``, ``note``, ``text`` of the whole input file, its ``sha256``, ``defaults`` used
- ``verdict``: ``buildable``, ``sentence``, numbers of findings by weight: ``people`` and ``faults``
- ``findings``: ``code``, ``weight`` (people, fault, note), ``title``, ``subjects``, ``sentence``, ``todo``, ``rule``;
  the gravest first
- ``scan``: conditions ``solved`` and ``possible``, ``complete``, ``running`` (anything runs), ``outside`` (some running
  outlet outside its window), ``gas_in_room``, ``unsolved`` states with their residual, ``restless_count`` of them
- ``outlets``: per appliance ``window``, ``low`` and ``high`` pressure with their states, ``swing``, ``margin``,
  ``below`` and ``above`` the window, ``outside`` of ``running`` states, ``verdict``
- ``reversals``: gas that flows back into the room: ``appliance``, ``kind``, ``flow`` of all of it and ``flue_gas`` (0:
  air of a purge alone), ``state``, number of ``states``
- ``load_changes``: per appliance what starts, turn-downs and stops bring in time: ``low`` and ``high`` pressure, when
  and in which change, the same ``at_rest``, how long ``below_for`` and ``above_for`` the window, gas ``spilled`` and
  for how long, whether it is ``still_spilling`` at the end, ``spill_change``
- ``header``: ``place``, ``section``, ``low`` and ``high`` with their states, ``set_point``, ``lacking``, ``excess``
- ``remedies``: every one that was looked at, the one to prefer first: ``name``, ``words``, ``cured``, titles of what
  speaks ``against`` it where it was judged whole, ``margin``,
  states ``outside``, ``gas_in_room``, ``unheld`` and ``unsettled`` of ``states``, ``devices``, ``reasons``
- ``left_out``: remedies that do not apply, ``name`` and ``why``
- ``offered``: null, or of the remedy that the job names what stands in ``remedies`` and ``verdict``, ``findings``,
  ``outlets``, ``alternates``, ``header`` as above, what must be ``listed``, ``duty`` of its fan and position of its
  damper by season, ``sheet`` (set-up: ``kind``, ``name``, ``value``, ``why``, ``source``, ``status``),
  ``tries`` (what, leads to), ``trial`` (a start in time), ``starts`` in every order and season, ``failures`` (the worst
  of every kind); ``impossible``: why it cannot be built
- ``around``: ``terminals`` (each with every rule's ``findings``, its ``least`` height and that ``with_fan``), ``air``
  (rules on the room's air), ``exhausts`` (what they do, and what would cure it), ``plumes`` (exhaust that comes to an
  intake), ``spills`` (what flue gas in the room
  leads to); empty where the job tells nothing of it
- ``alternates``: ``name`` and ``outlets`` as above; ``exchanged``: those that bring an appliance of their own or take
  one away, with ``name``, ``verdict``, ``findings`` and ``outlets``; ``set_points``: null, or the header pressures that
  serve each of the ``makes``, ``low`` and ``high`` of what serves all, ``serves_all``
- ``sections``: dimensions, ``material``, ``velocity``, ``gas``, ``pressure`` (lowest, highest), ``wall`` and
  ``dew_point`` in ``wall_state``, ``wet_share``, ``condensate`` at its
  most, the same for a day of it, ``ice``, ratings, ``objections``, ``verdict``
- ``appliances``: ``category``, ``kind``, ``idle``, dimensions, ``levels`` with ``heat_input``, ``flow``
  (lowest, highest over the seasons), ``co2_dry``, ``o2_dry``, ``excess_air``, ``flue_temperature``
- ``site``: ``altitude``, ``barometric_pressure``, ``air_opening_height``
- ``seasons``, ``runs`` (``equivalent`` length, ``allowed``, ``verdict``), ``terminations``
- ``assumptions``, ``not_checked``, ``sources``, ``cautions``: sentences
"""

import base64
import datetime
import json
import math
import os
import secrets
import shutil
import signal
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from ventcalc import __version__
from ventcalc.building import carbon_monoxide, clearances, combustion_air, re_entrainment
from ventcalc.draft import fans, sensor_location, start_sequence
from ventcalc.draft.load_changes import Passage
from ventcalc.flow import heat_loss, materials
from ventcalc.gas import combustion
from ventcalc.gas.appliance import CATEGORIES, Appliance
from ventcalc.job import derived_limits, failures, findings, remedy_words
from ventcalc.job import study as studies
from ventcalc.job.device_duty import MOTOR_EFFICIENCY
from ventcalc.job.job_file import Alternate
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.run_record import Passed
from ventcalc.job.study import Study
from ventcalc.job.vent_findings import objections
from ventcalc.show import change_plots, plots, remedy_plots, roof_drawing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import firing_states, network
from ventcalc.vent.firing_states import Envelope, Extremes
from ventcalc.vent.layout import Plant, Section

SCHEMA = 1
PDF_PATIENCE = 60.0  # s
MOST_NAMED = 40  # unsolved states named one by one
PAPER = {"US": "letter", "SI": "A4"}

CONVENTION = (
    "Pressures are gauge, against the boiler room at the same height; negative is draft. Two exceptions, named where "
    "they stand: pressures along a path are against outdoor air at the same height, and a section outdoors is "
    "judged against the outdoor air around it."
)

ASSUMPTIONS = (
    "States of the scan are steady. A hot stack has come to rest. A cold one has walls still at the temperature of "
    "their surroundings, and gas that has filled it: what a start comes to 10 to 40 s after light-off. What comes "
    "before, and what a turn-down does, no steady state bounds: usual starts, turn-downs and stops are followed in "
    "time, in calm, from idle or from a hot stack at rest; others may be worse.",
    "Room air is outdoor air warmed; it carries the same moisture. Room and outdoors differ by the stated room "
    "pressure at the height of the combustion-air opening, and above it by the weight of the two airs.",
    "Wind is judged twice, against the vent and with it: on the termination as its place lets it, and on the walls of "
    "the room as its openings face, in pairs that one wind can make. In the start in time it acts on the cap alone.",
    "Water settles on a wall below the dew point by the analogy of heat and mass transfer, warms it, and drains at the "
    "lower end of its section; where it runs back over warmer wall, what dries there is worked out afterwards and does "
    "not cool the gas. What the gas cannot hold stays in it as fog. Ice that grows on a wall does not narrow it.",
    f"Outside films: {heat_loss.STILL_ROOM_FILM:g} W/(m²·K) in the room, {heat_loss.OUTDOOR_FILM:g} W/(m²·K) outdoors.",
    "The outlet pressure of a draft hood or a barometric draft control is that of the vent just past it, with the room "
    "air it draws.",
    "A vent with an open hood or a leaking appliance can come to rest in two ways, drawing or running backward, by "
    "what was before. Both are looked for, from hot, from rest and from idle, and the worse counts; with several such "
    "ways in at once it is not proved that none was missed.",
    f"Changes of size are cones of {network.SIZE_CHANGE_ANGLE:g} degrees.",
    "A coefficient of loss, a wall or a film may be off by a quarter; the margins here are those of the mean.",
    "Fans and dampers of remedies are those of this library's own tables, invented for demonstration: they say what "
    "size and kind would do. What is bought is to be checked by its own curve in the same form.",
    f"Yearly energy of a fan: the mean over all calm states with a hot stack, each as likely as the next, over "
    f"{MOTOR_EFFICIENCY:.0%} for motor and drive, for the hours of the job file. It compares; it does not forecast.",
    "Controls at rest are ideal: they bring their sensor to its set point wherever their devices can. How they get "
    "there is shown for one start; sensor and limits stand at the end of the header.",
)

NOT_CHECKED = (
    "clearances of the vent to combustibles along its way",
    "supports, expansion, access and drains",
    "electrical interlocks, and controls beyond what is shown here",
    "the adopted code and the appliances' instructions, beyond what the job file states",
)


@dataclass(frozen=True)
class Written:
    """What `write` left: the ``page``, the ``numbers`` and the ``pdf`` (None where none was made)."""

    page: Path
    numbers: Path
    pdf: Path | None


def write(study: Study, out_dir: str | Path, system: str = "US", pdf: bool = False) -> Written:
    """Write report.html and results.json, and report.pdf where wanted and a Chromium is found, into a folder.

    Everything is made beside the folder first and moved into place when it is whole. Other files in the
    folder stay; a report.pdf of an earlier study does not. Raises OSError where the folder cannot be written.
    """
    out = Path(out_dir)
    if out.exists() and not out.is_dir():
        raise NotADirectoryError(f"{out} is not a folder")
    out.absolute().parent.mkdir(parents=True, exist_ok=True)
    making = out.absolute().parent / f".{out.absolute().name}-{secrets.token_hex(6)}"
    making.mkdir()
    try:
        found = results(study, system)
        pictures = figures(study, system)
        (making / "results.json").write_text(
            json.dumps(found, indent=1, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
        )
        (making / "report.html").write_text(page(found, pictures), encoding="utf-8")
        printed = pdf and print_pdf(page(found, pictures, PAPER[system]), making / "report.pdf")
        _move(making, out)
    finally:
        shutil.rmtree(making, ignore_errors=True)
    return Written(out / "report.html", out / "results.json", out / "report.pdf" if printed else None)


def _move(making: Path, out: Path) -> None:
    """Put the finished files in place: the whole folder at once where it is new, else file by file."""
    if not out.exists():
        making.rename(out)
        return
    (out / "report.pdf").unlink(missing_ok=True)
    for file in making.iterdir():
        os.replace(file, out / file.name)


# --- The numbers ------------------------------------------------------------------------------------------


def results(study: Study, system: str = "US") -> dict[str, Any]:
    """Everything the report says, as plain data for JSON; the schema stands at the top of this module."""
    say = _Say(study, system)
    return {
        "schema": SCHEMA,
        "version": __version__,
        "date": datetime.date.today().isoformat(),
        "system": system,
        "convention": CONVENTION,
        "job": {
            "name": study.job.name,
            "note": study.job.note,
            "text": study.job.text,
            "sha256": study.job.digest,
            "defaults": list(study.job.defaults),
        },
        "verdict": verdict(study),
        "findings": say.findings(),
        "scan": say.scan(),
        "outlets": [say.outlet(e) for e in study.envelopes],
        "reversals": say.reversals(),
        "load_changes": say.load_changes(),
        "header": say.header(),
        "remedies": [say.remedy(o) for o in study.outcomes],
        "left_out": _left_out(study),
        "offered": say.offered(),
        "alternates": [say.alternate(a) for a in study.job.alternates],
        "exchanged": [say.exchanged(s) for s in study.exchanged],
        "set_points": say.set_points(),
        "sections": say.sections(),
        "appliances": [say.appliance(i) for i in range(len(study.job.plant.appliances))],
        "seasons": say.seasons(),
        "runs": say.runs(),
        "terminations": [{"name": t.name, "cap": t.cap} for t in study.job.plant.terminations],
        "site": {
            "altitude": say.of(study.job.plant.altitude, "height"),
            "barometric_pressure": say.number(study.scan.solution.barometric, "Pa", "barometric pressure"),
            "air_opening_height": say.of(study.job.plant.opening_height, "height"),
        },
        "assumptions": list(ASSUMPTIONS),
        "not_checked": [*_untold(study), *NOT_CHECKED],
        "around": say.around(),
        "sources": list(studies.sources(study)),
        "cautions": list(studies.CAUTIONS),
    }


def _left_out(study: Study) -> list[dict[str, str]]:
    """The remedies that do not apply, where remedies were looked at at all."""
    return [{"name": name, "why": why} for name, why in remedy_words.left_out(study.job)] if study.outcomes else []


def _untold(study: Study) -> list[str]:
    """What was not checked because the job file tells nothing of it."""
    job = study.job
    parts = (
        (job.roof, "clearances of the termination to roof, openings and intakes ([roof])"),
        (job.room, "combustion-air openings and make-up air ([room])"),
        (job.emissions, "exhaust that reaches an air intake ([emissions], [roof])"),
        (job.carbon_monoxide, "build-up of carbon monoxide in the room ([carbon_monoxide])"),
    )
    found = [f"{words}: the job file tells nothing of it" for told, words in parts if told is None]
    if study.scan.states.windy.any() and not job.plant.exposure.told:
        found.append(
            "the wind that this room sees: the job file does not tell which way its openings face (side), so the "
            "lowest and the highest of all walls were taken"
        )
    return found


def verdict(study: Study) -> dict[str, Any]:
    """Whether it is safe to build as drawn, in one sentence."""
    people, faults = (len(study.judgement.of_weight(weight)) for weight in findings.AGAINST)
    were = "was" if people + faults == 1 else "were"
    if people:
        sentence = f"No, it is not safe to build as drawn: {_against(study)} {were} found."
    elif faults:
        sentence = f"No, it should not be built as drawn: {_against(study)} {were} found."
    else:
        sentence = "Nothing that was checked speaks against building it as drawn."
    found = {"buildable": study.buildable, "sentence": sentence, "people": people, "faults": faults}
    return found | {"offered": _offered_verdict(study)}


def _against(study: Study) -> str:
    """How many findings of each weight speak against a design, in words."""
    counts = (
        (len(study.judgement.of_weight(w)), word) for w, word in zip(findings.AGAINST, _WEIGHT_WORDS, strict=True)
    )
    return " and ".join(_count(n, word) for n, word in counts if n)


_WEIGHT_WORDS = ("danger to people", "fault")


def _offered_verdict(study: Study) -> str:
    """What can be said of the remedy offered, in one sentence; empty where the job names none."""
    if study.impossible:
        return study.impossible
    if study.offered is None:
        return ""
    name = study.offered.outcome.remedy.name
    if study.offered.buildable:
        return f"With the remedy offered ({name}): nothing that was checked speaks against it."
    remain = "remains" if len(study.offered.judgement.against) == 1 else "remain"
    return f"With the remedy offered ({name}): {_against(study.offered)} {remain}."


def _count(number: int, word: str) -> str:
    first, _, rest = word.partition(" ")
    return f"{number} {first if number == 1 else first + 's'}{' ' + rest if rest else ''}"


@dataclass(frozen=True)
class _Say:
    """Turns parts of a study into plain data, numbers shown in one unit system."""

    study: Study
    system: str

    def number(self, value: float | None, unit: str, kind: str) -> dict[str, Any]:
        """A plain number of an SI unit with how it is shown; null where there is none."""
        if value is None or not math.isfinite(value):
            return {"value": None, "unit": unit, "shown": "–"}
        return {"value": float(value), "unit": unit, "shown": show(Q_(float(value), unit), self.system, kind)}

    def of(self, quantity: Quantity, kind: str) -> dict[str, Any]:
        """A quantity as `number`."""
        unit = _SI_UNIT[kind]
        return self.number(float(quantity.m_as(unit)), unit, kind)

    def pressure(self, value: float) -> dict[str, Any]:
        return self.number(value, "Pa", "draft")

    def temperature(self, value: float) -> dict[str, Any]:
        return self.number(value, "K", "temperature")

    def state(self, index: int) -> dict[str, Any]:
        scan = self.study.scan
        states = scan.states
        doing = {a.name: a.states[c] for a, c in zip(scan.plant.appliances, states.codes[:, index], strict=True)}
        return {
            "index": int(index),
            "words": scan.describe(index, self.system),
            "appliances": doing,
            "season": scan.seasons[states.season[index]].name,
            "cold_stack": bool(states.cold[index]),
            "wind": bool(states.windy[index]),
        }

    def findings(self) -> list[dict[str, Any]]:
        """What was found, the gravest first."""
        return [
            {
                "code": f.code,
                "weight": f.weight,
                "title": f.title,
                "subjects": list(f.subjects),
                "sentence": findings.sentence(f, self.system),
                "todo": f.todo,
                "rule": f.rule,
            }
            for f in self.study.judgement.findings
        ]

    def scan(self) -> dict[str, Any]:
        scan = self.study.scan
        unsolved = np.flatnonzero(~scan.solution.converged)
        unsolved = unsolved[np.unique(scan.condition[unsolved], return_index=True)[1]]  # one column a condition
        return {
            "solved": len(scan.conditions),
            "possible": scan.possible,
            "complete": scan.complete,
            "running": scan.count(scan.any_running),
            "outside": scan.count(firing_states.outside_window(scan).any(axis=0)),
            "gas_in_room": scan.count(firing_states.gas_in_room(scan).any(axis=0)),
            "unsolved_count": int(unsolved.size),
            "restless_count": scan.count(scan.restless),
            "unsolved": [
                {"state": self.state(s), "residual": self.pressure(scan.solution.residual[s])}
                for s in unsolved[:MOST_NAMED]
            ],
        }

    def outlet(self, e: Envelope) -> dict[str, Any]:
        scan = self.study.scan
        i = [a.name for a in scan.plant.appliances].index(e.appliance)
        outside = firing_states.outside_window(scan)[i]
        told = [
            f"{how} by {show(Q_(v, 'Pa'), self.system, 'draft')}"
            for how, v in (("falls below it", e.below), ("rises above it", e.above))
            if v > 0.0
        ]
        return {
            "appliance": e.appliance,
            "window": [self.pressure(w) for w in e.window],
            "low": self.pressure(e.low),
            "low_state": self.state(e.low_state),
            "high": self.pressure(e.high),
            "high_state": self.state(e.high_state),
            "swing": self.pressure(e.swing),
            "margin": self.pressure(e.margin),
            "below": self.pressure(e.below),
            "above": self.pressure(e.above),
            "running": scan.count(scan.running(i)),
            "outside": scan.count(outside),
            "inside": not told,
            "verdict": " and ".join(told) if told else "stays inside",
        }

    def reversals(self) -> list[dict[str, Any]]:
        return [
            {
                "appliance": r.appliance,
                "kind": r.kind,
                "flow": self.number(r.flow, "kg/s", "mass flow"),
                "flue_gas": self.number(r.flue_gas, "kg/s", "mass flow"),
                "state": self.state(r.state),
                "states": r.states if r.dangerous else r.most_states,
            }
            for r in self.study.reversals
        ]

    def load_changes(self) -> list[dict[str, Any]]:
        """What every outlet meets in starts, turn-downs and stops, in time."""
        return [self._passage(p, e) for p, e in zip(self.study.passages, self.study.envelopes, strict=False)]

    def _passage(self, p: Passage, e: Envelope) -> dict[str, Any]:
        change = self.study.changes.describe
        return {
            "appliance": p.appliance,
            "low": self.pressure(p.low),
            "low_at": self.number(p.low_at, "s", "time"),
            "low_change": change(p.low_change),
            "high": self.pressure(p.high),
            "high_at": self.number(p.high_at, "s", "time"),
            "high_change": change(p.high_change),
            "low_at_rest": self.pressure(e.low),
            "high_at_rest": self.pressure(e.high),
            "below_for": self.number(p.below, "s", "time"),
            "above_for": self.number(p.above, "s", "time"),
            "spilled": self.number(p.spilled, "kg", "mass"),
            "spilling_for": self.number(p.spilling, "s", "time"),
            "still_spilling": p.still > 0.0,
            "spill_change": change(p.spill_change),
        }

    def header(self) -> dict[str, Any]:
        study, common = self.study, len(self.study.job.plant.appliances) > 1
        found = {
            "place": "end of the header" if common else "beginning of the run",
            "section": firing_states.far_end(study.job.plant),
            "common": common,
            "low": self.pressure(study.header[0]),
            "low_state": self.state(study.header_states[0]),
            "high": self.pressure(study.header[1]),
            "high_state": self.state(study.header_states[1]),
        }
        if common:  # a set point belongs to a header that is held at a pressure
            found |= {
                "set_point": self.of(study.job.set_point, "draft"),
                "lacking": self.pressure(study.lacking),
                "excess": self.pressure(study.excess),
            }
        return found

    def remedy(self, o: Outcome) -> dict[str, Any]:
        """One remedy of the comparison."""
        return {
            "name": o.remedy.name,
            "words": remedy_words.words(o.remedy, self.system),
            "cured": o.cured,
            "against": list(dict.fromkeys(f.title for f in o.judgement.against)) if o.judgement else [],
            "margin": self.pressure(o.margin),
            "states": len(o.scan.conditions),
            "everywhere": o.everywhere,
            "outside": o.outside,
            "gas_in_room": o.gas_in_room,
            "unheld": o.unheld,
            "unsettled": o.unsettled,
            "devices": list(remedy_words.devices(o.remedy)),
            "energy": None if o.duty is None else self.number(o.duty.yearly, "J", "energy"),
            "reasons": list(remedy_words.reasons(o, self.system)),
        }

    def offered(self) -> dict[str, Any] | None:
        """The remedy that the job names: what it is, what it leaves, how it is set."""
        with_it = self.study.offered
        if with_it is None:
            return {"impossible": self.study.impossible} if self.study.impossible else None
        o, say = with_it.outcome, _Say(with_it, self.system)
        sheet = []
        if with_it.tried is not None:
            why = derived_limits.reasons(with_it.tried.limits, self.system)
            sheet = start_sequence.startup_sheet(with_it.trial.settings, self.system, why)
        return {
            "impossible": "",
            **self.remedy(o),
            "verdict": verdict(with_it),
            "findings": say.findings(),
            "outlets": [say.outlet(e) for e in with_it.envelopes],
            "alternates": [say.alternate(a) for a in with_it.job.alternates],
            "header": say.header(),
            "listed": list(remedy_words.listed(o.remedy, self.system)),
            "duty": [say.duty(season) for season in range(len(with_it.job.seasons))],
            "sheet": [
                {
                    "kind": row.kind,
                    "name": row.name,
                    "value": start_sequence.shown(row.value, self.system),
                    "why": row.why,
                    "source": row.source,
                    "status": row.status,
                }
                for row in sheet
            ],
            "tries": [{"what": what, "leads_to": end} for what, end in start_sequence.trials()] if sheet else [],
            "tap": sensor_location.taps(o.remedy.plant)[0].name,
            "trial": say.trial(),
            "starts": say.starts(),
            "failures": say.failing(),
        }

    def duty(self, season: int) -> dict[str, Any]:
        """What fan and damper do over the states of one season, lowest to highest."""
        o = self.study.outcome
        here = o.scan.states.season == season
        found: dict[str, Any] = {
            "season": o.scan.seasons[season].name,
            "states": o.scan.count(here & o.scan.any_running),
        }
        if o.duty is not None:
            pick = here[o.duty.states]
            for name, unit, kind in (
                ("flow", "m**3/s", "volume flow"), ("static", "Pa", "draft"), ("temperature", "K", "temperature"),
                ("speed", "dimensionless", "ratio"),
            ):  # fmt: skip
                values = getattr(o.duty, name)[pick]
                found[name] = [self.number(float(v), unit, kind) for v in (values.min(), values.max())]
            most = float(o.duty.power[pick].max())
            found["power"] = {"value": most, "unit": "W", "shown": fans.power_text(most, self.system)}
        if o.position is not None:
            values = o.position[here & np.isfinite(o.position)]
            found["position"] = [self.number(float(v), "dimensionless", "ratio") for v in (values.min(), values.max())]
        return found

    def trial(self) -> dict[str, Any] | None:
        """A start in time: what the header saw, and what tripped."""
        run = self.study.trial
        if run is None:
            return None
        low, high = run.span(run.released)
        return {
            "season": run.season,
            "tuned": run.tuned,
            "lasts": self.number(run.timeline.until, "s", "time"),
            "low": self.pressure(low),
            "high": self.pressure(high),
            "runs": run.ends_in_run,
            "outside": [
                {"appliance": name, "lasts": self.number(lasts, "s", "time"), "beyond": self.pressure(beyond)}
                for name, lasts, beyond in run.outside(self.study.job.plant)
            ],
            "trips": [
                {"at": self.number(t.at, "s", "time"), "where": t.where, "pressure": self.pressure(t.pressure)}
                for t in run.trace.trips
            ],
        }

    def starts(self) -> list[dict[str, Any]]:
        """What every start in every season brings."""
        return [
            {
                "season": s.season,
                "order": list(s.order),
                "lasts": self.number(s.lasts, "s", "time"),
                "header": [self.pressure(p) for p in s.header],
                "outlets": [self._met(o) for o in s.outlets],
                "stopped_by": [{"event": a.event, "at": self.number(a.at, "s", "time")} for a in s.acts],
            }
            for s in (self.study.tried.starts if self.study.tried else ())
        ]

    def failing(self) -> list[dict[str, Any]]:
        """The worst failure of every kind: what would see it, and what an outlet meets until then."""
        tried = self.study.tried
        worst = (tried.worst(case) for case in failures.CASES) if tried else ()
        return [
            {
                "case": f.case.replace("_", " "),
                "appliance": f.appliance,
                "season": f.season,
                "before": list(f.before),
                "after": list(f.after),
                "seen_by": [{"event": a.event, "at": self.number(a.at, "s", "time")} for a in f.acts],
                "shutdown": self.number(f.shutdown, "s", "time"),
                "outlets": [self._met(o) for o in f.outlets],
            }
            for f in worst
            if f is not None
        ]

    def _met(self, o: Passed) -> dict[str, Any]:
        return {
            "appliance": o.appliance,
            "lowest": self.pressure(o.lowest),
            "highest": self.pressure(o.highest),
            "beyond": self.pressure(o.beyond),
            "outside_for": self.number(o.outside, "s", "time"),
            "into_room": self.number(o.into_room, "kg", "mass"),
        }

    def around(self) -> dict[str, Any]:
        """Roof, room and carbon monoxide, as far as the job tells of them."""
        found, system = self.study.around, self.system

        def least(at: clearances.Least) -> dict[str, Any]:
            height, above = (None if q is None else float(q.m_as("m")) for q in (at.height, at.above_roof))
            words = "no height does" if at.finding is None else at.finding.rule
            return {
                "height": self.number(height, "m", "height"),
                "above_roof": self.number(above, "m", "height"),
                "governed_by": words,
            }

        return {
            "terminals": [
                {
                    "name": e.terminal.name,
                    "kind": e.terminal.kind,
                    "outlet": self.of(e.terminal.outlet, "height"),
                    "verdict": clearances.overall(e.findings),
                    "findings": [
                        {"rule": f.rule, "verdict": f.verdict, "sentence": clearances.sentence(f, system)}
                        for f in sorted(e.findings, key=lambda f: clearances.VERDICTS.index(f.verdict))
                        if f.verdict != clearances.NONE
                    ],
                    "least": least(e.least),
                    "with_fan": least(e.with_fan),
                }
                for e in found.endings
            ],
            "enough_air": found.enough,
            "air": [{"rule": v.rule, "verdict": v.verdict, "sentence": v.sentence(system)} for v in found.air],
            "exhausts": list(combustion_air.sentences(found.effects, found.cure, system)) if found.effects else [],
            "plumes": [
                {"intake": p.intake, "sentences": list(re_entrainment.sentences(p, system))} for p in found.plumes
            ],
            "no_plume": found.no_plume,
            "spills": [
                {
                    "appliance": s.spill.appliance,
                    "state": self.state(s.spill.state),
                    "sentences": list(carbon_monoxide.sentences(s.exposure, system)),
                }
                for s in found.spills
            ],
        }

    def alternate(self, alternate: Alternate) -> dict[str, Any]:
        outlets = [self.outlet(e) for e in studies.alternate_envelopes(self.study, alternate)]
        return {"name": alternate.name, "outlets": outlets}

    def exchanged(self, study: Study) -> dict[str, Any]:
        """The job with an alternate that is more than another window."""
        say = _Say(study, self.system)
        told = {"verdict": verdict(study), "findings": say.findings()}
        return {"name": study.job.name, **told, "outlets": [say.outlet(e) for e in study.envelopes]}

    def set_points(self) -> dict[str, Any] | None:
        """Header pressures that serve every make accepted, or the proof that none does."""
        found = self.study.set_points
        if found is None:
            return None
        low, high = found.common
        makes = [
            {"name": name, "low": self.pressure(ends[0]), "high": self.pressure(ends[1])}
            for name, ends in zip(found.makes, found.ranges, strict=True)
        ]
        return {
            "makes": makes,
            "low": self.pressure(low),
            "high": self.pressure(high),
            "serves_all": found.serves_all,
        }

    def sections(self) -> list[dict[str, Any]]:
        plant = self.study.job.plant
        against = objections(self.study)
        return [
            self._section(
                number, section, met, [materials.sentence(o, self.system) for o in against if o.section == section.name]
            )
            for number, (section, met) in enumerate(zip(plant.order, self.study.extremes, strict=True), 1)
        ]

    def _section(self, number: int, s: Section, met: Extremes, reasons: list[str]) -> dict[str, Any]:
        return {
            "number": number,
            "name": s.name,
            "into": s.into,
            "length": self.of(s.length, "height"),
            "rise": self.of(s.rise, "height"),
            "diameter": self.of(s.diameter, "diameter"),
            "place": s.place,
            "fittings": list(s.fittings),
            "junction": s.junction,
            "velocity": [self.number(v, "m/s", "velocity") for v in met.velocity],
            "gas": [self.temperature(t) for t in met.gas],
            "pressure": [self.pressure(p) for p in met.pressure],
            "pressure_state": self.state(met.pressure_state),
            "wall": self.temperature(met.coldest_wall),
            "dew_point": self.temperature(met.dew_point),
            "wall_state": self.state(met.wall_state),
            "wet_share": self.number(met.condensing, "dimensionless", "ratio"),
            "condensate": self.number(met.condensate, "kg/s", "condensate"),
            "condensate_a_day": self.number(met.condensate, "kg/s", "condensate a day"),
            "ice": self.number(met.ice, "kg/s", "condensate"),
            "material": s.material.name,
            "listing": s.material.listing,
            "max_temperature": self.of(s.material.max_temperature, "temperature"),
            "max_pressure": self.of(s.material.max_pressure, "draft"),
            "made_for_condensate": s.material.condensate,
            "objections": reasons,
            "verdict": "; ".join(reasons) if reasons else "nothing found against it",
        }

    def appliance(self, i: int) -> dict[str, Any]:
        plant, seasons = self.study.job.plant, self.study.job.seasons
        a = plant.appliances[i]
        flows = network.compile_network(plant, seasons).prescribed[i]
        category = CATEGORIES[a.category]
        leak = a.kind == "forced" and a.idle == "leaking"
        return {
            "letter": plots.letters(len(plant.appliances))[i],
            "name": a.name,
            "into": plant.feeds[i],
            "fuel": a.fuel.name,
            "category": a.category,
            "category_words": f"{'positive' if category.positive else 'negative'} vent pressure, "
            f"{'condensing' if category.condensing else 'not condensing'}",
            "kind": a.kind,
            "idle": _idle_words(a),
            "leak_flow": self.of(a.leak.flow, "volume flow") if leak else None,
            "leak_pressure": self.of(a.leak.pressure, "draft") if leak else None,
            "purge_flow": self.of(a.purge_flow, "volume flow") if a.purge_flow is not None else None,
            "outlet_height": self.of(a.outlet_height, "height"),
            "outlet_diameter": self.of(a.outlet_diameter, "diameter"),
            "levels": [self._level(a, k, flows[:, a.states.index(level.name)]) for k, level in enumerate(a.levels)],
        }

    def _level(self, a: Appliance, k: int, flows: np.ndarray) -> dict[str, Any]:
        level = a.levels[k]
        burnt = combustion.products(a.fuel, level.excess_air)
        return {
            "name": level.name,
            "heat_input": self.of(level.heat_input, "heat rate"),
            "flow": [self.number(f, "kg/s", "mass flow") for f in (flows.min(), flows.max())],
            "co2_dry": self.number(float(burnt.co2_dry), "dimensionless", "ratio"),
            "o2_dry": self.number(float(burnt.o2_dry), "dimensionless", "ratio"),
            "excess_air": self.number(level.excess_air, "dimensionless", "ratio"),
            "flue_temperature": self.of(level.flue_temperature, "temperature"),
        }

    def seasons(self) -> list[dict[str, Any]]:
        return [
            {
                "name": s.name,
                "outdoor": self.of(s.outdoor, "temperature"),
                "room": self.of(s.room, "temperature"),
                "room_pressure": self.of(s.room_pressure, "draft"),
                "wind": self.of(s.wind, "wind"),
                "relative_humidity": self.number(s.relative_humidity, "dimensionless", "ratio"),
            }
            for s in self.study.job.seasons
        ]

    def runs(self) -> list[dict[str, Any]]:
        return [
            {
                "appliance": r.appliance,
                "equivalent": self.number(r.equivalent, "m", "height"),
                "allowed": self.number(r.allowed, "m", "height"),
                "verdict": "not stated"
                if r.allowed is None
                else "longer than allowed"
                if r.equivalent > r.allowed
                else "within what is allowed",
            }
            for r in self.study.runs
        ]


_SI_UNIT = {
    "draft": "Pa",
    "height": "m",
    "diameter": "m",
    "temperature": "K",
    "heat rate": "W",
    "volume flow": "m**3/s",
    "wind": "m/s",
}


def _idle_words(a: Appliance) -> str:
    if a.kind != "forced":
        return f"open through its {a.kind}" if a.kind == "draft hood" else "open through its regulator"
    return a.idle


# --- The pictures -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Picture:
    """A figure of the report: PNG bytes, caption, what to see in it, and words for those who do not see it."""

    name: str
    image: bytes
    caption: str
    see: str

    @property
    def data(self) -> str:
        """The image as an address that holds it."""
        return "data:image/png;base64," + base64.b64encode(self.image).decode("ascii")


def figures(study: Study, system: str = "US") -> dict[str, Picture]:
    """The figures of the report by name, in its order, each with one sentence of what to see."""
    scan, plant = study.scan, study.job.plant
    worst = min(study.envelopes, key=lambda e: e.margin)
    coldest = min(study.extremes, key=lambda m: m.coldest_wall - m.dew_point)
    runs = _warmest(study, coldest.section, coldest.wall_state)
    made = (
        Picture(
            "layout",
            plots.png(plots.layout_drawing(plant, system)),
            "The vent as drawn, in elevation and to scale.",
            _see_layout(plant, system),
        ),
        Picture(
            "pressure",
            plots.png(plots.pressure_path(scan, worst.appliance, (worst.high_state, worst.low_state), system)),
            f"Pressure along the path of {worst.appliance}, against outdoor air at the same height, in the two states "
            "that press its outlet hardest.",
            _see_pressure(study, worst, system),
        ),
        Picture(
            "temperature",
            plots.png(plots.temperature_path(scan, runs, coldest.wall_state, system)),
            f"Temperatures along the path of {runs}, in the state in which a wall comes closest to the dew point or "
            "lies farthest below it.",
            _see_temperature(study, coldest, system),
        ),
        Picture(
            "envelopes",
            plots.png(plots.envelopes(study, system)),
            "What every outlet sees over all states, against its window.",
            _see_envelopes(study),
        ),
        Picture(
            "map",
            plots.png(plots.state_map(study, system)),
            f"The {len(scan.conditions):,} states that were solved; the tone is the pressure where the header begins.",
            _see_map(study),
        ),
    )
    made = (*made, *_of_changes(study, system), *_of_remedies(study, system), *_of_surroundings(study, system))
    return {picture.name: picture for picture in made}


def _of_changes(study: Study, system: str) -> list[Picture]:
    """The outlet that load changes take farthest beyond its window, in time."""
    if not study.passages:
        return []
    pairs = list(zip(study.passages, study.envelopes, strict=False))
    p, e = max(pairs, key=lambda pair: max(pair[0].high - pair[0].window[1], pair[0].window[0] - pair[0].low))
    further = max(p.high - e.high, e.low - p.low)
    see = (
        f"In time this outlet goes {show(Q_(further, 'Pa'), system, 'draft')} further than in any steady state."
        if further > 0.0
        else "In time this outlet goes no further than its steady states; some of those stand in wind, these in calm."
    )
    title = f"The changes that take the outlet of {p.appliance} farthest up and down, in time."
    return [Picture("changes", plots.png(change_plots.passage(study.changes, p, (e.low, e.high), system)), title, see)]


def _of_surroundings(study: Study, system: str) -> list[Picture]:
    """The roof with the rule that governs every terminal, and what flue gas in the room leads to."""
    found = []
    for k, e in enumerate(study.around.endings):
        rule = roof_drawing.governing(e.findings)
        see = "No rule of the table has anything to say here." if rule is None else clearances.sentence(rule, system)
        found.append(
            Picture(
                f"roof_{k}",
                plots.png(roof_drawing.roof_drawing(study.job.roof.scene, e.terminal, rule, system)),
                f"The terminal {e.terminal.name} in plan and section, with the rule that governs.",
                see,
            )
        )
    for k, s in enumerate(study.around.spills):
        found.append(
            Picture(
                f"spill_{k}",
                plots.png(plots.exposure(s.exposure)),
                f"What flue gas that kept coming back through {s.spill.appliance} would lead to in the room.",
                f"At most {s.exposure.co[0].max():,.0f} ppm. If an alarm sounds, leave: no figure here is a reason to "
                "stay.",
            )
        )
    return found


def _of_remedies(study: Study, system: str) -> tuple[Picture, ...]:
    """The figures of the remedies and of the one offered, as far as there are any."""
    found = []
    if study.outcomes:
        cured = sum(o.cured for o in study.outcomes)
        found.append(
            Picture(
                "remedies",
                plots.png(remedy_plots.comparison(study.outcomes, system)),
                "What every remedy leaves: how far outlets still leave their windows at worst, and in how many states.",
                f"Of {len(study.outcomes)} looked at, {cured if cured else 'none'} "
                f"{'cures' if cured == 1 else 'cure'} every state.",
            )
        )
    if study.offered is None:
        return tuple(found)
    o, run = study.offered.outcome, study.offered.trial
    found.append(
        Picture(
            "offered_envelopes",
            plots.png(plots.envelopes(study.offered, system)),
            "What every outlet sees over all states with the remedy offered, against its window.",
            _see_envelopes(study.offered),
        )
    )
    if o.duty is not None:
        found.append(
            Picture(
                "duty",
                plots.png(remedy_plots.duty(o, system)),
                "What the fan must do in every state, brought to the density of its curve.",
                f"It works at {o.duty.speed.min():.0%} to {o.duty.speed.max():.0%} of its rated speed"
                f"{'; what it makes too much at its least, the damper takes away' if o.position is not None else ''}.",
            )
        )
    if run is not None:
        low, high = (show(Q_(p, "Pa"), system, "draft") for p in run.span(run.released))
        tripped = "nothing trips" if not run.trace.trips else f"{_count(len(run.trace.trips), 'limit')} tripped"
        found.append(
            Picture(
                "trial",
                plots.png(remedy_plots.trial(run, system)),
                f"A start of all burners on a cold stack in {run.season}: the header's pressure, the setting of the "
                "control's device, and what every burner does.",
                f"The end of the header sees {low} to {high} while the burners start one after another; {tripped}.",
            )
        )
    return tuple(found)


def _warmest(study: Study, section: str, state: int) -> str:
    """Of the appliances that a section serves, the one that sends most through its own vent in a state."""
    solution, plant = study.scan.solution, study.job.plant
    served = [a.name for a in plant.serves(section)]
    first = {a.name: feed for a, feed in zip(plant.appliances, plant.feeds, strict=True)}
    return max(served, key=lambda name: solution.flow[solution.row(first[name]), state])


def _see_layout(plant: Plant, system: str) -> str:
    ends = [z for both in plant.heights.values() for z in both]
    outdoors = sum(s.place == "outdoors" for s in plant.sections)
    rise = show(Q_(max(ends) - min(ends), "m"), system, "height")
    return (
        f"{_count(len(plant.appliances), 'appliance')}, {_count(len(plant.sections), 'section')}, {outdoors} of them "
        f"outdoors (toned). Only the rise makes draft: {rise} from the lowest point to the top."
    )


def _see_pressure(study: Study, e: Envelope, system: str) -> str:
    solution, plant = study.scan.solution, study.job.plant
    rows = [solution.row(s.name) for s in plant.path(e.appliance)]

    i = [a.name for a in plant.appliances].index(e.appliance)

    def told(state: int) -> str:
        """The sum that ends at the outlet: losses and wind, less draft, less the outlet's own velocity head."""
        draft = float(solution.draft[rows, state].sum())
        spent = float(solution.pressure_up[rows[0], state]) + draft
        room, outlet = float(solution.room_gauge[i, state]), float(solution.outlet_pressure[i, state])
        head = spent - draft - room - outlet
        parts = (spent, draft, head, room, outlet)
        spent, draft, head, room, outlet = (show(Q_(p, "Pa"), system, "draft") for p in parts)
        return (
            f"{spent} of losses and wind less {draft} of draft, {head} of the outlet's own velocity head and {room} of "
            f"the room leave {outlet}"
        )

    return f"Where its outlet is highest, {told(e.high_state)}; where it is lowest, {told(e.low_state)}."


def _see_temperature(study: Study, m: Extremes, system: str) -> str:
    wall, dew = (show(Q_(t, "K"), system, "temperature") for t in (m.coldest_wall, m.dew_point))
    solution = study.scan.solution
    backward = solution.flow[solution.row(m.section), m.wall_state] < 0.0
    if backward:
        return f"Gas flows backward through {m.section}: its wall is at {wall}, against a dew point of {dew}."
    if m.coldest_wall < m.dew_point:
        return f"The wall of {m.section} falls to {wall}, below the dew point of {dew}: it is wet and must drain."
    return f"The coldest wall, that of {m.section}, is at {wall}, above the dew point of {dew}: a hot stack stays dry."


def _see_envelopes(study: Study) -> str:
    inside = sum(e.margin >= 0.0 for e in study.envelopes)

    def share(e: Envelope) -> float:
        return e.swing / (e.window[1] - e.window[0])

    widest = max(study.envelopes, key=share)
    ratio = share(widest)
    meaning = (
        "no steady shift of pressure can bring it inside" if ratio > 1.0 else "a steady shift could hold it inside"
    )
    return (
        f"Outlets that stay inside: {inside} of {len(study.envelopes)}. Widest for its window is the swing "
        f"of {widest.appliance}, {ratio:.1f} times as wide: {meaning}."
    )


def _see_map(study: Study) -> str:
    scan = study.scan
    outside = scan.count(firing_states.outside_window(scan).any(axis=0))
    gas = scan.count(firing_states.gas_in_room(scan).any(axis=0))
    return (
        f"Of {scan.count(scan.any_running):,} states in which anything runs, {outside:,} put some outlet outside its "
        f"window and {gas:,} let flue gas into the room."
    )


# --- The page -----------------------------------------------------------------------------------------------

_TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def page(found: dict[str, Any], pictures: dict[str, Picture], paper: str = "") -> str:
    """The HTML page of `results` and `figures`; ``paper`` ("A4" or "letter") fixes the size for printing."""
    return _TEMPLATES.get_template("report.html").render(r=found, pictures=pictures, paper=paper)


def print_pdf(html: str, target: Path) -> bool:
    """Print a page to a PDF file with a Chromium; False where there is none or it fails."""
    browser = shutil.which("chromium") or shutil.which("chromium-browser")
    if browser is None:
        return False
    with tempfile.TemporaryDirectory(prefix="ventcalc-") as folder:
        source, printed = Path(folder) / "report.html", Path(folder) / "report.pdf"
        source.write_text(html, encoding="utf-8")
        command = [
            browser,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--no-first-run",
            "--disable-background-networking",
            f"--user-data-dir={folder}/profile",
            "--no-pdf-header-footer",
            f"--print-to-pdf={printed}",
            source.as_uri(),
        ]
        process = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        try:
            process.wait(PDF_PATIENCE)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)  # with all that it started
            process.wait()
            return False
        if process.returncode != 0 or not printed.is_file():
            return False
        shutil.copyfile(printed, target)
        return True
