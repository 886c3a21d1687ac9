"""Slips put into the chapters' sentences one at a time: does what binds their numbers notice?

    python tests/prose_slips.py          so many slips, drawn by a fixed seed
    python tests/prose_slips.py 2000     so many

A number becomes ten times or a tenth of itself, two of its digits change places, or a number word becomes another.
Prints what was not noticed, and the share that was. No file is changed.
"""

import random
import re
import sys
from collections import Counter

from sample_bindings import bindings
from sample_sentences import CHAPTERS, PARTS, TIMES, WORDS, Number, chapter, measures, numbers, plain

COUNT, SEED = 400, 17
_ALIKE = ({"half", "third", "quarter", "tenth"}, {"two", "three", "five", "ten", "thirty"}, {"twice", "ten times"})


def slips(number: Number) -> list[str]:
    """What a slip may make of a number, as it would be written."""
    text = number.text
    if not re.search(r"\d", text):
        word = text.lower()
        kind = _ALIKE[0] if word in PARTS else _ALIKE[2] if word in TIMES else _ALIKE[1] if word in WORDS else {"half"}
        return sorted(kind - {word})
    digits = text.replace(",", "").lstrip("-−")
    places = len(digits.partition(".")[2])
    sign, comma = text[: len(text) - len(text.lstrip("-−"))], "," if "," in text else ""
    value = float(digits)
    made = [f"{10.0 * value:{comma}.{max(places - 1, 0)}f}", f"{value / 10.0:{comma}.{places + 1}f}"]
    made += [re.sub(r"(\d)(\d)$", r"\2\1", text.lstrip("-−"))] if value >= 10.0 or places else []
    return [sign + m for m in made if value and sign + m != text and not re.match(r"0\d", m)] or [sign + "7"]


def sites() -> list[tuple[str, int, Number]]:
    """Every number that says how much: its chapter, the place of its cell, and itself."""
    return [
        (name, place, number)
        for name in CHAPTERS
        for place, text in enumerate(chapter(name).texts)
        for number in numbers(plain(text))
        if measures(number)
    ]


def noticed(name: str, place: int, number: Number, slip: str) -> bool:
    """Whether a chapter with one slip in it has a number that nothing binds, or leaves a row of the table over."""
    text = chapter(name).texts[place]
    wrong = text[: number.at] + slip + text[number.at + len(number.text) :]
    after = bindings(name, wrong)
    return any(not b.how for b in after) or _left_over(name, place, after)


def _left_over(name: str, place: int, after: list) -> bool:
    def used(found):
        return {b.row for b in found if b.row}

    gone = used(bindings(name, chapter(name).texts[place])) - used(after)
    others = (b for n, t in enumerate(chapter(name).texts) if n != place for b in bindings(name, t))
    return any(row.chapter != "*" for row in gone - used(others)) if gone else False


def main(count: int) -> float:
    """Plant the slips and print what was not noticed; returns the share that was."""
    draw = random.Random(SEED)
    every, missed = sites(), []
    for _ in range(count):
        name, place, number = draw.choice(every)
        slip = draw.choice(slips(number))
        if not noticed(name, place, number, slip):
            missed.append((name, f"{number.text} -> {slip}", number.sentence[:100]))
    for line in missed:
        print(*line, sep="  ")
    print(f"{len(every)} numbers; of {count} slips {count - len(missed)} noticed, {1 - len(missed) / count:.1%}")
    print(Counter(b.how or "nothing" for n in CHAPTERS for t in chapter(n).texts for b in bindings(n, t)))
    return 1.0 - len(missed) / count


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else COUNT)
