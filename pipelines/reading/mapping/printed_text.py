"""Read a printed report: each line is looked at alone, and what stands above a line counts for it.

A scan's heading says which car and when, a module's heading which module, and
each code's line one code.  A heading with nothing below it says nothing about its
module, unless the mapping says it does.
"""

from __future__ import annotations

import re
import time
from pathlib import Path

import polars as pl

from pipelines.errors import InputFileError
from pipelines.reading.account import LIKE_A_CODE, Found, codes_in
from pipelines.reading.mapping.mapping_file import Mapping, TextPatterns, plain_group
from pipelines.reading.mapping.patterns import groups_of
from pipelines.reading.tabular.raw_table import RawTable, Reject

_LONGEST_LINE = 10_000
_BRANCHES = re.compile(r"^ *[>│├└─┬┼╰╭][>│├└─┬┼╰╭ \u00a0]*|^ *(?:\| +)*[|+`\\]-{1,3}>? (?! *\|)", re.MULTILINE)
_LEADERS = re.compile(r"[ \t]*:?[ \t]*(?:\.{4,}|(?:\. ){4,}\.?)[ \t]*:?[ \t]*")
FURNITURE = (
    r"^[\s*=#_.>|–—-]*(?i:(?:end|ende|fin|fine|fim|einde|koniec) (?:of|der|des|de|du|la|del|della|do|van)"
    r"(?: (?:the|la|le|l))?[ ']*(?:print[- ]?out|report|list(?:ing)?|file|scan|document|page|protocol|print|test"
    r"|ausdrucks?|berichts?|liste|protokolls?|seite|rapport|impression|listado|informe|rapporto|stampa|lijst|afdruk)"
    r"|(?:end|ende|fin|fine)|berichtsende|listenende|protokollende|fin d'impression"
    r"|(?:page|seite|p[aá]gina|pagina|strona|sida|blatt|p\.)[ :#.-]*\d+(?: ?(?:of|von|de|di|van|z|av|sur|/|-) ?\d+)?"
    r"|(?:no|keine|pas d'autres|sin|nessun[ao]?|geen) (?:further|more|other|weiteren?|autres|m[aá]s|altr[aei]|verdere)"
    r" ?(?:entries|entry|faults?|codes?|items|records|lines|eintr[aä]ge|fehler|entr[eé]es|d[eé]fauts|entradas|voci"
    r"|regels|fouten)?|(?:continued|to be continued|cont\.|fortsetzung(?: folgt)?|suite)"
    r"(?: (?:on|overleaf|from|auf|siehe|page|n[aä]chste|next|previous|seite|\d+)+)*)[\s*=#_.!<|–—-]*$"
)
"""Lines that belong to the paper and say nothing of any car: the end of a print-out, its pages, no further entries.

They are never a module and never wording, though a pattern for any line of words would take them.
"""
_HARD_BLANKS = str.maketrans("\u00a0\u202f\u2007", "   ")
_SHOWN = 120
_BLOCK = 20_000
_SECONDS_A_BLOCK = 20.0
_ROLES = ("scan", "more", "below", "silent", "no_codes", "module", "code")
_ROLE = pl.Enum(_ROLES)
_MAKES_ROWS = ("silent", "no_codes", "code")


def read_printed(path: Path, text: str, mapping: Mapping) -> RawTable:
    """Read the lines of a printed report.

    Args:
        path: The file, for messages.
        text: Its text.
        mapping: With its patterns.

    Returns:
        Int64 ``row``, the line, and the layout's columns.  Lines that look like a code and fit no pattern, and lines
        that are far too long, are in the rejects; the notes count what else fits nothing.

    Raises:
        InputFileError: The patterns take far longer than they should, or no line begins a scan.
    """
    patterns = mapping.text
    if patterns is None:
        raise ValueError(f"{mapping.name} has no patterns")
    whole = pl.DataFrame({"line": [text.replace("\f", "\n")]})
    lines = whole.select(pl.col("line").str.split("\n").explode(empty_as_null=True))
    lines = lines.select(
        pl.int_range(1, pl.len() + 1, dtype=pl.Int64).alias("row"), pl.col("line").str.strip_chars_end()
    )
    lines = lines.filter(pl.col("line").str.len_bytes() > 0)
    lines = lines.filter(~pl.col("line").str.contains(FURNITURE))
    long = pl.col("line").str.len_chars() > _LONGEST_LINE
    why = f"a line of more than {_LONGEST_LINE} characters"
    rejects: list[Reject] = [(row, None, line[:_SHOWN], why) for row, line in lines.filter(long).iter_rows()]
    marked = _marked(path, lines.filter(~long), patterns)
    if "scan" not in marked["role"]:
        raise InputFileError(
            f"{path}: no line fits the pattern text.scan of {mapping.name}; expected a scan's heading. "
            "The file was not loaded."
        )
    notes = _unfitting(marked, rejects)
    return RawTable(_rows(marked, patterns, notes), rejects, notes, Found(codes_in([text])))


