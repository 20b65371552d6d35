"""Reads what people write: a part under any of its names, its place, a module under any of its names."""

import re
from functools import cache

from tests.studies.worlds.codes import modules
from tests.studies.worlds.faults import BY_NAME


@cache
def words(text: str) -> frozenset[str]:
    """Return the words of a text in lower case, a plural's s cut off."""
    return frozenset(re.sub(r"(?<=[a-z]{3})s$", "", word) for word in re.findall(r"[a-z0-9]+", text.lower()))


@cache
def names() -> tuple[tuple[str, frozenset[str]], ...]:
    """Return every part with the words of each of its names, the longest name first."""
    every = [(part.name, words(name)) for part in BY_NAME.values() for name in (part.name, *part.also)]
    return tuple(sorted(every, key=lambda one: (-len(one[1]), one[0])))


def parts_in(text: str) -> list[str]:
    """Return the parts whose names a text holds; a name within a longer one that is there as well does not count."""
    told = words(text)
    held = [(part, name) for part, name in names() if name and name <= told]
    return sorted({part for part, name in held if not any(name < other for _, other in held)})


def place_in(text: str, part: str) -> str:
    """Return the place of the part that a text names, blank where it names none or several."""
    told = words(text)
    held = [place for place in BY_NAME[part].places if place and words(place) <= told]
    return held[0] if len(held) == 1 else ""


@cache
def part_of(written: str, place: str = "") -> tuple[str, str]:
    """Return part and place of what somebody wrote; what is no known part is returned as it stands."""
    exact = [part for part, name in names() if name == words(written)]
    found = exact or parts_in(written)
    if not found:
        return written.strip(), place.strip()
    return found[0], place_in(f"{written} {place}", found[0])


@cache
def module_of(written: str) -> str:
    """Return the canonical module, as given where it is unknown."""
    known = written.strip().lower()
    for module, row in modules().items():
        if known == module.lower() or known in row["also_called"].lower().split(";"):
            return module
    return written
