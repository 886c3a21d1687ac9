"""Changed network: what causes change in a vent that is varied already: losses, bores, walls, ways in and wind.

A section that is narrower or longer than drawn keeps its bore in the solver and has the loss, the friction and the
surface of the other. Wind is told as a pressure at every terminal, so that it may press in calm too.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ventcalc.job.survey_causes import Values
from ventcalc.vent.network import Network, Pipe

DISCHARGE = 0.6  # of a sharp-edged opening (common practice, no source)

# Inputs and changes that are added, nought where nothing is changed; all others are factors.
_ADDED = frozenset(
    (
        *("oxygen", "flue_temperature", "room_pressure", "terminal_wind", "building_wind", "sensor", "set_point"),
        *("tube", "junction_formula", "loss", "cap loss", "joint", "idle", "terminal pressure", "sensor read"),
    )
)


def joined(*parts: Values) -> Values:
    """Inputs and changes together: factors on one thing multiply, what is added to it adds up."""
    found: Values = {}
    for part in parts:
        for key, value in part.items():
            if key not in found:
                found[key] = value
            elif _adds(key[0]):
                found[key] = found[key] + value
            else:
                found[key] = found[key] * value
    return found


def stacked(parts: Sequence[tuple[Values, int]]) -> tuple[Values, int]:
    """Batches of variants one behind the other; what one of them does not change stays as drawn in it."""
    total = sum(count for _, count in parts)
    found: Values = {}
    for key in dict.fromkeys(key for values, _ in parts for key in values):
        still = 0.0 if _adds(key[0]) else 1.0
        found[key] = np.concatenate([np.broadcast_to(v.get(key, np.array(still)), (n,)) for v, n in parts])
    return found, total


def _adds(name: str) -> bool:
    return name in _ADDED


def changed(network: Network, drawn: Network, values: Values, count: int) -> Network:
    """A varied network with what causes change in it."""
    plant, seasons = network.plant, len(drawn.seasons)

    def each(key: str, subject: str, otherwise: float) -> np.ndarray:
        return np.repeat(values.get((key, subject), np.full(count, otherwise)), seasons)

    head = np.tile(drawn.wind_head, count)
    pipes = []
    for section, pipe in zip(plant.order, network.pipes, strict=True):
        name, end = section.name, section.into
        bore = each("narrow", name, 1.0), each("longer", name, 1.0)
        wall = float(section.material.wall_resistance.m_as("m**2*K/W")) * (1.0 - each("wall left", name, 1.0))
        changes = {
            "fixed_loss": _loss(pipe, *bore) + each("loss", name, 0.0),
            "friction_scale": pipe.friction_scale * bore[1] / bore[0] ** 5,
            "surface": pipe.surface * bore[0] * bore[1],
            "outside_resistance": np.maximum(pipe.outside_resistance - wall, _LEAST_FILM),
        }
        if pipe.parent < 0:
            changes["end_loss"] = pipe.end_loss + each("cap loss", end, 0.0)
            changes["wind"] = pipe.wind * head + each("terminal pressure", end, 0.0)
        pipes.append(replace(pipe, **changes))
    resistance = [_ways(network, i, a.name, each) for i, a in enumerate(plant.appliances)]
    return replace(network, pipes=tuple(pipes), resistance=tuple(resistance), wind_head=np.ones(head.size))


_LEAST_FILM = 0.02  # m2 K/W: a bare wall in a gale (50 W/m2 K)


def _loss(pipe: Pipe, narrow: np.ndarray, longer: np.ndarray) -> np.ndarray:
    """Loss coefficient of a section on its drawn velocity head, as it is where it is ``narrow`` and ``longer``.

    With the change of size into it and out of it: 0.5 (1 - a) on the narrow head, and (1 - a)^2 as it widens (Borda and
    Carnot; textbook), with a the ratio of areas.
    """
    area = narrow**2
    sizes = np.where(narrow < 1.0, 0.5 * (1.0 - area) + (1.0 - area) ** 2, 0.0)
    return (pipe.fixed_loss * longer + sizes) / area**2


def _ways(network: Network, i: int, name: str, each) -> np.ndarray:
    """Resistance of the way in from the room (seasons, codes), beside a joint and an idle way that stand open."""
    own = network.resistance[i]
    density = network.place_density[network.rooms[i]]
    conductance = np.where(np.isfinite(own), 1.0 / np.sqrt(own), 0.0)
    flow = DISCHARGE * np.sqrt(2.0 * density)
    conductance = conductance + (each("joint", name, 0.0) * flow)[:, None]
    conductance[:, 0] += each("idle", name, 0.0) * flow
    with np.errstate(divide="ignore"):
        return np.where(conductance > 0.0, 1.0 / np.square(conductance), np.inf)
