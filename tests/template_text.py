"""Templates written in tests: a text with a few lines exchanged, read the way files are read."""

from __future__ import annotations

from collections.abc import Mapping

from bank import sources
from bank.errors import BadInput, Problem
from bank.fields import BROKEN
from bank.sources import Source
from bank.templates import Template, read_template
from bank.topics import Topic

TOPICS: Mapping[str, Topic] = {"any": Topic("any", "Any topic", ("OWN 1", "OWN 2"), ())}

_DEFAULTS = {
    "template": "made", "version": "1", "title": "A made template", "topic": "any",
    "parameters": "{a: {from: 1.5, to: 9.5, step: 0.1}, b: {from: 0.25, to: 4.75, step: 0.05}}",
    "operation": "add", "operands": "[a, b]", "key": "a + b", "stem": "Work out {{ work }}.",
}


def text_of(**fields: str) -> str:
    """Return the text of a template: a small addition, with *fields* (YAML each) put in or exchanged."""
    return "".join(f"{name}: {value}\n" for name, value in {**_DEFAULTS, **fields}.items())


def template_of(text: str = "", **fields: str) -> Template:
    """Return the template of *text*, or of `text_of` the *fields*.

    Raises:
        BadInput: as `bank.templates.load_template`.
    """
    problems: list[Problem] = []
    template = read_template(sources.parse(Source("made.yaml", text or text_of(**fields))), TOPICS, problems)
    if problems or template is BROKEN:
        raise BadInput(problems)
    return template


def kept(template: Template, most: int = 200) -> list[tuple[int | str, ...]]:
    """Return up to *most* kept draws of *template*, spread over its space."""
    step = max(1, template.space_size // (most * 5)) | 1
    draws = (template.values_at(index) for index in range(0, template.space_size, step))
    return [values for values in draws if template.check(values) < 0][:most]
