"""Every flag is raised where it should be, with its figures, and nowhere else."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from count_tables import counted, form_answers, reference_answers, reference_counts, scored
from hypothesis import given
from hypothesis import settings as limits
from hypothesis import strategies as st

from bank.audit.flags import KINDS, Band, Context, Flag, family_flags, form_flags, key_tests
from bank.audit.records import NOT_REACHED, OMITTED, Counts, FormAnswers
from bank.audit.settings import load_settings
from bank.audit.statistics.classical import form_statistics
from bank.audit.statistics.dif import dif
from bank.audit.statistics.drift import drifts
from bank.audit.statistics.estimates import Estimate
from bank.audit.statistics.families import Sibling, family_spreads
from bank.audit.statistics.fit import Fit, conditional_fit
from bank.audit.statistics.keys import BY_AGREEMENT, BY_LEAD
from bank.audit.statistics.patterns import groups_of_counts

SETTINGS = load_settings()
OPTIONS = ("A", "B", "C", "D")


def flags(answers: FormAnswers | Counts, use: str = "graded", **more: Any) -> list[Flag]:
    """Return the flags of *answers*, or of their table of counts."""
    counts = answers if isinstance(answers, Counts) else counted(answers)
    extra = {name: more.pop(name) for name in ("fits", "dif") if name in more}
    if "earlier" in more:
        extra["changed"] = drifts(form_statistics(counts), form_statistics(counted(more.pop("earlier"))), SETTINGS)
    return list(form_flags(counts, form_statistics(counts), Context(use, **more), SETTINGS, **extra))


def kinds(found: list[Flag], item: str = "item1") -> set[str]:
    """Return the kinds of *found* on *item*."""
    return {flag.identifier for flag in found if flag.item == item}


def pupils(n: int, seed: int = 1) -> tuple[np.random.Generator, np.ndarray]:
    """Return a source of chance and abilities."""
    source = np.random.default_rng(seed)
    return source, source.normal(size=n)


def choice(first: list[str], ability: np.ndarray, source: np.random.Generator) -> FormAnswers:
    """Return answers to an item of choice, key A, and six ordinary ones."""
    rest = source.random((len(ability), 6)) < 1 / (1 + np.exp(np.linspace(-1, 1, 6) - 1.5 * ability[:, None]))
    rows = [[one, *("A" if hit else "B" for hit in row)] for one, row in zip(first, rest, strict=True)]
    return form_answers(rows, [{name: 1000 * (name == "A") for name in OPTIONS}, *[{"A": 1000, "B": 0}] * 6])


def sound(n: int = 300) -> FormAnswers:
    """Return answers whose first item is sound."""
    source, ability = pupils(n)
    right = source.random(n) < 1 / (1 + np.exp(-1.5 * ability))
    first = ["A" if hit else str(source.choice(["B", "C", "D"])) for hit in right]
    return choice(first, ability, source)


def test_a_sound_item_raises_nothing() -> None:
    found = flags(sound(), offered={"item1": OPTIONS}, bands={"item1": Band(0.3, 0.7, "80 %")}, uses={"item1": 1})
    assert kinds(found) == set()


def test_a_wrong_key_comes_before_all_others() -> None:
    source, ability = pupils(200)
    right = source.random(200) < 1 / (1 + np.exp(-2 * ability))
    first = ["B" if hit else str(source.choice(["A", "C", "D"])) for hit in right]
    found = flags(choice(first, ability, source), offered={"item1": OPTIONS})
    assert found[0].identifier == "wrong-key" and found[0].alarm and found[0].item == "item1"
    assert "'B'" in found[0].why and "lead" in found[0].why and "key" in found[0].remedy
    assert {"negative-discrimination", "attracts-able"} <= kinds(found)


def test_a_wrong_key_of_a_small_class_is_an_alarm_beyond_its_error_only() -> None:
    source, ability = pupils(60, 3)
    right = source.random(60) < 1 / (1 + np.exp(-2 * ability))
    wrong = choice(["B" if hit else "A" for hit in right], ability, source)
    assert "wrong-key" in kinds(flags(wrong))
    weak = choice([str(source.choice(["A", "A", "B"])) for _ in range(60)], ability, source)
    assert "wrong-key" not in kinds(flags(weak))
    few = form_answers([["B", "A"], ["A", "B"]] * 20, [{"A": 1000, "B": 0}] * 2)
    assert "wrong-key" not in kinds(flags(few)), "under fifty pupils nearly all must agree"


def small_class(first: str, rest: int = 6) -> FormAnswers:
    """Return a small class's answers: *first* are the letters of the first item, stronger pupils come first."""
    n = len(first)
    rows = [[letter, *("A" if place + k < n else "B" for k in range(rest))] for place, letter in enumerate(first)]
    return form_answers(rows, [{name: 1000 * (name == "A") for name in OPTIONS}, *[{"A": 1000, "B": 0}] * rest])


