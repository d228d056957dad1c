"""How rooms find their members: every module of the room's folder that does not begin with ``_``."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Generic, TypeVar

from bank.folders import import_members, module_names

__all__ = ["Members", "import_members", "module_names"]

Member = TypeVar("Member")


class Members(Generic[Member]):
    """Members of a room by id; they register while the room's modules are being imported."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self._found: dict[str, tuple[Member, str]] = {}

    def add(self, identifier: str, member: Member, origin: str) -> None:
        """Keep *member* under *identifier*; *origin* says where it was written.

        Raises:
            ValueError: another place registered the same identifier.
        """
        if identifier in self._found:
            raise ValueError(f"two {self.kind}s named {identifier!r}: {self._found[identifier][1]} and {origin}")
        self._found[identifier] = (member, origin)

    def __getitem__(self, identifier: str) -> Member:
        return self._found[identifier][0]

    def __contains__(self, identifier: object) -> bool:
        return identifier in self._found

    def __iter__(self) -> Iterator[str]:
        return iter(sorted(self._found))

    def __len__(self) -> int:
        return len(self._found)

    def values(self) -> list[Member]:
        """Return the members in order of their ids."""
        return [self[identifier] for identifier in self]

    def origin(self, identifier: str) -> str:
        """Return the place (``module.function``) that registered *identifier*."""
        return self._found[identifier][1]
