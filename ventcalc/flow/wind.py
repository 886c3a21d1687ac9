"""Wind: what it does to the pressure at a vent's terminal, at a building's walls and in the boiler room.

A pressure coefficient is pressure over the velocity head of the free wind at roof height. Over an open end the wind
pulls, where it blows down on it it pushes; the wall it blows on stands above outdoor pressure, all others below. The
room takes the pressure at which as much air comes in as goes out, and it is the terminal's coefficient less the room's
that an appliance feels.

`wind_cases` picks the two that matter: against the vent (the terminal highest over the room) and with it. Only what
one direction of the wind can do together counts as one case where the openings' sides are known; where they are not,
the range is that of all walls.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from ventcalc import tables
from ventcalc.flow import fittings
from ventcalc.units import Q_, Quantity, quantities

SHIELDINGS = ("exposed", "semi-sheltered", "sheltered")
PITCHES = ("below 10", "10 to 30", "above 30")  # degree, of a roof
SIDES = {"north": 0.0, "east": 90.0, "south": 180.0, "west": 270.0}  # degree, that a wall or a slope faces
PLACES = ("clear", "near roof", "wall")  # where a terminal stands
WALL_TERMINAL = "wall terminal"
TERRAINS = ("city", "suburb", "open", "water")

# The cases of wind, by their index in `WindCases`: the cap alone, and the two ends.
CASES = ("on the cap alone", "against the vent", "with the vent")

_STEP = 15.0  # degree, between the directions of the wind that are looked at; the tables have one every 45
_HALVINGS = 60  # of an interval of coefficients: to the last digit of a float
_TABLES = "AIVC Technical Note 44 and guide to energy efficient ventilation, appendix 2; data/flow/wind.csv"


@cache
def _curve(kind: str, name: str, shielding: str = "") -> tuple[np.ndarray, np.ndarray]:
    found = [r for r in tables.read("wind") if (r["kind"], r["name"], r["shielding"]) == (kind, name, shielding)]
    if not found:
        known = sorted({r["name"] for r in tables.read("wind") if r["kind"] == kind})
        raise ValueError(f"no {kind} {name!r} {shielding}; there are: {', '.join(known)}")
    return np.array([float(r["angle"]) for r in found]), np.array([float(r["value"]) for r in found])


@cache
def _number(kind: str, name: str) -> float:
    return next(float(r["value"]) for r in tables.read("wind") if (r["kind"], r["name"]) == (kind, name))


def _one_of(value: str, known: Sequence[str], what: str) -> None:
    if value not in known:
        raise ValueError(f"{what} {value!r}; choose {', '.join(known)}")


def _folded(incidence):
    """The angle between two directions, 0 to 180 degrees."""
    return np.abs((np.asarray(incidence, float) + 180.0) % 360.0 - 180.0)


# --- Coefficients ---------------------------------------------------------------------------------------------


@quantities("", incidence="degree", source=_TABLES)
def wall_coefficient(incidence, shielding: str = "exposed"):
    """Pressure coefficient of a wall of a low building, averaged over the wall; straight lines between 45 degrees.

    incidence: angle between the direction the wind comes from and the way the wall faces, degree, 0 windward, 180 lee;
    number or array. shielding: one of `SHIELDINGS`, obstructions around of no height, half the building's height, the
    building's height. Raises ValueError for another shielding. For buildings below 15 m.
    """
    _one_of(shielding, SHIELDINGS, "shielding")
    return np.interp(_folded(incidence), *_curve("wall", "wall", shielding))


@quantities("", incidence="degree", source=_TABLES)
def roof_coefficient(incidence, pitch: str, shielding: str = "exposed"):
    """Pressure coefficient of one slope of a roof, averaged over the slope; straight lines between 45 degrees.

    incidence: angle between the direction the wind comes from and the way the slope faces, degree; number or array.
    pitch: one of `PITCHES`, in degrees; shielding: one of `SHIELDINGS`. Only a slope above 30 degrees stands above
    outdoor pressure, where the wind blows on it. Raises ValueError for another pitch or shielding.
    """
    _one_of(pitch, PITCHES, "pitch")
    _one_of(shielding, SHIELDINGS, "shielding")
    return np.interp(_folded(incidence), *_curve("roof", pitch, shielding))


@quantities(
    "", tilt="degree", source="data/flow/wind.csv; common practice, no source, but for an open end at 45 degrees"
)
def terminal_coefficient(tilt, cap: str = "open end"):
    """Pressure coefficient in a vent's end in free wind, its own flow left out.

    tilt: of the wind against the horizontal, degree, positive where it blows down on the terminal; number or array,
    the last value kept beyond -30 and 45. cap: a terminal of data/flow/fittings.csv other than a wall terminal, whose
    coefficient is the wall's. Raises ValueError for another cap.
    """
    return np.interp(tilt, *_curve("terminal", cap))


@quantities("", coefficients="", areas="m**2", at_least={"areas": 0.0},
            shapes={"coefficients": "array", "areas": "array"},
            source="orifice flow, in balance over all ways")  # fmt: skip
def room_coefficient(coefficients, areas):
    """Pressure coefficient of a room that wind blows through: sum A_i sign(C_i - C) sqrt|C_i - C| = 0.

    coefficients: C_i outside of every way in or out; areas: A_i [m2], each times its own flow coefficient; arrays whose
    first axis is the ways, the others broadcast. Solved by halving between the lowest and the highest C_i, for the sum
    falls all the way. With two ways: (A1^2 C1 + A2^2 C2) / (A1^2 + A2^2). Raises ValueError where no way is open.
    """
    outside, area = np.broadcast_arrays(np.asarray(coefficients, float), np.asarray(areas, float))
    if not np.all(area.sum(axis=0) > 0.0):
        raise ValueError("room_coefficient: areas are all 0; at least one way must be open")
    low = np.where(area > 0.0, outside, np.inf).min(axis=0)
    high = np.where(area > 0.0, outside, -np.inf).max(axis=0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        pull = outside - middle
        rises = (area * np.sign(pull) * np.sqrt(np.abs(pull))).sum(axis=0) > 0.0
        low, high = np.where(rises, middle, low), np.where(rises, high, middle)
    return 0.5 * (low + high)


# --- Speed and pressure ------------------------------------------------------------------------------------------

_WIND = "ASHRAE Handbook Fundamentals, ch. 24, equation (4) and table 1"


@quantities(
    "m/s", wind="m/s", height="m", station="m", at_least={"wind": 0.0}, above={"height": 0.0, "station": 0.0},
    source=_WIND,
)  # fmt: skip
def wind_at_height(wind, height, terrain: str = "suburb", station=10.0, station_terrain: str = "open"):
    """Wind at a height from that of a weather station: U (d_s / z_s)^a_s (z / d)^a.

    wind: U at the station, m/s; height: z above ground, m; station: height of its anemometer z_s, m; numbers or arrays.
    terrain and station_terrain: of `TERRAINS`, with exponent a and thickness d of the boundary layer; above d the wind
    no longer grows. Above the mean height of what stands around; below it less reliable. Raises ValueError for another
    terrain.
    """
    _one_of(terrain, TERRAINS, "terrain")
    _one_of(station_terrain, TERRAINS, "station_terrain")
    (a, d), (a_s, d_s) = ([_number(k, t) for k in ("exponent", "thickness")] for t in (terrain, station_terrain))
    return wind * (d_s / np.minimum(station, d_s)) ** a_s * (np.minimum(height, d) / d) ** a


@quantities("m", face_height="m", face_width="m", above={"face_height": 0.0, "face_width": 0.0},
            source="ASHRAE Handbook, scaling length after Wilson (1979); 0.22 from memory")  # fmt: skip
def zone_height(face_height, face_width):
    """Height above a flat roof up to which the wind recirculates: 0.22 R with R = Bs^0.67 BL^0.33, BL at most 8 Bs.

    face_height and face_width: of the face that the wind blows on, m; Bs is the smaller of the two, BL the larger;
    numbers or arrays.
    """
    small, large = np.minimum(face_height, face_width), np.maximum(face_height, face_width)
    scaling = small**0.67 * np.minimum(large, 8.0 * small) ** 0.33
    return _number("zone", "height over scaling length") * scaling


def outlet_pressure(coast: bool = False) -> Quantity:
    """Pressure that EN 13384-1 sets at an unfavorable outlet (`PLACES`: near roof), whatever the wind: 25 or 40 Pa."""
    return Q_(_number("outlet pressure", "coast" if coast else "inland"), "Pa")


# --- The cases of one plant ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Way:
    """A way for air in or out of the room: ``area`` [m2] times its coefficient, and the ``side`` it stands on.

    ``side`` is one of `SIDES`, "all" for leakage spread evenly over the four walls, or None where it is not told.
    """

    area: float
    side: str | None = None

    def __post_init__(self):
        if not self.area > 0.0:
            raise ValueError(f"way into the room: area {self.area:g} m2 must be above 0")
        if self.side is not None:
            _one_of(self.side, (*SIDES, "all"), "side")

    def coefficients(self, directions: np.ndarray, shielding: str) -> np.ndarray:
        """Outside the way (walls, directions), one row, or four for leakage."""
        faces = list(SIDES.values()) if self.side == "all" else [SIDES[self.side]]
        return wall_coefficient.bare(directions - np.array(faces)[:, None], shielding)


@dataclass(frozen=True)
class Exposure:
    """How a building stands in the wind: ``shielding``, ``pitch`` of its roof (None: not told), ``ways`` into the room.

    Without ways, or with one whose side is not told, the room is anywhere between the lowest and the highest wall.
    """

    shielding: str = "exposed"
    pitch: str | None = None
    ways: tuple[Way, ...] = ()

    def __post_init__(self):
        _one_of(self.shielding, SHIELDINGS, "shielding")
        if self.pitch is not None:
            _one_of(self.pitch, PITCHES, "pitch")

    @property
    def told(self) -> bool:
        """Whether the room's pressure follows from the direction of the wind."""
        return bool(self.ways) and all(way.side is not None for way in self.ways)


