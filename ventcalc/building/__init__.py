"""Part V, building: the roof and the room around a vent.

Where it may end, what exhaust comes back to an intake, the air that burners need, and what carbon monoxide does to
people. Rules are rows of `data/building`, facts restated: check the edition that your jurisdiction has adopted.
"""