@pytest.mark.parametrize(("first", "alarm"), [
    ("B" * 10, True), ("B" * 26 + "AC", True), ("B" * 20 + "CCCDDDAA", True), ("B" * 9, False),
    ("B" * 18 + "A" * 10, False), ("B" * 15 + "CCCCCCDDDDDAA", False), ("AACD" + "B" * 24, False),
    ("A" * 28, False), ("ABCD" * 7, False),
])
def test_in_a_small_class_nearly_all_must_agree_on_a_wrong_option_and_be_no_weaker(first: str, alarm: bool) -> None:
    found = [flag for flag in flags(small_class(first)) if flag.identifier == "wrong-key"]
    assert [flag.item for flag in found] == (["item1"] if alarm else [])
    assert all(f"{first.count('B')} of {len(first)} pupils gave 'B', {first.count('A')} the key" in flag.why for flag in found)


def test_a_key_that_nobody_gave_is_doubted_although_no_correlation_can_be_had() -> None:
    assert "wrong-key" in kinds(flags(small_class("B" * 80)))


def test_what_was_tested_of_the_keys_is_told_with_what_was_not_and_why() -> None:
    tests = [key_tests(counted(small_class("B" * n)), SETTINGS)[0] for n in (9, 10, 49, 50)]
    assert [(one.way, one.n, one.needed) for one in tests] == [
        ("", 9, 10), (BY_AGREEMENT, 10, 0), (BY_AGREEMENT, 49, 0), (BY_LEAD, 50, 0),
    ]


