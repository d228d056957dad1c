"""The table of counts arranged by item and response, with exact whole sums."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, Counts

MARK = 1000
"""Thousandths in a mark: the credit of a full answer to one item."""
_LARGEST = 2**63 - 1


@dataclass(frozen=True, kw_only=True, slots=True)
class ItemTable:
    """Cells of one item, of the pupils who were given it and reached it (omitted ones among them)."""

    index: int
    response: np.ndarray
    """int64 [C]: response code or `OMITTED`, ascending."""
    total: np.ndarray
    """int64 [C]: total in thousandths."""
    credit: np.ndarray
    """int64 [C]: credit of the response in thousandths."""
    n: np.ndarray
    """int64 [C]"""
    not_reached: int
    not_given: int

    @property
    def rest(self) -> np.ndarray:
        """Total of the other items in thousandths, by cell."""
        return self.total - self.credit

    @property
    def persons(self) -> int:
        """Pupils who were given the item and reached it."""
        return int(self.n.sum())


@dataclass(frozen=True, kw_only=True, slots=True)
class Table:
    """A form's counts by item, and how the pupils' totals are spread."""

    items: tuple[ItemTable, ...]
    totals: np.ndarray
    """int64 [T]: distinct totals, ascending."""
    pupils: np.ndarray
    """int64 [T]: pupils with each."""

    @property
    def persons(self) -> int:
        """N."""
        return int(self.pupils.sum())


def chosen_groups(counts: Counts, groups: Iterable[str] | None) -> np.ndarray:
    """Return a mask of the cells that belong to *groups* (names; None means all).

    Raises:
        KeyError: no group has such a name.
    """
    if groups is None:
        return np.ones(len(counts.n), dtype=bool)
    known = {name: index for index, name in enumerate(counts.groups)}
    return np.isin(counts.group, [known[name] for name in groups])


def arrange(counts: Counts, groups: Iterable[str] | None = None) -> Table:
    """Return the cells of *counts* by item, *groups* taken together (None means all)."""
    mask = chosen_groups(counts, groups)
    item = counts.item[mask].astype(np.int64)
    response = counts.response[mask].astype(np.int64)
    total = counts.total[mask].astype(np.int64)
    n = counts.n[mask].astype(np.int64)
    order = np.lexsort((total, response, item))
    item, response, total, n = item[order], response[order], total[order], n[order]
    ends = np.searchsorted(item, np.arange(len(counts.form.items) + 1))
    tables = tuple(
        _item_table(index, counts.form.credits[index], response[a:b], total[a:b], n[a:b])
        for index, (a, b) in enumerate(zip(ends[:-1], ends[1:], strict=True))
    )
    first = slice(ends[0], ends[1]) if len(ends) > 1 else slice(0, 0)
    totals, inverse = np.unique(total[first], return_inverse=True)
    pupils = np.zeros(len(totals), dtype=np.int64)
    np.add.at(pupils, inverse, n[first])
    return Table(items=tables, totals=totals, pupils=pupils)


def _item_table(
    index: int, credits: tuple[int, ...], response: np.ndarray, total: np.ndarray, n: np.ndarray
) -> ItemTable:
    counted = response >= OMITTED
    by_code = np.array((*credits, 0), dtype=np.int64)  # the last one is what OMITTED, -1, looks up
    return ItemTable(
        index=index,
        response=response[counted],
        total=total[counted],
        credit=by_code[response[counted]],
        n=n[counted],
        not_reached=int(n[response == NOT_REACHED].sum()),
        not_given=int(n[response == NOT_GIVEN].sum()),
    )


def exact_sum(*factors: np.ndarray) -> int:
    """Return the sum of the products of whole *factors* of one length, exactly however large."""
    return int(_product(factors).sum()) if len(factors[0]) else 0


def exact_sums(starts: np.ndarray, *factors: np.ndarray) -> list[int]:
    """Return the same for each run of cells: *starts* are the first cells of the runs, ascending, 0 first."""
    return np.add.reduceat(_product(factors), starts).tolist() if len(factors[0]) else []


def _product(factors: tuple[np.ndarray, ...]) -> np.ndarray:
    """The products, as Python integers where their sum might not fit into 64 bits."""
    bound = len(factors[0])
    for factor in factors:
        bound *= int(np.abs(factor).max())
    product = factors[0] if bound <= _LARGEST else factors[0].astype(object)
    for factor in factors[1:]:
        product = product * factor
    return product


def is_dichotomous(credits: tuple[int, ...]) -> bool:
    """Whether every response with these credits is wholly right or wholly wrong."""
    return all(credit in (0, MARK) for credit in credits)
