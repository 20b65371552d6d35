"""Words, folded, that say that the memory of faults was erased, and that nothing else was done; common practice."""

from __future__ import annotations

import re

_ERASING = (
    r"(?:erase[ds]?|cleared?|deleted?|wiped?|reset|loe?sche?n?|geloe?scht|effac\w+|borra\w+|cancell\w+|azzera\w+|wissen"
    r"|gewiste?|wis|(?:s|wy)?kasowa\w+|usuni\w+|apaga\w+|radera\w+|slett\w+|smaz\w+|vymaz\w+|torol\w+)"
)
_MEMORIES = (
    r"(?:the |all |les |la |le |los |las |el |i |gli |lo |de |het |di |de la |des |della |dei )*"
    r"(?:fault|error|trouble|fehler|defauts?|averias?|fallos?|errori|guast[io]|errores|codigos?|foutcodes?|fouten|storing\w*"
    r"|bled\w+|uster\w+|codici?|codes?|kod\w*|dtcs?|memor\w+|memoire|pamiec\w*|\w*speicher|\w*geheugen|faults|errors|fejl\w*|fel\w*|feil\w*|zavad\w*|chyb\w*|pamet\w*|hib\w*|avarias|falhas|erros"
    r"|codes de defaut)"
)
_ERASES = re.compile(rf"{_ERASING} {_MEMORIES}(?: {_MEMORIES}){{0,2}}|{_MEMORIES}(?: {_MEMORIES}){{0,2}} {_ERASING}")
"""Folded texts that say that the fault memory was erased, the verb in front or behind."""
_NOTHING = {
    "nothing", "none", "no", "part", "parts", "nichts", "kein", "keine", "teil", "teile", "ohne", "without", "rien",
    "aucune", "aucun", "piece", "pieces", "sans", "pas", "de", "nada", "ninguna", "ninguno", "sin", "pieza", "piezas",
    "recambio", "recambios", "niente", "nulla", "nessun", "nessuno", "ricambio", "ricambi", "pezzo", "senza", "niets",
    "geen", "onderdeel", "onderdelen", "zonder", "nic", "brak", "bez", "czesci", "czesc", "dilu", "dil", "intet",
    "ingenting", "ingen", "inget", "inga", "del", "dele", "delar", "uden", "utan", "nenhuma", "peca", "pecas", "sem",
    "n", "a",
}  # fmt: skip
_ONLY = {
    "only", "just", "nur", "lediglich", "bloss", "seulement", "juste", "uniquement", "solo", "solamente", "soltanto",
    "unicamente", "alleen", "enkel", "slechts", "tylko", "jedynie", "jen", "pouze", "kun", "bare", "endast", "bara",
    "apenas", "so", "was", "were", "wurde", "wurden", "the", "and", "und", "y", "et", "e", "en", "i", "a", "og", "och",
}  # fmt: skip


def erases(plain: str) -> bool:
    """Say whether a folded text is a verb for erasing and what was erased, in either order."""
    return _ERASES.fullmatch(plain) is not None


def only_erased(plain: str) -> bool:
    """Say whether a folded text says that the memory was erased and names nothing else: ``nothing, only wiped``."""
    words = [word for word in plain.split() if word not in _NOTHING and word not in _ONLY]
    return any(re.fullmatch(_ERASING, word) for word in words) and all(
        re.fullmatch(rf"{_ERASING}|{_MEMORIES}", word) for word in words
    )
