"""Functions of a template, made once: drawn values in; refusal, operands, key, stem out. Integers all the way.

Drawn values are a tuple with one entry for each drawn parameter, in the order written: the integer of a range
(in units of its last place), the index of a listed numeral, or the words themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from bank import expressions
from bank.expressions import Amount, Emitter, Part, Unworkable, Value, Verdict, Wording
from bank.numerals import POWERS, Numeral, lowest_terms, terminating_places
from bank.templates._parameters import Derived, Drawn, Listed, Parameter, Stepped, Worded, listed_amount, stepped_amount

Values = tuple[int | str, ...]
"""One draw."""
SIGNS = {"add": "+", "subtract": "-", "multiply": "*", "divide": "/", "compare": "?"}


def short(top: int, scale: int) -> Numeral:
    """Return ``top / 10**scale`` without trailing zeros."""
    while scale and not top % 10:
        top //= 10
        scale -= 1
    return Numeral(top, scale)


def short_quotient(top: int, bottom: int) -> Numeral:
    """Return ``top / bottom`` with as few places as it needs."""
    top, bottom = lowest_terms(top, bottom)
    places = terminating_places(bottom)
    if places is None:
        raise Unworkable("the quotient does not end")
    return Numeral(top * POWERS[places] // bottom, places)


def fixed(top: int, bottom: int, places: int) -> Numeral:
    """Return ``top / bottom`` with *places* places."""
    coefficient, rest = divmod(top * POWERS[places], bottom)
    if rest:
        raise Unworkable("more places than are written")
    return Numeral(coefficient, places)


_RUNTIME = {
    "Numeral": Numeral, "short": short, "short_quotient": short_quotient, "fixed": fixed,
}


class Maker(Emitter):
    """An emitter that knows the parameters; a derived parameter is calculated where it is first required."""

    def __init__(self, parameters: Sequence[Parameter], derived_in_order: Sequence[Derived]) -> None:
        super().__init__({}, "    ")
        self.values: dict[str, Value] = {}
        self.scope = self.values
        self.constants |= _RUNTIME
        self.parameters = {parameter.name: parameter for parameter in parameters}
        self.drawn = [parameter for parameter in parameters if not isinstance(parameter, Derived)]
        self.codes = {parameter.name: f"p{number}" for number, parameter in enumerate(self.drawn)}
        self.derived = derived_in_order
        self.numerals: dict[str, str] = {}
        if self.drawn:
            self.say(f"{', '.join(self.codes.values())}, = values")

    def require(self, wanted: Iterable[str]) -> None:
        """Emit what the parameters *wanted* need, at the present indentation; names that are none are passed over."""
        names = set(wanted)
        for parameter in reversed(self.derived):
            if parameter.name in names:
                names |= set(expressions.names(parameter.part))
        for drawn in self.drawn:
            if drawn.name in names and drawn.name not in self.values:
                self.values[drawn.name] = self._drawn(drawn)
        for parameter in self.derived:
            if parameter.name in names and parameter.name not in self.values:
                self.values[parameter.name] = self._derived(parameter)

    def _drawn(self, parameter: Drawn) -> Value:
        code = self.codes[parameter.name]
        if isinstance(parameter, Worded):
            return Wording(code, parameter.words)
        if isinstance(parameter, Stepped):
            return stepped_amount(parameter, code)
        places = self.constant(tuple(numeral.places for numeral in parameter.numerals))
        amount, tops = listed_amount(parameter, self.name(), f"{places}[{code}]")
        self.say(f"{amount.top} = {self.constant(tops)}[{code}]")
        return amount

    def _derived(self, parameter: Derived) -> Amount:
        """Return a derived parameter, over its places where they are fixed; a value that needs more has none."""
        amount, places = self.number(parameter.part), parameter.places
        if places is None:
            return amount._replace(top=self.hold(amount.top), places="")
        size = max(amount.size, 1) * POWERS[places]
        if amount.bottom or amount.scale > places:
            top = f"exactly({amount.top} * {POWERS[places]}, {amount.bottom or POWERS[amount.scale]})"
        else:
            top = f"{amount.top} * {POWERS[places - amount.scale]}"
        return amount._replace(top=self.hold(top), scale=places, bottom="", size=size, places=str(places))

    def numeral(self, part: Part) -> str:
        """Return code of the numeral of *part*: a parameter as written, anything else as short as it can be."""
        if isinstance(part, expressions.Name) and part.name in self.parameters:
            return self.named(part.name)
        self.require(expressions.names(part))
        return self.hold(self.shortest(self.number(part)))

    def as_shown(self, part: Part) -> str:
        """Return code of the numeral of *part*: a number as it is written, anything else as `numeral` has it."""
        return self.constant(part.value) if isinstance(part, expressions.Literal) else self.numeral(part)

    def named(self, name: str) -> str:
        """Return code of the numeral of the parameter *name*, as written."""
        if name not in self.numerals:
            self.numerals[name] = self.hold(self._numeral(name))
        return self.numerals[name]

    def _numeral(self, name: str) -> str:
        parameter = self.parameters[name]
        if isinstance(parameter, Listed):
            return f"{self.constant(parameter.numerals)}[{self.codes[name]}]"
        self.require([name])
        amount = self.values[name]
        if not isinstance(amount, Amount):
            raise TypeError(f"{name} is no number")
        if amount.places == str(amount.scale) and not amount.bottom:
            return f"Numeral({amount.top}, {amount.scale})"
        return self.shortest(amount)

    def shortest(self, amount: Amount) -> str:
        """Return code of *amount* as a numeral without trailing zeros."""
        if amount.bottom:
            return f"short_quotient({amount.top}, {amount.bottom})"
        return f"short({amount.top}, {amount.scale})" if amount.scale else f"Numeral({amount.top})"

    def with_places(self, amount: Amount, places: int) -> str:
        """Return code of *amount* as a numeral with *places* places; a value that needs more refuses the draw."""
        if amount.bottom or amount.scale > places:
            return f"fixed({amount.top}, {amount.bottom or POWERS[amount.scale]}, {places})"
        factor = POWERS[places - amount.scale]
        return f"Numeral({amount.top} * {factor}, {places})" if factor > 1 else f"Numeral({amount.top}, {places})"


class Rule(NamedTuple):
    """What every draw of an operation must keep, beside the writer's own constraints."""

    code: str
    says: str
    remedy: str


