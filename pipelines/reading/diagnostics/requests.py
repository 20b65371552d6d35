"""What the tester asked for, where a log shows it: a list names only what the request lets through."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipelines.reading.diagnostics.answers import Message

EVERYBODY = ""
_FUNCTIONAL = ("7DF", "18DB33F1")
_TO_ONE = re.compile(r"18DA([0-9A-F]{2})F1")
_PLAIN = re.compile(r"(?:0X)?([0-9A-F]{3}|[0-9A-F]{8})H?")
_FIRST, _LAST, _AHEAD = 0x7E0, 0x7E7, 8


def answers_to(address: str) -> str | None:
    """Return the address that answers a request to an address.

    Args:
        address: As a log or a line has it.

    Returns:
        The answering address; ``EVERYBODY`` for a request to all modules; None where it is no tester's address.

    Source:
        ISO 15765-4: requests on 7DF and 7E0 to 7E7 are answered 8 higher, those of 29 bits with both addresses swapped.
    """
    plain = _PLAIN.fullmatch(address.strip().upper())
    if plain is None:
        return None
    if plain[1] in _FUNCTIONAL:
        return EVERYBODY
    if match := _TO_ONE.fullmatch(plain[1]):
        return f"18DAF1{match[1]}"
    if len(plain[1]) == 3 and _FIRST <= int(plain[1], 16) <= _LAST:
        return f"{int(plain[1], 16) + _AHEAD:03X}"
    return None


def request_before(message: Message, messages: Sequence[Message], service: bytes) -> bytes | None:
    """Return the last request in front of an answer that asked for it, or None where none is shown.

    Args:
        message: The answer.
        messages: All of the scan, in order; requests among them name the address that answers.
        service: With what the request begins: the service, and its sub-function where it has one.

    Returns:
        The request's bytes.  A maker's module may answer from another address than the standard's: a request whose own
        address never answers counts for every module.
    """
    mine, anyone = None, None
    heard = {(other.bus, other.module.upper()) for other in messages if other.kind != "request"}
    for other in messages:
        if other.line >= message.line:
            break
        if other.kind != "request" or other.bus != message.bus or not other.payload.startswith(service):
            continue
        if other.module.upper() in (EVERYBODY, message.module.upper()):
            mine = other.payload
        elif (other.bus, other.module.upper()) not in heard:
            anyone = other.payload
    return anyone if mine is None else mine
