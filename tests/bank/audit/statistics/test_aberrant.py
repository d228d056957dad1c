"""Pupils who did not answer the items are found, honest ones are not, and nobody is told apart by name."""

from __future__ import annotations

import numpy as np
import pytest
from count_tables import form_answers

from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, FormAnswers
from bank.audit.settings import load_settings
from bank.audit.statistics.aberrant import set_aside

SETTINGS = load_settings()
ABCD = ("A", "B", "C", "D")
KEYS = "BADCABDCCADB"


def answered(*rows: str, keys: str = KEYS, honest: int = 24, seed: int = 1) -> FormAnswers:
    """Return *rows* of letters (``.`` omitted, ``-`` not reached, ``x`` not given) beside those of honest pupils."""
    source = np.random.default_rng(seed)
    ability = source.normal(size=honest)
    right = source.random((honest, len(keys))) < 1 / (1 + np.exp(-1 - ability[:, None]))
    made = [[key if hit else str(source.choice([one for one in ABCD if one != key]))
             for key, hit in zip(keys, row, strict=True)] for row in right]
    blanks = {".": OMITTED, "-": NOT_REACHED, "x": NOT_GIVEN}
    made = [[blanks.get(letter, letter) for letter in row] for row in rows] + made
    return form_answers(made, [{name: 1000 * (name == key) for name in ABCD} for key in keys])


def letters(form: FormAnswers) -> dict[str, tuple[str, ...]]:
    return {item: ABCD for item in form.form.items}


@pytest.mark.parametrize(("row", "kind"), [
    ("AAAAAAAAAAAA", "alike"), ("CCCCCCCCCCCC", "alike"), ("ABABABABABAB", "alike"), ("ABCDABCDABCD", "alike"),
    ("DCBADCBADCBA", "alike"), ("ABCABCABCABC", "alike"), ("AAAAAAAAABDC", "alike"), ("xAxAAAxAAAAAA"[:12], "alike"),
    ("............", "blank"), ("B.----------", "blank"), ("xxxx.-------", "blank"),
    ("BADCABDCCADB", ""), ("AAAABDBCCADB", ""), ("CBDACDABBDAC", ""), ("BADCAB------", ""), ("BA.C.B-----x", ""),
])
def test_patterns_and_blanks_are_set_aside_and_ordinary_answers_are_not(row: str, kind: str) -> None:
    form = answered(row)
    kept, found = set_aside(form, letters(form), SETTINGS)
    assert (found.alike, found.blank) == (int(kind == "alike"), int(kind == "blank"))
    assert kept.pupils.tolist() == (list(range(1, 25)) if kind else list(range(25)))
    assert kept.codes.tolist() == (form.codes[1:] if kind else form.codes).tolist()


def test_whom_the_keys_lead_to_one_letter_is_not_set_aside() -> None:
    form = answered("AAAAAAAAAAAA", keys="AAAAAAAAAABA")
    assert set_aside(form, letters(form), SETTINGS)[1].n == 0
    form = answered("ABCDABCDABCD", keys="ABCDABCDABCD")
    assert set_aside(form, letters(form), SETTINGS)[1].n == 0


def test_a_run_that_a_guesser_may_have_by_chance_is_too_short_to_tell() -> None:
    for length, n in ((5, 0), (6, 0), (8, 1)):
        form = answered("D" * length, keys=KEYS[:length])
        assert set_aside(form, letters(form), SETTINGS)[1].n == n


def test_the_same_typed_answer_to_every_item_is_set_aside() -> None:
    source = np.random.default_rng(3)
    rows = [["5"] * 8] + [[str(k) if source.random() < 0.7 else str(k + 20) for k in range(10, 18)] for _ in range(25)]
    form = form_answers(rows, [{str(k): 1000, str(k + 20): 0, "5": 0} for k in range(10, 18)])
    kept, found = set_aside(form, {}, SETTINGS)
    assert found.alike == 1 and kept.pupils.tolist() == list(range(1, 26))


def test_where_most_of_a_class_would_go_nobody_does_and_the_reason_is_told() -> None:
    form = answered(*["AAAAAAAAAAAA"] * 30, honest=20)
    kept, found = set_aside(form, letters(form), SETTINGS)
    assert kept is form and found.n == 0 and "30 of 50 pupils" in found.why


def test_nothing_is_set_aside_where_a_school_does_not_want_it(tmp_path) -> None:
    own = tmp_path / "own.yaml"
    own.write_text("audit: thresholds\nthresholds:\n  aberrant_most: {value: 0}\n", encoding="utf-8")
    form = answered("AAAAAAAAAAAA", "............")
    assert set_aside(form, letters(form), load_settings(own))[0] is form


def test_able_weak_and_guessing_pupils_count() -> None:
    source, seen, gone = np.random.default_rng(7), 0, 0
    for round_ in range(60):
        keys = "".join(source.choice(list(ABCD), size=14))
        guesses = ["".join(source.choice(list(ABCD), size=14)) for _ in range(10)]
        form = answered(*guesses, keys=keys, honest=20, seed=round_)
        gone += set_aside(form, letters(form), SETTINGS)[1].n
        seen += 30
    assert seen == 1800 and gone <= 2, "fewer than one in a thousand is meant"


def test_times_and_groups_stay_with_their_pupils() -> None:
    from dataclasses import replace

    form = answered("AAAAAAAAAAAA")
    times = np.arange(form.codes.size, dtype=np.int32).reshape(form.codes.shape)
    form = replace(form, milliseconds=times, groups=np.arange(25, dtype=np.int16))
    kept, _ = set_aside(form, letters(form), SETTINGS)
    assert kept.milliseconds is not None and kept.milliseconds.tolist() == times[1:].tolist()
    assert kept.groups.tolist() == list(range(1, 25))
