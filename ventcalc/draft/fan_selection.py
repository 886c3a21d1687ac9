"""Fan selection: fans compared on the duties of all states, with what rules one out and what speaks for it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ventcalc.draft.fan_curve import KINDS, Fan, discharge_velocity, shaft_power, speed_for, static_pressure
from ventcalc.draft.fan_drive import own_head
from ventcalc.draft.fan_laws import LAWS
from ventcalc.draft.fan_limits import motor_speed_limit, stalled, too_slow
from ventcalc.draft.fan_table import fan, names
from ventcalc.flow import friction
from ventcalc.units import Q_, quantities, show

LEAST_MARGIN = 0.10  # of speed, for a vent that turns out tighter than drawn: common practice, no source
# m/s in the outlet, some 2,000 ft/min, from which on a discharge is usually heard nearby: common practice, no source.
# No sound power is known of any fan here.
HEARD = 10.0


@dataclass(frozen=True, eq=False)
class Candidate:
    """One fan on a set of duties; arrays have one value a state, plain SI.

    ``wanted``: static pressure [Pa]. ``needed``: speed that makes it, NaN beyond the fan's most speed, 0 where even
    standing still it lets too much through. ``speed`` it would run at: as needed, but not below its least nor above
    its most. ``excess`` [Pa] of what it then makes over what is wanted, negative where it is short. ``power`` [W] at
    the shaft. ``stalled`` where it works left of its stall limit. ``cold_power`` [W] at most, at the same speeds in
    cold air; ``mean_power`` [W] over the states by their shares. ``faults`` rule it out, ``cautions`` do not,
    ``merits`` speak for it: sentences with their numbers.
    """

    fan: Fan
    wanted: np.ndarray
    needed: np.ndarray
    speed: np.ndarray
    excess: np.ndarray
    power: np.ndarray
    stalled: np.ndarray
    cold_power: float
    mean_power: float
    faults: tuple[str, ...]
    cautions: tuple[str, ...]
    merits: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether nothing rules it out."""
        return not self.faults

    @property
    def margin(self) -> float:
        """Most speed over the highest that is needed, less 1; negative where it falls short."""
        if np.isnan(self.needed).any():
            return -1.0
        top = float(self.needed.max())
        return self.fan.most_speed / top - 1.0 if top > 0.0 else np.inf

    @property
    def slow(self) -> np.ndarray:
        """States in which it would have to turn more slowly than it can."""
        return too_slow.bare(self.fan, np.nan_to_num(self.needed))

    @property
    def turndown(self) -> float:
        """Highest over lowest speed among the states in which it turns."""
        turning = self.speed[self.speed > 0.0]
        return float(turning.max() / turning.min()) if turning.size else 1.0


@dataclass(frozen=True, eq=False)
class Selection:
    """Fans compared on the same duties: ``fitting`` best first, and the ``rejected``, nearest to fitting first."""

    fitting: tuple[Candidate, ...]
    rejected: tuple[Candidate, ...]

    @property
    def verdict(self) -> str:
        """What came of it, in a sentence."""
        count = len(self.fitting) + len(self.rejected)
        if not self.fitting:
            return f"None of the {count} fans fits."
        return f"{len(self.fitting)} of {count} fans fit; first stands {self.fitting[0].fan.name}."


