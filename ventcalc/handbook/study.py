"""The study of a job: the chapter's questions, live controls for several jobs, and checks."""

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import ipywidgets as widgets

from ventcalc.checked import Check, compare
from ventcalc.flow import fittings, friction, junctions, stack_effect
from ventcalc.handbook import common_vent
from ventcalc.handbook.common_vent import all_high_in_summer, draft_form, swim_hall
from ventcalc.job.job_file import Job
from ventcalc.job.study import Study, study
from ventcalc.show.exercises import Exercise, Slip
from ventcalc.show.panels import Panel, choice, with_static_text
from ventcalc.units import Q_, show
from ventcalc.vent import firing_states, outlet_envelope

# --- What the chapter stands on -----------------------------------------------------------------------------


def checks() -> tuple[Check, ...]:
    """What the swimming hall's vent is made of: its cap and elbows, the friction factor, the junction, the draft."""
    right_angle = Q_(90.0, "degree")
    losses = {
        "L002": fittings.fitting("low-resistance cap").loss,
        "L008": fittings.fitting("elbow 90").loss,
        "L009": fittings.fitting("elbow 45").loss,
        "L060": friction.friction_factor(1e5, 1e-4),
        "L061": friction.friction_factor(1e5, 5e-3),
        "L086": junctions.branch_loss(0.5, 1.0, right_angle),
        "L087": junctions.run_loss(0.5, 1.0, right_angle),
    }
    draft = stack_effect.steam_book_draft(Q_(100.0, "ft"), Q_(14.7, "psi"), Q_(521.0, "degR"), Q_(961.0, "degR"))
    return compare("losses_checks", losses) + compare("draft_checks", {"D001": draft})


# --- Live controls ------------------------------------------------------------------------------------------


def explorer(system: str, jobs: Mapping[str, Job]) -> widgets.VBox:
    """The controls of `common_vent.explorer` for one of several jobs by name, in US or SI units, both to be chosen."""
    job = choice("Job", [(j.name, key) for key, j in jobs.items()], next(iter(jobs)))
    units = choice("Units", [("US", "US"), ("SI", "SI")], system)
    return _Chooser(jobs, job, units)


class _Chooser(widgets.VBox):
    def __init__(self, jobs: Mapping[str, Job], job: widgets.Dropdown, units: widgets.Dropdown):
        self.jobs, self.job, self.units = dict(jobs), job, units
        super().__init__([widgets.HBox([job, units]), self._panel()])
        job.observe(self._choose, names="value")
        units.observe(self._choose, names="value")

    @property
    def panel(self) -> Panel:
        return self.children[1]

    def _panel(self) -> Panel:
        job = self.jobs[self.job.value]
        return common_vent.explorer(self.units.value, job.plant, job.seasons)

    def _choose(self, change) -> None:
        """Another job starts afresh; other units keep what the controls had."""
        old, new = self.panel, self._panel()
        if change["owner"] is self.units:
            for name, control in new.controls.items():
                carry_over(old.controls[name].value, control)
        self.children = [self.children[0], new]
        old.close()

    def _repr_mimebundle_(self, **kwargs) -> dict[str, Any]:
        return with_static_text(super()._repr_mimebundle_(**kwargs), "live controls", self.panel.numbers.value)


def carry_over(value: Any, control: widgets.Widget) -> None:
    """Set a control to the value nearest to what it had in the other unit system."""
    if isinstance(control, widgets.SelectionSlider):
        value = min((v for _, v in control.options), key=lambda v: abs(v - value))
    control.value = value


# --- Questions, all on the swimming hall ----------------------------------------------------------------------


@cache
def _drawn() -> Study:
    """The hall as drawn, without what it offers."""
    return study(replace(swim_hall(), offered=None), compare=False)


def questions(system: str = "US") -> tuple[Exercise, ...]:
    """The chapter's questions, their answers worked by the library."""
    found = _drawn()
    return (_lacking(found, system), _alternate(found, system), _wider(found, system))


