"""A panel at chosen settings: it shows what it would show to a hand, and says what it does not have."""

from base64 import b64decode

import pytest

from ventcalc.show import panel_settings, panels
from ventcalc.show.lesson import Lesson, Setting
from ventcalc.show.svg import Drawing
from ventcalc.units import Q_, show

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 200 100"><title>a pipe</title></svg>'


def panel(system: str = "US", drawn: bool = False) -> panels.Panel:
    """A panel whose one figure is ten times the height, and the fuel."""

    def answer(*, height: float, name: str):
        rows = [("ten times", show(10 * Q_(height, "m"), system)), ("fuel", name)]
        numbers = panels.table(("what", "figure"), rows)
        return (numbers, panels.no_picture(), *([Drawing(SVG, "a pipe")] if drawn else []))

    controls = {
        "height": panels.slider("Height", panels.steps("height", system, range(10, 31, 10), range(3, 10, 3)), 3.0),
        "name": panels.choice("Fuel", ["gas", "oil"], "gas"),
    }
    return panels.Panel(answer, controls)


def lesson(**values) -> Lesson:
    return Lesson((), (Setting("what it shows", values),), ("ten times", ""))


@pytest.mark.parametrize(("system", "figure", "label"), [("US", "200.0 ft", "20.0 ft"), ("SI", "60.00 m", "6.00 m")])
def test_a_setting_goes_to_the_nearest_that_a_slider_has(system, figure, label):
    (found,) = panel_settings.shown(panel(system), lesson(height="19 ft", name="oil"))
    assert (found.figure, found.set) == (figure, f"Height: {label} · Fuel: oil")


def test_what_is_shown_is_what_a_hand_would_see():
    moved = panel()
    moved.controls["height"].value = moved.controls["height"].options[2][1]
    (found,) = panel_settings.shown(panel(), lesson(height="30 ft"))
    assert found.figure in moved.numbers.value
    assert b64decode(found.image.partition(",")[2]) == moved.picture.value


def test_the_panel_itself_stays_where_it_stood():
    one = panel()
    before = one.values, one.numbers.value
    panel_settings.shown(one, lesson(height="30 ft", name="oil"))
    assert (one.values, one.numbers.value) == before


def test_a_drawing_goes_before_the_picture_and_has_a_size():
    (found,) = panel_settings.shown(panel(drawn=True), lesson(name="oil"))
    kind, _, data = found.image.partition(",")
    assert kind == "data:image/svg+xml;base64"
    drawn = b64decode(data).decode()
    assert 'width="1060" height="530"' in drawn and "<title>a pipe</title>" in drawn


@pytest.mark.parametrize(
    ("values", "told"),
    [({"heigth": "3 ft"}, "no control 'heigth'"), ({"name": "coal"}, "coal"), ({"height": "tall"}, "tall")],
)
def test_what_the_panel_does_not_have_is_refused_by_name(values, told):
    with pytest.raises(ValueError, match=told):
        panel_settings.shown(panel(), lesson(**values))


def test_a_figure_is_found_by_how_its_row_begins_and_by_its_column():
    two = panels.table(("form", "draft"), [("full: g H", "1 Pa")]) + panels.table(
        ("", "draft", "flow"), [("b", "2", "3")]
    )
    assert panel_settings.figure(two, "full") == "1 Pa"
    assert panel_settings.figure(two, "", "flow") == "3"
    assert panel_settings.figure(two, "b", "draft") == "2"
    with pytest.raises(ValueError, match="no figure"):
        panel_settings.figure(two, "c")


def test_slides_hold_all_settings_and_a_table_of_their_figures():
    three = Lesson((), tuple(Setting(f"so {k}", {"height": f"{k} ft"}) for k in (10, 20, 30)), ("ten times", ""))
    html = panel_settings.html(panel(), three)
    assert html.count("<img ") == 3 and html.count("<h2>") == 4
    table = html[html.index("<table>") :]
    assert all(f"<b>{k}.0 ft</b>" in table for k in (100, 200, 300))
