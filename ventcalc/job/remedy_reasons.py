"""Remedy reasons: why a remedy stands where it does in a comparison, as records with codes and figures.

`remedy_words` makes sentences of them.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ventcalc.draft.dampers import Damper
from ventcalc.draft.held_pressure import HEADER, Control
from ventcalc.job import findings, vent_changes
from ventcalc.job.device_duty import DAMPER_TOLERANCE
from ventcalc.job.remedy import FALLS_SHORT, NO_FAN_FITS
from ventcalc.job.remedy_outcome import Outcome
from ventcalc.units import Q_, Quantity
from ventcalc.vent import area_rule, section_extremes
from ventcalc.vent.layout import Plant
from ventcalc.vent.outlet_envelope import Envelope

WIDE_OPEN = 0.005  # of its stroke: a damper that is nowhere shut by more than half a percent stands open
AT_LEAST = 1.01  # times its least speed: a fan so slow stands at it, as a held pressure comes to rest


@dataclass(frozen=True)
class Reason:
    """One thing that is true of an outcome: a ``code`` of ``words.toml``, what it is true of, with figures.

    ``figures`` by name: quantities, counts, shares and words of a fixed list. ``state`` is the column of the outcome's
    scan in which it is worst, where there is one.
    """

    code: str
    subjects: tuple[str, ...] = ()
    figures: Mapping[str, Quantity | int | float | str] = field(default_factory=dict)
    state: int | None = None


def reasons(o: Outcome) -> tuple[Reason, ...]:
    """Why an outcome stands where it does, the decisive first."""
    return tuple(
        r for part in (_faults, _windows, _extent, _set_points, _unheld, _fan, _damper, _vent) for r in part(o)
    )


# The finding by which a design is judged for what a reason says, where it was not worth judging.
_FOUND = {
    "gas in room": "spillage",
    "positive pressure": "positive_pressure",
    "unsolved": "unsolved",
    **dict.fromkeys((NO_FAN_FITS, FALLS_SHORT), "fan_unfit"),
}


def against(o: Outcome) -> tuple[str, ...]:
    """Titles of what speaks against an outcome, each once: of its judgement, or, where it was not worth one, of what it
    was rejected for in the states in which it was solved."""
    if o.judgement is not None:
        return tuple(dict.fromkeys(f.title for f in o.judgement.against))
    table = findings.table()
    return tuple(dict.fromkeys(table[_found(o, r)].title for r in _faults(o)))


def _found(o: Outcome, r: Reason) -> str:
    if "side" in r.figures:
        return "outlet_high" if r.figures["side"] == "above" else "outlet_low"
    if r.code == "unsolved" and o.scan.restless.any():
        return "no_rest"
    return _FOUND[r.code]


def _faults(o: Outcome) -> Iterator[Reason]:
    """What speaks against it where it was solved, people first."""
    total = len(o.scan.conditions)
    if o.gas_in_room:
        yield Reason("gas in room", (), {"states": o.gas_in_room, "total": total})
    if o.outside:
        yield from _outside(o, _worst(o), total)
    if o.pressed:
        yield _pressed(o)
    if o.unsettled:
        yield Reason("unsolved", (), {"states": o.unsettled})
    if o.remedy.unfit:
        fan = o.remedy.fan.fan
        yield Reason(o.remedy.unfit, (fan.name,), {"kind": fan.kind})


def _pressed(o: Outcome) -> Reason:
    """Sections under positive pressure that may not be, up to how much and in which state: a breath of a purge, or
    flue gas at full fire."""
    met = (m for m in section_extremes.extremes(o.scan) if m.section in o.pressed)
    worst = max(met, key=lambda m: m.pressure[1])
    return Reason("positive pressure", o.pressed, {"pressure": Q_(worst.pressure[1], "Pa")}, worst.pressure_state)


def _worst(o: Outcome) -> Envelope:
    return min(o.envelopes, key=lambda e: e.margin)


def _windows(o: Outcome) -> Iterator[Reason]:
    """Where no outlet leaves its window: by how much, and which by less than is uncertain."""
    if not o.outside:
        figures = {"total": len(o.scan.conditions), "margin": Q_(_worst(o).margin, "Pa")}
        yield Reason("inside windows", (), figures)
        yield from _doubtful(o)


def _extent(o: Outcome) -> Iterator[Reason]:
    """In how many states it was solved, and how much is built anew."""
    if not o.everywhere:
        yield Reason("governing states", (), {"total": len(o.scan.conditions), "possible": o.scan.possible})
    elif not o.scan.complete:
        yield Reason("sample", (), {"possible": o.scan.possible})
    if o.remedy.rebuilt:
        yield Reason("new pipe", (), {"area": Q_(o.remedy.new_pipe, "m**2")})


def _outside(o: Outcome, worst: Envelope, total: int) -> list[Reason]:
    """By how much the worst outlet leaves its window; and where others do so on the other side, the worst of them."""
    found = [_beyond(worst, worst.above >= worst.below)]
    first = found[0]
    found[0] = replace(first, code="outside window", figures={"states": o.outside, "total": total, **first.figures})
    above = first.figures["side"] == "above"
    other = max(o.envelopes, key=lambda e: e.below if above else e.above)
    if (other.below if above else other.above) > 0.0:
        found.append(_beyond(other, not above))
    return found


def _beyond(e: Envelope, above: bool) -> Reason:
    by, state, side = (e.above, e.high_state, "above") if above else (e.below, e.low_state, "below")
    return Reason("outside window too", (e.appliance,), {"beyond": Q_(by, "Pa"), "side": side}, state)


def _doubtful(o: Outcome) -> list[Reason]:
    """Outlets whose margin is less than what is uncertain of it, the worst of them first; one reason for all."""
    margin, doubt = o.margins
    thin = [k for k in np.argsort(margin - doubt, kind="stable") if margin[k] < doubt[k]]
    if not thin:
        return []
    names = tuple(e.appliance for k, e in enumerate(o.envelopes) if k in thin)
    figures = {"margin": Q_(float(margin[thin[0]]), "Pa"), "uncertain": Q_(float(doubt[thin[0]]), "Pa")}
    if len(thin) == 1:
        return [Reason("margin within doubt", names, figures)]
    return [Reason("margins within doubt", names, {"worst": o.envelopes[thin[0]].appliance, **figures})]


def _set_points(o: Outcome) -> list[Reason]:
    """Which set points of the header serve, and whether its own is among them."""
    if o.remedy.serve is None or o.remedy.set_point is None or o.remedy.outlets:
        return []
    low, high = o.remedy.serve
    if not np.isfinite([low, high]).all():
        return []
    if low > high:
        return [Reason("no set point", (), {"lacking": Q_(low - high, "Pa")})]
    outside = not low <= o.remedy.set_point.m_as("Pa") <= high
    code = "set point outside" if outside else "set points"
    return [Reason(code, (), {"low": Q_(low, "Pa"), "high": Q_(high, "Pa")})]


def _limit(control: Control, at: int) -> str:
    """A control's device at its least (-1), its most (1) or between, by its code in ``words.toml``."""
    damper = isinstance(control.device, Damper)
    if at == 0:
        return "between"
    if at > 0:
        return "damper open" if damper else "fan fastest"
    if damper:
        return "damper shut"
    return "fan slowest, damper shut" if control.second else "fan slowest"


