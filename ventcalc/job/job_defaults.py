"""Job defaults: what a job file left out and what was taken for it, "place = value" for every value."""

from collections.abc import Iterator, Sequence

from ventcalc.building.code_rules import figure
from ventcalc.draft.start_settings import Settings
from ventcalc.job.job_building import Emissions
from ventcalc.job.job_fields import Form
from ventcalc.job.job_form import SETTINGS, File
from ventcalc.units import Q_, SYSTEMS, Quantity, unit_text
from ventcalc.vent.layout import Plant
from ventcalc.vent.network import Season
from ventcalc.words import say, together

# Units that a default is told in, US and SI, by its dimension; what is not here is told as it is.
_UNITS = {
    "m": ("ft", "m"),
    "Pa": ("inH2O", "Pa"),
    "m/s": ("mph", "m/s"),
    "m**3/s": ("cfm", "m**3/hour"),
    "m**3": ("ft**3", "m**3"),
}
_THIN, _OF_THIN = Q_(0.1, "m"), ("inch", "mm")  # a length below it is one of a wall


def defaults(
    form: File,
    plant: Plant,
    seasons: Sequence[Season],
    sequence: Settings,
    emissions: Emissions | None,
    system: str = "US",
):
    """Every value that was taken for what a file left out, of the file itself and of what was made of it.

    Told in the unit ``system`` of the file.
    """
    return (
        *(say("job", "defaults", "value", place=place, value=shown) for place, shown in _left_out(form, system)),
        *_of_places(form, system),
        *_of_oil(form, plant),
        *_idle_not_told(form, plant, system),
        *_usual(form, sequence, system),
        *_not_told(plant, seasons),
        *_cut(form, plant, system),
        *_untold_share(emissions),
    )


def _told(value: Quantity, system: str) -> str:
    """A default with three digits, in a unit of the system."""
    unit = next((u for of, u in _UNITS.items() if value.is_compatible_with(of)), None)
    if unit is None:
        return f"{value:g~P}"
    unit = _OF_THIN if value.is_compatible_with("m") and 0.0 * _THIN < value < _THIN else unit
    own = unit[SYSTEMS.index(system)]
    return f"{float(value.m_as(own)):.3g} {unit_text(own)}"


def _left_out(form: Form, system: str) -> Iterator[tuple[str, str]]:
    """Place and value of everything that the file left out and that matters to a result."""
    for key in type(form).model_fields:
        value = getattr(form, key)
        if isinstance(value, Form):
            yield from ((f"{key}.{place}", shown) for place, shown in _left_out(value, system))
        elif key not in form.model_fields_set:
            if value is not None and value not in ([], ""):
                yield key, _told(value, system) if isinstance(value, Quantity) else str(value)
        elif isinstance(value, list):
            told = ((entry.name, tuple(_left_out(entry, system))) for entry in value if isinstance(entry, Form))
            for name, left in together(told):
                yield from ((f'{key} "{name}".{place}', shown) for place, shown in left)


def _of_places(form: File, system: str) -> Iterator[str]:
    """Where places whose opening is not told meet the open: as high as the boiler room does."""
    height = _told(form.site.air_opening_height, system)
    for name in (p.name for p in form.place if p.air_opening_height is None):
        yield say("job", "defaults", "opening of a place", name=name, height=height)


def _of_oil(form: File, plant: Plant) -> Iterator[str]:
    """By which category's rules those are held that have none."""
    pairs = zip(plant.appliances, form.appliance, strict=True)
    for name, category in together((a.name, a.category) for a, given in pairs if given.category is None):
        yield say("job", "defaults", "category", name=name, category=category)


def _idle_not_told(form: File, plant: Plant, system: str) -> Iterator[str]:
    """How appliances stand idle where the file does not say."""
    told = []
    for a, given in zip(plant.appliances, form.appliance, strict=True):
        if a.kind != "forced" or given.idle is not None:
            continue
        assumed = a.idle == "leaking" and given.leak is None
        code = "idle" if not assumed else "leaking, flap" if given.backflow_flap else "leaking"
        leak = {"flow": _told(a.leak.flow, system), "pressure": _told(a.leak.pressure, system)}
        told.append((a.name, (code, {"idle": a.idle, **leak})))
    yield from (say("job", "defaults", code, name=name, **shown) for name, (code, shown) in together(told))


def _usual(form: File, sequence: Settings, system: str):
    """What was taken as usual for the start of the burners."""
    given = {a.name for a in form.appliance if a.chamber is not None}
    taken = (b for b in sequence.burners if b.name not in given and b.purge_flow is not None)
    for name, chamber in together((b.name, _told(b.chamber, system)) for b in taken):
        yield say("job", "defaults", "chamber", name=name, chamber=chamber)
    left = [name for name in SETTINGS if getattr(form.sequence, name) is None]
    if left:
        yield say("job", "defaults", "sequence", settings=", ".join(left))


def _not_told(plant: Plant, seasons: Sequence[Season]) -> Iterator[str]:
    """What the file does not tell of the wind, so that its widest range was taken."""
    if not any(s.wind.m > 0.0 for s in seasons):
        return
    if not plant.exposure.told:
        yield say("job", "defaults", "opening")
    for end in plant.terminations:
        if end.place == "wall":
            if end.side is None:
                yield say("job", "defaults", "side", name=end.name)
        elif end.place is None:
            yield say("job", "defaults", "place", name=end.name)


def _cut(form: File, plant: Plant, system: str) -> Iterator[str]:
    """The stack that is cut at its foot, so that a device may stand there (`pieces.with_foot`)."""
    drawn = {s.name for s in form.section}
    for s in plant.sections:
        if s.name not in drawn:
            yield say("job", "defaults", "foot", name=s.into, foot=s.name, length=_told(s.length, system))


def _untold_share(emissions: Emissions | None) -> Iterator[str]:
    """The share of NO2 in NOx that is taken where the file does not tell it."""
    if emissions is not None and emissions.no2_share is None:
        usual, most = (float(figure("re_entrainment", rule).m) for rule in ("NO2 in NOx", "NO2 in NOx, at most"))
        yield say("job", "defaults", "no2 share", usual=usual, most=most)
