"""Survey sheet: numbers and sentences are those of the diagnosis, in one unit system, and every code has its words."""

import json
import re
from types import SimpleNamespace

import pytest
from sample_demo_surveys import RECIPES, diagnosed

from ventcalc.job import survey_causes
from ventcalc.job.performance_test import CARBON_MONOXIDE
from ventcalc.show import survey_sheet
from ventcalc.units import SYSTEMS
from ventcalc.words import sentences


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", RECIPES)
def test_numbers_are_those_of_the_diagnosis(name, system):
    found = diagnosed(name)
    told = survey_sheet.records(found, system)
    assert json.loads(json.dumps(told, allow_nan=False)) == told
    assert not told["sound"] and told["cures"] and told["causes"]
    assert len(told["readings"]) == len(found.lines)
    for shown, line in zip(told["readings"], found.lines, strict=True):
        assert shown["measured"]["value"] == pytest.approx(line.reading.value)
        assert shown["fitted"]["value"] == pytest.approx(line.fitted)
        assert shown["off_drawn"] == pytest.approx(line.off_drawn)
    assert sum(g["chance"] for g in told["explanations"]) == pytest.approx(1.0, abs=0.03)
    assert told["explanations"][0]["chance"] == pytest.approx(found.chance)
    assert told["calibrated"]["stands"]["outside"] == found.mended.stands.outside


@pytest.mark.parametrize("system", SYSTEMS)
def test_sentences_are_in_one_system(system):
    told = json.dumps(survey_sheet.records(diagnosed("school_room_negative"), system), ensure_ascii=False)
    words = re.sub(r'"unit": "\w+"', "", told)
    assert all(sign not in words for sign in (("in. w.c.", "°F") if system == "SI" else (" Pa", "°C")))
    # 14 Pa was planted, 0.056 in. w.c.
    assert ("0.05" in words) if system == "US" else ("about 1" in words and "Pa below what was assumed" in words)


def test_danger_comes_first():
    told = survey_sheet.records(diagnosed("swim_hall_blocked_cap"), "US")
    assert told["verdict"].startswith("Shut it down first.") and told["dangers"]
    assert told["next"]["condition"] is None or "Boiler 3 high" not in told["next"]["condition"]
    assert told["next"]["condition"] is None or told["next"]["sentence"].startswith("After it was shut down and aired")


def test_every_cause_has_its_words():
    keys = set(survey_causes.kinds())
    for table in ("survey_cause", "survey_cause_name", "survey_cure"):
        assert set(sentences("job")[table]) == keys, table


def test_carbon_monoxide_is_told_in_ppm():
    assert survey_sheet.reading_number(CARBON_MONOXIDE, 45e-6, "US")["shown"] == "45 ppm"
    assert survey_sheet.reading_number(CARBON_MONOXIDE, float("nan"), "US")["value"] is None


def test_a_vent_as_drawn_that_is_hardly_likelier_than_others_is_not_called_sound():
    found = diagnosed("school_room_negative")
    as_drawn = next(g for g in found.calibration.groups if g[0][0].code == "as_drawn")
    other = tuple(g for g in found.calibration.groups if g is not as_drawn)

    def told(chance):
        groups = ((as_drawn[0], chance), *other)
        changed = SimpleNamespace(groups=groups)
        likely = SimpleNamespace(
            alike=groups[0][0], best=groups[0][0][0], chance=chance, dangers=(), calibration=changed
        )
        return survey_sheet.verdict(likely, "US")

    assert told(0.9).startswith("Nothing was found") and told(0.3).startswith("Not enough was read to tell")


@pytest.mark.parametrize("name", RECIPES)
def test_how_much_of_a_cause_there_is_stands_between_its_ends_in_its_own_unit(name):
    """The figures of each sentence in their order: what is likeliest, then the lower end and the upper one."""
    found = diagnosed(name)
    told = survey_sheet.records(found, "SI")
    for e, sentence in zip(found.extents, told["causes"], strict=True):
        unit, times = (" Pa", 1.0) if e.cause.kind.unit == "Pa" else ("%", 100.0)
        shown = [float(t) for t in re.findall(rf"(-?[\d.]+){unit}", sentence.rpartition(": ")[2])][:3]
        assert shown == pytest.approx([times * v for v in (e.value, *sorted((e.low, e.high)))], abs=0.051)
    units = {c["code"]: n["unit"] for g in told["explanations"] for c in g["members"] for n in c["numbers"]}
    kinds = survey_causes.kinds()
    for code, unit in units.items():
        if "+" not in code:
            assert (unit == "Pa") == (kinds[code].unit == "Pa"), code
