"""A mapping in the making: its lines of TOML, table by table, and why each is as it is."""

from __future__ import annotations

import json
from dataclasses import dataclass, field


@dataclass
class Draft:
    """A mapping in the making.

    Attributes:
        tables: Name of each table to its lines; "" are the lines above the first table.
        reasons: Why they are as they are.
    """

    tables: dict[str, list[str]] = field(default_factory=lambda: {"": []})
    reasons: list[str] = field(default_factory=list)

    def put(self, key: str, value: object, why: str = "", table: str = "") -> None:
        """Add a line to a table, and its reason."""
        shown = value if isinstance(value, int) else json.dumps(value, ensure_ascii=False)
        self.line(f"{_key(key)} = {shown}", table)
        if why:
            self.reasons.append(f"{key}: {why}")

    def line(self, text: str, table: str = "") -> None:
        """Add a line as it stands to a table."""
        self.tables.setdefault(table, []).append(text)

    def toml(self) -> str:
        """Return the draft as TOML."""
        parts = [self.tables[""], *([f"[{name}]", *lines] for name, lines in self.tables.items() if name)]
        return "\n\n".join("\n".join(lines) for lines in parts) + "\n"


def _key(name: str) -> str:
    plain = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    return name if plain else json.dumps(name, ensure_ascii=False)
