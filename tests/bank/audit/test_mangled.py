"""Answers that a spreadsheet or a web page has changed: read where that is safe, refused with the reason elsewhere."""

from __future__ import annotations

import csv
import random
import re
from fractions import Fraction
from pathlib import Path

import pytest
from bank import cli
from bank.audit.marking import Marker
from bank.audit.reading import _bulk, _mangled, read_results
from bank.audit.reading._catalogue import Catalogue
from bank.audit.reading._gather import Entry, Gatherer, Refused
from bank.audit.reading._mangled import DATE, PLACES, TWO, ZERO, MendingMarker, unblurred, unwrapped
from bank.audit.pseudonyms import Salt
from bank.model import Choice
from bank.store import Bank
from hypothesis import given
from hypothesis import strategies as st
from items import POINT, item
from results_bank import QUIZ, bank_of_kinds, bank_path, every_kind

CHOICE = every_kind()["choice"]
TYPED = every_kind()["typed"]
PLACES_ASKED = every_kind()["typed places"]
IN_LINE = every_kind()["in line"]
assert isinstance(CHOICE.response, Choice)
KEY = next(option for option in CHOICE.response.options if option.is_key)
WRONG = next(option for option in CHOICE.response.options if not option.is_key)


def marked(asked: object, text: str) -> str:
    """Return the canonical response, or the reason for which *text* is refused."""
    try:
        return MendingMarker(asked, POINT).mark(text).response  # type: ignore[arg-type]
    except ValueError as error:
        return str(error)


def _blurred(text: str) -> str:
    """Return *text* with the dust of binary arithmetic behind it."""
    whole, _, decimals = text.partition(".")
    zeros = 16 - len(whole + decimals)
    return f"{whole}.{decimals}{'0' * zeros}3"


@pytest.mark.parametrize("form", [
    "{}", "<p>{}</p>", "<p dir=\"ltr\"><span style='x'>{}</span></p>", "&nbsp;{}", "{}&nbsp;", "\"{}\"", "=\"{}\"", "'{}",
    "<div>&nbsp;{}<br></div>", "\u201c{}\u201d", "<p>\"{}\"</p>",
])
def test_what_is_wrapped_is_read(form: str) -> None:
    value = POINT.number(KEY.numeral)
    for text in (value, KEY.identifier, KEY.identifier.lower()):
        assert marked(CHOICE, form.format(text)) == KEY.identifier
    assert marked(TYPED, form.format(POINT.number(TYPED.key))) == marked(TYPED, POINT.number(TYPED.key))
    assert MendingMarker(TYPED, POINT).mark(form.format(POINT.number(TYPED.key))).credit == 1000
    assert marked(IN_LINE, form.format("&lt;" if "<" in form else "<")) == "A"


@pytest.mark.parametrize("form", ["{0}. {1}", "{0}) {1}", "({0}) {1}", "{0}: {1}", "{0}.{1}", "{0}] {1}", "<p>{0}) {1}</p>"])
def test_a_letter_with_its_option_is_read_and_with_another_is_refused(form: str) -> None:
    right, other = POINT.number(KEY.numeral), POINT.number(WRONG.numeral)
    assert marked(CHOICE, form.format(KEY.identifier, right)) == KEY.identifier
    assert marked(CHOICE, form.format(KEY.identifier.lower(), right)) == KEY.identifier
    assert marked(CHOICE, form.format(KEY.identifier, "").strip()) == KEY.identifier
    assert marked(CHOICE, form.format(KEY.identifier, other)) == TWO
    assert "offers" in marked(CHOICE, form.format(KEY.identifier, "Mika"))
    assert "Mika" not in marked(CHOICE, form.format(KEY.identifier, "Mika"))


@pytest.mark.parametrize("text", ["03.Apr", "3-Apr", "Apr-70", "03.04.2027", "2027-04-03", "4/3/2027", "2027-04-03 00:00:00"])
def test_dates_are_refused_with_the_reason(text: str) -> None:
    assert marked(CHOICE, text) == marked(TYPED, text) == marked(TYPED, f"<p>{text}</p>") == DATE


def test_a_blurred_number_is_read_where_the_item_leaves_one_reading() -> None:
    value = POINT.number(KEY.numeral)
    assert marked(CHOICE, _blurred(value)) == KEY.identifier
    assert marked(CHOICE, f"{KEY.identifier}. {_blurred(value)}") == KEY.identifier
    assert MendingMarker(TYPED, POINT).mark(_blurred(POINT.number(TYPED.key))).credit == 1000
    assert marked(PLACES_ASKED, _blurred(POINT.number(PLACES_ASKED.key))) == PLACES
    assert marked(PLACES_ASKED, "47.699999999999996") == "47.7"
    assert "offers" in marked(CHOICE, "123.45000000000003")


