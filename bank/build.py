"""From a term plan to a bank: the way of the data on one page.

`read_plan` -> share the demands out -> draw (in processes) -> collect -> quizzes -> store -> review page.
What comes out depends on the plan, the templates, the seed and the version alone, not on how many processes work.
"""

from __future__ import annotations

import multiprocessing
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from bank import __version__, difficulty, draw, panel
from bank.chance import shuffled
from bank.draw import Demand, Drawer, Kept
from bank.errors import BadInput, Place, Problem
from bank.model import BankInfo, Finding, Locale, Quiz, Section
from bank.plans import DrawLine, Plan, PlannedQuiz
from bank.review import write_review
from bank.store import Bank, write_bank
from bank.summary import WHOLE_BANK, BuildSummary, FamilyYield, to_json
from bank.templates import Template

MOST_FINDINGS = 200
"""Findings kept with a bank; more are counted by check."""
LONGEST_RUN = 3
"""Keys that may stand at one place one after the other. Common practice, no source."""
_ROUNDS = 6


class _Entry(NamedTuple):
    """Where one item of the bank lies in the spool, and what its quiz must know."""

    identifier: str
    template: str
    band: str
    start: int
    length: int
    size: int
    key_place: int


class _Task(NamedTuple):
    template: Template
    locale: Locale
    seed: int
    shard: int
    shards: int
    rounds: tuple[tuple[tuple[Demand, ...], frozenset[bytes]], ...]


