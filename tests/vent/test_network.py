"""Network: what becomes of drawing, appliances and weather on their way to plain numbers."""

from dataclasses import replace

import CoolProp.CoolProp as coolprop
import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sample_plants import SEASONS, row_plant, with_sections

from ventcalc.gas import flue_gas
from ventcalc.gas.combustion import products
from ventcalc.gas.condensation import saturated
from ventcalc.gas.fuels import fuel
from ventcalc.gas.streams import WATER
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.states import States

BURNT = products.bare(fuel("natural gas"), 0.25).gas
AIR = flue_gas.Gas.humid_air(0.01)
VENT_TEMPERATURES = np.linspace(260.0, 600.0, 35)


def rows(network):
    return [s.name for s in network.plant.order]


def test_air_at_altitude_against_coolprop():
    # The 1976 standard atmosphere has 84,556 Pa at 1,500 m. CoolProp's humid air is a real gas, 0.075 % denser than
    # an ideal one at -20 degC.
    network = compile_network(row_plant(1, altitude=1500.0), SEASONS)
    assert network.pressure == pytest.approx(84556, rel=1e-4)
    for i, season in enumerate(SEASONS):
        kelvin = season.outdoor.m_as("K")
        state = ("T", kelvin, "P", network.pressure, "R", season.relative_humidity)
        density = (1 + coolprop.HAPropsSI("W", *state)) / coolprop.HAPropsSI("Vda", *state)
        assert network.outdoor_density[i] == pytest.approx(density, rel=1e-3)


def test_room_air_is_outdoor_air_warmed():
    network = compile_network(row_plant(1), SEASONS)
    ratio = network.room_density / network.outdoor_density
    assert ratio == pytest.approx([s.outdoor.m_as("K") / s.room.m_as("K") for s in SEASONS], rel=1e-12)


def test_a_room_colder_than_outdoors_holds_no_more_water_than_it_can():
    """Muggy outdoor air of 32 degC at 80 % holds 3.8 % of water; a cellar at 15 degC holds 1.7 % (CoolProp)."""
    cellar = Season("muggy", Q_(32, "degC"), Q_(15, "degC"), relative_humidity=0.8)
    warm = replace(cellar, room=Q_(35, "degC"))
    network = compile_network(row_plant(1), (cellar, warm))
    most = coolprop.HAPropsSI("W", "T", 288.15, "P", network.pressure, "R", 1.0)  # kg per kg of dry air
    water = network.room_gas[WATER] / (1.0 - network.room_gas[WATER])
    assert water[0] == pytest.approx(most, rel=6e-3)  # air raises the saturation pressure by 0.5 %, which is left out
    assert network.room_gas[:, 1] == pytest.approx(network.outdoor_gas[:, 1], rel=1e-12)
    dry = (1 + most) / coolprop.HAPropsSI("Vda", "T", 288.15, "P", network.pressure, "R", 1.0)
    assert network.room_density[0] == pytest.approx(dry, rel=1e-3)


def test_room_air_of_a_cold_room_drops_no_water_in_the_vent():
    # An idle vent under a hood, its walls at the room's temperature: what it draws is room air, and stays as it is.
    cellar = (Season("muggy", Q_(32, "degC"), Q_(15, "degC"), room_pressure=Q_(20, "Pa"), relative_humidity=0.8),)
    states = States(np.zeros((1, 1), int), np.zeros(1, int), np.ones(1, bool), np.zeros(1, bool))
    plant = row_plant(1, kind="draft hood")
    indoors = with_sections(plant, stack={"place": "room"})
    found = solve(indoors, cellar, states)
    assert found.drawn[0, 0] > 1e-3 and found.converged.all()
    assert found.condensed[:, 0] == pytest.approx(0.0, abs=1e-9)
    assert found.upstream[0, 0] == pytest.approx(288.15, abs=1e-3)


def test_pressure_of_the_room_at_an_outlet():
    # A warm room open at 0.3 m stands above outdoor pressure higher up: in winter 1.2 m * 9.81 * (1.38 - 1.19).
    network = compile_network(row_plant(1), SEASONS)
    winter = 9.80665 * (network.outdoor_density[0] - network.room_density[0]) * (1.5 - 0.3)
    assert 2.0 < winter < 2.5
    assert network.room_gauge(1.5)[0] == pytest.approx(winter)
    assert network.room_gauge(0.3)[2] == pytest.approx(-3.0)  # the summer's stated room pressure, at the opening


