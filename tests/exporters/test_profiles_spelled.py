"""The profiles of 2.x are those of 3.0 in another spelling; ``--accept`` writes them anew."""

from __future__ import annotations

import pytest

import schemas
from exported import version
from profile_spelling import KINDS, made


@pytest.mark.parametrize("name", ["qti22", "qti21"])
@pytest.mark.parametrize("kind", KINDS)
def test_the_profiles_of_2x_are_those_of_3_in_their_spelling(name: str, kind: str, accept: bool) -> None:
    full = schemas.path(f"qti30-{kind}.xsd").read_text("utf-8")
    wanted = made(full, version("qti30"), version(name))
    path = schemas.path(f"{name}-{kind}.xsd")
    if accept:
        path.write_text(wanted, "utf-8")
    assert path.read_text("utf-8") == wanted
