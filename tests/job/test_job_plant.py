"""Job plant: fuels, materials, places, firing levels and idling as a job file tells them."""

import re

import pytest
from sample_files import FILES, GOOD, IDLE, SHAFT, SILENT, edited

from ventcalc.flow import materials
from ventcalc.flow.heat_loss import layer_resistance
from ventcalc.gas import combustion, combustion_analysis
from ventcalc.job import job_file
from ventcalc.units import Q_
from ventcalc.vent import firing_states, reversal

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


def test_excess_air_by_co2_o2_and_ratio_agree():
    """One flue gas said in three ways: 5 % O2 dry, then the CO2 and the excess air that go with it."""
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


KEROSENE = (
    '[[fuel]]\nname = "kerosene"\nhigher_heating_value = "19900 Btu/lb"\n'
    'composition = { C = "86 %", H = "13.9 %", S = "0.1 %" }\n\n[[season]]'
)


def burning_kerosene(text):
    text = text.replace("[[season]]", KEROSENE, 1).replace('fuel = "natural gas"', 'fuel = "kerosene"', 1)
    return re.sub(r'category = "\w+"\n', "", text, count=1)


def test_a_liquid_of_ones_own():
    """Air by 11.52 C + 34.56 (H - O/8) + 4.32 S lb/lb (Steam, Its Generation and Use, public domain, Table 32)."""
    boiler = job_file.read(burning_kerosene(GOOD).encode()).plant.appliances[0]
    burnt = boiler.fuel
    assert burnt.kind == "liquid" and burnt.sulfur == pytest.approx(0.001)
    assert burnt.hhv == pytest.approx(19900 * 2326.0)  # J/kg of a Btu/lb, NIST SP 811
    # 9.04 lb of water a pound of hydrogen (ASME PTC 4.1 prints 8.936), 1050 Btu/lb at 25 degC (steam tables).
    assert burnt.lhv == pytest.approx((19900 - 8.936 * 0.139 * 1050) * 2326.0, rel=1e-3)
    air = 11.52 * 0.86 + 34.56 * 0.139 + 4.32 * 0.001
    assert combustion.theoretical_air(burnt) == pytest.approx(air, rel=0.01)


def test_a_liquid_without_its_heating_value_or_a_gas_with_one_is_refused():
    text = burning_kerosene(GOOD)
    with pytest.raises(job_file.JobError, match="needs its higher_heating_value"):
        job_file.read(text.replace('higher_heating_value = "19900 Btu/lb"\n', "").encode())
    with pytest.raises(job_file.JobError, match="unknown 'CH4'; known are C, H"):
        job_file.read(text.replace('C = "86 %", H = "13.9 %", S = "0.1 %"', 'CH4 = "100 %"').encode())
    with pytest.raises(job_file.JobError, match="the higher heating value of a liquid"):
        job_file.read(text.replace("19900 Btu/lb", "135000 Btu/lb").encode())  # of a gallon


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
        ('conductivity = "0.04 W/(m*K)"\n', "", "layer 'an invented wool' is none whose figures are known here"),
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


@pytest.mark.slow
def test_dangers_do_not_go_where_idle_is_left_out():
    """Before, a file that did not say was solved as if every idle boiler were shut tight: no danger was found."""
    plants = [job_file.read(text.encode()) for text in (SILENT, GOOD, IDLE.sub('idle = "sealed"\n', GOOD))]
    silent, told, shut = (reversal.reversals(firing_states.scan(p.plant, p.seasons)) for p in plants)
    assert shut == () and {r.appliance for r in silent} == {r.appliance for r in told} == {
        "Boiler 1", "Boiler 2", "Boiler 3"
    }  # fmt: skip
    for more, less in zip(silent, told, strict=True):
        assert more.states >= less.states and more.flow >= less.flow


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


def test_a_shaft_reaches_plant_and_seasons():
    loaded = job_file.read(SHAFT.encode())
    assert loaded.plant.section("stack").place == "shaft" and loaded.plant.places[0].name == "shaft"
    assert loaded.seasons[0].air_of("shaft").temperature.m_as("degF") == pytest.approx(20)
    assert any('place "shaft".pressure = 0 in. w.c.' in d for d in loaded.defaults)


def test_levels_that_do_not_rise_are_refused():
    """What is named "high" and fires less than "low" is a slip of the pen; the last level counts as full fire."""
    with pytest.raises(job_file.JobError, match="Boiler 1") as caught:
        job_file.read(edited('input = "400 MBH"', 'input = "4000 MBH"'))
    assert "from the lowest input to the highest: high" in str(caught.value)


def test_oil_has_no_category_and_is_held_to_the_rules_of_gas_alike_in_pressure():
    """Categories are of gas appliances (IFGC definitions); an oil burner's label has none."""
    oil = GOOD.replace('fuel = "natural gas"', 'fuel = "no. 2 oil"')
    untold = re.sub(r'category = "\w+"\n', "", oil)
    job = job_file.read(untold.encode())
    for a in job.plant.appliances:
        assert a.category == ("III" if a.window[1].m_as("Pa") > 0.0 else "I") and a.shown_category.endswith("(oil)")
        assert a.listed_categories == ()
    assert any("oil has none; held to the rules of category" in line for line in job.defaults)
    with pytest.raises(job_file.JobError, match="category 'oil': oil has none; leave it out"):
        job_file.read(re.sub(r'category = "\w+"', 'category = "oil"', oil).encode())
    with pytest.raises(job_file.JobError, match="category: missing; it is required: I, II, III, IV as the label says"):
        job_file.read(re.sub(r'category = "\w+"\n', "", GOOD).encode())


def test_what_is_no_appliance_of_a_vent_is_refused_once_and_in_words():
    """A dryer has neither category nor kind: what is told is which kinds are taken, not one key after the other."""
    laundry = (FILES / "laundry.toml").read_text(encoding="utf-8")
    for category in ("", 'category = "III"\n'):
        dryer = re.sub(r"(?m)^category = .*\n", category + 'kind = "dryer"\n', laundry, count=1)
        with pytest.raises(job_file.JobError) as refused:
            job_file.read(dryer.encode())
        (told,) = refused.value.problems
        assert "'dryer'" in told and "forced, draft hood and barometric" in told and "[[room.exhaust]]" in told
