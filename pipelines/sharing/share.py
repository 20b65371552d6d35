"""A set of the dealer's rows that can be shown to somebody else: no vehicle numbers, no names, no notes.

It is a workspace of its own: whoever gets it can run the week on it and finds the same families, rules and list, the
names apart.  It is pseudonymous, not anonymous: a car of a rare model with a known odometer can still be recognised.
"""

from __future__ import annotations

import json
import os
import shutil
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipelines.batch.last_week import last_run
from pipelines.errors import WorkspaceError, refused, why_refused
from pipelines.ingest.normalise import normalise_spellings
from pipelines.ingest.own_words import own_words
from pipelines.reading.source import read_text
from pipelines.settings import Settings, load_settings
from pipelines.sharing.column_policies import MEANINGS, POLICIES, private_text, shared_rows
from pipelines.sharing.pseudonyms import Pseudonyms, kept_key
from pipelines.storage.session import reading
from pipelines.storage.sql_models import upstream
from pipelines.workspace import Workspace

_SETTINGS = (
    *("currency", "labour_rate", "specialist_cost", "cheap_limit", "road_test_km", "odometer_unit"),
    *("country", "min_vehicles", "q_value", "must_clear", "week_starts", "date_style", "csv_prefix"),
)
_TITLE = "A pseudonymous set of scans, repairs and stock, for knockon"
_README, _WORDS, _LEFT = "READ-ME.txt", "words.txt", "left.txt"
OWN_LIST = "private.txt"


@dataclass(frozen=True)
class Shared:
    """What was written.

    Attributes:
        folder: Where the set is.
        rows: Rows of each layout.
        mark: Eight hex digits, the same for sets that can be joined.
        words: Different free wordings in the set.
        left: Words and numbers in them that no shipped list knows.
        struck: How often each kind of private thing was struck out of a wording.
    """

    folder: Path
    rows: dict[str, int]
    mark: str
    words: int
    left: int
    struck: dict[str, int]


def share(
    workspace: Workspace, folder: Path | None = None, *, shift_dates: bool = False, new_key: bool = False
) -> Shared:
    """Write a pseudonymous set.

    Args:
        workspace: The dealer's folder; only its key file is made where there is none.
        folder: Where to; None: ``shared/`` and the week of the last report, in the workspace.  An older set there is
            replaced, anything else is left alone.
        shift_dates: Move all days of a car back by its own number of weeks.
        new_key: Make a new key first: this set cannot be joined with earlier ones.

    Returns:
        What was written.

    Raises:
        BatchError: There was no run yet, another run is going on, the key can be read by others, or ``folder`` holds
            something else.
    """
    settings = load_settings(workspace.settings_file)
    with reading(workspace) as warehouse:
        target = (folder or workspace.root / "shared" / last_run(workspace, warehouse).week).absolute()
        _check_target(target)
        own, _ = own_words(workspace.root)
        normalise_spellings(warehouse, own)
        for model in upstream("staging.known_vins"):
            warehouse.build(model, {"odometer_unit": settings.odometer_unit})
        pseudonyms = Pseudonyms(kept_key(workspace.state / "share.key", new=new_key))
        finder = private_text(warehouse, own_list(workspace.root / OWN_LIST))
        frames = shared_rows(warehouse, pseudonyms, finder, shift_dates=shift_dates)
    words = _wordings(frames)
    left = list(finder.left_over(words))
    rows = {name: frame.height for name, frame in frames.items()}
    texts = {
        "knockon.toml": _toml(settings),
        _README: _readme(rows, pseudonyms.mark, shift_dates),
        _WORDS: "\n".join([*sorted(words), ""]),
        _LEFT: _left_text(left, finder.counts),
    }
    _write(target, frames, texts)
    return Shared(target, rows, pseudonyms.mark, len(words), len(left), dict(finder.counts))


