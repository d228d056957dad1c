"""Simulated results: pupils with abilities, with stable and unstable mistakes, with slips and gaps.

They serve to try the reports before a term begins, and to test whether the audit finds again what was put in. Floats
are used freely: nothing here decides a key. What comes out is marked as simulated wherever it is written.
"""

from __future__ import annotations

from bank.audit.simulation._model import Settings, Simulation, Truth, simulate
from bank.audit.simulation._writing import (
    BANK_PREFIX, BANK_SOURCE, FORMS, GROUP_SOURCE, SIMULATED_SOURCE, form_of, write_results, write_truth,
)

__all__ = [
    "BANK_PREFIX", "BANK_SOURCE", "FORMS", "GROUP_SOURCE", "SIMULATED_SOURCE", "Settings", "Simulation", "Truth", "form_of", "simulate",
    "write_results", "write_truth",
]
