"""Look at an unknown export and draft the mapping that would read it.

What the file is, how its text is encoded, where its header stands and which of its
columns is which are guesses; each is a question with a proposal and its reason, and
what nothing in the file can decide is asked.  Where a file can be read in several ways
(as a table, as lines), the first that leaves no column open is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.account import codes_in
from pipelines.reading.drafting.draft import Draft
from pipelines.reading.drafting.text_ways import line_ways, named_ways, text_ways
from pipelines.reading.drafting.ways import first_whole
from pipelines.reading.drafting.words import Modules
from pipelines.reading.drafting.workbook_drafts import draft_workbook
from pipelines.reading.drafting.years import with_years
from pipelines.reading.mapping.letters import letter_text
from pipelines.reading.mapping.packed import is_packed, unpacked
from pipelines.reading.mapping.pdf_text import read_pdf
from pipelines.reading.source import encoding_of, read_bytes, read_text

_MOST_MEMBERS, _MOST_PDFS = 200, 20


def draft_mapping(
    path: Path,
    is_module: Callable[[str], bool],
    answers: Mapping[str, str] | None = None,
    labour_rate: float | None = None,
    odometer_unit: str | None = None,
) -> Draft:
    """Draft the mapping of one file.

    Args:
        path: The file.
        is_module: Whether the vocabulary knows a text as a module.
        answers: What the user has answered so far, by the key of each question; they count before any guess.
        labour_rate: What an hour of work costs by the settings; None: it is asked where it is needed.
        odometer_unit: What a mileage counts whose file does not say it, by the settings; None: it is asked.

    Returns:
        The draft; what could not be guessed stands in its open questions, and in comments.

    Raises:
        InputFileError: The file cannot be read at all.
        OSError: It cannot be opened.
    """
    draft = Draft(answers or {}, labour_rate=labour_rate, odometer_unit=odometer_unit)
    ending = path.suffix.lower() or path.name.lower()
    draft.put("serves", [f"*{ending}"], f"files that end as {path.name!r} does; make it narrower where others do too")
    modules = Modules(is_module)
    return _packed(draft, path, modules) if is_packed(path) else _of_files(draft, [(path.name, path)], modules)


def _packed(draft: Draft, path: Path, is_module: Modules) -> Draft:
    """Draft by the files of a zip that end as the one in which most looks like a code."""
    with unpacked(path) as members:
        if not members:
            raise InputFileError(f"{path}: the zip holds no files.")
        coded = {name: codes_in([member.read_bytes().decode("latin-1")]).total() for name, member in members}
        name, main = max(members, key=lambda found: (coded[found[0]], found[1].stat().st_size))
        draft.reasons.append(f"it is a zip of {len(members)} files; each that is like {name!r} is read")
        alike = [found for found in members if found[1].suffix == main.suffix and found[1] != main]
        files = [(name, main), *sorted(alike, key=lambda found: -coded[found[0]])[:_MOST_MEMBERS]]
        return _of_files(draft, [(name.rsplit("/", 1)[-1], member) for name, member in files], is_module)


def _of_files(draft: Draft, files: Sequence[tuple[str, Path]], is_module: Modules) -> Draft:
    """Draft by one file, or by several that are alike, the first being the one that counts."""
    path = files[0][1]
    names = [name for name, _ in files]
    content = read_bytes(path)
    letter = letter_text(path)
    if letter is not None:
        texts = [letter] if letter.lstrip().startswith("<") else with_years(draft, [letter], names)
        return first_whole(draft, text_ways(texts, names, is_module))
    if content.startswith(b"PK"):
        return draft_workbook(draft, path, names, is_module)
    if content.lstrip().startswith(b"%PDF-"):
        texts = with_years(draft, [read_pdf(member) for _, member in files[:_MOST_PDFS]], names)
        *ways, last = line_ways(texts, names, is_module, "pdf")
        return first_whole(draft, [*ways, *named_ways(texts, names, is_module), last])
    encoding = encoding_of(content)
    if encoding != "utf-8":
        why = "it is marked so" if encoding.startswith("utf-16") else "the bytes are no UTF-8"
        draft.put("encoding", encoding, why)
    texts = [read_text(path, encoding), *_others(files[1:], encoding)]
    if not texts[0].lstrip().startswith(("{", "[", "<")):
        texts = with_years(draft, texts, names)
    return first_whole(draft, text_ways(texts, names, is_module))


def _others(files: Sequence[tuple[str, Path]], encoding: str) -> list[str]:
    found = []
    for _, path in files:
        try:
            found.append(read_text(path, encoding))
        except InputFileError:
            continue  # the reading itself will name it
    return found
