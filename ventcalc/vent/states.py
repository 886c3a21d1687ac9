"""States: the columns in which a vent is solved: what every appliance does, season, walls and wind in each.

Which there are, and which of them matter, is told by `firing_states`.
"""

from dataclasses import dataclass

import numpy as np

from ventcalc.vent.network import Network


@dataclass(frozen=True)
class States:
    """What to solve: for each state (last axis) what every appliance does, the season, the stack and the wind.

    ``codes`` (appliances, states): index into `Appliance.states`. ``season`` (states): index into the seasons.
    ``cold``: every wall still at the temperature of its surroundings, gas at rest; (states), or (sections, states)
    where each wall has a past of its own. ``windy``: the season's wind blows.

    All but the season may lie between: code 1.4 is 40 % of the way from code 1 to code 2 (an appliance that
    modulates), cold 0.3 a wall that has warmed by 70 % of its way, windy 1.5 a gust of 1.5 times the wind's head.

    ``wind_case`` (states) is how that wind stands to building and terminal, an index of `wind.CASES`; None: on the cap
    alone in all of them.
    """

    codes: np.ndarray
    season: np.ndarray
    cold: np.ndarray
    windy: np.ndarray
    wind_case: np.ndarray | None = None

    def __len__(self) -> int:
        return self.season.size

    def __getitem__(self, pick) -> "States":
        case = None if self.wind_case is None else self.wind_case[pick]
        return States(self.codes[:, pick], self.season[pick], self.cold[..., pick], self.windy[pick], case)


def check_states(network: Network, states: States, added) -> None:
    """Raise ValueError where states, or what devices ``added`` (sections, states), do not fit a network."""
    plant, seasons = network.plant, network.seasons
    if states.codes.shape != (len(plant.appliances), len(states)):
        raise ValueError(f"codes have shape {states.codes.shape}, need {(len(plant.appliances), len(states))}")
    if states.cold.shape not in ((len(states),), (len(plant.order), len(states))):
        raise ValueError(
            f"cold has shape {states.cold.shape}, need {(len(states),)} or {(len(plant.order), len(states))}"
        )
    if added is not None and added.shape != (len(plant.order), len(states)):
        raise ValueError(f"added has shape {added.shape}, need {(len(plant.order), len(states))}")
    for a, codes in zip(plant.appliances, states.codes, strict=True):
        if codes.size and not (codes.min() >= 0 and codes.max() <= len(a.states) - 1):
            raise ValueError(f"codes of {a.name} must be 0 to {len(a.states) - 1}: {', '.join(a.states)}")
    if states.season.size and not (states.season.min() >= 0 and states.season.max() < len(seasons)):
        raise ValueError(f"season indices must be 0 to {len(seasons) - 1}")
    case, last = states.wind_case, len(network.room_wind) - 1
    if case is not None and case.size and not (case.min() >= 0 and case.max() <= last):
        raise ValueError(f"wind cases must be 0 to {last}; a plant without exposure has only the first")
