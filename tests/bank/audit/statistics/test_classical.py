"""Classical statistics against published and recomputed figures, and what must hold for any answers."""

from __future__ import annotations

import dataclasses
import math
from fractions import Fraction

import numpy as np
import pytest
from count_tables import (
    FIGURES, SETS, by_item, counted, form_answers, quantities, read_rows, reference_counts, scored,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from published_tables import KR20_SUM_PQ, KR20_VALUE, KR20_VARIANCE_OF_TOTALS, kr20, lsat6

from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, FormAnswers
from bank.audit.statistics.classical import FormStatistics, form_statistics
from bank.audit.statistics.estimates import CONVENTIONS, Estimate, feldt, fisher_z, wilson
from bank.audit.statistics.groups import THIRD, UPPER_LOWER, Cut

CLOSE = 1e-9
"""References are stored with ten significant digits."""


def estimates(statistics: FormStatistics) -> list[Estimate]:
    """Return every estimate of *statistics*."""
    found = [statistics.alpha, statistics.kr21, statistics.sem]
    for item in statistics.items:
        found += [item.facility, item.rest_r, item.total_r, item.upper_lower, item.omitted, item.not_reached,
                  item.alpha_if_deleted]
        found += [one for row in item.responses for one in (row.share, row.r_rest)]
    return found


def test_lsat6_is_as_printed() -> None:
    # mirt reference manual, itemstats(LSAT6): three places printed.
    statistics = form_statistics(counted(lsat6()))
    items = statistics.items
    assert [round(item.facility.value, 3) for item in items] == [0.924, 0.709, 0.553, 0.763, 0.870]
    assert [round(item.rest_r.value, 3) for item in items[1:]] == [0.153, 0.173, 0.144, 0.122]
    assert [round(item.total_r.value, 3) for item in items[1:3]] == [0.567, 0.618]
    assert [round(item.alpha_if_deleted.value, 3) for item in items[1:3]] == [0.238, 0.217]


def test_kr20_worked_example_is_as_printed() -> None:
    statistics = form_statistics(counted(kr20()))
    shares = [item.facility.value for item in statistics.items]
    assert sum(p * (1 - p) for p in shares) == pytest.approx(KR20_SUM_PQ, abs=1e-12)
    assert statistics.deviation**2 * 9 / 10 == pytest.approx(KR20_VARIANCE_OF_TOTALS, abs=1e-12)
    assert statistics.alpha.value == pytest.approx(KR20_VALUE, abs=5e-7)


def test_alpha_does_not_mix_the_two_variances() -> None:
    # The slip of mixing pq (over n) with the variance over n - 1 gives 0.738 on the worked example.
    statistics = form_statistics(counted(kr20()))
    mixed = 10 / 9 * (1 - KR20_SUM_PQ / statistics.deviation**2)
    assert mixed == pytest.approx(0.737823, abs=1e-6)
    assert statistics.alpha.value < mixed - 0.04


@pytest.mark.parametrize("name", SETS)
def test_items_agree_with_the_references(name: str) -> None:
    # R 4.2.2 with psych 2.2.9; omitted = wrong.
    reference = by_item(name, "reference_ctt.csv")
    statistics = form_statistics(reference_counts(name)[0], fraction=UPPER_LOWER)
    assert [item.item for item in statistics.items] == list(reference)
    for item in statistics.items:
        row = reference[item.item]
        pairs = {
            "p": item.facility, "r_item_total_uncorrected": item.total_r, "r_item_rest_corrected": item.rest_r,
            "D27_ties_shared": item.upper_lower, "alpha_if_deleted": item.alpha_if_deleted,
        }
        for column, estimate in pairs.items():
            assert estimate.value == pytest.approx(float(row[column]), abs=CLOSE), (item.item, column)
        assert item.upper == pytest.approx(float(row["p_upper27_ties_shared"]), abs=CLOSE)
        assert item.lower == pytest.approx(float(row["p_lower27_ties_shared"]), abs=CLOSE)
        if row["omit_rate"]:
            assert item.omitted.value == pytest.approx(float(row["omit_rate"]), abs=CLOSE)
        assert item.n == int(row["n"])


@pytest.mark.parametrize("name", SETS)
def test_forms_agree_with_the_references(name: str) -> None:
    # R 4.2.2, psych 2.2.9, ltm 1.2-0. Mean and SD near ten carry nine decimals only, hence relative.
    reference = quantities(name, "reference_test.csv")
    statistics = form_statistics(reference_counts(name)[0])
    assert statistics.persons == reference["n_persons"]
    assert statistics.mean == pytest.approx(reference["mean_total"], rel=CLOSE)
    assert statistics.deviation == pytest.approx(reference["sd_total_n1"], rel=CLOSE)
    for tool in ("direct", "psych", "ltm"):
        assert statistics.alpha.value == pytest.approx(reference[f"alpha_{tool}"], abs=CLOSE)
    assert statistics.kr21.value == pytest.approx(reference["kr21_population_variance"], abs=CLOSE)
    assert statistics.sem.value == pytest.approx(reference["sem_sd_n1_times_sqrt_1_minus_alpha"], rel=CLOSE)


def _distractors(name: str) -> dict[tuple[str, str], dict[str, str]]:
    rows = read_rows(FIGURES / name / "reference_distractors.csv")
    return {(row["item"], row["option"]): row for row in rows}


@pytest.mark.parametrize("name", ["ctt20", "fims_math"])
def test_distractors_agree_with_the_references(name: str) -> None:
    # R 4.2.2; r with the rest score.
    reference = _distractors(name)
    statistics = form_statistics(reference_counts(name)[0])
    seen = set()
    for item in statistics.items:
        for row in item.responses:
            wanted = reference[item.item, row.response or "(omit)"]
            seen.add((item.item, row.response or "(omit)"))
            assert row.n == int(wanted["n"]) and row.is_key == (wanted["is_key"] == "TRUE")
            assert row.share.value == pytest.approx(float(wanted["share"]), abs=CLOSE)
            assert row.r_rest.value == pytest.approx(float(wanted["r_option_rest"]), abs=CLOSE)
            mean_total = row.mean_rest + (1 if row.is_key else 0)
            assert mean_total == pytest.approx(float(wanted["mean_total_of_choosers"]), rel=CLOSE)
    assert seen == {key for key, row in reference.items() if row["n"] != "0"}


@pytest.mark.parametrize("name", ["ctt20", "fims_math"])
def test_shares_of_the_upper_and_lower_group_agree_with_the_references(name: str) -> None:
    # The references take these groups by total; our own table takes thirds by rest score, with the same `Cut`.
    from bank.audit.statistics.tables import arrange

    reference = _distractors(name)
    counts, _ = reference_counts(name)
    for item in arrange(counts).items:
        names = counts.form.responses[item.index]
        for column, highest in (("share_upper27_ties_shared", True), ("share_lower27_ties_shared", False)):
            cut = Cut(item.total, item.n, UPPER_LOWER, highest=highest)
            for code in set(item.response.tolist()):
                share = float(cut.sum(np.where(item.response == code, item.n, 0)) / cut.size)
                wanted = reference[counts.form.items[item.index], names[code] if code >= 0 else "(omit)"][column]
                assert share == pytest.approx(float(wanted), abs=CLOSE)


def test_fims_means_are_as_printed() -> None:
    # TAM reference manual, comment in the example of data.fims.Aus.Jpn.scored: 6.12 and 6.27.
    for sex, printed in (("male", 6.12), ("female", 6.27)):
        counts, _ = reference_counts("fims_math", group="sex", keep=("country", "Australia"))
        statistics = form_statistics(counts, groups=[sex])
        assert round(statistics.mean, 2) == printed


def test_wilson_interval_of_seventeen_of_twenty_five() -> None:
    # trade rules, "small numbers": n = 25, p = 0.68 gives 0.48 to 0.83; n = 30, r = 0.30 gives -0.07 to 0.60.
    assert [round(end, 2) for end in wilson(0.68, 25)] == [0.48, 0.83]
    assert [round(end, 2) for end in fisher_z(0.30, 30)] == [-0.07, 0.60]


def test_wilson_interval_agrees_with_a_second_implementation() -> None:
    from scipy.stats import binomtest

    for right, n in ((0, 1), (0, 12), (1, 12), (7, 12), (12, 12), (499, 500)):
        wanted = binomtest(right, n).proportion_ci(method="wilson")
        assert wilson(right / n, n) == pytest.approx((wanted.low, wanted.high), abs=1e-12)


def test_feldt_interval_covers_as_often_as_it_says() -> None:
    # Essentially parallel items from a known model: alpha of the population is 10 r / (1 + 9 r), r = 1/3.
    source, alpha, inside, rounds = np.random.default_rng(4), 10 * (1 / 3) / (1 + 9 / 3), 0, 400
    for _ in range(rounds):
        x = source.normal(size=(60, 1)) + math.sqrt(2) * source.normal(size=(60, 10))
        found = 10 / 9 * (1 - x.var(axis=0).sum() / x.sum(axis=1).var())
        low, high = feldt(found, 60, 10)
        inside += low <= alpha <= high
    assert 0.91 <= inside / rounds <= 0.985


def test_item_that_everyone_answers_alike_has_no_correlation_and_says_why() -> None:
    statistics = form_statistics(counted(scored([[1, 0, 1], [1, 0, 0], [1, 0, 1], [1, 0, 0], [1, 0, 1]])))
    for item in statistics.items[:2]:
        assert item.rest_r.value is None and item.rest_r.why
        assert item.total_r.value is None
    assert statistics.items[2].rest_r.value is None, "the rest score is the same for everyone"
    assert statistics.alpha.value == 0


def test_one_pupil_one_item_or_nobody_gives_reasons_and_no_fault() -> None:
    for rows in ([[1]], [[0]], [[1, 0]], [[OMITTED, OMITTED]], [[1], [0]], [[NOT_REACHED, NOT_REACHED]]):
        for estimate in estimates(form_statistics(counted(scored(rows)))):
            assert estimate.value is not None or estimate.why
    empty = counted(form_answers([], [{"0": 0, "1": 1000}, {"0": 0, "1": 1000}]))
    statistics = form_statistics(empty)
    assert statistics.persons == 0 and statistics.mean is None
    assert all(one.value is None and one.why for one in estimates(statistics))


def test_three_kinds_of_no_answer_stay_apart() -> None:
    rows = [[1, 1, 1], [1, OMITTED, 0], [0, 1, OMITTED], [1, OMITTED, NOT_REACHED], [1, 0, NOT_GIVEN]]
    second, third = form_statistics(counted(scored(rows))).items[1:]
    assert (second.n, second.facility.value, second.omitted.value) == (5, 2 / 5, 2 / 5)
    assert second.not_reached.value == 0
    assert (third.n, third.facility.value, third.omitted.value) == (3, 1 / 3, 1 / 3)
    assert third.not_reached.value == 1 / 4 and third.not_reached.n == 4
    assert third.not_given == 1
    assert [row.response for row in third.responses] == ["0", "1", ""]


def test_different_items_for_different_pupils_give_no_alpha() -> None:
    statistics = form_statistics(counted(scored([[1, 1, 0], [0, 1, NOT_GIVEN], [1, 0, 1]])))
    assert statistics.alpha.value is None and "same items" in statistics.alpha.why
    assert statistics.sem.value is None and statistics.sem.why


def test_part_marks_count_as_their_share() -> None:
    credits = [{"none": 0, "half": 500, "all": 1000}, {"0": 0, "1": 1000}]
    rows = [["all", "1"], ["half", "0"], ["none", "0"], ["half", "1"], ["all", "1"], [OMITTED, "0"]]
    statistics = form_statistics(counted(form_answers(rows, credits)))
    first = statistics.items[0]
    x, y = np.array([1, 0.5, 0, 0.5, 1, 0]), np.array([1, 0, 0, 1, 1, 0])
    assert first.facility.value == pytest.approx(x.mean()) and not first.dichotomous
    assert first.rest_r.value == pytest.approx(np.corrcoef(x, y)[0, 1], abs=1e-12)
    alpha = 2 * (1 - (x.var() + y.var()) / (x + y).var())
    assert statistics.alpha.value == pytest.approx(alpha, abs=1e-12)
    half = next(row for row in first.responses if row.response == "half")
    assert (half.credit, half.n, half.is_key, half.mean_rest) == (500, 2, False, 0.5)


def test_ties_at_the_cut_are_shared() -> None:
    # Ten pupils, totals 0 0 1 1 1 1 1 1 2 2: the lower 27 % are 2.7 pupils, both zeros and 0.7 of the six ones.
    score, n = np.array([0, 1, 2]), np.array([2, 6, 2])
    lower = Cut(score, n, UPPER_LOWER)
    assert lower.size == Fraction(27, 10)
    assert lower.sum(n) == lower.size
    assert lower.sum(np.array([0, 6, 0])) == Fraction(7, 10)
    assert Cut(score, n, UPPER_LOWER, highest=True).sum(score, n) == 4 + Fraction(7, 10)


def test_thirds_are_used_for_small_forms() -> None:
    rows = [[1, 0], [0, 1], [1, 1]] * 20
    assert form_statistics(counted(scored(rows))).items[0].upper_lower.convention == "upper-lower-thirds"
    assert form_statistics(counted(scored(rows * 2))).items[0].upper_lower.convention == "upper-lower-27"


def test_groups_can_be_taken_alone() -> None:
    rows = [[1, 0, 1], [0, 0, 1], [1, 1, 1], [0, 1, 0], [1, 1, 0], [0, 0, 0]]
    both = counted(scored(rows, groups=[0, 1, 0, 1, 0, 1]), ("north", "south"))
    alone = form_statistics(counted(scored(rows[::2])))
    assert form_statistics(both, groups=["north"]) == alone
    assert form_statistics(both, groups=["north", "south"]) == form_statistics(counted(scored(rows)))
    with pytest.raises(KeyError):
        form_statistics(both, groups=["west"])


def test_every_convention_has_words() -> None:
    for estimate in estimates(form_statistics(counted(lsat6()))):
        assert CONVENTIONS[estimate.convention]


cells = st.sampled_from([0, 1, 1, 0, 1, OMITTED, NOT_REACHED, NOT_GIVEN])
matrices = st.integers(1, 5).flatmap(
    lambda k: st.lists(st.lists(cells, min_size=k, max_size=k), min_size=1, max_size=40)
)


@settings(max_examples=60, deadline=None)
@given(matrices, st.randoms(use_true_random=False))
def test_the_order_of_rows_never_matters(rows: list[list[int]], random: object) -> None:
    shuffled = list(rows)
    random.shuffle(shuffled)
    assert form_statistics(counted(scored(rows))) == form_statistics(counted(scored(shuffled)))


@settings(max_examples=60, deadline=None)
@given(matrices)
def test_no_value_is_ever_without_meaning(rows: list[list[int]]) -> None:
    for estimate in estimates(form_statistics(counted(scored(rows)))):
        if estimate.value is None:
            assert estimate.why
            continue
        numbers = [one for one in (estimate.value, estimate.low, estimate.high) if one is not None]
        assert all(math.isfinite(one) for one in numbers)
        if len(numbers) == 3:
            assert estimate.low - 1e-12 <= estimate.value <= estimate.high + 1e-12


@settings(max_examples=40, deadline=None)
@given(matrices)
def test_shares_of_an_item_add_up(rows: list[list[int]]) -> None:
    for item in form_statistics(counted(scored(rows))).items:
        assert sum(row.n for row in item.responses) == item.n
        if item.n:
            assert sum(row.share.value for row in item.responses) == pytest.approx(1)
            for third in range(3):
                assert sum(row.thirds[third] for row in item.responses) == pytest.approx(1)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.lists(st.integers(0, 1), min_size=4, max_size=4), min_size=2, max_size=30))
