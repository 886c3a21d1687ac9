"""Carbon monoxide, the chapter: the swimming hall's office at seven in the morning, controls, questions, checks."""

from collections.abc import Callable, Mapping, Sequence
from functools import cache, partial

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from ventcalc import tables
from ventcalc.building import co_alarms, co_buildup, co_conversions, co_exposure, co_limits, co_words, cohb, spillage
from ventcalc.building.co_exposure import COCase, Exposure, Neighbor
from ventcalc.building.co_limits import Judged, Limit
from ventcalc.checked import Check, compare
from ventcalc.gas import atmosphere, combustion, combustion_analysis
from ventcalc.gas.combustion import Products
from ventcalc.gas.fuels import fuel
from ventcalc.handbook.common_vent import swim_hall
from ventcalc.show.axes import picture, plain, row_of_axes
from ventcalc.show.exercises import Exercise
from ventcalc.show.exposure_plot import exposure
from ventcalc.show.panels import Panel, choice, folded, paragraph, slider, table
from ventcalc.show.plots import BLUE, GREY, INK, PALE, RUST, SIZE, WIDTH
from ventcalc.show.prediction import Prediction
from ventcalc.show.prediction import load as predict
from ventcalc.show.questions import load
from ventcalc.show.writing import Writing
from ventcalc.show.writing import load as load_writing
from ventcalc.units import Q_, Quantity, show
from ventcalc.vent import common_vent, states

OFFICE = "office"
BEGINS = 2.5  # o'clock at which the boilers are called (invented)
AS_TOLERATED = Q_(400.0, "ppm")  # CO air-free that an appliance standard bears (from memory, CO48)
OUT_OF_TUNE = Q_(2000.0, "ppm")  # CO air-free of the burner in the story (invented)
HOURS = Q_(6.0, "hour")

_LINES = {co_exposure.ROOM: ("-", RUST), OFFICE: ("--", BLUE)}
_DOING = {"resting": (":", GREY), "sedentary": ("-", BLUE), "light work": ("--", INK), "heavy work": ("-.", RUST)}


# --- The swimming hall, that morning ----------------------------------------------------------------------------------


@cache
def leak() -> Quantity:
    """Flue gas that comes back through the idle Boiler 1 while both others fire high on a warm summer morning."""
    job = swim_hall()
    top = [len(a.states) - 1 for a in job.plant.appliances]
    codes = np.array([[0], *([c] for c in top[1:])])
    summer = [s.name for s in job.seasons].index("summer")
    state = states.States(codes, np.array([summer]), np.zeros(1), np.zeros(1))
    drawn = common_vent.solve(job.plant, job.seasons, state).drawn
    return Q_(-float(drawn[0, 0]), "kg/s")


@cache
def burning() -> Products:
    """Flue gas of the swimming hall's boilers at high fire."""
    boiler = swim_hall().plant.appliances[1]
    return combustion.products(boiler.fuel, boiler.levels[-1].excess_air)


def made() -> Quantity:
    """Flue gas that the two firing boilers make together."""
    heat = sum(a.levels[-1].heat_input for a in swim_hall().plant.appliances[1:])
    return spillage.spilled_share(heat, 1.0, burning())


def place() -> Quantity:
    """Absolute pressure at the swimming hall."""
    return atmosphere.standard_pressure(swim_hall().plant.altitude)


def rooms(co_air_free: Quantity = OUT_OF_TUNE, **more) -> COCase:
    """The boiler room and the office beside it (invented): tight, as after a night with closed doors."""
    office = Neighbor(OFFICE, Q_(2000.0, "ft**3"), Q_(0.2, "1/hour"), Q_(40.0, "cfm"))
    given = {"hours": HOURS, "room_temperature": Q_(86.0, "degF"), "neighbor": office} | more
    return COCase(Q_(9000.0, "ft**3"), Q_(0.3, "1/hour"), co_air_free, **given)


def morning(case: COCase) -> Exposure:
    """What the leak of Boiler 1 does in these rooms."""
    return co_exposure.judge(case, leak(), burning(), place())


