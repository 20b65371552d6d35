"""The desk's pages of the week, of a car before it is bought, of codes to look past, and of the whole history."""

from __future__ import annotations

from analysis.texts.desk_file_text import take_all
from analysis.texts.list_text import PRINT_SHEETS
from analysis.texts.words import counted, percent

# The week
WEEK_LEAD = "Take in what is new, learn from it, and write the week's report."
RUN = "Run the week now"
RUN_WITHOUT = "Run the week without them"
SEE_TRAY = "See them on the page Files."
RUNNING = "The week is being run"
AT = "Done so far"
FAILED = "The last run left no report"
DONE = "The report is ready"
COUNTS = "What was read for this week, and what was found"
COUNT_HEADS = ("count", "what", "why")
NOTES = "Notes of the run"
REPORT = "Report"
NO_REPORT = "No report yet. Take in your files, then run the week."
WEEKS = "Week"
SHOW_WEEK = "Show it"
OWN_WINDOW = "Open the report in a window of its own"
ALL_SHEETS = PRINT_SHEETS
LOG = "The log of the last run"
NO_LOG = "No run has written a log yet."
EVERY_WEEK = "Every week by itself"
EVERY_WHY = "While this desk is open, the week is run whenever it is due; one that was missed is caught up at once."
DAY = "Day"
TIME = "Time"
PLAN = "Run it every week"
PLAN_END = "No longer"
PLANNED = "Planned: "
NOT_PLANNED = "Nothing is planned."
PLAN_ENDED = "The week is no longer run by itself."
AUTOSTART = "To have it run although the desk is closed"
AUTOSTART_WHY = "Enter these lines once, on this computer; 'knockon schedule' then waits by itself:"
SYSTEMS = {"linux": "Linux", "cron": "cron", "windows": "Windows"}
KEEPING = "Keeping it safe"
KEEPING_WHY = (
    "A backup holds all that was read. Each run makes one where something is new; copy the whole folder to another "
    "disk now and then."
)
BACKUP = "Back up now"
RESTORE = "Put it back"
SURE_RESTORE = "Yes, put it back"
RESTORE_WHY = "What is there now is kept beside it; what came in later is read again by the next run."
BACKUPS = "Backups"
NO_BACKUPS = "None yet."
NO_BACKUP = "There is no backup of that name. Nothing was changed."
REASONS = {"weekly": "of a week", "asked": "asked for"}
SPACE = "Space used"
SPACE_OF = {
    "knockon.duckdb": "what was read and learned",
    "archive": "files taken in",
    "reports": "reports",
    "backups": "backups",
    "rejected": "files refused or taken back",
    ".knockon": "logs and working files",
}
NO_DAY = "Choose a day of the week and a time like 06:00. Nothing was changed."

# Before buying
BUYING_LEAD = "Drop the scan of a car that is not yours yet: what will clearing its codes cost, and what is left open?"
DROP_SCAN = "Drop the scan here"
CHOOSE_SCAN = "or choose it"
OTHER_SCAN = "Look at another car"
SCAN = "The scan, as it was read"
WHICH_CAR = "Which car of the file"
NOT_READ_YET = "The scan is not read yet: answer what is asked of it. Nothing was worked out."
MAKE = "Make"
MODEL = "Model"
ASKING = "Asking price"
WORTH = "What it is worth without these faults"
APPRAISE = "Work it out"
SENSIBLE = "Highest sensible bid"
SPREAD = "What clearing it costs"
SPREAD_HEADS = ("of such cars", "cost at most")
WHY_WORTH = "Say what it is worth without these faults, and the highest sensible bid stands here."
UNKNOWN = "What nobody knows"
UNKNOWN_WHY = (
    "Codes that were erased before the scan, control units that it did not read, and faults that set no code are not "
    "in this."
)
UNREAD_HEADS = ("line", "what stands there", "why it was not read")
UNREAD_WHY = "no line like it is known to be a code"
UNREAD_DO = (
    "Each of these lines may be a fault of the car. Answer below what the file is asked, or mend the lines in a copy "
    "of the file and drop that. A bid stands here as soon as all of them are read."
)
AGREE = "Work it out all the same: what these lines say is then not known and not in the sum"
LOST_TITLE = "Not read"
LOST = "Not known: these lines of the scan were not read, and no fault that they tell of is in the sum"
NOT_WORKED_OUT = "Nothing was worked out."
NO_MONEY = f"Give money as a number like 2500. {NOT_WORKED_OUT}"