@dataclass(frozen=True)
class WindCases:
    """Coefficients of every case of `CASES`: ``terminal`` (terminations, cases), ``room`` (cases).

    ``direction`` [degree, from north by east] is that of the wind, NaN where no single one was found. ``told`` as in
    `Exposure`.
    """

    terminal: np.ndarray
    room: np.ndarray
    direction: np.ndarray
    told: bool


def wind_directions() -> np.ndarray:
    """The directions that the wind is looked at from [degree, from north by east]."""
    return np.arange(0.0, 360.0, _STEP)


def room_range(exposure: Exposure) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest coefficient of the room in every direction of `wind_directions`."""
    directions = wind_directions()
    if not exposure.told:
        walls = wall_coefficient.bare(directions, exposure.shielding)
        return np.full(directions.size, walls.min()), np.full(directions.size, walls.max())
    outside = [way.coefficients(directions, exposure.shielding) for way in exposure.ways]
    areas = np.concatenate([np.full(len(c), way.area / len(c)) for way, c in zip(exposure.ways, outside, strict=True)])
    found = room_coefficient.bare(np.concatenate(outside), areas[:, None])
    return found, found


def terminal_range(cap: str, place: str | None, side: str | None, exposure: Exposure) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest coefficient that a terminal can see in every direction of `wind_directions`.

    ``place`` is one of `PLACES` (None: not told, so near the roof); ``side`` the way its wall or its slope faces (None:
    not told, so any). Clear of the roof the wind may be inclined by 15 degrees; near it by 45, and the terminal may
    stand at the roof's own pressure. On a wall it is the wall's, with what a point may differ from the wall's average.
    """
    directions = wind_directions()
    if cap == WALL_TERMINAL or place == "wall":
        low, high = _by_side(directions, side, lambda angle: wall_coefficient.bare(angle, exposure.shielding))
        return low + _number("local", "below the wall's average"), high + _number("local", "above the wall's average")
    most = _number("tilt", place or "near roof")
    seen = terminal_coefficient.bare(np.linspace(-most, most, 31), cap)
    low, high = np.full(directions.size, seen.min()), np.full(directions.size, seen.max())
    if place == "clear":
        return low, high
    for pitch in PITCHES if exposure.pitch is None else (exposure.pitch,):
        slope = _by_side(directions, side, lambda a, p=pitch: roof_coefficient.bare(a, p, exposure.shielding))
        low, high = np.minimum(low, slope[0]), np.maximum(high, slope[1])
    return low, high


