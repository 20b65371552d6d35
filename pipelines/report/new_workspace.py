"""A new workspace: its folders, its settings file with every line explained, and a description of every column."""

from __future__ import annotations

import json
from pathlib import Path

from pipelines.errors import WorkspaceError
from pipelines.reading.layouts import LAYOUTS, column_docs, table_schema
from pipelines.reading.mapping.mapping_keys import mapping_docs
from pipelines.report.outgoing import column_docs as outgoing_docs
from pipelines.report.outgoing import table_schemas as outgoing_schemas
from pipelines.settings import default_toml
from pipelines.storage.sql_models import marts_page


def init_workspace(folder: Path) -> list[Path]:
    """Make a workspace in ``folder``; what is there already is kept.

    Args:
        folder: An existing or new folder.

    Returns:
        The files and folders that were made, in order.

    Raises:
        WorkspaceError: The folder cannot be made or written in.
    """
    try:
        return _made(folder.resolve())
    except OSError as error:
        why = error.strerror or error
        raise WorkspaceError(f"{folder} cannot become a workspace ({why}). Name a folder you may write in.") from error


def _made(root: Path) -> list[Path]:
    made: list[Path] = []
    for sub in [*(f"inbox/{name}" for name in LAYOUTS), "archive", "rejected", "reports", "docs"]:
        if not (root / sub).is_dir():
            (root / sub).mkdir(parents=True)
            made.append(root / sub)
    texts = {"knockon.toml": default_toml(), "docs/columns.md": _columns_page(), "docs/marts.md": marts_page()}
    texts["docs/mapping.md"] = mapping_docs()
    texts |= {f"docs/in-{name}.schema.json": _json(table_schema(layout)) for name, layout in LAYOUTS.items()}
    texts |= {f"docs/out-{name}.schema.json": _json(schema) for name, schema in outgoing_schemas().items()}
    for name, text in texts.items():
        if not (root / name).exists():
            (root / name).write_text(text, encoding="utf-8", newline="\n")
            made.append(root / name)
    return made


def _json(schema: dict[str, object]) -> str:
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def _columns_page() -> str:
    parts = ["# The columns of every file that goes in\n", *(column_docs(layout) for layout in LAYOUTS.values())]
    return "\n".join([*parts, "# The columns of every table that comes out\n", outgoing_docs()])
