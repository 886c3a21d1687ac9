"""CO build-up: how carbon monoxide rises in one room or several that a source and ventilation stand in.

A room is well mixed and stays at its pressure. Its burners take their air from it, a, and their flames burn none of
the carbon monoxide in that air: their flue gas carries it, ``Cq + C``, and where a part q of that gas comes back it
brings it back. So ``V dC/dt = Q Co + q (Cq + C) - a C - (Q + q - a) C``, what leaves being a by the burners and the
rest by the openings: whatever a is, only outdoor air takes carbon monoxide away, ``V dC/dt = Q (Co - C) + q Cq``.

Flue gas of burners that take their air from elsewhere would thin it too, by (Q + q)/Q in the end: left out, which errs
on the high side. A flame burns worse in such air: left out too, so that Cq is to be taken high. Concentrations are
parts per million by volume (ppm); where hardly any air comes in they grow until the flames are out, which no balance
of one substance can say, and are told as no more than all of the air.
"""

import numpy as np
import scipy

from ventcalc.units import quantities

ALL = 1e6  # ppm
_BALANCE = "balance of one substance in well-mixed rooms"
_AT_LEAST = dict.fromkeys(("time", "ventilation", "spill", "spill_co", "initial", "outdoor"), 0.0)


@quantities(
    "ppm",
    time="s",
    volume="m**3",
    ventilation="m**3/s",
    spill="m**3/s",
    spill_co="ppm",
    initial="ppm",
    outdoor="ppm",
    at_least=_AT_LEAST,
    above={"volume": 0.0},
    source=_BALANCE,
)
def concentration(time, volume, ventilation, spill=0.0, spill_co=0.0, initial=0.0, outdoor=0.0):
    """Carbon monoxide in one room after a time, ppm.

    ``V dC/dt = Q (Co - C) + q Cq``, so ``C = C0 e^(-kt) + (Q Co + q Cq)/V (1 - e^(-kt))/k`` with ``k = Q/V``, told as
    at most 1e6. time: s; volume V: m3; ventilation Q: outdoor air of any origin, m3/s; spill q: flue gas at room
    temperature, m3/s, with spill_co Cq in it when its burner breathes clean air (a source of pure CO: its m3/s and 1e6
    ppm); initial C0 and outdoor Co: ppm. Numbers or arrays that broadcast; a closed room without any flow keeps what it
    has. A worked exercise reaches 120 ppm in a room of 40 m3 after "approximately 1.3 hrs":

    >>> from ventcalc.units import Q_
    >>> room = dict(volume=Q_(40, "m**3"), ventilation=Q_(0.003, "m**3/s"))
    >>> float(concentration(Q_(1.321, "hour"), **room, spill=Q_(1.2e-6, "m**3/s"), spill_co=Q_(1e6, "ppm")).m)
    120.0
    """
    rate = np.divide(ventilation, volume)
    source = (ventilation * outdoor + spill * spill_co) / volume
    return np.minimum(initial * np.exp(-rate * time) + source * time * scipy.special.exprel(-rate * time), ALL)


@quantities(
    "ppm",
    ventilation="m**3/s",
    spill="m**3/s",
    spill_co="ppm",
    outdoor="ppm",
    at_least={k: v for k, v in _AT_LEAST.items() if k not in ("time", "initial")},
    source=_BALANCE,
)
def steady_state(ventilation, spill, spill_co, outdoor=0.0):
    """Where `concentration` ends, ppm: ``Co + Cq q/Q``, at most 1e6; the room's volume only says how soon.

    ventilation, spill: m3/s; spill_co, outdoor: ppm; numbers or arrays that broadcast. Raises ValueError where no
    outdoor air comes in.
    """
    return np.minimum(_nearing(ventilation, spill, spill_co, outdoor), ALL)


def _nearing(ventilation, spill, spill_co, outdoor):
    """What the balance nears, not cut at all of the air: a level below that is on the way to it."""
    if np.any(np.asarray(ventilation) <= 0.0):
        raise ValueError("ventilation is 0: a room without outdoor air has no steady state")
    return outdoor + spill * spill_co / ventilation


@quantities(
    "s",
    level="ppm",
    volume="m**3",
    ventilation="m**3/s",
    spill="m**3/s",
    spill_co="ppm",
    initial="ppm",
    outdoor="ppm",
    at_least=_AT_LEAST | {"level": 0.0},
    above={"volume": 0.0},
    allow={"return": "inf"},
    source=_BALANCE,
)
def time_to_reach(level, volume, ventilation, spill, spill_co, initial=0.0, outdoor=0.0):
    """When a rising concentration comes to a level, s: ``ln((Cs - C0)/(Cs - C)) / k``; infinite where it never does.

    level: C, ppm; volume: m3; ventilation and spill: m3/s; spill_co, initial C0, outdoor: ppm, all as in
    `concentration`; numbers or arrays that broadcast. 0 where the level is there from the beginning. Raises ValueError
    where no outdoor air comes in.
    """
    level, initial, air = np.broadcast_arrays(level, initial, ventilation)
    steady = _nearing(ventilation, spill, spill_co, outdoor)
    with np.errstate(divide="ignore", invalid="ignore"):
        wait = np.log((steady - initial) / (steady - level)) * volume / air
    return np.where(initial >= level, 0.0, np.where(steady > level, wait, np.inf))[()]


