"""The vent in time: against laws worked by hand, a second code that follows parcels, and the steady solver's limits."""

from dataclasses import replace

import numpy as np
import pytest
from sample_plants import SEASONS, row_plant
from sample_runs import FORCED, FROZEN, LIGHT, PLANTS, STILL, WARM, course, end_against_steady, lit, one_pipe

from ventcalc import tables
from ventcalc.flow import heat_loss, materials, warm_up
from ventcalc.gas import atmosphere, condensation, streams
from ventcalc.handbook.firing_states import transient_checked
from ventcalc.units import Q_
from ventcalc.vent import cooling
from ventcalc.vent.common_vent import solve, solve_network
from ventcalc.vent.course import Start
from ventcalc.vent.end_of_header import far_end_pressure
from ventcalc.vent.network import Season, compile_network
from ventcalc.vent.states import States
from ventcalc.vent.time_step import Method
from ventcalc.vent.transient import run, run_network, starts

G = 9.80665


STEAM_R = 8.314462618 / 0.018015  # J/(kg K)


def parcels(plant, season, ramp, duration, step=0.01):
    """Outlet pressure [Pa] and temperature at the end [K] of one vertical pipe, by parcels that keep their mass.

    Every step a parcel enters; each gives heat to the wall beside it, shrinks, and pushes those before it by volume.
    The wall is one node of steel every 0.1 m; water settles on it by Stefan's law and stays there until it dries.
    Nothing is shared with the module but the film of a flow and the properties of its gas.
    """
    network = compile_network(plant, (season,))
    pipe, air_props, fire = network.pipes[0], network.outdoor_gas[:, 0], network.gas[0][:, 0, 1]
    p, around = network.pressure * pipe.thin_air, network.room[0]
    area, length, top = pipe.area, pipe.length, network.prescribed[0][0, 1]
    nodes = 150
    at, wall, wet = (np.arange(nodes) + 0.5) * length / nodes, np.full(nodes, around), np.zeros(nodes)
    steel = np.pi * ((0.5 * pipe.diameter + 0.0005) ** 2 - (0.5 * pipe.diameter) ** 2) * 7900.0 * 460.0  # J/(m K)
    outer = np.pi * pipe.diameter / pipe.outside_resistance
    count = 600
    volume = np.full(count, area * length / count)
    temperature, gas = np.full(count, around), np.repeat(air_props[:, None], count, axis=1)
    mass = p * volume / (air_props[0] * around)
    before, told, shrunk = None, [], np.zeros(0)
    for number in range(round(duration / step) + 1):
        time = number * step
        sent = top * min(time / ramp, 1.0)
        if number and sent > 0.0:
            mass = np.concatenate([[top * min((time - 0.5 * step) / ramp, 1.0) * step], mass])
            temperature = np.concatenate([[network.temperature[0][0, 1]], temperature])
            gas = np.concatenate([fire[:, None], gas], axis=1)
        volume = mass * gas[0] * temperature / p
        end = np.cumsum(volume)
        keep = end - volume < area * length
        mass, temperature, gas, volume = mass[keep], temperature[keep], gas[:, keep], volume[keep]
        z = (np.cumsum(volume) - 0.5 * volume) / area
        piece = volume / area
        density, flow_in = mass / volume, sent * fire[0] * network.temperature[0][0, 1] / p
        if number % 10 == 0:
            passing = flow_in - np.concatenate([np.zeros(max(z.size - shrunk.size, 0)), shrunk])[: z.size]
            size, cold = np.maximum(density * passing, 1e-9), np.interp(z, at, wall)
            found = cooling.inside_film(pipe, network.pressure, gas, temperature, cold, 0.0, size)
            film, convection, darcy = found.inside, found.convection, found.darcy
        film, convection, darcy = (
            np.concatenate([np.full(max(z.size - v.size, 0), v[0]), v])[: z.size] for v in (film, convection, darcy)
        )
        beside, perimeter = np.interp(z, at, wall), np.pi * pipe.diameter
        specific = gas[1] + temperature * (gas[2] + temperature * gas[3])
        # Mass fractions by the vapor over dry gas; D of Marrero and Mason (1972); Chilton and Colburn's analogy.
        saturated = atmosphere.saturation_pressure.bare(beside)
        dry = (gas[0] - gas[4] * STEAM_R) / (1.0 - gas[4])
        over = np.log((1.0 + dry / STEAM_R * saturated / (p - saturated)) ** -1 / (1.0 - gas[4]))
        spreads = streams.conductivity(gas, temperature) / (density * specific)
        lewis = spreads / (1.87e-10 * temperature**2.072 * 101325.0 / p)
        settles = convection / specific * lewis ** (-2.0 / 3.0) * over * perimeter  # kg/(m s)
        settles = np.where(settles > 0.0, settles, np.maximum(settles, -np.interp(z, at, wet) / step))
        lost = film * perimeter * (temperature - beside)  # W/m
        latent = settles * condensation.latent_heat.bare(beside)
        shrunk = np.cumsum((lost / (specific * temperature) + settles * STEAM_R / gas[0]) * piece / density)
        flow = flow_in - shrunk
        swift = flow / area
        if number % 10 == 0:
            friction_loss = np.sum((darcy * piece / pipe.diameter + pipe.fixed_loss * piece / length)
                                   * 0.5 * density * swift * np.abs(swift))  # fmt: skip
            kinetic = 0.5 * density[-1] * swift[-1] ** 2 * (1.0 + pipe.end_loss)
            draft = G * pipe.rise / length * np.sum((network.outdoor_density[0] * pipe.thin_air - density) * piece)
            faster = (flow - np.interp(z, *before)) / (10 * step) if number else 0.0 * z
            momentum = np.sum(density * piece * faster) / area
            change = np.sum(density * swift * np.gradient(swift)) - 0.5 * density[-1] * swift[-1] ** 2
            # Static against the room at the outlet: its total pressure less the velocity head there.
            told.append((time, friction_loss + kinetic - draft + momentum + change, temperature[-1]))
            before = z, flow
        wall = wall + step * (np.interp(at, z, lost + latent) - outer * (wall - around)) / steel
        wet = np.maximum(wet + step * np.interp(at, z, settles), 0.0)
        temperature = temperature - step * lost * piece / (mass * specific)
        gone = step * settles * piece
        gas = (gas * mass - streams.STEAM[:, None] * gone) / (mass - gone)
        mass = mass - gone
    time, pressure, last = np.array(told).T
    return time, pressure - network.room_gauge(network.outlet_height[0])[0], last


