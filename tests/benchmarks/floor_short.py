"""A shorter floor: packages that hold less than the tool's, to compare `floor.py` and the tool with.

As `floor.py`, but without spoken options, carries, steps digit by digit and metadata in the manifest; with ``--bare``
the items have neither feedback nor a worked solution.

    python tests/benchmarks/floor_short.py 20000 FOLDER [--bare]
"""

from __future__ import annotations

import csv
import sys
import zipfile
from pathlib import Path

from lxml import etree

import schemas

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<qti-assessment-item xmlns="http://www.imsglobal.org/xsd/imsqtiasi_v3p0"'
    ' xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"'
    ' xsi:schemaLocation="http://www.imsglobal.org/xsd/imsqtiasi_v3p0'
    ' https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqti_asiv3p0_v1p0.xsd"'
)
TELL = (
    " Count the decimal places of both factors together: the product has as many.",
    " Multiply by the tens of the second factor as well, and write that row one place further left.",
    " Estimate with whole numbers first; the product must be near that.",
    " Yes. Both factors have one place, so the product has two.",
)


def text_of(hundredths: int) -> str:
    """Return a number of hundredths as a decimal without trailing zeros."""
    return f"{hundredths // 100}.{hundredths % 100:02d}".rstrip("0").rstrip(".")


def cells(digits: str, point: int) -> str:
    """Return seven table cells with *digits* at the right, a point after the cell *point* places from the right."""
    row = [""] * (7 - len(digits)) + list(digits)
    if point:
        row[6 - point] += "."
    return "".join(f"<td>{cell}</td>" for cell in row)


def solution(a: int, b: int) -> str:
    """Return the worked solution of a tenths times b tenths as a table and a list of steps."""
    rows = [("number", "", str(a), 1), ("number", "*", str(b), 1)]
    for place, digit in enumerate(reversed(str(b))):
        rows.append(("partial product", "", str(a * int(digit) * 10**place), 0))
    rows.append(("product", "", str(a * b), 2))
    body = "".join(
        f'<tr><th scope="row">{name}</th><td>{sign}</td>{cells(digits, point)}</tr>\n'
        for name, sign, digits, point in rows
    )
    first, second, product = text_of(10 * a), text_of(10 * b), text_of(a * b)
    steps = [
        f"Leave the points out and multiply {a} by {b}.",
        *(f"{a} times {digit} is {a * int(digit)}." for digit in reversed(str(b))),
        "Add the rows.",
        f"{first} has 1 place and {second} has 1 place: the product has 2.",
        f"So {first} \u00d7 {second} = {product}.",
    ]
    listed = "".join(f"<li>{step}</li>\n" for step in steps)
    return (
        '<qti-modal-feedback outcome-identifier="SOLUTION" identifier="worked" show-hide="show"'
        ' title="Worked solution"><qti-content-body><table class="stemwright-method">\n'
        f"<caption>Long multiplication: {first} times {second} is {product}.</caption>\n<tbody>\n{body}</tbody>\n"
        f"</table>\n<ol>\n{listed}</ol>\n</qti-content-body></qti-modal-feedback>\n"
    )


