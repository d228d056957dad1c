"""Predicted difficulty: what it rests on, what it must do, and how it compares with published facilities."""

from __future__ import annotations

import math
from pathlib import Path
from statistics import fmean

import difficulty_figures as figures
import pytest
import yaml
from bank import difficulty, methods
from bank.errors import BadInput
from bank.model import Choice, Option, TypedNumber
from bank.numerals import Numeral
from bank.sources import Source
from bank.trees import SHIPPED
from hypothesis import given
from hypothesis import strategies as st

WEIGHTS = difficulty.load_weights()
PUBLISHED = figures.cases()
SUBTRACTIONS = PUBLISHED["sources"][0]


def value(name: str) -> difficulty.Weight:
    operation, _, feature = name.partition(".")
    return next(one for one in WEIGHTS.weights if (one.operation, one.feature) == (operation, feature))


def features_of(operation: str, *operands: str, places: int | None = None, layout: str = "",
                context: bool = False, response: str = "choice") -> dict[str, int]:
    numerals = tuple(Numeral.parse(one) for one in operands)
    trace = methods.run(operation, numerals, places=places, layout=layout)
    return dict(difficulty.features(numerals, trace, context=context, response=response))


@given(st.integers(-12_000, 12_000))
def test_the_share_right_is_the_logistic_function_to_a_thousandth(logit: int) -> None:
    exact = 1000 / (1 + math.exp(-logit / 1000))
    assert abs(difficulty.share_right(logit) - min(max(exact, 1), 999)) < 1


@given(st.integers(-12_000, 12_000), st.integers(0, 3000))
def test_a_higher_logit_never_gives_a_smaller_share(logit: int, more: int) -> None:
    assert 1 <= difficulty.share_right(logit) <= difficulty.share_right(logit + more) <= 999


def test_shares_of_a_logit_and_of_its_negative_sum_to_one() -> None:
    assert all(difficulty.share_right(one) + difficulty.share_right(-one) == 1000 for one in range(0, 11_000, 7))


def test_a_prediction_is_a_band_an_interval_and_reasons_by_size() -> None:
    made = figures.predicted("subtract", ("40.3", "7.58"), WEIGHTS, story=True)
    sizes = [abs(size) for _, _, size in made.reasons]
    assert made.band in difficulty.BANDS
    assert sizes == sorted(sizes, reverse=True)
    assert made.score == sum(size for _, _, size in made.reasons)
    assert all(size == count * WEIGHTS.table["operation-subtract"][name][0] for name, count, size in made.reasons
               if name != difficulty.PILED_UP)


@pytest.mark.parametrize(("score", "band"), [
    (WEIGHTS.easier_below - 1, "easier"), (WEIGHTS.easier_below, "middle"),
    (WEIGHTS.harder_from - 1, "middle"), (WEIGHTS.harder_from, "harder"),
])
def test_the_bands_meet_at_the_cut_points(score: int, band: str) -> None:
    weights = WEIGHTS._replace(table={"operation-add": {"carries": (1, 0)}}, most_beyond=0)
    made = difficulty.predict((("operation-add", 1), ("carries", score)), weights)
    assert (made.score, made.band) == (score, band)


def test_the_cut_points_are_the_ones_the_file_gives_reasons_for() -> None:
    assert WEIGHTS.harder_from == WEIGHTS.level
    assert abs(WEIGHTS.level - WEIGHTS.easier_below - 1000 * figures.logit(75)) < 5


def test_the_width_is_derived_from_its_parts() -> None:
    parts = [part.deviation for part in WEIGHTS.parts]
    assert abs(WEIGHTS.half_width - 1.282 * math.sqrt(sum(part * part for part in parts))) < 2
    assert abs(parts[0] - 1000 * math.sqrt(0.8) * max(figures.spreads(PUBLISHED))) < 2


def test_the_interval_is_wide_everywhere_in_the_middle_of_the_scale() -> None:
    for score in range(0, 5000, 50):
        weights = WEIGHTS._replace(table={"operation-add": {"carries": (1, 0)}}, most_beyond=0)
        made = difficulty.predict((("operation-add", 1), ("carries", score)), weights)
        middle = difficulty.share_right(WEIGHTS.level - score)
        assert made.low_share < middle < made.high_share
        assert made.high_share - made.low_share > 200


