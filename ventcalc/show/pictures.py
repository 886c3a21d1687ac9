"""Pictures: the figures of the report, each with its caption and one sentence of what to see in it."""

import base64
from dataclasses import dataclass
from typing import Any

from ventcalc.building import clearance_words
from ventcalc.draft.load_changes import Passage
from ventcalc.job import year_findings
from ventcalc.job.remedy import AS_DRAWN
from ventcalc.job.study import Study
from ventcalc.job.trial_run import TrialRun
from ventcalc.job.year import Year
from ventcalc.show import (
    change_plots,
    drawing,
    envelope_plot,
    exposure_plot,
    path_plots,
    plots,
    remedy_plots,
    roof_drawing,
    state_map,
    tags,
    window_plot,
    year_plots,
)
from ventcalc.show.numbers import counted, of_number
from ventcalc.units import Q_
from ventcalc.vent import outlet_envelope, reversal
from ventcalc.vent.layout import Plant
from ventcalc.vent.outlet_envelope import Envelope
from ventcalc.vent.section_extremes import Extremes
from ventcalc.words import say

_FRONT = 3.1  # inch, height of the drawing on page one below few outlets and few findings
_LINE = 0.2  # inch, that each further finding takes
_LOWEST = 2.4  # inch, below which a drawing is not read


@dataclass(frozen=True)
class Picture:
    """A figure of the report: PNG bytes, caption, what to see in it, and words for those who do not see it."""

    name: str
    image: bytes
    caption: str
    see: str

    @property
    def data(self) -> str:
        """The image as an address that holds it."""
        return "data:image/png;base64," + base64.b64encode(self.image).decode("ascii")


def figures(study: Study, system: str = "US", year: Year | None = None) -> dict[str, Picture]:
    """The figures of the report by name, in its order, each with one sentence of what to see; those of the ``year`` of
    the design reported on where it was asked for."""
    made = (
        *_of_page_one(study, system),
        *_of_the_vent(study, system),
        *_of_changes(study, system),
        *_of_remedies(study, system),
        *_of_the_one_offered(study, system),
        *_of_surroundings(study, system),
        *(() if year is None else _of_the_year(year, system)),
    )
    return {picture.name: picture for picture in made}


def _caption(name: str, **figures: Any) -> str:
    return say("show", "captions", name, **figures)


def _of_page_one(study: Study, system: str) -> list[Picture]:
    """The vent with its devices, and every outlet's range in its window before and after."""
    design = study.reported
    devices = tags.placed(design)
    after = () if design is study else design.envelopes
    rows = len(window_plot.worst(study.envelopes, after))
    titles = {f.title for f in study.judgement.against}
    taller = window_plot.rows_height(max(rows, 4)) - window_plot.rows_height(4)
    height = _FRONT - taller - _LINE * max(len(titles) - 5, 0)
    height = max(height, _LOWEST)
    front = drawing.layout_drawing(design.job.plant, system, devices, False, height, numbers=False)
    return [
        Picture(
            "front",
            plots.png(front),
            _caption("front as drawn" if design is study else "front"),
            _see_layout(design.job.plant, system),
        ),
        Picture(
            "windows",
            plots.png(window_plot.windows(study.envelopes, after, system)),
            _caption("windows"),
            _see_envelopes(design),
        ),
    ]


def _of_the_vent(study: Study, system: str) -> list[Picture]:
    """The vent as drawn: what it looks like, what its pressures and temperatures are at worst, and in all states."""
    scan, plant = study.scan, study.job.plant
    worst = min(study.envelopes, key=lambda e: e.margin)
    nearest = min(study.extremes, key=lambda m: m.nearest_wall - m.dew_point)
    runs = _warmest(study, nearest.section, nearest.wall_state)
    return [
        Picture(
            "layout",
            plots.png(drawing.layout_drawing(plant, system)),
            _caption("layout"),
            _see_layout(plant, system),
        ),
        Picture(
            "pressure",
            plots.png(path_plots.pressure_path(scan, worst.appliance, (worst.high_state, worst.low_state), system)),
            _caption("pressure", appliance=worst.appliance),
            _see_pressure(study, worst, system),
        ),
        Picture(
            "temperature",
            plots.png(path_plots.temperature_path(scan, runs, nearest.wall_state, system)),
            _caption("temperature", appliance=runs),
            _see_temperature(study, nearest, system),
        ),
        Picture(
            "envelopes",
            plots.png(envelope_plot.envelopes(study, system)),
            _caption("envelopes"),
            _see_envelopes(study),
        ),
        Picture(
            "map",
            plots.png(state_map.state_map(study, system)),
            _caption("map", states=len(scan.conditions)),
            _see_map(study),
        ),
    ]