UNWORKABLE = Rule("no-value", "an expression has no value for this draw", "")
NEGATIVE_OPERAND = Rule("negative-operand", "an operand is below zero", "add a constraint that keeps it above")
NEGATIVE_RESULT = Rule("negative-result", "the second is larger than the first", "add a constraint: first >= second")
ZERO_DIVISOR = Rule("zero-divisor", "the divisor is zero", "let the divisor's range begin above zero")
TIE = Rule("tie", "two of the numbers to compare are equal", "add a constraint: first != second")
ENDLESS_KEY = Rule(
    "endless-key", "the key does not end as a decimal within its places",
    "add a constraint with terminates(...), or give rounding",
)


class Recipe(NamedTuple):
    """What the functions are made of."""

    parameters: tuple[Parameter, ...]
    derived: tuple[Derived, ...]
    """In the order in which they can be calculated."""
    constraints: tuple[Part, ...]
    operation: str
    operands: tuple[Part, ...]
    key: Part
    rounding: int | None
    places: int | None
    written: tuple[str, ...] = ()
    """Parameters that the stem writes."""
    ties: bool = False
    """Whether numbers to compare may be equal."""
    sides: tuple[tuple[Part | str, ...], ...] = ()
    """What is shown left and right of a gap, where it is not the operands."""


