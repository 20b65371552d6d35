"""Words of a column that says of each module whether it answered, in a few languages; common practice, no source."""

from __future__ import annotations

import re

from pipelines.reading.drafting.more_languages import ANSWERED_TOO
from pipelines.reading.drafting.words import NO, NOT_READ, SILENT, YES, folded


def says_silent(word: str) -> bool:
    """Say whether a word of such a column says that the module did not answer."""
    bare = word.strip(" .!").lower()
    spelled_out = SILENT.search(word) is not None or NOT_READ.search(word) is not None
    return spelled_out or bare in NO or folded(bare) in NO or _NO_ANSWER.fullmatch(bare) is not None


def says_answered(word: str) -> bool:
    """Say whether a word of such a column says that the module answered, or that it holds faults."""
    bare = word.strip(" .!").lower()
    return (
        bare in YES
        or _FAULTS.fullmatch(folded(word)) is not None
        or folded(bare) in YES
        or any(re.fullmatch(words, one) for words in (_ANSWERED, ANSWERED_TOO) for one in (bare, folded(word)))
    )


_NO_ANSWER = re.compile(
    "^(?:none|nothing|brak|geen|nessun[oa]|aucune?|keine?|ningun[oa]|nenhum[ao]|ingen|inget|error|failed)$"
)
_FAULTS = re.compile(
    r"(?:\d+ )?(?:faults?|codes?|dtcs?|errors? found|fault codes?|fehler|fehlercodes?|storung(?:en)?|defauts?|fallos?"
    r"|averias?|fout(?:en)?|foutcodes?|storing(?:en)?|guast[oi]|error[ei] presenti|blad|bledy|usterk[ai]|fel|fejl|feil)"
    r"(?: (?:found|present|stored|gefunden|vorhanden|presents?|encontrad[oa]s?|gevonden|presenti))?"
)
_ANSWERED = re.compile(
    r"(?:answer|respon|repl|reach|connect|online|read|antwort|erreichbar|verbund|gelesen|repond|joint|lue?s?\b|connecte"
    r"|contest|conecta|leid|rispo|rispond|collegat|lett[oai]|raggiung|bereik|verbond|gelezen|odpowie|odpowiad|odczytan"
    r"|polaczon|svar)\w*(?: (?:ok|yes|received))?|ok(?:ay)?|pass(?:ed)?|good|fine|correct[oe]?|en ordre"
    r"|in ordnung|in orde"
)
