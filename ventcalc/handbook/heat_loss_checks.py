"""Heat loss checked: cooling of three runs, films, radiation of the gas, and walls beside recalled values."""

import numpy as np
from IPython.display import HTML

from ventcalc import checked, tables
from ventcalc.flow import gas_radiation, heat_loss, materials
from ventcalc.gas import flue_gas
from ventcalc.gas.flue_gas import Gas
from ventcalc.handbook.heat_loss import INSULATED, MASONRY, PRESSURE, STEEL, TYPE_B, Run, gas
from ventcalc.show import panels
from ventcalc.units import Q_, Quantity, show


def _row(key: str) -> Quantity:
    """Our answer to one of the cooling rows H011 to H019."""
    row = tables.row("heat_transfer_checks", key)
    units = {"U_W_m2K": "W/(m**2*K)", "length_m": "m", "mass_flow_kg_s": "kg/s", "cp_J_kgK": "J/(kg*K)"}
    u, length, flow, heat = (Q_(float(row[column]), unit) for column, unit in units.items())
    cooling = heat_loss.cooling_number(u, Q_(float(row["perimeter_m"]) / np.pi, "m"), length, flow, heat)
    if row["quantity"] == "cooling number K":
        return cooling
    law = heat_loss.outlet_temperature if row["quantity"].startswith("outlet") else heat_loss.mean_temperature
    return law(Q_(float(row["inlet_C"]), "degC"), Q_(float(row["ambient_C"]), "degC"), cooling)


def checks() -> tuple[checked.Check, ...]:
    """The cooling of three runs. The outside films that the solver takes, H020 and H021, are recalled: no evidence."""
    return checked.compare("heat_transfer_checks", {f"H{n:03d}": _row(f"H{n:03d}") for n in range(11, 20)})


# A worked example: 5 % carbon dioxide and 8 % water vapor at 2 atm, over 3 m of path, 118 m2 of black wall at 600 K.
_EXAMPLE, _ATM, _PATH, _WALL, _AREA = Gas(co2=0.05, h2o=0.08, n2=0.82, o2=0.05), 101325.0, 3.0, 600.0, 118.0


def _emissivity(kelvin: float, path: float, pressure: float, **shares: float) -> float:
    """Emissivity of carbon dioxide or water vapor or both in nitrogen, over a path [m] at a pressure [Pa]."""
    mixed = Gas(**{"co2": 0.0, "h2o": 0.0, "o2": 0.0} | shares, n2=1.0 - sum(shares.values()))
    return float(gas_radiation.emissivity.bare(mixed, kelvin, path, pressure))


def _trace(species: str, kelvin: float, atm_m: float) -> float:
    """Emissivity of a trace of one gas over a path that holds so much of it [atm m], as the charts are drawn."""
    return _emissivity(kelvin, atm_m / 1e-6, _ATM, **{species: 1e-6})


def _overlap(kelvin: float, co2: float, h2o: float) -> float:
    """What both gases emit less than their sum, at 1 atm, paths in atm m."""
    shares = {"co2": co2 / _PATH, "h2o": h2o / _PATH}
    each = sum(_emissivity(kelvin, _PATH, _ATM, **{species: share}) for species, share in shares.items())
    return each - _emissivity(kelvin, _PATH, _ATM, **shares)


def _pressed(species: str, kelvin: float) -> float:
    """Emissivity of one gas of the example at its 2 atm over that of a trace of it."""
    share = getattr(_EXAMPLE, species)
    return _emissivity(kelvin, _PATH, 2.0 * _ATM, **{species: share}) / _trace(species, kelvin, 2.0 * share * _PATH)


def radiation_checks() -> tuple[checked.Check, ...]:
    """Gas radiation: two worked examples read off Hottel's charts, and mean beam lengths."""
    rows = tables.read("gas_radiation_checks")
    read = {
        r["id"]: sum(
            _trace(s, float(r["temperature_K"]), float(r[f"{s}_atm_m"])) for s in ("co2", "h2o") if r[f"{s}_atm_m"]
        )
        for r in rows
    }
    hot = 1200.0
    out = gas_radiation.emissivity.bare(_EXAMPLE, hot, _PATH, 2.0 * _ATM)
    back = gas_radiation.absorptivity.bare(_EXAMPLE, hot, _WALL, _PATH, 2.0 * _ATM)
    example = {
        "GR178": _trace("co2", hot, 0.3),
        "GR179": _trace("h2o", hot, 0.48),
        "GR180": _overlap(hot, 0.3, 0.48),
        "GR181": _pressed("co2", hot),
        "GR182": _pressed("h2o", hot),
        "GR183": out,
        "GR184": gas_radiation.emissivity.bare(_EXAMPLE, hot, 2.0 * _PATH, _ATM),
        "GR185": _trace("co2", _WALL, 0.15),
        "GR186": _trace("h2o", _WALL, 0.24),
        "GR187": _overlap(_WALL, 0.15, 0.24),
        "GR188": back,
        "GR189": _AREA * gas_radiation.STEFAN_BOLTZMANN * (out * hot**4 - back * _WALL**4) / 1e6,
        "GR191": gas_radiation.mean_beam_length.bare(1.0),
    }
    return checked.compare("gas_radiation_checks", read) + checked.compare("gas_radiation_charts_checks", example)


