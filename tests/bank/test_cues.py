"""Cues of a guesser: what each picks, and that the packed scores say the same as the plain ones."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bank import cues
from bank.cues import packed
from bank.numerals import Numeral


def _shapes(*texts: str, stem: tuple[str, ...] = ()) -> list[cues.Shape]:
    return [cues.shape(Numeral.parse(text), stem) for text in texts]


def _earned(identifier: str, options: list[cues.Shape], key: int) -> int:
    return cues.credit(next(cue for cue in cues.PANEL if cue.identifier == identifier), options, key)


numerals = st.builds(Numeral, st.integers(1, 99_999), st.integers(0, 4))


@given(values=st.sets(numerals, min_size=2, max_size=5), data=st.data())
def test_packed_scores_credit_every_cue_as_its_own_score_does(values: set[Numeral], data: st.DataObject) -> None:
    ordered = sorted(values)
    key = data.draw(st.integers(0, len(ordered) - 1))
    shapes = [cues.shape(value, ("12", "345")) for value in ordered]
    found = packed.Scores(shapes).credits(range(len(shapes)), key)
    assert found == [cues.credit(cue, shapes, key) for cue in cues.STEERED]
    held_out = [cues.credit(cue, shapes, key) for cue in cues.PANEL if cue.kind == "held-out"]
    assert packed.held_out(shapes, key) == held_out


@given(values=st.sets(numerals, min_size=3, max_size=5))
def test_a_strategy_earns_one_hit_in_all_over_the_places_of_the_key(values: set[Numeral]) -> None:
    shapes = [cues.shape(value, ()) for value in sorted(values)]
    for cue in cues.PANEL:
        earned = [cues.credit(cue, shapes, key) for key in range(len(shapes))]
        picked = sum(credit > 0 for credit in earned)
        assert sum(earned) == picked * (cues.UNIT // picked)


def test_the_longest_option_is_picked_and_ties_share() -> None:
    options = _shapes("3.25", "3.4", "12.4", "40")
    assert _earned("longest", options, 0) == cues.UNIT // 2
    assert _earned("longest", options, 1) == 0


def test_the_middle_earns_half_a_hit_where_the_key_stands_inside() -> None:
    options = _shapes("1", "2", "3", "4")
    assert [_earned("middle", options, key) for key in range(4)] == [0, 30, 30, 0]


def test_a_figure_of_the_stem_is_noticed() -> None:
    options = _shapes("1.2", "3.45", "34.5", "6", stem=("345",))
    assert _earned("repeats-the-stem", options, 1) == 30
    assert _earned("repeats-the-stem", options, 0) == 0


def test_the_inner_member_of_a_chain_is_picked() -> None:
    options = _shapes("0.24", "2.4", "24", "30")
    assert _earned("inner-of-chain", options, 1) == cues.UNIT
    assert _earned("outer-of-chain", options, 0) == 30
    assert _earned("in-the-chain", options, 3) == 0


def test_the_option_most_like_the_others_is_picked() -> None:
    options = _shapes("5.21", "5.31", "5.38", "9.32")
    assert _earned("digits-in-common", options, 1) == cues.UNIT
    assert _earned("fewest-changes", options, 1) == cues.UNIT


def _by_the_table(left: str, right: str) -> int:
    row = list(range(len(right) + 1))
    for place, mine in enumerate(left, 1):
        diagonal, row[0] = row[0], place
        for column, theirs in enumerate(right, 1):
            diagonal, row[column] = row[column], min(row[column] + 1, row[column - 1] + 1, diagonal + (mine != theirs))
    return row[-1]


@given(left=numerals, right=numerals)
def test_edit_distance_in_bits_agrees_with_the_table_method(left: Numeral, right: Numeral) -> None:
    distance = cues.edit_distance(cues.shape(left, ()), cues.shape(right, ()))
    assert distance == _by_the_table(left.text(), right.text())


def test_every_cue_says_what_it_picks_and_has_a_name_of_its_own() -> None:
    assert all(cue.picks for cue in cues.PANEL)
    assert len({cue.identifier for cue in cues.PANEL}) == len(cues.PANEL) == len(cues.CUES)
