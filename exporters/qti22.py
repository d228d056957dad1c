"""QTI 2.2 packages: one a quiz, and one of the whole bank.

Addresses, resource types and versions: the official schemas of QTI 2.2 (items and tests; content packaging 1.2
profiled for QTI 2.2; QTI metadata 2.2). One namespace serves 2.2.0 to 2.2.4.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from bank.model import Quiz
from bank.store import Source
from exporters import _qti_remarks
from exporters._kinds_back import ReadKind
from exporters._package import Progress, write_packages
from exporters._qti import Version
from exporters._readback import ReadItem, read_items
from exporters._worker import Readable

NAME = "qti22"
TITLE = "QTI 2.2 packages (one a quiz)"

VERSION = Version(
    name=NAME,
    kebab=False,
    content_body=False,
    catalog=False,
    tabular=False,
    aria=True,
    rubric_use=False,
    namespace="http://www.imsglobal.org/xsd/imsqti_v2p2",
    location="http://www.imsglobal.org/xsd/qti/qtiv2p2/imsqti_v2p2.xsd",
    manifest_namespace="http://www.imsglobal.org/xsd/imscp_v1p1",
    manifest_location="http://www.imsglobal.org/xsd/qti/qtiv2p2/qtiv2p2_imscpv1p2_v1p0.xsd",
    metadata_namespace="http://www.imsglobal.org/xsd/imsqti_metadata_v2p2",
    metadata_location="http://www.imsglobal.org/xsd/qti/qtiv2p2/imsqti_metadata_v2p2.xsd",
    standards_namespace="",
    standards_location="",
    package_schema="QTIv2.2 Package",
    bank_schema="QTIv2.2 Item Bank Package",
    schema_version="1.0.0",
    item_type="imsqti_item_xmlv2p2",
    test_type="imsqti_test_xmlv2p2",
)
REMARKS = _qti_remarks.remarks_of(VERSION)
QUIZ_REMARKS = _qti_remarks.QUIZ_REMARKS


def write(
    source: Source, bank: Readable, quizzes: Sequence[Quiz], folder: Path, *, whole_bank: bool, jobs: int,
    progress: Progress,
) -> list[Path]:
    """Write ``qti22/QUIZ.zip`` under *folder* for each quiz, and ``qti22/bank.zip`` where *whole_bank*.

    *source* is the bank's file, which *jobs* processes open for themselves; with one job *bank* is used and no
    process is started.

    Raises:
        ExportFault: a file would have been wrong; the older files stay as they were.
        BadInput: a file cannot be written; the older files stay as they were.
    """
    return write_packages(
        VERSION, source, bank, quizzes, folder, whole_bank=whole_bank, jobs=jobs, progress=progress
    )


def read_back(path: Path) -> Iterator[ReadItem | ReadKind]:
    """Give what the items of the package at *path* say of their scoring.

    Raises:
        ExportFault: the package is not one that this exporter writes.
    """
    return read_items(VERSION, path)
