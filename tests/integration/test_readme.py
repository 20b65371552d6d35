"""What the README says must be so: its commands, its exit codes, its settings, its columns, its pins."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from pipelines.commands.cli import app, main
from pipelines.reading.layouts import LAYOUTS
from pipelines.settings import Settings

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
PINS = [Requirement(line) for line in (ROOT / ".ci" / "constraints.txt").read_text(encoding="utf-8").splitlines()]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


def commands(language: str, start: str) -> list[str]:
    """Return the lines of the README's blocks in a language that begin with some words."""
    blocks = re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    return [line for block in blocks for line in block.splitlines() if line.startswith(start)]


def table(heading: str) -> list[list[str]]:
    """Return the cells of the table whose header line begins with some words."""
    lines = README[README.index(f"\n| {heading}") + 1 :].partition("\n\n")[0].splitlines()
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def test_the_job_stands_at_the_very_top_in_one_paragraph() -> None:
    title, job, following = README.split("\n\n")[:3]
    assert title == "# knockon"
    assert job.startswith("**knockon** learns from a used-car dealer's own scans and repairs")
    assert following.startswith("**See it work**")


def test_two_commands_of_one_line_do_everything_on_each_system() -> None:
    demo, tests = commands("sh", "python3 -m venv")
    install = r"python3 -m venv \.venv && \.venv/bin/python -m pip install -c \.ci/constraints\.txt "
    assert re.fullmatch(install + r"\. && \.venv/bin/knockon demo", demo)
    assert re.fullmatch(install + r'"\.\[test\]" && \.venv/bin/python -m pytest -n auto -m "not slow"', tests)
    on_windows = [
        line.replace("python3 ", "py -3 ").replace(" && ", "; ").replace("/bin/", "/Scripts/").replace("/", "\\")
        for line in (demo, tests)
    ]
    assert commands("powershell", "py -3") == on_windows


def test_every_command_it_shows_exists() -> None:
    known = {command.name or command.callback.__name__ for command in app.registered_commands if command.callback}
    shown = {line.split()[1] for line in commands("sh", "knockon ")}
    assert shown == known - {"demo"}
    for line in commands("sh", "python "):
        assert (ROOT / line.split()[1]).is_file()


def test_its_exit_codes_are_those_of_the_commands(tmp_path, capsys) -> None:
    (tmp_path / "inbox").mkdir()
    assert [code for code, _ in table("exit code")] == ["0", "1", "2", "130"]
    assert main(["--help"]) == 0
    assert main(["weekly", str(tmp_path / "nowhere")]) == 1
    assert main(["mend"]) == 2


def test_its_settings_are_the_defaults() -> None:
    shown = {name.strip("`"): tomllib.loads(f"x = {value}")["x"] for name, value, _ in table("setting")}
    assert shown == vars(Settings())


def test_its_table_of_the_inbox_names_what_the_reader_requires() -> None:
    for folder, _, must in table("folder"):
        layout = LAYOUTS[folder.strip("`").split("/")[1]]
        assert {column.name for column in layout.columns if column.required} <= set(re.findall(r"\w+", must))
        assert set(re.findall(r"\w+_?\w*", must)) - {"or", "and", "a"} <= {column.name for column in layout.columns}
    assert len(table("folder")) == len(LAYOUTS)


@pytest.mark.parametrize(
    "name", ["README.md", ".ci/constraints.txt", ".ci/references.txt", "pyproject.toml", ".ci/run"]
)
def test_no_address_of_a_download_is_kept(name) -> None:
    assert not re.search(r"https?://|index-url|git\+|--hash", (ROOT / name).read_text(encoding="utf-8"))


def test_the_pins_hold_exactly_one_version_of_every_library_within_its_bounds() -> None:
    here = [pin for pin in PINS if not pin.marker or pin.marker.evaluate()]
    versions = {pin.name.lower(): str(pin.specifier).removeprefix("==") for pin in here}
    assert len(versions) == len(here), "two pins for one library"
    assert all(re.fullmatch(r"==[\w.+!]+", str(pin.specifier)) for pin in PINS)
    extras = PROJECT["optional-dependencies"]
    wanted = [Requirement(line) for line in [*PROJECT["dependencies"], *extras["test"], *extras["dev"]]]
    for requirement in wanted:
        if requirement.name != PROJECT["name"]:
            assert requirement.specifier.contains(versions[requirement.name.lower()]), requirement
