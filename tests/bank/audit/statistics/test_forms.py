"""Several forms: pooled within form, linked only by what they share, refused otherwise."""

from __future__ import annotations

import numpy as np
import pytest
from count_tables import counted, scored
from published_tables import lsat6

from bank.audit.statistics.classical import form_statistics
from bank.audit.statistics.forms import NO_LINK, joint_models, link, pooled_items, shift
from bank.audit.statistics.patterns import groups_of_counts
from bank.audit.statistics.rasch import fit_rasch


def answers(b: np.ndarray, n: int, seed: int, mean: float = 0.0) -> list[list[int]]:
    """Return made-up right and wrong answers of *n* pupils to items of difficulty *b*."""
    source = np.random.default_rng(seed)
    return (source.random((n, len(b))) < 1 / (1 + np.exp(b - source.normal(mean, 1, size=(n, 1))))).astype(int).tolist()


def test_one_form_pools_to_itself() -> None:
    counts = counted(lsat6())
    for pooled, alone in zip(pooled_items([counts]), form_statistics(counts).items, strict=True):
        assert pooled.facility == alone.facility
        assert pooled.rest_r.value == pytest.approx(alone.rest_r.value, abs=1e-15)
        assert (pooled.rest_r.low, pooled.rest_r.high) == pytest.approx((alone.rest_r.low, alone.rest_r.high))


def test_totals_of_different_forms_are_never_mixed() -> None:
    # The same item in an easy and a hard form: mixing the totals would invent a correlation from the forms' difference.
    above = [[1, 1, 1], [1, 1, 1], [1, 1, 0], [0, 1, 1], [0, 1, 0], [1, 0, 1]] * 5
    below = [[0, 0, 0], [0, 0, 0], [0, 0, 1], [1, 0, 0], [1, 0, 1], [0, 1, 0]] * 5
    easy = scored(above, quiz="easy", items=["x", "e1", "e2"])
    hard = scored(below, quiz="hard", items=["x", "h1", "h2"])
    pooled = pooled_items([counted(easy), counted(hard)])
    first = pooled[0]
    assert first.item == "x" and first.quizzes == ("easy", "hard") and first.n == 60
    assert first.facility.value == pytest.approx((20 + 10) / 60)
    each = [form_statistics(counted(one)).items[0].rest_r.value for one in (easy, hard)]
    assert min(each) - 1e-12 <= first.rest_r.value <= max(each) + 1e-12
    mixed = np.array(above + below)
    assert np.corrcoef(mixed[:, 0], mixed[:, 1:].sum(axis=1))[0, 1] > first.rest_r.value + 0.1


def test_versions_of_an_item_are_kept_apart() -> None:
    import dataclasses

    one = lsat6()
    two = dataclasses.replace(one, form=dataclasses.replace(one.form, versions=(2, 1, 1, 1, 1)))
    pooled = pooled_items([counted(one), counted(two)])
    assert [(item.item, item.version, item.n) for item in pooled if item.item == "item1"] == [
        ("item1", 1, 1000), ("item1", 2, 1000)]
    assert link(one, two).items == ("item2", "item3", "item4", "item5")


def test_link_without_common_items_or_pupils_is_refused() -> None:
    one = scored([[1, 0], [0, 1]], quiz="one", items=["a", "b"], pupils=[0, 1])
    two = scored([[1, 0], [0, 1]], quiz="two", items=["c", "d"], pupils=[2, 3])
    found = link(one, two)
    assert found.why == NO_LINK and found.items == () and found.pupils == 0
    same_pupils = scored([[1, 0], [0, 1]], quiz="three", items=["e", "f"], pupils=[1, 2])
    assert link(one, same_pupils).why == "" and link(one, same_pupils).pupils == 1
    weak = link(one, scored([[1, 0]], quiz="four", items=["b", "g"], pupils=[9]))
    assert weak.why == "" and "only 1 common" in weak.caution


def test_shift_through_common_items_allows_for_abler_pupils() -> None:
    b = np.linspace(-1.5, 1.5, 10)
    one = scored(answers(b, 800, 1), quiz="one", items=[f"i{k}" for k in range(10)])
    two = scored(answers(b[2:], 800, 2, mean=0.7), quiz="two", items=[f"i{k}" for k in range(2, 10)])
    models = [fit_rasch(groups_of_counts(counted(form))) for form in (one, two)]
    found = shift(*models)
    assert found.n == 8 and found.low < -0.7 < found.high and found.high < 0
    other = fit_rasch(groups_of_counts(counted(scored(answers(b[:3], 200, 3), items=["x", "y", "z"]))))
    assert shift(models[0], other).value is None and shift(models[0], other).why == NO_LINK


def test_one_class_on_two_quizzes_is_one_scale_and_another_class_is_another() -> None:
    b = np.linspace(-1, 1, 8)
    rows = answers(b, 300, 4)
    one = scored([row[:4] for row in rows], quiz="one", items=list("abcd"), pupils=range(300))
    two = scored([row[4:] for row in rows], quiz="two", items=list("efgh"), pupils=range(300))
    far = scored(answers(b[:4], 300, 5), quiz="far", items=list("ijkl"), pupils=range(300, 600))
    models = joint_models([one, far, two])
    assert [model.quizzes for model in models] == [("one", "two"), ("far",)]
    whole = fit_rasch(groups_of_counts(counted(scored(rows))))
    assert models[0].model.b == pytest.approx(whole.b, abs=1e-6)
