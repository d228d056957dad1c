"""What the processes hand in, by line of the plan, and what it says of the bank as a whole."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from bank import draw, guessing, panel, refusals
from bank.build._spool import Spool
from bank.build._carrying import OUT_OF_USE, Carrying
from bank.build._demands import Task
from bank.build._prior import Old, Prior
from bank.cues import PANEL
from bank.draw import Demand, Kept
from bank.errors import BadInput, Problem
from bank.model import Finding, Item
from bank.plans import DrawLine, Plan
from bank.questions import question
from bank.store import unpack
from bank.summary import WHOLE_BANK, BuildSummary, FamilyYield, GuessResult, StrategyResult, mistakes_of
from bank.templates import Template
from bank.trees import WEIGHTS

MOST_FINDINGS = 200
"""Findings kept with a bank, errors apart; more are counted by check."""


class Entry(NamedTuple):
    """Where one item of the bank lies in the spool, and what its quiz must know."""

    template: str
    start: int
    length: int
    size: int
    """Options of a choice; 0 for what is answered in another way."""
    key_place: int
    score: int
    """Predicted difficulty, as `bank.model.Prediction.score`."""
    in_order: bool
    """Whether the options stand in numerical order."""
    kind: str
    """How it is answered, as in `bank.summary.BuildSummary.responses`."""


class _Yield:
    """Counts of one template's draws."""

    def __init__(self) -> None:
        self.tried = self.fit = 0
        self.finished: dict[int, bool] = {}
        self.refused: Counter[str] = Counter()
        self.examples: dict[str, str] = {}