def _check_target(folder: Path) -> None:
    ours = {_README, _WORDS, _LEFT, "knockon.toml", *(f"inbox/{name}/{name}.csv" for name in POLICIES)}
    held = [path.relative_to(folder).as_posix() for path in folder.rglob("*") if not path.is_dir()]
    if folder.is_file() or (held and (_README not in held or not ours.issuperset(held))):
        raise WorkspaceError(
            f"{folder} holds something else; name a new or empty folder with --out. Nothing was shared."
        )


def own_list(path: Path) -> list[str]:
    """Return what the dealer's own list says must not go out: a name, number or word a line, ``#`` before remarks.

    Raises:
        InputFileError: The file is no text.
        WorkspaceError: It cannot be opened.
    """
    if not path.is_file():
        return []
    try:
        lines = read_text(path).splitlines()
    except OSError as error:
        raise WorkspaceError(f"{refused(path, error)} Nothing was shared.") from error
    return [line.strip() for line in lines if line.strip() and not line.lstrip().startswith("#")]


def _wordings(frames: Mapping[str, pl.DataFrame]) -> dict[str, int]:
    """Return every text that people wrote freely and that goes out, with its rows: to be looked through."""
    free = ("names struck out", "known words")
    columns = [
        frames[layout][name].drop_nulls()
        for layout, policies in POLICIES.items()
        for name, policy in policies.items()
        if policy in free
    ]
    return dict(Counter(pl.concat(columns)))


def _left_text(left: Sequence[tuple[str, str, int]], struck: Mapping[str, int]) -> str:
    lines = ["Struck out of the free wordings of this set, by kind, each wording once:", ""]
    lines += [f"{count} {kind}" for kind, count in sorted(struck.items())] or ["nothing"]
    lines += [
        "",
        f"Left, and in no list that ships with knockon: look at these. Enter what must not go out into {OWN_LIST}",
        "beside knockon.toml, a line each, and share again. What stands in few rows is more likely to name somebody.",
        "",
        *(f"{word}: {why}, in {count} rows" for word, why, count in left),
        "",
    ]
    return "\n".join(lines)


def _toml(settings: Settings) -> str:
    lines = []
    for name in _SETTINGS:
        value = getattr(settings, name)
        lines.append(f"{name} = {json.dumps(value) if isinstance(value, str | bool) else f'{value:g}'}")
    return "\n".join([*lines, ""])


def _readme(rows: Mapping[str, int], mark: str, shift_dates: bool) -> str:
    moved = "moved back, each car by its own number of weeks" if shift_dates else "as they were"
    lines = [
        _TITLE,
        "",
        f"Key mark {mark}: sets with this mark name the same car by the same name. Days are {moved}.",
        "",
    ]
    lines += [f"inbox/{name}/{name}.csv: {count} rows" for name, count in rows.items()]
    lines += ["", "What became of each column:", ""]
    for layout, policies in POLICIES.items():
        lines += [f"{layout}.{name}: {MEANINGS[policy]}" for name, policy in policies.items()]
    lines += [
        "",
        f"{_WORDS} holds every free wording of the set, to be looked through before it is passed on.",
        f"{_LEFT} says what was struck out, and which words and numbers are left that no shipped list knows.",
        "",
    ]
    return "\n".join(lines)


def _write(target: Path, frames: Mapping[str, pl.DataFrame], texts: Mapping[str, str]) -> None:
    """Write the set beside its place and move it there as the last act."""
    target.parent.mkdir(parents=True, exist_ok=True)
    fresh = target.with_name(f".{target.name}.new")
    shutil.rmtree(fresh, ignore_errors=True)
    try:
        for name, frame in frames.items():
            place = fresh / "inbox" / name / f"{name}.csv"
            place.parent.mkdir(parents=True)
            frame.write_csv(place)
        for name, text in texts.items():
            (fresh / name).write_text(text, encoding="utf-8", newline="\n")
        shutil.rmtree(target, ignore_errors=True)
        os.replace(fresh, target)
    except OSError as error:
        raise WorkspaceError(f"{target} could not be written ({why_refused(error)}). Nothing was shared.") from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