def test_every_fact_has_a_weight_or_stands_among_the_unweighted() -> None:
    known = {f"{weight.operation}.{weight.feature}" for weight in WEIGHTS.weights}
    calculations = [
        ("add", ("12.5", "3.08", "40"), None), ("subtract", ("40.3", "7.58"), None),
        ("multiply", ("30.5", "0.04"), None),
        ("divide", ("6.12", "0.3"), None), ("divide", ("1", "7"), 2), ("compare", ("0.3", "0.45", "0.05"), None),
        ("round", ("3.996",), 2),
    ]
    for operation, operands, places in calculations:
        numerals = tuple(Numeral.parse(one) for one in operands)
        trace = methods.run(operation, numerals, places=places)
        names = {name for name, _ in trace.facts}
        names |= {name for name, _ in difficulty.features(numerals, trace, context=True, response="typed")}
        for name in names - {f"operation-{operation}"}:
            assert {f"{operation}.{name}", f"any.{name}"} & (known | set(WEIGHTS.unweighted)), (operation, name)


def test_no_weight_and_no_unweighted_feature_is_named_twice() -> None:
    weighted = {f"{operation}.{name}" for operation in difficulty.OPERATIONS
                for name in WEIGHTS.table[f"operation-{operation}"]}
    assert not weighted & set(WEIGHTS.unweighted)
    assert len(set(WEIGHTS.unweighted)) == len(WEIGHTS.unweighted)


def test_a_guess_says_that_it_is_one() -> None:
    for weight in WEIGHTS.weights:
        assert (weight.evidence == "guess") == weight.source.startswith("Our guess, no source")
        assert weight.evidence != "direction" or "guess" in weight.source
        assert weight.deviation > 0


def test_digits_operands_context_and_kind_of_response_are_features() -> None:
    found = features_of("add", "12.5", "0.045", "7", context=True, response="typed")
    assert (found["digits_first"], found["digits_second"], found["more_operands"]) == (3, 2, 1)
    assert (found["story"], found["typed"]) == (1, 1)
    assert "story" not in features_of("add", "1", "2")


def test_features_begin_with_the_operation_and_leave_zeros_out() -> None:
    numerals = (Numeral(42), Numeral(35))
    found = difficulty.features(numerals, methods.run("add", numerals), context=False, response="choice")
    assert found[0] == ("operation-add", 1)
    assert all(count for _, count in found)


@pytest.mark.parametrize(("operands", "layout", "misleads"), [
    (("0.3", "0.45"), "largest", False), (("0.8", "0.45"), "largest", True),
    (("0.3", "0.45"), "smallest", False), (("0.8", "0.45"), "smallest", True),
    (("0.8", "0.45", "0.123"), "largest", True),
])
def test_comparison_knows_where_length_misleads(operands: tuple[str, ...], layout: str, misleads: bool) -> None:
    assert ("longer_is_not_the_answer" in features_of("compare", *operands, layout=layout)) == misleads


@pytest.mark.parametrize("operands", [("0.31", "0.45"), ("2.8", "1.45")])
def test_length_does_not_mislead_where_places_are_equal_or_whole_parts_decide(operands: tuple[str, str]) -> None:
    assert not {"longer_is_not_the_answer", "unequal_places_any"} & features_of("compare", *operands).keys()


@pytest.mark.parametrize("effect", PUBLISHED["effects"], ids=lambda effect: effect["says"])
def test_a_published_effect_makes_an_item_harder(effect: dict[str, object]) -> None:
    story = bool(effect.get("story"))
    easier = figures.predicted(effect["operation"], effect["easier"], WEIGHTS, story=story)
    harder = figures.predicted(effect.get("harder_operation", effect["operation"]), effect["harder"], WEIGHTS,
                               story=bool(effect.get("harder_story", story)))
    assert easier.score < harder.score
    assert easier.low_share > harder.low_share
    assert easier.high_share > harder.high_share


def test_the_weights_of_regrouping_are_the_ones_that_the_published_subtractions_give() -> None:
    slope, error, zero = figures.regroupings_fit(SUBTRACTIONS["items"], WEIGHTS)
    weight = value("subtract.regroupings")
    assert abs(weight.value - 1000 * slope) < 6
    assert abs(weight.deviation - 1000 * error) < 6
    assert abs(value("subtract.regroupings_at_zero").value - 1000 * zero) < 6


