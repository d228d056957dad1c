"""Locales: files that say how numbers and signs are written, read into `bank.model.Locale`."""

from __future__ import annotations

from pathlib import Path

from bank import sources, trees
from bank.errors import BadInput, Place, Problem, did_you_mean
from bank.fields import BROKEN, IDENTIFIER, Field, ListOf, OneOf, Pattern, Problems, Record, Text
from bank.model import Locale
from bank.policies import MARKS

FOLDER = trees.SHIPPED / "locales"
"""Locales that come along, one file each, named by id."""

LOCALE = Record(
    "How numbers and signs are written for one kind of class.",
    Field("locale", IDENTIFIER, "Id, the name of the file.", required=True),
    Field("language", Pattern("[a-z]{2,3}(-[A-Z][a-z]{3})?(-[A-Z]{2})?", "a language tag such as en or en-GB"),
          "Language tag of the texts.", required=True),
    Field("decimal_mark", OneOf(".", ","), "What stands before the places.", required=True),
    Field("also_accepted_marks", ListOf(OneOf(".", ","), 0, 1), "Other mark that a typed answer may use.", default=()),
    Field("group_mark", OneOf(".", ",", "'", "\u2019", "none"), "Mark that a typed answer may have between groups of thousands,"
          " as well as a blank; the other one of point and comma where nothing is said.", default=""),
    Field("multiplication", Text(3), "Sign between factors.", default="\u00d7"),
    Field("division", Text(3), "Sign of division.", default="\u00f7"),
    Field("minus", Text(3), "Minus sign.", default="\u2212"),
    Field("list_separator", OneOf(",", ";"), "What separates numbers; never the decimal mark.", default=","),
    Field("note", Text(2000, lines=True), "Words for the next writer.", default=""),
)


def read_locale(node: sources.Node, problems: Problems) -> Locale:
    """Return the locale that *node* describes, or `BROKEN` with its problems added."""
    before = len(problems)
    read = LOCALE.read(node, "", problems)
    if len(problems) > before:
        return BROKEN
    mark = read["decimal_mark"]
    if read["list_separator"] == mark:
        read.at("list_separator").report(
            problems, "mark-twice", "list_separator", f"{mark!r} is the decimal mark already", "write ';'"
        )
    if mark in read["also_accepted_marks"]:
        read.at("also_accepted_marks").report(
            problems, "mark-twice", "also_accepted_marks", f"{mark!r} is the decimal mark already", "delete it"
        )
    if read["group_mark"] == mark:
        read.at("group_mark").report(
            problems, "mark-twice", "group_mark", f"{mark!r} is the decimal mark already", "write none, or another mark"
        )
    if len(problems) > before:
        return BROKEN
    values = {name: value for name, value in read.values.items() if name not in ("locale", "note")}
    groups = values["group_mark"] or next(other for other in MARKS if other != mark)
    values["group_mark"] = "" if groups == "none" else groups
    return Locale(identifier=read["locale"], **values)


def files_of(tree: trees.Tree) -> dict[str, Path]:
    """Return the files of the locales of *tree* by id, which is their name, without reading them."""
    return {path.stem: path for path in (*tree.shipped_files("locales"), *tree.own_files("locales"))}


def load_locale(name: str, tree: trees.Tree = trees.Tree(None, False)) -> Locale:
    """Return the locale *name* of *tree*, by default of those that come along.

    Raises:
        BadInput: there is no such locale, or its file is wrong.
    """
    files = files_of(tree)
    if name not in files:
        remedy = did_you_mean(name, files)
        raise BadInput(Problem("unknown-locale", Place(name), "", f"there is no locale {name!r}", remedy))
    problems: Problems = []
    node = sources.parse(sources.read_file(files[name]))
    locale = read_locale(node, problems)
    if not problems and locale.identifier != name:
        wrong = f"the file is called {files[name].name}"
        node.report(problems, "misnamed", "locale", wrong, f"write locale: {name}, or rename the file")
    if problems:
        raise BadInput(problems)
    return locale
