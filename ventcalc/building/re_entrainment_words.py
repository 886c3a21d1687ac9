"""Re-entrainment words: what comes back to an air intake, as plain sentences with their cautions."""

from ventcalc.building.code_rules import cited
from ventcalc.building.re_entrainment import LEAST_WIND, Part, Reading
from ventcalc.units import Q_, show
from ventcalc.words import say

NAMES = {"no2": "NO2", "co": "CO", "co2": "CO2"}


def _say(name: str, system: str = "US", **figures) -> str:
    return say("building", "re_entrainment", name, system, **figures)


CAUTION = _say("caution")


def sentences(reading: Reading, system: str = "US") -> tuple[str, ...]:
    """A reading in plain sentences, with its cautions."""
    apart = {"distance": Q_(reading.distance, "m"), "asked": Q_(reading.asked, "m"), "source": reading.distance_source}
    passes = Q_(abs(reading.plume), "m")
    at_worst = {"wind": wind_text(reading, system), "passes": passes, "dilution": reading.dilution}
    way = "distance by wall" if reading.wall else "distance"
    passing = "by wall" if reading.wall else "over" if reading.plume >= 0.0 else "below"
    return (
        _say(way, system, intake=reading.intake, verdict=reading.distance_verdict, **apart),
        _say(passing, system, **at_worst),
        *(part_sentence(p) for p in reading.parts),
        CAUTION,
    )


def wind_text(reading: Reading, system: str = "US") -> str:
    """The worst wind as it is read; where it is the end of the search, so is that."""
    told = show(Q_(reading.wind, "m/s"), system, "wind at roof height")
    return f"{told} (the least looked at)" if reading.wind <= LEAST_WIND else told


def part_sentence(p: Part) -> str:
    """One gas at an intake, against its limit and the level that harms."""
    counted = "" if p.share is None else _say("share_of_nox", share=p.share)
    counted += _say("greatest_share", at_most=ppm_text(p.at_most)) if p.at_most > p.added else ""
    figures = {"gas": NAMES[p.gas], "verdict": p.verdict, "added": ppm_text(p.added), "limit": ppm_text(p.limit)}
    said = _say("gas", counted=counted, rule=p.rule, cited=cited("re_entrainment", p.rule), **figures)
    if p.harmful:
        said += " " + _say("harm", level=ppm_text(p.harm), cited=cited("re_entrainment", p.harm_rule))
    return said


def ppm_text(value: float) -> str:
    """A concentration [ppm] as it is read."""
    return f"{value:,.0f} ppm" if value >= 100.0 else f"{value:.3g} ppm"
