"""Surroundings: where a job's vent ends, what its boiler room breathes, and what flue gas would do in it.

Gathers for one job what `clearances`, `combustion_air` and `carbon_monoxide` say of it, as far as the job file tells of
roof, room and carbon monoxide. What the file does not tell of is not judged, and the report says so.

`records` is what speaks against the job, as data; the words for it are made at the end of this module alone.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np

from ventcalc import carbon_monoxide, clearances, combustion_air, re_entrainment, tables
from ventcalc.carbon_monoxide import Exposure, Spill
from ventcalc.clearances import Least, Terminal
from ventcalc.combustion_air import Cure, Effect, Verdict
from ventcalc.fans import Fan
from ventcalc.firing_states import REVERSAL_FLOW, Scan
from ventcalc.job import Job
from ventcalc.units import Q_, Quantity, show


@dataclass(frozen=True)
class Ending:
    """One terminal: every rule's ``findings``, the ``least`` height that breaks none, and the same ``with_fan``."""

    terminal: Terminal
    findings: tuple[clearances.Finding, ...]
    least: Least
    with_fan: Least


@dataclass(frozen=True)
class Spilled:
    """What flue gas that enters the room through one appliance leads to there, if it went on.

    ``exhausting``: with the room's exhaust fans running.
    """

    spill: Spill
    exposure: Exposure
    exhausting: bool = False


@dataclass(frozen=True)
class Surroundings:
    """What was judged; None or empty where the job file tells nothing of it.

    ``air`` are the rules on the room's air, ``enough`` whether one of its ways passes; ``effects`` what its exhaust
    fans do to every outlet and ``cure`` how much more air would be enough; ``spills`` what flue gas that comes back
    leads to in the room; ``plumes`` what of the exhaust comes to each intake of the roof, or ``no_plume`` why that was
    not estimated; ``plume_states`` the columns of the scan that a plume's states count.
    """

    endings: tuple[Ending, ...] = ()
    air: tuple[Verdict, ...] = ()
    enough: bool = True
    effects: tuple[Effect, ...] = ()
    cure: Cure | None = None
    spills: tuple[Spilled, ...] = ()
    plumes: tuple[re_entrainment.Reading, ...] = ()
    no_plume: str = ""
    plume_states: tuple[int, ...] = ()


def surroundings(job: Job, scan: Scan, fan: Fan | None = None) -> Surroundings:
    """Judge roof, room, exhaust and carbon monoxide as far as the job tells of them.

    With a ``fan`` the terminals count as mechanical draft; a roof fan's outlet is what the exhaust leaves by.
    """
    terminals = job.roof.terminals if job.roof else ()
    terminals = [clearances.with_fan(t) for t in terminals] if fan else terminals
    endings = tuple(_ending(job.roof.scene, t) for t in terminals)
    mouth = fan.outlet_diameter if fan and fan.kind == "roof" else None
    air, enough, effects, cure, lit = (), True, (), None, [scan]
    if job.room:
        air = combustion_air.judge(job.plant, job.room)
        enough = not air or any(v.verdict == "pass" for v in combustion_air.ways(job.plant, job.room))
        if job.room.exhausts:
            effects, cure, exhausted = _with_exhausts(job, scan)
            lit.append(exhausted)
    spilled = tuple(_spilled(job, scan, *s) for s in _worst_spills(lit)) if job.carbon_monoxide else ()
    plumes, no_plume, states = _plumes(job, scan, mouth) if job.roof and job.emissions else ((), "", ())
    return Surroundings(endings, air, enough, effects, cure, spilled, plumes, no_plume, states)


def _plumes(job: Job, scan: Scan, mouth: Quantity | None) -> tuple[tuple, str, tuple[int, ...]]:
    """What reaches every intake of the roof scene, over all states and winds, or why that cannot be said; states."""
    try:
        gas, states = re_entrainment.discharge(scan, job.emissions.nox, job.emissions.co)
    except re_entrainment.NoPlume as error:
        return (), str(error), ()
    scene, terminal = job.roof.scene, job.roof.terminals[0]
    level = re_entrainment.roof_level(scene, terminal)
    end = next(s for s in job.plant.order if s.into == terminal.name)
    wide = mouth or end.diameter
    gas = replace(gas, velocity=gas.velocity * float((end.diameter / wide).m_as("")) ** 2)
    # A vent through a wall blows level: like one under a cap it has no rise.
    capped = (
        terminal.through == "wall"
        or next(t.cap for t in job.plant.terminations if t.name == terminal.name) != "open end"
    )
    above = max(float(terminal.outlet.m_as("m")) - level, 0.0)
    stack = re_entrainment.Stack(terminal.name, Q_(above, "m"), wide, capped)
    roof = re_entrainment.Roof(Q_(max(level - scene.ground, _LOWEST_ROOF), "m"))
    intakes = re_entrainment.intakes(scene, terminal)
    share = job.emissions.no2_share
    found = tuple(re_entrainment.judge(stack, gas, intake, roof, no2_share=share) for intake in intakes)
    return found, "", tuple(states.tolist())


