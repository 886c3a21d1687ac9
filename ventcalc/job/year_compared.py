"""Years compared: one year of weather on the vent as drawn, the design reported on, and remedies beside it."""

from dataclasses import dataclass

from ventcalc.building.weather import Weather
from ventcalc.job import year
from ventcalc.job.design import Design
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.job.steps import Told, nobody
from ventcalc.job.study import Study
from ventcalc.job.year import HardDay, Year

MOST = 4  # designs side by side: what a page holds


@dataclass(frozen=True, eq=False)
class Compared:
    """A year of each of some designs, by their ``names``: the vent as drawn first; ``reported`` tells which the report
    is about, ``hard`` are its coldest and its windiest day."""

    names: tuple[str, ...]
    years: tuple[Year, ...]
    reported: int
    hard: tuple[HardDay, ...]

    @property
    def own(self) -> Year:
        """The year of the design reported on."""
        return self.years[self.reported]


def designs(found: Study) -> tuple[Outcome, ...]:
    """The vent as drawn, the design that the report is about, then the remedies to prefer, each once."""
    others = [o for o in found.outcomes if not o.remedy.unfit]
    chosen: list[Outcome] = []
    for o in (found.outcome, found.reported.outcome, *others):
        if len(chosen) < MOST and all(o.remedy.name != c.remedy.name for c in chosen):
            chosen.append(o)
    return tuple(chosen)


def compared(found: Study, weather: Weather | None = None, told: Told = nobody) -> Compared:
    """The year of a study's designs, in a weather of whole years; without one in the typical year of the job's climate.

    The hard days are those of that weather, and without one of all the invented years of the climate.
    """
    chosen, reported = designs(found), found.reported.outcome.remedy.name
    years = []
    for k, o in enumerate(chosen):
        told(o.remedy.name, k / (len(chosen) + 1))
        years.append(year.year(Design(found.job, o.remedy), weather))
    names = tuple(o.remedy.name for o in chosen)
    told("the coldest and the windiest day", len(chosen) / (len(chosen) + 1))
    at = names.index(reported)
    hard = year.hard_days(Design(found.job, chosen[at].remedy), None if weather is None else [weather])
    told("the year", 1.0)
    return Compared(names, tuple(years), at, hard)
