"""Sources: written texts are kept, places are right in every style of scalar, paths stay inside their folder."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from bank import sources
from bank.errors import BadInput, Place
from bank.sources import Node, Source


def value_of(text: str) -> Node:
    """Return the value of the first key of *text*."""
    return sources.parse(Source("made.yaml", text)).entries[0][1]


@pytest.mark.parametrize("text", ["0.10", "010", "1:30", "no", "yes", "0x1F", "1e5", "2024-01-01", "null", "1_000"])
def test_scalars_stay_as_they_are_written(text: str) -> None:
    node = value_of(f"key: {text}\n")
    assert node.text == text and node.is_plain


def test_quotes_make_a_text_of_what_looks_like_a_number() -> None:
    node = value_of("key: '0.10'\n")
    assert node.text == "0.10" and not node.is_plain and not node.looks_like_number


@pytest.mark.parametrize("text", ["key:\n", "key: ~\n", "key: null\n"])
def test_nothing_is_told_from_an_empty_text(text: str) -> None:
    assert value_of(text).is_empty and not value_of("key: ''\n").is_empty


WORDS = st.lists(st.text("abcdefghk\u00e9\u4e2d", min_size=1, max_size=7), min_size=1, max_size=12)
STYLES = st.sampled_from([None, "'", '"', "|", ">"])


@settings(max_examples=200)
@given(WORDS, STYLES, st.sampled_from([" ", "\n", "\n\n", ", "]), st.booleans(), st.booleans())
def test_every_word_of_a_scalar_is_found_in_its_place(
    words: list[str], style: str | None, between: str, nested: bool, raw: bool
) -> None:
    numbered = [f"{word}{number}x" for number, word in enumerate(words)]
    document: object = {"key": between.join(numbered)}
    text = yaml.dump([document] if nested else document, default_style=style, width=24, allow_unicode=raw)
    node = sources.parse(Source("made.yaml", text))
    scalar = (node.items[0] if nested else node).entries[0][1]
    lines = text.split("\n")
    for word in numbered:
        place = scalar.place_of(scalar.text.index(word))
        here = lines[place.line - 1][place.column - 1 :]
        plain = word[: next((at for at, letter in enumerate(word) if not letter.isascii()), None)]
        assert here.startswith(word if raw else plain or "\\") or here.startswith(word), (word, place, text)


def test_a_place_behind_the_last_letter_can_be_shown() -> None:
    node = value_of("key: a +\nother: b\n")
    assert node.place_of(3) == Place("made.yaml", 1, 9)
    assert value_of("key: 'a +'\n").place_of(3) == Place("made.yaml", 1, 10)


def test_quotes_and_escapes_are_counted_as_they_are_written() -> None:
    node = value_of("key: 'it''s b'\n")
    assert node.place_of(node.text.index("b")) == Place("made.yaml", 1, 13)
    node = value_of('key: "a \\u00e9 \\"b\\" c"\n')
    assert node.place_of(node.text.index("c")) == Place("made.yaml", 1, 22)


@pytest.mark.parametrize(("wanted", "inside"), [
    ("templates", True), ("./templates/sum.yaml", True), ("templates/../templates", False), ("..", False),
    ("/etc", False),
    ("templates/../../x", False), ("a\\..\\b", False), ("link", False), ("link/passwd", False), ("not-there", True),
])
def test_paths_stay_inside_their_folder(wanted: str, inside: bool, tmp_path: Path) -> None:
    (tmp_path / "plans" / "templates").mkdir(parents=True)
    (tmp_path / "plans" / "link").symlink_to(tmp_path)
    assert (sources.file_inside(tmp_path / "plans", wanted) is not None) is inside


def test_the_python_reader_of_yaml_gives_the_same_nodes(monkeypatch: pytest.MonkeyPatch) -> None:
    text = "a: 'x y'\nb: [1, 0.10, {e: two words}]\nc: |\n  lines\n  here\nd: >-\n  folded\n  text\n"
    first = sources.parse(Source("made.yaml", text))
    monkeypatch.setattr(sources, "_LOADER", yaml.SafeLoader)
    assert sources.parse(Source("made.yaml", text)) == first


def test_a_fault_where_the_file_ends_has_a_line_of_the_file() -> None:
    with pytest.raises(BadInput) as fault:
        sources.parse(Source("a.yaml", "a: 1\nb: {c: {d:"))
    (problem,) = fault.value.problems
    assert problem.place.line == 2
