"""Figures of load changes: an outlet's pressure in time beside what it has at rest.

In the look of `plots`: for paper, in grey, and from the back of a room.
"""

from matplotlib.figure import Figure

from ventcalc.draft.load_changes import Followed, Passage
from ventcalc.show.plots import BLUE, GREY, INK, RUST, WIDTH, legend_above, number, plain_axes, unit_label


def passage(followed: Followed, found: Passage, steady: tuple[float, float], system: str = "US") -> Figure:
    """The two changes that take an outlet farthest up and down, against its window and its ``steady`` ends [Pa].

    Where its appliance does not run the line breaks off: its window does not count then.
    """
    runs = followed.runs
    row = [a.name for a in runs.plant.appliances].index(found.appliance)
    figure = Figure((WIDTH, 4.5))
    axes = figure.add_axes((0.115, 0.12, 0.865, 0.575))
    plain_axes(axes)
    low, high = (number(p, "Pa", "draft", system) for p in found.window)
    axes.axhspan(low, high, fc="#e4e7ea", ec="none", label="window")
    for p, style in zip(steady, ((0, (1, 1.2)), (0, (5, 1.5))), strict=True):
        which = "lowest" if p == min(steady) else "highest"
        axes.axhline(
            number(p, "Pa", "draft", system), ls=style, color=GREY, lw=1.4, label=f"{which} at rest, in any state"
        )
    worst = ((found.high_change, RUST, "-", "upward: "), (found.low_change, BLUE, "--", "downward: "))
    for change, color, line, word in worst:
        pressure = number(runs.outlet_pressure[row, :, change], "Pa", "draft", system)
        pressure[~followed.counts(row)[:, change]] = float("nan")
        axes.plot(runs.time, pressure, line, color=color, lw=2.0, label=word + followed.describe(change))
    axes.axhline(0.0, color=INK, lw=0.8)
    axes.set_xlim(0.0, runs.time[-1])
    axes.set_xlabel("time from the call, s")
    axes.set_ylabel(f"outlet of {found.appliance}, {unit_label('draft', system)}")
    handles, _ = axes.get_legend_handles_labels()
    legend_above(figure, handles, 1)
    return figure
