"""Make the next lesson from results: one page of the mistakes that matter, and a quiz for each from unused items."""

from __future__ import annotations

import argparse
from pathlib import Path

from bank.commands._arguments import folder
from bank.commands._least import add_least
from bank.commands._results import add_results_arguments


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright lesson``."""
    parser.add_argument("bank", type=Path, metavar="BANK", help="the bank.sqlite that a build wrote")
    add_results_arguments(parser)
    add_least(parser)
    parser.add_argument("--group", default="", metavar="NAME", help="the class, where the results hold several groups")
    parser.add_argument("--most", type=int, default=3, metavar="N", help="mistakes on the page (default 3)")
    parser.add_argument("-o", dest="folder", type=folder, required=True, metavar="DIR", help="the folder to write into")


def run(arguments: argparse.Namespace) -> int:
    """Write page and quizzes and return the exit status."""
    from datetime import UTC, datetime

    from bank.audit.class_mistakes import explain_answers
    from bank.audit.earlier_reports import shown_of
    from bank.audit.explained import explainers_of
    from bank.audit.lesson import plan_lesson, write_lesson_bank
    from bank.audit.report.lesson import write_lesson
    from bank.audit.suppression import LEAST, withheld_groups
    from bank.audit.withholding import shown_answers
    from bank.commands._earlier import compared
    from bank.commands._least import least_of, refuse_few, refuse_unshown
    from bank.commands._results import answers_from
    from bank.decisions import file_beside, read_decisions, standing
    from bank.errors import BadInput, Place, Problem, did_you_mean
    from bank.run import Run
    from bank.store import Bank, Shelf

    least = least_of(arguments, LEAST)
    if not arguments.results:
        raise BadInput(Problem("results-missing", Place("--results"), "", "a lesson is made from results",
                               "name files with results after --results"))
    if not 1 <= arguments.most <= 20:
        raise BadInput(Problem("most-out-of-range", Place("--most"), "", f"{arguments.most} is no number of mistakes",
                               "write a whole number from 1 to 20"))
    with Bank.checked(Shelf(arguments.bank, withdrawn=True)) as bank:
        answers = answers_from(arguments, bank)
        refuse_few(len(answers.pupils), least)
        used = {item for form in answers.forms for item in form.form.items}
        read = answers
        answers, left = shown_answers(answers, least)
        refuse_unshown(len(answers.forms), least, bool(left.unread))
        sizes = answers.group_sizes()
        hidden = withheld_groups(sizes, least)
        if arguments.group:
            if arguments.group not in sizes:
                wrong = f"no pupil is in a group {arguments.group!r}"
                shown_groups = [name for name in sizes if name and name not in hidden]
                raise BadInput(Problem(
                    "group-unknown", Place("--group"), "", wrong, did_you_mean(arguments.group, shown_groups)
                ))
            if arguments.group in hidden:
                raise BadInput(Problem(
                    "group-too-small", Place("--group"), "",
                    f"{arguments.group!r} has fewer than {least} pupils, or could be worked out from the others",
                    "leave --group away, or, where your local policy allows it, say a smaller number after --least",
                ))
        titles = {quiz.identifier: quiz.title for quiz in bank.quizzes}
        lesson = plan_lesson(
            bank, explain_answers(answers, explainers_of(bank, used), least), used,
            standing(read_decisions(file_beside(arguments.bank))), group=arguments.group,
            pupils=sizes[arguments.group] if arguments.group else len(answers.pupils),
            quizzes=[titles.get(form.form.quiz, form.form.quiz) for form in answers.forms],
            simulated=answers.simulated, most=arguments.most,
        )
    today = f"{datetime.now(UTC):%Y-%m-%d}"
    shown = shown_of(read, [form.form.quiz for form in answers.forms], [arguments.group], today, "lesson")
    cautions, remember = compared(arguments.bank, shown, least, answers.simulated)
    paths = [arguments.folder / "lesson.html"]
    with Run(arguments.folder, "lesson") as one_step:
        write_lesson(lesson, paths[0], today)
        quizzes = arguments.folder / "lesson.sqlite"
        if any(part.quiz for part in lesson.parts):
            paths.append(quizzes)
            write_lesson_bank(lesson, quizzes)
        else:
            one_step.retire([quizzes])  # those of an earlier lesson do not belong to this page
    if lesson.simulated:
        print("SIMULATED RESULTS: no pupil gave these answers.")
    for part in lesson.parts:
        print(f"{part.mistake.name}: the answers of {part.row.pupils} pupils fit it again and again;"
              f" {len(part.fresh)} fresh items")
    if not lesson.parts:
        print("No mistake stands out in these answers.")
    unread = [f"{one.item} ({one.quiz}) is left out: too many of its rows could not be read" for one in left.unread]
    for line in (*unread, *cautions, *remember()):
        print(f"! {line}")
    for path in paths:
        print(path)
    return 0