def test_the_level_is_the_one_at_which_the_published_subtractions_are_met_on_average() -> None:
    items = SUBTRACTIONS["items"]
    observed = fmean(figures.logit(item["percent"]) for item in items)
    score = fmean(figures.outcome(item, WEIGHTS)[0] for item in items)
    assert abs(WEIGHTS.level - 1000 * observed - score) < 10


@pytest.mark.parametrize("reading", PUBLISHED["readings"], ids=lambda reading: reading["feature"])
def test_a_reading_is_the_difference_of_two_published_logits(reading: dict[str, object]) -> None:
    easier, harder = reading["right"]
    difference = 1000 * (figures.logit(easier) - figures.logit(harder))
    expected = difference / 2 if reading["kind"] == "half" else difference
    assert abs(value(reading["feature"]).value - expected) < 6


def test_the_weights_of_comparison_follow_from_the_published_prevalence() -> None:
    rows = PUBLISHED["comparison"]["prevalence"]
    steps = [[figures.logit(figures.expected_right(row, kind))
              for kind in ("equal", "longer_is_larger", "longer_is_smaller")] for row in rows]
    assert abs(value("compare.unequal_places_any").value - 1000 * fmean(one[0] - one[1] for one in steps)) < 6
    assert abs(value("compare.longer_is_not_the_answer").value - 1000 * fmean(one[1] - one[2] for one in steps)) < 6


def test_agreement_with_published_facilities_is_computed_alike_twice_and_printed() -> None:
    first, second = figures.report(), figures.report()
    assert first == second
    for source in PUBLISHED["sources"]:
        assert source["name"] in first
    print(first)


def test_kendalls_tau_b_is_right_where_it_can_be_worked_out_by_hand() -> None:
    assert figures.order([1, 2, 3], [90, 50, 20]) == (3, 0, 0, 1.0)
    assert figures.order([3, 2, 1], [90, 50, 20]) == (0, 3, 0, -1.0)
    right, wrong, tied, tau = figures.order([1, 1, 3], [90, 50, 20])
    assert (right, wrong, tied) == (2, 0, 1)
    assert tau == pytest.approx(2 / math.sqrt(6))
    assert figures.order([1], [90])[3] is None


FAULTS = [
    ("  level: 3.02\n", "", "missing-key"),
    ("  level: 3.02\n", "  level: high\n", "bad-number"),
    ("  level: 3.02\n", "  level: 3.0205\n", "bad-number"),
    ("  harder_from: 3.02", "  harder_from: 1.00", "bands-out-of-order"),
    ("- operation: any\n  feature: story", "- operation: anny\n  feature: story", "unknown-word"),
    ("  feature: carries_across_point", "  feature: carries", "two-weights"),
    ("  sure: 0.50\n", "  sure: perhaps\n", "bad-number"),
    ("  explained_share: 0.20", "  explained_share: 1.20", "out-of-range"),
]


