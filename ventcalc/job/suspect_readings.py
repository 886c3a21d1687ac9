"""Suspect readings: what was written down wrong: one reading may be another thing than its line says.

Each slip says what would have been written where the vent did what an explanation tells. It is judged by the same
evidence as the causes: `calibration` weighs every explanation with every slip.
"""

from dataclasses import dataclass, replace

import numpy as np

from ventcalc.job.performance_test import FOOT, GAUGE, OUTLET, PRESSURE
from ventcalc.job.survey import TAP, Place, Reading
from ventcalc.job.surveyed_vent import Read
from ventcalc.vent.layout import Plant

SIGN, UNIT_MORE, UNIT_LESS, REFERENCE, SIDE = "sign", "unit_more", "unit_less", "reference", "side"
IN_WC_PER_MBAR = 249.08891 / 100.0  # Pa over Pa; conventional inch of water: NIST SP 811

# How likely one reading is to be written down wrong, and of that each way (common practice, no source).
SLIP = 0.01
_SHARES = {SIGN: 0.4, UNIT_MORE: 0.15, UNIT_LESS: 0.15, REFERENCE: 0.15, SIDE: 0.15}


@dataclass(frozen=True)
class Slip:
    """One reading, by its ``number`` among those of the survey, that may be wrong in the way of its ``code``.

    What is written is ``factor`` times what stands at ``read``.
    """

    code: str
    number: int
    factor: float
    read: Read

    @property
    def weight(self) -> float:
        """How likely it is before anything is read."""
        return SLIP * _SHARES[self.code]


def read_of(reading: Reading) -> Read:
    """What a reading asks of the vent."""
    return Read(reading.condition, reading.place, reading.quantity)


def slips(readings: tuple[Reading, ...], plant: Plant) -> tuple[Slip, ...]:
    """Every way in which one of the readings may be wrong: pressures alone are mixed up."""
    found = []
    for n, reading in enumerate(readings):
        if reading.quantity != PRESSURE:
            continue
        own = read_of(reading)
        found += [Slip(SIGN, n, -1.0, own), Slip(UNIT_MORE, n, IN_WC_PER_MBAR, own)]
        found.append(Slip(UNIT_LESS, n, 1.0 / IN_WC_PER_MBAR, own))
        if reading.place.kind in (OUTLET, GAUGE, FOOT, TAP):
            found.append(Slip(REFERENCE, n, 1.0, replace(own, outdoors=True)))
        other = _other_side(reading.place, plant)
        if other is not None:
            found.append(Slip(SIDE, n, 1.0, replace(own, place=other)))
    return tuple(found)


def _other_side(place: Place, plant: Plant) -> Place | None:
    """The other end of the section in which a place lies."""
    if place.kind == OUTLET:
        feed = plant.feeds[[a.name for a in plant.appliances].index(place.appliance)]
        return Place(TAP, section=feed, share=1.0)
    if place.kind == TAP and place.share != 0.5:
        return replace(place, share=float(np.round(1.0 - place.share, 6)))
    return None