def _by_side(directions, side, coefficient) -> tuple[np.ndarray, np.ndarray]:
    """A surface's coefficient by direction, twice; where its side is not told the lowest and highest of all."""
    if side is not None:
        _one_of(side, tuple(SIDES), "side")
        return (coefficient(directions - SIDES[side]),) * 2
    every = coefficient(directions)
    return np.full(directions.size, every.min()), np.full(directions.size, every.max())


def wind_cases(exposure: Exposure | None, terminals: Sequence[tuple[str, str | None, str | None]]) -> WindCases:
    """The cases of `CASES` for terminals given as (cap, place, side); without exposure only the first.

    The first is a cap's own coefficient of data/flow/fittings.csv, the room at outdoor pressure. With one terminal the
    others are the directions in which it stands highest and lowest over the room; with several, which one wind may not
    serve together, each at its own highest or lowest and the room at its other end: wider than any one direction.
    """
    own = np.array([[fittings.fitting(cap).wind] for cap, *_ in terminals])
    if exposure is None:
        return WindCases(own, np.zeros(1), np.full(1, np.nan), True)
    ranges = [terminal_range(*terminal, exposure) for terminal in terminals]
    low, high = (np.array([r[end] for r in ranges]) for end in (0, 1))
    room_low, room_high = room_range(exposure)
    if len(terminals) == 1:
        against, with_ = int((high[0] - room_low).argmax()), int((low[0] - room_high).argmin())
        ends, rooms = (high[:, against], low[:, with_]), (room_low[against], room_high[with_])
        directions = wind_directions()[[against, with_]] if exposure.told else np.full(2, np.nan)
    else:
        ends, rooms = (high.max(axis=1), low.min(axis=1)), (room_low.min(), room_high.max())
        directions = np.full(2, np.nan)
    return WindCases(
        np.column_stack([own, *ends]), np.array([0.0, *rooms]), np.array([np.nan, *directions]), exposure.told
    )


def sources(exposure: Exposure | None, caps: Sequence[str]) -> tuple[str, ...]:
    """Where the coefficients that a plant with these ``caps`` uses come from, each once, with status."""
    rows = [r for r in tables.read("wind") if r["kind"] == "terminal" and r["name"] in caps]
    if exposure is not None:
        rows += [
            r for r in tables.read("wind") if r["kind"] in ("tilt", "local") or r["shielding"] == exposure.shielding
        ]
        rows = [r for r in rows if r["kind"] != "roof" or exposure.pitch in (None, r["name"])]
    return tuple(dict.fromkeys(f"wind, {r['kind']} {r['name']}: {r['source']} ({r['status']})" for r in rows))
