"""Mistakes: what works the lines of the spot-the-mistake sheets, and what somebody did instead where one is planted.

Each function works one line of a sheet in ``data/handbook/mistakes.toml``, from figures of that sheet by their names;
those of `SLIPS` are wrong on purpose.
"""

from functools import cache

import numpy as np

from ventcalc.building import co_buildup, co_limits, combustion_air
from ventcalc.draft import fan_laws
from ventcalc.flow import fittings, friction, materials, stack_effect
from ventcalc.flow.materials import Service
from ventcalc.gas import appliance, atmosphere, combustion, combustion_analysis, condensation, flue_gas, stack_loss
from ventcalc.gas.flue_gas import Gas
from ventcalc.gas.fuels import fuel
from ventcalc.handbook import writing_a_job
from ventcalc.job import edited_job
from ventcalc.show import worked_sheet
from ventcalc.show.worked_sheet import Sheet, Work
from ventcalc.units import Q_, Quantity, shown_unit
from ventcalc.vent import firing_states, outlet_envelope

GAS = "natural gas"
TYPE_B = "Type B gas vent"
ATM = Q_(1.0, "atm")


def _ratio(value: Quantity) -> float:
    return float(value.m_as(""))


# --- I: a boiler on a mountain --------------------------------------------------------------------------------


def excess(o2: Quantity) -> float:
    """Excess air from the oxygen in the dry flue gas."""
    return _ratio(combustion_analysis.excess_air_from_o2(fuel(GAS), o2))


def flow(heat_input: Quantity, excess: float) -> Quantity:
    """Flue gas that the burner makes."""
    return heat_input * combustion.flue_gas_per_heat(fuel(GAS), excess)


def barometer(altitude: Quantity) -> Quantity:
    """Pressure that the boiler stands in."""
    return atmosphere.standard_pressure(altitude)


def barometer_of_the_report(report: Quantity) -> Quantity:
    """Wrong: a report is reduced to sea level."""
    return report


def burnt_density(excess: float, flue: Quantity, barometer: Quantity) -> Quantity:
    """Density of the flue gas where it leaves the boiler."""
    return flue_gas.density(combustion.products(fuel(GAS), excess).gas, flue, barometer)


def volume(flow: Quantity, burnt_density: Quantity) -> Quantity:
    """Its volume flow."""
    return (flow / burnt_density).to("m**3/s")


def dew_point(excess: float, barometer: Quantity) -> Quantity:
    """Temperature at which its water begins to condense."""
    return condensation.dew_point(combustion.products(fuel(GAS), excess).gas, barometer)


def loss(excess: float, flue: Quantity, room: Quantity) -> float:
    """Share of the heat input that goes up the vent."""
    return _ratio(stack_loss.stack_loss(fuel(GAS), excess, flue, room))


def category(pressure: Quantity, loss: float) -> str:
    """Category that pressure and loss indicate."""
    return appliance.classify(pressure, flue_loss=loss).name


def pipe(category: str) -> dict[str, object]:
    """Kind of pipe that is listed for the category, and the temperature that it bears."""
    return _pipe(next(n for n in materials.names() if category in materials.material(n).categories))


def pipe_on_the_truck(category: str, flue: Quantity, pressure: Quantity, system: str) -> dict[str, object]:
    """Wrong: the pipe that is at hand; with all that speaks against it, in words."""
    service = Service("vent", (category,), ("gas",), "room", flue, pressure, condensing=True)
    against = materials.objections(materials.material(TYPE_B), service)
    return {**_pipe(TYPE_B), "against": "; ".join(materials.sentence(one, system) for one in against)}


def _pipe(name: str) -> dict[str, object]:
    return {"pipe": name, "rated": materials.material(name).max_temperature}


def volume_left(carries: Quantity, volume: Quantity) -> Quantity:
    """What the vent can carry beyond what comes."""
    return carries - volume


# --- II: a connector, and a draft by hand -----------------------------------------------------------------------


