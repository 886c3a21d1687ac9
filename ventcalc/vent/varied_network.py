"""Varied network: one plant many times over, its numbers a little different each time, solved in one batch.

Each variant has seasons of its own: season ``s`` of variant ``v`` has the index ``v S + s`` of S seasons. So tables of
a network that differ from season to season take what differs between variants, and pipes, junctions and winds become
arrays with one value a season. `of_variants` makes the states.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from ventcalc.flow import heat_loss
from ventcalc.flow.junctions import Coefficients
from ventcalc.vent.layout import Section
from ventcalc.vent.network import Network, Pipe, size_loss
from ventcalc.vent.states import States


@dataclass(frozen=True)
class Variation:
    """What is different in every variant (last axis); 1 or 0 leaves a number as it is. Plain SI.

    Factors on ``friction`` and ``film`` inside, on films ``still`` indoors and ``outdoor`` (variants); on
    ``roughness``, resistance of the ``wall``, ``fixed_loss``, ``end_loss`` and the diameter of the ``bore`` (sections,
    variants); where a bore differs ``forms`` must have its junctions as they are with it. ``forms`` are the
    coefficients of the junctions by their sections, arrays over the variants. Added to the wind coefficient of every
    ``terminal`` (sections, variants) and of the ``building`` (variants). ``streams`` (appliances) give what an
    appliance sends into the vent, as tables (variants, seasons, codes) of flow [kg/s], temperature [K] and gas
    (properties first); none: as compiled. Factor on what the way in from the room lets pass at one pressure, ``leak``
    (appliances, variants). Pressure of every place: ``place_factor`` times its own and ``place_added`` [Pa] (places,
    variants).
    """

    count: int
    friction: np.ndarray
    film: np.ndarray
    still: np.ndarray
    outdoor: np.ndarray
    roughness: np.ndarray
    wall: np.ndarray
    fixed_loss: np.ndarray
    end_loss: np.ndarray
    bore: np.ndarray
    terminal: np.ndarray
    building: np.ndarray
    leak: np.ndarray
    place_factor: np.ndarray
    place_added: np.ndarray
    forms: dict[int, Coefficients] = field(default_factory=dict)
    streams: tuple = ()


def unvaried(network: Network, count: int) -> Variation:
    """A variation that leaves every variant as the network is."""
    pipes, many, places = len(network.pipes), len(network.fed_by), len(network.place_temperature)
    one = np.ones(count)
    return Variation(
        count=count,
        **dict.fromkeys(("friction", "film", "still", "outdoor"), one),
        **{name: np.ones((pipes, count)) for name in ("roughness", "wall", "fixed_loss", "end_loss", "bore")},
        terminal=np.zeros((pipes, count)),
        building=np.zeros(count),
        leak=np.ones((many, count)),
        place_factor=np.ones((places, count)),
        place_added=np.zeros((places, count)),
    )


def varied(network: Network, by: Variation) -> Network:
    """The network in all its variants."""
    seasons, count = len(network.seasons), by.count

    def every(values):
        """A table whose last axis is the seasons, over all variants."""
        return np.tile(values, (*[1] * (np.ndim(values) - 1), count))

    def each(values):
        """Values whose last axis is the variants, over their seasons."""
        return np.repeat(values, seasons, axis=-1)

    pressure = every(network.place_pressure) * each(by.place_factor) + each(by.place_added)
    streams = [_stream(network, i, by, every) for i in range(len(network.fed_by))]
    per_season = ("outdoor", "outdoor_density", "place_temperature", "place_density", "place_gas", "wind_head")
    return replace(
        network,
        varied=True,
        seasons=network.seasons * count,
        pipes=tuple(_pipe(network, row, by, each) for row in range(len(network.pipes))),
        prescribed=tuple(s[0] for s in streams),
        temperature=tuple(s[1] for s in streams),
        gas=tuple(s[2] for s in streams),
        resistance=tuple(
            np.tile(r, (count, 1)) / each(leak)[:, None] ** 2
            for r, leak in zip(network.resistance, by.leak, strict=True)
        ),
        place_pressure=pressure,
        outdoor_gas=every(network.outdoor_gas),
        terminal_wind=network.terminal_wind[..., None] + each(by.terminal)[:, None, :],
        room_wind=network.room_wind[..., None] + each(by.building),
        **{name: every(getattr(network, name)) for name in per_season},
    )


def of_variants(states: States, which: np.ndarray, conditions: np.ndarray, seasons: int) -> States:
    """Columns: the conditions (indices into ``states``), each in the variant ``which`` names."""
    own = states[conditions]
    return replace(own, season=own.season + seasons * np.asarray(which))


def _stream(network: Network, i: int, by: Variation, every: Callable):
    """Flow, temperature and gas of an appliance as tables over all seasons of all variants."""
    if by.streams:
        flow, temperature, gas = by.streams[i]
        codes = flow.shape[-1]
        return flow.reshape(-1, codes), temperature.reshape(-1, codes), gas.reshape(len(gas), -1, codes)
    own = network.prescribed[i], network.temperature[i]
    flow, temperature = (every(values.T).T for values in own)
    return flow, temperature, np.tile(network.gas[i], (1, by.count, 1))


def _pipe(network: Network, row: int, by: Variation, each: Callable) -> Pipe:
    pipe, section = network.pipes[row], network.plant.order[row]
    film, scale = (heat_loss.OUTDOOR_FILM, by.outdoor) if pipe.outdoors else (heat_loss.STILL_ROOM_FILM, by.still)
    material = section.material
    wall = float(material.wall_resistance.m_as("m**2*K/W"))
    outside = wall * by.wall[row] + 1.0 / (material.diameter_ratio * film * scale)
    form = by.forms.get(row)
    bore, loss = _bore(network, row, by, each)
    return replace(
        pipe,
        **bore,
        form=_everywhere(pipe.form, network, by) if form is None else Coefficients(*(each(value) for value in form)),
        relative_roughness=each(pipe.relative_roughness * by.roughness[row] / by.bore[row]),
        fixed_loss=each(loss * by.fixed_loss[row]),
        outside_resistance=each(outside),
        end_loss=each(pipe.end_loss * by.end_loss[row]),
        wind=each(pipe.wind + by.terminal[row]) if pipe.parent < 0 else pipe.wind,
        friction_scale=each(by.friction),
        film_scale=each(by.film),
    )


def _bore(
    network: Network, row: int, by: Variation, each: Callable
) -> tuple[dict[str, np.ndarray], np.ndarray | float]:
    """What a bore that is not as drawn makes of a section's sizes, and the loss of fittings and changes of size."""
    pipe, plant = network.pipes[row], network.plant
    if (by.bore == 1.0).all():
        return {}, pipe.fixed_loss

    def diameter(section: Section) -> np.ndarray:
        k = plant.row(section.name)
        return network.pipes[k].diameter * by.bore[k]

    section, own = plant.order[row], by.bore[row]
    loss = section.loss + size_loss(plant, section, diameter)
    if (own == 1.0).all():
        return {}, loss
    sizes = {"diameter": pipe.diameter * own, "area": pipe.area * own**2, "surface": pipe.surface * own}
    return {name: each(value) for name, value in sizes.items()}, loss


def _everywhere(form: Coefficients | None, network: Network, by: Variation) -> Coefficients | None:
    return None if form is None else Coefficients(*(np.full(by.count * len(network.seasons), v) for v in form))
