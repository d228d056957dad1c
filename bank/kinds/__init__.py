"""Items of the further kinds of response, made from one draw of a template: what is offered, what is right, what
mistakes lead to. One module a kind; which of them makes a template's items is said by its response.

What a draw gives is settled by the names of the draw alone (`bank.chance`), so that it can be made again.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from bank.kinds import choose_in_line, choose_several, find_mistake, match_pairs, put_in_order
from bank.kinds._made import Made
from bank.templates import Template, Values

__all__ = ["Made", "Maker", "maker_for"]


class Maker(Protocol):
    """Makes items of one template."""

    def make(self, values: Values, must: str, names: tuple[object, ...]) -> Made | str:
        """Return what the draw *values* gives, or why it gives no item; *names* settle its lots.

        *must* is the id of a mistake that has to show, or empty.
        """

    def wants(self, made: Made, names: tuple[object, ...]) -> bool:
        """Return whether *made* would be taken now, so that nothing more need be made of it where it would not."""

    def accepts(self, made: Made, names: tuple[object, ...], *, patient: bool) -> bool:
        """Return whether *made* is taken now; where not, which it is only if *patient*, it is asked about again later.

        *names* settle the lots of all items that this maker makes.
        """


_MAKERS: dict[str, Callable[[Template], Maker]] = {
    "choose-several": choose_several.Several, "put-in-order": put_in_order.Order, "match-pairs": match_pairs.Pairs,
    "choose-in-line": choose_in_line.InLine, "find-mistake": find_mistake.Find,
}


def maker_for(template: Template) -> Maker | None:
    """Return what makes the items of *template*, None where it asks to choose one or to type a number."""
    making = _MAKERS.get(template.kind)
    return None if making is None else making(template)
