"""``handout CHAPTER --to slides|html|pdf``: a chapter as slides, as a page or as a PDF, without its code.

``handout CHAPTER --people 12`` writes its exercises for a class instead, a page a person with figures of their own, and
the key to them.
"""

import argparse
import sys

from ventcalc.units import SYSTEMS

HELP = "a chapter as slides, as a page or as a PDF; or its exercises for a class, with a key"


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument("chapter", metavar="CHAPTER", help="a chapter's name or number, such as 14_common_vent or 14")
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("--to", choices=("slides", "html", "pdf"), help="what to make of it")
    what.add_argument(
        "--people", type=int, metavar="N", help="exercises for so many people, each with figures of its own"
    )
    parser.add_argument("--units", choices=SYSTEMS, default="US", help="units of the exercises (default: US)")
    parser.add_argument("--out", default=".", metavar="FOLDER", help="where the file goes (default: here)")


def run(options: argparse.Namespace) -> int:
    """0 where it was made, 2 where the chapter or the folder cannot be used."""
    from ventcalc.show import handout

    try:
        if options.people is None:
            print(f"Handout: {handout.write(options.chapter, options.to, options.out)}")
        else:
            _for_a_class(options)
    except handout.HandoutError as error:
        print(error, file=sys.stderr)
        return 2
    except OSError as error:
        print(f"{options.out}: cannot be written ({error.strerror or error}); choose another --out", file=sys.stderr)
        return 2
    return 0


def _for_a_class(options: argparse.Namespace) -> None:
    import importlib

    from ventcalc.show import class_set, handout

    source = handout.find(options.chapter)
    try:
        chapter = importlib.import_module(f"ventcalc.handbook.{source.stem.partition('_')[2]}")
        questions = chapter.questions
    except (ImportError, AttributeError):
        raise handout.HandoutError(f"{source.stem} has no exercises; choose a chapter from 01 on") from None
    title = handout.title(handout.read(source))
    try:
        written = class_set.write(title, questions, options.people, options.units, options.out, source.stem)
    except ValueError as error:
        raise handout.HandoutError(str(error)) from None
    print(f"Class set: {written.pages}")
    print(f"Key: {written.key}")
