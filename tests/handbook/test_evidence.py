"""The page of evidence: all chapters' rows, as the saved chapters and their own tests have them, and quickly."""

import time

import pytest

from ventcalc.handbook import combustion, evidence, flue_gas, heat_loss_checks, measured, stack_effect
from ventcalc.show import contents


def test_a_chapter_is_asked_for_all_its_rows():
    assert {c.id for c in evidence.checks_of("flue_gas")} == {c.id for c in flue_gas.checks()}


def test_what_was_measured_stands_last_among_a_chapter_s_rows():
    for subject, own in (("stack_effect", stack_effect), ("combustion", combustion)):
        found, beside = [c.id for c in evidence.checks_of(subject)], [c.id for c in measured.checks_of(subject)]
        assert found[-len(beside) :] == beside and set(found) == {c.id for c in own.checks()} | set(beside)


def test_checks_in_a_module_of_their_own_are_found():
    all_three = heat_loss_checks.checks() + heat_loss_checks.film_checks() + heat_loss_checks.radiation_checks()
    found = {c.id for c in evidence.checks_of("heat_loss")} - {c.id for c in measured.checks_of("heat_loss")}
    assert found == {c.id for c in all_three}


@pytest.mark.slow
def test_every_chapter_but_the_one_on_writing_has_rows():
    with_rows = {row.chapter[:2] for row in evidence.rows()}
    assert {f"{n:02d}" for n in contents.chapters()} - with_rows == {"28"}
    assert len(evidence.rows()) > 900


def test_a_chapter_shows_a_row_once():
    told = [(row.chapter, row.check.id) for row in evidence.rows()]
    assert len(told) == len(set(told))


@pytest.mark.slow
def test_the_page_is_made_soon():
    # 1.5 s of a processor where the solver is compiled already and the modules are there; the page may take 8 in all.
    evidence.rows.cache_clear()
    evidence.rows()
    began = time.process_time()
    evidence.rows.cache_clear()
    evidence.browser()._repr_mimebundle_()
    assert time.process_time() - began < 4.0