@quantities(
    None,
    flow="m**3/s",
    pressure="Pa",
    density="kg/m**3",
    temperature="K",
    cold_density="kg/m**3",
    shares="",
    area="m**2",
    at_least={"flow": 0.0, "shares": 0.0},
    above={"density": 0.0, "cold_density": 0.0, "area": 0.0},
    source=LAWS + "; ranking: common practice, no source",
)
def select(
    flow,
    pressure,
    density,
    temperature,
    cold_density,
    kind="roof",
    among=None,
    shares=None,
    area=None,
    system="US",
    wet=False,
):
    """Compare fans on the duties of all states: a `Selection`.

    flow: at the fan, m3/s; pressure: fan static pressure needed, Pa, any sign; density: of the gas there, kg/m3;
    temperature: of the gas there, K; arrays (states,) that broadcast. cold_density: of the coldest air at start-up,
    kg/m3. kind: "roof" or "in-line", or None for both; among: fans to choose from, those of data/draft/fans.csv if left
    out. shares: of the time, array (states,), all alike if left out. area: of the vent's section, m2; where given, an
    in-line fan with another outlet is asked for the static pressure that adds the same total pressure. system: "US"
    or "SI", of the sentences. wet: whether water condenses from the gas where the fan stands.

    Ruled out is a fan that falls short in any state, whose gas is too hot, whose motor is too weak, or that may not be
    wet and would be. Of those that
    fit, first come the ones with a tenth of speed to spare, then those with the fewest states under their least speed
    or left of their stall limit, then the smallest. Raises ValueError where there is no state or no fan. Source: fan
    laws.
    """
    flow, pressure, density, temperature = np.broadcast_arrays(
        *map(np.atleast_1d, (flow, pressure, density, temperature))
    )
    if kind is not None and kind not in KINDS:
        raise ValueError(f"kind of fan {kind!r}: choose {' or '.join(KINDS)}, or None for both")
    among = [fan(name) for name in names()] if among is None else among
    among = [each for each in among if kind in (None, each.kind)]
    if not flow.size or not among:
        raise ValueError("nothing to select: give at least one state and one fan of that kind")
    weights = np.broadcast_to(1.0 if shares is None else shares, flow.shape)
    duties = (flow, pressure, density, temperature, weights / weights.sum())
    found = [_candidate(each, duties, float(cold_density), area, bool(wet), system) for each in among]
    fitting = sorted((c for c in found if c.fits), key=_rank)
    rejected = sorted(
        (c for c in found if not c.fits),
        key=lambda c: (len(c.faults), float((c.excess < 0.0).sum()), -float(c.excess.min())),
    )
    return Selection(tuple(fitting), tuple(rejected))


def _rank(candidate: Candidate):
    unsteady = int((candidate.slow | candidate.stalled).sum())
    return candidate.margin < LEAST_MARGIN, unsteady, candidate.fan.outlet_diameter.m_as("m")


def _candidate(fan: Fan, duties: Sequence[np.ndarray], cold_density: float, area, wet: bool, system: str) -> Candidate:
    flow, pressure, density, temperature, weights = duties
    if area is not None and fan.kind == "in-line":
        pressure = pressure + friction.velocity_head.bare(density, flow / area) - own_head(fan, flow, density, area)
    needed = speed_for.bare(fan, flow, pressure, density)
    turning = np.where(np.isnan(needed), fan.most_speed, needed)
    speed = np.where(turning > 0.0, np.maximum(turning, fan.least_speed), 0.0)
    power = shaft_power.bare(fan, flow, speed, density)
    bare = Candidate(
        fan=fan,
        wanted=pressure,
        needed=needed,
        speed=speed,
        excess=static_pressure.bare(fan, flow, speed, density) - pressure,
        power=power,
        stalled=stalled.bare(fan, flow, speed),
        cold_power=float(np.max(power * np.maximum(cold_density / density, 1.0))),
        mean_power=float((power * weights).sum()),
        faults=(),
        cautions=(),
        merits=(),
    )
    said = _Sentences(bare, flow, density, temperature, cold_density, system, wet)
    return replace(bare, faults=said.faults(), cautions=said.cautions(), merits=said.merits())


def power_text(watts: float, system: str = "US") -> str:
    """A power at a shaft as the trade writes it: horsepower or watts."""
    if system == "US":
        return f"{float(Q_(watts, 'W').m_as('horsepower')):.3g} hp"
    return f"{watts:.0f} W"


