"""Remarks: a code and figures until somebody reads them; every sentence of the Part is told somewhere."""

from pathlib import Path

import pytest

import ventcalc
from ventcalc.draft.remark import Remark, told
from ventcalc.units import Q_
from ventcalc.words import sentences

SOURCES = "".join(p.read_text(encoding="utf-8") for p in Path(ventcalc.__file__).parent.glob("draft/*.py"))


def test_a_remark_is_told_in_both_systems():
    # 1 in. w.c. = 249.089 Pa: NIST SP 811.
    costs = Remark("damper_sizing", "costs", {"costs": Q_(24.9089, "Pa"), "flow": Q_(0.5, "m**3/s")})
    assert told((costs, costs), "SI") == ("open, it costs 24.9 Pa too much at 0.500 m³/s",) * 2
    assert costs.words() == "open, it costs 0.100 in. w.c. too much at 1,059 cfm"


def test_what_lacks_a_figure_or_a_sentence_is_refused():
    with pytest.raises(KeyError, match="flow"):
        Remark("damper_sizing", "costs", {"costs": Q_(1.0, "Pa")}).words()
    with pytest.raises(KeyError, match="nothing"):
        Remark("damper_sizing", "nothing").words()


@pytest.mark.parametrize("key", [f"{s}.{c}" for s, told_ in sentences("draft").items() for c in told_])
def test_every_sentence_is_of_some_use(key):
    subject, _, code = key.partition(".")
    assert f'"{subject}"' in SOURCES and (f'"{code}"' in SOURCES or code.startswith("by_")), "no module tells it"
