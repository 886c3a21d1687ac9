"""Every kind of finding told of a design that was doctored to have it, and of nothing else.

The operations are made up: only what a finding is read from stands in them, each figure another number, so that one
taken from the wrong place is seen. What must come of it follows from the finding's own meaning, by hand.
"""

import inspect
from types import SimpleNamespace as Made

import numpy as np
import pytest

from ventcalc.building import code_rules, roof_scene
from ventcalc.draft import acid_wetting, load_changes
from ventcalc.draft.start_settings import usual_setting
from ventcalc.flow import materials
from ventcalc.job import (
    derived_limits,
    device_findings,
    draft_findings,
    failures,
    findings,
    judgement,
    outlet_findings,
    permissions,
    remedy_reasons,
    spillage_findings,
    start_findings,
    surrounding_findings,
    vent_findings,
)
from ventcalc.job.between_levels import Between
from ventcalc.units import Q_
from ventcalc.vent import reversal
from ventcalc.vent.outlet_envelope import READABLE, Envelope

SCAN = Made(conditions=range(20))


def told(found):
    """Findings by their codes, each code once."""
    listed = list(found)
    assert len({f.code for f in listed}) == len(listed)
    return {f.code: f for f in listed}


def pascals(finding, *names):
    return [round(float(finding.figures[n].m_as("Pa")), 9) for n in names]


# --- Outlets ----------------------------------------------------------------------------------------------------


def envelope(name, low, high, **more):
    return Envelope(name, low, high, low_state=3, high_state=5, window=(-20.0, -4.0), **more)


def outlets_of(*envelopes):
    return told(outlet_findings.outlets(Made(envelopes=envelopes, scan=SCAN)))


def test_outlets_beyond_either_edge_are_two_findings_by_the_farthest():
    found = outlets_of(envelope("A", -21.0, -3.0), envelope("B", -25.0, -5.0), envelope("C", -19.0, 2.0))
    assert list(found) == ["outlet_high", "outlet_low"]
    high, low = found["outlet_high"], found["outlet_low"]
    assert (high.subjects, high.figures["worst"], high.figures["state"].column) == (("A", "C"), "C", 5)
    assert pascals(high, "pressure", "beyond", "limit") == [2.0, 6.0, -4.0]
    assert (low.subjects, low.figures["worst"], low.figures["state"].column) == (("A", "B"), "B", 3)
    assert pascals(low, "pressure", "beyond", "limit") == [-25.0, 5.0, -20.0]
    assert not high.figures["purging"] and not high.figures["of_purge"]


def test_what_no_gauge_can_read_is_not_outside():
    assert not outlets_of(envelope("A", -20.0 - 0.99 * READABLE, -4.0 + 0.99 * READABLE))
    assert list(outlets_of(envelope("A", -20.0, -4.0 + 1.01 * READABLE))) == ["outlet_high"]


def test_a_purge_is_told_as_one_by_whose_window_it_is_judged():
    own = Envelope("A", 0.0, 9.0, 1, 2, window=(0.0, 7.0), limits="purge", high_purging=True)
    high = outlets_of(envelope("A", -10.0, -5.0, purge=own))["outlet_high"]
    assert high.figures["of_purge"] and not high.figures["purging"] and pascals(high, "beyond") == [2.0]
    high = outlets_of(envelope("A", -10.0, -1.0, high_purging=True))["outlet_high"]
    assert high.figures["purging"] and not high.figures["of_purge"]


def passage(name="A", **changed):
    usual = {
        "appliance": name,
        "spilled": 0.0,
        "spilling": 7.0,
        "still": 0.0,
        "spill_change": 1,
        "purge": None,
        "high": -6.0,
        "high_at": 11.0,
        "high_change": 2,
        "above": 9.0,
        "low": -15.0,
        "low_at": 12.0,
        "low_change": 4,
        "below": 8.0,
    }
    return Made(**usual | changed)


def in_time(*passages, envelopes=None, reversals=(), starts=()):
    op = Made(
        passages=passages,
        reversals=reversals,
        natural=Made(starts=starts),
        envelopes=envelopes or [envelope(p.appliance, -15.0, -6.0) for p in passages],
        changes=Made(describe=lambda k: f"change {k}"),
    )
    return told(outlet_findings.in_time(op))


def test_flue_gas_in_a_load_change_is_told_once():
    found = in_time(passage("A", spilled=0.3, still=0.02), passage("B", spilled=0.1))
    assert set(found) == {"spillage_in_time", "spillage_at_start"}
    assert found["spillage_in_time"].subjects == ("A",) and found["spillage_at_start"].subjects == ("B",)
    figures = found["spillage_in_time"].figures
    assert (figures["spilled"], figures["lasts"], figures["change"]) == (Q_(0.3, "kg"), Q_(7.0, "s"), "change 1")
    # What is told of the same appliance elsewhere is not told again.
    assert not in_time(passage("A", spilled=0.3), reversals=[Made(appliance="A")])
    assert not in_time(passage("A", spilled=0.3), starts=[Made(appliance="A")])


HIGH_DELAY, LOW_DELAY = (float(usual_setting(name).m_as("s")) for name in ("high_delay", "low_delay"))


@pytest.mark.parametrize(
    ("changed", "code", "beyond", "change", "at"),
    [
        ({"high": -1.0, "above": HIGH_DELAY + 0.5}, "outlet_in_time", 3.0, "change 2", 11.0),
        ({"high": -1.0, "above": HIGH_DELAY}, "outlet_in_time_briefly", 3.0, "change 2", 11.0),
        ({"low": -27.0, "below": LOW_DELAY + 0.5}, "outlet_in_time", 7.0, "change 4", 12.0),
        ({"low": -27.0, "below": LOW_DELAY}, "outlet_in_time_briefly", 7.0, "change 4", 12.0),
    ],
)
def test_an_outlet_further_out_in_a_load_change_than_at_rest(changed, code, beyond, change, at):
    ((told_code, found),) = in_time(passage(**changed)).items()
    assert told_code == code and pascals(found, "beyond") == [beyond]
    assert (found.figures["change"], found.figures["at"]) == (change, Q_(at, "s"))


def test_in_time_only_what_rest_does_not_say():
    beyond = passage(high=-1.0, above=99.0)
    assert not in_time(beyond, envelopes=[envelope("A", -15.0, -1.99)])  # less than a pascal further than at rest
    assert in_time(beyond, envelopes=[envelope("A", -15.0, -2.0)])
    brief = in_time(beyond, envelopes=[envelope("A", -15.0, -3.0)])  # outside at rest too: told there as lasting
    assert list(brief) == ["outlet_in_time_briefly"]
    assert not in_time(passage(high=-4.0, above=99.0))  # to the edge
    assert in_time(passage(spilled=5e-4))  # whatever comes into the room
    assert not in_time(passage(purge=passage(high=8.0)))  # a purge that at rest is judged by no limits of its own
    of_purge = in_time(
        passage(purge=passage(high=8.0)), envelopes=[envelope("A", -15.0, -6.0, purge=envelope("A", -15.0, -6.0))]
    )
    assert pascals(of_purge["outlet_in_time"], "beyond") == [12.0]


