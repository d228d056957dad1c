"""The official schemas of cartridges and the rules in them, for the tests that hold exports to them."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path

from lxml import etree

import schematron
import standards

SCHEMAS = "pristine/www.imsglobal.org/profile/cc/ccv1p1"
ITEMS_SCHEMA, MANIFEST_SCHEMA = "ccv1p1_qtiasiv1p2p1_v1p0.xsd", "ccv1p1_imscp_v1p2_v1p0.xsd"


def folder() -> Path:
    """Return the folder of the official schemas."""
    found = standards.folder()
    assert found is not None
    return found


class Local(etree.Resolver):
    """Resolves the standard body's addresses to the files at hand, and no others."""

    def resolve(self, address: str, public: str, context: object) -> object:
        """Return the local file for *address*."""
        catalog = json.loads((folder() / "catalog.json").read_text("utf-8"))
        if address in catalog:
            return self.resolve_filename(str(folder() / catalog[address]), context)
        if address.startswith(("http:", "https:")):
            raise OSError(f"not in the catalog: {address}")
        return None


@lru_cache(maxsize=2)
def compiled(name: str) -> etree.XMLSchema:
    """Return an official schema, compiled by libxml2."""
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Local())
    return etree.XMLSchema(etree.parse(str(folder() / SCHEMAS / name), parser))


@lru_cache(maxsize=2)
def rules(name: str) -> tuple[tuple[schematron.Rule, ...], ...]:
    """Return the rules that an official schema carries.

    Those of the manifest speak of resource types of version 1.0, which no file can have that this schema takes; read
    so they would never apply, so they are read as those of 1.1.
    """
    return schematron.patterns(folder() / SCHEMAS / name, {"imscc_xmlv1p0": "imscc_xmlv1p1"})


def as_11(manifest: bytes) -> bytes:
    """Return a manifest of version 1.3 with the names of version 1.1, whose schema is at hand."""
    for old, new in ((b"imsccv1p3", b"imsccv1p1"), (b"imscc_xmlv1p3", b"imscc_xmlv1p1"), (b">1.3.0<", b">1.1.0<")):
        assert old in manifest
        manifest = manifest.replace(old, new)
    return manifest
