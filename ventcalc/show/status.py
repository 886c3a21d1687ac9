"""Status of a source, told by a mark where a page would repeat the same words many times, with a legend once."""

# As they stand in the tables and in what is made of them; the longest first, since one may hold another.
MARKS = {
    "published: read in a public repository": "●",
    "published: read in a secondary source": "◐",
    "published: read in a restatement": "◐",
    "read in a secondary source": "◐",
    "common practice, no source": "◇",
    "common practice: no source": "◇",
    "common practice: no standard read": "◇",
    "common practice": "◇",
    "from memory": "○",
}
LEGEND = {
    "●": "read in a public copy",
    "◐": "secondary source, original not seen",
    "○": "from memory, to be checked",
    "◇": "common practice, no source",
}


def marked(text: str) -> str:
    """A text with the words of every status replaced by its mark."""
    for words, mark in MARKS.items():
        text = text.replace(f"({words})", mark).replace(words, mark)
    return text
