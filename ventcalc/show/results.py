"""Results: everything that the report of a study says, as plain data that JSON can hold.

``results.json``, schema 1. A number with a unit is ``{"value": plain SI number or null, "unit": its unit,
"shown": text in the chosen unit system}``; pressures are gauge, as ``convention`` says; a state is ``{"index",
"words", "appliances": {name: what it does}, "season", "cold_stack", "wind"}``. Keys:

- ``schema``, ``version`` of the library, ``date``, ``system`` ("US" or "SI"), ``convention``
- ``job``: ``name``, ``note``, ``document`` (what it is filed under: project, engineer, checker, revision), ``text`` of
  the whole input file, its ``sha256``, ``defaults`` used, ``remarks`` on what it says and may not mean
- ``chance``: null where it was not asked for, or how sure the ``design`` is: chances that a ``window`` is left and that
  ``flue_gas`` enters the room, with the error of so many ``draws``; ``outlets``, quantiles of the least ``margin``,
  what to measure ``first``, ``basis`` and ``sources``
- ``year``: null where it was not asked for, or how often the ``design`` fails in a year of ``weather``
  (`year_records`): ``totals``, ``failures`` and when they come, all designs ``compared``, the ``hard_days``
- ``changes``: null, or what changed since the results of an earlier revision (`changes`)
- ``verdict``: ``buildable`` as drawn, ``asked`` (whether nothing speaks against the design that the job asks for: with
  the remedy that it names, else as drawn), ``sentence``, numbers of findings by weight: ``people`` and ``faults``;
  what can be said of the remedy ``offered`` by the job and of the ``best`` that cures in its place, or empty
- ``page_one``: what speaks ``against`` it, the ``heading`` and ``instruction`` (what to build, or why nothing cures
  it), who must ``agree``, and ``trust``: the least ``margin`` of all outlets, of an ``appliance``, beside the ``doubt``
  in it there; the same of the one that is ``thinnest`` against its doubt, and whether that says more
  (``tells_thinnest``); ``key``: the letters of the drawing
- ``findings``: ``code``, ``weight`` (people, fault, note), ``title``, ``subjects``, ``sentence``, ``todo``, ``rule``;
  the gravest first
- ``scan``: conditions ``solved`` and ``possible``, ``complete``, ``running`` (anything runs), ``outside`` (some running
  outlet outside its window), ``gas_in_room``, ``unsolved`` states with their residual, ``restless_count`` of them, both
  in words as ``without_rest``; ``pasts``: conditions that are told by several pasts, in so many ``rows`` of states.csv
- ``outlets``: per appliance ``window``, ``low`` and ``high`` pressure with their states, ``swing``, ``margin``,
  ``below`` and ``above`` the window, ``outside`` of ``running`` states, ``verdict``
- ``calculation``: null, or one condition worked by hand (`hand_calculation`): ``sections``, ``parts``, the sum by
  ``hand`` beside the ``solver``'s
- ``reversals``: gas that flows back into the room: ``appliance``, ``kind``, ``how`` in words, ``flow`` of all of it
  and ``flue_gas`` (0: ``air`` alone, from where), ``state``, number of ``states``
- ``load_changes``: per appliance what starts, turn-downs and stops bring in time: ``low`` and ``high`` pressure, when
  and in which change, the same ``at_rest``, how long ``below_for`` and ``above_for`` the window, gas ``spilled`` and
  for how long, whether it is ``still_spilling`` at the end, ``spill_change``
- ``header``: what it is ``moved_by``, ``place``, ``section``, ``low`` and ``high`` with their states, ``set_point``,
  ``lacking``, ``excess``
- ``remedies``: every one that was looked at, the one to prefer first: ``name``, ``words``, ``cured``, titles of what
  speaks ``against`` it, whether it was ``judged``, and its starts and failures ``followed`` (else what speaks against
  it is what it was rejected for in the states solved, or at rest already), ``margin``, states ``outside``,
  ``gas_in_room``, ``unheld`` and ``unsettled`` of ``states``, ``devices``, ``reasons``
- ``left_out``: remedies that do not apply, ``name`` and ``why``
- ``offered``: null, or of the remedy proposed (the one that the job names; where that does not cure, or it names none,
  the best of those compared that does, told in ``verdict.best``) what stands in ``remedies`` and ``verdict``,
  ``findings``, ``outlets``, ``alternates``, ``header`` as above, what must be ``listed``, ``duty`` of its fan and
  position of its damper by season, ``sheet`` (set-up: ``kind``, ``name``, ``value``, ``why``, ``source``, ``status``),
  ``tries`` (what, leads to), ``trial`` (a start in time), ``starts`` in every order and season, ``failures`` (the worst
  of every kind); ``impossible``: why it cannot be built
- ``submittal``: null where no remedy is to be built; what is handed to those who build it: ``not_to_build`` (a
  warning, or empty), ``equipment_schedule``, ``sequence_of_operation`` and ``points_list``, rows as their modules say
- ``around``: ``terminals`` (each with every rule's ``findings``, its ``least`` height and that ``with_fan``, and what
  is seen of it from every view, ``sights``), ``air`` (rules on the room's air), ``exhausts`` (what they do, and what
  would cure it), ``make_up_air`` (null, or the ``area`` or ``supply`` that the room lacks, whether it ``cures`` the
  vent as drawn and codes of what is ``against`` it then), ``plumes`` (exhaust that comes to an intake), ``spills``
  (what flue gas in the room leads to); empty where the job tells nothing of it
- ``alternates``: ``name`` and ``outlets`` as above; ``exchanged``: those that bring an appliance of their own or take
  one away, with ``name``, ``verdict``, ``findings`` and ``outlets``; ``set_points``: null, or the header pressures that
  serve each of the ``makes``, ``low`` and ``high`` of what serves all, ``serves_all``
- ``options``: every ``remedy`` with every make accepted, whether it is ``offered`` by the job, ``chosen`` for the
  report, ``telling`` enough for its table, and ``serves_all``; its ``cells``: ``make``, ``cured``, titles ``against``
  it, ``margin``, whether it was solved ``everywhere``, or null where that was not judged
- ``sections``: dimensions, ``material``, ``velocity``, ``gas``, ``pressure`` (lowest, highest), ``wall`` and
  ``dew_point`` in ``wall_state``, ``wet_share``, ``condensate`` at its
  most, the same for a day of it, ``ice``, ratings, ``objections``, ``verdict``
- ``appliances``: ``category``, ``kind``, ``idle``, dimensions, ``levels`` with ``heat_input``, ``flow``
  (lowest, highest over the seasons), ``co2_dry``, ``o2_dry``, ``excess_air``, ``flue_temperature``
- ``site``: ``altitude``, ``barometric_pressure``, ``air_opening_height``
- ``seasons``, ``runs`` (``equivalent`` length, ``allowed``, ``verdict``), ``terminations``
- ``assumptions``, ``not_checked``, ``sources``, ``cautions``: sentences
"""

