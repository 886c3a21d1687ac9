"""Condensing run: a section whose wall lies below the dew point, worked through piece by piece from its inlet.

In every piece the bulk nears the wall in temperature by its film and in vapor by the analogy of heat and mass
transfer (`wall_condensation`), and the wall takes the temperature at which what reaches it leaves to the outside:

    h A (T - Tw) + m'' L(Tw) = (Tw - Ta) / R,    m'' = rho beta ln((1 - w_wall)/(1 - w_bulk))

Water that reaches the wall leaves the stream; where the bulk itself falls below its dew point, fog forms in it in
equilibrium and stays. Plain SI; amounts are per kilogram of the stream that enters. The laws stand for one state at a
time and are compiled (`compiled`).
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import law, loop
from ventcalc.flow import stack_effect
from ventcalc.gas import atmosphere, streams
from ventcalc.gas.streams import GAS_R, LATENT, STEAM, STEAM_HEAT, VAPOUR_CONSTANT, WATER

_NEAR_WALL = 0.03  # K; what is left after a step so short is about a fortieth of its square
_WALL_STEPS = 2  # of Newton's method on the wall, begun from where it was half a piece before
WET_SHARE = 1.0 / 3.0  # of the rate at which a dry gas cools: about that of one that condenses
FOG_BAND = 3e-4  # kg/kg
# K; no nearer does a step take the bulk to its surroundings: there the rates are quotients of two vanishing numbers,
# and a dry wall's in their place made the outlet jump by up to 0.6 K.
LEAST_EXCESS = 1e-3
LEAST_FILM = 0.3  # share of a film to which a straight line in temperature may take it
_FIRST_STEPS = 5  # on the first wall of a run
# Dew point [K] as a cubic in the logarithm of the vapor's pressure, within 1 K: where to begin.
_POINTS = np.linspace(240.0, 370.0, 66)
_DEW_POINT = tuple(np.polyfit(np.log(atmosphere.saturation_pressure.bare(_POINTS)), _POINTS, 3).tolist())
PIECE = 7  # numbers that are noted of a piece of a run
_TRACE = 1e-9  # kg/kg; a stream without any water has no dew point


class Transfer(NamedTuple):
    """How the inside of a section passes on heat and water where the gas is ``near`` [K].

    ``exchange`` [J/(kg K)]: inside film times surface over flow, of the whole section. ``ratio``: inside film over the
    conductance from the wall to the surroundings, 0 for a wall held at their temperature. ``settling``
    [kg K/J]: `wall_condensation.mass_transfer_coefficient` over the film. ``convective``: share of the film, without
    what the gas radiates. ``heat`` [J/(kg K)]: mean specific heat of the stream as it enters. ``film_slope`` and
    ``convection_slope`` [1/K]: how much film and convection grow with the temperature of the gas.
    """

    exchange: float
    ratio: float
    settling: float
    convective: float
    heat: float
    near: float = 0.0
    film_slope: float = 0.0
    convection_slope: float = 0.0


@law
def _transfer_at(transfer, temperature):
    """The same where the gas has another temperature."""
    above = temperature - transfer.near
    film = np.maximum(1.0 + transfer.film_slope * above, LEAST_FILM)
    share = np.maximum(1.0 + transfer.convection_slope * above, LEAST_FILM) / film
    local = transfer.exchange * film, transfer.ratio * film, transfer.settling * share, transfer.convective * share
    return Transfer(local[0], local[1], local[2], local[3], transfer.heat, temperature, 0.0, 0.0)


class WetRun(NamedTuple):
    """What a condensing run comes to; water [kg] and heat [J] per kilogram of stream that enters.

    ``outlet`` [K]; ``cooling`` number; mean ``temperature`` [K], ``lightness`` (mean of mass over ``p`` times volume,
    for draft) and ``bulk`` (of R T per kg that entered, for loss); ``fog_in`` and ``fog_out``; ``settled`` on the wall,
    of it ``dried`` again on its way down, and ``frozen`` where it settled below 0 degC; ``water_heat`` enthalpy of
    what drains; coldest ``wall`` [K].
    """

    outlet: float
    cooling: float
    temperature: float
    lightness: float
    bulk: float
    fog_in: float
    fog_out: float
    settled: float
    dried: float
    frozen: float
    water_heat: float
    wall: float


def condensing_run(gas, inlet, surroundings, pressure, transfer: Transfer, dry_cooling, pieces, against) -> WetRun:
    """`run_through` of many states at once: arrays with one value a state, ``gas`` with one column a state."""
    inputs = np.array(np.broadcast_arrays(inlet, surroundings, dry_cooling, pieces, against, *transfer), float)
    columns = np.ascontiguousarray(np.broadcast_to(gas, (len(gas), inputs.shape[1])).T)
    found = np.empty((len(WetRun._fields), inputs.shape[1]))
    _run_all(columns, float(pressure), inputs, np.empty((int(np.ceil(np.max(pieces))), PIECE)), found)
    return WetRun(*found)


@loop
def _run_all(gas, pressure, inputs, passed, found):
    for k in range(gas.shape[0]):
        inlet, surroundings, dry_cooling, pieces, against, a, b, c, d, e, f, g, h = inputs[:, k]
        transfer = Transfer(a, b, c, d, e, f, g, h)
        run = run_through(gas[k], inlet, surroundings, pressure, transfer, dry_cooling, pieces, against > 0.0, passed)
        for row in range(found.shape[0]):
            found[row, k] = run[row]


class _Here(NamedTuple):
    """Bulk and wall at one place of the run: rates per run length."""

    temperature: float
    lost: float
    wall: float
    fog: float
    heat: float  # J/kg that the film takes from the bulk
    water: float  # kg/kg that settle
    cooling: float  # at which the excess over the surroundings falls
    drying: float  # at which the water above saturation there falls
    capacity: float


class _March(NamedTuple):
    """What stays the same along a run; ``held_outside``: the vapor that is saturated at the surroundings."""

    gas: np.ndarray
    surroundings: float
    pressure: float
    transfer: Transfer
    held_outside: float


@law
def _to_wall(moved):
    """Ackermann's factor of the heat that reaches the wall, less 1: ``x / (1 - exp(-x)) - 1`` to x^2."""
    return moved * (0.5 + moved / 12.0)


