"""An invented case of carbon monoxide for the tests, beside an office."""

from ventcalc.building import co_exposure
from ventcalc.gas import combustion
from ventcalc.gas.fuels import fuel
from ventcalc.units import Q_

GAS = combustion.products(fuel("natural gas"), 0.28)
SEA_LEVEL = Q_(1.0, "atm")
OFFICE = co_exposure.Neighbor("office", Q_(60.0, "m**3"), Q_(0.2, "1/hour"), Q_(0.02, "m**3/s"))
CASE = co_exposure.COCase(Q_(250.0, "m**3"), Q_(0.3, "1/hour"), Q_(2000.0, "ppm"), Q_(6.0, "hour"))
SPILL = Q_(0.0033, "kg/s")


def judged(case=CASE, spill=SPILL):
    return co_exposure.judge(case, spill, GAS, SEA_LEVEL)
