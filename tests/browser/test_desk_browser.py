"""The desk in a real browser: from an empty folder to the first report, by keyboard, at any width, accessible."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from pipelines.desk.keys import Keys
from tests.support.desk_process import Started, started
from tests.support.desk_visitor import tree

pytestmark = pytest.mark.slow
EXPORTS = Path(__file__).parents[2] / "fixtures" / "exports"
PATIENCE = 60_000  # milliseconds, for a busy machine
CARS = "Stock no.;Manufacturer;Model line;Ticket\nS-104;Corvane;Alder;7.900,00\nS-117;Tesmar;Heron;5.400,00\n"
BOOK = (
    "Car;Order no.;Date;Work;Part;Minutes\nS-104;J-1;18.11.2026;replaced;ignition coil;25\n"
    "S-104;J-1;18.11.2026;codes erased;;5\nS-117;J-2;03.11.2026;codes erased;;5\n"
)
NASTY = "<img src=x onerror=window.pwned=1>"
PAGES = ("/", "/jobs", "/jobs?vehicle=V0246", "/standing", "/buying", "/week", "/explore", "/week?week=nothing")


class Seat:
    """Somebody before the browser, at one desk."""

    def __init__(self, browser: Any, desk: Started) -> None:
        self.trouble: list[str] = []
        self.asked: set[str] = set()
        self.home = f"http://127.0.0.1:{desk.port}"
        self.context = browser.new_context(viewport={"width": 1400, "height": 900}, reduced_motion="reduce")
        self.context.set_default_timeout(PATIENCE)
        self.tab = self.context.new_page()
        self.tab.on("console", lambda message: self.trouble.append(f"{message.type}: {message.text}"))
        self.tab.on("pageerror", lambda error: self.trouble.append(str(error)))
        self.tab.on("request", lambda request: self.asked.add("/".join(request.url.split("/")[:3])))
        self.tab.goto(self.home + desk.entry)

    def go(self, path: str, width: int = 1400, scheme: str = "light") -> Any:
        self.tab.set_viewport_size({"width": width, "height": 900})
        self.tab.emulate_media(color_scheme=scheme)
        self.tab.goto(self.home + path)
        self.tab.wait_for_load_state("networkidle")
        return self.tab

    def leave(self) -> None:
        self.context.close()
        assert self.asked <= {self.home, "data:,"}, "nothing is fetched from anywhere else"
        # What the desk refuses, the browser notes; nothing else may be said.
        assert [line for line in self.trouble if "status of 400" not in line] == []


@pytest.fixture
def sit(browser: Any) -> Iterator[Callable[[Started], Seat]]:
    """Sit down at a desk; at the end nothing may have been said on the console, nor fetched from elsewhere."""
    seats: list[Seat] = []

    def seated(desk: Started) -> Seat:
        seats.append(Seat(browser, desk))
        return seats[-1]

    yield seated
    for seat in seats:
        seat.leave()


@pytest.fixture(scope="module")
def desk(demo_week: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Started]:
    """The invented dealer's desk after its week."""
    folder = tmp_path_factory.mktemp("desk") / "dealer"
    shutil.copytree(demo_week, folder)
    with started(folder) as opened:
        yield opened


@pytest.fixture
def exports(tmp_path: Path) -> list[Path]:
    """Three odd exports, a stock list and a repair list, as other programs write them."""
    made = [tmp_path / name for name in ("semicolons.csv", "workbook.xlsx", "nested.json")]
    for path in made:
        shutil.copyfile(EXPORTS / path.name, path)
    (tmp_path / "cars.csv").write_text(CARS, encoding="utf-8")
    (tmp_path / "workshop-book.csv").write_text(BOOK, encoding="utf-8")
    return [*made, tmp_path / "cars.csv", tmp_path / "workshop-book.csv"]


