"""Profiles of the 2.x versions, made from those of 3.0: other names, no catalog, no element round feedback's content."""

from __future__ import annotations

import re

from lxml import etree

from exporters._qti import Version

XS = "{http://www.w3.org/2001/XMLSchema}"
KINDS = ("parts", "several", "order", "pairs", "inline", "find")
"""What profiles of 3.0 are made into others, by part of their file's name."""
_XPATH = re.compile(r"(?<=q:)(qti-[a-z-]+)|(?<=@)([a-z-]+)")


def camel(name: str) -> str:
    """Return the 2.x spelling of an element's or attribute's 3.0 *name*."""
    if name.startswith(("data-", "aria-")):
        return name
    return re.sub(r"-([a-z])", lambda letter: letter[1].upper(), name.removeprefix("qti-"))


def made(text: str, full: Version, record: Version) -> str:
    """Return the profile *text* of the version *full* (3.0) as the profile of *record* (2.x)."""
    text = text.replace(full.namespace, record.namespace).replace(f"{full.name}-", f"{record.name}-")
    text = text.replace("QTI 3.0", f"QTI {record.name[3]}.{record.name[4]}")
    root = etree.fromstring(text.encode(), etree.XMLParser(remove_blank_text=True))
    for element in list(root.iter(f"{XS}element", f"{XS}attribute", f"{XS}complexType")):
        name = element.get("name") or ""
        left_out = name == "aria-label" and not record.aria or element.get("fixed") == "qti-match-tabular"
        if name in ("qti-catalog-info", "data-catalog-idref", "catalog") or left_out:
            element.getparent().remove(element)
        elif name == "qti-content-body":
            element.getparent().replace(element, element[0][0])
        elif name and element.tag != f"{XS}complexType":
            element.set("name", camel(name))
    for element in root.iter(f"{XS}selector", f"{XS}field"):
        path = element.get("xpath") or ""
        element.set("xpath", _XPATH.sub(lambda found: camel(found[0]), path))
    for comment in list(root.iter(etree.Comment)):
        if comment.text.strip() == "Spoken forms":
            comment.getparent().remove(comment)
    comments = [f"<!--{one.text}-->" for one in reversed(list(root.itersiblings(preceding=True)))]
    etree.indent(root)
    body = etree.tostring(root, encoding="unicode")
    if "change these only" in comments[0]:
        comments = [f"<!-- What the profiles of the further kinds of items of QTI {record.name[3]}.{record.name[4]} "
                    f"share, as Stemwright writes it.\n     Made from {full.name}-parts.xsd: change that one. -->"]
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + "\n".join([*comments, body]) + "\n"
