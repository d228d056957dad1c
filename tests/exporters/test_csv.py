"""Tables of values: the form of RFC 4180, no formula for a spreadsheet, the same keys and options read back."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import sampler
from bank.answers import accepted_forms
from bank.errors import BadInput
from bank.model import Choice, Locale, Prediction, TypedNumber, Unit
from bank.numerals import Numeral
from bank.store import Bank, answers_of
from exporters import _clerks
from exporters import csv as exporter
from exporters._cells import cell, guarded, unguarded
from exporters._faults import ExportFault
from exporters._rows import ITEM_COLUMNS, OPTION_COLUMNS, Rows, forms_text
from exporters._rows_back import ReadItem, read_items, scoring
from hypothesis import example, given
from hypothesis import strategies as some
from items import item, quiz
from review_bank import COMMA, POINT, HandMadeBank, make_bank
from exported import unprinted
from sampler import EITHER

GOLDEN = Path(__file__).parent / "golden" / "csv"
texts = some.text(some.characters(exclude_categories=("Cs",)), max_size=30)
first_characters = some.sampled_from("=+-@\t\r\n'\"\uff1d\uff0b\uff0d\uff20\u2212 \u00a0\ufeff\u200b\x00;,0aA")
risky_looking = some.builds(lambda head, tail: "".join(head) + tail, some.lists(first_characters, max_size=5), texts)


def written(bank: HandMadeBank, folder: Path, **more: object) -> list[Path]:
    """Export *bank* under *folder*."""
    options = {"whole_bank": True, "jobs": 1, "progress": lambda done, total: None} | more
    quizzes = options.pop("quizzes", list(bank.quizzes))
    return exporter.write(folder / "bank.sqlite", bank, quizzes, folder, **options)  # type: ignore[arg-type]


def rows(path: Path) -> list[dict[str, str]]:
    """Return the rows of a file as any reader of comma-separated values sees them."""
    with path.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened, strict=True))


@given(some.lists(some.lists(texts | risky_looking, min_size=2, max_size=4), max_size=4))
@example([["=1+1", "'=1"], ["'", "''"], ["\r", "\n"], ['"', '",\r\n"'], ["\u2028,", "\x85"]])
def test_any_text_comes_back_once_the_guard_is_undone(table: list[list[str]]) -> None:
    content = "".join(",".join(map(cell, row)) + "\r\n" for row in table)
    read = list(csv.reader(io.StringIO(content, newline=""), strict=True))
    assert [list(map(unguarded, row)) for row in read] == table


@pytest.mark.parametrize("text", ["", "4.70", "4,70", 'say "so"', '"', "two\nlines", "\rx", "=1+1", " a", "a;b", "'"])
def test_cells_are_quoted_as_the_standard_library_quotes_them(text: str) -> None:
    file = io.StringIO(newline="")
    csv.writer(file).writerow([guarded(text), "next"])
    assert f"{cell(text)},next\r\n" == file.getvalue()


@given(texts | risky_looking)
def test_no_cell_begins_with_what_a_spreadsheet_may_run(text: str) -> None:
    cell = guarded(text)
    assert cell in (text, "'" + text)
    assert not cell.startswith(tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20\u2212"))
    if cell == text:
        bare = text.lstrip("'\" \u00a0`")
        assert not bare.startswith(tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20\u2212"))


@pytest.mark.parametrize(
    "text",
    [
        "=1+1", "+1", "-1", "-4.70", "@SUM(A1)", "\t=1", "\r=1", "\n1", "\u22124.7", "\uff1d1", "\uff0b1", "\uff0d1",
        "\uff20a", "\ufe631", " =1", "\u00a0=1", "'=1", '"=1"', "\u201c=1", "\ufeff=1", "\u200b=1", "\x00=1", "' \" -1",
    ],
)
def test_these_are_guarded(text: str) -> None:
    assert guarded(text) == "'" + text


@pytest.mark.parametrize(
    "text", ["", "4.70", "0", "4,70 m", "$4.70", "a=b", "'", '"quoted"', "5 - 3", "1-2", "#", " a"]
)
def test_these_stay_as_they_are(text: str) -> None:
    assert guarded(text) == text


def test_the_files_have_the_form_of_rfc_4180(tmp_path: Path) -> None:
    paths = written(make_bank(30), tmp_path)
    assert [path.relative_to(tmp_path).as_posix() for path in paths] == ["csv/items.csv", "csv/options.csv"]
    for path, columns in zip(paths, (ITEM_COLUMNS, OPTION_COLUMNS), strict=True):
        content = path.read_bytes()
        assert content.startswith(",".join(columns).encode() + b"\r\n") and content.endswith(b"\r\n")
        assert not content.startswith(b"\xef\xbb\xbf")
        content.decode("utf-8")
        with path.open(encoding="utf-8", newline="") as opened:
            assert {len(row) for row in csv.reader(opened, strict=True)} == {len(columns)}
    assert sorted(path.name for path in (tmp_path / "csv").iterdir()) == ["items.csv", "options.csv"]


@pytest.mark.parametrize("locale", [POINT, COMMA])
def test_keys_options_and_mistakes_are_read_back_as_in_the_bank(tmp_path: Path, locale: object) -> None:
    bank = make_bank(40, locale)  # type: ignore[arg-type]
    written(bank, tmp_path)
    assert list(exporter.read_back(tmp_path)) == read_from(bank)


def read_from(bank: HandMadeBank) -> list[ReadItem]:
    """Return what must be read back of *bank*."""
    return [scoring(answers_of(item), bank.info.locale) for item in bank.items()]


def test_a_changed_key_or_a_lost_option_is_seen(tmp_path: Path) -> None:
    bank = make_bank(10)
    items, options = written(bank, tmp_path)
    before = read_from(bank)
    content = options.read_bytes().decode()
    options.write_bytes(content.replace(",yes,", ",no,", 1).encode())
    assert list(exporter.read_back(tmp_path)) != before
    lines = content.split("\r\n")
    options.write_bytes("\r\n".join([lines[0], *lines[2:]]).encode())
    assert list(exporter.read_back(tmp_path)) != before
    options.write_bytes("\r\n".join([*lines[:2], lines[-2], *lines[2:]]).encode())
    with pytest.raises(ExportFault, match="not in its place"):
        list(exporter.read_back(tmp_path))
    items.write_bytes(items.read_bytes()[5:])
    with pytest.raises(ExportFault, match="header row"):
        list(exporter.read_back(tmp_path))


def test_values_have_a_point_and_texts_the_locale_s_mark(tmp_path: Path) -> None:
    bank = make_bank(40, COMMA)
    items, options = (rows(path) for path in written(bank, tmp_path))
    for row in items:
        assert "," not in row["key_value"] and "." not in row["key"]
        assert "," not in row["operands"]
    assert any("," in row["text"] for row in options) and not any("," in row["value"] for row in options)
    assert any(row["text"].startswith("$") for row in options) and any(row["text"].endswith(" m") for row in options)


def test_rows_say_what_the_bank_says(tmp_path: Path) -> None:
    bank = make_bank(40)
    items, options = (rows(path) for path in written(bank, tmp_path))
    weeks = {item: quiz for quiz in bank.quizzes for item in quiz.items}
    for row, item in zip(items, bank.items(), strict=True):
        quiz = weeks.get(item.identifier)
        assert (row["quizzes"], row["weeks"]) == ((quiz.identifier, str(quiz.week)) if quiz else ("", ""))
        assert row["predicted_band"] == item.prediction.band
        assert row["predicted_share_right_low"] == f"0.{item.prediction.low_share:03}"
        mine = [one for one in options if one["item"] == item.identifier]
        if isinstance(item.response, Choice):
            assert (row["response"], row["options"]) == ("choice", str(len(item.response.options)))
            assert [one["option"] for one in mine] == [one.identifier for one in item.response.options]
            assert [one["is_key"] for one in mine].count("yes") == 1 and row["accepted_forms"] == ""
        else:
            assert isinstance(item.response, TypedNumber)
            assert {one["kind"] for one in mine} <= {"foreseen"} and row["policy"] == item.response.policy
            forms = accepted_forms(item.key, bank.info.locale, item.response.policy, item.family.unit)
            listed = next(csv.reader([row["accepted_forms"]], delimiter=";", skipinitialspace=True))
            assert tuple(listed) == forms and row["key"] == forms[0] and row["options"] == ""
        for one in mine:
            said = ("mistakes", "mistake_names", "feedback", "feedback_carried_by")
            assert {bool(one[name]) for name in said} == {one["is_key"] == "no"}


@given(
    some.builds(Numeral, some.integers(-10**7, 10**7), some.integers(0, 4)), some.sampled_from(["value", "places", "exact"]),
    some.sampled_from([POINT, COMMA, EITHER]), some.sampled_from([None, Unit(text="m"), Unit(text='a"; b')]),
)
def test_spellings_in_one_cell_are_read_apart_again(key: Numeral, policy: str, locale: Locale, unit: Unit | None) -> None:
    forms = accepted_forms(key, locale, policy, unit)
    text = unguarded(guarded(forms_text(forms)))
    assert tuple(next(csv.reader([text], delimiter=";", skipinitialspace=True, strict=True))) == forms


def test_a_chosen_quiz_has_its_items_in_its_order_each_once(tmp_path: Path) -> None:
    bank = make_bank(40)
    chosen = [bank.quizzes[2], bank.quizzes[0], bank.quizzes[2]]
    items = rows(written(bank, tmp_path, quizzes=chosen, whole_bank=False)[0])
    assert [row["item"] for row in items] == [*bank.quizzes[2].items, *bank.quizzes[0].items]


def test_progress_ends_at_the_last_item(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    written(make_bank(30), tmp_path, progress=lambda done, total: told.append((done, total)))
    assert [done for done, _ in told] == [30, 60] and {total for _, total in told} == {60}


def test_an_export_that_breaks_off_leaves_the_old_files(tmp_path: Path) -> None:
    bank = make_bank(20)
    before = [path.read_bytes() for path in written(bank, tmp_path)]

    class Broken(HandMadeBank):
        def items(self, *arguments: object, **more: object) -> Iterator[object]:  # type: ignore[override]
            yield next(iter(self.held.values()))
            raise ValueError("damaged")

    broken = Broken(info=bank.info, families=bank.families, quizzes=bank.quizzes, held=bank.held)
    with pytest.raises(ValueError, match="damaged"):
        written(broken, tmp_path)
    after = sorted((tmp_path / "csv").iterdir())
    assert [path.read_bytes() for path in after] == before


@pytest.mark.parametrize("row_of", ["item_row", "answer_rows"])
def test_a_file_that_would_be_wrong_takes_no_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, row_of: str
) -> None:
    true_rows = getattr(Rows, row_of)

    def wrong_item(*arguments: object) -> str:
        row = next(csv.reader([true_rows(*arguments)]))
        row[ITEM_COLUMNS.index("key_value")] += "9"
        return ",".join(map(cell, row)) + "\r\n"

    def wrong_answers(*arguments: object) -> list[str]:
        return list(reversed(true_rows(*arguments)))

    bank = make_bank(20)
    before = [path.read_bytes() for path in written(bank, tmp_path)]
    monkeypatch.setattr(Rows, row_of, wrong_item if row_of == "item_row" else wrong_answers)
    with pytest.raises(ExportFault, match="are not those of the bank"):
        written(bank, tmp_path)
    assert [path.read_bytes() for path in sorted((tmp_path / "csv").iterdir())] == before


@pytest.fixture
def small_jobs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Four items a job, so that few items are work for several processes."""
    monkeypatch.setattr(_clerks, "JOB", 4)


