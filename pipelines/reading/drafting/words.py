"""The words that exports use: headings of columns, states of codes, work done, modules; common practice, no source.

Words are compared folded: small letters, no accents, single spaces.  A heading's unit is taken off
before (``units_of``).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable

HEADINGS: dict[str, dict[str, tuple[str, ...]]] = {
    "scans": {
        "vehicle": (
            "vehicle", "car", "stock", "stock no", "stock number", "stocknumber", "vehicle no", "vehicle number",
            "car no",
            "car number", "number", "no", "nr", "wagen", "fahrzeug", "fahrzeugnummer", "fahrzeugnr", "bestandsnummer",
            "lagernummer", "interne nummer", "vehicule", "voiture", "coche", "vehiculo", "veicolo", "auto", "voertuig",
            "plate", "kennzeichen", "immatriculation", "matricula", "registration", "license plate", "unit number",
        ),
        "vin": (
            "vin", "chassis", "chassis no", "fin", "fahrgestellnummer", "fahrgestell", "fahrzeugidentnummer", "frame",
        ),
        "scanned_at": (
            "scanned at", "scan date", "scanned", "scanned on", "date", "datum", "fecha", "data", "date time",
            "date and time",
            "datetime", "timestamp", "time stamp", "zeitstempel", "zeitpunkt", "when", "read", "read on", "zeit",
            "taken",
            "day", "tag", "time", "uhrzeit", "created", "scan time", "prufdatum", "ausgelesen", "ausgelesen am",
            "horodatage",
            "diagnosedatum",
        ),
        "odometer": (
            "odometer", "odometer reading", "mileage", "km", "kilometer", "kilometers", "kilometres", "kilometerstand",
            "km stand", "kmstand", "laufleistung", "tachostand", "miles", "miles run", "distance", "kilometrage",
            "kilometraje",
            "chilometraggio", "km reading", "mi", "kilometre",
        ),
        "odometer_unit": ("odometer unit", "distance unit", "odometerunit", "mileage unit"),
        "module": (
            "module", "unit", "ecu", "ecus", "system", "control unit", "control module", "steuergerat",
            "steuergeraet", "modul",
            "calculateur", "controller", "centralita", "centralina", "sg", "address", "module name", "ecu name",
            "units",
            "modules",
        ),
        "module_state": ("reply", "answer", "response", "answered", "module state", "communication"),
        "code": (
            "code", "codes", "dtc", "dtcs", "fault", "faults", "fault code", "fault codes", "trouble code",
            "trouble codes",
            "trouble", "fehler", "fehlercode", "fehlercodes", "fehlernummer", "fehlereintrag", "code defaut",
            "defaut", "defauts",
            "averia", "codigo", "codice", "codice guasto", "error code", "error", "fault entry", "entry", "dtc code",
            "id",
        ),
        "failure_type": ("failure type", "ftb", "type", "kind", "symptom", "failure type byte"),
        "status": (
            "status", "state", "fault status", "code status", "dtc status", "zustand", "fehlerstatus", "estado", "etat",
            "statut", "stato", "fault state",
        ),
        "occurrences": ("occurrences", "count", "times", "anzahl", "haufigkeit", "occurrence count", "frequency"),
        "text": (
            "text", "description", "meaning", "wording", "words", "note", "beschreibung", "wortlaut", "label",
            "libelle",
            "fehlertext", "fault text", "descripcion", "descrizione", "code description", "klartext", "bedeutung",
            "fault description",
        ),
    },
    "stock": {
        "vehicle": (
            "vehicle", "car", "stock", "stock no", "stock number", "stocknumber", "number", "vehicle no",
            "vehicle number",
            "bestandsnummer", "lagernummer", "wagen", "fahrzeug", "fahrzeugnummer", "vehicule", "coche",
            "kennzeichen", "plate",
            "interne nummer", "car no", "id",
        ),
        "vin": ("vin", "chassis", "chassis no", "fin", "fahrgestellnummer", "fahrzeugidentnummer"),
        "make": ("make", "manufacturer", "brand", "hersteller", "marke", "marque", "marca", "fabrikat"),
        "model": ("model", "model line", "modell", "modele", "modelo", "modello", "baureihe", "type", "typ"),
        "model_year": (
            "model year", "year", "baujahr", "modelljahr", "annee", "ano", "anno", "year built", "modelyear",
        ),
        "engine": ("engine", "motor", "moteur", "motorisierung", "motore"),
        "fuel": ("fuel", "kraftstoff", "carburant", "combustible", "treibstoff"),
        "gearbox": ("gearbox", "transmission", "getriebe", "boite", "boite de vitesses"),
        "bought_on": (
            "bought", "bought on", "purchase date", "purchased", "ankauf", "ankaufsdatum", "gekauft", "date achat",
        ),
        "sold_on": ("sold", "sold on", "sale date", "verkauft", "verkaufsdatum", "date vente"),
        "asking_price": (
            "price", "asking price", "verkaufspreis", "preis", "vk preis", "prix", "precio", "prezzo", "list price",
        ),
        "modifications": ("modifications", "umbauten", "modified", "extras"),
    },
    "repairs": {
        "vehicle": (
            "vehicle", "car", "stock", "stock no", "stock number", "vehicle no", "fahrzeug", "wagen", "bestandsnummer",
            "fahrzeugnummer", "vehicule", "coche", "kennzeichen", "plate", "car no",
        ),
        "job": (
            "job", "job no", "job number", "order", "order no", "work order", "auftrag", "auftragsnummer",
            "auftragsnr", "ordre",
            "ordre de reparation", "invoice", "rechnung", "rechnungsnummer",
        ),
        "done_at": (
            "date", "date done", "done", "done on", "done at", "datum", "erledigt", "erledigt am", "fecha", "day",
            "tag",
        ),
        "odometer": (
            "odometer", "mileage", "km", "kilometer", "kilometers", "kilometerstand", "km stand", "kmstand",
            "laufleistung",
            "kilometrage", "miles",
        ),
        "odometer_unit": ("odometer unit", "distance unit"),
        "action": ("action", "work", "tatigkeit", "arbeit", "work done", "operation", "massnahme", "what was done"),
        "part": ("part", "part name", "teil", "ersatzteil", "bauteil", "piece", "pieza", "component"),
        "position": ("position", "place", "where", "einbauort", "lage"),
        "supplier": ("supplier", "lieferant", "fournisseur", "proveedor", "vendor"),
        "part_cost": ("part cost", "part price", "cost", "price", "teilepreis", "kosten", "preis", "prix", "coste"),
        "labour_minutes": (
            "labour minutes", "labor minutes", "minutes", "minuten", "arbeitszeit", "labour", "labor", "labour time",
            "time",
        ),
        "note": ("note", "notes", "bemerkung", "remark", "comment", "remarque"),
    },
    "parts": {
        "part": (
            "part", "part name", "name", "teil", "ersatzteil", "bauteil", "bezeichnung", "piece", "pieza", "article",
        ),
        "also_called": ("also called", "synonyms", "auch", "other names"),
        "part_cost": ("price", "part cost", "cost", "part price", "preis", "teilepreis", "prix", "precio", "ek preis"),
        "labour_minutes": (
            "labour", "labor", "labour minutes", "labor minutes", "minutes", "minuten", "arbeitszeit", "einbauzeit",
            "labour time",
        ),
        "check_minutes": ("check minutes", "check", "check time", "prufzeit"),
        "supplier": ("supplier", "lieferant", "fournisseur", "proveedor", "vendor"),
    },
    "background": {
        "vehicle": ("vehicle", "car", "stock no", "fahrzeug", "wagen"),
        "make": ("make", "manufacturer", "hersteller", "marke", "marque"),
        "module": ("module", "control unit", "ecu", "steuergerat", "calculateur"),
        "code": ("code", "dtc", "fault code", "fehlercode", "fehler"),
        "reason": ("reason", "grund", "why", "raison", "motivo"),
        "until": ("until", "bis", "gultig bis", "jusqu a"),
    },
}  # fmt: skip
TIME_HEADINGS = ("time", "zeit", "uhrzeit", "heure", "hora", "ora", "time of day", "tijd")

STATUS: dict[str, tuple[str, ...]] = {
    "active": (
        "active", "aktiv", "current", "currently active", "present", "vorhanden", "anliegend", "anstehend",
        "statisch", "static",
        "permanent vorhanden", "dauerhaft vorhanden", "presente", "actif", "active fault", "actual", "aktuell",
        "aktuell vorhanden",
        "activo", "attivo", "failing now", "test failed", "now",
    ),
    "pending": (
        "pending", "vorlaufig", "unbestatigt", "nicht bestatigt", "not confirmed", "unconfirmed", "en attente",
        "pendiente",
        "maturing", "provisoire", "non confirme", "in attesa", "suspected",
    ),
    "confirmed": (
        "confirmed", "stored", "gespeichert", "bestatigt", "memorise", "memorisee", "memorizado", "memorizzato",
        "saved",
        "intermittent", "fest", "sporadisch", "sporadic", "sporadique", "intermittierend", "intermitente", "fugitif",
        "opgeslagen",
        "stored fault", "confirme",
    ),
    "permanent": ("permanent", "permanent dtc"),
    "history": (
        "history", "historic", "historical", "past", "passiv", "passive", "passif", "inactive", "inaktiv", "inactif",
        "not present",
        "nicht vorhanden", "not active", "nicht aktiv", "historique", "historisch", "previous", "previously present",
        "fruher",
        "pasivo", "absent", "non present", "no longer present", "nicht mehr vorhanden", "cleared", "old",
    ),
}  # fmt: skip
ACTIONS: dict[str, tuple[str, ...]] = {
    "replace": (
        "replace", "replaced", "renewed", "new", "ersetzt", "erneuert", "getauscht", "ausgetauscht", "gewechselt",
        "tausch",
        "austausch", "remplace", "remplacement", "changed", "fitted new", "sustituido",
    ),
    "repair": ("repair", "repaired", "repariert", "instandgesetzt", "reparatur", "repare", "reparation", "fixed"),
    "clean": ("clean", "cleaned", "gereinigt", "reinigung", "nettoye", "nettoyage"),
    "adjust": ("adjust", "adjusted", "eingestellt", "justiert", "regle", "reglage"),
    "software": (
        "software", "update", "software update", "coded", "codiert", "programmed", "programmiert", "mise a jour",
    ),
    "inspect": ("inspect", "inspected", "checked", "gepruft", "prufung", "check", "controle", "inspection"),
    "erase": ("erase", "erased", "codes erased", "cleared", "geloscht", "fehler geloscht", "efface", "reset"),
}  # fmt: skip
MODULES: dict[str, tuple[str, ...]] = {
    "ECM": (
        "motor", "motorsteuergerat", "motorelektronik", "motorsteuerung", "moteur", "injection", "motore",
        "engine control unit",
    ),
    "TCM": (
        "getriebe", "getriebesteuergerat", "automatikgetriebe", "getriebesteuerung", "boite de vitesses",
        "boite automatique", "cambio",
    ),
    "ABS": ("bremsen", "bremse", "bremsanlage", "bremselektronik", "freins", "freinage", "frenos", "freni"),
    "BCM": (
        "karosserie", "bordnetz", "bordnetzsteuergerat", "zentralelektronik", "carrosserie", "habitacle",
        "carroceria",
    ),
    "SRS": ("airbagsteuergerat", "ruckhaltesystem", "airbags", "coussins gonflables", "sac gonflable"),
    "EPS": ("lenkung", "servolenkung", "lenkhilfe", "direction assistee", "direction"),
    "IPC": ("kombiinstrument", "schalttafeleinsatz", "combine", "tableau de bord"),
    "HVAC": ("klima", "klimaanlage", "klimatisierung", "climatisation"),
    "EPB": ("parkbremse", "feststellbremse", "frein de stationnement"),
    "IMMO": ("wegfahrsperre", "antidemarrage"),
}  # fmt: skip
NO_CODES = re.compile(
    r"\b(?:no (?:fault|code|dtc|trouble|error)s?(?: codes?)?|nothing(?: stored)?|none(?: stored)?|ok|okay|i\.o\.|keine?"
    r"|keine? fehler\w*|fehlerfrei|aucun|aucun d[eé]faut|pas de d[eé]faut|sin aver[ií]as?|nessun guasto|clear|clean"
    r"|n/a)\b|^[-–—/.]+$",
    re.IGNORECASE,
)
SILENT = re.compile(
    r"\b(?:no (?:answer|response|reply|communication)|not? (?:answer|respond)\w*|did not answer|silent|keine antwort|"
    r"keine kommunikation|pas de r[eé]ponse|antwortet nicht|sin respuesta|unreachable)\b",
    re.IGNORECASE,
)
NOT_READ = re.compile(
    r"\b(?:not read|not scanned|skipped|nicht (?:gelesen|verbaut|ausgelesen)|not fitted|non lu)\b", re.IGNORECASE
)
_UNIT = re.compile(
    r"[(\[]?\b(km|mi|miles|meilen|min|minutes|minuten|h|hours|stunden|std|eur|euro|usd|gbp|chf|pln)\b[.)\]]*|[(\[]?[€$£][)\]]?",
    re.IGNORECASE,
)
_UNITS = {"miles": "mi", "meilen": "mi", "minutes": "min", "minuten": "min", "hours": "h", "stunden": "h", "std": "h"}


def folded(text: str) -> str:
    """Return a text in small letters, without accents, signs as single spaces; words run together are parted."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    plain = unicodedata.normalize("NFKD", apart.replace("ß", "ss")).encode("ascii", "ignore").decode().lower()
    return " ".join(re.findall(r"[a-z0-9]+", plain))