@law
def run_through(gas, inlet, surroundings, pressure, transfer, dry_cooling, pieces, against, passed):
    """Work a run through in so many ``pieces``: exponentials with the rates of the middle of each.

    The number need not be whole: the last piece is then shorter, so that nothing jumps where one more is taken.

    The pieces grow along the run, so that a gas that cools at a third of the rate ``dry_cooling`` of a dry one would
    fall by as much in each.
    ``against``: where the gas runs up and the water back down to warmer wall. What dries there is worked out
    afterwards at the temperatures found (`_dry_again`); ``passed`` (pieces, `PIECE`) is room to note them.
    """
    march = _March(gas, surroundings, pressure, transfer, streams.held_at_wall(gas, surroundings, pressure)[0])
    first = here = _start(march, inlet)
    count = int(np.ceil(pieces))
    cooling = frozen = water_heat = along = temperature = lightness = bulk = 0.0
    graded = WET_SHARE * dry_cooling
    whole, brisk = -np.expm1(-graded), graded > 1e-6
    for i in range(count):
        end = np.minimum((i + 1) / pieces, 1.0)
        if brisk and end < 1.0:
            end = -np.log1p(-end * whole) / graded
        dx, along = end - along, end
        middle = _step(march, here, here, 0.5 * dx, here.wall)
        there = _step(march, here, middle, dx, 2.0 * middle.wall - here.wall)
        water = there.lost - here.lost
        ice = streams.ice_share(middle.wall)
        means = _means(march, here, there)
        temperature, lightness, bulk = (
            temperature + dx * means[0],
            lightness + dx * means[1],
            bulk + dx * means[2],
        )
        cooling += middle.cooling * dx
        frozen += water * ice
        water_heat += water * _liquid_heat(middle.wall)
        piece = passed[i]
        piece[0], piece[1], piece[2] = dx, water, water * (1.0 - ice)
        piece[3], piece[4], piece[5], piece[6] = middle.temperature, middle.lost, middle.fog, middle.wall
        here = there
    dried, dried_heat = _dry_again(march, passed, count) if against else (0.0, 0.0)
    left = gas[WATER] - (here.lost - dried)
    return WetRun(
        here.temperature,
        np.maximum(cooling, 0.0),  # of a bulk as warm as its surroundings the rate means nothing
        temperature,
        lightness,
        bulk,
        first.fog,
        np.maximum(left - streams.water_held(gas, here.temperature, pressure), 0.0),
        here.lost,
        dried,
        frozen,
        water_heat - dried_heat,
        np.minimum(first.wall, here.wall),
    )


