"""Stems with tags, read by the parser of Jinja2: an allow list of node types, everything else refused by name.

Only the parser is used. No template is compiled, nothing is rendered, so no stem can call or reach anything.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Any, NoReturn

from jinja2 import StrictUndefined, TemplateSyntaxError, nodes
from jinja2.lexer import Lexer, Token
from jinja2.sandbox import SandboxedEnvironment

from bank import expressions
from bank.expressions import ExpressionError, Part
from bank.numerals import Numeral
from bank.templates._stems import Branch, Said, Shown, StemPart

_SIGNS = {"eq": "==", "ne": "!=", "lt": "<", "lteq": "<=", "gt": ">", "gteq": ">="}
_TAGS = {"For": "for", "Include": "include", "Import": "import", "FromImport": "from", "Assign": "set", "If": "if"}
_SPELLED = {
    "Getattr": r"\.", "Call": r"\(", "Getitem": r"\[", "Const": r"\{\{", "Test": r"\bis\b",
    "Add": r"\+", "Sub": "-", "Mul": r"\*", "Div": "/", "FloorDiv": "//", "Mod": "%", "Pow": r"\*\*",
}
"""How a node that has no place in a stem is found in its line."""
_NAMES = {
    "For": "a loop", "Call": "a call", "Getattr": "an attribute", "Getitem": "an index", "Add": "a calculation",
    "Sub": "a calculation", "Mul": "a calculation", "Div": "a calculation", "Const": "a constant", "Test": "a test",
    "Assign": "setting a name",
}
_KNOWN = "stems know {{ name }}, {{ name|filter }}, {% if %}, {% elif %}, {% else %} and {% endif %}"
_MENDING = {"end of template": "every {% if ... %} needs its {% endif %}", "Missing end": "close what is opened"}
_INSTEAD = {
    "For": "write the text out", "Call": "declare a derived parameter and use its name",
    "Getattr": "write the parameter's name alone", "Getitem": "write the parameter's name alone",
    "Add": "declare a derived parameter and use its name", "Sub": "declare a derived parameter and use its name",
    "Mul": "declare a derived parameter and use its name", "Div": "declare a derived parameter and use its name",
    "Const": "write the text itself, without braces", "Test": "compare with == or another sign",
}


class _WrittenNumbers(Lexer):
    """A lexer that hands decimals on as numerals, never as floats."""

    def wrap(
        self, stream: Iterable[tuple[int, str, str]], name: str | None = None, filename: str | None = None
    ) -> Iterator[Token]:
        """Yield the tokens; a decimal's value is the `Numeral` that was written."""
        decimals: list[str] = []

        def noting() -> Iterator[tuple[int, str, str]]:
            for token in stream:
                if token[1] == "float":
                    decimals.append(token[2])
                yield token

        for token in super().wrap(noting(), name, filename):
            if token.type == "float":
                written = decimals.pop(0)
                try:
                    yield Token(token.lineno, "float", Numeral.parse(written))  # type: ignore[arg-type]
                except ValueError as fault:
                    raise TemplateSyntaxError(str(fault), token.lineno) from None
            else:
                yield token


class _Environment(SandboxedEnvironment):
    """The environment whose parser is used."""

    @property
    def lexer(self) -> Lexer:
        """The lexer of written numbers."""
        return _WrittenNumbers(self)


_ENVIRONMENT = _Environment(undefined=StrictUndefined, autoescape=False, keep_trailing_newline=True)


def read_tagged(text: str) -> tuple[StemPart, ...]:
    """Return the parts of a stem with tags.

    Raises:
        ExpressionError: as `bank.templates._stems.read_stem`.
    """
    return _Walker(text).parts()