@pytest.mark.usefixtures("small_jobs")
@pytest.mark.parametrize("chosen", [False, True], ids=["whole bank", "quizzes"])
def test_the_tables_are_the_same_with_any_number_of_processes(tmp_path: Path, chosen: bool) -> None:
    source = sampler.bank(COMMA).save(tmp_path / "bank.sqlite")
    made = []
    with Bank.open(source) as bank:
        quizzes = [bank.quizzes[2], bank.quizzes[0]] if chosen else list(bank.quizzes)
        for jobs in (1, 2, 3):
            paths = exporter.write(
                source, bank, quizzes, tmp_path / str(jobs), whole_bank=not chosen, jobs=jobs,
                progress=lambda done, total: None,
            )
            made.append([path.read_bytes() for path in paths])
    assert made[0] == made[1] == made[2]
    used = {item for quiz in quizzes for item in quiz.items} if chosen else sampler.bank().kept
    assert made[0][0].count(b"\r\n") == 1 + len(used)


def swapped(content: bytes) -> bytes:
    """Return a table with two rows in each other's place."""
    head, first, second, *rest = content.split(b"\r\n")
    return b"\r\n".join([head, second, first, *rest])


def doubled(content: bytes) -> bytes:
    """Return a table with its last row twice."""
    return content + content.split(b"\r\n")[-2] + b"\r\n"


