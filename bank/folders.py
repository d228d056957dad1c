"""Members of a room by folder: every module that does not begin with ``_``. Imports next to nothing."""

from __future__ import annotations

import importlib
import os

TYPE_CHECKING = False
if TYPE_CHECKING:
    from types import ModuleType


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