def without_branches(text: str) -> str:
    """Return a text with blanks in place of what leads to its lines, branches of a drawn tree and signs of quoting.

    Dots that lead from a name to its value are a colon.
    """
    text = text.translate(_HARD_BLANKS)
    text = without_leaders(text)
    if not _BRANCHES.search(text):
        return text
    return _BRANCHES.sub(lambda found: " " * len(found[0]), text)


def without_leaders(text: str) -> str:
    """Return a text with a colon in place of the dots that lead from a name to its value."""
    return _LEADERS.sub(": ", text) if "...." in text or ". . ." in text else text


def _marked(path: Path, lines: pl.DataFrame, patterns: TextPatterns) -> pl.DataFrame:
    """Say which pattern each line fits, and take its groups; each distinct line is worked out once."""
    distinct = lines.select(pl.col("line").unique(maintain_order=True))
    blocks = []
    for start in range(0, max(distinct.height, 1), _BLOCK):
        begun = time.monotonic()
        blocks.append(_groups(distinct.slice(start, _BLOCK), patterns))
        if time.monotonic() - begun > _SECONDS_A_BLOCK:
            raise InputFileError(
                f"{path}: the patterns took more than {_SECONDS_A_BLOCK:.0f} seconds for {_BLOCK} lines; "
                "simplify them. The file was not loaded."
            )
    return lines.join(pl.concat(blocks), on="line", how="left", maintain_order="left")


def _by_role(patterns: TextPatterns) -> list[tuple[str, str]]:
    """Return the patterns in the order they are tried; the first that fits has the line."""
    named = [("scan", patterns.scan[0]), *(("more", pattern) for pattern in patterns.scan[1:])]
    named += [("below", pattern) for pattern in patterns.below]
    given = [*patterns.named()]
    return named + [
        (role, pattern) for role in _ROLES if role not in ("scan", "below") for key, pattern in given if key == role
    ]


def _groups(lines: pl.DataFrame, patterns: TextPatterns) -> pl.DataFrame:
    """Return ``line``, ``role`` and every group that any pattern names."""
    ordered = _by_role(patterns)
    named = list(dict.fromkeys(group for _, pattern in ordered for group in groups_of(pattern)))
    schema: dict[str, pl.DataType] = {
        "line": pl.String(),
        "role": _ROLE,
        "alone": _ROLE,
        **dict.fromkeys(named, pl.String()),
    }
    left, parts = lines, [pl.DataFrame(schema=schema)]
    for role, pattern in ordered:
        fits = left["line"].str.contains(pattern)
        taken, left = left.filter(fits), left.filter(~fits)
        groups = groups_of(pattern)
        made = taken.with_columns(role=pl.lit(role, _ROLE), alone=_alone(taken["line"], ordered, role))
        if groups:
            made = made.with_columns(pl.col("line").str.extract_groups(pattern).struct.field(*groups))
        parts.append(made)
    parts.append(left.with_columns(role=pl.lit(None, _ROLE)))
    return pl.concat(parts, how="diagonal").select(list(schema))


def _alone(lines: pl.Series, ordered: list[tuple[str, str]], role: str) -> pl.Expr:
    """Return what lines that add to a code say where no code is above them: no answer, or no code; else null."""
    said: pl.Expr = pl.lit(None, _ROLE)
    for other, pattern in reversed(ordered):
        if role == "below" and other in ("silent", "no_codes"):
            said = pl.when(pl.lit(lines.str.contains(pattern))).then(pl.lit(other, _ROLE)).otherwise(said)
    return said


def _unfitting(marked: pl.DataFrame, rejects: list[Reject]) -> list[str]:
    """Set aside the lines that look like a code and fit no pattern, and count the others."""
    other = marked.filter(pl.col("role").is_null()).select("row", "line")
    lost = other.filter(pl.col("line").str.contains(LIKE_A_CODE))
    rejects += [
        (row, "code", line[:_SHOWN], "the line looks like a code and fits no pattern") for row, line in lost.iter_rows()
    ]
    rest = other.filter(~pl.col("line").str.contains(LIKE_A_CODE))
    if rest.is_empty():
        return []
    row, line = rest.row(0)
    return [f"{rest.height} lines fit no pattern; the first is line {row}: {line.strip()[:_SHOWN]}"]