def test_the_farthest_in_time_and_the_longest_are_told():
    found = in_time(passage("A", high=-3.0, above=99.0), passage("B", high=1.0, above=50.0))["outlet_in_time"]
    assert (found.subjects, found.figures["worst"], found.figures["lasts"]) == (("A", "B"), "B", Q_(99.0, "s"))


def test_between_levels_the_farthest_of_all_is_told():
    farther = [
        Between(name, high, pressure, beyond, limit, burners, share, near)
        for name, high, pressure, beyond, limit, burners, share, near in (
            ("A", True, -3.5, 0.5, -4.0, ("B",), 0.9, 7),
            ("C", False, -21.2, 1.2, -20.0, ("B", "C"), 0.25, 11),
        )
    ]
    found = told(outlet_findings.between_levels(Made(between=tuple(farther), scan=SCAN)))["between_levels"]
    assert (found.subjects, found.figures["worst"], found.figures["state"].column) == (("A", "C"), "C", 11)
    assert pascals(found, "pressure", "beyond", "limit") == [-21.2, 1.2, -20.0]
    assert (found.figures["burners"], found.figures["share"]) == ("B and C", 0.25)
    assert not told(outlet_findings.between_levels(Made(between=(), scan=SCAN)))


def test_a_sample_is_told_with_what_was_looked_at():
    scan = Made(conditions=range(20), possible=300)
    found = told(vent_findings.sampled(Made(outcome=Made(sampled=True), scan=scan)))["sampled"]
    assert found.figures == {"looked": 20, "possible": 300} and found.speaks_against
    assert not told(vent_findings.sampled(Made(outcome=Made(sampled=False), scan=scan)))


def test_a_fan_that_works_harder_while_exhaust_fans_run_is_told_with_that_duty():
    def of(static):
        work = Made(static=np.array([3.0, static]), speed=np.array([0.4, 0.9]))
        outcome = Made(duty=Made(static=np.array([5.0, 8.0]), speed=np.array([0.3, 0.5])),
                       remedy=Made(fan=Made(fan=Made(name="roof 6"))))  # fmt: skip
        return told(device_findings.exhaust_duty(Made(exhaust_work=work, outcome=outcome)))

    found = of(40.0)["exhaust_duty"]
    assert found.subjects == ("roof 6",) and not found.speaks_against
    assert found.figures["static"].m_as("Pa") == 40.0 and found.figures["without"].m_as("Pa") == 8.0
    assert (found.figures["speed"], found.figures["slower"]) == (0.9, 0.5)
    assert not of(8.0) and not told(device_findings.exhaust_duty(Made(exhaust_work=None, outcome=Made(duty=None))))


def test_dampers_at_the_outlets_alone_are_not_followed_in_time():
    def of(**remedy):
        return told(start_findings.not_followed(Made(outcome=Made(remedy=Made(outlets=("A", "B"), **remedy)))))

    found = of(controlled=True, set_point=None)["not_followed"]
    assert found.subjects == ("A", "B") and found.speaks_against
    assert not of(controlled=True, set_point=-12.0) and not of(controlled=False, set_point=None)


def margins(margin, doubt, controlled=False):
    plant = Made(appliances=[Made(name=n) for n in "ABCD"[: len(margin)]])
    outcome = Made(margins=(np.array(margin), np.array(doubt)), remedy=Made(controlled=controlled))
    return told(outlet_findings.thin_margins(Made(outcome=outcome, job=Made(plant=plant))))


def test_a_margin_is_thin_up_to_what_is_uncertain_there():
    found = margins([3.0, 2.0, 1.9, 9.0], [2.0, 2.0, 4.0, 4.0])["thin_margin"]
    assert (found.subjects, found.figures["worst"]) == (("B", "C"), "C")
    assert pascals(found, "margin", "doubt") == [1.9, 4.0]
    assert not margins([2.1], [2.0]) and not margins([-1.0], [2.0])  # safe; and outside, which is told as that
    assert pascals(margins([-READABLE], [2.0])["thin_margin"], "margin") == [0.0]


@pytest.mark.parametrize(
    ("set_point", "fan", "code", "count"),
    [
        (Q_(-8.0, "Pa"), None, "held", 2),
        (None, "a fan", "header_with_fan", 2),
        (None, None, "header", 2),
        (None, None, "header", 1),
    ],
)
def test_the_header_is_told_as_held_or_as_the_vent_alone_leaves_it(set_point, fan, code, count):
    op = Made(
        header=(-30.0, -10.0),
        header_states=(1, 2),
        scan=SCAN,
        lacking=4.0,
        excess=6.0,
        outcome=Made(remedy=Made(set_point=set_point, fan=fan)),
        job=Made(set_point="set", plant=Made(appliances=range(count))),
    )
    found = told(outlet_findings.header(op))[code]
    assert pascals(found, "low", "high") == [-30.0, -10.0]
    if code != "held":
        assert (found.figures["low_state"].column, found.figures["high_state"].column) == (1, 2)
        assert found.figures["common"] is (count > 1) and pascals(found, "lacking", "excess") == [4.0, 6.0]


# --- The vent ----------------------------------------------------------------------------------------------------


def appliance(name, category):
    return Made(name=name, category=category, shown_category=category, fuel=Made(kind="gas"), named_materials=())


def shared(*categories, highest=-1.0, controls=(), pressed=()):
    served = [appliance(f"{c} {k}", c) for k, c in enumerate(categories)]
    plant = Made(order=[Made(name="stack")], serves=lambda section: served)
    outcome = Made(remedy=Made(controls=controls), pressed=pressed)
    met = Made(section="stack", pressure=(-9.0, highest), pressure_state=3)
    return told(vent_findings.categories(Made(scan=Made(plant=plant), outcome=outcome, extremes=[met])))


@pytest.mark.parametrize("pair", [("I", "III"), ("II", "IV"), ("I", "IV"), ("II", "III")])
def test_made_for_draft_and_made_for_pressure_do_not_share(pair):
    """IFGC: no Category I connector into a part under positive pressure (as `COMMON_VENT_RULE`)."""
    found = shared(*pair)["categories"]
    assert found.figures["negative"] == (f"{pair[0]} 0",) and found.figures["positive"] == (f"{pair[1]} 1",)
    assert found.figures["negative_categories"] == pair[:1] and found.figures["positive_categories"] == pair[1:]
    # A control that keeps the shared vent under draft in every condition lets them share; one that does not, does not.
    assert not shared(*pair, controls=("fan",)) and not shared(*pair, highest=0.0, controls=("fan",))
    assert shared(*pair, highest=0.1, controls=("fan",))["categories"].figures["controlled"]


