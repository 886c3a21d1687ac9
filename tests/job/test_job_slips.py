"""Job slips: what a file may say and seldom means is told with its key and its value, and nothing is refused for it."""

import re

import pytest
from sample_files import DEMOS, FILES, GOOD

from ventcalc.job import job_file, starting_file
from ventcalc.units import SYSTEMS
from ventcalc.words import sentences

# An invented job, written for these tests: one boiler on an upright vent, three seasons.
BASE = """
[job]
name = "one boiler"
[site]
altitude = "200 m"
air_opening_height = "0.5 m"
[[season]]
name = "cold"
outdoor = "-12 degC"
room = "18 degC"
[[season]]
name = "warm"
outdoor = "30 degC"
room = "32 degC"
[control]
set_point = "-12 Pa"
[[appliance]]
name = "K"
into = "piece"
fuel = "natural gas"
category = "I"
outlet_diameter = "200 mm"
outlet_height = "1.5 m"
window = ["-30 Pa", "0 Pa"]
leak = { flow = "20 m**3/hour", pressure = "25 Pa" }
idle = "leaking"
[[appliance.level]]
name = "on"
input = "150 kW"
o2 = "6 %"
flue_temperature = "160 degC"
[[section]]
name = "piece"
into = "upright"
length = "2 m"
rise = "1 m"
diameter = "200 mm"
material = "insulated chimney"
[[section]]
name = "upright"
into = "top"
length = "11 m"
rise = "11 m"
diameter = "250 mm"
material = "insulated chimney"
place = "outdoors"
[[termination]]
name = "top"
cap = "open end"
"""

# By its code: what is changed in the text, and what the remark must say: the key, and the value as it is written.
SLIPS = {
    "no warm season": ('outdoor = "30 degC"', 'outdoor = "12 degC"', "outdoor = 12 °C"),
    "no cold season": ('outdoor = "-12 degC"', 'outdoor = "14 degC"', "outdoor = 14 °C"),
    # By hand: 14.3 m3/h of gas, 10 m3 of air each, 1.4 times: some 230 m3/h at 20 degC; told is 15 times it.
    "purge": (
        'outlet_height = "1.5 m"',
        'outlet_height = "1.5 m"\npurge_flow = "1 m**3/s"',
        "purge_flow = 1 m³/s",
    ),
    "cold room": ('room = "18 degC"', 'room = "20 degF"', 'season "cold": room = 20 °F'),
    "room below outdoors": (
        'outdoor = "-12 degC"\nroom = "18 degC"',
        'outdoor = "9 degC"\nroom = "7 degC"',
        "room = 7 °C is colder than outdoors, 9 °C",
    ),
    "opening above vent": ('"0.5 m"', '"60 ft"', "air_opening_height = 60 ft is above the top of the vent, 44.3 ft"),
    "opening nowhere": (
        'cap = "open end"\n',
        'cap = "open end"\n[room]\nvolume = "90 m**3"\n'
        '[[room.opening]]\nname = "grille"\narea = "900 cm**2"\n'
        '[[room.opening]]\nname = "door"\narea = "300 cm**2"\nplace = "low"\n',
        'room.opening "grille": place is not told. The codes count its 900 cm² only',
    ),
    "collar below floor": ('"1.5 m"', '"-3 m"', "outlet_height = -3 m"),
    "collar high": ('"1.5 m"', '"15 m"', "outlet_height = 15 m"),
    "collar and connector": ('outlet_diameter = "200 mm"', 'outlet_diameter = "20 inch"', "outlet_diameter = 20 in"),
    "input": ('"150 kW"', '"25 MW"', "level on has input = 25 MW"),
    "cold gas": ('"160 degC"', '"16 degC"', "level on has flue_temperature = 16 °C: hardly warmer"),
    "wet for its category": ('"160 degC"', '"45 degC"', "flue_temperature = 45 °C, at which gas condenses"),
    "hot to condense": (
        'category = "I"\noutlet_diameter = "200 mm"\noutlet_height = "1.5 m"\nwindow = ["-30 Pa", "0 Pa"]',
        'category = "IV"\noutlet_diameter = "200 mm"\noutlet_height = "1.5 m"\nwindow = ["-30 Pa", "30 Pa"]',
        "flue_temperature = 160 °C, and category IV is that of appliances whose gas condenses",
    ),
    "wide": (
        'diameter = "250 mm"',
        'diameter = "16 ft"',
        'section "upright": diameter = 16 ft is wider than vents are',
    ),
    "wide window": ('["-30 Pa", "0 Pa"]', '["-3 inH2O", "0 Pa"]', "window = -3 inH2O to 0 Pa"),
    "window without draft": ('["-30 Pa", "0 Pa"]', '["0 Pa", "30 Pa"]', "window = 0 Pa to 30 Pa allows no draft"),
    "window under pressure": (
        'window = ["-30 Pa", "0 Pa"]\n',
        'kind = "draft hood"\nwindow = ["-30 Pa", "20 Pa"]\n',
        "window = -30 Pa to 20 Pa allows pressure, under which a draft hood spills",
    ),
    "leak": ('"20 m**3/hour"', '"20 m**3/minute"', "leak = 20 m³/min at 25 Pa would be"),
    "falls": ('rise = "1 m"', 'rise = "-1 m"', 'section "piece": rise = -1 m'),
    "hardly rises": ('rise = "11 m"', 'rise = "11 inch"', 'section "upright": rise = 11 in of a length of 11 m'),
    "no rise": ('rise = "11 m"\n', "", 'section "upright": no rise is told of a length of 11 m'),
    "narrows": ('diameter = "250 mm"', 'diameter = "150 mm"', "diameter = 200 mm is larger"),
    "set point": ('set_point = "-12 Pa"', 'set_point = "12 Pa"', "control.set_point = 12 Pa is outside"),
}


