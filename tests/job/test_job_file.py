"""Job files: what is read, what is refused, and how plainly."""

import re
from pathlib import Path

import pytest

from ventcalc import tables
from ventcalc.flow import materials
from ventcalc.flow.heat_loss import layer_resistance
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import firing_states, reversal

JOBS = tables.DATA / "jobs"
GOOD = (JOBS / "swim_hall.toml").read_text(encoding="utf-8")
DEMOS = sorted(p.stem for p in JOBS.glob("*.toml"))


def edited(old: str, new: str, count: int = 1) -> bytes:
    assert old in GOOD, old
    return GOOD.replace(old, new, count).encode()


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
    "missing key": (edited('altitude = "650 ft"\n', ""), "site.altitude", "missing; it is required"),
    "no appliance level": (
        re.sub(r"\[\[appliance.level\]\]\n(?:.+\n)+", "", GOOD).encode(),
        'appliance[1] "Boiler 1".level',
        "missing",
    ),
    "unknown key": (edited("outlet_height", "outlet_hight"), "outlet_hight", "did you mean 'outlet_height'?"),
    "unknown table": (GOOD.replace("[control]", "[controll]").encode(), "controll", "did you mean 'control'?"),
    "wrong unit": (edited('length = "6 ft"', 'length = "6 psi"'), 'section[1] "connector 1".length', "12 m or 40 ft"),
    "no unit": (edited('length = "6 ft"', 'length = "6"'), "length", "write it out"),
    "bare number": (edited('length = "6 ft"', "length = 6"), "length", "unit is missing"),
    "boolean": (edited('length = "6 ft"', "length = true"), "length", "write a quantity as text"),
    "unit read two ways": (edited('"400 MBH"', '"0.4 MBtu/h"'), "input", "write MBH"),
    "negative length": (edited('length = "6 ft"', 'length = "-6 ft"'), "connector 1", "must not be negative"),
    "NaN": (edited('length = "6 ft"', 'length = "nan ft"'), "length", "must be finite"),
    "infinite": (edited('altitude = "650 ft"', 'altitude = "inf ft"'), "site.altitude", "must be finite"),
    "rise above length": (edited('rise = "4 ft"', 'rise = "9 ft"'), "connector 1", "more than its length"),
    "ends do not meet": (edited('rise = "4 ft"', 'rise = "2 ft"'), "header 2", "check outlet heights and rises"),
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
        "known are: elbow 90",
    ),
    "cap as fitting": (
        edited('fittings = ["elbow 90"]', 'fittings = ["rain cap"]'),
        "connector 1",
        "termination's cap",
    ),
    "unknown cap": (edited('cap = "low-resistance cap"', 'cap = "top hat"'), "roof", "choose one of"),
    "unknown junction": (edited('"straight tee"', '"side tee"'), "connector 1", "known are: straight tee"),
    "unknown material": (edited("gas vent single wall", "gas vent single"), "connector 1", "known are"),
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


def test_a_missing_file_and_a_huge_file_are_refused(tmp_path: Path):
    with pytest.raises(job_file.JobError, match="cannot be read"):
        job_file.load(tmp_path / "nothing.toml")
    with pytest.raises(job_file.JobError, match="cannot be read"):
        job_file.load(tmp_path)
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"#" * (job_file.MOST_BYTES + 1))
    with pytest.raises(job_file.JobError, match="at most"):
        job_file.load(huge)


@pytest.mark.parametrize("name", DEMOS)
def test_demo_jobs_load(name):
    loaded = job_file.load(JOBS / f"{name}.toml")
    assert loaded.plant.appliances and len(loaded.digest) == 64


@pytest.mark.parametrize(
    ("set_point", "proof", "low", "high"),
    [("-0.05", -0.02, -0.09, 0.08), ("-0.02", -0.008, -0.09, 0.08), ("-0.15", -0.06, -0.19, -0.02)],
)
def test_limits_and_proof_fit_the_set_point(set_point, proof, low, high):
    """Proof is draft, at 40 % of a set point that is; limits stay where they usually are as long as they can."""
    text = GOOD.replace(
        'name = "fan and damper"\nset_point = "-0.02', f'name = "fan and damper"\nset_point = "{set_point}'
    )
    found = job_file.read(text.encode()).sequence
    shown = [found.proof, found.low_limit, found.high_limit]
    assert [float(v.m_as("inH2O")) for v in shown] == pytest.approx([proof, low, high], abs=1e-9)


def test_there_are_the_demo_jobs():
    assert {"swim_hall", "school", "lodge", "laundry"} <= set(DEMOS)


