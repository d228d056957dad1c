"""QTI 3.0 packages: one a quiz, and one of the whole bank.

Addresses, resource types and versions: the official schemas of QTI 3.0 (items and tests; content packaging 1.2
profiled for QTI 3.0; QTI metadata 3.0).
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

NAME = "qti30"
TITLE = "QTI 3.0 packages (one a quiz)"

VERSION = Version(
    name=NAME,
    kebab=True,
    content_body=True,
    catalog=True,
    tabular=True,
    aria=True,
    rubric_use=True,
    namespace="http://www.imsglobal.org/xsd/imsqtiasi_v3p0",
    location="https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqti_asiv3p0_v1p0.xsd",
    manifest_namespace="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1",
    manifest_location="https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd",
    metadata_namespace="http://www.imsglobal.org/xsd/imsqti_metadata_v3p0",
    metadata_location="https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqti_metadatav3p0_v1p0.xsd",
    standards_namespace="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscsmd_v1p1",
    standards_location="https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqtiv3p0_csmv1p1_v1p0.xsd",
    package_schema="QTI Package",
    bank_schema="QTI Item Bank",
    schema_version="3.0.0",
    item_type="imsqti_item_xmlv3p0",
    test_type="imsqti_test_xmlv3p0",
)
REMARKS = _qti_remarks.remarks_of(VERSION)
QUIZ_REMARKS = _qti_remarks.QUIZ_REMARKS


def write(
    source: Source, bank: Readable, quizzes: Sequence[Quiz], folder: Path, *, whole_bank: bool, jobs: int,
    progress: Progress,
) -> list[Path]:
    """Write ``qti30/QUIZ.zip`` under *folder* for each quiz, and ``qti30/bank.zip`` where *whole_bank*.

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
