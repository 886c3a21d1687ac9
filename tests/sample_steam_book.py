"""Rows of the steam book (draft_checks) and its formulas as its own tables use them."""

from ventcalc import tables
from ventcalc.flow.stack_effect import steam_book_draft
from ventcalc.flow.steam_book_stack import steam_book_stack_friction
from ventcalc.units import Q_

ROWS = {row["id"]: row for row in tables.read("draft_checks")}


ATM = Q_(101325.0, "Pa")


FOOT = Q_(1.0, "ft")


# Table 53 is not printed with its f. The book prints 0.0011 at 350 F and 0.0015 at 600 F for steel; 0.0014 at
# 500 F is inferred (see test_friction_constant_of_table_53).
TABLE_53_FRICTION = 0.0014


TABLE_53_K = Q_(float(ROWS["D015"]["value"]), "inH2O/ft")  # as printed, at 500 F


def number(key, column):
    return float(ROWS[key][column])


def ids(first, last):
    return [key for key in ROWS if first <= int(key[1:]) <= last]


def rankine(fahrenheit, offset=461.0):
    """The book's absolute temperature; it adds 461, not 459.67."""
    return Q_(fahrenheit + offset, "degR")


def book_draft(height, psi, ambient, gas, offset=461.0):
    return steam_book_draft(height, Q_(psi, "psi"), rankine(ambient, offset), rankine(gas, offset))


def table_53(key):
    """Available draft: theoretical by the printed K, less friction by formula (26)."""
    height = Q_(number(key, "height_ft"), "ft")
    gas_flow = Q_(100.0 * number(key, "horsepower"), "lb/hour")
    loss = steam_book_stack_friction(gas_flow, height, Q_(number(key, "diameter_in"), "inch"), TABLE_53_FRICTION)
    return TABLE_53_K * height - loss
