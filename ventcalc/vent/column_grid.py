"""Column grid: the sections of a vent cut into cells, for `gas_column`.

Places are the cells of all sections in the order of the network, each section between two borders: its first border
shows what enters from upstream, its last what enters from downstream.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.door import door
from ventcalc.vent.network import Network, Pipe


@dataclass(frozen=True)
class Grid:
    """The cells of a network. Arrays over places have a second axis of length 1, for the runs."""

    network: Network
    first: np.ndarray  # (sections) place of each section's first cell
    last: np.ndarray
    section: np.ndarray  # (places) row of the section
    real: np.ndarray  # (places) whether it is a cell
    volume: np.ndarray  # m3; 0 at borders
    per_volume: np.ndarray  # 1/m3; 0 at borders
    length: np.ndarray  # m of wall; 0 at borders
    area: np.ndarray  # m2
    pressure: np.ndarray  # Pa absolute, of the place
    pipe: Pipe  # of every place, arrays in the place of numbers
    serves: np.ndarray  # (sections, appliances) the appliances whose gas passes a section
    children: np.ndarray  # (2, sections) rows of the sections that lead into each; the number of sections if none
    fed: np.ndarray  # (appliances) row of the first section
    roots: np.ndarray  # rows of the sections that end at a termination
    inward: np.ndarray  # rows of the others
    parents: np.ndarray  # rows of the sections into which those lead
    alone: np.ndarray  # whether nothing else leads into them


@door(plain={"cell": "m"}, above={"cell": 0.0})
def grid(network: Network, cell: float) -> Grid:
    """The cells of a network, each at least ``cell`` [m] long and less than twice that.

    A section that is shorter than that is one cell, with the volume of a whole one: gas passes it late by less
    than it takes to pass a cell.
    """
    pipes = network.pipes
    counts = np.array([max(int(p.length / cell + 1e-9), 1) for p in pipes])
    section = np.repeat(np.arange(len(pipes)), counts + 2)
    last = np.cumsum(counts + 2) - 2
    first = last - counts + 1
    real = np.ones(section.size, bool)
    real[first - 1] = real[last + 1] = False
    place = replace(pipes[0], **{name: _spread(pipes, section, name) for name in _NUMBERS})
    length = np.where(real, _of(pipes, "length")[section] / counts[section], 0.0)[:, None]
    volume = np.where(real[:, None], np.maximum(length, cell) * place.area, 0.0)
    above = np.zeros((len(pipes), len(pipes)))
    for i, pipe in enumerate(pipes):
        for child in pipe.children:
            above[i] += above[child]
            above[i, child] = 1.0
    children = np.full((2, len(pipes)), len(pipes))
    for i, pipe in enumerate(pipes):
        children[: len(pipe.children), i] = pipe.children
    parent = np.array([p.parent for p in pipes])
    return Grid(
        network=network,
        first=first,
        last=last,
        section=section,
        real=real,
        volume=volume,
        per_volume=np.where(volume > 0.0, 1.0 / np.where(volume > 0.0, volume, 1.0), 0.0),
        length=length,
        area=place.area,
        pressure=network.pressure * place.thin_air,
        pipe=place,
        serves=(above + np.eye(len(pipes)))[:, list(network.fed_by)],
        children=children,
        fed=np.array(network.fed_by),
        roots=np.flatnonzero(parent < 0),
        inward=np.flatnonzero(parent >= 0),
        parents=parent[parent >= 0],
        alone=np.array([len(pipes[p].children) == 1 for p in parent[parent >= 0]], bool),
    )


_NUMBERS = (
    *("diameter", "area", "length", "rise", "surface", "relative_roughness", "fixed_loss", "outside_resistance"),
    "thin_air",
)


def _of(pipes, name: str) -> np.ndarray:
    return np.array([float(getattr(p, name)) for p in pipes])


def _spread(pipes, section, name: str) -> np.ndarray:
    return _of(pipes, name)[section][:, None]
