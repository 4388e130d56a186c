"""The house holds what its map says, and imports point one way.

Three looks at the imports, because each sees what the others miss: the contracts do not notice a
line in `circuits/__init__.py`, a bare start does not notice an import inside a function.
"""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

REPOSITORY = Path(__file__).resolve().parents[1]
ROOT_HOLDS = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "manage.py",
    "pyproject.toml",
    "requirements.in",
    "requirements.lock",
    "requirements-test.in",
    "requirements-test.lock",
    "cases",
    "circuits",
    "api",
    "templates",
    "tests",
}
MADE_BY_RUNNING = {"var", "__pycache__"}


def imported_modules(file: Path) -> set[str]:
    """Return the full names of all modules that the file imports, wherever in it."""
    names = set()
    for node in ast.walk(ast.parse(file.read_text())):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add("." * node.level + (node.module or ""))
    return names


def test_the_root_holds_only_what_the_map_names() -> None:
    found = {path.name for path in REPOSITORY.iterdir() if not path.name.startswith(".")}

    assert found - MADE_BY_RUNNING == ROOT_HOLDS


@pytest.mark.parametrize("package", ["circuits.engine", "circuits.sheet"])
def test_a_bare_python_imports_the_physics_without_django(package) -> None:
    program = f"import {package}, sys; print(sorted({{n.split('.')[0] for n in sys.modules}}))"
    answer = subprocess.run(
        [sys.executable, "-c", program],
        cwd=REPOSITORY,
        env={"PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=True,
    )
    modules = set(ast.literal_eval(answer.stdout))

    assert "numpy" in modules
    assert modules.isdisjoint({"django", "rest_framework", "psycopg", "api", "cases"})


def test_the_engine_imports_the_standard_library_and_numpy_alone() -> None:
    files = sorted((REPOSITORY / "circuits" / "engine").rglob("*.py"))
    imported = set().union(*map(imported_modules, files))
    strangers = {
        name
        for name in imported
        if name.split(".")[0] not in sys.stdlib_module_names | {"numpy"}
        and not name.startswith("circuits.engine")
    }

    assert len(files) > 10
    assert strangers == set()


def test_the_import_contracts_are_kept() -> None:
    answer = subprocess.run(
        [str(Path(sys.executable).with_name("lint-imports")), "--no-cache"],
        cwd=REPOSITORY,
        capture_output=True,
        text=True,
        check=False,
    )

    assert answer.returncode == 0, answer.stdout
    assert "0 broken" in answer.stdout