DAMAGE: dict[str, tuple[str, Callable[[bytes], bytes]]] = {
    "key no longer the key": ("options", lambda content: content.replace(b",yes,", b",no,", 1)),
    "second key": ("options", lambda content: content.replace(b",no,", b",yes,", 1)),
    "value of an option": ("options", lambda content: content.replace(b",6.27,6.27,", b",6.27,6.28,")),
    "value written otherwise": ("options", lambda content: content.replace(b",6.27,6.27,", b",6.27,6.270,")),
    "no number": ("options", lambda content: content.replace(b",6.27,6.27,", b",6.27,six,")),
    "letter of an option": ("options", lambda content: content.replace(b",option,A,", b",option,B,", 1)),
    "mistake of an option": ("options", lambda content: content.replace(b"subtract.ten-minus-bottom", b"none")),
    "options in another order": ("options", swapped),
    "a row twice": ("options", doubled),
    "a row lost": ("options", lambda content: content[: content[:-2].rindex(b"\r\n") + 2]),
    "an open quote": ("options", lambda content: content[:-3] + b'"' + content[-2:]),
    "cut off": ("options", lambda content: content[:-1]),
    "no text": ("options", lambda content: content[:-3] + b"\xff" + content[-2:]),
    "options gone": ("options", lambda content: content[: content.index(b"\r\n") + 2]),
    "header": ("options", lambda content: content.replace(b"item,", b"mite,", 1)),
    "a spelling": ("items", lambda content: content.replace(b"32.45000", b"32.45001", 1)),
    "a spelling lost": ("items", lambda content: content.replace(b"; 32.45000", b"", 1)),
    "key": ("items", lambda content: content.replace(b",6.27,6.27,", b",6.27,6.72,")),
    "policy": ("items", lambda content: content.replace(b",places,", b",value,", 1)),
    "response": ("items", lambda content: content.replace(b",choice,", b",typed,", 1)),
    "identifier": ("items", lambda content: content.replace(b"\r\nadd-01", b"\r\nadd-00", 1)),
    "items in another order": ("items", swapped),
    "an item twice": ("items", doubled),
    "an item lost": ("items", lambda content: content[: content[:-2].rindex(b"\r\n") + 2]),
    "items gone": ("items", lambda content: content[: content.index(b"\r\n") + 2]),
}