def test_gas_and_oil_in_one_flue_are_told_where_they_meet():
    # IFGC 503.5.7.2, from memory: openings at different levels, or one joined near the chimney; safety shutoffs.
    oil, gas = (Made(name=n, fuel=Made(kind=k)) for n, k in (("A", "liquid"), ("B", "gas")))
    served = {"connector": [oil], "header": [oil, gas], "stack": [oil, gas]}
    order = [Made(name=n) for n in served]

    def found(by):
        return told(vent_findings.two_fuels(Made(job=Made(plant=Made(order=order, serves=by.__getitem__)))))

    met = found(served)["two_fuels"]
    assert met.subjects == ("header",) and met.figures == {"oil": ("A",), "gas": ("B",)} and met.weight == "note"
    assert "503.5.7.2" in met.rule and "from memory" in met.rule
    assert not found({name: [gas] for name in served}) and not found({name: [oil] for name in served})


def test_alike_share():
    assert not shared("I", "II", highest=5.0) and not shared("III", "IV", highest=5.0)


def test_a_pressed_section_is_told_with_its_greatest_pressure():
    found = shared("I", highest=7.0, pressed=("stack",))["positive_pressure"]
    assert found.subjects == ("stack",) and pascals(found, "pressure") == [7.0]
    assert found.figures["state"].column == 3  # a purge's breath or full fire: whoever signs has to see which


def test_a_material_is_asked_for_the_hottest_gas_the_highest_pressure_and_any_condensing(monkeypatch):
    asked = []
    monkeypatch.setattr(materials, "objections", lambda material, service: asked.append(service) or ())
    section = Made(name="stack", place="indoors", material=Made(name="steel"))
    served = [appliance("A", "I"), appliance("B", "IV")]
    for a in served:
        a.listed_categories = (a.category,)
    plant = Made(order=[section], serves=lambda name: served)
    for condensing, named in ((0.0, False), (0.01, True)):
        for a in served:
            a.named_materials = ("steel",)
        served[0].named_materials = ("steel",) if named else ()
        met = Made(gas=(300.0, 480.0), pressure=(-9.0, 2.0), condensing=condensing)
        vent_findings.objections(Made(job=Made(plant=plant), extremes=[met]))
        service = asked[-1]
        assert service.categories == ("I", "IV") and service.condensing is (condensing > 0.0)
        assert service.named is named  # by all whom it serves
        assert (service.hottest, service.highest_pressure) == (Q_(480.0, "K"), Q_(2.0, "Pa"))
    served[0].listed_categories = ()  # as of oil
    vent_findings.objections(Made(job=Made(plant=plant), extremes=[met]))
    assert asked[-1].categories == ("IV",)


def test_of_objections_of_one_kind_the_gravest_is_told():
    def hot(section, kelvin):
        return materials.Objection("material_hot", section, "steel", {"gas": Q_(kelvin, "K"), "rated": Q_(450.0, "K")})

    found = vent_findings._gravest((hot("a", 460.0), hot("b", 500.0), hot("c", 480.0)))
    assert [o.section for o in found] == ["b"]


def test_a_run_is_too_long_beyond_what_is_allowed():
    runs = [
        Made(appliance=n, equivalent=e, allowed=a, shared=0.0)
        for n, e, a in (("A", 31.0, 30.0), ("B", 30.0, 30.0), ("C", 99.0, None))
    ]
    (found,) = vent_findings.runs(Made(runs=runs))
    assert (found.code, found.subjects) == ("run_too_long", ("A",))
    assert (found.figures["run"], found.figures["allowed"]) == (Q_(31.0, "m"), Q_(30.0, "m"))


def test_a_run_within_what_is_allowed_but_for_the_vent_it_shares_is_told():
    runs = [
        Made(appliance=n, equivalent=e, allowed=a, shared=s)
        for n, e, a, s in (
            ("A", 9.0, 30.0, 61.0),
            ("B", 6.0, 20.0, 61.0),
            ("C", 9.0, 30.0, 21.0),  # just as long as is allowed
            ("D", 31.0, 30.0, 61.0),  # too long by itself
            ("E", 9.0, None, 61.0),
        )
    ]
    found = told(vent_findings.runs(Made(runs=runs)))
    assert found["run_too_long"].subjects == ("D",)
    shared = found["run_shared"]
    assert shared.subjects == ("A", "B") and shared.figures["worst"] == "B" and shared.weight == "note"
    assert (shared.figures["shared"], shared.figures["allowed"]) == (Q_(61.0, "m"), Q_(20.0, "m"))
    assert "B 20.00 m, where its own is 6.00 m of equivalent length and what it shares 61.00 m more" in (
        findings.sentence(shared, "SI")
    )


def test_what_was_refused_and_what_is_open_are_two_findings_each_by_what_is_asked(monkeypatch):
    asked = [Made(of="A", what="seal"), Made(of="B", what="seal"), Made(of="A", what="fan")]
    monkeypatch.setattr(permissions, "refused_permissions", lambda plant, given: asked[:2])
    monkeypatch.setattr(permissions, "open_permissions", lambda plant, given: asked[2:])
    found = list(vent_findings.to_be_permitted(Made(job=Made(plant=None, permissions=()))))
    assert [(f.code, f.subjects, f.figures["what"]) for f in found] == [
        ("permission_refused", ("A", "B"), "seal"),
        ("permission_open", ("A",), "fan"),
    ]


def test_a_junction_outside_of_what_was_measured_is_told(monkeypatch):
    monkeypatch.setattr(vent_findings.junctions, "untested", lambda sections: [("tee", 0.12)])
    (found,) = vent_findings.untested_junctions(Made(job=Made(plant=Made(sections=()))))
    assert found.subjects == ("tee (0.12)",) and found.figures["low"] < found.figures["high"]


# --- Natural draft -----------------------------------------------------------------------------------------------


def lit(name, fails, spills, draws_after=10.0, spilled=0.0):
    return Made(
        appliance=name,
        season="winter",
        stack="cold",
        within=60.0,
        draws_after=draws_after,
        spilled=spilled,
        still=0.01,
        fails=fails,
        spills=spills,
    )


def natural(**more):
    empty = {"oversized": (), "starts": (), "liners": (), "wettings": (), "icings": ()}
    return Made(natural=Made(**empty | more), scan=SCAN)


