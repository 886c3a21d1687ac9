"""Tuning: gains that hold the pressure briskly without ever making the loop swing.

Step the fan or damper a little and watch the sensor: how far the reading falls, how long it waits and how slowly it
goes say all that a controller must know of the vent (`identify`). A rule makes gains of these three (`simc`). A rule is
a promise: the frequency response of the whole loop proves how far it is from swinging (`margins`), and the rule is
slowed down until that is far enough (`tune`). The step itself is `draft_control.step_test`.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from math import exp, inf

import numpy as np

from ventcalc.door import door
from ventcalc.draft.controller import DERIVATIVE_FILTER, Gains
from ventcalc.units import Q_, quantities


@dataclass(frozen=True)
class Model:
    """A linear model of all that stands between the output and the reading, plain SI.

    A step of the whole output lowers the pressure by ``gain`` [Pa], after a ``delay`` [s] and through first-order
    ``lags`` [s] one after the other.
    """

    gain: float
    lags: tuple[float, ...]
    delay: float = 0.0


@quantities(
    None,
    time="s",
    reading="Pa",
    step="",
    shapes={"time": "list", "reading": "list", "step": "one"},
    source="from the first-order response itself: 28.3 % after delay + lag/3, 63.2 % after delay + lag",
)
def identify(time, reading, step):
    """First-order `Model` with delay of a step response, from the times at which 28.3 % and 63.2 % of it have come.

    time [s] and reading [Pa] are arrays from the step on, the response at rest at both ends; step is that of the
    output. ``lag = 1.5 (t63 - t28)``, ``delay = t63 - lag``. Raises ValueError where the pressure does not fall when
    the output rises.
    """
    if step == 0.0:
        raise ValueError("identify: step = 0: the output must move")
    if time.size < 2 or time.shape != reading.shape or np.any(np.diff(time) <= 0.0):
        raise ValueError("identify: time must be two or more and rise, with one reading each")
    share = (reading - reading[0]) / (reading[-1] - reading[0]) if reading[-1] != reading[0] else np.zeros(time.size)
    gain = float((reading[0] - reading[-1]) / step)
    if not gain > 0.0:
        raise ValueError(f"identify: the reading rises by {-gain:.4g} Pa a step: more output must lower the pressure")
    t28, t63 = (float(np.interp(1.0 - exp(-k), share, time)) for k in (1.0 / 3.0, 1.0))
    lag = 1.5 * (t63 - t28)
    return Model(gain, (lag,), max(t63 - lag, 0.0))


@door(plain={"closed": "s"})
def simc(model: Model, closed: float) -> Gains:
    """PI gains by Skogestad's rule (J. Process Control 13, 2003) for a `Model` of one lag and a delay.

    ``kp = lag / (gain (closed + delay))``, ``ti = min(lag, 4 (closed + delay))``, with the time constant ``closed``
    [s] that the closed loop shall have. Raises ValueError for more lags than one, or where closed + delay is not
    positive.
    """
    if len(model.lags) != 1 or not closed + model.delay > 0.0:
        raise ValueError("simc: give a model of one lag, and closed + delay above 0")
    lag, slow = model.lags[0], closed + model.delay
    return Gains(Q_(lag / (model.gain * slow), "1/Pa"), Q_(max(min(lag, 4.0 * slow), 1e-3), "s"))


@door(plain={"sample": "s"}, above={"sample": 0.0})
def open_loop(gains: Gains, model: Model, sample: float, frequency: np.ndarray) -> np.ndarray:
    """Frequency response of controller, hold and model in series, at frequencies [rad/s] below pi / ``sample``.

    The controller is the sampled one. A sampled model answers at a frequency with its copies one sampling frequency
    apart as well (Poisson's sum), of which the nearest are taken.
    """
    return _law(gains, sample, frequency) * _sampled(model, sample, frequency)


def _law(gains: Gains, sample: float, frequency: np.ndarray) -> np.ndarray:
    """Frequency response of the sampled controller."""
    kp, ti, td, _ = gains.plain
    z = np.exp(1j * frequency * sample)
    law = kp * (1.0 + sample / ti / (z - 1.0))
    keep = td / (td + DERIVATIVE_FILTER * sample)
    return law + kp * DERIVATIVE_FILTER * keep * (1.0 - 1.0 / z) / (1.0 - keep / z)


def _sampled(model: Model, sample: float, frequency: np.ndarray) -> np.ndarray:
    """Frequency response of the hold and the model behind it."""
    apart = 2.0 * np.pi / sample * np.arange(-_COPIES, _COPIES + 1)
    s = 1j * (frequency[:, None] + apart)
    # The hold answers at all copies alike, and a delay turns each by as much as it turns its distance.
    held = -np.expm1(-1j * frequency * sample) * np.exp(-1j * frequency * model.delay)
    plant = model.gain * np.exp(-1j * apart * model.delay) / (s * sample)
    for lag in model.lags:
        plant = plant / (1.0 + s * lag)
    return held * plant.sum(axis=1)


@lru_cache(maxsize=64)
def _sampled_from(model: Model, sample: float, slowest: float) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies [rad/s] that a loop's ``slowest`` time [s] asks for, and `_sampled` there: the same for all gains."""
    frequency = np.geomspace(1e-3 / slowest, 0.999 * np.pi / sample, _FREQUENCIES)
    return frequency, _sampled(model, sample, frequency)


_COPIES, _FREQUENCIES = 20, 800


@dataclass(frozen=True)
class Margins:
    """How far a loop is from instability.

    ``sensitivity``: the largest ``|1 / (1 + L)|``, Ms. ``gain``: by which factor the loop's gain may grow. ``phase``
    [rad]: by how much it may lag further. ``delay`` [s]: how much dead time that is. inf where nothing limits them.
    """

    sensitivity: float
    gain: float
    phase: float
    delay: float


@door(plain={"sample": "s"}, above={"sample": 0.0})
def margins(gains: Gains, model: Model, sample: float) -> Margins:
    """Margins of a linear loop from its frequency response `open_loop`, ``sample`` [s]."""
    slowest = max(*model.lags, model.delay, gains.plain[1] if gains.plain[1] < inf else 0.0, sample)
    frequency, vent = _sampled_from(model, float(sample), float(slowest))
    loop = _law(gains, sample, frequency) * vent
    # It begins so slow that lags and delay do not tell yet: with a phase of 0 to -90 degrees, and no whole turn lost.
    size, phase = np.abs(loop), np.unwrap(np.angle(loop))
    gain = [1.0 / _where(phase, -np.pi, size, i) for i in _crossings(phase + np.pi)]
    turn = [(_where(size, 1.0, phase, i) + np.pi, _where(size, 1.0, frequency, i)) for i in _crossings(size - 1.0)]
    least = min(turn, default=(inf, 1.0))
    return Margins(
        sensitivity=float(np.max(1.0 / np.abs(1.0 + loop))),
        gain=min((g for g in gain if g > 0.0), default=inf),
        phase=least[0],
        delay=min((p / w for p, w in turn), default=inf),
    )


def _crossings(values: np.ndarray) -> np.ndarray:
    """Where values fall through zero: the places before."""
    return np.flatnonzero((values[:-1] > 0.0) & (values[1:] <= 0.0))


def _where(values: np.ndarray, level: float, other: np.ndarray, i: int) -> float:
    """``other`` where ``values`` passes a level between place i and the next."""
    share = (level - values[i]) / (values[i + 1] - values[i])
    return float(other[i] + share * (other[i + 1] - other[i]))


@door(plain={"sample": "s", "sensitivity": ""}, above={"sample": 0.0})
def tune(model: Model, sample: float, sensitivity: float = 1.6, true: Model | None = None) -> Gains:
    """PI gains by `simc`, as brisk as a largest ``sensitivity`` Ms lets them be.

    ``model`` has one lag and a delay (`identify`); half a ``sample`` [s] is added to the delay for the hold. The closed
    loop's time constant begins at the delay, the rule's briskest, and grows by 5 % until Ms of the ``true`` model
    (left out: the same one) is met. Raises ValueError for an Ms of 1.1 or less, and where none of 200 steps meets it.
    """
    if not sensitivity > 1.1:
        raise ValueError(
            f"tune: a largest sensitivity of {sensitivity:g} leaves nothing to control with; 1.2 to 2 is usual"
        )
    held = replace(model, delay=model.delay + 0.5 * sample)
    closed = held.delay
    for _ in range(200):
        gains = simc(held, closed)
        found = margins(gains, true or model, sample)
        if found.sensitivity <= sensitivity and found.phase > 0.0:
            return gains
        closed *= 1.05
    raise ValueError(f"tune: no gains of the rule meet a sensitivity of {sensitivity:g}")