def o_clock(seconds: float) -> str:
    """A time of the history as a clock shows it; "never" where it is infinite."""
    if not np.isfinite(seconds):
        return "never"
    minutes = round(60.0 * BEGINS + seconds / 60.0)
    return f"{minutes // 60}:{minutes % 60:02d}"


def volume_text(volume: Quantity, system: str) -> str:
    """A room's volume as it is written."""
    return f"{volume.m_as('ft**3'):,.0f} ft³" if system == "US" else f"{volume.m_as('m**3'):,.0f} m³"


# --- Tables -----------------------------------------------------------------------------------------------------------


def given(system: str = "US") -> str:
    """What comes back that morning, and the rooms that it fills."""
    case, share = rooms(), (leak() / made()).to("")
    told = [f"flue gas that comes back through Boiler 1: {show(leak(), system)}, {share.m:.2%} of what the others make"]
    sizes = ((co_exposure.ROOM, case.room_volume, case.air_changes),
             (OFFICE, case.neighbor.volume, case.neighbor.air_changes))  # fmt: skip
    told += [f"{name}: {volume_text(v, system)}, {n.m:g} air changes an hour from outdoors" for name, v, n in sizes]
    under = show(case.neighbor.exchange, system, "volume flow")
    return "\n".join([*told, f"air exchanged under the door: {under}"])


def burners_told(*cases: COCase) -> HTML:
    """Both rooms at the end of the morning, and when an alarm to UL 2034 may and must sound, for each burner."""
    rows = []
    for case in cases:
        found = morning(case)
        for name, co, end in zip(case.rooms, found.co, found.steady, strict=True):
            alarm = next(row[2:] for row in alarm_rows(found) if row[:2] == (name, "UL 2034"))
            rows.append(
                (f"{case.co_air_free.m:,.0f} ppm air-free", name, f"{co[-1]:.0f} ppm", f"{end:.0f} ppm", *alarm)
            )
    last = o_clock(float(HOURS.m_as("s")))
    return HTML(table(("burner", "room", f"at {last}", "in the end", "alarm may sound", "must sound"), rows))


def judged_rows(found: Exposure, room: str) -> list[tuple[str, ...]]:
    """Rows under `JUDGED`: every limit as printed and held against one room, what was passed first by the clock."""
    told = []
    for j in _judged(found, room):
        x, verdict = j.limit, f"fail by {j.by:,.1f} ppm" if j.verdict == "fail" else j.verdict
        printed, status = f"{x.printed}, {x.averaging}", x.status.partition(":")[0]
        told.append((f"{x.body}: {x.rule}", printed, f"{j.worst:,.1f}", o_clock(j.over), verdict, status))
    return told


def _judged(found: Exposure, room: str) -> list[Judged]:
    return sorted((j for j in found.judged if j.room == room), key=lambda j: (j.over, j.limit.level))


JUDGED = ("limit", "as printed", "worst mean, ppm", "passed at", "verdict", "status")


def source_rows(found: Exposure, room: str) -> list[tuple[str, ...]]:
    """Rows: every limit in the order of `judged_rows`, with its source, edition and status."""
    limits = (j.limit for j in _judged(found, room))
    return [(f"{x.body}: {x.rule}", x.whom, x.source, x.edition, x.status) for x in limits]


def judged_told(found: Exposure, room: str) -> HTML:
    """Every limit held against one room, and folded up under it where each was read."""
    sources = table(("limit", "for", "source", "edition", "status"), source_rows(found, room))
    return HTML(
        table(JUDGED, judged_rows(found, room)) + folded("Open the sources and editions of these limits", sources)
    )


def facts_told(kind: str) -> HTML:
    """What has been published of "interlock" or "placement", folded up under a line that names who says it."""
    rows = fact_rows(kind)
    named = ", ".join(dict.fromkeys(row[0] for row in rows))
    return HTML(folded(f"Open what is told by {named}", table(FACTS, rows)))


def stopped_told(level: Quantity, system: str = "US") -> HTML:
    """That morning with the burners stopped at a level in the boiler room: what it comes to."""
    return HTML("".join(map(paragraph, co_words.sentences(morning(rooms(monitor=level)), system))))


