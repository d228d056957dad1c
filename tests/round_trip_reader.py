"""Exported QTI items read back to what a person would call the item, by a reader that shares nothing with the exporters.

Read are stem, what is offered, right answers, spellings that are taken, marks, credit, the worked solution, and where
a working is to be judged the working. What is told to an answer comes from `qti_rules.Session`.
"""

from __future__ import annotations

from typing import NamedTuple

from lxml import etree

from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, Expression, FindMistake, Item, Line, Locale, MatchPairs, PutInOrder, Trace,
    TypedNumber, Unit,
)
from bank.numerals import Numeral
from qti_rules import attributes, children, descendants, plain

INTERACTIONS = (
    "choiceInteraction", "orderInteraction", "matchInteraction", "inlineChoiceInteraction", "hottextInteraction",
    "textEntryInteraction",
)
OFFERS = ("simpleChoice", "simpleAssociableChoice", "inlineChoice", "hottext")
GAP = "?"


class Told(NamedTuple):
    """An item as a person would tell it."""

    stem: tuple[str, ...]
    asked: tuple[str, ...]
    """Interactions."""
    offered: tuple[tuple[str, str], ...]
    """(identifier, text), in order."""
    right: tuple[tuple[str, ...], ...]
    """For each response."""
    points: tuple[tuple[tuple[str, str], ...], ...]
    """For each response what is mapped to which marks, sorted."""
    marks: str
    solution: tuple[str, ...]
    """Cells of the working's rows as text, then its steps; empty without one."""
    judged: tuple[str, ...]
    """Cells of the rows of a working that is to be judged."""


def spaced(text: str) -> str:
    """Return *text* with runs of blanks as one."""
    return " ".join(text.split())


def written(element: etree._Element) -> str:
    """Return the text of *element*, without feedback, a gap where an interaction stands."""
    parts = [element.text or ""]
    for child in element:
        name = plain(child.tag)
        if name == "math":
            parts.append(" ".join([one.text or "" for one in child.iter() if len(one) == 0]))
        elif name == "inlineChoiceInteraction":
            parts.append(f" {GAP} ")
        elif name != "feedbackInline":
            parts.append(written(child))
        parts.append(child.tail or "")
    return "".join(parts)


def rows_of(element: etree._Element) -> list[str]:
    """Return the rows of the tables below *element*, cells side by side, without their headers."""
    return ["|".join([written(cell) for cell in children(row, "td")]) for row in descendants(element, "tr")]


def read(content: bytes) -> Told:
    """Return the item in *content*."""
    root = etree.fromstring(content)
    body = children(root, "itemBody")[0]
    declared = children(root, "responseDeclaration")
    stem = []
    for part in body:
        if plain(part.tag) != "p" or attributes(part).get("lang") == "en":
            break
        stem.append(spaced(written(part)))
    solution: list[str] = []
    for modal in children(root, "modalFeedback"):
        if attributes(modal)["outcomeIdentifier"] == "SOLUTION":
            solution = [*rows_of(modal), *[spaced(written(one)) for one in descendants(modal, "li")]]
    most = next(one for one in children(root, "outcomeDeclaration") if attributes(one)["identifier"] == "MAXSCORE")
    return Told(
        tuple(stem),
        tuple([plain(one.tag) for one in body.iter() if plain(one.tag) in INTERACTIONS]),
        tuple([(attributes(one)["identifier"], spaced(written(one))) for one in body.iter() if plain(one.tag) in OFFERS]),
        tuple([tuple([one.text or "" for one in descendants(children(each, "correctResponse")[0], "value")])
               for each in declared]),
        tuple([tuple(sorted([(attributes(one)["mapKey"], attributes(one)["mappedValue"])
                             for one in descendants(each, "mapEntry")])) for each in declared]),
        spaced("".join(most.itertext())), tuple(solution), tuple(rows_of(body)),
    )  # fmt: skip