def test_what_is_read_is_what_was_written():
    loaded = job_file.load(JOBS / "swim_hall.toml")
    boiler = loaded.plant.appliances[0]
    assert boiler.levels[1].heat_input.to("MBH").magnitude == pytest.approx(2000)
    assert boiler.window[0].to("inH2O").magnitude == pytest.approx(-0.10)
    assert loaded.plant.section("stack").rise == Q_(38.0, "ft")
    assert loaded.seasons[0].relative_humidity == pytest.approx(0.70)


SHAFT = (
    GOOD.replace("[[termination]]", '[[place]]\nname = "shaft"\n\n[[termination]]', 1)
    .replace('outdoor = "-4 degF"\n', 'outdoor = "-4 degF"\nplace = [{ name = "shaft", temperature = "20 degF" }]\n')
    .replace('outdoor = "50 degF"\n', 'outdoor = "50 degF"\nplace = [{ name = "shaft", temperature = "60 degF" }]\n')
    .replace('outdoor = "88 degF"\n', 'outdoor = "88 degF"\nplace = [{ name = "shaft", temperature = "85 degF" }]\n')
    .replace('place = "outdoors"', 'place = "shaft"', 1)
)

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


def test_a_shaft_reaches_plant_and_seasons():
    loaded = job_file.read(SHAFT.encode())
    assert loaded.plant.section("stack").place == "shaft" and loaded.plant.places[0].name == "shaft"
    assert loaded.seasons[0].air_of("shaft").temperature.m_as("degF") == pytest.approx(20)
    assert any('place "shaft".pressure = 0 Pa' in d.replace("0.0 Pa", "0 Pa") for d in loaded.defaults)


def test_wind_of_a_job():
    """The scene shows that the terminal stands low over its roof; the louvers stand where the site's opening does."""
    plant = job_file.load(JOBS / "swim_hall.toml").plant
    assert plant.terminations[0].place == "near roof"  # 5 ft over a roof that the wind recirculates over for 18 ft
    assert plant.exposure.pitch == "below 10" and plant.exposure.shielding == "semi-sheltered"
    assert plant.exposure.told and [way.side for way in plant.exposure.ways] == ["north", "north", "all"]
    high = job_file.read(edited('x = "30 ft"', 'x = "30 ft"\noutlet = "90 ft"')).plant
    assert high.terminations[0].place == "clear"
    given = job_file.read(edited('cap = "low-resistance cap"', 'cap = "low-resistance cap"\nplace = "clear"')).plant
    assert given.terminations[0].place == "clear"


def test_what_is_not_told_of_the_wind_is_listed():
    text = GOOD.replace('air_opening_side = "north"\nshielding = "semi-sheltered"\n', "")
    loaded = job_file.read(text.encode())
    assert not loaded.plant.exposure.told
    assert "site.shielding = exposed" in loaded.defaults
    assert any(d.startswith("wind: an opening's side is not told") for d in loaded.defaults)
    roofless = (JOBS / "lodge.toml").read_text(encoding="utf-8").replace('place = "clear"\n', "")
    assert (
        'termination "top".place = near roof, where wind blows down on it' in job_file.read(roofless.encode()).defaults
    )
    assert not any("wind:" in d for d in job_file.load(JOBS / "swim_hall.toml").defaults)


def test_every_default_is_listed():
    loaded = job_file.load(JOBS / "laundry.toml")
    assert "site.air_opening_height = 0.3 m" in loaded.defaults
    assert any(d.startswith("control.set_point = -0.05") for d in loaded.defaults)
    assert 'section "riser".place = room' in loaded.defaults
    assert not any(".length" in d for d in loaded.defaults)


def test_excess_air_by_co2_o2_and_ratio_agree():
    """One flue gas said in three ways: 5 % O2 dry, then the CO2 and the excess air that go with it."""
    from ventcalc.gas import combustion, combustion_analysis
    from ventcalc.gas.fuels import fuel

    gas = fuel("natural gas")
    excess = float(combustion_analysis.excess_air_from_o2.bare(gas, 0.05))
    co2 = float(combustion.products(gas, excess).co2_dry)
    said = ('o2 = "5 %"', f'co2 = "{co2 * 100!r} %"', f'excess_air = "{excess * 100!r} %"')
    loaded = [job_file.read(GOOD.replace('o2 = "5.0 %"', text, 1).encode()) for text in said]
    ratios = [j.plant.appliances[0].levels[1].excess_air for j in loaded]
    assert ratios == pytest.approx([excess] * 3, rel=1e-9)


