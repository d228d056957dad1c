"""Scores of QTI 2.1 items by a library that we did not write: a second opinion on our interpreter and our exports.

``pyslet`` (PyPI, pure Python) runs response processing of QTI 2.1. It needs the item without its body (its content
model knows less than the schema) and without modal feedback; it does not fetch rules by address.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Mapping, Sequence
from typing import Any

from lxml import etree

from qti_rules import children, plain

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it was written for older Pythons
    from pyslet.qtiv2 import variables
    from pyslet.qtiv2 import xml as pyslet_xml

_UNREAD = ("itemBody", "modalFeedback", "stylesheet")


class SecondSession:
    """One item as ``pyslet`` reads it."""

    def __init__(self, content: bytes, rules: etree._Element | None = None) -> None:
        """Begin with the 2.1 item in *content*; *rules* take the place of its own response processing."""
        root = etree.fromstring(content)
        for child in list(root):
            if isinstance(child.tag, str) and plain(child.tag) in _UNREAD:
                root.remove(child)
        if rules is not None:
            for own in children(root, "responseProcessing"):
                root.remove(own)
            root.append(rules)
        document = pyslet_xml.QTIDocument()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            document.read(src=io.BytesIO(etree.tostring(root, encoding="utf-8", xml_declaration=True)))
        self._item = document.root

    def answer(self, response: str | Sequence[str] | Mapping[str, Any] | None) -> dict[str, Any]:
        """Return SCORE and the other outcomes, as plain values, after *response*."""
        state = variables.ItemSessionState(self._item)
        state.begin_session()
        given = response if isinstance(response, Mapping) else {self._item.ResponseDeclaration[0].identifier: response}
        for declaration in self._item.ResponseDeclaration:
            name = declaration.identifier
            value = given.get(name)
            held = variables.Value.new_value(declaration.cardinality, declaration.baseType)
            if value is not None and len(value):
                texts = [value] if isinstance(value, str) else list(value)
                parsed = [variables.SingleValue.new_value(declaration.baseType, text).value for text in texts]
                held.set_value(parsed[0] if declaration.cardinality == variables.Cardinality.single else parsed)
            state.map[name] = held
        state.set_outcome_defaults()
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)
            self._item.ResponseProcessing.run(state)
        return {one.identifier: state.map[one.identifier].value for one in self._item.OutcomeDeclaration}
