"""The form of an expression: its parts, how text becomes parts, and how parts become text again."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from bank.numerals import MAX_DIGITS, Numeral

MAX_LENGTH = 500
"""Most characters of one expression. Our own bound."""
MAX_DEPTH = 30
"""Deepest nesting. Our own bound."""
MAX_PARTS = 200
"""Most parts of one expression. Our own bound."""


class ExpressionError(ValueError):
    """An expression that cannot be read or makes no sense: ``code``, words, remedy, offset in its text."""

    def __init__(self, code: str, wrong: str, remedy: str = "", at: int = 0) -> None:
        super().__init__(wrong)
        self.code = code
        self.wrong = wrong
        self.remedy = remedy
        self.at = at


class Literal(NamedTuple):
    """A number, as written."""

    value: Numeral
    at: int


class Words(NamedTuple):
    """Quoted words."""

    value: str
    at: int


class Name(NamedTuple):
    """A parameter's name."""

    name: str
    at: int


class Negative(NamedTuple):
    """Minus before a part."""

    part: Part
    at: int


class Calculation(NamedTuple):
    """Two parts with a sign between: ``+ - * / // % **``."""

    sign: str
    left: Part
    right: Part
    at: int


class Comparison(NamedTuple):
    """Parts compared in a chain, such as ``1 < a <= b``."""

    first: Part
    rest: tuple[tuple[str, Part], ...]
    at: int


class Logic(NamedTuple):
    """Truths joined by ``and`` or ``or``."""

    word: str
    parts: tuple[Part, ...]
    at: int


class Not(NamedTuple):
    """A truth turned round."""

    part: Part
    at: int


class Call(NamedTuple):
    """A word of the language with its arguments."""

    word: str
    arguments: tuple[Part, ...]
    at: int


Part = Literal | Words | Name | Negative | Calculation | Comparison | Logic | Not | Call

_TOKEN = re.compile(
    r"""(?P<space>[ \n]+)
    | (?P<number>[0-9]+(?:\.[0-9]+)?)
    | (?P<name>[A-Za-z_][A-Za-z0-9_]*)
    | (?P<words>"[^"\n]*"|'[^'\n]*')
    | (?P<sign>\*\*|//|<=|>=|==|!=|[-+*/%<>(),])""",
    re.VERBOSE,
)
_INSTEAD = {
    "=": "write == to compare", "^": "write ** for a power", "\u00d7": "write *", "\u00f7": "write /",
    "\u2212": "write a plain hyphen", "\u2013": "write a plain hyphen", "\u2264": "write <=", "\u2265": "write >=",
    "\u2260": "write !=", "&": "write and", "|": "write or", "!": "write not", ":": "write / for division",
    "[": "write round brackets", "{": "write the name alone, without braces",
}
_COMPARING = ("<", "<=", ">", ">=", "==", "!=")
_KEYWORDS = ("and", "or", "not")


def read(text: str) -> Part:
    """Return the parts of the expression *text*.

    Raises:
        ExpressionError: the text is no expression of this language, or too long or deep.
    """
    if len(text) > MAX_LENGTH:
        raise ExpressionError("expression-too-long", f"longer than {MAX_LENGTH} characters", "split it up", MAX_LENGTH)
    reader = _Reader(_tokens(text), len(text))
    part = reader.either()
    reader.end()
    return part


def _tokens(text: str) -> list[tuple[str, str, int]]:
    tokens = []
    at = 0
    while at < len(text):
        found = _TOKEN.match(text, at)
        if not found:
            remedy = _INSTEAD.get(text[at], "")
            raise ExpressionError("unknown-sign", f"{text[at]!r} is no sign of this language", remedy, at)
        kind = found.lastgroup or ""
        if kind == "number" and text[found.end() : found.end() + 1].isalpha():
            raise ExpressionError(
                "bad-number", "a letter follows a number", "write numbers out; write * to multiply", at
            )
        if kind == "number" and text[found.end() : found.end() + 1] == ".":
            raise ExpressionError("bad-number", "a number ends in a point", "write a digit behind the point", at)
        if kind != "space":
            tokens.append((kind, found[0], at))
        at = found.end()
    return tokens