def air_density(gas: Quantity) -> Quantity:
    """Density of the gas, taken for air at sea level."""
    return flue_gas.density(Gas.dry_air(), gas, ATM)


def velocity(flow: Quantity, air_density: Quantity, narrow: Quantity) -> Quantity:
    """Velocity in the narrow pipe."""
    return friction.velocity(flow, air_density, narrow)


def head(air_density: Quantity, velocity: Quantity) -> Quantity:
    """Velocity head there."""
    return friction.velocity_head(air_density, velocity)


def wide_head(flow: Quantity, air_density: Quantity, wide: Quantity) -> Quantity:
    """Velocity head in the wide pipe."""
    return friction.velocity_head(air_density, friction.velocity(flow, air_density, wide))


def straight(factor: float, length: Quantity, narrow: Quantity, head: Quantity) -> Quantity:
    """What friction in the straight pipe costs."""
    return factor * (length / narrow).to("") * head


def elbows(elbow: str, count: int, head: Quantity) -> dict[str, object]:
    """What the elbows cost, and the coefficient of one."""
    k = fittings.fitting(elbow).loss
    return {"elbows": count * k * head, "k_elbow": k}


def cone(narrow: Quantity, wide: Quantity, angle: Quantity, head: Quantity) -> dict[str, object]:
    """What the increaser costs: its coefficient belongs to the narrow end."""
    k = _ratio(fittings.size_change(narrow, wide, angle))
    return {"cone": k * head, "k_cone": k}


def cone_on_the_wide_head(narrow: Quantity, wide: Quantity, angle: Quantity, wide_head: Quantity) -> dict[str, object]:
    """Wrong: the coefficient of the narrow end on the head of the wide one."""
    return cone(narrow, wide, angle, wide_head)


def run_left(to_spend: Quantity, straight: Quantity, elbows: Quantity, cone: Quantity) -> Quantity:
    """What is left of what may be spent."""
    return to_spend - straight - elbows - cone


def outdoor_density(outdoor: Quantity) -> Quantity:
    """Density of the outdoor air, dry, at sea level."""
    return atmosphere.air_density(outdoor, ATM)


def room_density(room: Quantity) -> Quantity:
    """Density of air of the room, dry, at sea level."""
    return atmosphere.air_density(room, ATM)


def hot_density(room_density: Quantity, room: Quantity, gas: Quantity) -> Quantity:
    """Density of hot air from that of the room's: as the absolute temperatures, upside down."""
    return room_density * _ratio(room.to("K") / gas.to("K"))


def hot_density_by_degrees(room_density: Quantity, room: Quantity, gas: Quantity, system: str) -> Quantity:
    """Wrong: the ratio of the figures on the thermometer."""
    unit = shown_unit("temperature", system)
    return room_density * float(room.m_as(unit) / gas.m_as(unit))


def draft(height: Quantity, outdoor_density: Quantity, hot_density: Quantity) -> Quantity:
    """Theoretical draft of a stack."""
    return stack_effect.theoretical_draft(height, outdoor_density, hot_density)


def draft_left(draft: Quantity, wanted: Quantity) -> Quantity:
    """Draft beyond what is wanted."""
    return draft - wanted


# --- III: a vent from the outlet to the sky -----------------------------------------------------------------------


def gas_draft(height: Quantity, outdoor_density: Quantity, air_density: Quantity) -> Quantity:
    """Theoretical draft, the gas taken for air."""
    return stack_effect.theoretical_draft(height, outdoor_density, air_density)


def top(cap: str, head: Quantity) -> dict[str, object]:
    """What the cap takes and the gas carries away at the top."""
    k = fittings.fitting(cap).loss
    return {"top": (1.0 + k) * head, "k_cap": k}


def top_without_cap(head: Quantity) -> dict[str, object]:
    """Wrong: only what the gas carries away."""
    return {"top": head, "k_cap": 0.0}


