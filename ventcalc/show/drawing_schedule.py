"""Drawing schedule: the table under the drawing of a vent, a row a section and appliance."""

from textwrap import wrap

from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ventcalc.show.plots import INK, POINTS, SIZE, letters
from ventcalc.units import show
from ventcalc.vent.layout import Plant, Section

_LINE = 14.0  # points from line to line of the schedule


_DIAMOND = "\N{WHITE DIAMOND}"
_HEADS = ("", "section", "length", "diameter", "fittings and joints")
_COLUMNS = (0.0, 26.0, 156.0, 208.0, 266.0)  # points from the left
_MOST_ROWS = 24  # beyond it the schedule stands in two columns and leaves out the fittings
_HALF_COLUMNS = (0.0, 24.0, 140.0, 190.0)
_HALF = 244.0  # points from column to column
_REST_WIDTH = 36  # characters


def schedule(plant: Plant, system: str) -> list[tuple[str, ...]]:
    """Rows of the schedule: mark, name, length, diameter and, while they are few, the fittings."""
    entries = [
        (str(k), s.name, show(s.length, system, "height"), show(s.diameter, system, "diameter"), _fittings(s))
        for k, s in enumerate(plant.order, 1)
    ]
    for letter, a in zip(letters(len(plant.appliances)), plant.appliances, strict=True):
        words = f"outlet at {show(a.outlet_height, system, 'height')}, category {a.shown_category}"
        entries.append((letter, a.name, "", show(a.outlet_diameter, system, "diameter"), words))
    if len(plant.appliances) > 1:
        entries.append((_DIAMOND, "end of the header", "", "", "where its pressure is read"))
    if len(entries) <= _MOST_ROWS:
        return [row for entry in entries for row in _run_on(entry, 21)]
    return [row for entry in entries for row in _run_on(entry[:4], 18)]


def _run_on(entry: tuple[str, ...], name_width: int) -> list[tuple[str, ...]]:
    """An entry as one row, or more where its name or its last words are long."""
    columns = [[entry[0]], wrap(entry[1], name_width), *([words] for words in entry[2:4])]
    columns += [wrap(words, _REST_WIDTH) for words in entry[4:]]
    count = max(len(column) for column in columns)
    return list(zip(*(column + [""] * (count - len(column)) for column in columns), strict=True))


def schedule_height(rows: list[tuple[str, ...]]) -> float:
    """Points that the schedule takes."""
    lines = len(rows) if len(rows[0]) == len(_COLUMNS) else -(-len(rows) // 2)
    return _LINE * (lines + 2.2)


def _fittings(section: Section) -> str:
    counted = [f"{n} × {f}" if (n := section.fittings.count(f)) > 1 else f for f in dict.fromkeys(section.fittings)]
    joins = [f"enters by {section.junction}"] if section.junction else []
    return ", ".join(counted + joins) or "no fittings"


def write_schedule(figure: Figure, rows: list[tuple[str, ...]]) -> None:
    """Write the rows of a schedule at the foot of a figure, in two columns where they are many."""
    tall, wide = figure.get_figheight() * POINTS, figure.get_figwidth() * POINTS
    top = schedule_height(rows) - 0.2 * _LINE

    def put(x, y, words, **style):
        figure.text((x + 8.0) / wide, y / tall, words, size=SIZE, color=INK, va="baseline", **style)

    whole = len(rows[0]) == len(_COLUMNS)
    columns = _COLUMNS if whole else _HALF_COLUMNS
    half = len(rows) if whole else -(-len(rows) // 2)
    for shift, part in ((0.0, rows[:half]), (_HALF, rows[half:])):
        if not part:
            continue
        for x, words in zip(columns, _HEADS, strict=False):
            put(shift + x, top - _LINE, words, style="italic")
        for i, row in enumerate(part):
            for x, words in zip(columns, row, strict=True):
                put(shift + x, top - _LINE * (i + 2.25), words, weight="bold" if x == 0.0 else "normal")
    rule = (top - 1.35 * _LINE) / tall
    figure.add_artist(Line2D([6.0 / wide, 1 - 6.0 / wide], [rule, rule], color=INK, lw=0.8))
