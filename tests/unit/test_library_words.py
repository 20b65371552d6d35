"""What a library says of a damaged file is told in our words, with its place; each kind is made for real."""

from __future__ import annotations

import csv
import io
import json
import tomllib
import zipfile
from collections.abc import Callable
from pathlib import Path
from xml.parsers import expat

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from pipelines.library_words import in_our_words


def zipped(content: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("one.csv", content)
    return out.getvalue()


def unzip(content: bytes) -> object:
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        return packed.read("one.csv")


def parquet(content: bytes) -> object:
    return pq.read_table(io.BytesIO(content))


def parquet_bytes() -> bytes:
    out = io.BytesIO()
    pq.write_table(pa.table({"code": ["P0301"] * 9}), out)
    return out.getvalue()


def split(text: str) -> object:
    return list(csv.reader(io.StringIO(text), strict=True))


def tree(text: str) -> object:
    return expat.ParserCreate().Parse(text, True)


WHOLE = parquet_bytes()
SAID: list[tuple[Callable[[], object], str]] = [
    (
        lambda: json.loads('{"code": P0301}'),
        "a value is missing, or it is a word without quotation marks (line 1, letter 10)",
    ),
    (lambda: json.loads('{\n"code": "P0301"\n"at": 1}'), "a comma or a closing bracket is missing (line 3, letter 1)"),
    (lambda: json.loads("{code: 1}"), "a name in quotation marks is missing (line 1, letter 2)"),
    (lambda: json.loads('{"code" 1}'), "a colon is missing (line 1, letter 9)"),
    (lambda: json.loads('{"code": "P03'), "a quotation mark is opened and not closed (line 1, letter 10)"),
    (lambda: json.loads("{} {}"), "something follows behind its end (line 1, letter 4)"),
    (lambda: json.loads('"a\\q"'), "a backslash stands before something else than it may (line 1, letter 3)"),
    (lambda: tomllib.loads("labour_rate 60"), "an equals sign is missing behind a name (line 1, letter 13)"),
    (lambda: tomllib.loads("a = 1\na = 2"), "a name stands there twice (at the end)"),
    (
        lambda: tomllib.loads("country = gb"),
        "a value is neither a number, nor true or false, nor a text in quotation marks (line 1, letter 11)",
    ),
    (
        lambda: tomllib.loads("a = 1 2"),
        "something follows behind a value; one name and its value stand on a line (line 1, letter 7)",
    ),
    (lambda: tomllib.loads("[a"), "a square bracket is not closed (at the end)"),
    (lambda: split('a,"b'), "a quotation mark is opened and not closed"),
    (lambda: split('a,"b"c'), "something follows behind a closing quotation mark"),
    (lambda: tree("<a><b></a>"), "an element is closed under another name than it was opened (line 1, letter 9)"),
    (lambda: tree(""), "there is nothing in it, or it ends before it should (line 1, letter 1)"),
    (lambda: tree("<a>\n<"), "it ends before it should (line 2, letter 1)"),
    (lambda: tree("<a/><b/>"), "something follows behind its end (line 1, letter 5)"),
    (lambda: unzip(b"no zip at all"), "it is no zip"),
    (lambda: unzip(zipped(b"P0301").replace(b"P0301", b"P0302")), "a part of it is damaged"),
    (lambda: parquet(b"no parquet at all"), "it does not begin and end like one"),
    (lambda: parquet(WHOLE[:40] + b"\xff" * (len(WHOLE) - 48) + WHOLE[-8:]), "its list of contents is damaged"),
    (b"ab\xff".decode, "byte 3 (FF) is no text in UTF-8"),
]


@pytest.mark.parametrize(("harm", "said"), SAID, ids=[said[:40] for _, said in SAID])
def test_what_a_library_found_is_said_in_our_words(harm: Callable[[], object], said: str) -> None:
    with pytest.raises(Exception) as caught:  # noqa: PT011 - of many kinds; the words are what is looked at
        harm()
    assert in_our_words(caught.value) == said


def test_our_own_words_stay() -> None:
    assert in_our_words(ValueError("it is no object")) == "it is no object"


def test_a_settings_file_is_told_by_line_and_letter(tmp_path: Path) -> None:
    from pipelines.errors import SettingsError  # noqa: PLC0415
    from pipelines.toml_file import TomlFile  # noqa: PLC0415

    path = tmp_path / "knockon.toml"
    path.write_text("labour_rate = 60\ncountry = gb\n")
    with pytest.raises(SettingsError) as caught:
        TomlFile(path, "knockon.toml")
    assert str(caught.value) == (
        "knockon.toml: expected TOML text in UTF-8; a value is neither a number, nor true or false, nor a text in "
        "quotation marks (line 2, letter 11). Nothing was run."
    )
