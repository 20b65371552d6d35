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
            "interne nr", "stk", "stk no", "stk nr", "stock ref", "bestand nr", "bestand", "voorraadnr",
            "voorraadnummer",
            "voorraad nr",
            "nr mag", "numero stock", "no stock", "num stock", "numero de stock", "magazzino", "nr magazzino",
            "lager nr",
            "lagernummer", "lagerplats", "numer magazynowy", "nr magazynowy", "numero de existencias",
            "unit no", "veh", "veh no", "kfz", "kfz nr", "fahrzeug nr", "wagennr", "bestandsnr", "lagernr", "pojazd",
            "numer pojazdu", "viatura", "veiculo", "fordon", "bil", "kjoretoy", "ajoneuvo",
            "vozidlo", "jarmu", "wagen nr", "voertuignummer", "numero veicolo", "numero de vehiculo",
            "numero vehicule", "stock id", "stockno", "car id", "vehicle id", "asset", "vehicle", "car", "stock",
            "stock no", "stock number", "stocknumber", "vehicle no", "vehicle number", "car no", "car number",
            "number", "no", "nr", "wagen", "fahrzeug", "fahrzeugnummer", "fahrzeugnr", "bestandsnummer",
            "lagernummer", "interne nummer", "vehicule", "voiture", "coche", "vehiculo", "veicolo", "auto",
            "voertuig", "plate", "kennzeichen", "immatriculation", "matricula", "registration", "license plate",
            "unit number",
        ),
        "vin": (
            "numer vin", "numero de chasis", "numero telaio", "telaio", "chassisnummer", "numero de chassis",
            "bastidor", "vin number", "vehicle identification number", "vin", "chassis", "chassis no", "fin",
            "fahrgestellnummer", "fahrgestell", "fahrzeugidentnummer", "frame",
        ),
        "scanned_at": (
            "epoch", "epoch time", "unix", "unixtime", "unix time", "ts", "dt",
            "data odczytu", "data i godzina", "data e hora", "scandatum", "uitgelezen", "lesedatum",
            "fecha de lectura", "data lettura", "date de lecture", "datum a cas", "paivamaara", "dato", "scan",
            "scanned date", "reading date", "test date", "read at", "date of scan", "diagnosezeitpunkt", "scanned at",
            "scan date", "scanned", "scanned on", "date", "datum", "fecha", "data", "date time", "date and time",
            "datetime", "timestamp", "time stamp", "zeitstempel", "zeitpunkt", "when", "read", "read on", "zeit",
            "taken", "day", "tag", "time", "uhrzeit", "created", "scan time", "prufdatum", "ausgelesen",
            "ausgelesen am", "diagnose am", "created at", "horodatage", "diagnosedatum",
        ),
        "odometer": (
            "odo", "przebieg", "quilometragem", "kilometrage releve", "kilometraza", "km teller", "matarstallning",
            "stand", "odometer km", "odo km", "mileage km", "tacho", "kilometros", "chilometri", "odometer",
            "odometer reading", "mileage", "km", "kilometer", "kilometers", "kilometres", "kilometerstand",
            "km stand", "kmstand", "laufleistung", "tachostand", "miles", "miles run", "distance", "kilometrage",
            "kilometraje", "chilometraggio", "km reading", "mi", "kilometre",
        ),
        "odometer_unit": (
            "odo unit", "unit of distance", "odometer unit", "distance unit", "odometerunit", "mileage unit",
        ),
        "module": (
            "sterownik", "modul sterujacy", "regeleenheid", "regelapparaat", "styrenhet", "styreenhet", "ohjainlaite",
            "ridici jednotka", "unidade", "boitier", "calculateur moteur", "unidad de control", "unidad", "modulo",
            "modulo di controllo", "node", "subsystem", "ecu id", "module", "unit", "ecu", "ecus", "system",
            "control unit", "control module", "steuergerat", "steuergeraet", "modul", "calculateur", "controller",
            "centralita", "centralina", "sg", "address", "module name", "ecu name", "units", "modules",
        ),
        "module_state": ("reply", "answer", "response", "answered", "module state", "communication"),
        "code": (
            "kod", "kod bledu", "kody bledow", "foutcode", "foutcodes", "fout", "storingscode", "felkod", "felkoder",
            "feilkode", "vikakoodi", "chybovy kod", "codigo de averia", "codigos", "codigo de falla",
            "codigo de avaria", "codici", "codici guasto", "guasto", "codes defaut", "dtc number", "p code",
            "storung", "storungscode", "code", "codes", "dtc", "dtcs", "fault", "faults", "fault code", "fault codes",
            "trouble code", "trouble codes", "trouble", "fehler", "fehlercode", "fehlercodes", "fehlernummer",
            "fehlereintrag", "code defaut", "defaut", "defauts", "averia", "codigo", "codice", "codice guasto",
            "error code", "error", "fault entry", "entry", "dtc code", "id",
        ),
        "failure_type": (
            "failure type", "ftb", "type", "kind", "symptom", "failure type byte", "sub type", "sub code", "suffix",
            "fehlerart", "fehlertyp", "fehlerzusatz", "zusatz", "art", "ft", "ftb hex", "symptom code",
        ),
        "status": (
            "stav", "stav chyby", "tila", "allapot", "tilstand", "art des fehlers", "fehlerzustand", "stato errore",
            "estado avaria", "estado da avaria", "estado del fallo", "etat du defaut",
            "estado de la averia", "statut du defaut", "toestand", "tillstand", "stan", "stato guasto", "situacao",
            "dtc state", "fault type", "status", "state", "fault status", "code status", "dtc status", "zustand",
            "fehlerstatus", "estado", "etat", "statut", "stato", "fault state",
        ),
        "occurrences": (
            "ilosc", "aantal", "conteo", "occurrence", "occurences", "hits", "freq", "nombre", "veces", "volte",
            "occurrences", "count", "times", "anzahl", "haufigkeit", "occurrence count", "frequency",
        ),
        "text": (
            "opis", "omschrijving", "beskrivning", "kuvaus", "popis", "descricao", "texto", "testo", "texte",
            "fout omschrijving", "libelle defaut", "detail", "details", "explanation", "message", "text",
            "description", "meaning", "wording", "words", "note", "beschreibung", "wortlaut", "label", "libelle",
            "fehlertext", "desc", "dtc text", "code text", "fault text", "descripcion", "descrizione",
            "code description", "klartext", "bedeutung",
            "fault description",
        ),
    },
    "stock": {
        "vehicle": (
            "which car", "bestand nr", "voorraadnr", "voorraadnummer", "nr mag", "numero stock", "no stock", "lager nr",
            "stk", "stk no", "stk nr", "stock ref", "ref", "pojazd", "voertuig", "veicolo", "vehiculo", "unit no",
            "veh", "veh no", "kfz nr", "fahrzeug nr",
            "wagen nr",
            "bestandsnr", "lagernr", "stock id", "vehicle", "car", "stock", "stock no",
            "stock number", "stocknumber", "number", "vehicle no", "vehicle number", "bestandsnummer", "lagernummer",
            "wagen", "fahrzeug", "fahrzeugnummer", "vehicule", "coche", "kennzeichen", "plate", "interne nummer",
            "car no", "id",
        ),
        "vin": ("vin", "chassis", "chassis no", "fin", "fahrgestellnummer", "fahrzeugidentnummer"),
        "make": (
            "merk", "marka", "fabricante", "constructeur", "make", "manufacturer", "brand", "hersteller", "marke",
            "marque", "marca", "fabrikat",
        ),
        "model": ("model", "model line", "modell", "modele", "modelo", "modello", "baureihe", "type", "typ"),
        "model_year": (
            "bouwjaar", "rok", "rocznik", "ano modelo", "build year", "yr", "model year", "year", "baujahr",
            "modelljahr", "annee", "ano", "anno", "year built", "modelyear",
        ),
        "engine": ("engine", "motor", "moteur", "motorisierung", "motore"),
        "fuel": ("fuel", "kraftstoff", "carburant", "combustible", "treibstoff"),
        "gearbox": ("gearbox", "transmission", "getriebe", "boite", "boite de vitesses"),
        "bought_on": (
            "in on", "came in", "date in", "in stock since", "bought", "bought on", "purchase date", "purchased",
            "ankauf", "ankaufsdatum", "gekauft", "date achat",
        ),
        "sold_on": ("sold", "sold on", "sale date", "verkauft", "verkaufsdatum", "date vente"),
        "asking_price": (
            "prijs", "cena", "preco", "prix de vente", "prix ttc", "precio de venta", "prezzo di vendita", "price",
            "asking", "asked", "ask", "on windscreen", "windscreen", "sticker", "sticker price", "retail",
            "retail price", "for sale at",
            "asking price", "verkaufspreis", "preis", "vk preis", "prix", "precio", "prezzo", "list price",
        ),
        "modifications": ("modifications", "umbauten", "modified", "extras"),
    },
    "repairs": {
        "vehicle": (
            "which car", "bestand nr", "voorraadnr", "voorraadnummer", "nr mag", "numero stock", "no stock", "lager nr",
            "stk", "stk no", "stk nr", "stock ref", "pojazd", "voertuig", "veicolo", "vehiculo", "unit no", "veh",
            "veh no", "kfz nr", "fahrzeug nr",
            "wagen nr",
            "bestandsnr", "lagernr", "vehicle", "car", "stock", "stock no", "stock number", "vehicle no", "fahrzeug",
            "wagen", "bestandsnummer", "fahrzeugnummer", "vehicule",
            "coche", "kennzeichen", "plate", "car no", "vin", "fahrgestellnummer", "chassis no", "frame number",
        ),
        "job": (
            "zlecenie", "opdracht", "orden", "commessa", "ordine", "job id", "ticket", "job", "job no", "job number",
            "order", "order no", "work order", "auftrag", "auftragsnummer", "auftragsnr", "ordre",
            "ordre de reparation", "invoice", "rechnung", "rechnungsnummer",
        ),
        "done_at": (
            "data", "dato", "completed", "finished", "date", "date done", "done", "done on", "done at", "datum",
            "erledigt", "erledigt am", "fecha", "day", "tag",
        ),
        "odometer": (
            "odometer", "mileage", "km", "kilometer", "kilometers", "kilometerstand", "km stand", "kmstand",
            "laufleistung", "kilometrage", "miles",
        ),
        "odometer_unit": ("odometer unit", "distance unit"),
        "action": (
            "opération", "actie", "czynnosc", "operazione", "operacion", "trabajo", "lavoro", "action taken",
            "job done", "type of work", "action", "work", "tatigkeit", "arbeit", "work done", "operation",
            "massnahme", "what was done",
        ),
        "part": (
            "onderdeel", "czesc", "ricambio", "pezzo", "repuesto", "recambio", "article", "spare part", "part",
            "fitted", "part fitted", "parts fitted", "what we fitted", "what was fitted", "replaced", "part replaced",
            "new part", "verbaut", "part name", "teil", "ersatzteil", "bauteil", "piece", "pieza", "component",
        ),
        "position": ("position", "place", "where", "einbauort", "lage"),
        "supplier": ("supplier", "lieferant", "fournisseur", "proveedor", "vendor"),
        "part_cost": (
            "montant", "cena", "prijs", "prezzo", "precio", "importe", "parts cost", "cost of part", "part cost",
            "part price", "cost", "price", "teilepreis", "kosten", "preis", "prix", "coste",
        ),
        "labour_minutes": (
            "mins", "min", "time taken", "labour mins", "labor mins", "temps min", "czas min", "tijd min",
            "tiempo min", "tempo min", "duration", "labour minutes",
            "labor minutes", "minutes", "minuten", "arbeitszeit", "labour", "labor", "labour time", "time",
        ),
        "note": ("note", "notes", "bemerkung", "remark", "comment", "remarque"),
    },
    "parts": {
        "part": (
            "onderdeel", "czesc", "ricambio", "repuesto", "recambio", "spare part", "article name", "part",
            "part name", "name", "teil", "ersatzteil", "bauteil", "bezeichnung", "piece", "pieza", "article",
        ),
        "also_called": ("also called", "synonyms", "auch", "other names"),
        "part_cost": (
            "prijs", "cena", "prezzo", "importe", "unit price", "list price", "price", "part cost", "cost",
            "part price", "preis", "teilepreis", "prix", "precio", "ek preis",
        ),
        "labour_minutes": (
            "mins", "min", "labour", "labor", "labour minutes", "labor minutes", "minutes", "minuten", "arbeitszeit",
            "einbauzeit",
            "labour time",
        ),
        "check_minutes": ("check minutes", "check", "check time", "prufzeit"),
        "supplier": ("supplier", "lieferant", "fournisseur", "proveedor", "vendor"),
    },
    "background": {
        "vehicle": ("pojazd", "voertuig", "veicolo", "vehiculo", "vehicle", "car", "stock no", "fahrzeug", "wagen"),
        "make": ("make", "manufacturer", "hersteller", "marke", "marque"),
        "module": ("module", "control unit", "ecu", "steuergerat", "calculateur"),
        "code": ("code", "dtc", "fault code", "fehlercode", "fehler"),
        "reason": ("reason", "grund", "why", "raison", "motivo"),
        "until": ("until", "bis", "gultig bis", "jusqu a"),
    },
}  # fmt: skip
ERASED = (
    "faults erased", "erase", "codes cleared y n", "erased y n", "erased", "codes erased", "erased codes",
    "cleared", "codes cleared", "cleared codes", "faults cleared", "wiped",
    "codes wiped", "reset", "deleted", "codes deleted", "memory cleared", "fault memory cleared", "geloscht",
    "fehler geloscht", "codes geloscht", "fehlerspeicher geloscht", "efface", "codes effaces", "defauts effaces",
    "borrado", "codigos borrados", "cancellato", "codici cancellati", "gewist", "codes gewist", "skasowano",
    "skasowane", "apagado",
)  # fmt: skip
"""Headings of a column that says whether codes were erased at a visit."""
YES = (
    "yes", "y", "ja", "j", "oui", "o", "si", "s", "sim", "tak", "t", "true", "1", "x", "ok", "done", "erased",
    "cleared", "✓", "✔",
)  # fmt: skip
NO = ("no", "n", "nein", "nee", "non", "nao", "nie", "false", "f", "0", "-", "–", "not", "none")
FITTED = ("fitted", "replaced", "renewed", "new part", "changed", "ersetzt", "verbaut", "getauscht", "erneuert")
"""Words in the heading of a column of parts that say that each of them was put in new."""
TIME_HEADINGS = (
    "time", "zeit", "uhrzeit", "heure", "hora", "ora", "time of day", "tijd", "godzina", "czas", "cas", "tid", "klo",
)  # fmt: skip

