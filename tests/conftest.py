"""Settings shared by all tests."""

import matplotlib
from hypothesis import HealthCheck, settings

# Figures are drawn without a screen.
matplotlib.use("Agg")

# The same examples on every run, so that a failure seen once is seen again; no deadline, since the two
# workers share the machine with notebook kernels.
settings.register_profile(
    "ventcalc", deadline=None, derandomize=True, max_examples=60, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("ventcalc")
