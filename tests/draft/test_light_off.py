"""Light-off: still stacks as in the chapter on the area rule, and starts that the load changes hold."""

from dataclasses import replace
from types import SimpleNamespace as Made

import numpy as np
import pytest
from sample_natural_draft import MILD, PLANT, POUND, SUMMER, TWO_PERCENT, WINTER, followed, found, scanned, start_of
from sample_plants import row_plant

from ventcalc.draft import light_off, load_changes
from ventcalc.draft.light_off import NIGHT, ROOM, STEADY, STILL
from ventcalc.gas import combustion
from ventcalc.handbook import area_rule as chapter
from ventcalc.units import Q_
from ventcalc.vent import cold_start
from ventcalc.vent.layout import Plant


@pytest.mark.parametrize("season", [WINTER, MILD], ids=lambda s: s.name)
def test_a_still_stack_starts_as_in_the_chapter(season):
    ours, there = (
        start_of(found("masonry_retrofit").starts, season.name, STILL, warm=True),
        chapter.started(season.name),
    )
    there = there["as it stands"]
    assert ours.draws_after == pytest.approx(there.draws_after, rel=TWO_PERCENT)
    assert ours.spilled == pytest.approx(there.spilled, rel=TWO_PERCENT)
    assert ours.condensed == pytest.approx(float(there.condensed[-1]), rel=TWO_PERCENT)
    # Printed there: 8 s on the mild day with the kitchen's fan on, none in winter.
    assert ours.draws_after == pytest.approx({WINTER.name: 0.0, MILD.name: 8.0}[season.name], abs=0.5)


def test_on_the_chapters_cold_morning_all_flue_gas_comes_into_the_room():
    calm = replace(MILD, room_pressure=Q_(0.0, "Pa"))
    starts = light_off.light_offs(PLANT, (calm,))
    ours = start_of(starts, calm.name, NIGHT, warm=True)
    there = cold_start.start_up(PLANT, calm, chapter.HALF_HOUR, start=Q_(35.0, "degF"))  # as `chapter.thaw`
    assert ours.walls == pytest.approx(Q_(35.0, "degF").m_as("K"))
    assert ours.fails and there.draws_after is None
    assert ours.spilled == pytest.approx(there.spilled, rel=TWO_PERCENT)
    # All that burns in half an hour; 27 lb are printed in the chapter.
    burner = PLANT.appliances[0]
    made = combustion.products.bare(burner.fuel, burner.levels[0].excess_air).mass_per_heat
    burnt = made * burner.levels[0].heat_input.m_as("W") * 1800.0
    assert ours.spilled == pytest.approx(burnt, rel=TWO_PERCENT)
    assert ours.spilled / POUND == pytest.approx(27.0, abs=0.5)
    assert not start_of(starts, calm.name, STILL, warm=True).spills
    # So in time, where the flue falls meanwhile: all that burns in that minute.
    falls = start_of(starts, calm.name, NIGHT)
    assert falls.fails and falls.spilled == pytest.approx(burnt * falls.within / 1800.0, rel=TWO_PERCENT)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["masonry_retrofit", "lodge"])
def test_a_vent_that_flows_before_is_what_the_load_changes_hold(name, monkeypatch):
    run, changes = followed(name), followed(name).changes

    def never(*_):
        raise AssertionError("solved twice")

    monkeypatch.setattr(load_changes, "follow", never)
    starts = light_off.light_offs(scanned(name).plant, scanned(name).seasons, run)
    steady = [s for s in starts if s.stack == STEADY]
    assert steady and all("lit" in changes[s.change].kind for s in steady)
    for s in steady:
        assert s.season == run.runs.seasons[changes[s.change].start.season].name
        spilled = run.runs.spilled[:, -1, s.change].sum()
        assert s.spilled == pytest.approx(spilled, abs=1e-6)
        rate = run.runs.spilled[:, -1, s.change] - run.runs.spilled[:, -2, s.change]
        assert s.still == pytest.approx(rate.sum() / run.runs.time[1], abs=1e-9)
    worst = {p.appliance: p.spilled for p in load_changes.passages(run)}
    if name == "masonry_retrofit":
        assert max(s.spilled for s in steady) == pytest.approx(worst["Water heater"])


def test_a_hood_whose_vent_runs_down_while_idle_does_not_draw():
    # The kitchen's fan pulls 3 Pa on the room, beyond the 2 Pa that an orphaned water heater bears (SP001 of
    # spillage_checks.csv, published): the idle flue runs down, and lit it goes on.
    starts = found("masonry_retrofit").starts
    down = start_of(starts, MILD.name, STEADY)
    assert down.fails and down.still > 0.0 and down.spilled == pytest.approx(down.still * down.within, rel=0.05)
    assert start_of(starts, WINTER.name, STEADY).draws_after == 0.0
    worst = {s.stack: s for s in found("masonry_retrofit").worst_starts()}
    assert set(worst) == {STEADY, STILL, ROOM, NIGHT}
    assert worst[STEADY].fails and worst[NIGHT].fails and worst[STILL].fails
    # Even full of still air it turns over before its connector is warm; with the connector warm at once it would draw.
    assert start_of(starts, MILD.name, STILL).fails and not start_of(starts, MILD.name, STILL, warm=True).fails
    assert worst[NIGHT].spilled == max(s.spilled for s in starts if s.stack == NIGHT)