def test_from_an_empty_folder_to_the_first_report_without_a_command(
    sit: Callable[[Started], Seat], tmp_path: Path, exports: list[Path]
):
    folder = tmp_path / "my-dealer"
    with started(folder) as opened:
        seat = sit(opened)
        tab = seat.tab
        assert tab.url == seat.home + "/", "the key is gone from the address"
        assert not folder.exists()
        tab.get_by_role("button", name="Make the folder ready").click()
        tab.get_by_label("Drop files here").set_input_files(exports)
        tab.locator("article.card").nth(4).wait_for()
        taken = tab.locator("article.card h3 span").all_inner_texts()
        scans = ["Taken for scans of cars"] * 3
        assert taken == ["Taken for your stock list", *scans, "Taken for repairs done"]
        assert not (folder / "knockon.duckdb").exists(), "nothing is loaded before it is said"
        card = tab.locator("article.card").first
        card.get_by_label("Ticket: what it holds").select_option("asking_price")
        card.locator("td", has_text="7900").wait_for()
        tab.get_by_role("button", name="Take in 5 files", exact=True).click()
        tab.get_by_text("stock/cars.csv is taken in: 2 rows.").wait_for()
        tab.get_by_role("button", name="Run the week now").click()
        tab.get_by_role("progressbar").wait_for()
        tab.locator("iframe.report").wait_for()
        report = tab.frame_locator("iframe.report")
        report.locator("tr.car").first.wait_for()
        assert sorted(report.locator("tr.car th").all_inner_texts()) == ["S-104 Corvane Alder", "S-117 Tesmar Heron"]
        assert "7,900" in report.locator("tr.car").first.inner_text() + report.locator("tr.car").nth(1).inner_text()
        seat.go("/jobs?vehicle=S-104")
        tab.get_by_label("Codes erased").check()
        tab.get_by_label("Road test driven").check()
        tab.get_by_label("Scanned afterwards").check()
        tab.get_by_role("button", name="Log the job").click()
        tab.get_by_text("The job on S-104 is written down").wait_for()
        assert [path.name for path in (folder / "inbox" / "repairs").iterdir()]


def test_an_answer_is_seen_in_the_rows_without_the_page_being_left(
    sit: Callable[[Started], Seat], tmp_path: Path, exports: list[Path]
):
    with started(tmp_path / "my-dealer") as opened:
        tab = sit(opened).tab
        tab.get_by_role("button", name="Make the folder ready").click()
        tab.get_by_label("Drop files here").set_input_files(exports[3])
        tab.locator("article.card").wait_for()
        tab.evaluate("window.stayed = true")
        tab.get_by_text("How it is read, and why").click()
        tab.get_by_label("Which column is make").select_option("Model line")
        tab.locator("td", has_text="Corvane").wait_for(state="detached")
        assert tab.evaluate("window.stayed"), "the page was not loaded again"
        assert tab.locator("table.rows tbody tr").first.locator("td").nth(2).inner_text() == "Alder"


def test_an_answer_is_seen_on_all_files_of_its_form_at_once(sit: Callable[[Started], Seat], tmp_path: Path):
    head = "Wagon;Seen;Unit;Fault\n"
    for name, car in (("a.csv", 1), ("b.csv", 2), ("c.csv", 3)):
        rows = f"K-{car};03/04/2026 09:00;ABS;C0031\nK-{car};05/06/2026 10:00;ABS;C0035\n"
        (tmp_path / name).write_text(head + rows, encoding="utf-8")
    with started(tmp_path / "dealer") as opened:
        tab = sit(opened).tab
        tab.get_by_role("button", name="Make the folder ready").click()
        tab.get_by_label("Drop files here").set_input_files([tmp_path / name for name in ("a.csv", "b.csv", "c.csv")])
        tab.get_by_text("3 files need an answer first.").wait_for()
        assert tab.locator("article.card:visible").count() == 1, "the others lie folded behind the first"
        tab.get_by_text("2 more files of the same form, answered along with the one above").click()
        first, second, third = (tab.locator("article.card").nth(place) for place in range(3))
        first.get_by_label("Which column is car").select_option("Wagon")
        third.get_by_text("Of the same form as a.csv, so it is read alike.").wait_for()
        second.get_by_label("Are dates like").select_option("%m/%d/%Y %H:%M")
        third.locator("td", has_text="2026-03-04").first.wait_for()
        assert tab.locator("#take-all").inner_text().startswith("3 files are ready")
        third.get_by_label("Are dates like").select_option("%d/%m/%Y %H:%M")
        third.locator("td", has_text="2026-04-03").first.wait_for()
        assert first.locator("td", has_text="2026-03-04").count() == 1