def fact_rows(kind: str) -> list[tuple[str, ...]]:
    """Rows under `FACTS` of "interlock" or "placement" facts."""
    return [
        (row["body"], row["rule"], f"{row['value']} {row['unit']}".strip(), row["whom"], row["note"],
         f"{row['source']}; {row['edition']}; {row['status']}")
        for row in co_limits.facts(kind)
    ]  # fmt: skip


FACTS = ("who says so", "what", "level", "where", "more", "source; edition; status")


def alarm_rows(found: Exposure) -> list[tuple[str, ...]]:
    """Rows: for each room and standard when an alarm may and when it must sound."""
    pairs = zip(found.case.rooms, found.alarms, strict=True)
    return [(room, b.standard, o_clock(b.earliest), o_clock(b.latest)) for room, bands in pairs for b in bands]


# --- What the chapter stands on ---------------------------------------------------------------------------------------

_LIMIT_OF = {
    "O001": "CO01", "O003": "CO02", "O004": "CO03", "O005": "CO04", "O006": "CO05", "O007": "CO06", "O008": "CO09",
    "O009": "CO10", "O010": "CO11", "O011": "CO12", "O012": "CO13", "O013": "CO14", "O014": "CO15", "O015": "CO16",
    "O016": "CO17", "O017": "CO18", "O018": "CO19",
}  # fmt: skip
_STARTS = {"predicted": 0.005, "measured": cohb.BACKGROUND, "regression": 0.0075, "alarm": 0.008}


def checks() -> tuple[Check, ...]:
    """Limits, conversions, alarm times; a room with a source; COHb after exposures, its end and its half-life."""
    ours = {row["id"]: _ours(row) for row in tables.read("carbon_monoxide_checks")}
    return compare("carbon_monoxide_checks", ours)


def _ours(row: Mapping[str, str]):
    quantity = row["quantity"]
    if row["id"] in _LIMIT_OF:
        return _as_printed(_limit(_LIMIT_OF[row["id"]]), row["unit"])
    if quantity.startswith("residential alarm"):
        return _alarm(row)
    if quantity.startswith("air-free CO") and row["co_measured_ppm"]:
        return _air_free(row)
    if quantity.startswith("COHb"):
        return _bound(row)
    return _OTHERS[row["id"]]()


def _limit(key: str) -> Limit:
    order = [row["id"] for row in co_limits.facts("limit")]
    return co_limits.limits()[order.index(key)]


def _as_printed(limit: Limit, unit: str):
    level = Q_(limit.level, "ppm")
    return level if unit == "ppm" else _milligrams(level)


def _milligrams(level: Quantity) -> float:
    at = (co_limits.LIMIT_TEMPERATURE, co_limits.LIMIT_PRESSURE)
    return float(co_conversions.mass_concentration(level, *at).m_as("mg/m**3"))


def _alarm(row: Mapping[str, str]):
    level = float(row["co_measured_ppm"] or 30.0)
    times = np.linspace(0.0, 31 * 86400.0, 31 * 24 * 12 + 1)
    band = co_alarms.alarm_band(times, np.full(times.shape, level))
    seconds = band.latest if "latest" in row["quantity"] else band.earliest
    return Q_(seconds, "s") if row["unit"] == "min" else seconds / 86400.0


def _air_free(row: Mapping[str, str]) -> Quantity:
    co = Q_(float(row["co_measured_ppm"]), "ppm")
    if row["o2_dry_pct"]:
        return combustion_analysis.co_air_free(co, Q_(float(row["o2_dry_pct"]), "percent"))
    percents = (Q_(float(row[c]), "percent") for c in ("co2_dry_pct", "ultimate_co2_pct"))
    return co_conversions.co_air_free_by_co2(co, *percents)


def _bound(row: Mapping[str, str]):
    who, level = cohb.person(row["activity"]), float(row["co_measured_ppm"])
    if not row["minutes"]:
        return cohb.steady_cohb(Q_(level, "ppm"), who)
    start = next((x for word, x in _STARTS.items() if word in row["quantity"]), cohb.BACKGROUND)
    times = Q_(np.linspace(0.0, float(row["minutes"]), 13), "minute")
    return cohb.cohb(times, Q_(np.full(13, level), "ppm"), who, start)[-1]


