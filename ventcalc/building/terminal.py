"""Terminal: the end of a vent, its kind, its appliances, and the kinds whose rules it must keep."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ventcalc.building.roof_scene import meters, one_of
from ventcalc.door import door
from ventcalc.gas.appliance import CATEGORIES
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.words import Remark

CHIMNEY, GAS_VENT, TYPE_L = "chimney", "vent with listed cap", "type L vent"
DIRECT, FAN, WALL_VENT = "direct vent", "mechanical draft", "category IV through a wall"
KINDS = (CHIMNEY, GAS_VENT, TYPE_L, DIRECT, FAN, WALL_VENT)
NATURAL = (CHIMNEY, GAS_VENT, TYPE_L)  # kinds for draft by nature
DRIVEN = ("III", "IV")  # categories whose own fan drives the gas out: forced draft at the terminal, whatever its kind


@dataclass(frozen=True, eq=False)
class Terminal:
    """The end of a vent: axis at ``x``, ``y``, highest discharge opening at ``outlet``, lowest at ``cap_bottom``.

    ``cap_bottom`` left out: the outlet. ``diameter`` is the vent's outside, ``kind`` one of `KINDS`, ``through`` what
    it passes, "roof" or "wall". ``heat_input`` of the appliance and the height of the highest connected draft hood or
    collar (``hood``) are needed by some rules only. Raises ValueError naming the input.

    ``categories`` of the appliances behind it, ``hooded`` whether any has a draft hood, and ``fan`` whether one stands
    in the vent, are held against the kind (``kinds``, ``contradiction``); left out: not told.
    """

    name: str
    x: Quantity
    y: Quantity
    outlet: Quantity
    diameter: Quantity
    kind: str
    cap_bottom: Quantity | None = None
    through: str = "roof"
    heat_input: Quantity | None = None
    hood: Quantity | None = None
    categories: tuple[str, ...] = ()
    hooded: bool | None = None
    fan: bool = False

    def __post_init__(self):
        for category in self.categories:
            one_of(category, tuple(CATEGORIES), f"category behind terminal {self.name!r}")
        one_of(self.kind, KINDS, f"kind of terminal {self.name!r}")
        one_of(self.through, ("roof", "wall"), f"through of terminal {self.name!r}")
        if self.kind == WALL_VENT and self.through != "wall":
            raise ValueError(f"terminal {self.name!r}: {WALL_VENT} passes a wall, so give through='wall'")
        if not self.radius > 0.0:
            raise ValueError(f"terminal {self.name!r}: diameter must be above 0")
        if self.cap < 0.0:
            raise ValueError(f"terminal {self.name!r}: cap_bottom must not be above outlet")
        if self.input is not None and not self.input > 0.0:
            raise ValueError(f"terminal {self.name!r}: heat_input must be above 0")

    @cached_property
    def driven(self) -> bool:
        """Whether a fan drives the gas out here: one in the vent, or that of an appliance of category III or IV."""
        return self.fan or bool(set(self.categories) & set(DRIVEN))

    @cached_property
    def kinds(self) -> tuple[str, ...]:
        """The kinds whose rules count, the declared one first: two where kind, categories and fan contradict.

        A vent for draft by nature that is driven counts as mechanical draft too, and one declared to be driven that
        nothing drives as a gas vent too; of each rule the stricter then holds.
        """
        if self.kind in NATURAL and self.driven:
            return (self.kind, FAN)
        if self.kind in (FAN, WALL_VENT) and self.categories and not self.driven:
            return (self.kind, GAS_VENT)
        return (self.kind,)

    @cached_property
    def contradiction(self) -> Remark | None:
        """What speaks against the declared kind; None where nothing does."""
        if len(self.kinds) == 1:
            return None
        if not self.driven:
            name, behind = "not_driven", dict.fromkeys(self.categories)
        else:
            name, behind = "fan" if self.fan else "category", (c for c in DRIVEN if c in self.categories)
        return Remark("building", "contradiction", name, {"kind": self.kind, "categories": ", ".join(behind)})

    @cached_property
    def at(self) -> np.ndarray:
        """Axis in plan (1, 2) [m]."""
        return np.array([[meters(self.x, "x"), meters(self.y, "y")]])

    @cached_property
    def radius(self) -> float:
        return 0.5 * meters(self.diameter, "diameter")

    @cached_property
    def low(self) -> float:
        """Height of the lowest discharge opening [m]."""
        return meters(self.outlet if self.cap_bottom is None else self.cap_bottom, "cap_bottom")

    @cached_property
    def cap(self) -> float:
        """From the lowest to the highest discharge opening [m]."""
        return meters(self.outlet, "outlet") - self.low

    @cached_property
    def input(self) -> float | None:
        """Heat input [Btu/h]."""
        return (
            None if self.heat_input is None else float(magnitude(self.heat_input, ureg.Unit("Btu/hour"), "heat_input"))
        )


@door(low="m")
def at_height(terminal: Terminal, low: Quantity) -> Terminal:
    """The same terminal with its lowest discharge opening at ``low`` [length]."""
    return replace(terminal, cap_bottom=low, outlet=low + Q_(terminal.cap, "m"))


@door(x="m", y="m")
def moved(terminal: Terminal, x: Quantity, y: Quantity) -> Terminal:
    """The same terminal at another place in plan [length]."""
    return replace(terminal, x=x, y=y)


def with_fan(terminal: Terminal) -> Terminal:
    """The same terminal with mechanical draft: other rules hold, and those for the intake hold as before.

    A category IV vent through a wall is driven by a fan already and keeps its rules.
    """
    return replace(terminal, fan=True) if terminal.kind == WALL_VENT else replace(terminal, kind=FAN, fan=True)
