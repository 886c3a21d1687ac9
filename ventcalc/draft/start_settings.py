"""Start settings: what a vent's sequencer is set to, how the plant answers, and how limits follow the set point."""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from ventcalc import tables
from ventcalc.door import door
from ventcalc.draft.purge import purge_time
from ventcalc.units import Q_, Quantity, parse

ROWS = {row["name"]: row for row in tables.read("start_sequence")}


@dataclass(frozen=True)
class Burner:
    """An appliance on the vent: volume of its combustion ``chamber``, its ``purge_flow``, and the codes that
    `states.States` has for its purge, low and high fire.

    One without a blower, a draft hood's, has no purge_flow (None). It stands in the interlock all the same: it waits
    for its release, and for the shortest purge time with draft proved, before it lights.
    """

    name: str
    chamber: Quantity
    purge_flow: Quantity | None
    codes: tuple[float, float, float] = (1.0, 2.0, 3.0)

    def __post_init__(self):
        if self.purge_flow is not None:
            purge_time(self.chamber, self.purge_flow, 1.0)  # refuses what cannot be, by name
        purge, low, high = self.codes
        if not 0.0 <= purge < low <= high:
            raise ValueError(f"{self.name}: codes {self.codes} must rise from purge (0 where it has none) to high")

    @property
    def purges(self) -> bool:
        """Whether it has a blower to purge with."""
        return self.purge_flow is not None

    @property
    def turns_down(self) -> bool:
        """Whether it has a low fire, and does not only burn or not."""
        return self.codes[1] < self.codes[2]


# Limits stay where they usually are, unless the set point is nearer to one than this; then both move with it.
LEAST_DISTANCE = Q_(0.02, "inH2O")  # common practice, no source
# A sensor reads as far beyond a limit, and has one of the ranges that are sold (common practice, no source), inH2O.
SENSOR_RANGES = (0.1, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 25.0)


@door(set_point="Pa")
def beside(usual: "Settings", set_point: Quantity) -> dict[str, Quantity]:
    """Proof, limits and ends of the sensor that fit a set point; draft counts as proved at the usual share of it.

    Proof stays below the high limit by `LEAST_DISTANCE`, or by half the way from set point to limit where that is less.
    """
    share = float((usual.proof / usual.set_point).m_as(""))
    proof = share * set_point if set_point.m < 0.0 else set_point + (usual.proof - usual.set_point)
    inside = usual.low_limit + LEAST_DISTANCE <= set_point <= usual.high_limit - LEAST_DISTANCE
    by = 0.0 * set_point if inside else set_point - usual.set_point
    low, high = usual.low_limit + by, usual.high_limit + by
    return {
        "proof": min(proof, max(high - LEAST_DISTANCE, 0.5 * (set_point + high))),
        "low_limit": low,
        "high_limit": high,
        "sensor_least": min(usual.sensor_least, -sensor_end(LEAST_DISTANCE - low)),
        "sensor_most": max(usual.sensor_most, sensor_end(high + LEAST_DISTANCE)),
    }


@door(needed="Pa")
def sensor_end(needed: Quantity) -> Quantity:
    """The smallest end of a range that is sold which reaches as far."""
    return Q_(next((r for r in SENSOR_RANGES if r >= needed.m_as("inH2O")), SENSOR_RANGES[-1]), "inH2O")


def usual_setting(name: str, column: str = "value") -> Quantity:
    """The usual value of a setting, or its ``least`` or ``most``, from ``data/draft/start_sequence.csv``."""
    row = ROWS[name]
    return parse(f"{row[column]} {row['unit']}")