@pytest.mark.parametrize(
    ("fails", "spills", "draws_after", "code"),
    [
        (True, True, None, "no_light_off"),
        (True, False, None, "no_draft_at_light_off"),
        (False, True, 9.0, "slow_light_off"),
        (False, False, draft_findings.PRESSED_FOR + 0.1, "pressed_at_light_off"),
        (False, False, draft_findings.PRESSED_FOR, None),
    ],
)
def test_a_light_off_is_told_by_what_fails_in_it(fails, spills, draws_after, code):
    found = told(draft_findings.natural(natural(starts=[lit("A", fails, spills, draws_after)])))
    assert list(found) == ([code] if code else [])
    if code:
        assert found[code].figures["after"] == Q_(draws_after or 60.0, "s")


def test_the_light_off_that_spills_most_is_told():
    starts = [lit("A", True, True, spilled=0.2), lit("B", True, True, spilled=0.5), lit("A", True, True)]
    found = told(draft_findings.natural(natural(starts=starts)))["no_light_off"]
    assert found.subjects == ("A", "B") and found.figures["spilled"] == Q_(0.5, "kg")


def test_an_oversized_flue_and_the_first_liner_that_fits():
    rule = {"rule": "a rule", "source": "a code", "status": "from memory"}
    area, further = (Made(section=n, ratio=9.0, appliance="A", times=7.0, **rule) for n in ("flue", "flue, upper part"))
    liner = Made(
        fits=True,
        section="flue",
        material="liner",
        diameter=0.15,
        ratio=2.0,
        times=7.0,
        capacity=3e4,
        needed=2e4,
        clearance=12.0,
    )
    found = told(draft_findings.natural(natural(oversized=[area, further], liners=[liner, liner])))
    assert found["oversized_flue"].subjects == ("flue", "flue, upper part")  # two pieces of one flue are one finding
    assert (found["oversized_flue"].figures["ratio"], found["oversized_flue"].figures["times"]) == (9.0, 7.0)
    assert found["liner"].figures["capacity"] == Q_(3e4, "W") and found["liner"].figures["needed"] == Q_(2e4, "W")
    assert not told(draft_findings.natural(natural(liners=[Made(fits=False)])))


def test_wet_walls_and_ice_are_told_by_the_most():
    warm = {"hot": 3e-4, "while_cold": False}
    wettings = [Made(section=n, liquid=r, a_day=d, **warm) for n, r, d in (("a", 1e-4, 1.0), ("b", 3e-4, 2.0))]
    icings = [
        Made(section=n, terminal=t, rate=r, wall=w, state=k, hot=h)
        for n, t, r, w, k, h in (
            ("a", None, 1e-5, 270.0, 1, True),
            ("b", "cap", 2e-5, 265.0, 2, False),
            ("d", "cap", 3e-5, 260.0, 3, True),
        )
    ]
    found = told(draft_findings.wet(natural(wettings=wettings, icings=icings)))
    assert found["wet"].subjects == ("a", "b") and found["wet"].figures["worst"] == "b"
    assert (found["wet"].figures["rate"], found["wet"].figures["a_day"]) == (Q_(3e-4, "kg/s"), Q_(2.0, "m**3"))
    assert found["ice"].subjects == ("a",) and not found["ice"].figures["warming"]
    end = found["ice_at_terminal"]
    assert end.subjects == ("b", "d") and (end.figures["wall"], end.figures["state"].column) == (Q_(260.0, "K"), 3)
    assert found["wet"].figures["much"] and end.figures["much"] and not found["ice"].figures["much"]
    little = told(draft_findings.wet(natural(wettings=[Made(section="a", liquid=1e-5, a_day=9e-4, **warm)])))["wet"]
    assert findings.sentence(little, "SI").endswith("Little water runs down it: less than 1 l a day.")
    frozen = told(draft_findings.wet(natural(wettings=[Made(section="a", liquid=0.0, a_day=0.0, **warm)])))["wet"]
    assert findings.sentence(frozen).endswith("What settles there freezes.")
    # What a heavy wall takes while it is cold does not go on for a day: the report's table has its rate hot.
    brick = Made(section="a", liquid=4e-3, a_day=0.3, hot=1e-4, while_cold=True)
    cold = findings.sentence(told(draft_findings.wet(natural(wettings=[brick])))["wet"], "SI")
    assert "still cold: up to 14.4 kg/h, and once it is hot 0.4 kg/h at most" in cold and "a day" not in cold
    only = told(draft_findings.wet(natural(icings=icings[1:2])))["ice_at_terminal"]
    assert only.figures["warming"]


def test_acid_is_told_by_the_wall_farthest_below_its_dew_point(monkeypatch):
    met = [
        acid_wetting.AcidWetting(section, name, wall, point, state)
        for section, name, wall, point, state in (("a", "one", 380.0, 400.0, 1), ("b", "two", 385.0, 410.0, 2))
    ]
    monkeypatch.setattr(acid_wetting, "acid_wettings", lambda _: tuple(met))
    fuels = (("one", 0.01), ("two", 0.002))
    plant = Made(appliances=[Made(name=n, fuel=Made(name=f"oil of {n}", sulfur=s)) for n, s in fuels])
    scan = Made(conditions=range(20), plant=plant, describe=lambda state, system: f"state {state}")
    found = told(draft_findings.acid(Made(scan=scan)))["acid"]
    assert found.subjects == ("a", "b") and found.figures["worst"] == "b" and found.figures["state"].column == 2
    assert (found.figures["wall"], found.figures["dew_point"]) == (Q_(385.0, "K"), Q_(410.0, "K"))
    assert "oil of two with 0.20% of sulfur" in findings.sentence(found, "SI")
    monkeypatch.setattr(acid_wetting, "acid_wettings", lambda _: ())
    assert not list(draft_findings.acid(Made(scan=scan)))


# --- Devices -----------------------------------------------------------------------------------------------------


def devices(monkeypatch, reasons=(), left=None, existing=None, held=None, **outcome):
    usual = {"remedy": Made(unfit=""), "step": 0.0, "held": held}
    monkeypatch.setattr(remedy_reasons, "reasons", lambda o: reasons)
    scan = Made(count=len, conditions=range(20), plant=None, any_firing=np.array([True, True, False]))
    op = Made(
        outcome=Made(**usual | outcome),
        stopped=left,
        scan=scan,
        design=Made(job=Made(existing=existing)),
        job=Made(plant=Made(appliances=[Made(name="A"), Made(name="B")])),
    )
    return told(device_findings.devices(op))


def test_devices_that_do_what_they_must_have_nothing_said_against_them(monkeypatch):
    limit = device_findings.DAMPER_TOLERANCE.m_as("Pa")
    others = (Made(code="short of draft", subjects=(), figures={}),)
    assert not devices(monkeypatch, reasons=others, step=limit)


