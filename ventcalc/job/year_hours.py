"""Year hours: every hour of a weather as states of a vent to be solved, what is alike solved once.

An hour is up to three things: its burners burning, for a share of it; the rest, while those that cycle stand; and its
coldest start. Each is solved with the walls as cold as the hours before have left them (`wall_memory`), in wind both
against the vent and with it where the plant tells how its building stands. An hour's weather is taken as that of its
class: outdoors to `TEMPERATURE_STEP`, moisture to `MOISTURE_STEP`, the head of wind to `WIND_STEP`, walls to
`COLD_STEP`; so hours of one class with one load are one state. What that costs is tested: within half of each step, to
either side alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from ventcalc.building.weather import Weather
from ventcalc.draft import wall_lag
from ventcalc.flow import wind
from ventcalc.gas import atmosphere
from ventcalc.job import plant_load, staging, wall_memory
from ventcalc.job.plant_load import LoadPlan
from ventcalc.job.staging import Firing, StagingPlan
from ventcalc.job.wall_memory import Coldness
from ventcalc.units import Q_, Quantity
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Itself, PlaceAir, Season
from ventcalc.vent.states import States

# Widths of the classes of weather and of walls. Half of the first moves the draft of a 30 m stack by 0.6 Pa, half of
# the second the dew point by 0.1 K; half of the third, a share of the head of a wind of 10 m/s, is 0.75 Pa.
TEMPERATURE_STEP, MOISTURE_STEP, WIND_STEP, COLD_STEP = 1.0, 0.001, 0.025, 0.02  # K, kg/kg of dry air, ratios
RUNNING, RESTING, STARTING = range(3)  # what of an hour a state is
_WIND = 10.0  # m/s, of every class; `States.windy` scales its head


@dataclass(frozen=True)
class YearPlan:
    """What a year is worked with: a ``climate`` where no weather is given, ``terrain`` around the building, load and
    staging."""

    climate: str
    terrain: str
    load: LoadPlan
    staging: StagingPlan


@dataclass(frozen=True, eq=False)
class Hours:
    """The hours of a ``weather`` on a ``plant``, and the ``states`` in which they are solved.

    ``load`` [W] of every hour, ``firing`` what the burners do and ``coldness`` of the walls. ``at`` (kinds, cases of
    wind, hours) is the column of ``states`` of each of `RUNNING`, `RESTING`, `STARTING`, in calm twice the same;
    ``share`` (kinds, hours) of the hour that it takes: a start takes none. ``starts`` is how many an hour has.
    """

    plant: Plant
    weather: Weather
    plan: YearPlan
    seasons: tuple[Season, ...]
    load: np.ndarray
    firing: Firing
    coldness: Coldness
    states: States
    at: np.ndarray
    share: np.ndarray
    starts: np.ndarray

    def __len__(self) -> int:
        return len(self.weather)

    @cached_property
    def outdoor_vapor(self) -> np.ndarray:
        """Mole fraction of water in the outdoor air of every hour, as it is and not of its class."""
        w = self.weather
        return atmosphere.water_vapor_fraction.bare(w.temperature, w.humidity, self.barometric)

    @property
    def barometric(self) -> float:
        """Barometer [Pa] at the plant's altitude."""
        return _barometric(self.plant)


def _barometric(plant: Plant) -> float:
    return float(atmosphere.standard_pressure.bare(plant.altitude.m_as("m")))


def hours(plant: Plant, seasons: Sequence[Season], plan: YearPlan, weather: Weather) -> Hours:
    """The hours of a weather on a plant; ``seasons`` of the job tell what its rooms are like by outdoor temperature.

    Between two seasons the air of a room follows a straight line in outdoor temperature, beyond them it is as at the
    nearer; of seasons with one outdoor temperature that counts whose rooms are under the least pressure. The station's
    wind is carried to the top of the vent (`wind.wind_at_height`).
    """
    return _hours(plant, Itself(seasons), Itself(plan), Itself(weather))


@lru_cache(maxsize=2)  # a year is solved on one design after another
def _hours(plant: Plant, *given: Itself) -> Hours:
    seasons, plan, weather = (own.it for own in given)
    classes, of_hour = _classes(plant, weather)
    made = _seasons(seasons, _barometric(plant), *classes)
    outdoor = classes[0, of_hour]
    in_full = plant_load.in_full(plan.load, weather)
    load = plant_load.load(plan.load, outdoor, in_full)
    firing = staging.fire(plant.appliances, plan.staging, load, np.arange(len(weather)))
    coldness = wall_memory.carry(*_walls(plant, firing), firing.share, plan.staging.most_starts)
    top = max(high for _, high in plant.heights.values())
    speed = wind.wind_at_height.bare(weather.wind, top, plan.terrain)
    head = np.round((speed / _WIND) ** 2 / WIND_STEP) * WIND_STEP
    starts = _starts(firing, plan.staging.most_starts)
    states, at = _states(plant, firing, coldness, of_hour, head, starts > 0.0)
    share = np.stack([firing.share, 1.0 - firing.share, np.zeros(len(weather))])
    return Hours(plant, weather, plan, made, load, firing, coldness, states, at, share, starts)


