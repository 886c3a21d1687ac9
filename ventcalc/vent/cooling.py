"""Cooling: one section of a vent, from the end where gas enters it to the end where it leaves.

Temperatures, water, densities and the pressure that friction and fittings take, for given flows: what `common_vent`
asks of every section in every state. Plain SI. The laws stand for one state at a time and are compiled (`compiled`);
`cool` goes through many.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import either, law, loop
from ventcalc.flow import friction, gas_radiation, heat_loss, stack_effect, wall_condensation
from ventcalc.gas import streams
from ventcalc.gas.streams import AIR_VISCOSITY, GAS_R, HEAT_0, PRANDTL, STEAM, VAPOUR_CONSTANT, VISCOSITY, WATER
from ventcalc.vent.condensing_run import PIECE, Transfer, run_through
from ventcalc.vent.network import Bore, Pipe

# A section that condenses is worked through in pieces along each of which a dry gas would cool by so much [K], and in
# no more of them than that: within 0.3 K, 1.3 % of the water and 0.3 Pa of draft in 20 m of far finer ones (see the
# tests).
WET_FALL = 8.0
MOST_PIECES = 12

# Length [m] of the pieces that have a film of their own: hot gas loses more at first than one exponential has it. A
# slow, wide, hot 20 m stack in one piece would have the outlet right and yet 1.3 Pa too much draft (see the tests).
FILM_PIECE = 10.0

STILL_FLOW = 1e-9  # kg/s; below it a section is stagnant: gas at the temperature of its surroundings


class Cooled(NamedTuple):
    """What happens to the gas along one section, from the end where it enters to the end where it leaves."""

    outlet: float
    mean: float
    wall: float  # the coldest
    cooling: float
    excess: float  # inlet above surroundings, K
    film_share: float  # U / inside film
    film_power: float  # of the flow in the inside film
    heat: float  # W to the surroundings
    factor: float  # f L / D + K
    density: float  # mean of 1/T, for draft
    # What times flow squared over area squared is the momentum that passes, m3/kg: the volume of what is left of a
    # kilogram that entered, times the share that is left.
    volume_mean: float
    volume_in: float
    volume_out: float
    drained: float  # share of the stream that leaves it as water on the wall
    settled: float  # share that reaches the wall; some of it may dry again
    frozen: float  # share that settles as ice
    fog: float  # share at the outlet
    water_heat: float  # enthalpy of what drains, W
    loss: float  # Pa, with the sign of the flow
    acceleration: float  # Pa, upstream end less downstream end


# Rows of a `Cooled` in an array, by its names.
(
    OUTLET, MEAN, WALL, COOLING, EXCESS, FILM_SHARE, FILM_POWER, HEAT, FACTOR, DENSITY, VOLUME_MEAN, VOLUME_IN,
    VOLUME_OUT, DRAINED, SETTLED, FROZEN, FOG, WATER_HEAT, LOSS, ACCELERATION,
) = range(len(Cooled._fields))  # fmt: skip
COOLED = len(Cooled._fields)


_reynolds = law(friction.reynolds.bare)
_lewis_number, _vapor_diffusivity, _mass_transfer_coefficient = (
    law(wall_condensation.lewis_number.bare),
    law(wall_condensation.vapor_diffusivity.bare),
    law(wall_condensation.mass_transfer_coefficient.bare),
)


class Film(NamedTuple):
    """What lies between the gas of a section, or of a piece of one, and its surroundings, at a mean ``temperature``."""

    temperature: float
    inside: float  # convection and radiation, W/(m2 K)
    share: float  # U / inside film
    darcy: float  # friction factor
    reynolds: float
    nusselt: float
    convection: float  # W/(m2 K)


@law
def film_power(film):
    """Power of the flow in the inside film.

    In its convection 0.8 in turbulence, that of the straight line in the passage, 0 below; none in radiation.
    """
    above = np.maximum(film.reynolds - friction.LAMINAR_LIMIT, 1.0)
    passage = (1.0 - heat_loss.LAMINAR_NUSSELT / film.nusselt) * film.reynolds / above
    turbulent = film.reynolds > friction.TURBULENT_LIMIT
    return either(turbulent, 0.8, passage) * film.convection / film.inside


class _Own(NamedTuple):
    """What a film takes of a gas in a bore, the same at all temperatures."""

    prandtl: float
    roughening: float  # power of the friction factor's share
    paths: tuple[float, float, float]  # `gas_radiation.band_paths`


@law
def _own_of(pipe, pressure, gas):
    h2o, co2 = streams.partial_pressures(gas, pressure * pipe.thin_air)
    return _Own(
        gas[PRANDTL] * np.sqrt(gas[PRANDTL]),
        heat_loss.roughening_power(gas[PRANDTL]),
        gas_radiation.band_paths(h2o, co2, pipe.diameter),
    )


@law
def inside_film(pipe: Pipe, pressure, gas, temperature, surroundings, warm, size) -> Film:
    """Film of a flow ``size`` [kg/s] of gas at its mean temperature [K] in a section or a piece of one.

    Convection, and the radiation of the gas to a wall as warm as both make it (to 3 K).
    """
    return _film(pipe, gas, _own_of(pipe, pressure, gas), temperature, surroundings, warm, size)


@law
def _film(pipe, gas, own, temperature, surroundings, warm, size):
    """`inside_film` of a gas whose own part is known."""
    v2, v1, v0 = AIR_VISCOSITY
    viscosity = gas[VISCOSITY] * (v0 + temperature * (v1 + temperature * v2))
    reynolds = _reynolds(size, pipe.diameter, viscosity)
    darcy = friction.factor_from_power(reynolds, pipe.relative_roughness, pipe.roughness_power)
    turbulent = either(reynolds > friction.TURBULENT_LIMIT, darcy, pipe.limit_factor)
    nusselt = heat_loss.nusselt_from_powers(reynolds, own.prandtl, gas[PRANDTL], own.roughening, turbulent)
    convection = nusselt * viscosity * streams.specific_heat(gas, temperature) / (own.prandtl * pipe.diameter)
    convection = pipe.film_scale * convection

    outside = pipe.outside_resistance * warm  # cold walls: the inside film alone
    radiation = gas_radiation.grey() * gas_radiation.film_of_paths(own.paths, temperature)
    radiation = pipe.film_scale * radiation
    # That is for a wall as warm as the gas; a colder one gets less, nearly as the cube of the mean of both.
    share = 1.0 / (1.0 + (convection + radiation) * outside)
    middle = 1.0 - 0.5 * share * (1.0 - surroundings / temperature)
    film = convection + radiation * middle * middle * middle
    return Film(temperature, film, 1.0 / (1.0 + film * outside), darcy, reynolds, nusselt, convection)


def cool(pipe: Pipe, pressure, flow, inlet, gas, surroundings, warm, guess) -> Cooled:
    """`cool_state` of many states at once: arrays with one value a state, ``gas`` with one column a state.

    ``guess`` None has the outlet found first.
    """
    count = len(inlet)
    inputs = np.empty((5, count))
    inputs[0], inputs[1], inputs[2], inputs[3] = flow, inlet, surroundings, warm
    inputs[4] = np.nan if guess is None else guess
    columns = np.array(np.broadcast_to(gas, (len(gas), count)).T, order="C")  # a view of one state could not be written
    found = np.empty((len(Cooled._fields), count))
    _cool_all(pipe.bore[:, 0], float(pressure), columns, inputs, np.empty((MOST_PIECES, PIECE)), found)
    return Cooled(*found)


@loop
def _cool_all(numbers, pressure, gas, inputs, passed, found):
    bore = bore_of(numbers)
    for k in range(gas.shape[0]):
        flow, inlet, surroundings, warm, guess = inputs[:, k]
        run = cool_state(bore, pressure, streams.column(gas[k]), flow, inlet, surroundings, warm, guess, passed)
        for row in range(found.shape[0]):
            found[row, k] = run[row]


@law
def bore_of(numbers):
    """The `Bore` of numbers in its order."""
    a, b, c, d, e, f, g, h, i, j, k, m, n = numbers[:13]
    return Bore(a, b, c, d, e, f, g, h, i, j, k, m, n)


@law
def cool_state(pipe, pressure, gas, flow, inlet, surroundings, warm, guess, passed) -> Cooled:
    """Cooling and losses of one section; film and friction at its mean gas temperature.

    ``guess`` is about where the outlet will be, such as the outlet of the turn before; NaN has it found first.
    ``passed`` is room for the pieces of a `condensing_run`.
    """
    if np.isnan(guess):
        size = np.maximum(np.abs(flow), STILL_FLOW)
        guess = _first_outlet(pipe, gas, inlet, surroundings, warm, size)
        guess = _cool_one(pipe, pressure, gas, flow, inlet, surroundings, warm, guess, passed).outlet
    return _cool_one(pipe, pressure, gas, flow, inlet, surroundings, warm, guess, passed)


@law
def _cool_one(pipe, pressure, gas, flow, inlet, surroundings, warm, guess, passed):
    """`cool_state` from a guess."""
    size = np.maximum(np.abs(flow), STILL_FLOW)
    own = _own_of(pipe, pressure, gas)
    dry, first, film = _dry_run(pipe, gas, own, inlet, surroundings, warm, size, guess)
    outlet, cooling, lost, darcy, mean, lightness, bulk = dry
    coldest = np.minimum(inlet, outlet)
    wall = coldest - film.share * (coldest - surroundings)
    heat = size * lost
    drained = settled = frozen = fog_in = fog_out = water_heat = 0.0
    wet = gas[WATER] > streams.held_at_wall(gas, np.minimum(wall, coldest), pressure)[0]
    if wet and size > STILL_FLOW:  # what is stagnant has nothing to give
        if film_pieces(pipe.length) == 1.0:  # a single piece: how its film grows with temperature is seen at its inlet
            first = _film(pipe, gas, own, inlet, surroundings, warm, size)
        transfer = _transfer(pipe, gas, pressure, inlet, outlet, first, film, size, warm)
        pieces = np.minimum(np.maximum(np.abs(inlet - outlet) / WET_FALL, 1.0), MOST_PIECES)
        against = pipe.rise * flow > 0.0
        run = run_through(gas, inlet, surroundings, pressure, transfer, cooling, pieces, against, passed)
        outlet, cooling, wall = run.outlet, run.cooling, run.wall
        mean, lightness, bulk = run.temperature, run.lightness, run.bulk
        heat, water_heat = size * _heat_lost(gas, inlet, run), size * run.water_heat
        drained, settled, frozen = run.settled - run.dried, run.settled, run.frozen
        fog_in, fog_out = run.fog_in, run.fog_out
    local, left = pressure * pipe.thin_air, 1.0 - drained
    volume_in = (gas[GAS_R] - fog_in * VAPOUR_CONSTANT) * inlet / local
    volume_out = left * (gas[GAS_R] - (fog_out + drained) * VAPOUR_CONSTANT) * outlet / local
    volume_mean = (0.5 + 0.5 * left) * bulk / local
    factor = pipe.friction_scale * darcy * pipe.length / pipe.diameter + pipe.fixed_loss
    head = flow * np.abs(flow) / (2.0 * pipe.area**2)
    return Cooled(
        outlet,
        mean,
        wall,
        cooling,
        inlet - surroundings,
        film.share,
        film_power(film),
        heat,
        factor,
        local * lightness,
        volume_mean,
        volume_in,
        volume_out,
        drained,
        settled,
        frozen,
        fog_out,
        water_heat,
        factor * head * volume_mean,
        head * (volume_out - volume_in),
    )


@law
def _transfer(pipe, gas, pressure, inlet, outlet, first, last, size, warm):
    """How the inside of a section passes on heat and water, by a film that is a straight line in temperature.

    Between the films of its ``first`` and its ``last`` piece. The rest is that of the mean of its ends.
    """
    middle = 0.5 * (inlet + outlet)
    conductivity, heat = streams.conductivity(gas, middle), streams.specific_heat(gas, middle)
    density = pressure / (gas[GAS_R] * middle)
    lewis = _lewis_number(conductivity, density, heat, _vapor_diffusivity(middle, pressure))
    apart = first.temperature - last.temperature
    per_kelvin = apart / (apart * apart + 1.0)  # 1 / apart, but nought where the two agree
    mean = streams.mean_specific_heat(gas, inlet, outlet)
    return Transfer(
        last.inside * pipe.surface / size,
        last.inside * (pipe.outside_resistance * warm),
        _mass_transfer_coefficient(last.convection, mean, lewis) / last.inside,
        last.convection / last.inside,
        mean,
        last.temperature,
        (first.inside / last.inside - 1.0) * per_kelvin,
        (first.convection / last.convection - 1.0) * per_kelvin,
    )


@law
def _heat_lost(gas, inlet, run):
    """Heat [J/kg] that a condensing run gives to its surroundings: what its enthalpies leave over."""
    before = streams.sensible(gas, inlet) - streams.LATENT * run.fog_in
    drained = run.settled - run.dried
    after = streams.sensible(gas, run.outlet) - drained * streams.sensible(STEAM, run.outlet)
    return before - (after - streams.LATENT * run.fog_out) - run.water_heat


@law
def film_pieces(length):
    """Number of pieces with a film of their own of a section of this length [m]."""
    return np.fmax(np.ceil(length / FILM_PIECE), 1.0)


@law
def mean_temperature(inlet, outlet, surroundings):
    """Mean gas temperature of a run between its two ends: Simpson's rule on the exponential, by its geometric mean."""
    first, last = inlet - surroundings, outlet - surroundings
    middle = np.copysign(np.sqrt(np.maximum(first * last, 0.0)), first)
    return surroundings + (first + last + 4.0 * middle) / 6.0


