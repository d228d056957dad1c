"""The end of a worked solution: from what the written method gives to what earns the mark, each change a step."""

from __future__ import annotations

from bank.methods._layout import count_of
from bank.model import Choice, FindMistake, Line, Response, Trace, TypedNumber, Unit
from bank.numerals import Numeral
from bank.policies import RULES


def closed(trace: Trace, key: Numeral, response: Response, unit: Unit | None) -> Trace:
    """Return *trace* with the steps that lead from its result to *key* as an answer to *response* must write it.

    Zeros are left off or written at the end where the key is written so, and the *unit* is written where it has to be
    typed. Where no number is asked for, or nothing is missing, *trace* is returned as it is.
    """
    if isinstance(response, FindMistake):
        typed = response.typed
    elif isinstance(response, (Choice, TypedNumber)):
        typed = response if isinstance(response, TypedNumber) else None
    else:
        return trace
    more: list[Line] = []
    if trace.result.places != key.places and trace.result == key:
        more.append(_written_again(trace.result, key))
    if typed is not None and unit is not None and RULES[typed.policy].unit == "must":
        more.append(_with_unit(key, unit))
    return trace._replace(steps=(*trace.steps, *more)) if more else trace


def _written_again(result: Numeral, key: Numeral) -> Line:
    zeros = result.places - key.places
    if zeros > 0:
        return (f"Leave off the {'zero' if zeros == 1 else f'{zeros} zeros'} at the end: ", key, ".")
    return (f"Write the answer with {count_of(key.places, 'decimal place')}: ", key, ".")


def _with_unit(key: Numeral, unit: Unit) -> Line:
    if unit.before:
        return (f"Write the unit with the number: {unit.text}", key, ".")
    return ("Write the unit with the number: ", key, f" {unit.text}.")
