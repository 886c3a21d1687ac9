"""Capacity rules: what one appliance, a connector or a common vent may carry, by the code's tables and its rules.

The capacity of a line (`capacity_tables`) less what elbows, a corrugated liner, a long connector or an offset cost, and
what the code does not allow at all. The rules as numbers stand in ``data/vent/capacity_rules.csv``.

Check the edition that your jurisdiction has adopted.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi
from typing import Any

from ventcalc import tables
from ventcalc.door import door
from ventcalc.units import Q_, Quantity, magnitude, ureg
from ventcalc.vent import area_rule
from ventcalc.vent.capacity_tables import KINDS, Cell, Found, NotAllowed, Table, feet, look_up, table
from ventcalc.words import Remark

COMMON = ("FAN+FAN", "FAN+NAT", "NAT+NAT")

_Factor = tuple[float, str, dict[str, float]]  # on the maximum, and the code and figures of its `Remark`
_WHOLE: _Factor = (1.0, "", {})  # nothing is taken off


@dataclass(frozen=True)
class Limits:
    """What a table allows: ``minimum`` (None: there is none) and ``maximum`` heat input, and ``how``, step by step."""

    minimum: Quantity | None
    maximum: Quantity
    ids: tuple[str, ...]
    how: tuple[Remark, ...]

    def allows(self, sea_level_input: Quantity, actual_input: Quantity | None = None) -> bool:
        """Whether an appliance may use the vent: the maximum counts for its input at sea level, the minimum for its
        input at its altitude (left out: the same)."""
        actual = sea_level_input if actual_input is None else actual_input
        for name, value in (("sea_level_input", sea_level_input), ("actual_input", actual)):
            if not magnitude(value, ureg.Unit("W"), name) > 0.0:
                raise ValueError(f"{name} = {value:.4g~P} must be above 0")
        enough = self.minimum is None or actual >= self.minimum
        return bool(enough and sea_level_input <= self.maximum)


def rule(name: str) -> float:
    """A rule's number from ``data/vent/capacity_rules.csv``, in its unit."""
    return float(tables.row("capacity_rules", name, "name")["value"])


def _less(name: str, times: int = 1) -> float:
    return 1.0 - times * rule(name) / 100.0


@door(
    height="m",
    lateral="m",
    diameter="m",
    outlet="m",
    flue_area="m**2",
    above={"height": 0.0, "diameter": 0.0, "outlet": 0.0, "flue_area": 0.0},
    at_least={"lateral": 0.0},
)
def single(
    given: Sequence[Cell],
    number: str,
    kind: str,
    height: Quantity,
    lateral: Quantity,
    diameter: Quantity,
    *,
    category: str = "I",
    outlet: Quantity | None = None,
    elbows: Sequence[float] | None = None,
    corrugated: bool = False,
    flue_area: Quantity | None = None,
) -> Limits:
    """Minimum and maximum input of one appliance on its vent, by the code's tables 504.2.

    ``kind`` "FAN" or "NAT"; ``diameter`` of the vent (of the connector, into masonry); ``outlet`` of the appliance
    (left out: as wide); ``elbows``: their angles [degree] (left out: the two of 90 degrees that the tables include,
    none on a lateral of 0); ``corrugated`` liner; ``flue_area`` of a masonry chimney.

    Raises `NotAllowed`, or another error of `capacity_tables`, each saying what is wrong; ValueError for unknown
    names.
    """
    chosen = table(number)
    _check_kind(chosen, kind, category)
    if elbows is None:
        elbows = (90.0, 90.0) if feet(lateral, "lateral") > 0.0 else ()
    if feet(lateral, "lateral") == 0.0 and len(elbows):
        raise NotAllowed("a lateral of 0 ft is a straight vent: it has no elbows; give the lateral it really has")
    maximum = look_up(given, number, f"{kind} max", height, lateral, diameter)
    minimum = look_up(given, number, "FAN min", height, lateral, diameter) if kind == "FAN" else None
    factors = [_elbow_factor(elbows), _narrow_factor(kind, height, diameter, outlet, chosen)]
    if corrugated:
        factors.append((_less("corrugated"), "corrugated", {"less": rule("corrugated")}))
    if flue_area is not None:
        _check_flue_area(given, chosen, height, lateral, diameter, outlet or diameter, flue_area)
    return _limits(maximum, minimum, factors)


def _limits(maximum: Found, minimum: Found | None, factors) -> Limits:
    value, how, ids = maximum.value, list(maximum.how), list(maximum.ids)
    for factor, code, figures in factors:
        if factor != 1.0:
            value *= factor
            how.append(Remark("vent", "capacity", code, figures | {"value": value}))
    if minimum is not None:
        how += minimum.how
        ids += minimum.ids
    least = None if minimum is None else Q_(minimum.value, "MBH")
    return Limits(least, Q_(value, "MBH"), tuple(dict.fromkeys(ids)), tuple(how))