def build(
    plan: Plan, folder: Path, *, seed: int | None = None, jobs: int = 1,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> BuildSummary:
    """Build the bank of *plan* into *folder* (``bank.sqlite`` and ``review.html``) and return its summary.

    Raises:
        BadInput: the plan asks for more than its templates give (``plan-too-much``), a template's key and its
            written method differ (``key-differs``), or *folder* cannot be written (``cannot-write``).
    """
    number = plan.seed if seed is None else seed
    folder = _usable(folder)
    collected = _Collected(plan, plan.lines)
    with _spool(folder) as spool:
        collected.spool = spool
        _draw_all(collected, _shares(plan, collected.lines), number, jobs, progress)
        quizzes = _quizzes(plan, collected, number)
        summary = collected.summary()
        info = BankInfo(
            title=plan.title, plan=plan.identifier, seed=number, locale=plan.locale, tool_version=__version__,
            invented=plan.invented, rights=plan.rights, checksum=plan.checksum,
        )
        used = {entry.template for entries in collected.entries for entry in entries}
        families = [template.family for template in plan.templates if template.identifier in used]
        order = [entry for quiz, _ in quizzes for entry in quiz] + collected.pool()
        path = folder / "bank.sqlite"
        write_bank(path, info, families, [quiz for _, quiz in quizzes], collected.rows(order), to_json(summary))
    with Bank.open(path) as bank:
        write_review(bank, summary, folder / "review.html")
    return summary


def _usable(folder: Path) -> Path:
    place = Place(str(folder))
    if folder.exists() and not folder.is_dir():
        raise BadInput(Problem("folder-is-a-file", place, "", "is a file", "name a folder after -o"))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise BadInput(Problem(
            "cannot-write", place, "", f"the folder cannot be made ({error.strerror})", "name another folder"
        )) from error
    return folder


@contextmanager
def _spool(folder: Path) -> Iterator["_Spool"]:
    try:
        with tempfile.TemporaryFile(dir=folder) as file:
            yield _Spool(file)
    except OSError as error:
        raise BadInput(Problem(
            "cannot-write", Place(str(folder)), "", f"cannot be written ({error.strerror}); nothing was changed",
            "name a folder that you may write to, on a disk with room",
        )) from error


class _Spool:
    """Packed items on their way from the processes to the bank, on the disk instead of in memory."""

    def __init__(self, file: "tempfile._TemporaryFileWrapper[bytes]") -> None:
        self._file = file
        self._end = 0

    def put(self, content: str) -> tuple[int, int]:
        """Keep *content*; return where it starts and how long it is, in bytes."""
        data = content.encode()
        self._file.write(data)
        start, self._end = self._end, self._end + len(data)
        return start, len(data)

    def get(self, start: int, length: int) -> str:
        """Return what `put` kept there."""
        self._file.seek(start)
        return self._file.read(length).decode()


# ---- demands -------------------------------------------------------------------------------------------------------


def _shares(plan: Plan, lines: Sequence[DrawLine]) -> dict[str, list[Demand]]:
    """Share each line's items out over the templates that fit it, those used least first."""
    load: Counter[str] = Counter()
    shares: dict[str, list[Demand]] = {template.identifier: [] for template in plan.templates}
    for place, line in enumerate(lines):
        fitting = sorted(line.fitting(plan.templates), key=lambda t: (load[t.identifier], t.identifier))
        for turn, template in enumerate(fitting):
            name = template.identifier
            count = draw.share_of(line.items, turn, len(fitting))
            if template.draws is not None:
                count = min(count, template.draws - load[name])
            if count > 0:
                load[name] += count
                shares[name].append(Demand(place, count, line.mistake, line.band))
    return shares


def _tasks(plan: Plan, shares: dict[str, list[Demand]], seed: int) -> list[_Task]:
    tasks = []
    for template in plan.templates:
        demands = shares[template.identifier]
        if not demands:
            continue
        shards = draw.shards_for(template, sum(demand.count for demand in demands))
        for shard in range(shards):
            part = tuple(demand._replace(count=draw.share_of(demand.count, shard, shards)) for demand in demands)
            tasks.append(_Task(template, plan.locale, seed, shard, shards, ((part, frozenset()),)))
    return tasks


def _draw_all(
    collected: "_Collected", shares: dict[str, list[Demand]], seed: int, jobs: int,
    progress: Callable[[int, int], None],
) -> None:
    """Draw until every demand is met; what doubles leave open is drawn again from the same shards, then elsewhere."""
    tasks = _tasks(collected.plan, shares, seed)
    for _ in range(_ROUNDS):
        for task, batch in _run(tasks, jobs):
            collected.take(task, batch)
            progress(collected.count, collected.wanted)
        tasks = collected.missing_tasks(seed)
        if not tasks:
            return
    collected.give_up()


def _run(tasks: Sequence[_Task], jobs: int) -> Iterator[tuple[_Task, draw.Batch]]:
    if jobs <= 1 or len(tasks) <= 1:
        for task in tasks:
            yield task, _work(task)
        return
    methods = multiprocessing.get_all_start_methods()
    context = multiprocessing.get_context("fork" if "fork" in methods else "spawn")
    with context.Pool(min(jobs, len(tasks))) as pool:
        yield from zip(tasks, pool.imap(_work, tasks), strict=True)


def _work(task: _Task) -> draw.Batch:
    weights = difficulty.load_weights()
    drawer = Drawer(
        task.template, task.locale, weights, task.seed, sum(demand.count for demand in task.rounds[0][0]),
        task.shard, task.shards,
    )
    batch = drawer.more(*task.rounds[0])
    for demands, taken in task.rounds[1:]:
        batch = drawer.more(demands, taken)
    return batch


# ---- collecting ----------------------------------------------------------------------------------------------------


class _Yield:
    def __init__(self) -> None:
        self.tried = self.fit = 0
        self.finished: dict[int, bool] = {}
        self.refused: Counter[str] = Counter()


class _Collected:
    """What the processes handed in so far, by line of the plan."""

    spool: _Spool

    def __init__(self, plan: Plan, lines: Sequence[DrawLine]) -> None:
        self.plan = plan
        self.lines = lines
        self.entries: list[list[_Entry]] = [[] for _ in lines]
        self.wanted = sum(line.items for line in lines)
        self.count = 0
        self._templates = {template.identifier: template for template in plan.templates}
        self._questions: set[bytes] = set()
        self._identifiers: set[str] = set()
        self._yields: dict[str, _Yield] = {}
        self._past: dict[tuple[str, int], _Task] = {}
        self._exhausted: set[tuple[str, int]] = set()
        quizzes = [quiz.identifier for quiz in plan.quizzes]
        self._panel = {scope: panel.Tally() for scope in [WHOLE_BANK, *quizzes]}
        self._uses: Counter[str] = Counter()
        self._places: Counter[tuple[int, int]] = Counter()
        self._bands: Counter[tuple[str, str]] = Counter()
        self._findings: list[Finding] = []
        self._uncounted: Counter[str] = Counter()

    def take(self, task: _Task, batch: draw.Batch) -> None:
        """Add what *task* gave, leaving out questions that the bank has already."""
        name = task.template.identifier
        self._past[name, task.shard] = task
        found = self._yields.setdefault(name, _Yield())
        found.tried += batch.tried
        found.fit += batch.fit
        found.finished[task.shard] = batch.finished
        found.refused.update(batch.refused)
        if batch.finished:
            self._exhausted.add((name, task.shard))
        demands = task.rounds[-1][0]
        dropped = set()
        for kept in batch.kept:
            line = demands[kept.demand].line
            if kept.question in self._questions or kept.identifier in self._identifiers:
                found.refused[draw.SAME_QUESTION] += 1
                dropped.add(kept.identifier)
                continue
            self._add(line, name, kept)
        for finding in batch.findings:
            if finding.item in dropped:
                continue
            if len(self._findings) < MOST_FINDINGS:
                self._findings.append(finding)
            else:
                self._uncounted[finding.check] += 1

    def _add(self, line: int, name: str, kept: Kept) -> None:
        start, length = self.spool.put(kept.content)
        self.entries[line].append(
            _Entry(kept.identifier, name, kept.band, start, length, kept.size, kept.key_place)
        )
        self.count += 1
        self._questions.add(kept.question)
        self._identifiers.add(kept.identifier)
        if kept.size:
            self._panel[WHOLE_BANK].add(kept.earned, kept.size)
            self._places[kept.size, kept.key_place] += 1
            quiz = self.lines[line].quiz
            if quiz:
                self._panel[quiz].add(kept.earned, kept.size)
        self._uses.update(set(kept.mistakes))
        self._bands[self._templates[name].family.topic, kept.band] += 1

    def _short(self) -> list[int]:
        return [line.items - len(entries) for line, entries in zip(self.lines, self.entries, strict=True)]

    def missing_tasks(self, seed: int) -> list[_Task]:
        """Return tasks for what is still missing, from shards with draws left, the least used template first."""
        wanted: dict[tuple[str, int], list[Demand]] = {}
        for place, short in enumerate(self._short()):
            line = self.lines[place]
            if short <= 0:
                continue
            fitting = [template for template in line.fitting(self.plan.templates) if self._has_room(template)]
            sources = [
                (template.identifier, shard)
                for template in fitting
                for shard in range(self._shards(template.identifier))
                if (template.identifier, shard) not in self._exhausted
            ]
            for turn, source in enumerate(sources):
                count = draw.share_of(short, turn, len(sources))
                if count:
                    wanted.setdefault(source, []).append(Demand(place, count, line.mistake, line.band))
        taken = frozenset(self._questions)
        tasks = []
        for (name, shard), demands in sorted(wanted.items()):
            past = self._past.get((name, shard))
            rounds = (*(past.rounds if past else ()), (tuple(demands), taken))
            shards = past.shards if past else 1
            tasks.append(_Task(self._templates[name], self.plan.locale, seed, shard, shards, rounds))
        return tasks

    def _has_room(self, template: Template) -> bool:
        if template.draws is None:
            return True
        kept = sum(entry.template == template.identifier for entries in self.entries for entry in entries)
        return kept < template.draws

    def _shards(self, name: str) -> int:
        return max((task.shards for (other, _), task in self._past.items() if other == name), default=1)

    def give_up(self) -> None:
        """Say which lines stay short, of what, and what refused most."""
        problems = []
        for place, short in enumerate(self._short()):
            if short > 0:
                problems.append(self._too_much(self.lines[place], short))
        if problems:
            raise BadInput(problems)

    def _too_much(self, line: DrawLine, short: int) -> Problem:
        told = []
        for template in line.fitting(self.plan.templates):
            found = self._yields.get(template.identifier)
            if found is None:
                continue
            can, error = draw.admissible(template.space_size, found.tried, found.fit, all(found.finished.values()))
            about = f"about {can} (\u00b1 {error})" if error else str(can)
            words = f"{template.identifier} has {about} usable draws of {template.space_size}"
            if found.refused:
                reason, count = found.refused.most_common(1)[0]
                words += f"; most were refused by: {reason} ({count} of {found.tried} tried)"
            told.append(words)
        wants = [f"topic {line.topic}" if line.topic else "", f"mistake {line.mistake}" if line.mistake else "",
                 f"band {line.band}" if line.band else ""]
        asked = ", ".join(word for word in wants if word)
        return Problem(
            "plan-too-much", line.place, "items",
            f"this line asks for {line.items} items{f' ({asked})' if asked else ''}, {short} could not be made; "
            + "; ".join(told),
            "ask for fewer, widen the ranges or loosen that constraint, or add a template",
        )

    def pool(self) -> list[_Entry]:
        """Return the items that belong to no quiz."""
        return self.of_quiz("")

    def of_quiz(self, quiz: str) -> list[_Entry]:
        """Return the items of *quiz* in the order of its lines."""
        return [
            entry for line, entries in zip(self.lines, self.entries, strict=True) if line.quiz == quiz
            for entry in entries
        ]

    def rows(self, order: Iterable[_Entry]) -> Iterator[tuple[str, str, str, str]]:
        """Yield what the store keeps, in *order*."""
        for entry in order:
            yield entry.identifier, entry.template, entry.band, self.spool.get(entry.start, entry.length)

    def summary(self) -> BuildSummary:
        """Return what this build says of itself."""
        kept = Counter(entry.template for entries in self.entries for entry in entries)
        yields = []
        for name, found in sorted(self._yields.items()):
            possible = self._templates[name].space_size
            can, error = draw.admissible(possible, found.tried, found.fit, all(found.finished.values()))
            refused = tuple(sorted(found.refused.items(), key=lambda pair: (-pair[1], pair[0])))
            yields.append(FamilyYield(name, possible, can, error, found.tried, kept[name], refused))
        results = []
        for scope, tally in self._panel.items():
            results += tally.results(scope, 1 if scope == WHOLE_BANK else len(self._panel) - 1)
        sizes = sorted({size for size, _ in self._places})
        typed = self.count - sum(self._places.values())
        findings = [
            *self._findings,
            *(Finding(check, "report", "", f"{count} more items with this finding", "see the bank") for check, count
              in sorted(self._uncounted.items())),
        ]
        return BuildSummary(
            families=tuple(yields), panel=tuple(results), mistake_use=tuple(sorted(self._uses.items())),
            key_places=tuple(
                (f"{size} options", tuple(self._places[size, place] for place in range(size))) for size in sizes
            ),
            findings=tuple(findings),
            topic_bands=tuple((topic, band, count) for (topic, band), count in sorted(self._bands.items())),
            responses=tuple((kind, count) for kind, count in
                            (("choice", self.count - typed), ("typed", typed)) if count),
        )


# ---- quizzes -------------------------------------------------------------------------------------------------------


def _quizzes(plan: Plan, collected: _Collected, seed: int) -> list[tuple[list[_Entry], Quiz]]:
    made = []
    for planned in plan.quizzes:
        entries = collected.of_quiz(planned.identifier)
        choices = _mixed([entry for entry in entries if entry.size], seed, planned.identifier)
        typed = _mixed([entry for entry in entries if not entry.size], seed, planned.identifier)
        sections = []
        if choices:
            sections.append(Section(title="Choose the answer", items=tuple(e.identifier for e in choices)))
        if typed:
            sections.append(Section(title="Type the answer", items=tuple(e.identifier for e in typed)))
        made.append((choices + typed, _quiz(planned, tuple(sections))))
    return made


def _quiz(planned: PlannedQuiz, sections: tuple[Section, ...]) -> Quiz:
    return Quiz(
        identifier=planned.identifier, title=planned.title, week=planned.week, sections=sections, use=planned.use,
        show_feedback=planned.show_feedback, minutes=planned.minutes, calculator=planned.calculator,
    )


def _mixed(entries: list[_Entry], seed: int, quiz: str) -> list[_Entry]:
    """Mix the items of a section, with no more than `LONGEST_RUN` keys at one place one after the other."""
    order = [entries[place] for place in shuffled(list(range(len(entries))), seed, quiz, "order")]
    for place in range(LONGEST_RUN, len(order)):
        run = {entry.key_place for entry in order[place - LONGEST_RUN : place + 1]}
        if len(run) == 1 and order[place].size:
            other = next((later for later in range(place + 1, len(order))
                          if order[later].key_place != order[place].key_place), None)
            if other is not None:
                order[place], order[other] = order[other], order[place]
    return order