def read(text):
    return job_file.read(text.encode())


def codes(job):
    return [remark.code for remark in job.remarks]


def test_nothing_is_told_of_a_plain_job():
    assert codes(read(BASE)) == []


@pytest.mark.parametrize("name", DEMOS)
def test_nothing_is_told_of_a_demo_job_or_of_its_alternates(name):
    job = job_file.load(FILES / f"{name}.toml")
    assert codes(job) == [] and not any(codes(a.job) for a in job.alternates)


@pytest.mark.parametrize("kind", starting_file.KINDS)
@pytest.mark.parametrize("system", SYSTEMS)
def test_nothing_is_told_of_a_starting_file(kind, system):
    assert codes(read(starting_file.text(3, kind, system))) == codes(read(starting_file.text(1, kind, system))) == []


@pytest.mark.parametrize("code", SLIPS)
def test_a_slip_is_told_with_its_key_and_its_value(code):
    old, new, told = SLIPS[code]
    assert BASE.count(old) == 1
    job = read(BASE.replace(old, new))
    # A window that allows no draft leaves the set point outside it, and such is told as well.
    assert set(codes(job)) - ({"set point"} if code == "window without draft" else set()) == {code}
    remark = next(r for r in job.remarks if r.code == code)
    for system in SYSTEMS:
        assert told in remark.words(system)


def test_every_remark_has_its_slip_here():
    assert {*SLIPS, "alternate"} == set(sentences("job")["slips"])


def test_one_season_alone_is_told_to_be_one():
    alone = re.sub(r'\[\[season\]\]\nname = "warm"\n.*\n.*\n', "", BASE)
    assert codes(read(alone)) == ["no warm season"]
    alone = re.sub(r'\[\[season\]\]\nname = "cold"\n.*\n.*\n', "", BASE)
    assert codes(read(alone)) == ["no cold season"]


@pytest.mark.parametrize(
    "end", ['cap = "wall terminal"', 'cap = "open end"\nplace = "wall"', 'cap = "open end"\nside = "east"']
)
def test_a_vent_that_ends_in_a_wall_need_not_rise(end):
    flat = BASE.replace('rise = "11 m"\n', "").replace('cap = "open end"', end)
    assert codes(read(flat)) == []


def test_a_short_last_piece_need_not_rise():
    assert codes(read(BASE.replace('length = "11 m"\nrise = "11 m"', 'length = "1 m"'))) == []


def test_an_appliance_in_a_place_of_its_own_may_stand_high():
    up = '[[place]]\nname = "upstairs"\n[[season]]'
    text = BASE.replace("[[season]]", up, 1).replace('"1.5 m"', '"15 m"\nroom = "upstairs"')
    for room in ('room = "18 degC"', 'room = "32 degC"'):
        text = text.replace(room, f'{room}\nplace = [{{ name = "upstairs", temperature = "20 degC" }}]')
    assert codes(read(text)) == []


def test_a_set_point_that_was_left_out_is_not_told_to_be_outside():
    text = re.sub(r"\[control\]\n.*\n", "", BASE).replace('["-30 Pa", "0 Pa"]', '["-3 Pa", "0 Pa"]')
    assert codes(read(text)) == []


def test_the_window_of_an_alternate_counts_for_the_set_point():
    text = BASE.replace('set_point = "-12 Pa"', 'set_point = "-40 Pa"')
    assert codes(read(text)) == ["set point"]
    other = '\n[[alternate]]\nname = "another"\nappliances = ["K"]\nwindow = ["-60 Pa", "0 Pa"]\n'
    assert codes(read(text + other)) == []


def test_a_slip_in_an_alternate_is_told_by_its_name():
    other = '\n[[alternate]]\nname = "another"\nappliances = ["K"]\nwindow = ["-3 inH2O", "0 Pa"]\n'
    (remark,) = read(BASE + other).remarks
    assert remark.words().startswith('alternate "another": appliance "K": window = -3 inH2O to 0 Pa')
    gone = '\n[[alternate]]\nname = "without it"\nappliances = ["K"]\nremoved = true\n'
    second = BASE[BASE.index("[[appliance]]") : BASE.index("[[section]]")].replace('"K"', '"L"').replace("piece", "leg")
    leg = BASE[BASE.index("[[section]]") : BASE.rindex("[[section]]")].replace('"piece"', '"leg"')
    text = BASE.replace("[[appliance]]", second + "[[appliance]]", 1).replace(
        "[[termination]]", leg + "[[termination]]"
    )
    assert codes(read(text.replace('name = "leg"', 'name = "leg"\njunction = "lateral"') + gone)) == []


def test_the_set_point_of_the_remedy_is_looked_at_too():
    (remark,) = read(BASE + '\n[remedy]\nname = "fan"\nset_point = "-90 Pa"\n').remarks
    assert remark.words().startswith("remedy.set_point = -90 Pa is outside")


def test_the_same_of_several_is_told_once():
    job = read(GOOD.replace('diameter = "8 inch"\nmaterial', 'diameter = "20 inch"\nmaterial'))
    (narrow,) = [r for r in job.remarks if r.code == "narrows"]
    assert narrow.words().startswith('section "connector 1" and "connector 2": diameter = 20 in')
    (collar,) = [r for r in job.remarks if r.code == "collar and connector"]
    assert 'appliance "Boiler 1" and "Boiler 2"' in collar.words()
