"""What a library found wrong with a file, in our words, with the line and the letter where it says so.

A library speaks to programmers ("Expecting value: line 1 column 9 (char 8)"), and another edition of it speaks
otherwise.  What it means is told here by signs in its words; where none is known, the place is told and no more.
"""

from __future__ import annotations

import csv
import json
import re
import tomllib
import zipfile
import zlib
from xml.parsers import expat

_CUT = "it ends before it should"
_TWICE = "a name stands there twice"
# The library's words, and ours; the first sign that is found counts.
_JSON = {
    "Expecting value": "a value is missing, or it is a word without quotation marks",
    "Expecting property name": "a name in quotation marks is missing",
    "Illegal trailing comma": "a comma stands before the closing bracket",
    "':' delimiter": "a colon is missing",
    "',' delimiter": "a comma or a closing bracket is missing",
    "Unterminated string": "a quotation mark is opened and not closed",
    "Invalid control character": "a text goes over the end of its line",
    "escape": "a backslash stands before something else than it may",
    "Extra data": "something follows behind its end",
}
_TOML = {
    "Expected '='": "an equals sign is missing behind a name",
    "Cannot overwrite": _TWICE,
    "Cannot declare": _TWICE,
    "Cannot mutate": _TWICE,
    "Duplicate inline table key": _TWICE,
    "Invalid value": "a value is neither a number, nor true or false, nor a text in quotation marks",
    "Unclosed array": "a list is opened and not closed",
    "Unterminated string": "a quotation mark is opened and not closed",
    "Illegal character": "a text goes over the end of its line, or holds a sign that may not stand there",
    "Expected newline or end of document": "something follows behind a value; one name and its value stand on a line",
    "Unescaped '\\'": "a backslash stands alone in a text; write two, or put the text into single quotation marks",
    "Invalid statement": "it is no line like: name = value",
    "Invalid initial character": "it is no line like: name = value",
    "Expected ']'": "a square bracket is not closed",
}
_CSV = {
    "unexpected end of data": "a quotation mark is opened and not closed",
    "expected after": "something follows behind a closing quotation mark",
    "field limit": "a cell is far too long, as if a quotation mark were opened and not closed",
    "NUL": "it holds bytes that are no text",
    "new-line character": "a line ends in the middle of a cell",
}
_XML = {
    expat.errors.XML_ERROR_NO_ELEMENTS: "there is nothing in it, or it ends before it should",
    expat.errors.XML_ERROR_UNCLOSED_TOKEN: _CUT,
    expat.errors.XML_ERROR_UNCLOSED_CDATA_SECTION: _CUT,
    expat.errors.XML_ERROR_PARTIAL_CHAR: _CUT,
    expat.errors.XML_ERROR_TAG_MISMATCH: "an element is closed under another name than it was opened",
    expat.errors.XML_ERROR_DUPLICATE_ATTRIBUTE: _TWICE,
    expat.errors.XML_ERROR_JUNK_AFTER_DOC_ELEMENT: "something follows behind its end",
    expat.errors.XML_ERROR_UNDEFINED_ENTITY: "it uses a short name for a sign that it does not explain",
    expat.errors.XML_ERROR_INVALID_TOKEN: "a sign stands where it may not, such as < or & inside a text",
}
_ZIP = {
    "not a zip": "it is no zip",
    "CRC": "a part of it is damaged",
    "password": "it has a password",
    "encrypted": "it has a password",
    "compression": "it is packed in a way that is not known here",
    "multiple disks": "it is one of several files that belong together",
}
_PARQUET = {
    "magic bytes": "it does not begin and end like one",
    "smaller than": _CUT,
    "footer": "its list of contents is damaged",
    "deserialize": "its list of contents is damaged",
}
_DAMAGED = "its content does not fit together"
_THEIRS = ("pyarrow", "polars")


def in_our_words(error: BaseException) -> str:
    """Return what is wrong and where, such as ``a comma or a closing bracket is missing (line 3, letter 9)``.

    Args:
        error: From a reader of JSON, TOML, delimited text, XML, zip or Parquet; one that we raised ourselves keeps its
            words, and so does what nobody has foreseen, its first line alone.
    """
    first = (str(error).strip() or type(error).__name__).splitlines()[0]
    words, place = first, ""
    match error:
        case UnicodeDecodeError():
            words = f"byte {error.start + 1} ({error.object[error.start]:02X}) is no text in UTF-8"
        case RecursionError():
            words = "it is nested far too deep"
        case json.JSONDecodeError():
            words, place = _said(_JSON, error.msg, "it is no JSON"), f" (line {error.lineno}, letter {error.colno})"
        case tomllib.TOMLDecodeError():
            at = re.search(r"\(at line (\d+), column (\d+)\)", first)
            words = _said(_TOML, first, "it is not written as TOML is")
            place = f" (line {at[1]}, letter {at[2]})" if at else " (at the end)"
        case expat.ExpatError():
            words = _XML.get(expat.ErrorString(error.code), "it is not written as XML is")
            place = f" (line {error.lineno}, letter {error.offset + 1})"
        case csv.Error():
            words = _said(_CSV, first, "it cannot be split into cells")
        case zipfile.BadZipFile() | NotImplementedError() | zlib.error():
            words = _said(_ZIP, first, _DAMAGED)
        case _:
            known = type(error).__module__.split(".")[0] in _THEIRS
            words = _said(_ZIP | _PARQUET, first, _DAMAGED if known else first)
    return words + place


def _said(words: dict[str, str], told: str, other: str) -> str:
    return next((ours for sign, ours in words.items() if sign in told), other)
