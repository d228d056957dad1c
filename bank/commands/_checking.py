"""What the command ``check`` does: files told apart by their keys, read, tried, and described in one line each."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from bank import sources, topics, trees
from bank.commands._describing import describe, describe_plan
from bank.errors import BadInput, Place, Problem, did_you_mean
from bank.fields import BROKEN, Problems
from bank.sources import Node
from bank.templates import Template, read_template
from bank.trees import Tree

KINDS = ("topic", "locale", "template", "class", "classes", "audit", "plan")
"""Keys that say what a document is, in the order in which documents are read; ``class`` begins the weights, ``audit``
the thresholds."""


class Checked(NamedTuple):
    """What was found."""

    lines: list[str]
    """One line for each file that is well or was not checked, in order of the files."""
    problems: list[Problem]
    """In order of place, none twice."""
    files: int
    notes: list[str]
    """A line for each own file that stands for one that comes along."""


class _Document(NamedTuple):
    kind: str
    path: Path
    node: Node
    tree: Tree


def check_files(paths: Iterable[Path], *, makes_items: bool = True) -> Checked:
    """Return what the files at *paths* say and what is wrong with them; folders stand for all files below.

    Where it *makes items*, a few of each template and those of each plan are made and checked, as a build does it.
    """
    problems: Problems = []
    files, aside = _files(paths, problems)
    documents: list[_Document] = []
    lines = []
    for path, is_named in files.items():
        try:
            node = sources.parse(sources.read_file(path))
        except BadInput as fault:
            problems += fault.problems
            continue
        kind = _kind(node, problems if is_named else [])
        if kind:
            documents.append(_Document(kind, path, node, trees.tree_of(path)))
        elif not is_named:
            lines.append((str(path), f"{path}: not checked: {_NONE}"))
    documents.sort(key=lambda document: KINDS.index(document.kind))
    checker = _Checker(problems, makes_items)
    lines += checker.lines(documents)
    order = {str(path): number for number, path in enumerate(files)}
    in_order = [line for _, line in sorted(lines, key=lambda pair: order[pair[0]])]
    in_order += [f"{path}: not checked: its name does not end in .yaml" for path in aside]
    found = sorted(dict.fromkeys(problems), key=lambda problem: problem.place)
    return Checked(in_order, found, len(files), list(dict.fromkeys(checker.notes)))


_NONE = "no template, plan, topic, locale, weights, classes or thresholds"


def _files(paths: Iterable[Path], problems: Problems) -> tuple[dict[Path, bool], list[Path]]:
    """Return the files to read, with whether they were named themselves, and those of folders that are passed over."""
    files: dict[Path, bool] = {}
    aside: list[Path] = []
    for path in paths:
        if not path.is_dir():
            files[path] = True
            continue
        below = sorted(one for one in path.rglob("*") if one.is_file() and not _is_hidden(one.relative_to(path)))
        inside = [one for one in below if one.suffix == ".yaml"]
        aside += [one for one in below if one.suffix != ".yaml"]
        if not inside:
            wrong = "no .yaml file in this folder"
            problems.append(Problem("no-files", Place(str(path)), "", wrong, "check its name"))
        for one in inside:
            files.setdefault(one, False)
    return files, aside


def _is_hidden(path: Path) -> bool:
    return any(part.startswith((".", "__")) for part in path.parts)


def _kind(node: Node, problems: Problems) -> str:
    """Return the kind of document, empty with a problem added where it is none."""
    if node.kind != "mapping" or not node.entries:
        node.report(problems, "unknown-document", "", f"{node.shown()} stands here", "begin with template: or plan:")
        return ""
    kind = next((key.text for key, _ in node.entries if key.text in KINDS), "")
    if not kind:
        first = node.entries[0][0]
        wrong = f"the first key is {first.text!r}, so this is {_NONE}"
        first.report(problems, "unknown-document", "", wrong, did_you_mean(first.text, KINDS))
    return kind


class _Checker:
    def __init__(self, problems: Problems, makes_items: bool) -> None:
        self.problems = problems
        self.makes_items = makes_items
        self.notes: list[str] = []
        self.given: dict[str, topics.Topic] = {}
        """Topics among the documents, by id."""
        self.known: dict[tuple[Tree, str], dict[str, topics.Topic]] = {}
        self.seen: dict[tuple[str, str, Path | None], str] = {}

    def lines(self, documents: list[_Document]) -> list[tuple[str, str]]:
        """Return file name and line of each document that is well; topics come before what needs them."""
        found = []
        read = {
            "topic": self._topic, "locale": self._locale, "template": self._template, "plan": self._plan,
            "class": self._weights, "classes": self._classes, "audit": self._thresholds,
        }
        for document in documents:
            says = read[document.kind](document)
            if says:
                found.append((str(document.path), f"{document.path}: {says}"))
        for document in documents:
            if document.kind == "topic":
                self._order(document)
        wrong = {problem.place.file for problem in self.problems}
        return [(name, line) for name, line in found if name not in wrong]

    def _topics_for(self, document: _Document) -> dict[str, topics.Topic]:
        """Return the topics that a template may name: those given along, of its tree, and those that come along.

        Only the one it names is read where a file is called so, which is quicker.
        """
        name = next((value.text for key, value in document.node.entries if key.text == "topic"), "")
        if (document.tree, name) not in self.known:
            self.known[document.tree, name] = self._load_topics(document.tree, name)
        return self.known[document.tree, name] | self.given

    def _load_topics(self, tree: Tree, name: str) -> dict[str, topics.Topic]:
        try:
            own, shipped = tree.own_files("topics"), tree.shipped_files("topics")
            for path in (*own, *shipped):
                if path.stem == name:
                    topic = topics.read_topic(sources.parse(sources.read_file(path)), problems := [])
                    if not problems and topic.identifier == name:
                        return {name: topic}
            return topics.load_topics(own, shipped)
        except BadInput as fault:
            self.problems += fault.problems
            return {}

    def _once(self, kind: str, identifier: str, document: _Document) -> None:
        """Refuse an id that another file of the same tree has, and note one that stands for what comes along."""
        first = self.seen.setdefault((kind, identifier, document.tree.own), document.node.source.name)
        if first != document.node.source.name:
            value = next(value for key, value in document.node.entries if key.text == kind)
            wrong = f"the {kind} {identifier!r} stands in {first} already"
            value.report(self.problems, "duplicate-id", kind, wrong, "give one of them another id")
        elif f"{kind}s" in trees.FOLDERS and trees.SHIPPED.resolve() not in document.path.resolve().parents:
            self.notes += trees.replaced(document.tree, f"{kind}s", {identifier: str(document.path)})

    def _topic(self, document: _Document) -> str:
        topic = topics.read_topic(document.node, self.problems)
        if topic is BROKEN:
            return ""
        self._once("topic", topic.identifier, document)
        self.given[topic.identifier] = topic
        return f"topic {topic.identifier}"

    def _order(self, document: _Document) -> None:
        """Check that a topic comes after topics that there are."""
        topic = next(value.text for key, value in document.node.entries if key.text == "topic")
        if topic in self.given and self.given[topic].after:
            try:
                known = topics.load_topics(document.tree.own_files("topics"), document.tree.shipped_files("topics"))
            except BadInput:
                known = {}
            self.problems += topics.wrong_order(known | self.given, {topic: document.node})

    def _locale(self, document: _Document) -> str:
        from bank import locales

        locale = locales.read_locale(document.node, self.problems)
        if locale is BROKEN:
            return ""
        self._once("locale", locale.identifier, document)
        return f"locale {locale.identifier}"

    def _template(self, document: _Document) -> str:
        template = read_template(document.node, self._topics_for(document), self.problems)
        if template is BROKEN:
            return ""
        self._once("template", template.identifier, document)
        return describe(template) + (self._made(template, document) if self.makes_items else "")

    def _made(self, template: Template, document: _Document) -> str:
        from bank.commands import _making  # what makes items is dear to import

        return _making.of_template(template, document.node, document.tree, self.problems)

    def _weights(self, document: _Document) -> str:
        from bank import difficulty

        try:
            difficulty.load_weights(document.path)
        except BadInput as fault:
            self.problems += fault.problems
        return "weights of difficulty"

    def _classes(self, document: _Document) -> str:
        from bank.audit import classes

        try:
            found = classes.load_classes(document.path)
        except BadInput as fault:
            self.problems += fault.problems
            return ""
        return f"kinds of classes: {', '.join(found)}"

    def _thresholds(self, document: _Document) -> str:
        from bank.audit import settings

        try:
            settings.load_settings(document.path)
        except BadInput as fault:
            self.problems += fault.problems
            return ""
        return "thresholds of the audit"

    def _plan(self, document: _Document) -> str:
        from bank.plans import read_plan

        plan = read_plan(document.node, document.path, self.problems)
        if plan is BROKEN:
            return ""
        self._once("plan", plan.identifier, document)
        self.notes += plan.notes
        if not self.makes_items:
            return describe_plan(plan)
        from bank.commands import _making

        return describe_plan(plan) + _making.of_plan(plan, self.problems)
