"""What goes wrong in exporting through a fault of the tool, never of its user."""

from __future__ import annotations


class ExportFault(Exception):
    """A file that would have been wrong, named before it could take a place; the older files stay as they were."""

    def __init__(self, file: str, item: str, wrong: str) -> None:
        super().__init__(file, item, wrong)
        self.file = file
        self.item = item
        self.wrong = wrong

    def __str__(self) -> str:
        place = f"{self.file}: {self.item}" if self.item else self.file
        return f"{place}: {self.wrong}"