def test_a_fan_too_hot_or_wet_an_unfit_one_and_a_coarse_actuator_are_told(monkeypatch):
    reasons = [Made(code=c, subjects=("fan",), figures={}) for c in ("fan too hot", "fan wet")]
    found = devices(monkeypatch, reasons=reasons, step=9.0, actuator_step=0.005, remedy=Made(unfit="too weak"))
    assert set(found) == {"fan_unfit", "fan_too_hot", "fan_wet", "actuator_coarse"}
    assert pascals(found["actuator_coarse"], "step") == [9.0]
    assert "0.5% of the stroke" in findings.sentence(found["actuator_coarse"])


def test_a_burner_that_is_never_released_and_a_set_point_that_is_missed(monkeypatch):
    monkeypatch.setattr(device_findings.remedy_words, "sensed", lambda plant, sensor: sensor)
    held = Made(
        released=np.array([True, False, False]),
        controls=[Made(sensor="header")],
        missed=np.array([[True, True, False]]),
        error=np.array([[3.0, -5.0, 9.0]]),
    )
    found = devices(monkeypatch, held=held)
    # Of the two that are not released one fires; of the two that miss the second is farther off.
    assert (found["no_release"].figures["conditions"], found["no_release"].figures["state"].column) == (1, 1)
    missed = found["control_misses"]
    assert (missed.figures["conditions"], missed.figures["state"].column) == (2, 1)
    assert pascals(missed, "error") == [-5.0]


@pytest.mark.parametrize(
    ("interlocked", "above", "gas", "code"),
    [
        (True, 4, True, "fan_proved"),
        (False, 0, False, "fan_proved"),
        (False, 4, False, "fan_stops"),
        (False, 0, True, "fan_stops_spills"),
        (False, 4, True, "fan_stops_spills"),
    ],
)
def test_a_fan_that_stands_there_is_told_by_what_is_left_when_it_stops(monkeypatch, interlocked, above, gas, code):
    sides = np.zeros((1, 20), bool), np.arange(20)[None] < above
    monkeypatch.setattr(device_findings.outlet_envelope, "sides", lambda scan: sides)
    ends = [envelope("A", -9.0, -1.0), envelope("B", -9.0, 2.0)]
    left = Made(scan=Made(count=np.count_nonzero, conditions=range(20)), envelopes=ends, gas_in_room=gas)
    existing = Made(interlocked=interlocked, drive=Made(fan=Made(name="fan"), most_speed=0.9))
    (found,) = devices(monkeypatch, left=left, existing=existing).values()
    assert (found.code, found.figures["above"], found.figures["worst"]) == (code, above, "B")
    assert pascals(found, "pressure") == [2.0]


# --- Surroundings ------------------------------------------------------------------------------------------------


def around(**more):
    empty = {
        "endings": (),
        "air": (),
        "enough": True,
        "effects": (),
        "exhausted": None,
        "spills": (),
        "plumes": (),
        "no_plume": "",
        "plume_states": (4, 8),
    }
    return Made(around=Made(**empty | more), scan=SCAN, job=Made(plant=None, room=None), reversals=(), shut_off=None)


def rule(name, verdict, *objects):
    return Made(rule=name, verdict=verdict, row=Made(objects=objects))


def test_a_terminal_before_an_opening_is_graver_than_one_too_low():
    next_door = f"operable window {roof_scene.NEXT_DOOR}"
    ending = Made(
        terminal=Made(name="top"),
        findings=[
            rule("height", code_rules.FAIL, "ridge"),
            rule("window", code_rules.FAIL, "operable window"),
            rule("window next door", code_rules.FAIL, next_door),
            rule("lot", code_rules.READING, "property line"),
            rule(surrounding_findings.clearances.DECLARED, code_rules.READING),
            rule("fine", code_rules.PASS, "door"),
        ],
    )
    found = told(surrounding_findings.terminals(around(endings=[ending])))
    assert {code: f.figures["rules"] for code, f in found.items()} == {
        "terminal": ("height",),
        "terminal_opening": ("window", "window next door"),
        "terminal_reading": ("lot",),
        "terminal_contradicted": (surrounding_findings.clearances.DECLARED,),
    }


def sight(view, shows, line=10.0, behind="roof"):
    return Made(view=view, seen=shows > 0.0, shows=Q_(shows, "m"), hidden_below=Q_(line, "m"), behind=behind)


def test_a_terminal_in_view_is_told_by_the_view_that_shows_most_of_it():
    top = Made(name="top", cap=0.5, fan=True)
    endings = [
        Made(terminal=top, least=Made(height=Q_(9.0, "m")),
             sights=[sight("A", 0.0), sight("B", 1.0), sight("C", 2.0, 9.6, ""), sight("D", 1.5)]),
        Made(terminal=Made(name="hidden", cap=0.0, fan=False), least=Made(height=None), sights=[sight("A", 0.0)]),
        Made(terminal=Made(name="stuck", cap=0.0, fan=False), least=Made(height=None), sights=[sight("A", 3.0)]),
    ]  # fmt: skip
    found = {f.subjects[0]: f.figures for f in surrounding_findings.sights(around(endings=endings))}
    assert found.keys() == {"top", "stuck"}
    assert (found["top"]["worst"], found["top"]["behind"], found["top"]["others"]) == ("C", "", 2)
    assert found["top"]["most"] == Q_(9.6, "m") - Q_(0.5, "m") and found["top"]["fits"] and not found["top"]["apart"]
    assert not found["stuck"]["fits"] and not found["stuck"]["apart"]
    endings[0].least.height = Q_(9.2, "m")
    (first, _) = surrounding_findings.sights(around(endings=endings))
    assert first.figures["apart"] and not first.figures["fits"]


def test_a_room_short_of_air_is_told_and_what_else_fails_beside_the_ways(monkeypatch):
    way, detail, fine = (
        Made(verdict=v, rule=k) for k, v in enumerate((code_rules.FAIL, code_rules.FAIL, code_rules.PASS))
    )
    monkeypatch.setattr(surrounding_findings.combustion_air_verdicts, "ways", lambda plant, room: (way,))
    found = told(surrounding_findings.room_air(around(air=(way, detail, fine), enough=False)))
    assert found["no_air"].figures["reasons"].about == (way, detail)
    assert found["air_detail"].figures["reason"].about == (detail,)
    assert not told(surrounding_findings.room_air(around(air=(way, fine), enough=True)))