@pytest.mark.parametrize("width", [1400, 390])
def test_the_report_stands_on_the_desks_page_whole(sit: Callable[[Started], Seat], desk: Started, width: int):
    seat = sit(desk_entry(desk))
    tab = seat.go("/week", width)
    frame = tab.locator("iframe.report")
    inside = tab.frame_locator("iframe.report")
    inside.locator("html[data-listed]").wait_for(state="attached")
    heights = "one => [one.clientHeight, one.contentDocument.documentElement.scrollHeight]"

    def whole() -> bool:
        tab.wait_for_timeout(300)
        outer, inner = frame.evaluate(heights)
        return bool(inner <= outer < inner + 60)

    assert whole()
    short = frame.evaluate(heights)[0]
    inside.locator("tr.car .open").first.click()
    assert whole(), "it grows with an open ticket"
    assert frame.evaluate(heights)[0] > short
    inside.locator("tr.car .open").first.click()
    assert whole(), "and shrinks again"


def test_an_answer_that_makes_a_file_ready_leaves_page_and_place(sit: Callable[[Started], Seat], tmp_path: Path):
    printed = tmp_path / "printed.txt"
    printed.write_text("Stock no.: S-104\nTested: 20.11.2026\nP0301   misfire   stored\n", encoding="utf-8")
    with started(tmp_path / "my-dealer") as opened:
        tab = sit(opened).tab
        tab.get_by_role("button", name="Make the folder ready").click()
        tab.get_by_label("Drop files here").set_input_files(printed)
        tab.get_by_text("1 file needs an answer first.").wait_for()
        assert tab.get_by_role("button", name="Take in").count() == 0
        tab.evaluate("window.stayed = true")
        tab.get_by_label("Which lines name the control unit").focus()
        tab.keyboard.press("m")
        tab.get_by_role("button", name="Take in 1 file", exact=True).wait_for()
        assert tab.evaluate("window.stayed")
        assert tab.evaluate("document.activeElement.name") == "answer:text.module"
        tab.get_by_role("link", name="The week").click()
        tab.get_by_text("1 file is still on the tray").wait_for()
        tab.get_by_role("button", name="Take in 1 file and run the week").wait_for()


class Hand:
    """Does what somebody does with a mouse, and counts: a list is opened and chosen from, which are two clicks."""

    def __init__(self) -> None:
        self.clicks = 0

    def click(self, what: Any) -> None:
        self.clicks += 1
        what.click()

    def choose(self, where: Any, what: str) -> None:
        self.clicks += 2
        where.select_option(what)

    def drop(self, where: Any, files: list[Path]) -> None:
        self.clicks += 1
        where.set_input_files(files)


YARD = (
    "Yard list;;;;\n;;Vehicle;;Money\nStock no.;Key tag;Make;Model;Asking\nA-1041;K 44 R;Corvane;Alder;7.900,00\n"
    "A-1042;Q-77;Tesmar;Heron;5.400,00\n"
)
WORK = (
    "Car;Order no.;Date;Work;Part;Minutes\nA-1041;J-1;18.11.2026;replaced;ignition coil;25\n"
    "A-1042;J-2;03.11.2026;codes erased;;5\n"
)
TESTED = "Stock no.: K44R\nTested: 20.11.2026\nP0301   misfire   stored\nC0031   wheel speed   stored\n"
TWO_ROWS = "Car;;Fault;;\nNo.;Read on;Unit;Number;State\nQ77;19.11.2026 09:10;Engine;P0420;stored\n"