_LOWEST_ROOF = 2.0  # m; below three times the roughness of the surroundings the wind's profile has no meaning


def _spilled(job: Job, scan: Scan, s: Spill, exhausting: bool) -> Spilled:
    pressure = Q_(scan.solution.barometric, "Pa")
    return Spilled(s, carbon_monoxide.judge(job.carbon_monoxide, s.flow, s.products, pressure, s.burnt), exhausting)


def _ending(scene: clearances.Scene, terminal: Terminal) -> Ending:
    return Ending(
        terminal=terminal,
        findings=clearances.judge(scene, terminal),
        least=clearances.least_height(scene, terminal),
        with_fan=clearances.least_height(scene, clearances.with_fan(terminal)),
    )


def _worst_spills(scans: list[Scan]) -> list[tuple[Spill, bool]]:
    """For every appliance the worst of what it lets into the room: without exhaust fans, and with (then true)."""
    worst: dict[str, tuple[Spill, bool]] = {}
    for exhausting, scan in enumerate(scans):
        for s in carbon_monoxide.spills(scan):
            known = worst.get(s.appliance)
            if known is None or s.flow.m * s.burnt > known[0].flow.m * known[0].burnt:
                worst[s.appliance] = (s, bool(exhausting))
    return list(worst.values())


def _with_exhausts(job: Job, scan: Scan) -> tuple[tuple[Effect, ...], Cure, Scan]:
    """What the room's exhaust fans do, burners lit after all stood idle, fans off and on; and the scan with them on."""
    first, total = scan.first, len(scan.conditions)
    twice, shares = np.tile(np.arange(total), 2), np.repeat((0.0, 1.0), total)
    both = combustion_air.from_idle(job.plant, job.seasons, first.states[twice], job.room, shares)
    without, running = both.part(slice(0, total)), both.part(slice(total, None))
    return combustion_air.effects(first, without, running), combustion_air.cure(first, running), running.scan(first)


# --- What speaks against the job ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Cited:
    """A rule or a limit: its ``name``, and where it stands; ``id`` names the row of the table that holds it."""

    name: str
    source: str
    edition: str
    status: str
    id: str = ""


@dataclass(frozen=True, eq=False)
class Record:
    """One thing found, as data.

    ``code`` is a key of `WORDS`; ``subjects`` the names it is about, the first that of what is at fault; ``figures`` by
    name, all quantities; ``state`` the column of the scan that has it worst (of the scan with ``exhausting`` fans where
    that is true; the first roots of both stand in the same columns), None where it hangs on none; ``rule`` what it is
    judged by; ``verdict`` of that; ``note`` what the rule or the estimate adds; ``parts`` what a summary sums up.
    """

    code: str
    subjects: tuple[str, ...]
    figures: Mapping[str, Quantity] = field(default_factory=lambda: MappingProxyType({}))
    state: int | None = None
    exhausting: bool = False
    rule: Cited | None = None
    verdict: str = clearances.FAIL
    note: str = ""
    parts: tuple["Record", ...] = ()

    @property
    def weight(self) -> str:
        """What it weighs: "danger" (people), "fault" (does not work or is not allowed) or "note"."""
        return WORDS[self.code].weight


def _figures(**given: Quantity | None) -> Mapping[str, Quantity]:
    return MappingProxyType({name: value for name, value in given.items() if value is not None})


def records(found: Surroundings) -> tuple[Record, ...]:
    """Everything that speaks against the job, in the order of roof, room, exhaust fans, intakes, carbon monoxide."""
    told = [r for ending in found.endings for r in _of_terminal(ending)]
    told += _of_air(found)
    told += [r for e in found.effects for r in _of_exhaust(e)]
    told += [r for p in found.plumes for r in _of_plume(p, found.plume_states)]
    if found.no_plume:
        told.append(Record("intake not estimated", ("Exhaust",), verdict=clearances.READING, note=found.no_plume))
    told += [_of_spill(s) for s in found.spills if s.exposure.failed]
    return tuple(told)