# Leave these alone?
STANDING_WHY = (
    "Codes that came back through every erase and repair, or that an erase alone ends: nothing to fit explains them. "
    "You decide whether they are left alone; they stay on the sheet, and you can take it back at any time."
)
NONE_PROPOSED = "No group of codes is proposed. The week looks anew each time it is run."
YES = "Yes, leave them alone"
NO = "No, they count"
LATER = "Later"
BACK = "Take it back"
STATES = {
    "proposed": "to decide",
    "accepted": "left alone",
    "declared": "in your background file",
    "refused": "they count, as you said",
}
WAITING = "The next week goes by this."
NO_GROUP = "That group is not proposed any more. Nothing was changed."
DECIDED = "Noted; the next week goes by it."
PUT_OFF = "It stays here until you decide."

# Exploring
EXPLORE_LEAD = (
    "The groups of codes of the last week, and what each part cleared, over your whole history or a piece of it."
)
ALL = "all"
LINE = "Make and model"
SUPPLIER = "Supplier"
FROM = "Jobs from"
TO = "to"
FILTER = "Show"
NO_HISTORY = "Nothing to explore yet: run the week first."
FAMILIES = "Groups of codes"
PARTS = "What each part cleared"
NO_PARTS = "No job with a known outcome fits this choice."
SAVE_TABLE = "Save as a table"
SAVE_PICTURE = "Save as a picture"
PICTURE = "Groups of codes, the parts fitted on them, and the share that each part cleared against erasing alone"
FAMILY_HEADS = ("group", "codes", "cars", "best part", "cleared", "erasing alone")
PART_HEADS = ("part", "group", "cleared", "share", "between", "erasing alone", "suppliers")
NO_CHOICE = "That is none of the choices. Nothing was shown."


def cleared(part: str, jobs: int) -> str:
    """Say how many of how many jobs cleared."""
    return f"{part} of {jobs}"


def chosen_jobs(jobs: int) -> str:
    """Say how many jobs the choice holds."""
    return f"{counted(jobs, 'job', 'jobs')} in this choice."


def share(done: int, step: int, steps: int) -> str:
    """Say how far a run is."""
    if not steps:
        return "starting"
    return f"step {min(step + 1, steps)} of {steps}, {done}%"


def not_whole(read: int, codes: int) -> str:
    """Say how much of a scan was read, and that there is no bid on it."""
    return (
        f"{read:,} of {codes:,} texts that look like a code were read, so no bid is worked out yet: the lines that "
        "were not read stand below."
    )


def why_bid(cost: str, share: float) -> str:
    """Say what the bid is reckoned from."""
    return (
        f"What it is worth less {cost}: clearing it costs no more than that in {percent(share)} of such cases. Your "
        "own margin comes off that."
    )


def at_most_asked(asked: str) -> str:
    """Say that nobody bids more than is asked, and what the car would bear."""
    return f"At most what is asked: the car would bear {asked}, and nobody pays more than the asking price."


def without_labour(told: str) -> str:
    """Say beside a bid that it leaves out labour: ``told`` names the parts whose labour time is not known."""
    return f"Labour is not in this: {told}"


def left_in(share: float) -> str:
    """Say what is left at the asking price, and how often."""
    return f"Left at the asking price, in {percent(share)} of such cases at least"


def no_scan(holds: str) -> str:
    """Say that a file that is to be a scan was taken for something else."""
    return f"This was taken for {holds}, and a scan is wanted. Say that it holds scans, or look at another car."


def on_tray(names: list[str], ready: int) -> str:
    """Say that files were dropped and not taken in, and how many of them can be."""
    many = len(names)
    shown = ", ".join(names[:4]) + (f" and {many - 4:,} more" if many > 4 else "")
    still = f"{ready:,} of {many:,} can be taken in as they are" if ready else "answers are wanted first"
    return f"{counted(many, 'file is', 'files are')} still on the tray, and a run reads none of it: {shown}; {still}."


def take_and_run(ready: int, waiting: int = 0) -> str:
    """Say what the button does, and that it leaves files behind that wait for an answer."""
    return f"{take_all(ready, waiting)} and run the week"


def backed_up(name: str) -> str:
    """Say that a backup was made."""
    return f"The backup {name} is made."


def restored(name: str, rows: int, again: int) -> str:
    """Say what was put back."""
    more = f"; {counted(again, 'file is', 'files are')} read again by the next run" if again else ""
    return f"The backup {name} is back in its place, {counted(rows, 'row', 'rows')}{more}. Run the week now."


def size(number: float) -> str:
    """Return a number of bytes in words."""
    for unit in ("bytes", "kB", "MB"):
        if number < 1000:
            return f"{number:.0f} {unit}"
        number /= 1000
    return f"{number:.1f} GB"