class Bank(NamedTuple):
    """How a bank's own records are told in the same terms; written from the model alone."""

    locale: Locale

    def line(self, line: Line) -> str:
        """Return *line* as text."""
        parts = []
        for leaf in line:
            if isinstance(leaf, Numeral):
                parts.append(self.locale.number(leaf))
            elif isinstance(leaf, Expression):
                parts.append(" ".join([
                    self.locale.number(one) if isinstance(one, Numeral) else self.locale.sign(one) for one in leaf.parts
                ]))
            else:
                parts.append(leaf)
        return spaced("".join(parts))

    def number(self, numeral: Numeral, unit: Unit | None) -> str:
        """Return *numeral* with its unit."""
        text = self.locale.number(numeral)
        return text if unit is None else unit.text + text if unit.before else f"{text} {unit.text}"

    def rows(self, trace: Trace) -> list[str]:
        """Return the rows of a working, the decimal mark beside its digit."""
        found = []
        for row in trace.rows:
            cells = list(row.cells)
            if row.point > 0 and cells[row.point - 1]:
                cells[row.point - 1] += self.locale.decimal_mark
            elif 0 <= row.point < len(cells) and cells[row.point]:
                cells[row.point] = self.locale.decimal_mark + cells[row.point]
            sign = self.locale.sign(row.sign) + " )" * (row.role == "dividend")
            found.append("|".join([sign, *cells]))
        return found

    def tell(self, item: Item, forms: tuple[str, ...], feedback: bool) -> Told:
        """Return *item*; *forms* are the spellings of a typed answer that are right, the canonical one first."""
        response, unit = item.response, item.family.unit
        listed = tuple(sorted([(form, "1") for form in forms]))
        offered: list[tuple[str, str]] = []
        points: tuple[tuple[tuple[str, str], ...], ...] = ((),)
        marks, judged = 1, []
        if isinstance(response, Choice):
            asked, right = ("choiceInteraction",), (tuple([o.identifier for o in response.options if o.is_key]),)
            offered = [(one.identifier, self.number(one.numeral, unit)) for one in response.options]
        elif isinstance(response, TypedNumber):
            asked, right, points = ("textEntryInteraction",), (forms[:1],), (listed,)
        elif isinstance(response, ChooseSeveral):
            keys = tuple([one.identifier for one in response.options if one.is_key])
            asked, right = ("choiceInteraction",), (keys,)
            offered = [(one.identifier, self.line(one.text)) for one in response.options]
            if response.credit == "each":
                marks = len(keys)
                points = (tuple(sorted([(o.identifier, "1" if o.is_key else "-1") for o in response.options])),)
        elif isinstance(response, PutInOrder):
            asked, right = ("orderInteraction",), (response.right,)
            offered = [(one.identifier, self.line(one.text)) for one in response.offers]
            marks = len(response.right) if response.credit == "places" else 1
        elif isinstance(response, MatchPairs):
            pairs = tuple([f"{source} {target}" for source, target in response.pairs])
            asked, right = ("matchInteraction",), (pairs,)
            offered = [(one.identifier, self.line(one.text)) for one in (*response.sources, *response.targets)]
            if response.credit == "each":
                marks, points = len(pairs), (tuple(sorted([(pair, "1") for pair in pairs])),)
        elif isinstance(response, ChooseInLine):
            asked, right = ("inlineChoiceInteraction",), (tuple([o.identifier for o in response.options if o.is_key]),)
            offered = [(one.identifier, self.line(one.text)) for one in response.options]
        else:
            assert isinstance(response, FindMistake)
            asked, right = ("hottextInteraction",), ((response.right,),)
            offered = [(one.identifier, self.line(one.text)) for one in response.steps]
            judged = self.rows(response.working)
            if response.typed is not None:
                asked, right, points = (*asked, "textEntryInteraction"), (*right, forms[:1]), ((), listed)
                marks = 2 if response.credit == "each" else 1
        trace = item.solution
        shown = feedback and item.family.show_solution
        solution = [*self.rows(trace), *[self.line(step) for step in trace.steps]] if shown else []
        return Told(
            tuple([self.line(line) for line in item.stem]), asked, tuple(offered), right, points, str(marks),
            tuple(solution), tuple(judged),
        )
