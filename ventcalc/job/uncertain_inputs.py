"""Uncertain inputs: what of a design is not known well, by how much, and where that figure comes from.

The table ``data/job/uncertain_inputs.csv`` says of each input how it is spread and whether one draw serves all (one
formula for all tees, off by as much in each) or each has its own. `inputs` lists those that a design has; what it has
none of, such as a fan, is left out.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import scipy

from ventcalc import tables
from ventcalc.draft.dampers import Damper
from ventcalc.draft.held_pressure import HEADER, Control
from ventcalc.flow import fittings
from ventcalc.job.job_file import Job
from ventcalc.job.remedy import Remedy
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.units import Q_
from ventcalc.vent.end_of_header import far_end
from ventcalc.vent.network import Network, compile_network

BY_JOB = "by job"
BOILER_ROOM = "the boiler room"  # what an input or a change of its air is about
_UNITS = {"Pa": "Pa", "m": "m", "delta_degC": "delta_degC", "percent": "dimensionless", "-": "dimensionless"}
_EDGE = 1e-9  # of a normal distribution nothing beyond is drawn
LEAST_SHARE = 0.05  # no factor about 1 falls below


@dataclass(frozen=True)
class Uncertain:
    """A row of the table; ``spread`` in the SI unit of its own, NaN where it is worked out from the job."""

    key: str
    name: str
    distribution: str
    spread: float
    each: str
    source: str
    status: str
    note: str


@dataclass(frozen=True)
class Input:
    """One number that is drawn: the ``kind`` of uncertainty, of what it is, and its own ``spread``."""

    kind: Uncertain
    subject: str
    spread: float

    @property
    def name(self) -> str:
        """What a reader calls it."""
        return self.kind.name.format(subject=self.subject)

    def values(self, points: np.ndarray) -> np.ndarray:
        """What it is at points from 0 to 1 of its distribution: a factor, or what is added."""
        return DISTRIBUTIONS[self.kind.distribution](np.asarray(points, float), self.spread)


def _normal(points):
    return scipy.special.ndtri(np.clip(points, _EDGE, 1.0 - _EDGE))


DISTRIBUTIONS: dict[str, Callable] = {
    "share": lambda points, spread: np.maximum(1.0 + spread * _normal(points), LEAST_SHARE),
    "factor": lambda points, spread: np.exp(spread * _normal(points)),
    "normal": lambda points, spread: spread * _normal(points),
    "uniform": lambda points, spread: spread * (2.0 * points - 1.0),
    "between": lambda points, spread: spread * points,
    "choice": lambda points, spread: np.minimum(np.floor(spread * points), spread - 1.0),
}


@cache
def table() -> dict[str, Uncertain]:
    """Every row by its key."""
    found = {}
    for r in tables.read("uncertain_inputs"):
        spread = np.nan if r["spread"] == BY_JOB else float(Q_(float(r["spread"]), _unit(r)).m_as(_UNITS[r["unit"]]))
        told = (r[name] for name in ("each", "source", "status", "note"))
        found[r["key"]] = Uncertain(r["key"], r["name"], r["distribution"], spread, *told)
    return found


def _unit(row) -> str:
    return "dimensionless" if row["unit"] == "-" else row["unit"]


def inputs(job: Job, outcome: Outcome) -> tuple[Input, ...]:
    """Everything uncertain of a design, in the order of the table; ``outcome`` is what was solved of it."""
    held = () if outcome.held is None else outcome.held.controls
    return of_remedy(job, outcome.remedy, held, outcome.sensors)


def of_remedy(job: Job, remedy: Remedy, controls: Sequence[Control], sensors: Sequence[float]) -> tuple[Input, ...]:
    """As `inputs`, of a remedy that nobody has solved; ``sensors`` is how far that of each control may be off [Pa]."""
    design = _Design(job, remedy, controls, sensors)
    found = []
    for kind in table().values():
        for subject, share in _OF_EACH[kind.each](design):
            found.append(Input(kind, subject, share if np.isnan(kind.spread) else share * kind.spread))
    return tuple(found)


class _Design:
    """What of a design there is to be uncertain about."""

    def __init__(self, job: Job, remedy: Remedy, controls: Sequence[Control], sensors: Sequence[float]):
        self.remedy, self.plant, self.controls = remedy, remedy.plant, list(controls)
        self.errors = sensors
        self.network: Network = compile_network(self.plant, job.seasons)
        self.holding = [c for c in self.controls if c.holds]
        windy = any(float(s.wind.m_as("m/s")) > 0.0 for s in job.seasons)
        self.terminals = [s for s in self.plant.order if s.into in {t.name for t in self.plant.terminations}]
        self.windy = self.terminals if windy else []

    def sections(self):
        """Sections with fittings; what several of them make up for, as a share of the error of one."""
        for section, pipe in zip(self.plant.order, self.network.pipes, strict=True):
            if pipe.fixed_loss > 0.0:
                own = [*(fittings.fitting(f).loss for f in section.fittings), section.obstruction]
                parts = np.array([*own, max(pipe.fixed_loss - sum(own), 0.0)])
                yield section.name, float(np.sqrt((parts**2).sum()) / parts.sum())

    def materials(self, which=lambda section: True):
        return dict.fromkeys(s.material.name for s in self.plant.order if which(s))

    def places(self):
        return [BOILER_ROOM, *(p.name for p in self.plant.places)]

    def sensors(self):
        return [(c.sensor, s) for c, s in zip(self.controls, self.errors, strict=True) if c.holds]

    def cold_tube(self):
        """Whether the header is read where it is colder than in the room."""
        here = self.network.pipes[self.plant.row(far_end(self.plant))]
        return here.outdoors and any(c.sensor == HEADER for c in self.holding)


def has_damper(control: Control) -> bool:
    """Whether a damper is among what a control moves."""
    devices = [control.device, *([control.second.device] if control.second else [])]
    return any(isinstance(device, Damper) for device in devices)


def _alone(there: bool):
    return [("", 1.0)] if there else []


def _named(names):
    return [(name, 1.0) for name in names]


_OF_EACH = {
    "all": lambda d: _alone(True),
    "indoors": lambda d: _alone(not all(p.outdoors for p in d.network.pipes)),
    "outdoors": lambda d: _alone(any(p.outdoors for p in d.network.pipes)),
    "tees": lambda d: _alone(any(s.junction for s in d.plant.order)),
    "material": lambda d: _named(d.materials()),
    "insulating material": lambda d: _named(
        d.materials(lambda s: float(s.material.wall_resistance.m_as("m**2*K/W")) > 0.0)
    ),
    "section": lambda d: list(d.sections()),
    "junction": lambda d: _named(s.name for s in d.plant.order if s.junction),
    "terminal": lambda d: _named(s.into for s in d.terminals if d.network.pipes[d.plant.row(s.name)].end_loss > 0.0),
    "appliance": lambda d: _named(a.name for a in d.plant.appliances),
    "idle leak": lambda d: _named(a.name for a in d.plant.appliances if a.kind == "forced" and a.idle == "leaking"),
    "open way": lambda d: _named(a.name for a in d.plant.appliances if a.kind != "forced"),
    "place": lambda d: _named(d.places()),
    "pressed rooms": lambda d: _alone(bool(np.any(d.network.place_pressure))),
    "windy terminal": lambda d: _named(s.into for s in d.windy),
    "windy building": lambda d: _alone(bool(d.windy) and d.plant.exposure is not None),
    "sensor": lambda d: d.sensors(),
    "damper": lambda d: _named(c.sensor for c in d.holding if has_damper(c)),
    "fan": lambda d: _alone(d.remedy.fan is not None),
    "cold tube": lambda d: _alone(d.cold_tube()),
    "control": lambda d: _named(c.sensor for c in d.holding),
}