def test_a_lost_final_zero_is_no_other_option() -> None:
    for option in CHOICE.response.options:  # type: ignore[union-attr]
        text = POINT.number(option.numeral)
        assert marked(CHOICE, text + "0" if "." in text else text + ".0") == option.identifier
        assert marked(CHOICE, POINT.number(option.numeral.normal())) == option.identifier


@pytest.mark.parametrize("text,found", [
    ("47.699999999999996", "47.7"), ("0.30000000000000004", "0.3"), ("3.3000000000000003", "3.3"), ("-0.10000000000000009",
     "-0.1"), ("4.77E+01", "47.7"), ("5e-2", "0.05"), ("1.1102230246251565e-16", None), ("0.3333333333333333", None),
    ("47.7", None), ("12345678901234567", None), ("", None), ("4E99", None), ("99999999999999.99", "100000000000000"),
])
def test_blurred_numbers(text: str, found: str | None) -> None:
    number = unblurred(text)
    assert (None if number is None else POINT.number(number).replace(",", "").replace("\u2212", "-")) == found


@given(st.integers(1, 99_999), st.integers(0, 4))
def test_what_binary_arithmetic_makes_of_a_short_decimal_comes_back(coefficient: int, places: int) -> None:
    exact = Fraction(coefficient, 10**places)
    for text in (repr(float(exact) * 3 / 3), repr(float(exact) + 0.1 - 0.1), f"{float(exact):.17g}"):
        number = unblurred(text)
        if number is not None:
            assert number.value == exact, text
        elif "e" not in text:
            assert len(text.replace(".", "").lstrip("0")) < 15 or abs(Fraction(text) - exact) * 10**13 > exact


@given(st.text("0123456789.,+-<>=% ABab", max_size=12))
def test_what_nothing_has_changed_is_marked_as_it_stands(text: str) -> None:
    if not text.strip() or text.strip()[:1] in "'\"" or re.match(r"\(?\s*[ABab]\d?\s*[.):\]]", text.strip()):
        return
    for asked in (TYPED, PLACES_ASKED):
        if unblurred(text) is None and marked(asked, text) != DATE and unwrapped(text) == text:
            assert MendingMarker(asked, POINT).mark(text) == Marker(asked, POINT).mark(text)


@given(st.text(max_size=40))
def test_no_text_is_a_fault(text: str) -> None:
    for asked in every_kind().values():
        if text.strip():
            marked(asked, text)
    assert unwrapped(unwrapped(text)) == unwrapped(text) or len(text) > 8


def test_no_float_is_in_the_room() -> None:
    source = Path(_mangled.__file__).read_text(encoding="utf-8")
    assert "float" not in source and not re.search(r"[\w)\]] / [\w(]", source)


SALT = Salt(key=b"a salt for tests only")


def _table(path: Path, cells: list[tuple[str, str, str, str]]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("pupil", "item", "response", "score"), *cells])
    return path


def _offered() -> list[tuple[str, str, str]]:
    """Return item, letter and value of the key of the items of the small quiz that are chosen."""
    with Bank.open(bank_path()) as bank:
        (quiz,) = [one for one in bank.quizzes if one.identifier == QUIZ]
        return [
            (one.identifier, option.identifier, bank.info.locale.number(option.numeral))
            for one in bank.items(quiz.items) if isinstance(one.response, Choice)
            for option in one.response.options if option.is_key
        ]