@dataclass(frozen=True)
class Settings:
    """What a vent's sequencer is set to, and how the plant answers; usual values from
    ``data/draft/start_sequence.csv``.

    That table says of every one what it is for, which range is accepted and where it comes from. Raises ValueError
    where one is outside its range, or where they do not fit together, all at once; `UnitsError` for a wrong unit.
    """

    burners: tuple[Burner, ...]
    set_point: Quantity = usual_setting("set_point")
    proof: Quantity = usual_setting("proof")
    high_limit: Quantity = usual_setting("high_limit")
    low_limit: Quantity = usual_setting("low_limit")
    high_delay: Quantity = usual_setting("high_delay")
    low_delay: Quantity = usual_setting("low_delay")
    proof_delay: Quantity = usual_setting("proof_delay")
    fan_delay: Quantity = usual_setting("fan_delay")
    damper_delay: Quantity = usual_setting("damper_delay")
    sensor_delay: Quantity = usual_setting("sensor_delay")
    sensor_least: Quantity = usual_setting("sensor_least")
    sensor_most: Quantity = usual_setting("sensor_most")
    frozen_after: Quantity = usual_setting("frozen_after")
    start_limit: Quantity = usual_setting("start_limit")
    proof_limit: Quantity = usual_setting("proof_limit")
    proof_time: Quantity = usual_setting("proof_time")
    stagger: Quantity = usual_setting("stagger")
    changes: Quantity = usual_setting("changes")
    least_purge: Quantity = usual_setting("least_purge")
    vent_volume: Quantity = usual_setting("vent_volume")
    pilot_trial: Quantity = usual_setting("pilot_trial")
    main_trial: Quantity = usual_setting("main_trial")
    flame_response: Quantity = usual_setting("flame_response")
    post_purge: Quantity = usual_setting("post_purge")
    filter: Quantity = usual_setting("filter")
    gain: Quantity = usual_setting("gain")
    integral_time: Quantity = usual_setting("integral_time")
    fan_start: Quantity = usual_setting("fan_start")
    damper_travel: Quantity = usual_setting("damper_travel")
    blower: Quantity = usual_setting("blower")
    pilot_light: Quantity = usual_setting("pilot_light")
    main_light: Quantity = usual_setting("main_light")
    low_fire: Quantity = usual_setting("low_fire")
    modulation: Quantity = usual_setting("modulation")

    def __post_init__(self):
        names = [b.name for b in self.burners]
        if not names or len(set(names)) < len(names):
            raise ValueError(f"burners {', '.join(names) or '(none)'}: give at least one, each with a name of its own")
        problems = [p for name in ROWS if (p := _outside(name, getattr(self, name)))] or _misfits(self)
        if problems:
            raise ValueError("; ".join(problems))

    def seconds(self, name: str) -> float:
        """One of the times as a plain number of seconds."""
        return self._seconds[name]

    @cached_property
    def _seconds(self) -> dict[str, float]:
        times = {name: getattr(self, name) for name in ROWS}
        return {name: float(time.m_as("s")) for name, time in times.items() if time.is_compatible_with("s")}

    def purge(self, burner: Burner) -> Quantity:
        """Purge time of a burner: the volume changes of its chamber, and of the vent where set, not below the least.

        The least where it has no blower to purge with.
        """
        if burner.purge_flow is None:
            return self.least_purge.to("s")
        time = purge_time(burner.chamber + self.vent_volume, burner.purge_flow, self.changes)
        return max(time, self.least_purge.to("s"))


def _outside(name: str, value: Quantity) -> str | None:
    least, most = (usual_setting(name, column) for column in ("least", "most"))
    if not isinstance(value, Quantity) or not value.is_compatible_with(least.units):
        return f"{name} {value!r}: needs a quantity such as {usual_setting(name):~P}"
    if not least <= value <= most:
        return f"{name} = {value:~P}: must be {least:~P} to {most:~P}"
    return None


def _misfits(s: Settings) -> list[str]:
    """Where settings do not fit together, one sentence each."""
    in_order = ("sensor_least", "low_limit", "set_point", "proof", "high_limit", "sensor_most")
    problems = [
        f"{low} = {getattr(s, low):~P} must be below {high} = {getattr(s, high):~P}"
        for low, high in pairwise(in_order)
        if not getattr(s, low) < getattr(s, high)
    ]
    for needs, limit, else_ in (
        ("fan_start", "start_limit", "every start would trip"),
        ("damper_travel", "proof_limit", "every start would trip"),
        ("pilot_light", "pilot_trial", "every trial would trip"),
        ("main_light", "main_trial", "every trial would trip"),
        ("filter", "integral_time", "the control would hunt"),
    ):
        if not getattr(s, needs) < getattr(s, limit):
            values = f"{needs} = {getattr(s, needs):~P} must be below {limit} = {getattr(s, limit):~P}"
            problems.append(f"{values}, or {else_}")
    return problems