def test_an_air_conditioned_room_starts_its_flue_worse_than_the_heat_outdoors():
    # Air at 78 F stands heavier than that outdoors at 88 F: what fills the flue with room air works against it.
    still, room = (start_of(found("masonry_retrofit").starts, SUMMER.name, s, warm=True) for s in (STILL, ROOM))
    assert room.walls < still.walls and room.draws_after > still.draws_after == 0.0
    assert room.condensed > still.condensed


def test_a_forced_burner_of_category_one_draws_once_its_outlet_is_below_the_room():
    starts = found("lodge").starts
    assert {s.appliance for s in starts} == {"Boiler A", "Boiler B"}
    lit = [s for s in starts if s.season == "summer" and s.stack == STILL]
    assert len(lit) == 2 and all(0.0 < s.draws_after < s.within and not s.spills for s in lit)
    # Warmer weather has less draft: it takes no shorter in any stack.
    for stack in (STILL, ROOM):
        order = [start_of(starts, n, stack, "Boiler A").draws_after for n in ("design winter", "mild", "summer")]
        assert order == sorted(order)
    (run,) = [s for s in starts if s.change is not None and s.season == "summer" and s.appliance == "Boiler A"
              and followed("lodge").changes[s.change].name == "Boiler A lit, all idle before"]  # fmt: skip
    change, runs = followed("lodge").changes[run.change], followed("lodge").runs
    after = runs.time > change.start.light_off + run.draws_after - 1e-6
    assert (runs.outlet_pressure[0, after, run.change] <= 0.0).all()
    before = int(np.flatnonzero(after)[0]) - 1
    assert runs.outlet_pressure[0, before, run.change] > 0.0


@pytest.mark.slow
def test_a_hood_on_a_common_vent_is_followed_in_time():
    # The school's heater: it draws within seconds in winter; in summer, its room 2.5 Pa below outdoors, it does not.
    starts = found("school").starts
    assert {s.appliance for s in starts} == {"Water heater"}
    winter, summer = (start_of(starts, n, STILL) for n in ("design winter", "summer"))
    assert 0.0 < winter.draws_after < 10.0 and summer.fails
    assert summer.spilled == pytest.approx(summer.still * summer.within, rel=0.05)


def in_two(**lower) -> Plant:
    """The masonry flue drawn in two pieces, the lower otherwise."""
    half = {"length": Q_(13, "ft"), "rise": Q_(13, "ft")}
    top = PLANT.section("flue")
    low = replace(top, name="lower flue", into="flue", **half | lower)
    sections = (replace(PLANT.section("connector"), into="lower flue"), low, replace(top, **half))
    return replace(PLANT, sections=sections)


@pytest.mark.parametrize("season", [WINTER, MILD], ids=lambda s: s.name)
def test_a_flue_drawn_in_two_pieces_starts_as_one(season):
    """The same flue, the same half hour of it."""
    whole, pieces = (light_off.one_flue(plant) for plant in (PLANT, in_two()))
    one, two = (cold_start.start_up(plant, season, chapter.HALF_HOUR) for plant in (whole, pieces))
    assert (two.draws_after, two.spilled) == pytest.approx((one.draws_after, one.spilled), rel=1e-6)
    assert any(s.warm_connector for s in light_off.light_offs(in_two(), (season,)))


def test_a_hood_alone_on_two_upright_sections_is_followed_in_time_alone():
    # `start_up` would take the lower one, of another bore, as warm at once.
    starts = light_off.light_offs(in_two(diameter=0.999 * PLANT.section("flue").diameter), (WINTER,))
    assert not any(s.warm_connector for s in starts)
    winter, whole = (start_of(f, WINTER.name, STILL) for f in (starts, found("masonry_retrofit").starts))
    assert winter.within == load_changes.AFTER
    assert winter.draws_after == pytest.approx(whole.draws_after, abs=0.5) and 0.0 < winter.draws_after < 10.0


def test_what_the_runs_handed_in_do_not_hold_is_followed():
    plant, seasons = PLANT, (MILD,)
    changes = load_changes.usual(plant, seasons, only=())
    assert [c.name for c in changes] == ["all lit together, all idle before"]
    alone = [s for s in light_off.light_offs(plant, seasons) if s.stack == STEADY]
    run = load_changes.follow(plant, seasons, load_changes.usual(plant, seasons))
    (same,) = [s for s in light_off.light_offs(plant, seasons, run) if s.stack == STEADY]
    assert [replace(same, change=None)] == alone