@law
def _start(march, inlet):
    """The inlet; Newton's method on its wall begins at the dew point, from where it cannot overshoot."""
    water = march.gas[WATER]
    vapor = np.minimum(water, streams.water_held(march.gas, inlet, march.pressure))
    moles = march.gas[GAS_R] / VAPOUR_CONSTANT - water + vapor
    log = np.log(np.maximum(vapor, _TRACE) / moles * march.pressure)
    a, b, c, d = _DEW_POINT
    return _at(march, inlet, 0.0, d + log * (c + log * (b + log * a)), _FIRST_STEPS)


@law
def _at(march, temperature, lost, begin, steps):
    """Rates where the bulk has this temperature and has lost so much water; ``begin`` is where to look for its wall."""
    transfer, water = _transfer_at(march.transfer, temperature), march.gas[WATER] - lost
    held = streams.water_held(march.gas, temperature, march.pressure)
    vapor = np.minimum(water, held)
    wall, log, heat_share = _wall(march, transfer, temperature, vapor, begin, steps, False)
    excess = temperature - march.surroundings
    # Where bulk and surroundings agree, so does the wall: what is left of the quotient is that of a dry wall.
    still = np.abs(excess) < 1e-9
    fall = 1.0 / (1.0 + transfer.ratio) if still else (temperature - wall) / excess
    conductance = transfer.exchange * heat_share * fall
    settling = transfer.exchange * transfer.settling * log
    capacity = transfer.heat - lost * STEAM_HEAT
    beyond = water - march.held_outside
    drying = settling / (beyond if beyond > 0.0 else 1.0) if settling > 0.0 else 0.0
    cooling = conductance / capacity
    if water > held:
        # Fog makes up for the vapor that settles, and frees its heat as the bulk cools: fully from a trace of fog
        # on, so that the rate does not jump.
        wet = capacity + LATENT * streams.water_held_slope(temperature, march.pressure, held)
        lively = conductance if still else conductance + LATENT * settling / excess
        share = np.minimum((water - vapor) / FOG_BAND, 1.0)
        cooling = cooling + share * (lively / wet - cooling)
    return _Here(temperature, lost, wall, water - vapor, conductance, settling, cooling, drying, capacity)


@law
def _wall(march, transfer, temperature, vapor, begin, steps, wetted):
    """Wall temperature by Newton's method, ln((1 - ww)/(1 - wb)) there, and Ackermann's factor of the bulk's heat.

    ``begin`` is the balance of a moment before, 0 where that was dry. A wall is dry where the
    logarithm would be negative, unless it is ``wetted``. More heat reaches the wall than leaves the bulk: between
    them stands what the vapor gives up on its way.
    """
    gas, surroundings, scale, ratio = march.gas, march.surroundings, transfer.settling, transfer.ratio
    ackermann = STEAM_HEAT * scale / transfer.convective  # m'' cp of vapor over h, by the logarithm
    without = 1.0 - gas[WATER]
    total = without + vapor
    dry = (surroundings + ratio * temperature) / (1.0 + ratio)
    wall = begin if wetted else np.maximum(begin, dry)
    log = log_slope = change = 0.0
    for turn in range(steps):
        held, slope = streams.held_at_wall(gas, wall, march.pressure)
        room = without + held
        log, log_slope = np.log(total / room), -slope / room
        if turn == 0 and not wetted and wall <= dry and log <= 0.0:
            return dry, 0.0, 1.0
        latent, latent_slope = streams.latent_at_wall(wall)
        share = 1.0 + transfer.convective * _to_wall(ackermann * log)
        heat = share * (temperature - wall) + scale * latent * log  # over the film
        heat_slope = -share + scale * (latent * log_slope + latent_slope * log)
        change = (wall - surroundings - ratio * heat) / (1.0 - ratio * heat_slope)
        wall = wall - change
        if np.abs(change) < _NEAR_WALL:
            break
    log = log - log_slope * change  # the last step is so short that a straight line is exact
    if not wetted:
        # Of the two balances the warmer holds: water that would dry is not there.
        wall, log = np.maximum(wall, dry), np.maximum(log, 0.0)
    moved = ackermann * log
    return wall, log, 1.0 + transfer.convective * (_to_wall(moved) - moved)


