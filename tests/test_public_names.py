"""What a file offers is named in ``__all__``, sorted and whole; and the command starts without heavy libraries."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import registry

PACKAGE = Path(registry.__file__).parent
FILES = sorted(p for p in PACKAGE.rglob("*.py") if p.name not in ("__init__.py", "__main__.py"))
HEAVY = ("pandas", "geopandas", "folium", "fiona", "pyogrio", "scipy", "typst", "rich", "segno", "fontTools")


def named(tree: ast.Module) -> list[str] | None:
    """Give ``__all__`` as it is written."""
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if any(isinstance(target, ast.Name) and target.id == "__all__" for target in targets):
            value = getattr(node, "value", None)
            assert value is not None
            return [str(name) for name in ast.literal_eval(value)]
    return None


def bound(tree: ast.Module) -> set[str]:
    """Give every name that stands at the top of a file, also those that it passes on."""
    names = {
        n.name for n in tree.body if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
    }
    for node in tree.body:
        if isinstance(node, ast.Assign):
            names |= {t.id for t in node.targets if isinstance(t, ast.Name)}
        elif isinstance(node, ast.ImportFrom):
            names |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            names.add(node.target.id)
    return names


def taken_by_others() -> dict[str, set[str]]:
    """Give, for each file of the package, the names that others import from it."""
    taken: dict[str, set[str]] = {}
    for file in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("registry."):
                taken.setdefault(node.module, set()).update(alias.name for alias in node.names)
    return taken


#: Taken by other files though their own does not name them: to be named, and struck from here.
NOT_NAMED_YET = {
    "Bounds",
    "DRIFT_YEARS",
    "FASTEST_MPS",
    "SLOWEST_MPS",
    "POSITION_KINDS",
    "UNSAID",
    "sync_folder",
}
TAKEN = taken_by_others()


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_all_is_sorted_and_names_everything_that_other_files_take(file):
    tree = ast.parse(file.read_text(encoding="utf-8"))
    names = named(tree)
    module = ".".join(file.relative_to(PACKAGE.parent).with_suffix("").parts)
    taken = TAKEN.get(module, set())
    assert not {name for name in taken if name.startswith("_")}
    if names is None:
        assert file.parent.name == "cli" or file.name == "errors.py", "it has no __all__"
        return
    assert names == sorted(names, key=_as_linters_sort)
    assert len(names) == len(set(names))
    assert set(names) <= bound(tree), set(names) - bound(tree)
    assert taken - NOT_NAMED_YET <= set(names), taken - set(names)


def _as_linters_sort(name: str) -> tuple[int, str]:
    """Sort constants first, then classes, then the rest."""
    return (0 if name.isupper() else 1 if name[0].isupper() else 2, name)


def test_the_front_door_offers_what_it_says():
    assert registry.__all__ == ["__version__", "open_registry"]
    assert all(hasattr(registry, name) for name in registry.__all__)


def test_the_version_is_that_of_the_package():
    import tomllib

    project = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == registry.__version__


#: What only a depth or a position that is to be derived needs.
NOT_FOR_A_DROP = ("registry.actions.derive_sounding", "registry.measure.tide", "registry.records.survey")

SESSION = """
import os, sys
os.chdir(sys.argv[1])
os.environ["LEADLINE_KEYS"] = sys.argv[1]
from registry.cli.main import run
def heavy(): return sorted(set(sys.argv[2].split(",")) & set(sys.modules))
assert not heavy(), ("importing the command", heavy())
assert run(["--help"]) == 0
assert not heavy(), ("--help", heavy())
assert run(["new", "--programme", "X", "--frame", "EPSG:6318"]) == 0
assert not heavy(), ("new", heavy())
assert run(["permit", "add", "hb-0417.toml"]) == 0
assert not heavy(), ("permit add", heavy())
line = ["--permit", "HB-0417", "--at", "34 00.1 N 77 00.1 W", "--frame", "EPSG:4326", "--r95", "2 m"]
assert run(["check", "--type", "hump-90", *line]) == 3
assert not heavy(), ("check", heavy())
assert run(["place", "A", "--type", "hump-90", *line, "--when", "2026-06-14T10:32Z"]) == 3
assert not heavy(), ("place", heavy())
assert run(["check", "--type", "hump-90", *line]) in (1, 3)
assert not heavy(), ("check beside a neighbour", heavy())
"""


def test_the_command_starts_without_heavy_libraries(tmp_path):
    from tests.cli.reef import PERMIT

    (tmp_path / "hb-0417.toml").write_text(PERMIT, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", SESSION, str(tmp_path), ",".join((*HEAVY, *NOT_FOR_A_DROP))],
        capture_output=True,
        text=True,
        check=False,
        cwd=PACKAGE.parent,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""


def test_the_package_itself_loads_nothing_but_itself():
    code = "import sys; import registry; print(sorted(n for n in sys.modules if n.split('.')[0] in sys.argv[1].split(',')))"
    names = ",".join((*HEAVY, "numpy", "shapely", "pyproj", "click"))
    done = subprocess.run([sys.executable, "-c", code, names], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
