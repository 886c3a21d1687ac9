"""Random jobs as a practitioner might write them: one to three appliances on one vent, with a word on the room or none.

All of it is invented and written as a job file, so that what is read is what a person could have typed.
"""

import random

from ventcalc.job import job_file, remedy_outcome, study

_KINDS = (
    # category, kind, flue temperature [degF], window [inH2O], purges
    ("I", "draft hood", 400, (-0.08, 0.0), False),
    ("I", "forced", 350, (-0.12, -0.005), True),
    ("IV", "forced", 140, (-0.10, 0.60), True),
)
_MATERIALS = {"I": "insulated chimney", "IV": "stainless special gas vent double wall"}
_SIZES = (4, 5, 6, 7, 8, 10, 12, 14, 16)


def text(seed: int) -> str:
    """A job file by number: the same for the same number, for ever."""
    pick = random.Random(seed)
    count = pick.choice((1, 1, 2, 2, 3))
    category, kind, celsius, window, purges = pick.choice(_KINDS)
    name = f"Random {seed}"
    lines = [
        f'[job]\nname = "{name}"\n',
        f'[site]\naltitude = "{pick.choice((0, 600, 5000))} ft"\nair_opening_height = "1 ft"',
    ]
    seasons = (("winter", pick.choice((-10, 10, 30))), ("summer", pick.choice((75, 90))))
    for season, outdoor in pick.sample(seasons, pick.choice((1, 1, 2))):
        wind = pick.choice((0, 0, 12))
        lines.append(
            f'[[season]]\nname = "{season}"\noutdoor = "{outdoor} degF"\nroom = "72 degF"\nwind = "{wind} mph"'
        )
    outlet = pick.choice(_SIZES[1:5])
    for i in range(count):
        lines.append(
            f'[[appliance]]\nname = "Boiler {i + 1}"\nfuel = "natural gas"\ncategory = "{category}"\nkind = "{kind}"\n'
            f'into = "connector {i + 1}"\noutlet_diameter = "{outlet} inch"\noutlet_height = "5 ft"\n'
            f'window = ["{window[0]} inH2O", "{window[1]} inH2O"]'
        )
        if kind == "forced":
            lines.append('idle = "leaking"\nleak = { flow = "5 cfm", pressure = "0.10 inH2O" }')
        if purges:
            lines.append(f'purge_flow = "{outlet * 12} cfm"')
        full = outlet * outlet * pick.choice((3, 5, 7))
        for level, share in (("low", 0.4), ("high", 1.0)) if kind == "forced" else (("on", 1.0),):
            lines.append(
                f'[[appliance.level]]\nname = "{level}"\ninput = "{full * share:.0f} MBH"\nco2 = "8.5 %"\n'
                f'flue_temperature = "{celsius} degF"'
            )
    shared = pick.choice(_SIZES[3:])
    material = _MATERIALS[category]
    for i in range(count):
        into = f"header {i + 1}" if count > 1 else "stack"
        joint = f'\njunction = "{pick.choice(("straight tee", "lateral"))}"' if count > 1 else ""
        lines.append(
            f'[[section]]\nname = "connector {i + 1}"\ninto = "{into}"\nlength = "{pick.choice((4, 8))} ft"\n'
            f'rise = "3 ft"\ndiameter = "{outlet} inch"\nmaterial = "{material}"\nfittings = ["elbow 90"]{joint}'
        )
        if count > 1:
            following = f"header {i + 2}" if i + 1 < count else "stack"
            lines.append(
                f'[[section]]\nname = "header {i + 1}"\ninto = "{following}"\nlength = "5 ft"\n'
                f'diameter = "{shared} inch"\nmaterial = "{material}"'
            )
    rise = pick.choice((10, 20, 40))
    wide = shared if count > 1 else pick.choice((outlet, shared))
    lines.append(
        f'[[section]]\nname = "stack"\ninto = "roof"\nlength = "{rise} ft"\nrise = "{rise} ft"\n'
        f'diameter = "{wide} inch"\nmaterial = "{material}"\nplace = "{pick.choice(("room", "outdoors"))}"'
    )
    lines.append(
        f'[[termination]]\nname = "roof"\ncap = "{pick.choice(("low-resistance cap", "open end", "rain cap"))}"'
    )
    if pick.random() < 0.4:
        lines.append(
            '[room]\nvolume = "9000 ft**3"\nleakage = { flow = "300 cfm", pressure = "50 Pa" }\n'
            f'[[room.opening]]\nname = "louver"\narea = "{pick.choice((200, 1500))} inch**2"\n'
            'louver = "metal"\nplace = "high"\n'
            f'[[room.exhaust]]\nname = "hood"\nflow = "{pick.choice((100, 500))} cfm"'
        )
    return "\n\n".join(lines) + "\n"


def job_of(seed: int) -> job_file.Job:
    """The random job of a number."""
    return job_file.read(text(seed).encode())


# --- What holds of every study ---


def against(found: study.Study) -> list[str]:
    """Codes of the findings of weight people or fault."""
    return [f.code for f in found.judgement.findings if f.weight in ("people", "fault")]


def base(name: str) -> str:
    return name.partition(", other")[0]


def is_consistent(found: study.Study) -> None:
    """What holds of every study: each tick stands on a judgement without a finding against it, and nothing else."""
    assert found.buildable == (not against(found))
    for o in found.outcomes:
        if o.cured:
            anew = study.assess(found.design.job, o)  # from what was solved, judged once more and whole
            assert o.everywhere and not against(anew), (found.job.name, o.remedy.name, against(anew))
        elif o.judgement is not None:
            assert o.judgement.against
        else:  # not worth judging whole: what was solved of it speaks against it already
            assert not remedy_outcome.serves(o), (found.job.name, o.remedy.name)
