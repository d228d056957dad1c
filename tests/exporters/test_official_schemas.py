"""The official schemas take every file that is written; they lie beside the checkout or are skipped, saying so."""

from __future__ import annotations

import json

import pytest
import xmlschema
from lxml import etree
from wanted import OFFICIAL_SCHEMAS, needs

import sampler
import standards
from exported import GERMAN, KIND_ITEMS, QTI, kind_packages, packages
from exporters._qti import LOM, MANIFEST
from official import METADATA, SCHEMAS, STANDARDS, compiled, faults, folder

pytestmark = pytest.mark.skipif(standards.folder() is None, reason=needs(OFFICIAL_SCHEMAS))


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("locale", [sampler.POINT, sampler.EITHER], ids=lambda locale: locale.identifier)
def test_the_official_schemas_take_every_file(name: str, locale: sampler.Locale) -> None:
    content_schema, manifest_schema, metadata_schema = map(compiled, SCHEMAS[name])
    for files in (*packages(name, locale).values(), *kind_packages(name, locale).values()):
        for file, content in files.items():
            root = etree.fromstring(content)
            assert faults(manifest_schema if file == MANIFEST else content_schema, root) == [], file
            for record in root.iter(f"{{{LOM}}}lom"):
                assert faults(compiled(METADATA), etree.fromstring(etree.tostring(record))) == []
            for record in root.iter("{*}curriculumStandardsMetadataSet"):
                assert name == "qti30"
                assert faults(compiled(STANDARDS), etree.fromstring(etree.tostring(record))) == []
            for record in root.iter("{*}qtiMetadata"):
                assert faults(metadata_schema, etree.fromstring(etree.tostring(record))) == []


@pytest.mark.parametrize("name", QTI)
def test_the_official_schemas_take_items_in_another_language_than_the_tools_own(name: str) -> None:
    for file, content in (*kind_packages(name, GERMAN)["bank"].items(), *packages(name, GERMAN)["bank"].items()):
        if file != MANIFEST:
            assert b'xml:lang="de"' in content and b'xml:lang="en"' in content
            assert faults(compiled(SCHEMAS[name][0]), etree.fromstring(content)) == [], file


@pytest.mark.parametrize("name", QTI)
def test_the_official_schemas_refuse_a_spoiled_item(name: str) -> None:
    content = packages(name)["bank"]["items/add-01.v1-s1.xml"]
    spoiled = content.replace(b"time", b"tame", 1)
    assert faults(compiled(SCHEMAS[name][0]), etree.fromstring(spoiled))


@pytest.mark.long
@pytest.mark.parametrize("name", QTI)
def test_a_second_validator_takes_one_file_of_each_kind(name: str) -> None:
    catalog = json.loads((folder() / "catalog.json").read_text("utf-8"))

    def local(address: str) -> str:
        return (folder() / catalog[address]).resolve().as_uri() if address in catalog else address

    schema = xmlschema.XMLSchema(str(folder() / SCHEMAS[name][0]), allow="local", uri_mapper=local)
    bank, quiz = packages(name)["bank"], packages(name)["week-03-b"]
    kinds = [kind_packages(name)["bank"][f"items/{item.identifier}.xml"] for item in KIND_ITEMS]
    plain = bank["items/add-01.v1-s1.xml"], bank["items/subtract-03.v1-s3.xml"], quiz["week-03-b.xml"]
    for content in (*plain, *kinds):
        assert [str(fault) for fault in schema.iter_errors(content.decode())] == []