def test_numbers_agree_with_the_plain_formulas(rows: list[list[int]]) -> None:
    x = np.array(rows, dtype=float)
    total = x.sum(axis=1)
    statistics = form_statistics(counted(scored(rows)))
    for k, item in enumerate(statistics.items):
        rest = total - x[:, k]
        if x[:, k].std() and rest.std():
            assert item.rest_r.value == pytest.approx(np.corrcoef(x[:, k], rest)[0, 1], abs=1e-9)
        else:
            assert item.rest_r.value is None
        if rest.var() > 1e-12:
            others = np.delete(x, k, axis=1)
            alpha = 1.5 * (1 - others.var(axis=0).sum() / rest.var())
            assert item.alpha_if_deleted.value == pytest.approx(alpha, abs=1e-9)


def test_large_counts_are_summed_exactly() -> None:
    # 9e8 pupils on a form of a hundred marks: sums of squares times N are beyond 64 bits.
    small = counted(scored([[1] * 60 + [0] * 40, [0] * 60 + [1] * 40, [1] * 100, [0] * 99 + [1]]))
    times = 225_000_000
    large = dataclasses.replace(small, n=small.n * times, persons=small.persons * times)
    one, two = form_statistics(small), form_statistics(large)
    assert two.alpha.value == one.alpha.value
    for few, many in zip(one.items, two.items, strict=True):
        assert many.rest_r.value == pytest.approx(few.rest_r.value, rel=1e-14)


