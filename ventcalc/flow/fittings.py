"""Fittings: what elbows, changes of size and terminals cost.

A coefficient K is the loss of total pressure over the velocity head of the section the fitting belongs
to (for a change of size: of the smaller section). The published figures spread widely: a 90 degree
elbow is 0.75 in the chimney handbook, 0.22 for a smooth bend and 1.2 for a mitre in the duct tables.

Coefficients are measured with straight pipe before and behind. Two elbows close together are not two elbows: see
`pair_factor`. A sum of single coefficients is what the solver takes.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc import tables
from ventcalc.units import quantities
from ventcalc.words import meant


@dataclass(frozen=True)
class Fitting:
    """One row of ``data/flow/fittings.csv``: ``loss`` K [-], ``wind`` coefficient [-] (terminals only), its origin."""

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
    raise ValueError(f"unknown fitting {name!r}; {meant(name, names())}")


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


@quantities(
    "",
    loss_coefficient="",
    own_diameter="m",
    other_diameter="m",
    at_least={"loss_coefficient": 0.0},
    above={"own_diameter": 0.0, "other_diameter": 0.0},
    source="Continuity: the velocity head of one flow goes with 1/D^4",
)
def on_other_diameter(loss_coefficient, own_diameter, other_diameter):
    """The same loss as a coefficient on the velocity head of another diameter, ``K (D_other / D_own)^4``.

    loss_coefficient K [-] belongs to own_diameter [m] and is wanted on other_diameter [m], for one flow at one
    density; scalars or arrays. Raises for a diameter that is not positive or a negative coefficient.
    """
    return loss_coefficient * (other_diameter / own_diameter) ** 4


@quantities(
    "m",
    loss_coefficient="",
    diameter="m",
    friction_factor="",
    at_least={"loss_coefficient": 0.0},
    above={"diameter": 0.0, "friction_factor": 0.0},
    source="Darcy-Weisbach: the length that loses as much, f L / D = K",
)
def equivalent_length(loss_coefficient, diameter, friction_factor):
    """Length of straight pipe that loses as much as a fitting, ``L = K D / f``.

    loss_coefficient K [-] on the velocity head of this diameter [m], Darcy's friction_factor f [-]; scalars or
    arrays. An appliance's instructions may give lengths of their own for elbows: those govern its longest run.
    Raises for a diameter or factor that is not positive.
    """
    return loss_coefficient * diameter / friction_factor


# How the second elbow turns against the first: back to the old direction, sideways, back where the flow came from.
PAIR_TURNS = ("S", "out of plane", "U")
_SMOOTH = "smooth r/D 1"


@quantities(
    "",
    spacing="",
    at_least={"spacing": 0.0},
    valid={"spacing": (0.0, 8.0)},
    source="Miller, Internal Flow Systems, table 10.1, as copied in the code of a public repository",
)
def pair_factor(spacing, turn: str):
    """Loss of two smooth 90 degree bends (r/D 1) over twice that of one, from data/flow/fittings_pairs.csv.

    spacing: straight pipe between them in diameters, 0 to 8, scalar or array; straight lines between the tabled
    cells. turn "S" (back to the old direction), "out of plane" or "U" (back where it came from). Even at 8 diameters
    it is 0.8, for the second bend takes the place of the first one's wake. Warns above 8, where the last cell is kept;
    raises for an unknown turn or a negative spacing. Not for mitres: there an S may cost 1.8 times two.
    """
    if turn not in PAIR_TURNS:
        raise ValueError(f"unknown turn {turn!r}; choose {', '.join(PAIR_TURNS)}")
    places, factors = pair_cells(_SMOOTH, turn)
    return np.interp(spacing, places, factors)


def pair_cells(elbow: str, turn: str) -> tuple[np.ndarray, np.ndarray]:
    """Tabled spacings [diameters] and factors (pair over two single ones) of a kind of elbow; plain arrays."""
    found = [r for r in tables.read("fittings_pairs") if (r["elbow"], r["turn"]) == (elbow, turn)]
    if not found:
        known = sorted({f"{r['elbow']}, {r['turn']}" for r in tables.read("fittings_pairs")})
        raise ValueError(f"no pairs of {elbow!r} turned {turn!r}; there are: {'; '.join(known)}")
    cells = np.array([(float(r["spacing"]), float(r["value"]) / float(r["two_alone"])) for r in found])
    return cells[:, 0], cells[:, 1]
