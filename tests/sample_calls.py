"""Calls that every public function of the library answers: an argument of each name, in the middle of its range.

Numbers of a boiler vent or a room, invented; what a function needs of its own stands under its name.
"""

import inspect
from functools import cache

from sample_studies import JOBS
from sample_walls import layer

from ventcalc.building import cohb
from ventcalc.draft import fan_table
from ventcalc.gas import combustion
from ventcalc.gas.fuels import fuel
from ventcalc.job import job_file
from ventcalc.units import Q_

# By name, in the unit that the function's own door asks for.
TYPICAL = {
    "across": 2.0, "over": 1.5, "upward": 1.0,
    "accuracy": 0.01, "air": 293.0, "air_density": 1.2, "air_free": 80.0, "air_temperature": 293.0,
    "air_vapor": 0.008, "air_water_vapor": 0.01, "along_roof": 5.0, "altitude": 500.0, "angle": 45.0, "area": 0.04,
    "area_ratio": 0.5, "areas": 0.1, "at": 4.0, "authority": 0.4, "available": 60.0, "available_draft": 150.0,
    "band": 2.0, "barometer": 95000.0, "base": 291.0, "before": 2.0, "boiler_power": 1e6, "bulk": 0.12, "burnt": 0.9,
    "carbon": 0.75, "carbon_in_ash": 0.02, "changes": 4.0, "co": 50.0, "co2": 0.09, "co2_dry": 0.09,
    "co_air_free": 80.0, "coefficient": 0.5, "coefficients": 0.2, "cold_density": 1.3, "concentration": 40.0,
    "conductivity": 0.03, "connector_area": 0.01, "constant": -5.0, "cooling": 0.3, "darcy_factor": 0.02,
    "density": 0.8, "density_ratio": 0.7, "diameter": 0.3, "diameter_ratio": 1.1, "diffusivity": 3e-5,
    "distance": 10.0, "down_wall": 1.0, "downstream_diameter": 0.25, "draft": 20.0, "draft_constant": 5.0,
    "dry_at_reference": 1e-4, "dry_gas": 12.0, "duration": 600.0, "emissivity": 0.9, "excess_air": 0.4,
    "exchange": 0.01, "exponent": 0.65, "face_height": 8.0, "face_width": 20.0, "fan": 5.0, "fan_input": 2e4,
    "film": 15.0, "flow": 0.5, "flow_share": 0.4, "flows": 0.5, "flue": 450.0, "flue_area": 0.02, "flue_loss": 0.2,
    "flue_temperature": 450.0, "flux": 1e-4, "friction_constant": 0.016, "friction_factor": 0.02, "gas": 450.0,
    "gas_constant": 290.0, "gas_density": 0.8, "gas_vapor": 0.12, "gross_area": 0.1, "heat_input": 3e5, "height": 12.0,
    "free_share": 0.5, "high": 10.0, "hydrogen": 0.05, "incidence": 30.0, "infiltration": 1.2e-4, "inherent": 0.4,
    "initial": 1.0,
    "inlet": 450.0, "inner_diameter": 0.3, "inside_film": 15.0, "intake_height": 4.0, "intensity": 0.2,
    "leakage": 0.05, "left": 0.1, "length": 6.0, "level": 30.0, "lewis": 0.9, "loss_coefficient": 1.5, "low": -10.0,
    "margin": 60.0, "mass_flow": 0.3, "molar_mass": 0.046, "n2": 0.8, "narrow_diameter": 0.28, "natural_input": 3e4,
    "o2": 0.06, "o2_dry": 0.06, "open_loss": 10.0, "other_diameter": 0.25, "other_losses": 30.0, "outdoor": 280.0,
    "outdoor_density": 1.25, "outdoor_vapor": 0.005, "outlet": 420.0, "outlet_area": 0.015, "outlet_pressure": -5.0,
    "outside_film": 10.0, "outside_resistance": 0.1, "own_diameter": 0.3, "oxygen": 0.2095, "perimeter_ratio": 1.0,
    "power": 500.0, "prandtl": 0.7, "pressure": 101325.0, "rated": 0.02, "rated_pressure": 250.0, "reading": 1.0,
    "reference": 50.0, "relative_humidity": 0.5, "relative_roughness": 0.001, "required": 100.0, "reynolds": 5e4,
    "roof_height": 8.0, "room": 293.0, "roughness": 0.001, "rounding": 0.0, "set_point": -10.0, "share": 0.3,
    "shares": 0.5, "sideways": 1.0, "since": 1.0, "so3_pressure": 0.5, "spacing": 3.0, "specific_heat": 1050.0,
    "speed": 0.8, "speed_ratio": 0.8, "spill": 0.005, "spill_co": 80.0, "stack_height": 3.0, "start": 290.0,
    "starts": 0.0, "station": 10.0, "step": 0.1, "straight": 5.0, "stresses": 3.0, "sulfur": 0.01, "surface": 350.0,
    "surroundings": 285.0, "tanks": 2.0, "target": 15.0, "temperature": 420.0, "thickness": 0.05, "tilt": 0.0,
    "time": 600.0, "times": 600.0, "tube_density": 1.1, "ultimate_co2": 0.118, "upstream_diameter": 0.3,
    "vapor": 0.1, "vapor_heat": 1900.0, "velocity": 6.0, "ventilation": 0.05, "viscosity": 2.4e-5, "volume": 60.0,
    "volumes": 60.0, "wall": 420.0, "wall_emissivity": 0.8, "wall_resistance": 0.05, "water": 0.05,
    "water_pressure": 12000.0, "wind": 4.0, "window": 900.0,
}  # fmt: skip