# Flue gas before an opening is a danger to people; a terminal too low over a roof is a fault of the vent.
_LETS_GAS_IN = (*clearances.OPENINGS, *(f"{o} {clearances.NEXT_DOOR}" for o in clearances.OPENINGS))


def _of_terminal(ending: Ending) -> Iterator[Record]:
    """What fails at a terminal, and what needs the authority's reading."""
    for f in ending.findings:
        if f.verdict not in (clearances.FAIL, clearances.READING):
            continue
        opening = f.row is not None and bool(set(f.row.objects) & set(_LETS_GAS_IN))
        code = "terminal before an opening" if opening else "terminal against a rule"
        if f.verdict == clearances.READING:
            code = "terminal contradicted" if f.rule == clearances.DECLARED else "terminal to be read"
        row = f.row
        yield Record(
            code,
            (ending.terminal.name, *([f.thing] if f.thing else [])),
            _figures(
                gap=f.gap, need=f.need, raise_by=f.raise_by, lower_by=f.lower_by, move_by=f.move_by, spare=f.spare
            ),
            rule=Cited(f.rule, row.source, row.reference, row.status, row.id) if row else Cited(f.rule, "", "", ""),
            verdict=f.verdict,
            note=f.reason,
        )


def _of_air(found: Surroundings) -> Iterator[Record]:
    """That no way brings air enough, with every way that was tried; and what else the rules on it refuse."""
    failed = [_of_verdict(v) for v in found.air if v.verdict == clearances.FAIL]
    if not found.enough:
        yield Record("air short by every way", ("Combustion air",), parts=tuple(failed))
    yield from (r for r in failed if r.rule.name.startswith(("smallest dimension", "interlock")))


def _of_verdict(v: Verdict) -> Record:
    row = tables.row("combustion_air", v.key, "rule")
    return Record(
        "air against a rule",
        ("Combustion air",),
        _figures(required=v.required, provided=v.provided),
        rule=Cited(v.rule, row["source"], row["edition"], row["status"], v.key),
        verdict=v.verdict,
        note=v.note,
    )


def _of_exhaust(e: Effect) -> Iterator[Record]:
    """What the exhaust fans do to one outlet, one record a kind of trouble."""
    room = {"room": Q_(e.lowest_room, "Pa")}
    about = {"state": e.spill_state, "exhausting": True}
    if e.dangerous:
        figures = {"flue_gas": e.flue_gas, "flow": e.spill, "without": e.flue_gas_without}
        yield Record("exhaust draws flue gas", (e.appliance,),
                     _figures(**room, **{k: Q_(v, "kg/s") for k, v in figures.items()}), **about)  # fmt: skip
    elif e.back > REVERSAL_FLOW:
        figures = {"flow": e.back, "without": e.back_without}
        yield Record("exhaust draws purge air", (e.appliance,),
                     _figures(**room, **{k: Q_(v, "kg/s") for k, v in figures.items()}), exhausting=True)  # fmt: skip
    if e.beyond > 0.0:
        yield Record("exhaust moves an outlet", (e.appliance,),
                     _figures(**room, beyond=Q_(e.beyond, "Pa"), without=Q_(e.beyond_without, "Pa")),
                     exhausting=True)  # fmt: skip
    if e.below_limit:
        row = tables.row("combustion_air", e.limit_rule, "rule")
        yield Record("exhaust below the house limit", (e.appliance,), _figures(**room, limit=Q_(e.limit, "Pa")),
                     exhausting=True, verdict=clearances.READING,
                     rule=Cited(e.limit_rule, row["source"], row["edition"], row["status"], e.limit_rule))  # fmt: skip
    if e.unsettled:
        yield Record("exhaust unsettled", (e.appliance,), _figures(**room, states=Q_(e.unsettled, "")), exhausting=True,
                     verdict=clearances.READING)  # fmt: skip


