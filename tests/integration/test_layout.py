"""The house rules of DEVELOPERS.md, held by reading the source: rooms, who imports whom, and headers."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).parents[2]
TOP_ROOMS = ("pipelines", "analysis", "sql")
PATHS = sorted(path for room in TOP_ROOMS for path in (ROOT / room).rglob("*.py"))
MODELS = sorted((ROOT / "sql").rglob("*.sql"))

OWNERS = {
    "duckdb": "pipelines/storage/",
    "prefect": "pipelines/batch/",
    "distributed": "pipelines/ingest/cluster.py",
    "starlette": "pipelines/desk/",
    "uvicorn": ("pipelines/batch/flows.py", "pipelines/desk/server.py"),
    "typer": "pipelines/commands/",
    "rich": "pipelines/commands/console.py",
    "mlxtend": "analysis/mining/itemsets.py",
    "pandas": "analysis/mining/itemsets.py",
    "altair": "analysis/charts/",
    "reportlab": "pipelines/report/job_sheet_pdf.py",
    "vl_convert": "analysis/charts/",
}
# A room may import the rooms below it, and those of its own floor that stand before it.
FLOORS = {
    "pipelines": (
        "ground",
        "reading",
        "storage",
        "ingest",
        "report",
        "batch",
        "lineage",
        "sharing",
        "desk",
        "commands",
    ),
    "analysis": ("ground", "texts", "vocabulary", "statistics", "mining", "evidence", "diagnosis", "charts"),
}
# The same inside a room: what lies directly in it is its engine; its package's front hands on what stands below.
INNER_FLOORS = {
    "analysis/diagnosis": ("inputs", "model", "learning", "inference", "decision", "engine", "evaluation"),
}
MOST_INNER_ARROWS = 20
LEAF = "analysis/texts"  # imports no other room, and every room may import it
MOST_ARROWS = 55
OUTSIDE_WORLD = {
    "os",
    "pathlib",
    "shutil",
    "tempfile",
    "sqlite3",
    "subprocess",
    "socket",
    "time",
    "random",
    "pipelines",
    "sql",
}
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "pipelines", "sql", "analysis", "tests", "fixtures"}
MADE_BY_TOOLS = {"dist", "build", "knockon-demo", "__pycache__"}


def place(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def dotted(path: Path) -> str:
    name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
    return name.removesuffix(".__init__")


def room(path: Path) -> str:
    """The room a module stands in; what lies directly in a top folder is its ground, the program's entry its top."""
    top, *inner = path.relative_to(ROOT).with_suffix("").parts
    if inner == ["__main__"]:
        return f"{top}/commands"
    return f"{top}/{inner[0]}" if len(inner) > 1 else f"{top}/ground"


MODULES = {dotted(path): path for path in PATHS}


def imports(path: Path) -> Iterator[str]:
    """Yield the dotted name of everything a module imports, for types alone too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import"
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                yield inner if inner in MODULES else node.module or ""


def arrows() -> dict[tuple[str, str], list[str]]:
    """Every pair of rooms of which one imports the other, with the imports."""
    found = defaultdict(list)
    for name, path in MODULES.items():
        for used in imports(path):
            if used in MODULES and room(MODULES[used]) != room(path):
                found[room(path), room(MODULES[used])].append(f"{name} imports {used}")
    return found


@pytest.mark.parametrize("path", PATHS, ids=place)
def test_each_outside_library_has_one_door(path) -> None:
    used = {name.split(".")[0] for name in imports(path)}
    for library, owner in OWNERS.items():
        assert place(path).startswith(owner) or library not in used
    if path.is_relative_to(ROOT / "analysis"):
        assert not OUTSIDE_WORLD & used


def test_no_module_imports_itself_by_a_detour() -> None:
    graph = nx.DiGraph(
        (name, used) for name, path in MODULES.items() for used in imports(path) if used in MODULES and used != name
    )
    assert sorted(nx.simple_cycles(graph)) == []


def test_rooms_import_only_what_stands_below_them() -> None:
    between = arrows()
    for (here, there), named in between.items():
        top, inner = here.split("/")
        below = FLOORS.get(top, ())
        allowed = {f"{top}/{other}" for other in below[: below.index(inner)]} if inner in below else set()
        whole = {f"analysis/{other}" for other in FLOORS["analysis"]} if top == "pipelines" else {LEAF}
        assert there in allowed | whole, named
    assert not [pair for pair in between if pair[0] == LEAF]
    assert len([pair for pair in between if pair[0].split("/")[0] == pair[1].split("/")[0]]) <= MOST_ARROWS


def inner_room(path: Path, within: str) -> str | None:
    """The room inside a room that a module stands in; None for the room's own front."""
    *folders, name = path.relative_to(ROOT / within).with_suffix("").parts
    return folders[0] if folders else None if name == "__init__" else "engine"


@pytest.mark.parametrize("within", INNER_FLOORS)
def test_rooms_inside_a_room_import_only_what_stands_below_them(within) -> None:
    floors, between = INNER_FLOORS[within], defaultdict(list)
    modules = {name: path for name, path in MODULES.items() if place(path).startswith(f"{within}/")}
    for name, path in modules.items():
        here = inner_room(path, within)
        for used in imports(path):
            there = inner_room(modules[used], within) if used in modules else here
            if here is not None and there != here:
                between[here, there].append(f"{name} imports {used}")
    assert {inner_room(path, within) for path in modules.values()} == {None, *floors}
    for (here, there), named in between.items():
        assert there in floors[: floors.index(here)], named
    assert len(between) <= MOST_INNER_ARROWS


Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def definitions(body: list[ast.stmt]) -> Iterator[Definition]:
    """Yield every class, function and method; what stands inside a function is that function's own business."""
    for node in body:
        if isinstance(node, Definition):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from definitions(node.body)


@pytest.mark.parametrize("path", PATHS, ids=place)
def test_modules_and_what_they_offer_say_what_they_are_for(path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert ast.get_docstring(tree)
    silent = [node.name for node in definitions(tree.body) if not node.name.startswith("_")]
    silent = [node.name for node in definitions(tree.body) if node.name in silent and not ast.get_docstring(node)]
    assert not silent


@pytest.mark.parametrize("path", MODELS, ids=place)
def test_models_state_their_row_grain_and_sources(path) -> None:
    header = [line for line in path.read_text(encoding="utf-8").splitlines() if line.startswith("--")]
    assert header[0].startswith("-- One row per ")
    assert [sum(line.startswith(f"-- {key}:") for line in header) for key in ("grain", "reads")] == [1, 1]


def test_nothing_else_stands_at_the_top() -> None:
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")} - MADE_BY_TOOLS
    assert {name for name in found if not name.endswith((".egg-info", ".lock"))} == TOP_LEVEL
    assert MODULES
    assert MODELS
