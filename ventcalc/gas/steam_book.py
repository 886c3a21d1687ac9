"""Steam book: the flue gas rules of the public-domain steam book of 1919-1922.

History, kept because its worked examples are a check that anyone may read; `combustion` and `stack_loss` are the
general form. Its stack rules stand in `stack_effect`.
"""

from ventcalc.units import Q_, quantities

STEAM_BOOK = "Steam, Its Generation and Use (public domain, 1919-1922 printings)"
_BTU_PER_POUND = Q_(1.0, "Btu/lb").m_as("J/kg")
_BTU_PER_POUND_F = Q_(1.0, "Btu/(lb*delta_degF)").m_as("J/(kg*K)")
_BOILING = Q_(212.0, "degF").m_as("K")


@quantities("", carbon="", hydrogen="", oxygen="", sulfur="", source=f"{STEAM_BOOK}, formula (11)")
def steam_book_air(carbon, hydrogen, oxygen, sulfur):
    """Theoretical air by the book's formula (11), ``11.52 C + 34.56 (H - O/8) + 4.32 S``, kg per kg of fuel.

    carbon, hydrogen, oxygen, sulfur: kg per kg of fuel. Its hydrogen weighs 1 and not 1.008, its air holds 20.91 %
    oxygen. Example: 82.1, 4.25, 2.6 and 1.6 %: 10.88 in the book, 10.88 here.
    """
    return 11.52 * carbon + 34.56 * (hydrogen - oxygen / 8) + 4.32 * sulfur


@quantities("", o2="", n2="", co="", above={"n2": 0.0}, source=f"{STEAM_BOOK}, formula (14)")
def steam_book_air_ratio(o2, n2, co=0.0):
    """Air supplied over theoretical air by the book's formula (14), ``N / (N - 3.782 (O - CO/2))``.

    o2, n2, co: volume fractions of the dry flue gas. Right for a fuel whose hydrogen is small or bound to oxygen:
    3.782 is nitrogen over oxygen in air. Example: 9.0, 80.3 and 0 %: 1.73 in the book, 1.736 here.
    """
    return n2 / (n2 - 3.782 * (o2 - co / 2))


@quantities("", co2="", o2="", n2="", co="", above={"co2": 0.0}, source=f"{STEAM_BOOK}, formula (16)")
def steam_book_dry_gas(co2, o2, n2, co=0.0):
    """Dry flue gas per carbon burned by formula (16), ``(11 CO2 + 8 O + 7 (CO + N)) / (3 (CO2 + CO))``, kg per kg.

    co2, o2, n2, co: volume fractions of the dry flue gas. It is 44, 32 and 28 over 12, in moles. Example: 10.7, 9.0,
    80.3 and 0 %: 23.42 in the book and here.
    """
    return (11 * co2 + 8 * o2 + 7 * (co + n2)) / (3 * (co2 + co))


@quantities("J/kg", dry_gas="", flue="K", room="K", at_least={"dry_gas": 0.0}, source=f"{STEAM_BOOK}, flue gas loss")
def steam_book_dry_loss(dry_gas, flue, room):
    """Heat lost with the dry flue gas, ``0.24 W (T - t)``, per kg of fuel.

    dry_gas: W, kg per kg of fuel; flue T and room t [K]; 0.24 Btu/(lb F) is the book's specific heat. Example: 18.74,
    500 °F and 60 °F: 1979 Btu/lb in the book and here.
    """
    return 0.24 * _BTU_PER_POUND_F * dry_gas * (flue - room)


@quantities("J/kg", water="", flue="K", room="K", at_least={"water": 0.0}, source=f"{STEAM_BOOK}, heat balance")
def steam_book_water_loss(water, flue, room):
    """Heat lost with water vapor, ``w ((212 - t) + 970.4 + 0.47 (T - 212))``, per kg of fuel.

    water: w, kg of vapor per kg of fuel, 9 times its hydrogen for what burning forms; flue T and room t [K, degrees
    Fahrenheit there]. The form is recalled from memory; with it the book's 618 and 22 Btu come out. Example: 9 x
    5.60 %, 480 °F and 81 °F: 618 Btu/lb in the book, 618.6 here.
    """
    vapor = _BTU_PER_POUND * 970.4 + 0.47 * _BTU_PER_POUND_F * (flue - _BOILING)
    return water * (_BTU_PER_POUND_F * (_BOILING - room) + vapor)


@quantities("J/kg", co2="", co="", carbon="", at_least={"co": 0.0}, source=f"{STEAM_BOOK}, heat balance")
def steam_book_co_loss(co2, co, carbon):
    """Heat lost with carbon monoxide, ``CO / (CO2 + CO) C 10150 Btu/lb``, per kg of fuel.

    co2, co: volume fractions of the dry flue gas; carbon: kg per kg of fuel. Example: 14.33, 0.11 and 78.57 %: 61
    Btu/lb in the book, 60.7 here.
    """
    return co / (co2 + co) * carbon * 10150.0 * _BTU_PER_POUND


@quantities("J/kg", carbon_in_ash="", at_least={"carbon_in_ash": 0.0}, source=f"{STEAM_BOOK}, heat balance")
def steam_book_ash_loss(carbon_in_ash):
    """Heat left with the carbon in ash and refuse, 14600 Btu/lb of it, per kg of fuel.

    carbon_in_ash: kg per kg of fuel. Example: 10.00 % of refuse, 17.9 % of it combustible: 261 Btu/lb in the book,
    261.3 here.
    """
    return 14600.0 * _BTU_PER_POUND * carbon_in_ash