def effect(name, **changed):
    usual = {
        "appliance": name,
        "beyond": 0.0,
        "beyond_without": 0.0,
        "lowest_room": -3.0,
        "limit": -5.0,
        "limit_rule": "",
        "spill": 0.1,
        "below_limit": False,
        "unsettled": 0,
        "dangerous": False,
        "flue_gas": 0.0,
        "flue_gas_without": 0.0,
        "spill_state": 6,
        "back": 0.0,
        "back_without": 0.0,
    }
    return Made(**usual | changed)


def test_exhaust_fans_are_told_by_what_they_make_worse(monkeypatch):
    monkeypatch.setattr(code_rules, "cited", lambda table, key: f"{key} cited")
    effects = [
        effect("A", beyond=2.0, beyond_without=2.0),
        effect("B", beyond=3.0, beyond_without=1.0),
        effect("C", beyond=5.0, beyond_without=4.0, unsettled=2, lowest_room=-8.0),
        effect("D", below_limit=True, limit=-2.0, lowest_room=-4.0, limit_rule="hood", unsettled=7),
        effect("E", below_limit=True, limit=-1.0, lowest_room=-2.0, limit_rule="boiler"),
    ]
    found = told(surrounding_findings.exhausts(around(effects=effects)))
    assert found["exhausts"].subjects == ("B", "C") and found["exhausts"].figures["worst"] == "C"
    assert pascals(found["exhausts"], "beyond", "without", "room") == [5.0, 4.0, -8.0]
    assert found["house_limit"].subjects == ("D", "E") and found["house_limit"].rule == "hood: hood cited"
    assert pascals(found["house_limit"], "pressure", "limit") == [-4.0, -2.0]
    assert found["room_unsettled"].figures["conditions"] == 7
    assert not told(surrounding_findings.exhausts(around(effects=[effect("A", beyond=READABLE)])))
    assert not told(surrounding_findings.exhausts(around(effects=[])))


def test_a_vent_through_a_wall_has_an_estimate_that_passes_nothing():
    """What the estimate does not fail is read by the authority: told once for all openings, by the nearest."""
    part = Made(verdict=code_rules.READING, perhaps=False)
    plumes = [Made(intake=n, parts=[part], wall=True, distance=d) for n, d in (("window", 4.0), ("door", 3.0))]
    found = told(surrounding_findings.intakes(around(plumes=plumes)))["intake_by_wall"]
    assert found.weight == "note" and found.subjects == ("window", "door")
    assert found.figures["nearest"] == "door" and found.figures["distance"].m_as("m") == 3.0
    assert not told(surrounding_findings.intakes(around(plumes=[Made(intake="d", parts=[part], wall=False)])))


@pytest.mark.parametrize(
    ("verdict", "harmful", "code", "limit"),
    [
        (code_rules.FAIL, True, "intake_harm", "5"),
        (code_rules.FAIL, False, "intake_guideline", "2"),
        (code_rules.READING, False, "intake_perhaps", "2"),
        (code_rules.PASS, False, None, ""),
    ],
)
def test_exhaust_before_an_intake_is_told_by_the_limit_it_passes(monkeypatch, verdict, harmful, code, limit):
    monkeypatch.setattr(code_rules, "cited", lambda table, key: f"{key} cited")
    monkeypatch.setattr(surrounding_findings.re_entrainment_words, "ppm_text", lambda value: f"{value:g}")
    part = Made(
        verdict=verdict,
        harmful=harmful,
        harm_rule="harm",
        rule="guide",
        gas="no2",
        added=3.0,
        at_most=4.0,
        harm=5.0,
        limit=2.0,
        share=0.1,
        wind=2.03,  # 400 ft/min, as `wind_text` says it beside: 4.5 mph and not 5
        dilution=70.0,
        state=1,
        perhaps=code == "intake_perhaps",
    )
    found = told(surrounding_findings.intakes(around(plumes=[Made(intake="door", parts=[part], wall=False)])))
    assert list(found) == ([code] if code else [])
    if code:
        figures = found[code].figures
        assert (figures["limit"], figures["added"], figures["at_most"]) == (limit, "3", "4")
        assert figures["state"].column == 8 and figures["of_nox"] == 0.1 and figures["share"] is True
        assert found[code].rule == ("harm cited" if harmful else "guide cited")
        said = findings.sentence(findings.Finding(code, ("door",), figures | {"state": "any"}), "US")
        assert "in a wind of 4.5 mph at roof height" in said


def test_exhaust_that_could_not_be_estimated_is_told():
    assert list(told(surrounding_findings.intakes(around(no_plume="no state fires")))) == ["intake_unknown"]


# --- Spillage ----------------------------------------------------------------------------------------------------

ENTERS = 10.0 * reversal.REVERSAL_FLOW


def scanned(entering, drawn=None, restless=None):
    """A scan of four columns, three conditions (the last two columns are one), and where flue gas enters in it."""
    condition = np.array([0, 1, 2, 2])
    return Made(
        condition=condition,
        conditions=range(3),
        entering=np.array(entering, bool),
        count=lambda columns: np.unique(condition[columns]).size,
        restless=np.array(restless or [0] * 4, bool),
        solution=Made(drawn=np.array(drawn if drawn is not None else [[0.0] * 4])),
    )


@pytest.fixture
def entering(monkeypatch):
    monkeypatch.setattr(reversal, "flue_gas_in_room", lambda scan: (np.where(scan.entering, ENTERS, 0.0)[None], None))
    monkeypatch.setattr(reversal, "gas_in_room", lambda scan: scan.entering[None])


def back(name, **changed):
    usual = {
        "appliance": name,
        "kind": "spill",
        "dangerous": True,
        "flue_gas": 0.02,
        "flow": 0.03,
        "state": 1,
        "most": 0.05,
        "most_states": 9,
        "airs": (),
    }
    return Made(**usual | changed)


def test_the_worst_spill_is_told_with_or_without_exhaust_fans(entering):
    op = around()
    op.scan, op.reversals = scanned([0, 1, 1, 0]), (back("A"), back("B", flue_gas=0.04, flow=0.06, state=3))
    found = told(spillage_findings.spillage(op))["spillage"]
    figures = found.figures
    assert found.subjects == ("A", "B") and figures["worst"] == "B" and figures["state"].column == 3
    assert (figures["flue_gas"], figures["flow"], figures["without"]) == tuple(
        Q_(v, "kg/s") for v in (0.04, 0.06, 0.04)
    )
    assert (figures["conditions"], figures["total"], figures["either"]) == (2, 3, 1)
    assert figures["exhausts"] is False
    pulled = effect("C", dangerous=True, flue_gas=0.07, spill=0.08, flue_gas_without=0.01)
    op.around.effects, op.around.exhausted = (pulled,), scanned([1, 1, 1, 1])
    figures = told(spillage_findings.spillage(op))["spillage"].figures
    assert figures["worst"] == "C" and figures["exhausts"] and figures["conditions"] == 3 and figures["either"] == 0
    assert (figures["flow"], figures["without"]) == (Q_(0.08, "kg/s"), Q_(0.01, "kg/s")) and "pulled" not in figures
    # A spill of another cause may be larger: what the exhaust fans do is told beside it.
    op.reversals = (back("B", flue_gas=0.09, flow=0.09, state=3),)
    figures = told(spillage_findings.spillage(op))["spillage"].figures
    assert figures["worst"] == "B" and (figures["conditions"], figures["pulled"], figures["pulled_total"]) == (2, 3, 3)
    assert figures["pulled_flue_gas"] == Q_(0.07, "kg/s")


