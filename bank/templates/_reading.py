"""From a file's nodes to a typed template, with everything wrong found in one pass."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bank.fields import BROKEN, Problems, Read
from bank.sources import Node
from bank.templates import _stems
from bank.templates._declaration import LAYOUTS, TEMPLATE
from bank.templates._formulas import Formulas, check_formulas, check_stem, check_use, ordered, read_formulas
from bank.templates._kind_fields import kind_and_settings
from bank.templates._parameters import Derived, Parameter, read_parameters
from bank.templates._settings import check_settings, read_codes, read_response, read_unit
from bank.templates._survey import wrong_draws
from bank.templates._template import Template
from bank.templates._wanted import ResponseWanted
from bank.topics import Topic


def read_template(node: Node, topics: Mapping[str, Topic], problems: Problems) -> Template:
    """Return the template that *node* describes, or `BROKEN` with its problems added."""
    before = len(problems)
    read: Any = TEMPLATE.read(node, "", problems)
    if read is BROKEN:
        return BROKEN
    codes = read_codes(read, topics, problems)
    check_settings(read, problems)
    formulas = read_formulas(read, problems)
    parameters: Any = read["parameters"]
    if parameters is not BROKEN:
        parameters = read_parameters(parameters, read.at("parameters"), problems)
    wanted = None
    if kind_and_settings(read)[0]:
        from bank.templates._kinds import read_kind  # dear to import, and most templates need none of it

        wanted = read_kind(read, problems)
    derived = BROKEN if parameters is BROKEN else ordered(parameters, read["parameters"], problems)
    if derived is not BROKEN:
        check_formulas(read, formulas, parameters, derived, wanted, problems)
        if formulas.stem is not BROKEN:
            check_stem(read, formulas.stem, parameters, derived, read_unit(read), problems)
    if len(problems) > before:
        return BROKEN
    if wanted is None:
        wanted = read_response(read)
    template = _template(read, codes, parameters, derived, formulas, wanted)
    check_use(read, template.recipe, template.stem_parts, wanted, problems)
    if len(problems) == before:
        wrong_draws(template, node, problems)
    return BROKEN if len(problems) > before else template


def _template(
    read: Read, codes: tuple[str, ...], parameters: tuple[Parameter, ...], derived: tuple[Derived, ...],
    formulas: Formulas, wanted: ResponseWanted,
) -> Template:
    operation, rounding, feedback = read["operation"], read["rounding"], read["feedback"]
    radical = {name: one["radical"] for name, one in read["parameters"].items()}
    layout, key = "", formulas.key
    if kind_and_settings(read)[0]:
        from bank.templates._kinds import default_key, layout_of

        layout, key = layout_of(wanted), key or default_key(wanted, formulas.operands)
    return Template(
        identifier=read["template"], version=read["version"], title=read["title"], topic=read["topic"], codes=codes,
        parameters=parameters, derived=derived,
        radicals=tuple(name for name, changes in radical.items() if changes is True),
        incidentals=tuple(name for name, changes in radical.items() if changes is False),
        constraints=formulas.constraints, operation=operation,
        layout=layout or read["layout"] or LAYOUTS.get(operation, ("",))[0], operand_parts=formulas.operands,
        key_part=key, rounding=rounding["places"] if rounding else None,
        places=read["places"], unit_words=read_unit(read), stem_parts=formulas.stem, response=wanted,
        mistakes=tuple(read["mistakes"] or ()), hint=_stems.plain_lines(feedback["wrong"]) if feedback else (),
        praise=_stems.plain_lines(feedback["right"]) if feedback else (), show_solution=read["show_solution"],
        context=read["context"], draws=read["draws"], source=read.node.source.name, content=content(read.node),
    )


def content(node: Node) -> str:
    """Return all keys and values of *node* but the note as one text that the file's layout does not change."""
    entries = [entry for entry in node.entries if entry[0].text != "note"]
    return repr([(key.text, _plain(value)) for key, value in sorted(entries, key=lambda entry: entry[0].text)])


def _plain(node: Node) -> Any:
    if node.kind == "scalar":
        return node.text
    if node.kind == "list":
        return [_plain(item) for item in node.items]
    return [(key.text, _plain(value)) for key, value in node.entries]
