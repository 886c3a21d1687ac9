"""Cooling: one section of a vent, from the end where gas enters it to the end where it leaves.

Temperatures, water, densities and the pressure that friction and fittings take, for given flows: what `common_vent`
asks of every section in every state. Plain SI arrays, one column a state.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc import friction, gas_radiation, heat_loss, stack_effect, streams, wall_condensation
from ventcalc.condensing_run import Transfer, condensing_run
from ventcalc.network import Pipe
from ventcalc.streams import AIR_VISCOSITY, GAS_R, HEAT_0, PRANDTL, STEAM, VAPOUR_CONSTANT, VISCOSITY, WATER

# A section that condenses is worked through in pieces along each of which a dry gas would cool by so much [K], and in
# no more of them than that: within 0.3 K, 1.3 % of the water and 0.3 Pa of draft in 20 m of far finer ones (see the
# tests).
WET_FALL = 8.0
MOST_PIECES = 12.0

# Length [m] of the pieces that have a film of their own: hot gas loses more at first than one exponential has it. A
# slow, wide, hot 20 m stack in one piece would have the outlet right and yet 1.3 Pa too much draft (see the tests).
FILM_PIECE = 10.0
_FILM_SETTLED = 2.0  # K; where an outlet comes nearer to its first guess than this, its film is right to 0.3 %

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
    pressed: np.ndarray | float = 1.0  # how much denser the section's own gauge pressure makes the gas

    def press(self, share) -> None:
        """Press the gas by its own gauge pressure, as a ``share`` of the barometric one: denser, and so slower."""
        self.pressed = denser = 1.0 + share
        self.density = self.density * denser
        for name in ("volume_mean", "volume_in", "volume_out", "loss", "acceleration"):
            setattr(self, name, getattr(self, name) / denser)

    def of(self, kind) -> "Run":
        """The run of every state, from those of each kind of state."""
        return Run(
            **{name: np.take(values, kind) if np.ndim(values) else values for name, values in vars(self).items()}
        )

    def overwrite(self, pick, run: "Run") -> None:
        """Put another run's values in the picked states; volumes change ends, since that gas runs backward."""
        run.volume_in, run.volume_out = run.volume_out, run.volume_in
        for name, values in vars(run).items():
            if name == "pressed":
                continue  # that comes once all runs are known
            own = getattr(self, name).copy()
            own[pick] = values
            setattr(self, name, own)


@dataclass
class Film:
    """What lies between the gas of a section, or of a piece of one, and its surroundings, at a mean ``temperature``."""

    temperature: np.ndarray
    inside: np.ndarray  # convection and radiation, W/(m2 K)
    share: np.ndarray  # U / inside film
    darcy: np.ndarray  # friction factor
    reynolds: np.ndarray
    nusselt: np.ndarray
    convection: np.ndarray  # W/(m2 K)

    def exchange(self, pipe: Pipe, size):
        """``U pi D L / m`` [J/(kg K)] of the whole section at a flow ``size`` [kg/s]."""
        return self.inside * self.share * pipe.surface / size

    @property
    def power(self):
        """Power of the flow in the inside film.

        In its convection 0.8 in turbulence, that of the straight line in the passage, 0 below; none in radiation.
        """
        above = np.maximum(self.reynolds - friction.LAMINAR_LIMIT, 1.0)
        passage = (1.0 - heat_loss.LAMINAR_NUSSELT / self.nusselt) * self.reynolds / above
        turbulent = self.reynolds > friction.TURBULENT_LIMIT
        return np.where(turbulent, 0.8, passage) * self.convection / self.inside


