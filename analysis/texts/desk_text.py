"""The desk's frame: its pages' names, what it says to strangers, and the first visit."""

from __future__ import annotations

from analysis.texts import names

NAME = "knockon"
SKIP = "Go to the page"
NAV = "Pages"
FILES = "Files"
JOBS = "Jobs"
STANDING = names.LEAVE_ALONE
BUYING = "Before buying"
WEEK = "The week"
EXPLORE = "Exploring"
SAID = "What was done"
TROUBLE = "That did not work"
TROUBLE_NEXT = "Nothing was changed by this. Go back, or choose a page above."

NO_KEY = (
    "This desk opens only for whoever started it. Use the address that 'knockon desk' opened or printed; each address "
    "is good once. Where it was used already, run 'knockon desk' again."
)
FOREIGN = "This request comes from another page than the desk's own. It was refused, and nothing was changed."
WRONG_HOST = "This is not the desk's own address. Nothing was shown or changed."
NO_SUCH_METHOD = "The desk knows no such request. Nothing was changed."
OLD_PAGE = "This page is from an earlier start of the desk. Load it again. Nothing was changed."
NO_FORM = "This is not what the desk's own page sends. Nothing was changed."
FORM_TOO_LARGE = "That is more text than a form of the desk holds. Nothing was changed."
MARKUP = "An answer is too long, or holds marks like <b> or control characters; write it without. Nothing was changed."
NOT_THERE = "There is nothing at this address."

BEGIN = "Begin here"
BEGIN_WHAT = (
    "knockon keeps everything in one folder on this computer: the files you give it, what it learned from them, and a "
    "report each week. Nothing is sent anywhere."
)
BEGIN_WHERE = "The folder is:"
BEGIN_USED = "It holds other files already. They stay as they are; knockon's own folders are made beside them."
BEGIN_DO = "Make the folder ready"
BEGIN_FIGURES = "A few figures of yours"
BEGIN_FIGURES_WHY = "Every sum of the report hangs on them. They can be changed at any time on the week's page."
FIGURES_TITLE = "Your figures"
FIGURES_DO = "Keep these figures"
FIGURES_KEPT = "Your figures are kept; the next report uses them."
FIGURES = {
    "currency": "Money, in three letters (EUR, GBP, USD)",
    "odometer_unit": "Distances, where a file does not say",
    "labour_rate": "Your own labour, per hour",
    "specialist_cost": "What handing a car to a specialist costs, about",
}
FIGURE_CHOICES = {"odometer_unit": {"km": "kilometres", "mi": "miles"}}
CURRENCY_SIGNS = {"€": "EUR", "£": "GBP", "$": "USD"}


def no_figure(label: str, told: str) -> str:
    """Say that an answer is no number."""
    return f"{label}: found {told!r}, wanted a number like 45 or 45.50. Nothing was changed."
