"""One state of a common vent in plain floats: the same laws as `ventcalc.common_vent`, coded a second time.

Nothing is shared with the solver but the tables of what appliances and air bring (`network.compile_network`) and
the constants that are assumptions, not methods. The tree is walked by its own recursion, Colebrook's
equation, the cooling of wet gas and the mixing of foggy streams are solved to rounding, and the flows drawn from the
room are left to `scipy.optimize.root`.
"""

import math

import numpy as np
from scipy.optimize import brentq, root

from ventcalc.flow import fittings, gas_radiation
from ventcalc.gas import condensation
from ventcalc.gas.streams import AIR_VISCOSITY, STEAM, STEAM_HEAT, latent_at_wall
from ventcalc.vent.condensing_run import FOG_BAND, LEAST_EXCESS, LEAST_FILM, WET_SHARE
from ventcalc.vent.cooling import FILM_PIECE, MOST_PIECES, WET_FALL
from ventcalc.vent.network import compile_network

G = 9.80665
WATER_CONSTANT = 8.314462618 / (2 * 0.001008 + 0.015999)  # J/(kg K) of water vapor
CO2_CONSTANT = 8.314462618 / (0.012011 + 2 * 0.015999)  # J/(kg K) of carbon dioxide
LATENT = float(condensation.latent_heat.bare(323.15))  # one value for all temperatures, as the solver assumes
STILL, TRACE = 1e-9, 1e-15  # kg/s: a stagnant section, and what keeps the mix of two stagnant ones defined
CAP_ENTRY = 0.5  # outdoor air that falls into the vent
FILMS = {"room": 8.0, "outdoors": 23.0}  # W/(m2 K), EN 13384-1 (from memory)
REGULATOR_LEAK, REGULATOR_BAND, SMOOTH = 0.02, 0.2, 1e-4
ANGLES = {"straight tee": (90.0, 0.0), "boot tee": (90.0, 0.25), "lateral": (45.0, 0.0)}  # degree, r/D

# IAPWS SR1-86(1992), equation 1, which holds over supercooled water too as far as vents need it.
_IAPWS = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)


def saturation(kelvin, pressure):
    """Saturation pressure of water, kept below the boiling point as in the solver."""
    tau = 1.0 - kelvin / 647.096
    return min(22.064e6 * math.exp(647.096 / kelvin * sum(a * tau**n for a, n in _IAPWS)), 0.99 * pressure)


# IAPWS R14-08(2011), equation 6: ice.
_ICE = ((-21.2144006, 0.333333333e-2), (27.3203819, 1.20666667), (-6.10598130, 1.70333333))


def frozen(kelvin, pressure):
    """Saturation pressure over what lies on a wall: ice below the triple point."""
    if kelvin >= 273.16:
        return saturation(kelvin, pressure)
    theta = kelvin / 273.16
    return 611.657 * math.exp(sum(a * theta**b for a, b in _ICE) / theta)


class Gas:
    """A stream's properties, which all mix by mass."""

    def __init__(self, values):
        self.values = [float(v) for v in values]
        self.r, self.c0, self.c1, self.c2, self.water, self.thickness, self.prandtl_two_thirds, self.co2 = self.values

    def mixed_with(self, other, share):
        pairs = zip(self.values, other.values, strict=True)
        return Gas(share * a + (1.0 - share) * b for a, b in pairs)

    def heat(self, t):
        return self.c0 + self.c1 * t + self.c2 * t * t

    def sensible(self, t):
        return self.c0 * t + self.c1 * t * t / 2 + self.c2 * t**3 / 3

    def held(self, p, pressure):
        """Vapor per kilogram of the stream when its pressure is p."""
        return (self.r / WATER_CONSTANT - self.water) * p / (pressure - p)

    def fog(self, t, pressure):
        return max(self.water - self.held(saturation(t, pressure), pressure), 0.0)

    def viscosity(self, t):
        a2, a1, a0 = AIR_VISCOSITY
        return self.thickness * (a0 + a1 * t + a2 * t**2)

    def without(self, water):
        """What is left when so much of its water has gone, per kilogram of what is left."""
        return Gas((v - water * s) / (1.0 - water) for v, s in zip(self.values, STEAM, strict=True))

    def enthalpy(self, t, pressure):
        return self.sensible(t) - LATENT * self.fog(t, pressure)


def mix(one, other, pressure):
    """Two streams (flow, temperature, gas) that mix: temperature by bisection on the enthalpy."""
    (m1, t1, g1), (m2, t2, g2) = one, other
    share = (m1 + TRACE) / (m1 + m2 + 2 * TRACE)
    gas = g1.mixed_with(g2, share)
    wanted = share * g1.enthalpy(t1, pressure) + (1.0 - share) * g2.enthalpy(t2, pressure)
    low, high = min(t1, t2) - 30.0, max(t1, t2) + 30.0  # fog that forms or vanishes may lead outside the two
    return brentq(lambda t: gas.enthalpy(t, pressure) - wanted, low, high, xtol=1e-11), gas