def test_odd_files_become_a_report_in_a_dozen_clicks(
    sit: Callable[[Started], Seat], tmp_path: Path, exports: list[Path]
):
    told = {"yard.csv": YARD, "work.csv": WORK, "tester.txt": TESTED, "two-rows.csv": TWO_ROWS}
    for name, text in told.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    files = [*(tmp_path / name for name in told), exports[1]]
    with started(tmp_path / "my-dealer") as opened:
        tab, hand = sit(opened).tab, Hand()
        hand.click(tab.get_by_role("button", name="Make the folder ready"))
        hand.drop(tab.get_by_label("Drop files here"), files)
        tab.locator("article.card").nth(4).wait_for()
        tab.get_by_text("3 files are ready, and read as shown below; 2 files need an answer first.").wait_for()
        hand.choose(tab.get_by_label("Were the codes erased after each of the repairs too?"), "no, or I do not know")
        hand.choose(tab.get_by_label("Which lines name the control unit"), "my file does not say")
        hand.click(tab.get_by_role("button", name="Yes, all of them are"))
        tab.get_by_text("K44R is read as A-1041.").wait_for()
        hand.click(tab.get_by_role("button", name="Take in 5 files and run the week"))
        report = tab.frame_locator("iframe.report")
        report.locator("tr.car").first.wait_for()
        cars = report.locator("tr.car th").all_inner_texts()
        assert {"A-1041 Corvane Alder", "A-1042 Tesmar Heron"} <= {*cars}
        assert hand.clicks <= 12


def with_cars_on_the_tray(seat: Seat, folder: Path) -> Any:
    """Make the dealer's folder ready and drop the stock list; return the tab once its card is there."""
    (folder / "cars.csv").write_text(CARS, encoding="utf-8")
    seat.tab.get_by_role("button", name="Make the folder ready").click()
    seat.tab.get_by_label("Drop files here").set_input_files(folder / "cars.csv")
    seat.tab.locator("article.card").wait_for()
    return seat.tab


def test_whoever_goes_back_finds_the_keyboard_where_it_was(sit: Callable[[Started], Seat], tmp_path: Path):
    with started(tmp_path / "my-dealer") as opened:
        tab = with_cars_on_the_tray(sit(opened), tmp_path)
        tab.get_by_label("Ticket: what it holds").select_option("asking_price")
        tab.locator("td", has_text="7900").wait_for()
        for used in (tab.get_by_label("Leave it out: cars.csv"), tab.locator("select[name=table]")):
            used.focus()
            before = tab.evaluate("document.activeElement.outerHTML")
            tab.evaluate("location.assign('/week')")
            tab.wait_for_url("**/week")
            tab.go_back()
            tab.locator("article.card").wait_for()
            tab.wait_for_function("document.activeElement !== document.body")
            assert tab.evaluate("document.activeElement.outerHTML") == before
        tab.locator("td", has_text="7900").wait_for()
        tab.get_by_text("How it is read, and why").click()
        tab.get_by_label("Which column is make").select_option("Model line")
        tab.locator("td", has_text="Corvane").wait_for(state="detached")
        assert tab.locator("td", has_text="7900").count() == 1, "the answer of before is still there"


def test_an_answer_given_before_the_script_is_there_counts(sit: Callable[[Started], Seat], tmp_path: Path):
    with started(tmp_path / "my-dealer") as opened:
        tab = with_cars_on_the_tray(sit(opened), tmp_path)
        held: list[Any] = []

        def hold(script: Any) -> None:
            held.append(script)

        tab.route("**/own/desk.js", hold)
        tab.reload(wait_until="commit")
        tab.get_by_label("Ticket: what it holds").select_option("asking_price")
        held[0].continue_()
        tab.locator("td", has_text="7900").wait_for()


