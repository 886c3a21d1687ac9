"""Damper loss: the loss coefficient of open and inclined blades by their angle, from published tables.

It is on the velocity head in the face of the damper. What a shut one passes is `damper_leakage`.
"""

from functools import cache

import numpy as np

from ventcalc import tables
from ventcalc.units import quantities

FRAMES = ("opposed", "parallel")  # several blades in a rectangular frame


def blade_kinds() -> tuple[str, ...]:
    """Names of the kinds of blades of ``data/draft/dampers.csv``."""
    return tuple(dict.fromkeys(r["name"] for r in tables.read("dampers") if r["kind"] == "loss"))


@cache
def cells(blades: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Tabled perimeter ratios (one NaN where there are none), angles [degree] and ln K (ratios, angles)."""
    rows = [r for r in tables.read("dampers") if (r["kind"], r["name"]) == ("loss", blades)]
    if not rows:
        raise ValueError(f"blades {blades!r}; choose {', '.join(blade_kinds())}")
    ratios = list(dict.fromkeys(r["perimeter_ratio"] for r in rows))
    by_ratio = [[r for r in rows if r["perimeter_ratio"] == ratio] for ratio in ratios]
    angles = np.array([float(r["angle_deg"]) for r in by_ratio[0]])
    losses = np.array([[float(r["value"]) for r in own] for own in by_ratio])
    return np.array([float(r or "nan") for r in ratios]), angles, np.log(losses)


def log_loss(blades: str, ratio: float) -> tuple[np.ndarray, np.ndarray]:
    """Tabled angles [degree] and ln K there at one perimeter ratio, in straight lines of ln K between ratios."""
    ratios, angles, logs = cells(blades)
    if blades not in FRAMES:
        return angles, logs[0]
    if not ratios[0] - 1e-9 <= ratio <= ratios[-1] + 1e-9:
        raise ValueError(f"{blades} blades: perimeter_ratio = {ratio:.3g} must be {ratios[0]:g} to {ratios[-1]:g}")
    return angles, np.array([np.interp(ratio, ratios, column) for column in logs.T])


@quantities(
    "",
    angle="degree",
    perimeter_ratio="",
    at_least={"angle": 0.0},
    shapes={"perimeter_ratio": "one"},
    source="Idelchik, Handbook of Hydraulic Resistance (1986), and ASHRAE duct fitting CD9-1, as copied in public "
    "repositories; 80 degrees from memory (data/draft/dampers.csv)",
)
def blade_loss(blades: str, angle, perimeter_ratio=1.0):
    """Loss coefficient K [-] of blades at an angle, on the velocity head in their face.

    blades: a kind of `blade_kinds`. angle [degree] from 0 (open) to the last tabled one (80 opposed and parallel, 75
    butterfly, 70 thin butterfly), scalar or array. perimeter_ratio [-]: length of all blades over the perimeter of
    the frame, 0.3 to 1.5, one number; round blades have none. Between tabled angles ln K follows a monotone cubic,
    between ratios straight lines. Raises ValueError beyond the table: what follows there is leakage (`Damper`).
    """
    angles, logs = log_loss(blades, float(perimeter_ratio))
    if np.any(np.asarray(angle) > angles[-1]):
        raise ValueError(f"angle {np.max(angle):g} degrees: {blades} blades are tabled to {angles[-1]:g}")
    from scipy.interpolate import PchipInterpolator  # slow to import

    return np.exp(PchipInterpolator(angles, logs)(angle))[()]
