"""Job form of the year: what a file may say of climate, load and staging; all of it has a usual value."""

from pydantic import Field

from ventcalc.job.job_fields import Duration, Form, Power, Rate, Ratio, Temperature
from ventcalc.units import parse


class Year(Form):
    """[year]: the climate that the vent stands in, what its burners are asked for, and how they are staged."""

    climate: str | None = None
    terrain: str = "open"
    design_load: Power | None = None
    design_outdoor: Temperature | None = None
    base_load: Power | None = None
    heating_limit: Temperature = Field(default_factory=lambda: parse("65 degF"))
    heated_from: Duration = Field(default_factory=lambda: parse("0 hour"))
    heated_to: Duration = Field(default_factory=lambda: parse("24 hour"))
    setback: Ratio = Field(default_factory=lambda: parse("100 %"))
    workdays_only: bool = False
    firing_order: str = "lead-lag"
    modulating: bool | None = None
    rotation: Duration = Field(default_factory=lambda: parse("0 hour"))
    most_starts: Rate = Field(default_factory=lambda: parse("6 1/hour"))
