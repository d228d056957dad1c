"""Many items of every kind, exported, read back from the packages and answered; prints counts, asserts nothing.

    python tests/benchmarks/round_trip.py [--items 200000] [--targets qti30 qti22 qti21 cc13] [--jobs 2] [--folder DIR]

A bank is built from all templates that come with the tool, and exported whole. Then every item is taken out of the
package, parsed, and answered as pupils might: the right answer, every wrong one that the bank foresees, spellings that
are taken and such that are not, nothing. The response processing found in the file is executed by the interpreters of
the tests (`qti_rules`, `cartridge_rules`), which the exporters do not use, and the share of the marks is compared with
what the bank's own records say. A disagreement is printed, with the item and the answer.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import NamedTuple

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1])]

from lxml import etree

import speed
from bank.answers import accepted_forms
from bank.marking import earned_marks, most_marks
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder, TypedNumber,
)
from bank.store import Bank
from cartridge_rules import Question
from exporters._text import plain_text
from qti_rules import Session

CHUNK = 2500


class Attempt(NamedTuple):
    """An answer, and the share of the marks that it must earn."""

    answer: tuple[str, ...]
    share: Fraction


class Result(NamedTuple):
    """What one chunk of items gave."""

    items: Counter[str]
    answers: Counter[str]
    left_out: Counter[str]
    wrong: list[str]


def attempts(item: Item, locale: Locale) -> Iterator[Attempt]:
    """Yield answers to *item* with the share each must earn, worked out from the item's records."""
    response, one, none = item.response, Fraction(1), Fraction(0)
    if isinstance(response, (Choice, ChooseInLine)):
        yield Attempt((), none)
        for option in response.options:
            yield Attempt((option.identifier,), one if option.is_key else none)
    elif isinstance(response, TypedNumber):
        yield Attempt((), none)
        for text, right in _typed(item, response, locale):
            yield Attempt((text,), one if right else none)
    elif isinstance(response, ChooseSeveral):
        keys = [option.identifier for option in response.options if option.is_key]
        rest = [option.identifier for option in response.options if not option.is_key]
        each = response.credit == "each"
        yield Attempt((), none)
        yield Attempt(tuple(keys), one)
        yield Attempt(tuple(reversed(keys)), one)
        yield Attempt(tuple(keys[1:]), Fraction(len(keys) - 1, len(keys)) if each else none)
        for wrong in rest:
            yield Attempt((*keys, wrong), Fraction(len(keys) - 1, len(keys)) if each else none)
            yield Attempt((wrong,), none)
        yield Attempt((*keys, *rest), Fraction(max(0, len(keys) - len(rest)), len(keys)) if each else none)
    elif isinstance(response, PutInOrder):
        orders = [response.right[::-1], tuple(offer.identifier for offer in response.offers),
                  *(order for order, _ in response.mistakes)]
        yield Attempt((), none)
        yield Attempt(response.right, one)
        for order in orders:
            placed = sum(mine == right for mine, right in zip(order, response.right, strict=True))
            whole = one if order == response.right else none
            yield Attempt(order, Fraction(placed, len(order)) if response.credit == "places" else whole)
    elif isinstance(response, MatchPairs):
        right = [f"{source} {target}" for source, target in response.pairs]
        yield Attempt((), none)
        yield Attempt(tuple(right), one)
        yield Attempt(tuple(reversed(right)), one)
        swaps = [(source, target) for (source, target), _ in response.mistakes]
        for source, target in swaps:
            given = [pair for pair in right if not pair.startswith(f"{source} ")] + [f"{source} {target}"]
            share = Fraction(len(right) - 1, len(right)) if response.credit == "each" else none
            yield Attempt(tuple(given), share)
    else:
        assert isinstance(response, FindMistake)
        half = Fraction(1, 2) if response.credit == "each" else none
        yield Attempt((), none)
        for step in response.steps:
            found = step.identifier == response.right
            if response.typed is None:
                yield Attempt((step.identifier,), one if found else none)
                continue
            typed = _typed(item, response.typed, locale)
            for text, right in typed if found else [typed[0], typed[-1]]:
                share = one if found and right else half if found or right else none
                yield Attempt((step.identifier, text), share)


def _typed(item: Item, response: TypedNumber, locale: Locale) -> list[tuple[str, bool]]:
    """Return texts with whether they are right."""
    forms = accepted_forms(item.key, locale, response.policy, item.family.unit)
    tried = {form: True for form in forms}
    key = locale.number(item.key)
    strange = [f"{key}x", f" {key}", f"{key}1", "", "?", key.replace(locale.decimal_mark, ";"), f"1{key}"]
    for text in (*strange, *(locale.number(wrong) for wrong, _ in response.mistakes)):
        if text:
            tried.setdefault(text, False)
    return list(tried.items())


def _said(item: Item, answer: Sequence[str], locale: Locale) -> Fraction:
    """Return the share by the bank's own marking, a second way to the same number."""
    response = item.response
    whole = isinstance(response, (Choice, ChooseInLine, TypedNumber))
    given: str | Sequence[str] = (answer[0] if answer else "") if whole else answer
    return Fraction(earned_marks(item, given, locale), most_marks(response))


