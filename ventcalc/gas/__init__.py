"""Part I, gas: the air that goes in and the flue gas that comes out.

Air by altitude and weather, fuels, combustion, properties of the mixture, dew points, and the appliance that makes
the gas: its firing levels, its category, what its outlet bears. Knows nothing of the pipe that carries the gas away.
"""