def item(name: str, a: int, b: int, bare: bool) -> tuple[str, list[str], str]:
    """Return the XML of the item, its options in order, and the letter of the key."""
    product = a * b
    found = {product: 3, product * 10: 0, a * sum(map(int, str(b))): 1, a * (b + 10): 2}
    spare = 1
    while len(found) < 4:
        found.setdefault(product + 100 * spare, 2)
        spare += 1
    order = sorted(found)
    options = [text_of(value) for value in order]
    key = "ABCD"[order.index(product)]
    choices = "".join(
        f'<qti-simple-choice identifier="{letter}">{option}'
        + (
            "" if bare else
            f'<qti-feedback-inline outcome-identifier="FEEDBACK" identifier="{letter}" show-hide="show">'
            f"{TELL[found[value]]}</qti-feedback-inline>"
        )
        + "</qti-simple-choice>\n"
        for letter, option, value in zip("ABCD", options, order, strict=True)
    )
    first, second = text_of(10 * a), text_of(10 * b)
    score = (
        '<qti-response-condition><qti-response-if><qti-match><qti-variable identifier="RESPONSE"/>'
        '<qti-correct identifier="RESPONSE"/></qti-match><qti-set-outcome-value identifier="SCORE">'
        '<qti-base-value base-type="float">1</qti-base-value></qti-set-outcome-value></qti-response-if>'
        '<qti-response-else><qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">0'
        "</qti-base-value></qti-set-outcome-value></qti-response-else></qti-response-condition>\n"
    )
    tell = "" if bare else (
        '<qti-set-outcome-value identifier="FEEDBACK"><qti-variable identifier="RESPONSE"/></qti-set-outcome-value>\n'
        '<qti-response-condition><qti-response-if><qti-is-null><qti-variable identifier="RESPONSE"/></qti-is-null>'
        '<qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">0</qti-base-value>'
        "</qti-set-outcome-value></qti-response-if>\n<qti-response-else>"
        '<qti-set-outcome-value identifier="SOLUTION"><qti-base-value base-type="identifier">worked</qti-base-value>'
        "</qti-set-outcome-value></qti-response-else></qti-response-condition>\n"
    )
    told = "" if bare else (
        '<qti-outcome-declaration identifier="FEEDBACK" cardinality="single" base-type="identifier"/>\n'
        '<qti-outcome-declaration identifier="SOLUTION" cardinality="single" base-type="identifier"/>\n'
    )
    xml = (
        f'{HEAD} identifier="{name}" title="Product of two decimals" xml:lang="en" adaptive="false"'
        ' time-dependent="false" tool-name="Stemwright" tool-version="0.1.0">\n'
        '<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier">'
        f"<qti-correct-response><qti-value>{key}</qti-value></qti-correct-response></qti-response-declaration>\n"
        '<qti-outcome-declaration identifier="SCORE" cardinality="single" base-type="float" normal-maximum="1"'
        ' normal-minimum="0"><qti-default-value><qti-value>0</qti-value></qti-default-value>'
        "</qti-outcome-declaration>\n"
        '<qti-outcome-declaration identifier="MAXSCORE" cardinality="single" base-type="float"><qti-default-value>'
        f"<qti-value>1</qti-value></qti-default-value></qti-outcome-declaration>\n{told}<qti-item-body>\n"
        f'<p data-catalog-idref="spoken1">Work out <math xmlns="http://www.w3.org/1998/Math/MathML"'
        f' alttext="{first} times {second}"><mrow><mn>{first}</mn><mo>\u00d7</mo><mn>{second}</mn></mrow></math>.</p>\n'
        '<qti-choice-interaction response-identifier="RESPONSE" shuffle="false" max-choices="1">'
        f"<qti-prompt>Choose one answer.</qti-prompt>\n{choices}</qti-choice-interaction>\n</qti-item-body>\n"
        '<qti-catalog-info><qti-catalog id="spoken1"><qti-card support="spoken"><qti-html-content>'
        f"Work out {first} times {second}.</qti-html-content></qti-card></qti-catalog></qti-catalog-info>\n"
        f"<qti-response-processing>\n{score}{tell}</qti-response-processing>\n"
        f"{'' if bare else solution(a, b)}</qti-assessment-item>\n"
    )
    return xml, options, key


MANIFEST = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<manifest xmlns="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"'
    ' xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"'
    ' xsi:schemaLocation="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1'
    ' https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd"'
    ' identifier="manifest-floor">\n<metadata>\n<schema>QTI Package</schema>\n<schemaversion>3.0.0</schemaversion>\n'
    "</metadata>\n<organizations/>\n<resources>\n{}</resources>\n</manifest>\n"
)


def main(count: int, folder: Path, bare: bool) -> None:
    """Write *count* items as a package and a CSV into *folder*."""
    folder.mkdir(parents=True, exist_ok=True)
    profile = etree.XMLSchema(etree.parse(str(schemas.path("qti30-item.xsd"))))
    resources = []
    made = 0
    with (
        zipfile.ZipFile(folder / "floor.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=6) as package,
        (folder / "floor.csv").open("w", newline="", encoding="utf-8") as table,
    ):
        rows = csv.writer(table)
        rows.writerow(["identifier", "first", "second", "key", "A", "B", "C", "D"])
        for a in range(101, 999):
            for b in range(11, 99):
                if made == count:
                    break
                if not a % 10 or not b % 10:
                    continue
                name = f"floor-{a}-{b}"
                xml, options, key = item(name, a, b, bare)
                content = xml.encode()
                profile.assertValid(etree.fromstring(content))
                package.writestr(f"items/{name}.xml", content)
                resources.append(
                    f'<resource identifier="{name}" type="imsqti_item_xmlv3p0" href="items/{name}.xml">'
                    f'<file href="items/{name}.xml"/></resource>\n'
                )
                rows.writerow([name, text_of(10 * a), text_of(10 * b), key, *options])
                made += 1
        manifest = MANIFEST.format("".join(resources)).encode()
        etree.fromstring(manifest)
        package.writestr("imsmanifest.xml", manifest)
    if made < count:
        raise SystemExit(f"only {made} items")


if __name__ == "__main__":
    main(int(sys.argv[1]), Path(sys.argv[2]), "--bare" in sys.argv)
