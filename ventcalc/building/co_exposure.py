"""CO exposure: one case of flue gas that goes into a room for hours, judged by limits, alarms and blood.

Limits, alarms and the uptake are for healthy adults; nothing here is a reason to stay.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ventcalc.building.co_alarms import AlarmBand, alarm_band, alarm_standards
from ventcalc.building.co_buildup import history
from ventcalc.building.co_limits import Judged, judge_limit, limits
from ventcalc.building.code_rules import FAIL
from ventcalc.building.cohb import ALARM_COHB, judged_cohb, person
from ventcalc.building.spillage import spilled
from ventcalc.door import door
from ventcalc.gas.combustion import Products
from ventcalc.units import Q_, Quantity, magnitude, ureg

ROOM = "boiler room"


@dataclass(frozen=True)
class Neighbor:
    """A room beside the boiler room: ``exchange`` [volume flow] of air changes places with it; its own outdoor air."""

    name: str
    volume: Quantity
    air_changes: Quantity
    exchange: Quantity

    def __post_init__(self):
        _refuse_negative(
            self,
            f"neighbor {self.name!r}",
            {"volume": "m**3", "air_changes": "1/s", "exchange": "m**3/s"},
            above=("volume",),
        )


@dataclass(frozen=True)
class COCase:
    """What a room must stand: flue gas gets into it for some hours.

    ``room_volume``; ``air_changes`` (outdoor air of any origin, volumes a time); ``co_air_free`` ppm in the dry flue
    gas; ``hours`` it goes on; ``initial`` and ``outdoor`` ppm; ``room_temperature``; ``monitor`` ppm at which the
    burners are stopped after ``monitor_delay`` (None: nothing stops them) and spill with them; who is there does
    ``activity``; ``neighbor`` room, or None. Raises ValueError or `UnitsError` naming the field, its value and what
    is valid.
    """

    room_volume: Quantity
    air_changes: Quantity
    co_air_free: Quantity
    hours: Quantity = Q_(8.0, "hour")
    initial: Quantity = Q_(0.0, "ppm")
    outdoor: Quantity = Q_(0.0, "ppm")
    room_temperature: Quantity = Q_(20.0, "degC")
    monitor: Quantity | None = None
    monitor_delay: Quantity = Q_(0.0, "minute")
    activity: str = "light work"
    neighbor: Neighbor | None = None

    def __post_init__(self):
        units = {"room_volume": "m**3", "air_changes": "1/s", "co_air_free": "ppm", "hours": "s", "initial": "ppm"}
        units |= {"outdoor": "ppm", "room_temperature": "K", "monitor_delay": "s"}
        units |= {} if self.monitor is None else {"monitor": "ppm"}
        _refuse_negative(self, "CO case", units, above=("room_volume", "hours", "room_temperature", "monitor"))
        if self.hours > Q_(MOST_HOURS, "hour"):
            raise ValueError(f"CO case: hours = {self.hours:~P}; a history is worked for at most {MOST_HOURS:g} h")
        if self.co_air_free > Q_(1e6, "ppm"):
            raise ValueError(f"CO case: co_air_free = {self.co_air_free:~P} is more than all of the gas")
        person(self.activity)

    @property
    def rooms(self) -> tuple[str, ...]:
        """Names of the rooms, the boiler room first."""
        return (ROOM,) if self.neighbor is None else (ROOM, self.neighbor.name)


MOST_HOURS = 72.0


def _refuse_negative(case: Any, name: str, units: Mapping[str, str], above: tuple[str, ...]) -> None:
    """Refuse a field of a wrong unit, or one that is negative (or zero, where it is named in ``above``)."""
    for field, unit in units.items():
        value = magnitude(getattr(case, field), ureg.Unit(unit), f"{name}: {field}")
        if not np.isfinite(value) or value < 0.0 or (field in above and value == 0.0):
            words = "above 0" if field in above else "0 or more"
            raise ValueError(f"{name}: {field} = {getattr(case, field):~P} must be {words}")


@dataclass(frozen=True, eq=False)  # arrays do not compare as one value
class Exposure:
    """A judged case, plain SI; infinite times mean never.

    ``times`` [s]; ``co`` [ppm] and ``blood`` [share of COHb at the case's activity, `judged_cohb`] (rooms, times);
    ``judged`` limit by limit and room by room; ``alarms`` of every standard per room; ``heavy`` [s] when someone at
    heavy work would carry 10 % COHb, per room; ``steady`` [ppm] where each room would end, unstopped (1e6 where it
    would not); ``stopped`` [s] when the monitor stopped the burners; ``spill`` [kg/s], its ``flow`` [m3/s] and
    ``flow_co`` [ppm].
    """

    case: COCase
    times: np.ndarray
    co: np.ndarray
    blood: np.ndarray
    judged: tuple[Judged, ...]
    alarms: tuple[tuple[AlarmBand, ...], ...]
    heavy: tuple[float, ...]
    steady: tuple[float, ...]
    stopped: float
    spill: float
    flow: float
    flow_co: float

    @property
    def failed(self) -> tuple[Judged, ...]:
        """Limits that were passed, the boiler room's first."""
        return tuple(j for j in self.judged if j.verdict == FAIL)

    @property
    def harmful(self) -> tuple[Judged, ...]:
        """Those of them at which people come to harm, not guidelines of air alone."""
        return tuple(j for j in self.failed if j.limit.weight == "harm")


STEPS = 480  # of a history at least; a step is a minute at most


@door(spill="kg/s", pressure="Pa", plain={"burnt": ""}, at_least={"spill": 0.0, "burnt": 0.0}, above={"pressure": 0.0})
def judge(case: COCase, spill: Quantity, products: Products, pressure: Quantity, burnt: float = 1.0) -> Exposure:
    """What ``spill`` [mass flow] of flue gas into the boiler room leads to, against every limit.

    products: of the fuel and excess air that burn (`combustion.products`); pressure: absolute, of the place; burnt:
    mole share of flue gas in what comes (`burnt_share`); 1 counts all of it as flue gas, which errs on the high side.
    Only outdoor air takes carbon monoxide away (`co_buildup`): burners in the room breathe it and send it back.
    """
    flow, flow_co = spilled(spill, products, case.co_air_free, case.room_temperature, pressure, burnt)
    flow, flow_co = float(flow.m_as("m**3/s")), float(flow_co.m_as("ppm"))
    times = _times(case)
    co, steady, stopped = _histories(case, times, flow, flow_co)
    before = float(case.initial.m_as("ppm"))
    rooms = list(zip(case.rooms, co, strict=True))
    absolute = float(pressure.m_as("Pa"))
    heavy = judged_cohb(times, co, person("heavy work"), absolute)
    return Exposure(
        case=case,
        times=times,
        co=co,
        blood=judged_cohb(times, co, person(case.activity), absolute),
        judged=tuple(judge_limit(name, limit, times, c, before) for name, c in rooms for limit in limits()),
        alarms=tuple(tuple(alarm_band(times, c, standard) for standard in alarm_standards()) for c in co),
        heavy=tuple(first_above(times, x, ALARM_COHB) for x in heavy),
        steady=tuple(float(c) for c in steady),
        stopped=stopped,
        spill=float(spill.m_as("kg/s")),
        flow=flow,
        flow_co=flow_co,
    )


def _times(case: COCase) -> np.ndarray:
    end = float(case.hours.m_as("s"))
    return np.linspace(0.0, end, max(STEPS, int(np.ceil(end / 60.0))) + 1)


def _own_air(case: COCase) -> np.ndarray:
    """Outdoor air of each room [m3/s]."""
    pairs = [(case.room_volume, case.air_changes)]
    pairs += [] if case.neighbor is None else [(case.neighbor.volume, case.neighbor.air_changes)]
    return np.array([float((volume * changes).m_as("m**3/s")) for volume, changes in pairs])


def _histories(case: COCase, times, flow: float, flow_co: float):
    """Concentrations (rooms, times), where they would end, and when the monitor stopped the burners."""
    beside = case.neighbor
    volumes = np.array([v.m_as("m**3") for v in (case.room_volume, *([beside.volume] if beside else []))])
    exchange = np.zeros((len(volumes), len(volumes)))
    if beside:
        exchange[0, 1] = exchange[1, 0] = float(beside.exchange.m_as("m**3/s"))
    spill = np.zeros((1, len(volumes)))
    spill[0, 0] = flow
    around = (float(case.initial.m_as("ppm")), float(case.outdoor.m_as("ppm")))

    def through(times, starts, spills):
        return history.bare(times, starts, volumes, _own_air(case), exchange, spills, flow_co, *around)

    co, steady = through(times, 0.0, spill), through(np.array([_FOREVER]), 0.0, spill)[:, 0]
    if case.monitor is None:
        return co, steady, np.inf
    stopped = first_above(times, co[0], float(case.monitor.m_as("ppm"))) + float(case.monitor_delay.m_as("s"))
    if stopped == 0.0:
        co = through(times, 0.0, 0.0 * spill)
    elif stopped < times[-1]:
        co = through(times, np.array([0.0, stopped]), np.vstack([spill, 0.0 * spill]))
    return co, steady, stopped if stopped < times[-1] else np.inf


_FOREVER = 1e9  # s


def first_above(times, values, level: float) -> float:
    """When a history first comes to a level, between its times by a straight line; infinite where it never does."""
    at = int(np.argmax(values >= level))
    if values[at] < level:
        return np.inf
    return float(np.interp(level, values[at - 1 : at + 1], times[at - 1 : at + 1])) if at else float(times[0])
