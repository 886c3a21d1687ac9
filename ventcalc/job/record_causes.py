"""Record causes: what readings on site have in common over several conditions.

A condition that was not reached, tubes that are swapped, a minus left out, an instrument that is off by the same amount
everywhere: each a likely cause, never more, and it excuses nothing.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ventcalc.gas.appliance import Appliance
from ventcalc.job import findings
from ventcalc.job.findings import Finding, pascal
from ventcalc.job.performance_test import GAUGE, KINDS, OFF_UNITS, OXYGEN, PRESSURE, SENSOR, Condition, Expected, Place
from ventcalc.job.reading_verdicts import BEYOND, OUTSIDE, WITHIN, Judged, asked_level, tells_condition
from ventcalc.job.site_record import Key, Reading
from ventcalc.units import Q_

FEW = 3  # conditions that must agree before something constant is named
NO_FIRE = 0.20  # oxygen in the dry gas above which no burner fires (air has 20.95 %)


Pair = tuple[Expected, Reading | None]


@dataclass(frozen=True)
class Unreached:
    """A condition that an ``appliance`` did not reach, and the level that it reads ``like``, "" for none."""

    condition: Condition
    appliance: str
    like: str

    @property
    def finding(self) -> Finding:
        """It, as it is told."""
        figures = {"condition": self.condition.name, "like": self.like, "odd": not self.like}
        return Finding("record_not_reached", (self.appliance,), figures)


def not_reached(
    pairs: Sequence[Pair], appliances: Mapping[str, Appliance], constant: Mapping[tuple[Place, str], float]
) -> Iterator[Unreached]:
    """Conditions in which an appliance that should fire reads, by its temperature or oxygen, like no such fire.

    Where it reads so by the same amount in all conditions, and not like another level, its instrument or its setting
    is more likely off.
    """
    known: dict[Key, Expected] = {}  # by appliance, level and quantity
    for e, _ in pairs:
        if tells_condition(e.asked):
            known.setdefault((e.asked.place.appliance, asked_level(e.asked, appliances), e.asked.quantity), e)
    read: dict[tuple[str, str], list[tuple[Expected, Reading]]] = {}
    for e, r in pairs:
        if tells_condition(e.asked) and r is not None and np.isfinite(e.value):
            read.setdefault((e.asked.condition.name, e.asked.place.appliance), []).append((e, r))
    for (_, name), own in read.items():
        out = [e for e, r in own if abs(r.value - e.value) > e.band]
        if not out:
            continue
        values = {e.asked.quantity: r.value for e, r in own}
        like = _like(name, asked_level(own[0][0].asked, appliances), values, known)
        if like or any((e.asked.place, e.asked.quantity) not in constant for e in out):
            yield Unreached(own[0][0].asked.condition, name, like)


def _like(name: str, asked: str, values: Mapping[str, float], known: Mapping[Key, Expected]) -> str:
    """The level other than what was asked whose temperature and oxygen an appliance shows, "off" for those of air; ""
    for none."""
    if values.get(OXYGEN, 0.0) >= NO_FIRE:
        return "off"
    for level in dict.fromkeys(level for who, level, _ in known if who == name and level != asked):
        own = {what: known[name, level, what] for what in values}
        if all(abs(value - own[what].value) <= own[what].band for what, value in values.items()):
            return level
    return ""


def causes(lines: Sequence[Judged], constant: Mapping[tuple[Place, str], float]) -> Iterator[Finding]:
    """What may be behind readings outside their bands: a sign turned round, something constant. Likely, no more."""
    compared = [line for line in lines if line.verdict in (WITHIN, OUTSIDE, BEYOND)]
    turned = _turned(compared)
    for place, conditions in turned.items():
        yield Finding("record_sign", (place.name,), {"conditions": conditions, "everywhere": not conditions})
    straight = [line for line in compared if line.expected.asked.place not in turned]
    pressures = [(line.expected, line.reading) for line in straight if line.expected.asked.quantity == PRESSURE]
    apart = _apart(straight)
    offsets = dict(constant) | dict(constants(pressures))
    if apart is not None:
        off, place = apart
        figures = {"off": pascal(abs(off)), "side": findings.Named("side", ("above" if off > 0.0 else "below",))}
        yield Finding("record_sensor", (place.name,) if place else (), figures)
        # What the control holds is off the other way, at every outlet.
        ours = {Place(GAUGE), Place(SENSOR)}
        offsets = {
            (p, what): by
            for (p, what), by in offsets.items()
            if p not in ours and (what != PRESSURE or place == Place(GAUGE) or by * off > 0.0)
        }
    for what in OFF_UNITS:
        own = {p: by for (p, q), by in offsets.items() if q == what}
        if own:
            most = max(own.values(), key=abs)
            figures = {"off": Q_(most, OFF_UNITS[what]), "quantity": what}
            yield Finding(f"record_offset_{KINDS[what]}", tuple(p.name for p in own), figures)


def _turned(lines: Sequence[Judged]) -> dict[Place, tuple[str, ...]]:
    """Places that read with the sign turned round: in every condition, (), or in those named.

    In every one where all readings that are not too near nought have the other sign, and that explains them better than
    something constant would: the tubes are swapped. In single ones where the other sign fits as near as the instrument
    tells: a minus was left out.
    """
    found: dict[Place, tuple[str, ...]] = {}
    for place, own in _by_place(lines).items():
        if not any(line.off_band for line in own):
            continue
        read, due, error = np.array([(ln.reading.value, ln.expected.value, ln.expected.error) for ln in own]).T
        clear = (np.abs(read) > error) & (np.abs(due) > error)
        other = (read * due < 0.0)[clear]
        if other.size >= FEW and other.all() and np.sqrt(np.mean((read + due) ** 2)) < np.std(read - due):
            found[place] = ()
            continue
        single = [ln for ln, left in zip(own, np.abs(read + due) <= error, strict=True) if left and ln.off_band]
        if single:
            found[place] = tuple(ln.expected.asked.condition.name for ln in single)
    return found


def _by_place(lines: Sequence[Judged]) -> dict[Place, list[Judged]]:
    by: dict[Place, list[Judged]] = {}
    for line in lines:
        if line.expected.asked.quantity == PRESSURE and np.isfinite(line.expected.value):
            by.setdefault(line.expected.asked.place, []).append(line)
    return by


def _apart(lines: Sequence[Judged]) -> tuple[float, Place | None] | None:
    """How much more [Pa] the control's sensor shows than a gauge beside it where that is constant over the conditions
    and more than both may be off; and which of them is off, None where that cannot be told.

    A control holds whatever its sensor shows, so that only conditions in which it holds nothing can tell.
    """
    by = {place: {line.expected.asked.condition.name: line for line in own} for place, own in _by_place(lines).items()}
    gauge, sensor = by.get(Place(GAUGE), {}), by.get(Place(SENSOR), {})
    both = [(sensor[name], gauge[name]) for name in sensor if name in gauge]
    if len(both) < FEW:
        return None
    off = np.array([s.reading.value - g.reading.value for s, g in both])
    allowed = max(s.expected.error + g.expected.error for s, g in both)
    if np.ptp(off) > 2.0 * allowed or abs(off.mean()) <= allowed:
        return None
    free = [(abs(s.off), abs(g.off)) for s, g in both if not s.expected.held]
    if not free:
        return float(off.mean()), None
    by_sensor, by_gauge = np.mean(free, axis=0)
    return float(off.mean()), Place(SENSOR if by_sensor > by_gauge else GAUGE)


def constants(pairs: Sequence[Pair]) -> Iterator[tuple[tuple[Place, str], float]]:
    """Places that read off by the same amount in every condition, as an instrument does that is off: by how much [SI].

    The same within the instrument's error either way, in `FEW` conditions or more, and in some outside the band.
    """
    by: dict[tuple[Place, str], list[tuple[Expected, Reading]]] = {}
    for e, r in pairs:
        if r is not None and np.isfinite(e.value):
            by.setdefault((e.asked.place, e.asked.quantity), []).append((e, r))
    for key, own in by.items():
        off = np.array([r.value - e.value for e, r in own])
        out = np.abs(off) > [e.band for e, _ in own]
        if len(own) >= FEW and np.ptp(off) <= 2.0 * max(e.error for e, _ in own) and out.any():
            yield key, float(off.mean())
