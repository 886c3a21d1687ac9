"""The section drawing: to scale, what it tells is what was solved, nothing written over anything or cut off."""

import re
from collections import Counter
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import matplotlib
import numpy as np
import pytest
from PIL import ImageFont
from sample_plants import PLANTS, SEASONS, lone_hood, one_state, random_tree, row_plant

from ventcalc import tables
from ventcalc.job import job_file
from ventcalc.show import section_drawing as drawing
from ventcalc.show import section_state
from ventcalc.show.plots import INK, RUST
from ventcalc.show.tags import DAMPER, FAN, SENSOR, Placed
from ventcalc.units import Q_, SYSTEMS, show
from ventcalc.vent.common_vent import solve
from ventcalc.vent.firing_states import Scan
from ventcalc.vent.states import States

JOBS = {p.stem: job_file.demonstration(p.stem) for p in sorted((tables.DATA / "jobs").glob("*.toml"))}
DEMO = {name: (job.plant, tuple(job.seasons)) for name, job in JOBS.items()}
SAMPLES = {name: (plant, SEASONS) for name, plant in PLANTS.items()}
FONTS = Path(matplotlib.get_data_path(), "fonts", "ttf")
FACE = {
    bold: ImageFont.truetype(str(FONTS / f"DejaVuSans{'-Bold' if bold else ''}.ttf"), 130) for bold in (False, True)
}


def some(plant, seasons, count=4, seed=0):
    """A scan of a few states drawn at random, with all at their highest and all but one off among them."""
    rng = np.random.default_rng(seed)
    codes = np.array([rng.integers(0, len(a.states), count) for a in plant.appliances])
    codes[:, 0] = [len(a.states) - 1 for a in plant.appliances]
    codes[:, 1], codes[-1, 1] = 0, len(plant.appliances[-1].states) - 1
    states = States(codes, np.arange(count) % len(seasons), np.arange(count) % 2 == 1, np.zeros(count, bool))
    return Scan(plant, seasons, solve(plant, seasons, states), count, False)


def parsed(drawn):
    return ElementTree.fromstring(drawn.svg)


def written(root):
    """Every text with its box in pixels, as a font library measures it."""
    size, found = float(root.get("font-size")), []
    for text in (e for e in root.iter() if e.tag.endswith("}text")):
        x, y = float(text.get("x")), float(text.get("y"))
        wide = FACE[text.get("font-weight") == "bold"].getlength(text.text) * size / 130.0
        left = x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor")] * wide
        found.append((text.text, (left, y - 0.73 * size, left + wide, y)))  # from the top of capitals to the line
    return found


def corners(root):
    """All points of lines, shapes, boxes and circles."""
    found = []
    for shape in root.iter():
        if shape.get("points"):
            found += [[float(v) for v in p.split(",")] for p in shape.get("points").split()]
        elif shape.get("d"):
            found += [[float(v) for v in p.split()] for p in re.split("[ML]", shape.get("d"))[1:]]
        elif shape.get("r"):
            center, r = np.array([float(shape.get("cx")), float(shape.get("cy"))]), float(shape.get("r"))
            found += [center - r, center + r]
        elif shape.get("height"):
            low = np.array([float(shape.get("x")), float(shape.get("y"))])
            found += [low, low + np.array([float(shape.get("width")), float(shape.get("height"))])]
    return np.array(found)


def is_clean(drawn, told):
    """No words overlap, nothing leaves the sheet."""
    root = parsed(drawn)
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    texts = written(root)
    for words, (x0, y0, x1, y1) in texts:
        assert x0 >= 0 and y0 >= 0 and x1 <= width and y1 <= height, (told, words)
    for (a, (ax0, ay0, ax1, ay1)), (b, (bx0, by0, bx1, by1)) in combinations(texts, 2):
        assert ax1 <= bx0 or bx1 <= ax0 or ay1 <= by0 or by1 <= ay0, (told, a, b)
    at = corners(root)
    assert (at >= 0.0).all() and (at <= [width, height]).all(), told


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", DEMO | SAMPLES)
def test_nothing_is_written_over_or_cut_off(name, system):
    scan = some(*(DEMO | SAMPLES)[name])
    for state in range(len(scan.states)):
        is_clean(drawing.section_drawing(scan, state, system), (name, state))