def vent_left(draft: Quantity, straight: Quantity, elbows: Quantity, top: Quantity, wanted: Quantity) -> Quantity:
    """Draft left over when everything is paid and the burner has what it wants."""
    return draft - straight - elbows - top - wanted


# --- IV: a set point and a fan -------------------------------------------------------------------------------------


def of_a(a_low: Quantity, a_high: Quantity, a_least: Quantity, a_most: Quantity) -> dict[str, Quantity]:
    """Header pressures that suit Boiler A in every state."""
    return {"from_a": a_low - a_least, "to_a": a_high - a_most}


def both(from_a, to_a, b_low, b_high, b_least, b_most) -> dict[str, Quantity]:
    """Header pressures that suit both boilers in every state."""
    return {"low": max(from_a, b_low - b_least), "high": min(to_a, b_high - b_most)}


def a_alone(from_a: Quantity, to_a: Quantity) -> dict[str, Quantity]:
    """Wrong: the window of one boiler for all."""
    return {"low": from_a, "high": to_a}


def set_point(low: Quantity, high: Quantity) -> Quantity:
    """Middle of a range."""
    return 0.5 * (low + high)


def worst(calm: Quantity, terminal: float, inside: float, outdoor_density: Quantity, wind: Quantity) -> Quantity:
    """Highest pressure of the header without the fan: in calm air, and what wind against the vent adds."""
    return calm + (terminal - inside) * friction.velocity_head(outdoor_density, wind)


def worst_in_calm(calm: Quantity) -> Quantity:
    """Wrong: the wind is left out."""
    return calm


def add(worst: Quantity, set_point: Quantity) -> Quantity:
    """What the fan must add."""
    return worst - set_point


def look_up(add: Quantity, air_density: Quantity) -> Quantity:
    """The same in standard air, for which the fan's table is made."""
    return fan_laws.to_standard_air(add, air_density)


def fan_left(fan_makes: Quantity, look_up: Quantity) -> Quantity:
    """What the fan makes at that flow beyond what it must."""
    return fan_makes - look_up


# --- V: an office, and a louver ------------------------------------------------------------------------------------


def level(air: Quantity, spill: Quantity, inside: Quantity) -> Quantity:
    """Where the carbon monoxide of a room comes to rest."""
    return co_buildup.steady_state(air, spill, inside)


def mean(level: Quantity, hours: Quantity) -> Quantity:
    """Worst mean over the time of the limit."""
    return _mean(level, hours, _limit().window)


def mean_of_the_day(level: Quantity, hours: Quantity) -> Quantity:
    """Wrong: the mean of the day."""
    return _mean(level, hours, float(Q_(1.0, "day").m_as("s")))


def _mean(level: Quantity, hours: Quantity, window: float) -> Quantity:
    """Highest running mean of a day that is clean but for some hours at one level."""
    ends = float(hours.m_as("s"))
    times = np.array([0.0, ends, ends + 1.0, 86400.0])
    at = float(level.m_as("ppm"))
    dense = np.unique(np.concatenate([times, np.arange(0.0, 86401.0, 60.0)]))
    co = np.where(dense <= ends, at, 0.0)
    return Q_(float(co_limits.running_mean.bare(dense, co, window, 0.0).max()), "ppm")


@cache
def _limit() -> co_limits.Limit:
    """The outdoor standard with a mean over eight hours."""
    eight = float(Q_(8.0, "hour").m_as("s"))
    return next(one for one in co_limits.limits() if (one.body, one.window) == ("EPA", eight))


def limit() -> Quantity:
    """Level of that limit."""
    return Q_(_limit().level, "ppm")


def mean_left(limit: Quantity, mean: Quantity) -> Quantity:
    """How far the mean is below the limit."""
    return limit - mean


def needed(heat_input: Quantity) -> Quantity:
    """Free area of each of two openings to outdoors."""
    return combustion_air.opening_area(heat_input, "direct")


def gross(louver_wide: Quantity, louver_high: Quantity) -> Quantity:
    """Area of the hole in the wall."""
    return louver_wide * louver_high


