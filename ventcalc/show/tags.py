"""Tags: what each thing that is bought or kept is called on every paper of a submittal.

V sections of vent, T ends of it, B burners, F the fan, MD the damper in the stack, BD dampers at outlets, PT draft
sensors, PS pressure switches, CT the control. A section has its number of the drawing, a damper at an outlet that of
its burner.
"""

from dataclasses import dataclass

from ventcalc.draft import held_pressure
from ventcalc.job.remedy import Remedy
from ventcalc.job.study import Study
from ventcalc.vent import end_of_header


@dataclass(frozen=True)
class Tags:
    """The tags of one design; "" for what it does not have.

    ``sections``, ``ends``, ``burners`` and, of those that have one, ``outlet_dampers`` and ``outlet_sensors`` by name.
    ``high`` and ``low`` are the limits' switches and ``proof`` that of the draft, each apart from the ``sensor`` that
    the control reads at the header.
    """

    sections: dict[str, str]
    ends: dict[str, str]
    burners: dict[str, str]
    fan: str
    damper: str
    outlet_dampers: dict[str, str]
    outlet_sensors: dict[str, str]
    sensor: str
    high: str
    low: str
    proof: str
    control: str

    @property
    def every(self) -> tuple[str, ...]:
        """All of them, in the order of a schedule."""
        alone = (self.fan, self.damper, self.sensor, self.high, self.low, self.proof, self.control)
        named = (self.sections, self.ends, self.burners, self.outlet_dampers, self.outlet_sensors)
        return tuple(tag for group in (*(n.values() for n in named), alone) for tag in group if tag)


def tags(design: Study) -> Tags:
    """The tags of a design: the vent as drawn, or the one of a remedy."""
    remedy, plant = design.outcome.remedy, design.job.plant
    names = [a.name for a in plant.appliances]
    header = holds_header(remedy)
    own = {name: names.index(name) + 1 for name in remedy.outlets}
    return Tags(
        sections={s.name: f"V-{k}" for k, s in enumerate(plant.order, 1)},
        ends={t.name: f"T-{k}" for k, t in enumerate(plant.terminations, 1)},
        burners={name: f"B-{k}" for k, name in enumerate(names, 1)},
        fan="F-1" if remedy.fan else "",
        damper="MD-1" if remedy.damper else "",
        outlet_dampers={name: f"BD-{k}" for name, k in own.items()},
        outlet_sensors={name: f"PT-{k + header}" for name, k in own.items()},
        sensor="PT-1" if header else "",
        high="PS-1" if header else "",
        low="PS-2" if header else "",
        proof="PS-3" if header else "",
        control="CT-1" if remedy.controlled else "",
    )


def holds_header(remedy: Remedy) -> bool:
    """Whether a control of the remedy holds the header at a set point."""
    return remedy.set_point is not None


FAN, DAMPER, OUTLET_DAMPER, SENSOR = "fan", "damper", "outlet damper", "sensor"  # kinds of `Placed`


@dataclass(frozen=True)
class Placed:
    """A device in the vent: its ``tag`` and ``kind``, and the ``section`` at whose downstream end it stands.

    A sensor stands at the upstream end. ``appliance`` is the one whose outlet it is for, "" for those that serve all.
    """

    tag: str
    kind: str
    section: str
    appliance: str = ""


def placed(design: Study) -> tuple[Placed, ...]:
    """What stands in the vent of a design: fan, stack damper, sensor of the header, dampers and sensors of outlets."""
    remedy, plant, named = design.outcome.remedy, design.job.plant, tags(design)
    feeds = {a.name: feed for a, feed in zip(plant.appliances, plant.feeds, strict=True)}
    found = [Placed(named.fan, FAN, remedy.top)] if named.fan else []
    found += [Placed(named.damper, DAMPER, held_pressure.stack_base(plant))] if named.damper else []
    found += [Placed(named.sensor, SENSOR, end_of_header.far_end(plant))] if named.sensor else []
    found += [Placed(tag, OUTLET_DAMPER, feeds[name], name) for name, tag in named.outlet_dampers.items()]
    found += [Placed(tag, SENSOR, feeds[name], name) for name, tag in named.outlet_sensors.items()]
    return tuple(found)