@pytest.mark.parametrize("seed", [pytest.param(s, marks=[pytest.mark.sweep] if s > 5 else []) for s in range(40)])
def test_nothing_is_written_over_or_cut_off_in_plants_drawn_at_random(seed):
    plant = random_tree(seed)
    scan, top = some(plant, SEASONS, seed=seed), plant.upstream(plant.terminations[0].name)[0].name
    devices = (Placed("F-1", FAN, top), Placed("MD-1", DAMPER, "riser"), Placed("PT-1", SENSOR, plant.far_end))
    for state in range(len(scan.states)):
        is_clean(drawing.section_drawing(scan, state, "US", devices), (seed, state))


@pytest.mark.parametrize("height", [1.0, 4.0, 30.0, 120.0])
def test_low_and_very_tall_stacks_are_clean(height):
    scan = some(row_plant(3, stack_height=height), SEASONS, 2)
    for system in SYSTEMS:
        is_clean(drawing.section_drawing(scan, 1, system), height)


# --- What it tells ---


def texts(drawn):
    return [words for words, _ in written(parsed(drawn))]


@pytest.mark.parametrize("name", DEMO)
def test_every_section_has_its_gas_as_a_number(name):
    scan = some(*DEMO[name])
    told = " ".join(texts(drawing.section_drawing(scan, 1, "SI")))
    seen = section_state.read(scan, 1)
    for piece in seen.pieces:
        # Half way along: an exponential towards the surroundings passes through the geometric mean of the excesses.
        first, last = piece.first - piece.around, piece.last - piece.around
        middle = piece.around + (np.sign(first) * np.sqrt(first * last) if first * last > 0 else (first + last) / 2)
        assert f"{piece.number}: {show(Q_(middle, 'K'), 'SI', 'temperature')}" in told


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_outlet_stands_against_its_window(system):
    scan = some(*DEMO["swim_hall"])
    told = " ".join(texts(drawing.section_drawing(scan, 0, system)))
    for a, pressure in zip(scan.plant.appliances, scan.solution.outlet_pressure[:, 0], strict=True):
        assert f"{a.name}, high: {show(Q_(pressure, 'Pa'), system, 'draft')}" in told


def heavy(root):
    """Arrows of reversed flow that stand in the drawing: those of the key and the verdicts have other edges."""
    return [
        e
        for e in root.iter()
        if e.get("fill") == RUST and e.get("stroke") == INK and len(e.get("points", "").split()) == 7
    ]


def test_reversed_flow_has_a_heavy_arrow_and_the_word_for_each_section_and_room():
    plant, seasons = DEMO["swim_hall"]
    states = one_state((0, 3, 3), season=2, cold=True)
    scan = Scan(plant, seasons, solve(plant, seasons, states), 1, False)
    drawn, seen = drawing.section_drawing(scan), section_state.read(scan)
    backward = [p.number for p in seen.pieces if p.flow < 0.0]
    assert backward, "the worst state of the hall sends gas back through the boiler that stands"
    assert {f"{n} reversed" for n in backward} <= set(texts(drawn)) and "FLUE GAS INTO THE ROOM" in texts(drawn)
    assert len(heavy(parsed(drawn))) == len(backward) + 2  # one into the room, one in the key
    calm = drawing.section_drawing(some(plant, seasons), 0)
    assert not heavy(parsed(calm)) and not any("reversed" in t for t in texts(calm))


def test_a_spilling_hood_is_told_though_gas_still_rises():
    scan = Scan(lone_hood(0.5), SEASONS, solve(lone_hood(0.5), SEASONS, one_state((2,), 2, True)), 1, False)
    assert scan.solution.drawn[0, 0] < 0.0 < scan.solution.flow[0, 0]
    assert "FLUE GAS INTO THE ROOM" in texts(drawing.section_drawing(scan))


