"""The direction of imports, what may stand where, and how long a file may grow."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

PROJECT = Path(__file__).resolve().parents[1]
ROOMS = ("shared", "vessels", "terminals", "compat")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml", "templates", "tests", *ROOMS}
MOST_LINES = 400
PURE_MARK = "(pure"
READ_BY_PEOPLE = {".py", ".html", ".css", ".js", ".md"}


def project_files() -> list[Path]:
    """Every file of the project, leaving out dot-folders and what Python leaves behind."""
    found = []
    for path in PROJECT.rglob("*"):
        parts = path.relative_to(PROJECT).parts
        if path.is_file() and not any(part.startswith(".") or part == "__pycache__" for part in parts):
            found.append(path)
    return found


def modules() -> list[Path]:
    return [path for path in project_files() if path.suffix == ".py" and path.relative_to(PROJECT).parts[0] in ROOMS]


def name_of(path: Path) -> str:
    parts = path.relative_to(PROJECT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def imports_of(path: Path) -> Iterator[str]:
    """Name everything a file imports, ``from a import b`` as both a and a.b."""
    for node in ast.walk(parsed(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: imports are written with their full name"
            assert node.module is not None
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def is_calc(path: Path) -> bool:
    return "calc" in path.relative_to(PROJECT).parts


def is_pure(path: Path) -> bool:
    docstring = ast.get_docstring(parsed(path)) or ""
    return is_calc(path) or PURE_MARK in docstring


def test_the_contracts_of_import_linter_are_kept(capsys: pytest.CaptureFixture[str]) -> None:
    status = lint_imports(config_filename=str(PROJECT / "pyproject.toml"), no_cache=True)
    assert status == 0, capsys.readouterr().out


def test_calc_folders_and_pure_files_import_no_django_and_nothing_that_does() -> None:
    known = {name_of(path): path for path in modules()}
    wrong = []
    for name, path in known.items():
        if not is_pure(path):
            continue
        for imported in imports_of(path):
            if imported.split(".")[0] in {"django", "crispy_forms", "csp"}:
                wrong.append(f"{name} imports {imported}")
            elif imported in known and known[imported].name != "__init__.py" and not is_pure(known[imported]):
                wrong.append(f"{name} imports {imported}, which is not pure")
    assert not wrong


def test_there_are_pure_files_to_check() -> None:
    pure = {name_of(path) for path in modules() if is_pure(path)}
    assert {"shared.calc.units", "shared.canonical", "shared.signing", "compat.case.case_file", "vessels.facts"} <= pure
    assert "shared.models" not in pure


def test_no_file_is_longer_than_a_person_can_hold() -> None:
    too_long = {
        str(path.relative_to(PROJECT)): lines
        for path in project_files()
        if path.suffix in READ_BY_PEOPLE
        and "migrations" not in path.parts  # Django writes those
        and (lines := len(path.read_text(encoding="utf-8").splitlines())) > MOST_LINES
    }
    assert not too_long


def test_the_top_level_shows_what_it_should_and_nothing_more() -> None:
    seen = {path.relative_to(PROJECT).parts[0] for path in project_files()}
    assert seen == TOP_LEVEL


def test_every_package_says_what_it_is() -> None:
    folders = {path.parent for path in modules() if "migrations" not in path.parts}
    silent = [
        str(folder.relative_to(PROJECT))
        for folder in folders
        if not (folder / "__init__.py").exists() or not ast.get_docstring(parsed(folder / "__init__.py"))
    ]
    assert not silent


def test_no_page_has_a_script_or_style_of_its_own_inside() -> None:
    # The content security policy would refuse them: scripts and styles are files under templates/static.
    wrong = []
    for path in project_files():
        if path.suffix != ".html" or "print" in path.name:
            continue
        text = path.read_text(encoding="utf-8").lower()
        inline = "<style" in text or " style=" in text or " onclick=" in text
        if inline or "<script>" in text or 'type="text/javascript">' in text:
            wrong.append(str(path.relative_to(PROJECT)))
    assert not wrong
