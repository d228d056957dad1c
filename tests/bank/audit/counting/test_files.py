"""The fast reader of canonical CSV: what it makes of good, odd and broken rows, wherever a block of bytes ends."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from results_tables import KEYS, Line, counted_plainly, named_cells, score, tables, write_long, write_wide

from bank.audit.counting import blocks, files, keys
from bank.audit.counting.files import count_csv, read_csv
from bank.audit.counting.keys import QuizKey
from bank.audit.counting.layout import read_layout
from bank.audit.counting.outcome import Rejected
from bank.audit.counting.plain import read_rows
from bank.audit.counting.resolve import Resolver
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED
from bank.errors import BadInput

KEY = QuizKey(quiz="week-1", items=("weir-1", "weir-2", "weir-3"), versions=(1, 1, 2), score=score)
HEADER = b"pupil,quiz,item,response\n"


def _written(folder: Path, raw: bytes) -> Path:
    path = folder / "answers.csv"
    path.write_bytes(raw)
    return path


def _rows(count: int, start: int = 0) -> bytes:
    return b"".join([b"p%d,week-1,weir-%d,%s\n" % (start + row // 3, row % 3 + 1, b"ABC"[row % 2 : row % 2 + 1])
                     for row in range(count)])


_REFUSED_FIRST = [Line("k", "", "quiz-1", "1", item, "", "no such thing") for item in KEYS[1].items]
_BLANK_SECOND = [line._replace(attempt="2", response="") for line in _REFUSED_FIRST]


@pytest.mark.long
@given(lines=tables(), block=st.integers(60, 400))
@example(lines=[*_REFUSED_FIRST, *_BLANK_SECOND], block=60)
@settings(max_examples=60, deadline=None)
def test_the_end_of_a_block_changes_nothing(lines: list[Line], block: int) -> None:
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(blocks, "BLOCK", block)
        long, wide = Path(folder) / "long.csv", Path(folder) / "wide.csv"
        write_long(long, lines)
        cells, _, rejected = counted_plainly(lines)
        counted = count_csv([long], KEYS)
        assert (named_cells(counted.counts), counted.rejected_rows) == (cells, rejected)
        rows = [line for line in lines if line.attempt != "two" and line.pupil and line.quiz != "quiz-9"]
        wide_rows = write_wide(wide, rows)
        cells, _, rejected = counted_plainly(wide_rows)
        counted = count_csv([wide], KEYS)
        assert (named_cells(counted.counts), counted.rejected_rows) == (cells, rejected)


_FIELD = st.text(st.sampled_from("ABab0,;\"\r\n\0 \u00e9\u20ac'|x"), max_size=12)


@pytest.mark.long
@given(rows=st.lists(st.lists(_FIELD, min_size=1, max_size=5).map(",".join), max_size=8), end=st.booleans())
@settings(max_examples=150, deadline=None)
def test_whatever_the_bytes_the_fast_reader_takes_the_rows_that_the_plain_one_takes(rows: list[str], end: bool) -> None:
    raw = HEADER + _rows(2) + "\n".join(rows).encode() + (b"\n" + _rows(2, 9) if end else b"")
    with TemporaryDirectory() as folder:
        path = _written(Path(folder), raw)
        _same_as_plain(path, [KEY])


@pytest.mark.long
@given(raw=st.binary(max_size=60), block=st.sampled_from([64, 1 << 20]))
@settings(max_examples=150, deadline=None)
def test_any_bytes_at_all_break_only_their_own_rows(raw: bytes, block: int) -> None:
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(blocks, "BLOCK", block)
        path = _written(Path(folder), HEADER + _rows(3) + raw + b"\n" + _rows(3, 5))
        _same_as_plain(path, [KEY])


def _same_as_plain(path: Path, known: Sequence[QuizKey]) -> None:
    rejected = Rejected()
    answers = list(read_rows(path, read_layout(path, known), known, rejected))
    good = 0
    for one in answers:
        try:
            Resolver(known).place(one.quiz, one.item, one.version)
            if one.response not in keys.STATES:
                score(0, one.response)
            good += 1
        except ValueError as error:
            rejected.add(str(path), one.row, str(error))
    read = read_csv([path], known)
    assert read.rejected == rejected.in_order()
    assert read.rejected_rows == rejected.number
    cells = sum(int((form.codes != NOT_GIVEN).sum()) for form in read.forms)
    assert cells <= good


def test_one_broken_row_among_many_is_named_and_the_others_count(tmp_path: Path) -> None:
    raw = HEADER + _rows(90_000) + b'p7,"week-1,weir-2,A\n' + _rows(90_000, 50_000)
    counted = count_csv([_written(tmp_path, raw)], [KEY])
    assert counted.answers == 180_000
    assert [(row, reason) for _, row, reason in counted.rejected] == [
        (90_002, "a quotation mark is not closed on its line, or something follows it"),
    ]


@pytest.mark.parametrize(("row", "reason"), [
    (b"p1,week-1,weir-1\n", "the row has 3 fields, the header 4"),
    (b"p1,week-1,weir-1,A,\n", "the row has 5 fields, the header 4"),
    (b"p1\n", "the row has 1 field, the header 4"),
    (b"p1,week-1,weir-1,\xff\n", "the row is not UTF-8 (byte 18 of it)"),
    (b"p1,week-1,weir-1,A\0\n", "the row holds a zero byte"),
    (b"p1,week-1,weir-1,A\rB\n", "the row holds a carriage return"),
    (b'p1,week-1,weir-1,"A\n', "a quotation mark is not closed on its line, or something follows it"),
    (b'p1,week-1,weir-1,"A"B\n', "a quotation mark is not closed on its line, or something follows it"),
    (b",week-1,weir-1,A\n", "the row names no pupil or no item"),
    (b"p1,week-1,,A\n", "the row names no pupil or no item"),
    (b"p1,,weir-1,A\n", None),
    (b"p1,week-2,weir-1,A\n", "no quiz is named (a text of 6 characters)"),
    (b"p1,week-1,weir-9,A\n", "the quiz has no item (a text of 6 characters)"),
    (b"p1,week-1,weir-1,no such thing\n", "the item offers A, B, C"),
    (b"\n", None), (b"\r\n", None),
    (b'"p1","week-1","weir-1","A"\n', None),
    (b"p1,week-1,weir-1," + b"9" * 500 + b"\n", None),
    (b"p1,week-1,weir-1," + "\u00e9".encode() * 50 + b"\n", None),
])
def test_a_row_is_good_or_its_fault_is_named(row: bytes, reason: str | None, tmp_path: Path) -> None:
    counted = count_csv([_written(tmp_path, HEADER + _rows(30, 100) + row + _rows(30, 200))], [KEY])
    assert [(number, why) for _, number, why in counted.rejected] == ([(32, reason)] if reason else [])
    assert counted.answers == 60 + (reason is None and bool(row.strip()))


def test_long_answers_are_kept_apart_whatever_they_begin_with(tmp_path: Path) -> None:
    long = [b"7" * 100 + b"%d" % number for number in range(3)]
    raw = HEADER + b"".join([b"p%d,week-1,weir-1,%s\n" % (row, long[row % 3]) for row in range(9)])
    (table,) = count_csv([_written(tmp_path, raw)], [KEY]).counts
    assert table.form.responses[0] == tuple([text.decode() for text in long])
    assert table.n[table.item == 0].tolist() == [3, 3, 3]


def test_texts_of_every_length_are_told_apart(tmp_path: Path) -> None:
    texts = [b"x" * length for length in range(1, 70)] + [b"x" * length + b"y" for length in range(0, 70)]
    raw = HEADER + b"".join([b"%s,week-1,weir-1,%s\n" % (text, text) for text in texts * 2])
    read = read_csv([_written(tmp_path, raw)], [KEY])
    assert sorted(read.pupils) == sorted(text.decode() for text in texts)
    assert read.forms[0].form.responses[0] == tuple(sorted(text.decode() for text in texts))
    assert read.doubled == len(texts)
    responses = [read.forms[0].form.responses[0][code] for code in read.forms[0].codes[:, 0].tolist()]
    assert responses == [read.pupils[pupil] for pupil in read.forms[0].pupils.tolist()]


def test_blanks_are_left_out_not_reached_or_not_given(tmp_path: Path) -> None:
    raw = b"pupil,weir-1,weir-2,weir-3\na,,B,\nb,A,,\nc,,,\nd,A,not given,\ne,A,omitted,not reached\nf,omitted,,\n"
    read = read_csv([_written(tmp_path, raw)], [KEY])
    left, late, gone = OMITTED, NOT_REACHED, NOT_GIVEN
    assert read.forms[0].codes.tolist() == [
        [left, 0, left], [0, left, late], [left, late, late], [0, gone, left], [0, left, late], [left, left, late],
    ]


def test_a_cell_that_is_no_answer_takes_nothing_from_another_row_of_the_pupil(tmp_path: Path) -> None:
    raw = b"pupil,weir-1,weir-2,weir-3\na,A,,\na,A,B,no such thing\na,A,B,C\n"
    read = read_csv([_written(tmp_path, raw)], [KEY])
    assert read.forms[0].form.responses == (("A",), ("B",), ("C",))
    assert read.forms[0].codes.tolist() == [[0, NOT_GIVEN, NOT_GIVEN]]
    assert (read.doubled, read.contradicted, read.rejected_rows) == (1, 2, 1)


@given(lines=tables(), quote_all=st.booleans())
@settings(max_examples=30, deadline=None)
def test_marks_around_fields_change_nothing(lines: list[Line], quote_all: bool) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "quoted.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, quoting=csv.QUOTE_ALL if quote_all else csv.QUOTE_MINIMAL)
            writer.writerow(Line._fields)
            writer.writerows([line._replace(group=line.group and line.group + ', "of" it') for line in lines])
        counted = count_csv([path], KEYS)
    wanted, _, rejected = counted_plainly(
        [line._replace(group=line.group and line.group + ', "of" it') for line in lines]
    )
    assert (named_cells(counted.counts), counted.rejected_rows) == (wanted, rejected)


@pytest.mark.parametrize(("attempts", "wanted"), [("first", [[NOT_GIVEN, 0, OMITTED]]), ("last", [])])
def test_an_attempt_of_refused_answers_is_never_replaced_by_another(
    attempts: str, wanted: list[list[int]], tmp_path: Path
) -> None:
    partly, wholly, good = ["no such thing", "B", ""], ["no such thing"] * 3, ["A", "B", "C"]
    for write in (_wide_attempts, _long_attempts):
        read = read_csv([_written(tmp_path, write(partly, wholly))], [KEY], attempts=attempts)
        assert [row for form in read.forms for row in form.codes.tolist()] == wanted
        assert read.rejected_rows == 4
        assert read_csv([_written(tmp_path, write(wholly, good))], [KEY], attempts="first").forms == ()


def _wide_attempts(*rows: Sequence[str]) -> bytes:
    lines = [f"p1,{attempt},{','.join(cells)}\n" for attempt, cells in enumerate(rows, 1)]
    return ("pupil,attempt,weir-1,weir-2,weir-3\n" + "".join(lines)).encode()


def _long_attempts(*rows: Sequence[str]) -> bytes:
    lines = [f"p1,{attempt},{item},{cell}\n" for attempt, cells in enumerate(rows, 1)
             for item, cell in zip(KEY.items, cells, strict=True)]
    return ("pupil,attempt,item,response\n" + "".join(lines)).encode()


def test_pupils_are_given_the_pseudonyms_that_the_caller_makes(tmp_path: Path) -> None:
    read = read_csv([_written(tmp_path, HEADER + _rows(6))], [KEY], pseudonym=lambda name: f"<{name}>")
    assert read.pupils == ("<p0>", "<p1>")
    assert read.forms[0].pupils.tolist() == [0, 1]


@pytest.mark.parametrize(("raw", "wrong"), [
    (b"", "no column is named pupil"),
    (b"name,item,response\n", "no column is named pupil"),
    (b"pupil,item,item,response\n", "the header names a column twice"),
    (b"pupil,item,answer\n", "no column is named response"),
    (b"pupil,week,answer\n", "no column is named item, and none after an item of the quizzes"),
    (b'pupil,"item,response\n', "the header cannot be read: a quotation mark is not closed"),
    ("pupil,item,response\n".encode("utf-16"), "the header cannot be read"),
    (b"pupil,caf\xe9,response\n", "the header cannot be read: the row is not UTF-8"),
])
def test_a_header_that_is_none_is_said_in_words(raw: bytes, wrong: str, tmp_path: Path) -> None:
    with pytest.raises(BadInput) as caught:
        count_csv([_written(tmp_path, raw)], [KEY])
    (problem,) = caught.value.problems
    assert problem.code == "results-header" and wrong in problem.wrong


def test_a_file_that_is_missing_is_said_in_words(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="No such file"):
        count_csv([tmp_path / "none.csv"], [KEY])


def test_marks_tabs_semicolons_and_line_ends_are_read(tmp_path: Path) -> None:
    plain = HEADER + _rows(9)
    wanted = named_cells(count_csv([_written(tmp_path, plain)], [KEY]).counts)
    for raw in (
        b"\xef\xbb\xbf" + plain, plain.replace(b",", b";"), plain.replace(b",", b"\t"), plain.replace(b"\n", b"\r\n"),
        plain.rstrip(b"\n"), plain.replace(b"\n", b"\r\n").rstrip(b"\r\n"),
    ):
        counted = count_csv([_written(tmp_path, raw)], [KEY])
        assert named_cells(counted.counts) == wanted and not counted.rejected


def test_the_table_does_not_depend_on_the_order_of_rows(tmp_path: Path) -> None:
    rows = _rows(300).splitlines(keepends=True)
    shuffled = [rows[(place * 77) % 300] for place in range(300)]
    tables = [count_csv([_written(tmp_path, HEADER + b"".join(one))], [KEY]).counts[0] for one in (rows, shuffled)]
    assert tables[0].form == tables[1].form
    for name in ("item", "response", "total", "n"):
        assert getattr(tables[0], name).tolist() == getattr(tables[1], name).tolist()


def test_an_item_with_too_many_different_answers_is_said_in_words(tmp_path: Path) -> None:
    raw = HEADER + b"".join([b"p%d,week-1,weir-1,%d\n" % (row, row) for row in range(keys.MOST_RESPONSES + 1)])
    with pytest.raises(BadInput, match="weir-1 has more than 32,767 different responses"):
        count_csv([_written(tmp_path, raw)], [KEY])


def test_only_some_of_very_many_broken_rows_are_listed_but_all_are_counted(tmp_path: Path) -> None:
    counted = count_csv([_written(tmp_path, HEADER + b"p1,week-1\n" * 5_000 + _rows(3))], [KEY])
    assert (counted.rejected_rows, len(counted.rejected), counted.answers) == (5_000, 1_000, 3)


def test_a_fault_of_the_caller_ends_the_reading_at_once(tmp_path: Path) -> None:
    def broken(item: int, text: str) -> tuple[str, int]:
        raise KeyError(text)

    key = QuizKey(quiz="week-1", items=KEY.items, versions=KEY.versions, score=broken)
    with pytest.raises(KeyError):
        files.count_csv([_written(tmp_path, HEADER + _rows(200_000))], [key])
