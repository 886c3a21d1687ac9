"""Heat balance: mass and energy close; a stack that cools, by hand."""

import math

import numpy as np
import pytest
from sample_plants import (
    PLANTS,
    SEASONS,
    WEATHERS,
    all_states,
    one_state,
    prescribed,
    some_states,
)
from sample_stacks import (
    CONNECTOR_AREA,
    ELBOW,
    FIRED,
    INCREASER,
    PRESSURE_1500,
    RAIN_CAP,
    STACK_AREA,
    G,
    R,
    colebrook,
    methane_products,
    straight_stack,
)

from ventcalc.flow import gas_radiation
from ventcalc.gas import flue_gas
from ventcalc.units import Q_
from ventcalc.vent.common_vent import solve
from ventcalc.vent.network import Season
from ventcalc.vent.pressure_balance import TOLERANCE


def test_cooling_stack_by_hand():
    # 150 degC into a room of 20 degC and a stack outdoors at 0 degC, no condensation.
    season = Season("winter", Q_(0, "degC"), Q_(20, "degC"), relative_humidity=0.0)
    found = solve(straight_stack(150, "outdoors"), (season,), one_state([1]))

    moles, mass = methane_products()
    flow, molar_mass = FIRED * mass, mass / sum(moles.values())
    outdoors, room = (PRESSURE_1500 * 0.028966 / (R * t) for t in (273.15, 293.15))
    # JANAF at 400 K (from memory): J/(mol K).
    molar_heat = {"co2": 41.3, "h2o": 34.3, "n2": 29.25, "o2": 30.1, "ar": 20.8}
    heat = sum(n * molar_heat[s] for s, n in moles.items()) / mass
    gas_constant = R / molar_mass
    viscosity, prandtl = 2.18e-5, 0.74  # flue gas at 150 degC, from memory

    def section(inlet, around, diameter, length, film_outside):
        """Outlet [K], mean of T, mean density and friction factor of one section."""
        reynolds = 4 * flow / (math.pi * diameter * viscosity)
        f = colebrook(reynolds, 0.001 / diameter)
        smooth = (1.8 * math.log10(reynolds) - 1.5) ** -2
        nusselt = smooth / 8 * (reynolds - 1000) * prandtl
        nusselt *= 1 / (1 + 12.7 * math.sqrt(smooth / 8) * (prandtl ** (2 / 3) - 1)) * (f / smooth) ** 0.63  # Norris
        # Radiation at 410 K with a wall 25 K colder; the gas loses most of its heat behind an insulated wall anyway.
        gas = flue_gas.Gas(*(moles[s] / sum(moles.values()) for s in flue_gas.SPECIES))
        radiation = gas_radiation.radiation_film.bare(gas, 410.0, 385.0, diameter, PRESSURE_1500)
        inside = nusselt * (viscosity * heat / prandtl) / diameter + radiation
        u = 1 / (1 / inside + 0.50 + 1 / (1.2 * film_outside))
        number = u * math.pi * diameter * length / (flow * heat)
        outlet = around + (inlet - around) * math.exp(-number)
        mean = around + (inlet - outlet) / number
        mean_inverse = (1 + math.log(outlet / inlet) / number) / around
        return outlet, mean, PRESSURE_1500 * mean_inverse / gas_constant, f

    elbow, connector_mean, connector_density, f_connector = section(423.15, 293.15, 0.125, 2.0, 8.0)
    top, stack_mean, stack_density, f_stack = section(elbow, 273.15, 0.150, 10.0, 23.0)
    volume = gas_constant / PRESSURE_1500  # m3/kg per K
    connector_flux, stack_flux = (flow / CONNECTOR_AREA) ** 2 / 2, (flow / STACK_AREA) ** 2 / 2
    losses = (
        connector_flux * volume * connector_mean * (f_connector * 2.0 / 0.125 + 2 * ELBOW + INCREASER)
        + stack_flux * volume * stack_mean * (f_stack * 10.0 / 0.150)
        + stack_flux * volume * top * (1 + RAIN_CAP)
    )
    # Gas that cools slows down: half of what it gains in static pressure it has lost in velocity head.
    slowing = connector_flux * volume * (elbow - 423.15) + stack_flux * volume * (top - elbow)
    draft = G * 1.0 * (outdoors - connector_density) + G * 10.0 * (outdoors - stack_density)
    static = losses + slowing - draft - connector_flux * volume * 423.15
    by_hand = static - G * (1.2 - 0.3) * (outdoors - room)

    assert draft > 25 and 390 < top < 405
    assert found.downstream[:, 0] == pytest.approx([elbow, top], abs=0.1)
    assert found.outlet_pressure[0, 0] == pytest.approx(by_hand, abs=0.1)


@pytest.mark.parametrize("plant", PLANTS.values(), ids=PLANTS)
@pytest.mark.parametrize(("cold", "windy"), WEATHERS.values(), ids=WEATHERS)
def test_mass_and_energy_close(plant, cold, windy):
    states = all_states(plant, cold=cold, windy=windy) if plant.name != "tree 12" else some_states(plant, 400, 3)
    found = solve(plant, SEASONS, states)
    assert found.converged.all() and found.residual.max() <= TOLERANCE

    rows = {s.name: i for i, s in enumerate(plant.order)}
    total = np.abs(found.flow).max(axis=0)
    sent = prescribed(plant, SEASONS, states)
    # A flow is that of the end where gas enters; at the other end the water that drained is gone.
    after = np.where(found.flow > 0.0, found.flow - found.drained, found.flow)
    before = np.where(found.flow < 0.0, found.flow + found.drained, found.flow)
    for section in plant.order:
        own = before[rows[section.name]]
        if section.name in plant.feeds:
            a = plant.feeds.index(section.name)
            gap = own - sent[a] - found.drawn[a]
            # Gas that falls back through an appliance has left water on its way, and `drawn` counts it.
            least, most = 0.0, np.where(own < 0.0, found.drained.sum(axis=0), 0.0)
        else:
            gap, least, most = own - sum(after[rows[u.name]] for u in plant.upstream(section.name)), 0.0, 0.0
        assert np.all((gap >= least - 1e-9 * total) & (gap <= most + 1e-9 * total))

    # Enthalpies run from 0 K, so 1 kJ/(kg K) times temperature is what a stream carries.
    outlets = [rows[f] for f in plant.feeds]
    carried = (np.abs(found.flow[outlets]) * 1000.0 * found.upstream[outlets]).sum(axis=0)
    assert np.all(np.abs(found.energy_in - found.energy_out) <= 1e-6 * np.maximum(carried, 1000.0))


def test_condensing_plants_condense_and_others_do_not():
    # The balances above would say nothing about latent heat if no water fell out.
    wet, dry = (solve(PLANTS[n], SEASONS, all_states(PLANTS[n])) for n in ("condensing", "sealed"))
    assert np.mean(wet.condensed.max(axis=0) > 1e-5) > 0.9
    # Hot gas in a mild season, all walls warm: nothing. In winter its stack drips at low fire.
    firing = (dry.states.codes.min(axis=0) > 1) & (dry.states.season > 0)
    assert firing.any() and dry.condensed[:, firing].max() == 0.0
    assert dry.drained.max() > 0.0 and wet.drained.max() > 0.0 and np.all(wet.frozen <= wet.condensed + 1e-12)
