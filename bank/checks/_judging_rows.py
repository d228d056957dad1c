"""Judges of multiplications and divisions, as `bank.checks._judging` has them for additions and subtractions."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from bank.checks._judging import Judge, number, place_of
from bank.numerals import POWERS, Numeral

_CLAUSE = re.compile(
    r"(?P<by>\d) times (?P<upper>\d) is (?P<product>\d+)(?: and (?P<carried>\d+) carried is (?P<sum>\d+))?, "
    r"write (?P<write>\d+)(?:, carry (?P<carry>\d+))?"
)
Forms = Sequence[tuple[re.Pattern[str], Callable[[re.Match[str]], bool]]]


def _count(text: str) -> int:
    """The number in such as ``2 places``, ``none``."""
    return 0 if text == "none" else int(text.split(" ")[0])


class Multiplication(Judge):
    """Judges written multiplications."""

    def __init__(self, operands: Sequence[Numeral]) -> None:
        super().__init__(operands)
        self.first, self.second = operands
        self.factors = {self.first.coefficient, self.second.coefficient}
        self.top = self.bottom = 0
        self.shift = -1
        self.products: list[int] = []
        self.product: int | None = None
        self.places = 0
        self.answer: Numeral | None = None
        self.places_are_known = not self.first.places + self.second.places

    def forms(self) -> Forms:
        """Return the sentences of multiplications."""
        return [
            (re.compile(pattern), asked) for pattern, asked in (
                (r"The order of the factors does not change the product, so (?P<lower>[0-9.]+) may stand below\.",
                 lambda found: number(found["lower"]) in self.operands),
                (r"Leave the points out for now: multiply (?P<top>\d+) \* (?P<bottom>\d+)\.", self.whole),
                (r"A 0 in the lower number gives only zeros, so it needs no row of its own\.", lambda found: True),
                (r"Multiply (?P<top>\d+) by (?P<by>\d)(?P<zeros>0*)(?:, first write (?P<first>\d+) zeros?"
                 r"(?:, because these are (?P<names>[a-z-]+))?)?: (?P<clauses>.+)\. That makes (?P<row>\d+)\.",
                 self.row),
                (r"Add the partial products: (?P<rows>[0-9a-z ]+) is (?P<sum>\d+)\.", self.summed),
                (r"1 (?P<one>[a-z-]+) times 1 (?P<other>[a-z-]+) is 1 (?P<both>[a-z-]+), so the product counts "
                 r"(?P<names>[a-z-]+)\.", self.worth),
                (r"(?P<one>[0-9.]+) has (?P<a>none|\d+ places?) after the point and (?P<other>[0-9.]+) has "
                 r"(?P<b>none|\d+ places?), together (?P<sum>\d+)\.", self.counted),
                (r"(?P<digits>\d+) has too few digits, so write (?P<zeros>\d+) zeros? in front of it\.", self.filled),
                (r"Count (?P<places>\d+) places? from the right and set the point: (?P<answer>[0-9.]+)\.",
                 self.pointed),
                (r".* has \d+ places? after the point, (?:the other factor has fewer, )?so the product gets "
                 r"(?P<places>\d+) places?\.", self.claimed),
                (r".* have \d+ places? after the point, so the product gets (?P<places>\d+) places? too\.",
                 self.claimed),
                (r"Leave the point out of the product too: (?P<answer>\d+)\.", self.set),
                (r"\d+ has too few digits, so set the point straight before it: (?P<answer>[0-9.]+)\.", self.set),
                (r"Leave out \d+ zeros? at the end of the product before the point is set: (?P<rest>\d+)\.",
                 self.cut),
                (r"The answer is (?P<answer>[0-9.]+)\.", self.answered),
            )
        ]

    def whole(self, found: re.Match[str]) -> bool:
        """Judge the factors without points."""
        return {int(found["top"]), int(found["bottom"])} == self.factors

    def row(self, found: re.Match[str]) -> bool:
        """Judge one row with every digit of it."""
        top, by = int(found["top"]), found["by"]
        if not self.products:
            one, other = self.first.coefficient, self.second.coefficient
            self.top, self.bottom = (one, other) if one == top else (other, one)
        digits = str(self.bottom)[::-1]
        self.shift += 1
        while self.shift < len(digits) and digits[self.shift] == "0":
            self.shift += 1
        zeros, row = len(found["zeros"]), int(found["row"])
        self.products.append(row)
        self.product = row
        return (
            top == self.top and self.shift < len(digits) and digits[self.shift] == by and zeros == self.shift
            and int(found["first"] or 0) == zeros and (not found["names"] or place_of(found["names"]) == zeros)
            and self._clauses(found["clauses"].split("; "), str(top)[::-1], by)
            and row == top * int(by) * POWERS[zeros]
        )

    @staticmethod
    def _clauses(clauses: Sequence[str], upper: str, by: str) -> bool:
        carry = ""
        if len(clauses) != len(upper):
            return False
        for place, (clause, digit) in enumerate(zip(clauses, upper), 1):
            found = _CLAUSE.fullmatch(clause)
            if not found or found["by"] != by or found["upper"] != digit or (found["carried"] or "") != carry:
                return False
            product = int(by) * int(digit)
            total = product + int(carry or 0)
            if int(found["product"]) != product or int(found["sum"] or product) != total:
                return False
            tens = "" if place == len(upper) or total < 10 else str(total // 10)
            if (found["carry"] or "") != tens or int(found["write"]) != (total % 10 if tens else total):
                return False
            carry = tens
        return True

    def summed(self, found: re.Match[str]) -> bool:
        """Judge the sum of the rows."""
        rows = [int(row) for row in found["rows"].split(" plus ")]
        self.product = int(found["sum"])
        return rows == self.products and self.product == sum(rows) and self._all_rows()

    def _all_rows(self) -> bool:
        return not str(self.bottom)[::-1][self.shift + 1:].strip("0")

    def worth(self, found: re.Match[str]) -> bool:
        """Judge what the units of the factors make."""
        one, other, both = place_of(found["one"]), place_of(found["other"]), place_of(found["both"])
        return (
            one == -self.first.places and other == -self.second.places
            and both == place_of(found["names"]) == -self.first.places - self.second.places
        )

    def counted(self, found: re.Match[str]) -> bool:
        """Judge the places counted together."""
        self.places, self.places_are_known = int(found["sum"]), True
        one, other, a, b = number(found["one"]), number(found["other"]), _count(found["a"]), _count(found["b"])
        return (
            one.same_writing(self.first) and other.same_writing(self.second) and a == one.places and b == other.places
            and self.places == a + b
        )

    def claimed(self, found: re.Match[str]) -> bool:
        """Judge a number of places that is given for another reason."""
        self.places, self.places_are_known = int(found["places"]), True
        return self.places == self.first.places + self.second.places

    def filled(self, found: re.Match[str]) -> bool:
        """Judge zeros that are put in front."""
        digits = found["digits"]
        return int(digits) == self.product and int(found["zeros"]) == self.places - len(digits) > 0

    def pointed(self, found: re.Match[str]) -> bool:
        """Judge where the point is set."""
        self.answer = number(found["answer"])
        return (
            self.places_are_known and int(found["places"]) == self.places == self.answer.places
            and self.answer.coefficient == self.product
        )

    def set(self, found: re.Match[str]) -> bool:
        """Judge a point that is set, or left out, without counting."""
        self.answer, self.places_are_known = number(found["answer"]), True
        return self.product is not None and self.answer == Numeral(self.product, self.first.places + self.second.places)

    def cut(self, found: re.Match[str]) -> bool:
        """Judge zeros that are dropped before the point is set."""
        before, self.product = self.product, int(found["rest"])
        return before == self.product

    def answered(self, found: re.Match[str]) -> bool:
        """Judge the step that reads the answer off."""
        wanted = self.answer
        if wanted is None and self.product is not None and self.places_are_known:
            wanted = Numeral(self.product)
        return wanted is not None and number(found["answer"]) == wanted and self._all_rows()


class Division(Judge):
    """Judges long divisions that go to the end."""

    def __init__(self, operands: Sequence[Numeral]) -> None:
        super().__init__(operands)
        self.dividend, self.divisor = operands
        self.divide(self.dividend, self.divisor)

    def divide(self, number_divided: Numeral, by: Numeral) -> None:
        """Begin with these two numbers."""
        self.by = by.normal()
        text = str(number_divided.coefficient).zfill(number_divided.places + 1)
        self.digits, self.whole = text, len(text) - number_divided.places
        self.column, self.remainder, self.quotient = 0, 0, ""
        self.behind, self.pointed, self.stopped = "", False, False

    def forms(self) -> Forms:
        """Return the sentences of divisions."""
        brought = (
            r"(?P<head>[A-Z][a-z -]*?): (?:(?:Bring down (?P<digit>\d)|(?P<annexed>Write a zero at the end) and bring it down): "
            r"(?P<brought>\d+)\. )?(?P<by>\d+) "
        )
        return [
            (re.compile(pattern), asked) for pattern, asked in (
                (r"Make the divisor whole: move both points (?P<places>\d+) places? to the right\. Each number becomes "
                 r"(?P<factor>\d+) times as large, so the quotient stays the same\.", self.moved),
                (r"(?P<a>[0-9.]+) / (?P<b>[0-9.]+) has the same quotient as (?P<c>[0-9.]+) / (?P<d>\d+)\.", self.same),
                (r"Make .+ whole.* Now divide (?P<c>[0-9.]+) / (?P<d>\d+)\.", self.instead),
                (r"Set the point of the quotient right above the point of the dividend\.", self.point),
                (brought + r"goes (?P<times>\d+) times? into (?P<current>\d+), because (?P<again>\d+) times "
                 r"(?P<one>\d+) is (?P<product>\d+); write (?P<write>\d+)\. (?P<from>\d+) minus (?P<less>\d+) leaves "
                 r"(?P<left>\d+)\.", self.goes),
                (brought + r"does not go into (?P<current>\d+)(?P<then>; take the next digit too|; write 0|, so write "
                 r"nothing in the quotient)\.", self.does_not_go),
                (r"No digit is left to bring down, so leave out the remainder \d+\.", self.leave_out),
                (r"No digit is left to bring down, so write the remainder (?P<rest>\d+) behind the (?:quotient|point "
                 r"of the quotient)\.", self.write_behind),
                (r"The answer is (?P<answer>[0-9.]+)\.", self.answered),
            )
        ]

    def moved(self, found: re.Match[str]) -> bool:
        """Judge how far the points move."""
        places = int(found["places"])
        return places == self.divisor.normal().places and int(found["factor"]) == POWERS[places]

    def _replaced(self, found: re.Match[str]) -> bool:
        new, by = number(found["c"]), number(found["d"])
        self.divide(new, by)
        return bool(by.coefficient) and new.quotient(by) == self.dividend.quotient(self.divisor)

    def same(self, found: re.Match[str]) -> bool:
        """Judge the pair that is divided instead."""
        asked = number(found["a"]) == self.dividend and number(found["b"]) == self.divisor
        return self._replaced(found) and asked

    def instead(self, found: re.Match[str]) -> bool:
        """Judge a pair that is divided instead for another reason."""
        return self._replaced(found)

    def _here(self, found: re.Match[str]) -> bool:
        """Whether a step works the next column with the number that stands there."""
        column = self.column
        annexed = column >= len(self.digits)
        digit = "0" if annexed else self.digits[column]
        right = (
            place_of(found["head"]) == self.whole - 1 - column
            and int(found["by"]) == self.by.coefficient and not self.by.places
            and int(found["current"]) == self.remainder * 10 + int(digit)
            and bool(found["annexed"]) <= annexed and found["digit"] in (None, digit)
            and found["brought"] in (None, found["current"])
            and self.pointed == (column >= self.whole) and not self.stopped
        )
        self.column += 1
        return right

    def point(self, found: re.Match[str]) -> bool:
        """Judge where the point is set."""
        self.pointed = True
        return self.column == self.whole

    def goes(self, found: re.Match[str]) -> bool:
        """Judge a step in which the divisor goes into the number."""
        right = self._here(found)
        current, times, by = int(found["current"]), int(found["times"]), int(found["by"])
        self.quotient += found["write"]
        self.remainder = int(found["left"])
        return (
            right and by > 0 and times == current // by and found["again"] == found["write"] == found["times"]
            and found["one"] == found["by"] and found["from"] == found["current"] and found["less"] == found["product"]
            and int(found["product"]) == times * by and self.remainder == current - times * by
        )

    def does_not_go(self, found: re.Match[str]) -> bool:
        """Judge a step in which it does not."""
        position = self.whole - 1 - self.column
        right = self._here(found) and int(found["current"]) < int(found["by"])
        self.remainder = int(found["current"])
        then = found["then"]
        if then.endswith("too"):
            right = right and not self.quotient.strip("0") and position > 0
        if then.endswith("quotient"):
            right = False
            self.quotient += " "
        else:
            self.quotient += "0"
        return right

    def leave_out(self, found: re.Match[str]) -> bool:
        """Judge leaving out what stays."""
        self.stopped, nothing = True, not self.remainder
        return nothing

    def write_behind(self, found: re.Match[str]) -> bool:
        """Judge writing what stays behind the quotient."""
        self.stopped, self.behind = True, found["rest"]
        return False

    def answered(self, found: re.Match[str]) -> bool:
        """Judge the step that reads the answer off."""
        if self.column < len(self.digits) or (self.remainder and not self.stopped):
            return False
        before = self.quotient[: self.whole].replace(" ", "")
        behind = self.quotient[self.whole:].replace(" ", "") + self.behind
        return number(found["answer"]) == Numeral(int(before + behind or "0"), len(behind))
