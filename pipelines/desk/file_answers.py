"""What is answered about one file: held against what was asked of it, and written down with it on the tray."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from analysis.texts import desk_file_text as say
from pipelines.desk.file_card import DATES, card_of, named_in
from pipelines.desk.question import Asked
from pipelines.errors import BatchError
from pipelines.workspace import Workspace

if TYPE_CHECKING:
    from datetime import date

    from pipelines.desk.tray import Tray, Waiting


def chosen(workspace: Workspace, tray: Tray, asked: Asked, bought: date | None = None) -> Waiting:
    """Write down what was answered about a file of a tray, and return the file with it.

    Raises:
        BatchError: It is not there any more, or the answer is none of the answers.
    """
    from pipelines.reading.layouts import LAYOUTS

    file = tray.get(asked.path["mark"])
    table, ask = asked.form["table"], asked.form["ask"]
    if table and table not in LAYOUTS:
        raise BatchError(say.NO_TABLE)
    if ask == "yes":  # question by question, with what was answered before
        told = replace(file, asked=True)
    elif ask:
        told = replace(file, asked=False, table=None, answers={}, before={}, taken={})
    elif table:  # what was answered of another table does not count for this one, and is there when that one is again
        was = str(card_of(workspace, file, bought=bought)["table"])
        before = {**file.before, was: file.answers} if was else file.before
        told = replace(file, table=table, answers=before.get(table, {}), before=before, taken={})
    else:
        answers = _answers(card_of(workspace, file, bought=bought), file, asked)
        taken = {key: mark for key, mark in file.taken.items() if answers.get(key) == file.answers.get(key)}
        told = replace(file, answers=answers, taken=taken)
        called = next((name for name in asked.form.all("file_name") if name and name != file.name), None)
        if called is not None:
            told = tray.rename(told, called)
    tray.say(told)
    return told


def _answers(left: dict[str, Any], file: Waiting, asked: Asked) -> dict[str, str]:
    """Return what was answered so far: what differs from a proposal, and what was answered before."""
    questions: Sequence[dict[str, Any]] = left["questions"]
    known, answers = {one["key"]: one for one in questions}, dict(file.answers)
    more, source = asked.form["more_column"], asked.form["more_source"]
    if more and source:
        if more not in left["unasked"] or source not in left["sources"]:
            raise BatchError(say.NO_ANSWER)
        answers[f"columns.{more}"] = _beside(more, source, known)
    for key, value in asked.form.under("answer:").items():
        if key not in known and not value:
            continue  # asked a moment ago, and not any more
        if key not in known:
            raise BatchError(say.OLD_QUESTION)
        one = known[key]
        if one["choices"] and value and value not in (*one["choices"], one["nothing"]):
            raise BatchError(say.NO_ANSWER)
        # A page that was left and come back to sends what it showed then: that is no answer.
        was = asked.form.under("was:").get(key, "" if one["answered"] else one["chosen"])
        if value and value != was:
            answers[key] = say.form_told(value) if key == DATES else value
    return answers


def _beside(more: str, source: str, known: Mapping[str, dict[str, Any]]) -> str:
    """Return the answer that one more column holds something: a code beside the codes, else in place of another."""
    was = str(known.get("columns.code", {}).get("chosen") or "") if more == "code" else ""
    return json.dumps([*named_in(was), source], ensure_ascii=False) if was.strip("-") else source