def _lacking(found: Study, system: str) -> Exercise:
    expected = Q_(found.lacking, "Pa")
    form, near = draft_form(system)
    set_point = show(found.job.set_point, system)
    return Exercise(
        question=(
            f"The swimming hall's set point at the end of the header is {set_point}. How much draft is lacking there "
            "in the worst state? Read it from the findings."
        ),
        expected=expected,
        tolerance=near,
        hints=(
            "Look for the finding on the end of the header.",
            "Lacking is the highest pressure there less the set point, which is negative.",
        ),
        solution=(
            f"Highest {show(Q_(found.header[1], 'Pa'), system)} less set point {set_point} is "
            f"{show(expected, system)}, with {found.scan.describe(found.header_states[1], system)}. "
            "A fan must make up at least that."
        ),
        slips=(
            Slip(
                Q_(found.header[1], "Pa"),
                "That is the highest pressure itself, or the draft that is too much; lacking is the way from the "
                "highest pressure down to the set point.",
            ),
        ),
        example=form,
    )


def _alternate(found: Study, system: str) -> Exercise:
    alternate = next(a for a in found.job.alternates if a.window[1].m_as("inH2O") < 0.1)
    own, other = found.envelopes[0], float(alternate.window[1].m_as("Pa"))
    expected = Q_(own.high - other, "Pa")
    form, near = draft_form(system)
    window = " to ".join(show(edge, system) for edge in alternate.window)
    return Exercise(
        question=(
            f"A bidder offers {alternate.name!r} in place of Boiler 1; its window is {window}. With the same flue gas, "
            "how far above that window does its outlet rise at worst?"
        ),
        expected=expected,
        tolerance=near,
        hints=(
            "The pressure is the vent's doing and stays; only the window changes.",
            "study.alternate_envelopes gives it, as `above`.",
        ),
        solution=(
            f"{show(Q_(own.high, 'Pa'), system)} less {show(alternate.window[1], system)} is {show(expected, system)}."
        ),
        slips=(
            Slip(Q_(own.above, "Pa"), "That is against the window of the boiler specified."),
            Slip(Q_(own.high, "Pa"), "That is the pressure itself; its distance to the window is asked."),
            Slip(Q_(own.swing, "Pa"), "That is the swing."),
        ),
        example=form,
    )


def _wider(found: Study, system: str) -> Exercise:
    plant, seasons = found.job.plant, found.job.seasons
    wide = Q_(20.0, "inch")
    sections = tuple(s if s.name in plant.feeds else replace(s, diameter=wide) for s in plant.sections)
    wider = replace(plant, sections=sections)
    scan = firing_states.scan(wider, seasons)
    envelope, all_high = outlet_envelope.envelopes(scan)[0], all_high_in_summer(wider, seasons)
    expected, as_drawn = Q_(envelope.high, "Pa"), found.envelopes[0]
    form, near = draft_form(system)
    return Exercise(
        question=(
            f"Make the swimming hall's whole header and stack {show(wide, system, 'diameter')} wide instead of "
            f"{show(plant.section('stack').diameter, system, 'diameter')}, the connectors as they are. To what "
            "pressure does Boiler 1's outlet rise in the worst of all states now? "
            "(A challenge: use the controls, or the library.)"
        ),
        expected=expected,
        tolerance=2 * near,
        hints=(
            "The worst state need not be the one that it was. In the wide stack loss counts for less: who blows "
            "without heating?",
            f"As drawn it is {show(Q_(as_drawn.high, 'Pa'), system)}. Most of what is left is lost in the boiler's "
            "own connector.",
        ),
        solution=(
            f"{show(expected, system)} instead of {show(Q_(as_drawn.high, 'Pa'), system)}, now with "
            f"{scan.describe(envelope.high_state, system)}: purge air fills the stack and makes no draft. The window "
            f"ends at {show(Q_(as_drawn.window[1], 'Pa'), system)}; in winter the outlet falls to "
            f"{show(Q_(envelope.low, 'Pa'), system)}: width takes away loss, not draft."
        ),
        slips=(
            Slip(all_high, "That is with all at high. It was the worst state as drawn; in the wide stack another is."),
            Slip(Q_(as_drawn.high, "Pa"), "That is the vent as drawn."),
            Slip(Q_(envelope.low, "Pa"), "That is the lowest pressure; asked is the highest."),
        ),
        example=form,
    )