def _rows(marked: pl.DataFrame, patterns: TextPatterns, notes: list[str]) -> pl.DataFrame:
    """Make a row of each line that says something of a module, with what stands above it."""
    role = pl.col("role")
    begins = (role == "scan").fill_null(False)
    above = pl.when(role != "below").then(role).forward_fill()
    known = (
        marked.drop("line")
        .filter(role.is_not_null())
        .with_columns(
            role=pl.when((role == "below") & (above != "code")).then(pl.coalesce("alone", role)).otherwise(role)
        )
        .drop("alone")
        .with_columns(
            scan=begins.cum_sum(),
            module_at=(begins | (role == "module").fill_null(False)).cum_sum(),
            # What stands below a code belongs to it until any other line begins something else.
            code_at=(role != "below").fill_null(False).cum_sum(),
        )
    )
    bare = _bare(known)
    if patterns.bare_is_read:
        known = known.with_columns(
            role=pl.when(pl.col("row").is_in(bare.to_list())).then(pl.lit("code", _ROLE)).otherwise(role)
        )
    elif bare.len():
        notes.append(
            f"{bare.len()} modules have a heading and nothing below it, so nothing is known of them; "
            f"the first is line {bare[0]}"
        )
    own = known.filter(role.is_in(_MAKES_ROWS))
    cells = _cells(own, known, patterns)
    if patterns.silent and "module_state" not in cells:
        silent = own.select(pl.when(role == "silent").then(pl.lit("silent")))
        cells["module_state"] = silent.to_series()
    return _joined(pl.DataFrame([own["row"], *(cell.alias(name) for name, cell in cells.items())]))


def _cells(own: pl.DataFrame, known: pl.DataFrame, patterns: TextPatterns) -> dict[str, pl.Series]:
    """Return each column's cells: what the line itself says, else those below it, its module's heading, its scan's."""
    keys = {"scan": "scan", "more": "scan", "module": "module_at", "below": "code_at"}
    cells = {name: own[name] for role, pattern in _by_role(patterns) if role not in keys for name in groups_of(pattern)}
    for key in ("code_at", "module_at", "scan"):
        named = [(role, pattern) for role, pattern in _by_role(patterns) if keys.get(role) == key]
        groups = list(dict.fromkeys(name for _, pattern in named for name in groups_of(pattern)))
        heads = known.filter(pl.col("role").is_in([role for role, _ in named]))
        first = heads.group_by(key).agg(_said(name, joined=key == "code_at") for name in groups)
        above = own.select(key).join(first, on=key, how="left", maintain_order="left")
        for name in groups:
            said = cells.get(name)
            filled = None if said is None else (said.str.len_bytes() > 0).fill_null(False)
            cells[name] = above[name] if said is None or filled is None else said.zip_with(filled, above[name])
    return cells


def _said(name: str, *, joined: bool) -> pl.Expr:
    """Return what the lines of one place say of a column: the first of them, or all the lines of a wording."""
    said = pl.col(name).drop_nulls()
    whole = joined and plain_group(name) == "text"
    return pl.when(said.len() > 0).then(said.str.strip_chars().str.join(" ")).alias(name) if whole else said.first()


def _bare(known: pl.DataFrame) -> pl.Series:
    """Return the lines of module headings with no line below them that makes a row."""
    told = known.filter(pl.col("role").is_in(_MAKES_ROWS)).select(pl.col("module_at").unique())
    return known.filter(pl.col("role") == "module").join(told, on="module_at", how="anti")["row"].sort()


def _joined(rows: pl.DataFrame) -> pl.DataFrame:
    """Join the second parts of columns to their first ones: ``scanned_at_2`` to ``scanned_at``."""
    parts: dict[str, list[str]] = {}
    for name in sorted(rows.columns[1:]):
        parts.setdefault(plain_group(name), []).append(name)
    joined = [
        pl.concat_str([pl.col(name).str.strip_chars() for name in names], separator=" ", ignore_nulls=True)
        if len(names) > 1
        else pl.col(names[0])
        for names in parts.values()
    ]
    return rows.select("row", *(cell.alias(column) for cell, column in zip(joined, parts, strict=True)))
