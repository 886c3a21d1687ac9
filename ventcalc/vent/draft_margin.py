"""Draft margin: how much draft one appliance on its own vent has to spare.

A vent works where there is draft to spare: behind a draft hood, where the draft pulls in the dilution air of the design
condition and something is left over; without one, where the outlet pressure stays below the upper end of the
appliance's window. That end is zero for category I, negative for a burner without a fan that needs draft, positive for
categories III and IV.

Arrays of sizes may stand in for those of the drawing. The equations are those of `common_vent`, whose flows are given
here; `vent_at_work` lets the draft find them, and `vent_sizing` solves for the size at which nothing is left over.
"""

from dataclasses import replace

import numpy as np

from ventcalc.door import door
from ventcalc.flow import fittings, materials
from ventcalc.gas import combustion, combustion_analysis, condensation, flue_gas
from ventcalc.gas.appliance import CATEGORIES, Appliance
from ventcalc.units import GRAVITY, Q_, Quantity, magnitude, ureg
from ventcalc.vent.common_vent import given_flows
from ventcalc.vent.layout import Plant, Section
from ventcalc.vent.network import SIZE_CHANGE_ANGLE, Network, Season, compile_network, room_vapor
from ventcalc.vent.single_vent import path, rise_section, run_section
from ventcalc.vent.states import States

# Dry CO2 behind a draft hood burning natural or LP gas: the condition for which the chimney handbook's sheet prints
# 0.66 kg/MJ (combustion.csv C039, published).
HOOD_CO2 = 0.053


HOTTEST = 800.0  # the solver's gas properties are fitted to 900 K


class Vent:
    """A plant in one season as plain numbers, ready to be asked of many sizes at once."""

    def __init__(self, plant: Plant, season: Season, hood_co2: float, cold: bool):
        self.path, self.plant, self.season, self.cold = path(plant), plant, season, cold
        self.appliance = plant.appliances[0]
        self.level = self.appliance.levels[-1]
        self.network: Network = compile_network(plant, (season,))
        self.code = self.appliance.states.index(self.level.name)
        # Flue gas per heat input, after what condenses inside the appliance has drained.
        self.flue_per_watt = self.network.prescribed[0][0, self.code] / self.level.heat_input.m_as("W")
        self.dilution = self._design_dilution(hood_co2)
        _refuse(self)
        names = [s.name for s in plant.order]
        self.rows = [names.index(s.name) for s in self.path]
        self.outlet = float(self.appliance.outlet_diameter.m_as("m"))
        self.widths = [float(s.diameter.m_as("m")) for s in self.path]
        self.roughness = [float(s.material.roughness.m_as("m")) for s in self.path]
        self.losses = [s.loss for s in self.path]
        self.drawn_sizes = {
            "heat_input": float(self.level.heat_input.m_as("W")),
            "diameter": self.widths[-1],
            "flue_temperature": float(self.level.flue_temperature.m_as("K")),
        }

    def _design_dilution(self, hood_co2: float) -> float:
        """Room air per flue gas [kg/kg] that thins the flue gas to ``hood_co2``; 0 without a hood."""
        if self.appliance.kind != "draft hood":
            return 0.0
        fuel, own = self.appliance.fuel, self.level.excess_air
        behind = float(combustion_analysis.excess_air_from_co2.bare(fuel, hood_co2))
        if behind < own:
            raise ValueError(
                f"hood_co2 = {hood_co2:.1%}: the flue gas of {self.appliance.name} is thinner before its draft hood"
            )
        thin, thick = (combustion.products.bare(fuel, ratio).mass_per_heat for ratio in (behind, own))
        return thin / thick - 1.0

    def margin(self, **sizes) -> np.ndarray:
        """Draft to spare [Pa]; sizes are plain SI arrays of one shape, those left out as drawn."""
        shape = np.broadcast_shapes(*(np.shape(v) for v in sizes.values()))
        flat = {name: np.broadcast_to(v, shape).ravel().astype(float) for name, v in sizes.items()}
        return self._margin(flat, int(np.prod(shape))).reshape(shape)

    def _margin(self, sizes: dict, count: int) -> np.ndarray:
        full = {name: sizes.get(name, np.full(count, v)) for name, v in self.drawn_sizes.items()}
        network = replace(self.network, pipes=self._pipes(sizes))
        flue = full["heat_input"] * self.flue_per_watt
        found = given_flows(
            network, full_fire(count, self.code, self.cold), flue, full["flue_temperature"], self.dilution * flue
        )
        if self.appliance.kind != "draft hood":
            return float(self.appliance.window[1].m_as("Pa")) - found.outlet_pressure[0]
        # What the hood costs the mixed gas is what `common_vent` charges for the way in from the room.
        entry = network.resistance[0][0, self.code] * (flue * (1.0 + self.dilution)) ** 2
        return found.room_gauge[0] - found.pressure_up[self.rows[0]] - entry

    def _pipes(self, sizes: dict) -> tuple:
        """The network's pipes with arrays of sizes in place of the drawn numbers."""
        pipes = list(self.network.pipes)
        if "height" in sizes:
            self._lengthen(pipes, rise_section(self.plant), sizes["height"], sizes["height"])
        if "run" in sizes:
            section = run_section(self.plant)
            self._lengthen(pipes, section, sizes["run"], float(section.rise.m_as("m")))
        if "diameter" in sizes:
            self._widen(pipes, sizes["diameter"])
        return tuple(pipes)

    def _lengthen(self, pipes: list, section: Section, length, rise) -> None:
        row = self.plant.order.index(section)
        pipe, low = pipes[row], self.plant.heights[section.name][0]
        thin = np.exp(-GRAVITY * (low + 0.5 * rise) / (287.05 * 288.15))  # as in `network`
        pipes[row] = replace(pipe, length=length, rise=rise, surface=np.pi * pipe.diameter * length, thin_air=thin)

    def _widen(self, pipes: list, diameter) -> None:
        """All sections as wide as the last one change together; the changes of size beside them follow."""
        widths = [diameter if abs(w / self.widths[-1] - 1.0) < 1e-9 else w for w in self.widths]
        for k, row in enumerate(self.rows):
            own, pipe, loss = widths[k], pipes[row], self.losses[k]
            loss = loss + (_step(self.outlet, own, own) if k == 0 else 0.0)
            loss = loss + (_step(own, widths[k + 1], own) if k + 1 < len(widths) else 0.0)
            pipes[row] = replace(
                pipe,
                diameter=own,
                area=np.pi * own**2 / 4.0,
                surface=np.pi * own * pipe.length,
                relative_roughness=self.roughness[k] / own,
                fixed_loss=loss,
            )