def _of_plume(p: re_entrainment.Reading, states: tuple[int, ...]) -> Iterator[Record]:
    """What of the exhaust comes to an intake beyond a limit, gas by gas; also where only the greatest share does."""
    for part in p.parts:
        if part.verdict == clearances.PASS:
            continue
        key = part.harm_rule if part.harmful else part.rule
        row = tables.row("re_entrainment", key, "rule")
        code = "intake at a level that harms" if part.harmful else "intake beyond a guideline"
        if part.verdict == clearances.READING:
            code = "intake perhaps beyond a guideline"
        yield Record(
            code,
            (p.intake, part.gas),
            _figures(
                added=Q_(part.added, "ppm"),
                at_most=Q_(part.at_most, "ppm"),
                limit=Q_(part.harm if part.harmful else part.limit, "ppm"),
                share=None if part.share is None else Q_(part.share, ""),
                wind=Q_(part.wind, "m/s"),
                dilution=Q_(part.dilution, ""),
            ),
            state=states[part.state],
            rule=Cited(key, row["source"], row["edition"], row["status"], key),
            verdict=part.verdict,
        )


def _of_spill(s: Spilled) -> Record:
    """What flue gas in the room would come to, by the first limit that harms people, else by the first guideline."""
    e = s.exposure
    first = min(e.harmful or e.failed, key=lambda j: j.over)
    return Record(
        "carbon monoxide that harms" if e.harmful else "carbon monoxide beyond a guideline",
        ("Carbon monoxide", s.spill.appliance),
        _figures(
            flow=Q_(e.spill, "kg/s"),
            flue_gas=Q_(e.spill * s.spill.burnt, "kg/s"),
            co=Q_(float(e.co[0].max()), "ppm"),
            within=Q_(float(e.times[-1]), "s"),
            failed=Q_(len(e.failed), ""),
            judged=Q_(len(e.judged), ""),
            over=Q_(first.over, "s"),
            limit=Q_(first.limit.level, "ppm"),
        ),
        state=s.spill.state,
        exhausting=s.exhausting,
        rule=Cited(first.limit.name, first.limit.source, first.limit.edition, first.limit.status),
    )


# --- In words -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Words:
    """What a record of one code weighs, says and asks to be done; {placeholders} are its figures and names."""

    weight: str
    sentence: str
    cure: str


_MORE_AIR = "Give the room more air, or move the exhaust; prove with all exhausts running."
_MOVE = "Raise or move the terminal, or move the opening."
_ARRIVES = "In a wind of {wind} the flue gas arrives diluted {dilution} times and adds {added} of {gas}{counted}"
_ESTIMATE = f" {re_entrainment.CAUTION}"
_KEPT = (
    "If {flow} of gas, {flue_gas} of it flue gas, kept entering the room through {through}, the room would hold {co} "
    "within {within}"
)
_LEAVE = f" {carbon_monoxide.CAUTION}"
WORDS = {
    "terminal before an opening": Words("danger", "{finding}", _MOVE),
    "terminal against a rule": Words("fault", "{finding}", "Raise or move the terminal."),
    "terminal to be read": Words("note", "{finding}", "Ask the authority that adopted the code."),
    "terminal contradicted": Words("note", "{finding}", "Declare it as what it is, or change what stands behind it."),
    "air short by every way": Words(
        "fault",
        "By none of the ways does the room get air enough for its burners. {parts}",
        "Enlarge the openings, or supply outdoor air with an interlock.",
    ),
    "air against a rule": Words("fault", "{finding}", "Change the opening or the interlock as the rule asks."),
    "exhaust draws flue gas": Words(
        "danger",
        "With the exhaust fans running flue gas enters the room, {flue_gas} of it at worst in {flow} of all that comes "
        "({without} of it without the fans); the room goes to {room}.",
        _MORE_AIR,
    ),
    "exhaust draws purge air": Words(
        "fault",
        "With the exhaust fans running air of a neighbor's purge comes back, {flow} at worst ({without} without the "
        "fans); the room goes to {room}.",
        _MORE_AIR,
    ),
    "exhaust moves an outlet": Words(
        "fault",
        "With the exhaust fans running the outlet leaves its window by {beyond} ({without} without the fans); the room "
        "goes to {room}.",
        _MORE_AIR,
    ),
    "exhaust below the house limit": Words(
        "note",
        "With the exhaust fans running the room goes to {room}, below the {limit} that tests of houses allow such an "
        "appliance ({rule}).",
        _MORE_AIR,
    ),
    "exhaust unsettled": Words(
        "note",
        "With the exhaust fans running room and vents did not come to rest in {states} states.",
        "Test the built room with all exhausts running.",
    ),
    "intake at a level that harms": Words(
        "danger",
        _ARRIVES + ", beyond the {limit} at which people come to harm ({rule})." + _ESTIMATE,
        "Move the terminal or the intake.",
    ),
    "intake beyond a guideline": Words(
        "fault",
        _ARRIVES + ", beyond the guideline of {limit} ({rule})." + _ESTIMATE,
        "Raise or move the terminal, or choose burners that make less.",
    ),
    "intake perhaps beyond a guideline": Words(
        "note",
        _ARRIVES
        + "; {at_most} at the greatest share it may have, beyond the guideline of {limit} ({rule})."
        + _ESTIMATE,
        "Ask the maker for the share of NO2 in the NOx, and tell it in the job file.",
    ),
    "intake not estimated": Words("note", "What comes to the intakes was not estimated: {note}.", "Mend that first."),
    "carbon monoxide that harms": Words(
        "danger",
        _KEPT + ": {failed} of {judged} limits would fail, the first of those that are for harm to people {after} "
        "({rule})." + _LEAVE,
        "Keep the flue gas in the vent; stop the burners by a monitor.",
    ),
    "carbon monoxide beyond a guideline": Words(
        "fault",
        _KEPT
        + ": within every limit here that is for harm to people, but beyond a guideline of air {after} ({rule})."
        + _LEAVE,
        "Keep the flue gas in the vent; measure.",
    ),
}

