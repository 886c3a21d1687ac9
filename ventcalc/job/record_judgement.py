"""Record judgement: a whole record of readings on site, every line judged and all of it told, the gravest first."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ventcalc.gas.appliance import Appliance
from ventcalc.job import findings, performance_test
from ventcalc.job.findings import Finding, Judgement, pascal
from ventcalc.job.performance_test import KINDS, OFF_UNITS, PRESSURE, UNITS
from ventcalc.job.reading_verdicts import (
    BEYOND,
    MISSING,
    OUTSIDE,
    UNKNOWN,
    WITHIN,
    Judged,
    beyond,
    may_be_beyond,
    to_people,
    verdict,
)
from ventcalc.job.record_causes import causes, constants, not_reached
from ventcalc.job.site_record import Record
from ventcalc.job.study import Study
from ventcalc.units import Q_


@dataclass(frozen=True)
class JudgedRecord:
    """A whole record: every line judged, and the ``judgement`` of all, the gravest finding first."""

    study: Study
    record: Record
    lines: tuple[Judged, ...]
    judgement: Judgement

    @property
    def passed(self) -> bool:
        """Whether every reading is there and within its band, and nothing was found against it."""
        return self.judgement.cured and all(line.verdict == WITHIN for line in self.lines)

    def count(self, verdict: str) -> int:
        """How many lines have a verdict."""
        return sum(line.verdict == verdict for line in self.lines)


def judge(study: Study, record: Record) -> JudgedRecord:
    """Every reading against what is expected on that day, and what they say together."""
    rows = performance_test.expected(study, record.weather)
    appliances = {a.name: a for a in performance_test.design(study).job.plant.appliances}
    pairs = [(e, record.readings.get(e.asked.key)) for e in rows]
    constant = {key: off for key, off in constants(pairs) if key[1] != PRESSURE}
    unreached = tuple(not_reached(pairs, appliances, constant))
    lost = {u.condition.name for u in unreached}
    lines = tuple(Judged(e, r, verdict(e, r, appliances, lost)) for e, r in pairs)
    found = [
        *_beyond_windows(lines, appliances),
        *_outside_bands(lines, lost),
        *_doubtful(lines, appliances),
        *(u.finding for u in unreached),
        *causes(lines, constant),
        *_missing(lines),
    ]
    return JudgedRecord(study, record, lines, findings.judgement(found))


def _beyond_windows(lines: Sequence[Judged], appliances: Mapping[str, Appliance]) -> Iterator[Finding]:
    """What lies beyond what its appliance allows: where gas may come into the room, and elsewhere."""
    out = [line for line in lines if line.verdict == BEYOND]
    grave = [line for line in out if to_people(line, appliances)]
    for code, own in (("record_gas_in_room", grave), ("record_window", [b for b in out if b not in grave])):
        if own:
            worst = max(own, key=lambda b: abs(beyond(b.expected, b.reading.value, appliances)))
            yield Finding(code, _places(own), {
                "count": len(own),
                "worst": worst.expected.asked.place.name,
                "pressure": pascal(worst.reading.value),
                "beyond": pascal(abs(beyond(worst.expected, worst.reading.value, appliances))),
                "condition": worst.expected.asked.condition.name,
            })  # fmt: skip


def _outside_bands(lines: Sequence[Judged], lost: set[str]) -> Iterator[Finding]:
    """What is outside its band, quantity by quantity; what tells that a condition is ``lost`` is told with that."""
    for what in UNITS:
        own = [
            line
            for line in lines
            if line.verdict == OUTSIDE
            and line.expected.asked.quantity == what
            and line.expected.asked.condition.name not in lost
        ]
        if own:
            worst = max(own, key=lambda line: abs(line.off) / line.expected.band)
            e = worst.expected
            yield Finding(f"record_outside_{KINDS[what]}", _places(own), {
                "count": len(own),
                "quantity": what,
                "worst": e.asked.place.name,
                "measured": Q_(worst.reading.value, UNITS[what]),
                "expected": Q_(e.value, UNITS[what]),
                "band": Q_(e.band, OFF_UNITS[what]),
                "condition": e.asked.condition.name,
            })  # fmt: skip


def _doubtful(lines: Sequence[Judged], appliances: Mapping[str, Appliance]) -> Iterator[Finding]:
    """What an instrument cannot tell to be inside a window, and what there was nothing to hold against."""
    near = [line for line in lines if line.verdict in (WITHIN, OUTSIDE) and may_be_beyond(line, appliances)]
    if near:
        yield Finding("record_near_window", _places(near), {"count": len(near)})
    unknown = [line for line in lines if line.verdict == UNKNOWN]
    if unknown:
        yield Finding("record_unknown", _places(unknown), {"count": len(unknown)})


def _missing(lines: Sequence[Judged]) -> Iterator[Finding]:
    by: dict[str, list[Judged]] = {}
    for line in lines:
        by.setdefault(line.expected.asked.condition.name, []).append(line)
    whole = tuple(name for name, own in by.items() if all(line.verdict == MISSING for line in own))
    single = [line for name, own in by.items() if name not in whole for line in own if line.verdict == MISSING]
    if whole:
        yield Finding("record_condition_missing", whole, {"count": len(whole)})
    if single:
        told = tuple(f"{', '.join(line.expected.asked.key)}" for line in single)
        yield Finding("record_missing", told, {"count": len(single)})


def _places(lines: Sequence[Judged]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(line.expected.asked.place.name for line in lines))
