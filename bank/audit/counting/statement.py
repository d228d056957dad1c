"""The one SQL statement that counts answers where they lie.

It is plain SQL of 1999: a WITH query over a relation with the columns `RELATION`, one row a pupil and item. The key is
part of the statement, so nothing has to be written into the database and reading rights are enough; only where there
are very many different responses does the key go into a temporary table (`key_statements`). It gives two kinds
of rows: the cells of the table (place 0 upwards), and the pupils by group and total (place -1), from which follows who
was not given an item.

The pupils' rows also say how many answers each has and, as a sum of powers of two, to which items. A sum of so many
powers of two has that many ones in binary exactly where no power occurs twice: so it is seen in the same pass whether a
pupil has two answers to one item. Only then is the statement's careful form needed, which is slower.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from bank.audit.counting.keys import BLANK, REFUSED
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED

RELATION = ("pupil", "pupil_group", "quiz", "item", "response")
"""Columns of the relation, all texts; also ``attempt``, a whole number, where there are several."""

BITS = 40
"""Items that one sum of powers of two stands for."""


KEY_TABLE = "stemwright_key"
"""Temporary table for a key with very many responses."""
_INSERTED = 1_000
"""Rows of the key that one statement inserts."""


class Known(NamedTuple):
    """A response to an item, and what it is worth."""

    quiz: str
    item: str
    response: str
    """As it is written in the relation; empty for none."""
    form: int
    """Place of the quiz."""
    place: int
    """Place of the item in the quiz."""
    code: int
    """Code of the response; `REFUSED` where it only says that there was an attempt."""
    credit: int


def spellings_statement(relation: str) -> str:
    """Return the statement that lists the different (quiz, item, response) of *relation* and how often each occurs.

    The item is empty where a row names no pupil.
    """
    return f"""select quiz, item, response, count(*) as n