def test_a_correlation_that_one_or_two_pupils_carry_accuses_no_key() -> None:
    # A very hard item: two weak pupils hit on the key, everybody else spreads over the wrong options evenly.
    rows = [["A" if place > 147 else "BCD"[place % 3], *("A" if (place * 7 + k) % 12 < 6 - place // 75 else "B" for k in range(8))]
            for place in range(150)]
    answers = form_answers(rows, [{name: 1000 * (name == "A") for name in OPTIONS}, *[{"A": 1000, "B": 0}] * 8])
    assert "wrong-key" not in kinds(flags(answers))


def test_a_rare_response_of_a_few_able_pupils_is_no_alarm() -> None:
    # Four of 200 pupils, the very best, gave C to an item on which the others guessed: 2 % are no reason.
    source, ability = pupils(200, 8)
    first = source.choice(["A", "B"], size=200)
    first[np.argsort(-ability)[:4]] = "C"
    found = flags(choice(first.tolist(), ability, source))
    assert not any(flag.identifier == "wrong-key" and "'C'" in flag.why for flag in found)
    first[np.argsort(-ability)[:14]] = "C"
    found = flags(choice(first.tolist(), ability, source))
    assert any(flag.identifier == "wrong-key" and "'C'" in flag.why for flag in found), "7 % are"


def test_typed_answers_can_have_a_wrong_key_too() -> None:
    source, ability = pupils(200)
    right = source.random(200) < 1 / (1 + np.exp(-2 * ability))
    rest = source.random((200, 6)) < 1 / (1 + np.exp(np.linspace(-1, 1, 6) - 1.5 * ability[:, None]))
    rows = [["3.2" if hit else str(source.choice(["2.3", "4", "0.5"])), *row]
            for hit, row in zip(right, np.where(rest, "A", "B").tolist(), strict=True)]
    answers = form_answers(rows, [{"3.2": 0, "2.3": 1000, "4": 0, "0.5": 0}, *[{"A": 1000, "B": 0}] * 6])
    found = flags(answers)
    assert found[0].identifier == "wrong-key" and "'3.2'" in found[0].why
    assert "idle-distractor" not in kinds(found)


def test_real_tests_with_sound_keys_raise_no_wrong_key() -> None:
    # FIMS 1964 (6371 pupils) and the CTT example (100): no miskey is known in either.
    for name in ("fims_math", "ctt20"):
        counts, _ = reference_counts(name)
        assert [flag.item for flag in flags(counts) if flag.alarm] == []


def test_a_miskeyed_real_item_is_found() -> None:
    # FIMS item M1PTI11 with its key moved from 3 to the commonest wrong option.
    import dataclasses

    answers, _ = reference_answers("fims_math")
    k = answers.form.items.index("M1PTI11")
    names = answers.form.responses[k]
    wrong = [name for name in names if name != "3"]
    commonest = max(wrong, key=lambda name: (answers.codes[:, k] == names.index(name)).sum())
    credits = list(answers.form.credits)
    credits[k] = tuple(1000 * (name == commonest) for name in names)
    miskeyed = dataclasses.replace(answers, form=dataclasses.replace(answers.form, credits=tuple(credits)))
    alarms = [flag for flag in flags(miskeyed) if flag.alarm]
    assert {flag.item for flag in alarms} == {"M1PTI11"} and any("'3'" in flag.why for flag in alarms)


def by_facility(share: float, n: int) -> FormAnswers:
    """Return answers whose first item has facility *share* and goes with the rest as far as it can."""
    source, ability = pupils(n)
    order = np.argsort(-(ability + source.normal(size=n)))
    first = np.full(n, "B")
    first[order[: round(share * n)]] = "A"
    first[order[round(share * n):]] = source.choice(["B", "C", "D"], size=n - round(share * n))
    return choice(first.tolist(), ability, source)


@pytest.mark.parametrize(("use", "share", "kind"), [
    ("graded", 0.1, "too-hard"), ("graded", 0.18, ""), ("graded", 0.95, "too-easy"), ("graded", 0.5, ""),
    ("practice", 0.95, ""), ("practice", 0.3, "too-hard"), ("practice", 0.5, ""),
    ("diagnosis", 0.15, ""), ("diagnosis", 0.05, "too-hard"), ("diagnosis", 0.99, "too-easy"),
])
def test_hard_and_easy_depend_on_the_use(use: str, share: float, kind: str) -> None:
    found = kinds(flags(by_facility(share, 200), use)) & {"too-hard", "too-easy"}
    assert found == ({kind} if kind else set())


def test_few_pupils_need_the_whole_interval_beyond_the_limit() -> None:
    assert "too-hard" not in kinds(flags(by_facility(0.15, 40))), "0.07 to 0.29 reaches over 0.20"
    assert "too-hard" in kinds(flags(by_facility(0.0, 40)))
    assert "too-easy" not in kinds(flags(by_facility(0.925, 40))), "0.80 to 0.97 reaches under 0.90"
    assert "too-easy" in kinds(flags(by_facility(1.0, 40)))
    assert kinds(flags(by_facility(0.0, 20))) == set()


def test_idle_distractors_are_raised_where_there_is_room_for_them() -> None:
    source, ability = pupils(200)
    right = source.random(200) < 1 / (1 + np.exp(-1.5 * ability))
    answers = choice(["A" if hit else "B" for hit in right], ability, source)
    found = [flag for flag in flags(answers, offered={"item1": OPTIONS}) if flag.identifier == "idle-distractor"]
    assert [flag.why.split(":")[0] for flag in found] == ["option C", "option D"], "never chosen ones count too"
    assert "0 of 200" in found[0].why
    easy = flags(by_facility(0.95, 200), offered={"item1": OPTIONS})
    assert "idle-distractor" not in kinds(easy)


def test_a_distractor_is_idle_only_where_it_could_have_been_busy() -> None:
    def idle(right: int, wrong: dict[str, int]) -> set[str]:
        letters = ["A"] * right + [name for name, n in wrong.items() for _ in range(n)]
        source, ability = pupils(len(letters))
        return kinds(flags(choice(letters, ability, source), offered={"item1": OPTIONS})) & {"idle-distractor"}

    # 14 % wrong: an equal share would be under 5 % for each of three, so none can be called idle.
    assert idle(172, {"B": 14, "C": 14, "D": 0}) == set()
    # 20 % of 100 wrong: two of an equal seven is what chance gives.
    assert idle(80, {"B": 9, "C": 9, "D": 2}) == set()
    assert idle(100, {"B": 48, "C": 48, "D": 4}) == {"idle-distractor"}


def test_a_band_judges_nobody_under_twenty_pupils_and_one_item_outside_is_no_flag() -> None:
    band = {"item1": Band(0.9, 0.99, "80 %")}
    assert "outside-predicted-band" in kinds(flags(by_facility(0.2, 20), bands=band))
    assert "outside-predicted-band" not in kinds(flags(by_facility(0.2, 19), bands=band))
    near = {"item1": Band(0.55, 0.8, "80 %", p=0.4)}
    assert "outside-predicted-band" not in kinds(flags(by_facility(0.5, 200), bands=near)), "one in five lies outside"


def test_flags_of_use_come_in_the_order_of_what_hangs_on_them() -> None:
    rows = [["A" if n < 4 else "B", "A" if n < 20 else "B", "A" if n % 2 else "B"] for n in range(200)]
    answers = form_answers(rows, [{"A": 1000, "B": 0}] * 3)
    found = [flag for flag in flags(answers) if flag.identifier == "too-hard"]
    assert [flag.item for flag in found] == ["item1", "item2"] and found[0].weight > found[1].weight
    practice = [flag for flag in flags(answers, "practice") if flag.identifier == "too-hard"]
    assert practice[0].weight < found[1].weight, "marks weigh more than practice"


def test_discrimination_is_judged_by_its_interval_for_graded_use_only() -> None:
    source, ability = pupils(1500)
    answers = choice([str(source.choice(["A", "B"])) for _ in range(1500)], ability, source)
    assert "poor-discrimination" in kinds(flags(answers))
    assert "poor-discrimination" not in kinds(flags(answers, "practice"))
    few = choice([str(source.choice(["A", "B"])) for _ in range(60)], ability[:60], source)
    assert "poor-discrimination" not in kinds(flags(few))
    # A sound but weak item whose value is by chance under the limit: its interval reaches over it.
    values = []
    for seed in range(60):
        source, ability = pupils(120, seed)
        right = source.random(120) < 1 / (1 + np.exp(-0.4 * ability))
        weak = choice(["A" if hit else "B" for hit in right], ability, source)
        r = form_statistics(counted(weak)).items[0].rest_r
        if r.value < SETTINGS["discrimination_poor"] < r.high:
            values.append(r.value)
            assert "poor-discrimination" not in kinds(flags(weak))
    assert len(values) >= 5, "chance does put sound items under the limit"
    known = choice([str(source.choice(["A"] * 97 + ["B"] * 3)) for _ in range(400)], pupils(400)[1], source)
    assert kinds(flags(known)) == {"too-easy"}, "where nearly all are right there is nothing to discriminate"


def test_an_option_that_draws_the_able_must_do_so_beyond_its_error() -> None:
    def drawn(n: int, seed: int) -> tuple[float, set[str]]:
        source, ability = pupils(n, seed)
        order = np.argsort(-(0.15 * ability + source.normal(size=n)))
        first = np.full(n, "A")
        first[order[: round(0.15 * n)]] = "B"
        answers = choice(first.tolist(), ability, source)
        row = next(one for one in form_statistics(counted(answers)).items[0].responses if one.response == "B")
        return row.r_rest.value, kinds(flags(answers, offered={"item1": OPTIONS}))

    strong, found = drawn(3000, 2)
    assert strong > 0.05 and "attracts-able" in found
    chance = [found for r, found in (drawn(120, seed) for seed in range(12)) if 0.05 < r < 0.15]
    assert chance and not any("attracts-able" in found for found in chance)


def test_guessing_looks_like_chance() -> None:
    source, ability = pupils(600, 5)
    answers = choice([str(source.choice(["A", "B", "C", "D"])) for _ in range(600)], ability, source)
    found = [flag for flag in flags(answers, offered={"item1": OPTIONS}) if flag.identifier == "guess-like"]
    assert len(found) == 1 and "25 %" in found[0].why


def test_omitted_and_not_reached_are_told_apart() -> None:
    rows = [[1, OMITTED if n % 5 == 0 else n % 2, NOT_REACHED if n % 10 == 0 else n % 3 // 2] for n in range(200)]
    found = flags(scored(rows))
    assert "omitted" in kinds(found, "item2") and "omitted" not in kinds(found, "item3")
    speeded = [flag for flag in found if flag.identifier == "speeded"]
    assert len(speeded) == 1 and speeded[0].item == "" and "item 3 of 3" in speeded[0].why and "10 %" in speeded[0].why
    assert not [flag for flag in flags(scored(rows[:20])) if flag.identifier == "speeded"], "one of twenty is no rate"


def test_misfit_must_lie_beyond_its_own_spread() -> None:
    def fit(value: float, low: float, high: float, n: int = 200) -> Fit:
        one = Estimate(value=value, low=low, high=high, n=n, convention="outfit")
        return Fit(item="item1", infit=one, outfit=one)

    answers = sound()
    assert "misfit" in kinds(flags(answers, fits=[fit(1.5, 0.8, 1.2)]))
    assert "misfit" in kinds(flags(answers, fits=[fit(0.5, 0.8, 1.2)]))
    assert "misfit" not in kinds(flags(answers, fits=[fit(1.5, 0.4, 1.6)]))
    assert "misfit" not in kinds(flags(answers, fits=[fit(1.25, 0.95, 1.05)]))
    assert "misfit" not in kinds(flags(answers, fits=[fit(0.8, 0.95, 1.05)]))
    assert "misfit" not in kinds(flags(answers, fits=[fit(1.5, 0.8, 1.2, n=60)]))
    # 1.32 is beyond 95 % of 0.75 to 1.25; among twenty items it is what the worst of them shows by chance.
    alone = fit(1.32, 0.75, 1.25)
    assert "misfit" in kinds(flags(answers, fits=[alone]))
    others = [Fit(item=f"other{k}", infit=fit(1.0, 0.8, 1.2).infit, outfit=fit(1.0, 0.8, 1.2).outfit) for k in range(19)]
    assert "misfit" not in kinds(flags(answers, fits=[alone, *others]))


def test_misfit_of_a_real_item_is_found() -> None:
    # FIMS M1PTI21: conditional outfit 1.94 (reference_fit_conditional.csv).
    counts, _ = reference_counts("fims_math")
    found = flags(counts, fits=conditional_fit(groups_of_counts(counts)))
    worst = next(flag for flag in found if flag.identifier == "misfit" and flag.item == "M1PTI21")
    assert "outfit 1.94" in worst.why and "less predictable" in worst.why


def test_differences_of_groups_are_raised_by_their_letters() -> None:
    counts, _ = reference_counts("math101_exam", "form")
    found = flags(counts, dif=dif(counts, "1", "2"))
    letters = {flag.item: flag.identifier for flag in found if flag.identifier.startswith("dif-")}
    assert letters["quad"] == "dif-c" and letters["deriv"] == "dif-b" and "elasticity" not in letters
    assert next(flag for flag in found if flag.identifier == "dif-c").remedy.endswith("no proof of bias")


def used_again(shift: float, changed: float, n: int = 200, seed: int = 0) -> tuple[FormAnswers, FormAnswers]:
    """Return the answers of two classes to ten items: the second stands *shift* logits higher, its first item changed."""
    made = []
    for level, own, start in ((0.0, 0.0, 0), (shift, changed, 1)):
        source, ability = pupils(n, 100 * seed + start)
        hard = np.linspace(-1.5, 1.5, 10)
        hard[0] = 0.3 - own
        made.append(scored((source.random((n, 10)) < 1 / (1 + np.exp(hard - level - ability[:, None]))).astype(int).tolist()))
    return made[1], made[0]


def drifted(shift: float, changed: float, n: int = 200, seed: int = 0) -> list[Flag]:
    now, then = used_again(shift, changed, n, seed)
    return [flag for flag in flags(now, earlier=then) if flag.identifier == "drift"]


def test_a_better_class_is_no_drift_and_an_item_that_became_known_is() -> None:
    quiet = [seed for seed in range(40) for shift in (1.0, -1.0) if drifted(shift, 0.0, seed=seed)]
    assert len(quiet) <= 4, "at most one re-used quiz in twenty, however much better or worse the class"
    found = [[flag.item for flag in drifted(1.0, 1.6, seed=seed)] for seed in range(20)]
    assert sum("item1" in one for one in found) >= 18
    assert sum(len(one) for one in found) <= 22, "and hardly any other item"
    assert "than the other items" in drifted(1.0, 1.6)[0].why and "easier" in drifted(1.0, 1.6)[0].why


def test_an_item_that_most_guess_need_not_change_with_the_class() -> None:
    # Ten items; the first is at chance for both classes, the second half way there, all others move by a logit.
    def used(shares: list[float], n: int = 400) -> FormAnswers:
        return scored([[int(place < share * n) for share in shares] for place in range(n)])

    then, now = used([0.25, 0.40, *[0.5] * 8]), used([0.27, 0.48, *[0.731] * 8])
    before, after = (form_statistics(counted(one)) for one in (then, now))
    plain = {one.item: one.p_adjusted for one in drifts(after, before, SETTINGS).items}
    assert plain["item1"] < 0.05 and plain["item2"] < 0.05
    found = {one.item: one.p_adjusted for one in drifts(after, before, SETTINGS, {"item1": 0.25, "item2": 0.25}).items}
    assert "item1" not in found and found["item2"] == 1.0
    known = form_statistics(counted(used([0.90, 0.48, *[0.731] * 8])))
    again = {one.item: one for one in drifts(known, before, SETTINGS, {"item1": 0.25, "item2": 0.25}).items}
    assert again["item1"].p_adjusted < 0.001 and again["item1"].change > 0.43, "from guessed to known is a change"


def test_a_class_that_guesses_accuses_no_key() -> None:
    alarms = 0
    for seed in range(30):
        source, ability = pupils(120, seed)
        answers = choice([str(one) for one in source.choice(list(OPTIONS), size=120)], ability, source)
        alarms += "wrong-key" in kinds(flags(answers, offered={"item1": OPTIONS}))
    assert alarms <= 1


def test_drift_says_when_it_was_not_tested() -> None:
    now, then = used_again(0.0, 2.0, n=20)
    few = drifts(form_statistics(counted(now)), form_statistics(counted(then)), SETTINGS)
    assert few.items == () and "0 items in common with 30 answers both times and not near chance; 4 are needed" in few.why
    assert drifted(0.0, 2.0, n=20) == []


def test_predicted_and_observed_are_compared_by_the_band() -> None:
    found = flags(by_facility(0.5, 200), bands={"item1": Band(0.6, 0.9, "80 % interval for a middling class")})
    why = next(flag.why for flag in found if flag.identifier == "outside-predicted-band")
    assert "observed 50 %" in why and "predicted 60 % to 90 %" in why and "middling" in why


def test_exposure_counts_for_graded_items() -> None:
    assert "exposure" in kinds(flags(sound(), uses={"item1": 3}))
    assert "exposure" not in kinds(flags(sound(), "practice", uses={"item1": 30}))


def test_siblings_that_differ_are_a_flag_of_their_family() -> None:
    wide = [Sibling(f"w{k}", "wide", value, 0.15, 200) for k, value in enumerate((-1.2, 0.1, 1.3, 0.4))]
    alike = [Sibling(f"a{k}", "alike", value, 0.15, 200) for k, value in enumerate((0.0, 0.1, 0.2, -0.1))]
    unsure = [Sibling(f"u{k}", "unsure", value, 0.9, 12) for k, value in enumerate((-1.6, 0.1, 1.7, 0.2))]
    found = family_flags(family_spreads(wide + alike + unsure), SETTINGS, "term")
    spread = family_spreads(unsure)[0].spread
    assert spread.value > 0.5 and spread.low == 0, "wide, but not beyond the errors"
    assert [(flag.item, flag.identifier, flag.quiz) for flag in found] == [("wide", "sibling-spread", "term")]
    assert "4 siblings" in found[0].why


def test_every_kind_has_a_name_and_says_what_to_do() -> None:
    for kind in KINDS:
        flag = Flag(identifier=kind, quiz="q", n=1, why="")
        assert flag.name and flag.remedy and flag.rank == list(KINDS).index(kind)


@limits(max_examples=40, deadline=None)
@given(st.integers(0, 2**32), st.integers(0, 130), st.sampled_from(["practice", "diagnosis", "graded"]))
def test_any_answers_raise_flags_in_words_and_never_a_fault(seed: int, n: int, use: str) -> None:
    source = np.random.default_rng(seed)
    rows = [[OMITTED if source.random() < 0.05 else str(source.choice(list(OPTIONS))) for _ in range(3)]
            for _ in range(n)]
    answers = form_answers(rows, [{name: 1000 * (name == "A") for name in OPTIONS}] * 3)
    offered = {f"item{k}": OPTIONS for k in (1, 2, 3)}
    for flag in flags(answers, use, offered=offered, bands={"item1": Band(0.9, 1.0, "made up")}):
        assert flag.why and "nan" not in flag.why and "None" not in flag.why
