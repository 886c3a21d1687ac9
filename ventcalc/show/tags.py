"""Tags: what each thing that is bought or kept is called on every paper of a submittal.

V sections of vent, T ends of it, B burners, F the fan, MD the damper in the stack, BD dampers at outlets, PT draft
sensors, PS pressure switches, CT the control. A section has its number of the drawing, a damper at an outlet that of
its burner.
"""

from dataclasses import dataclass

from ventcalc.job.remedy import Remedy
from ventcalc.job.study import Study


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
        control="CT-1" if remedy.controls else "",
    )


def holds_header(remedy: Remedy) -> bool:
    """Whether a control of the remedy holds the header at a set point."""
    return remedy.set_point is not None
