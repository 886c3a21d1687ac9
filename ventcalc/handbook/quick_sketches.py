"""Quick sketches: what a quick check has found, as a small drawing that moves with its numbers.

Each takes what the card was asked and what it found, by name, and the unit system; shades of grey, the words beside.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from ventcalc.flow import heat_loss
from ventcalc.show.svg import Drawing, Sheet
from ventcalc.units import show

WIDTH, SIZE = 300.0, 12.0  # px
INK, WALL, PALE, MIDDLE = "#111111", "#555555", "#e6e6e6", "#b5b5b5"
Told = Mapping[str, Any]


def columns(told: Told, system: str) -> Drawing:
    """Two columns of one height: the heavier one is darker, and the arrow goes as the gas does."""
    sheet, high = Sheet(WIDTH, SIZE), 150.0
    outside, inside = (show(told[name], system, "density") for name in ("outside", "inside"))
    dark, light = (PALE, MIDDLE) if told["falls"] else (MIDDLE, PALE)
    sheet.box((20, 20), (110, high), dark, WALL)
    sheet.box((190, 20), (280, high), light, WALL, 2.0)
    for x, name, density in ((65, "outdoors", outside), (235, "gas", inside)):
        sheet.words((x, 70), name, INK, "middle", bold=True)
        sheet.words((x, 92), density, INK, "middle")
    _arrow(sheet, 235, 128, -1 if not told["falls"] else 1)
    sheet.words((150, 85), show(told["height"], system, "height"), INK, "middle")
    words = f"{outside} outdoors, {inside} in the vent, {show(told['height'], system, 'height')} high: "
    return sheet.drawing(high + 12, "Two columns", words + ("the gas falls" if told["falls"] else "the gas rises"))


def _arrow(sheet: Sheet, x: float, y: float, sign: int) -> None:
    sheet.line([(x, y - 14 * sign), (x, y + 14 * sign)], INK, 2.5)
    sheet.polygon([(x - 6, y + 10 * sign), (x + 6, y + 10 * sign), (x, y + 20 * sign)], INK)


def along(told: Told, system: str) -> Drawing:
    """Temperature of the gas along its run, above that of the surroundings; below the dashed line it condenses."""
    sheet, left, right, top, bottom = Sheet(WIDTH, SIZE), 14.0, 230.0, 24.0, 140.0
    ends = [told[name].m_as("K") for name in ("inlet", "outlet", "surroundings", "dew_point")]
    low, high = min(ends), max(ends)

    def height(kelvin):
        return bottom - (kelvin - low) / max(high - low, 1.0) * (bottom - top)

    x = np.linspace(0.0, 1.0, 25)
    number = np.log(max(abs(ends[0] - ends[2]), 1e-9) / max(abs(ends[1] - ends[2]), 1e-9))
    kelvin = heat_loss.outlet_temperature.bare(ends[0], ends[2], number * x)
    sheet.line(zip(left + x * (right - left), height(kelvin), strict=True), INK, 2.5)
    for name, dash in (("surroundings", "1 0"), ("dew_point", "5 4")):
        y = height(told[name].m_as("K"))
        sheet.line([(left, y), (right, y)], WALL, 1.2, stroke_dasharray=dash)
    marks = (("inlet", "in", left, "start", -11), ("outlet", "out", right + 4, "start", 0),
             ("surroundings", "around", left, "start", 10), ("dew_point", "dew point", 120, "middle", -8))  # fmt: skip
    for name, label, at, anchor, off in marks:
        shown = show(told[name], system, "temperature")
        sheet.words((at, height(told[name].m_as("K")) + off), f"{label} {shown}", INK, anchor)
    words = ", ".join(f"{label} {show(told[name], system, 'temperature')}" for name, label, *_ in marks)
    return sheet.drawing(bottom + 24, "Temperature along the run", words)


def bars(title: str, parts: Mapping[str, str], kind: str):
    """A drawing of shares: a bar for each of ``parts`` (names of what was found, and labels), the longest the whole."""

    def drawn(told: Told, system: str) -> Drawing:
        sheet = Sheet(WIDTH, SIZE)
        values = {label: told[name] for name, label in parts.items() if name in told}
        most = max(abs(v.to_base_units().m) for v in values.values()) or 1.0
        y, said = 16.0, []
        for k, (label, value) in enumerate(values.items()):
            shown = show(value, system, kind)
            sheet.words((4, y), f"{label} {shown}", INK, bold=k == 0)
            length = 280.0 * abs(value.to_base_units().m) / most
            sheet.box((4, y + 10), (4 + max(length, 1.0), y + 24), MIDDLE if k else WALL, INK)
            y, said = y + 44, [*said, f"{label} {shown}"]
        return sheet.drawing(y - 8, title, ", ".join(said))

    return drawn


def dew_scale(told: Told, system: str) -> Drawing:
    """The dew point on a scale from freezing to boiling water: a wall left of the mark is wet."""
    sheet, left, right, y = Sheet(WIDTH, SIZE), 16.0, 284.0, 56.0
    at = left + np.clip((told["dew_point"].m_as("degC")) / 100.0, 0.0, 1.0) * (right - left)
    sheet.box((left, y), (at, y + 20), MIDDLE, WALL)
    sheet.box((at, y), (right, y + 20), "white", WALL)
    sheet.line([(at, y - 10), (at, y + 30)], INK, 2.5)
    shown = show(told["dew_point"], system, "temperature")
    sheet.words((min(max(at, 60), 240), y - 22), f"dew point {shown}", INK, "middle", bold=True)
    sheet.words((left, y + 38), "32 °F" if system == "US" else "0 °C", INK)
    sheet.words((right, y + 38), "212 °F" if system == "US" else "100 °C", INK, "end")
    for x, word in (((left + at) / 2, "wet wall"), ((at + right) / 2, "dry wall")):
        if abs(x - at) > 34:
            sheet.words((x, y + 10), word, INK, "middle")
    return sheet.drawing(y + 52, "Dew point", f"a wall colder than {shown} is wet")


SKETCHES = {
    "draft": columns,
    "loss": bars("Loss of the run", {"whole": "loss", "straight": "friction", "fittings": "fittings"}, "draft"),
    "dew_point": dew_scale,
    "cooling": along,
    "efficiency": bars(
        "Where the heat goes", {"efficiency": "used", "lost": "up the stack", "latent": "latent heat"}, "ratio"
    ),
    "air_free": bars("Carbon monoxide", {"free": "air-free", "co": "as measured"}, "ppm"),
    "fan": bars("Fan pressure", {"standard": "to look up", "pressure": "hot"}, "draft"),
}
