"""Job faults: what is refused, and how plainly: each fault with its place and its remedy."""

import re

import pytest
from sample_files import GOOD, SCHOOL, SHAFT, edited

from ventcalc import tables
from ventcalc.job import job_file


def without(header: str) -> bytes:
    """The good file without one table, from its header to the next."""
    start = GOOD.index(header)
    end = GOOD.index("\n[", start + 1)
    return (GOOD[:start] + GOOD[end:]).encode()


# Each entry: what was done to the file, its bytes, and what the message must say: place, then remedy.
BROKEN = {
    "empty file": (b"", "empty", "data/jobs"),
    "only spaces": (b"  \n\n", "empty", "data/jobs"),
    "binary file": (bytes(range(256)) * 4, "not UTF-8", "TOML"),
    "not TOML": (b"job = [unclosed", "line", "toml"),
    "key twice": (edited('name = "mild"', 'name = "mild"\nname = "mild"'), "line", "toml"),
    "missing section": (without("[site]"), "site", "missing; it is required"),
    "missing key": (
        edited('altitude = "650 ft"\n', ""),
        "site.altitude",
        "missing; it is required: height above sea level",
    ),
    "no appliance level": (
        re.sub(r"\[\[appliance.level\]\]\n(?:.+\n)+", "", GOOD).encode(),
        'appliance[1] "Boiler 1".level',
        "missing",
    ),
    "unknown key": (edited("outlet_height", "outlet_hight"), "outlet_hight", "did you mean 'outlet_height'?"),
    "unknown count": (edited("outlet_height", "cuont = 2\noutlet_height"), "cuont", "did you mean 'count'?"),
    "unknown table": (GOOD.replace("[control]", "[controll]").encode(), "controll", "did you mean 'control'?"),
    "wrong unit": (edited('length = "6 ft"', 'length = "6 psi"'), 'section[1] "connector 1".length', "12 m or 40 ft"),
    "heat by the fuel": (edited('"400 MBH"', '"9 gal/h"'), "input", "a gal/h of no. 2 oil is about 140 MBH"),
    "no unit": (edited('length = "6 ft"', 'length = "6"'), "length", "write it out"),
    "bare number": (edited('length = "6 ft"', "length = 6"), "length", "unit is missing"),
    "boolean": (edited('length = "6 ft"', "length = true"), "length", "write a quantity as text"),
    "unit read two ways": (edited('"400 MBH"', '"0.4 MBtu/h"'), "input", "write MBH"),
    "negative length": (edited('length = "6 ft"', 'length = "-6 ft"'), "connector 1", "must not be negative"),
    "NaN": (edited('length = "6 ft"', 'length = "nan ft"'), "length", "must be finite"),
    "infinite": (edited('altitude = "650 ft"', 'altitude = "inf ft"'), "site.altitude", "must be finite"),
    "rise above length": (edited('rise = "4 ft"', 'rise = "9 ft"'), "connector 1", "more than its length"),
    "ends do not meet": (edited('rise = "4 ft"', 'rise = "2 ft"'), "header 2", "check outlet heights and rises"),
    "window as one text": (
        re.sub(r"window = \[.*\]", "window = '-0.05 to -0.01 inH2O'", GOOD).encode(),
        "window",
        'write it in brackets, such as ["-0.05 inH2O", "-0.01 inH2O"]',
    ),
    "curled quotes": (edited('name = "mild"', "name = “mild”"), "has “ for a quotation mark", 'write "'),
    "loop in the tree": (edited('into = "header 3"', 'into = "header 1"'), "loop", "header 1"),
    "leads nowhere": (edited('into = "roof"', 'into = "rooff"'), "rooff", "no section or termination"),
    "appliance without a path": (edited('into = "connector 2"', 'into = "attic"'), "Boiler 2", "sections are"),
    "section nothing leads into": (edited('into = "connector 2"', 'into = "connector 1"'), "connector 1", "join them"),
    "unknown side": (
        edited('air_opening_side = "north"', 'air_opening_side = "up"'),
        "side 'up'",
        "choose north, east",
    ),
    "unknown shielding": (edited('"semi-sheltered"', '"calm"'), "site: shielding 'calm'", "choose exposed"),
    "unknown place of a terminal": (
        edited('cap = "low-resistance cap"', 'cap = "low-resistance cap"\nplace = "top"'),
        'termination "roof"',
        "choose clear, near roof, wall",
    ),
    "unknown fitting": (
        edited('fittings = ["elbow 90"]', 'fittings = ["elbow 91"]'),
        "connector 1",
        "did you mean 'elbow 90'?",
    ),
    "cap as fitting": (
        edited('fittings = ["elbow 90"]', 'fittings = ["rain cap"]'),
        "connector 1",
        "termination's cap",
    ),
    "unknown cap": (edited('cap = "low-resistance cap"', 'cap = "top hat"'), "roof", "known are: open end"),
    "unknown junction": (edited('"straight tee"', '"side tee"'), "connector 1", "known are: straight tee"),
    "unknown material": (
        edited("gas vent single wall", "gas vent single"),
        "connector 1",
        "did you mean 'stainless special gas vent single wall'?",
    ),
    "unknown fuel": (edited('"natural gas"', '"coal gas"'), "Boiler 1", "natural gas"),
    "unknown category": (edited('category = "IV"', 'category = "V"'), "Boiler 1", "choose I, II, III, IV"),
    "duplicate appliances": (edited('name = "Boiler 2"', 'name = "Boiler 1"'), "Boiler 1", "twice"),
    "duplicate sections": (edited('name = "header 2"', 'name = "header 1"'), "header 1", "twice"),
    "absurd flue temperature": (edited('"120 degF"', '"9000 degF"'), "Boiler 1", "must be 0 to 1025 degC"),
    "below absolute zero": (
        edited('outdoor = "-4 degF"', 'outdoor = "-900 degF"'),
        "design winter",
        "must be -60 to 60",
    ),
    "temperature difference": (edited('"120 degF"', '"120 delta_degF"'), "flue_temperature", "20 degC or 70 degF"),
    "CO2 above the ultimate": (edited('o2 = "6.5 %"', 'co2 = "14 %"'), "Boiler 1", "CO2"),
    "both CO2 and O2": (edited('o2 = "6.5 %"', 'o2 = "6.5 %"\nco2 = "8 %"'), "level low", "exactly one of co2, o2"),
    "window upside down": (
        edited('["-0.10 inH2O", "0.10 inH2O"]', '["0.10 inH2O", "-0.10 inH2O"]'),
        "Boiler 1",
        "lower to higher",
    ),
    "absolute pressure": (
        edited('["-0.10 inH2O", "0.10 inH2O"]', '["406.7 inH2O", "407.1 inH2O"]'),
        'appliance[1] "Boiler 1".window[1]',
        "406.7 inH2O must be -5 to 5 inH2O: gauge against the room",
    ),
    "pascals as inches": (
        edited('["-0.10 inH2O", "0.10 inH2O"]', '["-25 inH2O", "0.10 inH2O"]'),
        'appliance[1] "Boiler 1".window[1]',
        "-25 inH2O must be -5 to 5 inH2O",
    ),
    "BTU/h for MBH": (
        edited('input = "400 MBH"', 'input = "400 BTU/h"'),
        'appliance[1] "Boiler 1".level[1] "low".input',
        "must be 1,706 to 204,700,000 Btu/h",  # 500 W and 60 MW over 1055.056 J per 3600 s (ISO 31-4)
    ),
    "MBH for BTU/h": (
        edited('input = "2000 MBH"', 'input = "2000000 MBH"'),
        'appliance[1] "Boiler 1".level[2] "high".input',
        "2,000,000 MBH must be 1.706 to 204,700 MBH",
    ),
    "set point that no sensor sees": (
        edited('set_point = "-0.05 inH2O"', 'set_point = "-10 inH2O"'),
        "control.set_point",
        "-10 inH2O must be -5 to 5 inH2O",
    ),
    "hood that is allowed no draft": (
        SCHOOL.replace('window = ["-0.05 inH2O", "0 inH2O"]', 'window = ["0 inH2O", "0.05 inH2O"]').encode(),
        'appliance "Water heater"',
        "a draft hood spills; it must begin below 0",
    ),
    "hood on a vent that is held under pressure": (
        (SCHOOL + '\n[control]\nset_point = "0.02 inH2O"\n').encode(),
        "control.set_point = 0.02 inH2O is no draft",
        "Water heater spills",
    ),
    "window of one": (edited('["-0.10 inH2O", "0.10 inH2O"]', '["-0.10 inH2O"]'), "window", "at least 2 items"),
    "HTML in a name": (
        edited('name = "Boiler 1"', 'name = "<b onload=x()>Boiler</b>"'),
        "appliance[1]",
        "a name holds",
    ),
    "name too long": (edited('name = "Boiler 1"', f'name = "{"B" * 200}"'), "appliance[1]", "1 to 60 letters"),
    "leak of nothing": (
        edited('leak = { flow = "25 cfm", pressure = "0.10 inH2O" }\n', ""),
        "Boiler 1",
        "leak flow above 0",
    ),
    "level named off": (edited('name = "low"', 'name = "off"'), "Boiler 1", "differ"),
    "alternate for nobody": (
        edited('appliances = ["Boiler 1", "Boiler 2"]', 'appliances = ["Boiler 9"]'),
        "alternate A",
        "appliances are",
    ),
    "altitude of a satellite": (
        edited('altitude = "650 ft"', 'altitude = "300 mile"'),
        "site.altitude",
        "must be -500 to 6000 m",
    ),
    "hostile unit": (edited('length = "6 ft"', 'length = "6 9**9**9**9"'), "length", "unknown unit"),
    "deep nesting": (b"a = " + b"[" * 5000 + b"]" * 5000, "nested", "three levels"),
}


