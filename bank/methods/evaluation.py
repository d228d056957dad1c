"""Working out expressions, each by its written methods, to say which are worth the same or how two compare."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bank.methods._layout import WrongOperands
from bank.model import ChooseInLine, ChooseSeveral, Expression, Leaf, Line, MatchPairs, Response, Trace
from bank.numerals import Numeral

LAYOUTS = ("several", "pairs", "relation")
"""What is asked of the expressions: which are worth the key, what each is worth, or how two compare."""
_OF = {"+": "add", "-": "subtract", "*": "multiply", "/": "divide"}
_BINDING = ("*/", "+-")
Run = Callable[[str, Sequence[Numeral]], Trace]


def relation(first: Numeral, second: Numeral) -> str:
    """Return ``<``, ``=`` or ``>``, whichever belongs between the two."""
    return "<" if first < second else ">" if second < first else "="


def work_out(expression: Expression, run: Run) -> tuple[Numeral, list[Trace]]:
    """Return what *expression* is worth, without trailing zeros, and the traces of its operations in order.

    Times and divided by come before plus and minus, from the left. *run* is `bank.methods.run`.

    Raises:
        CannotCarryOut: the parts make no calculation, or one that has no written method.
    """
    parts: list[Numeral | str] = list(expression.parts)
    for at, part in enumerate(parts):
        if isinstance(part, str) != bool(at % 2) or isinstance(part, str) and part not in _OF:
            raise WrongOperands(f"{expression} is no calculation")
    if not len(parts) % 2:
        raise WrongOperands(f"{expression} is no calculation")
    traces = []
    for signs in _BINDING:
        at = 1
        while at < len(parts):
            sign = parts[at]
            if str(sign) not in signs:
                at += 2
                continue
            first, second = parts[at - 1], parts[at + 1]
            if isinstance(first, str) or isinstance(second, str):
                raise WrongOperands(f"{expression} is no calculation")
            traces.append(run(_OF[str(sign)], (first, second)))
            parts[at - 1 : at + 2] = [traces[-1].result.normal()]
    worth = parts[0]
    if isinstance(worth, str):
        raise WrongOperands(f"{expression} is no calculation")
    return worth.normal(), traces


def evaluated(stem: Sequence[Line], response: Response) -> tuple[tuple[Line, ...], tuple[Numeral | None, ...]]:
    """Return the texts whose values an item asks for, and the values it keeps with them.

    They are the offers, the sources, or both sides of the line's gap.

    Raises:
        WrongOperands: the response asks for none.
    """
    if isinstance(response, (ChooseSeveral, MatchPairs)):
        offers = response.options if isinstance(response, ChooseSeveral) else response.sources
        return tuple([offer.text for offer in offers]), tuple([offer.value for offer in offers])
    if isinstance(response, ChooseInLine):
        return sides(stem), (None, None)
    raise WrongOperands("the response asks for no expression's value")


def sides(stem: Sequence[Line]) -> tuple[Line, Line]:
    """Return what stands left and right of the gap in *stem*, each a line of one numeral or expression.

    Raises:
        WrongOperands: there is not just one gap.
    """
    gaps = [leaf for line in stem for leaf in line if isinstance(leaf, Expression) and "?" in leaf.parts]
    if len(gaps) != 1 or gaps[0].parts.count("?") != 1:
        raise WrongOperands("the stem has not just one gap")
    parts = gaps[0].parts
    at = parts.index("?")
    return (_side(parts[:at]),), (_side(parts[at + 1 :]),)


def _side(parts: tuple[Numeral | str, ...]) -> Leaf:
    return parts[0] if len(parts) == 1 else Expression(parts)


def evaluate(
    run: Run, texts: Sequence[Line], values: Sequence[Numeral | None], operands: Sequence[Numeral], key: Numeral,
    layout: str,
) -> Trace:
    """Return how each of *texts* is worked out, and what follows from that.

    A text of one expression or numeral is worked out by the written methods, and must give its value where *values*
    has one; other texts say a number in words, and are worth their value. The result is the *key*: the common value
    (``several``), the first value (``pairs``), or the larger one (``relation``). The trace has steps and no rows.

    Raises:
        WrongOperands: another layout, a value that the written methods do not give, or one that is missing.
        CannotCarryOut: an expression has no written method.
    """
    if layout not in LAYOUTS:
        raise WrongOperands(f"evaluation has the layouts {', '.join(LAYOUTS)}, not {layout!r}")
    steps: list[Line] = []
    worths: list[Numeral] = []
    facts: dict[str, int] = {"expressions": len(texts)}
    for text, value in zip(texts, values, strict=True):
        worth, traces = _worth(run, text, value)
        worths.append(worth)
        for trace in traces:
            for name, count in trace.facts:
                facts[name] = facts.get(name, 0) + count
        steps += _said(text, worth, traces)
    steps.append(_conclusion(texts, worths, key, layout))
    result = {"several": key, "pairs": worths[0], "relation": max(worths)}[layout]
    if layout == "several" and key not in worths:
        raise WrongOperands(f"nothing is worth {key}")
    return Trace("evaluation", "evaluate", layout, tuple(operands), result, (), 0, tuple(steps), tuple(sorted(facts.items())))


def _worth(run: Run, text: Line, value: Numeral | None) -> tuple[Numeral, list[Trace]]:
    traces: list[Trace] = []
    leaf = text[0] if len(text) == 1 else ""
    if isinstance(leaf, Numeral):
        found = leaf.normal()
    elif isinstance(leaf, Expression):
        found, traces = work_out(leaf, run)
    elif value is None:
        raise WrongOperands(f"nothing says what {text} is worth")
    else:
        found = value
    if value is not None and found != value:
        raise WrongOperands(f"{text} is worth {found}, not {value}")
    return (found if value is None else value), traces


def _said(text: Line, worth: Numeral, traces: Sequence[Trace]) -> list[Line]:
    """Return the steps that say what *text* is worth: the calculation, operation by operation where it has several."""
    leaf = text[0] if len(text) == 1 else ""
    if isinstance(leaf, Numeral):
        return [] if leaf.same_writing(worth) else [(leaf, " is ", worth, ".")]
    if not isinstance(leaf, Expression):
        return [(*text, " is ", worth, ".")]
    if len(traces) < 2:
        return [(Expression((*leaf.parts, "=", worth)), ".")]
    made: list[Line] = [(leaf, ":")]
    signs = {operation: sign for sign, operation in _OF.items()}
    for trace in traces:
        first, second = trace.operands
        made.append((Expression((first, signs[trace.operation], second, "=", trace.result.normal())), "."))
    return made


def _conclusion(texts: Sequence[Line], worths: Sequence[Numeral], key: Numeral, layout: str) -> Line:
    if layout == "relation":
        return ("So ", Expression((worths[0], relation(worths[0], worths[1]), worths[1])), ".")
    if layout == "pairs":
        return ("Match each with its value: ", *_joined([(*text, " with ", worth) for text, worth in
                                                         zip(texts, worths, strict=True)]), ".")
    right = [text for text, worth in zip(texts, worths, strict=True) if worth == key]
    return ("Worth ", key, ": ", *_joined(right), ".")


def _joined(lines: Sequence[Line]) -> Line:
    """Return *lines* as one, with semicolons between: commas may be decimal marks."""
    made: list[Leaf] = []
    for line in lines:
        made += ["; ", *line] if made else line
    return tuple(made)
