"""Cells of the code's capacity tables, and vents looked up in them."""

from ventcalc.units import Q_
from ventcalc.vent import capacity_tables
from ventcalc.vent.capacity_rules import single

CELLS = capacity_tables.sampled()


def ft(value):
    return Q_(value, "ft")


def inch(value):
    return Q_(value, "inch")


def vent(height=10.0, lateral=2.0, diameter=4.0, kind="NAT", number="504.2(1)", given=CELLS, **more):
    return single(given, number, kind, ft(height), ft(lateral), inch(diameter), **more)


def cell(**changes):
    """An invented cell on a line that table 504.2(1) has."""
    base = {"id": "X1", "table": "504.2(1)", "height": 10.0, "second": 2.0, "diameter": 4.0, "area": None,
            "values": {"NAT max": 81.0, "FAN min": 17.0, "FAN max": 118.0}, "source": "", "status": ""}  # fmt: skip
    return capacity_tables.Cell(**(base | changes))
