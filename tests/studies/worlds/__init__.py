"""Dealers drawn by a process, to judge lists by: cars wear and are driven, modules notice, people decide.

``draw_dealer`` draws one, ``write_inbox`` writes its files, ``Dealer.truth`` is what its cars truly have, ``play``
follows lists on them and ``policies`` makes the plain lists to compare with.  Nothing here uses the diagnosis.
"""

from tests.studies.worlds.drawing import Dealer, draw_dealer
from tests.studies.worlds.files import Inbox, inbox_of, write_inbox
from tests.studies.worlds.play import Forecast, Played, Step, knowing, knowing_cost, play, play_car
from tests.studies.worlds.policies import POLICIES, facts_of, lists_of
from tests.studies.worlds.settings import KINDS, WorldSettings
from tests.studies.worlds.truth import CarTruth, FaultTruth, PriceBook, price_book

__all__ = [
    "KINDS",
    "POLICIES",
    "CarTruth",
    "Dealer",
    "FaultTruth",
    "Forecast",
    "Inbox",
    "Played",
    "PriceBook",
    "Step",
    "WorldSettings",
    "draw_dealer",
    "facts_of",
    "inbox_of",
    "knowing",
    "knowing_cost",
    "lists_of",
    "play",
    "play_car",
    "price_book",
    "write_inbox",
]  # fmt: skip
