"""Unit choice: the environment wins, then what a reader chose; tests, tools and scripts begin in US units."""

import subprocess
import sys

import pytest

from ventcalc.show import unit_choice
from ventcalc.show.unit_choice import CHAPTERS

SESSION = {"JPY_SESSION_NAME": "06_stack_effect.ipynb"}


@pytest.fixture
def file(tmp_path):
    return tmp_path / ".units"


def test_a_choice_is_remembered_by_the_next_chapter(file):
    assert unit_choice.chosen(SESSION, file) == "US"
    assert unit_choice.remember("SI", SESSION, file)
    assert unit_choice.chosen(SESSION, file) == "SI"


def test_outside_a_notebook_server_nothing_is_read_and_nothing_written(file):
    assert not unit_choice.remember("SI", {}, file) and not file.exists()
    file.write_text("SI\n")
    assert unit_choice.chosen({}, file) == "US"


def test_the_environment_wins_and_is_not_remembered(file):
    told = SESSION | {"VENTCALC_UNITS": "SI"}
    assert unit_choice.chosen(told, file) == "SI" and unit_choice.chosen({"VENTCALC_UNITS": "SI"}, file) == "SI"
    assert not unit_choice.remember("US", told, file) and not file.exists()


@pytest.mark.parametrize("held", ["", "metric", "si"])
def test_a_file_that_says_neither_is_passed_over(file, held):
    file.write_text(held)
    assert unit_choice.chosen(SESSION, file) == "US"


def test_a_variable_that_says_neither_is_refused_by_its_name():
    with pytest.raises(ValueError, match="VENTCALC_UNITS is 'metric'; it must be US or SI"):
        unit_choice.chosen({"VENTCALC_UNITS": "metric"})


def test_a_folder_that_cannot_be_written_is_no_fault(tmp_path):
    assert not unit_choice.remember("SI", SESSION, tmp_path / "not there" / ".units")


def test_git_ignores_the_file():
    ended = subprocess.run(["git", "check-ignore", "-q", str(unit_choice.FILE)], cwd=CHAPTERS)
    assert ended.returncode in (0, 128)  # 128: no git here


def test_a_chapter_does_not_load_what_only_handouts_need():
    # Of nbformat and nbconvert a second and a half of every chapter's start would be spent.
    code = (
        "import sys\nfrom ventcalc.show import exercise_sheet, prediction, unit_switch, writing\n"
        "print(*(name for name in ('nbformat', 'nbconvert', 'jsonschema') if name in sys.modules))"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert found.returncode == 0 and not found.stdout.split(), found