@pytest.mark.usefixtures("small_jobs")
@pytest.mark.parametrize(("damage", "jobs"), [
    *((damage, 1) for damage in DAMAGE), ("value of an option", 2), ("header", 2), ("an open quote", 2),
])
def test_what_is_damaged_on_the_disk_takes_no_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, damage: str, jobs: int
) -> None:
    name, damaged = DAMAGE[damage]
    check_frame = _clerks._check_frame

    def damage_first(path: Path, table: str, *more: object) -> None:
        if table == f"{name}.csv":
            content = path.read_bytes()
            assert damaged(content) != content
            path.write_bytes(damaged(content))
        check_frame(path, table, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(_clerks, "_check_frame", damage_first)
    source = sampler.bank().save(tmp_path / "bank.sqlite")
    with Bank.open(source) as bank, pytest.raises(ExportFault):
        exporter.write(source, bank, bank.quizzes, tmp_path, whole_bank=True, jobs=jobs, progress=lambda *_: None)
    assert list((tmp_path / "csv").iterdir()) == []


def test_damage_that_keeps_the_length_is_seen_by_the_comparison() -> None:
    bank = sampler.bank()
    items, options = Rows(bank.info, {}).tables(bank.items())
    wanted = [scoring(one, bank.info.locale) for one in bank.answers()]
    for place, character in enumerate(options):
        if character in "6789" and not place % 5:
            damaged = f"{options[:place]}5{options[place + 1:]}"
            cells = [list(csv.reader(text.splitlines())) for text in (options, damaged)]
            other = [(was, now) for was, now in zip(*cells, strict=True) if was != now]
            matters = [was[4] != now[4] or was[6] != now[6] or was[0] != now[0] for was, now in other]
            try:
                same = list(read_items(items.split("\r\n")[:-1], damaged.split("\r\n")[:-1])) == wanted
            except ExportFault:
                same = False
            assert same != any(matters), damaged[place - 20 : place + 20]


@pytest.mark.usefixtures("small_jobs")
@pytest.mark.parametrize("jobs", [1, 2])
def test_a_damaged_bank_is_named_whoever_reads_it(tmp_path: Path, jobs: int) -> None:
    source = sampler.bank().save(tmp_path / "bank.sqlite")
    content = source.read_bytes()
    source.write_bytes(content.replace(b'[{},[23456', b'[{},{23456'))
    assert source.read_bytes() != content
    with Bank.open(source) as bank, pytest.raises(BadInput) as caught:
        exporter.write(source, bank, bank.quizzes, tmp_path, whole_bank=True, jobs=jobs, progress=lambda *_: None)
    assert [problem.code for problem in caught.value.problems] == ["bank-damaged"]
    assert not list((tmp_path / "csv").iterdir())


def test_hostile_words_arrive_as_words(tmp_path: Path) -> None:
    bank = make_bank(10)
    held = {name: replace(item, stem=(("=cmd|' /C x'!A1, \"quoted\"",), ("+2",))) for name, item in bank.held.items()}
    for row in rows(written(replace(bank, held=held), tmp_path)[0]):
        assert row["stem"] == "'=cmd|' /C x'!A1, \"quoted\"\n+2"
        assert unguarded(row["stem"]) == "=cmd|' /C x'!A1, \"quoted\"\n+2"


def offered(number: str, *mistakes: str) -> dict[str, object]:
    """Return an option with the mistakes said, so that new mistakes in the library change nothing here."""
    return {"number": number, "mistakes": mistakes}


def golden_bank(locale: Locale) -> sampler.SamplerBank:
    """Return four items that say everything themselves; only names and feedback come from the library."""
    said = {
        "prediction": Prediction(band="middle", score=120, low_share=341, high_share=872),
        "features": (("carries", 2), ("story", 1)),
    }
    money = {"title": "A bill", "unit": {"text": "$", "before": True}, "places": 2, "checksum": "b7"}
    made = (
        item("add", operands=("3.47", "12.8"), identifier="sum-1", parameters={"a": "3.47", "b": "12.8"}, offered=(
            offered("4.75", "add.lined-up-on-the-right"), offered("15.27", "add.carry-forgotten"), "16.27"), **said),
        item("subtract", operands=("20.00", "14.35"), identifier="change-1", of=money, typed=True, policy="places",
             stem=("Ilka pays $#14.35 with $#20.00.", "What is the change?"),
             typed_mistakes=(("14.35", ("subtract.smaller-from-larger", "subtract.zero-minus-n-is-n")),), **said),
        item("subtract", operands=("5.2", "4.7"), identifier="below-zero-1", offered=(
            offered("-1.5", "a.mistake-of-another-version"), "0.5"), **said),
        item("multiply", operands=("0.4", "0.3"), identifier="words-1", stem=("=1+1", 'Say "so", then [0.4 * 0.3].'),
             typed=True, typed_mistakes=(), **said),
    )
    first = quiz([["sum-1"], ["change-1", "words-1"]])
    return sampler.bank(locale, made, (first, quiz(["sum-1"], identifier="quiz-2", week=3)))


@pytest.mark.parametrize(("name", "locale"), [("point", POINT), ("comma", COMMA)])
def test_the_tables_are_the_accepted_ones(tmp_path: Path, accept: bool, name: str, locale: Locale) -> None:
    for path in written(golden_bank(locale), tmp_path):
        golden = GOLDEN / name / path.name
        if accept:
            golden.parent.mkdir(parents=True, exist_ok=True)
            golden.write_bytes(unprinted(path.read_bytes()))
        assert golden.read_bytes() == unprinted(path.read_bytes())
