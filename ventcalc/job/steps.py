"""Steps: what long work tells of how far it has come: ``told(step, share)``, the share that is done from 0 to 1."""

from collections.abc import Callable

Told = Callable[[str, float], None]


def nobody(step: str, share: float) -> None:
    """Where nobody listens."""


def within(told: Told, low: float, high: float) -> Told:
    """For a part of the work that takes it from one share to another."""
    return lambda step, share: told(step, low + (high - low) * share)
