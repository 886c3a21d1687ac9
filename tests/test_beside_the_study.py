"""A year, a chance and the table of many jobs say of a job what its study says.

Two answers that differ would be a contradiction, whichever of them is right.
"""

import json
from dataclasses import replace

import numpy as np
import pytest
import sample_tellings as tellings
import tomlkit
from sample_one_answer import contradictions

from ventcalc.building.weather import Weather
from ventcalc.flow import wind
from ventcalc.job import chance, margins, plant_load, study, year, year_findings
from ventcalc.job.chance_conditions import solve_draws
from ventcalc.job.design import Design
from ventcalc.job.input_draws import draws
from ventcalc.job.remedy import as_drawn
from ventcalc.job.uncertain_inputs import inputs
from ventcalc.job.year_hours import RUNNING, TEMPERATURE_STEP, WIND_STEP
from ventcalc.show import batch
from ventcalc.units import Q_
from ventcalc.vent import outlet_envelope, reversal
from ventcalc.vent.network import compile_network
from ventcalc.vent.outlet_envelope import READABLE
from ventcalc.vent.reversal import REVERSAL_FLOW

pytestmark = pytest.mark.slow  # whole studies

SOLVED = 0.02  # Pa; two searches of one state
MOIST = 0.3  # Pa; an hour's moisture is that of its class (`year_hours`), a season's its own
SHARES = (0.12, 0.3, 0.7, 1.0)  # of the installed heat input that is asked for: one rung of the ladder after another
DRAWS = 64


def some(ordinary: tuple[int, ...], of: int = 50):
    """Numbers of random jobs: a few of an ordinary slow run, `pytest -m sweep` takes the others."""
    return [n if n in ordinary else pytest.param(n, marks=pytest.mark.sweep) for n in range(of)]


def solved_whole(found: study.Study, most: int = 4):
    """The outcomes of a study that were solved in every condition, the first of them."""
    return [o for o in found.outcomes or (found.outcome,) if o.everywhere and not o.remedy.unfit][:most]


# --- A year ------------------------------------------------------------------------------------------------------


def in_classes(told: dict) -> dict:
    """A job's content with its seasons in the middle of the classes that a year takes its weather by."""

    def moved(s: dict) -> dict:
        outdoor, speed = (Q_(float(s[n].split()[0]), s[n].split()[1]) for n in ("outdoor", "wind"))
        kelvin = round(outdoor.m_as("K") / TEMPERATURE_STEP) * TEMPERATURE_STEP
        head = round((speed.m_as("m/s") / 10.0) ** 2 / WIND_STEP) * WIND_STEP
        return s | {"outdoor": f"{kelvin!r} K", "wind": f"{10.0 * head**0.5!r} m/s"}

    return told | {"season": [moved(s) for s in told["season"]]}


def of_its_seasons(job) -> Weather:
    """A day of every season in calm, and one in its wind."""
    top = max(high for _, high in job.plant.heights.values())
    station = float(wind.wind_at_height.bare(1.0, top, job.year.terrain))
    days = [(s, windy) for s in job.seasons for windy in (0.0, 1.0)]
    air = np.array([
        (s.outdoor.m_as("K"), s.relative_humidity, windy * s.wind.m_as("m/s") / station) for s, windy in days
    ])  # fmt: skip
    temperature, humidity, speed = np.repeat(air, 24, axis=0).T
    one, hour = np.ones(temperature.size, int), np.tile(np.arange(24), len(days))
    north = np.zeros(temperature.size)
    return Weather("seasons", one, one, hour, temperature, humidity, speed, north, 0.0, "the job's seasons", True)


def stepped(job, share: float):
    """A year's plan that asks for the same share of what is installed in any weather, of burners that step."""
    most = share * plant_load.installed(job.plant.appliances)
    staging = replace(job.year.staging, modulates=tuple(False for _ in job.plant.appliances))
    return replace(job.year, load=plant_load.LoadPlan(most, 250.0, most), staging=staging)


def ends(e) -> tuple[float, float]:
    return (e.low, e.high) if e.purge is None else (min(e.low, e.purge.low), max(e.high, e.purge.high))


