"""A plain counter from answers to the table of counts, and reference data sets, for tests of the statistics."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from standards import evidence
from wanted import EVIDENCE, needs

from bank.audit.records import NOT_GIVEN, OMITTED, Counts, Form, FormAnswers

Cell = str | int
"""A response, or a code of no answer."""


def form_answers(
    rows: Sequence[Sequence[Cell]], credits: Sequence[dict[str, int]], groups: Sequence[int] = (), quiz: str = "quiz",
    items: Sequence[str] = (), pupils: Sequence[int] = (),
) -> FormAnswers:
    """Return *rows* of answers as columns; *credits* says for each item what each response earns, in thousandths."""
    count = len(credits)
    names = tuple(tuple(sorted(one)) for one in credits)
    place = [{name: index for index, name in enumerate(one)} for one in names]
    codes = np.array(
        [[cell if isinstance(cell, int) else place[k][cell] for k, cell in enumerate(row)] for row in rows],
        dtype=np.int16,
    ).reshape(len(rows), count)
    form = Form(
        quiz=quiz, items=tuple(items) or tuple(f"item{k + 1}" for k in range(count)), versions=(1,) * count,
        responses=names, credits=tuple(tuple(one[name] for name in names[k]) for k, one in enumerate(credits)),
    )
    return FormAnswers(
        form=form, pupils=np.array(pupils if len(pupils) else range(len(rows)), dtype=np.int32), codes=codes,
        groups=np.array(groups if len(groups) else [0] * len(rows), dtype=np.int16),
    )


def counted(answers: FormAnswers, groups: tuple[str, ...] = ("",)) -> Counts:
    """Return the table of counts of *answers*, in the plainest way."""
    form, cells = answers.form, Counter()
    for codes, group in zip(answers.codes.tolist(), answers.groups.tolist(), strict=True):
        total = sum(form.credits[k][code] for k, code in enumerate(codes) if code >= 0)
        for k, code in enumerate(codes):
            cells[group, k, code, total] += 1
    columns = list(zip(*sorted(cells), strict=True)) if cells else [(), (), (), ()]
    group, item, response, total = columns
    return Counts(
        form=form, groups=groups, group=np.array(group, dtype=np.int16), item=np.array(item, dtype=np.int16),
        response=np.array(response, dtype=np.int16), total=np.array(total, dtype=np.int32),
        n=np.array([cells[key] for key in sorted(cells)], dtype=np.int64), persons=len(answers.pupils),
    )


def scored(rows: Sequence[Sequence[int]], **more: object) -> FormAnswers:
    """Return answers of items scored 0 and 1 (a negative number stays a code of no answer)."""
    credits = [{"0": 0, "1": 1000}] * (len(rows[0]) if len(rows) else 0)
    return form_answers([[cell if cell < 0 else str(cell) for cell in row] for row in rows], credits, **more)


FIGURES = Path(__file__).with_name("figures")
"""Published figures that travel with the tests; `figures/README.md` names the sources."""


def measurement() -> Path:
    """Return the folder of the answers pupil by pupil; the test is skipped, saying so, where there is none."""
    found = evidence()
    if found is None or not (found / "measurement").is_dir():
        pytest.skip(needs(EVIDENCE))
    return found / "measurement"


def read_rows(path: Path) -> list[dict[str, str]]:
    """Return the rows of a CSV file by column."""
    with path.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))


def by_item(name: str, file: str) -> dict[str, dict[str, str]]:
    """Return a reference file of the set *name* by item."""
    return {row["item"]: row for row in read_rows(FIGURES / name / file)}


def quantities(name: str, file: str) -> dict[str, float]:
    """Return a reference file of quantities and values."""
    return {row["quantity"]: float(row["value"]) for row in read_rows(FIGURES / name / file)}


FACTS = {"student", "gender", "sex", "country", "form", "study", "attempt", "tests"}
"""Columns of the reference data that are no items."""
SETS = ("lsat6", "fraction_subtraction", "fims_math", "ctt20", "math101_exam", "deayala_math", "verbal_aggression_dif",
        "kr20_worked")


def reference_answers(
    name: str, group: str = "", keep: tuple[str, str] | None = None
) -> tuple[FormAnswers, tuple[str, ...]]:
    """Return a reference set's answers and the names of its groups.

    *group* names the column that groups are taken from; *keep* = (column, value) keeps some of the rows. Blank
    answers are omitted ones.
    """
    folder = FIGURES / name if (FIGURES / name / "patterns.csv").is_file() else measurement() / name
    if (folder / "responses.csv").is_file():
        rows = read_rows(folder / "responses.csv")
    else:
        rows = [row for row in read_rows(folder / "patterns.csv") for _ in range(int(row["frequency"]))]
    if keep:
        rows = [row for row in rows if row[keep[0]] == keep[1]]
    items = [name for name in rows[0] if name not in FACTS | {"frequency"}]
    keys = {item: "1" for item in items}
    if (folder / "key.csv").is_file():
        keys = {row["item"]: row["key"] for row in read_rows(folder / "key.csv")}
    credits = [{row[item]: 1000 * (row[item] == keys[item]) for row in rows if row[item]} for item in items]
    names = tuple(sorted({row[group] for row in rows})) if group else ("",)
    answers = form_answers(
        [[row[item] or OMITTED for item in items] for row in rows], credits, items=items,
        groups=[names.index(row[group]) for row in rows] if group else (),
    )
    return answers, names


COUNTED = (
    *[(name, "", None) for name in SETS],
    ("fims_math", "country", None), ("fims_math", "sex", None), ("fims_math", "sex", ("country", "Australia")),
    ("math101_exam", "form", None), ("math101_exam", "gender", None), ("verbal_aggression_dif", "gender", None),
)
"""Sets and groups whose table of counts travels with the tests: name, column of the group, and what is kept."""


def counts_file(name: str, group: str = "", keep: tuple[str, str] | None = None) -> Path:
    """Return the file of a table of counts."""
    return FIGURES / name / f"counts{f'_by_{group}' if group else ''}{f'_in_{keep[1]}' if keep else ''}.csv"


def written_counts(counts: Counts) -> str:
    """Return a table of counts as text: a line for each group, item and response, with ``total:pupils`` in marks."""
    lines = ["group,item,response,credit,pupils"]
    cells: dict[tuple[int, int, int], list[str]] = {}
    columns = (counts.group, counts.item, counts.response, counts.total, counts.n)
    for group, item, response, total, n in zip(*[column.tolist() for column in columns], strict=True):
        cells.setdefault((group, item, response), []).append(f"{total // 1000}:{n}")
    form = counts.form
    for (group, item, response), found in cells.items():
        text, credit = (form.responses[item][response], form.credits[item][response]) if response >= 0 else ("", "")
        lines.append(f"{counts.groups[group]},{form.items[item]},{text},{credit},{' '.join(found)}")
    return "\n".join(lines) + "\n"


def reference_counts(
    name: str, group: str = "", keep: tuple[str, str] | None = None
) -> tuple[Counts, tuple[str, ...]]:
    """Return the table of counts of a reference set as it travels with the tests, and the names of its groups.

    The arguments are those of `reference_answers`; there are files for `COUNTED`.
    """
    rows = read_rows(counts_file(name, group, keep))
    items = tuple(dict.fromkeys([row["item"] for row in sorted(rows, key=lambda row: row["group"])]))
    groups = tuple(sorted({row["group"] for row in rows}))
    credits: list[dict[str, int]] = [{} for _ in items]
    for row in rows:
        if row["response"]:
            credits[items.index(row["item"])][row["response"]] = int(row["credit"])
    form = Form(
        quiz="quiz", items=items, versions=(1,) * len(items), responses=tuple([tuple(sorted(one)) for one in credits]),
        credits=tuple([tuple([one[text] for text in sorted(one)]) for one in credits]),
    )
    cells = []
    for row in rows:
        item, text = items.index(row["item"]), row["response"]
        code = form.responses[item].index(text) if text else OMITTED
        for pair in row["pupils"].split():
            total, _, n = pair.partition(":")
            cells.append((groups.index(row["group"]), item, code, 1000 * int(total), int(n)))
    group_, item_, code_, total_, n_ = zip(*sorted(cells), strict=True)
    return Counts(
        form=form, groups=groups, group=np.array(group_, dtype=np.int16), item=np.array(item_, dtype=np.int16),
        response=np.array(code_, dtype=np.int16), total=np.array(total_, dtype=np.int32),
        n=np.array(n_, dtype=np.int64), persons=sum(n for _, item, _, _, n in cells if item == 0),
    ), groups


def not_given(answers: FormAnswers, missing: np.ndarray) -> FormAnswers:
    """Return *answers* with the cells of the mask *missing* not given."""
    codes = np.where(missing, np.int16(NOT_GIVEN), answers.codes)
    return FormAnswers(form=answers.form, pupils=answers.pupils, codes=codes, groups=answers.groups)
