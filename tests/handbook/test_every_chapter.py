"""What must hold in every chapter alike: its questions mark themselves, its live controls answer and move something."""

import re
from functools import partial
from importlib import import_module
from itertools import count
from pkgutil import iter_modules

import pytest

from ventcalc import handbook
from ventcalc.handbook import lessons
from ventcalc.show import panels
from ventcalc.show.exercises import mark
from ventcalc.show.panels import said
from ventcalc.units import SYSTEMS, parse

CHAPTERS = {m.name: import_module(f"ventcalc.handbook.{m.name}") for m in iter_modules(handbook.__path__)}
ASKING = sorted(name for name, chapter in CHAPTERS.items() if hasattr(chapter, "questions"))
# Those whose live controls stand by themselves; the rest are made for a plant, a scan or jobs, and tested there.
GIVEN_SOMETHING = {"common_vent", "firing_states", "study"}
LIVE = sorted(
    name for name, chapter in CHAPTERS.items() if hasattr(chapter, "explorer") and name not in GIVEN_SOMETHING
)


SHOWN = {}  # what panels answered, and the panels, so that none is forgotten while its answers are kept


def shown(panel, values):
    """What a panel answers for some values: worked out and drawn once for all who ask it here."""
    asked = (panel.answer.func, *map(id, panel.answer.args), *values.items())
    if asked not in SHOWN:
        SHOWN[asked] = said(panel.answer, values), panel
    return SHOWN[asked][0]


def test_the_chapters_are_found():
    assert len(ASKING) >= 15 and len(LIVE) >= 12 and set(ASKING) >= GIVEN_SOMETHING


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", ASKING)
def test_questions_mark_themselves(name, system):
    questions = CHAPTERS[name].questions(system)
    assert len(questions) >= 3
    for question in questions:
        assert mark(question, question.expected).kind == "right", question.question
        assert len(question.hints) >= 2 and question.question.endswith(("?", ")", "."))
        # The example shows a form that can be read, and does not give the answer away.
        assert mark(question, question.example).kind == "wrong", question.question
        for slip in question.slips:
            verdict = mark(question, slip.answer)
            assert (verdict.kind, verdict.sentence) == ("wrong", slip.reason), question.question


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", ASKING)
def test_three_digits_are_enough(name, system):
    # Common practice, no source: nobody carries more. Whole numbers of things are told whole.
    for question in CHAPTERS[name].questions(system):
        if question.expected.dimensionless and float(question.expected.m).is_integer():
            continue
        told = re.search(r"[^\d.]", question.example)
        unit = parse(question.example).units if told else question.expected.units
        typed = f"{float(f'{question.expected.m_as(unit):.3g}'):.10g} {unit:~C}"
        assert mark(question, typed).kind == "right", (question.question, typed, question.expected)


@pytest.mark.slow
@pytest.mark.parametrize("name", ASKING)
def test_a_question_asks_for_the_same_kind_of_thing_in_both_systems(name):
    for us, si in zip(*(CHAPTERS[name].questions(system) for system in SYSTEMS), strict=True):
        assert us.expected.is_compatible_with(si.expected), us.question


@pytest.mark.slow
@pytest.mark.parametrize("name", ASKING)
def test_a_seed_draws_figures_that_mark_themselves(name):
    # Other figures for other classes, the same for all who give the same seed.
    told = set()
    for seed in range(6):
        drawn = {system: CHAPTERS[name].questions(system, seed) for system in SYSTEMS}
        for us, si in zip(drawn["US"], drawn["SI"], strict=True):
            for question in (us, si):
                assert mark(question, question.expected).kind == "right", question.question
                assert mark(question, question.example).kind == "wrong", question.question
                assert all(mark(question, slip.answer).kind == "wrong" for slip in question.slips), question.question
            assert us.expected.is_compatible_with(si.expected)
        told.add(tuple(q.question for q in drawn["US"]))
    assert len(told) >= 5  # of six seeds two may draw alike where little can be varied


@pytest.mark.slow
@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", LIVE)
def test_live_controls_answer_at_both_ends(name, system):
    panel = CHAPTERS[name].explorer(system)
    start = panel.values
    tried = count()
    for key, control in panel.controls.items():
        values = [o[1] if isinstance(o, tuple) else o for o in control.options]
        for value in {values[0], values[-1]}:
            numbers, picture, *_ = shown(panel, start | {key: value})
            assert not re.search(r"\b(nan|inf)\b|cannot be built", numbers), (key, value)
            assert picture.startswith(b"\x89PNG"), (key, value)
            next(tried)
    assert next(tried) > len(start)


@pytest.mark.slow
@pytest.mark.parametrize("name", LIVE)
def test_moving_a_control_answers_for_the_values_it_then_has(name):
    panel = CHAPTERS[name].explorer("US")
    control = next(iter(panel.controls.values()))
    control.index = (control.index + 1) % len(control.options)
    numbers, picture, *_ = panel.answer(**{key: c.value for key, c in panel.controls.items()})
    assert (panel.numbers.value, panel.picture.value) == (numbers, picture)


def ends(control):
    """The values of a control but the one it has, the ends first."""
    values = [o[1] if isinstance(o, tuple) else o for o in control.options]
    return [v for v in dict.fromkeys([values[0], values[-1], *values]) if v != control.value]


def settings(panel, key):
    """What the other controls may have: what they start with, then one of them moved to an end."""
    start = panel.values
    yield start
    for other, control in panel.controls.items():
        if other != key:
            yield from (start | {other: value} for value in ends(control)[:2])


def idle(panel):
    """Controls that in no setting of the others change the numbers, the picture or the drawing; greyed ones aside."""

    def moves(key):
        return any(
            shown(panel, at) != shown(panel, at | {key: value})
            for at in settings(panel, key)
            for value in ends(panel.controls[key])
        )

    return [key for key, control in panel.controls.items() if not (control.disabled or moves(key))]


@pytest.mark.slow
@pytest.mark.parametrize("chapter", lessons.chapters())
def test_each_control_moves_what_is_shown(chapter):
    panel = lessons.panel(chapter, "US")
    assert panel.controls and idle(panel) == []


def test_a_control_that_moves_nothing_is_found():
    controls = {"height": panels.choice("Height", [1, 2], 1), "color": panels.choice("Color", ["red", "blue"], "red")}
    panel = panels.Panel(partial(lambda height, color: (f"{height}", panels.no_picture())), controls)
    assert idle(panel) == ["color"]
    controls["color"].disabled = True
    assert idle(panel) == []
