"""Damper authority: the damper's share of a system's loss, and how it bends the damper's curve once installed."""

import numpy as np

from ventcalc.units import quantities


@quantities(
    "",
    open_loss="Pa",
    other_losses="Pa",
    above={"open_loss": 0.0},
    at_least={"other_losses": 0.0},
    source="Definition, as for control valves: damper open over whole system, damper open",
)
def authority(open_loss, other_losses):
    """Authority ``alpha = dp_open / (dp_open + dp_others)`` of a damper over the flow.

    open_loss [Pa] of the open damper and other_losses [Pa] of all else between the two points whose pressure
    stands still, at one flow; scalars or arrays. An article on sizing (ASHRAE Journal, April 2000) takes the same
    name for ``dp_open / dp_others``, which is ``alpha / (1 - alpha)``: ask which is meant. Raises for losses that
    cannot be.
    """
    return open_loss / (open_loss + other_losses)


@quantities(
    "",
    inherent="",
    authority="",
    above={"inherent": 0.0, "authority": 0.0},
    at_most={"inherent": 1.0, "authority": 1.0},
    source="Wade, Basic and Advanced Regulatory Control (2nd ed.), appendix B: a valve in series with a fixed "
    "resistance at constant pressure (assumptions read in a secondary source; worked from them)",
)
def installed_flow(inherent, authority):
    """Share of full flow in a system at constant pressure, ``1 / sqrt(1 - alpha + alpha / phi^2)``.

    inherent phi [-] is the share of its open flow that the damper alone passes at constant pressure, ``sqrt(K_open /
    K)``; authority alpha [-] above 0 to 1 (at 1 nothing but the damper resists). Scalars or arrays. In a common vent
    it says little: there the burners prescribe the flow, and the damper moves the pressure. Raises outside 0 to 1.
    """
    return 1.0 / np.sqrt(1.0 - authority + authority / inherent**2)
