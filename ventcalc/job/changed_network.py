"""Changed network: what causes change in a vent that is varied already: losses, bores, walls, ways in and wind.

A section that is longer than drawn keeps its length in the solver and has the loss, the friction and the surface of the
other; its bore is varied with the inputs (`input_draws`). Wind is told as a pressure at every terminal, so that it may
press in calm too.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ventcalc.gas.appliance import DISCHARGE
from ventcalc.job.survey_causes import Values
from ventcalc.vent.network import Network

# Inputs and changes that are added, nought where nothing is changed; all others are factors.
_ADDED = frozenset({
    *("oxygen", "flue_temperature", "room_pressure", "terminal_wind", "building_wind", "sensor", "set_point"),
    *("tube", "junction_formula", "loss", "cap loss", "joint", "idle", "terminal pressure", "sensor read"),
})  # fmt: skip
_LEAST_FILM = 0.02  # m2 K/W: a bare wall in a gale (50 W/m2 K)


def joined(*parts: Values) -> Values:
    """Inputs and changes together: factors on one thing multiply, what is added to it adds up."""
    found: Values = {}
    for part in parts:
        for key, value in part.items():
            if key not in found:
                found[key] = value
            elif key[0] in _ADDED:
                found[key] = found[key] + value
            else:
                found[key] = found[key] * value
    return found


def stacked(parts: Sequence[tuple[Values, int]]) -> tuple[Values, int]:
    """Batches of variants one behind the other; what one of them does not change stays as drawn in it."""
    total = sum(count for _, count in parts)
    found: Values = {}
    for key in dict.fromkeys(key for values, _ in parts for key in values):
        still = 0.0 if key[0] in _ADDED else 1.0
        found[key] = np.concatenate([np.broadcast_to(v.get(key, np.array(still)), (n,)) for v, n in parts])
    return found, total


def changed(network: Network, drawn: Network, values: Values, count: int) -> Network:
    """A varied network with what causes change in it."""
    plant, seasons = network.plant, len(drawn.seasons)

    def each(key: str, subject: str, otherwise: float) -> np.ndarray:
        return np.repeat(values.get((key, subject), np.full(count, otherwise)), seasons)

    head = np.tile(drawn.wind_head, count)
    pipes = []
    for section, pipe in zip(plant.order, network.pipes, strict=True):
        name, end = section.name, section.into
        longer = each("longer", name, 1.0)
        wall = float(section.material.wall_resistance.m_as("m**2*K/W")) * (1.0 - each("wall left", name, 1.0))
        changes = {
            "fixed_loss": pipe.fixed_loss + section.loss * (longer - 1.0) + each("loss", name, 0.0),
            "friction_scale": pipe.friction_scale * longer,
            "surface": pipe.surface * longer,
            "outside_resistance": np.maximum(pipe.outside_resistance - wall, _LEAST_FILM),
        }
        if pipe.parent < 0:
            changes["end_loss"] = pipe.end_loss + each("cap loss", end, 0.0)
            changes["wind"] = pipe.wind * head + each("terminal pressure", end, 0.0)
        pipes.append(replace(pipe, **changes))
    resistance = [_ways(network, i, a.name, each) for i, a in enumerate(plant.appliances)]
    return replace(network, pipes=tuple(pipes), resistance=tuple(resistance), wind_head=np.ones(head.size))


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