def chart_rows() -> list[dict[str, str]]:
    """The nodes of Hottel's charts: traces of one gas at 1 atm."""
    named = "total emissivity, partial pressure"
    return [r for r in tables.read("gas_radiation_charts_checks") if r["quantity"].startswith(named)]


def chart_ratios() -> dict[tuple[str, str], tuple[float, float]]:
    """Ours over Hottel's charts, least and most from 400 to 1000 K, by gas and what the path holds [atm m]."""
    found: dict[tuple[str, str], list[float]] = {}
    for r in chart_rows():
        ours = _trace(r["gas"].lower(), float(r["temperature_K"]), float(r["pL_atm_m"]))
        found.setdefault((r["gas"], r["pL_atm_m"]), []).append(ours / float(r["value"]))
    return {key: (min(ratios), max(ratios)) for key, ratios in found.items()}


def film_checks() -> tuple[checked.Check, ...]:
    """The convective film: Nusselt numbers, smooth and in the passage, of a long pipe; a duct; Norris's exponent."""
    rows = {r["id"]: r for r in tables.read("film_checks")}
    ours = {
        key: heat_loss.nusselt.bare(float(r["reynolds"]), float(r["prandtl"]), 0.0)
        for key, r in rows.items()
        if r["quantity"].startswith("Nusselt") and r["diameter_over_length"] in ("", "0")
    }
    return checked.compare("film_checks", ours | _duct(float(rows["FM012"]["value"])))


def _duct(film: float) -> dict[str, float]:
    """The book's square duct of 0.2 m and 8 m with its own film: outlet [degC], and heat lost [W]."""
    side, length, inlet, wall = 0.2, 8.0, Q_(80.0, "degC").m_as("K"), Q_(60.0, "degC").m_as("K")
    air = Gas.dry_air()
    flow = 0.15 * float(flue_gas.density.bare(air, inlet, PRESSURE))
    heat = float(flue_gas.specific_heat.bare(air, inlet))
    perimeter = 4.0 * side
    cooling = heat_loss.cooling_number.bare(film, perimeter / np.pi, length, flow, heat)
    outlet = heat_loss.outlet_temperature.bare(inlet, wall, cooling)
    return {"FM013": float(outlet) - 273.15, "FM014": flow * heat * (inlet - float(outlet))}


# Rows of the handbook's design coefficients, from memory, beside ours of the same build-up.
BUILD_UPS = {
    "H001": STEEL,
    "H005": "single-wall galvanized connector",
    "H007": MASONRY,
    "H008": TYPE_B,
    "H009": "stainless special gas vent double wall",
    "H010": INSULATED,
}


def design_run(name: str) -> Run:
    """A meter of a material of 200 mm bore, with flue gas as in a gas boiler's vent: 150 degC, 5 m/s."""
    bore, temperature = Q_(200.0, "mm"), Q_(150.0, "degC")
    flow = flue_gas.density(gas(), temperature, Q_(PRESSURE, "Pa")) * Q_(5.0, "m/s") * np.pi / 4 * bore**2
    return Run(name, bore.m_as("m"), 1.0, float(flow.m_as("kg/s")), float(temperature.m_as("K")))


def design_coefficient(name: str, film: float) -> Quantity:
    """U of a material's wall in `design_run` with that outside film [W/(m2 K)]."""
    wall, inside = materials.material(name), Q_(design_run(name).inside_film, "W/(m**2*K)")
    return heat_loss.heat_transfer_coefficient(
        inside, wall.wall_resistance, Q_(film, "W/(m**2*K)"), wall.diameter_ratio
    )


def design_table(system: str = "US") -> HTML:
    """Recalled design coefficients beside ours in a still room and outdoors; information, no proof."""
    rows = []
    for key, name in BUILD_UPS.items():
        row = tables.row("heat_transfer_checks", key)
        recalled = Q_(float(row["value"]), "Btu/(hour*ft**2*delta_degF)")
        films = (heat_loss.STILL_ROOM_FILM, heat_loss.OUTDOOR_FILM)
        shown = [show(u, system, "heat transfer") for u in (recalled, *(design_coefficient(name, f) for f in films))]
        rows.append((key, row["wall"], *shown, row["status"]))
    return HTML(panels.table(("", "wall", "recalled U", "ours, still room", "ours, outdoors", "status"), rows))
