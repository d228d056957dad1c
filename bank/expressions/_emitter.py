"""Turns expressions into straight-line Python over integers: no fraction objects, nothing but our own names.

A number is ``top / 10**scale`` where that is enough, else ``top / bottom`` with a positive bottom. The smallest
and largest possible value go along, so that sizes, signs and what can never be true are known before any draw.
The code holds only names made here and integer literals; no text of a template gets into it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any, NamedTuple

from bank.errors import did_you_mean
from bank.expressions import _counts
from bank.expressions._syntax import (
    Calculation, Call, Comparison, ExpressionError, Literal, Logic, Name, Negative, Not, Part, Words, start,
)
from bank.numerals import MAX_DIGITS, POWERS, terminating_places

MAX_EXPONENT = 12
"""Largest exponent. Our own bound: a power of ten further than this is no school arithmetic."""
QUOTIENT_PLACES = 12
"""Where a quotient is needed as a decimal, it must end within so many places. Our own bound."""
_LIMIT = POWERS[MAX_DIGITS]


class Amount(NamedTuple):
    """A number as code: ``top`` over ``bottom``, or over ``10**scale`` where ``bottom`` is empty."""

    top: str
    scale: int = 0
    bottom: str = ""
    low: Fraction | None = None
    """Smallest possible value, None where not known."""
    high: Fraction | None = None
    size: int = 1
    """Largest possible size of ``top``."""
    bottom_size: int = 1
    places: str = ""
    """Code of the written number of places, for parameters; empty for what was calculated."""

    @property
    def never_negative(self) -> bool:
        """Whether the value is known to be zero or more."""
        return self.low is not None and self.low >= 0


class Verdict(NamedTuple):
    """A truth as code; ``known`` where it is the same for every draw."""

    code: str
    known: bool | None = None


class Wording(NamedTuple):
    """Words as code, and the words it can be."""

    code: str
    choices: tuple[str, ...]


Value = Amount | Verdict | Wording


def literal(value: int, scale: int, places: str = "") -> Amount:
    """Return the amount ``value / 10**scale``."""
    exact = Fraction(value, POWERS[scale])
    return Amount(f"({value})" if value < 0 else str(value), scale, "", exact, exact, abs(value), 1, places)


class Word(NamedTuple):
    """A word of the language: how many arguments it takes and how it becomes code."""

    name: str
    fewest: int
    most: int
    says: str
    emit: Callable[[Emitter, list[Amount], Call], Value]


WORDS: dict[str, Word] = {}
"""All words by name; filled by the module of words."""


class Emitter:
    """Collects the lines of one function; ``scope`` says what the parameters' names stand for."""

    def __init__(self, scope: Mapping[str, Value], indent: str = "    ") -> None:
        self.scope = scope
        self.lines: list[str] = []
        self.constants: dict[str, Any] = dict(_counts.RUNTIME)
        self.indent = indent
        self._made = 0

    def say(self, line: str) -> None:
        """Add a line at the present indentation."""
        self.lines.append(self.indent + line)

    def name(self) -> str:
        """Return a name not used yet."""
        self._made += 1
        return f"t{self._made}"

    def constant(self, value: object) -> str:
        """Return a name that stands for *value* in the finished code."""
        name = f"c{len(self.constants)}"
        self.constants[name] = value
        return name

    def hold(self, code: str) -> str:
        """Return *code* where it is short and simple, else a new name that holds its value."""
        if code.isidentifier() or code.isdigit():
            return code
        name = self.name()
        self.say(f"{name} = {code}")
        return name

    def function(self, name: str, head: str) -> Callable[..., Any]:
        """Return the function made of the lines; *head* is its parameter list."""
        source = f"def {name}({head}):\n" + "\n".join(self.lines) + "\n"
        space = dict(self.constants)
        exec(compile(source, f"<{name}>", "exec"), space)  # noqa: S102 - text made here, see the module's docstring
        made: Callable[..., Any] = space[name]
        return made

    def value(self, part: Part) -> Value:
        """Return *part* as code.

        Raises:
            ExpressionError: unknown name or word, kinds that do not go together, numbers too large.
        """
        match part:
            case Literal(value, at):
                return self._bounded(literal(value.coefficient, value.places), at)
            case Words(words):
                return Wording(self.constant(words), (words,))
            case Name(name, at):
                if name not in self.scope:
                    raise ExpressionError("unknown-name", f"there is no parameter {name!r}", self._nearest(name), at)
                return self.scope[name]
            case Negative(inner):
                return self._negative(self.number(inner))
            case Calculation():
                return self._calculation(part)
            case Comparison():
                return self._comparison(part)
            case Logic(word, parts):
                return self._logic(word, parts)
            case Not(inner):
                verdict = self.truth(inner)
                return Verdict(f"(not {verdict.code})", None if verdict.known is None else not verdict.known)
        return self._call(part)

    def _nearest(self, name: str) -> str:
        return did_you_mean(name, self.scope) if self.scope else "no parameter is declared"

    def number(self, part: Part) -> Amount:
        """Return *part* as a number, or refuse it."""
        value = self.value(part)
        if not isinstance(value, Amount):
            kind = "a truth" if isinstance(value, Verdict) else "words"
            raise ExpressionError("not-a-number", f"{kind} where a number is wanted", "", start(part))
        return value

    def truth(self, part: Part) -> Verdict:
        """Return *part* as a truth, or refuse it."""
        value = self.value(part)
        if not isinstance(value, Verdict):
            kind = "a number" if isinstance(value, Amount) else "words"
            remedy = "compare it, such as with > 0"
            raise ExpressionError("not-a-truth", f"{kind} where something true or false is wanted", remedy, start(part))
        return value

    # Numbers

    def _bounded(self, amount: Amount, at: int) -> Amount:
        if amount.size >= _LIMIT or amount.bottom_size >= _LIMIT or amount.scale > MAX_DIGITS:
            wrong = f"this number could have more than {MAX_DIGITS} digits"
            raise ExpressionError("too-many-digits", wrong, "use smaller ranges or exponents", at)
        top = self.hold(amount.top) if len(amount.top) > 60 else amount.top
        bottom = self.hold(amount.bottom) if amount.bottom else ""
        return amount._replace(top=top, bottom=bottom)

    def _negative(self, amount: Amount) -> Amount:
        low = None if amount.high is None else -amount.high
        high = None if amount.low is None else -amount.low
        return amount._replace(top=f"(-{amount.top})", low=low, high=high, places="")

    def _shifted(self, amount: Amount, scale: int) -> str:
        power = POWERS[scale - amount.scale]
        return amount.top if power == 1 else f"({amount.top} * {power})"

    def aligned(self, amounts: list[Amount]) -> tuple[list[str], int]:
        """Return the tops of *amounts*, none of them a quotient, over one common scale."""
        scale = max(amount.scale for amount in amounts)
        return [self._shifted(amount, scale) for amount in amounts], scale

    def over_one_bottom(self, amounts: list[Amount]) -> tuple[list[str], str, list[int], int]:
        """Return tops over one common positive bottom, that bottom, and the largest sizes of both."""
        if not any(amount.bottom for amount in amounts):
            tops, scale = self.aligned(amounts)
            sizes = [amount.size * POWERS[scale - amount.scale] for amount in amounts]
            return tops, str(POWERS[scale]), sizes, POWERS[scale]
        bottoms = [amount.bottom or str(POWERS[amount.scale]) for amount in amounts]
        bottom_sizes = [amount.bottom_size if amount.bottom else POWERS[amount.scale] for amount in amounts]
        tops, sizes = [], []
        for index, amount in enumerate(amounts):
            top, size = amount.top, amount.size
            for other, bottom in enumerate(bottoms):
                if other != index and bottom != "1":
                    top, size = f"({top} * {bottom})", size * bottom_sizes[other]
            tops.append(top)
            sizes.append(size)
        whole = " * ".join(bottom for bottom in bottoms if bottom != "1") or "1"
        product = 1
        for size in bottom_sizes:
            product *= size
        return tops, f"({whole})", sizes, product

    def decimal(self, amount: Amount) -> Amount:
        """Return *amount* over a power of ten; a quotient that does not end refuses the draw."""
        if not amount.bottom:
            return amount
        top = self.hold(f"ended({amount.top}, {amount.bottom})")
        return Amount(top, QUOTIENT_PLACES, "", amount.low, amount.high, amount.size * POWERS[QUOTIENT_PLACES])

    def whole(self, amount: Amount) -> str:
        """Return code of the whole number *amount*; a value that is not whole refuses the draw."""
        if amount.bottom:
            return f"exactly({amount.top}, {amount.bottom})"
        return f"exactly({amount.top}, {POWERS[amount.scale]})" if amount.scale else amount.top

    def written(self, amount: Amount) -> tuple[str, str]:
        """Return code of the digits as written, as one number, and of the number of places."""
        if amount.places and not amount.bottom:
            if amount.places == str(amount.scale):
                return amount.top, amount.places
            return f"({amount.top} // POWERS[{amount.scale} - {amount.places}])", amount.places
        amount = self.decimal(amount)
        if not amount.scale:
            return self.hold(amount.top), "0"
        digits, places = self.name(), self.name()
        self.say(f"{digits}, {places} = shortest({amount.top}, {amount.scale})")
        return digits, places

    def _calculation(self, part: Calculation) -> Amount:
        left = self.number(part.left)
        if part.sign == "**":
            return self._bounded(self._power(left, part), part.at)
        right = self.number(part.right)
        if part.sign in ("+", "-"):
            amount = self._sum(left, part.sign, right)
        elif part.sign == "*":
            amount = self._product(left, right)
        else:
            if right.low == right.high == 0:
                raise ExpressionError("division-by-zero", "this divides by zero", "", part.at)
            amount = self._quotient(left, right) if part.sign == "/" else self._division(left, part.sign, right)
        return self._bounded(amount, part.at)

    def _sum(self, left: Amount, sign: str, right: Amount) -> Amount:
        low, high = _add_bounds(left, right) if sign == "+" else _add_bounds(left, self._negative(right))
        if not left.bottom and not right.bottom:
            (top, other), scale = self.aligned([left, right])
            size = left.size * POWERS[scale - left.scale] + right.size * POWERS[scale - right.scale]
            return Amount(f"({top} {sign} {other})", scale, "", low, high, size)
        (top, other), bottom, sizes, bottom_size = self.over_one_bottom([left, right])
        return Amount(f"({top} {sign} {other})", 0, bottom, low, high, sum(sizes), bottom_size)

    def _product(self, left: Amount, right: Amount) -> Amount:
        low, high = _multiply_bounds(left, right)
        top, size = f"({left.top} * {right.top})", left.size * right.size
        if not left.bottom and not right.bottom:
            return Amount(top, left.scale + right.scale, "", low, high, size)
        bottoms = [amount.bottom or str(POWERS[amount.scale]) for amount in (left, right)]
        sizes = [amount.bottom_size if amount.bottom else POWERS[amount.scale] for amount in (left, right)]
        return Amount(top, 0, f"({bottoms[0]} * {bottoms[1]})", low, high, size, sizes[0] * sizes[1])

    def _quotient(self, left: Amount, right: Amount) -> Amount:
        if right.low is not None and right.low == right.high:
            inverse = Fraction(right.low.denominator, right.low.numerator)
            places = terminating_places(inverse.denominator)
            if places is not None and places <= QUOTIENT_PLACES:
                return self._product(left, literal(int(inverse * POWERS[places]), places))
        (top, bottom), _, (size, bottom_size), _ = self.over_one_bottom([left, right])
        if right.low is not None and right.low > 0:
            low, high = _multiply_bounds(left, _inverted(right))
            return Amount(top, 0, bottom, low, high, size, bottom_size)
        upper, lower = self.name(), self.name()
        self.say(f"{upper}, {lower} = over({top}, {bottom})")
        return Amount(upper, 0, lower, None, None, size, bottom_size)

    def _division(self, left: Amount, sign: str, right: Amount) -> Amount:
        (top, other), bottom, (size, other_size), bottom_size = self.over_one_bottom([left, right])
        positive = right.low is not None and right.low > 0
        if sign == "//":
            low = Fraction(0) if positive and left.never_negative else None
            return Amount(f"({top} // {other})", 0, "", low, None, size + 1)
        high = right.high if positive else None
        scaled = not left.bottom and not right.bottom
        scale = max(left.scale, right.scale) if scaled else 0
        return Amount(
            f"({top} % {other})", scale, "" if scaled else bottom, Fraction(0) if positive else None, high,
            other_size, 1 if scaled else bottom_size,
        )

    def _power(self, base: Amount, part: Calculation) -> Amount:
        exponent = self.number(part.right)
        fits = (
            not exponent.bottom and exponent.scale == 0 and exponent.low is not None and exponent.high is not None
            and exponent.low >= 0 and exponent.high <= MAX_EXPONENT
        )
        if not fits or exponent.high is None:
            remedy = f"use a whole number from 0 to {MAX_EXPONENT}, or a parameter within"
            raise ExpressionError(
                "bad-exponent", "the exponent is not whole, or too large or negative", remedy, start(part.right)
            )
        most = int(exponent.high)
        low: Fraction | None = Fraction(0) if base.never_negative else None
        high = max(base.high, Fraction(1)) ** most if base.never_negative and base.high is not None else None
        top, size = f"({base.top} ** {exponent.top})", max(base.size, 1) ** most
        if base.bottom:
            return Amount(top, 0, f"({base.bottom} ** {exponent.top})", low, high, size, base.bottom_size**most)
        if not base.scale or exponent.low == exponent.high:
            return Amount(top, base.scale * most, "", low, high, size)
        return Amount(top, 0, f"({POWERS[base.scale]} ** {exponent.top})", low, high, size, POWERS[base.scale] ** most)

    # Truths

    def _comparison(self, part: Comparison) -> Verdict:
        values = [self.value(part.first), *(self.value(inner) for _, inner in part.rest)]
        if len(values) > 2:
            # All parts of a chain are worked out, whether or not an early one settles it.
            values = [self._held(value) for value in values]
        parts = [part.first, *(inner for _, inner in part.rest)]
        codes, known = [], []
        for index, (sign, _) in enumerate(part.rest):
            verdict = self._compared(values[index], sign, values[index + 1], parts[index + 1].at)
            codes.append(verdict.code)
            known.append(verdict.known)
        settled = False if False in known else (None if None in known else True)
        return Verdict(f"({' and '.join(codes)})" if len(codes) > 1 else codes[0], settled)

    def _held(self, value: Value) -> Value:
        return value._replace(top=self.hold(value.top)) if isinstance(value, Amount) else value

    def _compared(self, left: Value, sign: str, right: Value, at: int) -> Verdict:
        if isinstance(left, Wording) and isinstance(right, Wording):
            if sign not in ("==", "!="):
                raise ExpressionError("words-in-order", "words are the same or not, never larger", "use == or !=", at)
            if not set(left.choices) & set(right.choices):
                one, many = sorted((left, right), key=lambda wording: len(wording.choices))
                remedy = did_you_mean(one.choices[0], many.choices)
                raise ExpressionError("never-the-same", "these words are never the same", remedy, at)
            return Verdict(f"({left.code} {sign} {right.code})")
        if not isinstance(left, Amount) or not isinstance(right, Amount):
            remedy = "compare numbers with numbers and words with words"
            raise ExpressionError("kinds-differ", "these two cannot be compared", remedy, at)
        (top, other), _, _, _ = self.over_one_bottom([left, right])
        return Verdict(f"({top} {sign} {other})", _settled(left, sign, right))

    def _logic(self, word: str, parts: tuple[Part, ...]) -> Verdict:
        first = self.truth(parts[0])
        known = [first.known]
        codes = [first.code]
        for part in parts[1:]:
            before, indent = len(self.lines), self.indent
            self.indent += "    "
            verdict = self.truth(part)
            inner, self.indent = self.lines[before:], indent
            del self.lines[before:]
            known.append(verdict.known)
            if not inner:
                codes.append(verdict.code)
                continue
            # The lines of a later part may run only where the parts before it ask for it.
            name = self.name()
            self.say(f"{name} = {f' {word} '.join(codes)}")
            self.say(f"if {'' if word == 'and' else 'not '}{name}:")
            self.lines += inner
            self.lines.append(f"{indent}    {name} = {verdict.code}")
            codes = [name]
        deciding = word == "or"
        settled = deciding if deciding in known else (None if None in known else not deciding)
        return Verdict(f"({f' {word} '.join(codes)})", settled)

    def _call(self, part: Call) -> Value:
        word = WORDS.get(part.word)
        if word is None:
            remedy = did_you_mean(part.word, WORDS)
            raise ExpressionError("unknown-word", f"there is no word {part.word!r}", remedy, part.at)
        count = len(part.arguments)
        if not word.fewest <= count <= word.most:
            wanted = str(word.fewest) if word.fewest == word.most else f"{word.fewest} to {word.most}"
            wrong = f"{part.word} takes {wanted} numbers, {count} stand here"
            raise ExpressionError("wrong-arguments", wrong, word.says, part.at)
        value = word.emit(self, [self.number(argument) for argument in part.arguments], part)
        return self._bounded(value, part.at) if isinstance(value, Amount) else value


