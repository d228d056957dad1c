"""What the command ``check`` does: files told apart by their keys, read, and described in one line each."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from bank import sources, topics
from bank.errors import BadInput, Place, Problem, did_you_mean
from bank.fields import BROKEN, Problems
from bank.sources import Node
from bank.templates import Template, read_template

KINDS = ("topic", "locale", "template", "class", "classes", "audit", "plan")
"""Keys that say what a document is, in the order in which documents are read; ``class`` begins the weights, ``audit``
the thresholds."""


class Checked(NamedTuple):
    """What was found."""

    lines: list[str]
    """One line for each file that is well, in order of the files."""
    problems: list[Problem]
    """In order of place, none twice."""
    files: int


def check_files(paths: Iterable[Path]) -> Checked:
    """Return what the files at *paths* say and what is wrong with them; folders stand for all ``.yaml`` below."""
    problems: Problems = []
    files = _files(paths, problems)
    documents: list[tuple[str, Path, Node]] = []
    for path in files:
        try:
            node = sources.parse(sources.read_file(path))
        except BadInput as fault:
            problems += fault.problems
            continue
        kind = _kind(node, problems)
        if kind:
            documents.append((kind, path, node))
    documents.sort(key=lambda document: KINDS.index(document[0]))
    lines = _Checker(problems).lines(documents)
    order = {str(path): number for number, path in enumerate(files)}
    in_order = [line for _, line in sorted(lines, key=lambda pair: order[pair[0]])]
    return Checked(in_order, sorted(dict.fromkeys(problems), key=lambda problem: problem.place), len(files))


def _files(paths: Iterable[Path], problems: Problems) -> list[Path]:
    files: list[Path] = []
    for path in paths:
        inside = sorted(path.rglob("*.yaml")) if path.is_dir() else [path]
        if not inside:
            wrong = "no .yaml file in this folder"
            problems.append(Problem("no-files", Place(str(path)), "", wrong, "check its name"))
        files += [file for file in inside if file not in files]
    return files


def _kind(node: Node, problems: Problems) -> str:
    """Return the kind of document, empty with a problem added where it is none."""
    if node.kind != "mapping" or not node.entries:
        node.report(problems, "unknown-document", "", f"{node.shown()} stands here", "begin with template: or plan:")
        return ""
    kind = next((key.text for key, _ in node.entries if key.text in KINDS), "")
    if not kind:
        first = node.entries[0][0]
        wrong = f"the first key is {first.text!r}, so this is no template, plan, topic, locale or weights"
        first.report(problems, "unknown-document", "", wrong, did_you_mean(first.text, KINDS))
    return kind


class _Checker:
    def __init__(self, problems: Problems) -> None:
        self.problems = problems
        self.topics: dict[str, topics.Topic] = {}
        self.seen: dict[tuple[str, str], str] = {}

    def _load_topics(self, documents: list[tuple[str, Path, Node]]) -> None:
        """Read the topics that come along: all, or where there are templates only just theirs, which is quicker."""
        wanted = set()
        for kind, _, node in documents:
            named = [value.text for key, value in node.entries if key.text == "topic"] if kind == "template" else []
            wanted.add(f"{named[0]}.yaml" if named else "")
        try:
            paths = [path for path in topics.FOLDER.glob("*.yaml") if path.name in wanted]
            if len(paths) == len(wanted):
                for path in sorted(paths):
                    topic = topics.read_topic(sources.parse(sources.read_file(path)), self.problems)
                    self.topics[path.stem] = topic
            else:
                self.topics = topics.load_topics()
        except BadInput as fault:
            self.problems += fault.problems

    def lines(self, documents: list[tuple[str, Path, Node]]) -> list[tuple[str, str]]:
        """Return file name and line of each document that is well; topics come before what needs them."""
        found = []
        nodes: dict[str, Node] = {}
        self._load_topics(documents)
        for kind, path, node in documents:
            reader = {"topic": self._topic, "locale": self._locale, "template": self._template, "plan": self._plan}
            reader |= {"class": self._weights, "classes": self._classes, "audit": self._thresholds}
            says = reader[kind](path, node)
            if kind == "topic":
                nodes[says] = node
                says = says and f"topic {says}"
            if says:
                found.append((str(path), f"{path}: {says}"))
        self.problems += topics.wrong_order(self.topics, nodes)
        wrong = {problem.place.file for problem in self.problems}
        return [(name, line) for name, line in found if name not in wrong]

    def _once(self, kind: str, identifier: str, node: Node) -> None:
        first = self.seen.setdefault((kind, identifier), node.source.name)
        if first != node.source.name:
            value = next(value for key, value in node.entries if key.text == kind)
            wrong = f"the {kind} {identifier!r} stands in {first} already"
            value.report(self.problems, "duplicate-id", kind, wrong, "give one of them another id")

    def _topic(self, path: Path, node: Node) -> str:
        topic = topics.read_topic(node, self.problems)
        if topic is BROKEN:
            return ""
        own = path.resolve().parent == topics.FOLDER.resolve()
        if topic.identifier in self.topics and not own:
            self.seen.setdefault(("topic", topic.identifier), str(topics.FOLDER / f"{topic.identifier}.yaml"))
        self._once("topic", topic.identifier, node)
        self.topics[topic.identifier] = topic
        return topic.identifier

    def _locale(self, path: Path, node: Node) -> str:
        from bank import locales

        locale = locales.read_locale(node, self.problems)
        if locale is BROKEN:
            return ""
        self._once("locale", locale.identifier, node)
        return f"locale {locale.identifier}"

    def _template(self, path: Path, node: Node) -> str:
        template = read_template(node, self.topics, self.problems)
        if template is BROKEN:
            return ""
        self._once("template", template.identifier, node)
        return describe(template)

    def _weights(self, path: Path, node: Node) -> str:
        from bank import difficulty

        try:
            difficulty.load_weights(path)
        except BadInput as fault:
            self.problems += fault.problems
        return "weights of difficulty"

    def _classes(self, path: Path, node: Node) -> str:
        from bank.audit import classes

        try:
            found = classes.load_classes(path)
        except BadInput as fault:
            self.problems += fault.problems
            return ""
        return f"kinds of classes: {', '.join(found)}"

    def _thresholds(self, path: Path, node: Node) -> str:
        from bank.audit import settings

        try:
            settings.load_settings(path)
        except BadInput as fault:
            self.problems += fault.problems
            return ""
        return "thresholds of the audit"

    def _plan(self, path: Path, node: Node) -> str:
        from bank.plans import read_plan

        plan = read_plan(node, path, self.problems)
        if plan is BROKEN:
            return ""
        self._once("plan", plan.identifier, node)
        items = sum(line.items for line in plan.lines)
        quizzes = f"{len(plan.quizzes)} {'quiz' if len(plan.quizzes) == 1 else 'quizzes'}"
        return f"plan {plan.identifier}: {items} items in {quizzes} and the pool, from {len(plan.templates)} templates"


def describe(template: Template) -> str:
    """Return id, version and yield of *template* in one line."""
    found = template.survey
    kept = f"{found.kept:,} kept"
    if not found.exact:
        low, high = _three_digits(found.admissible - found.margin), _three_digits(found.admissible + found.margin)
        kept = f"about {_three_digits(found.admissible):,} kept (95 % interval {max(low, 1):,} to {high:,})"
    return f"template {template.identifier} version {template.version}: {found.possible:,} draws possible, {kept}"


def _three_digits(number: int) -> int:
    unit = 10 ** max(0, len(str(abs(number))) - 3)
    return (number + unit // 2) // unit * unit
