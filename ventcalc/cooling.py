"""Cooling: one section of a vent, from the end where gas enters it to the end where it leaves.

Temperatures, water, densities and the pressure that friction and fittings take, for given flows: what `common_vent`
asks of every section in every state. Plain SI arrays, one column a state.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc import friction, heat_loss, stack_effect, streams, wall_condensation
from ventcalc.condensing_run import Transfer, condensing_run
from ventcalc.network import Pipe
from ventcalc.streams import AIR_VISCOSITY, GAS_R, PRANDTL, STEAM, VAPOUR_CONSTANT, VISCOSITY, WATER

# A section that condenses is worked through in pieces along each of which a dry gas would cool by so much [K], and in
# no more of them than that: within 0.3 K, 1.3 % of the water and 0.3 Pa of draft in 20 m of far finer ones (see the
# tests).
WET_FALL = 8.0
MOST_PIECES = 12.0

STILL_FLOW = 1e-9  # kg/s; below it a section is stagnant: gas at the temperature of its surroundings


@dataclass
class Run:
    """What happens to the gas along one section, from the end where it enters to the end where it leaves."""

    outlet: np.ndarray
    mean: np.ndarray
    wall: np.ndarray  # the coldest
    cooling: np.ndarray
    excess: np.ndarray  # inlet above surroundings, K
    film_share: np.ndarray  # U / inside film
    film_power: np.ndarray  # of the flow in the inside film
    heat: np.ndarray  # W to the surroundings
    factor: np.ndarray  # f L / D + K
    density: np.ndarray  # mean of 1/T, for draft
    # What times flow squared over area squared is the momentum that passes, m3/kg: the volume of what is left of a
    # kilogram that entered, times the share that is left.
    volume_mean: np.ndarray
    volume_in: np.ndarray
    volume_out: np.ndarray
    drained: np.ndarray  # share of the stream that leaves it as water on the wall
    settled: np.ndarray  # share that reaches the wall; some of it may dry again
    frozen: np.ndarray  # share that settles as ice
    fog: np.ndarray  # share at the outlet
    water_heat: np.ndarray  # enthalpy of what drains, W
    loss: np.ndarray  # Pa, with the sign of the flow
    acceleration: np.ndarray  # Pa, upstream end less downstream end

    def overwrite(self, pick, run: "Run") -> None:
        """Put another run's values in the picked states; volumes change ends, since that gas runs backward."""
        run.volume_in, run.volume_out = run.volume_out, run.volume_in
        for name, values in vars(run).items():
            own = getattr(self, name).copy()
            own[pick] = values
            setattr(self, name, own)


def cool(pipe: Pipe, pressure, flow, inlet, gas, surroundings, warm, guess) -> Run:
    """Cooling and losses of one section; film and friction at the properties of the inlet."""
    size = np.maximum(np.abs(flow), STILL_FLOW)
    film, reynolds, nusselt, darcy = inside_film(pipe, gas, inlet, size)
    film_share = 1.0 / (1.0 + film * pipe.outside_resistance * warm)  # cold walls: the inside film alone
    exchange = film * film_share * pipe.surface / size  # U pi D L / m
    excess = inlet - surroundings
    outlet, cooling, guess = _dry_outlet(gas, inlet, surroundings, exchange, guess)
    mean, lightness, bulk = _means(gas[GAS_R], inlet, outlet, surroundings, cooling)
    coldest = np.minimum(inlet, outlet)
    wall = coldest - film_share * (coldest - surroundings)
    heat = exchange * size * (mean - surroundings)
    nothing = np.zeros(inlet.shape)
    drained = settled = frozen = fog_in = fog_out = water_heat = nothing
    wet = gas[WATER] > streams.held_at_wall(gas, np.minimum(wall, coldest), pressure)[0]
    wet &= size > STILL_FLOW  # what is stagnant has nothing to give
    if wet.any():
        pick = np.flatnonzero(wet)

        def of(values):
            return np.broadcast_to(values, inlet.shape)[pick]

        own, begin, around = gas[:, pick], inlet[pick], of(surroundings)
        transfer = _transfer(
            pipe, own, pressure, begin, outlet[pick], film[pick], nusselt[pick], size[pick], warm[pick], of
        )
        fall = np.abs(begin - outlet[pick])
        pieces = np.clip(fall / WET_FALL, 1.0, MOST_PIECES)
        against = of(pipe.rise) * flow[pick] > 0.0
        run = condensing_run(own, begin, around, pressure, transfer, cooling[pick], pieces, against)
        outlet, cooling, mean, lightness, bulk, wall, heat = (
            _with(pick, *pair)
            for pair in (
                (outlet, run.outlet),
                (cooling, run.cooling),
                (mean, run.temperature),
                (lightness, run.lightness),
                (bulk, run.bulk),
                (wall, run.wall),
                (heat, size[pick] * _heat_lost(own, begin, run)),
            )
        )
        drained, settled, frozen, fog_in, fog_out, water_heat = (
            _with(pick, nothing, values)
            for values in (
                run.settled - run.dried,
                run.settled,
                run.frozen,
                run.fog_in,
                run.fog_out,
                size[pick] * run.water_heat,
            )
        )
    local, left = pressure * pipe.thin_air, 1.0 - drained if wet.any() else 1.0
    volume_in = (gas[GAS_R] - fog_in * VAPOUR_CONSTANT) * inlet / local
    volume_out = left * (gas[GAS_R] - (fog_out + drained) * VAPOUR_CONSTANT) * outlet / local
    volume_mean = (0.5 + 0.5 * left) * bulk / local
    factor = darcy * pipe.length / pipe.diameter + pipe.fixed_loss
    head = flow * np.abs(flow) / (2.0 * pipe.area**2)
    return Run(
        outlet=outlet,
        mean=mean,
        wall=wall,
        cooling=cooling,
        excess=excess,
        film_share=film_share,
        film_power=_film_power(reynolds, nusselt),
        heat=heat,
        factor=factor,
        density=local * lightness,
        volume_mean=volume_mean,
        volume_in=volume_in,
        volume_out=volume_out,
        drained=drained,
        settled=settled,
        frozen=frozen,
        fog=fog_out,
        water_heat=water_heat,
        loss=factor * head * volume_mean,
        acceleration=head * (volume_out - volume_in),
    )


