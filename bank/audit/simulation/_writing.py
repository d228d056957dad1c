"""Simulated results as files, in the forms in which results are read: CSV long and wide, QTI results."""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import TextIO
from urllib.parse import quote
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED
from bank.audit.simulation._model import Simulation
from bank.errors import BadInput, Place, Problem
from bank.files import replacing

FORMS = ("long", "wide", "qti30", "qti22", "qti21")
"""``long``: CSV, a row a pupil and item; ``wide``: CSV, a row a pupil; the others: QTI results in a zip file."""
SIMULATED_SOURCE = "urn:stemwright:simulated"
"""`sourceID` of the session identifier that marks a simulated result."""
BANK_SOURCE = "urn:stemwright:bank"
"""`sourceID` of the session identifier that says the fingerprint of the bank, behind `BANK_PREFIX`."""
BANK_PREFIX = "bank-"
"""Before a fingerprint where a name must begin with a letter."""
GROUP_SOURCE = "urn:stemwright:group:"
"""Begin of the `sourceID` of the session identifier that says the group, percent-encoded behind it."""
MARK = "yes"
LONG_HEADER = (
    "pupil", "group", "quiz", "item", "version", "response", "status", "score", "seconds", "attempt", "date",
    "simulated", "bank",
)
STATUS = {OMITTED: "omitted", NOT_REACHED: "not reached", NOT_GIVEN: "not given"}
_START = date(2027, 1, 11)
"""An invented first day of an invented term."""
_NAMESPACES = {
    "qti21": "http://www.imsglobal.org/xsd/imsqti_result_v2p1",
    "qti22": "http://www.imsglobal.org/xsd/imsqti_result_v2p2",
    "qti30": "http://www.imsglobal.org/xsd/imsqti_result_v3p0",
}


def form_of(path: Path, wanted: str = "") -> str:
    """Return the form of results to write to *path*: *wanted*, or what the file's name says.

    Raises:
        BadInput: the name says nothing (``sample-form``).
    """
    if wanted:
        return wanted
    suffix = path.suffix.lower()
    if suffix == ".zip":
        return "qti30"
    if suffix == ".csv":
        return "wide" if path.stem.lower().endswith("wide") else "long"
    raise BadInput(Problem("sample-form", Place(str(path)), "", "the name does not say what to write",
                           "end it with .csv (table) or .zip (QTI results), or give --as"))


def write_results(simulation: Simulation, path: Path, form: str) -> None:
    """Write *simulation* to *path* in one of `FORMS`.

    Raises:
        BadInput: the file cannot be written (``cannot-write``).
    """
    with replacing(path) as part:
        if form in _NAMESPACES:
            with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as packed:
                for name, text in _documents(simulation, form):
                    packed.writestr(zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0)), text, zipfile.ZIP_DEFLATED)
            return
        with part.open("w", encoding="utf-8", newline="") as file:
            (_long if form == "long" else _wide)(simulation, file)


def write_truth(simulation: Simulation, path: Path) -> None:
    """Write what was put into *simulation* to *path*: a CSV table of abilities, difficulties and held mistakes."""
    truth, labels = simulation.truth, simulation.labels
    with replacing(path) as part, part.open("w", encoding="utf-8", newline="") as file:
        write = csv.writer(file, lineterminator="\n").writerow
        write(("kind", "pupil", "item", "mistake", "value", "simulated"))
        for label, ability in zip(labels, truth.abilities):
            write(("ability", label, "", "", f"{ability:.6f}", MARK))
        for item, difficulty in truth.difficulties:
            write(("difficulty", "", item, "", f"{difficulty:.6f}", MARK))
        for pupil, place in zip(*np.nonzero(truth.held)):
            kind = "stable" if truth.held[pupil, place] == 2 else "unstable"
            write(("holds", labels[pupil], "", truth.mistakes[place], kind, MARK))


def _day(number: int) -> str:
    return (_START + timedelta(days=7 * number)).isoformat()


def _marks(credit: int) -> str:
    """Return *credit* in marks, as a decimal."""
    return f"{credit // 1000}" if not credit % 1000 else f"{credit / 1000:.3f}"


Cells = tuple[int, str, int, str, int]
"""Item's place, response as written (empty where none), code, score as written, milliseconds."""


def _sittings(simulation: Simulation) -> Iterator[tuple[int, int, Iterator[Cells]]]:
    """Yield (place of the form, row, its answers) for every pupil and quiz."""
    for number, sat in enumerate(simulation.answers.forms):
        spellings, credits = simulation.spellings[number], sat.form.credits
        for row in range(len(sat.pupils)):
            codes = sat.codes[row].tolist()
            written = simulation.written[number][row].tolist()
            times = sat.milliseconds[row].tolist() if sat.milliseconds is not None else [-1] * len(codes)
            yield number, row, (
                (place, spellings[place][code][spelling] if code >= 0 else "", code,
                 _marks(credits[place][code]) if code >= 0 else "0", time)
                for place, (code, spelling, time) in enumerate(zip(codes, written, times))
            )


def _long(simulation: Simulation, file: TextIO) -> None:
    write = csv.writer(file, lineterminator="\n").writerow
    write(LONG_HEADER)
    answers = simulation.answers
    for number, row, cells in _sittings(simulation):
        sat = answers.forms[number]
        pupil, group = answers.pupils[sat.pupils[row]], answers.groups[sat.groups[row]]
        for place, text, code, score, time in cells:
            status = STATUS.get(code, "")
            score = score if code != NOT_GIVEN else ""
            seconds = time // 1000 if time >= 0 else ""
            write((pupil, group, sat.form.quiz, sat.form.items[place], sat.form.versions[place], text, status, score,
                   seconds, 1, _day(number), MARK, simulation.fingerprint))


