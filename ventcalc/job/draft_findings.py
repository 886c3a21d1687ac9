"""Draft findings: the area rule, light-off by natural draft, the liner that mends a flue, water, ice and acid in it."""

from collections.abc import Iterator

from ventcalc.draft import acid_wetting, flue_wetting
from ventcalc.draft.oversized_flue import AreaRule
from ventcalc.gas import condensation
from ventcalc.job.findings import Condition, Finding, Named
from ventcalc.job.operation import Operation
from ventcalc.units import Q_
from ventcalc.vent.solution import DROP_AN_HOUR

LITTLE = 0.05 / 3600.0  # kg/s of water; less is told as little, since it would be shown as none
PRESSED_FOR = 5.0  # s at light-off that no one need hear of (common practice, no source)


def natural(op: Operation) -> Iterator[Finding]:
    """The area rule, light-off from every stack, and the liner that would mend a flue."""
    yield from _oversized(op)
    yield from _light_off(op)
    yield from _liner(op)


def _oversized(op: Operation) -> Iterator[Finding]:
    """Sections larger than the area rule allows, those that are so by as much for one appliance together."""
    oversized: dict[tuple, list[AreaRule]] = {}
    for a in op.natural.oversized:
        oversized.setdefault((a.appliance, a.rule, round(a.ratio, 6)), []).append(a)
    for (appliance, *_), like in oversized.items():
        figures = {"ratio": float(like[0].ratio), "appliance": appliance, "times": float(like[0].times)}
        rule = f"{like[0].source} ({like[0].status})"
        yield Finding("oversized_flue", tuple(a.section for a in like), figures, rule)


def _light_off(op: Operation) -> Iterator[Finding]:
    """Appliances that do not draw when they are lit, or spill, or are pressed before they draw; by the worst start."""
    starts = op.natural.starts
    for code, some in (
        ("no_light_off", [s for s in starts if s.fails and s.spills]),
        ("no_draft_at_light_off", [s for s in starts if s.fails and not s.spills]),
        ("slow_light_off", [s for s in starts if not s.fails and s.spills]),
        ("pressed_at_light_off", [s for s in starts if not s.fails and not s.spills and s.draws_after > PRESSED_FOR]),
    ):
        if some:
            worst = max(some, key=lambda s: (s.spilled, s.draws_after or 0.0))
            figures = {
                "season": worst.season,
                "stack": Named("stack", (worst.stack,)),
                "within": Q_(worst.within, "s"),
                "after": Q_(worst.draws_after or worst.within, "s"),
                "spilled": Q_(worst.spilled, "kg"),
                "still": Q_(worst.still, "kg/s"),
            }
            yield Finding(code, tuple(dict.fromkeys(s.appliance for s in some)), figures)


def _liner(op: Operation) -> Iterator[Finding]:
    """The liner to prefer, where it fits."""
    for x in op.natural.liners[:1]:
        if x.fits:
            figures = {
                "material": x.material,
                "diameter": Q_(x.diameter, "m"),
                "ratio": float(x.ratio),
                "times": float(x.times),
                "capacity": Q_(x.capacity, "W"),
                "needed": Q_(x.needed, "W"),
                "clearance": Q_(x.clearance, "delta_degC"),
            }
            yield Finding("liner", (x.section,), figures)


def wet(op: Operation) -> Iterator[Finding]:
    """Where walls lie below the dew point, in one finding for all sections; and the ice of it."""
    yield from _water(op)
    yield from _ice(op)


def _water(op: Operation) -> Iterator[Finding]:
    wet = op.natural.wettings
    if wet:
        most = max(wet, key=lambda w: w.liquid)
        much, freezes = most.liquid >= LITTLE, most.liquid < DROP_AN_HOUR
        figures = {
            "worst": most.section,
            "rate": Q_(most.liquid, "kg/s"),
            "a_day": Q_(most.a_day, "m**3"),
            "much": much and not most.while_cold,
            "cold": much and most.while_cold,
            "hot": Q_(most.hot, "kg/s"),
            "freezes": freezes,
            "little": None if much or freezes else Q_(LITTLE * flue_wetting.DAY / flue_wetting.WATER, "m**3"),
        }
        yield Finding("wet", tuple(w.section for w in wet), figures)


def _ice(op: Operation) -> Iterator[Finding]:
    """Ice at a termination, and ice within the vent; one finding each."""
    for code, at_end in (("ice_at_terminal", True), ("ice", False)):
        icy = [i for i in op.natural.icings if (i.terminal is not None) == at_end]
        if icy:
            most = max(icy, key=lambda i: i.rate)
            figures = {
                "rate": Q_(most.rate, "kg/s"),
                "wall": Q_(most.wall, "K"),
                "state": Condition(op.scan, most.state),
                "much": most.rate >= LITTLE,
                "warming": not most.hot,
            }
            yield Finding(code, tuple(i.section for i in icy), figures)


def acid(op: Operation) -> Iterator[Finding]:
    """Where acid settles on walls, in one finding for all sections."""
    found = acid_wetting.acid_wettings(op.scan)
    if found:
        most = min(found, key=lambda w: w.wall - w.dew_point)
        (fuel,) = (a.fuel for a in op.scan.plant.appliances if a.name == most.appliance)
        figures = {
            "fuel": fuel.name,
            "sulfur": fuel.sulfur,
            "share": condensation.SO3_SHARE,
            "dew_point": Q_(most.dew_point, "K"),
            "worst": most.section,
            "wall": Q_(most.wall, "K"),
            "state": Condition(op.scan, most.state),
        }
        yield Finding("acid", tuple(w.section for w in found), figures)