def colebrook(re, eps):
    x = 8.0
    for _ in range(60):
        x = -2.0 * math.log10(eps / 3.7 + 2.51 * x / re)
    return 1.0 / x**2


def friction(re, eps):
    if re <= 2300.0:
        return 64.0 / max(re, 1.0)
    if re >= 4000.0:
        return colebrook(re, eps)
    s = (re - 2300.0) / 1700.0
    s = 3.0 * s**2 - 2.0 * s**3
    return s * colebrook(re, eps) + (1.0 - s) * 64.0 / re


def nusselt(re, two_thirds, eps):
    """Gnielinski for the smooth pipe, Norris for what roughness adds; a straight line in the passage."""
    if re <= 2300.0:
        return 3.66
    at, pr = max(re, 4000.0), two_thirds**1.5
    smooth = (1.8 * math.log10(at) - 1.5) ** -2
    turbulent = smooth / 8 * (at - 1000.0) * pr / (1.0 + 12.7 * math.sqrt(smooth / 8) * (two_thirds - 1.0))
    turbulent *= min(max(colebrook(at, eps) / smooth, 1.0), 4.0) ** (0.68 * pr**0.215)
    return 3.66 + (turbulent - 3.66) * min((re - 2300.0) / 1700.0, 1.0)


def black_radiation(gas, kelvin, pressure, diameter):
    """The solver's fit to Leckner's gas radiation (its coefficients are tested elsewhere), term by term."""
    t, h2o, co2 = kelvin / 1000.0, gas.water * WATER_CONSTANT / gas.r, gas.co2 * CO2_CONSTANT / gas.r
    x, y = (math.log(max(share * pressure * 0.95 * diameter / 1000.0, 1e-3)) for share in (h2o, co2))
    *a, own = gas_radiation._FIT_H2O
    wet = math.exp(sum(a[2 * i + j] * x**i * t**j for i in range(3) for j in range(2)) + own * h2o * pressure / 1e5)
    b = gas_radiation._FIT_CO2
    dry = math.exp(sum(b[3 * i + j] * y**i * t**j for i in range(3) for j in range(3)))
    return 4.0 * 5.670374419e-8 * kelvin**3 * (wet + dry - gas_radiation._FIT_BOTH * wet * dry)


class Film:
    """Inside film at a mean gas temperature, friction factor, and U of the wall."""

    def __init__(self, piece, size, kelvin, gas, around, cold, pressure):
        a2, a1, a0 = AIR_VISCOSITY
        viscosity = gas.thickness * (a0 + a1 * kelvin + a2 * kelvin**2)
        re, eps = 4.0 * size / (math.pi * piece.diameter * viscosity), piece.roughness / piece.diameter
        self.friction = friction(re, eps)
        conductivity = viscosity * gas.heat(kelvin) / gas.prandtl_two_thirds**1.5
        convection = nusselt(re, gas.prandtl_two_thirds, eps) * conductivity / piece.diameter
        black = black_radiation(gas, kelvin, pressure * piece.thin_air, piece.diameter)
        behind = 0.0 if cold else piece.outside_resistance
        # The wall with the gas's full radiation, then radiation at the mean of gas and wall.
        wall = kelvin - (kelvin - around) / (1.0 + (convection + 0.9 * black) * behind)
        inside = convection + 0.9 * black * (0.5 * (kelvin + wall) / kelvin) ** 3
        self.kelvin, self.inside, self.convection = kelvin, inside, convection
        self.u = 1.0 / (1.0 / inside + behind)


def mean_temperature(inlet, outlet, around):
    """Simpson's rule on an exponential between its ends."""
    first, last = inlet - around, outlet - around
    return around + (first + last + 4.0 * math.copysign(math.sqrt(max(first * last, 0.0)), first)) / 6.0