# Where the middle of a range is another one than elsewhere.
_SECONDS = [0.0, 300.0, 600.0, 900.0]
OF_ITS_OWN = {
    "building.co_buildup.concentration": {"outdoor": 1.0},
    "building.co_buildup.steady_state": {"outdoor": 1.0},
    "building.co_buildup.time_to_reach": {"outdoor": 1.0, "level": 3.0, "spill": 0.05},
    "building.co_buildup.spill_to_reach": {"outdoor": 1.0},
    "building.co_buildup.history": {"outdoor": 1.0, "times": _SECONDS, "starts": [0.0, 400.0], "volumes": [60.0, 30.0]},
    "building.co_limits.running_mean": {"times": _SECONDS, "co": [0.0, 40.0, 60.0, 70.0], "window": 500.0},
    "building.cohb.cohb": {"times": _SECONDS, "co": [0.0, 40.0, 60.0, 70.0], "initial": 0.01},
    "building.cohb.cohb_linear": {"initial": 0.01},
    "building.weather.degree_days": {"temperature": [280.0, 285.0]},
    "draft.damper_loss.blade_loss": {"angle": 30.0},
    "draft.damper_leakage.shut_loss": {"pressure": 50.0},
    "draft.damper_leakage.leakage_at": {"pressure": 50.0},
    "building.leakage.leakage_flow": {"pressure": 20.0},
    "building.orifice_flow.opening_flow": {"pressure": 5.0},
    "draft.fan_curve.speed_for": {"flow": 0.3, "pressure": 40.0},
    "draft.fan_selection.select": {"flow": 0.2, "pressure": 40.0},
    "draft.loop_performance.overshoot": {"time": [0.0, 1.0, 2.0, 3.0], "pressure": [-2.0, -4.0, -12.0, -10.0]},
    "draft.loop_performance.settling_time": {"time": [0.0, 1.0, 2.0, 3.0], "pressure": [-2.0, -4.0, -12.0, -10.0]},
    "draft.loop_performance.time_outside": {"time": [0.0, 1.0, 2.0, 3.0], "pressure": [-2.0, -4.0, -12.0, -10.0]},
    "draft.operating_point.operating_point": {"coefficient": 100.0},
    "draft.operating_point.operating_point_on": {"flows": [0.0, 1.0, 3.0], "pressures": [0.0, 60.0, 500.0]},
    "draft.tuning.identify": {"time": [0.0, 1.0, 2.0, 3.0, 4.0, 5.0], "reading": [0.0, 0.0, -3.0, -5.0, -5.9, -6.0]},
    "flow.junctions.sensor_error": {"coefficient": 0.3},
    "flow.wind.room_coefficient": {"coefficients": [0.4, -0.3], "areas": [0.1, 0.2]},
    "flow.heat_loss.cooling_number": {"coefficient": 3.0},
    "flow.heat_loss.heat_transfer_coefficient": {},
    "flow.heat_loss.wall_temperature": {"coefficient": 3.0},
    "flow.wall_condensation.settling_flux": {"coefficient": 0.02, "bulk": 0.12, "wall": 0.05},
    "flow.wall_condensation.condensation_flux": {"wall": 300.0},
    "gas.appliance.classify": {"margin": None},
    "gas.atmosphere.pressure_altitude": {"pressure": 95000.0},
    "gas.atmosphere.saturation_temperature": {"pressure": 12000.0},
    "gas.atmosphere.saturation_pressure": {"temperature": 320.0},
    "gas.atmosphere.water_vapor_fraction": {"temperature": 295.0},
    "gas.atmosphere.air_density": {"temperature": 295.0},
    "building.combustion_air.burner_air": {"temperature": 295.0},
    "gas.condensation.latent_heat": {"temperature": 320.0},
    "vent.area_rule.area_ratio": {},
}  # fmt: skip


@cache
def things() -> dict:
    """Arguments that are no quantities, by name."""
    gas = fuel("natural gas")
    burnt = combustion.products(gas, 0.4)
    retrofit = job_file.load(JOBS["masonry_retrofit"])
    return {
        "fuel": gas, "products": burnt, "gas": burnt.gas, "who": cohb.person("resting"),
        "fan": fan_table.fan(fan_table.names("roof")[0]), "layers": (layer(0.05, 1.0, 1900.0, 850.0),),
        "plant": retrofit.plant, "season": retrofit.seasons[0], "blades": "opposed", "cap": "open end", "capped": False,
        "fuel_name": "propane", "kind": "roof", "lined": False, "louver": "none", "pitch": "10 to 30",
        "shielding": "exposed", "slices": 4, "station_terrain": "open", "steps": 20, "terrain": "suburb", "turn": "S",
        "way": "direct", "wet": False, "wetted": False, "among": None,
    }  # fmt: skip


def call_of(name: str, function) -> dict:
    """Arguments by name with which ``function``, known as "part.module.function", answers."""
    own, found = OF_ITS_OWN.get(name, {}), {}
    for argument in inspect.signature(function).parameters:
        if argument in function.units:
            value = own[argument] if argument in own else TYPICAL[argument]
            found[argument] = value if value is None else Q_(value, function.units[argument])
        else:
            found[argument] = things()[argument]
    return found
