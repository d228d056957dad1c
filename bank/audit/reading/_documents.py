"""QTI results (Results Reporting 2.1, 2.2 and 3.0): one XML document a pupil and sitting.

What is read: `assessmentResult` with the pupil in `context/@sourcedId`, the quiz in `testResult/@identifier`, and one
`itemResult` an item and try with its response variables and the outcome `SCORE`. Documents with a document type
declaration are refused: results need none, and it is where entity bombs live.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import unquote

from lxml import etree

from bank.audit.harmless import told as quoted
from bank.audit.marking import NOTHING
from bank.audit.pseudonyms import Salt, looks_like_mail, looks_like_name, naming_problem
from bank.audit.reading._catalogue import Catalogue
from bank.audit.reading._gather import Entry, Gatherer, Refused, plain_group
from bank.audit.reading._sources import LARGEST_XML, Source, decoded, problem
from bank.audit.simulation import BANK_PREFIX, BANK_SOURCE, GROUP_SOURCE, SIMULATED_SOURCE
from bank.errors import BadInput, Problem

NAMESPACES = {
    "http://www.imsglobal.org/xsd/imsqti_result_v2p1": "2.1",
    "http://www.imsglobal.org/xsd/imsqti_result_v2p2": "2.2",
    "http://www.imsglobal.org/xsd/imsqti_result_v3p0": "3.0",
}
_BUILT_IN = frozenset(("numAttempts", "duration", "completionStatus"))
_DECLARATION = re.compile(r"\s*<\?xml[^>]*\?>")
_DURATION = re.compile(r"P(?:T(?:([0-9]+)H)?(?:([0-9]+)M)?(?:([0-9]+)(?:\.([0-9]+))?S)?)")
_SECONDS = re.compile(r"([0-9]+)(?:\.([0-9]+))?")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[0-9T:.Z+-]*")
_STATUS = {"notpresented": "not reached", "presented": "blank", "attempted": "", "answered": ""}


class DocumentReader:
    """Reads result documents into a gatherer."""

    def __init__(self, catalogue: Catalogue, gatherer: Gatherer, salt: Salt, *, quiz: str = "") -> None:
        self.catalogue, self.gatherer, self.salt, self.quiz = catalogue, gatherer, salt, quiz
        self._pseudonyms: dict[str, int] = {}
        self._first = ""
        self._comma = catalogue.bank.info.locale.decimal_mark == ","

    def read(self, source: Source) -> None:
        """Read *source*; what is wrong with one document is listed, so that the others count.

        Raises:
            BadInput: it is an attempt to make the reader swell, names a pupil, or cannot be opened.
        """
        self._first = self._first or source.name
        try:
            root = self._root(source)
        except BadInput as error:
            if error.problems[0].code in ("xml-entities", "zip-bomb"):
                raise
            for one in error.problems:
                self.gatherer.reject(source.name, one.place.line, f"{one.wrong}; {one.remedy}")
            return
        single = etree.QName(root).localname == "assessmentResult"
        results = [root] if single else list(root.iter("{*}assessmentResult"))
        if not results:
            self.gatherer.reject(source.name, root.sourceline or 1,
                                 "the document holds no assessmentResult")
            return
        for result in results:
            namespace = etree.QName(result).namespace or ""
            if namespace not in NAMESPACES:
                self.gatherer.reject(source.name, result.sourceline or 1,
                                     "the namespace is none of QTI Results Reporting 2.1, 2.2 or 3.0")
                continue
            self._result(source.name, result)

    def finish(self) -> None:
        """Look at all pupils' pseudonyms together.

        Raises:
            BadInput: they look like names.
        """
        names = [name for name in self._pseudonyms if looks_like_name(name)]
        if len(names) * 2 > len(self._pseudonyms):
            raise BadInput(naming_problem(self._first, "context/@sourcedId", "looks like names"))

    def _root(self, source: Source) -> etree._Element:
        text = decoded(source.content(LARGEST_XML), source.name)
        capitals = text.upper()
        if "<!DOCTYPE" in capitals or "<!ENTITY" in capitals:
            line = next(number for number, one in enumerate(capitals.split("\n"), 1)
                        if "<!DOCTYPE" in one or "<!ENTITY" in one)
            raise BadInput(problem(
                "xml-entities", source.name, "holds a document type declaration, which results do not need and which"
                " can make a reader swell", "have the results exported without it", line,
            ))
        if not text.strip():
            raise BadInput(problem("results-empty", source.name, "the file is empty", "hand in a file with results"))
        body = _DECLARATION.sub("", text, count=1) if text.lstrip().startswith("<?xml") else text
        parser = etree.XMLParser(
            resolve_entities=False, load_dtd=False, no_network=True, huge_tree=False, encoding="utf-8",
            remove_comments=True, remove_pis=True,
        )
        # Line numbers stay those of the file: the declaration leaves its own line behind.
        try:
            return etree.fromstring(body.encode("utf-8", "replace"), parser)
        except etree.XMLSyntaxError as error:
            line, column = error.position
            raise BadInput(Problem(
                "xml-broken", problem("", source.name, "", "", line)[1]._replace(column=column or 1), "",
                "is not complete XML here", "export it anew; it may have been cut off",
            )) from error

    def _result(self, name: str, result: etree._Element) -> None:
        gatherer = self.gatherer
        context = result.find("{*}context")
        told = {
            one.get("sourceID", ""): one.get("identifier", "")
            for one in (context.iterfind("{*}sessionIdentifier") if context is not None else ())
        }
        gatherer.simulated.add(SIMULATED_SOURCE in told)
        self.catalogue.belonging.told(told.get(BANK_SOURCE, "").removeprefix(BANK_PREFIX))
        group = next((unquote(key[len(GROUP_SOURCE):]) for key in told if key.startswith(GROUP_SOURCE)), "")
        test = result.find("{*}testResult")
        try:
            pupil = self._pupil(name, context)
            quiz = self._quiz(result, test)
            date = _date(test.get("datestamp", "")) if test is not None else ""
            sat = gatherer.sit(pupil, quiz, (0, date), plain_group(group))
        except Refused as refused:
            gatherer.reject(name, result.sourceline or 1, f"{refused.field}: {refused.why}")
            for item in result.iterfind("{*}itemResult"):
                self.catalogue.name(item.get("identifier", ""))
            return
        for item in result.iterfind("{*}itemResult"):
            identifier = item.get("identifier", "")
            try:
                gatherer.add(quiz, sat, self._entry(item, identifier, quiz), name, item.sourceline or 1)
            except Refused as refused:
                why = f"itemResult {quoted(identifier)}, {refused.field}: {refused.why}"
                gatherer.reject(name, item.sourceline or 1, why)

    def _pupil(self, name: str, context: etree._Element | None) -> int:
        pseudonym = context.get("sourcedId", "").strip() if context is not None else ""
        if not pseudonym:
            raise Refused("context/@sourcedId", "is missing: whose result is it?")
        if looks_like_mail(pseudonym):
            raise BadInput(naming_problem(name, "context/@sourcedId", "holds e-mail addresses"))
        number = self._pseudonyms.get(pseudonym)
        if number is None:
            number = self._pseudonyms[pseudonym] = self.gatherer.pupil(self.salt.digest(pseudonym))
        return number

    def _quiz(self, result: etree._Element, test: etree._Element | None) -> str:
        if self.quiz:
            return self.quiz
        told = self.catalogue.quiz_called(test.get("identifier", "")) if test is not None else ""
        if told in self.catalogue.quizzes:
            return told
        found = self.catalogue.quizzes_with([item.get("identifier", "") for item in result.iterfind("{*}itemResult")])
        if told and not found:
            raise Refused("testResult", self.catalogue.why_no_quiz(told))
        if len(found) != 1:
            raise Refused("testResult", "no quiz is named" + (f"; {', '.join(found[:4])} would fit" if found else
                                                               ", and the items are in none of this bank"))
        return found[0]

    def _entry(self, item: etree._Element, identifier: str, quiz: str) -> Entry:
        variables = {one.get("identifier", ""): one for one in item.iterfind("{*}responseVariable")}
        given = [one for name, one in variables.items() if name not in _BUILT_IN]
        status = next((one.get("answeredStatus", "") for one in given if one.get("answeredStatus")), "")
        response = self._response(given)
        session = item.get("sessionStatus", "")
        if not response and session == "initial" and not status:
            status = "notpresented"
        self._check_key(identifier, quiz, given)
        outcome = next((one for one in item.iterfind("{*}outcomeVariable") if one.get("identifier") == "SCORE"), None)
        score = outcome.findtext("{*}value") or "" if outcome is not None else ""
        maximum = outcome.get("normalMaximum", "") if outcome is not None else ""
        if session.startswith("pending") and session != "pendingSubmission":
            score = ""  # not yet scored
        tries = _value(variables.get("numAttempts"))
        return Entry(
            identifier, response, "", _STATUS.get(status.lower(), status), _plain_score(score), _plain_score(maximum),
            _duration(_value(variables.get("duration"))),
            f"{int(tries):06d}" if tries.isdigit() and len(tries) < 6 else _date(item.get("datestamp", "")),
        )

    def _response(self, given: list[etree._Element]) -> str:
        """Return the response of all variables as one text, empty where none is answered."""
        parts = []
        for one in given:
            values = [value.text or "" for value in one.iterfind("{*}candidateResponse/{*}value")]
            text = " ".join([value.strip() if "\n" in value else value for value in values if value.strip()])
            if self._comma and one.get("baseType") in ("float", "integer"):
                text = text.replace(".", ",")
            parts.append(text)
        if not any(parts):
            return ""
        return " ".join([part or NOTHING for part in parts])

    def _check_key(self, identifier: str, quiz: str, given: list[etree._Element]) -> None:
        """Refuse a result that names another key than the bank has.

        Raises:
            Refused: it does; the response then belongs to another form of the item.
        """
        told = [[value.text or "" for value in one.iterfind("{*}correctResponse/{*}value")] for one in given]
        place = self.catalogue.place(quiz, identifier)
        if place is None or not told or not all(told):
            return
        marker = self.catalogue.markers(quiz)[place]
        text = " ".join([" ".join(values) for values in told])
        try:
            same = marker.mark(text).credit == 1000
        except ValueError:
            same = False
        if not same:
            raise Refused("correctResponse", f"the result names {quoted(text)} as the key, the bank {marker.right!r}: it"
                                             " belongs to another form")


def _value(variable: etree._Element | None) -> str:
    if variable is None:
        return ""
    return (variable.findtext("{*}candidateResponse/{*}value") or "").strip()


def _date(text: str) -> str:
    return text if _DATE.fullmatch(text) else ""


def _plain_score(text: str) -> str:
    """Return a score as plain decimal; what is written with an exponent is written out."""
    text = text.strip()
    if "e" in text.lower():
        try:
            return f"{float(text):.6f}"
        except ValueError:
            return text
    return text


def _duration(text: str) -> str:
    """Return whole milliseconds of a duration in seconds or in ISO 8601 form, as text; empty where it is neither."""
    found = _SECONDS.fullmatch(text)
    if found:
        return f"{int(found[1])}{((found[2] or '') + '000')[:3]}"
    found = _DURATION.fullmatch(text)
    if found and any(found.groups()):
        seconds = (int(found[1] or 0) * 60 + int(found[2] or 0)) * 60 + int(found[3] or 0)
        return f"{seconds}{((found[4] or '') + '000')[:3]}"
    return ""


def is_xml(head: bytes) -> bool:
    """Whether a file that begins with *head* is XML."""
    plain = head.replace(b"\x00", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    return plain.startswith(b"<")


def heads(sources: list[Source]) -> Iterator[tuple[Source, bytes]]:
    """Yield each of *sources* with its first bytes."""
    for source in sources:
        with source.open() as file:
            yield source, file.read(64)
