"""How often a file's own rules mark a typed string otherwise than the audit: random strings through every target.

    python tests/marking_figures.py [--strings 100000] [--seed 1]

prints strings, how many were right, and every disagreement; none is wanted. Strings are drawn for typed items of every
policy in the three locales that come along (`typed_strings`); a string goes through QTI 3.0, 2.2, 2.1 and, where no step
is asked too, the cartridge.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter

from typed_strings import ITEMS, LOCALES, TARGETS, audit_mark, package_mark, typed_string

MOST_SHOWN = 20


def main() -> int:
    """Run as a command; the status is 1 where there are disagreements."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--strings", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    lots, pairs = random.Random(given.seed), [(one, locale) for one in ITEMS for locale in LOCALES]
    right, different, tried = 0, 0, Counter[str]()
    share, rest = divmod(given.strings, len(pairs))
    for at, (one, locale) in enumerate(pairs):
        audit = audit_mark(one, locale)
        marks = [(target, package_mark(one, locale, target)) for target in TARGETS]
        for _ in range(share + (at < rest)):
            text = typed_string(one, lots)
            worth = audit(text)
            right += worth > 0
            for target, mark in marks:
                if mark is None:
                    continue
                tried[target] += 1
                if mark(text) != worth:
                    different += 1
                    if different <= MOST_SHOWN:
                        print(f"{target}, {locale.identifier}, {one.identifier}: {text!r} earns {mark(text)}, not {worth}")
    print(f"{given.strings:,} strings, {right:,} of them right; tried {dict(tried)}; {different:,} disagreements")
    return int(different > 0)


if __name__ == "__main__":
    sys.exit(main())