def _of_changes(study: Study, system: str) -> list[Picture]:
    """The outlet that load changes take farthest beyond its window, in time."""
    if not study.passages:
        return []
    pairs = list(zip(study.passages, study.envelopes, strict=False))
    p, e = max(pairs, key=lambda pair: max(pair[0].high - pair[0].window[1], pair[0].window[0] - pair[0].low))
    image = plots.png(change_plots.passage(study.changes, p, (e.low, e.high), system))
    return [Picture("changes", image, _caption("changes", appliance=p.appliance), _see_changes(p, e, system))]


def _of_remedies(study: Study, system: str) -> list[Picture]:
    """All remedies side by side, where any were looked at."""
    if not study.outcomes:
        return []
    image = plots.png(remedy_plots.comparison(study.outcomes, system))
    return [Picture("remedies", image, _caption("remedies"), _see_remedies(study))]


def _of_the_one_offered(study: Study, system: str) -> list[Picture]:
    """What outlets, fan and header see with the remedy proposed, as far as it has them."""
    with_it = study.proposed
    if with_it is None:
        return []
    o, run = with_it.outcome, with_it.trial
    found = [
        Picture(
            "offered_envelopes",
            plots.png(envelope_plot.envelopes(with_it, system)),
            _caption("offered_envelopes"),
            _see_envelopes(with_it),
        )
    ]
    if o.duty is not None:
        speed, name = o.duty.speed, "duty" if o.position is None else "duty_with_damper"
        see = say("show", "see", name, system, slowest=speed.min(), fastest=speed.max())
        found.append(Picture("duty", plots.png(remedy_plots.duty(o, system)), _caption("duty"), see))
    if run is not None:
        image, caption = plots.png(remedy_plots.trial(run, system)), _caption("trial", season=run.season)
        found.append(Picture("trial", image, caption, _see_trial(run, system)))
    return found


def _of_the_year(year: Year, system: str) -> list[Picture]:
    """When outlets leave their windows: by day and hour, and by outdoor temperature and load."""
    drawn, count = len(year_plots.worst(year)), len(year.hours.plant.appliances)
    caption = _caption("year_by_day" if drawn == count else "year_by_day_worst", drawn=drawn, count=count)
    hours = f"{year_findings.totals(year).outside:,.0f}"
    return [
        Picture(
            "year_by_day", plots.png(year_plots.by_day(year, system)), caption, say("show", "see", "year", hours=hours)
        ),
        Picture(
            "year_by_load",
            plots.png(year_plots.by_load(year, system)),
            _caption("year_by_load"),
            say("show", "see", "year_load"),
        ),
    ]


def _of_surroundings(study: Study, system: str) -> list[Picture]:
    """The roof with the rule that governs every terminal, and what flue gas in the room leads to."""
    found = []
    for k, e in enumerate(study.around.endings):
        rule = roof_drawing.governing(e.findings)
        image = plots.png(roof_drawing.roof_drawing(study.job.roof.scene, e.terminal, rule, system))
        see = say("show", "see", "roof_no_rule") if rule is None else clearance_words.sentence(rule, system)
        found.append(Picture(f"roof_{k}", image, _caption("roof", terminal=e.terminal.name), see))
    for s in study.around.spills[:1]:  # the first is the worst
        see = say("show", "see", "spill", co=s.exposure.co[0].max())
        caption = _caption("spill", appliance=s.spill.appliance)
        found.append(Picture("spill", plots.png(exposure_plot.exposure(s.exposure)), caption, see))
    return found


def _warmest(study: Study, section: str, state: int) -> str:
    """Of the appliances that a section serves, the one that sends most through its own vent in a state."""
    solution, plant = study.scan.solution, study.job.plant
    served = [a.name for a in plant.serves(section)]
    first = {a.name: feed for a, feed in zip(plant.appliances, plant.feeds, strict=True)}
    return max(served, key=lambda name: solution.flow[solution.row(first[name]), state])


