"""``handout CHAPTER --to slides|html|pdf``: a chapter as slides, as a page or as a PDF, without its code."""

import argparse
import sys

HELP = "a chapter as slides, as a page or as a PDF, without its code"


def arguments(parser: argparse.ArgumentParser) -> None:
    """What is asked."""
    parser.add_argument("chapter", metavar="CHAPTER", help="a chapter's name or number, such as 14_common_vent or 14")
    parser.add_argument("--to", required=True, choices=("slides", "html", "pdf"), help="what to make of it")
    parser.add_argument("--out", default=".", metavar="FOLDER", help="where the file goes (default: here)")


def run(options: argparse.Namespace) -> int:
    """0 where it was made, 2 where the chapter or the folder cannot be used."""
    from ventcalc.show import handout

    try:
        print(f"Handout: {handout.write(options.chapter, options.to, options.out)}")
    except handout.HandoutError as error:
        print(error, file=sys.stderr)
        return 2
    except OSError as error:
        print(f"{options.out}: cannot be written ({error.strerror or error}); choose another --out", file=sys.stderr)
        return 2
    return 0
