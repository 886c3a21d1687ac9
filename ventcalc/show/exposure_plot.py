"""Exposure plot: carbon monoxide in a room over the hours."""

import numpy as np
from matplotlib.figure import Figure

from ventcalc.building.co_exposure import Exposure
from ventcalc.show.plots import BLUE, GREY, PALE, RUST, WIDTH, plain_axes


def exposure(found: Exposure) -> Figure:
    """Carbon monoxide in the boiler room over the hours, and what someone there would carry in the blood."""
    figure = Figure((WIDTH, 2.7))
    left, right = (figure.add_axes((x, 0.2, 0.385, 0.74)) for x in (0.1, 0.6))
    hours = found.times / 3600.0
    left.plot(hours, found.co[0], color=RUST, lw=2.2)
    right.plot(hours, 100.0 * found.blood[0], color=BLUE, lw=2.2)
    band = next(b for b in found.alarms[0] if b.standard == "UL 2034")
    may_sound = band.earliest < found.times[-1]
    if may_sound:
        edges = np.array([band.earliest, min(band.latest, found.times[-1])]) / 3600.0
        left.axvspan(*edges, fc=PALE, ec=GREY, hatch="//", lw=0.0)
    for axes, words in ((left, "carbon monoxide, ppm"), (right, "COHb, %")):
        plain_axes(axes)
        axes.set_ylim(0.0, None)
        axes.set_xlim(0.0, hours[-1])
        axes.set_ylabel(words)
    left.set_xlabel("hours (hatched: the alarm may sound, UL 2034)" if may_sound else "hours")
    right.set_xlabel("hours")
    return figure