@dataclass(frozen=True, eq=False)
class _Sentences:
    """What is said of a candidate, with the numbers."""

    of: Candidate
    flow: np.ndarray
    density: np.ndarray
    temperature: np.ndarray
    cold_density: float
    system: str
    wet: bool

    def show(self, value: float, unit: str) -> str:
        return show(Q_(float(value), unit), self.system)

    @property
    def motor(self) -> float:
        fan = self.of.fan
        return float(fan.motor_power.m_as("W")) * fan.abreast * fan.stages

    def faults(self) -> tuple[str, ...]:
        c, found = self.of, []
        short = np.isnan(c.needed)
        if short.any():
            k = int(np.argmin(np.where(short, c.excess, 0.0)))
            flow, free = self.flow[k], c.fan.abreast * c.fan.free_flow * c.fan.most_speed
            makes = f"its highest speed makes {self.show(c.wanted[k] + c.excess[k], 'Pa')}"
            if flow > free:
                makes = f"it is past all that its highest speed moves, {self.show(free, 'm**3/s')},"
            found.append(
                f"Falls short in {short.sum()} of {short.size} states: at {self.show(flow, 'm**3/s')} {makes} where "
                f"{self.show(c.wanted[k], 'Pa')} is needed."
            )
        hottest = float(self.temperature.max())
        if hottest > c.fan.highest_temperature.m_as("K"):
            allowed = show(c.fan.highest_temperature, self.system)
            found.append(f"Gas of {self.show(hottest, 'K')} is hotter than it may be: {allowed}.")
        most = float(c.power.max())
        if self.wet and not c.fan.condensate:
            found.append("Water condenses from the gas there, and it is not made to be wet.")
        if most > self.motor:
            found.append(f"Needs {self.power(most)} at the shaft; its motor gives {self.power(self.motor)}.")
        return tuple(found)

    def cautions(self) -> tuple[str, ...]:
        c, states, found = self.of, self.flow.size, []
        if 0.0 <= c.margin < LEAST_MARGIN:
            found.append(f"Only {c.margin:.0%} of speed to spare.")
        if c.slow.any():
            k = int(np.argmax(np.where(c.slow, c.excess, -np.inf)))
            found.append(
                f"In {c.slow.sum()} of {states} states it should turn more slowly than its least speed, "
                f"{c.fan.least_speed:.0%}; there it makes up to {self.show(c.excess[k], 'Pa')} too much, or cycles."
            )
        standing = c.needed == 0.0
        if standing.any():
            over = float(np.where(standing, c.excess, 0.0).max())
            found.append(
                f"In {standing.sum()} of {states} states the draft is too strong even past the stopped impeller, by "
                f"up to {self.show(over, 'Pa')}: no fan holds that back, a damper does."
            )
        if c.stalled.any():
            found.append(f"Works left of its stall limit in {c.stalled.sum()} of {states} states: the pressure wavers.")
        if c.cold_power > self.motor:
            limit = float(motor_speed_limit.bare(c.fan, self.cold_density))
            found.append(
                f"In cold air the same speed takes {self.power(c.cold_power)}, its motor gives "
                f"{self.power(self.motor)}: limit the speed to {limit:.0%} until the gas is warm."
            )
        standstill = float(np.max(-static_pressure.bare(c.fan, self.flow, 0.0, self.density)))
        found.append(f"Stopped, or failed, its impeller takes up to {self.show(standstill, 'Pa')} of the draft.")
        fastest = float(discharge_velocity.bare(c.fan, self.flow).max())
        if fastest > HEARD:
            found.append(f"Blows out at {self.show(fastest, 'm/s')}: it may be heard nearby.")
        return tuple(found)

    def merits(self) -> tuple[str, ...]:
        c = self.of
        if c.faults or np.isnan(c.needed).any() or not c.needed.any():
            return ()
        top = float(c.needed.max())
        return (
            f"Holds the hardest state at {top:.0%} of its rated speed ({c.fan.revolutions(top)}), with "
            f"{c.margin:.0%} to spare.",
            f"Takes {self.power(float(c.power.max()))} at most, {self.power(c.mean_power)} in the mean; in cold air "
            f"{self.power(c.cold_power)} of a motor of {self.power(self.motor)}.",
        )

    def power(self, watts: float) -> str:
        return power_text(watts, self.system)