STATUS: dict[str, tuple[str, ...]] = {
    "active": (
        "aktivna", "ativa", "activa", "attiva", "active fault now", "aktivt", "gegenwartig", "momentan vorhanden",
        "obecny", "obecna", "pritomna", "nuvarande", "naervaerende", "nykyinen", "en curso", "in corso", "en cours now",
        "aktywny", "aktywna", "actief", "actueel", "aanwezig", "aktywne", "ativo", "aktivni", "aktiivinen",
        "presente ahora", "en cours", "actuelle", "attuale", "actual fault", "is present", "active now", "permanente",
        "active", "aktiv", "current", "currently active", "present", "vorhanden", "anliegend", "anstehend",
        "statisch", "static", "permanent vorhanden", "dauerhaft vorhanden", "presente", "actif", "active fault",
        "actual", "aktuell", "aktuell vorhanden", "activo", "attivo", "failing now", "test failed", "now",
    ),
    "pending": (
        "cekajici", "nepotvrzeny", "afventer", "ventende", "venter", "odottaa", "odottava", "fuggoben", "waiting",
        "ausstehend", "wartend", "erkannt", "vorlaufiger fehler", "wachtend", "voorlopig", "provvisorio", "provisorio",
        "oczekujacy", "oczekujaca", "niepotwierdzony", "in afwachting", "onbevestigd", "in behandeling", "pendente",
        "sospeso", "non confermato", "no confirmado", "avvaktande", "vantande", "maturing fault", "provisional",
        "vorlaufig gespeichert", "provisoirement", "pending", "vorlaufig", "unbestatigt", "nicht bestatigt",
        "not confirmed", "unconfirmed", "en attente", "pendiente", "maturing", "provisoire", "non confirme",
        "in attesa", "suspected",
    ),
    "confirmed": (
        "ulozena", "ulozeno", "potvrzeny", "potvrzena", "gemt", "lagrat", "bekraftad", "bekreftet", "bekraeftet",
        "vahvistettu", "tarolt", "gravado", "armazenada", "memorizada", "memorizzata", "almacenada", "confirmada",
        "abgelegt", "abgespeichert", "bestatigter fehler", "opgeslagen fout", "enregistree", "registrado",
        "zapisany", "zapisana", "potwierdzony", "bevestigd", "gememoriseerd", "lagrad", "lagret", "tallennettu",
        "ulozeny", "armazenado", "confirmado", "confermato", "registrato", "enregistre", "memorise confirme",
        "guardado", "almacenado", "in memory", "dauerhaft gespeichert", "confirmed", "stored", "gespeichert",
        "bestatigt", "memorise", "memorisee", "memorizado", "memorizzato", "saved", "intermittent", "fest",
        "sporadisch", "sporadic", "sporadique", "intermittierend", "intermitente", "fugitif", "opgeslagen",
        "stored fault", "confirme",
    ),
    "permanent": ("permanenter fehler", "permanent code", "permanent", "permanent dtc"),
    "history": (
        "historicky", "historicka", "tidligere", "tidigare", "aiempi", "korabbi", "antigo", "antiguo", "ancien",
        "vecchio", "oud", "alt", "fruherer fehler", "przeszly", "dawny", "historica", "storica", "erledigt",
        "passado", "passada", "storico", "historyczny", "historyczna", "nieaktywny", "historico", "historisk",
        "inactief", "niet aanwezig", "passief", "pasado", "passato", "passe", "non actif", "non attivo",
        "no presente", "no activo", "historie", "archiviert", "ehemalig", "memorised past", "disparu", "history",
        "historic", "historical", "past", "passiv", "passive", "passif", "inactive", "inaktiv", "inactif",
        "not present", "nicht vorhanden", "not active", "nicht aktiv", "historique", "historisch", "previous",
        "previously present", "fruher", "pasivo", "absent", "non present", "no longer present",
        "nicht mehr vorhanden", "cleared", "old",
    ),
}  # fmt: skip
ACTIONS: dict[str, tuple[str, ...]] = {
    "replace": (
        "sustitucion", "reemplazado", "sostituito", "sostituzione", "vervangen", "wymiana", "wymieniono",
        "wymieniony", "substituido", "bytt", "replacement", "exchange", "exchanged", "swapped", "cambiado", "replace",
        "replaced", "renewed", "new", "ersetzt", "erneuert", "getauscht", "ausgetauscht", "gewechselt", "tausch",
        "austausch", "remplace", "remplacement", "changed", "fitted new", "sustituido",
    ),
    "repair": (
        "reparado", "riparato", "riparazione", "gerepareerd", "naprawa", "naprawiono", "mended", "repair", "repaired",
        "repariert", "instandgesetzt", "reparatur", "repare", "reparation", "fixed",
    ),
    "clean": (
        "limpiado", "limpieza", "pulito", "pulizia", "gereinigd", "czyszczenie", "schoongemaakt", "clean", "cleaned",
        "gereinigt", "reinigung", "nettoye", "nettoyage",
    ),
    "adjust": (
        "ajustado", "ajuste", "regolato", "afgesteld", "regulacja", "adjust", "adjusted", "eingestellt", "justiert",
        "regle", "reglage",
    ),
    "software": (
        "actualizacion", "aggiornamento", "aktualizacja", "flashed", "reprogrammed", "reprogramme", "programmation",
        "codage", "software", "update", "software update", "coded", "codiert", "programmed", "programmiert",
        "mise a jour",
    ),
    "inspect": (
        "comprobado", "revision", "controllato", "verifica", "gecontroleerd", "sprawdzono", "kontrola", "verifie",
        "kontrolliert", "geprueft", "diagnose", "diagnosis", "inspect", "inspected", "checked", "gepruft", "prufung",
        "check", "controle", "inspection",
    ),
    "erase": (
        "borrado", "cancellato", "gewist", "skasowano", "efface defauts", "effacement", "fehlerspeicher geloscht",
        "codes cleared", "clear codes", "erase", "erased", "codes erased", "cleared", "geloscht", "fehler geloscht",
        "efface", "reset",
    ),
}  # fmt: skip
MODULES: dict[str, tuple[str, ...]] = {
    "ECM": (
        "silnik", "motormanagement", "motorstyrning", "unidad motor", "control motor", "controllo motore",
        "centralina motore", "centralita motor", "moteur essence", "motorregeleenheid", "digital engine electronics",
        "motor", "motorsteuergerat", "motorelektronik", "motorsteuerung", "moteur", "injection", "motore",
        "engine control unit", "gestion moteur", "gestao do motor", "ridici jednotka motoru", "motorvezerlo",
        "moottori",
        "motorstyring", "motronic",
    ),
    "TCM": (
        "skrzynia biegow", "versnellingsbak", "transmissie", "caja de cambios", "transmision", "trasmissione",
        "boite automatique", "vaxellada", "automaat", "boite", "getriebe", "getriebesteuergerat", "automatikgetriebe",
        "getriebesteuerung", "boite de vitesses", "cambio",
        "cambio automatico", "transmissao", "caixa de velocidades", "prevodovka", "vaihteisto", "gearkasse", "girkasse",
        "sebessegvalto", "valto", "automatikgetriebe steuerung",
    ),
    "ABS": (
        "hamulce", "remmen", "remsysteem", "bromsar", "freni abs", "sistema frenante", "antiblockiersystem", "esp",
        "frenado", "bremssystem", "bremsen", "bremse", "bremsanlage", "bremselektronik", "freins", "freinage",
        "frenos", "freni",
        "travoes", "freios", "brzdy", "jarrut", "bremser", "fekek", "abs esp", "abs asr", "abs dsc", "anti blocage",
    ),
    "BCM": (
        "nadwozie", "carrosserie", "carrozzeria", "body computer", "boordcomputer", "comfort", "komfort",
        "komfortsystem", "komfortelektronik", "habitaculo", "abitacolo", "kaross", "karosserie", "bordnetz",
        "bordnetzsteuergerat", "zentralelektronik", "habitacle", "carroceria",
        "komfortsteuergerat", "komfortsystem zentral", "carrocaria", "carroceria interior", "karoserie", "kori",
        "karosseri", "karosszeria", "komfortni elektronika", "body control", "body electronics", "body",
        "boitier habitacle", "confort", "confort habitacle",
    ),
    "SRS": (
        "poduszki powietrzne", "krockkudde", "airbag", "bolsas de aire", "airbag system", "airbagsteuergerat",
        "ruckhaltesystem", "airbags", "coussins gonflables", "sac gonflable",
        "airbag srs", "turvatyyny", "kollisionspude", "kollisjonspute", "legzsak", "airbags srs", "retention",
        "ruckhaltesysteme", "srs airbag",
    ),
    "EPS": (
        "wspomaganie", "stuurbekrachtiging", "servostyrning", "servosterzo", "direccion", "sterzo",
        "direccion asistida", "lenkung", "servolenkung", "lenkhilfe", "direction assistee", "direction",
    ),
    "IPC": (
        "zegary", "instrumentenpaneel", "cuadro de instrumentos", "quadro strumenti", "strumentazione",
        "instrument panel", "cluster", "kombiinstrument", "schalttafeleinsatz", "combine", "tableau de bord",
        "instrument cluster", "instruments", "dash", "combination meter", "meter", "painel de instrumentos",
        "quadro de instrumentos", "pristrojova deska", "pristrojovy panel", "mittaristo", "instrumentpanel",
        "instrumentering", "muszerfal", "zestaw wskaznikow", "licznik", "tachosteuergerat", "combi instrument",
        "combine d instruments", "combine instruments", "instrumenten", "dashboard", "cuadro",
    ),
    "HVAC": (
        "klimatyzacja", "climate", "climatizacion", "climatizzatore", "climatisation auto", "airco", "klima",
        "klimaanlage", "klimatisierung", "climatisation",
    ),
    "EPB": ("parkbremse", "feststellbremse", "frein de stationnement"),
    "IMMO": ("wegfahrsperre", "antidemarrage"),
}  # fmt: skip
NO_CODES = re.compile(
    r"(?<!\w)i\.? ?o\.?(?!\w)"
    r"|\b(?:no (?:fault|code|dtc|trouble|error)s?(?: codes?)?|nothing(?: stored)?|none(?: stored)?|ok|okay|ras"
    r"|kein(?:e[rsmn]?)?"
    r"|keine? fehler\w*|fehlerfrei|aucun|aucun d[eé]faut|pas de d[eé]faut|sin (?:aver[ií]as?|c[oó]digos|fallos)"
    r"|nessun (?:guasto|errore|codice)|clear|clean|kein eintrag|keine eintr[aä]ge|ohne befund"
    r"|geen(?: fouten| storingen| foutcodes)?|brak(?: b[lł][eę]d[oó]w)?|sem avarias"
    r"|not? (?:stored |trouble |fault |active )+(?:codes?|faults?)|0 (?:codes|faults|dtcs?|fehler)|nihil|nil|passed"
    r"|n/a|faultless|fault[- ]free|without (?:any )?(?:faults?|codes?|errors?)|in ordnung|in orde|ohne fehler|fehlerlos"
    r"|sans (?:d[eé]faut|erreur|code)s?|aucune? (?:erreur|panne|anomalie|code)|n[eé]ant|rien|pas d[e']\s?erreurs?"
    r"|sin (?:errores|fallas|anomal[ií]as|incidencias)|ning[uú]n[ao]? \w+|nada|nessuna? \w+|niente|nulla|tutto ok"
    r"|nenhum[ao]? \w+|sem (?:falhas|erros|c[oó]digos)|nic|bez (?:b[lł][eę]d[oó]w|z[aá]vad|chyb|kod[oó]w)"
    r"|inga? (?:fel|koder)\w*|ingen (?:fel|fejl|feil|koder)\w*|utan fel|uden fejl|uten feil|ei (?:vikoja|vikakoodeja)"
    r"|[zž][aá]dn[eéaáyý] \w+|nincs \w+|niets|geen \w+)\b|^[-–—/.]+$",
    re.IGNORECASE,
)
SILENT = re.compile(
    r"\b(?:no (?:answer|response|reply|communication)|not? (?:answer|respond)\w*|did not answer|silent|keine antwort|"
    r"keine kommunikation|pas de r[eé]ponse|antwortet nicht|sin respuesta|unreachable)\b",
    re.IGNORECASE,
)
KIND_OF_SCAN = re.compile(
    r"(?:pre|post|before|after|vor(?:her)?|nach(?:her)?|avant|apres|antes|despues|prima|dopo)"
    r"(?: (?:the )?(?:scan|repair|job|work|reparatur|reparation|reparacion|riparazione))?(?: scan)?"
)
"""Words, folded, that say of a scan whether it was made before or after the repair: no state of a code."""
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
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])|_", " ", heading)
    found = [match[1].lower() for match in _UNIT.finditer(apart) if match[1]]
    return [_UNITS.get(unit, unit) for unit in found]


def known_in(words: dict[str, tuple[str, ...]], text: str) -> str | None:
    """Return what a text means in one of the lists here, or None."""
    plain = folded(text)
    return next((means for means, spellings in words.items() if plain in spellings or plain == means), None)


def verb_of(text: str, *, at_end: bool = False) -> str | None:
    """Return the first or the last word of a text, as it is spelled there, where it says what was done; else None."""
    word = re.search(r"([^\W\d_]+)\s*$" if at_end else r"^\s*([^\W\d_]+)", text)
    return word[1] if word and folded(word[1]) not in _NO_VERBS and known_in(ACTIONS, word[1]) else None


_NO_VERBS = ("new", "check", "update", "software", "clean")  # "new coil", "check engine": they begin other texts too


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
        if plain is not None or len(text) > 60:
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
