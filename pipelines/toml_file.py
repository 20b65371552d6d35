"""A TOML file that people write: read, held to a pydantic model, and every fault named with its line.

Pydantic knows where in the file a fault lies and of what kind it is; what was wanted
there stands with the field, in words (:func:`wanted`), and the line is looked up in the text.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails, PydanticCustomError

from pipelines.errors import SettingsError, refused
from pipelines.library_words import in_our_words

Key = tuple[str, ...]
Model = TypeVar("Model")


class TomlFile:
    """What a TOML file says, with its lines.

    Attributes:
        shown: Its name in messages.
        table: Its content.
    """

    def __init__(self, path: Path, shown: str) -> None:
        """Read a file; ``shown`` is its name in messages.

        Raises:
            SettingsError: It is no TOML, or cannot be opened.
        """
        self.shown = shown
        try:
            self._text = path.read_text(encoding="utf-8-sig")
            self.table: dict[str, Any] = tomllib.loads(self._text)
        except OSError as error:
            raise SettingsError(f"{refused(path, error)} Nothing was run.") from error
        except (tomllib.TOMLDecodeError, UnicodeDecodeError, RecursionError) as error:
            raise SettingsError(
                f"{shown}: expected TOML text in UTF-8; {in_our_words(error)}. Nothing was run."
            ) from error

    def fail(self, key: Key, found: str) -> SettingsError:
        """Return the error that names a key's line; what was found follows the key as it is."""
        end = "" if found.endswith("?") else "."
        return SettingsError(f"{self.shown}:{line_of(self._text, key)}: {'.'.join(key)}{found}{end} Nothing was run.")

    def held_to(self, model: Callable[..., Model], fields: Mapping[str, FieldInfo], kind: str, hint: str) -> Model:
        """Hold the file to a model.

        Args:
            model: A pydantic model or dataclass that forbids extra keys.
            fields: Its fields by dotted key, ``*`` for any name, as :func:`wanted` makes them.
            kind: What a key is called in messages: "is no ...".
            hint: What a message says where no known key is near an unknown one.

        Returns:
            The model.

        Raises:
            SettingsError: The first line that does not mean what it should: unknown, out of range, or missing.
        """
        try:
            return model(**self.table)
        except ValidationError as error:
            faults = error.errors(include_url=False)
        first = min(faults, key=lambda fault: (fault["type"] == "missing", line_of(self._text, self._key(fault))))
        raise self.fail(self._key(first), self._what(first, fields, kind, hint))

    def _key(self, fault: ErrorDetails) -> Key:
        """Return the key that a fault lies under: its place as far as the file has it, and one further if missing."""
        key: Key = ()
        here: object = self.table
        for part in map(str, fault["loc"]):
            if not isinstance(here, dict) or (part not in here and fault["type"] != "missing"):
                break
            key, here = (*key, part), here.get(part)
        return key

    def _what(self, fault: ErrorDetails, fields: Mapping[str, FieldInfo], kind: str, hint: str) -> str:
        key = self._key(fault)
        name = ".".join(key)
        starred = (".".join((*key[:at], *("*" for _ in key[at:]))) for at in (len(key), 1, len(key) - 1))
        field = next((fields[one] for one in starred if one in fields), None)
        if fault["type"] == "missing":
            return f": is missing; {_of(field, 'missing')}"
        if fault["type"] == "value_error":
            return f": {fault['ctx']['error']}"
        if field is None:
            near = difflib.get_close_matches(name, fields, n=1)
            return f" is no {kind}; did you mean {near[0]}?" if near else f" is no {kind}; {hint}"
        return f": expected {_of(field, 'wanted')}, found {self._value(key)!r}"

    def _value(self, key: Key) -> object:
        here: Any = self.table
        for part in key:
            here = here[part]
        return here


def wanted(words: str, missing: str = "") -> dict[str, Any]:
    """Return the extra of a pydantic field that says what its value must be, for ``json_schema_extra``.

    Args:
        words: What is wanted, behind "expected".
        missing: What a message says where the field has no default and is missing.
    """
    return {"wanted": words, "missing": missing}


def unwanted() -> PydanticCustomError:
    """Return what a validator raises where the field's own words say what is wanted; ValueError brings its own."""
    return PydanticCustomError("unwanted", "not what was wanted")


def _of(field: FieldInfo | None, what: str) -> str:
    assert field is not None
    assert isinstance(field.json_schema_extra, dict)
    return str(field.json_schema_extra[what])


def line_of(text: str, key: Key) -> int:
    """Return the line of a TOML text that sets a key, or the nearest line above it that leads there."""
    best = 1
    table: Key = ()
    for number, line in enumerate(text.splitlines(), 1):
        head = re.match(r"\s*\[([^\]]+)\]", line)
        if head:
            table = _names(head[1])
            here = table
        elif named := re.match(r"""\s*((?:"[^"]*"|'[^']*'|[\w-]+)(?:\s*\.\s*(?:"[^"]*"|'[^']*'|[\w-]+))*)\s*=""", line):
            here = (*table, *_names(named[1]))
        else:
            continue
        if here == key:
            return number
        if here == key[: len(here)]:
            best = number
    return best


def _names(dotted: str) -> Key:
    return tuple(part.strip("\"'") for part in re.findall(r"""\s*("[^"]*"|'[^']*'|[\w-]+)\s*""", dotted))
