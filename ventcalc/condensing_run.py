"""Condensing run: a section whose wall lies below the dew point, worked through piece by piece from its inlet.

In every piece the bulk nears the wall in temperature by its film and in vapour by the analogy of heat and mass
transfer (`wall_condensation`), and the wall takes the temperature at which what reaches it leaves to the outside:

    h A (T - Tw) + m'' L(Tw) = (Tw - Ta) / R,    m'' = rho beta ln((1 - w_wall)/(1 - w_bulk))

Water that reaches the wall leaves the stream; where the bulk itself falls below its dew point, fog forms in it in
equilibrium and stays. Plain SI arrays, one column a state; amounts are per kilogram of the stream that enters.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc import atmosphere, stack_effect, streams
from ventcalc.streams import GAS_R, LATENT, STEAM, STEAM_HEAT, VAPOUR_CONSTANT, WATER

_WALL_STEPS = 2  # of Newton's method on the wall, begun from where it was half a piece before
WET_SHARE = 1.0 / 3.0  # of the rate at which a dry gas cools: about that of one that condenses
FOG_BAND = 3e-4  # kg/kg
# K; no nearer does a step take the bulk to its surroundings: there the rates are quotients of two vanishing numbers,
# and a dry wall's in their place made the outlet jump by up to 0.6 K.
LEAST_EXCESS = 1e-3
LEAST_FILM = 0.3  # share of a film to which a straight line in temperature may take it
_COLDEST = 200.0  # K; a trial colder than that holds no vapour worth counting
_FIRST_STEPS = 5  # on the first wall of a run
# Dew point [K] as a cubic in the logarithm of the vapour's pressure, within 1 K: where to begin.
_POINTS = np.linspace(240.0, 370.0, 66)
_DEW_POINT = np.polyfit(np.log(atmosphere.saturation_pressure.bare(_POINTS)), _POINTS, 3).tolist()
_TRACE = 1e-9  # kg/kg; a stream without any water has no dew point


@dataclass(frozen=True)
class Transfer:
    """How the inside of a section passes on heat and water, one value a state, where the gas is ``near`` [K].

    ``exchange`` [J/(kg K)]: inside film times surface over flow, of the whole section. ``ratio``: inside film over the
    conductance from the wall to the surroundings, 0 for a wall held at their temperature. ``settling``
    [kg K/J]: `wall_condensation.mass_transfer_coefficient` over the film. ``convective``: share of the film, without
    what the gas radiates. ``heat`` [J/(kg K)]: mean specific heat of the stream as it enters. ``film_slope`` and
    ``convection_slope`` [1/K]: how much film and convection grow with the temperature of the gas.
    """

    exchange: np.ndarray
    ratio: np.ndarray
    settling: np.ndarray
    convective: np.ndarray
    heat: np.ndarray
    near: np.ndarray | float = 0.0
    film_slope: np.ndarray | float = 0.0
    convection_slope: np.ndarray | float = 0.0

    def at(self, temperature) -> "Transfer":
        """The same where the gas has another temperature."""
        above = temperature - self.near
        film = np.maximum(1.0 + self.film_slope * above, LEAST_FILM)
        share = np.maximum(1.0 + self.convection_slope * above, LEAST_FILM) / film
        local = self.exchange * film, self.ratio * film, self.settling * share, self.convective * share
        return Transfer(*local, self.heat)


@dataclass
class WetRun:
    """What a condensing run comes to; water [kg] and heat [J] per kilogram of stream that enters.

    ``outlet`` [K]; ``cooling`` number; mean ``temperature`` [K], ``lightness`` (mean of mass over ``p`` times volume,
    for draft) and ``bulk`` (of R T per kg that entered, for loss); ``fog_in`` and ``fog_out``; ``settled`` on the wall,
    of it ``dried`` again on its way down, and ``frozen`` where it settled below 0 degC; ``water_heat`` enthalpy of
    what drains; coldest ``wall`` [K].
    """

    outlet: np.ndarray
    cooling: np.ndarray
    temperature: np.ndarray
    lightness: np.ndarray
    bulk: np.ndarray
    fog_in: np.ndarray
    fog_out: np.ndarray
    settled: np.ndarray
    dried: np.ndarray
    frozen: np.ndarray
    water_heat: np.ndarray
    wall: np.ndarray


def _to_wall(moved):
    """Ackermann's factor of the heat that reaches the wall, less 1: ``x / (1 - exp(-x)) - 1`` to x^2."""
    return moved * (0.5 + moved / 12.0)


