"""``handout CHAPTER --to slides|html|pdf|notes``: a chapter for a class, without its code, or the trainer's notes.

``handout CHAPTER --people 12`` writes its exercises, a page a person with figures of their own, and the key to them;
``handout CHAPTER --key`` the key to the figures of the book. ``handout --mistakes`` writes the sheets to spot a mistake
in, ``handout --plan`` the plan of a course.
"""

import argparse
import sys
from pathlib import Path

from ventcalc.units import SYSTEMS

HELP = "a chapter as slides with notes, a page or a PDF; exercises for a class, spot-the-mistake sheets, keys, a plan"


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument(
        "chapter", metavar="CHAPTER", nargs="?", help="a chapter's name or number, such as 14_common_vent or 14"
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--to", choices=("slides", "html", "pdf", "notes"), help="what to make of the chapter")
    what.add_argument(
        "--people", type=int, metavar="N", help="exercises for so many people, each with figures of its own"
    )
    what.add_argument("--mistakes", action="store_true", help="worked sheets with a mistake to be found; of no chapter")
    what.add_argument("--plan", action="store_true", help="the plan of a course of two days; of no chapter")
    parser.add_argument(
        "--key", action="store_true", help="the key alone: to the book's exercises, to those of --people, to --mistakes"
    )
    parser.add_argument("--units", choices=SYSTEMS, default="US", help="units of what is worked anew (default: US)")
    parser.add_argument("--out", default=".", metavar="FOLDER", help="where the file goes (default: here)")


def run(options: argparse.Namespace) -> int:
    """0 where it was made, 2 where the chapter or the folder cannot be used."""
    from ventcalc.show import handout

    try:
        told = _of_no_chapter(options) if options.mistakes or options.plan else _of_a_chapter(options)
    except handout.HandoutError as error:
        print(error, file=sys.stderr)
        return 2
    except OSError as error:
        print(f"{options.out}: cannot be written ({error.strerror or error}); choose another --out", file=sys.stderr)
        return 2
    print(told)
    return 0


def _of_no_chapter(options: argparse.Namespace) -> str:
    """Sheets, their key, or the plan."""
    from ventcalc.handbook import mistakes
    from ventcalc.show import course_plan, handout, worked_sheet

    if options.chapter is not None:
        raise handout.HandoutError(f"{options.chapter}: --mistakes and --plan are of no chapter; leave it out")
    if options.plan:
        return f"{course_plan.in_words(course_plan.days())}\n\nPlan: {course_plan.write(options.units, options.out)}"
    return f"Sheets: {worked_sheet.write(mistakes.sheets(), options.units, options.out, options.key)}"


def _of_a_chapter(options: argparse.Namespace) -> str:
    from ventcalc.handbook import lessons
    from ventcalc.show import handout

    if options.chapter is None:
        raise handout.HandoutError("name a CHAPTER, such as 14, or ask for --mistakes or --plan")
    if options.people is not None or (options.key and not options.to):
        return _exercises(options)
    if options.key or not options.to:
        raise handout.HandoutError("say what: --to slides, html, pdf or notes, --people N, or --key alone")
    if options.to == "slides":
        return (
            f"Handout: {lessons.write(options.chapter, options.units, options.out)}\nKey N shows the trainer's notes."
        )
    if options.to == "notes":
        return f"Notes: {lessons.write_notes(options.chapter, options.units, options.out)}"
    return f"Handout: {handout.write(options.chapter, options.to, options.out)}"


def _exercises(options: argparse.Namespace) -> str:
    """A class set with its key, or a key alone."""
    import importlib

    from ventcalc.show import class_set, handout

    source = handout.find(options.chapter)
    try:
        chapter = importlib.import_module(f"ventcalc.handbook.{source.stem.partition('_')[2]}")
        questions = chapter.questions
    except (ImportError, AttributeError):
        raise handout.HandoutError(f"{source.stem} has no exercises; choose a chapter from 01 on") from None
    title, units, out = handout.title(handout.read(source)), options.units, Path(options.out)
    if options.people is None:
        predict = getattr(chapter, "prediction", None)
        told = class_set.of_the_book(title, questions, units, predict(units) if predict else None)
        return f"Key: {class_set.write_key(told, out, source.stem)}"
    try:
        if options.key:
            told = class_set.records(title, questions, options.people, units, key=True)
            return f"Key: {class_set.write_key(told, out, source.stem)}"
        written = class_set.write(title, questions, options.people, units, out, source.stem)
    except ValueError as error:
        raise handout.HandoutError(str(error)) from None
    return f"Class set: {written.pages}\nKey: {written.key}"
