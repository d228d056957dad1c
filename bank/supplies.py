"""What a plan draws on: its templates, topics and locale, from the folders it names, its own tree, and what comes along."""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

from bank import locales, sources, trees
from bank.errors import BadInput
from bank.fields import BROKEN, Problems, Read
from bank.model import Locale
from bank.sources import Node
from bank.templates import Template, load_templates
from bank.topics import Topic, load_topics
from bank.trees import Tree


class Supplies(NamedTuple):
    """What was found; a part is `BROKEN` where something in it is wrong."""

    tree: Tree
    locale: Locale
    topics: dict[str, Topic]
    templates: tuple[Template, ...]
    template_files: tuple[Path, ...]
    notes: tuple[str, ...]
    """A line for each own file that stands for one that comes along, or is not read for its name."""
    says: tuple[str, ...]
    """What was read, for people: a line for what comes along and one for each own place."""


def find_supplies(read: Read, path: Path, problems: Problems) -> Supplies:
    """Return what the plan *read* from the file at *path* draws on, with what is wrong in it added to *problems*."""
    tree = trees.tree_of(path)
    locale = _locale(read, tree, problems)
    topics, own_topics = _topics(read, path, tree, problems)
    named = _named(read, path, problems)
    templates, own_templates = _templates(named, tree, topics, problems)
    notes = trees.passed_over(tree)
    if templates is not BROKEN and topics is not BROKEN:
        notes += trees.replaced(tree, "topics", _by_id(own_topics, {one: one for one in topics}))
        if named is None:
            notes += trees.replaced(tree, "templates", {
                one.identifier: one.source for one in templates if Path(one.source) in own_templates
            })
    notes += trees.replaced(tree, "locales", _by_id(tree.own_files("locales"), locales.files_of(tree)))
    files = tuple(own_templates if named is not None else [*tree.shipped_files("templates"), *own_templates])
    says = _says(tree, named, own_templates, own_topics)
    return Supplies(tree, locale, topics, templates, files, tuple(notes), tuple(says))


def _by_id(files: list[Path], known: Any) -> dict[str, str]:
    return {path.stem: str(path) for path in files if path.stem in known}


def _says(tree: Tree, named: Any, templates: list[Path], topics: list[Path]) -> list[str]:
    """Return lines that name the places read, with counts of own files."""
    if tree.is_alone and named is None:
        counts = [f"{len(tree.own_files(one))} {one}" for one in trees.FOLDERS]
        return [f"everything from {tree.own}: {', '.join([*counts, *(path.name for path in tree.own_settings())])}"]
    along = [] if named is not None or tree.is_alone else ["templates"]
    along += [] if tree.is_alone else ["topics", "locales"]
    settings = tree.own_settings()
    if not tree.is_alone:
        along += [name for name in trees.SETTINGS if not any(path.name == name for path in settings)]
    lines = [f"{', '.join(along)} that come along"] if along else []
    own = [(templates, "template"), (topics, "topic"), (tree.own_files("locales"), "locale")]
    counts = [f"{len(files)} {one}{'s' if len(files) != 1 else ''}" for files, one in own if files]
    counts += [path.name for path in settings]
    if counts:
        places = dict.fromkeys(_place(path, tree) for files, _ in own for path in files)
        where = ", ".join(map(str, places)) or str(tree.own)
        lines.append(f"{', '.join(counts)} of your own, from {where}")
    return lines


def _place(path: Path, tree: Tree) -> Path:
    """Return the folder to name for *path*: the tree's folder of its kind, else its own folder."""
    if tree.own is not None and path.is_relative_to(tree.own):
        return tree.own / path.relative_to(tree.own).parts[0]
    return path.parent


def _locale(read: Read, tree: Tree, problems: Problems) -> Locale:
    name = read["locale"]
    if name is BROKEN:
        return BROKEN
    try:
        known = locales.files_of(tree)
        if name in known:
            return locales.load_locale(name, tree)
    except BadInput as fault:
        problems += fault.problems
        return BROKEN
    read.at("locale").report_unknown(problems, "locale", "locale", name, known)
    return BROKEN


def _topics(read: Read, path: Path, tree: Tree, problems: Problems) -> tuple[dict[str, Topic], list[Path]]:
    """Return the topics by id, and the files of the own ones."""
    try:
        own = tree.own_files("topics")
        if read["topics"]:
            folder = _inside(read.at("topics"), "topics", path.parent, problems)
            if folder is None:
                return BROKEN, []
            own += [file for file in sorted(folder.glob("*.yaml")) if file not in own]
        return load_topics(own, tree.shipped_files("topics")), own
    except BadInput as fault:
        problems += fault.problems
        return BROKEN, []


def _templates(
    named: list[Path] | None, tree: Tree, topics: Any, problems: Problems
) -> tuple[tuple[Template, ...], list[Path]]:
    """Return the templates in order of their ids, and the files of the own ones."""
    if named is BROKEN or topics is BROKEN:
        return BROKEN, []
    try:
        own = tree.own_files("templates") if named is None else named
        weaker = tree.shipped_files("templates") if named is None else []
        return load_templates(own, topics, weaker), own
    except BadInput as fault:
        problems += fault.problems
        return BROKEN, []


def _inside(node: Node, field: str, folder: Path, problems: Problems) -> Path | None:
    """Return the path that *node* names inside *folder*, or None with the problem added."""
    wanted = sources.file_inside(folder, node.text)
    if wanted is None:
        wrong = f"{node.shown()} leads out of the plan's folder"
        node.report(problems, "climbs-out", field, wrong, "put the files below the plan")
        return None
    if not wanted.exists():
        node.report(problems, "no-file", field, f"there is no file or folder {node.shown()}", "check the name")
        return None
    return wanted


def _named(read: Read, path: Path, problems: Problems) -> list[Path] | None:
    """Return the template files that the plan names, None where it names none."""
    wanted = read["templates"]
    if wanted is BROKEN or wanted is None:
        return wanted
    node = read.at("templates")
    nodes = node.items if node.kind == "list" else (node,)
    files: list[Path] = []
    broken = False
    for one in nodes:
        found = _inside(one, "templates", path.parent, problems)
        if found is None:
            broken = True
            continue
        inside = [found] if found.is_file() else sorted(found.rglob("*.yaml"))
        root = path.parent.resolve()
        if not inside:
            one.report(problems, "no-templates", "templates", f"{one.shown()} holds no .yaml file", "check the name")
        for file in inside:
            if not file.resolve().is_relative_to(root):
                one.report(
                    problems, "climbs-out", "templates", f"{file.name} is a link out of the plan's folder", "copy it"
                )
                broken = True
            elif file not in files:
                files.append(file)
    return BROKEN if broken or not files else files
