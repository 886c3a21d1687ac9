"""Ventcalc: an open handbook of executable vent calculations.

Import the subject you need: ``from ventcalc import stack_effect``. Every module is named by the
trade's term and carries its equations, their sources and their limits.
"""

__version__ = "0.1.0"