@pytest.mark.parametrize("name", some((2, 5)))
def test_an_hour_in_a_seasons_weather_is_in_the_study(name):
    """No hour is outside its window where the study says within, none farther out, and none lets flue gas in alone."""
    job = tellings.job_of(in_classes(tellings.content(name)))
    weather = of_its_seasons(job)
    for o in solved_whole(study.study(job)):
        for share in SHARES:
            own = year.year(Design(job, o.remedy), weather, stepped(job, share))
            for e, beyond in zip(o.envelopes, own.beyond, strict=True):
                (low, high), (least, most) = e.window, ends(e)
                assert low + min(beyond.min(), 0.0) >= min(least, low) - MOIST, (o.remedy.name, share)
                assert high + max(beyond.max(), 0.0) <= max(most, high) + MOIST, (o.remedy.name, share)
            if not o.gas_in_room:
                assert not own.into_room.any(), (o.remedy.name, share)
            if not o.unsettled:
                assert not own.unsettled.any(), (o.remedy.name, share)


@pytest.mark.parametrize("name", some((2, 5)))
def test_a_state_of_the_study_is_as_bad_in_an_hour(name):
    """All burners at their highest in a season's wind, on walls that are warm: what the study says of that state."""
    job = tellings.job_of(in_classes(tellings.content(name)))
    weather = of_its_seasons(job)
    for o in solved_whole(study.study(job)):
        own, states = year.year(Design(job, o.remedy), weather, stepped(job, 1.0)), o.scan.states
        hours, margin = own.hours, margins.margins(o.scan)
        for day, windy in enumerate((False, True) * len(job.seasons)):
            hour, season = 24 * day + 23, day // 2
            at = hours.at[RUNNING, 0, hour]
            codes = hours.states.codes[:, at]
            if hours.states.cold[:, at].any() or (windy and not job.seasons[season].wind.m > 0.0):
                continue
            same = (states.codes == codes[:, None]).all(axis=0) & (states.season == season) & ~states.cold
            here = np.flatnonzero(same & ((states.windy > 0.0) == windy) & o.settled)
            outside = outlet_envelope.outside_window(o.scan)[:, here]
            clear = here.size and (np.abs(margin[:, here]) > MOIST + READABLE).all()
            assert not clear or (own.outside[hour] > 0.0) == outside.any(), (o.remedy.name, day)
            gas = reversal.flue_gas_in_room(o.scan)[0][:, here]
            sure = (gas > 1e-3) | (gas < REVERSAL_FLOW)
            assert not here.size or not sure.all() or own.into_room[:, hour].any() == (gas > REVERSAL_FLOW).any()


# --- A chance ----------------------------------------------------------------------------------------------------

AS_RECKONED = {"choice": 0.0, "between": 0.0}  # where in these distributions the study's own figure is; else the middle


@pytest.mark.parametrize("name", some((4, 8)))
def test_the_draw_in_the_middle_is_the_study(name):
    job = tellings.job_of(tellings.content(name))
    for o in solved_whole(study.study(job)):
        own, controls = inputs(job, o), () if o.held is None else o.held.controls
        at = np.array([[AS_RECKONED.get(i.kind.distribution, 0.5) for i in own]])
        variant = draws(compile_network(o.remedy.plant, job.seasons), controls, own, at)
        found = solve_draws(o, variant, np.arange(len(o.scan.states)))
        same = o.settled
        assert found.settled[0][same].all(), o.remedy.name
        close = pytest.approx(margins.margins(o.scan)[:, same], abs=SOLVED, nan_ok=True)
        assert found.margin[:, 0][:, same] == close, o.remedy.name
        back = reversal.flue_gas_in_room(o.scan)[0] > REVERSAL_FLOW
        assert (found.back[:, 0] == back)[:, same].all(), o.remedy.name


@pytest.mark.parametrize("name", some((4, 8)))
def test_what_the_study_says_happens_is_not_without_chance(name):
    """Nor is what it says does not happen certain."""
    job = tellings.job_of(tellings.content(name))
    for o in solved_whole(study.study(job)):
        if o.unsettled:
            continue
        found = chance.chance(job, o, DRAWS)
        for share, happens in ((found.flue_gas, o.gas_in_room), (found.window, o.outside)):
            assert share.failed > 0 if happens else share.failed < DRAWS, o.remedy.name
        for e, outlet in zip(o.envelopes, found.outlets, strict=True):
            leaves = outlet.leaves.failed
            assert leaves > 0 if e.margin < 0.0 else leaves < DRAWS, (o.remedy.name, e.appliance)


