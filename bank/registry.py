"""How rooms find their members: every module of the room's folder that does not begin with ``_``."""

from __future__ import annotations

import importlib
import os
from collections.abc import Iterator
from types import ModuleType
from typing import Generic, TypeVar

Member = TypeVar("Member")


def module_names(room: ModuleType) -> list[str]:
    """Return the names of the member modules of *room*, sorted, without importing them.

    Lists the folder itself: pkgutil would import inspect, which is felt at every start of the command.
    """
    entries = [entry for folder in room.__path__ for entry in os.scandir(folder)]
    modules = {entry.name[:-3] for entry in entries if entry.name.endswith(".py")}
    packages = {entry.name for entry in entries if os.path.isfile(os.path.join(entry.path, "__init__.py"))}
    return sorted(name for name in modules | packages if not name.startswith("_"))


def import_members(room: ModuleType) -> list[ModuleType]:
    """Import and return the member modules of *room*, in sorted order."""
    return [importlib.import_module(f"{room.__name__}.{name}") for name in module_names(room)]


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
