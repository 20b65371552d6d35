"""Your figures: the settings that every sum of the report hangs on, asked at the first visit and changed at any time.

What is written is ``knockon.toml``, as a person would write it; every other line of it stays.
"""

from __future__ import annotations

from starlette.responses import RedirectResponse, Response

from analysis.texts import desk_text as say
from pipelines.desk.desk import Desk
from pipelines.desk.forms import Form
from pipelines.desk.money import typed_money
from pipelines.desk.question import Asked
from pipelines.errors import BatchError
from pipelines.settings import Settings, changed_toml, default_toml, load_settings
from pipelines.workspace import write_private

_NUMBERS = ("labour_rate", "specialist_cost")
_WORDS = ("currency", "odometer_unit")


def shown(settings: Settings) -> dict[str, str]:
    """Return the figures of the form: name and value."""
    words = {name: str(getattr(settings, name)) for name in _WORDS}
    return words | {name: f"{getattr(settings, name):g}" for name in _NUMBERS}


def change(desk: Desk, asked: Asked) -> Response:
    """Write the figures that were given into the settings."""
    with desk.turn():
        save(desk, asked.form)
    desk.tell(say.FIGURES_KEPT)
    return RedirectResponse("/week", 303)


def save(desk: Desk, form: Form) -> None:
    """Write the figures of a form into the settings; a field that is not there, or blank, keeps what stands.

    Raises:
        SettingsError: A figure is not what it should be; nothing was written.
    """
    values: dict[str, str | float] = {name: form[name] for name in _WORDS if form[name]}
    if "currency" in values:
        values["currency"] = say.CURRENCY_SIGNS.get(form["currency"], form["currency"].upper())
    for name in _NUMBERS:
        told = typed_money(form[name], desk.settings, say.no_figure(say.FIGURES[name], form[name]))
        if told is not None:
            values[name] = told
    file = desk.workspace.settings_file
    text = changed_toml(file.read_text(encoding="utf-8-sig") if file.is_file() else default_toml(), values)
    with desk.workspace.scratch_folder() as folder:
        trial = folder / file.name
        trial.write_text(text, encoding="utf-8")
        try:
            load_settings(trial)
        except BatchError as error:
            raise BatchError(str(error).replace(str(trial), file.name)) from error
    if values:
        write_private(file, text)
