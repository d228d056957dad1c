"""The audit's statistics as rows for other programs: QTI Usage Data and a table, see `bank.audit.usage_data`."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from bank.audit.after import AfterUse, ItemResult
from bank.audit.pictures.option_curves import THIRDS
from bank.audit.statistics.estimates import Estimate
from bank.audit.usage_data import Statistic, write_statistics_table, write_usage_data


def statistics_of(audit: AfterUse) -> Iterator[Statistic]:
    """Give every statistic of the audit: of quizzes, of items, of responses; what is withheld with its reason."""
    for form in audit.forms:
        found = form.statistics
        for name, one in (("alpha", found.alpha), ("sem", found.sem)):
            yield _of(one, form.quiz, name)
        for item in form.items:
            yield from _of_item(item)
            yield from _of_responses(item)


def _of(one: Estimate, quiz: str, name: str, item: str = "", version: int = 0, error: float | None = None) -> Statistic:
    return Statistic(
        quiz=quiz, name=name, value=one.value, n=one.n, item=item, version=version, low=one.low, high=one.high,
        standard_error=error, convention=one.convention, why=one.why,
    )


def _of_item(item: ItemResult) -> Iterator[Statistic]:
    found = item.statistics
    for name, one in (
        ("facility", found.facility), ("item-rest-r", item.rest_r), ("upper-lower-d", item.upper_lower),
        ("omitted", found.omitted), ("not-reached", found.not_reached),
    ):
        yield _of(one, item.quiz, name, item.item, item.version)
    yield _of(item.observed, item.quiz, "rasch-b", item.item, item.version, item.observed_error)


def _of_responses(item: ItemResult) -> Iterator[Statistic]:
    """Give what is to be said of each response; thirds where the item's correlations may be told."""
    told = item.rest_r.value is not None or not item.rest_r.why
    letters = item.facts.letters if item.facts is not None else ()
    for row in item.statistics.responses:
        part = row.response or ("omitted" if letters else "(omitted)")
        about = {"quiz": item.quiz, "item": item.item, "version": item.version, "part": part,
                 "offered": row.response in letters or (not row.response and bool(letters))}
        yield Statistic(
            name="share", value=row.share.value, low=row.share.low, high=row.share.high, n=row.share.n,
            convention=row.share.convention, why=row.share.why, **about,  # type: ignore[arg-type]
        )
        if told:
            for third, share in zip(THIRDS, row.thirds, strict=True):
                yield Statistic(name="share-by-third", category=third, value=share, n=item.statistics.n,
                                **about)  # type: ignore[arg-type]


def write_usage(audit: AfterUse, folder: Path, version: str, day: date) -> list[Path]:
    """Write ``usage-data.xml`` (of QTI *version*) and ``statistics.csv`` into *folder* and return their paths.

    Raises:
        BadInput: a file cannot be written.
    """
    paths = [folder / "usage-data.xml", folder / "statistics.csv"]
    statistics = list(statistics_of(audit))
    context = f"plan {audit.before.info.plan}, {audit.pupils} pupils"
    write_usage_data(
        paths[0], statistics, context=context, day=day, simulated=audit.simulated, version=version
    )
    write_statistics_table(paths[1], statistics, context=context, day=day, simulated=audit.simulated)
    return paths
