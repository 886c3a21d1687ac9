"""A condensing run as an ordinary differential equation in plain floats, for the tests of `condensing_run`.

Shares with the library the properties of streams, the film and the constants of the analogy; the laws are written a
second time and left to `scipy.integrate.solve_ivp` with steps far shorter than the library's pieces.
"""

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from ventcalc.gas import atmosphere, condensation, streams

LATENT_FOG = streams.LATENT
VAPOUR_R = 8.314462618 / 0.018015
ZERO = 273.16


def saturation(kelvin, pressure):
    return min(float(atmosphere.saturation_pressure.bare(kelvin)), 0.99 * pressure)


class WetRun:
    """One run: ``films`` gives the whole and the convective film [W/(m2 K)] of gas at a temperature, outside
    ``resistance`` [m2 K/W], ``flow`` [kg/s]."""

    def __init__(self, gas, inlet, around, pressure, films, resistance, perimeter, length, flow, lewis):
        self.gas, self.inlet, self.around, self.pressure = [float(g) for g in gas], inlet, around, pressure
        self.films, self.resistance = films, resistance
        self.perimeter, self.length, self.flow, self.lewis = perimeter, length, flow, lewis
        self.water, self.dry = self.gas[streams.WATER], 1.0 - self.gas[streams.WATER]
        self.moles = self.gas[streams.GAS_R] / VAPOUR_R - self.water  # of dry gas, as if of the weight of water

    def held(self, kelvin, ice=False):
        fog = streams.saturation(kelvin, self.pressure)[0]  # supercooled
        v = saturation(kelvin, self.pressure) if ice else fog
        return self.moles * v / (self.pressure - v)

    def latent(self, wall):
        """Condensation, and below 0 degC fusion too, spread over one kelvin as the library has it."""
        if wall >= ZERO:
            return float(condensation.latent_heat.bare(wall))
        top = float(condensation.latent_heat.bare(ZERO))
        return top + min(ZERO - wall, 1.0) * (float(condensation.latent_heat.bare(ZERO - 1.0)) - top)

    def steam_heat(self, t):
        return float(streams.specific_heat(streams.STEAM, t))

    def temperature(self, enthalpy, lost):
        return brentq(lambda t: self.enthalpy(t, lost) - enthalpy, 200.0, 700.0, xtol=1e-10)

    def enthalpy(self, t, lost):
        return (float(streams.sensible(self.gas, t)) - lost * float(streams.sensible(streams.STEAM, t))
                - LATENT_FOG * max(self.water - lost - self.held(t), 0.0))  # fmt: skip

    def fluxes(self, t, lost):
        """Wall temperature; heat from the bulk [W/m2]; water to the wall [kg/(m2 s)]."""
        vapor = min(self.water - lost, self.held(t))
        heat = float(streams.specific_heat(self.gas, t))
        film, convective = self.films(t)

        def at(wall):
            log = math.log((self.dry + vapor) / (self.dry + self.held(wall, ice=True)))
            water = max(convective / heat * self.lewis * log, 0.0)
            x = water * self.steam_heat(0.5 * (t + wall)) / convective
            radiation = film - convective
            from_bulk = (convective * (x / math.expm1(x) if x > 1e-9 else 1.0) + radiation) * (t - wall)
            to_wall = (convective * (x / -math.expm1(-x) if x > 1e-9 else 1.0) + radiation) * (t - wall)
            return from_bulk, water, to_wall + water * self.latent(wall)

        if self.resistance == 0.0:
            wall = self.around
        elif abs(t - self.around) < 1e-4:
            wall = t
        else:
            low, high = sorted((t, self.around))
            wall = brentq(lambda w: at(w)[2] - (w - self.around) / self.resistance, low - 0.01, high + 0.01, xtol=1e-9)
        return wall, *at(wall)[:2]

    def solve(self, pieces=None):
        """Dict of outlet [K], lost [kg/kg], wall at both ends [K], mean density over p, and the profile."""

        def slope(_, y):
            t = self.temperature(*y)
            _, heat, water = self.fluxes(t, y[1])
            area = self.perimeter / self.flow
            return [-area * (heat + water * float(streams.sensible(streams.STEAM, t))), area * water]

        n = pieces or max(round(self.length / 0.1), 40)
        along = np.linspace(0.0, self.length, n + 1)
        start = [self.enthalpy(self.inlet, 0.0), 0.0]
        found = solve_ivp(slope, (0.0, self.length), start, method="LSODA", t_eval=along, rtol=1e-8, atol=[1e-2, 1e-9],
                          max_step=self.length / 40)  # fmt: skip
        kelvin = np.array([self.temperature(*y) for y in found.y.T])
        lost = found.y[1]
        fog = np.array([max(self.water - w - self.held(t), 0.0) for t, w in zip(kelvin, lost, strict=True)])
        lightness = (1.0 - lost) / ((self.gas[streams.GAS_R] - (lost + fog) * VAPOUR_R) * kelvin)
        return {
            "outlet": kelvin[-1],
            "lost": lost[-1],
            "fog": fog[-1],
            "wall": min(self.fluxes(kelvin[0], 0.0)[0], self.fluxes(kelvin[-1], lost[-1])[0]),
            "lightness": np.trapezoid(lightness, along) / self.length,
        }
