"""Money that was typed on a page of the desk, read by the same rule as the price of a job's part."""

from __future__ import annotations

from pipelines.errors import BatchError, UnansweredError
from pipelines.settings import Settings


def typed_money(text: str, settings: Settings, no_money: str, unsure: str = "") -> float | None:
    """Read an amount in the dealer's own spelling.

    Args:
        text: What was typed.
        settings: For the currency and how decimals are written.
        no_money: What is said where it is no amount.
        unsure: What is added where it can be meant in two ways.

    Returns:
        The amount; None where nothing was typed.

    Raises:
        BatchError: It is no amount, or can be meant in two ways.
    """
    from pipelines.report.job_entry import spelled

    try:
        told = spelled("part_cost", text, settings)
    except BatchError as error:
        two_ways = isinstance(error.__cause__, UnansweredError)
        raise BatchError(f"{error} {unsure}".strip() if two_ways else no_money) from error
    return float(told) if told else None