BROKEN |= {
    "unknown remedy": (edited('name = "fan and damper"', 'name = "bigger fan"'), "remedy", "choose fan, damper"),
    "unknown fan": (
        edited('name = "fan and damper"', 'name = "fan"\nfan = "roof 13"'),
        "remedy",
        "did you mean 'roof",
    ),
    "a damper where there is none": (
        edited(
            'name = "fan and damper"',
            'name = "fan"\ndamper = { blades = "opposed", width = "16 inch", leakage = "EN class 2" }',
        ),
        "remedy: damper",
        "has none in the stack",
    ),
    "limits in the wrong order": (
        GOOD.replace("[control]", '[sequence]\nhigh_limit = "-0.06 inH2O"\n\n[control]').encode(),
        "sequence",
        "must be below high_limit",
    ),
    "unknown setting": (
        GOOD.replace("[control]", '[sequence]\nhigh_limits = "0.1 inH2O"\n\n[control]').encode(),
        "sequence.high_limits",
        "did you mean 'high_limit'",
    ),
    "roof plane not in one plane": (
        edited('["0 ft", "80 ft", "53 ft"]', '["0 ft", "80 ft", "57 ft"]'),
        "roof plane 'hall roof'",
        "off the plane",
    ),
    "terminal that the vent has not": (
        edited('[[roof.terminal]]\nname = "roof"', '[[roof.terminal]]\nname = "chimney"'),
        'terminal "chimney"',
        "it has roof",
    ),
    "unknown kind of opening": (edited('kind = "forced-air intake"', 'kind = "intake"'), "roof", "forced-air intake"),
    "room without air": (
        re.sub(r"leakage = .*\n|\[\[room.opening\]\]\n(?:.+\n)+", "", GOOD).encode(),
        "room",
        "give an opening to outdoors",
    ),
    "carbon monoxide without a room": (
        re.sub(r"\[room\]\n(?:.+\n)+|\[\[room.opening\]\]\n(?:.+\n)+", "", GOOD).encode(),
        "carbon_monoxide",
        "tell of the room",
    ),
    "ppm without its unit": (edited('co_air_free = "400 ppm"', "co_air_free = 400"), "co_air_free", "unit is missing"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_broken_files_say_place_and_remedy(case):
    data, place, remedy = BROKEN[case]
    with pytest.raises(job_file.JobError) as caught:
        job_file.read(data, "job.toml")
    message = str(caught.value)
    assert place in message and remedy in message, message
    assert "Traceback" not in message and all(len(p) < 500 for p in caught.value.problems)


def test_there_are_enough_broken_files():
    assert len(BROKEN) >= 25


def test_several_faults_come_at_once():
    data = GOOD.replace('altitude = "650 ft"', 'altitude = "650 psi"').replace('length = "15 ft"', 'length = "x ft"')
    with pytest.raises(job_file.JobError) as caught:
        job_file.read(data.encode())
    assert len(caught.value.problems) == 2


# As BROKEN, on a file whose stack stands in a shaft.
MISPLACED = {
    "unknown place": (SHAFT.replace('place = "shaft"\nfit', 'place = "shafft"\nfit'), "'shafft'",
                      "did you mean 'shaft'"),
    "place of no season": (SHAFT.replace('name = "shaft", temperature = "20', 'name = "attic", temperature = "20'),
                           'season "design winter"', 'the temperature of the place "shaft" is missing'),
    "season of no place": (SHAFT.replace('[[place]]\nname = "shaft"', '[[place]]\nname = "shafts"'),
                           '"shaft": no place of that name', "did you mean 'shafts'?"),
    "unknown room": (SHAFT.replace('into = "connector 2"', 'into = "connector 2"\nroom = "atic"', 1), "'atic'",
                     "choose room, shaft, or tell of it as a place"),
    "place like another": (SHAFT.replace('[[place]]\nname = "shaft"', '[[place]]\nname = "room"'), 'place "room"',
                           "other than room and outdoors"),
    "no unit in a place": (SHAFT.replace('"20 degF" }', '"20" }'), "place[1]", "write it out"),
}  # fmt: skip


@pytest.mark.parametrize("name", MISPLACED)
def test_misplaced_files_name_place_and_remedy(name):
    text, where, remedy = MISPLACED[name]
    assert text != SHAFT
    with pytest.raises(job_file.JobError) as refused:
        job_file.read(text.encode())
    assert where in str(refused.value) and remedy in str(refused.value)


EIGHT = {
    'altitude = "650 ft"': ('altitud = "650 ft"', "altitude"),
    'outdoor = "50 degF"': ('outdoor = "50"', "20 degF"),
    'input = "2000 MBH"': ('input = "2000 MBH"\nheat = 3', "unknown key"),
    'into = "header 2"\nlength = "7 ft"': ('into = "header 2"\nlength = "-7 ft"', "length"),
    'fittings = ["elbow 90", "elbow 45"]': ('fittings = ["elbow 91", "elbow 45"]', "elbow 91"),
    'category = "IV"\ninto = "connector 3"': ('category = "V"\ninto = "connector 3"', "category"),
    'cap = "low-resistance cap"': ('cap = "top hat"', "top hat"),
    'name = "connector 2"\ninto': ('name = "connector 1"\ninto', "stands twice"),
}  # fmt: skip


def test_eight_faults_of_as_many_kinds_are_told_in_one_round():
    """Four of form, four of meaning: who mends them all reads the file once."""
    text = GOOD
    for old, (new, _) in EIGHT.items():
        assert old in text, old
        text = text.replace(old, new, 1)
    with pytest.raises(job_file.JobError) as refused:
        job_file.read(text.encode())
    told = refused.value.problems
    for new, said in EIGHT.values():
        assert any(said in problem for problem in told), (new, told)


def test_who_has_what_is_wrong_itself_is_not_blamed_for_it():
    """A material without its layer has faults; the section made of it has none of its own."""
    own = '[[material]]\nname = "clay"\nstandards = []\nfuels = []\ncategories = []\nplaces = []\n'
    text = GOOD.replace("[[termination]]", own + "[[termination]]", 1)
    text = text.replace('material = "stainless special gas vent double wall"', 'material = "clay"', 1)
    with pytest.raises(job_file.JobError) as refused:
        job_file.read(text.encode())
    assert not any("unknown material" in problem for problem in refused.value.problems)


def test_heights_that_do_not_meet_are_told_in_feet_and_in_meters():
    with pytest.raises(job_file.JobError) as error:
        job_file.read(edited('rise = "4 ft"', 'rise = "2 ft"'))
    told = re.findall(r"ends ([\d.]+) ft \(([\d.]+) m\)", str(error.value))
    assert told and all(float(ft) * 0.3048 == pytest.approx(float(m), abs=0.01) for ft, m in told)


def test_a_mark_at_the_beginning_and_other_ends_of_lines_do_no_harm():
    plain = job_file.read(GOOD.encode())
    other = job_file.read(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert other.plant == plain.plant and other.seasons == plain.seasons


def test_the_same_fault_of_several_entries_is_told_once():
    wrong = re.sub(r'(?m)^material = ".*"$', 'material = "brass"', GOOD).encode()
    with pytest.raises(job_file.JobError) as told:
        job_file.read(wrong)
    (problem,) = [p for p in told.value.problems if "brass" in p]
    assert problem.startswith('section "') and problem.count('"') > 4 and problem.count("unknown material") == 1


@pytest.mark.parametrize(("written", "instead", "said"), [
    ("[site]", "[[site]]", "site: there is one: write it in single brackets, [site]"),
    ("[[termination]]", "[termination]", "there may be several: write each in double brackets, [[termination]]"),
    ("[[room.exhaust]]", "[room.exhaust]", "room.exhaust: there may be several: write each in double brackets"),
    ("leakage = {", 'leakage = "1 cfm"\nother = {', "with its keys, such as leakage = { flow = ..., pressure = ... }"),
])  # fmt: skip
def test_a_table_with_the_wrong_brackets_is_told_how_to_write_it(written, instead, said):
    text = (tables.DATA / "jobs" / "school.toml").read_text(encoding="utf-8")
    assert written in text
    with pytest.raises(job_file.JobError) as refused:
        job_file.read(text.replace(written, instead, 1).encode())
    assert any(said in problem for problem in refused.value.problems), refused.value.problems
