"""Fan selection: fans compared on the duties of all states, with what rules one out and what speaks for it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from ventcalc.draft.fan_curve import KINDS, Fan, discharge_velocity, shaft_power, speed_for, static_pressure
from ventcalc.draft.fan_drive import own_head
from ventcalc.draft.fan_laws import LAWS
from ventcalc.draft.fan_limits import motor_speed_limit, stalled, too_slow
from ventcalc.draft.fan_table import fan, names
from ventcalc.flow import friction
from ventcalc.units import Q_, quantities
from ventcalc.words import Remark

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
    ``merits`` speak for it.
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
    faults: tuple[Remark, ...]
    cautions: tuple[Remark, ...]
    merits: tuple[Remark, ...]

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
    def verdict(self) -> Remark:
        """What came of it."""
        count = len(self.fitting) + len(self.rejected)
        if not self.fitting:
            return _said("none_fits", count=count)
        return _said("some_fit", fitting=len(self.fitting), count=count, first=self.fitting[0].fan.name)


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
    shapes={"cold_density": "one", "area": "one"},
    allow={"return": "nan"},
    source=LAWS + "; ranking: common practice, no source",
)
# Ten arguments: the columns of a table of duties, each with its unit, and what is looked for.
def select(
    flow,
    pressure,
    density,
    temperature,
    cold_density,
    kind: str | None = "roof",
    among: Sequence[Fan] | None = None,
    shares=None,
    area=None,
    wet: bool = False,
):
    """Compare fans on the duties of all states: a `Selection`.

    flow: at the fan, m3/s; pressure: fan static pressure needed, Pa, any sign; density: of the gas there, kg/m3;
    temperature: of the gas there, K; arrays (states,) that broadcast. cold_density: of the coldest air at start-up,
    kg/m3. kind: "roof" or "in-line", or None for both; among: fans to choose from, those of data/draft/fans.csv if left
    out. shares: of the time, array (states,), all alike if left out. area: of the vent's section, m2; where given, an
    in-line fan with another outlet is asked for the static pressure that adds the same total pressure. wet: whether
    water condenses from the gas where the fan stands.

    Ruled out is a fan that falls short in any state, whose gas is too hot, whose motor is too weak, or that may not be
    wet and would be. Of those that fit, first come the ones with a tenth of speed to spare, then those with the fewest
    states under their least speed or left of their stall limit, then the smallest. Raises ValueError where there is no
    state or no fan. Source: fan laws.
    """
    flow, pressure, density, temperature = np.broadcast_arrays(
        *map(np.atleast_1d, (flow, pressure, density, temperature))
    )
    if kind is not None and kind not in KINDS:
        raise ValueError(f"kind of fan {kind!r}: choose {' or '.join(KINDS)}, or None for both")
    among = [fan(name) for name in names()] if among is None else among
    among = [each for each in among if kind in (None, each.kind)]
    if not flow.size or not among:
        raise ValueError("nothing to select: give at least one state, and among at least one fan of that kind")
    if shares is not None and not np.any(shares > 0.0):
        raise ValueError("shares are all 0: at least one state must have some")
    weights = np.broadcast_to(1.0 if shares is None else shares, flow.shape)
    duties = _Duties(flow, pressure, density, temperature, weights / weights.sum(), float(cold_density), bool(wet))
    found = [_candidate(each, duties, area) for each in among]
    fitting = sorted((c for c in found if c.fits), key=_rank)
    rejected = sorted(
        (c for c in found if not c.fits),
        key=lambda c: (len(c.faults), int(np.isnan(c.needed).sum()), -float(c.excess.min())),
    )
    return Selection(tuple(fitting), tuple(rejected))


def _rank(candidate: Candidate):
    unsteady = int((candidate.slow | candidate.stalled).sum())
    return candidate.margin < LEAST_MARGIN, unsteady, candidate.fan.outlet_diameter.m_as("m")


class _Duties(NamedTuple):
    """What is asked in every state, plain SI, with the ``shares`` of the states; of all, the densest air at start-up
    and whether the fan stands in water."""

    flow: np.ndarray
    pressure: np.ndarray
    density: np.ndarray
    temperature: np.ndarray
    shares: np.ndarray
    cold_density: float
    wet: bool


def _candidate(fan: Fan, duties: _Duties, area) -> Candidate:
    flow, pressure, density = duties.flow, duties.pressure, duties.density
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
        cold_power=float(np.max(power * np.maximum(duties.cold_density / density, 1.0))),
        mean_power=float((power * duties.shares).sum()),
        faults=(),
        cautions=(),
        merits=(),
    )
    faults = tuple(_faults(bare, duties))
    cautions = (*_of_control(bare, duties), *_of_operation(bare, duties))
    return replace(bare, faults=faults, cautions=cautions, merits=() if faults else _merits(bare))


# --- What is said of a candidate ------------------------------------------------------------------------------


@dataclass(frozen=True)
class ShaftPower:
    """A power at a shaft in ``watts``, as a figure of a sentence."""

    watts: float

    def words(self, system: str = "US") -> str:
        """As `power_text`."""
        return power_text(self.watts, system)


def power_text(watts: float, system: str = "US") -> str:
    """A power at a shaft as the trade writes it: horsepower or watts."""
    if system == "US":
        return f"{float(Q_(watts, 'W').m_as('horsepower')):.3g} hp"
    return f"{watts:.0f} W"


def _said(code: str, **figures) -> Remark:
    return Remark("draft", "fan_selection", code, figures)


def _motor(fan: Fan) -> float:
    """What the motors of all its fans give [W]."""
    return float(fan.motor_power.m_as("W")) * fan.abreast * fan.stages


def _faults(c: Candidate, duties: _Duties) -> Iterator[Remark]:
    """What rules a candidate out."""
    short = np.isnan(c.needed)
    if short.any():
        yield _falls_short(c, duties, short)
    hottest, most = float(duties.temperature.max()), float(c.power.max())
    if hottest > c.fan.highest_temperature.m_as("K"):
        yield _said("too_hot", gas=Q_(hottest, "K"), allowed=c.fan.highest_temperature)
    if duties.wet and not c.fan.condensate:
        yield _said("may_not_be_wet")
    if most > _motor(c.fan):
        yield _said("motor_too_weak", power=ShaftPower(most), motor=ShaftPower(_motor(c.fan)))


def _falls_short(c: Candidate, duties: _Duties, short: np.ndarray) -> Remark:
    """Where it is farthest from what is needed, and whether it moves so much at all."""
    k = int(np.argmin(np.where(short, c.excess, 0.0)))
    flow, free = float(duties.flow[k]), c.fan.abreast * c.fan.free_flow * c.fan.most_speed
    return _said(
        "past_free_flow" if flow > free else "falls_short",
        short=int(short.sum()),
        states=short.size,
        flow=Q_(flow, "m**3/s"),
        free=Q_(free, "m**3/s"),
        makes=Q_(float(c.wanted[k] + c.excess[k]), "Pa"),
        needed=Q_(float(c.wanted[k]), "Pa"),
    )


def _of_control(c: Candidate, duties: _Duties) -> Iterator[Remark]:
    """How far it can be turned up and down to what is needed."""
    states = duties.flow.size
    if 0.0 <= c.margin < LEAST_MARGIN:
        yield _said("little_to_spare", margin=c.margin)
    if c.slow.any():
        excess = float(np.where(c.slow, c.excess, -np.inf).max())
        yield _said("too_slow", slow=int(c.slow.sum()), states=states, least=c.fan.least_speed, excess=Q_(excess, "Pa"))
    standing = c.needed == 0.0
    if standing.any():
        over = float(np.where(standing, c.excess, 0.0).max())
        yield _said("too_much_draft", standing=int(standing.sum()), states=states, over=Q_(over, "Pa"))


def _of_operation(c: Candidate, duties: _Duties) -> Iterator[Remark]:
    """What to expect of it while it runs, and when it stops."""
    if c.stalled.any():
        yield _said("stalls", stalled=int(c.stalled.sum()), states=duties.flow.size)
    if c.cold_power > _motor(c.fan):
        limit = float(motor_speed_limit.bare(c.fan, duties.cold_density))
        yield _said("cold_start", power=ShaftPower(c.cold_power), motor=ShaftPower(_motor(c.fan)), limit=limit)
    standstill = float(np.max(-static_pressure.bare(c.fan, duties.flow, 0.0, duties.density)))
    yield _said("standstill", taken=Q_(standstill, "Pa"))
    fastest = float(discharge_velocity.bare(c.fan, duties.flow).max())
    if fastest > HEARD:
        yield _said("heard", velocity=Q_(fastest, "m/s"))


def _merits(c: Candidate) -> tuple[Remark, ...]:
    """What speaks for one without faults."""
    if np.isnan(c.needed).any() or not c.needed.any():
        return ()
    top = float(c.needed.max())
    return (
        _said("holds", speed=top, revolutions=c.fan.revolutions(top), margin=c.margin),
        _said(
            "takes",
            most=ShaftPower(float(c.power.max())),
            mean=ShaftPower(c.mean_power),
            cold=ShaftPower(c.cold_power),
            motor=ShaftPower(_motor(c.fan)),
        ),
    )
