"""Lines that name a job: a word for it, and its number."""

from __future__ import annotations

import re

from pipelines.reading.drafting.scan_lines import NUMBERED, Field, plain, spaced
from pipelines.reading.drafting.words import HEADINGS

_JOBS = "|".join(
    re.escape(word).replace(r"\ ", r"[ .-]*")
    for word in sorted({*HEADINGS["repairs"]["job"]} - {"or", "ro"}, key=len, reverse=True)
)
_JOB = re.compile(rf"\s*((?:{_JOBS}){NUMBERED})[ \t:;,|#.]*([\w/-]*[0-9][\w/-]*)", re.IGNORECASE)
_JOB_INSIDE = re.compile(rf"(?<![^\W\d_])(?:{_JOBS}){NUMBERED}[ \t:;,|#.]*([\w/-]*[0-9][\w/-]*)", re.IGNORECASE)


def is_job(line: str) -> bool:
    """Say whether a line names a job: a word for it, and its number."""
    return _JOB.match(plain(line)) is not None


def job_field(line: str) -> Field:
    """Return the number of a job in a line that names one."""
    match = _JOB.match(plain(line))
    assert match is not None
    return Field("job", *match.span(2), r"[\w/-]*[0-9][\w/-]*")


def job_inside(line: str) -> Field | None:
    """Return the number of a job behind a word for one, wherever in a line it stands; None where none does."""
    match = _JOB_INSIDE.search(plain(line))
    return Field("job", *match.span(1), r"[\w/-]*[0-9][\w/-]*") if match else None


def job_pattern(line: str) -> str:
    """Return the pattern of lines that name a job as one does."""
    match = _JOB.match(plain(line))
    return rf"^\s*{spaced(line[slice(*match.span(1))] if match else '')}[ \t:;,|#.]*(?<job>[\w/-]*[0-9][\w/-]*)"