class _Walker:
    def __init__(self, text: str) -> None:
        self.text = text
        self.starts = [0, *(index + 1 for index, letter in enumerate(text) if letter == "\n")]
        self.seen: dict[tuple[int, str], int] = {}

    def parts(self) -> tuple[StemPart, ...]:
        try:
            tree = _ENVIRONMENT.parse(self.text)
        except TemplateSyntaxError as fault:
            at = self._start(fault.lineno)
            message = str(fault.message).partition(". Jinja")[0].rstrip(".")
            remedy = next((remedy for sign, remedy in _MENDING.items() if sign in message), _KNOWN)
            raise ExpressionError("bad-stem", f"the stem cannot be read: {message}", remedy, at) from None
        except RecursionError:
            raise ExpressionError("bad-stem", "the stem is nested too deep", "nest less") from None
        return self._body(tree.body)

    def _start(self, line: int | None) -> int:
        return self.starts[min(max(line or 1, 1), len(self.starts)) - 1]

    def _at(self, node: nodes.Node, pattern: str) -> int:
        """Return the offset of the next match of *pattern* in the node's line, else of the line itself."""
        start = self._start(node.lineno)
        end = self.text.find("\n", start)
        key = (node.lineno, pattern)
        found = re.compile(pattern).search(self.text, self.seen.get(key, start), len(self.text) if end < 0 else end)
        if not found:
            return start
        self.seen[key] = found.end()
        return found.start()

    def _refuse(self, node: nodes.Node) -> NoReturn:
        kind = type(node).__name__
        wrong = f"{_NAMES.get(kind, repr(kind.lower()))} has no place in a stem"
        at = self._at(node, _SPELLED.get(kind, r"\{%-?\s*" + _TAGS.get(kind, "")))
        raise ExpressionError("not-in-stems", wrong, _INSTEAD.get(kind, "delete it"), at)

    def _body(self, body: list[Any]) -> tuple[StemPart, ...]:
        parts: list[StemPart] = []
        for node in body:
            if isinstance(node, nodes.Output):
                parts += [self._output(inner) for inner in node.nodes]
            elif isinstance(node, nodes.If):
                parts.append(self._branch(node))
            else:
                self._refuse(node)
        return tuple(_joined(parts))

    def _output(self, node: nodes.Node) -> StemPart:
        if isinstance(node, nodes.TemplateData):
            return Said(node.data)
        filters: list[str] = []
        while isinstance(node, nodes.Filter):
            if node.args or node.kwargs or node.dyn_args or node.dyn_kwargs or node.node is None:
                wrong = f"the filter {node.name!r} takes nothing in brackets"
                raise ExpressionError("bad-filter", wrong, "delete the brackets", self._at(node, node.name))
            filters.insert(0, node.name)
            node = node.node
        if not isinstance(node, nodes.Name):
            self._refuse(node)
        return Shown(node.name, tuple(filters), self._at(node, rf"\{{\{{-?\s*{re.escape(node.name)}\b"))

    def _branch(self, node: nodes.If) -> Branch:
        at = self._at(node, r"\{%-?\s*if\b")
        cases = [(self._condition(node.test), self._body(node.body))]
        for other in node.elif_:
            cases.append((self._condition(other.test), self._body(other.body)))
        return Branch(tuple(cases), self._body(node.else_), at)

    def _condition(self, node: nodes.Node) -> Part:
        if isinstance(node, nodes.Name):
            return expressions.Name(node.name, self._at(node, rf"\b{re.escape(node.name)}\b"))
        at = self._start(node.lineno)
        if isinstance(node, nodes.Const) and isinstance(node.value, (int, str, Numeral)):
            return self._constant(node, at)
        if isinstance(node, nodes.Neg):
            return expressions.Negative(self._condition(node.node), at)
        if isinstance(node, nodes.Not):
            return expressions.Not(self._condition(node.node), at)
        if isinstance(node, (nodes.And, nodes.Or)):
            word = "and" if isinstance(node, nodes.And) else "or"
            return expressions.Logic(word, (self._condition(node.left), self._condition(node.right)), at)
        if isinstance(node, nodes.Compare) and all(operand.op in _SIGNS for operand in node.ops):
            rest = tuple((_SIGNS[operand.op], self._condition(operand.expr)) for operand in node.ops)
            return expressions.Comparison(self._condition(node.expr), rest, at)
        self._refuse(node)

    def _constant(self, node: nodes.Const, at: int) -> Part:
        value = node.value
        if isinstance(value, bool):
            self._refuse(node)
        if isinstance(value, int):
            if len(str(value)) > 60:
                raise ExpressionError("too-many-digits", "a number has more than 60 digits", "", at)
            value = Numeral(value)
        return expressions.Words(value, at) if isinstance(value, str) else expressions.Literal(value, at)


def _joined(parts: Iterable[StemPart]) -> Iterator[StemPart]:
    """Yield the parts with neighbouring texts made one."""
    text = ""
    for part in parts:
        if isinstance(part, Said):
            text += part.text
            continue
        if text:
            yield Said(text)
            text = ""
        yield part
    if text:
        yield Said(text)