def test_a_fuel_of_ones_own():
    own = '[[fuel]]\nname = "digester gas"\ncomposition = { CH4 = "62 %", CO2 = "38 %" }\n\n[[season]]'
    text = GOOD.replace("[[season]]", own, 1).replace('fuel = "natural gas"', 'fuel = "digester gas"', 1)
    boiler = job_file.read(text.encode()).plant.appliances[0]
    assert boiler.fuel.name == "digester gas" and boiler.fuel.hhv < 30e6
    with pytest.raises(job_file.JobError, match="digester gas"):
        job_file.read(text.replace('CO2 = "38 %"', 'CO2 = "20 %"').encode())


# --- A material of one's own ---

OWN = """
[[material]]
name = "an invented vent"
standards = ["UL 103", "UL 1738"]
fuels = ["gas"]
categories = ["I", "II", "III", "IV"]
places = ["room", "concealed", "outdoors"]
max_temperature = "480 degF"
max_pressure = "6 inH2O"
condensate = true
roughness = "0.3 mm"

[[material.layer]]
name = "stainless steel"
thickness = "0.5 mm"

[[material.layer]]
name = "an invented wool"
thickness = "1 inch"
conductivity = "0.04 W/(m*K)"
density = "90 kg/m**3"
specific_heat = "840 J/(kg*K)"
"""
WITH_OWN = GOOD.replace('"stainless special gas vent double wall"', '"an invented vent"') + OWN


def test_a_material_of_ones_own():
    loaded = job_file.read(WITH_OWN.encode())
    vent = loaded.plant.section("stack").material
    assert vent.name == "an invented vent" and vent.standards == ("UL 103", "UL 1738") and vent.fuels == ("gas",)
    assert vent.max_pressure.m_as("inH2O") == pytest.approx(6.0) and vent.roughness.m_as("mm") == pytest.approx(0.3)
    assert vent.status.startswith("not checked")
    assert [part.what for part in vent.layers] == ["stainless steel", "an invented wool"]
    # Steel as in data/flow/walls.csv: prEN 12524:1998.
    assert vent.layers[0].conductivity.m_as("W/(m*K)") == 17.0
    # The wall in the bore it is used in, ring by ring (Fourier, any textbook).
    bore = Q_(16.0, "inch")
    steel = layer_resistance(bore, Q_(0.5, "mm"), Q_(17.0, "W/(m*K)"))
    between = bore + 2 * Q_(0.5, "mm")
    wool = layer_resistance(between, Q_(1.0, "inch"), Q_(0.04, "W/(m*K)")) * (bore / between).to("")
    assert vent.wall_resistance.m_as("m**2*K/W") == pytest.approx((steel + wool).m_as("m**2*K/W"), rel=1e-9)
    assert vent.diameter_ratio == pytest.approx((16.0 + 2.0 + 1.0 / 25.4) / 16.0)
    # What is listed to two standards, and only by the file's word, wants its listing named.
    assert ("listing", "an invented vent") in [(p.what, p.of) for p in job_file.open_permissions(loaded)]


def test_a_material_of_ones_own_is_judged_as_any_other():
    vent = (
        job_file.read(WITH_OWN.replace('fuels = ["gas"]', 'fuels = ["liquid"]').encode())
        .plant.section("stack")
        .material
    )
    asked = materials.Service("stack", ("I", "IV"), ("gas",), "outdoors", Q_(60, "degC"), Q_(10, "Pa"), True)
    assert [o.code for o in materials.objections(vent, asked)] == ["material_fuel"]


def test_what_a_material_leaves_out_is_the_worse_and_listed():
    short = OWN.replace('max_pressure = "6 inH2O"\n', "").replace('roughness = "0.3 mm"\n', "")
    short = short.replace("condensate = true\n", "").replace('"I", "II", "III", "IV"', '"I"')
    loaded = job_file.read(
        (GOOD.replace('"stainless special gas vent double wall"', '"an invented vent"') + short).encode()
    )
    vent = loaded.plant.section("stack").material
    assert vent.max_pressure.m_as("Pa") == 0.0 and not vent.condensate and vent.roughness.m_as("mm") == 1.0
    for key in ("max_pressure", "condensate", "roughness"):
        assert any(d.startswith(f'material "an invented vent".{key} = ') for d in loaded.defaults)


