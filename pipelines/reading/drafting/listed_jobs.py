"""Draft how a list of jobs in words is cut: a line a job, ``4106 - 23/02/2026 - K-11 - 159.235 km - coil replaced``."""

from __future__ import annotations

import re
from collections.abc import Sequence

from pipelines.reading.drafting.code_lines import fits
from pipelines.reading.drafting.job_lines import is_job, job_field
from pipelines.reading.drafting.listed_cars import Span, cut_like
from pipelines.reading.drafting.scan_lines import fields, with_bare_car
from pipelines.reading.drafting.words import ACTIONS, known_in, verb_of, works_in
from pipelines.reading.mapping.cut_lines import LineCuts

_FEWEST, _ENOUGH = 3, 0.5
_BARE_JOB = re.compile(r"\s*(?:[-*•·>–+]\s+)?#?(\d{3,6})(?=[\s:;,|./–-]\s*\D|\s{2,})")
_PARTED = re.compile(r"[\s:;,|)–-]+")


def jobs_in(lines: Sequence[str]) -> LineCuts | None:
    """Return how the lines of a list of jobs are cut; None where they are none, or do not all stand alike."""
    filled = [line.rstrip() for line in lines if line.strip()]
    spans = {line: found for line in dict.fromkeys(filled) if (found := _spans(line))}
    listed = [line for line in filled if line in spans]
    if len(listed) < _FEWEST or len(listed) < _ENOUGH * len(filled):
        return None
    cut = cut_like(listed[0], spans[listed[0]], listed)
    return LineCuts(cut) if "<left" not in cut and all(fits(cut, line) for line in listed) else None


def _spans(line: str) -> list[Span]:
    """Return what a line tells of a job, the work behind all else; nothing where it is no whole job."""
    told = [one for one in with_bare_car(line, list(fields(line))) if one.column != "scanned_at_2"]
    columns = {one.column for one in told}
    if "scanned_at" not in columns or not columns & {"vehicle", "vin"}:
        return []
    job = job_field(line) if is_job(line) else None
    bare = _BARE_JOB.match(line) if job is None else None
    start, end = (job.start, job.end) if job is not None else bare.span(1) if bare is not None else (0, 0)
    names = {"scanned_at": "done_at", "vin": "vehicle"}
    found = [
        Span(names.get(one.column, one.column), one.start, one.end, one.pattern)
        for one in told
        if not start <= one.start < end
    ]
    found += [Span("job", start, end, r"[\w/-]*[0-9][\w/-]*")] if end else []
    last = max(one.end for one in found)
    gap = _PARTED.match(line, last)
    text = line[gap.end() :] if gap else ""
    works = works_in(text.strip(" ."))
    if not text or not all(known_in(ACTIONS, one) or verb_of(one) or verb_of(one, at_end=True) for one in works):
        return []
    found.append(Span("action", len(line) - len(text), len(line), r"\S.*"))
    return sorted(found, key=lambda one: one.start) if len({one.column for one in found}) == len(found) else []