class Run:
    """Gas that cools along a section, from the end where it enters to the end where it leaves."""

    def __init__(self, piece, flow, inlet, gas, around, cold, pressure):
        size = max(abs(flow), STILL)
        self.inlet, self.gas, self.around, self.pressure, self.pressed = inlet, gas, around, pressure, 1.0
        resistance = 0.0 if cold else piece.outside_resistance
        outlet, count = inlet, max(1, math.ceil(piece.length / FILM_PIECE))
        for _ in range(60):  # film and friction are those of the mean temperature, which is known when the outlet is
            # Piece by piece, each with its film; where the pieces end is first taken from one exponential.
            left = (outlet - around) / (inlet - around) if inlet != around else 1.0
            step = min(max(left, 1e-9), 1.0) ** (1.0 / count)
            legs, films, exchanges, begin = [], [], [], inlet
            for _ in range(count):
                end = around + (begin - around) * step if count > 1 else outlet
                films.append(Film(piece, size, mean_temperature(begin, end, around), gas, around, cold, pressure))
                exchanges.append(films[-1].u * math.pi * piece.diameter * piece.length / size / count)
                legs.append(Leg(exchanges[-1], begin, gas, around, 1.0 / count))
                begin = legs[-1].outlet
            self.exchange, film = sum(exchanges), films[-1]
            self.lost, self.dried, self.water_heat = 0.0, 0.0, 0.0
            coldest = min(inlet, begin)
            self.wall = around + film.inside * resistance / (1.0 + film.inside * resistance) * (coldest - around)
            most = gas.held(frozen(min(self.wall, coldest), pressure), pressure)
            if gas.water > most and size > STILL:
                first = films[0] if count > 1 else Film(piece, size, inlet, gas, around, cold, pressure)
                surface = math.pi * piece.diameter * piece.length / size
                legs = March(self, (first, film), surface, resistance, begin).run(flow * piece.rise > 0.0)
            before, outlet = outlet, legs[-1].outlet
            if abs(outlet - before) < 1e-9:
                break
        f = sum(film.friction for film in films) / count
        self.outlet = legs[-1].outlet
        left = 1.0 - self.lost + self.dried
        self.leaving = gas.without(1.0 - left)
        before, after = gas.enthalpy(inlet, pressure), left * self.leaving.enthalpy(self.outlet, pressure)
        self.heat, self.left = size * (before - after - self.water_heat), left
        local = pressure * piece.thin_air
        self.volume_in = inlet * (gas.r - gas.fog(inlet, pressure) * WATER_CONSTANT) / local
        out = self.leaving.r - self.leaving.fog(self.outlet, pressure) * WATER_CONSTANT
        self.volume_out = left**2 * self.outlet * out / local  # what times the square of the entering flow is momentum
        self.volume = 0.5 * (1.0 + left) * sum(g.share * g.r * g.mean for g in legs) / local
        self.density = sum(g.share * g.left * g.mean_inverse / g.r for g in legs) * local
        signed_square = flow * abs(flow) / piece.area**2
        self.loss = (f * piece.length / piece.diameter + piece.loss) * signed_square * self.volume / 2.0
        self.acceleration = signed_square * (self.volume_out - self.volume_in) / 2.0

    def press(self, denser):
        """Make the gas that much denser, once."""
        self.pressed = denser
        self.density *= denser
        for name in ("volume_in", "volume_out", "volume", "loss", "acceleration"):
            setattr(self, name, getattr(self, name) / denser)