def _step(upstream, downstream, own):
    """K of a change of size on the velocity head of the diameter ``own``."""
    loss = fittings.size_change.bare(upstream, downstream, SIZE_CHANGE_ANGLE)
    return fittings.on_other_diameter.bare(loss, np.minimum(upstream, downstream), own)


def full_fire(count: int, code: int, cold: bool) -> States:
    """So many cases of the first season in calm, all firing at one level, the walls all ``cold`` or all hot."""
    return States(np.full((1, count), code), np.zeros(count, int), np.full(count, cold), np.zeros(count, bool))


def _refuse(vent: Vent) -> None:
    """Raise where the vent may not serve the appliance at all."""
    appliance, category = vent.appliance, CATEGORIES[vent.appliance.category]
    flue, room = (
        float(vent.level.flue_temperature.m_as("K")),
        float(vent.network.place_temperature[vent.network.rooms[0], 0]),
    )
    hottest = Q_((flue + vent.dilution * room) / (1.0 + vent.dilution), "K")  # behind a hood, as diluted by design
    for section in vent.path:
        service = materials.Service(
            section.name,
            appliance.listed_categories,
            (appliance.fuel.kind,),
            section.place,
            hottest,
            appliance.window[1] if category.positive else Q_(0.0, "Pa"),
            category.condensing,
            section.material.name in appliance.named_materials,
        )
        found = materials.objections(section.material, service)
        if found:
            said = "; ".join(map(materials.sentence, found))
            raise ValueError(
                f"section {section.name} of {section.material.name} may not serve {appliance.name}: {said}"
            )
    _refuse_narrow(appliance, min(s.diameter.m_as("m") for s in vent.path))


