"""What the versions of QTI share, and the record in which they differ.

Markup is written once, in the spelling of the 2.x versions (``choiceInteraction maxChoices``); `Version.spell`
turns it into the spelling of a version (``qti-choice-interaction max-choices``). HTML and MathML have the same
names in all versions. Facts on names, order and defaults: the official schemas of each version.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

TOOL = "Stemwright"
MATHML = "http://www.w3.org/1998/Math/MathML"
XSI = "http://www.w3.org/2001/XMLSchema-instance"
LOM = "http://ltsc.ieee.org/xsd/LOM"
LOM_LOCATION = "http://www.imsglobal.org/xsd/imsmd_loose_v1p3p2.xsd"
PROLOG = '<?xml version="1.0" encoding="UTF-8"?>\n'
MANIFEST = "imsmanifest.xml"
ITEM_FOLDER = "items/"

_PLAIN = frozenset("div p span table caption tbody tr th td ol ul li math mrow mn mo mi mtext".split())
"""Elements of HTML and MathML: the same in all versions."""
_TAG = re.compile(r"<(/?)([A-Za-z]+)([^<>]*)>")
_ATTRIBUTE = re.compile(r'([A-Za-z:-]+)=(?=")')
_CAPITAL = re.compile(r"(?<=[a-z])([A-Z])")


@dataclass(frozen=True, kw_only=True, slots=True)
class Version:
    """All that one version of QTI does otherwise than another."""

    name: str
    """Name of the exporter and of its folder."""
    kebab: bool
    """Names are spelled with hyphens and ``qti-`` before (3.0), else in camel case (2.x)."""
    content_body: bool
    """Content of modal feedback and rubrics stands in an element of its own (3.0)."""
    catalog: bool
    """Spoken forms can be given in a catalog (3.0)."""
    tabular: bool
    """A match can be asked for as a grid, by a class of the shared vocabulary (3.0)."""
    aria: bool
    """Fields may carry ``aria-label`` (2.2 and 3.0)."""
    rubric_use: bool
    """A rubric must say its use (3.0)."""
    namespace: str
    """Of items and tests."""
    location: str
    """Address of the schema of items and tests."""
    manifest_namespace: str
    manifest_location: str
    metadata_namespace: str
    """Of ``qtiMetadata``."""
    metadata_location: str
    standards_namespace: str
    """Of curriculum standards metadata; empty where codes stand in the learning object metadata only."""
    standards_location: str
    package_schema: str
    """What the manifest of a quiz says it is."""
    bank_schema: str
    """What the manifest of a whole bank says it is."""
    schema_version: str
    item_type: str
    """Resource type of an item in the manifest."""
    test_type: str

    def element(self, name: str) -> str:
        """Return how the element with the 2.x *name* is spelled, without namespace."""
        return _element(self.kebab, name)

    def tag(self, name: str) -> str:
        """Return how the parser names the element: ``{namespace}name``."""
        return f"{{{self.namespace}}}{_element(self.kebab, name)}"

    def attribute(self, name: str) -> str:
        """Return how the attribute with the 2.x *name* is spelled."""
        return _kebab(name) if self.kebab else name

    def spell(self, markup: str) -> str:
        """Return *markup*, written in 2.x spelling, in the spelling of this version."""
        if not self.kebab:
            return markup
        return _TAG.sub(
            lambda tag: f"<{tag[1]}{_element(True, tag[2])}{_ATTRIBUTE.sub(lambda a: _kebab(a[1]) + '=', tag[3])}>",
            markup,
        )

    def content(self, markup: str) -> str:
        """Return *markup*, in 2.x spelling, as the content of feedback or of a rubric."""
        return f"<contentBody>{markup}</contentBody>" if self.content_body else markup

    def profile(self, part: str) -> str:
        """Return the name of our own schema of *part*: ``item``, ``test`` or ``manifest``."""
        return f"{self.name}-{part}.xsd"


@lru_cache(maxsize=512)
def _kebab(name: str) -> str:
    return name if ":" in name else _CAPITAL.sub(lambda capital: "-" + capital[1], name).lower()


@lru_cache(maxsize=512)
def _element(kebab: bool, name: str) -> str:
    return name if not kebab or name in _PLAIN else f"qti-{_kebab(name)}"