def make_values_at(recipe: Recipe) -> Callable[[int], Values]:
    """Return the function that turns an index below the space's size into drawn values, each index another draw."""
    emitter = Emitter({})
    codes = []
    drawn = [parameter for parameter in recipe.parameters if not isinstance(parameter, Derived)]
    for number, parameter in enumerate(drawn):
        last = number == len(drawn) - 1
        digit = "index" if last else f"d{number}"
        if not last:
            emitter.say(f"index, {digit} = divmod(index, {parameter.size})")
        if isinstance(parameter, Stepped):
            codes.append(f"{parameter.first} + {parameter.step} * {digit}")
        else:
            codes.append(digit if isinstance(parameter, Listed) else f"{emitter.constant(parameter.words)}[{digit}]")
    emitter.say(f"return ({', '.join(codes)},)" if codes else "return ()")
    return emitter.function("values_at", "index")


def make_check(recipe: Recipe) -> tuple[Callable[[Values], int], tuple[Rule, ...]]:
    """Return the function that gives the number of the first constraint that refuses a draw, -1 where none does.

    Numbers from ``len(recipe.constraints)`` on are the rules returned beside it.
    """
    maker = Maker(recipe.parameters, recipe.derived)
    maker.say("try:")
    maker.indent += "    "
    for number, part in enumerate(recipe.constraints):
        maker.require(expressions.names(part))
        verdict = maker.truth(part)
        if verdict.known is not True:
            maker.say(f"if not {verdict.code}: return {number}")
    maker.require(maker.parameters)
    rules = [UNWORKABLE]
    _operation_rules(maker, recipe, rules)
    _ending(maker, recipe, rules)
    maker.indent = "    "
    maker.lines.append("        pass")
    maker.say(f"except ArithmeticError: return {len(recipe.constraints)}")
    maker.say("return -1")
    return maker.function("check", "values"), tuple(rules)


def _operation_rules(maker: Maker, recipe: Recipe, rules: list[Rule]) -> None:
    first = len(recipe.constraints)
    amounts = []
    for part in recipe.operands:
        maker.require(expressions.names(part))
        amount = maker.number(part)
        amounts.append(amount)
        if not amount.never_negative:
            _rule(maker, rules, first, NEGATIVE_OPERAND, f"{amount.top} < 0")
    if not amounts or recipe.ties:
        return
    tops, _, _, _ = maker.over_one_bottom(amounts)
    if recipe.operation == "subtract":
        if amounts[0].low is None or amounts[1].high is None or amounts[0].low < amounts[1].high:
            _rule(maker, rules, first, NEGATIVE_RESULT, f"{tops[0]} < {tops[1]}")
    elif recipe.operation == "divide":
        if not amounts[1].low:
            _rule(maker, rules, first, ZERO_DIVISOR, f"not {tops[1]}")
    elif recipe.operation == "compare":
        equal = f"{tops[0]} == {tops[1]}" if len(tops) == 2 else f"len({{{', '.join(tops)}}}) < {len(tops)}"
        _rule(maker, rules, first, TIE, equal)


def _ending(maker: Maker, recipe: Recipe, rules: list[Rule]) -> None:
    """Emit checks that operands, what the stem writes, and the key where it is not rounded, can be written."""
    written = [expressions.Name(name, 0) for name in recipe.written if name in maker.parameters]
    for part in (*recipe.operands, *written):
        value = maker.value(part)
        if isinstance(value, Amount) and value.bottom:
            maker.numeral(part)
    if recipe.rounding is not None:
        return
    maker.require(expressions.names(recipe.key))
    key = maker.number(recipe.key)
    first = len(recipe.constraints)
    unit = key.bottom or str(POWERS[key.scale])
    if recipe.places is None and key.bottom:
        _rule(maker, rules, first, ENDLESS_KEY, f"not ends({key.top}, {unit})")
    elif recipe.places is not None and (key.bottom or key.scale > recipe.places):
        _rule(maker, rules, first, ENDLESS_KEY, f"{key.top} * {POWERS[recipe.places]} % {unit}")


def _rule(maker: Maker, rules: list[Rule], first: int, rule: Rule, broken: str) -> None:
    if rule not in rules:
        rules.append(rule)
    maker.say(f"if {broken}: return {first + rules.index(rule)}")


