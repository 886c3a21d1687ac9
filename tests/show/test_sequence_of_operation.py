"""Sequence of operation: all of the table is told, once, with the very settings of the study, in both systems."""

import re
from dataclasses import replace
from enum import Enum

import pytest
from sample_remedies import DEVICES, designed
from sample_reports import Page
from sample_submittals import EVERY, HELD, SYSTEMS, faultless, paper, proposing, records

from ventcalc.draft import start_sequence, startup_sheet
from ventcalc.draft.sequencer import DELAYS, TIMES
from ventcalc.draft.start_sequence import FAULTS, LIMITS, OUTPUTS, Event, State
from ventcalc.draft.start_settings import ROWS
from ventcalc.show import remedy_records, sequence_of_operation
from ventcalc.show.tags import tags
from ventcalc.units import Q_

CONTROLLED = [*DEVICES, "pipe changes and a damper", "shorter stack with a fan", "liner and a fan"]


class Larger:
    """The states with one that the sequence does not know yet."""

    extra = Enum("Extra", {"WAITING": "waiting for its turn"}).WAITING

    def __iter__(self):
        return iter([*State, self.extra])

    def __getattr__(self, name):
        return getattr(State, name)


def sentences(kind, system="SI"):
    return records("sequence_of_operation", kind, system)


def figures(kind, system="SI"):
    return {name: figure for r in sentences(kind, system) for name, figure in r["figures"].items()}


def of_move(kind, state, event, system="SI"):
    (found,) = [r for r in sentences(kind, system) if [state.value, event.value] in [m[:2] for m in r["moves"]]]
    return found["sentence"]


def called(kind, state):
    """No fan starts where there is none."""
    return state if tags(designed(kind)).fan else state.replace("fan starting", "devices starting")


@pytest.mark.parametrize("kind", CONTROLLED)
def test_no_step_is_named_by_a_fan_that_the_vent_has_not(kind):
    heads = " ".join(r["heading"] + r["sentence"] for r in sentences(kind) if r["heading"] != "faults and limits")
    assert ("fan starting" in heads) == bool(tags(designed(kind)).fan) != ("devices starting" in heads)


@pytest.mark.parametrize("kind", [k for k in CONTROLLED if "outlet" in k])
def test_a_damper_that_throttles_while_its_burner_fires_does_not_trip_it(kind):
    """Proved open it is before the release alone; what stands in the chain is that it is not shut, on every paper."""
    named = tags(designed(kind))
    (chain,) = [r["sentence"] for r in sentences(kind) if "two switches" in r["sentence"]]
    assert "before the release alone" in chain and "not shut: it is wired into the chain" in chain
    assert not any("no longer proved open" in r["sentence"] for r in sentences(kind))
    points = {p["name"]: p for p in records("points_list", kind, "SI")}
    for tag in named.outlet_dampers.values():
        assert "chain of its burner" in points[f"{tag} not shut"]["wired"]
        assert "chain" not in points[f"{tag} open"]["wired"]
        assert "release" in points[f"{tag} open"]["description"]
        (row,) = [r for r in records("equipment_schedule", kind, "SI") if r["tag"] == tag]
        (switches,) = [told for told in row["listing"] if "switches" in told]
        assert "open, for the release" in switches and "not shut, in the chain" in switches
    if not named.sensor:
        assert "no longer proved not shut" in of_move(kind, State.RUN, Event.PROOF_LOST)


def test_one_burner_runs_through_the_states_by_itself():
    kind = "damper"
    one = proposing(kind)
    p = sequence_of_operation._Program(one.reported, sequence_of_operation.header_settings(one.reported),
                                       tags(one.reported), "US")  # fmt: skip
    alone = replace(p, tags=replace(p.tags, burners={"A heater": "B-1"}))
    told = [r["sentence"] for r in sequence_of_operation._scope(alone)]
    assert any(s.startswith("B-1 (A heater) runs through the states below.") for s in told)
    assert not any("side by side" in s for s in told)
    assert len(p.tags.burners) > 1 and any("side by side" in r["sentence"] for r in sequence_of_operation._scope(p))


def test_a_burner_that_only_burns_or_not_is_told_no_blower_and_no_low_fire():
    """An atmospheric burner under a draft hood has no blower, and one of one level nothing between (common practice,
    no source): a sequence that purges it by its blower, or holds it at low fire, cannot be programmed."""
    one = proposing("fan").reported
    settings = sequence_of_operation.header_settings(one)
    plain = tuple(replace(b, purge_flow=None, codes=(0.0, 1.0, 1.0)) for b in settings.burners)
    p = sequence_of_operation._Program(one, replace(settings, burners=plain), tags(one), "US")
    told = {
        state: [r["sentence"] for r in sequence_of_operation._state(p, state)] for state in (State.PURGE, State.RUN)
    }
    assert not any("its own blower" in s for s in told[State.PURGE])
    assert all(
        "contact of its release closes at the end of that wait" in s for s in told[State.PURGE][1 : 1 + len(plain)]
    )
    assert not any("low fire" in s or "modulates" in s for s in told[State.RUN])
    turned = replace(p, settings=replace(settings, burners=(replace(plain[0], codes=(0.0, 1.0, 2.0)), *plain[1:])))
    assert any("modulates" in r["sentence"] for r in sequence_of_operation._state(turned, State.RUN))