def _by_qti(content: bytes, item: Item, answer: Sequence[str], session: Session) -> Fraction:
    if isinstance(item.response, FindMistake):
        outcomes = session.answer(dict(zip(session.responses, answer)))
    elif isinstance(item.response, (Choice, ChooseInLine, TypedNumber)):
        outcomes = session.answer(answer[0] if answer else None)
    else:
        outcomes = session.answer(list(answer))
    return Fraction(outcomes["SCORE"]) / Fraction(outcomes["MAXSCORE"])


def check(source: Path, package: Path, target: str, first: int) -> Result:
    """Answer the items of *source* from *first* on, `CHUNK` of them, in *package*, and return what differed."""
    result = Result(Counter(), Counter(), Counter(), [])
    with Bank.open(source) as bank, zipfile.ZipFile(package) as files:
        names = set(files.namelist())
        for item in bank.items(start=first, stop=first + CHUNK):
            kind, name = type(item.response).__name__, f"items/{item.identifier}.xml"
            if name not in names:
                result.left_out[kind] += 1
                continue
            content = files.read(name)
            session = Session(content)
            result.items[kind] += 1
            for attempt in attempts(item, bank.info.locale):
                result.answers[kind] += 1
                shares = (_by_qti(content, item, attempt.answer, session), _said(item, attempt.answer, bank.info.locale))
                if shares != (attempt.share, attempt.share):
                    result.wrong.append(f"{target} {item.identifier} {attempt.answer}: {shares}, not {attempt.share}")
    return result


def check_cartridge(source: Path, package: Path, target: str) -> Iterator[Result]:
    """Answer the questions of a cartridge's bank as they come out of its one file.

    Putting in order is asked as a choice of orders; of those the right one must earn everything.
    """
    with Bank.open(source) as bank, zipfile.ZipFile(package) as files:
        (name,) = [name for name in files.namelist() if name != "imsmanifest.xml"]
        locale = bank.info.locale
        with files.open(name) as stream:
            found = etree.iterparse(stream, tag="{*}item", resolve_entities=False, no_network=True)
            waiting = iter(bank.items())
            result = Result(Counter(), Counter(), Counter(), [])
            for _, element in found:
                question = Question(element)
                for item in waiting:
                    if item.identifier == question.identifier:
                        break
                    result.left_out[type(item.response).__name__] += 1
                kind = type(item.response).__name__
                result.items[kind] += 1
                for answer, share in _cartridge_attempts(item, question, locale):
                    result.answers[kind] += 1
                    got = Fraction(question.mark(*answer)[0], 100)
                    if got != share:
                        result.wrong.append(f"{target} {item.identifier} {answer}: {got}, not {share}")
                element.clear()
                while element.getprevious() is not None:
                    del element.getparent()[0]
            result.left_out.update(type(item.response).__name__ for item in waiting)
            yield result


def _cartridge_attempts(
    item: Item, question: Question, locale: Locale
) -> Iterator[tuple[tuple[str, ...], Fraction]]:
    response = item.response
    if isinstance(response, (Choice, ChooseInLine, TypedNumber)):
        yield from attempts(item, locale)
    elif isinstance(response, ChooseSeveral):
        for attempt in attempts(item, locale):
            yield attempt.answer, Fraction(int(attempt.share == 1))
    elif isinstance(response, FindMistake):
        for name in question.options:
            yield (name,), Fraction(int(name == response.right))
    else:
        assert isinstance(response, PutInOrder)
        names = {offer.identifier: plain_text(offer.text, locale) for offer in response.offers}
        right = f"{locale.list_separator} ".join([names[name] for name in response.right])
        assert right in question.options.values()
        for name, text in question.options.items():
            yield (name,), Fraction(int(text == right))


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--items", type=int, default=200_000)
    parser.add_argument("--targets", nargs="+", default=["qti30", "qti22", "qti21", "cc13"])
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--folder", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=options.folder) as name:
        folder = Path(name)
        plan = speed.plan(folder, options.items)
        run = [sys.executable, "-m", "bank.cli"]
        seconds, _ = speed.timed([*run, "build", str(plan), "-o", str(folder)])
        source = folder / "bank.sqlite"
        with Bank.open(source) as bank:
            count = bank.count
        print(f"{count} items built in {seconds:.0f} s", flush=True)
        for target in options.targets:
            spent, _ = speed.timed([*run, "export", str(source), "--as", target, "-o", str(folder)])
            package = folder / target / ("bank.imscc" if target == "cc13" else "bank.zip")
            begun = time.perf_counter()
            total = Result(Counter(), Counter(), Counter(), [])
            with ProcessPoolExecutor(options.jobs) as pool:
                results = check_cartridge(source, package, target) if target == "cc13" else pool.map(
                    partial(check, source, package, target), range(0, count, CHUNK))
                for result in results:
                    total.items.update(result.items)
                    total.answers.update(result.answers)
                    total.left_out.update(result.left_out)
                    total.wrong.extend(result.wrong)
            print(f"{target}: exported in {spent:.0f} s, read and answered in {time.perf_counter() - begun:.0f} s; "
                  f"{total.items.total()} items, {total.answers.total()} answers, {len(total.wrong)} disagreements")
            for kind in sorted(total.items | total.left_out):
                print(f"  {kind:14} {total.items[kind]:7} items {total.answers[kind]:8} answers"
                      f" {total.left_out[kind]:7} left out")
            for line in total.wrong[:20]:
                print(f"  ! {line}")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