def cool(pipe: Pipe, pressure, flow, inlet, gas, surroundings, warm, guess) -> Run:
    """Cooling and losses of one section; film and friction at its mean gas temperature.

    ``guess`` is about where the outlet will be, such as the outlet of the turn before; None has it found first.
    """
    size = np.maximum(np.abs(flow), STILL_FLOW)
    excess = inlet - surroundings
    known = guess is not None
    if not known:
        guess = _first_outlet(pipe, gas, inlet, surroundings, warm, size)
    dry = _dry_run(pipe, pressure, gas, inlet, surroundings, warm, size, guess)
    outlet, cooling, lost, darcy, mean, lightness, bulk, first, film = dry
    coldest = np.minimum(inlet, outlet)
    wall = coldest - film.share * (coldest - surroundings)
    heat = size * lost
    nothing = np.zeros(inlet.shape)
    drained = settled = frozen = fog_in = fog_out = water_heat = nothing
    wet = gas[WATER] > streams.held_at_wall(gas, np.minimum(wall, coldest), pressure)[0]
    wet &= size > STILL_FLOW  # what is stagnant has nothing to give
    if wet.any():
        pick = np.flatnonzero(wet)

        def of(values):
            return np.broadcast_to(values, inlet.shape)[pick]

        own = np.broadcast_to(gas, (len(gas), *inlet.shape))[:, pick]
        begin, around = inlet[pick], of(surroundings)
        if first is film:  # a single piece: how its film grows with temperature is seen at its inlet
            first = inside_film(pipe, pressure, gas, inlet, surroundings, warm, size)
        transfer = _transfer(pipe, own, pressure, begin, outlet[pick], (first, film), size[pick], warm, of)
        pieces = np.clip(np.abs(begin - outlet[pick]) / WET_FALL, 1.0, MOST_PIECES)
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
    if not known and np.max(np.abs(outlet - guess), initial=0.0) > _FILM_SETTLED:
        return cool(pipe, pressure, flow, inlet, gas, surroundings, warm, outlet)
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
        film_share=film.share,
        film_power=film.power,
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


def _transfer(pipe: Pipe, gas, pressure, inlet, outlet, films, size, warm, of) -> Transfer:
    """How the inside of a section passes on heat and water, by a film that is a straight line in temperature.

    Between the ``films`` of its first and its last piece; ``of`` picks the states. The rest is that of the mean of its
    ends.
    """
    middle = 0.5 * (inlet + outlet)
    conductivity, heat = streams.conductivity(gas, middle), streams.specific_heat(gas, middle)
    density = pressure / (gas[GAS_R] * middle)
    lewis = wall_condensation.lewis_number.bare(
        conductivity, density, heat, wall_condensation.vapour_diffusivity.bare(middle, pressure)
    )
    first, last = films
    near, inside, convection = of(last.temperature), of(last.inside), of(last.convection)
    apart = of(first.temperature) - near
    per_kelvin = apart / (apart * apart + 1.0)  # 1 / apart, but nought where the two agree
    mean = streams.mean_specific_heat(gas, inlet, outlet)
    return Transfer(
        exchange=inside * of(pipe.surface) / size,
        ratio=inside * of(pipe.outside_resistance * warm),
        settling=wall_condensation.mass_transfer_coefficient.bare(convection, mean, lewis) / inside,
        convective=convection / inside,
        heat=mean,
        near=near,
        film_slope=(of(first.inside) / inside - 1.0) * per_kelvin,
        convection_slope=(of(first.convection) / convection - 1.0) * per_kelvin,
    )


def _heat_lost(gas, inlet, run):
    """Heat [J/kg] that a condensing run gives to its surroundings: what its enthalpies leave over."""
    before = streams.sensible(gas, inlet) - streams.LATENT * run.fog_in
    drained = run.settled - run.dried
    after = streams.sensible(gas, run.outlet) - drained * streams.sensible(STEAM, run.outlet)
    return before - (after - streams.LATENT * run.fog_out) - run.water_heat


def inside_film(pipe: Pipe, pressure, gas, temperature, surroundings, warm, size) -> Film:
    """Film of a flow ``size`` [kg/s] of gas at its mean temperature [K] in a section or a piece of one.

    Convection, and the radiation of the gas to a wall as warm as both make it (to 3 K).
    """
    v2, v1, v0 = AIR_VISCOSITY
    viscosity = gas[VISCOSITY] * (v0 + temperature * (v1 + temperature * v2))
    reynolds = friction.reynolds.bare(size, pipe.diameter, viscosity)
    darcy = friction.friction_factor.bare(reynolds, pipe.relative_roughness)
    turbulent = np.where(reynolds > friction.TURBULENT_LIMIT, darcy, pipe.limit_factor)
    prandtl = gas[PRANDTL] * np.sqrt(gas[PRANDTL])
    nusselt = heat_loss.nusselt_from_power(reynolds, prandtl, gas[PRANDTL], turbulent)
    convection = nusselt * viscosity * streams.specific_heat(gas, temperature) / (prandtl * pipe.diameter)

    h2o, co2 = streams.partial_pressures(gas, pressure * pipe.thin_air)
    outside = pipe.outside_resistance * warm  # cold walls: the inside film alone
    radiation = gas_radiation.grey() * gas_radiation.black_film(h2o, co2, temperature, pipe.diameter)
    # That is for a wall as warm as the gas; a colder one gets less, nearly as the cube of the mean of both.
    share = 1.0 / (1.0 + (convection + radiation) * outside)
    middle = 1.0 - 0.5 * share * (1.0 - surroundings / temperature)
    film = convection + radiation * middle * middle * middle
    return Film(temperature, film, 1.0 / (1.0 + film * outside), darcy, reynolds, nusselt, convection)


