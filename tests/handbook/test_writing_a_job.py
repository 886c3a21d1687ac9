"""The chapter on writing a job: its questions worked by hand, the file's changes, slips that nothing can see."""

import tomllib

import pytest

from ventcalc.gas.fuels import fuel as gas
from ventcalc.handbook import writing_a_job as chapter
from ventcalc.job import edited_job, job_file
from ventcalc.show.job_editor import JobEditor
from ventcalc.show.writing import tried
from ventcalc.units import Q_, SYSTEMS

FOOT, INCH_OF_WATER, MBH = 0.3048, 249.0889, 293.0711  # m, Pa, W: NIST SP 811, appendix B.8, from memory


def expected(number, unit):
    """The expected answer in both unit systems; they are one."""
    us, si = (float(chapter.questions(system)[number].expected.m_as(unit)) for system in SYSTEMS)
    assert us == pytest.approx(si, rel=1e-9)
    return us


# --- Questions ---


def test_end_height_by_hand():
    # 4 ft to the outlet, the riser, and 2 ft that the run rises: read from the file's text.
    assert expected(0, "m") == pytest.approx((4 + 6 + 2) * FOOT, rel=1e-9)
    assert chapter.end_height(Q_(9.5, "ft"))["answer"].m_as("m") == pytest.approx((4 + 9.5 + 2) * FOOT, rel=1e-9)


def test_other_unit_by_hand():
    assert expected(1, "Pa") == pytest.approx(400 - 0.40 * INCH_OF_WATER, abs=1e-3)
    assert chapter.other_unit(0.25)["answer"].m_as("Pa") == pytest.approx(250 - 0.25 * INCH_OF_WATER, abs=1e-3)


# kJ/mol (ISO 6976 and textbooks, from memory) and moles of water that burning a mole makes.
HEAT = {"CH4": (890.6, 2), "C2H6": (1560.7, 3), "C3H8": (2219.2, 4), "i-C4H10": (2868.2, 5), "n-C4H10": (2877.4, 5),
        "C5H12": (3535.8, 6), "C6H14": (4194.9, 7)}  # fmt: skip
CONDENSING = 44.0  # kJ/mol of water at 25 degC, textbooks, from memory
GASES = {
    "propane": {"C3H8": 1.0},
    # A typical analysis published by a gas utility in Ontario (Canada); the rest is nitrogen, CO2 and oxygen.
    "natural gas": {"CH4": 0.95, "C2H6": 0.032, "C3H8": 0.002, "i-C4H10": 0.0003, "n-C4H10": 0.0003,
                    "C5H12": 0.0002, "C6H14": 0.0001},
}  # fmt: skip


def ratio(fuel):
    higher = sum(share * HEAT[part][0] for part, share in GASES[fuel].items())
    water = sum(share * HEAT[part][1] for part, share in GASES[fuel].items())
    return higher / (higher - CONDENSING * water)


def test_gross_by_heats_of_combustion():
    assert expected(2, "kW") == pytest.approx(180 * ratio("propane"), rel=1e-3)


@pytest.mark.parametrize("fuel", GASES)
def test_gross_of_both_gases(fuel):
    assert chapter.gross(fuel, Q_(100.0, "kW"))["answer"].m_as("kW") == pytest.approx(100 * ratio(fuel), rel=1e-3)


# --- Prediction, and what the reader writes ---


@pytest.mark.parametrize("system", SYSTEMS)
def test_the_prediction_by_the_text_of_the_file(system):
    """Nothing is said, by the check that the command line makes; and the share by the bare number in the file."""
    changed = edited_job.with_field(chapter.laundry(), chapter.INPUT, chapter.PLATE)
    assert job_file.read(edited_job.text(changed).encode()) and edited_job.problems(changed) == ()
    told, found = chapter.prediction(system), chapter.mistaken_unit()
    written = float(tomllib.loads(edited_job.text(chapter.laundry()))["appliance"][0]["level"][1]["input"].split()[0])
    assert float(found["figure"].m) == pytest.approx(117 / written, rel=1e-9)
    assert found["right"] == 2 and "says nothing" in told.choices[2] and f"{11700 / written:.0f} %" in told.because
    assert written * MBH == pytest.approx(117e3, rel=1e-3)  # the plate's 117 kW


@pytest.mark.parametrize("system", SYSTEMS)
def test_what_is_written_is_right_by_fuel_burnt(system):
    task = chapter.writing(system)

    def by_fuel(net, higher, lower):
        burnt = net / lower  # mass flow, in whatever unit
        return burnt * higher

    assert {tried(task, case, by_fuel).kind for case in task.cases} == {"right"}
    for case in task.cases:
        assert tried(task, case, lambda net, higher, lower: net * lower / higher).words == task.slips["less"]
        assert tried(task, case, lambda net, *values: net).words == task.slips["net"]


