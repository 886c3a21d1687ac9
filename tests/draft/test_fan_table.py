"""Fan tables: a reader's own in both unit systems, every fault named with its line."""

import numpy as np
import pytest
from sample_fans import FANS

from ventcalc.draft import fan_curve, fan_limits, fan_table
from ventcalc.units import Q_

HEADER = (
    "name,kind,outlet_diameter_mm,rated_speed_rpm,least_speed_rpm,most_speed_rpm,stall_flow_m3_h,motor_W,"
    "highest_temperature_C,density_kg_m3,stopped_loss,speed_rpm,flow_m3_h,pressure_Pa,power_W"
)
FIRST = "mine,roof,200,1400,350,1400,200,60,250,1.2,8"
ROWS = ["1400,0,130,20", "1400,360,120,28", "1400,720,90,34", "1400,1080,45,36", "1400,1260,0,35", "700,360,30,4"]


def table(first=FIRST, rows=ROWS, header=HEADER):
    lines = [f"{first},{rows[0]}", *(f"mine{',' * 11}{row}" for row in rows[1:])]
    return "# my own fan\n" + "\n".join([header, *lines]) + "\n"


def test_a_readers_own_table_in_si(tmp_path):
    (fan,) = fan_table.read_curve(table())
    assert fan.name == "mine" and fan.free_flow == pytest.approx(0.35) and fan.least_speed == pytest.approx(0.25)
    assert fan_curve.static_pressure(fan, Q_(360.0, "m**3/hour"), 1.0, Q_(1.2, "kg/m**3")).m_as("Pa") == pytest.approx(
        120.0
    )
    path = tmp_path / "mine.csv"
    path.write_text(table(), encoding="utf-8")
    assert fan_table.read_curve(path) == fan_table.read_curve(str(path)) == (fan,)


def test_the_same_table_in_us_units_is_the_same_fan():
    def cfm(text):
        return repr(float(Q_(float(text), "m**3/hour").m_as("cfm")))

    rows = []
    for row in ROWS:
        speed, flow, pressure, power = row.split(",")
        inches, hp = Q_(float(pressure), "Pa").m_as("inH2O"), Q_(float(power), "W").m_as("horsepower")
        rows.append(f"{speed},{cfm(flow)},{inches!r},{hp!r}")
    header = (
        HEADER.replace("flow_m3_h", "flow_cfm").replace("pressure_Pa", "pressure_inwc").replace("power_W", "power_hp")
    )
    first = FIRST.split(",")
    first[6] = cfm(first[6])
    (us,), (si,) = fan_table.read_curve(table(",".join(first), rows, header)), fan_table.read_curve(table())
    flow = np.linspace(-0.05, 0.5, 12)
    assert fan_curve.static_pressure.bare(us, flow, 0.8, 1.0) == pytest.approx(
        fan_curve.static_pressure.bare(si, flow, 0.8, 1.0)
    )
    assert fan_limits.stalled.bare(us, flow, 1.0).tolist() == fan_limits.stalled.bare(si, flow, 1.0).tolist()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        (table(header=HEADER.replace("pressure", "presure")), "line 2: unknown column 'presure_Pa'; did you mean pres"),
        (table(header=HEADER.replace("flow_m3_h,pre", "x,pre")), "line 2: no column flow_cfm or flow_m3_s or flow_m3"),
        (table(header=HEADER.replace("power_W", "pressure_inwc")), "pressure stands in 2 columns"),
        (table(rows=[*ROWS[:2], "1400,x,90,34", *ROWS[3:]]), "line 5: flow_m3_h = 'x' is not a number"),
        (table(rows=[*ROWS[:2], "1400,inf,90,34", *ROWS[3:]]), "line 5: flow_m3_h = 'inf' is not a number"),
        (table(rows=[*ROWS[:3], "1400,1080,,36", *ROWS[4:]]), "line 6: pressure_Pa is empty"),
        (table(rows=[*ROWS[:3], "1400,1080,45", *ROWS[4:]]), "line 6: 14 cells under 15 column names"),
        (table(first=FIRST.replace("roof", "wall")), "line 3: mine: kind 'wall': choose roof or in-line"),
        (table(first=FIRST.replace(",60,", ",,")), "line 3: motor of mine is missing"),
        (table(header=HEADER.replace("stopped_loss", "condensate,stopped_loss"), first=FIRST[:-1] + "maybe,8",
               rows=[ROWS[0]]), "line 3: condensate of mine = 'maybe': choose yes or no"),
        (table(first=FIRST.replace(",8", ",0.5")), "stopped_loss = 0.5 is less than the curve's own fall at its end"),
        (table(first=FIRST.replace("350", "1500")), "need 0 < least <= most"),
        (table(rows=ROWS[1:]), "must begin at zero flow"),
        (table(rows=[*ROWS[:4], ROWS[5]]), "zero at the last point"),
        (table(rows=[*ROWS[:2], *ROWS[4:]]), "3 points at rated speed"),
        (table(rows=[*ROWS[:2], ROWS[1], *ROWS[2:]]), "have the same flow"),
        (table(rows=["1400,0,30,20", "1400,360,60,28", "1400,720,300,34", *ROWS[3:]]), "more speed would make less"),
        (table().replace(f"mine{',' * 11}700", f"mine,in-line{',' * 10}700"), "line 8: kind of mine is another"),
    ],
)  # fmt: skip
def test_every_fault_is_named_with_its_line(text, words):
    with pytest.raises(fan_table.CurveError) as caught:
        fan_table.read_curve(text + "\n")
    assert words in str(caught.value)


def test_several_faults_at_once():
    with pytest.raises(fan_table.CurveError) as caught:
        fan_table.read_curve(table(rows=[ROWS[0], "1400,x,90,y", "1400,720,,34", *ROWS[3:]]))
    assert len(caught.value.problems) == 3
    assert [p.partition(":")[0] for p in caught.value.problems] == ["line 4", "line 4", "line 5"]


def test_names_and_unknown_ones():
    assert len(fan_table.names("roof")) >= 3 and len(fan_table.names("in-line")) >= 3
    assert set(fan_table.names()) == set(fan_table.names("roof")) | set(fan_table.names("in-line"))
    with pytest.raises(ValueError, match="did you mean 'roof 12'"):
        fan_table.fan("rof 12")
    with pytest.raises(ValueError, match="choose roof or in-line"):
        fan_table.names("wall")


@pytest.mark.parametrize("like", ["roof 2", "in-line 2", "hot"])
def test_invented_sizes_are_one_family_by_similarity(like):
    # Equal wheels of other sizes: flow as n D^3, pressure as n^2 D^2, power as n^3 D^5, stretched curves alike
    # (fan laws; flows are rounded to the hundred).
    family = [each for each in FANS if each.name.startswith(like) and "shape after" in each.source]
    numbers, shapes = [], []
    for each in family:
        n, d = each.rated_speed.m_as("rad/s"), each.outlet_diameter.m_as("m")
        shut = each.rated[0].pressure
        numbers.append((each.free_flow / (n * d**3), shut / (n * d) ** 2, each.most_power / (n**3 * d**5)))
        shapes.append(each.pressure_curve(np.linspace(0.0, 1.0, 21) * each.free_flow) / shut)
    assert len(family) >= 2
    assert np.ptp(np.log(numbers), axis=0) == pytest.approx(0.0, abs=0.03)
    assert np.ptp(shapes, axis=0).max() < 0.02