class March:
    """A run on a wall below the dew point: exponential steps by the rates half way, the wall by bisection."""

    def __init__(self, run, films, surface, resistance, dry_outlet):
        self.of, self.gas, self.around, self.pressure = run, run.gas, run.around, run.pressure
        self.inlet, self.films, self.surface, self.resistance = run.inlet, films, surface, resistance
        gas, middle = run.gas, 0.5 * (run.inlet + dry_outlet)
        self.fall = abs(run.inlet - dry_outlet)
        self.c = gas.c0 + gas.c1 * middle + gas.c2 * (run.inlet**2 + run.inlet * dry_outlet + dry_outlet**2) / 3.0
        # Chilton and Colburn: (Pr / Sc)^(2/3); Marrero and Mason's diffusivity times density needs no pressure.
        diffusion = 1.87e-10 * middle**2.072 * 101325.0 / (gas.r * middle)
        self.analogy = (diffusion / gas.viscosity(middle)) ** (2.0 / 3.0) * gas.prandtl_two_thirds
        self.dry_gas = 1.0 - gas.water

    def at(self, t):
        """Film and convection on a straight line through those of the first and the last piece."""
        first, last = self.films
        apart = first.kelvin - last.kelvin
        inside, convection = (
            b * max(1.0 + (a / b - 1.0) * apart / (apart * apart + 1.0) * (t - last.kelvin), LEAST_FILM)
            for a, b in ((first.inside, last.inside), (first.convection, last.convection))
        )
        self.exchange, self.ratio, self.convective = (
            self.surface * inside,
            self.resistance * inside,
            convection / inside,
        )

    def balance(self, t, vapor, wall):
        """Film number of what the wall keeps, and ln((1 - ww)/(1 - wb))."""
        log = math.log(
            (self.dry_gas + vapor) / (self.dry_gas + self.gas.held(frozen(wall, self.pressure), self.pressure))
        )
        x = self.analogy * STEAM_HEAT / self.c * log
        ackermann = 1.0 + self.convective * ((x / -math.expm1(-x) if abs(x) > 1e-9 else 1.0) - 1.0)
        latent = float(latent_at_wall(np.array(wall))[0])
        settling = self.convective * self.analogy / self.c * log
        return wall - self.around - self.ratio * (ackermann * (t - wall) + latent * settling), log, x

    def rates(self, t, lost, wetted=False):
        """Wall; heat and water that leave the bulk, over the whole run; the fog in it."""
        self.at(t)
        fog = max(self.gas.water - lost - self.gas.held(saturation(t, self.pressure), self.pressure), 0.0)
        vapor = self.gas.water - lost - fog
        wall = (self.around + self.ratio * t) / (1.0 + self.ratio)
        _, log, x = self.balance(t, vapor, wall)
        if log > 0.0 or wetted:
            ends = (wall - 1e-9, max(t, self.around) + 1e-6) if log > 0.0 else (200.0, wall + 1e-9)
            if self.ratio > 0.0:
                wall = brentq(lambda w: self.balance(t, vapor, w)[0], *ends, xtol=1e-10)
            _, log, x = self.balance(t, vapor, wall)
        if not wetted:
            log, x = max(log, 0.0), max(x, 0.0)
        share = 1.0 + self.convective * ((x / math.expm1(x) if abs(x) > 1e-9 else 1.0) - 1.0)
        water = self.exchange * self.convective * self.analogy / self.c * log
        return wall, self.exchange * share * (t - wall), water, fog

    def step(self, t, lost, where, dx):
        """Bulk temperature and water lost ``dx`` further on, by the rates at the place ``where``."""
        wall, heat, water, fog = self.rates(*where)
        excess = where[0] - self.around
        capacity = self.c - where[1] * STEAM_HEAT
        still = abs(excess) < 1e-9
        per_kelvin = self.exchange / (1.0 + self.ratio) if still else heat / excess
        rate = per_kelvin / capacity
        if fog > 0.0:
            a, b = (self.gas.held(saturation(where[0] + d, self.pressure), self.pressure) for d in (-1e-3, 1e-3))
            foggy = per_kelvin + (0.0 if still else LATENT * water / excess)
            foggy /= capacity + LATENT * (b - a) / 2e-3
            rate += min(fog / FOG_BAND, 1.0) * (foggy - rate)
        beyond = self.gas.held(frozen(self.around, self.pressure), self.pressure)
        drying = water / (self.gas.water - where[1] - beyond) if water > 0.0 else 0.0
        after = lost + max(self.gas.water - lost - beyond, 0.0) * -math.expm1(-drying * dx)
        given = per_kelvin * (t - self.around) * (-math.expm1(-rate * dx) / rate if rate * dx > 1e-12 else dx)
        return self._bulk(t, lost, after, given), after, rate, wall

    def _bulk(self, t, lost, after, given):
        def fog(kelvin, gone):
            return max(self.gas.water - gone - self.gas.held(saturation(kelvin, self.pressure), self.pressure), 0.0)

        left, start = self.c - after * STEAM_HEAT, (self.c - lost * STEAM_HEAT) * t - LATENT * fog(t, lost)
        wanted = start - given - (after - lost) * STEAM_HEAT * t
        found = brentq(lambda k: left * k - LATENT * fog(k, after) - wanted, 150.0, min(t + 60.0, 640.0), xtol=1e-10)
        edge = self.around + min(max(t - self.around, -LEAST_EXCESS), LEAST_EXCESS)
        return min(max(found, min(t, edge)), max(t, edge))

    def run(self, against):
        """The legs from inlet to outlet; what is lost, dries again and drains is left in the run this belongs to."""
        pieces = min(max(self.fall / WET_FALL, 1.0), MOST_PIECES)
        graded = WET_SHARE * self.of_dry_number()
        t, lost, along, legs, settled = self.inlet, 0.0, 0.0, [], []
        self.of.wall = self.rates(t, lost)[0]
        for i in range(math.ceil(pieces)):
            part = min((i + 1) / pieces, 1.0)
            end = -math.log(1.0 + part * math.expm1(-graded)) / graded if graded > 1e-6 and part < 1.0 else part
            dx, along = end - along, end
            middle = self.step(t, lost, (t, lost), 0.5 * dx)[:2]
            after, gone, *_ = self.step(t, lost, middle, dx)
            wall = self.rates(*middle)[0]
            ice = min(max(273.16 - wall, 0.0), 1.0)
            self.of.water_heat += (gone - lost) * self._liquid(wall)
            settled.append((dx, middle, gone - lost, (gone - lost) * (1.0 - ice)))
            legs.append(WetLeg(self, (t, lost), (after, gone), dx))
            t, lost = after, gone
        self.of.lost, self.of.wall = lost, min(self.of.wall, self.rates(t, lost)[0])
        film = 0.0
        for dx, middle, water, liquid in reversed(settled):
            film += liquid if against else 0.0
            if film > 0.0 and water <= 0.0:
                wall, _, most, _ = self.rates(*middle, wetted=True)
                dries = min(film, max(-most * dx, 0.0))
                film, self.of.dried = film - dries, self.of.dried + dries
                self.of.water_heat -= dries * self._liquid(wall)
        return legs

    def of_dry_number(self):
        return self.of.exchange / self.c

    def _liquid(self, wall):
        steam = Gas(STEAM)
        return steam.sensible(wall) - float(latent_at_wall(np.array(wall))[0])