def _exercise_room() -> dict[str, Quantity]:
    """The printed exercise: 1.2e-6 m3/s of pure CO into a room that 3e-3 m3/s leave."""
    return {"ventilation": Q_(3e-3, "m**3/s"), "spill": Q_(1.2e-6, "m**3/s"), "spill_co": Q_(1e6, "ppm")}


def _factor_a() -> Quantity:
    """A of the linear CFK form: ``ln 2 Vb B / half-life``."""
    who = cohb.person("sedentary")
    resistance = Q_(who.resistance(101325.0), "Pa*s/m**3")
    return np.log(2.0) * Q_(cohb.BLOOD, "m**3") * resistance / cohb.half_life(who)


def _half_life(unit: str, **breathing) -> float:
    return float(cohb.half_life(cohb.person("resting"), **breathing).m_as(unit))


_OTHERS: dict[str, Callable] = {
    "O002": lambda: _milligrams(Q_(50.0, "ppm")),
    "O019": lambda: _milligrams(Q_(1.0, "ppm")),
    "O032": lambda: AS_TOLERATED,
    "CM01": lambda: co_buildup.steady_state(**_exercise_room()),
    "CM02": lambda: float(
        co_buildup.time_to_reach(Q_(120.0, "ppm"), Q_(40.0, "m**3"), **_exercise_room()).m_as("hour")
    ),
    "CM03": lambda: 1e6 / float((Q_(101325.0 - cohb.BODY_VAPOUR, "Pa")).m_as("mmHg")),
    "CM04": lambda: float(_factor_a().m_as("mmHg")),
    "CM05": lambda: float(_factor_a().m_as("mmHg")) * cohb.CAPACITY / 100.0,
    "CM06": lambda: _half_life("minute"),
    "CM07": lambda: _half_life("hour"),
    "CM08": lambda: _half_life("minute", oxygen=1.0),
    "CM09": lambda: _half_life("minute", oxygen=1.0, pressure=Q_(3.0, "atm")),
}


# --- Figures ----------------------------------------------------------------------------------------------------------


def sketch() -> Figure:
    """The boiler room and the office from the side: where flue gas comes in, where air changes places."""
    figure = Figure((WIDTH, 3.2))
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set(xlim=(0.0, 17.0), ylim=(-0.4, 7.6), aspect="equal")
    axes.axis("off")
    for left, width, name in ((0.6, 10.0, co_exposure.ROOM), (10.6, 5.6, OFFICE)):
        axes.add_patch(Rectangle((left, 0.0), width, 4.4, fc="white", ec=INK, lw=2.0, zorder=0))
        axes.text(left + width - 0.15, 4.05, name, size=SIZE, weight="bold", va="center", ha="right")
    for k, x in enumerate((1.0, 3.8, 6.6)):
        axes.add_patch(Rectangle((x, 0.0), 1.8, 2.0, fc="white" if k == 0 else PALE, ec=INK, lw=1.5))
        axes.plot([x + 0.9] * 2, [2.0, 5.4], color=GREY, lw=9, solid_capstyle="butt", zorder=1)
        axes.text(x + 0.9, 1.0, ("1\nidle", "2\nfires", "3\nfires")[k], size=SIZE, ha="center", va="center")
    axes.plot([1.9, 12.5, 12.5], [5.4, 5.4, 7.4], color=GREY, lw=12, solid_capstyle="projecting", zorder=1)
    _arrow(axes, (5.2, 2.4), (5.2, 4.2), INK)
    _arrow(axes, (8.0, 2.4), (8.0, 4.2), INK)
    _arrow(axes, (1.4, 4.2), (1.4, 2.4), RUST)
    _arrow(axes, (2.4, 1.6), (3.3, 2.7), RUST)
    axes.text(2.3, 3.3, "flue gas\ncomes back", size=SIZE, color=RUST, va="center")
    axes.add_patch(Rectangle((10.45, 0.3), 0.3, 1.0, fc="white", ec="white", zorder=3))
    _arrow(axes, (9.6, 1.0), (11.7, 1.0), RUST)
    _arrow(axes, (11.7, 0.5), (9.6, 0.5), BLUE)
    axes.text(11.9, 0.75, "under the door", size=SIZE, va="center")
    axes.add_patch(Rectangle((14.6, 2.2), 0.5, 0.5, fc=PALE, ec=INK, lw=1.2))
    axes.text(14.85, 3.1, "alarm", size=SIZE, ha="center", va="center")
    axes.text(12.8, 6.6, "stack", size=SIZE, va="center")
    return figure