# --- Told otherwise ----------------------------------------------------------------------------------------------


def seasons_last_first(told: dict) -> dict:
    """What is listed in a row told backwards, but for the appliances: their order is that of starting."""
    return {k: v[::-1] if k in ("season", "section", "termination") else v for k, v in told.items()}


@pytest.mark.parametrize("name", some((9, 41)))
def test_a_job_told_otherwise_has_the_same_year_and_chance(name):
    told = tellings.content(name)

    def answers(content: dict):
        job = tellings.job_of(content)
        found = study.study(job, compare=False)
        design = Design(job, found.outcome.remedy)
        weather = year.climate.typical_year(job.year.climate)[: 24 * 10]
        return year_findings.totals(year.year(design, weather)), chance.chance(job, found.outcome, DRAWS)

    whole, sure = answers(told)
    ways = (seasons_last_first, tellings.renamed, tellings.in_si, tellings.with_a_place, tellings.in_pieces)
    for way in ways:
        other, unsure = answers(way(told))
        pieces = way is tellings.in_pieces
        for part in ("outside", "spill", "unsettled", "starts", "bad_starts", "heat"):
            close = pytest.approx(getattr(whole, part), rel=1e-6, abs=6.0 if pieces else 0.01)
            assert getattr(other, part) == close, (way.__name__, part)
        for one, two in ((sure.window, unsure.window), (sure.flue_gas, unsure.flue_gas)):
            assert one.low <= two.high and two.low <= one.high, way.__name__


@pytest.mark.parametrize("name", some((9,), of=10))
def test_of_two_seasons_as_cold_the_one_that_lets_flue_gas_in_counts_in_any_order(name):
    told = tellings.content(name)
    first = told["season"][0]
    fan = first | {"name": "with an exhaust fan", "room_pressure": "-20 Pa"}
    found = []
    for seasons in ([first, fan], [fan, first], [first], [fan]):
        job = tellings.job_of(told | {"season": seasons})
        weather = year.climate.typical_year(job.year.climate)[: 24 * 3]
        found.append(year_findings.totals(year.year(Design(job, as_drawn(job)), weather)))
    assert found[0] == found[1] == found[3] and found[0].spill >= found[2].spill


# --- Many jobs ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("name", some((8, 20), of=20))
def test_a_row_of_many_jobs_is_page_one_of_its_report(name, system, tmp_path):
    told = tellings.furnished(name)
    ways = {"one": told, "other": tellings.in_si(tellings.renamed(seasons_last_first(told)))}
    ways["offered"] = told | {"remedy": {"name": "fan"}}
    for key, content in ways.items():
        (tmp_path / f"{key}.toml").write_text(tomlkit.dumps(content), encoding="utf-8")
    every = {d.folder: d for d in batch.run(batch.job_files([tmp_path]), tmp_path / "out", system, workers=1)}
    index = (tmp_path / "out" / batch.INDEX).read_text(encoding="utf-8")
    for key, done in every.items():
        found = json.loads((tmp_path / "out" / key / "results.json").read_text(encoding="utf-8"))
        page, verdict = found["page_one"], found["verdict"]
        assert done.verdict == " ".join(filter(None, (verdict["offered"] or verdict["sentence"], verdict["best"])))
        assert done.margin == page["trust"]["margin"]["shown"] and done.margin in index
        tables = [tmp_path / "out" / key / name for name in ("states.csv", "states_with_remedy.csv")]
        assert contradictions(found, *(t.read_text("utf-8") if t.is_file() else None for t in tables)) == []
        assert (done.status == batch.CURED) == verdict["asked"], key
        own = found if verdict["best"] or not found["offered"] else found["offered"]
        against = tuple(dict.fromkeys(f["title"] for f in own["findings"] if f["weight"] in ("people", "fault")))
        assert done.against == against or (verdict["best"] and verdict["offered"])
        assert bool(done.build) == bool(verdict["buildable"] or "Build" in page["heading"]), page["heading"]
        assert not verdict["best"] or done.build in verdict["best"]
    assert (every["one"].status, every["one"].build) == (every["other"].status, every["other"].build)
    assert every["one"].margin == every["other"].margin
