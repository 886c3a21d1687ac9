"""The chapters' display formulas, read as they are typeset and worked with numbers."""

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from sample_sentences import chapter

_DISPLAY = re.compile(r"\$\$(.*?)\$\$", re.S)
_APART = re.compile(
    r"\\qquad\s*\\text\{[^{}]*\}\s*\\qquad|\\q?quad\\Rightarrow\\q?quad|\\q?quad|,\s*\\q?quad|\\Rightarrow"
)
_TOKEN = re.compile(
    r"\s*(?:(?P<number>\d+(?:\.\d+)?)|(?P<name>\\[A-Za-z]+|[A-Za-z])|(?P<sign>[-+*/^_(){}\[\]|,=']|\\.))", re.S
)
_BARE = (r"\,", r"\;", r"\!", r"\ ", r"\left", r"\right", r"\bigl", r"\bigr")  # what only spaces or sizes
_FUNCTIONS = {r"\ln": math.log, r"\cos": math.cos, r"\log": math.log10}
_MANY = {r"\min": min, r"\max": max}
_CLOSING = {"(": ")", "[": "]", "{": "}", "|": "|"}


def displays(text: str) -> list[str]:
    """The display formulas of a markdown text, in their order."""
    return [" ".join(m[1].split()) for m in _DISPLAY.finditer(text)]


def equations(name: str) -> list[tuple[str, str]]:
    """Left and right side of every equation of a chapter's display formulas; of a = b = c the last."""
    found = []
    for text in chapter(name).texts:
        for display in displays(text):
            for part in re.split(_APART, display):
                sides = part.strip(" ,").split("=")
                found.append((symbol(sides[0]) if len(sides) > 1 else "", sides[-1]))
    return found


def symbol(latex: str) -> str:
    r"""A symbol as a plain name: ``\rho_\text{outdoor}`` is ``rho_outdoor``."""
    bare = re.sub(r"\\(?:text|mathrm|bar|dot)\b|[\\{}\s,;!]", lambda m: "dot" if m[0] == r"\dot" else "", latex)
    return bare


@dataclass
class _Reader:
    """Works a formula from left to right; a product needs no sign."""

    tokens: list[str]
    values: Mapping[str, float]
    at: int = 0

    def peek(self) -> str:
        return self.tokens[self.at] if self.at < len(self.tokens) else ""

    def take(self, wanted: str = "") -> str:
        token = self.peek()
        if wanted and token != wanted:
            raise ValueError(f"{wanted} expected, not {token!r}, in {' '.join(self.tokens)}")
        self.at += 1
        return token

    def sum(self) -> float:
        value = -self.product() if self.peek() == "-" and self.take() else self.product()
        while self.peek() in ("+", "-", r"\pm"):
            value = value - self.product() if self.take() == "-" else value + self.product()
        return value

    def product(self) -> float:
        value = self.power()
        while True:
            token = self.peek()
            if token == "/":
                self.take()
                value /= self.power()
                while self._begins_a_factor():
                    value /= self.power()  # a / b c, as it is typeset, is a / (b c)
            elif token in (r"\cdot", r"\times"):
                self.take()
                value *= self.power()
            elif self._begins_a_factor():
                value *= self.power()
            else:
                return value

    def _begins_a_factor(self) -> bool:
        return self.peek() not in ("", "+", "-", "/", ")", "]", "}", "|", ",", "=", r"\pm", r"\cdot", r"\times")

    def power(self) -> float:
        base = self.base()
        if self.peek() == "^":
            self.take()
            return base ** self.argument()
        return base

    def argument(self) -> float:
        """A group in braces, or the one token that stands without."""
        if self.peek() == "{":
            return self.enclosed()
        token = self.take()
        if re.fullmatch(r"\d+", token) and len(token) > 1:  # \tfrac12: of two digits the first
            self.at -= 1
            self.tokens[self.at : self.at + 1] = list(token)
            token = self.take()
        return float(token) if token[0].isdigit() else self.values[symbol(token)]

    def enclosed(self) -> float:
        closing = _CLOSING[self.take()]
        value = self.sum()
        self.take(closing)
        return abs(value) if closing == "|" else value

    def base(self) -> float:
        token = self.peek()
        if token in _CLOSING:
            return self.enclosed()
        self.take()
        if token in (r"\frac", r"\tfrac", r"\dfrac"):
            return self.argument() / self.argument()
        if token == r"\sqrt":
            return math.sqrt(self.argument())
        if token in _FUNCTIONS:
            return _FUNCTIONS[token](self.power())
        if token in _MANY:
            return self.many(_MANY[token])
        if token == "e" and self.peek() == "^":
            self.take()
            return math.exp(self.argument())
        return float(token) if token[0].isdigit() else self.values[self.named(token)]

    def many(self, function) -> float:
        closing = _CLOSING[self.take()]
        values = [self.sum()]
        while self.peek() == ",":
            self.take()
            values.append(self.sum())
        self.take(closing)
        return function(values)

    def named(self, token: str) -> str:
        """A symbol with its index."""
        if token in (r"\dot", r"\bar"):
            token += self.take()
        if token in (r"\text", r"\mathrm"):
            token = self.inside()
        if self.peek() == "_":
            self.take()
            token += "_" + (self.inside() if self.peek() in ("{", r"\text", r"\mathrm") else self.take())
        return symbol(token)

    def inside(self) -> str:
        while self.peek() in (r"\text", r"\mathrm"):
            self.take()
        self.take("{")
        found, depth = "", 1
        while True:
            token = self.take()
            depth += (token == "{") - (token == "}")
            if not depth:
                return found
            found += token


def worked(latex: str, values: Mapping[str, float]) -> float:
    """What a formula gives for the values of its symbols, the upper of ±; KeyError names a symbol that has none."""
    for sign in _BARE:
        latex = latex.replace(sign, " ")
    latex = latex.replace(r"\log_{10}", r"\log")
    tokens = [m["number"] or m["name"] or m["sign"] for m in _TOKEN.finditer(latex)]
    reader = _Reader(_whole_words(tokens), {"pi": math.pi, **values})
    value = reader.sum()
    if reader.peek():
        raise ValueError(f"{reader.peek()!r} left over in {latex}")
    return value


def _whole_words(tokens: list[str]) -> list[str]:
    """Re, of two letters, is one symbol."""
    found: list[str] = []
    for token in tokens:
        if token == "e" and found and found[-1] == "R":
            found[-1] = "Re"
        else:
            found.append(token)
    return found
