"""Small published tables of counts, with the figures printed for them. Facts; the source stands beside each."""

from __future__ import annotations

from count_tables import scored

from bank.audit.records import FormAnswers

# Law School Admission Test, section 6, 1000 persons: Bock & Lieberman 1970, Psychometrika 35:179.
# Pattern of right answers -> persons.
LSAT6 = {
    "00000": 3, "00001": 6, "00010": 2, "00011": 11, "00100": 1, "00101": 1, "00110": 3, "00111": 4, "01000": 1,
    "01001": 8, "01011": 16, "01101": 3, "01110": 2, "01111": 15, "10000": 10, "10001": 29, "10010": 14, "10011": 81,
    "10100": 3, "10101": 28, "10110": 15, "10111": 80, "11000": 16, "11001": 56, "11010": 21, "11011": 173, "11100": 11,
    "11101": 61, "11110": 28, "11111": 298,
}

# Ten pupils, ten items, and the parts of KR-20 as they are printed: K. Wuensch, East Carolina University, "KR20.txt".
KR20 = ("1111110110", "1011011101", "1111011001", "0010001000", "0000010010", "1110111111", "1101110111", "1111111101",
        "0101111101", "1101101110")
KR20_SUM_PQ = 2.18
KR20_VARIANCE_OF_TOTALS = 5.84
KR20_VALUE = 0.696347
"""(10/9)(1 - 2.18/5.84)"""

# Admissions by department: reference right, reference wrong, focal right, focal wrong. Bickel, Hammel & O'Connell 1975,
# Science 187:398.
ADMISSIONS = (
    (512, 313, 89, 19), (353, 207, 17, 8), (120, 205, 202, 391), (138, 279, 131, 244), (53, 138, 94, 299),
    (22, 351, 24, 317),
)
ADMISSIONS_PRINTED = {"odds_ratio": 0.9046968, "low": 0.7719074, "high": 1.0603298, "chi2": 1.4269, "p": 0.2323}
"""Printed in the documentation of R's ``mantelhaen.test`` (R 4.2.2)."""


def lsat6() -> FormAnswers:
    """Return the answers of `LSAT6`, pattern by pattern."""
    return scored([[int(digit) for digit in pattern] for pattern, count in LSAT6.items() for _ in range(count)])


def kr20() -> FormAnswers:
    """Return the answers of `KR20`."""
    return scored([[int(digit) for digit in row] for row in KR20])