def _arrow(axes: Axes, start: Sequence[float], end: Sequence[float], color: str) -> None:
    axes.annotate("", end, start, arrowprops={"arrowstyle": "-|>", "color": color, "lw": 2.0}, zorder=5)


def morning_chart(found: Exposure, standard: str = "UL 2034") -> Figure:
    """Both rooms by the clock, and when the alarm in the office may and must sound."""
    figure = Figure((WIDTH, 3.6))
    axes = figure.add_axes((0.1, 0.15, 0.87, 0.71))
    clock = BEGINS + found.times / 3600.0
    k = len(found.case.rooms) - 1
    band = next(b for b in found.alarms[k] if b.standard == standard)
    if np.isfinite(band.earliest):
        edges = BEGINS + np.array([band.earliest, min(band.latest, found.times[-1])]) / 3600.0
        axes.axvspan(*edges, fc=PALE, ec=GREY, hatch="//", lw=0.0, label=f"alarm in the {OFFICE}: {standard}")
    for name, co in zip(found.case.rooms, found.co, strict=True):
        line, color = _LINES[name]
        axes.plot(clock, co, line, color=color, lw=2.2, label=name)
    least = co_alarms.alarm_points(standard)["latest"][0][0]
    axes.axhline(least, color=INK, lw=1.0, ls=":", label=f"{least:.0f} ppm: below it no alarm need ever sound")
    axes.set_ylim(0.0, 1.12 * max(found.co.max(), least))
    axes.set_xlim(clock[0], clock[-1])
    figure.legend(loc="upper center", ncols=2, frameon=False, fontsize=SIZE)
    return plain(axes, "o'clock in the morning", "carbon monoxide, ppm").figure


def blood_chart(found: Exposure, room: int) -> Figure:
    """COHb of people who do different things in one room the whole time."""
    figure = Figure((WIDTH, 3.4))
    axes = figure.add_axes((0.1, 0.16, 0.73, 0.78))
    clock = BEGINS + found.times / 3600.0
    pressure = place()
    for activity, (line, color) in _DOING.items():
        who = cohb.person(activity)
        bound = cohb.cohb(Q_(found.times, "s"), Q_(found.co[room], "ppm"), who, pressure=pressure)
        axes.plot(clock, bound.m_as("percent"), line, color=color, lw=2.0, label=activity)
    for level, words in ((2.5, "2.5 %:\nWHO 2000"), (10.0, "about 10 %:\nUL 2034")):
        axes.axhline(level, color=INK, lw=0.9)
        axes.text(clock[-1] + 0.05, level, words, size=SIZE, va="center", clip_on=False)
    axes.legend(loc="upper left", framealpha=1.0, edgecolor="none", fontsize=SIZE)
    axes.set_xlim(clock[0], clock[-1])
    axes.set_ylim(0.0, None)
    return plain(axes, "o'clock in the morning", "COHb, % of hemoglobin").figure