def _classes(plant: Plant, weather: Weather) -> tuple[np.ndarray, np.ndarray]:
    """Classes of weather (outdoor [K] and mole fraction of water; classes), and that of every hour."""
    pressure = _barometric(plant)
    vapor = atmosphere.water_vapor_fraction.bare(weather.temperature, weather.humidity, pressure)
    ratio = _MOLAR_RATIO * vapor / (1.0 - vapor)
    steps = np.stack([np.round(weather.temperature / TEMPERATURE_STEP), np.round(ratio / MOISTURE_STEP)])
    found, of_hour = np.unique(steps, axis=1, return_inverse=True)
    moisture = found[1] * MOISTURE_STEP
    return np.stack([found[0] * TEMPERATURE_STEP, moisture / (_MOLAR_RATIO + moisture)]), of_hour.ravel()


_MOLAR_RATIO = atmosphere.MOLAR_MASS["h2o"] / atmosphere.DRY_AIR_MOLAR_MASS


def _seasons(seasons: Sequence[Season], pressure: float, outdoor: np.ndarray, vapor: np.ndarray) -> tuple[Season, ...]:
    """The seasons of classes of weather."""
    known = _by_outdoor(seasons)
    at = [float(s.outdoor.m_as("K")) for s in known]

    def between(values, unit: str) -> list[Quantity]:
        found = np.interp(outdoor, at, [float(v.m_as(unit)) for v in values])
        return [Q_(float(v), unit) for v in found]

    def air(name: str) -> list[PlaceAir]:
        own = [s.air_of(name) for s in known]
        kelvin, pascal = between([o.temperature for o in own], "K"), between([o.pressure for o in own], "Pa")
        return [PlaceAir(name, t, p) for t, p in zip(kelvin, pascal, strict=True)]

    full = np.asarray(atmosphere.saturation_pressure.bare(outdoor)) / pressure
    places = [air(p.name) for p in known[0].places]
    room, against = between([s.room for s in known], "K"), between([s.room_pressure for s in known], "Pa")
    wind_ = Q_(_WIND, "m/s")
    return tuple(
        Season(
            name="hour of the year",
            outdoor=Q_(float(kelvin), "K"),
            room=room[k],
            room_pressure=against[k],
            wind=wind_,
            relative_humidity=min(float(vapor[k] / full[k]), 1.0),
            places=tuple(place[k] for place in places),
        )
        for k, kelvin in enumerate(outdoor)
    )


def _by_outdoor(seasons: Sequence[Season]) -> list[Season]:
    """The seasons from the coldest, one of each outdoor temperature.

    Of several it is that whose rooms are under the least pressure, such as where an exhaust fan runs, since that is
    what lets flue gas in; of those the one with the coolest room.
    """
    found: dict[float, Season] = {}

    def safe_first(s: Season) -> tuple[float, ...]:
        pressures = [s.room_pressure, *(p.pressure for p in s.places)]
        return min(float(p.m_as("Pa")) for p in pressures), float(s.room_pressure.m_as("Pa")), float(s.room.m_as("K"))

    for s in sorted(seasons, key=safe_first):
        found.setdefault(round(float(s.outdoor.m_as("K")), 6), s)
    return [found[outdoor] for outdoor in sorted(found)]


def _walls(plant: Plant, firing: Firing) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Lag [s] of every wall, and whether a burner's gas passes it in both parts of every hour."""
    names = [a.name for a in plant.appliances]
    serves = np.zeros((len(plant.order), len(names)), bool)
    for k, section in enumerate(plant.order):
        serves[k, [names.index(a.name) for a in plant.serves(section.name)]] = True
    lag = np.array([wall_lag.lag(section) for section in plant.order])
    return lag, *(serves @ (codes > 0.0) for codes in (firing.codes, firing.rest))


def _starts(firing: Firing, most: float) -> np.ndarray:
    """How many times burners start in every hour: those that cycle, and those that did not burn in the hour before."""
    burns, at_rest = firing.codes > 0.0, firing.rest > 0.0
    whole = firing.share >= 1.0
    ended = np.where(whole, burns, at_rest)  # an hour with cycles ends with those that cycle at rest
    before = np.concatenate([np.zeros((len(burns), 1), bool), ended[:, :-1]], axis=1)
    fresh = (burns & ~before & (whole | at_rest)).any(axis=0)
    # A cycle may be longer than an hour; it counts by its share.
    return np.where(whole, fresh.astype(float), np.maximum(wall_memory.cycles(firing.share, most), fresh))


def _states(plant: Plant, firing: Firing, coldness: Coldness, season, head, begins) -> tuple[States, np.ndarray]:
    """The states to solve, each once, and which of them every part of every hour is (kinds, cases, hours)."""
    count = season.size
    cycling = firing.share < 1.0
    codes = np.stack([firing.codes, np.where(cycling, firing.rest, firing.codes), firing.codes])
    cold = np.stack([
        coldness.on, np.where(cycling, coldness.off, coldness.on), np.where(begins, coldness.start, coldness.on)
    ])  # fmt: skip
    cold = np.round(cold / COLD_STEP) * COLD_STEP
    cases = (0, 0) if plant.exposure is None else (1, 2)
    keys = []
    for kind in (RUNNING, RESTING, STARTING):
        for case in cases:
            keys.append(np.vstack([codes[kind], cold[kind], season, head, np.where(head > 0.0, case, 0)]))
    columns, at = np.unique(np.hstack(keys), axis=1, return_inverse=True)
    appliances = len(plant.appliances)
    walls = columns[appliances:-3]
    states = States(
        codes=columns[:appliances],
        season=columns[-3].astype(int),
        cold=walls,
        windy=columns[-2],
        wind_case=None if plant.exposure is None else columns[-1].astype(int),
    )
    return states, at.reshape(3, len(cases), count)
