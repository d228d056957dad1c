"""A bank that is written soundly and holds a wrong key."""

from __future__ import annotations

from dataclasses import replace

import sampler
from bank.model import Choice


def with_another_key_marked() -> sampler.SamplerBank:
    """Return a bank written as it is, one of whose choices marks a wrong option as right."""
    items = list(sampler.bank().items())
    place, item = next((at, one) for at, one in enumerate(items) if isinstance(one.response, Choice))
    key = next(at for at, option in enumerate(item.response.options) if option.is_key)
    options = tuple([
        replace(option, is_key=at == (key + 1) % len(item.response.options))
        for at, option in enumerate(item.response.options)
    ])
    items[place] = replace(item, response=replace(item.response, options=options))
    return sampler.bank(items=tuple(items))
