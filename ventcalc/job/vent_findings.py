"""Vent findings: categories that may not share a vent, pressed sections, materials, runs, junctions, permissions."""

from collections.abc import Iterator

from ventcalc.flow import junctions, materials
from ventcalc.flow.materials import Objection
from ventcalc.gas import appliance
from ventcalc.job import permissions
from ventcalc.job.findings import Condition, Finding, Told, pascal
from ventcalc.job.operation import Operation
from ventcalc.units import Q_
from ventcalc.words import say, together

# Which categories may share a vent that natural draft serves.
COMMON_VENT_RULE = (
    "IFGC chapter 5 on vent connectors and mechanical draft (from memory; check the adopted edition): a connector "
    "serving a Category I appliance shall not join any part of a vent under positive pressure, such as those of "
    "Category III or IV appliances"
)

# What gas and oil in one flue must keep.
TWO_FUELS_RULE = (
    "IFGC 503.5.7.2 (from memory; check the adopted edition): gas and liquid fuel enter one chimney flue by openings "
    "of their own at different levels, or by one, joined by a fitting as near the chimney as practical; appliances "
    "that are automatically controlled have safety shutoff devices"
)


def categories(op: Operation) -> Iterator[Finding]:
    """Appliances that may not share a vent by their categories, and sections pressed under a category I or II.

    An appliance made for negative vent pressure may share with one made for positive only where the shared vent is
    under draft in every condition: a fan or a control that holds it so, never nature alone.
    """
    plant, controlled = op.scan.plant, bool(op.outcome.remedy.controls)
    for section, met in zip(plant.order, op.extremes, strict=True):
        sides = _by_category(plant.serves(section.name))
        if all(sides) and not (controlled and met.pressure[1] <= 0.0):
            negative, positive = sides
            figures = {
                "negative": tuple(a.name for a in negative),
                "positive": tuple(a.name for a in positive),
                "negative_categories": tuple(dict.fromkeys(a.shown_category for a in negative)),
                "positive_categories": tuple(dict.fromkeys(a.shown_category for a in positive)),
                "controlled": controlled,
            }
            yield Finding("categories", (section.name,), figures, COMMON_VENT_RULE)
            break
    if op.outcome.pressed:
        met = (m for m in op.extremes if m.section in op.outcome.pressed)
        most = max(met, key=lambda m: m.pressure[1])
        figures = {"pressure": pascal(most.pressure[1]), "state": Condition(op.scan, most.pressure_state)}
        yield Finding("positive_pressure", op.outcome.pressed, figures, COMMON_VENT_RULE)


def two_fuels(op: Operation) -> Iterator[Finding]:
    """Gas and oil that share a vent: what the code asks of it, from the first section that serves both."""
    for section in op.job.plant.order:
        served = op.job.plant.serves(section.name)
        oil, gas = (tuple(a.name for a in served if a.fuel.kind == kind) for kind in ("liquid", "gas"))
        if oil and gas:
            yield Finding("two_fuels", (section.name,), {"oil": oil, "gas": gas}, TWO_FUELS_RULE)
            return


def _by_category(served) -> tuple[list, list]:
    """Appliances made for negative vent pressure, and those that may put the vent under positive pressure."""
    positive = {c: appliance.CATEGORIES[c].positive for c in {a.category for a in served}}
    return [a for a in served if not positive[a.category]], [a for a in served if positive[a.category]]


def objections(op: Operation) -> tuple[Objection, ...]:
    """What speaks against the material of each section, over all conditions."""
    found = []
    for section, met in zip(op.job.plant.order, op.extremes, strict=True):
        served = op.job.plant.serves(section.name)
        service = materials.Service(
            section.name,
            tuple(c for a in served for c in a.listed_categories),
            tuple(a.fuel.kind for a in served),
            section.place,
            Q_(met.gas[1], "K"),
            Q_(met.pressure[1], "Pa"),
            met.condensing > 0.0,
            all(section.material.name in a.named_materials for a in served),
        )
        found += materials.objections(section.material, service)
    return tuple(found)


def material(op: Operation) -> Iterator[Finding]:
    """One finding for all materials, with what speaks against each and the sections that are made of it."""
    found = objections(op)
    if found:
        figures = {
            "objections": tuple(dict.fromkeys(o.code for o in found)),
            "reason": Told(_reasons, _gravest(found)),
        }
        yield Finding("material", tuple(dict.fromkeys(o.section for o in found)), figures)


def _gravest(found: tuple[Objection, ...]) -> tuple[Objection, ...]:
    """Of the objections of one kind to one material the one with the greatest pressure or temperature."""

    def figure(o: Objection) -> float:
        return next((v.m_as(v.to_base_units().units) for n, v in o.figures.items() if n in ("gas", "pressure")), 0.0)

    grave: dict[tuple[str, str], Objection] = {}
    for o in found:
        key = o.material, o.code
        if key not in grave or figure(o) > figure(grave[key]):
            grave[key] = o
    return tuple(grave.values())


def _reasons(*about) -> str:
    """Objections in words, material by material; the last argument is the unit system."""
    *found, system = about
    told = {m: "; ".join(materials.sentence(o, system) for o in found if o.material == m)
            for m in dict.fromkeys(o.material for o in found)}  # fmt: skip
    return ". ".join(say("job", "material", "objections", material=m, objections=all_) for m, all_ in told.items())


def runs(op: Operation) -> Iterator[Finding]:
    """Runs longer than the instructions allow, and those that would be with the vent that they share."""
    told = [r for r in op.runs if r.allowed is not None]
    for r in told:
        if r.equivalent > r.allowed:
            yield Finding("run_too_long", (r.appliance,), {"run": Q_(r.equivalent, "m"), "allowed": Q_(r.allowed, "m")})
    with_shared = [r for r in told if r.equivalent <= r.allowed < r.equivalent + r.shared]
    if with_shared:
        worst = max(with_shared, key=lambda r: r.equivalent + r.shared - r.allowed)
        figures = {"run": worst.equivalent, "shared": worst.shared, "allowed": worst.allowed}
        told = {name: Q_(length, "m") for name, length in figures.items()}
        yield Finding("run_shared", tuple(r.appliance for r in with_shared), {"worst": worst.appliance} | told)


def untested_junctions(op: Operation) -> Iterator[Finding]:
    """Junctions whose branch is narrower than those that the coefficients were measured on."""
    outside = junctions.untested(op.job.plant.sections)
    if outside:
        low, high = junctions.TESTED_AREA_RATIO
        names = tuple(f"{name} ({ratio})" for name, ratio in together((n, f"{r:.2f}") for n, r in outside))
        yield Finding("junctions", names, {"low": low, "high": high})


def sampled(op: Operation) -> Iterator[Finding]:
    """A remedy that was looked at in a sample of the job's conditions alone."""
    if op.outcome.sampled:
        yield Finding("sampled", (), {"looked": len(op.scan.conditions), "possible": op.scan.possible})


def to_be_permitted(op: Operation) -> Iterator[Finding]:
    """What somebody must still say yes to, and what somebody said no to."""
    given = op.job.permissions
    for code, listed in (
        ("permission_refused", permissions.refused_permissions(op.job.plant, given)),
        ("permission_open", permissions.open_permissions(op.job.plant, given)),
    ):
        for what in dict.fromkeys(p.what for p in listed):
            yield Finding(code, tuple(p.of for p in listed if p.what == what), {"what": what})