def test_a_material_without_a_standard_is_no_listed_vent():
    text = WITH_OWN.replace('standards = ["UL 103", "UL 1738"]', "standards = []")
    assert job_file.read(text.encode()).plant.section("stack").material.named_only


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('fuels = ["gas"]', 'fuels = ["natural gas"]', "fuels 'natural gas'; choose from gas, liquid"),
        ('fuels = ["gas"]', "fuels = []", "fuels none; choose from gas, liquid"),
        ('fuels = ["gas"]\n', "", "fuels: missing"),
        ('"I", "II", "III", "IV"', '"I", "V"', "categories 'V'; choose from I, II, III, IV"),
        ('"concealed"', '"attic"', "places 'attic'; choose from room, concealed, outdoors"),
        ('max_pressure = "6 inH2O"', 'max_pressure = "-6 inH2O"', "must be 0 (draft only) or above"),
        ('max_pressure = "6 inH2O"\n', "", "categories III and IV push: give a max_pressure above 0"),
        ("condensate = true\n", "", "categories II and IV condense"),
        ('"480 degF"', '"48000 degF"', "must be 30 to 1400 degC"),
        ('"480 degF"', '"480"', "write it out"),
        ('"0.3 mm"', '"0.3 m"', "must be above 0, up to 10 mm"),
        ('thickness = "0.5 mm"', 'thickness = "0 mm"', "thickness of the layer stainless steel"),
        ('conductivity = "0.04 W/(m*K)"\n', "", "layer 'an invented wool' is no known substance of one make"),
        ('name = "an invented wool"\n', 'name = "air space"\n', None),
        ('name = "an invented vent"', 'name = "PVC pipe"', "there is a material of that name already"),
        ('name = "an invented vent"', 'name = "another"', "unknown material 'an invented vent'; known are: another"),
        ("condensate = true", "condensates = true", "did you mean 'condensate'?"),
        ('standards = ["UL 103", "UL 1738"]\n', "", "standards: missing"),
    ],
)
def test_a_faulty_material_says_place_and_remedy(old, new, said):
    text = GOOD.replace('"stainless special gas vent double wall"', '"an invented vent"') + OWN.replace(old, new, 1)
    if said is None:  # an air space with its own figures is a layer like any other
        assert job_file.read(text.encode()).plant.section("stack").material.layers[1].what == "air space"
        return
    with pytest.raises(job_file.JobError) as caught:
        job_file.read(text.encode())
    assert "material" in str(caught.value) and said in str(caught.value), str(caught.value)


def test_an_air_space_has_no_one_conductivity():
    assert materials.substance("air space") is None and materials.substance("unheard of") is None
    assert materials.substance("mineral wool")[0].m_as("W/(m*K)") == 0.045


def test_a_material_named_twice():
    with pytest.raises(job_file.JobError, match='material "an invented vent": the name stands twice'):
        job_file.read((WITH_OWN + OWN).encode())


# --- Idle, where the file does not say ---

_IDLE = re.compile(r'idle = "leaking"\nleak = .*\n')
SILENT = _IDLE.sub("", GOOD)


def test_what_is_not_told_of_idle_is_the_worse_and_listed():
    loaded = job_file.read(SILENT.encode())
    told = job_file.read(GOOD.encode())
    for silent, said in zip(loaded.plant.appliances, told.plant.appliances, strict=True):
        assert silent.idle == "leaking"
        # Flow at one pressure by dp = R q^2: the one not told leaks more.
        at_25 = [float(a.leak.flow.m_as("cfm") * (25.0 / a.leak.pressure.m_as("Pa")) ** 0.5) for a in (silent, said)]
        assert at_25[0] > at_25[1]
    assert sum("].idle = leaking" in d or '".idle = leaking, ' in d for d in loaded.defaults) == 3
    assert not any("idle" in d for d in told.defaults)


def test_dangers_do_not_go_where_idle_is_left_out():
    """Before, a file that did not say was solved as if every idle boiler were shut tight: no danger was found."""
    plants = [job_file.read(text.encode()) for text in (SILENT, GOOD, _IDLE.sub('idle = "sealed"\n', GOOD))]
    silent, told, shut = (reversal.reversals(firing_states.scan(p.plant, p.seasons)) for p in plants)
    assert shut == () and {r.appliance for r in silent} == {r.appliance for r in told} == {
        "Boiler 1", "Boiler 2", "Boiler 3"
    }  # fmt: skip
    for more, less in zip(silent, told, strict=True):
        assert more.states >= less.states and more.flow >= less.flow


def test_a_flap_against_backflow_can_be_told():
    flap = job_file.read(SILENT.replace('purge_flow = "400', 'backflow_flap = true\npurge_flow = "400').encode())
    open_, shut = job_file.read(SILENT.encode()).plant.appliances[0], flap.plant.appliances[0]
    assert shut.idle == "leaking" and 0.0 < shut.leak.flow.m < open_.leak.flow.m
    assert any('"Boiler 1".idle = leaking' in d and "with its flap shut" in d for d in flap.defaults)


