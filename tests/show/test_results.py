"""Results: strict JSON in the form its schema tells, the same numbers in both unit systems."""

import json
import re
from dataclasses import replace

import pytest
from sample_one_answer import contradictions
from sample_reports import WRITTEN, files, kept
from sample_studies import STUDIES

from ventcalc.flow import heat_loss
from ventcalc.show import results
from ventcalc.units import SYSTEMS
from ventcalc.words import Remark

# NIST SP 811 (2008), appendix B.8: inch of water (39.2 °F) 249.082 Pa, conventional 249.0889 Pa.
INCH_OF_WATER = 249.0889


@pytest.fixture(params=STUDIES, ids=str)
def found(request):
    return STUDIES[request.param]


def numbers(data, path=""):
    """Every {"value", "unit", "shown"} with its path."""
    if isinstance(data, dict) and set(data) == {"value", "unit", "shown"}:
        yield path, data
    elif isinstance(data, dict):
        for key, value in data.items():
            yield from numbers(value, f"{path}.{key}")
    elif isinstance(data, list):
        for k, value in enumerate(data):
            yield from numbers(value, f"{path}[{k}]")


def refuse(word):
    raise ValueError(f"{word} is not JSON (RFC 8259, section 6)")


@pytest.mark.parametrize(("name", "system"), WRITTEN)
def test_results_are_strict_json(name, system):
    data = json.loads(files(name, system)["results.json"], parse_constant=refuse)
    assert data["schema"] == results.SCHEMA
    for _, number in numbers(data):
        assert number["unit"] and number["shown"]


@pytest.mark.parametrize(("name", "system"), WRITTEN)
def test_every_key_stands_in_the_schema(name, system):
    assert set(kept(name, system)) <= set(re.findall(r"\w+", results.__doc__))


def test_job_is_told_as_it_was_read(found):
    told = results.results(found)["job"]
    assert (told["text"], told["sha256"], told["note"]) == (found.job.text, found.job.digest, found.job.note)
    assert told["defaults"] == list(found.job.defaults)
    assert told["remarks"] == []


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_may_be_a_slip_is_told_in_words(system):
    odd = Remark("job", "slips", "collar high", {"names": ("B",), "height": "90 ft"})
    found = STUDIES["laundry"]
    told = results.results(replace(found, design=replace(found.design, job=replace(found.job, remarks=(odd,)))), system)
    assert told["job"]["remarks"] == [odd.words(system)]


@pytest.mark.slow
def test_unit_systems_agree(found):
    us, si = (dict(numbers(results.results(found, system))) for system in SYSTEMS)
    assert us.keys() == si.keys()
    assert all(us[path]["value"] == si[path]["value"] and us[path]["unit"] == si[path]["unit"] for path in us)
    for path, number in us.items():
        if number["unit"] == "Pa" and "in. w.c." in number["shown"] and number["value"] is not None:
            inches = float(number["shown"].split(" ")[0].replace(",", ""))
            assert inches * INCH_OF_WATER == pytest.approx(number["value"], abs=0.0006 * INCH_OF_WATER), path
    for path, number in si.items():
        if number["unit"] == "K" and number["value"] is not None:
            assert float(number["shown"].split(" ")[0]) == pytest.approx(number["value"] - 273.15, abs=0.51), path


def test_assumptions_tell_the_figures_that_the_sums_use():
    told = results.assumptions()
    films = f"{heat_loss.STILL_ROOM_FILM:g} W/(m²·K) in the room, {heat_loss.OUTDOOR_FILM:g} W/(m²·K) outdoors"
    assert sum(films in sentence for sentence in told) == 1
    assert len(told) == 13 and not any("{" in sentence for sentence in told)


@pytest.mark.slow
@pytest.mark.parametrize(("name", "system"), WRITTEN)
def test_no_two_papers_of_a_study_say_otherwise_of_one_thing(name, system):
    written = files(name, system)
    assert contradictions(kept(name, system), written["states.csv"], written.get("states_with_remedy.csv")) == []


def test_a_second_answer_is_seen():
    """Each kind of answer told otherwise in one place."""
    written, states = files("swim_hall"), files("swim_hall")["states.csv"]
    row, *_ = (n for n, r in enumerate(kept("swim_hall")["remedies"]) if not r["cured"])

    def told(change):
        found = json.loads(written["results.json"])
        change(found)
        return contradictions(found, states, written["states_with_remedy.csv"])

    assert told(lambda r: None) == []
    assert told(lambda r: r["page_one"]["trust"]["margin"].update(value=99.0, shown="99"))
    assert told(lambda r: r["page_one"]["trust"].update(appliance="nobody"))
    assert told(lambda r: r["remedies"][row].update(against=[]))
    assert told(lambda r: r["offered"]["findings"].append({"weight": "people", "title": "Another"}))
    assert told(lambda r: r["scan"].update(outside=r["scan"]["outside"] + 1))
    assert told(lambda r: r["outlets"][0].update(running=r["outlets"][0]["running"] - 1))
    fan = next(r for r in kept("swim_hall")["submittal"]["equipment_schedule"] if r["kind"] == "fan")["tag"]

    def of_fan(change):
        return told(lambda r: change(next(x for x in r["submittal"]["equipment_schedule"] if x["tag"] == fan)))

    assert of_fan(lambda x: x["duty"]["speed"][1].update(value=9.0))
    assert of_fan(lambda x: x["duty"]["drive"][1].update(value=9.0))
    assert of_fan(lambda x: x["power"][1].update(value=0.0))
    assert of_fan(lambda x: x["power"][0].update(value=0.0))
