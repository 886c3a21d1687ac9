"""What every chapter must have for a class: notes for each part, minutes, and three settings that differ."""

import re

import nbformat
import pytest

from ventcalc.handbook import lessons, writing_a_job
from ventcalc.show import contents, handout, panel_settings
from ventcalc.units import SYSTEMS

ALL = lessons.chapters()


def slides_begin_at(name: str) -> list[str]:
    """Headings of a chapter down to the third level."""
    cells = nbformat.read(handout.find(name), as_version=4).cells
    return [h.strip() for c in cells if c.cell_type == "markdown" for h in re.findall(r"(?m)^#{1,3} +(.+)$", c.source)]


def test_every_chapter_has_a_lesson():
    assert len(ALL) == 31 == len({int(name[:2]) for name in ALL})
    assert {int(name[:2]) for name in ALL} == set(contents.chapters()) - {0}


@pytest.mark.parametrize("name", ALL)
def test_notes_begin_at_headings_in_their_order(name):
    found, headings = lessons.of(name), slides_begin_at(name)
    at = [headings.index(part.at) for part in found.parts]
    assert at[0] == 0 and at == sorted(set(at))
    assert found.parts[-1].at == "Exercises"
    assert any(part.at.startswith("What surprises") for part in found.parts)


@pytest.mark.parametrize("name", ALL)
def test_notes_say_something(name):
    found = lessons.of(name)
    assert len(found.parts) >= 5 and 45 <= found.minutes <= 75  # an hour in front of a room
    assert any(part.board for part in found.parts)
    for part in found.parts:
        assert "?" in part.ask or ":" in part.ask
        assert min(len(text.split()) for text in (part.ask, part.wrong, part.answer)) >= 4, part
    told = [text for part in found.parts for text in (part.ask, part.wrong, part.answer)]
    assert len(set(told)) == len(told)


def test_no_note_is_told_twice():
    asked = [part.ask for name in ALL for part in lessons.of(name).parts]
    answered = [part.answer for name in ALL for part in lessons.of(name).parts]
    assert len(set(asked)) == len(asked) and len(set(answered)) == len(answered)


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", ALL)
def test_three_settings_show_what_moves(name, system):
    found = panel_settings.shown(lessons.panel(name, system), lessons.of(name))
    assert len({one.set for one in found}) == 3
    assert len({one.image for one in found}) == 3
    assert len({one.figure for one in found}) >= (3 if name not in NO_FIGURE else 2)
    assert not any(re.search(r"\b(nan|inf)\b", one.figure) for one in found)


# Where it is the point that one of the three changes nothing: hotter gas makes no more of it, a short pressure stops
# nobody, taking the cap off dilutes nothing, a smooth bend is worth half an elbow, dampers move what they must.
NO_FIGURE = {"02_combustion", "09_fittings", "18_outlet_control", "20_start_sequence", "24_re_entrainment"}


@pytest.mark.slow
def test_slides_of_a_chapter_have_notes_and_settings_and_no_evidence(tmp_path):
    html = lessons.write("06", "SI", tmp_path).read_text(encoding="utf-8")
    found = lessons.of("06_stack_effect")
    assert html.count("<aside data-at=") == len(found.parts)
    assert html.count(panel_settings.HEADING) == 4
    assert "Live controls, as they stood" not in html and "published rows within tolerance" not in html
    assert "39.8 Pa" in html  # 30 C warmer outdoors, as the panel says in SI


def test_a_page_without_a_lesson_is_made_without_notes(tmp_path):
    html = lessons.write("00_quick_checks", "US", tmp_path).read_text(encoding="utf-8")
    assert "<aside" not in html


def test_notes_on_paper_tell_every_part(tmp_path):
    html = lessons.write_notes("21", "US", tmp_path).read_text(encoding="utf-8")
    found = lessons.of("21_sensor_location")
    assert html.count("<b>Ask:</b>") == len(found.parts) and f"{found.minutes} minutes" in html
    with pytest.raises(handout.HandoutError, match="no notes"):
        lessons.write_notes("00_contents", "US", tmp_path)


def test_what_is_typed_in_the_laundrys_file_moves_its_outlet():
    # The run is a tenth as long: nearly all of its loss goes; see chapter 28 for what is typed.
    panel = writing_a_job.typed_explorer("US")
    figures = {}
    for label in panel.controls["typed"].options:
        numbers, _, drawn = panel.answer(typed=label)
        figures[label] = float(panel_settings.figure(numbers, "", "highest at the outlet").split()[0])
        assert "Boiler, high" in drawn.words
    assert figures["117 MBH"] < 0.4 * figures[writing_a_job.AS_IT_IS]
    assert figures["0.40 kPa"] == figures[writing_a_job.AS_IT_IS]
    assert figures["9.2 ft"] < figures[writing_a_job.AS_IT_IS]
