"""An invented roof, stack, intake and discharge for the tests."""

import numpy as np

from ventcalc.building import air_intakes, stack_discharge
from ventcalc.units import Q_

ROOF = air_intakes.Roof(Q_(10, "m"))
STACK = air_intakes.Stack("stack", Q_(1.5, "m"), Q_(0.4, "m"))
INTAKE = air_intakes.Intake("classroom", Q_(9, "m"), Q_(1, "m"))
GASES = stack_discharge.Discharge(*(np.array([v]) for v in (6.0, 420.0, 280.0, 0.08, 60e-6, 80e-6)))