@pytest.mark.parametrize("bulk", [False, True])
def test_tables_of_mangled_answers_count_as_if_nothing_had_happened(
    tmp_path: Path, bulk: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if bulk:
        monkeypatch.setattr(_bulk, "FROM_BYTES", 1)
    luck = random.Random(4)
    ways = ("{0}", "{1}", "<p>{1}</p>", "{0}. {1}", "{0})", "=\"{1}\"", "&nbsp;{1}", "'{1}")
    plain = [(f"P-{pupil}", name, letter, "") for pupil in range(12) for name, letter, _ in _offered()]
    spoilt = [(f"P-{pupil}", name, luck.choice(ways).format(letter.lower(), value), "")
              for pupil in range(12) for name, letter, value in _offered()]
    with Bank.open(bank_path()) as bank:
        one, other = (
            read_results(bank, [_table(tmp_path / f"{name}.csv", rows)], salt=SALT, remember=False)
            for name, rows in (("plain", plain), ("spoilt", spoilt))
        )
    assert not one.rejected and not other.rejected and one.rows == other.rows == len(plain)
    assert one.forms[0].form == other.forms[0].form and (one.forms[0].codes == other.forms[0].codes).all()


def test_a_zero_that_the_score_tells_of_is_not_marked_wrong() -> None:
    with Bank.open(bank_of_kinds()) as bank:
        catalogue = Catalogue(bank)
        (quiz,) = catalogue.quizzes
        name = catalogue.quizzes[quiz].items[0]
        asked = item(
            "add", identifier=name, operands=("4.25", "0.45"), typed=True, policy="places", of={"places": 2}
        )
        assert POINT.number(asked.key) == "4.70"
        catalogue._markers[quiz] = (MendingMarker(asked, POINT), *catalogue.markers(quiz)[1:])
        gatherer = Gatherer(catalogue)
        sat = gatherer.sit(gatherer.pupil("p"), quiz, (0, ""), "")
        with pytest.raises(Refused, match="final zero") as caught:
            gatherer.add(quiz, sat, Entry(name, "4.7", score="1"), "file", 2)
        assert caught.value.why == ZERO and gatherer.refused == {(quiz, name): 1}
        again = Gatherer(catalogue)
        again.add(quiz, again.sit(again.pupil("p"), quiz, (0, ""), ""), Entry(name, "4.7", score="0"), "file", 3)
        assert again.finish().rows == 1


def _spoilt_bank_results(tmp_path: Path, share: float) -> tuple[Path, str]:
    """Return a table in which the first item has this share of dates."""
    first = _offered()[0][0]
    rows = [(f"P-{pupil}", name, "03.Apr" if name == first and pupil < 40 * share else letter, "")
            for pupil in range(40) for name, letter, _ in _offered()]
    return _table(tmp_path / "results.csv", rows), first


@pytest.mark.parametrize("bulk", [False, True])
def test_an_item_of_which_many_rows_are_refused_is_not_judged_and_the_page_says_so_first(
    tmp_path: Path, bulk: bool, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    if bulk:
        monkeypatch.setattr(_bulk, "FROM_BYTES", 1)
    bank = tmp_path / "bank.sqlite"
    bank.write_bytes(bank_path().read_bytes())
    results, first = _spoilt_bank_results(tmp_path, 0.4)
    out = tmp_path / "out"
    words = ["audit", str(bank), "--results", str(results), "--salt", str(tmp_path / "salt"), "-o", str(out)]
    assert cli.main(words) == 0
    assert "not judged: 40 % of its rows could not be read" in capsys.readouterr().out
    with (out / "audit.csv").open(encoding="utf-8", newline="") as file:
        rows = {row["item"]: row for row in csv.DictReader(file)}
    assert rows[first]["observed_facility"] == "" and rows[first]["flags"] == ""
    assert rows[first]["withheld"] == "not judged: 40 % of its rows could not be read"
    assert all(row["observed_n"] == "40" for name, row in rows.items() if name in {one for one, _, _ in _offered()[1:]})
    page = (out / "audit.html").read_text(encoding="utf-8")
    assert page.index("not judged: 40 %") < page.index('<section id="predicted"')


def test_a_few_refused_rows_of_an_item_do_not_keep_it_from_being_judged(tmp_path: Path) -> None:
    bank = tmp_path / "bank.sqlite"
    bank.write_bytes(bank_path().read_bytes())
    results, first = _spoilt_bank_results(tmp_path, 0.025)
    out = tmp_path / "out"
    assert cli.main(["audit", str(bank), "--results", str(results), "--salt", str(tmp_path / "salt"), "-o", str(out)]) == 0
    assert "not judged:" not in (out / "audit.html").read_text(encoding="utf-8")


def test_results_that_are_mostly_refused_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = [(f"P-{pupil}", name, letter if pupil < 12 else "03.Apr", "")
            for pupil in range(24) for name, letter, _ in _offered()]
    words = ["--results", str(_table(tmp_path / "r.csv", rows)), "--salt", str(tmp_path / "salt"), "-o", str(tmp_path)]
    for command in ("audit", "lesson"):
        bank = tmp_path / "bank.sqlite"
        bank.write_bytes(bank_path().read_bytes())
        assert cli.main([command, str(bank), *words]) == 2
        assert "so many rows could not be read" in capsys.readouterr().err
