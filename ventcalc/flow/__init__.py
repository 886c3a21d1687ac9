"""Part II, flow: what one piece of vent does to the gas in it.

Stack effect that drives it, friction and fittings that hold it up, junctions where streams meet, walls that cool it,
wind at its end, and what it is made of. Each a formula for itself; knows nothing of a whole vent.
"""