def _unheld(o: Outcome) -> list[Reason]:
    """Where controls cannot hold, and why: the device is at one of its limits; each side by itself, the worse first."""
    found = []
    for k, control in enumerate(o.held.controls if o.unheld else ()):
        error = np.where(o.held.missed[k], o.held.error[k], 0.0)
        for sign in sorted((-1.0, 1.0), key=lambda side: -(side * error).max()):
            missed = np.flatnonzero(sign * error > 0.0)
            if not missed.size:
                continue
            at = int(missed[(sign * error[missed]).argmax()])
            figures = {
                "states": int(missed.size),
                "sensor": control.sensor,
                "off": Q_(abs(float(error[at])), "Pa"),
                "side": "above" if sign > 0 else "below",
                "limit": _limit(control, int(o.held.at[k, at])),
            }
            found.append(Reason("not held", (control.sensor,), figures, at))
            if control.sensor == HEADER and o.remedy.outlets and sign < 0:
                found.append(Reason("left to outlets"))
    return found


def _fan(o: Outcome) -> list[Reason]:
    """How the fan works."""
    if o.duty is None:
        return []
    duty, fan = o.duty, o.remedy.fan
    hardest = int(duty.speed.argmax())
    figures = {
        "slowest": float(duty.speed.min()),
        "fastest": float(duty.speed.max()),
        "flow": Q_(float(duty.flow[hardest]), "m**3/s"),
        "static": Q_(float(duty.static[hardest]), "Pa"),
        "yearly": Q_(duty.yearly, "J"),
    }
    fixed = not o.remedy.controlled
    found = [Reason("fan fixed" if fixed else "fan works", (fan.fan.name,), figures, int(duty.states[hardest]))]
    slowest = 0 if fixed else int((duty.speed <= fan.least_speed * AT_LEAST).sum())
    if slowest:
        found.append(Reason("fan at least speed", (fan.fan.name,), {"states": slowest}))
    if 2 * slowest > duty.speed.size and o.remedy.smallest:
        found.append(Reason("fan too large", (fan.fan.name,), {"kind": fan.fan.kind}))
    if duty.stalled.any():
        found.append(Reason("fan stalled", (fan.fan.name,), {"states": int(duty.stalled.sum())}))
    hottest = float(duty.temperature.max())
    if hottest > fan.fan.highest_temperature.m_as("K"):
        figures = {"hottest": Q_(hottest, "K"), "stands": fan.fan.highest_temperature}
        found.append(Reason("fan too hot", (fan.fan.name,), figures))
    wet = o.remedy.wet if o.remedy.controlled else _wet_before_fan(o)
    if wet and not fan.fan.condensate:
        found.append(Reason("fan wet", (fan.fan.name,)))
    return found