def alarm_chart() -> Figure:
    """Test points of two alarm standards, and when someone at heavy work has 10 % COHb."""
    _, (axes,) = row_of_axes(height=3.8)
    levels = np.geomspace(30.0, 600.0, 60)
    for standard, style, color in (("UL 2034", "-", RUST), ("EN 50291", "--", BLUE)):
        points = co_alarms.alarm_points(standard)
        for edge, mark in (("earliest", "^"), ("latest", "v")):
            ppm, wait = points[edge]
            inside = (wait > 0.0) & (wait < 86400.0)
            label = f"{standard}, {edge}"
            axes.plot(ppm[inside], wait[inside] / 60.0, style, marker=mark, ms=8, color=color, label=label)
    wait = np.array([_to_ten_percent(level) for level in levels]) / 60.0
    axes.plot(levels, wait, ":", color=INK, lw=2.0, label="10 % COHb, heavy work")
    axes.set(xscale="log", yscale="log", ylim=(1.0, 1000.0), xlim=(30.0, 640.0))
    axes.set_xticks([30, 50, 70, 100, 150, 300, 400, 600], ["30", "50", "70", "100", "150", "300", "400", "600"])
    axes.minorticks_off()
    axes.set_yticks([1, 3, 10, 30, 100, 300, 1000], ["1", "3", "10", "30", "100", "300", "1000"])
    axes.legend(loc="upper right", frameon=False, fontsize=SIZE)
    return plain(axes, "constant carbon monoxide, ppm", "time to the alarm, min").figure


def _to_ten_percent(level: float) -> float:
    """When someone at heavy work comes to 10 % COHb at one concentration [s]; not a number where never."""
    times = np.linspace(0.0, 86400.0, 1441)
    who = cohb.person("heavy work")
    if cohb.steady_cohb.bare(level, who) <= cohb.ALARM_COHB:
        return np.nan
    bound = cohb.cohb.bare(times, np.full(times.shape, level), who)
    return float(np.interp(cohb.ALARM_COHB, bound, times))


def ventilation_chart(case: COCase) -> Figure:
    """Where the boiler room by itself would end, over its air changes, for the burner as tolerated and out of tune."""
    _, (axes,) = row_of_axes(height=3.4)
    changes = np.geomspace(0.1, 20.0, 100)
    air = Q_(changes, "1/hour") * case.room_volume
    for co, line, color in ((OUT_OF_TUNE, "-", RUST), (AS_TOLERATED, "--", BLUE)):
        flow, flow_co = spillage.spilled(leak(), burning(), co, case.room_temperature, place())
        steady = co_buildup.steady_state(air, flow, flow_co)
        axes.plot(changes, steady.m_as("ppm"), line, color=color, lw=2.2, label=f"{co.m:,.0f} ppm air-free")
    for level, words in ((200.0, "NIOSH ceiling"), (70.0, "UL 2034, least"), (35.0, "NIOSH, 8 h"), (9.0, "EPA, 8 h")):
        axes.axhline(level, color=GREY, lw=0.9, ls=":")
        axes.text(19.0, level * 1.06, f"{level:.0f} ppm: {words}", size=SIZE, ha="right", va="bottom")
    axes.set(xscale="log", yscale="log", xlim=(0.1, 20.0), ylim=(1.0, 600.0))
    axes.set_xticks([0.1, 0.3, 1, 3, 10, 20], ["0.1", "0.3", "1", "3", "10", "20"])
    axes.set_yticks([1, 3, 10, 30, 100, 300], ["1", "3", "10", "30", "100", "300"])
    axes.minorticks_off()
    axes.legend(loc="lower left", frameon=False, fontsize=SIZE)
    return plain(axes, "outdoor air, room volumes an hour", "carbon monoxide in the end, ppm").figure


# --- Live controls ----------------------------------------------------------------------------------------------------

BOILER = Q_(2000.0, "MBH")  # whose flue gas the explorer spills a share of


def explorer(system: str = "US") -> Panel:
    """One room, one spill: carbon monoxide and COHb over the hours, limits and alarms."""

    return Panel(partial(explorer_answer, system), controls(system))