@pytest.mark.parametrize(("old", "new", "code"), FAULTS, ids=lambda one: one.strip()[:20])
def test_a_fault_in_the_file_is_a_problem_with_its_place(old: str, new: str, code: str, tmp_path: Path) -> None:
    text = (SHIPPED / "difficulty.yaml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "weights.yaml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        difficulty.load_weights(path)
    assert code in {problem.code for problem in caught.value.problems}
    assert all(problem.place.line for problem in caught.value.problems)


def without(*features: str) -> difficulty.Weights:
    """Return the weights of the file without those of *features*, as ``operation.feature``, nor a word of them."""
    text = (SHIPPED / "difficulty.yaml").read_text(encoding="utf-8")
    document = yaml.safe_load(text)
    document["weights"] = [one for one in document["weights"] if f"{one['operation']}.{one['feature']}" not in features]
    for names in ("features", "unknown"):
        document["unweighted"][names] = [one for one in document["unweighted"][names] if one not in features]
    return difficulty.load_weights(Source("weights.yaml", yaml.safe_dump(document)))


def test_an_operation_without_a_weight_is_put_in_the_middle_widely_and_named() -> None:
    every = [f"round.{name}" for name in WEIGHTS.table["operation-round"]]
    numbers = ("3.496",)
    known = difficulty.predict(tuple(features_of("round", *numbers, places=2).items()), WEIGHTS)
    bare = difficulty.predict(tuple(features_of("round", *numbers, places=2).items()), without(*every))
    assert known.band == "easier" and bare.band == "middle"
    assert bare.high_share - bare.low_share > known.high_share - known.low_share
    named = {name for name, _, part in bare.reasons if not part}
    assert {"operation-round", "dropped_digits"} <= named
    assert difficulty.NO_WEIGHT in {name for name, _, _ in bare.reasons}


@pytest.mark.parametrize("operation", difficulty.OPERATIONS)
def test_every_operation_has_a_weight_or_is_what_the_others_are_set_against(operation: str) -> None:
    name = f"operation-{operation}"
    assert name in WEIGHTS.table[name] or name in WEIGHTS.covered[name]


@given(st.integers(0, 4))
def test_each_feature_without_a_weight_widens_the_band_and_is_named(unknown: int) -> None:
    features = (("operation-add", 1), ("carries", 2), *((f"new_feature_{number}", 1) for number in range(unknown)))
    made, more = (difficulty.predict(one, WEIGHTS) for one in (features, (*features, ("another", 3))))
    assert more.high_share >= made.high_share and more.low_share < made.low_share and more.score == made.score
    assert ("another", 3, 0) in more.reasons
    covered = difficulty.predict((*features, ("columns", 3)), WEIGHTS)
    assert (covered.low_share, covered.high_share, covered.reasons) == (made.low_share, made.high_share, made.reasons)


@given(st.integers(0, 40_000), st.integers(1, 4_000))
def test_effects_that_pile_up_count_ever_less_and_end_somewhere(total: int, more: int) -> None:
    score, next_score = difficulty.saturated(total, WEIGHTS), difficulty.saturated(total + more, WEIGHTS)
    assert score <= next_score <= WEIGHTS.knee + WEIGHTS.most_beyond
    assert next_score - score <= more
    assert total > WEIGHTS.knee or score == total


def test_many_exchanges_at_zeros_do_not_make_an_item_impossible() -> None:
    made = figures.predicted("subtract", ("100", "15.77"), WEIGHTS)
    assert made.low_share >= 20 and made.high_share >= 500
    assert any(name == difficulty.PILED_UP and part < 0 for name, _, part in made.reasons)
    harder = figures.predicted("subtract", ("1000", "15.777"), WEIGHTS)
    assert harder.score >= made.score


def test_two_published_effects_together_are_less_than_their_sum_as_the_file_says() -> None:
    neither, one, other, both = 72, 54, 42, 30  # means of raw data of fraction subtractions, named in the file
    alone = 2 * figures.logit(neither) - figures.logit(one) - figures.logit(other)
    together = figures.logit(neither) - figures.logit(both)
    assert round(together, 2) == 1.79 and round(100 * together / alone) == 87
    assert "1.79 logits" in WEIGHTS.saturation_source and "87 % of the sum" in WEIGHTS.saturation_source


@given(st.integers(0, 9_000), st.sampled_from([0, 3, 33, 200, 250, 333, 500]))
def test_no_share_is_predicted_under_chance(score: int, chance: int) -> None:
    weights = WEIGHTS._replace(table={"operation-add": {"carries": (1, 0)}})
    made = difficulty.predict((("operation-add", 1), ("carries", score)), weights, chance)
    plain = difficulty.predict((("operation-add", 1), ("carries", score)), weights)
    assert made.low_share == max(chance, plain.low_share) and made.low_share < made.high_share


def test_chance_is_one_in_the_options_and_nothing_where_a_number_is_typed() -> None:
    options = tuple(Option(identifier=one, numeral=Numeral(at), is_key=not at) for at, one in enumerate("ABC"))
    assert difficulty.chance_level(Choice(options=options)) == 333
    assert difficulty.chance_level(TypedNumber(policy="value")) == 0


def test_the_basis_counts_what_was_published_and_what_is_judgement() -> None:
    words = difficulty.basis(WEIGHTS)
    for kind in ("reading", "direction", "guess"):
        assert f" {sum(one.evidence == kind for one in WEIGHTS.weights)} " in words
    assert WEIGHTS.class_source in words
