"""One spelling for a make or model, so that a capital or a double space parts no two cars."""

import re
from functools import lru_cache


@lru_cache(maxsize=4096)
def make_key(text: str) -> str:
    """Return the one spelling of a make or model that code keys and model lines use.

    Args:
        text: As a stock list has it, ``Vel  ORA`` for instance.

    Returns:
        Lower case, single spaces, and a space for each ``:``, ``;`` and ``@``, which part code keys:
        ``vel ora``; a text with nothing else gives ``unknown``.
    """
    return " ".join(re.sub(r"[:;@]", " ", text).split()).casefold() or "unknown"
