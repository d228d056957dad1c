"""What a build says of itself: yields, the guesser's panel, mistakes used, findings; as record, JSON and plain text.

Nothing here depends on the clock or the machine: the same files and seed give the same summary. How the figures
come about is the business of other rooms; here they are only counted, kept and told.
"""

from __future__ import annotations

from bank.summary.as_json import from_json, to_json
from bank.summary.as_text import terminal_summary
from bank.summary.counts import Tally, completed, kind_of, mistakes_behind, mistakes_of, tally
from bank.summary.records import (
    BANDS,
    SEVERITIES,
    WHOLE_BANK,
    Bank,
    BuildSummary,
    FamilyYield,
    FromBefore,
    GuessResult,
    StrategyResult,
)
from bank.summary.reviewed import Reviewed, reviewed, reviewed_lines

__all__ = [
    "BANDS",
    "SEVERITIES",
    "WHOLE_BANK",
    "Bank",
    "BuildSummary",
    "FamilyYield",
    "FromBefore",
    "GuessResult",
    "Reviewed",
    "StrategyResult",
    "Tally",
    "completed",
    "from_json",
    "kind_of",
    "mistakes_behind",
    "mistakes_of",
    "reviewed",
    "reviewed_lines",
    "tally",
    "terminal_summary",
    "to_json",
]