class Collected:
    """What the processes handed in so far, by line of the plan."""

    spool: Spool

    def __init__(self, plan: Plan, lines: Sequence[DrawLine], prior: Prior | None = None) -> None:
        self.plan = plan
        self.carrying = Carrying(plan, lines, prior or Prior())
        """Items that people decided about."""
        self._unread = prior.unread if prior else ""
        self.lines = (*lines, *[DrawLine(0)] * (self.carrying.surplus > 0))
        self.entries: list[list[Entry]] = [[] for _ in self.lines]
        self.wanted = sum(line.items for line in lines)
        self.families = {template.identifier: template.family for template in plan.templates}
        """By what the bank calls them."""
        self.withdrawn: dict[str, list[Entry]] = {}
        """By quiz, items out of use that stood in it."""
        self.settled: set[int] = set()
        """Where items begin in the spool that stay in their quiz."""
        self.count = 0
        self._owed: Counter[tuple[int, str]] = Counter()
        """By line and template, items that were left out because people put them out of use."""
        self._templates = {template.identifier: template for template in plan.templates}
        self._questions: set[bytes] = set()
        self._yields: dict[str, _Yield] = {}
        self._shared: dict[int, int] = {}
        self._past: dict[tuple[str, int], Task] = {}
        self._cannot: set[tuple[str, int, int]] = set()
        """(template, shard, line) where a demand could not be met."""
        self._uses: Counter[str] = Counter()
        self._places: Counter[tuple[int, int]] = Counter()
        self._kinds: Counter[str] = Counter()
        self._bands: Counter[tuple[str, str]] = Counter()
        self._findings: list[Finding] = []
        self._more: Counter[tuple[str, str]] = Counter()
        self._accepted = {(one.check, one.item) for one in (prior.trail if prior else ()) if one.decision == "accept"}

    def take(self, task: Task, batch: draw.Batch) -> None:
        """Add what *task* gave, leaving out questions that the bank has already."""
        name = task.template.identifier
        self._past[name, task.shard] = task
        found = self._yields.setdefault(name, _Yield())
        found.tried += batch.tried
        found.fit += batch.fit
        found.finished[task.shard] = batch.finished
        found.refused.update(batch.refused)
        found.examples = batch.examples | found.examples
        demands = task.rounds[-1][0]
        for demand, short in zip(demands, batch.short, strict=True):
            if short:
                self._cannot.add((name, task.shard, demand.line))
        dropped = set()
        for kept in batch.kept:
            line = demands[kept.demand].line
            refusal = self.carrying.refuses(kept)
            if refusal:
                found.refused[refusal] += 1
                dropped.add(kept.identifier)
                self._owed[line, name] += refusal == OUT_OF_USE
                continue
            if kept.question in self._questions:
                found.refused[draw.SAME_QUESTION] += 1
                dropped.add(kept.identifier)
                continue
            self._add(line, name, kept)
        self.note(finding for finding in batch.findings if finding.item not in dropped)

    def put_in(self) -> None:
        """Put the kept items in that were not drawn again, each in place of the last sibling of a full line."""
        for old, kept in self.carrying.withdrawn():
            self.withdrawn.setdefault(old.quiz, []).append(self._laid_down(self._family_key(old), kept))
        for line, old, kept in self.carrying.left():
            family = old.item.family
            key = self._family_key(old)
            if self.lines[line].items and len(self.entries[line]) >= self.lines[line].items:
                self._drop_last(line, family.template)
            self._add(line, key, kept)
            self.settled.add(self.entries[line][-1].start)
            self.carrying.say_where(old, self.lines[line].quiz)
        self._questions |= self.carrying.questions
        self.note(self.carrying.findings())

    def _family_key(self, old: Old) -> str:
        """Return what the bank calls the family of *old*, which is that of its template or one carried over."""
        family = old.item.family
        if family != self.families.get(family.key):
            family = replace(family, carried=True)
        self.families[family.key] = family
        return family.key

    def _drop_last(self, line: int, template: str) -> None:
        """Let go of the last item of *line* that is not held fast, of this *template* where there is one."""
        last = sorted(reversed(self.entries[line]), key=lambda entry: entry.template != template)
        entry = next(filter(self._may_go, last), None)
        if entry is None:
            return
        self.entries[line].remove(entry)
        item = self.item(entry)
        self.count -= 1
        self._questions.discard(question(item.stem, item.operands, item.family.operation))
        if entry.size:
            self._places[entry.size, entry.key_place] -= 1
        self._kinds[entry.kind] -= 1
        self._uses.subtract(set(mistakes_of(item)))
        self._bands[item.family.topic, item.prediction.band] -= 1
        self._findings = [finding for finding in self._findings if finding.item != item.identifier]

    def _may_go(self, entry: Entry) -> bool:
        return entry.start not in self.settled and self.kept(entry)[0] not in self.carrying.came

    def item(self, entry: Entry) -> Item:
        """Return the item that lies at *entry*."""
        identifier, _, content = self.kept(entry)
        return unpack(identifier, self.families[entry.template], content)

    def keep_in_quizzes(self) -> None:
        """See that kept items that were drawn again stand in the quiz in which they stood, where the plan allows it."""
        came = self.carrying.came
        if not came:
            return
        places = {self.kept(entry)[0]: (line, at) for line, entries in enumerate(self.entries)
                  for at, entry in enumerate(entries)}
        for identifier, old in came.items():
            line, at = places[identifier]
            here = self.entries[line][at]
            if self.lines[line].quiz != old.quiz:
                self._exchange_for(line, at, old)
            self.settled.add(here.start)

    def _exchange_for(self, line: int, at: int, old: Old) -> None:
        """Exchange the entry *at* that place of *line*, which is *old*, for one of its quiz; say so where none fits."""
        for other, wants in enumerate(self.lines):
            if wants.quiz != old.quiz or not self.carrying.wants(wants, old.item):
                continue
            for place, entry in reversed(list(enumerate(self.entries[other]))):
                if self._may_go(entry) and self.carrying.wants(self.lines[line], self.item(entry)):
                    self.entries[other][place], self.entries[line][at] = self.entries[line][at], entry
                    return
        self.carrying.say_where(old, self.lines[line].quiz)

    def note(self, findings: Iterable[Finding]) -> None:
        """Keep *findings*, those beyond `MOST_FINDINGS` as a count by check; warnings that were accepted are all kept."""
        for finding in findings:
            told = finding.severity == "error" or (finding.check, finding.item) in self._accepted
            if told or len(self._findings) < MOST_FINDINGS:
                self._findings.append(finding)
            else:
                self._more[finding.check, finding.severity] += 1

    def _laid_down(self, name: str, kept: Kept) -> Entry:
        """Put *kept* into the spool and return where it lies."""
        start, length = self.spool.put(f"{kept.identifier}\n{kept.band}\n{kept.content}".encode())
        self.spool.put(kept.earned)
        return Entry(
            name, start, length, kept.size, kept.key_place, self._shared.setdefault(kept.score, kept.score),
            kept.in_order, sys.intern(kept.kind),
        )

    def _add(self, line: int, name: str, kept: Kept) -> None:
        self.entries[line].append(self._laid_down(name, kept))
        self.count += 1
        self._questions.add(kept.question)
        if kept.size:
            self._places[kept.size, kept.key_place] += 1
        self._kinds[kept.kind] += 1
        self._uses.update(set(kept.mistakes))
        self._bands[self.families[name].topic, kept.band] += 1

    def _short(self) -> list[int]:
        return [line.items - len(entries) for line, entries in zip(self.lines, self.entries, strict=True)]

    def missing_tasks(self, seed: int, least: int = 1) -> list[Task]:
        """Return tasks for what is still missing, from shards that have not failed it, at *least* so many items each.

        A shard that is asked again is drawn from its beginning, so asking few shards for more saves time.
        """
        wanted: dict[tuple[str, int], list[Demand]] = {}
        for place, short in enumerate(self._short()):
            line = self.lines[place]
            if short <= 0:
                continue
            fitting = [template for template in line.fitting(self.plan.templates) if self._has_room(template)]
            fitting.sort(key=lambda template: -self._owed[place, template.identifier])
            sources = [
                (template.identifier, shard)
                for template in fitting
                for shard in range(self._shards(template.identifier))
                if (template.identifier, shard, place) not in self._cannot
            ]
            asked = sources[: -(-short // least)]
            for turn, source in enumerate(asked):
                count = draw.share_of(short, turn, len(asked))
                if count:
                    wanted.setdefault(source, []).append(Demand(place, count, line.mistake, line.band, line.shows_feedback))
        taken = frozenset(self._questions)
        tasks = []
        for (name, shard), demands in sorted(wanted.items()):
            past = self._past.get((name, shard))
            rounds = (*(past.rounds if past else ()), (tuple(demands), taken))
            shards = past.shards if past else 1
            weights = self.plan.tree.setting(WEIGHTS)
            tasks.append(Task(self._templates[name], self.plan.locale, seed, shard, shards, rounds, weights))
        return tasks

    def _has_room(self, template: Template) -> bool:
        if template.draws is None:
            return True
        kept = sum(entry.template == template.identifier for entries in self.entries for entry in entries)
        return kept < template.draws

    def _shards(self, name: str) -> int:
        return max((task.shards for (other, _), task in self._past.items() if other == name), default=1)

    def refuse_what_is_short(self) -> None:
        """Raise, where lines stayed short, what they lack and what refused most.

        Raises:
            BadInput: ``plan-too-much``, one problem a line.
        """
        problems = []
        for place, short in enumerate(self._short()):
            if short > 0:
                problems.append(self._too_much(self.lines[place], short))
        if problems:
            raise BadInput(problems)

    def _too_much(self, line: DrawLine, short: int) -> Problem:
        told = []
        remedy = "ask for fewer, widen the ranges or loosen that constraint, or add a template"
        for template in line.fitting(self.plan.templates):
            found = self._yields.get(template.identifier)
            if found is None:
                continue
            _, failed = refusals.counts(template, found.refused)
            fit = max(0, found.fit - sum(count for reason, count in failed.items() if reason.startswith(draw.CHECK)))
            can, error = draw.admissible(template.space_size, found.tried, fit, all(found.finished.values()))
            about = f"about {can} (\u00b1 {error})" if error else str(can)
            words = f"{template.identifier} has {about} usable draws of {template.space_size}"
            if found.refused:
                words += f": {refusals.why(template, found.tried, found.refused, found.examples)}"
            if 2 * fit < found.fit:
                remedy = "mend what that rule names, ask for fewer, or add a template"
            told.append(words)
        wants = [f"topic {line.topic}" if line.topic else "", f"mistake {line.mistake}" if line.mistake else "",
                 f"band {line.band}" if line.band else ""]
        asked = ", ".join(word for word in wants if word)
        return Problem(
            "plan-too-much", line.place, "items",
            f"this line asks for {line.items} items{f' ({asked})' if asked else ''}, {short} could not be made; "
            + "; ".join(told),
            remedy,
        )

    def settle(self) -> None:
        """Let go of what only drawing needed, so that writing has room: nothing is drawn from here on."""
        self._questions = set()

    def pool(self) -> list[Entry]:
        """Return the items that belong to no quiz."""
        return self.of_quiz("")

    def of_quiz(self, quiz: str) -> list[Entry]:
        """Return the items of *quiz* in the order of its lines."""
        return [
            entry for line, entries in zip(self.lines, self.entries, strict=True) if line.quiz == quiz
            for entry in entries
        ]

    def rows(self, order: Iterable[Entry]) -> Iterator[tuple[str, str, str, str]]:
        """Yield what the store keeps, in *order*."""
        for entry in order:
            identifier, band, content = self.kept(entry)
            yield identifier, entry.template, band, content

    def kept(self, entry: Entry) -> tuple[str, str, str]:
        """Return identifier, band and packed content of an item."""
        identifier, band, content = self.spool.get(entry.start, entry.length).decode().split("\n", 2)
        return identifier, band, content

    def _panel(self) -> list[StrategyResult]:
        """Return what the guesser's panel earns on the bank and on each quiz."""
        bank = panel.Tally()
        quizzes = {quiz.identifier: panel.Tally() for quiz in self.plan.quizzes}
        for line, entries in zip(self.lines, self.entries, strict=True):
            for entry in entries:
                if entry.size:
                    earned = self.spool.get(entry.start + entry.length, len(PANEL))
                    bank.add(earned, entry.size)
                    if line.quiz:
                        quizzes[line.quiz].add(earned, entry.size)
        results = bank.results(WHOLE_BANK, 1)
        for quiz, tally in quizzes.items():
            results += tally.results(quiz, len(quizzes))
        return results

    def _guessing(self) -> list[GuessResult]:
        """Return what guessing earns on the further kinds of response."""
        tallies = {kind: guessing.Tally(kind) for kind in sorted(self._kinds) if guessing.size_of(kind)}
        for entries in self.entries:
            for entry in entries:
                if entry.kind in tallies:
                    packed = self.spool.get(entry.start + entry.length, guessing.size_of(entry.kind))
                    tallies[entry.kind].add(packed)
        return [result for tally in tallies.values() for result in tally.results()]

    def summary(self) -> BuildSummary:
        """Return what this build says of itself."""
        kept = Counter(entry.template for entries in self.entries for entry in entries)
        yields = []
        for name, found in sorted(self._yields.items()):
            possible = self._templates[name].space_size
            can, error = draw.admissible(possible, found.tried, found.fit, all(found.finished.values()))
            refused = tuple(sorted(found.refused.items(), key=lambda pair: (-pair[1], pair[0])))
            yields.append(FamilyYield(name, possible, can, error, found.tried, kept[name], refused))
        sizes = sorted({size for size, _ in self._places})
        return BuildSummary(
            families=tuple(yields), panel=tuple(self._panel()), mistake_use=tuple(sorted((name, count) for name, count in self._uses.items() if count)),
            key_places=tuple(
                (f"{size} options", tuple(self._places[size, place] for place in range(size))) for size in sizes
            ),
            findings=tuple(self._findings),
            more=tuple((*name, count) for name, count in sorted(self._more.items())),
            topic_bands=tuple((topic, band, count) for (topic, band), count in sorted(self._bands.items()) if count),
            responses=tuple(sorted((kind, count) for kind, count in self._kinds.items() if count)), guessing=tuple(self._guessing()), before=self.carrying.fates(),
            unread=self._unread,
        )
