"""Job alternates: from the form to a form with something else, or nothing, in place of some appliances."""

from typing import Any

from ventcalc.job import job_form
from ventcalc.job.job_form import File


def check(a: job_form.Alternate, form: File) -> None:
    """Raises ValueError where an alternate is for nobody, or says no one thing."""
    known = [x.name for x in form.appliance]
    unknown = [n for n in a.appliances if n not in known]
    if unknown:
        raise ValueError(f"no appliance named {', '.join(unknown)}; appliances are {', '.join(known)}")
    told = [key for key in ("window", "appliance", "removed") if getattr(a, key)]
    if len(told) != 1:
        raise ValueError(f"give exactly one of window, appliance and removed = true, found {', '.join(told) or 'none'}")
    if a.removed and set(a.appliances) == set(known):
        raise ValueError("removed: nothing would be left on the vent")
    if a.window is not None:
        low, high = a.window
        if not low.m_as("Pa") < high.m_as("Pa"):
            raise ValueError(f"window {low:~P} to {high:~P} must run from lower to higher")


def changed(a: job_form.Alternate, form: File) -> File:
    """The form with the alternate in place, without alternates; the remedy stays, by whose set point burners start."""
    if a.removed:
        appliances = [x for x in form.appliance if x.name not in a.appliances]
    else:
        appliances = [_in_place(a, x) if x.name in a.appliances else x for x in form.appliance]
    changes: dict[str, Any] = {"appliance": appliances, "alternate": []}
    if a.removed:
        changes |= _left_standing(form, a, appliances)
    return form.model_copy(update=changes)


def _in_place(a: job_form.Alternate, old: job_form.Appliance) -> job_form.Appliance:
    """The appliance of an alternate where another stood, under its name."""
    if a.appliance is None:
        return old.model_copy(update={"window": a.window})
    own = {key: getattr(a.appliance, key) for key in type(a.appliance).model_fields}
    return job_form.Appliance.model_construct(
        a.appliance.model_fields_set | {"name", "into"}, name=old.name, into=old.into, **own
    )


def _left_standing(form: File, a: job_form.Alternate, appliances: list[job_form.Appliance]) -> dict[str, Any]:
    """The sections that still carry something when some appliances are gone, and the room and permissions without them.

    Where their connectors joined the header it is capped.
    """
    into = {s.name: s.into for s in form.section}
    kept: set[str] = set()
    for x in appliances:
        name = x.into
        while name in into and name not in kept:
            kept.add(name)
            name = into[name]
    gone = set(a.appliances)
    found: dict[str, Any] = {
        "section": [s for s in form.section if s.name in kept],
        "permission": [p for p in form.permission if p.name not in gone],
    }
    if form.room is not None:
        found["room"] = form.room.model_copy(update={"sealed": [n for n in form.room.sealed if n not in gone]})
    return found
