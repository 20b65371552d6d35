"""What strangers send to the desk: each of it is refused, and nothing in the folder is changed by it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from pipelines.desk import tray
from pipelines.desk.keys import Keys
from pipelines.report.new_workspace import init_workspace
from tests.support.desk_visitor import ORIGIN, PORT, Visitor, tree

SCRIPT = "<script>alert(1)</script>"
SCANS = b"vehicle,scanned_at,module,code\nK-1,2026-11-20T09:00,ABS,C0031\n"
POSTS = {
    "/begin": (),
    "/files/take": ("mark",),
    "/files/undo": ("mark",),
    "/files/cars": ("number",),
    "/files/parts": ("name", "part", "answer"),
    "/files/units": ("unit", "module", "name"),
    "/files/MARK/answer": ("table", "ask", "answer:table", "was:table", "more_column", "more_source", "file_name"),
    "/files/MARK/drop": (),
    "/jobs": (
        "vehicle",
        "done_at",
        "odometer",
        "job",
        "note",
        "parta0",
        "positiona0",
        "suppliera0",
        "part_costa0",
        "new",
    ),
    "/jobs/back": ("file",),
    "/standing": ("mark", "answer"),
    "/standing/fitted": ("vehicle", "has", "own", "code"),
    "/standing/fitted/out": ("vehicle", "has"),
    "/buying": ("mark", "car", "make", "model", "asking", "worth", "agree"),
    "/buying/MARK/answer": ("table", "ask", "answer:table", "file_name"),
    "/buying/drop": (),
    "/figures": ("currency", "odometer_unit", "labour_rate", "specialist_cost"),
    "/week/run": ("take",),
    "/week/plan": ("day", "at"),
    "/week/backup": (),
    "/week/restore": ("name",),
}
GETS = ("/", "/jobs", "/standing", "/buying", "/week", "/week/now", "/week/log", "/explore", "/own/desk.js")


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    """A folder with a small workspace, a file on its tray and a report; and all that stands in it."""
    folder = tmp_path_factory.mktemp("home")
    init_workspace(folder / "dealer")
    report = folder / "dealer" / "reports" / "2026-W47"
    report.mkdir()
    (report / "index.html").write_text("<!doctype html><title>Week</title>", encoding="utf-8")
    (report / "link.html").symlink_to(folder / "dealer" / "knockon.toml")
    (folder / "secret.html").write_text("not for the desk", encoding="utf-8")
    assert Visitor(folder / "dealer").drop("november.csv", SCANS).status_code == 200
    return folder, tree(folder)


@pytest.fixture
def visitor(home: tuple[Path, dict[str, str]]) -> Iterator[Visitor]:
    """A visitor of it, at a desk started anew; afterwards all of it has to be there, and nothing else."""
    folder, before = home
    yield Visitor(folder / "dealer")
    assert tree(folder) == before


def mark(visitor: Visitor) -> str:
    [file] = visitor.desk.tray.files()
    return file.mark


def put(visitor: Visitor, path: str) -> str:
    return path.replace("MARK", mark(visitor))


def refused(answer: Any) -> None:
    assert 400 <= answer.status_code < 500, answer.status_code
    assert "not for the desk" not in answer.text
    assert "access-control-allow-origin" not in answer.headers
    assert "'self'" in answer.headers["content-security-policy"]


HOSTS = (
    f"evil.example:{PORT}", f"localhost:{PORT}", "127.0.0.1", "127.0.0.1:8124", f"[::1]:{PORT}",
    f"127.0.0.1:{PORT}.evil.example", f"127.0.0.1:{PORT}@evil.example", f"127.0.0.2:{PORT}", f"0.0.0.0:{PORT}", "",
)  # fmt: skip


@pytest.mark.parametrize("host", HOSTS)
@pytest.mark.parametrize("path", ["/", "/week", "/report/2026-W47/index.html"])
def test_another_name_for_this_computer_gets_nothing(visitor: Visitor, host: str, path: str):
    refused(visitor.get(path, headers={"Host": host}))


ORIGINS = (
    "http://evil.example", "null", f"https://127.0.0.1:{PORT}", f"http://localhost:{PORT}", "http://127.0.0.1:8124",
    f"{ORIGIN}.evil.example", f"http://evil.example/{ORIGIN}", "file://", "",
)  # fmt: skip


@pytest.mark.parametrize("origin", ORIGINS)
@pytest.mark.parametrize("path", POSTS)
def test_a_page_of_another_origin_changes_nothing(visitor: Visitor, origin: str, path: str):
    data = {"token": visitor.desk.keys.token}
    refused(visitor.client.post(put(visitor, path), data=data, headers={"Origin": origin}))


@pytest.mark.parametrize("origin", ORIGINS)
def test_a_page_of_another_origin_sees_nothing(visitor: Visitor, origin: str):
    refused(visitor.get("/week/log", headers={"Origin": origin}))


@pytest.mark.parametrize("site", ["cross-site", "same-site", "anything", ""])
@pytest.mark.parametrize("path", GETS)
def test_a_page_of_another_site_sees_nothing(visitor: Visitor, site: str, path: str):
    refused(visitor.get(path, headers={"Sec-Fetch-Site": site}))


def cookies(visitor: Visitor) -> dict[str, str]:
    own, keys = f"knockon_desk_{PORT}", visitor.desk.keys
    return {
        "none": "",
        "wrong": f"{own}=0000",
        "blank": f"{own}=",
        "of another start": f"{own}={Keys().cookie}",
        "the form's token": f"{own}={keys.token}",
        "the secret": f"{own}={keys.secret}",
        "another port's name": f"knockon_desk_1={keys.cookie}",
        "longer": f"{own}={keys.cookie}0",
        "no letters": f"{own}=\x00\xff",
    }


@pytest.mark.parametrize("which", ["none", "wrong", "blank", "of another start", "the form's token", "the secret",
                                   "another port's name", "longer", "no letters"])  # fmt: skip
@pytest.mark.parametrize("path", ["/", "/week/log", "/report/2026-W47/index.html", "/own/desk.css"])
def test_who_has_not_the_cookie_of_this_start_sees_nothing(visitor: Visitor, which: str, path: str):
    given = cookies(visitor)[which].encode("latin-1")
    visitor.client.cookies.clear()
    refused(visitor.get(path, headers={"Cookie": given}))


def keys(visitor: Visitor) -> dict[str, str]:
    used = visitor.desk.keys.entry()
    assert visitor.desk.keys.enters(used)
    fresh = visitor.desk.keys.entry()
    return {
        "used": used,
        "of another start": Keys().entry(),
        "wrong": "0" * 97,
        "without a number": "." + fresh.partition(".")[2],
        "another number": "00" + fresh[2:],
        "the cookie": visitor.desk.keys.cookie,
        "the secret": visitor.desk.keys.secret,
        "not ascii": "é\udce9.ü",
    }


@pytest.mark.parametrize("which", ["used", "of another start", "wrong", "without a number", "another number",
                                   "the cookie", "the secret", "not ascii"])  # fmt: skip
def test_a_wrong_key_or_a_used_one_opens_nothing(visitor: Visitor, which: str):
    key = keys(visitor)[which]
    visitor.client.cookies.clear()
    answer = visitor.get("/?key=" + quote(key, errors="surrogatepass"))
    refused(answer)
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND"])
@pytest.mark.parametrize("path", ["/", "/jobs", "/files/upload"])
def test_other_methods_do_nothing(visitor: Visitor, method: str, path: str):
    refused(visitor.client.request(method, path, headers={"Origin": ORIGIN}))


@pytest.mark.parametrize("path", POSTS)
@pytest.mark.parametrize("token", [None, "", "0" * 64, "cookie"])
def test_a_form_without_its_token_changes_nothing(visitor: Visitor, path: str, token: str | None):
    data = {} if token is None else {"token": visitor.desk.keys.cookie if token == "cookie" else token}
    refused(visitor.client.post(put(visitor, path), data=data or {"x": "1"}, headers={"Origin": ORIGIN}))


@pytest.mark.parametrize("path", POSTS)
def test_a_form_that_does_not_say_where_it_comes_from_changes_nothing(visitor: Visitor, path: str):
    refused(visitor.client.post(put(visitor, path), data={"token": visitor.desk.keys.token}))


@pytest.mark.parametrize("path", ["/jobs", "/week/backup"])
@pytest.mark.parametrize(
    ("kind", "content"),
    [
        ("text/plain", b"token=TOKEN"),
        ("application/json", b'{"token": "TOKEN"}'),
        (
            "multipart/form-data; boundary=x",
            b'--x\r\nContent-Disposition: form-data; name="token"\r\n\r\nTOKEN\r\n--x--',
        ),
        ("", b"token=TOKEN"),
        ("application/x-www-form-urlencoded", b"token=TOKEN&note=" + b"a" * 300_000),
        ("application/x-www-form-urlencoded", b"token=TOKEN" + b"&a=1" * 3_000),
        ("application/x-www-form-urlencoded", b"token=TOKEN&note=%ff%fe"),
        ("application/x-www-form-urlencoded", b"token=TOKEN&note=%00"),
        ("application/x-www-form-urlencoded", b"token=TOKEN&note=" + b"a" * 5_000),
        ("application/x-www-form-urlencoded", "token=TOKEN&note=ü".encode()),
    ],
)
def test_what_is_no_form_of_the_desk_changes_nothing(visitor: Visitor, path: str, kind: str, content: bytes):
    sent = content.replace(b"TOKEN", visitor.desk.keys.token.encode())
    refused(visitor.client.post(path, content=sent, headers={"Origin": ORIGIN, "Content-Type": kind}))


FIELDS = [(path, field) for path, fields in POSTS.items() for field in fields]


@pytest.mark.parametrize(("path", "field"), FIELDS)
def test_a_script_in_any_field_is_refused(visitor: Visitor, path: str, field: str):
    answer = visitor.post(put(visitor, path), **{field: SCRIPT})
    refused(answer)
    assert SCRIPT not in answer.text


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        ("/files/take", {"mark": "../../x"}),
        ("/files/cars", {"number": "K-1"}),
        ("/files/undo", {"mark": "00000000"}),
        ("/files/undo", {"mark": ""}),
        ("/files/MARK/answer", {"table": "passwords"}),
        ("/files/MARK/answer", {"answer:serves": "*"}),
        ("/files/MARK/answer", {"more_column": "vin", "more_source": "x"}),
        ("/jobs", {"vehicle": ""}),
        ("/jobs", {"vehicle": "K-1"}),
        ("/jobs", {"vehicle": "K-1", "erased": "1", "done_at": "yesterday"}),
        ("/jobs", {"vehicle": "K-1", "erased": "1", "odometer": "-5"}),
        ("/jobs", {"vehicle": "K-1", "parta0": "hose", "actiona0": "explode"}),
        ("/jobs", {"vehicle": "K-1", "parta0": "hose", "actiona0": "replace", "part_costa0": "dear"}),
        ("/jobs/back", {"file": "../../knockon.toml"}),
        ("/standing", {"mark": "K-1||ABS:C0031", "answer": "yes"}),
        ("/buying", {"mark": "../../secret", "asking": "1"}),
        ("/buying", {"mark": "0" * 32}),
        ("/week/plan", {"day": "someday", "at": "06:00"}),
        ("/week/plan", {"day": "monday", "at": "25:00"}),
        ("/week/plan", {"day": "monday", "at": "06:00:00+02:00"}),
        ("/week/restore", {"name": "../../../etc"}),
        ("/week/restore", {"name": ""}),
    ],
)
def test_answers_that_are_none_change_nothing(visitor: Visitor, path: str, fields: dict[str, str]):
    refused(visitor.post(put(visitor, path), **fields))


PATHS = (
    "/report/2026-W47/../../knockon.toml",
    "/report/2026-W47/%2e%2e/%2e%2e/knockon.toml",
    "/report/2026-W47/..%2fsecret.html",
    "/report/2026-W47/..%5c..%5cknockon.toml",
    "/report/../reports/2026-W47/index.html",
    "/report/2026-W47/link.html",
    "/report/2026-W47//etc/passwd",
    "/report/2026-W47/%00index.html",
    "/report/2026-W47/.hidden",
    "/report/2026-W47/index.html/x",
    "/report/2026-W47/jobsheets",
    "/report/9999-W99/index.html",
    "/report/%2e%2e/index.html",
    "/report/2026-W47/a/b/c.html",
    "/own/..%2fapp.py",
    "/own/base.html.j2",
    "/own/../desk.js",
    "/files/..%2f..%2f",
    "/files/0000",
    "/knockon.toml",
    "/.knockon/desk",
    "/week?week=../../x",
    "/week?week=%3Cscript%3E",
    "/explore?since=tomorrow",
)


@pytest.mark.parametrize("path", PATHS)
def test_no_address_leads_out_of_the_reports(visitor: Visitor, path: str):
    answer = visitor.get(path)
    refused(answer)
    assert "currency" not in answer.text


@pytest.mark.parametrize("path", ["/jobs?vehicle=", "/jobs?x=", "/?said=", "/buying?make="])
def test_a_script_in_an_address_is_shown_as_text_if_at_all(visitor: Visitor, path: str):
    answer = visitor.get(path + quote(SCRIPT))
    assert answer.status_code == 200
    assert SCRIPT not in answer.text


NAMES = (
    "../../evil.csv",
    "/etc/evil.csv",
    "..\\..\\evil.csv",
    "C:\\evil.csv",
    "..",
    ".",
    ".bashrc",
    "a\x00b.csv",
    "a\nb.csv",
    "",
    "x" * 500,
    "sub/evil.csv",
    "evil.csv/",
)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("path", ["/files/upload", "/buying/upload"])
def test_a_name_that_is_a_path_is_refused(visitor: Visitor, name: str, path: str):
    refused(visitor.drop(quote(name, safe=""), SCANS, path))


def pieces(size: int) -> Iterator[bytes]:
    for _ in range(size // 65_536):
        yield b"0" * 65_536


@pytest.mark.parametrize("path", ["/files/upload", "/buying/upload"])
def test_two_gigabytes_are_refused_when_they_are_announced(visitor: Visitor, path: str):
    headers = {"Origin": ORIGIN, "X-Desk-Token": visitor.desk.keys.token, "X-File-Name": "big.csv"}
    headers |= {"Content-Type": "application/octet-stream", "Content-Length": str(2 * 2**30)}
    answer = visitor.client.post(path, content=b"0", headers=headers)
    refused(answer)
    assert answer.status_code == 413
    assert answer.json()["why"] == "A file may have at most 512 MB; split it. Nothing of it was kept."


@pytest.mark.parametrize("path", ["/files/upload", "/buying/upload"])
def test_more_than_a_file_may_have_is_refused_while_it_comes(
    visitor: Visitor, path: str, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(tray, "MOST_BYTES", 2**20)
    headers = {"Origin": ORIGIN, "X-Desk-Token": visitor.desk.keys.token, "X-File-Name": "big.csv"}
    headers |= {"Content-Type": "application/octet-stream"}
    answer = visitor.client.post(path, content=pieces(8 * 2**20), headers=headers)
    assert answer.status_code == 413


def half(visitor: Visitor) -> dict[str, str]:
    return {"Content-Length": "5000"}


UPLOADS: dict[str, Callable[[Visitor], dict[str, str]]] = {
    "without the token": lambda _: {"X-Desk-Token": ""},
    "with the cookie as token": lambda one: {"X-Desk-Token": one.desk.keys.cookie},
    "of another origin": lambda _: {"Origin": "http://evil.example"},
    "of no origin": lambda _: {"Origin": ""},
    "as a form": lambda _: {"Content-Type": "application/x-www-form-urlencoded"},
    "as multipart": lambda _: {"Content-Type": "multipart/form-data; boundary=x"},
    "of no kind": lambda _: {"Content-Type": ""},
    "of a length that is no number": lambda _: {"Content-Length": "-1"},
    "of which half came": half,
}


@pytest.mark.parametrize("which", UPLOADS)
@pytest.mark.parametrize("path", ["/files/upload", "/buying/upload"])
def test_a_file_that_the_desks_own_page_did_not_send_is_not_kept(visitor: Visitor, which: str, path: str):
    headers = {"Origin": ORIGIN, "X-Desk-Token": visitor.desk.keys.token, "X-File-Name": "new.csv"}
    headers |= {"Content-Type": "application/octet-stream"} | UPLOADS[which](visitor)
    refused(visitor.client.post(path, content=SCANS + b"\n", headers=headers))


def test_an_empty_file_is_not_kept(visitor: Visitor):
    refused(visitor.drop("empty.csv", b""))
