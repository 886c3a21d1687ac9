"""Quick sketches: each says the numbers of its card, in both unit systems, and moves with them."""

import re

import pytest

from ventcalc.handbook.quick_checks import calculators, value
from ventcalc.handbook.quick_sketches import SKETCHES, columns
from ventcalc.units import SYSTEMS, show

DRAWN = [c for c in calculators() if c.sketch]


def test_seven_of_the_ten_are_drawn():
    assert {c.name for c in DRAWN} == set(SKETCHES) and len(DRAWN) == 7


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("card", DRAWN, ids=lambda c: c.name)
def test_a_sketch_tells_the_answer_of_its_card(card, system):
    answer = card.work(card.start(system), system)[0]
    drawing = card.sketch(answer.told, system)
    told = answer.results[0].text(system) if card.name != "draft" else show(answer.told["inside"], system, "density")
    assert told in drawing.words and told in drawing.svg
    assert drawing.svg.startswith("<svg") and "nan" not in drawing.svg


def test_the_heavier_column_falls():
    rising, falling = value("draft").told, value("draft", temperature="-10 degF", outdoor="90 degF").told
    assert "the gas rises" in columns(rising, "US").words and "the gas falls" in columns(falling, "US").words


def test_the_bars_are_as_long_as_their_parts():
    # The longest is the whole: of it friction and fittings, by their widths.
    answer = value("loss")
    widths = [float(w) for w in re.findall(r'width="([\d.]+)" height="14', SKETCHES["loss"](answer.told, "US").svg)]
    whole, straight, fittings = (answer.told[n].m_as("Pa") for n in ("whole", "straight", "fittings"))
    assert widths == pytest.approx([280.0, 280.0 * straight / whole, 280.0 * fittings / whole], abs=0.1)


def test_the_dew_point_stands_at_its_place_between_freezing_and_boiling():
    drawing, found = SKETCHES["dew_point"](value("dew_point").told, "SI"), value("dew_point").told["dew_point"]
    mark = float(re.search(r'points="([\d.]+),46', drawing.svg)[1])
    assert mark == pytest.approx(16.0 + 268.0 * found.m_as("degC") / 100.0, abs=0.1)