@dataclass
class _Here:
    """Bulk and wall at one place of the run: rates per run length."""

    temperature: np.ndarray
    lost: np.ndarray
    wall: np.ndarray
    fog: np.ndarray
    heat: np.ndarray  # J/kg that the film takes from the bulk
    water: np.ndarray  # kg/kg that settle
    cooling: np.ndarray  # at which the excess over the surroundings falls
    drying: np.ndarray  # at which the water above saturation there falls
    capacity: np.ndarray


def condensing_run(gas, inlet, surroundings, pressure, transfer: Transfer, dry_cooling, pieces, against) -> WetRun:
    """Work a run through in so many ``pieces`` (array): exponentials with the rates of the middle of each.

    The number need not be whole: the last piece is then shorter, so that nothing jumps where one more is taken.

    The pieces grow along the run, so that a gas that cools at a third of the rate ``dry_cooling`` of a dry one would
    fall by as much in each.
    ``against``: where the gas runs up and the water back down to warmer wall. What dries there is worked out
    afterwards at the temperatures found (`_dry_again`).
    """
    march = _March(gas, surroundings, pressure, transfer)
    here = march.start(inlet)
    first, settled, sums = here, [], np.zeros((3, inlet.size))
    cooling, frozen, water_heat = 0.0, 0.0, 0.0
    along, graded = 0.0, WET_SHARE * dry_cooling
    whole, brisk = -np.expm1(-graded), graded > 1e-6
    for i in range(int(np.ceil(pieces.max()))):
        share = np.minimum((i + 1) / pieces, 1.0)  # a shorter run has come to its end before
        inside = brisk & (share < 1.0)
        end = np.where(inside, -np.log1p(-np.where(inside, share * whole, 0.0)) / np.where(brisk, graded, 1.0), share)
        dx, along = end - along, end
        middle = march.step(here, here, 0.5 * dx)
        there = march.step(here, middle, dx)
        water = there.lost - here.lost
        ice = streams.ice_share(middle.wall)
        sums += dx * march.means(here, there)
        cooling = cooling + middle.cooling * dx
        frozen = frozen + water * ice
        water_heat = water_heat + water * march.liquid_heat(middle.wall)
        settled.append((dx, middle, water, water * (1.0 - ice)))
        here = there
    dried, dried_heat = march.dry_again(settled, against)
    left = here.lost - dried
    return WetRun(
        outlet=here.temperature,
        cooling=np.maximum(cooling, 0.0),  # of a bulk as warm as its surroundings the rate means nothing
        temperature=sums[0],
        lightness=sums[1],
        bulk=sums[2],
        fog_in=first.fog,
        fog_out=np.maximum(gas[WATER] - left - streams.water_held(gas, here.temperature, pressure), 0.0),
        settled=here.lost,
        dried=dried,
        frozen=frozen,
        water_heat=water_heat - dried_heat,
        wall=np.minimum(first.wall, here.wall),
    )