def free(gross: Quantity) -> Quantity:
    """What a metal louver leaves free of it."""
    return combustion_air.free_area(gross, "metal")


def free_is_the_hole(gross: Quantity) -> Quantity:
    """Wrong: the hole in the wall."""
    return gross


def area_left(free: Quantity, needed: Quantity) -> Quantity:
    """Free area beyond what is needed."""
    return free - needed


# --- VI: a job file ---------------------------------------------------------------------------------------------------


def typed_input(plate: Quantity) -> Quantity:
    """Heat input of the plate."""
    return plate


def typed_in_mbh(plate: Quantity) -> Quantity:
    """Wrong: the figure of the plate, in another unit."""
    return Q_(float(plate.m_as("kW")), "kBtu/hour")


def edge(typed_input: Quantity) -> Quantity:
    """Highest pressure that the boiler's instructions allow, as the file has it."""
    return _laundry(float(typed_input.m_as("kW")))[0]


def highest(typed_input: Quantity) -> Quantity:
    """Highest pressure at the outlet over all states of the file's vent."""
    return _laundry(float(typed_input.m_as("kW")))[1]


@cache
def _laundry(kilowatts: float) -> tuple[Quantity, Quantity]:
    document = edited_job.with_field(writing_a_job.laundry(), writing_a_job.INPUT, f"{kilowatts:.4f} kW")
    job = writing_a_job.read(document)
    envelope = outlet_envelope.envelopes(firing_states.scan(job.plant, job.seasons))[0]
    return Q_(envelope.window[1], "Pa"), Q_(envelope.high, "Pa")


def outlet_left(edge: Quantity, highest: Quantity) -> Quantity:
    """How far the outlet stays below the edge."""
    return edge - highest


# --- The sheets ---------------------------------------------------------------------------------------------------

_RUN = {"air_density": air_density, "velocity": velocity, "head": head, "straight": straight, "elbows": elbows}

WORK: dict[str, dict[str, Work]] = {
    "mountain": {
        "excess": excess,
        "flow": flow,
        "barometer": barometer,
        "burnt_density": burnt_density,
        "volume": volume,
        "dew_point": dew_point,
        "loss": loss,
        "category": category,
        "pipe": pipe,
        "left": volume_left,
    },
    "connector": _RUN | {"wide_head": wide_head, "cone": cone, "left": run_left},
    "draft": {
        "outdoor_density": outdoor_density,
        "room_density": room_density,
        "hot_density": hot_density,
        "draft": draft,
        "left": draft_left,
    },
    "vent": _RUN | {"outdoor_density": outdoor_density, "draft": gas_draft, "top": top, "left": vent_left},
    "set_point": {
        "of_a": of_a,
        "both": both,
        "set_point": set_point,
        "outdoor_density": outdoor_density,
        "worst": worst,
        "add": add,
        "air_density": air_density,
        "look_up": look_up,
        "left": fan_left,
    },
    "office": {"level": level, "limit": limit, "mean": mean, "left": mean_left},
    "louver": {"needed": needed, "gross": gross, "free": free, "left": area_left},
    "file": {"typed_input": typed_input, "edge": edge, "highest": highest, "left": outlet_left},
}

SLIPS: dict[str, dict[str, Work]] = {
    "mountain": {"barometer": barometer_of_the_report, "pipe": pipe_on_the_truck},
    "connector": {"cone": cone_on_the_wide_head},
    "draft": {"hot_density": hot_density_by_degrees},
    "vent": {"top": top_without_cap},
    "set_point": {"both": a_alone, "worst": worst_in_calm},
    "office": {"mean": mean_of_the_day},
    "louver": {"free": free_is_the_hole},
    "file": {"typed_input": typed_in_mbh},
}


@cache
def sheets() -> tuple[Sheet, ...]:
    """All sheets in the order of the Parts."""
    return tuple(worked_sheet.sheet(row, WORK[row["name"]], SLIPS[row["name"]]) for row in worked_sheet.rows())
