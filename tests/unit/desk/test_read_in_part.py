"""A file whose codes were not all read is not green on the tray."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.desk_visitor import Visitor

WHOLE = "vehicle,scanned_at,module,code\nK-1,2026-11-20T09:00,ABS,C0031\nK-1,2026-11-20T09:00,ECM,\n"
BESIDE = "vehicle,scanned_at,module,code,third\nK-1,2026-11-20T09:00,ABS,C0031,U0100\nK-1,2026-11-20T09:00,ECM,,\n"
REFUSED = WHOLE + "K-2,soon,ABS,C0035\n"


@pytest.mark.parametrize(("text", "green"), [(WHOLE, True), (BESIDE, False), (REFUSED, False)])
def test_a_card_is_green_where_every_code_was_read(tmp_path: Path, text: str, green: bool):
    visitor = Visitor(tmp_path / "dealer")
    visitor.post("/begin")
    visitor.drop("scans.csv", text.encode())
    page = visitor.get("/").text
    assert "Take in" in page  # it can be taken in all the same
    assert ('class="card ready"' in page) == green
