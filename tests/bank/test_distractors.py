"""Which wrong answers become options."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from bank import mistakes
from bank.chance import digest_numbers
from bank.distractors import Chooser, Wrong, wrong_answers
from bank.numerals import Numeral


def _outcomes(operation: str, *operands: str, key: str) -> list[tuple[mistakes.Mistake, Numeral]]:
    numerals = [Numeral.parse(text) for text in operands]
    options = mistakes.options_for(operation)
    return mistakes.outcomes(mistakes.of_operation(operation), numerals, Numeral.parse(key), **options)


def _wrong(operation: str, *operands: str, key: str, places: int | None = None) -> list[Wrong]:
    shown = _outcomes(operation, *operands, key=key)
    return wrong_answers(shown, Numeral.parse(key), [Numeral.parse(text) for text in operands], places=places)


def test_mistakes_that_give_one_value_stand_together() -> None:
    found = {answer.numeral.text(): answer.mistakes for answer in _wrong("add", "0.9", "0.8", key="1.7")}
    assert {"add.sides-added-separately", "add.column-sums-written-in-full"} <= set(found["0.17"])


def test_wrong_answers_are_in_order_and_differ_from_the_key_and_one_another() -> None:
    answers = [answer.numeral for answer in _wrong("add", "28.3", "8.25", key="36.55")]
    assert len(answers) > 8
    assert all(lower < upper for lower, upper in zip(answers, answers[1:], strict=False))
    assert Numeral.parse("36.55") not in answers


def test_money_keeps_its_places_and_drops_what_does_not_fit() -> None:
    answers = _wrong("multiply", "3.45", "2.7", key="9.315", places=3)
    assert answers and all(answer.numeral.places == 3 for answer in answers)


def test_absurd_answers_are_dropped() -> None:
    shown = [
        (record, Numeral.parse(text))
        for record, text in zip(mistakes.of_operation("add"), ["-0.5", "0", "12345678", "0.000001", "3.1"], strict=False)
    ]
    answers = wrong_answers(shown, Numeral.parse("3.4"), [Numeral.parse("1.2"), Numeral.parse("2.2")], places=None)
    assert [answer.numeral.text() for answer in answers] == ["3.1"]


@settings(max_examples=60)
@given(first=st.integers(11, 999), second=st.integers(11, 9999), number=st.integers(0, 2**64 - 1),
       wanted=st.integers(2, 4))
def test_a_chosen_set_is_of_the_size_wanted_in_order_and_free_of_the_key(
    first: int, second: int, number: int, wanted: int
) -> None:
    operands = (Numeral(first, 1), Numeral(second, 2))
    key = (operands[0] + operands[1]).normal()
    shown = mistakes.outcomes(mistakes.of_operation("add"), operands, key)
    wrong = wrong_answers(shown, key, operands, places=None)
    if len(wrong) < wanted:
        return
    chosen = Chooser(10).choose(wrong, key, operands, wanted, number, patient=False)
    assert chosen is not None
    values = [answer.numeral for answer in chosen.wrong]
    values.insert(chosen.key_place, key)
    assert len(values) == wanted + 1
    assert all(lower < upper for lower, upper in zip(values, values[1:], strict=False))


def test_a_wanted_mistake_is_always_among_the_options() -> None:
    chooser = Chooser(50)
    must = "add.carry-forgotten"
    served = 0
    for turn in range(60):
        first, second = digest_numbers("must", turn)[:2]
        operands = (Numeral(first % 900 + 101, 1), Numeral(second % 9000 + 101, 2))
        key = (operands[0] + operands[1]).normal()
        shown = mistakes.outcomes(mistakes.of_operation("add"), operands, key)
        wrong = wrong_answers(shown, key, operands, places=None)
        if not any(must in answer.mistakes for answer in wrong):
            continue
        chosen = chooser.choose(wrong, key, operands, 3, digest_numbers(turn)[0], must=must, patient=False)
        assert chosen is not None
        assert any(must in answer.mistakes for answer in chosen.wrong)
        served += 1
    assert served > 20


def test_keys_stand_at_every_place_about_equally_often_but_not_in_turn() -> None:
    chooser = Chooser(400)
    places = []
    for turn in range(400):
        first, second, third, _ = digest_numbers("places", turn)
        operands = (Numeral(first % 900 + 101, 1), Numeral(second % 9000 + 101, 2))
        key = (operands[0] + operands[1]).normal()
        shown = mistakes.outcomes(mistakes.of_operation("add"), operands, key)
        wrong = wrong_answers(shown, key, operands, places=None)
        chosen = chooser.choose(wrong, key, operands, 3, third, patient=False)
        assert chosen is not None
        places.append(chosen.key_place)
    counts = [places.count(place) for place in range(4)]
    # Binomial(400, 1/4): mean 100, four standard deviations are 35.
    assert all(65 <= count <= 135 for count in counts)
    assert len(set(counts)) > 1
    assert any(earlier == later for earlier, later in zip(places, places[1:], strict=False))
