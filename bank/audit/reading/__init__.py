"""Results in: QTI results (2.1, 2.2, 3.0) and CSV tables become `bank.audit.records.Answers`.

`read_results` is all that other rooms need. Nothing is written into the bank; beside it one small file remembers what
the columns of tables are. Pseudonyms are salted and hashed while they are read, and what names people is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path

from bank.audit.kept import is_kept, kept_answers, kept_is_simulated
from bank.audit.pseudonyms import Salt, load_salt, salt_remarks
from bank.audit.reading._belonging import Belonging
from bank.audit.reading._bulk import NotPlain, is_bulk, read_bulk
from bank.audit.reading._catalogue import Catalogue
from bank.audit.reading._documents import DocumentReader, is_xml
from bank.audit.reading._gather import ATTEMPTS, GAP_WORDS, Entry, Gatherer, Refused
from bank.audit.reading._keys import quiz_keys
from bank.audit.reading._mapping import FIELDS, FILE_NAME
from bank.audit.reading._sources import ZIP_DAMAGE, Source, problem, sources
from bank.audit.reading._tables import TableReader
from bank.audit.records import NOT_GIVEN, Answers
from bank.errors import BadInput
from bank.store import Bank

__all__ = ["ATTEMPTS", "FIELDS", "FILE_NAME", "quiz_keys", "read_results"]

MOST_PROBLEMS = 20


def read_results(
    bank: Bank, paths: Sequence[Path], *, mapping: Mapping[str, str] | None = None, salt: Salt | Path | None = None,
    attempts: str = "first", absent: str = "not given", quiz: str = "", remember: bool = True,
    tell: Callable[[str], None] = lambda line: None,
) -> Answers:
    """Return the answers in the files, folders or zip files *paths* to the quizzes of *bank*.

    *mapping* says headings by field (`FIELDS`) where guessing is wrong; *salt* is the salt or its file, by default the
    user's own, made where it is missing. Of several *attempts* the ``first``, the ``last`` or ``all`` count (then a
    pupil has a row for each). *absent* says what an item without a row is in a long table: ``not given`` or ``blank``.
    *quiz* is the quiz of all results where they do not tell. A file of kept results (`bank.audit.kept`) is read too.
    What the columns were taken for is told line by line to *tell* and, unless *remember* is off, kept beside the bank.

    Rows that cannot count are listed in `Answers.rejected` as (file, row, reason). The order in which files are given
    does not matter, nor does giving one twice.

    Raises:
        BadInput: nothing could be read, or what was handed in must not be read: it names people, would swell, or does
            not belong to the bank.
    """
    key = salt if isinstance(salt, Salt) else load_salt(salt)
    for line in salt_remarks(key, bank.path):
        tell(line)
    catalogue = Catalogue(bank)
    quiz = catalogue.quiz_called(quiz)
    gatherer = Gatherer(catalogue, attempts=attempts, absent=absent)
    memory = bank.path.with_name(FILE_NAME) if remember else None
    tables = TableReader(catalogue, gatherer, key, mapping=mapping, quiz=quiz, memory=memory, tell=tell)
    documents = DocumentReader(catalogue, gatherer, key, quiz=quiz)
    if quiz and quiz not in catalogue.quizzes:
        raise BadInput(problem("quiz-foreign", "--results-quiz", catalogue.why_no_quiz(quiz), ""))
    kept = sorted(path for path in set(paths) if is_kept(path))
    for path in kept:
        _read_kept(path, gatherer)
    with ExitStack() as stack:
        found = sources(sorted(set(paths) - set(kept)), stack)
        if not kept and attempts != "all" and absent == "not given" and is_bulk(found):
            try:
                layouts = [tables.table(source) for source in found]
                if tables.broken_lines:
                    raise NotPlain
                return _some(read_bulk(catalogue, key, found, layouts, attempts), catalogue, paths)
            except NotPlain:
                catalogue.belonging = Belonging(bank)
        for source in found:
            _read(source, tables, documents, alone=len(found) == 1)
    documents.finish()
    tables.finish()
    return _some(gatherer.finish(), catalogue, paths)


def _some(answers: Answers, catalogue: Catalogue, paths: Sequence[Path]) -> Answers:
    """Return *answers*, and first among the remarks which items are another bank's.

    Raises:
        BadInput: most items are another bank's (``results-foreign``), or nothing counts.
    """
    counted = {
        item for form in answers.forms for place, item in enumerate(form.form.items)
        if (form.codes[:, place] != NOT_GIVEN).any()
    }
    catalogue.belonging.check(counted, str(paths[0]) if paths else "--results")
    if remark := catalogue.belonging.remark():
        answers = replace(answers, foreign=remark)
    if not answers.forms:
        listed = answers.rejected[:MOST_PROBLEMS]
        refused = [problem("results-refused", file, reason, "", row) for file, row, reason in listed]
        name = str(paths[0]) if paths else "--results"
        raise BadInput(refused or problem("results-empty", name, "there are headings but no answer that counts",
                                          "hand in a file with results"))
    return answers


def _read_kept(path: Path, gatherer: Gatherer) -> None:
    gatherer.simulated.add(kept_is_simulated(path))
    for row, one in enumerate(kept_answers(path), 1):
        try:
            sat = gatherer.sit(gatherer.pupil(one.pupil), one.quiz, (one.sitting, ""), one.group)
            gatherer.add(one.quiz, sat, Entry(
                one.item, one.response, str(one.version), GAP_WORDS.get(one.code, ""),
                milliseconds=str(one.milliseconds) if one.milliseconds >= 0 else "",
            ), str(path), row)
        except Refused as refused:
            gatherer.reject(str(path), row, f"{refused.field}: {refused.why}")


def _read(source: Source, tables: TableReader, documents: DocumentReader, *, alone: bool) -> None:
    """Read one file; where it is one of many, what makes it unreadable is listed and the others count."""
    try:
        with source.open() as file:
            head = file.read(64)
        (documents if is_xml(head) else tables).read(source)
    except ZIP_DAMAGE as error:
        documents.gatherer.reject(source.name, 0, "the zip file is damaged here; fetch or pack it anew")
    except OSError as error:
        documents.gatherer.reject(source.name, 0, f"cannot be read ({error.strerror or error})")
    except BadInput as error:
        if alone or any(one.code in _FATAL for one in error.problems):
            raise
        for one in error.problems:
            documents.gatherer.reject(one.place.file, one.place.line, f"{one.wrong}; {one.remedy}")


_FATAL = frozenset(("names-people", "results-foreign", "xml-entities", "zip-bomb", "column-missing", "column-twice", "map-unknown",
                    "map-missing", "letters-without-form", "quiz-unclear", "cannot-write", "bank-damaged"))
"""Problems that stop an import even where other files could be read."""
