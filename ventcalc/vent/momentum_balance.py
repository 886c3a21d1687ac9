"""Momentum balance: pressures along the sections of a vent whose gas speeds up or slows down.

With ``p`` total pressure as in `common_vent` and ``u`` the velocity,

    p_up - p_down = int rho du/dt dx + int rho u du + (rho u^2/2)_up - (rho u^2/2)_down
                    + (f L/D + K) rho u|u| / 2 - g int (rho_outdoor - rho) dz

At rest that is the equation of `common_vent`. Junctions and ends are the same too.
"""

from typing import NamedTuple

import numpy as np

from ventcalc.compiled import loop
from ventcalc.flow import junctions
from ventcalc.units import GRAVITY
from ventcalc.vent.column_grid import Grid
from ventcalc.vent.network import Network
from ventcalc.vent.pressure_balance import FALLING_AIR_LOSS


class Sections(NamedTuple):
    """What the pressures need of every section, and behind that of every place."""

    first: np.ndarray  # place of its first cell
    last: np.ndarray
    parent: np.ndarray  # row of the section it leads into, -1 at a termination
    area: np.ndarray
    rise: np.ndarray
    thin: np.ndarray
    end_loss: np.ndarray
    wind: np.ndarray
    straight: np.ndarray  # row of the run that leads into it by a junction, -1 where none does
    branch: np.ndarray
    form: np.ndarray  # (sections, 6) of that junction
    slender: np.ndarray
    fixed: np.ndarray
    half: np.ndarray
    inertance: np.ndarray


def sections(network: Network, grid: Grid) -> Sections:
    """The sections of a network whose gas is that of a grid."""
    pipes, cells = network.pipes, grid.last - grid.first + 1
    names = ("area", "rise", "end_loss", "wind")
    return Sections(
        first=grid.first,
        last=grid.last,
        parent=np.array([p.parent for p in pipes]),
        **{name: np.array([getattr(p, name) for p in pipes], float) for name in names},
        thin=np.array([p.thin_air for p in pipes]),
        straight=np.array([p.children[0] if p.form is not None and len(p.children) == 2 else -1 for p in pipes]),
        branch=np.array([p.children[-1] if p.form is not None else -1 for p in pipes]),
        form=np.array([p.form or np.zeros(6) for p in pipes], float),
        slender=(grid.length / grid.pipe.diameter)[:, 0],
        fixed=np.where(grid.real, grid.pipe.fixed_loss[:, 0] / cells[grid.section], 0.0),
        half=(0.5 / grid.area**2)[:, 0],
        inertance=(grid.length / grid.area)[:, 0],
    )


@loop
def balance_all(
    of, flow, gained, density, friction, step, outdoor, wind_head, at, device, pressed, pressure, room, found
):
    """Pressures of one moment and how they answer the volume flows, into ``found`` (5, sections, runs).

    Those at the upstream and at the downstream end; by how much the rise from one to the other, and into the leg,
    answers its own flow and that of the other leg [Pa s/m3]; the velocity head upstream. ``pressed`` is that before,
    and then after. ``outdoor`` density (runs); ``wind_head``, of the first run in the place ``at``; ``device`` (3,
    sections, runs): what it adds, its slope against the flow, and the flow there. ``room`` (7, sections) to work in.
    """
    up, down, own, other, head = found[0], found[1], found[2], found[3], found[4]
    count = of.first.size
    drop, fall, added, dense_in, dense_out, mean, whole = room[0], room[1], room[2], room[3], room[4], room[5], room[6]
    for r in range(flow.shape[1]):
        for s in range(count):
            first, last, slower = of.first[s], of.last[s], 1.0 / pressed[s, r]
            loss = inertia = stretch = resistance = all_inertia = held = flows = 0.0
            for i in range(first, last + 1):
                both = flow[i, r] + flow[i - 1, r]  # twice the flow through the place
                momentum = of.half[i] * density[i, r]
                factor = 0.5 * momentum * (friction[i, r] * of.slender[i] + of.fixed[i]) * np.abs(both)
                mass = density[i, r] * of.inertance[i] * (0.5 / step)
                loss += 0.5 * factor * both
                inertia += mass * (gained[i, r] + gained[i - 1, r])
                stretch += momentum * both * (flow[i, r] - flow[i - 1, r])
                resistance, all_inertia = resistance + factor, all_inertia + mass
                held, flows = held + density[i, r], flows + both
            begin, end, cells = flow[first - 1, r], flow[last, r], last + 1 - first
            dense_in[s] = density[first - 1, r] if begin > 0.0 else density[first, r]
            dense_out[s] = density[last, r] if end > 0.0 else density[last + 1, r]
            mean[s], whole[s] = held / cells, flows / cells
            acceleration = stretch + 0.5 / of.area[s] ** 2 * (dense_in[s] * begin**2 - dense_out[s] * end**2)
            draft = GRAVITY * of.rise[s] * (outdoor[r] * of.thin[s] - pressed[s, r] * mean[s])
            added[s] = device[0, s, r] + device[1, s, r] * (end - device[2, s, r])
            drop[s] = (loss + acceleration) * slower + inertia - draft - added[s]
            own[s, r] = 2.0 * slower * resistance + 2.0 * all_inertia - device[1, s, r]
            other[s, r] = fall[s] = 0.0
            head[s, r] = 0.5 * slower * dense_in[s] * (begin / of.area[s]) ** 2
            if of.parent[s] < 0:
                mouth = ((1.0 if end >= 0.0 else FALLING_AIR_LOSS) + of.end_loss[s]) * dense_out[s]
                mouth = mouth * np.abs(end) / (2.0 * of.area[s] ** 2)
                fall[s] = of.wind[s] * wind_head[at + r] + mouth * end
                own[s, r] += 2.0 * mouth
        for s in range(count):
            branch, straight, denser = of.branch[s], of.straight[s], pressed[s, r]
            if branch < 0:
                continue
            branch_flow, run_flow, run_density = dense_out[branch] * flow[of.last[branch], r], 0.0, dense_in[s]
            if straight >= 0:
                run_flow, run_density = dense_out[straight] * flow[of.last[straight], r], dense_out[straight]
            volumes = 1.0 / (denser * dense_out[branch]), 1.0 / (denser * run_density), 1.0 / (denser * dense_in[s])
            k = of.form[s]
            form = junctions.Coefficients(k[0], k[1], k[2], k[3], k[4], k[5])
            down_b, down_s, bb, bs, sb, ss = junctions.leg_pressures(form, volumes, of.area[s], branch_flow, run_flow)
            fall[branch] += down_b
            own[branch, r] += bb * dense_out[branch]
            if straight >= 0:
                fall[straight] += down_s
                own[straight, r] += ss * dense_out[straight]
                other[branch, r], other[straight, r] = bs * dense_out[straight], sb * dense_out[branch]
        for s in range(count - 1, -1, -1):
            slower = 1.0 / pressed[s, r]
            up[s, r] = drop[s] + fall[s] + (up[of.parent[s], r] if of.parent[s] >= 0 else 0.0)
            down[s, r] = up[s, r] - drop[s]
            middle = 0.5 * slower * mean[s] * (0.5 * whole[s] / of.area[s]) ** 2
            gauge = 0.5 * (up[s, r] + down[s, r] - added[s]) - middle
            pressed[s, r] = 1.0 + gauge / (pressure * of.thin[s])