@pytest.mark.parametrize(("system", "joules"), [("US", 2326.0), ("SI", 1e6)])  # J/kg in a Btu/lb, in an MJ/kg
@pytest.mark.parametrize(("number", "fuel"), [(0, "propane"), (1, "natural gas"), (2, "no. 2 oil")])
def test_heating_values_of_the_cases_are_those_of_the_fuels(number, fuel, system, joules):
    _, higher, lower = chapter.writing(system).cases[number].given
    assert higher * joules == pytest.approx(gas(fuel).hhv, rel=0.005)
    assert higher / lower == pytest.approx(gas(fuel).hhv / gas(fuel).lhv, rel=0.005)


# --- Figures that are read, once more from the bare text ---


def test_what_the_library_read_by_hand_from_the_text():
    plain, job = tomllib.loads(edited_job.text(chapter.laundry())), chapter.read(chapter.laundry())

    def number(text):
        return float(text.split()[0])

    boiler, read = plain["appliance"][0], job.plant.appliances[0]
    rises = sum(number(section.get("rise", "0 ft")) for section in plain["section"])
    end = (number(boiler["outlet_height"]) + rises) * FOOT
    assert chapter.end_above_floor(job).m_as("m") == pytest.approx(end, rel=1e-9)
    assert read.window[1].m_as("Pa") == pytest.approx(number(boiler["window"][1]) * INCH_OF_WATER, rel=1e-5)
    assert read.levels[-1].heat_input.m_as("W") == pytest.approx(number(boiler["level"][-1]["input"]) * MBH, rel=1e-5)


# --- The file: what changes is set against what tomllib of Python's own library reads ---


def test_changed_lines_are_those_that_changed():
    before = chapter.laundry()
    after = edited_job.with_field(before, chapter.RISE, "3 ft")
    assert chapter.changed_lines(before, after) == ['- rise = "4 ft"', '+ rise = "3 ft"']
    assert chapter.changed_lines(before, before) == []


def test_a_rise_alone_is_refused_and_with_its_length_is_not():
    higher = edited_job.with_field(chapter.laundry(), chapter.RISE, "6 ft")
    (problem,) = edited_job.problems(higher)
    assert problem.path == ("section", 0) and "6.0 ft" in problem.sentence and "4.0 ft" in problem.sentence
    assert edited_job.problems(edited_job.with_field(higher, chapter.RISER_LENGTH, "6 ft")) == ()


@pytest.mark.parametrize("slip", chapter.unseen(), ids=lambda slip: slip.typed)
def test_slips_are_in_the_file_and_nothing_is_said(slip):
    here = tomllib.loads(edited_job.text(chapter.laundry()))
    for key in slip.path:
        here = here[key]
    assert here == slip.was != slip.typed
    assert edited_job.problems(edited_job.with_field(chapter.laundry(), slip.path, slip.typed)) == ()


def test_slips_are_as_large_as_they_are_said_to_be():
    typed = {slip.path: (float(slip.was.split()[0]), float(slip.typed.split()[0])) for slip in chapter.unseen()}
    was, now = typed[chapter.INPUT]
    assert now < was / 3 and was * MBH == pytest.approx(now * 1000, rel=1e-3)  # the plate's kW
    was, now = typed[chapter.UPPER_EDGE]
    assert now * 1000 / (was * INCH_OF_WATER) == pytest.approx(4, rel=0.01)
    was, now = typed[chapter.RUN_LENGTH]
    assert now == was / 10


# --- What the page shows ---


def test_tables_and_words_of_the_page():
    assert chapter.unseen_table().count(">nothing<") == len(chapter.unseen())
    said = chapter.what_if([(("section", 0, "into"), "rum"), (("site", "altitude"), "180")])
    assert said.count("<tr>") == 3 and "rum" in said
    assert chapter.beginning().startswith("# ") and 'category = "IV"' in chapter.beginning()
    assert "required" in chapter.tables_table() and "window: " in chapter.schema_words(["window"])
    higher = edited_job.with_field(chapter.laundry(), chapter.RISE, "6 ft")
    assert "more than its length" in chapter.change_words(chapter.laundry(), higher)
    longer = edited_job.with_field(higher, chapter.RISER_LENGTH, "6 ft")
    assert chapter.change_words(higher, longer).endswith("It reads well.")


def test_a_page_that_is_not_live_says_so_and_how_the_file_reads():
    bundle = JobEditor("laundry")._repr_mimebundle_()
    assert "live in JupyterLab" in bundle["text/html"] and "Reads well." in bundle["text/html"]
