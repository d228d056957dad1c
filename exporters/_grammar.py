"""Pieces of response processing in 2.x spelling, put together from the standard's operators by name.

Only operators that all implementations tried agree on: match, member, ordered, isNull, not, index, sum, product, gt,
mapResponse.
No template, no pattern, no comparison of decimals: marks are whole numbers.
"""

from __future__ import annotations

from collections.abc import Sequence

RESPONSE = "RESPONSE"


def variable(name: str = RESPONSE) -> str:
    """Return the value of the variable *name*."""
    return f'<variable identifier="{name}"/>'


def correct(name: str = RESPONSE) -> str:
    """Return the correct response declared for *name*."""
    return f'<correct identifier="{name}"/>'


def mapped(name: str = RESPONSE) -> str:
    """Return the points that the mapping declared for *name* gives."""
    return f'<mapResponse identifier="{name}"/>'


def value(kind: str, text: str) -> str:
    """Return a constant of base type *kind*."""
    return f'<baseValue baseType="{kind}">{text}</baseValue>'


def match(left: str, right: str) -> str:
    """Return whether both are the same: in order for ordered values, in any order for multiple ones."""
    return f"<match>{left}{right}</match>"


def member(one: str, container: str) -> str:
    """Return whether *one* is among the values of *container*."""
    return f"<member>{one}{container}</member>"


def place(number: int, ordered: str) -> str:
    """Return the value at *number*, from 1, of *ordered*."""
    return f'<index n="{number}">{ordered}</index>'


def ordered(names: Sequence[str]) -> str:
    """Return the identifiers *names* as one ordered value."""
    return f"<ordered>{''.join([value('identifier', name) for name in names])}</ordered>"


def unanswered(name: str = RESPONSE) -> str:
    """Return whether the variable *name* has no value."""
    return f"<isNull>{variable(name)}</isNull>"


def negated(test: str) -> str:
    """Return whether *test* is false."""
    return f"<not>{test}</not>"


def answered(name: str = RESPONSE) -> str:
    """Return whether the variable *name* has a value."""
    return negated(unanswered(name))


def marked(name: str) -> str:
    """Return whether the outcome *name* is more than no marks."""
    return f'<gt>{variable(name)}{value("float", "0")}</gt>'


def put(outcome: str, expression: str) -> str:
    """Return the rule that sets *outcome*."""
    return f'<setOutcomeValue identifier="{outcome}">{expression}</setOutcomeValue>'


def marks(outcome: str, number: int) -> str:
    """Return the rule that sets *outcome* to so many marks."""
    return put(outcome, value("float", str(number)))


def word(outcome: str, name: str) -> str:
    """Return the rule that sets *outcome* to the identifier *name*."""
    return put(outcome, value("identifier", name))


def total(left: str, right: str) -> str:
    """Return the sum of two numbers."""
    return f"<sum>{left}{right}</sum>"


def product(left: str, right: str) -> str:
    """Return the product of two numbers."""
    return f"<product>{left}{right}</product>"


def one_more(outcome: str) -> str:
    """Return the rule that adds a mark to *outcome*."""
    return put(outcome, total(variable(outcome), value("float", "1")))


def condition(*branches: tuple[str, str], otherwise: str = "") -> str:
    """Return the rule that carries out the rules of the first branch whose test is true, or else *otherwise*."""
    text = []
    for at, (test, rules) in enumerate(branches):
        name = "responseElseIf" if at else "responseIf"
        text.append(f"<{name}>{test}{rules}</{name}>")
    if otherwise:
        text.append(f"<responseElse>{otherwise}</responseElse>")
    return f"<responseCondition>{chr(10).join(text)}</responseCondition>\n"


def all_or_nothing(outcome: str = "SCORE", name: str = RESPONSE) -> str:
    """Return the rule that gives one mark for the correct response, else none."""
    return condition((match(variable(name), correct(name)), marks(outcome, 1)), otherwise=marks(outcome, 0))


def by_mapping(outcome: str = "SCORE", name: str = RESPONSE) -> str:
    """Return the rule that gives the points of the mapping, and none where nothing was answered."""
    return condition((unanswered(name), marks(outcome, 0)), otherwise=put(outcome, mapped(name)))