@pytest.mark.slow
def test_it_agrees_with_parcels():
    plant, ramp, duration = one_pipe(), 2.0, 40.0
    result = run(plant, (STILL,), course([[0, 1, 1]], [0, ramp, duration]), stride=0.1)
    time, pressure, last = parcels(plant, STILL, ramp, duration)
    mine = result.outlet_pressure[0, :, 0]
    assert time == pytest.approx(result.time)
    # In the very step in which the ramp ends the acceleration ends too; the two take it on either side of it.
    away = np.abs(time - ramp) > 0.15
    assert np.abs(mine - pressure)[away].max() < 2.0
    assert np.abs(mine - pressure)[away].mean() < 0.5
    # It has arrived when half the way to light is gone; my last cell's middle lies a quarter of a meter before the end.
    half = -0.5 * (1.0 / last[0] + 1.0 / last[time < 8].max())
    arrives = [np.interp(half, -1.0 / gas[:100], time[:100]) for gas in (result.downstream[0, :, 0], last)]
    assert arrives[0] == pytest.approx(arrives[1] * 14.75 / 15.0, rel=0.02)


def assert_balanced(result):
    entered, left, held = result.mass_entered, result.mass_left, result.mass_held
    held = held + result.mass_settled
    assert np.abs(entered - left - held + held[0]).max() < 1e-9 * np.abs(held).max()
    kept = result.energy_held + result.energy_stored + result.energy_lost + result.energy_settled
    gap = result.energy_entered - result.energy_left - kept + kept[0]
    assert np.abs(gap).max() < 1e-9 * np.abs(kept).max()