def _wide(simulation: Simulation, file: TextIO) -> None:
    answers = simulation.answers
    items = list(dict.fromkeys(name for sat in answers.forms for name in sat.form.items))
    columns = {name: place for place, name in enumerate(items)}
    write = csv.writer(file, lineterminator="\n").writerow
    write(("pupil", "group", "quiz", "attempt", "date", "simulated", "bank", *items))
    for number, row, cells in _sittings(simulation):
        sat = answers.forms[number]
        line = [""] * len(items)
        for place, text, code, _, _ in cells:
            line[columns[sat.form.items[place]]] = text or STATUS[code]
        pupil, group = answers.pupils[sat.pupils[row]], answers.groups[sat.groups[row]]
        write((pupil, group, sat.form.quiz, 1, _day(number), MARK, simulation.fingerprint, *line))


_RESULT = """<?xml version="1.0" encoding="UTF-8"?>
<!-- Simulated: nobody gave these answers. -->
<assessmentResult xmlns="{namespace}">
<context sourcedId={pupil}>
<sessionIdentifier sourceID="{simulated}" identifier="{mark}"/>
<sessionIdentifier sourceID="{bank}" identifier={fingerprint}/>
{group}</context>
<testResult identifier={quiz} datestamp="{date}">
<outcomeVariable identifier="SCORE" cardinality="single" baseType="float"><value>{score}</value></outcomeVariable>
</testResult>
{items}</assessmentResult>
"""
_GROUP = '<sessionIdentifier sourceID="{source}{group}" identifier="group"/>\n'
_ITEM = """<itemResult identifier={item} sequenceIndex="{place}" datestamp="{date}" sessionStatus="{status}">
<responseVariable identifier="numAttempts" cardinality="single" baseType="integer">\
<candidateResponse><value>{attempts}</value></candidateResponse></responseVariable>
<responseVariable identifier="duration" cardinality="single" baseType="duration">\
<candidateResponse><value>{seconds}</value></candidateResponse></responseVariable>
{responses}\
<outcomeVariable identifier="SCORE" cardinality="single" baseType="float"><value>{score}</value></outcomeVariable>
</itemResult>
"""
_RESPONSE = """<responseVariable identifier="{name}" cardinality="{cardinality}" baseType="{kind}">\
<candidateResponse>{values}</candidateResponse></responseVariable>
"""


def _documents(simulation: Simulation, form: str) -> Iterator[tuple[str, str]]:
    """Yield (file name, text) of every sitting."""
    answers = simulation.answers
    for number, row, cells in _sittings(simulation):
        sat = answers.forms[number]
        pupil, group = answers.pupils[sat.pupils[row]], answers.groups[sat.groups[row]]
        day = _day(number) + "T09:00:00"
        items, total = [], 0.0
        for place, text, code, score, time in cells:
            if code == NOT_GIVEN:
                continue
            total += float(score)
            items.append(_ITEM.format(
                item=quoteattr(sat.form.items[place]), place=place + 1, date=day,
                status="initial" if code == NOT_REACHED else "final", attempts=int(code >= 0),
                seconds=max(0, time) / 1000, score=score,
                responses=_response_variables(simulation.kinds[number][place], text, code == NOT_REACHED, form),
            ))
        yield f"{sat.form.quiz}/{pupil}.xml", _RESULT.format(
            namespace=_NAMESPACES[form], pupil=quoteattr(pupil), simulated=SIMULATED_SOURCE, mark=MARK,
            bank=BANK_SOURCE, fingerprint=quoteattr(BANK_PREFIX + simulation.fingerprint),
            group=_GROUP.format(source=GROUP_SOURCE, group=quote(group)) if group else "",
            quiz=quoteattr(sat.form.quiz), date=day, score=f"{total:g}", items="".join(items),
        )


_VARIABLES = {
    "Choice": ("single", "identifier"), "ChooseInLine": ("single", "identifier"), "TypedNumber": ("single", "string"),
    "ChooseSeveral": ("multiple", "identifier"), "PutInOrder": ("ordered", "identifier"),
    "MatchPairs": ("multiple", "directedPair"), "FindMistake": ("single", "identifier"),
}
"""Cardinality and base type of the response by kind of response."""


def _response_variables(kind: str, text: str, unseen: bool, form: str) -> str:
    """Return the response *text* to an item of this *kind* as response variables."""
    status = ' answeredStatus="notpresented"' if unseen and form == "qti30" else ""
    cardinality, base = _VARIABLES[kind]
    given = text.split()
    if kind == "MatchPairs":
        values = [" ".join(given[at:at + 2]) for at in range(0, len(given), 2)]
    elif kind == "TypedNumber":
        values = [text] if text else []
    elif kind == "FindMistake":
        typed = [" ".join(given[1:])] if given[1:] else []
        answer = _variable("ANSWER", "single", "string", typed, status)
        return _variable("RESPONSE", cardinality, base, given[:1], status) + (answer if typed else "")
    else:
        values = given
    return _variable("RESPONSE", cardinality, base, values, status)


def _variable(name: str, cardinality: str, kind: str, values: list[str], status: str) -> str:
    text = _RESPONSE.format(
        name=name, cardinality=cardinality, kind=kind,
        values="".join([f"<value>{escape(value)}</value>" for value in values]),
    )
    return text.replace("><candidateResponse>", f"{status}><candidateResponse>", 1) if status else text