class WetLeg:
    """A piece of a wet run: its means as of an exponential between its ends."""

    def __init__(self, march, start, end, share):
        (one, lost), (other, gone) = start, end
        self.outlet, self.share, around = other, share, march.around
        number = math.log(max(abs(one - around), 1e-9) / max(abs(other - around), 1e-9))
        self.mean, self.mean_inverse = 0.5 * (one + other), 2.0 / (one + other)
        if number > 1e-6:
            self.mean = around + (one - other) / number
            self.mean_inverse = (1.0 + math.log(other / one) / number) / around
        fogs = (max(march.gas.water - w - march.gas.held(saturation(t, march.pressure), march.pressure), 0.0)
                for t, w in (start, end))  # fmt: skip
        self.left = 1.0 - 0.5 * (lost + gone)
        self.r = march.gas.r - (0.5 * (lost + gone) + 0.5 * sum(fogs)) * WATER_CONSTANT


class Leg:
    """A dry run: the exponential of its own mean specific heat."""

    left = 1.0

    def __init__(self, exchange, inlet, gas, around, share):
        self.exchange, self.inlet, self.gas, self.around, self.share = exchange, inlet, gas, around, share
        self.outlet = self._outlet()
        number = self._number(self.outlet)
        if number > 1e-6:
            self.mean = around + (inlet - self.outlet) / number
            self.mean_inverse = (1.0 + math.log(self.outlet / inlet) / number) / around
        else:
            self.mean, self.mean_inverse = 0.5 * (inlet + self.outlet), 2.0 / (inlet + self.outlet)
        self.r = gas.r

    def _number(self, outlet):
        if abs(self.inlet - outlet) < 1e-7:
            return self.exchange / self.gas.heat(self.inlet)
        return self.exchange * (self.inlet - outlet) / (self.gas.sensible(self.inlet) - self.gas.sensible(outlet))

    def _outlet(self):
        excess = self.inlet - self.around
        if abs(excess) < 1e-7:
            return self.around
        return brentq(
            lambda t: t - self.around - excess * math.exp(-self._number(t)), self.around, self.inlet, xtol=1e-11
        )


class Piece:
    """A section's geometry and fixed losses, read anew from the drawing."""

    def __init__(self, plant, section):
        self.name, self.rise = section.name, section.rise.m_as("m")
        self.length, self.diameter = section.length.m_as("m"), section.diameter.m_as("m")
        self.area = math.pi * self.diameter**2 / 4.0
        self.roughness = section.material.roughness.m_as("m")
        wall = section.material.wall_resistance.m_as("m**2*K/W")
        self.outside_resistance = wall + 1.0 / (
            section.material.diameter_ratio * FILMS.get(section.place, FILMS["room"])
        )
        self.outdoors, self.place = section.place == "outdoors", section.place
        self.feed = plant.feeds.index(section.name) if section.name in plant.feeds else None
        self.children = [s.name for s in plant.sections if s.into == section.name]
        self.parent = None if section.into in [t.name for t in plant.terminations] else section.into
        self.loss = sum(fittings.fitting(f).loss for f in section.fittings)
        if self.feed is not None:
            self.loss += self._step(plant.appliances[self.feed].outlet_diameter.m_as("m"), self.diameter)
            self.bottom = plant.appliances[self.feed].outlet_height.m_as("m")
        if self.parent is not None:
            following = plant.section(self.parent).diameter.m_as("m")
            if section.junction is None or self.diameter > following:
                self.loss += self._step(self.diameter, following)
        else:
            cap = fittings.fitting(next(t.cap for t in plant.terminations if t.name == section.into))
            self.cap, self.wind = cap.loss, cap.wind
        branches = [plant.section(c) for c in self.children if plant.section(c).junction]
        self.form = branches[0].junction if branches else None
        self.branch = branches[0].name if branches else None
        if branches:
            self.area_ratio = min(1.0, branches[0].diameter.m_as("m") / self.diameter) ** 2

    def _step(self, before, after):
        """Crane's change of size at 60 degrees, moved from the smaller end's velocity head to this section's."""
        beta2 = (min(before, after) / max(before, after)) ** 2
        k = (1.0 - beta2) ** 2 if after > before else 0.5 * math.sqrt(math.sin(math.radians(30.0))) * (1.0 - beta2)
        return k * (self.diameter / min(before, after)) ** 4


