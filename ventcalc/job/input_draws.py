"""Input draws: a design as it may turn out, many times over: its vent in variants and its controls off by something.

Scrambled Sobol points fill the cube of all uncertain inputs evenly; each point is one variant of the vent and of what
its controls hold (`varied_network`). Windows stay what the instructions say.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import scipy

from ventcalc.door import door
from ventcalc.draft import sensor_error
from ventcalc.draft.dampers import Damper
from ventcalc.draft.held_pressure import HEADER, Control, Varied
from ventcalc.flow import junctions
from ventcalc.gas.streams import GAS_R
from ventcalc.job.uncertain_inputs import BOILER_ROOM, Input
from ventcalc.vent.network import Network
from ventcalc.vent.varied_network import unvaried, varied
from ventcalc.vent.varied_streams import StreamTable, varied_stream


def points(dimensions: int, count: int, seed: int) -> np.ndarray:
    """Scrambled Sobol points (count, dimensions) from 0 to 1; ``count`` a power of two keeps them balanced."""
    from scipy.stats import qmc  # slow to import

    return qmc.Sobol(dimensions, scramble=True, rng=seed).random(count)


@door(plain={"times": ""}, above={"times": 0.0})
def widened(at: np.ndarray, times: float) -> np.ndarray:
    """Points moved outward as if every normal input were spread so many times as wide."""
    return at if times == 1.0 else scipy.special.ndtr(times * scipy.special.ndtri(np.clip(at, _EDGE, 1.0 - _EDGE)))


@dataclass(frozen=True)
class Draws:
    """Variants of a design: its ``network`` in all of them, and the ``controls`` with their errors, per season of each.

    ``points`` (variants, inputs) are where in their distributions the ``inputs`` were drawn; ``seasons`` how many there
    are of one variant. ``stops`` (controls, variants): by how many steps of its actuator a damper stops off.
    """

    inputs: tuple[Input, ...]
    points: np.ndarray
    network: Network
    controls: tuple[Control, ...]
    seasons: int
    stops: np.ndarray

    def __len__(self) -> int:
        return len(self.points)

    def controls_in(self, season: np.ndarray) -> tuple[Control, ...]:
        """The controls with the offsets of columns in these seasons of the varied network."""
        return tuple(replace(c, offset=c.offset[season]) for c in self.controls)


def draws(network: Network, controls: Sequence[Control], inputs: Sequence[Input], at: np.ndarray) -> Draws:
    """The variants of a design at given points (variants, inputs) of its uncertain inputs."""
    values = {(i.kind.key, i.subject): i.values(u) for i, u in zip(inputs, at.T, strict=True)}
    drawn = _Drawn(network, values, len(at))
    many = drawn.vent()
    found = tuple(drawn.control(many, c) for c in controls)
    stops = drawn.of_sections("actuator", [c.sensor for c in controls], 0.0).reshape(len(controls), len(at))
    return Draws(tuple(inputs), at, many, found, len(network.seasons), stops)


def with_values(
    network: Network,
    controls: Sequence[Control],
    values: Mapping[tuple[str, str], np.ndarray],
    count: int,
    tables: Sequence[StreamTable],
) -> tuple[Network, tuple[Control, ...]]:
    """A design in ``count`` variants, each input (by its key and its subject) as ``values`` says in every one; what its
    appliances send is read from their ``tables``."""
    drawn = _Drawn(network, values, count, tables)
    many = drawn.vent()
    return many, tuple(drawn.control(many, c) for c in controls)


class _Drawn:
    """What the inputs are in every variant."""

    def __init__(
        self,
        network: Network,
        values: Mapping[tuple[str, str], np.ndarray],
        count: int,
        tables: Sequence[StreamTable] = (),
    ):
        self.network, self.plant, self.count, self.values = network, network.plant, count, values
        self.tables = tables

    def of(self, key: str, subject: str = "", otherwise: float = 1.0) -> np.ndarray:
        """What an input is in every variant; ``otherwise`` where the design has none of it."""
        return self.values.get((key, subject), np.full(self.count, otherwise))

    def of_sections(self, key: str, names: Sequence[str], otherwise: float = 1.0) -> np.ndarray:
        return np.array([self.of(key, name, otherwise) for name in names])

    def vent(self) -> Network:
        """The vent in all variants."""
        order, network = self.plant.order, self.network
        names, ends, materials = [s.name for s in order], [s.into for s in order], [s.material.name for s in order]
        appliances = [a.name for a in self.plant.appliances]
        rooms = [BOILER_ROOM, *(p.name for p in self.plant.places)]
        by = replace(
            unvaried(network, self.count),
            **{name: self.of(key) for name, key in _FOR_ALL.items()},
            roughness=self.of_sections("roughness", materials),
            wall=self.of_sections("wall", materials),
            fixed_loss=self.of("fittings") * self.of_sections("fitting", names),
            end_loss=self.of("fittings") * self.of_sections("cap", ends),
            bore=self.of_sections("narrow", names),
            terminal=self.of_sections("terminal_wind", ends, 0.0),
            building=self.of("building_wind", otherwise=0.0),
            leak=self.of_sections("leak", appliances) * self.of_sections("hood", appliances),
            place_factor=np.tile(self.of("room_leakage") ** -_PRESSURE_POWER, (len(rooms), 1)),
            place_added=self.of_sections("room_pressure", rooms, 0.0),
            forms=self._forms(),
            streams=tuple(self._stream(i, name) for i, name in enumerate(appliances)),
        )
        return varied(network, by)

    def _stream(self, i: int, name: str):
        set_up = self.of("oxygen", name, 0.0), self.of("flue_temperature", name, 0.0), self.of("rate", name)
        if self.tables:
            return self.tables[i].stream(self.network, i, *set_up)
        return varied_stream(self.network, i, *set_up)

    def _forms(self) -> dict[int, junctions.Coefficients]:
        """Coefficients of every junction by the formula that holds in each variant, and its own error."""
        choice, found = self.of("junction_formula", otherwise=0.0).astype(int), {}
        for row, pipe in enumerate(self.network.pipes):
            if pipe.form is None:
                continue
            branch = self.plant.order[pipe.children[-1]]
            meters = (float(s.diameter.m_as("m")) * self.of("narrow", s.name) for s in (branch, self.plant.order[row]))
            ratio, form = junctions.area_ratio(*meters), junctions.junction(branch.junction)
            by_author = [junctions.by_author(a, form, ratio) for a in junctions.AUTHORS]
            every = np.array([[np.broadcast_to(value, ratio.shape) for value in own] for own in by_author])
            own = every[choice, :, np.arange(self.count)].T
            found[row] = junctions.Coefficients(*(own * self.of("junction", branch.name)))
        return found

    def control(self, many: Network, control: Control) -> Control:
        """A control as it turns out: what its sensor reads too much, per season of every variant, and its fan."""
        seasons, sensor = len(self.network.seasons), control.sensor
        if not control.holds:
            off = np.zeros(self.count)
        else:
            off = sum(self.of(key, sensor, 0.0) for key in ("sensor", "set_point"))
        offset = np.asarray(control.offset) + np.repeat(off, seasons)
        if control.holds and sensor == HEADER:
            offset = offset + self._tube(many)
        device = control.device
        if not isinstance(device, Damper):
            device = Varied(device, np.repeat(self.of("fan"), seasons))
        return replace(control, offset=offset, device=device)

    def _tube(self, many: Network) -> np.ndarray:
        """What cold air in the sensor's tube makes it read too much [Pa], per season of every variant.

        How high the tube runs outdoors is drawn, the air in it as cold as outdoors.
        """
        height = np.repeat(self.of("tube", otherwise=0.0), len(self.network.seasons))
        cold = many.pressure / (many.room_gas[GAS_R] * many.outdoor)
        return sensor_error.leg_error.bare(height, cold, many.room_density)


_EDGE = 1e-9
# What one draw serves for all, by the name that a variation has for it.
_FOR_ALL = {"friction": "friction", "film": "film", "still": "still_film", "outdoor": "outdoor_film"}
# A room's pressure at a known exhaust goes by its leakage area to this power: flow by the pressure to the power of 0.65
# (usual of buildings; common practice, no source).
_PRESSURE_POWER = 1.0 / 0.65
