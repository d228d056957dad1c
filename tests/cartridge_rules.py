"""Response processing of QTI 1.2.1 as a cartridge profiles it, carried out for the tests.

Written from the official schema's content model and its notes, not from the exporter: conditions in their order, each
`conditionvar` true where everything in it is; `setvar` sets the score, `displayfeedback` shows a piece of feedback, and
unless `continue` is Yes a condition that held is the last. `varequal` compares without regard to case unless `case` is
Yes. `other` is true where no condition before it held. The schema does not say what several tests side by side in a
`conditionvar` mean, so they are refused.
"""

from __future__ import annotations

from lxml import etree

_SPACE = "{http://www.imsglobal.org/xsd/ims_qtiasiv1p2}"


def local(element: etree._Element) -> str:
    """Return the name of *element* without its namespace."""
    assert element.tag.startswith(_SPACE), element.tag
    return element.tag.removeprefix(_SPACE)


class Question:
    """One item of a cartridge, to be answered."""

    def __init__(self, element: etree._Element) -> None:
        self.element = element
        self.identifier = element.get("ident")
        self.options = {
            label.get("ident"): "".join(label.itertext()).strip() for label in element.iter(f"{_SPACE}response_label")
        }
        self.fields = {field[0].text: field[1].text for field in element.iter(f"{_SPACE}qtimetadatafield")}

    def mark(self, *answers: str) -> tuple[int, list[str]]:
        """Return the score, 0 to 100, and the identifiers of the feedback shown after *answers*, which may be none."""
        (processing,) = self.element.iter(f"{_SPACE}resprocessing")
        (declared,) = processing.iter(f"{_SPACE}decvar")
        score, shown, held = int(declared.get("minvalue") or 0), [], False
        for condition in processing.iterchildren(f"{_SPACE}respcondition"):
            tests, *done = condition
            assert local(tests) == "conditionvar" and len(tests) == 1
            if self._true(tests[0], answers, held):
                held = True
                for one in done:
                    if local(one) == "setvar":
                        assert (one.get("varname", "SCORE"), one.get("action", "Set")) == ("SCORE", "Set")
                        score = int(one.text or "")
                    else:
                        assert local(one) == "displayfeedback"
                        shown.append(one.get("linkrefid") or "")
                if condition.get("continue", "No") == "No":
                    break
        assert 0 <= score <= int(declared.get("maxvalue") or 0)
        return score, shown

    def _true(self, test: etree._Element, answers: tuple[str, ...], held: bool) -> bool:
        name = local(test)
        if name == "other":
            return not held
        if name == "varequal":
            wanted = test.text or ""
            if test.get("case", "No") == "Yes":
                return wanted in answers
            return wanted.casefold() in [answer.casefold() for answer in answers]
        parts = [self._true(part, answers, held) for part in test]
        assert name in ("and", "not"), name
        return all(parts) if name == "and" else not all(parts)

    def said(self, name: str) -> str:
        """Return the text of the feedback called *name*; that of the worked solution is HTML as it stands."""
        (found,) = [one for one in self.element.iterchildren(f"{_SPACE}itemfeedback") if one.get("ident") == name]
        text = "".join(found.itertext()).strip()
        (shown,) = found.iter(f"{_SPACE}mattext")
        if shown.get("texttype") == "text/html" and name != "solution":
            return "".join(etree.fromstring(f"<d>{text}</d>").itertext())
        return text

    def stem(self) -> str:
        """Return the text of the stem, its HTML read."""
        (shown,) = self.element.iterchildren(f"{_SPACE}presentation")
        markup = "".join(shown[0].itertext())
        return "".join(etree.fromstring(f"<d>{markup}</d>").itertext())


def questions(content: bytes) -> list[Question]:
    """Return the questions of a file of a cartridge."""
    return [Question(one) for one in etree.fromstring(content).iter(f"{_SPACE}item")]