def test_a_leak_that_is_told_counts_though_idle_is_not():
    loaded = job_file.read(GOOD.replace('idle = "leaking"\n', "").encode())
    boiler = loaded.plant.appliances[0]
    assert boiler.idle == "leaking" and boiler.leak.flow.m_as("cfm") == pytest.approx(25.0)
    assert 'appliance "Boiler 1".idle = leaking' in loaded.defaults


def test_an_appliance_alone_has_no_neighbor_to_fear():
    loaded = job_file.load(JOBS / "laundry.toml")
    assert loaded.plant.appliances[0].idle == "sealed"
    assert 'appliance "Boiler".idle = sealed' in loaded.defaults


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('idle = "leaking"', 'idle = "sealed"', "idle = sealed, though a leak is told"),
        ('idle = "leaking"', 'idle = "leaking"\nbackflow_flap = true', "leave one out"),
        ('idle = "leaking"', 'idle = "shut"', "choose sealed, leaking"),
    ],
)
def test_idle_told_in_two_ways_is_refused(old, new, said):
    with pytest.raises(job_file.JobError, match="Boiler 1") as caught:
        job_file.read(edited(old, new))
    assert said in str(caught.value)


def test_a_terminal_knows_what_stands_behind_it():
    school = job_file.load(JOBS / "school.toml").roof.terminals[0]
    assert set(school.categories) == {"I", "IV"} and school.hooded and "category IV" in school.contradiction.words()
    hall = job_file.load(JOBS / "swim_hall.toml").roof.terminals[0]
    assert set(hall.categories) == {"IV"} and hall.hooded is False and not hall.contradiction


# --- What may stand in place of an appliance ---

SCHOOL = (JOBS / "school.toml").read_text(encoding="utf-8")
HEATER = """
[[alternate]]
name = "a smaller heater"
appliances = ["Water heater"]

[alternate.appliance]
fuel = "natural gas"
category = "I"
kind = "draft hood"
outlet_diameter = "5 inch"
outlet_height = "6 ft"
window = ["-0.06 inH2O", "0 inH2O"]

[[alternate.appliance.level]]
name = "on"
input = "100 MBH"
co2 = "7 %"
flue_temperature = "400 degF"
"""


def test_an_appliance_replaced_keeps_its_place_and_name():
    (_, changed) = job_file.read((SCHOOL + HEATER).encode()).alternates
    heater, plant = changed.job.plant.appliances[0], changed.job.plant
    assert (heater.name, plant.feeds[0]) == ("Water heater", "hood connector") and changed.job.name == changed.name
    assert heater.outlet_diameter.m_as("inch") == pytest.approx(5.0)
    assert changed.window[0].m_as("inH2O") == pytest.approx(-0.06)
    # The roof's terminal counts the input that is behind it.
    assert changed.job.roof.terminals[0].heat_input.m_as("MBH") == pytest.approx(1700.0)


def test_what_is_taken_away_takes_its_own_sections_along():
    (orphan,) = job_file.read(SCHOOL.encode()).alternates
    plant = orphan.job.plant
    assert [a.name for a in plant.appliances] == ["Water heater"] and orphan.window is None
    assert [s.name for s in plant.order] == ["hood connector", "header 3", "stack"]
    assert plant.section("hood connector").junction == "straight tee"  # the header is capped behind it


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("removed = true", 'removed = true\nwindow = ["0 Pa", "9 Pa"]', "exactly one of window, appliance and removed"),
        ("removed = true", "", "exactly one of window, appliance and removed"),
        ('appliances = ["Boiler 1", "Boiler 2"]\nremoved', 'appliances = ["Boiler 9"]\nremoved', "no appliance named"),
        (
            'appliances = ["Boiler 1", "Boiler 2"]\nremoved',
            'appliances = ["Water heater", "Boiler 1", "Boiler 2"]\nremoved',
            "nothing would be left",
        ),
    ],
)
def test_an_alternate_says_one_thing(old, new, said):
    with pytest.raises(job_file.JobError, match='alternate "boilers on a vent of their own"') as caught:
        job_file.read(SCHOOL.replace(old, new).encode())
    assert said in str(caught.value)


def test_a_faulty_appliance_of_an_alternate_is_told_with_its_place():
    with pytest.raises(job_file.JobError, match='alternate "a smaller heater"'):
        job_file.read((SCHOOL + HEATER.replace('category = "I"', 'category = "V"')).encode())