def test_wind_head():
    # Bernoulli: 5 m/s of air of 1.39 kg/m3 at -20 degC and 100 m.
    network = compile_network(row_plant(1), SEASONS)
    assert network.wind_head[0] == pytest.approx(0.5 * 1.378 * 25, rel=2e-3)
    assert network.wind_head[2] == 0.0


def test_flue_gas_of_a_firing_level():
    # 300 kW of natural gas at 25 % excess air: some 0.43 kg/s per MW on the higher heating value (common practice).
    network = compile_network(row_plant(1), SEASONS)
    off, low, high = network.prescribed[0][1]
    assert off == 0.0
    assert high == pytest.approx(0.43 * 0.3, rel=0.06)
    assert low / high == pytest.approx(0.25 * (1 + 0.35 * 0.93) / (1 + 0.25 * 0.93), rel=0.02)
    assert network.temperature[0][1].tolist() == pytest.approx([293.15, 423.15, 438.15])


def test_cool_flue_gas_leaves_saturated():
    network = compile_network(row_plant(1, celsius=45.0), SEASONS)
    gas, _ = saturated.bare(BURNT, 318.15, network.pressure)
    assert network.gas[0][WATER, 1, 1] == pytest.approx(gas.mass_fractions["h2o"], rel=0.03)
    assert network.prescribed[0][1, 1] < 0.97 * compile_network(row_plant(1), SEASONS).prescribed[0][1, 1]


def test_ways_in_from_the_room():
    leaking = compile_network(row_plant(1, idle="leaking"), SEASONS)
    sealed = compile_network(row_plant(1), SEASONS)
    hood = compile_network(row_plant(1, kind="draft hood"), SEASONS)
    regulator = compile_network(row_plant(1, kind="barometric"), SEASONS)
    # The stated leak: 10 cfm at 25 Pa while off, shut while firing.
    flow = Q_(10, "cfm").m_as("m**3/s") * leaking.room_density
    assert leaking.resistance[0][:, 0] * flow**2 == pytest.approx([25.0] * 3)
    assert np.isinf(leaking.resistance[0][:, 1:]).all() and np.isinf(sealed.resistance[0]).all()
    # A hood loses half a velocity head of room air in its opening of 200 mm, in every state: R = 0.5 / (2 rho A^2).
    area = 3.14159265 * 0.2**2 / 4
    assert hood.resistance[0] == pytest.approx(np.repeat(0.25 / (hood.room_density[:, None] * area**2), 3, axis=1))
    assert hood.on_total == (True,) and regulator.on_total == (False,)
    assert regulator.threshold == (10.0,) and hood.threshold == (0.0,)


@pytest.mark.parametrize(("before", "after"), [(200, 250), (250, 200), (150, 300), (300, 150), (200, 200)])
def test_changes_of_size_against_fluids(before, after):
    # fluids gives Crane's formulas with beta^4 in the denominator: on the larger end; smaller / larger = beta.
    plant = with_sections(
        row_plant(1, connector_mm=float(before), junction=None, header_mm=float(after)), connector_1={"fittings": ()}
    )
    network = compile_network(plant, SEASONS)
    own = network.pipes[rows(network).index("connector 1")].fixed_loss
    form = fluids.fittings.diffuser_conical if after > before else fluids.fittings.contraction_conical
    on_one_end = form(Di1=before, Di2=after, angle=60.0, fd=0.02, method="Crane") if before != after else 0.0
    # fluids: a diffuser on the inlet's head, a contraction on the outlet's; both are the smaller end.
    assert own == pytest.approx(on_one_end * (before / min(before, after)) ** 4, rel=1e-9, abs=1e-12)