def _with(pick, values, other):
    """A copy of values with others in the picked states."""
    changed = values.copy()
    changed[pick] = other
    return changed


def _transfer(pipe: Pipe, gas, pressure, inlet, outlet, film, nusselt, size, warm, of) -> Transfer:
    """How the inside of a section passes on heat and water, at the mean of its ends."""
    middle = 0.5 * (inlet + outlet)
    conductivity, heat = streams.conductivity(gas, middle), streams.specific_heat(gas, middle)
    density = pressure / (gas[GAS_R] * middle)
    lewis = wall_condensation.lewis_number.bare(
        conductivity, density, heat, wall_condensation.vapour_diffusivity.bare(middle, pressure)
    )
    convection = nusselt * streams.conductivity(gas, inlet) / of(pipe.diameter)
    mean = streams.mean_specific_heat(gas, inlet, outlet)
    return Transfer(
        exchange=film * of(pipe.surface) / size,
        ratio=film * of(pipe.outside_resistance) * warm,
        settling=wall_condensation.mass_transfer_coefficient.bare(convection, mean, lewis) / film,
        convective=convection / film,
        heat=mean,
    )


def _heat_lost(gas, inlet, run):
    """Heat [J/kg] that a condensing run gives to its surroundings: what its enthalpies leave over."""
    before = streams.sensible(gas, inlet) - streams.LATENT * run.fog_in
    drained = run.settled - run.dried
    after = streams.sensible(gas, run.outlet) - drained * streams.sensible(STEAM, run.outlet)
    return before - (after - streams.LATENT * run.fog_out) - run.water_heat


def inside_film(pipe: Pipe, gas, temperature, size):
    """Inside film [W/(m2 K)] of a flow ``size`` [kg/s], with its Reynolds and Nusselt numbers and Darcy's factor."""
    v2, v1, v0 = AIR_VISCOSITY
    viscosity = gas[VISCOSITY] * (v0 + temperature * (v1 + temperature * v2))
    reynolds = friction.reynolds.bare(size, pipe.diameter, viscosity)
    darcy = friction.friction_factor.bare(reynolds, pipe.relative_roughness)
    prandtl = gas[PRANDTL] * np.sqrt(gas[PRANDTL])
    nusselt = heat_loss.nusselt_from_power(reynolds, prandtl, gas[PRANDTL], darcy)
    film = nusselt * viscosity * streams.specific_heat(gas, temperature) / (prandtl * pipe.diameter)
    return film, reynolds, nusselt, darcy


def _film_power(reynolds, nusselt):
    """Power of the flow in the inside film: 0.8 in turbulence, that of the straight line in the passage, 0 below."""
    above = np.maximum(reynolds - friction.LAMINAR_LIMIT, 1.0)
    passage = (1.0 - heat_loss.LAMINAR_NUSSELT / nusselt) * reynolds / above
    return np.where(reynolds > friction.TURBULENT_LIMIT, 0.8, passage)


def _dry_outlet(gas, inlet, surroundings, exchange, guess):
    """Outlet temperature of a run if nothing condenses, its cooling number, and the guess it began from.

    ``Tout = Ta + (Tin - Ta) exp(-exchange / c)`` with the mean specific heat c between the ends.
    """
    excess = inlet - surroundings
    if guess is None:
        guess = surroundings + excess * np.exp(-exchange / streams.specific_heat(gas, inlet))
    outlet = guess
    for _ in range(2):  # the mean specific heat hardly changes with the outlet temperature
        cooling = exchange / streams.mean_specific_heat(gas, inlet, outlet)
        outlet = surroundings + excess * np.exp(-cooling)
    return outlet, cooling, guess


def _means(gas_constant, inlet, outlet, surroundings, cooling):
    """Means along a run of T, of 1/(R T) and of R T: for its heat, its draft and its loss."""
    brisk = cooling > 1e-6  # else the quotient of two vanishing numbers would lose its digits
    mean = np.where(brisk, surroundings + (inlet - outlet) / np.where(brisk, cooling, 1.0), 0.5 * (inlet + outlet))
    inverse = stack_effect.mean_inverse_temperature(inlet, outlet, surroundings, cooling)
    return mean, inverse / gas_constant, gas_constant * mean