def test_foreign_text_runs_nowhere(sit: Callable[[Started], Seat], tmp_path: Path):
    name = tmp_path / "nasty.csv"
    name.write_text(
        f"vehicle,scanned_at,module,code,text\n{NASTY},2026-11-20T09:00,{NASTY},C0031,{NASTY}\n", encoding="utf-8"
    )
    with started(tmp_path / "my-dealer") as opened:
        seat = sit(opened)
        tab = seat.tab
        tab.get_by_role("button", name="Make the folder ready").click()
        tab.get_by_label("Drop files here").set_input_files(name)
        tab.locator("article.card").wait_for()
        tab.locator("article.card details").first.evaluate("one => { one.open = true; }")
        assert NASTY in tab.locator("article.card").inner_text()
        tab.get_by_role("button", name="Take in 1 file", exact=True).click()
        tab.get_by_text("is taken in: 1 row.").wait_for()
        for path in ("/jobs", "/week", "/explore"):
            seat.go(path)
            assert tab.evaluate("window.pwned") is None
            assert tab.locator("img[src=x]").count() == 0


SIDEWAYS = """() => [...document.querySelectorAll('main *')]
    .filter(one => ['auto', 'scroll'].includes(getComputedStyle(one).overflowX) && one.checkVisibility())
    .filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.outerHTML.slice(0, 200))"""
"""What has to be moved sideways to be read."""