def place_heights(pieces):
    """Give each piece the ratio of the pressure at its middle to that at the floor (15 degC, still air)."""

    def bottom(piece):
        if piece.feed is None:
            # The run's height counts where two ways to one point differ by what a tape measure does.
            child = next((pieces[c] for c in piece.children if c != piece.branch), pieces[piece.children[0]])
            piece.bottom = bottom(child) + child.rise
        return piece.bottom

    for piece in pieces.values():
        middle = bottom(piece) + piece.rise / 2.0
        piece.thin_air = math.exp(-G * middle / (287.05 * 288.15))


def junction_falls(form, a, branch, run, volumes):
    """Fall of total pressure from branch and run to the combined stream, times ``2 A_combined^2``.

    With unequal ``volumes`` (branch, run, combined) the formula for one density is corrected by the momentum that each
    leg brings: a squared term less its share 1 of the combined stream's momentum goes with the leg's own volume.
    """
    v_branch, v_run, v = volumes
    if form == "opposed tee":
        branch_terms = run_terms = (1 + 1 / a**2, 1 + 1 / a**2, 2 * (1 + 1 / a**2) - 3 / a**2)
    else:
        angle, rounding = ANGLES[form]
        cosine, root_r = math.cos(math.radians(angle)), math.sqrt(rounding)
        own = -((1.2 - root_r) * (cosine / a - 1) + 0.8 * (1 - 1 / a**2) - (1 / a - 1) * cosine)
        branch_terms = (own, -0.92, 2.0 - a)  # of branch^2, run^2, branch * run
        run_terms = (-(1 + (1.62 - root_r) * (cosine / a - 1) - 0.38 * (1 - a)), 0.03, 2.0 - a)
    if branch >= 0.0 and run >= 0.0:
        total = branch + run
        q = branch / total if total > 0.0 else 0.0
        one_density = (v * total**2 * (t[0] * q**2 + t[1] * (1 - q) ** 2 + t[2] * q * (1 - q))
                       for t in (branch_terms, run_terms))  # fmt: skip
        return tuple(
            fall + (t[0] - 1) * (v_branch - v) * branch**2 + (t[1] - 1) * (v_run - v) * run**2
            for fall, t in zip(one_density, (branch_terms, run_terms), strict=True)
        )
    # A leg that runs backward keeps the sign of its own square and does nothing to the other leg.
    forward = max(branch, 0.0) * max(run, 0.0)
    b, s = branch * abs(branch), run * abs(run)

    def squares(t, b, s):
        return (v + (t[0] - 1) * v_branch) * b + (v + (t[1] - 1) * v_run) * s + t[2] * v * forward

    return squares(branch_terms, b, max(s, 0.0)), squares(run_terms, max(b, 0.0), s)


class Vent:
    """A plant whose states can be worked out one at a time."""

    def __init__(self, plant, seasons):
        self.plant, self.seasons = plant, seasons
        self.network = compile_network(plant, seasons)  # for its tables
        self.pieces = {s.name: Piece(plant, s) for s in plant.sections}
        place_heights(self.pieces)

    def state(self, codes, season, cold=False, windy=False, wind=None, room=None, added=None):
        """``wind``: coefficients (terminal, room) that stand in for the cap's own and none on the room. ``room``: its
        pressure [Pa] in place of the season's; ``added`` [Pa]: by devices at the lower ends of sections, by name."""
        found = State(self, [int(c) for c in codes], int(season), bool(cold), bool(windy), wind, room)
        found.added = added or {}
        return found


