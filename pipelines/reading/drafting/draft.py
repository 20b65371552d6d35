"""A mapping in the making: its lines of TOML, table by table, and each guess as a question with a proposal and why."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

NOTHING = "-"
"""The answer that means: no column, no word, leave it out."""
CONSTANT = "="
"""An answer that begins so is what the column holds in every row."""
MAY, MAY_NOT = "yes", "no"
"""What is answered to the question whether something may be left unread."""
_MEANT = {MAY: "yes, leave it out", MAY_NOT: "no: then nothing of this file is taken in"}


@dataclass(frozen=True, kw_only=True)
class Question:
    """One thing that a draft had to decide.

    Attributes:
        key: Where in the mapping the answer goes.
        asks: The question, in words.
        proposal: The answer that is proposed; None: nothing can decide, so it has to be asked.
        why: Why it is proposed, or why nothing can decide.
        choices: Answers that can be given; empty: any.
        means: What some of them mean, in words.
        leaves: It asks whether something may be left unread: by another answer than yes the file is not read at all.
        hangs: So much hangs on it that a person is asked in any case; the proposal counts where there is nobody to ask.
    """

    key: str
    asks: str
    proposal: str | None
    why: str
    choices: tuple[str, ...] = ()
    means: Mapping[str, str] = field(default_factory=dict)
    leaves: bool = False
    hangs: bool = False


@dataclass
class Draft:
    """A mapping in the making.

    Attributes:
        answers: What the user said, by the key of the question.
        tables: Name of each table to its lines; "" are the lines above the first table.
        reasons: Why they are as they are.
        questions: What had to be decided, in order.
        legend: What the file itself says that letters or numbers mean as states.
        labour_rate: What an hour of work costs by the settings; None: nobody said.
        odometer_unit: What a mileage without a unit counts by the settings, km or mi; None: nobody said.
        units_of_work: How many of a unit of work the file itself says an hour has, by the unit's folded name.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    tables: dict[str, list[str]] = field(default_factory=lambda: {"": []})
    reasons: list[str] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    legend: dict[str, str] = field(default_factory=dict)
    labour_rate: float | None = None
    odometer_unit: str | None = None
    units_of_work: dict[str, float] = field(default_factory=dict)

    @property
    def open(self) -> list[Question]:
        """The questions that nothing in the file can decide and nobody has answered, or so that it cannot be read."""
        undecided = [asked for asked in self.questions if asked.proposal is None and asked.key not in self.answers]
        return undecided + self.stopped

    @property
    def stopped(self) -> list[Question]:
        """The questions whether something may be left unread to which the answer is another than yes."""
        return [asked for asked in self.questions if asked.leaves and self.answers.get(asked.key, MAY) != MAY]

    @property
    def hanging(self) -> list[Question]:
        """The questions with a proposal on which much hangs, and which nobody has answered."""
        return [asked for asked in self.questions if asked.hangs and asked.key not in self.answers]

    def told_of_all(self, key: str) -> str | None:
        """Return what was answered to hold in every row; None where the answer is another, or there is none."""
        answer = self.answers.get(key, "")
        return answer.removeprefix(CONSTANT) if answer.startswith(CONSTANT) else None

    def ask(
        self,
        key: str,
        asks: str,
        proposal: str | None,
        why: str,
        choices: Sequence[str] = (),
        *,
        means: Mapping[str, str] | None = None,
        hangs: bool = False,
    ) -> str | None:
        """Decide something: return the user's answer, else the proposal; None where there is neither or it is none."""
        if all(asked.key != key for asked in self.questions):
            choices, means = tuple(choices), means or {}
            self.questions.append(
                Question(key=key, asks=asks, proposal=proposal, why=why, choices=choices, means=means, hangs=hangs)
            )
        answer = self.answers.get(key, proposal)
        return None if answer == NOTHING else answer

    def ask_leave(self, key: str, asks: str, why: str, means: Mapping[str, str] | None = None) -> None:
        """Ask whether something may be left unread, as nothing here reads it; the file is read by a yes alone."""
        if all(asked.key != key for asked in self.questions):
            choices, means = (MAY, MAY_NOT), means or _MEANT
            self.questions.append(
                Question(key=key, asks=asks, proposal=None, why=why, choices=choices, means=means, leaves=True)
            )

    def ask_first(self, key: str, asks: str, proposal: str | None, why: str, choices: Sequence[str]) -> None:
        """Put a question in front of all others; it has been decided already."""
        self.questions.insert(0, Question(key=key, asks=asks, proposal=proposal, why=why, choices=tuple(choices)))

    def copy(self) -> Draft:
        """Return a draft of its own that begins as this one."""
        tables = {name: [*lines] for name, lines in self.tables.items()}
        reasons, questions = [*self.reasons], [*self.questions]
        return replace(self, tables=tables, reasons=reasons, questions=questions)

    def put(self, key: str, value: object, why: str = "", table: str = "") -> None:
        """Add a line to a table, and its reason."""
        shown = value if isinstance(value, int) else json.dumps(value, ensure_ascii=False)
        if not any(line.startswith(f"{_key(key)} = ") for line in self.tables.get(table, ())):
            self.line(f"{_key(key)} = {shown}", table)
        if why:
            self.reasons.append(f"{key}: {why}")

    def line(self, text: str, table: str = "") -> None:
        """Add a line as it stands to a table."""
        self.tables.setdefault(table, []).append(text)

    @property
    def table(self) -> str:
        """The table that the rows belong to, as far as drafted; scans where nothing says so."""
        return str(tomllib.loads("\n".join(self.tables[""])).get("table", "scans"))

    def toml(self) -> str:
        """Return the draft as TOML."""
        parts = [self.tables[""], *([f"[{name}]", *lines] for name, lines in self.tables.items() if name)]
        return "\n\n".join("\n".join(lines) for lines in parts) + "\n"


def literal(pattern: str) -> str:
    """Return a pattern as a TOML text that needs no escapes, where it can be one."""
    return f"'{pattern}'" if "'" not in pattern and "\n" not in pattern else json.dumps(pattern, ensure_ascii=False)


def _key(name: str) -> str:
    plain = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    return name if plain else json.dumps(name, ensure_ascii=False)
