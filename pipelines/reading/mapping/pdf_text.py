"""The text of a PDF, line by line as it is laid out on the page."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from pipelines.errors import InputFileError
from pipelines.reading.source import read_bytes

LARGEST_PDF = 64 * 2**20
_SECONDS = 60
_LARGEST_TEXT = 128 * 2**20
_CHILD = Path(__file__).with_name("pdf_child.py")


def read_pdf(path: Path) -> str:
    """Return a PDF's text.

    Args:
        path: The file.

    Raises:
        InputFileError: It is no PDF, is locked, holds pictures only, is too large, or takes longer than a minute.
        OSError: It cannot be opened.
    """
    content = read_bytes(path, LARGEST_PDF)
    if not content.lstrip().startswith(b"%PDF-"):
        raise InputFileError(f"{path}: the content is no PDF. The file was not loaded.")
    try:
        # -I: the child sees the installed libraries only, whatever the folder it is started in holds.
        done = subprocess.run(  # noqa: S603 - our own script, by this very Python
            [sys.executable, "-I", str(_CHILD)], input=content, capture_output=True, timeout=_SECONDS, check=False
        )
    except subprocess.TimeoutExpired as error:
        raise InputFileError(f"{path}: reading took more than {_SECONDS} seconds. The file was not loaded.") from error
    if done.returncode or len(done.stdout) > _LARGEST_TEXT:
        reason = done.stderr.decode("utf-8", errors="replace").strip()[-200:] or "it holds too much text"
        raise InputFileError(f"{path}: it cannot be read as a PDF ({reason}). The file was not loaded.")
    text = done.stdout.decode("utf-8", errors="replace").replace("\r\n", "\n").replace("\0", "")
    if not text.strip():
        raise InputFileError(f"{path}: the PDF holds no text, only pictures. The file was not loaded.")
    return text