def film_pieces(length):
    """Number of pieces with a film of their own of a section of this length [m]."""
    return np.maximum(np.ceil(np.nan_to_num(length) / FILM_PIECE), 1.0)


def mean_temperature(inlet, outlet, surroundings):
    """Mean gas temperature of a run between its two ends: Simpson's rule on the exponential, by its geometric mean."""
    first, last = inlet - surroundings, outlet - surroundings
    middle = np.copysign(np.sqrt(np.maximum(first * last, 0.0)), first)
    return surroundings + (first + last + 4.0 * middle) / 6.0


def _first_outlet(pipe: Pipe, gas, inlet, surroundings, warm, size):
    """About where gas leaves a section, by a film that is right within a third: only a first guess."""
    reynolds = friction.reynolds.bare(size, pipe.diameter, 2.2e-5)  # flue gas at 120 degC, as is the conductivity
    film = (heat_loss.LAMINAR_NUSSELT + 0.021 * reynolds**0.8) * 0.033 / pipe.diameter + 2.5
    exchange = film / (1.0 + film * pipe.outside_resistance * warm) * pipe.surface / size
    return surroundings + (inlet - surroundings) * np.exp(-exchange / gas[HEAT_0])


def _dry_run(pipe: Pipe, pressure, gas, inlet, surroundings, warm, size, guess):
    """A run in which nothing condenses, piece after piece, each with the film of its own mean temperature.

    Outlet, cooling number, heat lost [J/kg], friction factor, the `_means`, and the films of first and last piece.
    """
    pieces = int(np.max(film_pieces(pipe.length)))
    excess = inlet - surroundings
    begin, end, totals = inlet, guess, ()
    if pieces > 1:
        left = (guess - surroundings) / np.where(np.abs(excess) < 1e-6, 1.0, excess)
        step = np.clip(left, 1e-9, 1.0) ** (1.0 / pieces)
    for _ in range(pieces):
        if pieces > 1:
            end = surroundings + (begin - surroundings) * step
        film = inside_film(pipe, pressure, gas, mean_temperature(begin, end, surroundings), surroundings, warm, size)
        exchange = film.exchange(pipe, size) / pieces
        end, cooling = _dry_outlet(gas, begin, surroundings, exchange, end)
        mean, lightness, bulk = _means(gas[GAS_R], begin, end, surroundings, cooling)
        lost = exchange * (mean - surroundings)
        means = film.darcy, mean, lightness, bulk
        piece = cooling, lost, *(means if pieces == 1 else (m / pieces for m in means))
        if begin is inlet:
            first, totals = film, piece
        else:
            totals = tuple(a + b for a, b in zip(totals, piece, strict=True))
        begin = end
    return end, *totals, first, film


def _dry_outlet(gas, inlet, surroundings, exchange, outlet):
    """Outlet temperature of a piece if nothing condenses, and its cooling number, from about where the outlet is.

    ``Tout = Ta + (Tin - Ta) exp(-exchange / c)`` with the mean specific heat c between the ends.
    """
    excess = inlet - surroundings
    for _ in range(2):  # the mean specific heat hardly changes with the outlet temperature
        cooling = exchange / streams.mean_specific_heat(gas, inlet, outlet)
        outlet = surroundings + excess * np.exp(-cooling)
    return outlet, cooling


def _means(gas_constant, inlet, outlet, surroundings, cooling):
    """Means along a run of T, of 1/(R T) and of R T: for its heat, its draft and its loss."""
    brisk = cooling > 1e-6  # else the quotient of two vanishing numbers would lose its digits
    mean = np.where(brisk, surroundings + (inlet - outlet) / np.where(brisk, cooling, 1.0), 0.5 * (inlet + outlet))
    inverse = stack_effect.mean_inverse_temperature(inlet, outlet, surroundings, cooling)
    return mean, inverse / gas_constant, gas_constant * mean