@law
def _first_outlet(pipe, gas, inlet, surroundings, warm, size):
    """About where gas leaves a section, by a film that is right within a third: only a first guess."""
    reynolds = _reynolds(size, pipe.diameter, 2.2e-5)  # flue gas at 120 degC, as is the conductivity
    film = (heat_loss.LAMINAR_NUSSELT + 0.021 * reynolds**0.8) * 0.033 / pipe.diameter + 2.5
    exchange = film / (1.0 + film * pipe.outside_resistance * warm) * pipe.surface / size
    return surroundings + (inlet - surroundings) * np.exp(-exchange / gas[HEAT_0])


@law
def _dry_run(pipe, gas, own, inlet, surroundings, warm, size, guess):
    """A run in which nothing condenses, piece after piece, each with the film of its own mean temperature.

    Outlet, cooling number, heat lost [J/kg], friction factor and the `_means`; the films of first and last piece.
    """
    pieces = int(film_pieces(pipe.length))
    excess = inlet - surroundings
    step = 1.0
    if pieces > 1:
        left = (guess - surroundings) / (excess if np.abs(excess) >= 1e-6 else 1.0)
        step = np.minimum(np.maximum(left, 1e-9), 1.0) ** (1.0 / pieces)
    begin, end = inlet, guess
    cooling = lost = darcy = mean = lightness = bulk = 0.0
    first = film = Film(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    for i in range(pieces):
        if pieces > 1:
            end = surroundings + (begin - surroundings) * step
        film = _film(pipe, gas, own, mean_temperature(begin, end, surroundings), surroundings, warm, size)
        exchange = film.inside * film.share * pipe.surface / size / pieces  # U pi D L / m [J/(kg K)]
        end, number = _dry_outlet(gas, begin, surroundings, exchange, end)
        means = _means(gas[GAS_R], begin, end, surroundings, number)
        cooling, lost, darcy = cooling + number, lost + exchange * (means[0] - surroundings), darcy + film.darcy
        mean, lightness, bulk = mean + means[0], lightness + means[1], bulk + means[2]
        if i == 0:
            first = film
        begin = end
    return (end, cooling, lost, darcy / pieces, mean / pieces, lightness / pieces, bulk / pieces), first, film


@law
def _dry_outlet(gas, inlet, surroundings, exchange, outlet):
    """Outlet temperature of a piece if nothing condenses, and its cooling number, from about where the outlet is.

    ``Tout = Ta + (Tin - Ta) exp(-exchange / c)`` with the mean specific heat c between the ends.
    """
    excess = inlet - surroundings
    for _ in range(2):  # the mean specific heat hardly changes with the outlet temperature
        cooling = exchange / streams.mean_specific_heat(gas, inlet, outlet)
        outlet = surroundings + excess * np.exp(-cooling)
    return outlet, cooling


@law
def _means(gas_constant, inlet, outlet, surroundings, cooling):
    """Means along a run of T, of 1/(R T) and of R T: for its heat, its draft and its loss."""
    brisk = cooling > 1e-6  # else the quotient of two vanishing numbers would lose its digits
    mean = either(brisk, surroundings + (inlet - outlet) / either(brisk, cooling, 1.0), 0.5 * (inlet + outlet))
    inverse = stack_effect.mean_inverse_temperature(inlet, outlet, surroundings, cooling)
    return mean, inverse / gas_constant, gas_constant * mean
