"""Jobs small enough to size and compare every remedy of, by their text or around a plant; and the comparisons."""

from dataclasses import replace
from functools import cache

from sample_plants import SEASONS, row_plant
from sample_studies import once

from ventcalc.flow.materials import material
from ventcalc.job import job_file, remedies, remedy_outcome, study
from ventcalc.units import Q_

JOBS = {name: job_file.demonstration(name) for name in ("swim_hall", "lodge", "laundry")}
CALM = tuple(replace(season, wind=Q_(0, "m/s")) for season in SEASONS)


def job_of(plant, pascal=-12.0, seasons=SEASONS):
    """An invented job around a plant."""
    held = {"set_point": Q_(pascal, "Pa"), "offered": None, "alternates": ()}
    return replace(JOBS["lodge"], name=plant.name, plant=plant, seasons=seasons, **held)


def named(outcomes, name):
    return next(o for o in outcomes if o.remedy.name == name)


DEVICES = ("fan", "damper", "fan and damper", "damper at each outlet", "damper at each outlet and a fan")
# Two invented boilers on one stack; what is left open is filled in by each test.
JOB = """
[job]
name = "Two boilers"
[site]
altitude = "100 m"
[control]
set_point = "{set_point} Pa"
{remedy}
[[season]]
name = "winter"
outdoor = "-10 degC"
room = "20 degC"
[[season]]
name = "summer"
outdoor = "28 degC"
room = "24 degC"
{appliances}
[[section]]
name = "connector A"
into = "header A"
length = "1.5 m"
rise = "1 m"
diameter = "{connector} mm"
material = "stainless special gas vent double wall"
fittings = ["elbow 90"]
junction = "straight tee"
[[section]]
name = "header A"
into = "header B"
length = "2 m"
diameter = "{header} mm"
material = "stainless special gas vent double wall"
[[section]]
name = "connector B"
into = "header B"
length = "1.5 m"
rise = "1 m"
diameter = "{connector} mm"
material = "stainless special gas vent double wall"
fittings = ["elbow 90"]
junction = "straight tee"
[[section]]
name = "header B"
into = "stack"
length = "2 m"
diameter = "{header} mm"
material = "stainless special gas vent double wall"
[[section]]
name = "stack"
into = "top"
length = "{height} m"
rise = "{height} m"
diameter = "{header} mm"
material = "stainless special gas vent double wall"
place = "outdoors"
[[termination]]
name = "top"
cap = "{cap}"
"""
APPLIANCE = """
[[appliance]]
name = "Boiler {name}"
fuel = "natural gas"
category = "IV"
into = "connector {name}"
outlet_diameter = "{connector} mm"
outlet_height = "1.5 m"
window = ["{low} Pa", "{high} Pa"]
[[appliance.level]]
name = "low"
input = "60 kW"
excess_air = "30 %"
flue_temperature = "70 degC"
[[appliance.level]]
name = "high"
input = "{kilowatts} kW"
excess_air = "25 %"
flue_temperature = "{celsius} degC"
"""
USUAL = {"set_point": -10, "connector": 150, "header": 250, "height": 8, "cap": "low-resistance cap", "low": -25,
         "high": 5, "kilowatts": 250, "celsius": 80, "offered": ""}  # fmt: skip


def small_job(**changes):
    """The job with other figures than usual."""
    told = USUAL | changes
    told["remedy"] = f'[remedy]\nname = "{told["offered"]}"' if told["offered"] else ""
    told["appliances"] = "".join(APPLIANCE.format(name=name, **told) for name in "AB")
    return job_file.read(JOB.format(**told).encode())


def small_study(offered):
    """The small job with a remedy in its file, studied once in a run."""
    return once(f"small job, {offered}", lambda: study.study(small_job(offered=offered), compare=False))


def natural_job(**changes):
    """Two draft hoods or regulators on one stack, an invented job around a plant."""
    plant = row_plant(2, changes.pop("kind", "draft hood"), vent="Type B gas vent", **changes)
    hooded = tuple(replace(a, window=(Q_(-15, "Pa"), Q_(1, "Pa"))) for a in plant.appliances)
    one = small_job()
    burners = tuple(  # without a purge, from nothing to the level or levels of each
        replace(b, name=a.name, codes=(0.0, 1.0, float(len(a.levels))))
        for b, a in zip(one.sequence.burners, hooded, strict=True)
    )
    of_hoods = {"plant": replace(plant, appliances=hooded), "sequence": replace(one.sequence, burners=burners)}
    return replace(one, seasons=CALM, set_point=Q_(-5, "Pa"), **of_hoods)


def masonry_job():
    """One hood on a masonry flue much too large for it: its stack stays cold and wet, and turns over."""
    one = natural_job(kilowatts=40.0, connector_mm=130.0, stack_height=8.0, header_mm=400)
    plant = one.plant
    changes = {
        "connector 1": {"into": "stack", "junction": None},
        "stack": {"material": material("tile-lined masonry chimney")},
    }
    sections = tuple(replace(plant.section(name), **changes[name]) for name in changes)
    only = {"appliances": plant.appliances[:1], "feeds": plant.feeds[:1], "sections": sections}
    sequence = replace(one.sequence, burners=one.sequence.burners[:1])
    return replace(one, plant=replace(plant, **only), sequence=sequence)


def laundry_job():
    """The demo job of one appliance on a long narrow run: wider it lacks nothing, but the wind then draws too much."""
    return job_file.demonstration("laundry")


@cache
def compared_with(which, **changes):
    made = {"small": small_job, "natural": natural_job, "masonry": masonry_job, "laundry": laundry_job}[which]

    def work():
        one = made(**changes)
        return one, remedies.compare(one)

    return once(f"compared {which} {sorted(changes.items())}", work)


# Every kind of remedy, and a small job by which it is looked at.
KINDS = {
    "larger vent": {"which": "small"},
    "larger connectors": {"which": "small"},
    "laterals": {"which": "small"},
    "taller stack": {"which": "small"},
    "better cap": {"which": "small", "cap": "rain cap"},
    "pipe changes": {"which": "small", "high": 0},
    "pipe changes and a damper": {"which": "laundry"},
    "narrower vent": {"which": "natural", "header_mm": 500},
    "liner": {"which": "masonry"},
    "fan": {"which": "small"},
    "damper": {"which": "small"},
    "fan and damper": {"which": "small"},
    "shorter stack with a fan": {"which": "small"},
    "liner and a fan": {"which": "masonry"},
    "damper at each outlet": {"which": "small"},
    "damper at each outlet and a fan": {"which": "small"},
}


@cache
def designed(kind):
    """The study of a design of every kind, started and failed where it has a control; of the vent "as drawn" too."""

    def work():
        one, outcomes = compared_with(**KINDS.get(kind, {"which": "small"}))
        return study.assess(one, named(outcomes, kind))

    return once(f"design {kind}", work)


def holds(o):
    """Whether nothing was found against it in any state."""
    return o.everywhere and remedy_outcome.serves(o)