class _Reader:
    """Recursive descent over the tokens, loosest binding first."""

    def __init__(self, tokens: list[tuple[str, str, int]], length: int) -> None:
        self.tokens = [*tokens, ("end", "", length)]
        self.next = 0
        self.depth = 0
        self.parts = 0

    def _peek(self) -> str:
        kind, text, _ = self.tokens[self.next]
        return text if kind in ("sign", "name") else ""

    def _at(self) -> int:
        return self.tokens[self.next][2]

    def _take(self) -> str:
        self.next += 1
        self.parts += 1
        if self.parts > MAX_PARTS:
            raise ExpressionError("expression-too-long", f"more than {MAX_PARTS} parts", "split it up", self._at())
        return self.tokens[self.next - 1][1]

    def end(self) -> None:
        """Refuse whatever stands behind the expression."""
        kind, text, at = self.tokens[self.next]
        if kind != "end":
            remedy = "write numbers with a decimal point" if text == "," else "write a sign between them"
            raise ExpressionError("unexpected", f"{text!r} does not belong here", remedy, at)

    def either(self) -> Part:
        """Read truths joined by ``or``."""
        return self._joined("or", lambda: self._joined("and", self._negated))

    def _joined(self, word: str, inner: Callable[[], Part]) -> Part:
        at = self._at()
        parts = [inner()]
        while self._peek() == word:
            self._take()
            parts.append(inner())
        return parts[0] if len(parts) == 1 else Logic(word, tuple(parts), at)

    def _negated(self) -> Part:
        if self._peek() == "not":
            at = self._at()
            self._take()
            return Not(self._deeper(self._negated), at)
        return self._compared()

    def _compared(self) -> Part:
        at = self._at()
        first = self._sum()
        rest = []
        while self._peek() in _COMPARING:
            sign = self._take()
            rest.append((sign, self._sum()))
        return Comparison(first, tuple(rest), at) if rest else first

    def _sum(self) -> Part:
        left = self._product()
        while self._peek() in ("+", "-"):
            at = self._at()
            sign = self._take()
            left = Calculation(sign, left, self._product(), at)
        return left

    def _product(self) -> Part:
        left = self._signed()
        while self._peek() in ("*", "/", "//", "%"):
            at = self._at()
            sign = self._take()
            left = Calculation(sign, left, self._signed(), at)
        return left

    def _signed(self) -> Part:
        if self._peek() == "-":
            at = self._at()
            self._take()
            return Negative(self._deeper(self._signed), at)
        return self._power()

    def _power(self) -> Part:
        base = self._atom()
        if self._peek() == "**":
            at = self._at()
            self._take()
            return Calculation("**", base, self._deeper(self._signed), at)
        return base

    def _deeper(self, inner: Callable[[], Part]) -> Part:
        self.depth += 1
        if self.depth > MAX_DEPTH:
            raise ExpressionError("expression-too-deep", f"nested more than {MAX_DEPTH} deep", "nest less", self._at())
        part = inner()
        self.depth -= 1
        return part

    def _atom(self) -> Part:
        kind, text, at = self.tokens[self.next]
        if kind == "number":
            self._take()
            if len(text) > MAX_DIGITS:
                raise ExpressionError("too-many-digits", f"a number has more than {MAX_DIGITS} digits", "", at)
            return Literal(Numeral.parse(text), at)
        if kind == "words":
            self._take()
            return Words(text[1:-1], at)
        if kind == "name" and text not in _KEYWORDS:
            self._take()
            return self._call(text, at) if self._peek() == "(" else Name(text, at)
        if text == "(":
            self._take()
            inner = self._deeper(self.either)
            self._close(at)
            return inner
        wrong = f"{text!r} stands where a number or name should" if text else "the expression ends too early"
        raise ExpressionError("unexpected", wrong, "write a number, a name or a bracket", at)

    def _call(self, word: str, at: int) -> Part:
        opened = self._at()
        self._take()
        arguments = []
        while self._peek() != ")":
            arguments.append(self._deeper(self.either))
            if self._peek() != ",":
                break
            self._take()
        self._close(opened)
        return Call(word, tuple(arguments), at)

    def _close(self, opened: int) -> None:
        if self._peek() != ")":
            raise ExpressionError("bracket-open", "this bracket is never closed", "write )", opened)
        self._take()


_BINDING = {"or": 1, "and": 2, "+": 5, "-": 5, "*": 6, "/": 6, "//": 6, "%": 6}


def write(part: Part, least: int = 0) -> str:
    """Return *part* as text that `read` takes for the same; brackets only where binding asks for them.

    *least* is the binding that the surroundings need.
    """
    text, binding = _written(part)
    return f"({text})" if binding < least else text


def _written(part: Part) -> tuple[str, int]:
    match part:
        case Literal(value):
            return value.text(), 9
        case Words(value):
            return (f"'{value}'" if '"' in value else f'"{value}"'), 9
        case Name(name):
            return name, 9
        case Call(word, arguments):
            return f"{word}({', '.join(write(argument) for argument in arguments)})", 9
        case Negative(inner):
            return f"-{write(inner, 7)}", 7
        case Not(inner):
            return f"not {write(inner, 3)}", 3
        case Calculation(sign, left, right):
            if sign == "**":
                return f"{write(left, 9)} ** {write(right, 7)}", 8
            binding = _BINDING[sign]
            return f"{write(left, binding)} {sign} {write(right, binding + 1)}", binding
        case Comparison(first, rest):
            return " ".join([write(first, 5), *(f"{sign} {write(inner, 5)}" for sign, inner in rest)]), 4
        case Logic(word, parts):
            binding = _BINDING[word]
            return f" {word} ".join(write(inner, binding + 1) for inner in parts), binding
    raise TypeError(f"{part!r} is no part of an expression")


def start(part: Part) -> int:
    """Return the offset where *part* begins, brackets left out."""
    match part:
        case Calculation(left=first) | Comparison(first=first):
            return start(first)
        case Logic(parts=parts):
            return start(parts[0])
    return part.at


def names(part: Part) -> dict[str, int]:
    """Return the parameters' names that *part* uses, each with the offset where it stands first."""
    found: dict[str, int] = {}
    _collect(part, found)
    return found


def _collect(part: object, found: dict[str, int]) -> None:
    if isinstance(part, Name):
        found.setdefault(part.name, part.at)
    elif isinstance(part, tuple) and not isinstance(part, (Literal, Words)):
        for inner in part:
            _collect(inner, found)