# A cold wall of plastic keeps half its thickness between gas and the middle that is frozen: 10 % of the exchange.
@pytest.mark.parametrize("name", sorted(set(PLANTS) - {"plastic"}))
def test_with_frozen_walls_it_settles_to_the_cold_stack(name):
    result, steady = end_against_steady(PLANTS[name], FROZEN, 150.0, 1.0, windy=1.0)
    assert steady.converged.all()
    # On walls at -20 degC up to half the water of a gas of 150 degC settles. `cooling` gives the whole section the film
    # of what enters it, here the film grows less as water and flow do: with that film here too the two are 0.15 Pa
    # apart, as they are on cooler gas, and without it 1.1 Pa of 66 Pa of draft; the steady stack is the colder.
    close = 0.5 if name == "wet" else 1.2
    assert result.outlet_pressure[:, -1] == pytest.approx(steady.outlet_pressure, abs=close)
    assert result.drawn[:, -1] == pytest.approx(steady.drawn, abs=2e-3)
    assert result.flow[:, -1] == pytest.approx(steady.flow, abs=4e-3)
    settles = (result.mass_settled[-1] - result.mass_settled[-11]) / 10.0
    assert settles == pytest.approx(steady.drained.sum(axis=0), rel=0.02, abs=1e-5)
    assert_balanced(result)


@pytest.mark.parametrize("name", ["junctions", "plastic", "leaking", "hoods"])
def test_with_light_walls_it_settles_to_the_hot_stack(name):
    result, steady = end_against_steady(PLANTS[name], LIGHT, 250.0, 0.0)
    assert result.outlet_pressure[:, -1] == pytest.approx(steady.outlet_pressure, abs=0.5)
    assert result.downstream[:, -1] == pytest.approx(steady.downstream, abs=2.5)
    row = result.row("stack")
    assert result.wall[row, -1] == pytest.approx(steady.wall[row], abs=2.5)
    network = compile_network(PLANTS[name], SEASONS)
    assert result.header_pressure[-1] == pytest.approx(far_end_pressure(steady, network), abs=0.5)
    assert result.pressure_up[:, -1] == pytest.approx(steady.pressure_up, abs=0.5)
    assert result.pressure_down[:, -1] == pytest.approx(steady.pressure_down, abs=0.5)
    assert_balanced(result)


@pytest.mark.parametrize("name", ["junctions", "hoods", "tree 1"])
def test_a_hot_steady_state_stays_where_it_is(name):
    plant = PLANTS[name]
    codes = [2] * len(plant.appliances)
    kept = run(plant, SEASONS, course(np.array([codes, codes]).T, [0, 40], codes, cold=0.0), stride=1.0)
    states = States(np.array([codes]).T, np.array([0]), np.zeros(1), np.zeros(1))
    steady = solve(plant, SEASONS, states).outlet_pressure
    assert kept.outlet_pressure[:, 0] == pytest.approx(steady, abs=1.0)  # between two ways to cut the vent into pieces
    assert kept.outlet_pressure[:, 1:, 0] == pytest.approx(np.repeat(steady, 40, axis=1), abs=0.5)
    assert np.abs(kept.energy_stored[-1] - kept.energy_stored[0]) < 0.01 * kept.energy_entered[-1]


@pytest.mark.parametrize("wall", ["insulated chimney", "Type B gas vent"])
def test_a_long_warm_up_follows_heat_loss(wall):
    plant = one_pipe(length=10.0, rise=0.0, wall=wall)
    result = run(plant, (WARM,), course([[0, 1, 1]], [0, 1, 600]), stride=10.0)
    network = compile_network(plant, (WARM,))
    pipe, gas, around = network.pipes[0], network.gas[0][:, 0, 1], 333.15
    flow, inlet = network.prescribed[0][0, 1], 473.15
    mean = result.downstream[0, -1, 0]
    middle = np.array(0.5 * (inlet + mean))
    film = float(cooling.inside_film(pipe, network.pressure, gas, middle, around, 1.0, flow).inside)
    specific = float(streams.mean_specific_heat(gas, inlet, mean))
    hand = warm_up.warm_up.bare(600.0, inlet, around, around, flow, specific, film, heat_loss.STILL_ROOM_FILM,
                                  0.25, 10.0, materials.layers(wall), slices=20, steps=60)  # fmt: skip
    excess = result.downstream[0, 1:, 0] - around
    # Constant film and specific heat there, those at rest; the gas's own here: to a wall that is still cold it radiates
    # less. The last cell's middle lies 0.25 m before the end.
    assert excess == pytest.approx(hand.gas[1:, -1] - around, rel=0.06)
    assert excess[10:] == pytest.approx(hand.gas[11:, -1] - around, rel=0.02)
    stored = result.energy_stored[-1, 0] - result.energy_stored[0, 0]
    assert stored == pytest.approx(hand.stored[-1], rel=0.03)
    assert result.energy_lost[-1, 0] == pytest.approx(hand.lost[-1], rel=0.04)


