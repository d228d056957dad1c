"""Common Cartridge 1.3: a cartridge for each quiz with one assessment, and one with the bank as a question bank.

The items are in the cartridge's profile of QTI 1.2.1, the form that many LMSs have read the longest. What the profile
cannot ask is asked otherwise or left out, and the portability report says what.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from bank.model import Quiz
from exporters._cartridge import Progress, write_cartridges
from exporters._cc_back import ReadItem, read_cartridge
from exporters._worker import Readable

NAME = "cc13"
TITLE = "Common Cartridge 1.3 (one a quiz, and a question bank)"


def write(
    source: Path, bank: Readable, quizzes: Sequence[Quiz], folder: Path, *, whole_bank: bool, jobs: int,
    progress: Progress,
) -> list[Path]:
    """Write ``cc13/QUIZ.imscc`` under *folder* for each quiz, and ``cc13/bank.imscc`` where *whole_bank*.

    *source* is the bank's file, which *jobs* processes open for themselves; with one job *bank* is used and no
    process is started. A cartridge without any item that this target can carry is not written.

    Raises:
        ExportFault: a file would have been wrong; the older files stay as they were.
        BadInput: a file cannot be written; the older files stay as they were.
    """
    return write_cartridges(source, bank, quizzes, folder, whole_bank=whole_bank, jobs=jobs, progress=progress)


def read_back(path: Path) -> Iterator[ReadItem]:
    """Give what the items of the cartridge at *path* say.

    Raises:
        ExportFault: the cartridge is not one that this exporter writes.
    """
    return read_cartridge(path)