class _March:
    """The laws of one run: rates at a place, and the step from one place to the next."""

    def __init__(self, gas, surroundings, pressure, transfer: Transfer):
        self.gas, self.surroundings, self.pressure, self.transfer = gas, surroundings, pressure, transfer
        self.water, self.dry = gas[WATER], 1.0 - gas[WATER]
        self.held_outside, _ = streams.held_at_wall(gas, surroundings, pressure)

    def start(self, inlet) -> _Here:
        """The inlet; Newton's method on its wall begins at the dew point, from where it cannot overshoot."""
        vapour = np.minimum(self.water, streams.water_held(self.gas, inlet, self.pressure))
        moles = self.gas[GAS_R] / VAPOUR_CONSTANT - self.water + vapour
        log = np.log(np.maximum(vapour, _TRACE) / moles * self.pressure)
        a, b, c, d = _DEW_POINT
        return self.at(inlet, np.zeros_like(inlet), d + log * (c + log * (b + log * a)), _FIRST_STEPS)

    def at(self, temperature, lost, wall, steps=_WALL_STEPS) -> _Here:
        """Rates where the bulk has this temperature and has lost so much water; ``wall`` is where to begin."""
        transfer, water = self.transfer.at(temperature), self.water - lost
        held = streams.water_held(self.gas, temperature, self.pressure)
        vapour = np.minimum(water, held)
        foggy = water > held
        wall, log, heat_share = self.wall(transfer, temperature, vapour, wall, steps)
        excess = temperature - self.surroundings
        # Where bulk and surroundings agree, so does the wall: what is left of the quotient is that of a dry wall.
        still = np.abs(excess) < 1e-9
        fall = np.where(still, 1.0 / (1.0 + transfer.ratio), (temperature - wall) / np.where(still, 1.0, excess))
        conductance = transfer.exchange * heat_share * fall
        settling = transfer.exchange * transfer.settling * log
        capacity = transfer.heat - lost * STEAM_HEAT
        beyond = water - self.held_outside
        drying = np.where(settling > 0.0, settling / np.where(beyond > 0.0, beyond, 1.0), 0.0)
        cooling = conductance / capacity
        if foggy.any():
            # Fog makes up for the vapour that settles, and frees its heat as the bulk cools: fully from a trace of fog
            # on, so that the rate does not jump.
            wet = capacity + LATENT * streams.water_held_slope(temperature, self.pressure, held)
            lively = conductance + LATENT * settling / np.where(still, 1.0, excess)
            share = np.minimum((water - vapour) / FOG_BAND, 1.0)
            cooling = cooling + share * (np.where(still, conductance, lively) / wet - cooling)
        return _Here(temperature, lost, wall, water - vapour, conductance, settling, cooling, drying, capacity)

    def wall(self, transfer, temperature, vapour, wall, steps, wetted=False):
        """Wall temperature by Newton's method, ln((1 - ww)/(1 - wb)) there, and Ackermann's factor of the bulk's heat.

        ``wall`` is where to begin: at the balance of a moment before, 0 where that was dry. A wall is dry where the
        logarithm would be negative, unless it is ``wetted``. More heat reaches the wall than leaves the bulk: between
        them stands what the vapour gives up on its way.
        """
        scale = transfer.settling
        ackermann = STEAM_HEAT * scale / transfer.convective  # m'' cp of vapour over h, by the logarithm
        total = self.dry + vapour
        dry = (self.surroundings + transfer.ratio * temperature) / (1.0 + transfer.ratio)
        begin = wall = np.maximum(wall, dry) if not wetted else wall
        for turn in range(steps):
            held, slope = streams.held_at_wall(self.gas, wall, self.pressure)
            room = self.dry + held
            log, log_slope = np.log(total / room), -slope / room
            if turn == 0:
                bare = (begin <= dry) & (log <= 0.0) & (not wetted)
            latent, latent_slope = streams.latent_at_wall(wall)
            share = 1.0 + transfer.convective * _to_wall(ackermann * log)
            heat = share * (temperature - wall) + scale * latent * log  # over the film
            heat_slope = -share + scale * (latent * log_slope + latent_slope * log)
            change = (wall - self.surroundings - transfer.ratio * heat) / (1.0 - transfer.ratio * heat_slope)
            wall = wall - change
        log = log - log_slope * change  # the last step is so short that a straight line is exact
        if not wetted:
            # Of the two balances the warmer holds: water that would dry is not there.
            wall = np.where(bare, dry, np.maximum(wall, dry))
            log = np.where(bare, 0.0, np.maximum(log, 0.0))
        moved = ackermann * log
        return wall, log, 1.0 + transfer.convective * (_to_wall(moved) - moved)

    def step(self, start: _Here, rates: _Here, dx) -> _Here:
        """The place ``dx`` further on by the rates of another place, each driving force falling exponentially."""
        excess = start.temperature - self.surroundings
        water = self.water - start.lost
        lost = start.lost - np.maximum(water - self.held_outside, 0.0) * np.expm1(-rates.drying * dx)
        number = np.maximum(rates.cooling * dx, 0.0)
        brisk = number > 1e-12
        length = np.where(brisk, -np.expm1(-number) / np.where(brisk, rates.cooling, 1.0), dx)
        heat = rates.heat * excess * length  # J/kg from the bulk
        temperature = self._bulk(start, lost, heat)
        return self.at(temperature, lost, np.where(rates.water > 0.0, rates.wall, 0.0))

    def _bulk(self, start: _Here, lost, heat):
        """Temperature of the bulk after it has given up heat, with fog in equilibrium."""
        capacity = start.capacity - (lost - start.lost) * STEAM_HEAT
        found = start.temperature - (heat + LATENT * start.fog) / capacity  # if no fog is left
        edge = self.surroundings + np.clip(start.temperature - self.surroundings, -LEAST_EXCESS, LEAST_EXCESS)
        low, high = np.minimum(start.temperature, edge), np.maximum(start.temperature, edge)
        water = self.water - lost
        foggy = water > streams.water_held(self.gas, np.maximum(found, _COLDEST), self.pressure)
        if foggy.any():
            pick = np.flatnonzero(foggy)
            found[pick] = self._foggy(pick, found[pick], start.temperature[pick], capacity[pick], water[pick])
        return np.clip(found, low, high)

    def _foggy(self, pick, clear, found, capacity, water):
        """Newton's method on a bulk known to hold fog: what it would be if clear, plus the heat of its fog."""
        gas = self.gas[:, pick]
        for _ in range(30):  # convex in temperature: it cannot cycle
            held = streams.water_held(gas, found, self.pressure)
            slope = capacity + LATENT * streams.water_held_slope(found, self.pressure, held)
            change = (capacity * (found - clear) - LATENT * (water - held)) / slope
            found = found - change
            if np.max(np.abs(change)) < 1e-7:
                break
        return found

    def means(self, here: _Here, there: _Here):
        """Means along a piece of T, of mass over p times volume, and of R T per kg that entered the run."""
        begin, end = here.temperature - self.surroundings, there.temperature - self.surroundings
        number = np.log(np.maximum(np.abs(begin), 1e-9) / np.maximum(np.abs(end), 1e-9))
        brisk = number > 1e-6
        quotient = (here.temperature - there.temperature) / np.where(brisk, number, 1.0)
        mean = np.where(brisk, self.surroundings + quotient, 0.5 * (here.temperature + there.temperature))
        inverse = stack_effect.mean_inverse_temperature(here.temperature, there.temperature, self.surroundings, number)
        lost = 0.5 * (here.lost + there.lost)
        constant = self.gas[GAS_R] - (lost + 0.5 * (here.fog + there.fog)) * VAPOUR_CONSTANT
        return np.array([mean, (1.0 - lost) * inverse / constant, constant * mean])

    def liquid_heat(self, wall):
        """Enthalpy [J/kg] of water on the wall, on the scale of `streams.sensible`: ice below 0 degC."""
        return streams.sensible(STEAM, wall) - streams.latent_at_wall(wall)[0]

    def dry_again(self, settled, against):
        """Water that dries where it runs back to warmer wall, and its enthalpy there: from the outlet to the inlet.

        Bookkeeping at the temperatures found: the wetted wall there balances what dries with the heat that reaches
        it, but gas and vapour do not follow. What dries is added to the stream where it leaves; the heat so left out
        is at most the latent heat of that water.
        """
        film = dried = heat = np.zeros_like(self.water)
        for dx, middle, water, liquid in reversed(settled):
            film = film + np.where(against, liquid, 0.0)
            bare = (film > 0.0) & (water <= 0.0) & (dx > 0.0)
            if not bare.any():
                continue
            vapour = self.water - middle.lost - middle.fog
            transfer = self.transfer.at(middle.temperature)
            wall, log, _ = self.wall(transfer, middle.temperature, vapour, middle.wall, _FIRST_STEPS, wetted=True)
            most = -dx * transfer.exchange * transfer.settling * np.minimum(log, 0.0)
            here = np.where(bare, np.minimum(film, most), 0.0)
            film, dried, heat = film - here, dried + here, heat + here * self.liquid_heat(wall)
        return np.minimum(dried, sum(water for _, _, water, _ in settled)), heat
