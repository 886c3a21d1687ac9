"""Natural draft to test: the chapter's retrofit and the demo jobs, scanned and followed once."""

from functools import cache

from sample_studies import JOBS

from ventcalc.draft import load_changes, natural_draft
from ventcalc.handbook import area_rule as chapter
from ventcalc.job import job_file
from ventcalc.vent import firing_states

TWO_PERCENT = 0.02  # how far what is told of a job may lie from the chapter that explains it
POUND = 0.45359237  # kg, exact
RETROFIT = chapter.retrofit()
PLANT, (WINTER, MILD, SUMMER) = RETROFIT.plant, RETROFIT.seasons


@cache
def scanned(name):
    found = job_file.load(JOBS[name])
    return firing_states.scan(found.plant, found.seasons)


@cache
def followed(name):
    plant, seasons = scanned(name).plant, scanned(name).seasons
    return load_changes.follow(plant, seasons, load_changes.usual(plant, seasons))


@cache
def found(name):
    return natural_draft.natural_draft(scanned(name), followed(name))


def start_of(starts, season, stack, appliance="Water heater", warm=False):
    (one,) = [
        s for s in starts if (s.season, s.stack, s.appliance, s.warm_connector) == (season, stack, appliance, warm)
    ]
    return one
