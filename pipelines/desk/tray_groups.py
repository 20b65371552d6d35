"""Files of one form lie together on the tray: what is ready folded up, what waits for an answer behind its first."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Any

from analysis.texts import desk_file_text as say
from pipelines.workspace import Workspace

Card = dict[str, Any]


@dataclass(frozen=True)
class Group:
    """Files that lie together.

    Attributes:
        cards: Those that are seen.
        folded: Those that are folded up.
        words: What is folded up.
    """

    cards: Sequence[Card]
    folded: Sequence[Card] = ()
    words: str = ""


def grouped(workspace: Workspace, cards: Sequence[Card]) -> list[Group]:
    """Return the files of a tray in groups, in the order of the first of each.

    Args:
        workspace: The workspace.
        cards: What the page shows of each file.
    """
    heaps: dict[Hashable, list[Card]] = {}
    for card in cards:
        heaps.setdefault(_kind(workspace, card), []).append(card)
    return [_group(heap) for heap in heaps.values()]


def _kind(workspace: Workspace, card: Card) -> Hashable:
    """Return what cards that lie together have in common; nothing for one that has something of its own to say."""
    from pipelines.desk.alike import shape_of

    own = card["before"] or card["stopped"] or card["twin"] or (card["ready"] and not card["whole"])
    shape = shape_of(workspace, card["file"]) if card["drafted"] else tuple(card["heads"])
    if own or not shape:
        return str(card["file"].mark)
    return card["ready"], card["table"], shape


def _group(heap: Sequence[Card]) -> Group:
    if len(heap) == 1:
        return Group(heap)
    names = [card["file"].name for card in heap]
    if not heap[0]["ready"]:
        return Group(heap[:1], heap[1:], say.same_form(names[1:]))
    return Group([], heap, say.folded(names, heap[0]["table"], sum(card["kept"] for card in heap)))


def left_behind(waiting: Sequence[Card]) -> str:
    """Say which files a run would go without, because they wait for an answer; blank where none does.

    Args:
        waiting: What the page shows of each file that waits.
    """
    return say.left_behind([(card["file"].name, card["table"]) for card in waiting]) if waiting else ""
