"""Prints how the audit's statistics agree with the reference results: ``python tests/agreement_figures.py``.

One line a set, statistic and reference: the largest difference over the items, and where it is larger than the bound
the reason why. The references lie beside the checkout or where STEMWRIGHT_EVIDENCE says.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from count_tables import (  # noqa: E402
    SETS, by_item, counted, measurement, quantities, read_rows, reference_answers,
)
from published_tables import ADMISSIONS, ADMISSIONS_PRINTED, KR20_VALUE, kr20, lsat6  # noqa: E402
from standards import evidence  # noqa: E402

from bank.audit.statistics.classical import form_statistics  # noqa: E402
from bank.audit.statistics.dif import dif, dif_purified, mantel_haenszel  # noqa: E402
from bank.audit.statistics.fit import conditional_difficulties, conditional_fit  # noqa: E402
from bank.audit.statistics.groups import UPPER_LOWER  # noqa: E402
from bank.audit.statistics.patterns import groups_of_counts, scores_of_answers  # noqa: E402
from bank.audit.statistics.rasch import fit_rasch  # noqa: E402
from bank.audit.statistics.twopl import fit_two_parameters  # noqa: E402

NARROW = "its nodes end at +-6, too narrow for this sigma"
REASONS = {
    ("fraction_subtraction", "Rasch b", "mirt 1.45.1"): NARROW,
    ("fraction_subtraction", "Rasch log-likelihood", "mirt 1.45.1"): NARROW,
    ("fraction_subtraction", "Rasch log-likelihood", "TAM 4.3-25"): "its nodes end at +-10, 4.3 sigma here",
    ("fraction_subtraction", "Rasch SE", "mirt 1.45.1"): NARROW,
    ("deayala_math", "Rasch log-likelihood", "mirt 1.45.1"): NARROW,
    ("verbal_aggression_dif", "Rasch log-likelihood", "mirt 1.45.1"): NARROW,
    ("fraction_subtraction", "2PL a", "ltm 1.2-0"): "its 21 Gauss-Hermite nodes",
}
DIF = (
    ("fims_math", "country", None, "reference_mh_dif_country.csv"),
    ("fims_math", "sex", None, "reference_mh_dif_sex_all.csv"),
    ("fims_math", "sex", ("country", "Australia"), "reference_mh_dif_sex_australia.csv"),
    ("math101_exam", "form", None, "reference_mh_dif_form.csv"),
    ("math101_exam", "gender", None, "reference_mh_dif_gender.csv"),
    ("verbal_aggression_dif", "gender", None, "reference_mh_dif_gender.csv"),
)
TWO_PL = set(SETS) - {"kr20_worked"}


class Agreement(NamedTuple):
    """How far a statistic of a set is from a reference."""

    data: str
    statistic: str
    reference: str
    values: int
    largest: float
    bound: float


def largest(pairs: list[tuple[float | None, str | float]]) -> tuple[int, float]:
    """Return how many *pairs* (ours, theirs) there are, and their largest difference; blank ones are left out."""
    found = [abs(ours - float(theirs)) for ours, theirs in pairs if ours is not None and theirs not in ("", "NA")]
    return len(found), max(found, default=math.nan)


def classical(name: str) -> Iterator[Agreement]:
    """Yield the agreement of classical statistics."""
    answers, _ = reference_answers(name)
    found, reference = form_statistics(counted(answers), fraction=UPPER_LOWER), by_item(name, "reference_ctt.csv")
    columns = {
        "facility": ("p", lambda one: one.facility.value),
        "item-rest r": ("r_item_rest_corrected", lambda one: one.rest_r.value),
        "item-total r": ("r_item_total_uncorrected", lambda one: one.total_r.value),
        "upper-lower D": ("D27_ties_shared", lambda one: one.upper_lower.value),
        "alpha if deleted": ("alpha_if_deleted", lambda one: one.alpha_if_deleted.value),
        "omit rate": ("omit_rate", lambda one: one.omitted.value),
    }
    for words, (column, value) in columns.items():
        count, size = largest([(value(one), reference[one.item][column]) for one in found.items])
        if count:
            yield Agreement(name, words, "R 4.2.2, psych 2.2.9", count, size, 1e-9)
    test = quantities(name, "reference_test.csv")
    for tool in ("psych", "ltm"):
        yield Agreement(name, "alpha", tool, *largest([(found.alpha.value, test[f"alpha_{tool}"])]), 1e-9)
    sem = test["sem_sd_n1_times_sqrt_1_minus_alpha"]
    yield Agreement(name, "SEM (relative)", "R 4.2.2", *largest([(found.sem.value / sem, 1.0)]), 1e-9)
    if (measurement() / name / "reference_distractors.csv").is_file():
        table = read_rows(measurement() / name / "reference_distractors.csv")
        rows = {(row["item"], row["option"]): row for row in table}
        pairs = [
            (row.r_rest.value, rows[one.item, row.response or "(omit)"]["r_option_rest"])
            for one in found.items for row in one.responses
        ]
        yield Agreement(name, "r(choice, rest)", "R 4.2.2", *largest(pairs), 1e-9)


def models(name: str) -> Iterator[Agreement]:
    """Yield the agreement of Rasch and two-parameter models."""
    answers, _ = reference_answers(name)
    groups = groups_of_counts(counted(answers))
    rasch, meta = fit_rasch(groups), quantities(name, "reference_irt_meta.csv")
    reference, own = by_item(name, "reference_rasch.csv"), by_item(name, "reference_python.csv")
    for tool, column, table in (
        ("numpy EM, 161 nodes", "b_rasch_mml_numpy", own), ("TAM 4.3-25", "b_mml_TAM", reference),
        ("mirt 1.45.1", "b_mml_mirt", reference),
    ):
        pairs = [(one.difficulty.value, table[one.item][column]) for one in rasch.items]
        yield Agreement(name, "Rasch b", tool, *largest(pairs), 1e-3)
    pairs = [(one.se, reference[one.item]["se_mirt"]) for one in rasch.items]
    yield Agreement(name, "Rasch SE", "mirt 1.45.1", *largest(pairs), 1e-3)
    for tool, key in (("TAM 4.3-25", "loglik_TAM"), ("mirt 1.45.1", "loglik_mirt")):
        yield Agreement(name, "Rasch log-likelihood", tool, *largest([(rasch.log_likelihood, meta[key])]), 1e-3)
    b = conditional_difficulties(groups)
    pairs = [(float(b[k]), reference[item]["b_cml_eRm_sumzero"]) for k, item in enumerate(groups.items)]
    yield Agreement(name, "conditional b", "eRm 1.0-2", *largest(pairs), 1e-3)
    if (measurement() / name / "reference_fit_conditional.csv").is_file():
        table = by_item(name, "reference_fit_conditional.csv")
        fits = conditional_fit(groups)
        for words in ("infit", "outfit"):
            pairs = [(getattr(one, words).value, table[one.item][f"{words}_conditional"]) for one in fits]
            yield Agreement(name, f"conditional {words}", "direct formula", *largest(pairs), 1e-4)
    two, table = fit_two_parameters(scores_of_answers([answers])), by_item(name, "reference_2pl.csv")
    for tool, a, rows in (
        ("numpy EM, 161 nodes", "a_2pl_numpy", own), ("TAM 4.3-25", "a_TAM", table), ("mirt 1.45.1", "a_mirt", table),
        ("ltm 1.2-0", "a_ltm", table),
    ):
        pairs = [(one.slope.value, rows[one.item].get(a, "")) for one in two.items]
        if largest(pairs)[0]:
            yield Agreement(name, "2PL a", tool, *largest(pairs), 2e-3)
    for tool, key in (("TAM 4.3-25", "loglik_TAM_2pl"), ("mirt 1.45.1", "loglik_mirt_2pl")):
        yield Agreement(name, "2PL log-likelihood", tool, *largest([(two.log_likelihood, meta[key])]), 1e-3)


def groups_compared() -> Iterator[Agreement]:
    """Yield the agreement of Mantel-Haenszel, without and with purification."""
    for name, column, keep, file in DIF:
        answers, names = reference_answers(name, column, keep)
        table = by_item(name, file)
        first = next(iter(table.values()))
        one = dif(counted(answers, names), first["reference"], first["focal"], smaller=0, both=0)
        words = f"{name} by {column}" + (f" ({keep[1]})" if keep else "")
        pairs = [(item.d_dif.value, table[item.item]["mh_d_dif"]) for item in one.items]
        yield Agreement(words, "MH D-DIF", "R 4.2.2", *largest(pairs), 1e-8)
        pairs = [(item.se_d, table[item.item]["se_mh_d_dif"]) for item in one.items]
        yield Agreement(words, "SE of MH D-DIF", "statsmodels 0.15.0", *largest(pairs), 1e-8)
        pairs = [(item.chi2 / float(table[item.item]["chi2_mh_continuity"]), 1.0) for item in one.items]
        yield Agreement(words, "MH chi2 (relative)", "R 4.2.2", *largest(pairs), 1e-8)
        wrong = sum(item.letter != table[item.item]["ets_class_Zwick2012"] for item in one.items)
        yield Agreement(words, "letters that differ", "full rule", len(one.items), wrong, 0)
        two = dif_purified(answers, names, first["reference"], first["focal"], most_rounds=10, smaller=0, both=0)
        if not two.why:
            pairs = [(item.odds_ratio.value, table[item.item]["difR_alphaMH_purified"]) for item in two.items]
            yield Agreement(words, "purified odds ratio", "difR 5.1", *largest(pairs), 1e-8)


def printed() -> Iterator[Agreement]:
    """Yield the agreement with values printed in the literature."""
    result = fit_rasch(groups_of_counts(counted(lsat6())))
    wanted = (-3.6153, -1.3224, -0.3176, -1.7301, -2.7802)
    pairs = list(zip((result.b / result.sigma.value).tolist(), wanted, strict=True))
    yield Agreement("lsat6", "Rasch printed, b/sigma", "Rizopoulos 2006", *largest(pairs), 5.1e-5)
    pairs = [(result.log_likelihood, -2466.938)]
    yield Agreement("lsat6", "log-likelihood printed", "Rizopoulos 2006", *largest(pairs), 5.1e-4)
    value = form_statistics(counted(kr20())).alpha.value
    yield Agreement("kr20_worked", "KR-20 from printed parts", "Wuensch", *largest([(value, KR20_VALUE)]), 5.1e-7)
    found = mantel_haenszel(np.array(ADMISSIONS))
    pairs = [(found.alpha, ADMISSIONS_PRINTED["odds_ratio"])]
    yield Agreement("mh_ucb_admissions", "odds ratio printed", "R 4.2.2", *largest(pairs), 5.1e-8)
    pairs = [(found.chi2, ADMISSIONS_PRINTED["chi2"])]
    yield Agreement("mh_ucb_admissions", "chi2 printed", "R 4.2.2", *largest(pairs), 5.1e-5)


def everything() -> Iterator[Agreement]:
    """Yield every line of the table."""
    yield from printed()
    for name in SETS:
        yield from classical(name)
        if name in TWO_PL:
            yield from models(name)
    yield from groups_compared()


def main() -> None:
    """Print the table; the exit status is 1 where a line is over its bound without a reason."""
    if evidence() is None or not (evidence() / "measurement").is_dir():
        sys.exit("the reference results are not here; say where they are in STEMWRIGHT_EVIDENCE")
    bad = 0
    print(f"{'set':34}{'statistic':27}{'reference':22}{'n':>4}{'largest':>10}{'bound':>9}  remark")
    for line in everything():
        over = line.largest > line.bound
        remark = REASONS.get(line[:3], "OVER THE BOUND") if over else ""
        bad += remark == "OVER THE BOUND"
        print(f"{line.data:34}{line.statistic:27}{line.reference:22}{line.values:4}{line.largest:10.1e}"
              f"{line.bound:9.0e}  {remark}")
    sys.exit(1 if bad else 0)


if __name__ == "__main__":
    main()
