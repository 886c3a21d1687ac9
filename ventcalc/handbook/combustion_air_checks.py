"""Combustion air checked: published rows on air, leakage, openings and limits of depressurization."""

import numpy as np

from ventcalc import tables
from ventcalc.building import (
    code_rules,
    leakage,
    orifice_flow,
)
from ventcalc.building import combustion_air as air
from ventcalc.building.room_air import Leakage
from ventcalc.checked import Check, compare
from ventcalc.units import Q_


def _combined_as_printed() -> str:
    """The printed form of the reduction, if the library's function follows it."""
    ratios = np.linspace(0.0, 1.0, 11)
    ours = air.outdoor_share(Q_(ratios, "ft**3"), Q_(1.0, "ft**3")).m
    return "1 - Va/Vr" if np.allclose(ours, 1.0 - ratios) else "another form"


_AREAS = {"outdoor, horizontal ducts": "horizontal duct", "outdoor, single opening": "single",
          "outdoor, vertical ducts or direct": "direct"}  # fmt: skip


def checks() -> tuple[Check, ...]:
    """Every published row on combustion air, and those on leakage, openings and limits of depressurization."""
    one, hour = Q_(1.0, "MBH"), Q_(1.0, "1/hour")
    per_area = {k: (one / air.opening_area(one, w)).m_as("Btu/hour/inch**2") for k, w in
                (("A051", "direct"), ("A052", "horizontal duct"), ("A053", "single"))}  # fmt: skip
    big, fifty, cfm = Q_(1e4, "MBH"), Q_(50.0, "Pa"), Q_(1.0, "cfm")
    hole = orifice_flow.opening_flow(Q_(0.05, "inH2O"), Q_(2.0, "ft**2"), Q_(0.075, "lb/ft**3"), 1.0)
    leak = Leakage(Q_(1200, "cfm"))
    ours = {
        "A001": air.standard_volume(one).m_as("ft**3"),
        "A002": air.infiltration_volume(one, 0 * one, 0.5 * hour).m_as("ft**3") * 0.5,
        "A003": air.infiltration_volume(0 * one, one, 0.5 * hour).m_as("ft**3") * 0.5,
        "A004": _most_infiltration(),
        **per_area,
        "A050": air.standard_volume(Q_(96, "MBH")),
        "A054": (big / air.opening_area(big, "same story")).m_as("Btu/hour/inch**2"),
        "A055": air.opening_area(one, "other story").m_as("inch**2"),
        "A056": air.mechanical_supply(one).m_as("cfm"),
        "A057": air.free_area(Q_(1.0, "ft**2"), "metal").m_as("ft**2"),
        "A058": air.free_area(Q_(1.0, "ft**2"), "wood").m_as("ft**2"),
        "A059": code_rules.figure("combustion_air", "smallest dimension"),
        "A060": _combined_as_printed(),
        "R001": 1.0 / leakage.leakage_area(cfm, fifty).m_as("inch**2"),
        "R002": 1.0 / leakage.leakage_area(cfm, fifty, at=Q_(10.0, "Pa"), coefficient=0.61).m_as("inch**2"),
        "R003": (hole / Q_(2.0, "ft**2")).m_as("fpm"),
        "R004": hole.m_as("cfm"),
        "R005": (leak.flow / Q_(18000, "ft**3")).to("1/hour"),
        "R006": code_rules.figure("combustion_air", "limit, water heater alone"),
        "R007": code_rules.figure("combustion_air", "limit, natural draft shared"),
        "R008": code_rules.figure("combustion_air", "limit, natural draft alone"),
        "R009": code_rules.figure("combustion_air", "limit, fan alone"),
        "R010": code_rules.figure("combustion_air", "limit, sealed"),
    }
    for row in tables.read("combustion_air_checks"):
        if row["method"] == "known infiltration" and row["ach"]:
            other, fan = (Q_(float(row[f"input_{k}_btu_h"] or 0.0), "Btu/hour") for k in ("other", "fan"))
            ours[row["id"]] = air.infiltration_volume(other, fan, float(row["ach"]) * hour)
        elif row["method"] in _AREAS:
            ours[row["id"]] = air.opening_area(Q_(float(row["input_total_btu_h"]), "Btu/hour"), _AREAS[row["method"]])
    order = [row["id"] for row in tables.read("combustion_air_checks")]
    return compare("combustion_air_checks", {key: ours[key] for key in order})


def _most_infiltration() -> float:
    """Largest infiltration [1/h] that the library lets anyone use, found by asking it."""
    for rate in np.arange(0.05, 2.0, 0.05):
        try:
            air.infiltration_volume(Q_(1, "MBH"), Q_(1, "MBH"), Q_(rate, "1/hour"))
        except ValueError:
            return round(rate - 0.05, 2)
    raise AssertionError("no limit found")