def _add_bounds(left: Amount, right: Amount) -> tuple[Fraction | None, Fraction | None]:
    low = None if left.low is None or right.low is None else left.low + right.low
    high = None if left.high is None or right.high is None else left.high + right.high
    return low, high


def _multiply_bounds(left: Amount, right: Amount) -> tuple[Fraction | None, Fraction | None]:
    if left.low is None or left.high is None or right.low is None or right.high is None:
        both = left.never_negative and right.never_negative
        return (Fraction(0) if both else None), None
    corners = [one * other for one in (left.low, left.high) for other in (right.low, right.high)]
    return min(corners), max(corners)


def _inverted(amount: Amount) -> Amount:
    low = None if amount.high is None else Fraction(amount.high.denominator, amount.high.numerator)
    high = None if not amount.low else Fraction(amount.low.denominator, amount.low.numerator)
    return Amount("", low=low if low is not None else Fraction(0), high=high)


def _settled(left: Amount, sign: str, right: Amount) -> bool | None:
    """Return whether the comparison has one outcome for all draws, from the bounds alone."""
    if sign in (">", ">="):
        left, sign, right = right, {">": "<", ">=": "<="}[sign], left
    if left.low is None or left.high is None or right.low is None or right.high is None:
        if sign in ("<", "<=") and left.low is not None and right.high is not None:
            return False if left.low > right.high or (sign == "<" and left.low == right.high) else None
        if sign in ("<", "<=") and left.high is not None and right.low is not None:
            return True if left.high < right.low or (sign == "<=" and left.high == right.low) else None
        return None
    apart = left.high < right.low or right.high < left.low
    if sign in ("==", "!="):
        if apart:
            return sign == "!="
        return sign == "==" if left.low == left.high == right.low == right.high else None
    if left.high < right.low or (sign == "<=" and left.high == right.low):
        return True
    return False if left.low > right.high or (sign == "<" and left.low == right.high) else None