class State:
    """One state: what every appliance does, in one season; `at` gives the vent for given drawn flows."""

    def __init__(self, vent, codes, season, cold, windy, wind, room=None):
        network = vent.network
        self.vent, self.cold, self.wind = vent, cold, wind
        self.pressure = network.pressure
        self.outdoor, self.air = float(network.outdoor[season]), Gas(network.outdoor_gas[:, season])
        self.outdoor_density = self.pressure / (self.air.r * self.outdoor)
        weather = vent.seasons[season]
        self.wind_head = 0.5 * self.outdoor_density * weather.wind.m_as("m/s") ** 2 if windy else 0.0
        blown = wind[1] * self.wind_head if wind else 0.0
        self.kelvin = {"room": weather.room.m_as("K")} | {p.name: p.temperature.m_as("K") for p in weather.places}
        gauge = {"room": weather.room_pressure.m_as("Pa")} | {p.name: p.pressure.m_as("Pa") for p in weather.places}
        if room is not None:
            gauge["room"], blown = room, 0.0  # the pressure given has the wind in it
        opening = {"room": vent.plant.opening_height.m_as("m")}
        opening |= {p.name: (p.opening_height or vent.plant.opening_height).m_as("m") for p in vent.plant.places}
        order = ["room", *(p.name for p in vent.plant.places)]
        self.inside = {name: Gas(network.place_gas[:, k, season]) for k, name in enumerate(order)}
        self.rooms = [a.room for a in vent.plant.appliances]
        self.room_gauge = []
        for a in vent.plant.appliances:
            lighter = self.outdoor_density - self.pressure / (self.inside[a.room].r * self.kelvin[a.room])
            lift = G * lighter * (a.outlet_height.m_as("m") - opening[a.room])
            self.room_gauge.append(gauge[a.room] + lift + blown)
        picked = list(enumerate(codes))
        self.prescribed = [float(network.prescribed[i][season, c]) for i, c in picked]
        self.temperature = [float(network.temperature[i][season, c]) for i, c in picked]
        self.gas = [Gas(network.gas[i][:, season, c]) for i, c in picked]
        self.resistance = [float(network.resistance[i][season, c]) for i, c in picked]
        self.free = [i for i, r in enumerate(self.resistance) if math.isfinite(r)]

    def at(self, drawn):
        """The vent when these flows (one an appliance) are drawn from the room."""
        return Flowing(self, drawn)

    def residual(self, free_drawn):
        """Mismatch [Pa] at every way in from the room, for the flows drawn through them [kg/s]."""
        drawn = self.spread(free_drawn)
        flowing = self.at(drawn)
        return [self.room_gauge[i] - flowing.outlet_total(i) - self.entry(i, drawn[i], flowing) for i in self.free]

    def spread(self, free_drawn):
        drawn = [0.0] * len(self.prescribed)
        for i, value in zip(self.free, free_drawn, strict=True):
            drawn[i] = float(value)
        return drawn

    def entry(self, i, drawn, flowing):
        """Pressure that draws room air past appliance i; gas that comes out loses its whole velocity head."""
        appliance, r = self.vent.plant.appliances[i], self.resistance[i]
        hood = appliance.kind == "draft hood"
        if (hood or appliance.kind == "barometric") and (drawn + self.prescribed[i] if hood else drawn) < 0.0:
            area = math.pi * appliance.outlet_diameter.m_as("m") ** 2 / 4.0
            r = flowing.volume_at(self.vent.plant.feeds[i], "up") / (2.0 * area**2)
        if appliance.kind == "barometric":
            set_draft = -appliance.regulator_draft.m_as("Pa")
            opening = math.sqrt(set_draft / self.resistance[i]) * REGULATOR_LEAK
            if drawn <= opening:
                return self._square_law(r / REGULATOR_LEAK**2, drawn)
            more = drawn - opening
            return set_draft + REGULATOR_BAND * math.sqrt(set_draft * r) * more + self._square_law(r, more)
        return self._square_law(r, drawn + self.prescribed[i] if hood else drawn)

    @staticmethod
    def _square_law(r, flow):
        return r * flow * math.sqrt(flow * flow + SMOOTH / r)

    def solve(self, start=None, **options):
        """Drawn flows by `scipy.optimize.root`; returns (drawn of all, worst mismatch, calls)."""
        if not self.free:
            return self.spread([]), 0.0, 0
        found = root(self.residual, start if start is not None else self.guess(), **options)
        return self.spread(found.x), max(abs(v) for v in self.residual(found.x)), found.nfev

    def guess(self):
        """A hood or regulator draws half of what burns; a leak a tenth of what 10 Pa would drive through it."""
        return [0.5 * self.prescribed[i] if self.prescribed[i] else 0.1 * math.sqrt(10.0 / self.resistance[i])
                for i in self.free]  # fmt: skip