def _refuse_narrow(appliance: Appliance, diameter) -> None:
    outlet = appliance.outlet_diameter.m_as("m")
    if np.any(diameter < outlet * (1.0 - 1e-9)):
        raise ValueError(
            f"the vent is {Q_(float(np.min(diameter)), 'm').to('inch'):.3g~P} wide, less than the outlet of "
            f"{appliance.name}, {appliance.outlet_diameter.to('inch'):.3g~P}: a vent may not be narrower than the "
            "outlet it serves (capacity_tables knows the code's exception)"
        )


_UNITS = {"heat_input": "W", "diameter": "m", "height": "m", "run": "m", "flue_temperature": "K"}


def plain_sizes(vent: Vent, sizes: dict) -> dict:
    """Given sizes as plain SI; refuses what is unknown or impossible, by name."""
    unknown = set(sizes) - set(_UNITS)
    if unknown:
        raise TypeError(f"unknown size {', '.join(sorted(unknown))}; sizes are {', '.join(_UNITS)}")
    plain = {n: magnitude(v, ureg.Unit(_UNITS[n]), n) for n, v in sizes.items() if v is not None}
    for name, value in plain.items():
        if not np.size(value):
            raise ValueError(f"{name} is empty; give a number or an array")
        if not np.all(np.isfinite(value)):
            raise ValueError(
                f"{name} must be finite, got {'NaN (not a number)' if np.any(np.isnan(value)) else 'infinity'}"
            )
        least = 0.0 if name == "run" else np.nextafter(0.0, 1.0)
        if not np.all(np.asarray(value) >= least):
            shown = Q_(float(np.nanmin(value)), _UNITS[name])
            raise ValueError(f"{name} = {shown:.4g~P} must be {'at least' if name == 'run' else 'above'} 0")
    if "diameter" in plain:
        _refuse_narrow(vent.appliance, plain["diameter"])
    if "run" in plain and np.any(plain["run"] < abs(run_section(vent.plant).rise.m_as("m"))):
        raise ValueError(f"run: section {run_section(vent.plant).name} is no longer than it rises")
    if "flue_temperature" in plain:
        _refuse_temperature(vent, plain["flue_temperature"])
    return plain


def _refuse_temperature(vent: Vent, kelvin) -> None:
    low = coolest_flue(vent)
    if np.any(kelvin < low) or np.any(kelvin > HOTTEST):
        worst = np.min(kelvin) if np.any(kelvin < low) else np.max(kelvin)
        given, least, most = (f"{Q_(float(k), 'K').to('degC'):.4g~P}" for k in (worst, low, HOTTEST))
        raise ValueError(
            f"flue_temperature = {given} must be {least} (the dew point, below which water stays in the appliance) "
            f"to {most}"
        )


def coolest_flue(vent: Vent) -> float:
    """Dew point of the flue gas [K], or the room where that is warmer."""
    air = flue_gas.Gas.humid_air(room_vapor(vent.season, vent.network.pressure, vent.appliance.room))
    gas = combustion.products.bare(vent.appliance.fuel, vent.level.excess_air, air.h2o).gas
    return max(
        float(condensation.dew_point.bare(gas, vent.network.pressure)),
        float(vent.network.place_temperature[vent.network.rooms[0], 0]),
    )


@door(plain={"hood_co2": ""}, above={"hood_co2": 0.0}, at_most={"hood_co2": 1.0})
def margin(plant: Plant, season: Season, hood_co2: float = HOOD_CO2, cold: bool = False, **sizes: Quantity) -> Quantity:
    """Draft to spare; positive where the vent works.

    ``plant`` of one appliance, at its highest level; ``sizes`` (heat_input, diameter, height, run, flue_temperature),
    numbers or arrays that broadcast, stand in for those of the drawing. ``hood_co2``: dry CO2 behind a draft hood
    at which it works as designed. ``cold``: all walls are still at the temperature of their surroundings. A given
    ``diameter`` is that of all sections as wide as the last one, ``height`` that of `rise_section`, ``run`` of
    `run_section`.

    Raises ValueError where the vent may not serve the appliance's category, temperature or pressure, is narrower
    than its outlet, or a size is not positive.
    """
    vent = Vent(plant, season, hood_co2, cold)
    return Q_(vent.margin(**plain_sizes(vent, sizes))[()], "Pa")
