"""Objects of JSON that say what the names of other objects mean: the control units behind their addresses."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.words import Modules

_MOST, _DEEPEST, _MOSTLY = 10_000, 20, 0.5


def put_names_of_keys(
    draft: Draft, documents: Sequence[object], columns: Mapping[str, Sequence[str]], is_module: Modules
) -> None:
    """Write what an object of plain words says that addresses mean which name objects elsewhere.

    Args:
        draft: Gets the lines.
        documents: The JSON.
        columns: Its paths, with what stands at each.
        is_module: Whether a text names a module.
    """
    named = [{*cells} for path, cells in columns.items() if path.endswith("{}.name")]
    for legend in _legends(documents):
        told = next((names for names in named if names - {""} and names - {""} <= legend.keys()), None)
        if told is None or sum(map(is_module, legend.values())) < _MOSTLY * len(legend):
            continue
        for address, name in legend.items():
            draft.put(address, is_module.means(name) or name, table="values.module")
        address, name = next(iter(legend.items()))
        draft.reasons.append(f"module: the file itself says what addresses mean, {address!r} {name!r} for instance")
        return


def _legends(documents: Sequence[object]) -> Iterator[dict[str, str]]:
    """Yield the objects of nothing but words that stand in the outer parts of some documents."""
    stack, seen = [(document, 0) for document in documents], 0
    while stack and seen < _MOST:
        value, depth = stack.pop()
        seen += 1
        if not isinstance(value, dict) or depth > _DEEPEST:
            continue
        words = {name: word for name, word in value.items() if isinstance(word, str)}
        if len(words) == len(value) > 1:
            yield words
        stack += [(below, depth + 1) for below in value.values()]