# --- What to see --------------------------------------------------------------------------------------------


def _see_layout(plant: Plant, system: str) -> str:
    ends = [z for both in plant.heights.values() for z in both]
    return say(
        "show",
        "see",
        "layout",
        system,
        appliances=counted("appliances", len(plant.appliances)),
        sections=counted("sections", len(plant.sections)),
        outdoors=sum(s.place == "outdoors" for s in plant.sections),
        rise=Q_(max(ends) - min(ends), "m"),
    )


def _see_pressure(study: Study, e: Envelope, system: str) -> str:
    """The sums that end at the outlet where it is highest and where it is lowest."""
    highest, lowest = (_pressure_sum(study, e.appliance, state, system) for state in (e.high_state, e.low_state))
    return say("show", "see", "pressure", highest=highest, lowest=lowest)


def _pressure_sum(study: Study, appliance: str, state: int, system: str) -> str:
    """Losses and wind along the path, less draft, a fan, the outlet's own velocity head and the room's pressure."""
    solution, plant = study.scan.solution, study.job.plant
    rows = [solution.row(s.name) for s in plant.path(appliance)]
    i = [a.name for a in plant.appliances].index(appliance)
    draft = float(solution.draft[rows, state].sum())
    fan = float(solution.added[rows, state].sum())
    spent = float(solution.pressure_up[rows[0], state]) + draft + fan
    room, outlet = float(solution.room_gauge[i, state]), float(solution.outlet_pressure[i, state])
    head = spent - fan - draft - room - outlet
    parts = {"spent": spent, "fan": fan, "draft": draft, "head": head, "room": room, "outlet": outlet}
    name = "pressure_sum_fan" if fan else "pressure_sum"
    return say("show", "see", name, system, **{name: Q_(p, "Pa") for name, p in parts.items()})


def _see_temperature(study: Study, m: Extremes, system: str) -> str:
    solution = study.scan.solution
    backward = solution.flow[solution.row(m.section), m.wall_state] < 0.0
    name = "wall_backward" if backward else "wall_wet" if m.condensing else "wall_dry"
    wall, dew = Q_(m.nearest_wall, "K"), Q_(m.dew_point, "K")
    return say("show", "see", name, system, section=m.section, wall=wall, dew=dew)


def _see_envelopes(study: Study) -> str:
    def share(e: Envelope) -> float:
        return e.swing / (e.window[1] - e.window[0])

    widest = max(study.envelopes, key=share)
    return say(
        "show",
        "see",
        "swing_too_wide" if share(widest) > 1.0 else "swing_fits",
        inside=sum(bool(e.margin >= 0.0) for e in study.envelopes),
        outlets=len(study.envelopes),
        widest=widest.appliance,
        ratio=share(widest),
    )


def _see_map(study: Study) -> str:
    scan = study.scan
    outside = scan.count(outlet_envelope.outside_window(scan).any(axis=0))
    gas = scan.count(reversal.flue_gas_enters(scan).any(axis=0))
    name = "map_still" if study.around.effects else "map"
    return say("show", "see", name, running=scan.count(scan.any_running), outside=outside, gas=gas)


def _see_changes(p: Passage, e: Envelope, system: str) -> str:
    further = max(p.high - e.high, e.low - p.low)
    name = "changes_further" if further > 0.0 else "changes_no_further"
    return say("show", "see", name, system, further=Q_(further, "Pa"))


def _see_remedies(study: Study) -> str:
    remedies = [o for o in study.outcomes if o.remedy.kind != AS_DRAWN]
    cured = sum(o.cured for o in remedies)
    name = of_number("remedies", cured) if cured else "remedies_none"
    return say("show", "see", name, remedies=len(remedies), cured=cured)


def _see_trial(run: TrialRun, system: str) -> str:
    low, high = (Q_(p, "Pa") for p in run.span(run.released))
    trips = len(run.trace.trips)
    name = of_number("trial", trips) if trips else "trial_none"
    return say("show", "see", name, system, low=low, high=high, trips=trips)