def test_devices_stand_with_their_tags_and_what_they_do():
    plant = row_plant(2)
    states, added = one_state((2, 2)), np.zeros((len(plant.order), 1))
    added[plant.row("stack")] = 12.0
    scan = Scan(plant, SEASONS, solve(plant, SEASONS, states, added), 1, False)
    devices = (Placed("F-1", FAN, "stack"), Placed("MD-1", DAMPER, "header 2"), Placed("PT-1", SENSOR, plant.far_end))
    drawn = drawing.section_drawing(scan, 0, "SI", devices)
    seen = section_state.read(scan)
    assert {"F-1 adds 12.0 Pa", "MD-1 takes 0.0 Pa", f"PT-1 reads {seen.header:.1f} Pa"} <= set(texts(drawn))
    assert "Fan F-1 adds 12.0 Pa." in drawn.words


def test_words_stand_in_the_drawing_for_those_who_do_not_see_it():
    drawn = drawing.section_drawing(some(*DEMO["school"]))
    title, told = list(parsed(drawn))[:2]
    assert title.text.startswith("Section of") and told.text == drawn.words


# --- To scale ---


def pipes(root):
    """Widths and points of the dark outlines of pipes."""
    found = [e for e in root.iter() if e.tag.endswith("polyline") and e.get("stroke") == INK]
    return [(float(e.get("stroke-width")), points_of(e)) for e in found]


def points_of(shape):
    return np.array([[float(v) for v in p.split(",")] for p in shape.get("points").split()])


def test_lengths_and_diameters_are_to_one_scale():
    plant = row_plant(2, stack_height=12.0)
    scan = Scan(plant, SEASONS, solve(plant, SEASONS, one_state((2, 2))), 1, False)
    lines = pipes(parsed(drawing.section_drawing(scan)))
    thick = [(width - 2.4, line) for width, line in lines if width > 6.0]  # of a pipe; less its two edges
    wide, stack = max(thick, key=lambda pipe: np.ptp(pipe[1][:, 1]))
    _, header = max(thick, key=lambda pipe: np.ptp(pipe[1][:, 0]))
    scale = np.ptp(stack[:, 1]) / 12.0
    assert np.ptp(header[:, 0]) / 2.0 == pytest.approx(scale, rel=0.01)
    assert wide / scale == pytest.approx(plant.section("stack").diameter.m_as("m"), rel=0.05)  # written to 0.1 pixel


def test_the_pressure_line_begins_at_the_outlet_and_ends_in_the_open():
    plant, seasons = DEMO["swim_hall"]
    scan = some(plant, seasons)
    for outlet in (a.name for a in plant.appliances):
        root = parsed(drawing.section_drawing(scan, 0, "SI", outlet=outlet))
        ticks = [(float(w), box) for w, box in written(root) if re.fullmatch(r"-?[\d.]+", w)]
        right = Counter(round(box[2]) for _, box in ticks if box[0] > 200.0).most_common(1)[0][0]
        level = {w: (box[1] + box[3]) / 2 for w, box in ticks if round(box[2]) == right}
        low, high = min(level), max(level)
        (line,) = [p for w, p in pipes(root) if w == 2.6]
        pressure = low + (line[:, 1] - level[low]) * (high - low) / (level[high] - level[low])
        i = [a.name for a in plant.appliances].index(outlet)
        expected = scan.solution.outlet_pressure[i, 0] + scan.solution.room_gauge[i, 0]
        assert pressure[0] == pytest.approx(expected, abs=0.02 * (high - low))
        # At the open end only the cap's loss less the head that leaves is left of it.
        row = plant.row("stack")
        last = scan.solution.pressure_down[row, 0] - scan.solution.head_down[row, 0]
        assert pressure[-1] == pytest.approx(last, abs=0.02 * (high - low))


def test_an_outlet_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="outlet 'Boiler 9'; choose Boiler 1, Boiler 2, Boiler 3"):
        drawing.section_drawing(some(*DEMO["swim_hall"]), outlet="Boiler 9")