def controls(system: str) -> dict[str, widgets.Widget]:
    """The controls of `explorer` by name; values plain SI but for ppm, shares in percent and air changes an hour."""
    sizes = (2000, 4000, 9000, 20000, 40000) if system == "US" else (50, 100, 250, 500, 1000)
    volumes = [(volume_text(v, system), float(v.m_as("m**3"))) for v in (Q_(s, _VOLUME[system]) for s in sizes)]
    shares = [(f"{s:g} %", s) for s in (0.0, 0.05, 0.1, 0.2, 0.3, 0.5, 1.0, 2.0, 5.0, 10.0, 30.0, 100.0)]
    ppm = [(f"{c:,} ppm", float(c)) for c in (0, 50, 100, 200, 400, 800, 1200, 2000, 4000, 8000, 20000)]
    changes = [(f"{n:g} an hour", n) for n in (0.0, 0.1, 0.2, 0.3, 0.5, 1.0, 2.0, 4.0, 8.0, 15.0)]
    return {
        "share": slider("Flue gas spilled", shares, 1.0),
        "co": slider("CO, air-free", ppm, 2000.0),
        "volume": slider("Room", volumes, 250.0),
        "changes": slider("Air changes", changes, 0.3),
        "hours": slider("For", [(f"{h:g} h", h) for h in (0.5, 1.0, 2.0, 4.0, 6.0, 8.0, 12.0, 24.0)], 6.0),
        "monitor": choice("Burners stop at", [("nothing stops them", 0.0), *_STOPS], 0.0),
        "activity": choice("Someone there is", list(cohb.activities()), "light work"),
    }


_VOLUME = {"US": "ft**3", "SI": "m**3"}
_STOPS = [(f"{level:g} ppm", level) for level in (35.0, 50.0, 100.0, 200.0)]


def explorer_answer(
    system: str, *, share: float, co: float, volume: float, changes: float, hours: float, monitor: float, activity: str
) -> tuple[str, bytes]:
    """What a room comes to; share in percent of the flue gas of one boiler, volume m3, changes an hour."""
    products = combustion.products(fuel("natural gas"), burning().excess_air)
    spill = spillage.spilled_share(BOILER, share / 100.0, products)
    case = COCase(
        Q_(volume, "m**3"),
        Q_(changes, "1/hour"),
        Q_(co, "ppm"),
        Q_(hours, "hour"),
        monitor=Q_(monitor, "ppm") if monitor else None,
        activity=activity,
    )
    found = co_exposure.judge(case, spill, products, Q_(1.0, "atm"))
    return _explorer_words(found, system), picture(exposure(found))


def _explorer_words(found: Exposure, system: str) -> str:
    worst = sorted(found.failed, key=lambda j: j.over)
    first = f"{worst[0].limit.name}, after {co_limits.clock(worst[0].over)}" if worst else "none"
    bands = {b.standard: b for b in found.alarms[0]}
    rows = [
        ("flue gas spilled", f"{show(Q_(found.spill, 'kg/s'), system)}, {found.flow_co:,.0f} ppm CO in it"),
        ("at most / where it would end", f"{found.co[0].max():,.0f} ppm / {found.steady[0]:,.0f} ppm"),
        ("limits that fail", f"{len(worst)} of {len(found.judged)}; the first: {first}"),
        *((f"alarm to {name}", _span(band)) for name, band in bands.items()),
        (
            f"COHb at most, {found.case.activity}",
            f"{found.blood[0].max():.1%} (healthy adult, raised by {cohb.COHB_MARGIN - 1.0:.0%})",
        ),
    ]
    if np.isfinite(found.stopped):
        rows.append(("burners stopped after", co_limits.clock(found.stopped)))
    return table(("what happens", ""), rows) + paragraph(co_words.CAUTION)


def _span(band: co_alarms.AlarmBand) -> str:
    if not np.isfinite(band.earliest):
        return "need not sound"
    latest = co_limits.clock(band.latest) if np.isfinite(band.latest) else "never has to"
    return f"from {co_limits.clock(band.earliest)}; at the latest: {latest}"


# --- Prediction, and what is to be written ----------------------------------------------------------------------------


def prediction(system: str = "US") -> Prediction:
    """What the reader expects of an alarm at a low level."""
    return predict("carbon_monoxide", an_even_day, system)


