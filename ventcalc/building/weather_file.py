"""Weather file: an hourly year from a file in the EPW form, of its columns those that a vent feels.

Eight lines of heading, the first with the place; then a line an hour, its values parted by commas. The hour of a line
is the one that ends: hour 1 runs from midnight. A value at or beyond the number that stands for "missing" is filled
from the hours around it where the gap is short; a longer one is refused. By the EnergyPlus documentation, Auxiliary
Programs, "EnergyPlus Weather File (EPW) Data Dictionary". The station's barometer is not read: a vent's is that of its
altitude.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from ventcalc.building.weather import Weather
from ventcalc.units import ZERO_CELSIUS

MOST_BYTES = 100_000_000  # of a file: 50 years have some 70 MB
LONGEST_GAP = 6  # hours that are filled from those around them (common practice, no source)

_HEADING = ("LOCATION", "DESIGN CONDITIONS", "TYPICAL/EXTREME PERIODS", "GROUND TEMPERATURES",
            "HOLIDAYS/DAYLIGHT SAVINGS", "COMMENTS 1", "COMMENTS 2", "DATA PERIODS")  # fmt: skip
# Column of a line, and the number from which on a value is missing; by the data dictionary.
_MONTH, _DAY, _HOUR, _MINUTE = 1, 2, 3, 4
_COLUMNS = {"temperature": (6, 99.9), "humidity": (8, 999.0), "direction": (20, 999.0), "wind": (21, 999.0)}
_LEAST_COLUMNS = 22


class WeatherError(ValueError):
    """A weather file that cannot be used, and why."""


def load(path: str | Path) -> Weather:
    """Read a weather file; raises `WeatherError` for what is no such file, with the line where it fails."""
    path = Path(path)
    try:
        size = path.stat().st_size
        data = path.read_bytes() if size <= MOST_BYTES else b""
    except OSError as error:
        raise WeatherError(f"{path.name}: cannot be read ({error.strerror}); give the path of an .epw file") from None
    if size > MOST_BYTES:
        raise WeatherError(f"{path.name}: {size:,} bytes; a weather file has at most {MOST_BYTES:,}")
    return read(data, path.name)


def read(data: bytes, name: str = "weather file") -> Weather:
    """Check the content of a weather file; as `load`, from bytes."""
    lines = data.decode("utf-8-sig", errors="replace").splitlines()
    heads = [line.partition(",")[0].strip() for line in lines[: len(_HEADING)]]
    for number, (found, wanted) in enumerate(zip(heads, _HEADING, strict=False), 1):
        if found.upper() != wanted:
            raise WeatherError(f"{name}: line {number} begins with {found[:40]!r}, need {wanted!r}: no EPW file")
    if len(lines) <= len(_HEADING):
        raise WeatherError(f"{name}: {len(lines)} lines; need {len(_HEADING)} of heading and one an hour")
    place = [part.strip() for part in lines[0].split(",")]
    _hourly(lines[len(_HEADING) - 1], name)
    body = [line for line in lines[len(_HEADING) :] if line.strip()]
    table = np.array([_numbers(line, number, name) for number, line in enumerate(body, len(_HEADING) + 1)])
    month, day, hour = table[:, :3].astype(int).T
    if not ((hour >= 1) & (hour <= 24) & (month >= 1) & (month <= 12)).all():
        raise WeatherError(f"{name}: hours must be 1 to 24 and months 1 to 12")
    values = {key: _filled(table[:, 3 + k], key, name) for k, key in enumerate(_COLUMNS)}
    try:
        return Weather(
            name=", ".join(part for part in place[1:4] if part) or name,
            month=month,
            day=day,
            hour=hour - 1,
            temperature=values["temperature"] + ZERO_CELSIUS,
            humidity=np.minimum(values["humidity"] / 100.0, 1.0),  # fog is told as up to 110 %
            wind=values["wind"],
            direction=values["direction"] % 360.0,
            altitude=_altitude(place, name),
            source=f"{name}: {place[4] if len(place) > 4 and place[4] else 'no source told'}",
            invented=len(place) > 4 and "invented" in place[4].lower(),
        )
    except ValueError as error:
        raise WeatherError(f"{name}: {error}") from None


def _hourly(line: str, name: str) -> None:
    """Raises where the data periods tell of another number of records an hour than one."""
    parts = [part.strip() for part in line.split(",")]
    if len(parts) > 2 and parts[2] not in ("", "1"):
        raise WeatherError(f"{name}: {parts[2]} records an hour; need 1")


def _altitude(place: Sequence[str], name: str) -> float:
    try:
        return float(place[9])
    except (IndexError, ValueError):
        raise WeatherError(f"{name}: line 1 must end with the station's altitude in m, as its tenth value") from None


def _numbers(line: str, number: int, name: str) -> list[float]:
    """Month, day and hour of a line, then the values of `_COLUMNS`; NaN where one is missing."""
    parts = line.split(",")
    if len(parts) < _LEAST_COLUMNS:
        raise WeatherError(f"{name}: line {number} has {len(parts)} values, need at least {_LEAST_COLUMNS}")
    try:
        found = [float(parts[k]) for k in (_MONTH, _DAY, _HOUR)]
        for column, missing in _COLUMNS.values():
            text = parts[column].strip()
            value = float(text) if text else np.nan
            found.append(np.nan if value >= missing else value)
    except ValueError as error:
        raise WeatherError(f"{name}: line {number}: {error}") from None
    return found


def _filled(values: np.ndarray, what: str, name: str) -> np.ndarray:
    """Values with short gaps filled along straight lines; a direction is left untold."""
    gone = np.isnan(values)
    if what == "direction" or not gone.any():
        return values
    edges = np.flatnonzero(np.diff(np.concatenate(([0], gone.astype(int), [0]))))
    starts, ends = edges[::2], edges[1::2]
    longest = int((ends - starts).max())
    if longest > LONGEST_GAP:
        at = int(starts[(ends - starts).argmax()])
        raise WeatherError(
            f"{name}: {what} is missing for {longest} hours from hour {at} on; at most {LONGEST_GAP} are filled"
        )
    known = np.flatnonzero(~gone)
    return np.interp(np.arange(values.size), known, values[known])