@pytest.mark.parametrize("kind", CONTROLLED)
def test_everything_in_the_table_is_told_once(kind):
    told = [tuple(move) for r in sentences(kind) for move in r["moves"]]
    table = start_sequence.TRANSITIONS.items()
    assert sorted(told) == sorted((s.value, e.value, to.value) for (s, e), to in table if to is not s)
    assert {r["heading"] for r in sentences(kind)} >= {called(kind, s.value) for s in State}
    assert {event for _, event, _ in told} == {e.value for e in Event}
    for r in sentences(kind):
        assert all(called(kind, after) in r["sentence"] for *_, after in r["moves"])


@pytest.mark.parametrize("kind", ["fan", "damper at each outlet"])
def test_a_state_without_a_sentence_is_refused(kind, monkeypatch):
    outputs = {**OUTPUTS, Larger.extra: OUTPUTS[State.PROVING]}
    monkeypatch.setattr(sequence_of_operation, "State", Larger())
    monkeypatch.setattr(sequence_of_operation, "OUTPUTS", outputs)
    monkeypatch.setattr(
        sequence_of_operation, "step", lambda s, e: s if s is Larger.extra else start_sequence.step(s, e)
    )
    with pytest.raises(KeyError, match="WAITING"):
        sequence_of_operation.sequence_of_operation(proposing(kind))


def test_an_event_without_a_sentence_is_refused(monkeypatch):
    table = {**start_sequence.TRANSITIONS, (State.RUN, Event.PROVED): State.PURGE}
    monkeypatch.setattr(sequence_of_operation, "step", lambda state, event: table[state, event])
    with pytest.raises(KeyError, match="RUN_PROVED"):
        sequence_of_operation.sequence_of_operation(proposing("fan"))


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("kind", [k for k in CONTROLLED if k != "damper at each outlet"])
def test_every_setting_is_told_as_it_was_proved(kind, system):
    found, settings = figures(kind, system), designed(kind).trial.settings
    # What a burner without a blower does not need stands nowhere: these jobs have none that tells its purge flow.
    assert set(ROWS) - set(found) == {"changes", "vent_volume", "blower"}
    for name in set(ROWS) & set(found):
        value = getattr(settings, name)
        assert found[name]["shown"] == startup_sheet.shown(value, system)
        assert found[name]["value"] == pytest.approx(float(value.m_as(found[name]["unit"])), rel=1e-12)
        assert any(found[name]["shown"] in r["sentence"] for r in sentences(kind, system) if name in r["figures"])


@pytest.mark.parametrize("kind", HELD)
@pytest.mark.parametrize("system", SYSTEMS)
def test_figures_are_those_of_the_start_up_sheet_in_the_results(kind, system):
    sheet = {r["name"]: r["value"] for r in remedy_records.offered(proposing(kind), system)["sheet"]}
    found = figures(kind, system)
    for name in set(ROWS) & set(found):
        assert found[name]["shown"] == sheet[ROWS[name]["label"]]


def test_a_burner_with_a_blower_purges_for_its_volume_changes():
    one = designed("fan")
    burner = replace(one.trial.settings.burners[0], purge_flow=start_sequence_flow())
    settings = replace(one.trial.settings, burners=(burner, *one.trial.settings.burners[1:]))

    def purge_of(settings):
        study = replace(one, tried=replace(one.tried, trial=replace(one.trial, settings=settings)))
        told = sequence_of_operation.sequence_of_operation(study, "SI")
        return next(r for r in told if "purge B-1" in r["figures"])

    r = purge_of(settings)
    # Time = changes x volume / flow (definition of an air change), not below the shortest purge.
    by_hand = float((settings.changes * burner.chamber / burner.purge_flow).m_as("s"))
    assert r["figures"]["purge B-1"]["value"] == pytest.approx(max(by_hand, settings.seconds("least_purge")))
    assert by_hand > settings.seconds("least_purge") and "changes" in r["figures"]
    # The vent is told of only where it is purged as well.
    assert settings.vent_volume.m == 0.0 and "vent" not in r["sentence"] and "vent_volume" not in r["figures"]
    both = purge_of(replace(settings, vent_volume=Q_(2.0, "m**3")))
    assert "2 m³ of the vent" in both["sentence"] and both["figures"]["vent_volume"]["value"] == pytest.approx(2.0)


def start_sequence_flow():
    """A purge flow so small that volume changes take longer than the shortest purge."""
    chamber = designed("fan").trial.settings.burners[0].chamber
    return (chamber / designed("fan").trial.settings.least_purge).to("m**3/s")


