"""The straight-line floor: the least code that writes what the tool writes, for one kind of question.

No templates, no model, no store, no mistakes library, no checks of items, nothing read back: two nested loops
over integers, one formatted text an item, each validated against the same XSD profile, zipped with the standard
library, a manifest and a CSV.

An item holds what the tool's own multiplication items hold, part for part: feedback for each option, spoken forms of
the question and of the options, rules for score and feedback, the worked solution as a table with its row of carries
and as steps digit by digit. The manifest holds the same metadata for each, and is validated too. `floor_short.py`
writes less.

    python tests/benchmarks/floor.py 20000 FOLDER
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
    " Count the decimal places of both factors together: the product has as many. Then set the point, and last of all"
    " compare with an estimate.",
    " Multiply by the tens of the second factor as well, and write that row one place further left. There is one row"
    " for each digit.",
    " Estimate with whole numbers first; the product must be near that. Then go through each row again, one digit after"
    " the other.",
    " Yes. Both factors have one place, so the product has two.",
)
OUTCOMES = (
    '<qti-outcome-declaration identifier="SCORE" cardinality="single" base-type="float" normal-maximum="1"'
    ' normal-minimum="0"><qti-default-value><qti-value>0</qti-value></qti-default-value></qti-outcome-declaration>\n'
    '<qti-outcome-declaration identifier="MAXSCORE" cardinality="single" base-type="float"><qti-default-value>'
    "<qti-value>1</qti-value></qti-default-value></qti-outcome-declaration>\n"
    '<qti-outcome-declaration identifier="FEEDBACK" cardinality="single" base-type="identifier"/>\n'
    '<qti-outcome-declaration identifier="SOLUTION" cardinality="single" base-type="identifier"/>\n'
)
PROCESSING = (
    "<qti-response-processing>\n"
    '<qti-response-condition><qti-response-if><qti-match><qti-variable identifier="RESPONSE"/>'
    '<qti-correct identifier="RESPONSE"/></qti-match><qti-set-outcome-value identifier="SCORE">'
    '<qti-base-value base-type="float">1</qti-base-value></qti-set-outcome-value></qti-response-if>'
    '<qti-response-else><qti-set-outcome-value identifier="SCORE"><qti-base-value base-type="float">0'
    "</qti-base-value></qti-set-outcome-value></qti-response-else></qti-response-condition>\n"
    '<qti-set-outcome-value identifier="FEEDBACK"><qti-variable identifier="RESPONSE"/></qti-set-outcome-value>\n'
    '<qti-set-outcome-value identifier="SOLUTION"><qti-base-value base-type="identifier">worked</qti-base-value>'
    "</qti-set-outcome-value>\n</qti-response-processing>\n"
)


def text_of(hundredths: int) -> str:
    """Return a number of hundredths as a decimal without trailing zeros."""
    return f"{hundredths // 100}.{hundredths % 100:02d}".rstrip("0").rstrip(".")


def cells(digits: str, point: int, width: int = 6) -> str:
    """Return *width* table cells with *digits* at the right, a point after the cell *point* places from the right."""
    row = [""] * (width - len(digits)) + list(digits)
    if point:
        row[width - 1 - point] += "."
    return "".join([f"<td>{cell}</td>" if cell else "<td/>" for cell in row])


ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen"
    " eighteen nineteen"
).split()
TENS = "- - twenty thirty forty fifty sixty seventy eighty ninety".split()


def whole_said(number: int) -> str:
    """Return a whole number below a million in words."""
    said = []
    if number >= 1000:
        said.append(f"{whole_said(number // 1000)} thousand")
        number %= 1000
    if number >= 100:
        said.append(f"{ONES[number // 100]} hundred")
        number %= 100
    if number >= 20:
        said.append(TENS[number // 10] + (f"-{ONES[number % 10]}" if number % 10 else ""))
    elif number or not said:
        said.append(ONES[number])
    return " ".join(said)


def said(text: str) -> str:
    """Return a decimal in words, its places digit by digit."""
    whole, _, places = text.partition(".")
    words = whole_said(int(whole))
    return f"{words} point {' '.join([ONES[int(digit)] for digit in places])}" if places else words


def row_steps(factor: str, digit: int) -> str:
    """Return how *factor* is multiplied by one *digit*, place by place."""
    steps, carry = [], 0
    for place, other in enumerate(reversed(factor)):
        product = digit * int(other)
        total = product + carry
        step = f"{digit} times {other} is {product}"
        if carry:
            step += f" and {carry} carried is {total}"
        if place == len(factor) - 1:
            step += f", write {total}"
        else:
            step += f", write {total % 10}"
            carry = total // 10
            if carry:
                step += f", carry {carry}"
        steps.append(step)
    return "; ".join(steps)


def carries_of(one: int, other: int) -> str:
    """Return the carries of a column addition, each in the place to which it is carried, blank where there is none."""
    row, carry = [" "], 0
    while one or other:
        carry = (one % 10 + other % 10 + carry) // 10
        row.append(str(carry) if carry else " ")
        one, other = one // 10, other // 10
    return "".join(reversed(row)).lstrip()


def solution(a: int, b: int) -> str:
    """Return the worked solution of a tenths times b tenths as a table and a list of steps."""
    first, second, product = text_of(10 * a), text_of(10 * b), text_of(a * b)
    ones, tens = a * (b % 10), a * (b // 10) * 10
    carries = "".join([f"<td>{cell}</td>" if cell != " " else "<td/>" for cell in carries_of(ones, tens).rjust(6)])
    return (
        '<qti-modal-feedback outcome-identifier="SOLUTION" identifier="worked" show-hide="show"'
        ' title="Worked solution"><qti-content-body><table class="stemwright-method">\n'
        f"<caption>Long multiplication: {first} times {second} is {product}.</caption>\n<tbody>\n"
        f'<tr><th scope="row">number</th><td/>{cells(str(a), 1)}</tr>\n'
        f'<tr><th scope="row">number</th><td>\u00d7</td>{cells(str(b), 1)}</tr>\n'
        f'<tr class="stemwright-rule"><th scope="row">carries of the addition</th><td/>{carries}</tr>\n'
        f'<tr><th scope="row">times {b % 10}</th><td/>{cells(str(ones), 0)}</tr>\n'
        f'<tr><th scope="row">times {b // 10 * 10}</th><td/>{cells(str(tens), 0)}</tr>\n'
        f'<tr class="stemwright-rule"><th scope="row">product</th><td/>{cells(str(a * b), 2)}</tr>\n'
        "</tbody>\n</table>\n<ol>\n"
        f"<li>Leave the points out for now: multiply {a} \u00d7 {b}.</li>\n"
        f"<li>Multiply {a} by {b % 10}: {row_steps(str(a), b % 10)}. That makes {ones}.</li>\n"
        f"<li>Multiply {a} by {b // 10 * 10}, first write 1 zero, because these are tens: {row_steps(str(a), b // 10)}."
        f" That makes {tens}.</li>\n"
        f"<li>Add the partial products: {ones} plus {tens} is {a * b}.</li>\n"
        "<li>1 tenth times 1 tenth is 1 hundredth, so the product counts hundredths.</li>\n"
        f"<li>{first} has 1 place after the point and {second} has 1 place, together 2.</li>\n"
        f"<li>Count 2 places from the right and set the point: {product}.</li>\n"
        f"<li>So {first} \u00d7 {second} = {product}.</li>\n"
        "</ol>\n</qti-content-body></qti-modal-feedback>\n"
    )


def item(name: str, a: int, b: int) -> tuple[str, list[str], str]:
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
    choices = "".join([
        f'<qti-simple-choice identifier="{letter}" data-catalog-idref="spoken{number}">{option}'
        f'<qti-feedback-inline outcome-identifier="FEEDBACK" identifier="{letter}" show-hide="show">'
        f"{TELL[found[value]]}</qti-feedback-inline></qti-simple-choice>\n"
        for number, (letter, option, value) in enumerate(zip("ABCD", options, order, strict=True), 2)
    ])
    first, second = text_of(10 * a), text_of(10 * b)
    spoken = "".join([
        f'<qti-catalog id="spoken{number}"><qti-card support="spoken"><qti-html-content>{words}</qti-html-content>'
        "</qti-card></qti-catalog>"
        for number, words in enumerate(
            [f"Work out {said(first)} times {said(second)}.", *[said(option).capitalize() for option in options]], 1
        )
    ])
    xml = (
        f'{HEAD} identifier="{name}" title="Product of two decimals" xml:lang="en" adaptive="false"'
        ' time-dependent="false" tool-name="Stemwright" tool-version="0.1.0">\n'
        '<qti-response-declaration identifier="RESPONSE" cardinality="single" base-type="identifier">'
        f"<qti-correct-response><qti-value>{key}</qti-value></qti-correct-response></qti-response-declaration>\n"
        f"{OUTCOMES}<qti-item-body>\n"
        f'<p data-catalog-idref="spoken1">Work out <math xmlns="http://www.w3.org/1998/Math/MathML"'
        f' alttext="{first} times {second}"><mrow><mn>{first}</mn> <mo>\u00d7</mo> <mn>{second}</mn></mrow></math>.</p>\n'
        '<qti-choice-interaction response-identifier="RESPONSE" shuffle="false" max-choices="1">'
        f"<qti-prompt>Choose one answer.</qti-prompt>\n{choices}</qti-choice-interaction>\n</qti-item-body>\n"
        f"<qti-catalog-info>{spoken}</qti-catalog-info>\n{PROCESSING}{solution(a, b)}</qti-assessment-item>\n"
    )
    return xml, options, key


MANIFEST = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<manifest xmlns="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1"'
    ' xmlns:q="http://www.imsglobal.org/xsd/imsqti_metadata_v3p0" xmlns:l="http://ltsc.ieee.org/xsd/LOM"'
    ' xmlns:c="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscsmd_v1p1"'
    ' xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance"'
    ' xsi:schemaLocation="http://www.imsglobal.org/xsd/qti/qtiv3p0/imscp_v1p1'
    ' https://purl.imsglobal.org/spec/qti/v3p0/schema/xsd/imsqtiv3p0_imscpv1p2_v1p0.xsd"'
    ' identifier="manifest-floor">\n<metadata>\n<schema>QTI Item Bank</schema>\n<schemaversion>3.0.0</schemaversion>\n'
    '<l:lom><l:general><l:title><l:string language="en">Floor</l:string></l:title><l:language>en</l:language>'
    '<l:description><l:string language="en">The scenario is invented.</l:string></l:description></l:general></l:lom>\n'
    "</metadata>\n<organizations/>\n<resources>\n"
)
CODES = (("US-CCSSM", ("5.NBT.B.7", "6.NS.B.3")), ("ENG-NC-2014", ("Y5-FD-solve",)), ("AUS-V9", ("AC9M6N04",)))
"""Curriculum codes as the demo templates of products carry them."""


def resource(name: str, carries: int) -> str:
    """Return what the manifest says of an item; the more *carries*, the harder it is said to be."""
    codes = "".join([
        f'<c:curriculumStandardsMetadata providerId="{provider}"><c:setOfGUIDs>'
        + "".join([
            f"<c:labelledGUID><c:label>{code}</c:label><c:GUID>{code}</c:GUID></c:labelledGUID>" for code in listed
        ])
        + "</c:setOfGUIDs></c:curriculumStandardsMetadata>"
        for provider, listed in CODES
    ])
    band = ("easier", "middling", "harder")[min(carries, 2)]
    return (
        f'<resource identifier="{name}" type="imsqti_item_xmlv3p0" href="items/{name}.xml"><metadata><q:qtiMetadata>'
        "<q:interactionType>choiceInteraction</q:interactionType><q:feedbackType>nonadaptive</q:feedbackType>"
        "<q:solutionAvailable>true</q:solutionAvailable><q:toolName>Stemwright</q:toolName>"
        "<q:toolVersion>0.1.0</q:toolVersion></q:qtiMetadata>"
        f"<c:curriculumStandardsMetadataSet>{codes}</c:curriculumStandardsMetadataSet>"
        '<l:lom><l:general><l:title><l:string language="en">Product of two decimals</l:string></l:title><l:keyword>'
        '<l:string language="en">topic: decimal-multiplication</l:string></l:keyword><l:keyword><l:string language="en">'
        f"predicted difficulty: {band} (not observed)</l:string></l:keyword></l:general><l:lifeCycle><l:version>"
        '<l:string language="en">1</l:string></l:version></l:lifeCycle></l:lom></metadata>'
        f'<file href="items/{name}.xml"/></resource>\n'
    )


def main(count: int, folder: Path) -> None:
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
                xml, options, key = item(name, a, b)
                content = xml.encode()
                profile.assertValid(etree.fromstring(content))
                package.writestr(f"items/{name}.xml", content)
                resources.append(resource(name, len(carries_of(a * (b % 10), a * (b // 10) * 10).replace(" ", ""))))
                rows.writerow([name, text_of(10 * a), text_of(10 * b), key, *options])
                made += 1
        manifest = "".join([MANIFEST, *resources, "</resources>\n</manifest>\n"]).encode()
        etree.XMLSchema(etree.parse(str(schemas.path("qti30-manifest.xsd")))).assertValid(etree.fromstring(manifest))
        package.writestr("imsmanifest.xml", manifest)
    if made < count:
        raise SystemExit(f"only {made} items")


if __name__ == "__main__":
    main(int(sys.argv[1]), Path(sys.argv[2]))
