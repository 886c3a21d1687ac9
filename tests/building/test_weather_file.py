"""Weather file: an EPW file read column by column, held to numpy's own reader; what is no such file is refused.

The form is that of the data dictionary in EnergyPlus, Auxiliary Programs; the hours are invented.
"""

import numpy as np
import pytest

from ventcalc.building import climate, weather, weather_file

OF = climate.year("cold")

HEADING = (
    "LOCATION,Nowhere,NW,XXX,invented,000000,45.0,-75.0,-5.0,312.0",
    "DESIGN CONDITIONS,0",
    "TYPICAL/EXTREME PERIODS,0",
    "GROUND TEMPERATURES,0",
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
    "COMMENTS 1,invented for these tests",
    "COMMENTS 2,",
    "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
)


def line(h: int) -> list[str]:
    """The 35 values of one hour in the order of the data dictionary; those that nothing here reads as missing."""
    celsius, percent = f"{OF.temperature[h] - 273.15:.1f}", f"{100 * OF.humidity[h]:.0f}"
    clock = ["2001", str(OF.month[h]), str(OF.day[h]), str(OF.hour[h] + 1), "60", "?9?9"]
    solar = ["9999", "9999", "9999", "9999", "9999", "9999", "999900", "999900", "999900", "9999"]
    wind = [f"{OF.direction[h]:.0f}", f"{OF.wind[h]:.1f}"]
    rest = ["99", "99", "9999", "99999", "9", "999999999", "999", ".999", "999", "99", "999", "999", "99"]
    return [*clock, celsius, "99.9", percent, "999999", *solar, *wind, *rest]


def epw(hours: int = 8760, change=None) -> bytes:
    lines = [line(h) for h in range(hours)]
    if change:
        change(lines)
    return "\r\n".join((*HEADING, *(",".join(values) for values in lines), "")).encode()


def put(column: int, value: str, hours: range):
    def change(lines):
        for h in hours:
            lines[h][column] = value

    return change


def test_the_columns_are_those_of_an_independent_reader(tmp_path):
    path = tmp_path / "nowhere.epw"
    path.write_bytes(epw())
    found = weather_file.load(path)
    # numpy's own reader, by the columns of the data dictionary: 7, 9, 21 and 22 counted from 1.
    celsius, percent, side, wind = np.genfromtxt(path, delimiter=",", skip_header=8, usecols=(6, 8, 20, 21)).T
    assert np.allclose(found.temperature - 273.15, celsius, atol=1e-9) and np.allclose(found.humidity, percent / 100.0)
    assert np.array_equal(found.wind, wind) and np.array_equal(found.direction, side % 360.0)
    assert np.array_equal(found.hour, OF.hour) and np.array_equal(found.month, OF.month)
    assert (len(found), found.altitude, found.invented, found.name) == (8760, 312.0, True, "Nowhere, NW, XXX")
    # Degree-hours below 18 degC by numpy from the file itself.
    by_hand = np.clip(18.0 - celsius, 0.0, None).sum()
    assert 24.0 * weather.degree_days.bare(found.temperature, 291.15) == pytest.approx(by_hand, rel=1e-12)
    assert by_hand > 50_000.0


def test_short_gaps_are_filled_along_a_straight_line_and_long_ones_refused():
    found = weather_file.read(epw(48, put(6, "99.9", range(10, 13))))
    ends = OF.temperature[9], OF.temperature[13]
    assert np.allclose(found.temperature[9:14], np.linspace(*ends, 5), atol=0.051)  # the file tells 0.1 K
    with pytest.raises(
        weather_file.WeatherError, match="temperature is missing for 7 hours from hour 10 on; at most 6"
    ):
        weather_file.read(epw(48, put(6, "99.9", range(10, 17))))
    both = [*range(3), *range(10, 17)]  # the longest of several decides
    with pytest.raises(weather_file.WeatherError, match="missing for 7 hours from hour 10"):
        weather_file.read(epw(48, put(6, "99.9", both)))
    assert np.isnan(weather_file.read(epw(24, put(20, "999", range(24)))).direction).all()
    assert weather_file.read(epw(24, put(8, "104", range(3)))).humidity[0] == 1.0  # fog


def without(number: int) -> bytes:
    lines = epw(24).decode().split("\r\n")
    return "\r\n".join(lines[: number - 1] + lines[number:]).encode()


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "0 lines; need 8 of heading"),
        (b"hello", "line 1 begins with 'hello', need 'LOCATION'"),
        (without(4), "line 4 begins with 'HOLIDAYS/DAYLIGHT SAVINGS', need 'GROUND TEMPERATURES'"),
        (epw(24).replace(b"DATA PERIODS,1,1", b"DATA PERIODS,1,4"), "4 records an hour; need 1"),
        (epw(24).replace(b",-5.0,312.0", b""), "line 1 must end with the station's altitude"),
        (epw(24, put(6, "cold", range(2, 3))), "line 11: could not convert"),
        (epw(24, put(3, "25", range(1))), "hours must be 1 to 24"),
        (epw(24, put(21, "70", range(1))), "wind of hour 0 = 70 m/s must be 0 to 60"),
        ("\n".join((*HEADING, "2001,1,1,1,60,?,3.0")).encode(), "line 9 has 7 values, need at least 22"),
    ],
    ids=range(9),
)
def test_what_is_no_weather_file_is_refused(data, told):
    with pytest.raises(weather_file.WeatherError, match=told):
        weather_file.read(data)


def test_a_file_that_is_not_there_is_said_by_its_name(tmp_path):
    with pytest.raises(weather_file.WeatherError, match=r"^gone.epw: cannot be read"):
        weather_file.load(tmp_path / "gone.epw")