def test_fixed_losses_by_hand():
    # 200 mm with one elbow (0.75) on an outlet of 200 mm: nothing else, for the lateral's coefficient holds the rest.
    network = compile_network(row_plant(2, header_mm=300.0), SEASONS)
    pipes = dict(zip(rows(network), network.pipes, strict=True))
    assert pipes["connector 1"].fixed_loss == 0.75
    assert pipes["header 1"].fixed_loss == 0.0
    assert pipes["header 1"].form == network.pipes[rows(network).index("header 2")].form
    # Narrower than the outlet: Crane's reducer, 0.5 sqrt(sin 30) (1 - beta^2), stands on the section's own head.
    narrow = with_sections(row_plant(1, header_mm=300.0), connector_1={"diameter": Q_(150, "mm")})
    network = compile_network(narrow, SEASONS)
    reducer = 0.5 * 0.5**0.5 * (1 - (150 / 200) ** 2)
    assert network.pipes[0].fixed_loss == pytest.approx(0.75 + reducer)
    # A branch wider than the leg it joins is reduced to it first; the coefficient is that of equal areas.
    wide = with_sections(row_plant(1, header_mm=150.0), connector_1={"diameter": Q_(200, "mm")})
    network = compile_network(wide, SEASONS)
    assert network.pipes[0].fixed_loss == pytest.approx(0.75 + reducer * (200 / 150) ** 4)
    same = compile_network(row_plant(1, header_mm=200.0), SEASONS)
    assert network.pipes[1].form == same.pipes[1].form


def test_outside_of_a_section():
    # Films of EN 13384-1 (from memory): 8 W/(m2 K) in a room, 23 outdoors; 0.16 m2 K/W of wall, 1.13 outer diameter.
    network = compile_network(row_plant(1), SEASONS)
    pipes = dict(zip(rows(network), network.pipes, strict=True))
    assert pipes["connector 1"].outside_resistance == pytest.approx(0.16 + 1 / (1.13 * 8))
    assert pipes["stack"].outside_resistance == pytest.approx(0.16 + 1 / (1.13 * 23))
    assert pipes["stack"].outdoors and not pipes["connector 1"].outdoors
    # US Standard Atmosphere: the pressure falls by 1.2 Pa per 10 cm near the ground; the stack's middle is at 12.5 m.
    assert pipes["stack"].thin_air == pytest.approx(1 - 12.5 * 12.01 / 101325, abs=2e-6)


def test_rows_hang_together():
    network = compile_network(row_plant(3), SEASONS)
    for i, pipe in enumerate(network.pipes):
        assert all(network.pipes[c].parent == i and c < i for c in pipe.children)
        assert (pipe.appliance >= 0) == (pipe.children == ())
    assert [network.pipes[r].appliance for r in network.fed_by] == [0, 1, 2]
    assert network.pipes[-1].parent == -1 and network.pipes[-1].end_loss == 0.5 and network.pipes[-1].wind == -0.2


@given(humidity=st.floats(0, 1), outdoor=st.floats(-50, 45))
def test_humid_air_is_lighter(humidity, outdoor):
    seasons = [Season("s", Q_(outdoor, "degC"), Q_(20, "degC"), relative_humidity=h) for h in (humidity, 0.0)]
    damp, dry = compile_network(row_plant(1), tuple(seasons)).outdoor_density
    assert 0.95 * dry < damp <= dry


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"outdoor": Q_(-70, "degC")}, "season s: outdoor temperature -70 .*must be -60 to 60"),
        ({"room": Q_(400, "K")}, "season s: room temperature"),
        ({"room_pressure": Q_(1, "kPa")}, "season s: room pressure 1 kPa must be within 250 Pa"),
        ({"wind": Q_(-1, "m/s")}, "season s: wind -1 m/s must be 0 to 60 m/s"),
        ({"relative_humidity": 60}, "season s: relative humidity 60 must be 0 to 1"),
    ],
)
def test_impossible_seasons(change, words):
    with pytest.raises(ValueError, match=words):
        Season(**({"name": "s", "outdoor": Q_(0, "degC"), "room": Q_(20, "degC")} | change))


def test_an_appliance_of_one_level_has_its_own_table():
    plant = row_plant(2)
    short = replace(plant.appliances[1], levels=plant.appliances[1].levels[:1])
    network = compile_network(replace(plant, appliances=(plant.appliances[0], short)), SEASONS)
    assert [p.shape for p in network.prescribed] == [(3, 3), (3, 2)]
