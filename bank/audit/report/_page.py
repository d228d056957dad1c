"""How a page of the audit is put together: templates, style, a policy that lets nothing be fetched."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from bank.audit.pictures._svg import between, percent
from bank.difficulty import BANDS
from bank.files import replacing
from bank.private import make_private
from bank.review import writing
from bank.review.page import inlined, security_policy

HERE = Path(__file__).parent


def environment() -> Environment:
    """Return the environment of the page's templates: everything is escaped, nothing may be missing."""
    made = Environment(
        loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, auto_reload=False,
    )
    made.globals.update(bands=BANDS, plain_words=writing.plain_words, between=between, percent=percent)
    made.filters["thousands"] = lambda number: f"{number:,}"
    made.filters["plain"] = writing.plain_words
    made.filters["signed"] = signed
    made.filters["decimals"] = decimals
    made.filters["file_name"] = lambda path: Path(path).name
    return made


def signed(value: float, places: int = 2) -> str:
    """Return *value* with its sign and so many places, a true minus before negative ones."""
    text = f"{abs(value):.{places}f}"
    if not text.strip("0."):
        return text
    return ("\u2212" if value < 0 else "+") + text


def decimals(value: float, places: int = 2) -> str:
    """Return *value* with so many places, a true minus before negative ones."""
    text = f"{abs(value):.{places}f}"
    return "\u2212" + text if value < 0 and text.strip("0.") else text


def style() -> Markup:
    """Return the style of the audit's pages: that of the review page and what is added to it."""
    return inlined("review.css") + Markup((HERE / "audit.css").read_text(encoding="utf-8"))


def write_page(path: Path, name: str, *, private: bool = False, **values: Any) -> None:
    """Write the template *name* filled with *values* to *path* in one step, piece by piece.

    A *private* page can be read by its owner only.

    Raises:
        BadInput: the file cannot be written (``cannot-write``); an older one stays as it was.
    """
    css = style()
    pieces: Iterable[str] = environment().get_template(name).generate(
        style=css, policy=security_policy(css, ""), **values
    )
    with replacing(path) as part:
        if private:
            make_private(part)
        with part.open("w", encoding="utf-8", newline="\n") as page:
            page.writelines(pieces)