# What a figure is, by its unit: how it is shown.
_KINDS = {
    "kg/s": "mass flow",
    "Pa": "draft",
    "m/s": "wind",
    "m**3": "volume",
    "W": "heat rate",
    "m": "diameter",
    "m**3/s": "volume flow",
}


def findings(found: Surroundings, system: str = "US") -> tuple[tuple[str, str, str], ...]:
    """(kind, subject, sentence) of everything that speaks against the job, as `study.Finding` takes them."""
    return tuple((r.weight, subject(r), sentence(r, system)) for r in records(found))


def subject(record: Record) -> str:
    """What a finding is headed by."""
    if record.code.startswith("terminal"):
        return f"Terminal {record.subjects[0]}"
    return (
        f"Exhaust at {record.subjects[0]}" if record.code.startswith("intake") and record.rule else record.subjects[0]
    )


def sentence(record: Record, system: str = "US") -> str:
    """A record in plain words, in "US" or "SI" units."""
    shown = {name: _shown(value, system) for name, value in record.figures.items()}
    rule, share = record.rule, record.figures.get("share")
    names = {
        "finding": _finding(record, system),
        "parts": " ".join(sentence(part, system) for part in record.parts),
        "note": record.note,
        "rule": f"{rule.name}; {rule.source}; {rule.edition}; {rule.status}; {combustion_air.CHECK}" if rule else "",
        "gas": re_entrainment.NAMES.get(record.subjects[-1], ""),
        "counted": "" if share is None else f" ({float(share.m):.0%} of the NOx)",
        "through": record.subjects[-1],
        "after": _after(record.figures["over"]) if "over" in record.figures else "",
    }
    # A unit that ends in a full stop ends the sentence with it.
    return WORDS[record.code].sentence.format(**names, **shown).replace("w.c..", "w.c.")


def _shown(value: Quantity, system: str) -> str:
    if value.units == _PPM:
        return re_entrainment.ppm_text(float(value.m))
    if value.dimensionless:
        return f"{float(value.m_as('')):,.0f}"
    if value.is_compatible_with("s"):
        return carbon_monoxide.clock(float(value.m_as("s")))
    kind = _kind(value)
    return f"{value:~P}" if kind == "volume" else show(value, system, kind)


_PPM = Q_(1.0, "ppm").units


def _kind(value: Quantity) -> str:
    return next(kind for unit, kind in _KINDS.items() if value.is_compatible_with(unit))


def _after(over: Quantity) -> str:
    seconds = float(over.m_as("s"))
    return "at once" if seconds <= 0.0 else f"after {carbon_monoxide.clock(seconds)}"


def _finding(record: Record, system: str) -> str:
    """A rule of the roof or of the room's air in the words of its own module."""
    rule, figures = record.rule, record.figures
    if rule is None:
        return ""
    if record.code.startswith("terminal"):
        row = next((r for r in clearances.shipped_rules() if r.id == rule.id), None)
        thing = record.subjects[1] if len(record.subjects) > 1 else ""
        return clearances.sentence(
            clearances.Finding(rule.name, row, record.verdict, record.note, thing, **figures), system
        )
    if record.code == "air against a rule":
        values = figures.get("required"), figures.get("provided")
        kind = _kind(values[0]) if figures else ""
        return Verdict(rule.name, record.verdict, *values, kind, rule.id, record.note).sentence(system)
    return ""
