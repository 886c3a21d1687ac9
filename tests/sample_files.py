"""Job files as text, for tests that change a line of one and see what is read or refused."""

import re

from ventcalc import tables

FILES = tables.DATA / "jobs"
GOOD = (FILES / "swim_hall.toml").read_text(encoding="utf-8")
DEMOS = sorted(p.stem for p in FILES.glob("*.toml"))


def edited(old: str, new: str, count: int = 1) -> bytes:
    """The good file with one thing changed."""
    assert old in GOOD, old
    return GOOD.replace(old, new, count).encode()


IDLE = re.compile(r'idle = "leaking"\nleak = .*\n')
SILENT = IDLE.sub("", GOOD)
SCHOOL = (FILES / "school.toml").read_text(encoding="utf-8")


# The good file with its stack in a shaft.
SHAFT = (
    GOOD.replace("[[termination]]", '[[place]]\nname = "shaft"\n\n[[termination]]', 1)
    .replace('outdoor = "-4 degF"\n', 'outdoor = "-4 degF"\nplace = [{ name = "shaft", temperature = "20 degF" }]\n')
    .replace('outdoor = "50 degF"\n', 'outdoor = "50 degF"\nplace = [{ name = "shaft", temperature = "60 degF" }]\n')
    .replace('outdoor = "88 degF"\n', 'outdoor = "88 degF"\nplace = [{ name = "shaft", temperature = "85 degF" }]\n')
    .replace('place = "outdoors"', 'place = "shaft"', 1)
)