def test_thirds_of_responses_are_by_rest_score() -> None:
    # Nine pupils; the studied item is the first. Rest scores 0..2 each three times, so thirds are the rest scores.
    rows = [[1, 0, 0], [0, 0, 0], [0, 0, 0], [1, 1, 0], [1, 0, 1], [0, 1, 0], [1, 1, 1], [1, 1, 1], [1, 1, 1]]
    right = form_statistics(counted(scored(rows))).items[0].responses[1]
    assert right.thirds == pytest.approx((1 / 3, 2 / 3, 1.0))


def _with_codes(answers: FormAnswers, codes: np.ndarray) -> FormAnswers:
    return dataclasses.replace(answers, codes=codes)


def test_trailing_blanks_lower_no_facility() -> None:
    answers = lsat6()
    codes = answers.codes.copy()
    codes[:100, 4] = NOT_REACHED
    before, after = form_statistics(counted(answers)), form_statistics(counted(_with_codes(answers, codes)))
    assert after.items[4].n == 900 and after.items[4].not_reached.value == 0.1
    assert after.items[4].facility.value == (codes[100:, 4] == 1).mean()
    assert after.items[0].facility == before.items[0].facility
    assert THIRD == Fraction(1, 3)


def test_feldt_interval_of_two_items_is_even_about_the_logarithm() -> None:
    # With two items both degrees of freedom are n - 1, so the F quantiles are each other's reciprocals.
    low, high = feldt(0.6, 40, 2)
    assert (1 - low) * (1 - high) == pytest.approx(0.16, rel=1e-9)
    # Large n: ln(1 - alpha) has variance 2/(n - 1) + 2/((n - 1)(items - 1)), the F distribution's own.
    low, high = feldt(0.6, 20_001, 5)
    half = 1.959964 * math.sqrt(2 / 20_000 + 2 / 80_000)
    assert math.log(0.4 / (1 - high)) == pytest.approx(half, rel=0.01)
