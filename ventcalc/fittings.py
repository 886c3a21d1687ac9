"""Fittings: what elbows, changes of size and terminals cost.

A coefficient K is the loss of total pressure over the velocity head of the section the fitting belongs
to (for a change of size: of the smaller section). The published figures spread widely: a 90 degree
elbow is 0.75 in the chimney handbook, 0.22 for a smooth bend and 1.2 for a mitre in the duct tables.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc import tables
from ventcalc.units import quantities


@dataclass(frozen=True)
class Fitting:
    """One row of ``data/fittings.csv``: ``loss`` K [-], ``wind`` coefficient [-] (terminals only), its origin."""

    name: str
    kind: str
    loss: float
    wind: float
    source: str
    status: str


def names(kind: str | None = None) -> tuple[str, ...]:
    """Names of the known fittings, or of one kind: "elbow", "screen", "terminal"."""
    return tuple(row["name"] for row in tables.read("fittings") if kind in (None, row["kind"]))


def fitting(name: str) -> Fitting:
    """The fitting of that name; ValueError lists the known names."""
    for row in tables.read("fittings"):
        if row["name"] == name:
            return Fitting(
                name, row["kind"], float(row["loss"]), float(row["wind"] or 0.0), row["source"], row["status"]
            )
    raise ValueError(f"unknown fitting {name!r}; known are: {', '.join(names())}")


@quantities(
    "",
    upstream_diameter="m",
    downstream_diameter="m",
    angle="degree",
    above={"upstream_diameter": 0.0, "downstream_diameter": 0.0, "angle": 0.0},
    at_most={"angle": 180.0},
    source="Crane Technical Paper 410 (2009), formulas 1 to 4, sudden and gradual changes of size",
)
def size_change(upstream_diameter, downstream_diameter, angle):
    """Loss coefficient of a reducer or increaser on the velocity head of its smaller end.

    With ``beta`` = smaller over larger diameter and the included cone angle: increaser
    ``2.6 sin(angle/2) (1 - beta^2)^2`` up to 45 degrees, ``(1 - beta^2)^2`` beyond; reducer
    ``0.8 sin(angle/2) (1 - beta^2)`` up to 45 degrees, ``0.5 sqrt(sin(angle/2)) (1 - beta^2)`` beyond.
    upstream_diameter and downstream_diameter [m], angle [degree] above 0, up to 180 (an abrupt step); scalars
    or arrays. Equal diameters lose nothing. Raises for a diameter or angle that is not positive.
    """
    smaller = np.minimum(upstream_diameter, downstream_diameter)
    area_loss = 1.0 - (smaller / np.maximum(upstream_diameter, downstream_diameter)) ** 2
    half_sine = np.sin(np.radians(angle) / 2.0)
    gradual = np.asarray(angle) <= 45.0
    increaser = np.where(gradual, 2.6 * half_sine, 1.0) * area_loss**2
    reducer = np.where(gradual, 0.8 * half_sine, 0.5 * np.sqrt(half_sine)) * area_loss
    return np.where(np.asarray(downstream_diameter) > upstream_diameter, increaser, reducer)[()]