def units_of(heading: str) -> list[str]:
    """Return the units that a heading names: km, mi, min, h, or those of money in small letters."""
    found = [match[1].lower() for match in _UNIT.finditer(heading) if match[1]]
    return [_UNITS.get(unit, unit) for unit in found]


def known_in(words: dict[str, tuple[str, ...]], text: str) -> str | None:
    """Return what a text means in one of the lists here, or None."""
    plain = folded(text)
    return next((means for means, spellings in words.items() if plain in spellings or plain == means), None)


class Modules:
    """Knows modules by the vocabulary's names, by those of ``MODULES``, and by either beside a number or an address."""

    _GENERIC = re.compile(
        r"\b(?:control (?:unit|module)|ecu|unit|module|system|steuerger(?:ae|a|ä)t|electronics|elektronik|calculateur"
        r"|centralita|\d{1,2})\b\.?",
        re.IGNORECASE,
    )
    _ADDRESS = re.compile(r"(?:0x)?[0-9A-Fa-f]{1,4}|\d+")

    def __init__(self, known: Callable[[str], bool]) -> None:
        """Know what a vocabulary knows.

        Args:
            known: Whether the vocabulary knows a text as a module.
        """
        self._known = known
        self._told: dict[str, str | None] = {}

    def __call__(self, text: str) -> bool:
        """Say whether a text names a module."""
        return self.means(text) is not None

    def means(self, text: str) -> str | None:
        """Return the name by which the vocabulary knows a text, the text itself where it does; None: not at all."""
        if text not in self._told:
            self._told[text] = self._means(text)
        return self._told[text]

    def _means(self, text: str) -> str | None:
        plain = self._plain(text)
        if plain is not None or len(text) > 60:  # noqa: PLR2004 - no name is that long
            return plain
        parts = [part.strip(" .:-") for part in re.split(r"[()\[\]:|–_]|\s-\s|^\d+\s*[-.)]|^\d+\s+", text)]
        parts = [part for part in parts if part]
        words = [part for part in parts if not self._ADDRESS.fullmatch(part)]
        if len(words) == 1:
            bare = " ".join(self._GENERIC.sub(" ", words[0]).split())
            return self._plain(words[0]) or (self._plain(bare) if bare != words[0] else None)
        known = [found for word in words if (found := self._plain(word))]
        return known[0] if len(known) == len(words) > 0 else None

    def _plain(self, text: str) -> str | None:
        return text if text and self._known(text) else known_in(MODULES, text)
