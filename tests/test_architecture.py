"""Rules about the code itself: rooms, sizes, docstrings, no floats where keys are decided."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("bank", "exporters", "schemas")
FILES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))
EXACT_ROOMS = (
    "numerals.py", "model.py", "methods", "mistakes", "expressions", "draw", "distractors.py", "checks", "cues",
    "answers.py", "templates", "difficulty", "slips", "kinds", "further.py", "guesses.py", "guessing.py",
)
EXACT_FILES = [
    path for path in FILES if path.is_relative_to(ROOT / "bank")
    and any(path.relative_to(ROOT / "bank").parts[0].removesuffix(".py") == room.removesuffix(".py")
            for room in EXACT_ROOMS)
]


def _name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def test_rooms_import_only_what_lies_below_them() -> None:
    if not (ROOT / "pyproject.toml").is_file():
        pytest.skip("the checkout's pyproject.toml is not here")
    done = subprocess.run(
        [sys.executable, "-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize("room", ["bank.mistakes", "bank.methods", "bank.slips", "exporters", "bank.checks", "bank.commands"])
def test_members_of_a_room_do_not_import_one_another(room: str) -> None:
    folder = ROOT.joinpath(*room.split("."))
    members = {path.stem for path in folder.glob("*.py") if not path.stem.startswith("_")}
    for name in members:
        tree = ast.parse((folder / f"{name}.py").read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(room):
                used = {(node.module or "").removeprefix(room).strip(".")} | {alias.name for alias in node.names}
                assert not used & (members - {name}), f"{room}.{name}, line {node.lineno}"


@pytest.mark.parametrize("path", FILES, ids=_name)
def test_no_file_is_longer_than_500_lines(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 500


def _public_without_docstring(tree: ast.Module) -> list[str]:
    missing = [] if ast.get_docstring(tree) else ["the module"]
    for node in tree.body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            if not ast.get_docstring(node):
                missing.append(node.name)
            for inner in node.body if isinstance(node, ast.ClassDef) else []:
                if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                    if not ast.get_docstring(inner):
                        missing.append(f"{node.name}.{inner.name}")
    return missing


@pytest.mark.parametrize("path", FILES, ids=_name)
def test_every_public_name_has_a_docstring(path: Path) -> None:
    assert _public_without_docstring(ast.parse(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize("path", EXACT_FILES, ids=_name)
def test_no_float_where_keys_and_wrong_options_are_decided(path: Path) -> None:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Constant) and isinstance(node.value, float):
            found.append((node.lineno, node.value))
        elif isinstance(node, ast.Name) and node.id in ("float", "round"):
            found.append((node.lineno, node.id))
        elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Div) and not _joins_paths(node):
            found.append((node.lineno, "/"))
    assert found == []


def _joins_paths(node: ast.BinOp) -> bool:
    return any(isinstance(part, ast.Constant) and isinstance(part.value, str) for part in (node.left, node.right))


def test_the_checked_rooms_exist() -> None:
    rooms = {path.relative_to(ROOT / "bank").parts[0] for path in EXACT_FILES}
    assert {"numerals.py", "model.py", "methods", "mistakes", "distractors.py", "checks", "cues", "kinds"} <= rooms


def test_help_does_not_load_what_only_other_commands_need() -> None:
    code = (
        "import sys\nfrom bank.cli import main\nmain(['--help'])\n"
        "heavy = {'jinja2', 'lxml', 'xmlschema', 'numpy', 'yaml', 'sqlite3'} & set(sys.modules)\n"
        "sys.exit(f'loaded: {heavy}' if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_the_installed_packages_are_those_of_the_checkout() -> None:
    import bank
    import exporters
    import schemas

    for module in (bank, exporters, schemas):
        installed = Path(str(module.__file__)).parent
        checkout = ROOT / module.__name__
        here = _contents(checkout)
        assert here, "the checkout is empty"
        assert _contents(installed) == here


def _contents(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and "__pycache__" not in path.parts and path.suffix != ".pyc"
    }