def make_operands(recipe: Recipe) -> Callable[[Values], tuple[Numeral, ...]]:
    """Return the function that gives the operands of a draw, parameters as written."""
    maker = Maker(recipe.parameters, recipe.derived)
    codes = [maker.numeral(part) for part in recipe.operands]
    maker.say(f"return ({', '.join(codes)},)" if codes else "return ()")
    return maker.function("operands", "values")


def make_key(recipe: Recipe) -> Callable[[Values], Numeral]:
    """Return the function that gives the key of a draw as it is written: rounded, with fixed places, or short."""
    maker = Maker(recipe.parameters, recipe.derived)
    maker.require(expressions.names(recipe.key))
    amount = maker.number(recipe.key)
    if recipe.rounding is not None:
        unit = amount.bottom or str(POWERS[amount.scale])
        if recipe.rounding < 0:
            power = POWERS[-recipe.rounding]
            amount = Amount(maker.hold(f"nearest({amount.top}, {unit} * {power}) * {power}"))
        else:
            top = f"nearest({amount.top} * {POWERS[recipe.rounding]}, {unit})"
            amount = Amount(maker.hold(top), recipe.rounding)
    places = recipe.rounding if recipe.places is None else recipe.places
    if places is not None and places >= 0:
        maker.say(f"return {maker.with_places(amount, places)}")
    else:
        maker.say(f"return {maker.shortest(amount)}")
    return maker.function("key", "values")


def make_exact_key(recipe: Recipe) -> Callable[[Values], tuple[int, int]]:
    """Return the function that gives the key of a draw before any rounding, as numerator and positive denominator."""
    maker = Maker(recipe.parameters, recipe.derived)
    maker.require(expressions.names(recipe.key))
    amount = maker.number(recipe.key)
    maker.say(f"return {amount.top}, {amount.bottom or POWERS[amount.scale]}")
    return maker.function("exact_key", "values")


def make_as_written(recipe: Recipe) -> Callable[[Values], tuple[tuple[str, str], ...]]:
    """Return the function that gives the drawn parameters of a draw by name, as written, with a decimal point."""
    maker = Maker(recipe.parameters, recipe.derived)
    codes = []
    for parameter in maker.drawn:
        name = maker.constant(parameter.name)
        if isinstance(parameter, Worded):
            text = maker.codes[parameter.name]
        elif isinstance(parameter, Listed):
            texts = tuple(numeral.text() for numeral in parameter.numerals)
            text = f"{maker.constant(texts)}[{maker.codes[parameter.name]}]"
        elif isinstance(parameter, Stepped) and not parameter.scale:
            text = f"str({maker.codes[parameter.name]})"
        else:
            text = f"{maker.named(parameter.name)}.text()"
        codes.append(f"({name}, {text})")
    maker.say(f"return ({', '.join(codes)},)" if codes else "return ()")
    return maker.function("parameters_as_written", "values")


def make_truths(recipe: Recipe, parts: Sequence[Part]) -> Callable[[Values], tuple[bool, ...]]:
    """Return the function that gives the truth of each of *parts* for a draw."""
    maker = Maker(recipe.parameters, recipe.derived)
    codes = []
    for part in parts:
        maker.require(expressions.names(part))
        verdict: Verdict = maker.truth(part)
        codes.append(maker.hold(verdict.code))
    maker.say(f"return ({', '.join(codes)},)")
    return maker.function("truths", "values")


def question(maker: Maker, recipe: Recipe, asked: bool) -> str:
    """Return code of the operation on its operands as an expression; with ``= ?`` behind it where *asked*."""
    from bank.model import Expression  # dear to import, and checking makes no stems

    maker.constants["Expression"] = Expression
    if recipe.sides:
        left, right = [
            [repr(part) if isinstance(part, str) else maker.as_shown(part) for part in side] for side in recipe.sides
        ]
        return f"Expression(({', '.join([*left, repr('?'), *right])},))"
    sign = SIGNS[recipe.operation]
    parts: list[Any] = []
    for number, part in enumerate(recipe.operands):
        parts += [repr(sign)] * (number > 0) + [maker.numeral(part)]
    parts += ["'='", "'?'"] * asked
    return f"Expression(({', '.join(parts)},))"
