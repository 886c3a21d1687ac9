"""Pictures: whole, each with its caption, and what one is to see in it follows from the study's own numbers."""

import re
from dataclasses import replace

import pytest
from sample_reports import drawn
from sample_studies import JOBS, STUDIES

from ventcalc.show import pictures, plots
from ventcalc.units import SYSTEMS
from ventcalc.vent import outlet_envelope

# NIST SP 811 (2008), appendix B.8: inch of water (39.2 °F) 249.082 Pa, conventional 249.0889 Pa.
INCH_OF_WATER = 249.0889

_NUMBER = r"(-?[\d,]*\.?\d+)"


@pytest.fixture(params=JOBS)
def found(request):
    return STUDIES[request.param]


@pytest.fixture
def undrawn(monkeypatch):
    """Pictures are slow to draw, and here their words are asked for."""
    monkeypatch.setattr(plots, "png", lambda *_, **__: b"")


def numbers(sentence, unit):
    """The numbers of a sentence that stand before a unit."""
    return [float(n.replace(",", "")) for n in re.findall(rf"{_NUMBER} {re.escape(unit)}", sentence)]


def test_page_one_s_drawing_is_of_the_remedy_only_where_one_is_proposed(undrawn, found):
    front = pictures.figures(found)["front"].caption
    assert ("as drawn" in front) == (found.reported is found) and ("remedy proposed" in front) != ("as drawn" in front)


@pytest.mark.slow
def test_pictures_are_whole():
    for name, picture in drawn("lodge").items():
        assert picture.name == name
        # ISO/IEC 15948: the signature, and the last chunk.
        assert picture.image.startswith(b"\x89PNG\r\n\x1a\n") and picture.image[-8:-4] == b"IEND"
        assert picture.data.startswith("data:image/png;base64,iVBORw0KGgo")  # the signature by RFC 4648


@pytest.mark.slow
def test_every_picture_has_a_caption_and_says_what_to_see(found, undrawn):
    for system in SYSTEMS:
        for picture in pictures.figures(found, system).values():
            assert len(picture.caption) > 30 and len(picture.see) > 30
            assert picture.caption.endswith(".") and picture.see.endswith((".", "]"))  # a rule ends with its source
            assert "{" not in picture.caption + picture.see
            assert ("w.c." in picture.see) <= (system == "US")


@pytest.mark.slow
def test_pressure_at_the_outlet_is_the_sum_that_is_told(found, undrawn):
    """Bernoulli along the path: losses and wind, less draft, less velocity head, less the room, is the outlet.

    Where a fan stands there already, less what it adds as well.
    """
    parts = 5 + (found.outcome.remedy.fan is not None)
    worst = min(found.envelopes, key=lambda e: e.margin)
    for system, pascal, digit in (("US", INCH_OF_WATER, 0.001), ("SI", 1.0, 0.1)):
        see = pictures.figures(found, system)["pressure"].see
        told = numbers(see, "in. w.c." if system == "US" else "Pa")
        assert len(told) == 2 * parts
        for outlet, (spent, *less, shown) in zip((worst.high, worst.low), (told[:parts], told[parts:]), strict=True):
            # Half a digit for each figure.
            assert spent - sum(less) == pytest.approx(shown, abs=0.5 * parts * digit)
            assert shown * pascal == pytest.approx(outlet, abs=0.51 * digit * pascal)


@pytest.mark.slow
def test_rise_appliances_and_sections_are_those_drawn(undrawn):
    see = pictures.figures(STUDIES["swim_hall"])["layout"].see
    plant = STUDIES["swim_hall"].job.plant
    assert see.startswith(f"3 appliances, {len(plant.sections)} sections, ")
    ends = [z for both in plant.heights.values() for z in both]  # m; 1 ft is 0.3048 m (NIST SP 811)
    assert numbers(see, "ft") == [pytest.approx((max(ends) - min(ends)) / 0.3048, abs=0.051)]
    assert pictures.figures(STUDIES["laundry"])["layout"].see.startswith("1 appliance, ")


@pytest.mark.slow
def test_wall_is_wet_below_its_dew_point_and_dry_above(undrawn):
    wet = 0
    for found in STUDIES.values():
        see = pictures.figures(found)["temperature"].see
        wall, dew = numbers(see, "°F")
        if "backward" not in see:
            assert ("wet" in see) == (wall < dew) or wall == dew
            wet += "wet" in see
    assert wet


@pytest.mark.slow
def test_a_swing_wider_than_its_window_cannot_be_shifted_inside(found, undrawn):
    see = pictures.figures(found)["envelopes"].see
    inside, count = re.match(r"Outlets that stay inside: (\d+) of (\d+)\.", see).groups()
    edge = outlet_envelope.READABLE  # what can be read: a fraction of it beyond is not outside
    fits = [e.window[0] - edge <= e.low and e.high <= e.window[1] + edge for e in found.envelopes]
    assert (int(inside), int(count)) == (sum(fits), len(fits))
    most = max((e.high - e.low) / (e.window[1] - e.window[0]) for e in found.envelopes)
    assert f"{most:.1f} times as wide" in see
    assert ("no steady shift" in see) == (most > 1.0) and ("could hold it inside" in see) == (most <= 1.0)


@pytest.mark.slow
def test_cures_are_counted(found, undrawn):
    made = pictures.figures(found)
    assert ("remedies" in made) == bool(found.outcomes)
    for cures, says in ((0, "none cures every state"), (1, "1 cures every state"), (2, "2 cure every state")):
        sharpest, blunt = ([o for o in found.outcomes if o.cured is cured] for cured in (True, False))
        some = (*sharpest[:cures], *blunt[:1])
        if len(sharpest) >= cures and blunt:
            assert says in pictures.figures(replace(found, outcomes=some))["remedies"].see


@pytest.mark.slow
def test_a_start_tells_how_many_limits_tripped(undrawn):
    found = STUDIES["lodge"]
    run = found.offered.trial
    for trips, says in (((), "nothing trips."), (run.trace.trips[:1], "1 limit tripped."),
                        (run.trace.trips[:1] * 2, "2 limits tripped.")):  # fmt: skip
        trial = replace(run, trace=replace(run.trace, trips=trips))
        offered = replace(found.offered, tried=replace(found.offered.tried, trial=trial))
        assert pictures.figures(replace(found, offered=offered))["trial"].see.endswith(says)


def test_flue_gas_in_the_room_is_no_reason_to_stay(undrawn):
    spills = [p for p in pictures.figures(STUDIES["school"]).values() if p.name == "spill"]
    assert spills and all("leave" in p.see and " ppm" in p.see for p in spills)
