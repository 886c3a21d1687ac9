"""One answer: what the papers of one study say of the same thing, held against each other; two answers are a fault.

All is read as a person reads it, from ``results.json`` and the tables beside it, and nothing of the library.
"""

import csv
import io
from collections import Counter
from collections.abc import Iterator
from typing import Any

AGAINST = ("people", "fault")


def contradictions(told: dict[str, Any], states: str, with_remedy: str | None) -> list[str]:
    """What two places say otherwise of one thing: ``told`` are the results, the others are tables as CSV."""
    offered = None if not told["offered"] or told["offered"]["impossible"] else told["offered"]
    found = [
        *_asked(told, offered),
        *_least(told, offered),
        *_reasons(told, offered),
        *_options(told),
        *_first_page(told, offered),
    ]
    found += _counts("as drawn", told["outlets"], told["scan"], states)
    if offered and with_remedy is not None:
        found += _counts("with the remedy", offered["outlets"], _scan(offered), with_remedy)
    return [*found, *_fan(told, offered)]


def _scan(offered: dict[str, Any]) -> dict[str, int]:
    return {"outside": offered["outside"], "unsolved_count": offered["unsettled"], "solved": offered["states"]}


def titles(findings: list[dict]) -> list[str]:
    """Titles of what speaks against a design, each once."""
    return list(dict.fromkeys(f["title"] for f in findings if f["weight"] in AGAINST))


def _asked(told, offered) -> Iterator[str]:
    """What the exit status says is what is said of the design that the job asks for."""
    verdict = told["verdict"]
    if verdict["best"]:
        expected = verdict["buildable"] and not verdict["offered"]
    else:
        expected = (offered or told)["verdict"]["buildable"] and not (told["offered"] or {}).get("impossible")
    if verdict["asked"] != expected:
        yield f"the job asks for what is {'not ' * (not expected)}cured, and its status says otherwise"


def _least(told, offered) -> Iterator[str]:
    """Page one's least margin is the least of the table of outlets of the same design."""
    drawn = told["verdict"]["buildable"] or offered is None
    outlets, trust = (told if drawn else offered)["outlets"], told["page_one"]["trust"]
    least = min(outlets, key=lambda o: o["margin"]["value"])
    if trust["margin"] != least["margin"]:
        yield f"least margin {trust['margin']['shown']} on page one, {least['margin']['shown']} of {least['appliance']}"
    if trust["appliance"] not in [o["appliance"] for o in outlets if o["margin"] == least["margin"]]:
        yield f"least margin is of {trust['appliance']} on page one, of {least['appliance']} in the table"
    thin = trust["thinnest"]
    if thin["margin"]["value"] - thin["doubt"]["value"] > trust["margin"]["value"] - trust["doubt"]["value"] + 1e-9:
        yield "the thinnest margin is not"
    if thin["margin"]["value"] < trust["margin"]["value"] - 0.06:  # what no gauge can read is not outside
        yield "the least margin is not"


def _reasons(told, offered) -> Iterator[str]:
    for row in told["remedies"]:
        if row["cured"] == bool(row["against"]):
            yield f"{row['name']}: cured {row['cured']}, against {row['against']}"
        if row["name"] == "as drawn" and row["against"] != titles(told["findings"]):
            yield f"as drawn: {row['against']} in its row, {titles(told['findings'])} found"
        same = offered and (row["name"], row["words"]) == (offered["name"], offered["words"])
        if same and row["against"] != titles(offered["findings"]):
            yield f"{row['name']}: {row['against']} in its row, {titles(offered['findings'])} found"
    if offered and offered["against"] != titles(offered["findings"]):
        yield "the remedy offered has two lists of what speaks against it"


def _options(told) -> Iterator[str]:
    rows = {r["name"]: r for r in told["remedies"]}
    for o in told["options"]:
        for cell in filter(None, o["cells"]):
            if cell["cured"] == bool(cell["against"]):
                yield f"{o['remedy']} with {cell['make']}: cured {cell['cured']}, against {cell['against']}"
        row = rows.get(o["remedy"])
        if row and not o["offered"] and o["cells"][0]["against"] != row["against"]:
            yield f"{o['remedy']}: {o['cells'][0]['against']} in the matrix, {row['against']} in the table"


def _first_page(told, offered) -> Iterator[str]:
    """Where nothing cures, page one begins with the remedy offered and all that speaks against it."""
    if not told["page_one"]["heading"].startswith("No cure") or offered is None:
        return
    first = told["page_one"]["instruction"][0]
    if not first.startswith(f"{offered['name']}: ") or any(t.lower() not in first for t in offered["against"]):
        yield f"page one: {first}; found: {offered['against']}"


def _counts(which: str, outlets, scan, text: str) -> Iterator[str]:
    """Conditions counted in the table are those of the report: by their number, whatever rows a condition has."""
    rows = list(csv.DictReader(io.StringIO(text)))
    numbers = {r["condition"] for r in rows}
    told = {"solved": len(numbers), "rows": len(rows)}
    told["outside"] = len({r["condition"] for r in rows if r["an outlet outside its window"] == "True"})
    told["unsolved_count"] = len({r["condition"] for r in rows if r["state of rest found"] == "False"})
    told["pasts"] = len({r["condition"] for r in rows if r["past, where it decides"]})
    for name, count in told.items():
        if name in scan and scan[name] != count:
            yield f"{which}, {name}: {scan[name]} in the report, {count} in the table"
    for o in outlets:
        running = len({r["condition"] for r in rows if r[o["appliance"]] != "off"})
        if running != o["running"]:
            yield f"{which}, {o['appliance']} runs in {o['running']} in the report, in {running} in the table"
    times = Counter(r["condition"] for r in rows)
    if any((times[r["condition"]] > 1) != bool(r["past, where it decides"]) for r in rows):
        yield f"{which}: a condition stands there twice and its past is not told, or once and it is"


def _fan(told, offered) -> Iterator[str]:
    """The fan's row tells the speeds and the power of the seasons' table; no commanded speed is beyond its drive."""
    for row in (told["submittal"] or {"equipment_schedule": ()})["equipment_schedule"]:
        if row["kind"] != "fan" or not offered:
            continue
        seasons = [d for d in offered["duty"] if "speed" in d]
        speeds = [s["value"] for d in seasons for s in d["speed"]]
        ends = [e["value"] for e in row["duty"]["speed"]]
        if ends != [min(speeds), max(speeds)]:
            yield f"fan: {ends} in the schedule, {min(speeds)} to {max(speeds)} in the seasons"
        steady, highest, motor = (p["value"] for p in row["power"])
        if steady != max(d["power"]["value"] for d in seasons):
            yield "fan: two greatest powers"
        if not steady <= highest * (1 + 1e-9) or not highest <= motor * (1 + 1e-9):
            yield f"fan: {steady} W in operation, {highest} W at its highest speed, motor {motor} W"
        commanded = [
            f["value"]
            for s in told["submittal"]["sequence_of_operation"]
            for name, f in s["figures"].items()
            if name == "most_speed"
        ]
        if any(c != row["duty"]["drive"][1]["value"] for c in commanded):
            yield f"fan: {commanded} commanded, {row['duty']['drive'][1]['shown']} in the schedule"