def test_a_cold_night_is_looked_at_only_of_heavy_walls_in_weather_that_is_not_freezing():
    indoors = replace(PLANT, sections=tuple(replace(s, place="room") for s in PLANT.sections))
    lined, _ = chapter.ways()["lined"]
    frost = replace(WINTER, outdoor=Q_(0.0, "degC"))  # at the very point of freezing: the night before it was frost
    looked = {
        (name, season.name): NIGHT in light_off._stands(plant, season)
        for name, plant in (("brick", PLANT), ("lined", lined), ("indoors", indoors))
        for season in (WINTER, MILD, SUMMER)
    }
    assert {key for key, night in looked.items() if night} == {("brick", MILD.name), ("brick", SUMMER.name)}
    assert NIGHT not in light_off._stands(PLANT, frost)
    # Air that stands still is as warm as outdoors or as the room, walls of a cold night 25 F colder (`COLD_NIGHT`).
    stands = light_off._stands(PLANT, MILD)
    assert stands[NIGHT] == pytest.approx(stands[STILL] - 25.0 / 1.8) and stands[ROOM] == MILD.room.m_as("K")


def test_what_does_not_spill_spills_nothing_and_a_flue_that_no_gas_enters_stays_dry():
    starts = found("masonry_retrofit").starts
    draws, falls = (start_of(starts, season.name, STEADY) for season in (WINTER, MILD))
    assert (draws.draws_after, draws.spilled, draws.still) == (0.0, 0.0, 0.0) and draws.condensed > 0.0
    # The other comes into the room through the hood, all of it, and none wets the flue.
    assert falls.fails and falls.condensed == 0.0


def test_one_flue_is_that_of_one_hood():
    assert light_off.one_flue(PLANT).appliances == PLANT.appliances
    for other in (row_plant(1), row_plant(1, kind="barometric"), row_plant(2, kind="draft hood")):
        assert light_off.one_flue(other) is None


@pytest.mark.parametrize(
    ("kind", "spilled", "pressure", "draws_after", "in_all", "still"),
    [
        # Seconds 0 to 9, lit at 2 s: what came into the room before does not count. It spills in the second second of
        # fire and in the fourth.
        ("draft hood", [0, 1, 1, 1, 1.5, 1.5, 1.7, 1.7, 1.7, 1.7], [9] * 10, 4.0, 0.7, 0.0),
        ("draft hood", [0, 0, 0, 0, 0, 0, 0, 0, 0, 0.4], [-9] * 10, None, 0.4, 0.4),
        ("draft hood", [0, 2, 2, 2, 2, 2, 2, 2, 2, 2], [9] * 10, 0.0, 0.0, 0.0),
        # One without an open hood draws once its outlet is below the room, whatever spills elsewhere.
        ("forced", [0] * 10, [5, 5, 3, 2, -1, 1, 1, -1, -2, -3], 5.0, 0.0, 0.0),
        ("forced", [0] * 10, [5, 5, -3, -2, -1, -1, -1, -1, -2, 0.5], None, 0.0, 0.0),
        ("forced", [0, 0, 0, 0, 0, 0, 0, 0, 0.3, 0.3], [-5] * 10, 6.0, 0.3, 0.0),
    ],
)
def test_when_a_start_draws_by_hand(kind, spilled, pressure, draws_after, in_all, still):
    runs = Made(
        plant=Made(appliances=(Made(name="A", kind=kind),)),
        seasons=(Made(name="mild"),),
        time=np.arange(10.0),
        spilled=np.array(spilled, float)[None, :, None],
        outlet_pressure=np.array(pressure, float)[None, :, None],
        mass_settled=np.linspace(0.9, 1.8, 10)[:, None],
    )
    found = light_off._of_run(runs, 0, 0, Made(light_off=2.0, season=0), STILL, 280.0)
    assert found.draws_after == draws_after and (found.within, found.fails) == (7.0, draws_after is None)
    assert (found.spilled, found.still) == pytest.approx((in_all, still))
    assert found.condensed == pytest.approx(0.7)  # of 0.1 kg a second since it was lit


def test_alone_is_lit_what_neither_follows_another_nor_has_one_beside_it():
    plant, seasons, rows = row_plant(2, kind="draft hood"), (MILD,), (0, 1)
    usual = load_changes.usual(plant, seasons, only=rows)
    first = next(c for c in usual if c.start.before == (0.0, 0.0) and c.start.after[0] > 0.0 == c.start.after[1])
    after = replace(first, start=replace(first.start, before=(0.0, 1.0)))  # the other goes off as this one is lit
    found = light_off._alone(plant, seasons, rows, Made(changes=(after, *usual)))
    assert [(c.start.before, [x > 0.0 for x in c.start.after]) for c in found] == [
        ((0.0, 0.0), [True, False]), ((0.0, 0.0), [False, True])
    ]  # fmt: skip