@pytest.mark.parametrize("width", [390, 1400])
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PAGES)
def test_the_accessibility_checker_finds_nothing_and_nothing_sticks_out(
    desk: Started, sit: Callable[[Started], Seat], path: str, width: int, scheme: str
):
    axe = pytest.importorskip("axe_playwright_python", reason="axe-playwright-python brings the accessibility checker")
    seat = sit(desk_entry(desk))
    tab = seat.go(path, width, scheme)
    tab.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert tab.evaluate("document.documentElement.scrollWidth") == width
    assert tab.evaluate(SIDEWAYS) == [] or width > 390
    tab.evaluate((Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8"))
    # The report in its frame has checks of its own.
    found = tab.evaluate("axe.run(document, { resultTypes: ['violations'], iframes: false })")
    assert len(found["passes"]) > 10
    told = [(one["id"], one["impact"], one["nodes"][0]["html"][:200]) for one in found["violations"]]
    assert not told


def desk_entry(desk: Started) -> Started:
    """Have the desk print a fresh address, as a second start does; the first one was good once."""
    record = json.loads((desk.folder / ".knockon" / "desk" / "open.json").read_text(encoding="utf-8"))
    desk.entry = f"/?key={Keys(record['secret']).entry()}"
    return desk


@pytest.mark.parametrize("width", [390, 1400])
def test_cards_with_questions_are_accessible_too(
    browser: Any, sit: Callable[[Started], Seat], tmp_path: Path, exports: list[Path], width: int
):
    axe = pytest.importorskip("axe_playwright_python", reason="axe-playwright-python brings the accessibility checker")
    shutil.copyfile(EXPORTS / "ledger.prn", tmp_path / "ledger.prn")
    (tmp_path / "undecided.csv").write_text("Part;Day\ncoil;12.11.2026\nsensor;13.11.2026\n", encoding="utf-8")
    (tmp_path / "printed.txt").write_text("Printed 20.11.2026\nP0301   misfire   stored\n", encoding="utf-8")
    odd = [tmp_path / name for name in ("ledger.prn", "undecided.csv", "printed.txt")]
    with started(tmp_path / "my-dealer") as opened:
        seat = sit(opened)
        for scheme in ("light", "dark"):
            tab = seat.go("/", width, scheme)
            checked(tab, axe)
            if scheme == "light":
                tab.get_by_role("button", name="Make the folder ready").click()
                tab.get_by_label("Drop files here").set_input_files([*exports, *odd])
                tab.locator("article.card").nth(7).wait_for()
                tab.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
                checked(tab, axe)
                seat.go("/week", width)
                checked(tab, axe)
                seat.go("/buying", width)
                tab.get_by_label("Drop the scan here").set_input_files(odd[-1])
                tab.locator("article.card").wait_for()
                checked(tab, axe)


def checked(tab: Any, axe: Any) -> None:
    tab.evaluate((Path(axe.__file__).parent / "axe.min.js").read_text(encoding="utf-8"))
    found = tab.evaluate("axe.run(document, { resultTypes: ['violations'], iframes: false })")
    assert [(one["id"], one["nodes"][0]["html"][:200]) for one in found["violations"]] == []
    assert tab.evaluate("document.documentElement.scrollWidth === innerWidth")
    assert tab.evaluate("innerWidth") > 390 or tab.evaluate(SIDEWAYS) == []


REACHABLE = """() => [...document.querySelectorAll('a[href], button, input, select, summary, iframe, [tabindex="0"]')]
    .filter(one => one.type !== 'hidden' && !one.disabled && one.checkVisibility() && one.tagName !== 'IFRAME')
    .map((one, at) => { one.dataset.at = at; return at; })"""


@pytest.mark.parametrize("path", ["/", "/jobs", "/jobs?vehicle=V0246", "/standing", "/buying", "/explore"])
def test_everything_is_reached_by_keyboard_and_is_seen_to_be(desk: Started, sit: Callable[[Started], Seat], path: str):
    seat = sit(desk_entry(desk))
    tab = seat.go(path, 390)
    wanted = set(tab.evaluate(REACHABLE))
    reached = set()
    for _ in range(3 * len(wanted) + 30):
        tab.keyboard.press("Tab")
        at = tab.evaluate("document.activeElement.dataset.at")
        if at is not None:
            reached.add(int(at))
            outline = "getComputedStyle(document.activeElement).outlineStyle"
            assert tab.evaluate(outline) != "none", tab.evaluate("document.activeElement.outerHTML")
        if reached == wanted:
            break
    assert reached == wanted


def test_a_job_is_logged_by_keyboard_alone(desk: Started, sit: Callable[[Started], Seat]):
    seat = sit(desk_entry(desk))
    tab = seat.go("/jobs?vehicle=V0246", 390)
    before = tree(desk.folder)
    for label in ("Codes erased", "Scanned afterwards"):
        tab.get_by_label(label).focus()
        tab.keyboard.press("Space")
    tab.get_by_label("Note").focus()
    tab.keyboard.type("by keyboard")
    tab.keyboard.press("Enter")
    tab.get_by_text("The job on V0246 is written down").wait_for()
    added = set(tree(desk.folder)) - set(before)
    assert len(added) == 1
    assert next(iter(added)).startswith("inbox/repairs/job-V0246-")


def test_a_number_that_stands_there_is_typed_over(desk: Started, sit: Callable[[Started], Seat]):
    seat = sit(desk_entry(desk))
    seat.go("/jobs?vehicle=Z-99")
    field = seat.tab.locator("fieldset input.short").first
    field.fill("22")
    seat.tab.get_by_label("Odometer").click()
    field.click()
    seat.tab.keyboard.type("90")
    assert field.input_value() == "90"


def test_another_page_cannot_show_the_desk_in_a_frame(desk: Started, browser: Any, tmp_path: Path):
    page = tmp_path / "evil.html"
    page.write_text(f'<iframe src="http://127.0.0.1:{desk.port}/week"></iframe>', encoding="utf-8")
    context = browser.new_context()
    tab = context.new_page()
    answers: list[int] = []
    tab.on("response", lambda answer: answers.append(answer.status) if "127.0.0.1" in answer.url else None)
    tab.goto(page.as_uri())
    tab.wait_for_timeout(500)
    context.close()
    assert answers == [403]
