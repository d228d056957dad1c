"""Typed items of every policy, with unit and without, for the exporters' tests; all numbers are invented."""

from __future__ import annotations

from bank.model import Item
from items import item

ROPE = {"template": "rope", "unit": {"text": "kg", "spoken": "kilograms"}, "hint": ("Line the points up.",)}
PRICE = {"template": "price", "unit": {"text": "$", "before": True}, "places": 2}
ITEMS: tuple[Item, ...] = tuple(
    item("add", operands=operands, typed=True, policy=policy, identifier=f"{name}-{policy}",
         typed_mistakes=mistakes, of={**of, "template": f"{name}-{policy}"})
    for policy in ("value", "places", "exact", "unit")
    for name, operands, mistakes, of in (
        ("rope", ("3.4", "2.75"), (("5.115", ("add.places-added-up",)), ("2.109", ("add.lined-up-on-the-right",))), ROPE),
        ("price", ("12.35", "4.8"), (("12.83", ("add.lined-up-on-the-right",)),), PRICE),
    )
)  # fmt: skip