def _check_kind(chosen: Table, kind: str, category: str) -> None:
    if kind not in KINDS:
        raise ValueError(f"kind {kind!r}; choose {', '.join(KINDS)} (fan-assisted, draft hood)")
    if category != "I":
        raise NotAllowed(
            f"category {category}: the tables are for category I; the vent of a category {category} appliance follows "
            "its instructions"
        )
    if kind not in chosen.kinds:
        raise NotAllowed(f"table {chosen.number} serves {', '.join(chosen.kinds)} appliances only, not {kind}")


def _elbow_factor(angles: Sequence[float]) -> _Factor:
    """What elbows beyond two take off the maximum; the two widest are those that the tables include."""
    if any(not 0.0 < a <= 90.0 for a in angles):
        raise ValueError(
            f"elbows {', '.join(f'{a:g}' for a in angles)} degrees: each must be above 0, up to 90 degrees"
        )
    more = sorted(angles, reverse=True)[2:]
    small, large = sum(a <= 45.0 for a in more), sum(a > 45.0 for a in more)
    lost = small * rule("elbow to 45") + large * rule("elbow to 90")
    if lost >= 100.0:
        raise NotAllowed(f"{len(angles)} elbows leave no capacity at all")
    return 1.0 - lost / 100.0, "elbow" if len(more) == 1 else "elbows", {"count": len(more), "less": lost}


def _narrow_factor(kind: str, height, diameter, outlet, chosen: Table) -> _Factor:
    """The code's exception for a vent smaller than the outlet."""
    if outlet is None or outlet <= diameter:
        return _WHOLE
    inch, own = (float(magnitude(d, ureg.Unit("inch"), "outlet")) for d in (outlet, diameter))
    at_most = 1 if inch <= rule("reduced outlet") else 2
    sizes = [d for d in chosen.diameters if own < d <= inch + 1e-9]
    if feet(height, "height") < rule("reduced height"):
        raise NotAllowed(
            f"a vent of {own:g} in. on an outlet of {inch:g} in. must be at least {rule('reduced height'):g} ft high"
        )
    if len(sizes) > at_most:
        raise NotAllowed(
            f"a vent of {own:g} in. is {len(sizes)} sizes smaller than its outlet of {inch:g} in.; at most {at_most} "
            "is allowed"
        )
    if kind == "NAT" and inch <= rule("reduced hood") and own < rule("reduced hood"):
        raise NotAllowed(f"a draft hood of {rule('reduced hood'):g} in. may not lead into a vent of {own:g} in.")
    return (_less("reduced fan"), "narrow", {"less": rule("reduced fan")}) if kind == "FAN" else _WHOLE


def _check_flue_area(given, chosen: Table, height, lateral, diameter, outlet, flue_area) -> None:
    """A masonry flue must be as large as the table says and no larger than the area rule allows."""
    inch = float(magnitude(diameter, ureg.Unit("inch"), "diameter"))
    least = {c.area for c in given if c.table == chosen.number and c.diameter == inch and c.area}
    square = float(magnitude(flue_area, ureg.Unit("inch**2"), "flue_area"))
    if least and square < min(least):
        raise NotAllowed(
            f"the flue is {square:.4g} in2; for a {inch:g} in. connector it must be {min(least):g} in2 at least"
        )
    if not area_rule.allows(flue_area, area_rule.round_area(outlet)):
        ratio = float(area_rule.area_ratio(flue_area, area_rule.round_area(outlet)).m_as(""))
        raise NotAllowed(
            f"the flue is {ratio:.3g} times the outlet's area; at most {area_rule.times():g} times is allowed"
        )


@door(
    height="m",
    rise="m",
    diameter="m",
    length="m",
    outlet="m",
    above={"height": 0.0, "diameter": 0.0, "length": 0.0, "outlet": 0.0},
    at_least={"rise": 0.0},
)
def connector(
    given: Sequence[Cell],
    number: str,
    kind: str,
    height: Quantity,
    rise: Quantity,
    diameter: Quantity,
    length: Quantity,
    *,
    outlet: Quantity,
    category: str = "I",
    elbows: Sequence[float] = (90.0, 90.0),
) -> Limits:
    """Minimum and maximum input of one appliance on its connector to a common vent, by the code's tables 504.3.

    ``height`` of the common vent, ``rise`` of the connector, its ``length`` along its axis; ``outlet``: the
    appliance's flue collar or draft hood, than which a connector may not be smaller (NFPA 54 A.12.11.3 as restated in
    a gas utility's guide; the code's exceptions for a smaller one are left out, on the safe side). Raises as `single`;
    a connector longer than three times what its diameter allows is `NotAllowed`.
    """
    chosen = table(number)
    _check_kind(chosen, kind, category)
    own, collar = (float(magnitude(d, ureg.Unit("inch"), n)) for d, n in ((diameter, "diameter"), (outlet, "outlet")))
    if own < collar - 1e-6:
        raise NotAllowed(f"a connector of {own:g} in. is smaller than the appliance's outlet of {collar:g} in.")
    maximum = look_up(given, number, f"{kind} max", height, rise, diameter)
    minimum = look_up(given, number, "FAN min", height, rise, diameter) if kind == "FAN" else None
    return _limits(maximum, minimum, [_elbow_factor(elbows), _length_factor(diameter, length)])


