"""Nominal sizes."""

import pytest

from ventcalc.units import Q_
from ventcalc.vent import nominal_sizes


def test_sizes_that_are_sold():
    assert nominal_sizes.next_size(Q_(4.2, "inch")) == Q_(5.0, "inch")
    assert nominal_sizes.next_size(Q_(6.0, "inch")) == Q_(6.0, "inch")
    assert nominal_sizes.next_size(Q_(101.0, "mm"), "SI") == Q_(110.0, "mm")
    with pytest.raises(ValueError, match="largest size"):
        nominal_sizes.next_size(Q_(60.0, "inch"))
