"""XML out of office files, read element by element; what declares entities of its own is refused."""

from __future__ import annotations

from typing import NoReturn, Protocol
from xml.parsers import expat


class Hears(Protocol):
    """Takes the pieces of a document in order; names stand behind their namespace and a blank."""

    def start(self, tag: str, attributes: dict[str, str], /) -> None:
        """Begin an element."""

    def text(self, piece: str) -> None:
        """Take a text."""

    def end(self, tag: str) -> None:
        """End an element."""


def feed(content: bytes, listener: Hears) -> None:
    """Tell a document to somebody, piece by piece.

    Raises:
        ValueError: It declares entities.
        expat.ExpatError: It is no XML.
    """
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = listener.start, listener.end
    parser.CharacterDataHandler = listener.text
    parser.EntityDeclHandler = _refuse
    parser.Parse(content, True)


def _refuse(*_: object) -> NoReturn:
    raise ValueError("it declares entities of its own")