def test_what_comes_back_through_idle_appliances_alone_has_a_cure_of_its_own(entering):
    op = around()
    op.scan = scanned([0, 1, 1, 0])
    for kinds, idle in ((("idle", "idle"), True), (("idle", "spill"), False)):
        op.reversals = tuple(back(n, kind=kind) for n, kind in zip("AB", kinds, strict=True))
        assert told(spillage_findings.spillage(op))["spillage"].figures["idle"] is idle
    op.reversals = (back("A", kind="idle"),)
    op.around.effects, op.around.exhausted = (effect("C", dangerous=True, flue_gas=0.01),), scanned([1, 1, 1, 1])
    assert told(spillage_findings.spillage(op))["spillage"].figures["idle"] is False


def air(source, flow, state, states):
    return {"dangerous": False, "airs": (reversal.Air(source, flow, state, states),)}


def test_air_that_comes_back_is_told_by_where_it_is_from(entering):
    op = around(
        effects=(
            effect("A", back=ENTERS, back_without=0.001, air=reversal.PURGE),
            effect("B", back=2 * ENTERS, air=reversal.PURGE),
            effect("C", back=reversal.REVERSAL_FLOW, air=reversal.PURGE),
            effect("F", back=ENTERS, air=reversal.ROOM),
        )
    )
    op.reversals = (
        back("A", **air(reversal.PURGE, 0.1, 1, 1)),
        back("D", **air(reversal.OUTDOORS, 0.2, 2, 9)),
        back("E", **air(reversal.OUTDOORS, 0.1, 1, 3)),
        back("G", **air(reversal.PURGE, 0.3, 0, 2)),
    )
    of_purge, of_room, purged, falls = (
        f for f in spillage_findings.spillage(op) if f.code in ("air_drawn_back", "air_back")
    )
    assert of_purge.subjects == ("A", "B") and of_purge.figures["worst"] == "B" and of_room.subjects == ("F",)
    assert purged.subjects == ("G",) and purged.figures["conditions"] == 2
    assert falls.subjects == ("D", "E") and falls.figures["worst"] == "D" and falls.figures["state"].column == 2
    assert (falls.figures["flow"], falls.figures["conditions"]) == (Q_(0.2, "kg/s"), 9)
    told_of = [finding.figures["air"].words() for finding in (of_purge, of_room, purged, falls)]
    assert "purge" in told_of[0] and told_of[2] == told_of[0]
    assert "room air" in told_of[1] and "outdoor air" in told_of[3]


def test_what_flaps_alone_keep_out_is_told():
    op = around()
    op.shut_off = Made(pressure=3.0, worst="B", flue_gas=0.01, state=2, appliances=("A", "B"))
    found = told(spillage_findings.spillage(op))["shut_off"]
    assert found.subjects == ("A", "B") and pascals(found, "pressure") == [3.0] and found.figures["worst"] == "B"


def exposed(highest, failed, harmful=()):
    every = (*harmful, *failed)
    return Made(
        exposure=Made(
            failed=every,
            harmful=harmful,
            judged=range(7),
            times=np.array([0.0, 3600.0]),
            co=np.array([[0.0, highest], [0.0, 999.0]]),
        )
    )


def over(name, when):
    return Made(over=when, limit=Made(cited=name))


def test_carbon_monoxide_is_told_by_harm_before_guidelines_and_by_the_first(entering):
    op = around(
        spills=[
            exposed(300.0, [over("guide", 10.0)]),
            exposed(80.0, [over("guide", 5.0)], (over("late", 900.0), over("soon", 60.0))),
            exposed(500.0, []),
        ]
    )
    op.scan, op.reversals = scanned([0, 1, 0, 0]), (back("A"),)
    figures = told(spillage_findings.spillage(op))["spillage"].figures
    assert (figures["co"], figures["failed"], figures["judged"], figures["limit"]) == (80.0, 3, 7, "soon")
    assert figures["kind"].codes == ("harm",) and figures["first"].codes == ("later",)
    op.around.spills = [exposed(300.0, [over("guide", 0.0)])]
    figures = told(spillage_findings.spillage(op))["spillage"].figures
    assert figures["kind"].codes == ("guideline",) and figures["first"].codes == ("at once",)
    op.around.spills = [exposed(100.0, [over("low", 9.0)]), exposed(300.0, [over("high", 9.0)])]
    assert told(spillage_findings.spillage(op))["spillage"].figures["limit"] == "high"
    op.around.spills = [exposed(300.0, [])]
    assert "co" not in told(spillage_findings.spillage(op))["spillage"].figures


def test_what_does_not_rest_and_what_was_not_solved_are_two_findings(entering):
    scan = scanned([0, 1, 0, 1], drawn=[[0.3, -0.1, -0.2, 0.0], [0.0, -0.3, 0.5, 0.0]], restless=[1, 1, 1, 0])
    found = told(spillage_findings.unsettled(Made(scan=scan, restless=3, unsolved=5)))
    assert found["unsolved"].figures["conditions"] == 2
    rest = found["no_rest"].figures
    assert (rest["conditions"], rest["spilling"], rest["state"].column) == (3, 1, 1)
    assert not told(spillage_findings.unsettled(Made(scan=scan, restless=0, unsolved=0)))


# --- Starts ------------------------------------------------------------------------------------------------------


def met(name, beyond=0.0, outside=0.0, into_room=0.0):
    return Made(appliance=name, beyond=beyond, outside=outside, into_room=into_room)


def start(*outlets, season="winter", order=("A", "B")):
    return Made(outlets=outlets, season=season, order=order, into_room=sum(o.into_room for o in outlets))


def tried(starts=(), worst=None, **limits):
    none = Made(codes=())
    sides = Made(**{"high": none, "low": none, "loses_proof": False} | limits)
    coverage = Made(orders=3, possible=6, failures=40)
    found = dict.fromkeys(failures.CASES) | (worst or {})
    return told(
        start_findings.starts(Made(tried=Made(starts=starts, worst=found.get, limits=sides, coverage=coverage)))
    )


