"""All words in one place: no sentence left in templates, script and rooms, and no text that nobody shows."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import jinja2
import pytest
from jinja2 import nodes

from analysis.texts import (
    backtest_text,
    desk_file_text,
    desk_job_text,
    desk_own_text,
    desk_text,
    desk_week_text,
    family_text,
    job_sheet_text,
    ledger_text,
    list_text,
    page_text,
    paper_text,
    standing_text,
    ticket_text,
)

ROOT = Path(__file__).parents[3]
TEXTS = sorted(path for path in (ROOT / "analysis" / "texts").glob("*.py") if path.stem != "__init__")
ROOMS = ("charts", "diagnosis", "evidence", "mining")
WRITERS = [
    # Frames are declared by the names of their columns.
    *sorted(
        path for room in ROOMS for path in (ROOT / "analysis" / room).glob("*.py") if not path.stem.endswith("frames")
    ),
    *sorted((ROOT / "pipelines" / "desk").glob("*_page.py")),
    *(
        ROOT / "pipelines" / "report" / name
        for name in ("workbook.py", "job_sheet.py", "job_sheet_pdf.py", "publish.py")
    ),
]
SHEET = ROOT / "analysis" / "charts" / "sheet"
TEMPLATES = sorted([*SHEET.glob("*.j2"), *(ROOT / "pipelines" / "desk" / "pages").glob("*.j2")])
HANDED = {
    "page_text": page_text,
    "ticket_text": ticket_text,
    "family_text": family_text,
    "backtest_text": backtest_text,
    "sheet_text": job_sheet_text,
    "ledger_text": ledger_text,
    "list_text": list_text,
    "paper_text": paper_text,
    "standing_text": standing_text,
    "desk_text": desk_text,
    "desk_file_text": desk_file_text,
    "desk_job_text": desk_job_text,
    "desk_own_text": desk_own_text,
    "desk_week_text": desk_week_text,
}
TOLD = {"aria-label", "title", "alt", "placeholder", "label"}
PHRASE = re.compile(r"[A-Za-z]{2,} [A-Za-z]{2,}")
# Fonts, the page's policy and a spreadsheet's look are no words for a reader.
NO_WORDS = re.compile(
    "'Segoe UI'|'Noto Sans'|^Table Style Light 1$|default-src 'none'.*|style-src 'unsafe-inline'.*", re.DOTALL
)
# Values of columns, and words that a wording is searched for.
VALUES = {
    "other try", "price book", "reporting module", "fitted in vain", "renewed, no scan since",
    *("few codes", "some codes", "many codes"),
    *("front rear", "left right", "upper lower", "inner outer", "driver passenger"),
}  # fmt: skip


def name(path: Path) -> str:
    return path.name


class Words(HTMLParser):
    """Gathers what a reader would see or hear of a template whose marks are taken out."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(re.sub(r"\{\{.*?\}\}|\{%.*?%\}|\{#.*?#\}", "", source, flags=re.DOTALL))

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [f"{key}={value}" for key, value in attrs if key in TOLD and re.search(r"[^\W\d]", value or "")]

    def handle_data(self, data: str) -> None:
        if self.cdata_elem is None and re.search(r"[^\W\d]", data):
            self.found.append(data.strip())


@pytest.mark.parametrize("path", TEMPLATES, ids=name)
def test_a_template_holds_no_words_of_its_own(path: Path):
    assert Words(path.read_text(encoding="utf-8")).found == []


@pytest.mark.parametrize("path", TEMPLATES, ids=name)
def test_a_template_says_nothing_inside_its_marks_either(path: Path):
    tree = jinja2.Environment().parse(path.read_text(encoding="utf-8"))
    said = [one.value for one in tree.find_all(nodes.Const) if isinstance(one.value, str)]
    # Names of templates and of attributes are no words.
    assert [text for text in said if not re.fullmatch(r"[a-z_]*(\.[a-z2.]+)?|\W+", text)] == []


def test_the_template_test_sees_words_wherever_they_stand():
    spoiled = (
        '<p title="Hello">{{ x }} cars</p>{% if y %}<a aria-label="To {{ x }}">é</a>{% endif %}<style>p {}</style>'
    )
    assert Words(spoiled).found == ["title=Hello", "cars", "aria-label=To ", "é"]
    assert Words('<p class="big" title="{{ x }}">{{ "y" }} 3 · ●</p>').found == []


def strings_of_script(source: str) -> Iterator[str]:
    """Yield the texts of a script, those that choose elements left aside."""
    bare = re.sub(r"^\s*//.*$| // .*$", "", source, flags=re.MULTILINE)
    bare = re.sub(r'(querySelector(All)?|closest|all)\("[^"]*"\)|"use strict"', "", bare)
    for found in re.finditer(r'"([^"\n]*)"|`([^`]*)`', bare):
        yield re.sub(r"\$\{.*?\}", "0", found[1] or found[2] or "")


def test_the_script_holds_no_words_of_its_own_and_uses_all_that_it_is_given():
    source = (SHEET / "sheet.js").read_text(encoding="utf-8")
    said = list(strings_of_script(source))
    assert len(said) > 30
    assert [text for text in said if PHRASE.search(re.sub(r"\s+0\s+", " of ", text))] == []
    # Counts are asked for by name; the page adds how money is written and how many cars are shown at once.
    asked = set(re.findall(r"said\.(\w+)", source)) | set(re.findall(r"\"((?:one|many)_\w+)\"", source))
    assert asked == set(page_text.SCRIPT_WORDS) | {"money", "step"}
    for key, text in page_text.SCRIPT_WORDS.items():
        filled = re.search(rf"filled\(said\.{key}, \{{(.*?)\}}\)", source)
        if isinstance(text, str) and filled:
            names = set(re.findall(r"(\w+)(?=:|,|\s*$)", re.sub(r": [^,]*(\([^)]*\))?", ":", filled[1])))
            assert set(re.findall(r"\{(\w+)\}", text)) <= names


def test_the_script_test_sees_a_phrase():
    assert list(strings_of_script('f("Show all"); g.querySelector("a, b"); // "no text"\nh(`${n} of ${m}`)')) == [
        "Show all", "0 of 0",
    ]  # fmt: skip


def literals(tree: ast.AST) -> Iterator[str]:
    """Yield the texts of a module but its docstrings, the names of columns beside a type and the words of errors."""
    left = set()
    for node in ast.walk(tree):
        beside_a_type = isinstance(node, ast.Subscript) and getattr(node.value, "id", "") == "Annotated"
        if beside_a_type or isinstance(node, ast.Raise | ast.Assert):
            left |= {id(one) for one in ast.walk(node)}
        elif isinstance(node, ast.Expr):
            left.add(id(node.value))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in left:
            yield node.value


@pytest.mark.parametrize("path", WRITERS, ids=name)
def test_a_module_outside_the_texts_holds_no_title_and_no_phrase(path: Path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    titles = [
        keyword.arg for node in ast.walk(tree) if isinstance(node, ast.Call) for keyword in node.keywords
        if keyword.arg in ("title", "description") and isinstance(keyword.value, ast.Constant | ast.JoinedStr)
        and getattr(keyword.value, "value", "") is not None
    ]  # fmt: skip
    assert titles == []
    said = [text for text in literals(tree) if PHRASE.search(NO_WORDS.sub("", text))]
    assert set(said) <= VALUES, "a sentence for a reader belongs into analysis/texts"
    untitled = re.findall(r'alt\.Tooltip\("[^"]*"\)', path.read_text(encoding="utf-8"))
    assert untitled == [], "a tooltip without a title shows the name of its column"


def public(path: Path) -> Iterator[str]:
    """Yield the constants, functions and classes of one module of texts."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node.name
        elif isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            yield from (one.id for target in targets for one in ast.walk(target) if isinstance(one, ast.Name))


def asked_by(path: Path) -> Iterator[tuple[str, str]]:
    """Yield each (module of texts, name) that a module asks for; a text may serve another one of its own module."""
    tree, alias = ast.parse(path.read_text(encoding="utf-8")), {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == "analysis.texts":
            alias |= {one.asname or one.name: one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("analysis.texts."):
            yield from ((str(node.module).split(".")[2], one.name) for one in node.names)
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in alias:
            yield alias[node.value.id], node.attr
        if path in TEXTS and isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            yield path.stem, node.id


def used() -> set[tuple[str, str]]:
    """Gather what code and templates ask for."""
    code = [path for room in ("analysis", "pipelines") for path in (ROOT / room).rglob("*.py")]
    asked = {one for path in code for one in asked_by(path)}
    for path in TEMPLATES:
        for module, word in re.findall(r"\b(\w+)\.(\w+)", path.read_text(encoding="utf-8")):
            if module in HANDED:
                asked.add((HANDED[module].__name__.rsplit(".", 1)[1], word))
    return asked


@pytest.mark.slow
def test_no_text_is_left_that_nobody_shows():
    there = {(path.stem, word) for path in TEXTS for word in public(path)}
    assert len(there) > 200
    assert there - used() == set()


@pytest.mark.parametrize("path", TEMPLATES, ids=name)
def test_a_template_asks_for_no_text_that_is_not_there(path: Path):
    asked = re.findall(rf"\b({'|'.join(HANDED)})\.(\w+)", path.read_text(encoding="utf-8"))
    assert asked
    assert {(module, word) for module, word in asked if not hasattr(HANDED[module], word)} == set()