def _wet_before_fan(o: Outcome) -> bool:
    """Whether water settles on the wall of the section before the fan while it runs."""
    return bool(o.scan.solution.wet[o.scan.solution.row(o.remedy.top), o.duty.states].any())


def _damper(o: Outcome) -> list[Reason]:
    """How the stack's damper works."""
    if o.position is None:
        return []
    least, most = float(np.nanmin(o.position)), float(np.nanmax(o.position))
    if least > o.remedy.damper.most - WIDE_OPEN:
        return [Reason("damper idle")]
    found = [Reason("damper works", (), {"least": least, "most": most})]
    if o.step > DAMPER_TOLERANCE.m_as("Pa"):
        figures = {"stroke": 100.0 * o.actuator_step, "step": Q_(o.step, "Pa"), "allowed": DAMPER_TOLERANCE}
        found.append(Reason("damper coarse", (), figures))
    return found


def _vent(o: Outcome) -> list[Reason]:
    """What the vent as it would be breaks by itself."""
    plant = o.scan.plant
    broken = vent_changes.natural(plant) and vent_changes.breaks_area_rule(plant)
    return [*_long_runs(plant), *([_area_rule(plant)] if broken else [])]


def _long_runs(plant: Plant) -> list[Reason]:
    """Where an appliance's own run is longer, by its plain length, than its instructions allow."""
    found = []
    for a in plant.appliances:
        own = [s.length for s in plant.path(a.name) if len(plant.serves(s.name)) == 1]
        if a.longest_run is not None and sum(length.m_as("m") for length in own) > a.longest_run.m_as("m"):
            found.append(Reason("run too long", (a.name,), {"run": sum(own[1:], own[0]), "allowed": a.longest_run}))
    return found


def _area_rule(plant: Plant) -> Reason:
    times = float(area_rule.area_ratio(*vent_changes.stack_and_outlet(plant)).m_as(""))
    return Reason("area rule", (), {"times": times, "allowed": area_rule.times()})