@pytest.mark.parametrize("kind", CONTROLLED)
def test_times_and_delays_stand_where_they_act(kind):
    settings = sequence_of_operation.header_settings(designed(kind))
    for event in FAULTS:
        if event in DELAYS:
            shown = startup_sheet.shown(getattr(settings, DELAYS[event]), "SI")
            assert re.search(rf"\b{re.escape(shown)}\b", of_move(kind, State.RUN, event)) or event is Event.POWER_LOST
    for state, name in TIMES.items():
        assert startup_sheet.shown(getattr(settings, name), "SI") in of_move(kind, state, Event.TIME_UP)
    for event in LIMITS:
        assert "All burners" in of_move(kind, State.RUN, event)
    assert "That burner alone" in of_move(kind, State.RUN, Event.FLAME_LOST)


@pytest.mark.parametrize("kind", CONTROLLED)
def test_what_a_state_commands_is_that_of_the_table(kind):
    named = tags(designed(kind))
    for state in State:
        text = next(r["sentence"] for r in sentences(kind) if r["heading"] == called(kind, state.value))
        output = OUTPUTS[state]
        assert ("burner released" in text, "alarm on" in text) == (output.release, output.alarm)
        assert ("pilot valve may" in text, "main valve may" in text) == (output.pilot, output.main)
        assert ("no fuel" in text) == (not output.release and not output.fuel)
        if named.fan:
            assert (f"{named.fan} off" in text) == (not output.fan)
        if named.damper:
            phrase = {"rest": "de-energized", "open": "open", "control": "under draft control"}[output.damper]
            assert f"{named.damper} {phrase}" in text


@pytest.mark.parametrize("kind", HELD)
def test_the_loop_is_told_with_its_set_point_and_gains(kind):
    text = " ".join(r["sentence"] for r in sentences(kind) if r["heading"] == "draft control")
    settings = designed(kind).trial.settings
    for name in ("set_point", "gain", "integral_time", "filter"):
        assert startup_sheet.shown(getattr(settings, name), "SI") in text
    assert ("NOT FOUND" in text) == (not designed(kind).trial.tuned)
    named = tags(designed(kind))
    for control in designed(kind).outcome.remedy.controls[1:]:
        assert f"{named.outlet_dampers[control.sensor]} {startup_sheet.shown(control.set_point, 'SI')}" in text


def test_gains_that_were_not_found_are_said_to_be_so():
    one = designed("fan")
    untuned = replace(one, tried=replace(one.tried, trial=replace(one.trial, tuned=False)))
    told = [r["sentence"] for r in sequence_of_operation.sequence_of_operation(untuned)]
    assert sum("NOT FOUND ON THE VENT" in s for s in told) == 1


@pytest.mark.parametrize("kind", ["damper at each outlet", "fan"])
def test_what_was_not_followed_in_time_is_not_told_as_proved(kind):
    one = replace(designed(kind), tried=None)
    told = sequence_of_operation.sequence_of_operation(one, "SI")
    assert told[0]["sentence"].startswith("NOT PROVED") and told[0]["number"] == "1.1"
    followed = designed(kind).tried is not None
    assert any(r["sentence"].startswith("NOT PROVED") for r in sentences(kind)) == (not followed)


def test_without_a_sensor_at_the_header_no_limit_of_the_header_is_told():
    found = figures("damper at each outlet")
    assert not {"set_point", "proof", "high_limit", "low_limit", "sensor_least", "gain"} & set(found)
    windows = [w.m_as("Pa") for w in designed("damper at each outlet").job.plant.appliances[0].window]
    assert [found["low B-1"]["value"], found["high B-1"]["value"]] == pytest.approx(windows)


@pytest.mark.parametrize("kind", [k for k in EVERY if k not in CONTROLLED])
def test_a_vent_with_nothing_to_control_has_no_sequence(kind):
    (only,) = sentences(kind)
    assert only["number"] == "1.1" and not only["moves"] and not only["figures"]


@pytest.mark.parametrize("kind", EVERY)
def test_its_page_is_whole(kind):
    for system in SYSTEMS:
        numbers = [tuple(int(n) for n in r["number"].split(".")) for r in sentences(kind, system)]
        assert numbers == sorted(set(numbers))
        page = Page(paper("sequence_of_operation", proposing(kind), system))
        assert not page.faults and not page.open
        for r in sentences(kind, system):
            assert " ".join(r["sentence"].split()) in page.text
            assert "None" not in r["sentence"] and "{" not in r["sentence"] and "  " not in r["sentence"]


def test_the_table_warns_of_a_design_that_is_not_to_be_built():
    study = proposing("fan")
    table = sequence_of_operation.table(study)
    assert "NOT TO BUILD" in table.rows[0][0] and len(table.rows) == len(sentences("fan")) + 1
    assert sequence_of_operation.table(faultless(study)).rows[0][0] == "1.1"


def test_fuel_without_flame_ends_within_what_the_rule_allows():
    # 46 CFR 62.35-20(a)(6): a pilot trial of at most 15 s (as in data/draft/start_sequence.csv).
    assert figures("fan")["pilot_trial"]["value"] <= 15.0
