"""Keep the mapping that was answered for a file: the last answer counts, what it replaces is set aside, not lost."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pipelines.reading.mapping.mapping_file import FOLDER, load_mapping, load_mappings
from pipelines.reading.recognise import rivals

SET_ASIDE = ".bak"
"""What is put behind the name of a mapping that another one replaced; such a file is not read."""


@dataclass(frozen=True)
class Kept:
    """What was changed to keep a mapping.

    Attributes:
        written: The new mapping; None: one that says the same was there.
        replaced: Each mapping that was set aside, with the place where it is now.
    """

    written: Path | None
    replaced: tuple[tuple[Path, Path], ...] = ()

    def take_back(self) -> None:
        """Make everything as it was before."""
        if self.written is not None:
            self.written.unlink(missing_ok=True)
        for place, aside in self.replaced:
            aside.replace(place)


def keep_mapping(workspace: Path, path: Path, text: str) -> Kept:
    """Write the mapping of a file, in the place of those that fit the same file.

    Args:
        workspace: The workspace's folder.
        path: The file that it reads.
        text: The mapping.

    Returns:
        What was changed.

    Raises:
        SettingsError: A line of a mapping does not mean what it should; nothing was changed.
        OSError: It cannot be written.
    """
    folder = workspace / FOLDER
    folder.mkdir(exist_ok=True)
    known = load_mappings(workspace)
    place = free(folder, path.with_suffix(".toml").name)
    with place.open("x", encoding="utf-8", newline="\n") as handle:
        handle.write(text)
    try:
        others = [workspace / mapping.name for mapping in rivals(path, known, load_mapping(place))]
    except BaseException:
        place.unlink()
        raise
    if len(others) == 1 and _said(others[0].read_text(encoding="utf-8", errors="replace")) == _said(text):
        place.unlink()
        return Kept(None)
    replaced = [(other, free(folder, f"{other.name}{SET_ASIDE}")) for other in others]
    for other, aside in replaced:
        other.replace(aside)
    # It takes the place of the one it replaces, under its name.
    last = others[0] if others else place
    place.replace(last)
    return Kept(last, tuple(replaced))


def free(folder: Path, name: str) -> Path:
    """Return a place in a folder where nothing stands."""
    stem, ending = Path(name).stem, Path(name).suffix
    names = [name, *(f"{stem}-{number}{ending}" for number in range(2, 10_000))]
    return next(folder / one for one in names if not (folder / one).exists())


def _said(text: str) -> list[str]:
    """Return the lines of a mapping that are no comments."""
    return [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