def an_even_day(level: int) -> dict[str, Quantity | float | int]:
    """What an alarm to UL 2034 must do in a day at one level [ppm], and what the day does to whoever is there."""
    hours = np.linspace(0.0, 24.0, 1441)
    latest = co_alarms.alarm_band(3600.0 * hours, np.full(hours.shape, float(level)), "UL 2034").latest / 3600.0
    bound = cohb.cohb(Q_(hours, "hour"), Q_(np.full(hours.shape, float(level)), "ppm"), cohb.person("light work"))
    held = [x for x in co_limits.limits() if x.window <= 86400.0]
    return {
        "right": 0 if latest <= 4.0 else 1 if latest <= 24.0 else 2,
        "figure": bound[480].to("percent"),
        "day": bound[-1].to("percent"),
        "fails": sum(x.level < level for x in held),
        "limits": len(held),
    }


def writing(system: str = "US") -> Writing:
    """How a room fills, to be written by the reader."""
    return load_writing("carbon_monoxide", filling, system)


def filling(
    time: Quantity, volume: Quantity, air: Quantity, spill: Quantity, inside: Quantity, system: str
) -> dict[str, Quantity]:
    """Carbon monoxide of a room that was clean at first, and what it becomes by the slips that are made with it."""
    answer = co_buildup.concentration(time, volume, air, spill, inside)
    end, passed, thinned = inside * (spill / air).to(""), (air * time / volume).to("").m, (1.0 + spill / air).to("").m
    # Hours in a flow by the minute or by the second.
    unit = Q_(1.0, "minute" if system == "US" else "s")
    hours = co_buildup.concentration(time.m_as("hour") * unit, volume, air, spill, inside)
    return {
        "answer": answer,
        "hours": hours,
        "thinned": end / thinned * -np.expm1(-passed * thinned),
        "first_slope": end * passed,
        "in_the_end": end,
        "falling": end * np.exp(-passed),
    }


# --- Questions --------------------------------------------------------------------------------------------------------


def questions(system: str = "US", seed: int | None = None) -> tuple[Exercise, ...]:
    """Questions of the chapter, with its own figures or those that ``seed`` draws."""
    return load("carbon_monoxide", (reading, end, wait, air, mean), system, seed)


def reading(ppm: int, oxygen: float) -> dict[str, Quantity | float | str]:
    """CO without the air that dilutes it."""
    co, o2 = Q_(float(ppm), "ppm"), Q_(oxygen, "percent")
    share = "half" if oxygen == 10.0 else f"{oxygen / 20.95:.0%}"
    wrong = {"as_read": co, "upside_down": as_diluted(co, o2)}
    return {"answer": combustion_analysis.co_air_free(co, o2), "rest": 20.95 - oxygen, "share": share, **wrong}


def as_diluted(co: Quantity, oxygen: Quantity) -> Quantity:
    """CO that gas of so much air-free CO shows beside that oxygen."""
    return co_conversions.as_measured(co, oxygen)


def end(inside: int, air: Quantity, flow: Quantity) -> dict[str, Quantity | float]:
    """Where the CO of a room ends."""
    gas = Q_(float(inside), "ppm")
    told = {"q": float(flow.m), "Q": float(air.m)}
    wrong = {"thinned": gas * (flow / (air + flow)).to(""), "as_it_comes": gas}
    return {"answer": co_buildup.steady_state(air, flow, gas), **told, **wrong}


def wait(volume: Quantity, changes: float, end: int, system: str) -> dict[str, Quantity | str | int]:
    """How long CO takes to a level on its way to another."""
    level, rate = 35, Q_(changes, "1/hour")
    answer = (np.log(end / (end - level)) / rate).to("s")
    wrong = {"first_slope": level / end / rate, "falling": np.log(end / level) / rate}
    return {"answer": answer, "room": volume_text(volume, system), "left": end - level, **wrong}


def air(flow: Quantity, inside: int) -> dict[str, Quantity]:
    """Outdoor air that holds a room at a level of CO."""
    level = 9.0
    answers = {"answer": inside / level, "thinned": (inside - level) / level, "upside_down": level / inside}
    return {name: (flow * ratio).to("m**3/s") for name, ratio in answers.items()}


def mean(level: int) -> dict[str, Quantity]:
    """A mean over a day's work."""
    return {name: Q_(level * 2.0 / hours, "ppm") for name, hours in (("answer", 8), ("two_hours", 2), ("six_hours", 6))}
