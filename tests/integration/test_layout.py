"""The house rules of DEVELOPERS.md, held by reading the source: rooms, imports, sizes and headers."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ROOMS = ("pipelines", "analysis", "sql")
MODULES = sorted(path for room in ROOMS for path in (ROOT / room).rglob("*.py"))
MODELS = sorted((ROOT / "sql").rglob("*.sql"))

OWNERS = {
    "duckdb": "pipelines/warehouse.py",
    "prefect": "pipelines/flows",
    "distributed": "pipelines/cluster.py",
    "uvicorn": "pipelines/flows.py",
    "typer": "pipelines/cli",
    "rich": "pipelines/console.py",
    "mlxtend": "analysis/mining/patterns.py",
    "pandas": "analysis/mining/patterns.py",
    "altair": "analysis/charts/",
    "reportlab": "pipelines/jobsheet_pdf.py",
    "vl_convert": "analysis/charts/",
}
LAYERS = ("vocabulary", "mining", "evidence", "diagnosis", "charts")
LEAF = "texts"  # imports no other room, and every room may import it
SHELL = {  # who may import what of pipelines
    "cli": {
        "cli_car",
        "cli_keep",
        "cli_log",
        "cli_paper",
        "console",
        "demo_dealer",
        "drafts",
        "errors",
        "filecheck",
        "flows",
        "part_names",
        "settings",
        "weekly",
        "workspace",
    },
    "cli_car": {"appraise", "console", "why", "workspace"},
    "cli_keep": {"errors", "console", "opening", "restoring", "settings", "snapshots", "undo", "workspace"},
    "cli_log": {"errors", "console", "joblog", "settings", "workspace"},
    "cli_paper": {
        "errors",
        "console",
        "flows_due",
        "schedule",
        "settings",
        "share",
        "trace",
        "trace_view",
        "workspace",
    },
    "flows": {"engine", "errors", "weekly", "workspace"},
    "flows_due": {"engine", "errors", "flows", "schedule", "workspace"},
    "weekly": {"cluster", "failures", "opening", "settings", "steps", "workspace"},
}
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


def imports(path: Path) -> Iterator[str]:
    """Yield the dotted name of everything a module imports."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import"
            yield node.module or ""
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def definitions(body: list[ast.stmt]) -> Iterator[Definition]:
    """Yield every class, function and method; what stands inside a function is that function's own business."""
    for node in body:
        if isinstance(node, Definition):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from definitions(node.body)


def place(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("path", MODULES, ids=place)
def test_imports_keep_to_the_rooms(path) -> None:
    used = set(imports(path))
    for library, owner in OWNERS.items():
        assert place(path).startswith(owner) or library not in {name.split(".")[0] for name in used}
    room, *inner = path.relative_to(ROOT).with_suffix("").parts
    if room == "analysis":
        assert not OUTSIDE_WORLD & {name.split(".")[0] for name in used}
        below = LAYERS[: LAYERS.index(inner[0]) + 1] if inner[0] in LAYERS else () if inner[0] == LEAF else LAYERS
        assert {name.split(".")[1] for name in used if name.startswith("analysis.")} <= {*below, LEAF}
    if room == "pipelines" and inner[0] in SHELL:
        assert {name.split(".")[1] for name in used if name.startswith("pipelines.")} <= SHELL[inner[0]]


@pytest.mark.parametrize("path", MODULES, ids=place)
def test_modules_are_short_and_say_what_they_are_for(path) -> None:
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 250
    tree = ast.parse(text)
    assert ast.get_docstring(tree)
    for node in definitions(tree.body):
        documented = ast.get_docstring(node)
        if not node.name.startswith("_"):
            assert documented, f"{node.name} has no docstring"
        body = node.body[1:] if documented else node.body
        if body and not isinstance(node, ast.ClassDef):
            assert (body[-1].end_lineno or 0) - body[0].lineno < 30, f"{node.name} is long"


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
