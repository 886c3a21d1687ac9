"""Words: figures in sentences, in both unit systems; what is missing is an error, not a gap."""

from pathlib import Path

import pytest

import ventcalc
from ventcalc import words
from ventcalc.units import Q_


def test_figures_are_shown_by_their_kind_in_both_systems():
    # 1 in. w.c. = 249.089 Pa and 1 ft = 0.3048 m: NIST SP 811.
    figures = {"pressure": Q_(-24.9089, "Pa"), "height": Q_(3.048, "m"), "count": 1234, "share": 0.256}
    text = "{pressure:draft} over {height}, {count} times, {share:.0%}, {share}"
    assert words.fill(text, figures) == "-0.100 in. w.c. over 10.0 ft, 1,234 times, 26%, 0.256"
    assert words.fill(text, figures, "SI") == "-24.9 Pa over 3.05 m, 1,234 times, 26%, 0.256"


def test_a_share_is_told_in_percent_as_quantities_are():
    text, figures = "{share:percent}, {gain:+percent}, {ratio:.0f percent}", {"share": 0.256, "gain": 0.25}
    assert words.fill(text, figures | {"ratio": Q_(0.256, "")}) == "26 %, +25 %, 26 %"


def test_a_sentence_may_differ_by_system():
    text = {"US": "one in. w.c.", "SI": "one pascal"}
    assert (words.fill(text, {}), words.fill(text, {}, "SI")) == ("one in. w.c.", "one pascal")


def test_a_unit_that_ends_in_a_stop_ends_the_sentence():
    assert words.fill("It is {p:draft}.", {"p": Q_(1.0, "inH2O")}) == "It is 1.000 in. w.c."


def test_names_are_listed_as_one_writes():
    assert words.listed(("A",)) == "A" and words.listed(("A", "B")) == "A and B"
    assert words.fill("{names} fire", {"names": ("A", "B", "C")}) == "A, B and C fire"


def test_numbered_names_that_count_on_are_told_as_one():
    boilers = tuple(f"Boiler {k}" for k in range(1, 11))
    assert words.listed(boilers) == "Boiler 1 to 10"
    assert words.listed(("Heater", *boilers[:3])) == "Heater, Boiler 1, Boiler 2 and Boiler 3"  # three are told
    assert words.listed((*boilers[5:], "Boiler 12", "A 1")) == "Boiler 6 to 10, Boiler 12 and A 1"
    assert words.spans(("2", "3", "4", "5")) == ("2 to 5",) and words.spans(()) == ()
    doing = [*(("Boiler " + str(k), "off") for k in range(1, 9)), ("Boiler 9", "high"), ("Boiler 10", "off")]
    assert list(words.together(doing)) == [("Boiler 1 to 8", "off"), ("Boiler 9", "high"), ("Boiler 10", "off")]


def test_a_missing_figure_is_refused():
    with pytest.raises(KeyError, match="height"):
        words.fill("{height} high", {})


def test_words_of_a_part_are_read_from_its_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(words, "DATA", tmp_path)
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "words.toml").write_text('[roof]\nhigh = "{z:height} high"\n')
    words.sentences.cache_clear()
    try:
        assert words.say("here", "roof", "high", z=Q_(1.0, "ft")) == "1.0 ft high"
        (tmp_path / "here" / "words.toml").write_text('[roof.high]\nUS = "feet"\n')
        words.sentences.cache_clear()
        with pytest.raises(ValueError, match=r"roof\.high is told in US alone"):
            words.sentences("here")
        with pytest.raises(ValueError, match="no words of 'nowhere'"):
            words.sentences("nowhere")
    finally:
        words.sentences.cache_clear()


def test_small_counts_are_spelled():
    told = words.fill("{few:Word} boilers of {most:word}, {few} in figures", {"few": 2, "most": 12})
    assert told == "Two boilers of twelve, 2 in figures"
    with pytest.raises(IndexError):
        words.fill("{many:word}", {"many": 13})


def test_a_quantity_may_be_told_by_a_format_and_a_unit():
    # 1 hour = 3600 s; 1 in. = 25.4 mm: NIST SP 811.
    figures = {"wait": Q_(5400.0, "s"), "size": Q_(1.0, "inch"), "share": Q_(25.0, "percent"), "heat": Q_(1e6, "W")}
    told = words.fill("{wait:.1f hour}, {size:.1f mm}, {size:.2f inch}, {share:.3f}, {heat:,.0f W}", figures, "SI")
    assert told == "1.5 h, 25.4 mm, 1.00 in., 0.250, 1,000,000 W"


DRAFT = "".join(p.read_text(encoding="utf-8") for p in Path(ventcalc.__file__).parent.glob("draft/*.py"))


def test_a_remark_is_told_in_both_systems():
    # 1 in. w.c. = 249.089 Pa: NIST SP 811.
    costs = words.Remark("draft", "damper_sizing", "costs", {"costs": Q_(24.9089, "Pa"), "flow": Q_(0.5, "m**3/s")})
    assert words.told((costs, costs), "SI") == ("open, it costs 24.9 Pa too much at 0.500 m³/s",) * 2
    assert costs.words() == "open, it costs 0.100 in. w.c. too much at 1,059 cfm"


def test_what_lacks_a_figure_or_a_sentence_is_refused():
    with pytest.raises(KeyError, match="flow"):
        words.Remark("draft", "damper_sizing", "costs", {"costs": Q_(1.0, "Pa")}).words()
    with pytest.raises(KeyError, match="nothing"):
        words.Remark("draft", "damper_sizing", "nothing").words()


@pytest.mark.parametrize("key", [f"{s}.{c}" for s, told_ in words.sentences("draft").items() for c in told_])
def test_every_sentence_of_draft_is_told_somewhere(key):
    subject, _, code = key.partition(".")
    assert f'"{subject}"' in DRAFT and (f'"{code}"' in DRAFT or code.startswith("by_")), "no module tells it"


@pytest.mark.parametrize(
    ("written", "meant"),
    [("Rain Cap", "rain cap"), ("90 degree elbow", "elbow 90"), ("elbow-90", "elbow 90"), ("open  ends", "open end")],
)
def test_the_name_that_was_probably_meant_comes_first(written, meant):
    names = ("elbow 90", "elbow 45", "rain cap", "open end")
    assert words.meant(written, names) == f"did you mean {meant!r}? known are: elbow 90, elbow 45, rain cap, open end"
    assert words.meant("paper", names).startswith("known are: ")


def test_a_name_of_which_some_words_are_left_out_is_asked_back():
    names = (
        "Type B gas vent",
        "Type L vent",
        "single-wall galvanized connector",
        "single-wall stainless vent",
        "PVC pipe",
    )
    assert words.meant("Type B", names).startswith("did you mean 'Type B gas vent'?")
    both = "did you mean 'single-wall galvanized connector' or 'single-wall stainless vent'?"
    assert words.meant("single wall", names).startswith(both)


@pytest.mark.parametrize(("count", "told"), [(1, "1 day"), ("less than 1", "less than 1 day"), (0, "0 days"),
                                             (2.0, "2 days"), ("1,204", "1,204 days")])  # fmt: skip
def test_what_is_counted_is_told_as_of_one_or_of_many(count, told):
    assert words.fill("{days:day|days} of the year", {"days": count}) == f"{told} of the year"
