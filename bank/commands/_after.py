"""What the command ``audit`` does with results."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from bank.audit.after import audit_after
from bank.audit.before import BeforeUse
from bank.audit.decisions import Decision, standing
from bank.audit.report.after import terminal_lines, write_after
from bank.audit.report.pupils import write_pupils
from bank.audit.weights_file import write_weights
from bank.commands._least import least_of, refuse_few
from bank.commands._results import answers_from
from bank.store import Bank


def report_after(
    arguments: argparse.Namespace, bank: Bank, before: BeforeUse, decisions: Sequence[Decision], folder: Path,
    today: str,
) -> tuple[list[str], tuple[Path, ...]]:
    """Write the report after use and what else is asked for; return the lines for the terminal and the paths.

    Raises:
        BadInput: the results cannot be read, or a file cannot be written.
    """
    least = least_of(arguments)
    answers = answers_from(arguments, bank)
    refuse_few(answers, least)
    audit = audit_after(before, bank, answers, least=least)
    words, more = "Calibrated weights are written only where --calibrate FILE asks for them.", []
    if arguments.calibrate is not None and audit.calibration is not None:
        version = write_weights(arguments.calibrate, before.weights, audit.calibration, today, answers.simulated)
        words = f"They were written to {arguments.calibrate.name} as version {version}."
        more.append(arguments.calibrate)
    paths = write_after(audit, bank, decisions, folder, today, words)
    if arguments.pupils:
        more += write_pupils(audit, answers, folder, today)
    lines = list(terminal_lines(audit, standing(decisions)))
    if arguments.calibrate is not None and audit.calibration is None:
        lines.append(f"! No weights written: {audit.not_calibrated}")
    return lines, (*paths, *more)
