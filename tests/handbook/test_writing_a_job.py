"""The chapter on writing a job: its questions worked by hand, the file's changes, slips that nothing can see."""

import tomllib

import pytest

from ventcalc.handbook import writing_a_job as chapter
from ventcalc.job import edited_job
from ventcalc.show.job_editor import JobEditor
from ventcalc.units import Q_, SYSTEMS

ASKED = {system: chapter.questions(system) for system in SYSTEMS}
FOOT, INCH_OF_WATER, MBH = 0.3048, 249.0889, 293.0711  # m, Pa, W: NIST SP 811, appendix B.8, from memory


def expected(number, unit):
    """The expected answer in both unit systems; they are one."""
    us, si = (float(ASKED[system][number].expected.m_as(unit)) for system in SYSTEMS)
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


def test_a_page_that_is_not_live_says_so_and_how_the_file_reads():
    bundle = JobEditor("laundry")._repr_mimebundle_()
    assert "live in JupyterLab" in bundle["text/html"] and "Reads well." in bundle["text/html"]