@law
def _step(march, start, rates, dx, wall):
    """The place ``dx`` further on by the rates of another place, each driving force falling exponentially.

    Its ``wall`` is about there where it is wet.
    """
    excess = start.temperature - march.surroundings
    water = march.gas[WATER] - start.lost
    lost = start.lost - np.maximum(water - march.held_outside, 0.0) * np.expm1(-rates.drying * dx)
    number = np.maximum(rates.cooling * dx, 0.0)
    length = -np.expm1(-number) / rates.cooling if number > 1e-12 else dx
    heat = rates.heat * excess * length  # J/kg from the bulk
    return _at(march, _bulk(march, start, lost, heat), lost, wall if rates.water > 0.0 else 0.0, _WALL_STEPS)


@law
def _bulk(march, start, lost, heat):
    """Temperature of the bulk after it has given up heat, with fog in equilibrium."""
    around = march.surroundings
    capacity = start.capacity - (lost - start.lost) * STEAM_HEAT
    found = start.temperature - (heat + LATENT * start.fog) / capacity  # if no fog is left
    edge = around + np.minimum(np.maximum(start.temperature - around, -LEAST_EXCESS), LEAST_EXCESS)
    water = march.gas[WATER] - lost
    if water > streams.water_held(march.gas, found, march.pressure):
        found = _foggy(march, found, start.temperature, capacity, water)
    return np.minimum(np.maximum(found, np.minimum(start.temperature, edge)), np.maximum(start.temperature, edge))


@law
def _foggy(march, clear, found, capacity, water):
    """Newton's method on a bulk known to hold fog: what it would be if clear, plus the heat of its fog."""
    for _ in range(30):  # convex in temperature: it cannot cycle
        held = streams.water_held(march.gas, found, march.pressure)
        slope = capacity + LATENT * streams.water_held_slope(found, march.pressure, held)
        change = (capacity * (found - clear) - LATENT * (water - held)) / slope
        found = found - change
        if np.abs(change) < streams.NEAR:
            break
    return found


@law
def _means(march, here, there):
    """Means along a piece of T, of mass over p times volume, and of R T per kg that entered the run."""
    begin, end = here.temperature - march.surroundings, there.temperature - march.surroundings
    number = np.log(np.maximum(np.abs(begin), 1e-9) / np.maximum(np.abs(end), 1e-9))
    mean = 0.5 * (here.temperature + there.temperature)
    if number > 1e-6:
        mean = march.surroundings + (here.temperature - there.temperature) / number
    inverse = stack_effect.mean_inverse_temperature(here.temperature, there.temperature, march.surroundings, number)
    lost = 0.5 * (here.lost + there.lost)
    constant = march.gas[GAS_R] - (lost + 0.5 * (here.fog + there.fog)) * VAPOUR_CONSTANT
    return mean, (1.0 - lost) * inverse / constant, constant * mean


@law
def _liquid_heat(wall):
    """Enthalpy [J/kg] of water on the wall, on the scale of `streams.sensible`: ice below 0 degC."""
    return streams.sensible(STEAM, wall) - streams.latent_at_wall(wall)[0]


@law
def _dry_again(march, passed, count):
    """Water that dries where it runs back to warmer wall, and its enthalpy there: from the outlet to the inlet.

    Bookkeeping at the temperatures found: the wetted wall there balances what dries with the heat that reaches
    it, but gas and vapor do not follow. What dries is added to the stream where it leaves; the heat so left out
    is at most the latent heat of that water.
    """
    film = dried = heat = settled = 0.0
    for i in range(count - 1, -1, -1):
        dx, water, liquid, temperature, lost, fog, wall = passed[i]
        film += liquid
        settled += water
        if film <= 0.0 or water > 0.0 or dx <= 0.0:
            continue
        vapor = march.gas[WATER] - lost - fog
        transfer = _transfer_at(march.transfer, temperature)
        wall, log, _ = _wall(march, transfer, temperature, vapor, wall, _FIRST_STEPS, True)
        here = np.minimum(film, -dx * transfer.exchange * transfer.settling * np.minimum(log, 0.0))
        film, dried, heat = film - here, dried + here, heat + here * _liquid_heat(wall)
    return np.minimum(dried, settled), heat
