"""The words that exports use: headings of columns, states of codes, work done, modules; common practice, no source.

Words are compared folded: small letters, no accents, single spaces.  A heading's unit is taken off
before (``units_of``).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence

from pipelines.reading.drafting.erase_words import erases
from pipelines.reading.drafting.more_languages import (
    ERASED_TOO,
    FITTED_TOO,
    MORE_HEADINGS,
    MORE_MODULES,
    MORE_STATES,
    MORE_WORK,
    NO_CODES_TOO,
    NO_TOO,
    SILENT_TOO,
    TIMES_TOO,
    YES_TOO,
)

_CAR = (
    "rif", "riferimento", "riferim", "reference", "referencia", "referentie", "vettura", "vetture", "macchina",
    "samochod", "parc", "num", "numer", "numero",
    "bestands nr", "stocknr", "stock num", "our no", "our number", "unser nr", "interne nummer",
    "interne nr", "fahrzeug id", "fzg nr", "fzg", "auto nr", "wagen no", "no interne", "numero interne",
    "numero interno", "n stock", "n de stock", "numero de stock", "nr int", "numer wewnetrzny", "lagernr",
    "internt nummer", "internal no", "internal number", "yard no", "lot", "lot no", "kenteken", "targa",
    "nr rejestracyjny", "nr rej", "numer rejestracyjny", "rejestracja", "tablica",
    "tablica rejestracyjna", "regnr",
    "reg nr", "registreringsnummer", "kfz kennzeichen", "amtl kennzeichen", "amtliches kennzeichen",
    "kennz", "reg", "reg no", "reg number", "registration no", "registration number", "licence plate",
    "number plate", "immat", "plaque", "plaque d immatriculation", "no immatriculation",
    "n immatriculation", "numero d immatriculation", "placa", "patente", "chapa", "spz", "rz",
    "matricula vehiculo", "nummerplaat", "kfz", "nr", "no", "number", "n vo", "no vo", "numero vo", "vo", "unit",
    "unite",
    "unidad", "unita", "unidade", "einheit", "eenheid",
)  # fmt: skip
"""What a car is named by, in every table that names one."""
PLATES = {
    "plate", "kennzeichen", "immatriculation", "matricula", "registration", "license plate", "kenteken", "targa",
    "nr rejestracyjny", "nr rej", "numer rejestracyjny", "rejestracja", "tablica",
            "tablica rejestracyjna", "regnr", "reg nr",
    "registreringsnummer", "kfz kennzeichen", "amtl kennzeichen", "amtliches kennzeichen", "kennz", "reg", "reg no",
    "reg number", "registration no", "registration number", "licence plate", "number plate", "immat", "plaque",
    "plaque d immatriculation", "no immatriculation", "n immatriculation", "numero d immatriculation", "placa",
    "patente", "chapa", "spz", "rz", "nummerplaat",
}  # fmt: skip
"""Headings of number plates: where a stock number stands beside one, that is the car's number."""
WAGES = (
    "lohn", "lohnkosten", "arbeitslohn", "arbeitskosten", "lohn eur", "labour cost", "labour costs", "labor cost",
    "labor costs", "labour charge", "labour price", "labour eur", "labor eur", "cost of labour", "cost of work",
    "work cost", "wage", "wages", "main d oeuvre", "cout main d oeuvre", "mo ht", "mano de obra", "mano d opera",
    "manodopera", "arbeidsloon", "loon", "robocizna", "koszt robocizny", "arbetskostnad", "mao de obra",
    "coste mano de obra", "costo manodopera",
)  # fmt: skip
"""Headings that say of a column for work that it is money."""
BARE_WORK = (
    "labour", "labor", "work", "arbeit", "travail", "trabajo", "lavoro", "werk", "praca", "arbete", "mo",
)  # fmt: skip
"""Headings of a column for work, of which nobody knows whether it is time or money."""
WORK_UNITS = (
    "aw", "ae", "ze", "tu", "ut", "wu", "fru", "zeiteinheiten", "arbeitswerte", "arbeitseinheiten", "time units",
    "labour units", "labor units", "work units", "units of work", "unites de travail", "unites de temps",
    "unidades de trabajo", "unidades de tiempo", "unita di lavoro", "unita di tempo", "tijdseenheden",
    "arbeidseenheden", "jednostki czasu", "anzahl aw", "aw anzahl", "nb ut", "casove jednotky",
)  # fmt: skip
"""Headings of a column for work that counts the units of makers' books."""
MONEY = re.compile(r"[€$£]|\b(?:eur|euro|gbp|usd|chf|pln)\b", re.IGNORECASE)
HEADINGS: dict[str, dict[str, tuple[str, ...]]] = {
    "scans": {
        "vehicle": (
            *_CAR,
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
            "fin", "fahrgestell nr", "fahrgestellnr", "fahrgest nr", "fgst nr", "ident nr", "identnummer",
            "chassis nr", "chassisnr", "chassis number", "numero de bastidor", "n de bastidor", "no de serie",
            "numero de serie", "numero di telaio", "telaio nr", "nr nadwozia", "numer nadwozia", "nadwozie vin",
            "vin code", "vin nr", "vin no", "no chassis", "n chassis", "chassi", "chassinummer", "frame no",
            "frame number", "numer vin", "code vin",
            "numer vin", "numero de chasis", "numero telaio", "telaio", "chassisnummer", "numero de chassis",
            "bastidor", "vin number", "vehicle identification number", "vin", "chassis", "chassis no", "fin",
            "fahrgestellnummer", "fahrgestell", "fahrzeugidentnummer", "frame",
        ),
        "scanned_at": (
            "letto", "letto il", "data e ora lettura", "leido", "leido el", "lu le", "releve le", "odczytano",
            "odczyt", "gelezen op", "uitlezing", "gescand", "gescand op", "gescannt", "gescannt am",
            "scansionato il", "escaneado", "zeskanowano", "lido em", "read out", "read out on", "data i godz",
            "started at", "started", "start time", "scan start", "begun at", "beginn", "gestartet am", "debut",
            "reading", "read date", "date read", "scanned", "fecha y hora", "data ora", "data e ora",
            "date et heure", "date heure", "datum tijd", "datum en tijd", "datum zeit", "datum uhrzeit",
            "datum und uhrzeit", "fecha hora", "data scansione", "data diagnosi", "fecha diagnostico",
            "fecha de diagnostico", "date diagnostic", "date du diagnostic", "datum uitlezen", "uitgelezen op",
            "gelezen", "data skanu", "data diagnozy", "lettura", "lecture", "lectura", "releve", "auslesedatum",
            "auslesung", "ausgelesen", "scan zeit", "diagnosedatum", "scan datum", "scan tijd", "read ms",
            "read time", "time read", "at",
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
            "tacho", "kms", "km s", "kilometri", "compteur", "km compteur", "cuentakilometros", "contachilometri",
            "percorrenza", "tachometer", "tellerstand", "meterstand", "licznik", "przebieg km", "odometro",
            "quilometros", "quilometragem", "matarstallning", "miil", "milage", "mileage reading",
            "odometer value", "kilometrage compteur", "kilometraje actual", "km actuales", "km attuali",
            "stan licznika", "kilometers driven", "clock", "clocked",
            "odo", "przebieg", "quilometragem", "kilometrage releve", "kilometraza", "km teller", "matarstallning",
            "stand", "odometer km", "odo km", "mileage km", "kilometros", "chilometri", "odometer",
            "odometer reading", "mileage", "km", "kilometer", "kilometers", "kilometres", "kilometerstand",
            "km stand", "kmstand", "laufleistung", "tachostand", "miles", "miles run", "distance", "kilometrage",
            "kilometraje", "chilometraggio", "km reading", "mi", "kilometre",
        ),
        "odometer_unit": (
            "odo unit", "unit of distance", "odometer unit", "distance unit", "odometerunit", "mileage unit",
        ),
        "module": (
            "modul name", "steuereinheit", "control", "unidad electronica", "unidade de controle",
            "centralita electronica", "centralina elettronica", "stuurapparaat", "regelunit", "regeleenheden",
            "modulo electronico", "jednostka", "jednostka sterujaca", "sterowniki", "styrdon", "styrmodul",
            "what unit", "component module", "sistema", "systeme", "systeem", "uklad", "ecu module",
            "sterownik", "modul sterujacy", "regeleenheid", "regelapparaat", "styrenhet", "styreenhet", "ohjainlaite",
            "ridici jednotka", "unidade", "boitier", "calculateur moteur", "unidad de control", "unidad", "modulo",
            "modulo di controllo", "node", "subsystem", "ecu id", "module", "unit", "ecu", "ecus", "system",
            "control unit", "control module", "steuergerat", "steuergeraet", "steuergeraete", "modul", "calculateur",
            "controller",
            "centralita", "centralina", "sg", "address", "module name", "ecu name", "units", "modules",
        ),
        "module_state": (
            "responds", "responded", "replies", "replied", "reachable", "connected", "online", "answers",
            "kommunikation", "erreichbar", "antwort", "antwortet", "verbindung", "reponse", "repond", "repondu",
            "joignable", "respuesta", "responde", "contesta", "comunicacion", "conexion", "risposta", "risponde",
            "comunicazione", "raggiungibile", "antwoord", "antwoordt", "communicatie", "bereikbaar", "odpowiedz",
            "odpowiada", "komunikacja", "resposta", "comunicacao", "svar", "svarar", "svarer", "contact",
            "reply", "answer", "response", "answered", "module state", "communication"),
        "code": (
            "errore", "errori", "codice errore", "codici errore", "averias", "codigo averia", "codigos averia",
            "codigo de error", "codigos de averia", "codigo de fallo", "fallo", "fallos", "kod usterki",
            "kody usterek", "usterka", "blad", "kody", "storingscodes", "storing", "storingen", "foutmelding",
            "foutmeldingen", "fel", "felkoder", "fejlkode", "code erreur", "codes erreur", "erreur", "erreurs",
            "code panne", "codes", "dtc s", "fault nr", "fault no", "fault number", "fehler nr", "fehlernr",
            "fehlercode nr", "trouble code dtc", "avaria", "erro", "codigo erro",
            "kod", "kod bledu", "kody bledow", "foutcode", "foutcodes", "fout", "storingscode", "felkod", "felkoder",
            "feilkode", "vikakoodi", "chybovy kod", "codigo de averia", "codigos", "codigo de falla",
            "codigo de avaria", "codici", "codici guasto", "guasto", "codes defaut", "dtc number", "p code",
            "storung", "storungscode", "code", "codes", "dtc", "dtcs", "fault", "faults", "fault code", "fault codes",
            "trouble code", "trouble codes", "trouble", "fehler", "fehlercode", "fehlercodes", "fehlernummer",
            "fehlereintrag", "code defaut", "defaut", "defauts", "averia", "codigo", "codice", "codice guasto",
            "error code", "error", "fault entry", "entry", "dtc code", "id",
        ),
        "failure_type": (
            "tipo", "typ", "soort", "rodzaj", "subtipo", "sottotipo", "sous type", "subtype", "podtyp",
            "type de defaut", "tipo de fallo", "tipo di guasto", "tipo di errore", "tipo errore", "tipo guasto",
            "tipo de averia", "rodzaj usterki", "foutsoort", "fault type", "fehlerartcode",
            "failure type", "ftb", "type", "kind", "symptom", "failure type byte", "sub type", "sub code", "suffix",
            "fehlerart", "fehlertyp", "fehlerzusatz", "zusatz", "art", "ft", "ftb hex", "symptom code",
        ),
        "status": (
            "tipo", "tipo di errore", "tipo errore", "tipo guasto", "tipo de fallo", "tipo de averia", "situacion",
            "situazione", "statut defaut", "type defaut", "sb", "status byte", "st byte",
            "st", "stat", "status code", "fault status", "art",
            "fehlerart", "art der storung", "rodzaj", "status usterki", "status bledu", "foutstatus",
            "how is it", "how is it now", "state now", "status now", "is it there", "still there", "zustand jetzt",
            "status jetzt", "wie ist es", "wie ist er", "estado actual", "etat actuel", "stato attuale",
            "storingsstatus", "soort", "estado fallo", "condition", "presence", "now or stored",
            "stav", "stav chyby", "tila", "allapot", "tilstand", "art des fehlers", "fehlerzustand", "stato errore",
            "estado avaria", "estado da avaria", "estado del fallo", "etat du defaut",
            "estado de la averia", "statut du defaut", "toestand", "tillstand", "stan", "stato guasto", "situacao",
            "dtc state", "fault type", "status", "state", "fault status", "code status", "dtc status", "zustand",
            "fehlerstatus", "estado", "etat", "statut", "stato", "fault state",
        ),
        "occurrences": (
            "seen", "times seen", "how often", "number of times", "gesehen", "wie oft", "mal", "gezien", "keer",
            "aantal keer", "hoe vaak", "fois", "nb", "nb fois", "nb de fois", "nombre de fois", "vu", "visto",
            "n veces", "num veces", "numero de veces", "n volte", "numero di volte", "numero volte", "razy",
            "ile razy", "liczba", "liczba razy", "liczba wystapien", "ilosc razy", "krotnosc", "vezes", "ganger",
            "conteggio", "contatore", "contador", "contagem", "compteur defauts", "frequence", "frecuencia",
            "frequenza", "frequentie", "teller", "counter", "counted", "haufigkeitszahler", "hz",
            "licznik wystapien", "licznik", "antal", "n times", "zahler", "occ",
            "ilosc", "aantal", "conteo", "occurrence", "occurences", "hits", "freq", "nombre", "veces", "volte",
            "occurrences", "count", "times", "anzahl", "haufigkeit", "occurrence count", "frequency",
        ),
        "text": (
            "descrizione errore", "descripcion averia", "descripcion del fallo", "designation", "denomination",
            "bezeichnung", "what", "what it says", "opis usterki", "opis bledu", "tresc", "fouttekst", "tekst",
            "klartext",
            "fehlerbeschreibung", "beschreibung des fehlers", "fault", "meaning of code", "descr",
            "dtc description", "descripcion de averia", "intitule", "libelle du defaut", "plain text", "in words",
            "opis", "omschrijving", "beskrivning", "kuvaus", "popis", "descricao", "texto", "testo", "texte",
            "fout omschrijving", "libelle defaut", "detail", "details", "explanation", "message", "text",
            "description", "meaning", "wording", "words", "note", "beschreibung", "wortlaut", "label", "libelle",
            "fehlertext", "desc", "dtc text", "code text", "fault text", "descripcion", "descrizione",
            "code description", "klartext", "bedeutung",
            "fault description",
        ),
    },
    "stock": {
        "plate": tuple(sorted(PLATES)),
        "vehicle": (
            *_CAR,
            "which car", "bestand nr", "voorraadnr", "voorraadnummer", "nr mag", "numero stock", "no stock",
            "lager nr",
            "stk", "stk no", "stk nr", "stock ref", "ref", "pojazd", "voertuig", "veicolo", "vehiculo", "unit no",
            "veh", "veh no", "kfz nr", "fahrzeug nr",
            "wagen nr",
            "bestandsnr", "lagernr", "stock id", "vehicle", "car", "stock", "stock no",
            "stock number", "stocknumber", "number", "vehicle no", "vehicle number", "bestandsnummer", "lagernummer",
            "wagen", "fahrzeug", "fahrzeugnummer", "vehicule", "coche", "kennzeichen", "plate", "interne nummer",
            "car no", "id", "codice", "codice interno", "codigo", "codigo interno",
        ),
        "vin": (
            "fin", "fahrgestell nr", "fahrgestellnr", "fahrgest nr", "fgst nr", "ident nr", "identnummer",
            "chassis nr", "chassisnr", "chassis number", "numero de bastidor", "n de bastidor", "no de serie",
            "numero de serie", "numero di telaio", "telaio nr", "nr nadwozia", "numer nadwozia", "nadwozie vin",
            "vin code", "vin nr", "vin no", "no chassis", "n chassis", "chassi", "chassinummer", "frame no",
            "frame number", "numer vin", "code vin", "numero de chasis", "numero telaio", "telaio",
            "chassisnummer", "numero de chassis", "bastidor", "vin number", "fahrgestell", "frame",
            "vin", "chassis", "chassis no", "fin", "fahrgestellnummer", "fahrzeugidentnummer",
        ),
        "make": (
            "fabbricante", "casa", "producent", "fabriek", "marca coche", "tillverkare", "automerk", "make brand",
            "merk", "marka", "fabricante", "constructeur", "make", "manufacturer", "brand", "hersteller", "marke",
            "marque", "marca", "fabrikat", "maker", "car maker",
        ),
        "model": (
            "auto model", "car model", "vehicle model", "fahrzeug modell", "wagen modell", "voertuig model",
            "voiture modele", "vehicule modele", "auto modello", "veicolo modello", "coche modelo",
            "vehiculo modelo", "samochod model", "pojazd model", "model auta",
            "modele vehicule", "modello auto", "type modele", "uitvoering", "model car", "modellbezeichnung",
            "wersja",
            "model", "model line", "modell", "modele", "modelo", "modello", "baureihe", "type", "typ",
        ),
        "model_year": (
            "bjr", "bouwj", "my", "anno modello", "anno immatricolazione", "ano de fabricacion", "annee modele",
            "annee mod",
            "year of manufacture", "rok produkcji", "rok prod", "modeljaar", "arsmodell", "bj", "baujahr bj",
            "ez jahr", "anio", "year model", "reg year", "first year", "first reg", "first registered",
            "first registration", "year of first registration", "erstzulassung", "ez", "mise en circulation",
            "annee de mise en circulation", "eerste toelating", "prima immatricolazione", "primera matriculacion",
            "bouwjaar", "rok", "rocznik", "ano modelo", "build year", "yr", "model year", "year", "baujahr",
            "modelljahr", "annee", "ano", "anno", "year built", "modelyear",
        ),
        "engine": (
            "motore", "silnik", "moteur cm3", "motorisation", "motorisering", "cilindrada", "engine size",
            "engine", "motor", "moteur", "motorisierung", "motore",
        ),
        "fuel": (
            "brandstof", "paliwo", "alimentazione", "carburante", "combustivel", "bransle", "fuel type", "energie",
            "fuel", "kraftstoff", "carburant", "combustible", "treibstoff",
        ),
        "gearbox": (
            "gear", "cambio", "transmision", "versnellingsbak", "skrzynia", "skrzynia biegow", "vaxellada",
            "caixa", "transmisja", "gears", "schaltung",
            "gearbox", "transmission", "getriebe", "boite", "boite de vitesses",
        ),
        "bought_on": (
            "ek datum", "einkauf", "einkaufsdatum", "zugang", "zugangsdatum", "date d achat", "achat", "achete le",
            "fecha compra", "fecha de compra", "comprado", "data acquisto", "acquistato", "acquisto",
            "inkoopdatum", "inkoop", "aangekocht", "data zakupu", "zakup", "kupiony", "inkopsdatum", "data compra",
            "comprado em", "purchase", "acquired", "acquired on", "bought date", "in", "stocked", "date bought",
            "in on", "came in", "date in", "in stock since", "bought", "bought on", "purchase date", "purchased",
            "ankauf", "ankaufsdatum", "gekauft", "date achat",
        ),
        "sold_on": (
            "vk datum", "abgang", "verkauf", "date de vente", "vendu le", "vendu", "fecha venta", "fecha de venta",
            "vendido", "data vendita", "venduto", "venduta il", "verkoopdatum", "verkocht", "data sprzedazy",
            "sprzedaz", "sprzedany", "forsaljningsdatum", "sald", "data venda", "date sold", "sold date", "out",
            "gone",
            "sold", "sold on", "sale date", "verkauft", "verkaufsdatum", "date vente",
        ),
        "asking_price": (
            "asking price eur", "price eur", "vk", "vk brutto", "verkaufspreis brutto", "prix affiche",
            "prix demande", "precio venta", "precio venta publico", "pvp", "prezzo vendita", "prezzo richiesto",
            "verkoopprijs", "vraagprijs", "cena sprzedazy", "cena brutto", "utpris", "pris", "preco venda",
            "preco de venda", "asking eur", "price asked", "ticket price", "verkaufspreis eur", "inseratspreis",
            "prijs", "cena", "preco", "prix de vente", "prix ttc", "precio de venta", "prezzo di vendita", "price",
            "asking", "asked", "ask", "on windscreen", "windscreen", "sticker", "sticker price", "retail",
            "retail price", "for sale at",
            "asking price", "verkaufspreis", "preis", "vk preis", "prix", "precio", "prezzo", "list price",
        ),
        "modifications": (
            "changed", "changes", "aftermarket", "tuning", "modifiche", "modificaciones", "modifications",
            "aanpassingen", "modyfikacje", "zmiany", "andringar", "altered", "extras fitted", "anbauten",
            "modifications", "umbauten", "modified", "extras", "ajout", "ajouts", "additions", "nachgerustet",
            "nachrustung",
            "nachrustungen", "aggiunte", "anadidos", "toegevoegd", "dodatki", "tillagg",
        ),
    },
    "repairs": {
        "vehicle": (
            *_CAR,
            "which car", "bestand nr", "voorraadnr", "voorraadnummer", "nr mag", "numero stock", "no stock",
            "lager nr",
            "stk", "stk no", "stk nr", "stock ref", "pojazd", "voertuig", "veicolo", "vehiculo", "unit no", "veh",
            "veh no", "kfz nr", "fahrzeug nr",
            "wagen nr",
            "bestandsnr", "lagernr", "vehicle", "car", "stock", "stock no", "stock number", "vehicle no", "fahrzeug",
            "wagen", "bestandsnummer", "fahrzeugnummer", "vehicule",
            "coche", "kennzeichen", "plate", "car no", "vin", "fahrgestellnummer", "chassis no", "frame number",
        ),
        "job": (
            "wo", "w o", "wo no", "wo nr", "work order no", "work order number",
            "bon", "bonnr", "bonnummer", "werkbon", "werkbonnr", "werkbonnummer", "nr bonu", "karta", "nr karty",
            "card", "card no", "job sheet", "sheet no", "slip", "slip no", "docket", "bordereau",
            "fiche", "bon de travail",
            "n fiche", "hoja", "n hoja", "parte de trabajo", "albaran", "scheda", "n scheda", "bolla", "foglio lavoro",
            "auftrag nr", "werkstattauftrag", "arbeitskarte", "zettel", "ordrenr", "n de orden", "numero de orden",
            "ordem de servico", "no de facture", "n factura", "n fattura", "beleg", "beleg nr", "belegnummer", "case",
            "job card", "job nr", "job number", "job no", "order number", "order nr", "auftrags nr", "auftragsnr",
            "werkauftrag", "n ordre", "no ordre", "numero ordre", "or", "orden no", "orden de trabajo", "n orden",
            "numero de orden", "ordine di lavoro", "numero ordine", "commessa n", "werkorder", "werkordernummer",
            "opdrachtnr", "nr zlecenia", "numer zlecenia", "arbetsorder", "ordem", "repair order", "ro", "ro no",
            "invoice no", "invoice number", "re nr", "rechnungs nr", "factura", "facture", "fattura", "factuur",
            "faktura",
            "zlecenie", "opdracht", "orden", "commessa", "ordine", "job id", "ticket", "job", "job no", "job number",
            "order", "order no", "work order", "auftrag", "auftragsnummer", "auftragsnr", "ordre",
            "ordre de reparation", "invoice", "rechnung", "rechnungsnummer",
        ),
        "done_at": (
            "finished on", "completed on", "ready", "abgeschlossen", "abgeschlossen am", "ausgefuhrt am", "gemacht am",
            "repariert am", "fait le", "effectue le", "realise le", "hecho", "hecho el", "realizado", "realizado el",
            "fatto", "fatto il", "eseguito", "eseguito il", "gedaan op", "uitgevoerd op", "klaar", "gereed", "afgerond",
            "zrobiono", "wykonano", "wykonano dnia", "ukonczono", "feito em", "utford", "serviced",
            "close date", "closed", "closed on", "date closed", "fertig am", "fertig", "klaar op", "gereed op",
            "fini le", "termine le", "terminado", "invoice date", "rechnungsdatum", "repair date", "date of repair",
            "reparaturdatum", "datum reparatie",
            "date reparation", "date de reparation", "fecha reparacion", "fecha de reparacion", "data riparazione",
            "data naprawy", "day done", "on", "when", "job date", "auftragsdatum", "date facture", "fecha factura",
            "data fattura", "factuurdatum", "data faktury", "leistungsdatum",
            "data", "dato", "completed", "finished", "date", "date done", "done", "done on", "done at", "datum",
            "erledigt", "erledigt am", "fecha", "day", "tag",
        ),
        "odometer": (
            "stand", "km teller", "teller", "odo", "stan licznika km", "przebieg", "quilometragem", "kilometros",
            "chilometri", "chilometraggio", "kilometraje", "kilometres", "mi",
            "tacho", "kms", "km s", "kilometri", "compteur", "km compteur", "cuentakilometros", "contachilometri",
            "percorrenza", "tachometer", "tellerstand", "meterstand", "licznik", "przebieg km", "odometro",
            "quilometros", "quilometragem", "matarstallning", "miil", "milage", "mileage reading",
            "odometer value", "kilometrage compteur", "kilometraje actual", "km actuales", "km attuali",
            "stan licznika", "kilometers driven", "clock", "clocked",
            "odometer", "mileage", "km", "kilometer", "kilometers", "kilometerstand", "km stand", "kmstand",
            "laufleistung", "kilometrage", "miles",
        ),
        "odometer_unit": ("odometer unit", "distance unit"),
        "action": (
            "gedaan", "wat gedaan", "wat is er gedaan", "uitgevoerd", "uitgevoerd werk", "uitgevoerde werkzaamheden",
            "verricht", "verrichte werkzaamheden", "reparatie", "gemacht", "erledigte arbeiten", "reparatur",
            "massnahmen", "fait", "ce qui a ete fait", "travaux effectues", "travaux realises", "reparation",
            "reparations", "hecho", "que se hizo", "trabajos", "trabajos realizados", "reparacion", "fatto",
            "cosa e stato fatto", "lavori", "lavori eseguiti", "riparazione", "zrobione", "wykonane prace",
            "co zrobiono", "naprawa", "opis naprawy", "done", "what we did", "work performed", "repair", "repairs",
            "repairs done", "job description", "details of work", "feito", "servicos", "utfort",
            "op", "what", "do", "did", "arbeiten", "ausgefuhrte arbeit", "durchgefuhrte arbeit", "leistung", "was",
            "was gemacht", "was wurde gemacht", "intervention", "travaux", "travail effectue", "trabajo realizado",
            "accion", "intervencion", "azione", "intervento", "lavorazione", "werkzaamheden", "handeling", "werk",
            "prace", "usluga", "robota", "atgard", "acao", "servico", "job description", "description of work",
            "work carried out", "action taken", "done what",
            "opération", "actie", "czynnosc", "operazione", "operacion", "trabajo", "lavoro", "action taken",
            "job done", "type of work", "action", "work", "tatigkeit", "arbeit", "work done", "operation",
            "massnahme", "what was done", "act",
        ),
        "part": (
            "parts used", "used parts", "part used", "material used", "verwendete teile", "teile verwendet",
            "pieces utilisees", "piezas usadas", "piezas utilizadas", "ricambi usati", "gebruikte onderdelen",
            "uzyte czesci",
            "parts", "parts changed", "part changed", "changed parts", "parts put in", "gewechselte teile",
            "part description", "part desc", "description of part", "bauteil teil", "piece changee",
            "piece remplacee", "pieces", "pieza sustituida", "piezas",
            "componente", "parte", "ricambi", "vervangen onderdeel", "onderdelen", "wymieniona czesc", "czesci",
            "reservdel", "del", "peca", "item", "material", "artikel", "what part", "component part", "element",
            "onderdeel", "czesc", "ricambio", "pezzo", "repuesto", "recambio", "article", "spare part", "part",
            "fitted", "part fitted", "parts fitted", "what we fitted", "what was fitted", "replaced", "part replaced",
            "new part", "verbaut", "part name", "teil", "ersatzteil", "bauteil", "piece", "pieza", "component",
        ),
        "position": (
            "pos", "seite", "side", "emplacement", "posicion", "posizione", "plaats", "positie", "miejsce",
            "pozycja", "plats", "posicao", "location", "ort", "einbaulage", "where on car",
            "position", "place", "where", "einbauort", "lage",
        ),
        "supplier": (
            "fornitore", "leverancier", "dostawca", "leverantor", "fornecedor", "from", "bezugsquelle",
            "bought from", "source", "hersteller lieferant",
            "supplier", "lieferant", "fournisseur", "proveedor", "vendor",
        ),
        "part_cost": (
            "net", "net price", "net cost", "spent on part", "spent on parts", "paid for part", "paid for parts",
            "amount", "eur", "betrag", "netto", "preis netto", "material", "material netto", "teile netto",
            "part eur", "parts eur", "piece eur", "montant ht",
            "prix piece", "prix ht", "coste pieza", "precio pieza", "importe neto", "costo", "costo ricambio",
            "prezzo ricambio", "bedrag", "onderdeelprijs", "prijs onderdeel", "koszt", "koszt czesci", "kwota",
            "kostnad", "pris", "custo", "teilekosten", "materialkosten", "ersatzteilkosten", "ersatzteilpreis",
            "cout piece",
            "cout pieces", "prix pieces", "coste piezas", "costo ricambi", "prezzo ricambi", "onderdeelkosten",
            "kosten onderdelen", "onderdelen kosten", "cena czesci", "cena zakupu",
            "parts price", "cost eur", "price eur", "teile eur", "material eur",
            "parts",
            "montant", "cena", "prijs", "prezzo", "precio", "importe", "parts cost", "cost of part", "part cost",
            "materiel eur", "materials eur", "materiel", "material cost", "materials cost", "material costs",
            "part price", "cost", "price", "teilepreis", "kosten", "preis", "prix", "coste",
        ),
        "labour_minutes": (
            "werkuren", "arbeidsuren", "manuren", "arbeitsstunden", "werkstattstunden", "arbetstimmar", "arbeidstimer",
            "arbejdstimer",
            "std", "hrs", "h", "h mm", "hh mm", "h min", "work hours", "stunden arbeit", "ore lavoro",
            "horas trabajo",
            "labour min", "labor min", "work minutes", "work min", "arbeit min", "dauer", "dauer min", "zeit min",
            "aw min", "minuti", "minutos", "tiempo", "tempo", "temps", "duree", "duree min", "duracion", "durata",
            "tijd", "arbeidstijd", "czas", "czas pracy", "tid", "arbetstid", "hours", "stunden", "labour h",
            "arbeitsstunden", "heures", "horas", "ore", "uren", "godziny", "timmar",
            "mins", "min", "time taken", "labour mins", "labor mins", "temps min", "czas min", "tijd min",
            "tiempo min", "tempo min", "duration", "labour minutes",
            "labor minutes", "minutes", "minuten", "arbeitszeit", "labour", "labor", "labour time", "time",
            *WORK_UNITS,
            *WAGES,
        ),
        "note": ("note", "notes", "bemerkung", "remark", "comment", "remarque"),
    },
    "parts": {
        "part": (
            "part description", "article description", "designation", "denomination", "descripcion", "nombre",
            "descrizione", "nome", "omschrijving", "naam", "nazwa", "benamning", "artikel", "artikelbezeichnung",
            "item", "componente", "peca", "parte", "teilebezeichnung", "onderdelen", "pezzo",
            "onderdeel", "czesc", "ricambio", "repuesto", "recambio", "spare part", "article name", "part",
            "part name", "name", "teil", "ersatzteil", "bauteil", "bezeichnung", "piece", "pieza", "article",
        ),
        "also_called": (
            "altri nomi", "altro nome", "detto anche", "anche detto", "conosciuto come", "otros nombres",
            "otro nombre", "nombres alternativos", "tambien llamado", "tambien conocido como", "autres noms",
            "autre nom", "aussi connu sous", "appele aussi", "noms alternatifs", "andere namen", "andere name",
            "andere bezeichnungen", "weitere namen", "weitere bezeichnungen", "auch bekannt als",
            "alternative bezeichnung", "alternativnamen", "alternative names", "ook genoemd", "ook bekend als",
            "andere benamingen", "inne nazwy", "inna nazwa", "zwany tez", "znany jako", "nazwy alternatywne",
            "outros nomes", "andra namn", "also known as", "known as", "alternatives", "searched as", "search words",
            "aliases", "alias", "synonyme", "synonymes", "sinonimos", "sinonimi", "synoniemen", "synonimy",
            "auch genannt", "aussi appele", "tambien", "anche", "ook", "other name", "a k a", "aka", "otherwise",
            "also called", "synonyms", "auch", "other names",
        ),
        "part_cost": (
            "preis netto", "netto", "price net", "net price", "price eur", "prix ht", "prix unitaire",
            "precio unitario", "costo", "prezzo netto", "bedrag", "prijs netto", "koszt", "pris", "custo",
            "einkaufspreis", "purchase price", "eur", "ek", "cost eur", "our cost", "buying price", "cena netto",
            "prijs", "cena", "prezzo", "importe", "unit price", "list price", "price", "part cost", "cost",
            "part price", "preis", "teilepreis", "prix", "precio", "ek preis",
        ),
        "labour_minutes": (
            "std", "hrs", "h", "work hours", "stunden arbeit", "ore lavoro", "horas trabajo",
            "fit", "fit time",
            "einbau", "einbau min", "fitting", "fitting time", "fitting minutes", "fitting min", "temps de pose",
            "pose min", "pose", "tiempo montaje", "montaje", "montaje min", "montaggio", "montaggio min",
            "montage", "montage min", "montagetijd", "montaz", "czas montazu", "work min", "min labour",
            "labour time min", "zeit", "arbeit", "arbeit min", "fit min", "to fit",
            "mins", "min", "labour", "labor", "labour minutes", "labor minutes", "minutes", "minuten", "arbeitszeit",
            "einbauzeit",
            "labour time",
            *WORK_UNITS,
            *WAGES,
        ),
        "check_minutes": (
            "prufen", "pruefen", "prufen min", "test min", "testing", "check min", "controle min", "verifica min",
            "comprobacion", "time to check", "to check", "diagnosis min", "test time",
            "check minutes", "check", "check time", "prufzeit", "prova", "prova min", "tempo di prova", "prueba",
            "proba", "temps de test", "temps de controle", "testtijd", "czas sprawdzenia", "sprawdzenie",
            "tiempo de prueba",
        ),
        "supplier": (
            "fornitore", "leverancier", "dostawca", "leverantor", "fornecedor", "from", "bezugsquelle",
            "where from", "source",
            "supplier", "lieferant", "fournisseur", "proveedor", "vendor",
        ),
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
for _table, _columns in MORE_HEADINGS.items():
    for _column, _phrases in _columns.items():
        HEADINGS[_table][_column] = (*HEADINGS[_table].get(_column, ()), *_phrases)
for _table in ("stock", "repairs", "background"):  # a car is called alike wherever it stands
    _own = HEADINGS[_table]["vehicle"]
    HEADINGS[_table]["vehicle"] = (*_own, *(word for word in HEADINGS["scans"]["vehicle"] if word not in _own))
ERASED = (
    "faults erased", "erase", "codes cleared y n", "erased y n", "erased", "codes erased", "erased codes",
    "cleared", "codes cleared", "cleared codes", "faults cleared", "wiped",
    "codes wiped", "reset", "deleted", "codes deleted", "memory cleared", "fault memory cleared", "geloscht",
    "fehler geloscht", "codes geloscht", "fehlerspeicher geloscht", "efface", "codes effaces", "defauts effaces",
    "borrado", "codigos borrados", "cancellato", "codici cancellati", "gewist", "codes gewist", "skasowano",
    "skasowane", "apagado", *ERASED_TOO,
)  # fmt: skip
"""Headings of a column that says whether codes were erased at a visit."""
YES = (
    "yes", "y", "ja", "j", "oui", "o", "si", "s", "sim", "tak", "t", "true", "1", "x", "ok", "done", "erased",
    "cleared", "✓", "✔", *YES_TOO,
)  # fmt: skip
NO = ("no", "n", "nein", "nee", "non", "nao", "nie", "false", "f", "0", "-", "–", "not", "none", *NO_TOO)
FITTED = (
    "fitted", "replaced", "renewed", "new part", "changed", "ersetzt", "verbaut", "getauscht", "erneuert", *FITTED_TOO
)  # fmt: skip
"""Words in the heading of a column of parts that say that each of them was put in new."""
TIME_HEADINGS = (
    "time", "zeit", "uhrzeit", "heure", "hora", "ora", "time of day", "tijd", "godzina", "czas", "cas", "tid", "klo",
    *TIMES_TOO
)  # fmt: skip

STATUS: dict[str, tuple[str, ...]] = {
    "active": (
        "presenti", "presentes", "presentes ahora", "teraz", "maintenant", "jetzt",
        "wystepuje", "obecne", "trwa", "en ce moment", "in dit moment", "momenteel", "momenteel aanwezig",
        "aktualny", "aktualna", "aktualne", "biezacy", "actuales", "actuel", "actuels", "actifs", "activos",
        "attivi", "actieve", "aktive", "aktiver fehler", "actieve fout", "fallo activo", "averia activa",
        "guasto attivo", "defaut actif", "defaut present", "blad aktywny", "usterka aktywna", "momentaneo presente",
        "aktivna", "ativa", "activa", "attiva", "active fault now", "aktivt", "gegenwartig", "momentan vorhanden",
        "obecny", "obecna", "pritomna", "nuvarande", "naervaerende", "nykyinen", "en curso", "in corso",
        "en cours now",
        "aktywny", "aktywna", "actief", "actueel", "aanwezig", "aktywne", "ativo", "aktivni", "aktiivinen",
        "presente ahora", "en cours", "actuelle", "attuale", "actual fault", "is present", "active now",
        "act", "akt", "cur", "curr", "pres", "active", "aktiv", "current", "currently active", "present",
        "vorhanden", "anliegend", "anstehend",
        "statisch", "static", "permanent vorhanden", "dauerhaft vorhanden", "presente", "actif", "active fault",
        "there", "there now", "still there", "is there", "steht an", "liegt an", "noch da", "present now",
        "actual", "aktuell", "aktuell vorhanden", "activo", "attivo", "failing now", "test failed", "now",
    ),
    "pending": (
        "pendientes", "in sospeso", "en espera", "en suspens", "wstepny", "wstepna", "wachtende",
        "nog niet bevestigd", "noch nicht bestatigt", "da confermare", "por confirmar", "a confirmer", "oczekujace",
        "pen", "pend", "cekajici", "nepotvrzeny", "afventer", "ventende", "venter", "odottaa", "odottava",
        "fuggoben", "waiting",
        "ausstehend", "wartend", "erkannt", "vorlaufiger fehler", "wachtend", "voorlopig", "provvisorio",
        "provisorio",
        "oczekujacy", "oczekujaca", "niepotwierdzony", "in afwachting", "onbevestigd", "in behandeling", "pendente",
        "sospeso", "non confermato", "no confirmado", "avvaktande", "vantande", "maturing fault", "provisional",
        "vorlaufig gespeichert", "provisoirement", "pending", "vorlaufig", "unbestatigt", "nicht bestatigt",
        "not confirmed", "unconfirmed", "en attente", "pendiente", "maturing", "provisoire", "non confirme",
        "in attesa", "suspected",
    ),
    "confirmed": (
        "sporadico", "sporadica", "sporadici", "sporadiche", "esporadico", "esporadica", "esporadicos",
        "sporadiques", "sporadische", "sporadischer", "sporadischer fehler", "sporadyczny", "sporadyczna",
        "sporadyczne", "sporadiskt", "sporadisk", "sporadicky", "intermittente", "intermittenti", "intermittents",
        "intermitterend", "intermitterende", "inconstant",
        "intermitentes", "intermittens", "intermittierender fehler", "saltuario", "saltuaria", "discontinuo",
        "discontinua", "occasionale", "occasionnel", "occasionnelle", "ocasional", "occasional", "przerywany",
        "przerywana", "okresowy", "okresowa", "przejsciowy", "przejsciowa", "chwilowy", "chwilowa", "af en toe",
        "wisselend", "incidenteel", "niet constant", "zeitweise", "zeitweilig", "zeitweise vorhanden", "passager",
        "episodico", "memorizzati", "memorizzate", "memorizados", "memorises", "enregistres", "almacenados",
        "guardados", "guardada", "registrati", "salvato", "salvata", "zapamietany", "zapamietana", "zapamietane",
        "zapisane", "w pamieci", "in memoria", "en memoria", "en memoire", "in geheugen", "im speicher",
        "im fehlerspeicher", "gespeicherter fehler", "opgeslagen in geheugen", "bewaard", "vastgelegd",
        "geregistreerd", "zarejestrowany", "zarejestrowana", "fallo memorizado", "guasto memorizzato",
        "defaut memorise", "usterka zapisana", "fixed in memory",
        "sto", "stor", "conf", "gesp", "ulozena", "ulozeno", "potvrzeny", "potvrzena", "gemt", "lagrat",
        "bekraftad", "bekreftet", "bekraeftet",
        "vahvistettu", "tarolt", "gravado", "armazenada", "memorizada", "memorizzata", "almacenada", "confirmada",
        "abgelegt", "abgespeichert", "bestatigter fehler", "opgeslagen fout", "enregistree", "registrado",
        "zapisany", "zapisana", "potwierdzony", "bevestigd", "gememoriseerd", "lagrad", "lagret", "tallennettu",
        "ulozeny", "armazenado", "confirmado", "confermato", "registrato", "enregistre", "memorise confirme",
        "guardado", "almacenado", "in memory", "dauerhaft gespeichert", "confirmed", "stored", "gespeichert",
        "bestatigt", "memorise", "memorisee", "memorizado", "memorizzato", "saved", "intermittent", "fest",
        "sporadisch", "sporadic", "sporadique", "intermittierend", "intermitente", "fugitif", "opgeslagen",
        "stored fault", "confirme", "recorded", "logged", "hinterlegt", "abgespeicherter fehler",
    ),
    "permanent": (
        "staly", "stala", "fisso", "fissa", "fija", "blijvend",
        "perm", "permanenter fehler", "permanent code", "permanent", "permanent dtc", "permanente", "permanenta",
        "permanentny",
        "permanentni", "trwaly", "trvaly", "permanent fault", "pysyva",
    ),
    "history": (
        "storici", "historicos", "historiques", "nieobecny", "nieobecna", "byly", "dawna", "niet meer aanwezig",
        "niet actief", "nie wystepuje", "ya no presente", "non piu presente", "plus present", "plus actuel",
        "precedente", "precedent", "anterior", "anteriores", "vorige", "eerder", "eerdere", "ehemals",
        "wczesniejszy", "wczesniejsza", "poprzedni",
        "his", "hist", "historicky", "historicka", "tidligere", "tidigare", "aiempi", "korabbi", "antigo",
        "antiguo", "ancien",
        "vecchio", "oud", "alt", "fruherer fehler", "przeszly", "dawny", "historica", "storica", "erledigt",
        "passado", "passada", "storico", "historyczny", "historyczna", "nieaktywny", "historico", "historisk",
        "inactief", "niet aanwezig", "passief", "pasado", "passato", "passe", "non actif", "non attivo",
        "no presente", "no activo", "historie", "archiviert", "ehemalig", "memorised past", "disparu", "history",
        "historic", "historical", "past", "passiv", "passive", "passif", "inactive", "inaktiv", "inactif",
        "not present", "nicht vorhanden", "not active", "nicht aktiv", "historique", "historisch", "previous",
        "previously present", "fruher", "pasivo", "absent", "non present", "no longer present",
        "gone", "gone now", "was there", "not there", "not there now", "no longer active", "nicht mehr da", "weg",
        "nicht mehr vorhanden", "cleared", "old", "historik", "historikk",
    ),
}  # fmt: skip
ACTIONS: dict[str, tuple[str, ...]] = {
    "replace": (
        "ersetzen", "erneuern", "tauschen", "austauschen", "wechseln", "wechsel", "neu eingebaut", "remplacer",
        "remplacee", "remplaces", "remplacees", "changer", "change", "changee", "echange", "echanger", "sustituir",
        "sustituida", "sustituidos", "sustituidas", "reemplazar", "reemplazada", "reemplazo", "cambiar", "cambiada",
        "sostituire", "sostituita", "sostituiti", "sostituite", "cambiare", "cambiato", "cambiata", "rimpiazzato",
        "vervang", "vervanging", "vernieuwd", "vernieuwen", "gewisseld", "verwisseld", "omgeruild",
        "nieuw gemonteerd", "wymienic", "wymieniona", "wymienione", "wymien", "zmieniono", "substituir",
        "substituida", "trocar", "trocado", "byte", "bytte", "udskiftet", "skiftet", "exchanging", "renew", "swap",
        "changing",
        "sustitucion", "reemplazado", "sostituito", "sostituzione", "vervangen", "wymiana", "wymieniono",
        "wymieniony", "substituido", "bytt", "replacement", "exchange", "exchanged", "swapped", "cambiado", "replace",
        "replaced", "renewed", "new", "ersetzt", "erneuert", "getauscht", "ausgetauscht", "gewechselt", "tausch",
        "austausch", "remplace", "remplacement", "changed", "fitted new", "sustituido",
    ),
    "repair": (
        "reparieren", "instandsetzen", "instand setzen", "instandsetzung", "reparer", "reparee", "remis en etat",
        "reparar", "reparada", "arreglar", "arreglado", "arreglada", "riparare", "riparata", "aggiustato",
        "aggiustare", "repareren", "herstellen", "reparatie", "gemaakt", "naprawic", "naprawiony", "naprawiona",
        "naprawione", "consertado", "reparerad", "fix", "mend",
        "reparado", "riparato", "riparazione", "gerepareerd", "naprawa", "naprawiono", "mended", "repair",
        "hersteld", "herstelling",
        "instand gesetzt", "repaired",
        "repariert", "instandgesetzt", "reparatur", "repare", "reparation", "fixed",
    ),
    "clean": (
        "reinigen", "saubern", "gesaubert", "nettoyer", "nettoyee", "nettoyes", "limpiar", "limpiada", "limpiados",
        "pulire", "pulita", "pulizia di", "schoonmaken", "schoongemaakte", "reiniging", "czyscic", "wyczyscic",
        "wyczyszczono", "oczyszczono", "oczyscic", "czyszczono", "limpar", "limpo", "limpeza", "rengjord",
        "rengjort", "cleaning",
        "limpiado", "limpieza", "pulito", "pulizia", "gereinigd", "czyszczenie", "schoongemaakt", "clean", "cleaned",
        "gereinigt", "reinigung", "nettoye", "nettoyage",
    ),
    "adjust": (
        "einstellen", "justieren", "anpassen", "anlernen", "nachziehen", "kalibrieren", "kalibrierung",
        "einstellung", "regler", "reglee", "ajuster", "ajustee", "calibrer", "etalonner", "etalonnage", "recaler",
        "calage", "ajustar", "ajustada", "regular", "regulado", "calibrar", "calibracion", "apretar", "regolare",
        "regolata", "registrare", "calibrare", "tarato", "taratura", "calibrazione", "afstellen", "afstelling",
        "bijstellen", "bijgesteld", "kalibreren", "afregelen", "afgeregeld", "ingeregeld", "vastgezet",
        "wyregulowano", "wyregulowac", "regulowac", "ustawiono", "ustawic", "kalibracja", "skalibrowano",
        "dostrojono", "calibration", "align", "alignment", "tighten", "adjusting",
        "ajustado", "ajuste", "regolato", "afgesteld", "regulacja", "adjust", "adjusted", "eingestellt", "justiert",
        "regle", "reglage", "tightened", "aligned", "calibrated", "kalibriert", "calibre", "calibrado", "angepasst",
        "angelernt", "nachgezogen", "justierung", "grundeinstellung", "gekalibreerd", "calibrato",
    ),
    "software": (
        "programmieren", "codieren", "codierung", "aktualisiert", "aktualisieren", "software aktualisiert",
        "programmer", "coder", "mettre a jour", "mis a jour", "reprogrammation", "programar", "programado",
        "codificar", "codificado", "actualizar", "actualizado", "reprogramado", "programmare", "programmato",
        "codificare", "codificato", "aggiornare", "aggiornato", "riprogrammato", "programmeren", "geprogrammeerd",
        "coderen", "gecodeerd", "bijgewerkt", "bijwerken", "updaten", "geupdatet", "zaprogramowano", "programowanie",
        "zaktualizowano", "zakodowano", "kodowanie", "programming", "coding", "flash",
        "actualizacion", "aggiornamento", "aktualizacja", "flashed", "reprogrammed", "reprogramme", "programmation",
        "codage", "software", "update", "software update", "coded", "codiert", "programmed", "programmiert",
        "mise a jour", "mise a jour logicielle", "mise a jour logiciel", "mise a jour du logiciel",
        "actualizacion de software", "actualizacion software", "aggiornamento software", "aktualizacja oprogramowania",
    ),
    "inspect": (
        "prufen", "kontrollieren", "uberpruft", "uberprufen", "kontrolle", "sichtprufung", "verifier", "verifiee",
        "controler", "controlee", "controles", "inspecter", "inspecte", "comprobar", "comprobada", "revisar",
        "revisado", "revisada", "verificar", "verificado", "inspeccionar", "inspeccionado", "comprobacion",
        "controllare", "controllata", "verificare", "verificato", "verificata", "ispezionato", "ispezionare",
        "controllo", "controleren", "nagekeken", "nakijken", "nagezien", "bekeken", "geinspecteerd", "inspecteren",
        "sprawdzic", "sprawdzony", "sprawdzona", "sprawdzone", "skontrolowano", "skontrolowac", "przeglad",
        "ogledziny", "verificada", "kontrollerad", "kontrolleret", "look over", "looked at", "examined", "checking",
        "comprobado", "revision", "controllato", "verifica", "gecontroleerd", "sprawdzono", "kontrola", "verifie",
        "kontrolliert", "geprueft", "diagnose", "diagnosis", "inspect", "inspected", "checked", "gepruft", "prufung",
        "check", "controle", "inspection",
    ),
    "erase": (
        "loschen", "effacer", "effacee", "effaces", "effacees", "borrar", "borrados", "borradas", "borrada",
        "cancellare", "cancellata", "cancellati", "cancellazione", "resettato", "wissen", "gewiste", "leeggemaakt",
        "kasowanie", "skasowac", "usunieto", "wyczyszczono pamiec", "wykasowano", "kasowac", "apagar", "apagados",
        "raderat", "raderade", "slettet", "clear", "delete", "deleted", "wipe", "wiped", "borrado de memoria",
        "borrado de averias", "effacement des defauts", "cancellazione errori", "kasowanie bledow",
        "foutgeheugen gewist", "foutcodes gewist", "fouten gewist", "storingen gewist", "geheugen gewist",
        "memoria borrada", "codigos borrados", "averias borradas", "defauts effaces", "codes effaces",
        "memoire effacee", "memoria cancellata", "errori cancellati", "codici cancellati", "erased dtcs",
        "erased codes",
        "cleared codes", "cleared dtcs", "dtcs erased", "dtcs cleared", "faults cleared", "fault memory cleared",
        "fault memory erased", "borrado", "cancellato", "gewist", "skasowano", "efface defauts", "effacement",
        "fehlerspeicher geloscht",
        "codes cleared", "clear codes", "erase", "erased", "codes erased", "cleared", "geloscht", "fehler geloscht",
        "efface", "reset", "zuruckgesetzt", "reinitialise", "azzerato", "reiniciado", "gereset", "zresetowano",
        "nollstalld",
        "deleted", "codes deleted", "deleted codes", "deleted faults", "memory cleared", "cleared memory", "wiped",
        "codes wiped", "wiped codes", "only erased", "just erased", "erased only", "erase only", "nur geloscht",
    ),
}  # fmt: skip
MODULES: dict[str, tuple[str, ...]] = {
    "ECM": (
        "silnik", "motormanagement", "motorstyrning", "unidad motor", "control motor", "controllo motore",
        "centralina motore", "centralita motor", "moteur essence", "motorregeleenheid", "digital engine electronics",
        "motor", "motorsteuergerat", "motorelektronik", "motorsteuerung", "moteur", "injection", "motore",
        "engine control unit", "gestion moteur", "gestao do motor", "ridici jednotka motoru", "motorvezerlo",
        "moottori", "motorstyring", "motronic", "motor elektronik", "motormanagement motor", "motorstyrenhet",
        "controle moteur", "gestion du moteur", "calculateur d injection", "unidad de control del motor",
        "gestion del motor", "electronica del motor", "centralina di controllo motore", "motore benzina",
        "motore diesel", "motorregeling", "motorsturing", "motor management", "sterownik silnika",
        "komputer silnika", "motor control", "central do motor", "unidade do motor", "rizeni motoru",
        "moottorinohjaus", "engine management", "engine electronics",
    ),
    "TCM": (
        "skrzynia biegow", "versnellingsbak", "transmissie", "caja de cambios", "transmision", "trasmissione",
        "boite automatique", "vaxellada", "automaat", "boite", "getriebe", "getriebesteuergerat",
        "automatikgetriebe", "automatic gearbox",
        "getriebesteuerung", "boite de vitesses", "cambio", "cambio automatico", "transmissao",
        "caixa de velocidades", "prevodovka", "vaihteisto", "gearkasse", "girkasse", "sebessegvalto", "valto",
        "automatikgetriebe steuerung", "automatik", "automatgetriebe", "schaltgetriebe", "getriebeelektronik",
        "boite de vitesse", "boite auto", "bva", "transmision automatica", "cambio automatico at",
        "cambio robotizzato", "centralina cambio", "automatische transmissie", "automatische versnellingsbak",
        "transmissieregeling", "automatyczna skrzynia biegow", "sterownik skrzyni biegow", "automatlada",
        "automatvaxellada", "caixa automatica", "automaticka prevodovka", "gearbox electronics",
    ),
    "ABS": (
        "hamulce", "remmen", "remsysteem", "bromsar", "brakes", "brake", "braking", "freni abs", "sistema frenante",
        "antiblockiersystem", "esp",
        "frenado", "bremssystem", "bremsen", "bremse", "bremsanlage", "bremselektronik", "freins", "freinage",
        "frenos", "freni", "travoes", "freios", "brzdy", "jarrut", "bremser", "fekek", "abs esp", "abs asr",
        "abs dsc", "anti blocage", "abs esp bremse", "bremsen abs", "abs bremsen", "bremsregelung",
        "bremsanlage abs", "antiblockage", "freinage abs", "freins abs", "abs esc", "sistema de frenos",
        "frenos abs", "freno abs", "impianto frenante", "abs remsysteem", "abs remmen", "remregeling",
        "uklad hamulcowy", "hamulce abs", "abs bromsar", "bromssystem", "travoes abs", "brzdovy system",
        "abs brake system", "brake control", "brake system", "brakes abs", "antilock brakes",
    ),
    "BCM": (
        "nadwozie", "carrosserie", "carrozzeria", "body computer", "boordcomputer", "comfort", "komfort",
        "komfortsystem", "komfortelektronik", "habitaculo", "abitacolo", "kaross", "karosserie", "bordnetz",
        "bordnetzsteuergerat", "zentralelektronik", "habitacle", "carroceria", "komfortsteuergerat",
        "komfortsystem zentral", "carrocaria", "carroceria interior", "karoserie", "kori", "karosseri",
        "karosszeria", "komfortni elektronika", "body control", "body electronics", "body", "boitier habitacle",
        "confort", "confort habitacle", "bordnetzsteuerung", "zentralelektronik bordnetz", "karosserieelektronik",
        "karosseriesteuerung", "boitier de servitude intelligent", "boitier de servitude", "bsi",
        "electronique carrosserie", "module carrosserie", "carroceria bcm", "electronica de carroceria",
        "electronica central", "centralita de confort", "centralina carrozzeria", "centralina abitacolo",
        "elettronica carrozzeria", "carrosserie elektronica", "centrale elektronica", "boordelektronica",
        "modul nadwozia", "elektronika nadwozia", "karosselektronik", "modulo da carroceria",
        "eletronica da carroceria", "body elektronik",
    ),
    "SRS": (
        "poduszki powietrzne", "krockkudde", "airbag", "bolsas de aire", "airbag system", "airbagsteuergerat",
        "ruckhaltesystem", "airbags", "coussins gonflables", "sac gonflable", "airbag srs", "turvatyyny",
        "kollisionspude", "kollisjonspute", "legzsak", "airbags srs", "retention", "ruckhaltesysteme", "srs airbag",
        "airbagsystem", "airbag steuergerat", "ruckhaltesysteme airbag", "insassenschutz", "airbags pretensionneurs",
        "retenue", "systeme de retenue", "sistema de retencion", "bolsa de aire", "airbag y pretensores",
        "sistema airbag", "airbag e pretensionatori", "airbagmodule", "airbagsysteem", "poduszka powietrzna",
        "system poduszek powietrznych", "airbag system srs", "krockkuddar", "restraint", "restraints",
        "restraint system",
    ),
    "EPS": (
        "wspomaganie", "stuurbekrachtiging", "servostyrning", "servosterzo", "direccion", "sterzo",
        "direccion asistida", "lenkung", "servolenkung", "lenkhilfe", "direction assistee", "direction",
        "elektrische lenkung", "elektrische servolenkung", "stuurinrichting", "elektrische stuurbekrachtiging",
        "servo direccion", "servodireccion", "direction assistee electrique", "sterzo elettrico",
        "direcao assistida", "direcao", "wspomaganie kierownicy", "uklad kierowniczy", "servostyring",
        "posilovac rizeni", "rizeni", "ohjaustehostin",
    ),
    "IPC": (
        "zegary", "instrumentenpaneel", "cuadro de instrumentos", "quadro strumenti", "strumentazione",
        "instrument panel", "cluster", "kombiinstrument", "schalttafeleinsatz", "combine", "tableau de bord",
        "instrument cluster", "instruments", "dash", "combination meter", "meter", "painel de instrumentos",
        "quadro de instrumentos", "pristrojova deska", "pristrojovy panel", "mittaristo", "instrumentpanel",
        "instrumentering", "muszerfal", "zestaw wskaznikow", "licznik", "tachosteuergerat", "combi instrument",
        "combine d instruments", "combine instruments", "instrumenten", "dashboard", "cuadro", "instrumente",
        "kombi instrument", "cockpit", "instrumenteneinheit", "bloc compteurs", "afficheur",
        "panel de instrumentos", "instrumentacion", "strumento combinato", "quadro di bordo", "cruscotto",
        "instrumentencluster", "tablica wskaznikow", "kombinationsinstrument", "painel", "instrumentos",
        "instrument panel cluster", "instruments cluster", "instrumentenbord",
    ),
    "HVAC": (
        "klimatyzacja", "climate", "climatizacion", "climatizzatore", "climatisation auto", "airco", "klima",
        "klimaanlage", "klimatisierung", "climatisation", "climatizador", "aire acondicionado",
        "climatisation automatique", "airconditioning", "klimatbedieningseenheid", "klimasteuergerat",
        "klimabedienteil", "klimaautomatik", "heizung", "heizung klima", "aria condizionata", "ar condicionado",
        "climatizacao", "klimatyzacja automatyczna", "klimatanlaggning", "klimatisation", "klimaanlaeg",
        "climatizacion automatica", "klimatregeling", "klimaatregeling", "airconditioning airco",
    ),
    "EPB": (
        "parkbremse", "feststellbremse", "frein de stationnement", "elektrische parkbremse",
        "elektrische handbremse", "frein de parking", "frein a main electrique", "frein de stationnement electrique",
        "freno de estacionamiento", "freno de mano electrico", "freno di stazionamento", "freno a mano elettrico",
        "elektrische parkeerrem", "parkeerrem", "hamulec postojowy", "parkeringsbroms", "travao de estacionamento",
        "handbremse",
    ),
    "IMMO": (
        "wegfahrsperre", "antidemarrage", "immobilizer", "immobiliser", "startunterbrecher", "antiarranque",
        "inmovilizador", "immobilizzatore", "startonderbreker", "startblokkering", "imobilizador", "imobilizer",
        "immobilajzer", "startsparr", "immobilisateur",
    ),
    "RADIO": (
        "radio", "autoradio", "radiogerat", "sistema audio", "audio", "radio navigation", "navigation", "navigatie",
        "navegador", "navigazione", "infotainment", "multimedia", "unite principale", "kopfeinheit",
        "unidad principal", "estereo", "equipo de audio", "radioodtwarzacz", "ljudanlaggning", "bilradio",
        "radio multimedia", "radio navigatie",
    ),
    "PAM": (
        "einparkhilfe", "parkhilfe", "park distance control", "parkpilot", "rangierhilfe", "aide au stationnement",
        "aide au parking", "ayuda de aparcamiento", "ayuda al aparcamiento", "asistente de aparcamiento",
        "sensores de aparcamiento", "sensori di parcheggio", "assistenza parcheggio", "ausilio parcheggio",
        "parkeerhulp", "parkeersensoren", "czujniki parkowania", "asystent parkowania", "parkeringshjalp",
        "parkeringssensor", "parkovaci asistent", "sensores de estacionamento", "assistencia ao estacionamento",
        "parking assistance", "parking aid", "parkassistent",
    ),
    "TPMS": (
        "reifendruckkontrolle", "reifendruck", "reifendruckuberwachung", "pression des pneus",
        "surveillance pression pneus", "presion de neumaticos", "control de presion de neumaticos",
        "pressione pneumatici", "bandenspanning", "bandenspanningscontrole", "cisnienie w oponach", "dacktryck",
        "pressao dos pneus", "tyre pressure monitoring", "tire pressure monitoring",
    ),
    "GWM": (
        "gateway modul", "passerelle", "pasarela", "diagnose gateway", "diagnoseinterface", "diagnosi gateway",
        "zentrales gateway", "brama",
    ),
    "HLL": (
        "leuchtweitenregulierung", "leuchtweitenregelung", "scheinwerfer", "phares", "correcteur de phares", "faros",
        "regulacion de faros", "fari", "assetto fari", "koplampen", "koplampverstelling", "reflektory",
        "stralkastare",
    ),
    "AWD": (
        "allrad", "allradantrieb", "quatre roues motrices", "traccion total", "traccion integral",
        "trazione integrale", "vierwielaandrijving", "naped 4x4", "fyrhjulsdrift", "haldex",
    ),
    "ASU": (
        "luftfederung", "niveauregulierung", "fahrwerk", "suspension pneumatique", "suspension neumatica",
        "sospensioni", "luchtvering", "zawieszenie", "luftfjadring",
    ),
    "DDM": (
        "fahrertur", "tursteuergerat fahrer", "tur fahrerseite", "porte conducteur", "puerta conductor",
        "puerta del conductor", "porta conducente", "porta guidatore", "bestuurdersportier", "drzwi kierowcy",
        "forardorr",
    ),
    "PDM": (
        "beifahrertur", "tur beifahrerseite", "porte passager", "puerta pasajero", "puerta acompanante",
        "porta passeggero", "passagiersportier", "drzwi pasazera",
    ),
    "SEAT": (
        "sitzverstellung", "sitz", "sitzheizung", "siege", "asiento", "sedile", "stoel", "fotel", "sate",
    ),
    "FPCM": (
        "kraftstoffpumpe", "pompe a carburant", "bomba de combustible", "pompa carburante", "brandstofpomp",
        "pompa paliwa",
    ),
    "GPCM": (
        "vorgluhanlage", "gluhzeitsteuergerat", "prechauffage", "precalentamiento", "preriscaldamento", "candelette",
        "gloeitijdrelais",
    ),
    "FCAM": (
        "frontkamera", "camera avant", "camara delantera", "telecamera anteriore", "frontcamera", "kamera",
    ),
    "FCM": (
        "abstandsregelung", "abstandsradar", "regulateur de distance", "control de crucero adaptativo",
        "cruise control adattivo", "afstandsregeling",
    ),
    "SAS": (
        "lenkwinkelsensor", "capteur d angle de braquage", "sensor de angulo de direccion", "sensore angolo sterzo",
        "stuurhoeksensor",
    ),
    "SCM": (
        "lenksaulenelektronik", "lenksaule", "colonne de direction", "columna de direccion", "piantone sterzo",
        "stuurkolom",
    ),
    "BECM": (
        "hochvoltbatterie", "hv batterie", "batterie haute tension", "bateria de alta tension",
        "batteria alta tensione", "hv batterij", "hoogspanningsbatterij",
    ),
    "TEL": (
        "telematik", "telematique", "telematica", "notruf", "emergency call",
    ),
}  # fmt: skip


def _loosely(pattern: str) -> re.Pattern[str]:
    """Compile a pattern of words; programs write an underscore, a dash or nothing for a blank: ``no_answer``."""
    return re.compile(re.sub(r"(\[[^\]]*\])| ", lambda found: found[1] or "[ _-]?", pattern), re.IGNORECASE)


for _meanings, _more in ((STATUS, MORE_STATES), (ACTIONS, MORE_WORK), (MODULES, MORE_MODULES)):
    for _means, _phrases in _more.items():
        _meanings[_means] = (*_meanings[_means], *_phrases)
NO_CODES = _loosely(
    r"(?<!\w)i\.? ?o\.?(?!\w)|(?<!\w)o\. ?b\.?(?!\w)|(?<!\w)[ob]\. ?[kz]\.?(?!\w)"
    r"|\b(?:no (?:fault|code|dtc|trouble|error)s?(?: codes?)?|nothing(?: stored)?|nichts|none(?: stored)?|ok|okay|ras"
    r"|kein(?:e[rsmn]?)?|(?:nessun[oa]?|ningun[oa]s?|ning[uú]n|nenhum[ao]?|żaden|żadn[eay]|aucune)(?!\W+\w)"
    r"|keine? fehler\w*|fehlerfrei|aucun|aucun d[eé]faut|pas de d[eé]faut|sin (?:aver[ií]as?|c[oó]digos|fallos)"
    r"|nessun (?:guasto|errore|codice)|clear|clean|kein eintrag|keine eintr[aä]ge|ohne befund"
    r"|geen (?:fout(?:en)?|storing(?:en)?|(?:fout|storings)codes?|codes|(?:fout)?meldingen)|geen(?! [^\W\d_])"
    r"|brak (?:b[lł][eę]d[oó]w|usterek|kod[oó]w|wpis[oó]w)|brak(?! [^\W\d_])|sem avarias"
    r"|not? (?:stored |trouble |fault |active )+(?:codes?|faults?)|0 (?:codes|faults|dtcs?|fehler)|nihil|nil|passed"
    r"|n/a|faultless|fault[- ]free|without (?:any )?(?:faults?|codes?|errors?)|in ordnung|in orde|ohne fehler|fehlerlos"
    r"|sans (?:d[eé]faut|erreur|code)s?|aucune? (?:erreur|panne|anomalie|code)|n[eé]ant|rien|pas d[e']\s?erreurs?"
    r"|sin (?:errores|fallas|anomal[ií]as|incidencias)|ning[uú]n[ao]? \w+|nada|nessuna? \w+|niente|nulla|tutto ok"
    r"|nenhum[ao]? \w+|sem (?:falhas|erros|c[oó]digos)|nic|bez (?:b[lł][eę]d[oó]w|z[aá]vad|chyb|kod[oó]w)"
    r"|inga? (?:fel|koder)\w*|ingen (?:fel|fejl|feil|koder)\w*|utan fel|uden fejl|uten feil|ei (?:vikoja|vikakoodeja)"
    rf"|[zž][aá]dn[eéaáyý] \w+|nincs \w+|niets|geen \w+|{NO_CODES_TOO})\b|^[-–—/.]+$",
)
SILENT = _loosely(
    r"\b(?:(?:no|without(?: an?)?) (?:answer|response|reply|communication|resp\b\.?)"
    r"|ohne (?:antwort|reaktion|verbindung|kommunikation|r[uü]ckmeldung)|sans (?:r[eé]ponse|communication)"
    r"|senza (?:risposta|comunicazione)|zonder (?:antwoord|reactie|communicatie|verbinding)"
    r"|bez (?:odpowiedzi|komunikacji)"
    r"|not? (?:answer|respond)\w*|did not answer|silent|unreachable"
    r"|not reachable|keine (?:antwort|kommunikation|verbindung|reaktion)|antwortet nicht|reagiert nicht"
    r"|nicht erreichbar|pas de (?:r[eé]ponse|communication)|aucune r[eé]ponse|ne r[eé]pond pas"
    r"|sin (?:respuesta|comunicaci[oó]n)|no responde|nessuna risposta|non risponde|sem resposta|n[aã]o responde"
    r"|geen (?:antwoord|reactie|communicatie|verbinding)|antwoordt niet|reageert niet|niet bereikbaar"
    r"|inget svar|ingen kontakt|svarar inte|intet svar|brak (?:odpowiedzi|komunikacji|po[lł][aą]czenia)"
    r"|nie odpowiada|time[ -]?out|timed out|(?:cannot|unable to|could not) (?:communicate|connect)|not responding"
    r"|communication (?:error|failure|lost)|no (?:connection|contact|comms?)|offline|zeit[uü]berschreitung"
    r"|kommunikationsfehler|keine r[uü]ckmeldung|kein kontakt|injoignable|pas de connexion|d[eé]lai d[eé]pass[eé]"
    r"|erreur de communication|sin conexi[oó]n|sin contacto|no contesta|tiempo agotado|error de comunicaci[oó]n"
    r"|nessuna (?:comunicazione|connessione)|non raggiungibile|tempo scaduto|errore di comunicazione|geen contact"
    r"|communicatiefout|mut[oa]|muette?|stumm"
    rf"|b[lł][aą]d komunikacji|brak (?:kontaktu|reakcji|[lł][aą]czno[sś]ci|transmisji)"
    rf"|sem comunica[cç][aã]o|{SILENT_TOO})\b",
)
GROUPS_OF_PARTS = (
    "engine", "chassis", "electrical", "electrics", "electronics", "bodywork", "interior", "exterior", "exhaust",
    "cooling", "fuel", "ignition", "gearbox", "drivetrain", "suspension", "brakes", "steering", "lighting", "lights",
    "sensors", "filters", "consumables", "general", "other", "others", "miscellaneous", "various", "parts",
    "motor", "motorraum", "fahrwerk", "bremsen", "bremse", "elektrik", "karosserie", "innenraum", "auspuff",
    "kuhlung", "kraftstoff", "zundung", "getriebe", "lenkung", "beleuchtung", "sensoren", "filter", "sonstiges",
    "moteur", "freins", "electricite", "carrosserie", "echappement", "refroidissement", "allumage", "boite",
    "eclairage", "capteurs", "filtres", "divers", "autres", "frenos", "electricidad", "carroceria", "escape",
    "refrigeracion", "encendido", "suspension", "sensores", "varios", "otros", "freni", "sensori", "varie", "altro",
    "remmen", "onderstel", "elektra", "uitlaat", "koeling", "ontsteking", "verlichting", "overig", "overige",
)  # fmt: skip
"""Words, folded, in the headings of a price book that group parts by where they belong in a car: no supplier's name."""
KIND_OF_SCAN = re.compile(
    r"(?:pre|post|before|after|vor(?:her)?|nach(?:her)?|avant|apres|antes|despues|prima|dopo)"
    r"(?: (?:the )?(?:scan|repair|job|work|reparatur|reparation|reparacion|riparazione))?(?: scan)?"
)
"""Words, folded, that say of a scan whether it was made before or after the repair: no state of a code."""
NOT_READ = _loosely(
    r"\b(?:not (?:read|scanned|fitted|tested|installed|equipped|queried)|skipped"
    r"|nicht (?:gelesen|verbaut|ausgelesen|abgefragt|gepr[uü]ft)|[uü]bersprungen|non lue?s?|pas lue?s?|non mont[eé]e?"
    r"|niet (?:gelezen|uitgelezen|gescand|gemonteerd|getest)|overgeslagen|non (?:lett[oaie]|scansionat[oa]|montat[oa])"
    r"|no (?:le[ií]d[oa]s?|escanead[oa]|montad[oa])|sin leer|saltad[oa]|omitid[oa]|nie (?:odczytan\w+|zamontowan\w+)"
    r"|pomini[eę]t\w+|n[aã]o lid[oa]|ej l[aä]st|ikke l[aæ]st)\b",
)
_UNIT = re.compile(
    r"[(\[]?\b(km|mi|miles|meilen|min|minutes|minuten|minuter|minutter|minuti|minutos|minuty|h|hours|stunden|std|timmar"
    r"|timer|horas|heures|godz|eur|euro|usd|gbp|chf|pln|zł|kr|kč|kc|sek|dkk|nok|czk|huf|ft|ron|lei)\b[.)\]]*"
    r"|[(\[]?[€$£][)\]]?",
    re.IGNORECASE,
)
_UNITS = {
    **dict.fromkeys(("miles", "meilen"), "mi"),
    **dict.fromkeys(("minutes", "minuten", "minuter", "minutter", "minuti", "minutos", "minuty"), "min"),
    **dict.fromkeys(("hours", "stunden", "std", "timmar", "timer", "horas", "heures", "godz"), "h"),
}


_NOT_TAKEN_APART = str.maketrans(
    {"œ": "oe", "Œ": "OE", "ß": "ss", "ł": "l", "Ł": "L", "ø": "o", "Ø": "O", "đ": "d", "æ": "ae", "Æ": "AE"}
)


_NUMBER_SIGN = re.compile(r"\b([Nn])\.\s?[º°]")


def folded(text: str) -> str:
    """Return a text in small letters, without accents, signs as single spaces; words run together are parted."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", _NUMBER_SIGN.sub(r"\1º", text))
    plain = unicodedata.normalize("NFKD", apart.translate(_NOT_TAKEN_APART)).encode("ascii", "ignore").decode().lower()
    return " ".join(re.findall(r"[a-z0-9]+", plain))


_NUMBER_OF = {
    "n", "no", "nr", "num", "numero", "number", "numer", "nummer", "nro", "id", "ref", "rif", "referenz", "reference",
    "riferimento", "referencia", "referentie", "code", "cod", "codigo", "codice", "kod", "key",
}  # fmt: skip
_OF_A_CAR = {
    "car", "vehicle", "stock", "yard", "lot", "fleet", "unit", "internal", "our", "auto", "autos", "wagen", "fahrzeug",
    "fzg", "bestand", "bestands", "lager", "hof", "intern", "interne", "unser", "unsere", "voiture", "vehicule", "parc",
    "coche", "vehiculo", "existencias", "parque", "interno", "interna", "vettura", "veicolo", "macchina",
    "parco", "magazzino", "voertuig", "voorraad", "wagenpark", "pojazd", "pojazdu", "samochod", "samochodu",
    "auta", "wewnetrzny", "magazynowy", "ewidencyjny", "carro", "veiculo", "viatura", "bil", "fordon",
}  # fmt: skip
_BETWEEN_THEM = {"de", "du", "di", "del", "della", "dell", "do", "da", "van", "of", "the", "le", "la", "el", "des"}


def numbers_cars(heading: str) -> bool:
    """Say whether a folded heading is a word for a number beside a word for a car or a stock: ``nr auta``."""
    words = heading.split()
    if len(words) == 1:  # Wagennummer, voertuignr
        ends = (word for word in ("nummer", "number", "nr", "no", "id", "code") if heading.endswith(word))
        return any(heading.removesuffix(word).removesuffix("s") in _OF_A_CAR for word in ends)
    known = all(word in _NUMBER_OF or word in _OF_A_CAR or word in _BETWEEN_THEM for word in words)
    return known and bool(_NUMBER_OF & {*words}) and bool(_OF_A_CAR & {*words})


def units_of(heading: str) -> list[str]:
    """Return the units that a heading names: km, mi, min, h, or those of money in small letters."""
    apart = re.sub(r"(?<=[a-z])(?=[A-Z])|_", " ", heading)
    found = [match[1].lower() for match in _UNIT.finditer(apart) if match[1]]
    return [_UNITS.get(unit, unit) for unit in found]


def known_in(words: dict[str, tuple[str, ...]], text: str) -> str | None:
    """Return what a text means in one of the lists here, or None."""
    plain = folded(text)
    found = next((means for means, spellings in words.items() if plain in spellings or plain == means), None)
    if found is None and words is ACTIONS and erases(plain):
        return "erase"
    parts = re.split(r"[,/+&]", text) if found is None and words is STATUS else []
    told = {known_in(words, part) for part in parts} if 1 < len(parts) <= _MOST_STATES else set()
    return told.pop() if len(told) == 1 else found


_MOST_STATES = 3  # stored, intermittent: names of one state beside each other are that state


def legend_in(lines: Iterable[str]) -> dict[str, str]:
    """Return what lines like ``A = active, S = stored`` say that marks mean: states of codes, else work."""
    lines = [*lines]
    return _legend(lines, ACTIONS) | _legend(lines, STATUS)


IN_PLACE = ("silent", "not_read", "no_codes")
"""What a legend may say that a mark means of a module, in place of a code: keys of a mapping."""


def _told_of_module(text: str) -> str | None:
    said = {"silent": SILENT, "not_read": NOT_READ, "no_codes": NO_CODES}
    return next((key for key, pattern in said.items() if pattern.fullmatch(text)), None)


def _meant(words: dict[str, tuple[str, ...]], text: str) -> str | None:
    return known_in(words, text) or (_told_of_module(text) if words is STATUS else None)


_EXPLAINED = (
    r"(?:^|(?<=[\s,;(:/|]))"
    r"([A-Za-z0-9*+!](?:[A-Za-z0-9*+!]{0,2}|(?:\.[A-Za-z]){1,2}\.?)(?=\s*(?:=|:|->|→|\s[–-]\s))|[-–—.?~#°](?=\s*=))"
    r"\s*(?:=|:|->|→|\s[–-]\s)\s*"
)
"""A mark that a legend explains, and what leads to its meaning; a dash or a point only before ``=``."""


def _legend(lines: Iterable[str], words: dict[str, tuple[str, ...]]) -> dict[str, str]:
    found: dict[str, str] = {}
    for line in lines:
        parts = re.split(_EXPLAINED, line)
        pairs = {
            mark.lower(): _meant(words, re.sub(r"\s*\([^()]*\)", "", means.split(";")[0]).strip(" ,.)/|"))
            for mark, means in zip(parts[1::2], parts[2::2], strict=False)
        }
        told = {mark: means for mark, means in pairs.items() if means}
        of_modules = len({*told.values()} & {*IN_PLACE}) > 1
        if len(told) > 1 and (of_modules or any(means in words for means in told.values())):
            found |= told
    return found


def verb_of(text: str, *, at_end: bool = False, loose: bool = False) -> str | None:
    """Return the first or the last word of a text, as it is spelled there, where it says what was done; else None."""
    word = re.search(r"([^\W\d_]+)\s*$" if at_end else r"^\s*([^\W\d_]+)", text)
    if word is None or (folded(word[1]) in _NO_VERBS and not loose):
        return None
    return word[1] if known_in(ACTIONS, word[1]) else None


def verbs_of(texts: Sequence[str]) -> tuple[list[str], bool] | None:
    """Return the words of some texts that say what was done, and if they stand at the end; None where not each has one.

    ``Clean`` and ``check`` begin other texts too; they count where most texts begin with other such words.
    """
    for at_end in (False, True):
        verbs = [text if known_in(ACTIONS, text) else verb_of(text, at_end=at_end) for text in texts]
        some = sum(verb is not None for verb in verbs)
        if None in verbs and some >= 0.5 * len(texts):
            verbs = [verb or verb_of(text, at_end=at_end, loose=True) for verb, text in zip(verbs, texts, strict=True)]
        if texts and None not in verbs:
            return [verb for verb in verbs if verb], at_end
    return None


def works_in(text: str) -> list[str]:
    """Return the pieces of a text that name several works, each with what was done; else the whole text alone.

    ``cleaned; adjusted`` and ``replaced coil, cleaned throttle body`` are two each, ``replaced nut and bolt`` is one.
    """
    pieces = [piece.strip() for piece in _BETWEEN_WORKS.split(text) if piece.strip()]
    return pieces if len(pieces) > 1 and all(map(_says_work, pieces)) else [text]


def _says_work(piece: str) -> bool:
    return bool(
        known_in(ACTIONS, piece) or verb_of(piece, loose=True) or (" " in piece and verb_of(piece, at_end=True))
    )


_BETWEEN_WORKS = re.compile(r"\s*(?:[;,/+&\n]|\.\s+|\b(?:and|und|et|y|en|oraz|och|og|then|dann)\b)\s*", re.IGNORECASE)
RESETS = ("reset", "zuruckgesetzt", "reinitialise", "azzerato", "reiniciado", "gereset", "zresetowano", "nollstalld")
"""Words, folded, for what is done to codes and to parts: an erase where no part is named, else an adjustment."""
_NO_VERBS = (
    "new",
    "check",
    "update",
    "software",
    "clean",
    "regler",
    "regular",
    "clear",
    "wissen",
    "byte",
    "coder",
)  # "new coil", "check engine": they begin other texts too


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
            return self._plain(words[0]) or (self._plain(bare) if bare != words[0] else None) or self._by_words(text)
        known = [found for word in words if (found := self._named(word))]
        if len(words) > 1 and len(known) == len(words):
            return known[0]
        # Brackets hold another name of the same module, or what it is short for.
        named = [found for found in known if found]
        if known and len(words) == 2 and re.search(r"[(\[]", text):
            return named[0]
        return self._by_words(text)

    def _named(self, text: str) -> str | None:
        bare = " ".join(self._GENERIC.sub(" ", text).split())
        return self._plain(text) or (self._plain(bare) if bare else None)

    def _by_words(self, text: str) -> str | None:
        """Return the module that a name's words stand for where each that means one means the same, and one does not.

        ``Frenos ABS`` has two names of one module; of ``Motor fan`` one word says something else.
        """
        words = [word for word in re.split(r"[\s/()\[\],_-]+", self._GENERIC.sub(" ", text)) if word]
        found = [self._plain(word) for word in words]
        return found[0] if found and len({self._same(one) for one in found}) == 1 and found[0] else None

    def _same(self, found: str | None) -> str | None:
        return found if found is None else next((key for key in MODULES if folded(found) in MODULES[key]), found)

    def _plain(self, text: str) -> str | None:
        return text if text and self._known(text) else known_in(MODULES, text)
