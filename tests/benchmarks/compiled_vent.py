"""The equations of `ventcalc.common_vent` as compiled scalar code, one state after another: near the limit of speed.

The same laws, the same Newton's method with the same elimination along the tree, and the same results written, but
in loops that numba turns into machine code. Used by the benchmark alone.
"""

from collections import namedtuple

import numpy as np
from numba import njit

from ventcalc import common_vent as cv
from ventcalc import heat_loss
from ventcalc.network import REGULATOR_BAND, REGULATOR_LEAKAGE, compile_network
from ventcalc.streams import AIR_VISCOSITY
from ventcalc.units import GRAVITY

# Divisions unchecked as in numpy; sums may be regrouped, but infinite resistances keep their meaning.
fast = njit(error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn", "reassoc"})

Net = namedtuple(
    "Net",
    "pressure pipe run branch parent appliance fed_by outlet_area threshold on_total prescribed temperature gas "
    "resistance room_gauge t_outdoor t_room density wind_head air",
)
A, B, C, D = cv._LN_SATURATION
V2, V1, V0 = AIR_VISCOSITY
RV, LATENT = cv._VAPOUR_CONSTANT, cv._LATENT
WET_PIECE = cv.WET_PIECE
STILL, TRACE, SMOOTH, ENTRY = cv._STILL_FLOW, cv._TRACE, cv._SMOOTH_PRESSURE, cv._ENTRY_LOSS
TOLERANCE, SWEEPS, PATIENCE, FRESH = cv.TOLERANCE, cv.MAX_SWEEPS, cv.PATIENCE, cv.FRESH_START
NU0 = heat_loss.LAMINAR_NUSSELT
# Columns of what is known of a section.
(DIAMETER, AREA, LENGTH, RISE, SURFACE, ROUGH, FIXED, OUTSIDE, OUTDOORS, THIN, END_LOSS, WIND, FORM) = range(13)
# Columns of what is known of a run.
(OUTLET, MEAN, WALL, COOLING, EXCESS, SHARE, POWER, HEAT, FACTOR, DENSITY, VMEAN, VIN, VOUT, FOG, LOSS, ACCEL) = range(
    16
)


def compiled_network(plant, seasons):
    """The tables of `compile_network` as arrays that compiled code can index."""
    n = compile_network(plant, tuple(seasons))
    pipes, count = n.pipes, len(n.plant.appliances)

    def column(name, kind=float):
        return np.array([getattr(p, name) for p in pipes], kind)

    codes = max(t.shape[1] for t in n.prescribed)
    tables = {name: np.zeros((count, len(seasons), codes)) for name in ("prescribed", "temperature", "resistance")}
    gas = np.zeros((count, len(seasons), codes, 7))
    for a in range(count):
        for name, table in tables.items():
            values = getattr(n, name)[a]
            table[a, :, : values.shape[1]] = values
        gas[a, :, : n.gas[a].shape[2]] = np.moveaxis(n.gas[a], 0, -1)
    sizes = "diameter area length rise surface relative_roughness fixed_loss outside_resistance outdoors thin_air"
    legs = ("branch_run2", "branch_own2", "branch_cross", "run_own2", "run_branch2", "run_cross")
    form = np.array([[getattr(p.form, x) for x in legs] if p.form else [np.nan] * 6 for p in pipes])
    return Net(
        n.pressure,
        np.column_stack([*(column(x) for x in f"{sizes} end_loss wind".split()), form]),
        np.array([p.children[0] if len(p.children) == 2 or (p.children and p.form is None) else -1 for p in pipes]),
        np.array([p.children[-1] if p.children and p.form is not None else -1 for p in pipes]),
        column("parent", int),
        column("appliance", int),
        np.array(n.fed_by),
        n.outlet_area,
        np.array(n.threshold),
        np.array(n.on_total),
        tables["prescribed"],
        tables["temperature"],
        gas,
        tables["resistance"],
        np.array([n.room_gauge(h) for h in n.outlet_height]),
        n.outdoor,
        n.room,
        n.outdoor_density,
        n.wind_head,
        np.ascontiguousarray(n.outdoor_gas.T),
    )


@fast
def specific_heat(g, t):
    return g[1] + t * (g[2] + t * g[3])


@fast
def mean_heat(g, a, b):
    s = a + b
    return g[1] + 0.5 * g[2] * s + g[3] / 3.0 * (s * s - a * b)


@fast
def sensible(g, t):
    return t * (g[1] + t * (0.5 * g[2] + t * (g[3] / 3.0)))


@fast
def saturation(t, pressure):
    i = 300.0 / t
    return min(np.exp(D + i * (C + i * (B + i * A))), 0.99 * pressure)


@fast
def held_and_slope(g, t, pressure):
    i = 300.0 / t
    s = saturation(t, pressure)
    held = (g[0] / RV - g[4]) * s / (pressure - s)
    return held, held * (-i / t * (C + i * (2.0 * B + i * 3.0 * A))) * pressure / (pressure - s)


@fast
def held(g, t, pressure):
    s = saturation(t, pressure)
    return (g[0] / RV - g[4]) * s / (pressure - s)


@fast
def enthalpy(g, t, pressure):
    return sensible(g, t) - LATENT * max(g[4] - held(g, t, pressure), 0.0)


@fast
def mix(m1, t1, g1, m2, t2, g2, pressure, mixed):
    """Temperature of two streams; their gas goes into ``mixed``."""
    share = (m1 + TRACE) / (m1 + m2 + 2.0 * TRACE)
    rest = 1.0 - share
    h = share * enthalpy(g1, t1, pressure) + rest * enthalpy(g2, t2, pressure)
    for k in range(7):
        mixed[k] = share * g1[k] + rest * g2[k]
    between = t = share * t1 + rest * t2
    for _ in range(2):
        t -= (sensible(mixed, t) - h) / specific_heat(mixed, t)
    if mixed[4] > held(mixed, t, pressure):
        t = between
        for _ in range(30):
            w, slope = held_and_slope(mixed, t, pressure)
            step = (sensible(mixed, t) - LATENT * (mixed[4] - w) - h) / (specific_heat(mixed, t) + LATENT * slope)
            t -= step
            if abs(step) < 1e-8:
                break
    return t


@fast
def wet_outlet(g, inlet, around, exchange, pressure, start):
    excess, water = inlet - around, g[4]
    held_in, slope_in = held_and_slope(g, inlet, pressure)
    vapour_in = min(water, held_in)
    slope_in = slope_in if water > held_in else 0.0
    low, high = min(inlet, around), max(inlet, around)
    y = min(max(start, low), high)
    number, vapour = 0.0, water
    for _ in range(60):
        w, slope = held_and_slope(g, y, pressure)
        vapour = min(water, w)
        slope = slope if water > w else 0.0
        fall = inlet - y
        if abs(fall) < 1e-4:
            latent, bend = slope_in, 0.0
        else:
            latent = (vapour_in - vapour) / fall
            bend = LATENT * (latent - slope) / fall
        heat = mean_heat(g, inlet, y) + LATENT * latent
        number = exchange / heat
        left = excess * np.exp(-number)
        gap = y - around - left
        if gap < 0.0:
            low = y
        if gap > 0.0:
            high = y
        step = gap / max(1.0 - left * number * bend / heat, 0.2)
        if abs(step) < 1e-8:
            break
        y = y - step if low <= y - step <= high else 0.5 * (low + high)
    return y, number, water - vapour_in, water - vapour


@fast
def means(r, inlet, outlet, around, cooling):
    """Means along a run of T, 1/(R T) and R T."""
    if cooling > 1e-6:
        mean, inverse = around + (inlet - outlet) / cooling, (1.0 + np.log(outlet / inlet) / cooling) / around
    else:
        mean, inverse = 0.5 * (inlet + outlet), 2.0 / (inlet + outlet)
    return mean, inverse / r, r * mean


@fast
def cool(pipe, i, pressure, flow, inlet, g, around, warm, guess, out):
    """One section: what `cooling.cool` finds, into the row ``out``; a guess of 0 is none."""
    size = max(abs(flow), STILL)
    viscosity = g[5] * (V0 + inlet * (V1 + inlet * V2))
    re = 4.0 * size / (np.pi * pipe[i, DIAMETER] * viscosity)
    turbulent_re, safe = max(re, 2300.0), max(re, 1.0)
    scale, rough = 2.0 / np.log(10.0), pipe[i, ROUGH] / 3.7
    x = -0.9 * scale * np.log(rough**1.11 + 6.9 / turbulent_re)
    slope = 2.51 / turbulent_re
    argument = rough + slope * x
    residual = x + scale * np.log(argument)
    ratio = slope / argument
    gradient = 1.0 + scale * ratio
    x -= residual / (gradient + 0.5 * residual * scale * ratio * ratio / gradient)
    share = min(max((safe - 2300.0) / 1700.0, 0.0), 1.0)
    smooth = share * share * (3.0 - 2.0 * share)
    darcy = smooth / (x * x) + (64.0 / safe) * (1.0 - smooth)
    prandtl, eighth = g[6] * np.sqrt(g[6]), darcy / 8.0
    turbulent = eighth * (max(re, 4000.0) - 1000.0) * prandtl / (1.0 + 12.7 * np.sqrt(eighth) * (g[6] - 1.0))
    nusselt = NU0 + min(max((re - 2300.0) / 1700.0, 0.0), 1.0) * (turbulent - NU0)
    film = nusselt * viscosity * specific_heat(g, inlet) / (prandtl * pipe[i, DIAMETER])
    film_share = 1.0 / (1.0 + film * pipe[i, OUTSIDE] * warm)
    exchange = film * film_share * pipe[i, SURFACE] / size
    excess = inlet - around
    outlet = guess if guess > 0.0 else around + excess * np.exp(-exchange / specific_heat(g, inlet))
    guess = outlet
    cooling = 0.0
    for _ in range(2):
        cooling = exchange / mean_heat(g, inlet, outlet)
        outlet = around + excess * np.exp(-cooling)
    fog_in = fog_out = 0.0
    mean, lightness, bulk = means(g[0], inlet, outlet, around, cooling)
    if g[4] > held(g, min(inlet, outlet), pressure):
        pieces = max(1, int(np.ceil(pipe[i, LENGTH] / WET_PIECE)))
        outlet, cooling, mean, lightness, bulk = inlet, 0.0, 0.0, 0.0, 0.0
        for k in range(pieces):
            start = inlet + (guess - inlet) * (k + 1) / pieces
            end, number, fog_begin, fog_out = wet_outlet(g, outlet, around, exchange / pieces, pressure, start)
            fog_in = fog_begin if k == 0 else fog_in
            t, light, volume = means(g[0] - 0.5 * (fog_begin + fog_out) * RV, outlet, end, around, number)
            outlet, cooling = end, cooling + number
            mean, lightness, bulk = mean + t / pieces, lightness + light / pieces, bulk + volume / pieces
    local = pressure * pipe[i, THIN]
    r_in, r_out = (g[0] - fog_in * RV) / local, (g[0] - fog_out * RV) / local
    volume_mean = bulk / local
    factor = darcy * pipe[i, LENGTH] / pipe[i, DIAMETER] + pipe[i, FIXED]
    head = flow * abs(flow) / (2.0 * pipe[i, AREA] ** 2)
    out[OUTLET], out[MEAN], out[COOLING], out[EXCESS], out[SHARE] = outlet, mean, cooling, excess, film_share
    out[WALL] = outlet - film_share * (outlet - around)
    out[POWER] = 0.8 if re > 4000.0 else (1.0 - NU0 / nusselt) * re / max(re - 2300.0, 1.0)
    out[HEAT] = exchange * size * (mean - around)
    out[FACTOR], out[DENSITY], out[VMEAN] = factor, lightness * local, volume_mean
    out[VIN], out[VOUT], out[FOG] = r_in * inlet, r_out * outlet, fog_out
    out[LOSS], out[ACCEL] = factor * head * volume_mean, head * (out[VOUT] - out[VIN])


@fast
def entry(n, a, flow, r):
    """Pressure to draw air past an appliance, and its slope."""
    offset = band = 0.0
    threshold = n.threshold[a]
    if threshold > 0.0:
        opening = np.sqrt(threshold / max(r, 1e-12)) * REGULATOR_LEAKAGE
        if flow > opening:
            flow -= opening
            offset, band = threshold, REGULATOR_BAND * np.sqrt(threshold * r)
        else:
            r = r / REGULATOR_LEAKAGE**2
    smooth = np.sqrt(flow * flow + SMOOTH / max(r, 1e-12))
    return offset + (r * smooth + band) * flow, r * (smooth + flow * flow / smooth) + band


@fast
def sweep(n, s, warm, wind, codes, drawn, w, guessed):
    """Temperatures from the leaves, pressures from the root, mismatches: into the work arrays; the worst mismatch."""
    flow, gas, up, down, runs, p_up, p_down, legs, spare, mismatch, slope, _, _, _, total = w
    pipe, count = n.pipe, flow.size
    for i in range(count):
        around = n.t_outdoor[s] if pipe[i, OUTDOORS] > 0.0 else n.t_room[s]
        a = n.appliance[i]
        if a >= 0:
            sent, own, t = n.prescribed[a, s, codes[a]], n.gas[a, s, codes[a]], n.temperature[a, s, codes[a]]
            flow[i] = sent + drawn[a]
            if np.isfinite(n.resistance[a, s, codes[a]]):
                up[i] = mix(sent, t, own, max(drawn[a], 0.0), n.t_room[s], n.air[s], n.pressure, gas[i])
            else:
                up[i] = t
                gas[i, :] = own
        else:
            one, two = n.run[i], n.branch[i]
            if one >= 0 and two >= 0:
                flow[i] = flow[one] + flow[two]
                up[i] = mix(max(flow[one], 0.0), down[one], gas[one], max(flow[two], 0.0), down[two], gas[two],
                            n.pressure, gas[i])  # fmt: skip
            else:
                only = max(one, two)
                flow[i], up[i] = flow[only], down[only]
                gas[i, :] = gas[only]
        cool(pipe, i, n.pressure, flow[i], up[i], gas[i], around, warm, down[i] if guessed else 0.0, runs[i])
        down[i] = runs[i, OUTLET]
    for i in range(count - 1, -1, -1):
        if flow[i] >= 0.0:
            continue
        around = n.t_outdoor[s] if pipe[i, OUTDOORS] > 0.0 else n.t_room[s]
        p = n.parent[i]
        if p < 0:
            t = n.t_outdoor[s]
            spare[:] = n.air[s]
        else:
            other = n.run[p] if n.branch[p] == i else n.branch[p]
            if other >= 0 and other != i:
                t = mix(max(-flow[p], 0.0), up[p], gas[p], max(flow[other], 0.0), down[other], gas[other],
                        n.pressure, spare)  # fmt: skip
            else:
                t = up[p]
                spare[:] = gas[p]
        cool(pipe, i, n.pressure, flow[i], t, spare, around, warm, 0.0, runs[i])
        runs[i, VIN], runs[i, VOUT] = runs[i, VOUT], runs[i, VIN]
        gas[i, :] = spare
        down[i], up[i] = t, runs[i, OUTLET]
    for i in range(count - 1, -1, -1):
        if n.parent[i] < 0:
            loss = 1.0 + pipe[i, END_LOSS] if flow[i] >= 0.0 else ENTRY + pipe[i, END_LOSS]
            head = loss * flow[i] * abs(flow[i]) * runs[i, VOUT] / (2.0 * pipe[i, AREA] ** 2)
            p_down[i] = pipe[i, WIND] * wind + head
        draft = GRAVITY * pipe[i, RISE] * (n.density[s] * pipe[i, THIN] - runs[i, DENSITY])
        p_up[i] = p_down[i] + runs[i, LOSS] + runs[i, ACCEL] - draft
        one, two = n.run[i], n.branch[i]
        if two < 0:
            if one >= 0:
                p_down[one] = p_up[i]
        else:
            scale = runs[i, VIN] / (2.0 * pipe[i, AREA] ** 2)
            b, r = flow[two], flow[one] if one >= 0 else 0.0
            bf, rf = max(b, 0.0), max(r, 0.0)
            f, cross = pipe[i, FORM:], bf * rf
            p_down[two] = p_up[i] + scale * (f[1] * b * abs(b) + f[0] * rf * r + f[2] * cross)
            if one >= 0:
                p_down[one] = p_up[i] + scale * (f[3] * r * abs(r) + f[4] * bf * b + f[5] * cross)
            b_on, r_on = 1.0 if b > 0.0 else 0.0, 1.0 if r > 0.0 else 0.0
            legs[i, 0] = scale * (2.0 * f[1] * abs(b) + f[2] * b_on * rf)
            legs[i, 1] = scale * (2.0 * f[0] * rf + f[2] * r_on * bf)
            legs[i, 2] = scale * (2.0 * f[4] * bf + f[5] * b_on * rf)
            legs[i, 3] = scale * (2.0 * f[3] * abs(r) + f[5] * r_on * bf)
    worst = 0.0
    for a in range(drawn.size):
        total[a] = p_up[n.fed_by[a]]
        r = n.resistance[a, s, codes[a]]
        if np.isfinite(r):
            through = drawn[a] + n.prescribed[a, s, codes[a]] if n.on_total[a] else drawn[a]
            pressure, slope[a] = entry(n, a, through, r)
            mismatch[a] = n.room_gauge[a, s] - total[a] - pressure
            worst = max(worst, abs(mismatch[a]))
        else:
            mismatch[a], slope[a] = 0.0, np.inf
    return worst


@fast
def greatest(n, s, codes, a, pressure, runs):
    row, pipe = n.fed_by[a], n.pipe
    first = runs[row, FACTOR] * runs[row, VMEAN] / (2.0 * pipe[row, AREA] ** 2)
    return np.sqrt(abs(pressure) / (n.resistance[a, s, codes[a]] + first))


@fast
def newton(n, s, codes, drawn, thermal, w, step):
    """The elimination of `_Sweep.newton_step`, one state."""
    flow, _, up, down, runs, _, _, legs, _, mismatch, slope, sent, through, joint, _ = w
    pipe, count = n.pipe, flow.size
    below = joint[:, 8]
    back = joint[:, 9]
    back[:] = 0.0
    for i in range(count - 1, -1, -1):
        if flow[i] >= 0.0:
            back[i] = 0.0
            continue
        r = runs[i]
        slower = r[EXCESS] * (1.0 - r[POWER] * r[SHARE]) / min(flow[i], -STILL)
        leaving = np.exp(-r[COOLING]) * (back[i] + slower * r[COOLING])
        if n.run[i] >= 0:
            back[n.run[i]] = leaving
        if n.branch[i] >= 0:
            back[n.branch[i]] = leaving
    for i in range(count):
        a, one, two = n.appliance[i], n.run[i], n.branch[i]
        if a >= 0:
            f1 = -1.0 / slope[a]
            f0 = mismatch[a] / slope[a]
            whole = max(n.prescribed[a, s, codes[a]] + drawn[a], STILL)
            cooler = (n.t_room[s] - up[i]) / whole if drawn[a] > 0.0 else 0.0
            h1, h0 = cooler * f1, cooler * f0
        elif two < 0:
            f1, f0, h1, h0 = sent[one, 0], sent[one, 1], sent[one, 2], sent[one, 3]
        elif one < 0:
            bb = legs[i, 0]
            b1, b0 = sent[two, 0], sent[two, 1]
            gain = 1.0 / max(1.0 - b1 * bb, 0.1)
            f1, f0 = b1 * gain, b0 * gain
            joint[i, 2], joint[i, 3] = 1.0 + bb * f1, bb * f0
            h1, h0 = sent[two, 2] * joint[i, 2], sent[two, 2] * joint[i, 3] + sent[two, 3]
        else:
            bb, br, rb, rr = legs[i, 0], legs[i, 1], legs[i, 2], legs[i, 3]
            b1, b0, r1, r0 = sent[two, 0], sent[two, 1], sent[one, 0], sent[one, 1]
            det = (1.0 - b1 * bb) * (1.0 - r1 * rr) - b1 * br * r1 * rb
            inverse = 1.0 / (0.1 if abs(det) < 0.1 else det)
            bf1 = inverse * ((1.0 - r1 * rr) * b1 + b1 * br * r1)
            bf0 = inverse * ((1.0 - r1 * rr) * b0 + b1 * br * r0)
            rf1 = inverse * ((1.0 - b1 * bb) * r1 + r1 * rb * b1)
            rf0 = inverse * ((1.0 - b1 * bb) * r0 + r1 * rb * b0)
            joint[i, 0], joint[i, 1] = 1.0 + rb * bf1 + rr * rf1, rb * bf0 + rr * rf0
            joint[i, 2], joint[i, 3] = 1.0 + bb * bf1 + br * rf1, bb * bf0 + br * rf0
            bm, rm = max(flow[two], 0.0), max(flow[one], 0.0)
            total = bm + rm + STILL
            h1 = (bm * sent[two, 2] * joint[i, 2] + rm * sent[one, 2] * joint[i, 0]) / total
            h0 = (bm * (sent[two, 2] * joint[i, 3] + sent[two, 3])
                  + rm * (sent[one, 2] * joint[i, 1] + sent[one, 3])) / total  # fmt: skip
            if bm > 0.0:
                pull = (down[two] - up[i]) / total
                h1, h0 = h1 + pull * bf1, h0 + pull * bf0
            if rm > 0.0:
                pull = (down[one] - up[i]) / total
                h1, h0 = h1 + pull * rf1, h0 + pull * rf0
            f1, f0 = bf1 + rf1, bf0 + rf0
        r = runs[i]
        size = max(abs(flow[i]), STILL)
        by_flow = r[FACTOR] * size * r[VMEAN] / pipe[i, AREA] ** 2
        if n.parent[i] < 0:
            by_flow += (1.0 + pipe[i, END_LOSS]) * size * r[VOUT] / pipe[i, AREA] ** 2
        left, number = np.exp(-r[COOLING]), max(r[COOLING], 1e-9)
        slower = r[EXCESS] * (1.0 - r[POWER] * r[SHARE]) / (size if flow[i] >= 0.0 else -size)
        by_heat = -np.expm1(-number) / number
        fall = (r[LOSS] - GRAVITY * pipe[i, RISE] * r[DENSITY]) / r[MEAN]
        warmed = fall * (slower * (by_heat - left) + by_heat * back[i])
        by_flow += warmed if warmed > 0.0 else thermal * warmed
        forward = thermal if flow[i] >= 0.0 else 0.0
        by_heat *= forward * fall
        gain = 1.0 / max(1.0 - by_flow * f1 - by_heat * h1, 0.1)
        offset = gain * (by_flow * f0 + by_heat * h0)
        through[i, 0], through[i, 1] = gain, offset
        f1, f0, h1, h0 = f1 * gain, f1 * offset + f0, h1 * gain, h1 * offset + h0
        out_flow, out_heat = forward * slower * r[COOLING] * left, forward * left
        sent[i, 0], sent[i, 1] = f1, f0
        sent[i, 2], sent[i, 3] = out_heat * h1 + out_flow * f1, out_heat * h0 + out_flow * f0
    for i in range(count - 1, -1, -1):
        if n.parent[i] < 0:
            below[i] = 0.0
        above = through[i, 0] * below[i] + through[i, 1]
        a, one, two = n.appliance[i], n.run[i], n.branch[i]
        if a >= 0:
            step[a] = 0.0
            if np.isfinite(slope[a]):
                change = (mismatch[a] - above) / slope[a]
                reach = abs(drawn[a]) + 2.0 * greatest(n, s, codes, a, mismatch[a], runs)
                change = min(max(change, -reach), reach)
                if n.threshold[a] > 0.0:
                    opening = np.sqrt(n.threshold[a] / n.resistance[a, s, codes[a]]) * REGULATOR_LEAKAGE
                    if (drawn[a] - opening) * (drawn[a] + change - opening) < 0.0:
                        change = opening + np.sign(change) * 1e-3 * opening - drawn[a]
                step[a] = change
        if two < 0:
            if one >= 0:
                below[one] = above
        else:
            below[two] = joint[i, 2] * above + joint[i, 3]
            if one >= 0:
                below[one] = joint[i, 0] * above + joint[i, 1]


@fast
def work(count, plants):
    """Arrays that a sweep fills, for so many sections and appliances."""
    flow, up, down = np.zeros(count), np.zeros(count), np.zeros(count)
    gas, runs, legs = np.zeros((count, 7)), np.zeros((count, 16)), np.zeros((count, 4))
    p_up, p_down, spare = np.zeros(count), np.zeros(count), np.zeros(7)
    mismatch, slope, total = np.zeros(plants), np.zeros(plants), np.zeros(plants)
    sent, through, joint = np.zeros((count, 4)), np.zeros((count, 2)), np.zeros((count, 10))
    return flow, gas, up, down, runs, p_up, p_down, legs, spare, mismatch, slope, sent, through, joint, total


@fast
def solve_all(n, codes, season, cold, windy, sections, appliances, converged):
    """All states, one after another; results into ``sections`` (13, rows, states), ``appliances`` (2, rows, states)."""
    pipe, count, plants = n.pipe, n.parent.size, codes.shape[0]
    w = work(count, plants)
    flow, gas, up, down, runs, p_up, p_down, _, _, _, _, _, _, _, total = w
    drawn, before, fresh, step = np.zeros(plants), np.zeros(plants), np.zeros(plants), np.zeros(plants)
    own = np.zeros(plants, codes.dtype)
    for k in range(season.size):
        s = season[k]
        own[:] = codes[:, k]
        warm, wind = 0.0 if cold[k] else 1.0, n.wind_head[s] if windy[k] else 0.0
        drawn[:] = 0.0
        error = sweep(n, s, warm, wind, own, drawn, w, False)
        if error > TOLERANCE:
            for a in range(plants):
                if np.isfinite(n.resistance[a, s, own[a]]):
                    pull = n.room_gauge[a, s] - total[a] - n.threshold[a]
                    drawn[a] = 0.5 * np.sign(pull) * greatest(n, s, own, a, pull, runs)
            best, scale, patient = np.inf, 1.0, False
            before[:] = drawn
            for turn in range(SWEEPS):
                error = sweep(n, s, warm, wind, own, drawn, w, turn > 0)
                if error <= TOLERANCE:
                    break
                if turn % FRESH == 0:
                    patient = False
                patient = patient or scale < 0.1 or turn % FRESH > PATIENCE
                take = error < best or patient
                if take:
                    newton(n, s, own, drawn, 0.0 if patient else 1.0, w, fresh)
                    before[:] = drawn
                    step[:] = fresh
                    best = error
                scale = 1.0 / (1.0 + turn / PATIENCE) if patient else (1.0 if take else 0.5 * scale)
                for a in range(plants):
                    drawn[a] = before[a] + scale * step[a]
        converged[k] = error <= TOLERANCE
        for i in range(count):
            r, speed = runs[i], flow[i] / pipe[i, AREA]
            draft = GRAVITY * pipe[i, RISE] * (n.density[s] * pipe[i, THIN] - r[DENSITY])
            sections[0, i, k], sections[1, i, k], sections[2, i, k], sections[3, i, k] = (
                flow[i],
                up[i],
                down[i],
                r[WALL],
            )
            sections[4, i, k], sections[5, i, k] = p_up[i], p_down[i]
            sections[6, i, k], sections[7, i, k] = speed * r[VMEAN], 0.5 * speed * speed * r[VMEAN]
            sections[8, i, k], sections[9, i, k], sections[10, i, k] = draft, r[LOSS], r[HEAT]
            sections[11, i, k], sections[12, i, k] = r[FOG] * abs(flow[i]), gas[i, 4] * RV / gas[i, 0]
        for a in range(plants):
            row = n.fed_by[a]
            head = 0.5 * (flow[row] / n.outlet_area[a]) ** 2 * runs[row, VIN]
            appliances[0, a, k] = p_up[row] - head - n.room_gauge[a, s]
            appliances[1, a, k] = drawn[a]


def solve(plant, seasons, states):
    """Sections' results (13, rows, states), outlet pressure and drawn flow (2, appliances, states), converged."""
    network = compiled_network(plant, seasons)
    total = len(states)
    sections, appliances = np.empty((13, len(plant.order), total)), np.empty((2, len(plant.appliances), total))
    converged = np.empty(total, np.bool_)
    codes = np.ascontiguousarray(states.codes, np.int64)
    season = np.ascontiguousarray(states.season, np.int64)
    solve_all(network, codes, season, states.cold, states.windy, sections, appliances, converged)
    return sections, appliances, converged


class Mismatch:
    """The mismatches of one state as a function of the flows drawn, for a general root finder."""

    def __init__(self, network, codes, season):
        self.network, self.codes, self.season = network, np.array(codes, np.int64), int(season)
        picked = (network.resistance[a, self.season, c] for a, c in enumerate(self.codes))
        self.free = np.flatnonzero(np.isfinite(list(picked)))
        self.work, self.drawn = work(network.parent.size, len(self.codes)), np.zeros(len(self.codes))

    def __call__(self, free_drawn):
        self.drawn[self.free] = free_drawn
        sweep(self.network, self.season, 1.0, 0.0, self.codes, self.drawn, self.work, False)
        return self.work[9][self.free].copy()