def test_a_lit_hood_ends_in_the_steady_state_on_its_side():
    plant = row_plant(1, kind="draft hood", celsius=180.0, vent="Type B gas vent", stack_height=6.0)
    pulls = (-1.0, -2.0, -4.0, -8.0)
    seasons = tuple(
        Season(f"room at {p:g} Pa", Q_(-5, "degC"), Q_(20, "degC"), room_pressure=Q_(p, "Pa")) for p in pulls
    )
    pick = np.arange(len(pulls))
    result = run(plant, seasons, lit(plant, [[2] * len(pulls)], 90.0, pick), method=FROZEN)
    network = compile_network(plant, seasons)
    states = States(np.full((1, pick.size), 2), pick, np.ones(pick.size), np.zeros(pick.size))
    idle = solve_network(network, replace(states, codes=np.zeros((1, pick.size))))
    # Begun from the idle solution, and from the one in which the vent goes on as idle and the burner's gas spills.
    sent = network.prescribed[0][pick, 2]
    roots = [solve_network(network, states, None, d).drawn[0] for d in (idle.drawn, idle.drawn - sent)]
    ends, spilled = result.drawn[0, -1], result.spilled[0]
    assert np.min([np.abs(ends - r) for r in roots], axis=0).max() < 2e-3
    backward = idle.flow[-1] < 0.0
    assert backward.tolist() == [False, False, True, True]
    assert (result.flow[-1, -1] < 0.0).tolist() == backward.tolist()
    assert (np.abs(roots[0] - roots[1])[backward] > 0.1).all()  # the vent could as well run forward
    # The draft of a cold stack takes a moment; a vent that runs backward lets none of the burner's gas in, ever.
    assert (spilled[-1][~backward] > 0.01).all()
    late = spilled[-1] - spilled[-51]
    assert late[~backward] == pytest.approx(0.0, abs=1e-9)
    assert late[backward] == pytest.approx(10.0 * sent[backward], rel=1e-6)


def test_outdoor_air_that_blows_back_is_no_flue_gas():
    plant = row_plant(1, kind="draft hood", celsius=180.0, vent="Type B gas vent")
    pulled = Season("pulled", Q_(0, "degC"), Q_(20, "degC"), room_pressure=Q_(-30, "Pa"))
    result = run(plant, (pulled,), course([[0, 0]], [0, 20], [0]))
    assert result.flow[-1, -1, 0] < -0.01 and result.spilled[0, -1, 0] == 0.0


def test_light_off_begins_far_above_the_cold_stack():
    found = starts(FORCED, SEASONS, [Start((0, 0, 0), (2, 0, 0))], 40.0)
    cold = solve(FORCED, SEASONS, States(np.array([[2], [0], [0]]), np.array([0]), np.array([1.0]), np.array([0.0])))
    outlet = found.outlet_pressure[0, :, 0]
    at = [np.interp(t, found.time, outlet) for t in (2.5, 10.0, 40.0)]
    assert at[0] > cold.outlet_pressure[0, 0] + 60.0 and at[0] > at[1] > at[2]
    # By then the first water that settled has warmed the walls.
    assert cold.outlet_pressure[0, 0] - 8.0 < at[2] < cold.outlet_pressure[0, 0] + 1.0


def test_a_turn_down_falls_below_low_fire_at_rest():
    found = starts(FORCED, SEASONS, [Start((2, 2, 2), (1, 1, 1), cold=0.0)], 40.0)
    low = solve(FORCED, SEASONS, States(np.ones((3, 1)), np.array([0]), np.array([0.0]), np.array([0.0])))
    after = found.outlet_pressure[0, found.time > 4.0, 0]
    assert after.min() < low.outlet_pressure[0, 0] - 5.0


