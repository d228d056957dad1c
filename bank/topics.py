"""Topics: what a template practises, the curriculum codes it serves, and what comes before it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from bank import sources, trees
from bank.errors import BadInput, Problem
from bank.fields import BROKEN, IDENTIFIER, Field, ListOf, Problems, Record, Text

FOLDER = trees.SHIPPED / "topics"
"""Topics that come along, one file each, named by id."""

TOPIC = Record(
    "A topic: what its templates practise.",
    Field("topic", IDENTIFIER, "Id, used by templates and plans.", required=True),
    Field("title", Text(), "Name for people.", required=True),
    Field("codes", ListOf(Text(60), 0, 60), "Curriculum codes that the topic serves, framework first.", default=()),
    Field("after", ListOf(IDENTIFIER, 0, 20), "Ids of topics that come before this one.", default=()),
    Field("note", Text(2000, lines=True), "Words for the next writer; no pupil sees them.", default=""),
)


class Topic(NamedTuple):
    """A topic as read."""

    identifier: str
    title: str
    codes: tuple[str, ...]
    after: tuple[str, ...]


def read_topic(node: sources.Node, problems: Problems) -> Topic:
    """Return the topic that *node* describes, or `BROKEN` with its problems added."""
    before = len(problems)
    read = TOPIC.read(node, "", problems)
    if len(problems) > before:
        return BROKEN
    return Topic(read["topic"], read["title"], read["codes"], read["after"])


def load_topics(files: Iterable[Path] | None = None, weaker: Iterable[Path] = ()) -> dict[str, Topic]:
    """Return the topics of *files* by id, those that come along by default.

    Those of *weaker* files, which are named by id, are added unless one of *files* has their id.

    Raises:
        BadInput: with everything wrong in all files, ids used twice and unknown ids in ``after`` included.
    """
    problems: Problems = []
    topics: dict[str, Topic] = {}
    nodes: dict[str, sources.Node] = {}
    strong = sorted(FOLDER.glob("*.yaml")) if files is None else list(files)
    for path in (*strong, *weaker):
        if path not in strong and path.stem in topics:
            continue
        try:
            node = sources.parse(sources.read_file(path))
        except BadInput as fault:
            problems += fault.problems
            continue
        topic = read_topic(node, problems)
        if topic is BROKEN:
            continue
        if topic.identifier in topics:
            wrong = f"the topic {topic.identifier!r} stands in {nodes[topic.identifier].source.name} already"
            node.report(problems, "duplicate-id", "topic", wrong, "give one of them another id")
        topics[topic.identifier], nodes[topic.identifier] = topic, node
    problems += wrong_order(topics, nodes)
    if problems:
        raise BadInput(problems)
    return topics


def wrong_order(topics: dict[str, Topic], nodes: dict[str, sources.Node]) -> list[Problem]:
    """Return problems of topics that come after unknown topics; *nodes* are the topics' documents by id."""
    problems: Problems = []
    for identifier, node in nodes.items():
        after = next((value for key, value in node.entries if key.text == "after"), None)
        for item in after.items if after is not None and identifier in topics else ():
            if item.text not in topics:
                item.report_unknown(problems, "after", "topic", item.text, topics)
    return problems