class Flowing:
    """A state with all its flows given: recursion over the tree, each value worked out when it is asked for."""

    def __init__(self, state, drawn):
        self.state, self.drawn = state, drawn
        self.pieces = state.vent.pieces
        self._flow, self._run, self._up = {}, {}, {}

    def sent(self, name):
        """Flow as the leaves make it; where it runs backward, less what drains on its way is left out."""
        if name not in self._flow:
            piece = self.pieces[name]
            if piece.feed is not None:
                self._flow[name] = self.state.prescribed[piece.feed] + self.drawn[piece.feed]
            else:
                self._flow[name] = sum(self.after(c) for c in piece.children)
        return self._flow[name]

    def after(self, name):
        """Flow at a section's downstream end: a forward one has lost what drained on the way."""
        flow = self.sent(name)
        return flow * self.run(name).left if flow > 0.0 else flow

    def flow(self, name):
        """Flow where gas enters a section; a backward one is less by its share of what drained above."""
        flow, parent = self.sent(name), self.pieces[name].parent
        if flow >= 0.0 or parent is None or self.sent(parent) >= 0.0:
            return flow
        back = sum(min(self.sent(c), 0.0) for c in self.pieces[parent].children)
        gone = self.sent(parent) - self.flow(parent) + self.flow(parent) * (1.0 - self.run(parent).left)
        return flow - gone * flow / back

    def entering(self, name):
        """Temperature and gas at the end of a section where gas enters it."""
        state, piece = self.state, self.pieces[name]
        forward = self.flow(name) >= 0.0
        if forward and piece.feed is not None:
            i = piece.feed
            own = state.prescribed[i], state.temperature[i], state.gas[i]
            room = state.rooms[i]
            return mix(own, (max(self.drawn[i], 0.0), state.kelvin[room], state.inside[room]), state.pressure)
        if forward:
            arriving = [(max(self.after(c), 0.0), *self.leaving(c)) for c in piece.children]
        elif piece.parent is None:
            return state.outdoor, state.air
        else:
            above = piece.parent
            back = -self.flow(above) * self.run(above).left if self.flow(above) < 0.0 else 0.0
            arriving = [(back, *self.leaving(above))] if back > 0.0 else []
            siblings = [c for c in self.pieces[above].children if c != name and self.flow(c) > 0.0]
            arriving += [(self.after(c), *self.leaving(c)) for c in siblings]
        return arriving[0][1:] if len(arriving) == 1 else mix(*arriving, state.pressure)

    def run(self, name):
        if name not in self._run:
            state, piece = self.state, self.pieces[name]
            around = state.outdoor if piece.outdoors else state.kelvin[piece.place]
            temperature, gas = self.entering(name)
            self._run[name] = Run(piece, self.flow(name), temperature, gas, around, state.cold, state.pressure)
        return self._run[name]

    def leaving(self, name):
        return self.run(name).outlet, self.run(name).leaving

    def volume_at(self, name, end):
        run = self.run(name)
        return run.volume_in if (self.flow(name) >= 0.0) == (end == "up") else run.volume_out

    def pressure_up(self, name):
        """Total pressure against outdoors at a section's upstream end."""
        if name not in self._up:
            state, piece, run = self.state, self.pieces[name], self.run(name)
            ahead = self.pressure_down(name) - state.added.get(name, 0.0)
            # The gas is pressed by its own gauge pressure: the static one half way up, from what it weighs unpressed.
            draft = G * piece.rise * (state.outdoor_density * piece.thin_air - run.density)
            head = (self.flow(name) / piece.area) ** 2 * run.volume / 2.0
            gauge = ahead - head + 0.5 * (run.loss + run.acceleration - draft)
            run.press(1.0 + gauge / (state.pressure * piece.thin_air))
            draft = G * piece.rise * (state.outdoor_density * piece.thin_air - run.density)
            self._up[name] = ahead + run.loss + run.acceleration - draft
        return self._up[name]

    def pressure_down(self, name):
        piece, flow = self.pieces[name], self.flow(name)
        if piece.parent is None:
            exit_loss = 1.0 + piece.cap if flow >= 0.0 else CAP_ENTRY + piece.cap
            head = flow * abs(flow) * self.volume_at(name, "down") / (2.0 * piece.area**2)
            coefficient = self.state.wind[0] if self.state.wind else piece.wind
            return coefficient * self.state.wind_head + exit_loss * head
        parent = self.pieces[piece.parent]
        return self.pressure_up(parent.name) + self._junction_fall(parent, name)

    def _junction_fall(self, parent, name):
        if parent.form is None:
            return 0.0
        combined = self.volume_at(parent.name, "up")
        flows, volumes = [], []
        for c in (parent.branch, next((c for c in parent.children if c != parent.branch), None)):
            # What is left of a leg's stream when it has drained, at the pressure of the combined one.
            left = self.run(c).left if c and self.flow(c) > 0.0 else 1.0
            flows.append(self.flow(c) * left if c else 0.0)
            pressed = self.run(parent.name).pressed / self.run(c).pressed if c else 1.0
            volumes.append(self.volume_at(c, "down") / (left**2 * pressed) if c else combined)
        falls = junction_falls(parent.form, parent.area_ratio, *flows, [*volumes, combined])
        return falls[0 if name == parent.branch else 1] / (2.0 * parent.area**2)

    def outlet_total(self, appliance):
        return self.pressure_up(self.state.vent.plant.feeds[appliance])

    def outlet_pressure(self, appliance):
        """Static pressure at an outlet, gauge against the room at its height [Pa]."""
        name = self.state.vent.plant.feeds[appliance]
        area = math.pi * self.state.vent.plant.appliances[appliance].outlet_diameter.m_as("m") ** 2 / 4.0
        total = self.outlet_total(appliance)
        head = (self.flow(name) / area) ** 2 * self.volume_at(name, "up") / 2.0
        return total - head - self.state.room_gauge[appliance]
