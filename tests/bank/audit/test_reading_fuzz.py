"""Damaged results of any kind: either answers or messages, never a fault of the tool."""

from __future__ import annotations

import io
import tempfile
import zipfile
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from results_bank import bank_of_kinds

from bank.audit.pseudonyms import Salt
from bank.audit.reading import _bulk, read_results
from bank.audit.simulation import simulate, write_results
from bank.errors import BadInput
from bank.store import Bank

SALT = Salt(key=b"only for tests, of no secrecy at all")
PIECES = [
    b",", b";", b"\t", b'"', b"\n", b"\r", b"\x00", b"\xff", b"<", b">", b"&", b"A", b"9", b"-", b"'", b"\xc3\xa9",
    b"pupil", b"omitted", b"</value>", b"<!DOCTYPE x>", b"1e9", b" ", b"", b"S1 T1",
]


@lru_cache
def good(form: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder, Bank.open(bank_of_kinds()) as bank:
        write_results(simulate(bank, pupils=3, seed=4, groups=("5a", "5b")), Path(folder) / "r", form)
        return (Path(folder) / "r").read_bytes()


@pytest.mark.parametrize("form", ["long", "wide", "qti30", "document"])
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_damaged_results_are_read_or_refused(form: str, data: st.DataObject) -> None:
    content = good("qti21" if form == "document" else form)
    if form == "document":
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            content = packed.read(packed.namelist()[0])
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(content)))
        gone = data.draw(st.sampled_from([0, 0, 1, 3, 50, len(content)]))
        content = content[:at] + data.draw(st.sampled_from(PIECES)) + content[at + gone:]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / ("r.zip" if form == "qti30" else "r.csv")
        path.write_bytes(content)
        with Bank.open(bank_of_kinds()) as bank:
            try:
                answers = read_results(bank, [path], salt=SALT, remember=False)
            except BadInput as refused:
                assert all(one.wrong for one in refused.problems)
                return
    assert answers.rows == sum(int((form.codes != -3).sum()) for form in answers.forms) or answers.remarks
    for one in answers.forms:
        assert one.codes.shape == (len(one.pupils), len(one.form.items))
        assert (one.codes >= -3).all()


@pytest.mark.long
@pytest.mark.parametrize("form", ["long", "wide"])
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_damaged_tables_are_judged_alike_in_columns_and_row_by_row(form: str, data: st.DataObject) -> None:
    content = good(form)
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(content)))
        gone = data.draw(st.sampled_from([0, 0, 1, 3, 50]))
        content = content[:at] + data.draw(st.sampled_from(PIECES)) + content[at + gone:]
    found = []
    for smallest in (1, 1 << 40):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(_bulk, "FROM_BYTES", smallest)
            found.append(_told(content))
    assert found[0] == found[1]


def _told(content: bytes) -> object:
    """Return the answers in a table with this *content* by pupil, or the code of what is wrong."""
    with tempfile.TemporaryDirectory() as folder, Bank.open(bank_of_kinds()) as bank:
        path = Path(folder) / "r.csv"
        path.write_bytes(content)
        try:
            answers = read_results(bank, [path], salt=SALT, remember=False)
        except BadInput as refused:
            return refused.problems[0].code
    return [
        (one.form, sorted((answers.pupils[pupil], row) for pupil, row in zip(one.pupils.tolist(), one.codes.tolist())))
        for one in answers.forms
    ]
