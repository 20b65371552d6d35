"""Print the text of the PDF on standard input, page by page.  Run as a script of its own by ``pdf_text``.

A process of its own, because a damaged PDF can keep its reader busy for ever or
fill the memory; this one can be stopped.
"""

from __future__ import annotations

import io
import logging
import sys

import pypdf

MOST_PAGES = 2_000


def main() -> int:
    """Read standard input, write UTF-8 to standard output; 1 with the reason on the error stream."""
    logging.disable()
    try:
        pages = pypdf.PdfReader(io.BytesIO(sys.stdin.buffer.read())).pages
        if len(pages) > MOST_PAGES:
            raise ValueError(f"{len(pages)} pages; expected at most {MOST_PAGES}")
        for page in pages:
            text = page.extract_text(extraction_mode="layout")
            sys.stdout.buffer.write(text.encode("utf-8", errors="replace") + b"\n")
    except Exception as error:  # a damaged file ends in almost any error of the library
        print(" ".join(str(error).split())[:200] or type(error).__name__, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