import datetime
from collections.abc import Mapping
from typing import Any

from ventcalc import __version__
from ventcalc.flow import heat_loss
from ventcalc.job import study as studies
from ventcalc.job.device_duty import MOTOR_EFFICIENCY
from ventcalc.job.job_file import Job
from ventcalc.job.study import Study
from ventcalc.job.year_compared import Compared
from ventcalc.show import (
    chance_records,
    changes,
    finding_records,
    hand_calculation,
    option_records,
    outlet_records,
    page_one,
    remedy_records,
    submittal,
    surrounding_records,
    vent_records,
    year_records,
)
from ventcalc.vent import network
from ventcalc.words import fill, say, sentences, told

SCHEMA = 1


def results(
    study: Study, system: str = "US", since: Mapping[str, Any] | None = None, years: Compared | None = None
) -> dict[str, Any]:
    """Everything the report says, as plain data for JSON; the schema stands at the top of this module.

    ``since``: the results of an earlier revision of the same job, read by `changes.read`; ``years`` of the study's
    designs.
    """
    found = _results(study, system) | {"year": None if years is None else year_records.of_study(years, system)}
    return found | {"changes": None if since is None else changes.changes(since, found)}


def _results(study: Study, system: str) -> dict[str, Any]:
    return {
        "schema": SCHEMA,
        "version": __version__,
        "date": datetime.date.today().isoformat(),
        "system": system,
        "convention": say("show", "convention", "sign"),
        "job": _job(study.job, system),
        "verdict": finding_records.verdict(study),
        "page_one": page_one.page_one(study, system),
        "findings": finding_records.findings(study, system),
        "scan": finding_records.scan(study, system),
        "chance": chance_records.of_study(study, system),
        "calculation": hand_calculation.hand_calculation(study, system),
        "outlets": outlet_records.outlets(study, system),
        "reversals": outlet_records.reversals(study, system),
        "load_changes": outlet_records.load_changes(study, system),
        "header": outlet_records.header(study, system),
        "remedies": remedy_records.compared(study, system),
        "left_out": remedy_records.left_out(study),
        "offered": remedy_records.offered(study, system),
        "submittal": submittal.records(study, system),
        "alternates": outlet_records.alternates(study, system),
        "exchanged": outlet_records.exchanged(study, system),
        "options": option_records.options(study, system),
        "set_points": outlet_records.set_points(study, system),
        "sections": vent_records.sections(study, system),
        "appliances": vent_records.appliances(study, system),
        "seasons": vent_records.seasons(study, system),
        "runs": vent_records.runs(study, system),
        "terminations": vent_records.terminations(study),
        "site": vent_records.site(study, system),
        "assumptions": assumptions(),
        "not_checked": finding_records.not_checked(study),
        "around": surrounding_records.around(study, system),
        "sources": list(studies.sources(study)),
        "cautions": list(studies.CAUTIONS),
    }


def _job(job: Job, system: str) -> dict[str, Any]:
    return {
        "name": job.name,
        "note": job.note,
        "document": {name: told for name, told in vars(job.document).items() if told},
        "text": job.text,
        "sha256": job.digest,
        "defaults": list(job.defaults),
        "remarks": list(told(job.remarks, system)),
    }


def assumptions() -> list[str]:
    """What every study takes for granted, one or a few sentences each."""
    figures = {
        "room_film": heat_loss.STILL_ROOM_FILM,
        "outdoor_film": heat_loss.OUTDOOR_FILM,
        "cone": network.SIZE_CHANGE_ANGLE,
        "motor": MOTOR_EFFICIENCY,
    }
    return [fill(text, figures) for text in sentences("show")["assumptions"].values()]