def _length_factor(diameter: Quantity, length: Quantity) -> _Factor:
    allowed = rule("connector length") * diameter
    times = float((length / allowed).m_as(""))
    for most, name in ((1.0, ""), (2.0, "connector to twice"), (3.0, "connector to three times")):
        if times <= most + 1e-9:
            if not name:
                return _WHOLE
            long = {"length": float(length.m_as("ft")), "allowed": float(allowed.m_as("ft")), "less": rule(name)}
            return _less(name), "connector", long
    most = (3.0 * allowed).to("ft")
    raise NotAllowed(
        f"the connector is {length.to('ft'):.3g~P} long; one of {diameter.to('inch'):.3g~P} may run {most:.3g~P} at "
        "most"
    )


@door(
    height="m",
    diameter="m",
    flue_area="m**2",
    smallest_outlet="m",
    offset="m",
    manifold="m",
    above={"height": 0.0, "diameter": 0.0, "flue_area": 0.0, "smallest_outlet": 0.0},
    at_least={"offset": 0.0, "manifold": 0.0},
)
def common(
    given: Sequence[Cell],
    number: str,
    mix: str,
    height: Quantity,
    *,
    diameter: Quantity | None = None,
    flue_area: Quantity | None = None,
    smallest_outlet: Quantity | None = None,
    offset: Quantity | None = None,
    manifold: Quantity | None = None,
    elbows: Sequence[float] = (),
    corrugated: bool = False,
) -> Limits:
    """Greatest sum of inputs on a common vent of one ``diameter``, or on a masonry flue of one ``flue_area``.

    ``mix`` "FAN+FAN", "FAN+NAT" or "NAT+NAT"; ``smallest_outlet``: diameter of the smallest outlet, for the area rule;
    ``offset`` and ``manifold``: horizontal length of an offset and of a manifold, None without; ``elbows`` [degree] of
    the common vent, each of which counts. Raises as `single`; ValueError for an unknown mix.
    """
    if mix not in COMMON:
        raise ValueError(f"mix {mix!r}; choose {', '.join(COMMON)}")
    maximum = look_up(given, number, mix, height, None, diameter, flue_area)
    factors = [_elbow_factor((90.0, 90.0, *elbows))]
    if corrugated:
        factors.append((_less("corrugated"), "corrugated", {"less": rule("corrugated")}))
    wide = diameter if diameter is not None else (4.0 / pi * flue_area) ** 0.5
    for run, name, longest in ((offset, "offset", "offset length"), (manifold, "manifold", "manifold length")):
        if run is None:
            continue
        most = (rule(longest) * wide).to("ft")
        if run > most:
            raise NotAllowed(f"the {name} runs {run.to('ft'):.3g~P}; this vent allows {most:.3g~P} at most")
        factors.append((_less(name), name, {"less": rule(name)}))
    if smallest_outlet is not None:
        area = flue_area if flue_area is not None else area_rule.round_area(diameter)
        if not area_rule.allows(area, area_rule.round_area(smallest_outlet)):
            raise NotAllowed(f"the common vent is more than {area_rule.times():g} times the smallest outlet's area")
    return _limits(maximum, None, factors)


@door(heat_input="W", least="m", above={"heat_input": 0.0, "least": 0.0})
def smallest(number: str, limits: Any, heat_input: Quantity, least: Quantity | None = None) -> tuple[Quantity, Limits]:
    """The smallest column of a table whose limits allow an input: ``limits`` is a function of the diameter.

    ``least``: no smaller than this. Columns that are not allowed are passed over; a missing cell raises. Raises
    `NotAllowed` where no column does.
    """
    passed = []
    for inch in table(number).diameters:
        if least is not None and inch < least.m_as("inch") - 1e-9:
            continue
        try:
            found = limits(Q_(inch, "inch"))
        except NotAllowed as error:
            passed.append(str(error))
            continue
        if found.allows(heat_input):
            return Q_(inch, "inch"), found
        passed.append(f"{inch:g} in. allows {found.maximum.m_as('MBH'):.4g} MBH at most")
    raise NotAllowed(f"no column of table {number} allows {heat_input.m_as('MBH'):.4g} MBH: {'; '.join(passed)}")
