"""Part III, vent: a whole vent at rest and in time, by natural draft alone.

The vent as drawn, the solver of many appliances in one tree, every firing state in every season, a vent that warms
up; sizes by calculation and by code table. Knows no fan, no damper and no control.
"""
