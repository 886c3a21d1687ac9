"""Repeated: a row of boilers told once is the same file as one that spells each out."""

import tomllib

import pytest

from ventcalc.job.repeated import MOST, RepeatError, repeat, told_at
from ventcalc.units import parse

ROW = """
[[appliance]]
name = "Boiler"
count = 3
into = "connector"
fuel = "natural gas"

[[section]]
name = "connector"
count = 3
into = "header"
diameter = "4 inch"

[[section]]
name = "header"
count = 3
into = "header"
then = "stack"
diameter = "8 inch"

[[section]]
name = "stack"
into = "roof"
"""

SPELLED = """
[[appliance]]
name = "Boiler 1"
into = "connector 1"
fuel = "natural gas"
[[appliance]]
name = "Boiler 2"
into = "connector 2"
fuel = "natural gas"
[[appliance]]
name = "Boiler 3"
into = "connector 3"
fuel = "natural gas"
[[section]]
name = "connector 1"
into = "header 1"
diameter = "4 inch"
[[section]]
name = "connector 2"
into = "header 2"
diameter = "4 inch"
[[section]]
name = "connector 3"
into = "header 3"
diameter = "4 inch"
[[section]]
name = "header 1"
into = "header 2"
diameter = "8 inch"
[[section]]
name = "header 2"
into = "header 3"
diameter = "8 inch"
[[section]]
name = "header 3"
into = "stack"
diameter = "8 inch"
[[section]]
name = "stack"
into = "roof"
"""


def test_a_row_is_what_it_spells():
    assert repeat(tomllib.loads(ROW)) == tomllib.loads(SPELLED)


def test_a_file_without_counts_is_left_alone():
    spelled = tomllib.loads(SPELLED)
    assert repeat(spelled) == spelled
    assert repeat({"job": 3, "section": "nothing"}) == {"job": 3, "section": "nothing"}


def test_counted_things_may_all_lead_to_one():
    text = ROW.replace('count = 3\ninto = "header"\nthen = "stack"\n', 'into = "stack"\n').replace(
        'into = "header"', 'into = "one header"'
    )
    found = repeat(tomllib.loads(text))
    assert [s["into"] for s in found["section"][:3]] == ["one header"] * 3


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("count = 3\n", "count = 0\n", f"count = 0 must be a whole number from 1 to {MOST}"),
        ("count = 3\n", "count = true\n", "must be a whole number"),
        ("count = 3\n", 'count = "3"\n', "must be a whole number"),
        ('then = "stack"\n', "", '"header": it leads into itself, so say where'),
        ('into = "roof"', 'into = "roof"\nthen = "x"\ncount = 1', '"stack": then is for a row'),
        ('name = "header"\ncount = 3', 'name = "header"\ncount = 2', '"connector": count = 3, but "header"'),
        ('into = "roof"', 'into = "header"', '"stack": into = "header" is counted; name one of them'),
    ],
)
def test_what_does_not_fit_is_named(old, new, words):
    assert old in ROW
    with pytest.raises(RepeatError, match=words):
        repeat(tomllib.loads(ROW.replace(old, new)))


def test_all_that_is_wrong_is_told_at_once():
    with pytest.raises(RepeatError) as refused:
        repeat(tomllib.loads(ROW.replace("count = 3", "count = -1")))
    assert len(refused.value.problems) == 3


def test_a_row_without_count_has_no_then():
    with pytest.raises(RepeatError, match='"stack": then is for a row'):
        repeat(tomllib.loads(ROW + 'then = "x"\n'))


def test_what_names_a_counted_appliance_means_all_of_them():
    more = """
    [[permission]]
    name = "Boiler"
    what = "common vent"
    [[permission]]
    name = "Boiler 2"
    [[permission]]
    what = "of nothing"
    [[alternate]]
    appliances = ["Boiler", "Heater"]
    [room]
    sealed = ["Boiler"]
    """
    found, all_ = repeat(tomllib.loads(ROW + more)), ["Boiler 1", "Boiler 2", "Boiler 3"]
    assert [p.get("name") for p in found["permission"]] == [*all_, "Boiler 2", None]
    assert [p.get("what") for p in found["permission"]] == [*["common vent"] * 3, None, "of nothing"]
    assert found["alternate"][0]["appliances"] == [*all_, "Heater"]
    assert found["room"]["sealed"] == all_


def test_a_place_is_that_of_the_table():
    content = tomllib.loads(ROW + '[[permission]]\nname = "Boiler"\n[[permission]]\nname = "x"\n')
    assert told_at(("appliance", 2, "level", 0, "input"), content) == ("appliance", 0, "level", 0, "input")
    assert [told_at(("section", k), content)[1] for k in range(7)] == [0, 0, 0, 1, 1, 1, 2]
    assert [told_at(("permission", k), content)[1] for k in range(4)] == [0, 0, 0, 1]
    assert told_at(("season", 1, "name"), content) == ("season", 1, "name")
    assert told_at(("appliance",), {}) == ("appliance",)


@pytest.mark.parametrize("row", ["{ count = 2 }", "{ count = 2, name = 3, into = [] }", '{ count = 1, name = ["x"] }'])
def test_what_is_not_even_a_row_is_left_to_the_form(row):
    found = repeat(tomllib.loads(f"appliance = [{row}]\nsection = [{row}]\n"))
    assert all("count" not in each for kind in ("appliance", "section") for each in found[kind])


def test_connectors_meet_a_header_that_rises():
    """A quarter of an inch a foot (fuel gas code, pitch of connectors): 1.25 in. over each 5 ft."""
    text = ROW.replace('into = "header"\ndiameter = "4 inch"', 'into = "header"\nlength = "6 ft"\nrise = "3 ft"')
    text = text.replace('then = "stack"\n', 'then = "stack"\nlength = "5 ft"\nrise = "1.25 inch"\n')
    told = {s["name"]: s for s in repeat(tomllib.loads(text))["section"]}
    for k in range(3):
        connector, header = told[f"connector {k + 1}"], told[f"header {k + 1}"]
        for key, length in (("rise", 3.0), ("length", 6.0)):
            assert parse(connector[key]).m_as("ft") == pytest.approx(length + k * 1.25 / 12)
        assert (header["rise"], header["length"]) == ("1.25 inch", "5 ft")


@pytest.mark.parametrize("rise", ["much", 3, "3 kg", [], "3"])
def test_what_is_no_length_is_left_for_whoever_reads_it(rise):
    text = ROW.replace('then = "stack"\n', 'then = "stack"\nrise = "1 inch"\n')
    told = repeat(
        tomllib.loads(text.replace('into = "header"\ndiameter', f'into = "header"\nrise = {rise!r}\ndiameter'))
    )
    assert [s.get("rise") for s in told["section"][:3]] == [rise] * 3
