"""What the command ``audit`` does with results."""

from __future__ import annotations

import argparse
import csv
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from bank.audit.after import AfterUse, Material, audit_after, material_of, material_of_counts, screened, shown_material
from bank.audit.before import BeforeUse
from bank.audit.counting.engines import count_with
from bank.audit.earlier_reports import Shown, shown_of, shown_of_counts
from bank.audit.reading import read_results
from bank.audit.reading._keys import quiz_keys
from bank.audit.records import Counts
from bank.audit.report.after import terminal_lines, write_after
from bank.audit.report.pupils import write_pupils
from bank.audit.report.usage import write_usage
from bank.audit.settings import Settings, load_settings
from bank.audit.suppression import withheld_groups
from bank.audit.track import add_entry
from bank.audit.track import file_beside as track_beside
from bank.audit.weights_file import write_weights
from bank.commands._earlier import compared
from bank.commands._least import least_of, refuse_few, refuse_unshown
from bank.commands._results import answers_from, mapping_from
from bank.decisions import Decision, standing
from bank.errors import BadInput, Place, Problem, did_you_mean
from bank.store import Bank
from bank.trees import THRESHOLDS


def report_after(
    arguments: argparse.Namespace, bank: Bank, before: BeforeUse, decisions: Sequence[Decision], folder: Path,
    today: str,
) -> tuple[list[str], tuple[Path, ...]]:
    """Write the report after use and what else is asked for; return the lines for the terminal and the paths.

    Raises:
        BadInput: the results cannot be read, or a file cannot be written.
    """
    settings = load_settings(bank.own_setting(THRESHOLDS), arguments.settings)
    least = least_of(arguments, int(settings["smallest_group"]))
    material = _counted(arguments, bank) if arguments.engine else material_of(answers_from(arguments, bank))
    refuse_few(material.pupils, least)
    material = _counting(arguments, material, before, settings)
    answers = material.answers
    if arguments.compare:
        _known_groups(arguments.compare, material.sizes, withheld_groups(material.sizes, least))
    audit = audit_after(
        before, bank, material, settings=settings, least=least,
        compare=(arguments.compare[0], arguments.compare[1]) if arguments.compare else None,
        earlier=_earlier(arguments, bank, before, settings, least),
    )
    refuse_unshown(len(audit.forms), least, bool(audit.unread))
    cautions, remember = compared(bank.path, _shown(audit, material, today), least, material.simulated)
    cautions = [*([material.foreign] if material.foreign else []), *cautions]
    words, more = "Calibrated weights are written only where --calibrate FILE asks for them.", []
    if arguments.calibrate is not None and audit.calibration is not None:
        version = write_weights(arguments.calibrate, before.weights, audit.calibration, today, material.simulated)
        words = f"They were written to {arguments.calibrate.name} as version {version}."
        more.append(arguments.calibrate)
    paths = write_after(audit, bank, decisions, folder, today, words, cautions)
    if arguments.keep and audit.coverage is not None:
        more.append(track_beside(bank.path))
        add_entry(
            more[-1], today, " ".join(form.quiz for form in audit.forms), before.class_kind.name,
            before.weights.version, audit.coverage, audit.simulated,
        )
    if arguments.usage_data:
        more += write_usage(audit, folder, arguments.usage_data, date.fromisoformat(today))
    if arguments.pupils and answers is not None:
        more += write_pupils(audit, bank, answers, folder, today)
    lines = [*terminal_lines(audit, standing(decisions)), *(f"! {words}" for words in (*cautions, *remember()))]
    if arguments.calibrate is not None and audit.calibration is None:
        lines.append(f"! No weights written: {audit.not_calibrated}")
    if arguments.pupils and answers is None:
        lines.append("! No file of single pupils: an engine counted, single pupils are not known here")
    return lines, (*paths, *more)


def _shown(audit: AfterUse, material: Material, today: str) -> list[Shown]:
    """Return what the *audit* shows of the *material*, to be compared with other reports."""
    if material.answers is None:
        shown = {form.quiz for form in audit.forms}
        return shown_of_counts([one for one in material.counts if one.form.quiz in shown], today)
    groups = ["", *(name for name, _ in audit.groups if name)]
    return shown_of(material.answers, [form.quiz for form in audit.forms], groups, today)


def _counting(arguments: argparse.Namespace, material: Material, before: BeforeUse, settings: Settings) -> Material:
    """Return the *material* of the pupils who are to count: those who answered the items, or everyone if asked for."""
    if arguments.count_unusual:
        return replace(material, set_aside=())
    return screened(material, before, settings)


def _earlier(
    arguments: argparse.Namespace, bank: Bank, before: BeforeUse, settings: Settings, least: int
) -> Sequence[Counts]:
    """Return the counts of an earlier use as far as they may be shown, none where no results of one are named."""
    if not arguments.earlier:
        return []
    answers = read_results(
        bank, arguments.earlier, mapping=mapping_from(arguments.mapping), salt=arguments.salt,
        attempts=arguments.attempts, absent=arguments.absent, quiz=arguments.results_quiz,
    )
    material = _counting(arguments, material_of(answers), before, settings)
    return shown_material(material, least, settings["refused_most"])[0].counts


def _known_groups(wanted: Sequence[str], sizes: Mapping[str, int], hidden: Collection[str]) -> None:
    unknown = [name for name in wanted if name not in sizes]
    if unknown or len(set(wanted)) < 2:
        raise BadInput(Problem(
            "group-unknown", Place("--compare"), "", f"no two groups are named by {' and '.join(wanted)}",
            did_you_mean((unknown or list(wanted))[0], [name for name in sizes if name and name not in hidden]),
        ))


def _counted(arguments: argparse.Namespace, bank: Bank) -> Material:
    """Return what an engine counts, of its table or of the files that are given.

    Raises:
        BadInput: the engine or a file is at fault, or no answer counts (``results-empty``).
    """
    if arguments.attempts == "all":
        raise BadInput(Problem("attempts-unknown", Place("--attempts"), "", "an engine counts one attempt of a pupil",
                               "write first or last"))
    counted = count_with(arguments.engine, quiz_keys(bank), arguments.results, attempts=arguments.attempts)
    if not counted.counts:
        raise BadInput([
            Problem("results-refused", Place(file, row), "", reason) for file, row, reason in counted.rejected[:20]
        ] or [Problem("results-empty", Place("--engine"), "", "there are no answers to quizzes of this bank",
                      "name a table with answers to them")])
    simulated = arguments.simulated or any(map(_says_simulated, arguments.results))
    return material_of_counts(counted, simulated=simulated)


def _says_simulated(path: Path) -> bool:
    """Return whether the first row of a table says that it is simulated."""
    with path.open(encoding="utf-8-sig", newline="", errors="replace") as file:
        rows = csv.DictReader(file)
        first = next(rows, None)
    return first is not None and str(first.get("simulated", "")).strip().lower() in ("yes", "true", "1")
