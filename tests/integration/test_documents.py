"""What the documents name must be there: modules, files, studies, names of the code; and the order of the rooms."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest

from pipelines.batch import run_manifest
from tests.integration.test_layout import FLOORS, INNER_FLOORS, MOST_ARROWS, MOST_INNER_ARROWS

ROOT = Path(__file__).parents[2]
DOCUMENTS = ("README.md", "DEVELOPERS.md", "tests/studies/README.md")
TOP = ("analysis", "pipelines", "sql", "tests", "fixtures", ".ci")
KINDS = ("py", "sql", "css", "j2", "txt")
FILES = {
    path.relative_to(ROOT).as_posix()
    for top in TOP
    for path in (ROOT / top).rglob("*")
    if path.is_file() and "__pycache__" not in path.parts
}
MADE = {"words.txt", "left.txt", "private.txt"}  # what a command writes for the user


def text_of(document: str) -> str:
    return (ROOT / document).read_text(encoding="utf-8")


def named(path: str) -> bool:
    """Tell whether there is a file of that name, of which the document may give the end alone."""
    return any(f"/{file}".endswith(f"/{path}") for file in FILES)


def words_of_the_code() -> set[str]:
    """Every name that the code defines or uses, the names of its columns and tables included."""
    found = set()
    for file in FILES:
        if file.endswith((".py", ".sql", ".toml", ".j2")):
            found |= set(re.findall(r"\w+", (ROOT / file).read_text(encoding="utf-8", errors="replace")))
    return found


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_file_it_names_exists(document) -> None:
    paths = set(re.findall(rf"[\w./-]*\w\.(?:{'|'.join(KINDS)})\b", text_of(document))) - MADE
    assert sorted(path for path in paths if not named(path.lstrip("/"))) == []


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_place_of_ours_that_it_names_exists(document) -> None:
    places = re.findall(rf"`((?:{'|'.join(map(re.escape, TOP))})/[\w/]*)`", text_of(document))
    assert [place for place in places if not (ROOT / place).exists()] == []


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_module_it_has_run_exists_and_runs_as_a_script(document) -> None:
    for module in re.findall(r"python\s+-m\s+(tests[\w.]*\w)", text_of(document)):
        path = ROOT / (module.replace(".", "/") + ".py")
        assert path.is_file(), module
        assert any(isinstance(node, ast.If) for node in ast.parse(path.read_text(encoding="utf-8")).body), module


@pytest.mark.parametrize("document", ["DEVELOPERS.md", "tests/studies/README.md"])
def test_every_name_of_the_code_that_it_says_is_one(document) -> None:
    said = set(re.findall(r"`(?:\w+\.)*([A-Za-z]\w*_\w+|[A-Z]+[a-z]+\w*)`", text_of(document)))
    assert said
    assert sorted(said - words_of_the_code()) == []


def test_every_study_that_can_be_run_is_listed() -> None:
    scripts = {
        file.removeprefix("tests/studies/").removesuffix(".py").replace("/", ".")
        for file in FILES
        if file.startswith("tests/studies/") and "__main__" in (ROOT / file).read_text(encoding="utf-8")
    }
    listed = set(
        re.findall(r"^\| `python -m tests\.studies\.([\w.]+)` \|", text_of("tests/studies/README.md"), re.MULTILINE)
    )
    assert listed == scripts


def test_the_developers_page_is_short_and_says_what_the_layout_test_holds() -> None:
    text = text_of("DEVELOPERS.md")
    assert len(text.encode()) <= 16 * 1024
    for floors in (*FLOORS.values(), *INNER_FLOORS.values()):
        assert f": {' ← '.join(floors)}\n" in text
    assert f"at most {MOST_ARROWS} arrows between rooms and {MOST_INNER_ARROWS} inside" in text
    for room in (room for rooms in FLOORS.values() for room in rooms if room != "ground"):
        assert re.search(rf"^  {room}/ ", text, re.MULTILINE), room


def test_the_versions_that_a_run_states_are_of_libraries_that_come_with_it() -> None:
    project = tomllib.loads(text_of("pyproject.toml"))["project"]
    direct = {re.split(r"[\s<>=!~;\[]", line)[0] for line in project["dependencies"]} | {"knockon"}
    assert set(run_manifest._LIBRARIES) <= direct


def test_each_direct_dependency_is_named_with_what_it_is_for() -> None:
    project = tomllib.loads(text_of("pyproject.toml"))["project"]
    direct = {re.split(r"[\s<>=!~;\[]", line)[0] for line in project["dependencies"]}
    page = text_of("tests/studies/README.md")
    table = page[page.index("| direct dependency | for |") :].split("\n\n")[0]
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in table.splitlines()[2:]]
    named = [name for names, *_ in rows for name in names.split(", ")]
    assert sorted(named) == sorted(direct)
    assert all(len(what) > 5 for _, what, *_ in rows)