def test_a_start_purges_first():
    plant = replace(FORCED, appliances=tuple(replace(a, purge_flow=Q_(0.1, "m**3/s")) for a in FORCED.appliances))
    start = Start((0, 0, 0), (2, 0, 0), purge=10.0, fan=2.0, ramp=3.0)
    time, codes = start.codes(plant)
    assert time.tolist() == [0.0, 2.0, 12.0, 15.0] and codes[0].tolist() == [0.0, 1.0, 1.0, 2.0]
    found = starts(plant, SEASONS, [start, Start((0, 0, 0), (0, 0, 2))], 20.0, stride=0.5)
    purging = (found.time >= 2.0) & (found.time <= 12.0)
    air = compile_network(plant, SEASONS).prescribed[0][0, 1]
    assert found.flow[found.row("connector 1"), purging, 0] == pytest.approx(air, rel=1e-6)
    assert found.flow[found.row("connector 1"), :, 1] == pytest.approx(0.0, abs=0.01)


def test_runs_side_by_side_are_those_run_alone():
    changes = [Start((0, 0, 0), (2, 0, 0)), Start((0, 0, 0), (1, 2, 2), season=1, ramp=4.0),
               Start((2, 2, 2), (0, 0, 0), cold=0.0, windy=1.0)]  # fmt: skip
    plant = PLANTS["hoods"]
    together = starts(plant, SEASONS, changes, 10.0)
    for i, change in enumerate(changes):
        alone = starts(plant, SEASONS, [change], 10.0)
        # The longest step of the transport is that of the fastest run.
        assert together.outlet_pressure[..., i] == pytest.approx(alone.outlet_pressure[..., 0], abs=0.2)


def test_what_does_not_fit_is_refused():
    good = course([[0, 1], [0, 0], [0, 0]], [0, 5])
    with pytest.raises(ValueError, match="rise from 0"):
        course([[0, 1], [0, 0], [0, 0]], [1, 5])
    with pytest.raises(ValueError, match="must fit"):
        replace(good, season=np.zeros(2, int))
    with pytest.raises(ValueError, match="start has codes"):
        replace(good, start=States(np.zeros((2, 1)), np.zeros(1, int), np.ones(1), np.zeros(1)))
    with pytest.raises(ValueError, match="whole number of steps"):
        run(FORCED, SEASONS, good, stride=0.12)
    with pytest.raises(ValueError, match="2 appliances, need 3"):
        run(FORCED, SEASONS, course([[0, 1], [0, 0]], [0, 5]))
    with pytest.raises(ValueError, match="added has shape"):
        run(FORCED, SEASONS, good, np.zeros((2, 1)))
    with pytest.raises(ValueError, match="capacity"):
        run_network(compile_network(FORCED, SEASONS), good, method=Method(capacity=0.001))
    with pytest.raises(ValueError, match="must be over within"):
        starts(FORCED, SEASONS, [Start((0, 0, 0), (1, 0, 0), purge=30.0)], 20.0)


def test_runs_and_columns_meet_exact_solutions():
    """Schumann's run that warms up, on the walls that this module shares; a column that starts, on the module itself.

    At 50 and 90 % of the speed; nearer to the end a time is fifty times as sensitive as the speed, and friction is not
    quite quadratic.
    """
    checks = transient_checked()
    assert [c.id for c in checks] == [r["id"] for r in tables.read("transient_checks")]
    assert all(c.agrees for c in checks)


def test_gas_that_is_mostly_fog_stays_between_outdoors_and_its_flue():
    """A burner far too small for a tall cold vent: its gas ends as cold as the air, its water as fog or on the wall."""
    plant = row_plant(1, kilowatts=1.5, celsius=180.0, junction=None, header_mm=200.0, stack_height=12.0)
    frost = Season("frost", Q_(-15, "degC"), Q_(20, "degC"))
    found = starts(plant, (frost,), [Start((2,), (1,), cold=0.0)], 30.0)
    assert np.all(found.downstream > 258.15 - 1.0) and np.all(found.downstream < 453.15 + 1.0)
    assert np.abs(found.flow_out).max() < 0.01  # 1.5 kW makes less than 1 g/s
    assert_balanced(found)