from (
    select coalesce(quiz, '') as quiz, coalesce(response, '') as response,
        case when coalesce(pupil, '') = '' then '' else coalesce(item, '') end as item
    from {relation}
) answer
group by quiz, item, response"""


def key_statements(known: Sequence[Known], items: int) -> Iterator[str]:
    """Yield the statements that put the key into a temporary table; *known* is then given as none below."""
    bits = _bits(items)
    columns = ", ".join([f"{bit} bigint" for bit in bits])
    yield (
        f"create temporary table {KEY_TABLE} (quiz varchar(400), item varchar(400), response varchar(4000),"
        f" form integer, place integer, code integer, credit integer, {columns})"
    )
    for at in range(0, len(known), _INSERTED):
        rows = ",\n".join([_row(one, len(bits)) for one in known[at : at + _INSERTED]])
        yield f"insert into {KEY_TABLE} values\n{rows}"


def counting_statement(
    relation: str, known: Sequence[Known], items: int, *, attempts: str = "", careful: bool = False
) -> str:
    """Return the statement that counts *relation* by the key *known* (empty: the temporary table's).

    Its columns: form, pupil_group (empty where the pupil's rows name none, or two), place, code, total, n, answers,
    and one or more sums of powers of two; `items` is the most items that a quiz has. *attempts* is ``first`` or
    ``last`` where the relation has several attempts. The *careful* form counts two equal answers of a pupil to one
    item once, and two different ones not at all.
    """
    bits = _bits(items)
    sums = [bit.replace("bit", "seen") for bit in bits]
    source = _source(relation, bits, attempts)
    parts = [_key(known, bits)]
    if careful:
        parts.append(_single(source, bits))
        source = "single"
    parts += [_person(source, bits, sums), _run(source), _cell(source)]
    names = ", ".join(sums)
    return "with " + ",\n".join(parts) + f"""
select form, pupil_group, place, code, total, count(*) as n, 0 as answers, {", ".join(["0"] * len(sums))}
from cell
group by form, pupil_group, place, code, total
union all
select form, pupil_group, -1, 0, total, count(*), answers, {names}
from person
group by form, pupil_group, total, answers, {names}"""


def doubles_statement(relation: str, known: Sequence[Known], items: int, *, attempts: str = "") -> str:
    """Return the statement that counts where a pupil has several answers to one item: (1 where they differ, n)."""
    bits = _bits(items)
    return f"""with {_key(known, bits)}
select differ, count(*) as n
from (
    select case when min(code) = max(code) then 0 else 1 end as differ
    from {_source(relation, bits, attempts)} answer
    group by pupil, form, place
    having count(*) > 1
) doubled
group by differ"""


def _bits(items: int) -> list[str]:
    return [f"bit{chunk}" for chunk in range(-(-max(1, items) // BITS))]


def _key(known: Sequence[Known], bits: Sequence[str]) -> str:
    if not known:
        return f"known as (select * from {KEY_TABLE})"
    rows = ",\n".join([_row(one, len(bits)) for one in known])
    return f"known (quiz, item, response, form, place, code, credit, {', '.join(bits)}) as (values\n{rows}\n)"


def _source(relation: str, bits: Sequence[str], attempts: str) -> str:
    """Return the query, in brackets, of the answers that count.

    It is written out wherever it is used: as a named query some engines would keep all its rows. The answers come first
    and the key is joined crosswise, which every engine makes a join by look-up, and SQLite one in this order.
    """
    names = ", ".join(bits)
    taken = f"""(
    select answer.pupil, answer.pupil_group, {"answer.attempt, " if attempts else ""}known.form, known.place,
        known.code, known.credit, {names}
    from {relation} answer
    cross join known
    where answer.pupil <> '' and known.quiz = coalesce(answer.quiz, '') and known.item = answer.item
        and known.response = coalesce(answer.response, '')
)"""
    if not attempts:
        return taken
    pick = "max" if attempts == "last" else "min"
    return f"""(
    select taken.pupil, taken.pupil_group, taken.form, place, code, credit, {names}
    from {taken} taken
    join (
        select pupil, form, {pick}(coalesce(attempt, 1)) as attempt
        from {taken} taken
        group by pupil, form
    ) which on which.pupil = taken.pupil and which.form = taken.form
        and which.attempt = coalesce(taken.attempt, 1)
    where code <> {REFUSED}
)"""


def _row(one: Known, chunks: int) -> str:
    bits = [0] * chunks
    bits[one.place // BITS] = 1 << one.place % BITS
    texts = ", ".join([literal(text) for text in (one.quiz, one.item, one.response)])
    return f"({texts}, {one.form}, {one.place}, {one.code}, {one.credit}, {', '.join(map(str, bits))})"


def literal(text: str) -> str:
    """Return *text* as an SQL string."""
    return "'" + text.replace("'", "''") + "'"


def _single(source: str, bits: Sequence[str]) -> str:
    largest = ", ".join([f"max({bit}) as {bit}" for bit in bits])
    # A pupil whose rows name two groups keeps them both here: `person` looks at the smallest and the largest.
    return f"""single as (
    select pupil, form, place,
        case when min(code) = max(code) then min(code) else {NOT_GIVEN} end as code,
        case when min(code) = max(code) then max(credit) else 0 end as credit,
        min(nullif(pupil_group, '')) as pupil_group, max(nullif(pupil_group, '')) as other_group, {largest}
    from {source} answer
    group by pupil, form, place
)"""


def _person(source: str, bits: Sequence[str], sums: Sequence[str]) -> str:
    other = "other_group" if source == "single" else "nullif(pupil_group, '')"
    seen = ", ".join([f"cast(sum({bit}) as bigint) as {name}" for bit, name in zip(bits, sums, strict=True)])
    return f"""person as (
    select pupil, form,
        case when min(nullif(pupil_group, '')) = max({other}) then max({other}) else '' end as pupil_group,
        cast(sum(credit) as bigint) as total,
        max(case when code >= {OMITTED} then place else -1 end) as reached,
        count(*) as answers, {seen}
    from {source} answer
    group by pupil, form
    having max(case when code = {NOT_GIVEN} then 0 else 1 end) > 0
)"""


def _run(source: str) -> str:
    return f"""run as (
    select blank.pupil, blank.form, min(blank.place) as place
    from {source} blank
    join person on person.pupil = blank.pupil and person.form = blank.form
    where blank.code in ({NOT_REACHED}, {BLANK}) and blank.place > person.reached
    group by blank.pupil, blank.form
),
reader as (
    select person.pupil, person.form, person.pupil_group, person.total, person.reached, run.place as first_blank
    from person
    left join run on run.pupil = person.pupil and run.form = person.form
)"""


def _cell(source: str) -> str:
    return f"""cell as (
    select answer.form, reader.pupil_group, answer.place, reader.total,
        case when answer.code <> {BLANK} then answer.code
            when answer.place < reader.reached or answer.place = reader.first_blank then {OMITTED}
            else {NOT_REACHED} end as code
    from {source} answer
    join reader on reader.pupil = answer.pupil and reader.form = answer.form
    where answer.code <> {NOT_GIVEN}
)"""
