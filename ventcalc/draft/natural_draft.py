"""Natural draft: does the flue fit the appliance by the area rule, does it draw when it is lit, and how wet it stays.

What a draft hood or an appliance of category I asks of its vent where no fan helps, all records of one plant without
words: `oversized_flue`, `light_off`, `flue_wetting`, `flue_liner`.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.draft.flue_liner import Liner, liners_of
from ventcalc.draft.flue_wetting import Icing, Wetting, icings_of, wettings_of
from ventcalc.draft.light_off import LightOff, light_offs
from ventcalc.draft.load_changes import Followed
from ventcalc.draft.oversized_flue import AreaRule, areas_of
from ventcalc.vent.firing_states import Scan


@dataclass(frozen=True)
class NaturalDraft:
    """All records of one plant; empty where nothing of it is served by natural draft, or nothing is wet."""

    areas: tuple[AreaRule, ...] = ()
    starts: tuple[LightOff, ...] = ()
    wettings: tuple[Wetting, ...] = ()
    icings: tuple[Icing, ...] = ()
    liners: tuple[Liner, ...] = ()

    @property
    def oversized(self) -> tuple[AreaRule, ...]:
        """Sections larger than the rule allows."""
        return tuple(a for a in self.areas if not a.keeps)

    def worst_starts(self) -> tuple[LightOff, ...]:
        """For every appliance and stack the start that spills longest, and of these most."""
        found: dict[tuple[str, str], LightOff] = {}
        for start in self.starts:
            key = start.appliance, start.stack
            if key not in found or _gravity(start) > _gravity(found[key]):
                found[key] = start
        return tuple(found.values())


def _gravity(start: LightOff) -> tuple[float, float]:
    return (np.inf if start.draws_after is None else start.draws_after), start.spilled


def natural_draft(scan: Scan, followed: Followed | None = None) -> NaturalDraft:
    """The records of a scanned plant, as drawn and without a fan.

    ``followed``: its load changes where they are solved already; starts that it does not hold are followed here.
    """
    areas, starts = areas_of(scan.plant), light_offs(scan.plant, scan.seasons, followed)
    wettings = wettings_of(scan, starts)
    wet = {w.section for w in wettings}
    failing = {a.section for a in areas if not a.keeps} | wet
    liners = liners_of(scan.plant, scan.seasons, failing, any(s.fails for s in starts))
    return NaturalDraft(areas, starts, wettings, icings_of(scan), liners)