def test_a_start_that_lets_flue_gas_into_the_room_is_told_by_the_most():
    least = load_changes.LEAST_SPILL
    starts = [
        start(met("A", into_room=least)),
        start(met("A", into_room=2 * least), met("B", into_room=0.5 * least), met("C"), season="summer"),
        start(met("B", into_room=1.5 * least)),
    ]
    found = tried(starts)["start_spills"]
    assert found.subjects == ("A", "B") and found.figures["spilled"] == Q_(2.5 * least, "kg")
    assert found.figures["season"] == "summer" and not tried(starts[:1])


def test_a_start_outside_a_window_is_told_by_how_long():
    long, short = HIGH_DELAY + 1.0, HIGH_DELAY
    found = tried(
        [
            start(met("A", 3.0, long), met("B", 7.0, short)),
            start(met("A", 4.0, long + 1.0), season="summer"),
            start(met("C", READABLE, long)),
        ]
    )
    outside, briefly = found["start_outside"], found["start_outside_briefly"]
    assert outside.subjects == ("A",) and pascals(outside, "beyond") == [4.0]
    assert (outside.figures["season"], outside.figures["lasts"]) == ("summer", Q_(long + 1.0, "s"))
    assert (outside.figures["orders"], outside.figures["possible"]) == (3, 6)
    assert briefly.subjects == ("B",) and pascals(briefly, "beyond") == [7.0]


def failed(case, shutdown=np.inf, beyond=5.0, into_room=0.0):
    outlets = (met("A", beyond), met("B", 0.0))
    made = Made(case=case, shutdown=shutdown, beyond=beyond, into_room=into_room, season="winter", outlets=outlets)
    made.spills = failures.Failure.spills.fget(made)
    return made


@pytest.mark.parametrize(
    ("case", "changed", "code"),
    [
        (failures.FAN, {}, "failure_unseen"),
        (failures.FAN, {"into_room": 1.0}, "failure_spills"),
        (failures.FAN, {"into_room": load_changes.LEAST_SPILL}, "failure_unseen"),
        (failures.FAN, {"shutdown": 8.0}, "failure_seen_late"),
        (failures.STILL, {}, "sensor_unseen"),
        (failures.BLOCKED, {}, "sensor_unseen"),
        (failures.STILL, {"into_room": 1.0}, "failure_spills"),
        (failures.FLAME, {}, "failure_seen_late"),  # not counted as seen, for the others run on by right
        (failures.FAN, {"beyond": READABLE}, None),
    ],
)
def test_a_failure_is_told_by_whether_it_is_seen_and_what_comes_into_the_room(case, changed, code):
    found = tried(worst={case: failed(case, **changed)})
    assert list(found) == ([code] if code else [])
    if code:
        shutdown = changed.get("shutdown", 0.0)
        assert found[code].subjects == ("A",) and found[code].figures["shutdown"] == Q_(shutdown, "s")


def test_the_failure_that_lets_most_in_is_the_worst_of_its_kind():
    other = next(c for c in failures.CASES if c not in (failures.FAN, failures.STILL, failures.BLOCKED, failures.FLAME))
    found = tried(
        worst={failures.FAN: failed(failures.FAN, beyond=50.0, into_room=0.1), other: failed(other, into_room=0.2)}
    )
    assert found["failure_spills"].figures["worst"].codes == (other,)
    # Without gas that anybody would see the farthest outside is the worst, by whatever little the other lets in.
    found = tried(
        worst={failures.FAN: failed(failures.FAN, beyond=50.0), other: failed(other, beyond=5.0, into_room=1e-15)}
    )
    assert found["failure_unseen"].figures["worst"].codes == (failures.FAN,)


def limit(code, **changed):
    usual = {
        "codes": (code,),
        "has": 4.0,
        "soonest": 6.0,
        "pressure": 1.0,
        "edge": 2.0,
        "normal": 3.0,
        "error": 0.5,
        "delay": 7.0,
        "needs": 8.0,
        "appliance": "A",
    }
    return Made(**usual | changed)


@pytest.mark.parametrize("code", [derived_limits.NO_ROOM, derived_limits.TRIPS_A_START, derived_limits.TOO_SLOW])
def test_a_limit_that_does_not_fit_is_told_by_its_side(code):
    found = tried(low=limit(code))[f"limit_{code}"]
    assert found.figures["limits"].codes == ("low",) and found.figures["has"] == Q_(4.0, "s")
    assert pascals(found, "pressure", "edge", "normal", "error") == [1.0, 2.0, 3.0, 0.5]
    both = tried(low=limit(code), high=limit(code, has=9.0, appliance="B"))[f"limit_{code}"]
    assert both.figures["limits"].codes == ("both",) and both.figures["side"].codes == ("high",)
    assert both.subjects == ("B", "A") and both.figures["has"] == Q_(6.0, "s")
    never = tried(high=limit(code, has=np.inf, soonest=np.inf))[f"limit_{code}"]
    assert never.figures["has"] == Q_(0.0, "s")


# --- All together ------------------------------------------------------------------------------------------------


def test_everything_that_can_be_found_is_judged():
    """Every public generator of findings of an operation is one of the judgement's parts: none can be forgotten."""
    parts = (device_findings, draft_findings, outlet_findings, spillage_findings, start_findings,
             surrounding_findings, vent_findings)  # fmt: skip
    every = {
        function
        for module in parts
        for name, function in vars(module).items()
        if inspect.isgeneratorfunction(function) and function.__module__ == module.__name__ and not name.startswith("_")
    }
    assert every == set(judgement.PARTS) and len(judgement.PARTS) == len(every)


@pytest.mark.parametrize(
    ("codes", "asked", "kept"),
    [
        (("thin_margin", "wet"), False, ("thin_margin", "wet")),
        (("thin_margin", "wet"), True, ("chance_failing", "wet")),
        (("thin_margin", "run_too_long"), True, ("thin_margin", "run_too_long")),  # it fails for sure
        (("wet",), True, ("chance_failing", "wet")),
        (("wet",), False, ("wet",)),
    ],
)
def test_a_chance_that_was_asked_for_is_told_in_place_of_thin_margins_alone(monkeypatch, codes, asked, kept):
    (chance,) = sorted(c for c in findings.table() if c.startswith("chance"))[:1]
    monkeypatch.setattr(judgement, "PARTS", (lambda op: [findings.Finding(c) for c in codes],))
    monkeypatch.setattr(judgement.chance_findings, "chances", lambda op: [findings.Finding(chance)])
    judged = judgement.judge(Made(sure="asked" if asked else None))
    wanted = [chance if k == "chance_failing" else k for k in kept]
    assert sorted(f.code for f in judged.findings) == sorted(wanted)
