"""The standard body's official schemas of QTI, compiled, where they are on this machine."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

from lxml import etree

import standards

SCHEMAS = {
    "qti30": ("qtiv3p0/imsqti_asiv3p0_sbacv1p0_v1p0.xsd", "qtiv3p0/imsqtiv3p0_imscpv1p2_v1p0.xsd",
              "qtiv3p0/imsqti_metadatav3p0_v1p0.xsd"),
    "qti22": ("qtiv2p2p4/imsqti_v2p2p4.xsd", "qtiv2p2/qtiv2p2_imscpv1p2_v1p0.xsd",
              "qtiv2p2/imsqti_metadata_v2p2.xsd"),
    "qti21": ("qtiv2p1/imsqti_v2p1.xsd", "imscp_v1p1.xsd", "qtiv2p1/imsqti_metadata_v2p1.xsd"),
}  # fmt: skip
"""By exporter: schema of items and tests (3.0: the published profile that adds attributes only), of manifests, of
QTI metadata."""
METADATA = "imsmd_loose_v1p3p2.xsd"
STANDARDS = "qtiv3p0/imsqtiv3p0_csmv1p1_v1p0.xsd"


def folder() -> Path:
    """Return the folder of the official schemas."""
    found = standards.folder()
    assert found is not None
    return found


class Local(etree.Resolver):
    """Resolves the standard body's addresses to the files at hand, and no others."""

    catalog: dict[str, str] = {}

    def resolve(self, address: str, public: str, context: object) -> object:
        """Return the local file for *address*."""
        if address in self.catalog:
            return self.resolve_filename(str(folder() / self.catalog[address]), context)
        if address.startswith(("http:", "https:")):
            raise OSError(f"not in the catalog: {address}")
        return None


@lru_cache(maxsize=16)
def compiled(path: str) -> etree.XMLSchema:
    """Return an official schema, compiled by libxml2."""
    Local.catalog = json.loads((folder() / "catalog.json").read_text("utf-8"))
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Local())
    return etree.XMLSchema(etree.parse(str(folder() / path), parser))


def faults(schema: etree.XMLSchema, element: etree._Element) -> list[str]:
    """Return what *schema* says against *element*."""
    return [] if schema.validate(element) else [str(fault) for fault in schema.error_log]
