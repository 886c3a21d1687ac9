"""One job file told in other ways that mean the same, or with something of a study written into it by hand.

All work on the content of a file, as TOML has it, so that what is read is what a person could have typed.
"""

import copy
import random
import tomllib

import sample_jobs
import tomlkit
from sample_studies import ALL_JOBS

from ventcalc.draft.damper_leakage import leakage_class, leakage_classes
from ventcalc.job import job_file
from ventcalc.units import Q_

_LISTS = ("season", "appliance", "section", "termination", "alternate")
_SI = {
    "ft": "m", "inch": "mm", "inH2O": "Pa", "degF": "degC", "MBH": "kW", "cfm": "m**3/s", "mph": "m/s",
    "ft**3": "m**3", "inch**2": "m**2",
}  # fmt: skip


def content(name: int | str) -> dict:
    """A random job by its number, a demo job by its name."""
    text = sample_jobs.text(name) if isinstance(name, int) else ALL_JOBS[name].read_text(encoding="utf-8")
    return tomllib.loads(text)


def job_of(told: dict) -> job_file.Job:
    """The job of a content."""
    return job_file.read(tomlkit.dumps(told).encode())


def furnished(name: int) -> dict:
    """A random job with a roof a few feet under its end, an intake on it, and what the burners emit."""
    told, pick = content(name), random.Random(name + 1000)
    rises = sum(float(s["rise"].split()[0]) for s in told["section"] if s["name"] in ("connector 1", "stack"))
    roof = 5.0 + rises - pick.choice((2, 4, 8, 15))
    corners = [[f"{v} ft" for v in (x, y, roof)] for x, y in ((0, 0), (60, 0), (60, 40), (0, 40))]
    kind = "mechanical draft" if told["appliance"][0]["category"] == "IV" else "vent with listed cap"
    intake = {
        "name": "intake", "kind": "forced-air intake", "line": [["30 ft", "10 ft"], ["30 ft", "14 ft"]],
        "bottom": f"{roof + 1} ft", "top": f"{roof + 3} ft",
    }  # fmt: skip
    told["roof"] = {
        "plane": [{"name": "flat roof", "corners": corners}],
        "opening": [intake],
        "terminal": [{"name": "roof", "x": f"{pick.choice((12, 22, 27))} ft", "y": "12 ft", "kind": kind}],
    }
    told["emissions"] = {"nox": "60 ppm", "co": "80 ppm"}
    return told


# --- The same told otherwise ---


def reordered(told: dict) -> dict:
    """Its lists backwards."""
    return {k: v[::-1] if k in _LISTS else v for k, v in told.items()}


def renamed(told: dict) -> dict:
    """Every season, appliance, section and end under a name that sorts the other way."""
    told, names = copy.deepcopy(told), {}
    for kind in ("season", "appliance", "section", "termination"):
        for k, row in enumerate(told[kind]):
            names[row["name"]] = row["name"] = f"{kind} {len(told[kind]) - k} of them"
    terminals = told.get("roof", {}).get("terminal", [])
    for row in (*told["appliance"], *told["section"]):
        row["into"] = names[row["into"]]
    for row in terminals:
        row["name"] = names[row["name"]]
    for row in told.get("alternate", []):
        row["appliances"] = [names[n] for n in row["appliances"]]
    return told


def in_si(told):
    """Its quantities in SI units."""
    if isinstance(told, dict):
        return {k: in_si(v) for k, v in told.items()}
    if isinstance(told, list):
        return [in_si(v) for v in told]
    number, _, unit = told.partition(" ") if isinstance(told, str) else ("", "", "")
    return f"{float(Q_(float(number), unit).m_as(_SI[unit]))!r} {_SI[unit]}" if unit in _SI else told


def in_pieces(told: dict) -> dict:
    """Its stack and first connector drawn in two pieces of half the length."""
    told, found = copy.deepcopy(told), []
    for row in told["section"]:
        if row["name"] not in ("stack", "connector 1"):
            found.append(row)
            continue
        for size in ("length", "rise"):
            number, unit = row[size].split(" ", 1)
            row[size] = f"{float(number) / 2.0!r} {unit}"
        upper = f"{row['name']}, upper"
        found.append({k: v for k, v in row.items() if k != "junction"} | {"into": upper})
        found.append({k: v for k, v in row.items() if k != "fittings"} | {"name": upper})
    return told | {"section": found}


def with_a_place(told: dict) -> dict:
    """A cold shed besides, that nothing of the vent runs through."""
    air = [{"name": "shed", "temperature": "40 degF"}]
    return told | {"place": [{"name": "shed"}], "season": [s | {"place": air} for s in told["season"]]}


# --- Of a study, written into the file ---


def with_vent(told: dict, plant) -> dict:
    """The sections and caps of a plant in place of those of the file."""

    def row(s) -> dict:
        sizes = {n: f"{float(getattr(s, n).m_as('m'))!r} m" for n in ("length", "rise", "diameter")}
        told = {"name": s.name, "into": s.into, "material": s.material.name, "place": s.place, **sizes}
        return told | {"fittings": list(s.fittings)} | ({"junction": s.junction} if s.junction else {})

    caps = {t.name: t.cap for t in plant.terminations}
    ends = [t | {"cap": caps[t["name"]]} for t in told["termination"]]
    return told | {"section": [row(s) for s in plant.sections], "termination": ends}


def with_remedy(told: dict, remedy) -> dict:
    """A remedy of devices, with these devices and its set point, as the one that the file offers."""
    offered = {"name": remedy.kind}
    if remedy.set_point is not None:
        offered["set_point"] = f"{float(remedy.set_point.m_as('Pa'))!r} Pa"
    if remedy.fan:
        offered["fan"] = remedy.fan.fan.name
    if damper := remedy.damper:
        sizes = {n: f"{float(getattr(damper, n).m_as('m'))!r} m" for n in ("width", "height", "thickness")}
        leaks = next(n for n in leakage_classes() if leakage_class(n) == damper.leakage)
        offered["damper"] = {"blades": damper.blades, "count": damper.count, "leakage": leaks, **sizes}
    return told | {"remedy": offered}


def with_make(told: dict, name: str) -> dict:
    """The make of an alternate specified; no alternates any more."""
    told = copy.deepcopy(told)
    other = next(a for a in told.pop("alternate") if a["name"] == name)
    for row in told["appliance"]:
        if row["name"] in other["appliances"]:
            row["window"] = other["window"]
    return told
