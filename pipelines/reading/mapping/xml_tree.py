"""XML as the lists and objects that JSON would have: attributes and elements are names, repeated elements a list.

An element that tells only a text is that text.  Documents that declare entities or a document type
of their own are refused: one can unpack to more than the memory holds.
"""

from __future__ import annotations

import re
from collections import Counter
from xml.parsers import expat

from pipelines.library_words import in_our_words

_MOST_ELEMENTS, _DEEPEST = 5_000_000, 100
_BEGINS = re.compile(r"\s*(?:<\?xml\b|<[A-Za-z_][\w.:-]*[\s/>])")
_NAMING = ("name", "key", "id", "label")
Tree = dict[str, object]


def looks_like_xml(text: str) -> bool:
    """Say whether a text begins as XML does; a page of HTML does so too."""
    return _BEGINS.match(text[:2000]) is not None and text.rstrip().endswith(">")


def read_tree(text: str) -> Tree:
    """Return a document as objects, lists and texts.

    Raises:
        ValueError: It is no XML, declares entities, or is too large; the message says which.
    """
    builder = _Builder()
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = builder.start
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.text
    parser.EntityDeclHandler = builder.refuse
    try:
        parser.Parse(re.sub(r"^\s*<\?xml[^>]*\?>", "", text, count=1).encode(), True)
    except expat.ExpatError as error:
        raise ValueError(in_our_words(error)) from error
    return builder.root


def _named_fields(tree: Tree) -> Tree:
    """Return an element whose repeated fields are each a name and a text as one with those names."""
    made: Tree = {}
    for tag, value in tree.items():
        fields = value if isinstance(value, list) else []
        pairs = [_as_pair(one) for one in fields]
        told = dict(pair for pair in pairs if pair is not None)
        if len(fields) > 1 and len(told) == len(fields) and not {*told} & {*tree}:
            made |= told
        else:
            made[tag] = value
    return made


def _as_pair(field: object) -> tuple[str, str] | None:
    """Return the name and the text of a field like ``<field name="Km">1200</field>``."""
    if not isinstance(field, dict) or not {*field} <= {"text", *_NAMING} or len(field) > 2:
        return None
    name = next((field[key] for key in _NAMING if key in field), None)
    text = field.get("text", "")
    return (name, text) if isinstance(name, str) and isinstance(text, str) and name else None


class _Builder:
    """Builds the objects while the parser goes through the text."""

    def __init__(self) -> None:
        self.root: Tree = {}
        self._open: list[tuple[str, Tree, list[str]]] = []
        self._count = 0
        self._lists: Counter[str] = Counter()

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        """Begin an element."""
        self._count += 1
        if self._count > _MOST_ELEMENTS or len(self._open) >= _DEEPEST:
            raise ValueError(f"more than {_MOST_ELEMENTS} elements, or more than {_DEEPEST} inside one another")
        self._open.append((tag.rpartition(":")[2], dict(attributes), []))

    def text(self, piece: str) -> None:
        """Take a text."""
        if self._open:
            self._open[-1][2].append(piece)

    def end(self, _: str) -> None:
        """End an element, and put it where it belongs."""
        tag, tree, pieces = self._open.pop()
        text = "".join(pieces).strip()
        value: object = tree if tree else text
        tree = _named_fields(tree)
        value = tree if tree else text
        if tree and text:
            tree.setdefault("text", text)
        above = self._open[-1][1] if self._open else self.root
        there = above.get(tag)
        if isinstance(there, list):
            there.append(value)
        else:
            above[tag] = value if tag not in above else [there, value]

    def refuse(self, *_: object) -> None:
        """Refuse a document that declares entities."""
        raise ValueError("it declares entities of its own")