@quantities(
    "m**3/s",
    level="ppm",
    ventilation="m**3/s",
    spill_co="ppm",
    outdoor="ppm",
    at_least={"level": 0.0, "ventilation": 0.0, "spill_co": 0.0, "outdoor": 0.0},
    allow={"return": "inf"},
    source=_BALANCE,
)
def spill_to_reach(level, ventilation, spill_co, outdoor=0.0):
    """Flue gas [m3/s, at room temperature] that holds a room at a level: ``Q (C - Co) / Cq``.

    level C, spill_co Cq, outdoor Co: ppm; ventilation Q: m3/s; numbers or arrays that broadcast. 0 where outdoors is
    there already, infinite where the flue gas holds none.
    """
    needed, inside = np.broadcast_arrays(np.maximum(ventilation * (level - outdoor), 0.0), np.asarray(spill_co, float))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(inside > 0.0, needed / inside, np.where(needed > 0.0, np.inf, 0.0))[()]


@quantities(
    "ppm",
    times="s",
    starts="s",
    volumes="m**3",
    ventilation="m**3/s",
    exchange="m**3/s",
    spill="m**3/s",
    spill_co="ppm",
    initial="ppm",
    outdoor="ppm",
    at_least={**_AT_LEAST, "exchange": 0.0} | {"times": 0.0, "starts": 0.0},
    above={"volumes": 0.0},
    shapes={"times": "list"}
    | dict.fromkeys(("starts", "volumes", "ventilation", "exchange", "spill", "spill_co", "initial", "outdoor"), "any"),
    source=_BALANCE,
)
# Nine arguments: the figures of the balance, each with its own unit and shape.
def history(times, starts, volumes, ventilation, exchange, spill, spill_co, initial=0.0, outdoor=0.0):
    """Carbon monoxide in several rooms through stages in which sources and ventilation stand still, ppm (rooms, times).

    In room i: ``Vi dCi/dt = Qi (Co - Ci) + qi Cq + sum_j E_ij (Cj - Ci)``, told as at most 1e6. Written for
    ``C sqrt(V)`` its matrix is symmetric, so each stage is solved exactly by its eigenvalues.
    times: s, rising; starts: s, when each stage begins, the first 0, rising; volumes V (rooms) m3; ventilation Q
    (stages, rooms) and spill q (stages, rooms) m3/s; exchange E (rooms, rooms) m3/s, symmetric: air that changes
    places through an open door or a grille; spill_co Cq (stages) ppm; initial (rooms) and outdoor: ppm. Shapes that
    broadcast to these will do. Raises ValueError where starts do not begin at 0 and rise or exchange is not symmetric.
    """
    volumes, exchange = np.atleast_1d(volumes), np.atleast_2d(exchange)
    starts, rooms = np.atleast_1d(starts), np.size(volumes)
    if starts[0] != 0.0 or np.any(np.diff(starts) <= 0.0):
        raise ValueError(
            f"starts = {starts.tolist()} s: the first stage begins at 0 and each later than the one before"
        )
    if not np.allclose(exchange, exchange.T):
        raise ValueError("exchange between rooms must be the same both ways; anything else is ventilation")
    ventilation = np.broadcast_to(ventilation, (starts.size, rooms))
    spill, spill_co = np.broadcast_to(spill, (starts.size, rooms)), np.broadcast_to(spill_co, starts.shape)
    now, found = np.broadcast_to(initial, (rooms,)).astype(float), np.empty((rooms, np.size(times)))
    for k, (start, end) in enumerate(zip(starts, np.append(starts[1:], np.inf), strict=True)):
        source = ventilation[k] * outdoor + spill[k] * spill_co[k]
        inside = (times >= start) & (times < end)
        ends = np.append(times[inside] - start, end - start if np.isfinite(end) else 0.0)
        solved = _stage(ends, volumes, ventilation[k], exchange, source, now)
        found[:, inside], now = solved[:, :-1], solved[:, -1]
    return np.minimum(found, ALL)


def _stage(time, volumes, leaving, exchange, source, initial):
    """Concentrations (rooms, times) of one stage; ``source`` in ppm m3/s."""
    root = np.sqrt(volumes)
    exchange = exchange - np.diag(np.diag(exchange))
    matrix = (exchange - np.diag(leaving + exchange.sum(axis=1))) / np.outer(root, root)
    rates, modes = np.linalg.eigh(matrix)
    rates = np.minimum(rates, 0.0)[:, None]  # a closed house has one of 0, give or take a rounding
    start, drive = modes.T @ (root * initial), modes.T @ (source / root)
    amounts = start[:, None] * np.exp(rates * time) + drive[:, None] * time * scipy.special.exprel(rates * time)
    return (modes @ amounts) / root[:, None]
