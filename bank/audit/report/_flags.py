"""Flags in words: what was tested and what was not, whom the figures leave out, and lists short enough to act on."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import NamedTuple

from bank.audit.after import AfterUse
from bank.audit.flags import KINDS, OF_USE, Flag
from bank.audit.statistics.keys import BY_AGREEMENT

SHOWN_FLAGS = 20
"""Flags of a kind on the page; the tables beside it have them all."""
SHOWN_TEMPLATES = 8
"""Templates of a kind of use on the page."""
_NAMED = 8


class FlagRow(NamedTuple):
    """A flag as the page's table shows it."""

    item: str
    version: int
    quiz: str
    name: str
    why: str
    remedy: str
    n: int
    alarm: bool
    template: str = ""
    more: int = 0
    """Further items of its template with this flag, on which less hangs."""


class FlagGroup(NamedTuple):
    """Flags of one kind."""

    name: str
    remedy: str
    alarm: bool
    count: int
    rows: tuple[FlagRow, ...]
    by_template: bool = False
    """Whether a row stands for all items of its template."""

    @property
    def left(self) -> int:
        """Flags that are on the page neither by themselves nor counted with another."""
        return self.count - sum(1 + row.more for row in self.rows)


def flag_rows(audit: AfterUse) -> list[FlagRow]:
    """Return a row for each flag of items, quizzes and families: the most pressing kind first, in it the weightiest."""
    titles = {form.quiz: form.title for form in audit.forms}
    template = {item.item: item.facts.template for item in audit.items if item.facts is not None}
    raised = [flag for form in audit.forms for flag in form.flags]
    raised += [flag for item in audit.items for flag in item.flags]
    return [
        FlagRow(flag.item or "the quiz", flag.version, titles.get(flag.quiz, ""), flag.name, flag.why, flag.remedy,
                flag.n, flag.alarm, template.get(flag.item, flag.item))
        for flag in sorted([*raised, *audit.family_flags], key=lambda flag: (flag.rank, -flag.weight))
    ]


def flag_groups(rows: Sequence[FlagRow]) -> list[FlagGroup]:
    """Return *rows*, which come by kind, in one group a kind; the first of each are shown.

    Flags of use are shown by template, the item on which most hangs standing for the others.
    """
    of_use = {KINDS[kind][0] for kind in OF_USE}
    made = []
    for name, found in groupby(rows, key=lambda row: row.name):
        members = list(found)
        first, shown = members[0], members[:SHOWN_FLAGS]
        if name in of_use:
            count = Counter(row.template for row in members)
            worst = list({row.template: row for row in reversed(members)}.values())[::-1]
            shown = [row._replace(more=count[row.template] - 1) for row in worst[:SHOWN_TEMPLATES]]
        made.append(FlagGroup(name, first.remedy, first.alarm, len(members), tuple(shown), name in of_use))
    return made


def flag_lines(audit: AfterUse) -> Iterator[tuple[str, str]]:
    """Give what the reader should know first of keys, flags and pupils set aside, as (``ok`` or ``look``, words)."""
    alarms = list(dict.fromkeys(item.item for item in audit.items if any(flag.alarm for flag in item.flags)))
    if alarms:
        more = f" and {len(alarms) - _NAMED} more" if len(alarms) > _NAMED else ""
        yield "look", f"Check the key of {', '.join(alarms[:_NAMED])}{more} first"
    yield from _set_aside(audit)
    yield from _keys(audit)
    flags = [flag for item in audit.items for flag in item.flags]
    wrong = [flag for flag in flags if flag.identifier not in OF_USE]
    if wrong:
        items = len({(flag.quiz, flag.item, flag.version) for flag in wrong})
        yield "look", f"{items} of {len(audit.items)} items to look at: {_counted(wrong)}"
    use = [flag for flag in flags if flag.identifier in OF_USE]
    if use:
        yield "look", f"When and where to use items: {_counted(use)}; grouped by template under Flags"


def _counted(flags: Sequence[Flag]) -> str:
    counts = Counter((flag.rank, flag.name) for flag in flags)
    return ", ".join(f"{name} ({count})" for (_, name), count in sorted(counts.items()))


def _set_aside(audit: AfterUse) -> Iterator[tuple[str, str]]:
    alike, blank = (sum(getattr(one, name) for one in audit.set_aside) for name in ("alike", "blank"))
    parts = [f"{alike} in one letter, one answer or one pattern" if alike else "", f"{blank} nearly all blank" if blank else ""]
    quizzes = sum(one.n > 0 for one in audit.set_aside)
    who = f"the answers of {alike + blank} {'pupil' if alike + blank == 1 else 'pupils'} to a quiz"
    if quizzes > 1:
        who = f"{alike + blank} sets of answers to {quizzes} quizzes, a pupil counted once in each quiz"
    if alike + blank:
        yield "look", (
            f"Set aside: {who}"
            f" ({', '.join(part for part in parts if part)}). They are in no figure below; --count-unusual counts them"
        )
    for one in audit.set_aside:
        if one.why:
            yield "look", f"{one.quiz}: {one.why}. See whether the quiz or the file is at fault"


def _keys(audit: AfterUse) -> Iterator[tuple[str, str]]:
    """Say of how many keys the answers could say anything, and how well."""
    tests = [test for form in audit.forms for test in form.keys]
    tested = [test for test in tests if test.way]
    few = sum(test.way == BY_AGREEMENT for test in tested)
    sound = [test for test in tested if not test.doubts]
    if sound:
        others = "other " if len(sound) < len(tested) else ""
        yield "ok", f"No sign of a wrong key in the {len(sound)} {others}items tested, of {len(tests)}"
    if few:
        needed = int(audit.settings["wrong_key_pupils"])
        yield "look", (
            f"{few} of these keys were tested roughly: with fewer than {needed} pupils only a wrong option that nearly all"
            " choose is noticed, which finds about one wrong key in three"
        )
    missing = [test for test in tests if not test.way]
    if missing:
        sizes = sorted({test.n for test in missing})
        span = f"{sizes[0]}" if len(sizes) == 1 else f"{sizes[0]} to {sizes[-1]}"
        yield "look", (
            f"Keys of {len(missing)} of {len(tests)} items not tested: too few pupils ({span}, {missing[0].needed} needed)"
        )
