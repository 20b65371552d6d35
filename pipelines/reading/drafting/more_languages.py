"""The words of ``words`` in further languages, folded; common practice, no source.

Czech, Slovak, Danish, Norwegian, Swedish, Finnish, Portuguese, Hungarian and Romanian.
"""

from __future__ import annotations

_CAR = (
    "nr wewnetrzny", "numer wewnetrzny", "nr wew", "vuz", "vozu", "cislo vozu", "c vozu", "vozidlo", "cislo vozidla",
    "c vozidla", "auto c", "cislo auta",
    "skladove cislo",
    "skladove c", "interni cislo", "evidencni cislo", "inv cislo", "spz", "rz", "reg znacka", "registracni znacka",
    "ecv", "bil nr", "bilnr", "bilnummer", "lagernr", "lager nr", "vogn", "vognnr", "vogn nr", "koretoj",
    "koretojsnr", "koretojsnummer", "internt nr", "internnr", "regnr", "reg nr", "registreringsnr",
    "registreringsnummer", "nummerplade", "kjoretoy", "kjoretoynr", "skilt", "kjennemerke", "fordon", "fordonsnr",
    "fordonsnummer", "bilens nummer", "lagernummer", "ajoneuvo", "auton numero", "rekisterinumero", "rekno",
    "varastonumero", "viatura", "viatura n", "n viatura", "numero da viatura", "n interno", "no interno", "veiculo",
    "no do veiculo", "codigo da viatura", "matricula", "placa", "jarmu", "gepkocsi", "kocsi", "rendszam",
    "raktari szam", "masina", "vehicul", "nr stoc", "nr inmatriculare", "numar inmatriculare", "nr auto",
)  # fmt: skip
_VIN = (
    "cislo karoserie", "vin kod", "stelnummer", "stelnr", "understellsnummer", "chassinr", "chassinummer",
    "valmistenumero", "numero de quadro", "n de chassis", "quadro", "alvazszam", "serie sasiu", "sasiu",
)  # fmt: skip
_ODOMETER = (
    "stav km", "stav tachometru", "najeto", "najeto km", "km stav", "kilometry", "tachometr", "kilometerstand",
    "km stand", "kmtal", "km tal", "korte km", "kilometertal", "kilometer", "korsel", "matarstallning", "km stallning",
    "milmatare", "mittarilukema", "ajokilometrit", "ajetut kilometrit", "quilometragem", "quilometros", "km atuais",
    "kms", "conta quilometros", "kilometerora", "km ora", "futott km", "kilometraj", "rulaj", "km bord",
)  # fmt: skip
_DAY = (
    "datum", "dne", "den", "dato", "den", "pvm", "paivays", "paivamaara", "data", "dia", "datum cas", "datum a cas",
    "datum i cas", "dato og tid", "dato tid", "dato kl", "tidspunkt", "dato klokkeslaet", "datum och tid", "datum tid",
    "tid och datum", "data e hora", "data hora", "idopont", "datum ido", "data si ora",
)  # fmt: skip
MORE_HEADINGS: dict[str, dict[str, tuple[str, ...]]] = {
    "scans": {
        "vehicle": _CAR,
        "vin": _VIN,
        "scanned_at": (
            *_DAY, "datum cteni", "cas cteni", "cteno", "vycteno", "datum diagnostiky", "datum mereni", "aflaest",
            "aflaest den", "aflaesning", "aflaesningsdato", "laest", "laest den", "skannet", "scannet", "skanning",
            "avlest", "avlest dato", "avlast", "avlast den", "avlasning", "last", "skannad", "luettu", "lukupaiva",
            "lido", "lido em", "lida em", "leitura", "data da leitura", "data de leitura", "data leitura",
            "data do diagnostico", "kiolvasva", "kiolvasas", "kiolvasas ideje", "citit la", "data citirii", "citire",
        ),
        "odometer": _ODOMETER,
        "module": (
            "ridici jednotka", "ridici jednotky", "jednotka", "rj", "system", "modul", "riadiaca jednotka",
            "styreenhed",
            "styreenheder", "enhed", "enheder", "styreenhet", "enhet", "enheter", "styrenhet", "styrenheter", "styrdon",
            "ohjainlaite", "ohjausyksikko", "yksikko", "moduuli", "unidade", "unidades", "unidade de comando",
            "centralina",
            "centralinas", "modulo", "modulos", "sistema", "vezerlo", "vezerloegyseg", "egyseg", "rendszer",
            "calculator",
            "unitate", "unitate de control",
        ),
        "module_state": (
            "odpoved", "odpovida", "komunikuje", "komunikace", "spojeni", "svar", "svarer", "svarar", "kontakt",
            "forbindelse", "forbindelsen", "kommunikation", "kommunikasjon", "vastaus", "vastaa", "yhteys", "resposta",
            "responde", "respondeu", "comunica", "comunicou", "comunicacao", "ligacao", "valasz", "valaszol",
            "kapcsolat",
            "raspuns", "raspunde", "comunicare", "comunicazione", "comunica", "comunicado", "ha risposto", "risposto",
            "a repondu", "dialogue", "communique", "dialoga", "geantwoord", "reageert", "odezva", "skomunikowano",
            "polaczono", "polaczenie", "replied", "answering", "alive", "reached", "heard", "responding",
        ),
        "code": (
            "zavada", "zavady", "kod zavady", "kody zavad", "zavadovy kod", "kod chyby", "chybovy kod", "chyba",
            "chyby",
            "kod poruchy", "porucha", "poruchy", "fejlkode", "fejlkoder", "fejl", "kode", "koder", "feilkode",
            "feilkoder", "feil", "felkod", "felkoder", "fel", "kod", "koder", "vikakoodi", "vikakoodit", "vika", "viat",
            "koodi", "avaria", "avarias", "codigo de avaria", "codigos de avaria", "codigo da avaria", "falha",
            "falhas",
            "codigo de falha", "codigo", "codigos", "erro", "erros", "codigo de erro", "hibakod", "hibakodok", "hiba",
            "kod hiby", "cod", "coduri", "cod eroare", "coduri eroare", "eroare", "erori", "cod defect",
        ),
        "failure_type": ("typ zavady", "druh zavady", "podkod", "fejltype", "feltyp", "tipo de avaria",
                         "tipo da falha"),
        "status": (
            "stav zavady", "stav chyby", "stav poruchy", "stav", "tilstand", "fejlstatus", "feilstatus", "felstatus",
            "tillstand", "tila", "vian tila", "estado", "estado da avaria", "estado da falha", "situacao", "allapot",
            "hiba allapota", "stare", "starea", "status fejl",
        ),
        "first_odometer": (
            "first seen at", "first seen km", "first seen", "first km", "km first", "first odometer", "odometer first",
            "first set at", "first set km", "set at km", "first stored at", "erstmals bei", "erstmals bei km",
            "erst km",
            "erstes auftreten km", "km erstes auftreten", "km erstmals", "km beim auftreten", "km premiere apparition",
            "premiere apparition", "premiere apparition km", "apparu a", "apparu a km", "primera vez km",
            "km primera vez",
            "primera aparicion", "prima volta km", "km prima volta", "prima comparsa", "eerste keer km",
            "km eerste keer",
            "eerst gezien bij", "pierwszy raz km", "km pierwszego wystapienia", "poprve km", "poprve pri",
            "forste gang km",
            "forsta gangen km", "primeira vez km", "freeze frame km", "km freeze frame",
        ),
        "occurrences": (
            "pocet", "kolikrat", "cetnost", "pocet vyskytu", "vyskyty", "antal", "antal gange", "gange", "antall",
            "antall ganger", "ganger", "antal ganger", "forekomster", "forekomst", "kertaa", "lukumaara", "vezes",
            "n de vezes", "numero de vezes", "ocorrencias", "darab", "hanyszor", "elofordulas", "de cate ori",
        ),
        "text": (
            "popis", "popis zavady", "popis chyby", "text zavady", "vyznam", "tekst", "fejltekst", "beskrivelse",
            "beskrivning", "feltext", "feilbeskrivelse", "fejlbeskrivelse", "kuvaus", "selite", "descricao",
            "descricao da avaria", "descricao da falha", "texto", "designacao", "leiras", "hiba leirasa", "megnevezes",
            "descriere", "descrierea",
        ),
    },
    "stock": {
        "vehicle": _CAR,
        "vin": _VIN,
        "make": ("znacka", "vyrobce", "maerke", "fabrikat", "bilmaerke", "merke", "bilmerke", "marke", "merkki",
                 "automerkki", "marca", "fabricante", "gyartmany", "marka", "marca auto"),
        "model": ("model vozu", "typ vozu", "modell", "malli", "modelo", "tipus", "modell megnevezes", "model auto"),
        "model_year": (
            "rok vyroby", "r v", "rv", "rok", "modelovy rok", "argang", "modelar", "aargang", "arsmodell", "arsmodel",
            "forste reg", "forste registrering", "forsta registrering", "vuosimalli", "vm", "vuosi", "ano",
            "ano de fabrico", "ano modelo", "ano do modelo", "primeira matricula", "evjarat", "gyartasi ev", "an",
            "an fabricatie", "anul fabricatiei",
        ),
        "engine": ("motor", "motoren", "moottori", "motorizacao", "motorizare", "objem", "zdvihovy objem"),
        "fuel": ("palivo", "braendstof", "drivstoff", "drivmedel", "bransle", "polttoaine", "kayttovoima",
                 "combustivel",
                 "uzemanyag", "combustibil"),
        "gearbox": ("prevodovka", "gearkasse", "gear", "girkasse", "vaxellada", "vaihteisto", "caixa",
                    "caixa de velocidades",
                    "valto", "sebessegvalto", "cutie", "cutie de viteze"),
        "bought_on": (
            "koupeno", "nakup", "datum nakupu", "nakoupeno", "porizeno", "ingekocht", "gekocht", "aankoop",
            "aankoopdatum", "gekocht op", "ingekocht op", "comprata il", "comprata", "acquistata",
            "achetee le", "achetee", "comprada", "comprado el", "kupiono", "zakupiono", "nabyto", "data nabycia",
            "kobt", "kobt den", "kobsdato", "indkobt",
            "indkobsdato", "kjopt", "kjopsdato", "innkjopt", "kopt", "kopt den", "inkopt", "inkopsdatum", "inkop",
            "ostettu", "ostopaiva", "comprado", "comprada em", "comprado em", "compra", "data de compra",
            "data da compra",
            "entrada", "data de entrada", "vetel", "vetel datuma", "beszerezve", "cumparat", "data cumpararii",
            "achizitie",
        ),
        "sold_on": (
            "verkocht op", "vendue le", "vendue", "vendido el", "vendida", "venduto il", "venduta", "sprzedano",
            "data sprzedazy",
            "prodano", "prodej", "datum prodeje", "prodan", "solgt", "solgt den", "salgsdato", "sald", "sald den",
            "forsaljningsdatum", "forsaljning", "salg", "myyty", "myyntipaiva", "vendido", "vendida em", "vendido em",
            "venda", "data de venda", "data da venda", "saida", "data de saida", "eladva", "eladas", "eladas datuma",
            "vandut", "data vanzarii", "vanzare",
        ),
        "asking_price": (
            "cena", "prodejni cena", "pozadovana cena", "cena kc", "pris", "salgspris", "udsalgspris", "prisantydning",
            "utsalgspris", "forsaljningspris", "utropspris", "begart pris", "hinta", "myyntihinta", "pyyntihinta",
            "preco",
            "preco de venda", "preco pedido", "pvp", "p v p", "ar", "eladasi ar", "iranyar", "pret", "pret cerut",
            "pret vanzare",
        ),
        "modifications": ("upravy", "prestavby", "ombygninger", "aendringer", "ekstraudstyr", "ombygging",
                          "ombyggnader",
                          "andringar", "muutokset", "alteracoes", "modificacoes", "extras", "modositasok",
                          "modificari"),
    },
    "repairs": {
        "vehicle": (*_CAR, *_VIN),
        "job": (
            "zakazka", "cislo zakazky", "c zakazky", "zakazka c", "ordre", "ordrenr", "ordre nr", "ordrenummer",
            "arbejdskort", "arbejdskort nr", "arbejdsordre", "arbeidsordre", "verkstedordre", "arbetsorder",
            "arbetsorder nr", "ordernr", "tyomaarays", "tyo nro", "ordem", "ordem de reparacao", "o r", "folha de obra",
            "obra", "n ordem", "no ordem", "folha", "n folha", "munkalap", "munkalap szam", "munkalapszam", "comanda",
            "nr comanda", "deviz", "fisa", "sag", "sagsnr",
        ),
        "done_at": (
            *_DAY, "hotovo", "dokonceno", "datum opravy", "opraveno dne", "provedeno", "provedeno dne", "udfort",
            "udfort den", "faerdig", "lavet", "lavet den", "reparationsdato", "utfort", "utfort den", "utfort dato",
            "ferdig",
            "klart", "klar", "tehty", "valmis", "feito em", "feito a", "concluido", "concluido em", "data da reparacao",
            "data de conclusao", "elvegezve", "kesz", "javitas datuma", "efectuat", "data reparatiei", "finalizat",
        ),
        "odometer": _ODOMETER,
        "action": (
            "prace", "cinnost", "ukon", "oprava", "co se delalo", "provedena prace", "provedene prace", "ukony",
            "arbejde",
            "udfort arbejde", "hvad", "hvad er lavet", "handling", "arbeid", "utfort arbeid", "tiltak", "hva", "arbete",
            "atgard", "atgarder", "utfort arbete", "vad", "tyo", "toimenpide", "tehty tyo", "trabalho", "trabalhos",
            "trabalho efetuado", "trabalho realizado", "operacao", "servico", "intervencao", "accao", "acao",
            "o que foi feito", "munka", "muvelet", "elvegzett munka", "javitas", "lucrare", "operatie", "operatiune",
            "lucrari",
        ),
        "part": (
            "dil", "dily", "nahradni dil", "nahradni dily", "soucast", "diel", "del", "dele", "reservedel",
            "reservedele",
            "komponent", "deler", "reservedeler", "reservdel", "reservdelar", "delar", "osa", "varaosa", "varaosat",
            "peca",
            "pecas", "componente", "material", "alkatresz", "alkatreszek", "piesa", "piese", "piesa inlocuita",
        ),
        "position": ("poloha", "umisteni", "misto", "placering", "position", "plassering", "sted", "plats", "sijainti",
                     "posicao", "localizacao", "lado", "hely", "pozitie", "pozitia", "strana"),
        "supplier": ("dodavatel", "leverandor", "leverantor", "toimittaja", "fornecedor", "beszallito", "furnizor"),
        "part_cost": (
            "cena dilu", "cena", "cena kc", "cena bez dph", "naklady", "pris", "delpris", "pris del", "belob",
            "kostpris",
            "belop", "delkostnad", "kostnad", "hinta", "osan hinta", "preco", "preco da peca", "custo", "custo da peca",
            "valor", "valor sem iva", "ar", "alkatresz ara", "koltseg", "pret", "pret piesa", "cost piesa",
        ),
        "labour_minutes": (
            "cas prace", "cas min", "prace min", "minut", "minuty", "hodin", "hodiny", "pracnost", "tid", "arbejdstid",
            "tid min", "minutter", "timer", "arbeidstid", "arbetstid", "minuter", "timmar", "tyoaika", "minuutit",
            "tunnit", "aika", "tempo", "minutos", "horas", "tempo min", "mao de obra min", "tempo de mao de obra",
            "perc",
            "munkaido", "ora", "minute", "ore", "timp", "manopera min",
        ),
        "note": ("poznamka", "bemaerkning", "merknad", "anmarkning", "huomautus", "observacoes", "obs", "megjegyzes",
                 "observatii"),
    },
    "parts": {
        "part": ("dil", "nazev", "nazev dilu", "nahradni dil", "del", "navn", "betegnelse", "reservedel", "varenavn",
                 "benaevnelse", "benamning", "reservdel", "artikel", "osa", "nimike", "varaosa", "nimi", "peca",
                 "designacao", "descricao", "nome", "alkatresz", "megnevezes", "nev", "piesa", "denumire"),
        "also_called": ("jine nazvy", "jiny nazev", "take", "andre navne", "ogsa kaldet", "kaldes ogsa", "andre navn",
                        "ogsa kalt", "andra namn", "kallas ocksa", "muut nimet", "outros nomes", "tambem chamado",
                        "tambem conhecido como", "mas neven", "alte nume"),
        "part_cost": ("cena", "cena kc", "nakupni cena", "cena bez dph", "pris", "indkobspris", "kostpris",
                      "innkjopspris",
                      "inkopspris", "netto", "hinta", "ostohinta", "preco", "preco de custo", "custo", "ar",
                      "beszerzesi ar", "pret", "pret achizitie", "kr", "kc"),
        "labour_minutes": ("montaz", "montaz min", "cas montaze", "prace min", "cas", "minut", "minuty", "hodin",
                           "montering", "monteringstid", "montering min", "tid", "tid min", "arbejdstid", "minutter",
                           "timer", "arbeidstid", "arbetstid", "minuter", "timmar", "asennus", "asennusaika", "tempo",
                           "tempo de montagem", "montagem", "montagem min", "minutos", "horas", "perc", "beszereles",
                           "munkaido", "montaj", "minute", "timp"),
        "check_minutes": ("kontrola", "kontrola min", "test", "kontrol", "kontrol min", "kontroll", "kontroll min",
                          "tarkastus", "verificacao", "teste", "tempo de teste", "ellenorzes", "verificare"),
        "supplier": ("dodavatel", "leverandor", "leverantor", "toimittaja", "fornecedor", "beszallito", "furnizor"),
    },
}  # fmt: skip
"""Headings of columns, by table and column."""
MORE_STATES: dict[str, tuple[str, ...]] = {
    "active": ("aktivni", "aktivna", "aktualni", "soucasna", "soucasny", "pritomna", "pritomny", "trvajici", "aktiv",
               "aktive", "aktuel", "tilstede", "til stede", "nu", "na", "nuvarande", "aktuell", "aktiva", "aktiivinen",
               "nykyinen", "voimassa", "ativo", "ativa", "ativos", "atual", "presente", "aktiv hiba", "jelenlegi",
               "fennallo", "activ", "activa", "prezent", "curenta"),
    "pending": ("cekajici", "nepotvrzena", "nepotvrzeny", "predbezna", "afventende", "afventer", "ubekraeftet",
                "forelobig", "ventende", "ubekreftet", "forelopig", "vantande", "avvaktande", "obekraftad",
                "preliminar",
                "odottava", "vahvistamaton", "pendente", "por confirmar", "nao confirmado", "provisorio", "fuggo",
                "fuggoben", "varakozo", "in asteptare", "neconfirmat", "pendinte"),
    "confirmed": ("potvrzena", "potvrzeny", "ulozena", "ulozeny", "sporadicka", "sporadicky", "obcasna", "bekraeftet",
                  "gemt", "lagret", "sporadisk", "periodisk", "bekreftet", "bekraftad", "lagrad", "sporadiskt",
                  "intermittent", "vahvistettu", "tallennettu", "satunnainen", "confirmado", "confirmada", "memorizado",
                  "memorizada", "guardado", "guardada", "gravada", "armazenado", "esporadico", "esporadica",
                  "intermitente", "megerositett", "tarolt", "tarolva", "sporadikus", "idoszakos", "confirmat",
                  "memorat",
                  "stocat", "intermitent", "sporadic"),
    "permanent": ("trvala", "trvaly", "permanentni", "permanent", "vedvarende", "varig", "pysyva", "permanente",
                  "allando"),
    "history": ("historie", "historicka", "historicky", "minula", "minuly", "byvala", "neaktivni", "historisk",
                "tidligere",
                "inaktiv", "ikke aktiv", "ikke tilstede", "passiv", "tidigare", "gammal", "inte aktiv", "ej aktiv",
                "historia", "aiempi", "ei aktiivinen", "vanha", "historico", "historica", "passado", "passada",
                "inativo",
                "inativa", "anterior", "antigo", "korabbi", "multbeli", "nem aktiv", "istoric", "trecut", "inactiv"),
}  # fmt: skip
"""States of codes."""
MORE_WORK: dict[str, tuple[str, ...]] = {
    "replace": ("vymeneno", "vymenen", "vymenena", "vymenit", "vymena", "novy", "novy dil", "nahrazeno", "udskiftet",
                "udskiftning", "skiftet", "skift", "byttet", "utskiftet", "bytt", "bytte", "byttes", "utbytt", "ersatt",
                "vaihdettu", "vaihto", "uusittu", "substituido", "substituida", "substituicao", "trocado", "trocada",
                "troca", "mudado", "cserelve", "csere", "kicserelve", "inlocuit", "inlocuita", "inlocuire", "schimbat"),
    "repair": ("opraveno", "opraven", "opravena", "opravit", "oprava", "repareret", "reparation", "reparert",
               "reparasjon",
               "reparerad", "reparerat", "lagad", "lagat", "lagning", "korjattu", "korjaus", "reparado", "reparada",
               "reparacao", "arranjado", "consertado", "conserto", "javitva", "megjavitva", "javitas", "reparat",
               "reparata", "reparatie"),
    "clean": ("vycisteno", "vycisten", "vycistena", "cisteni", "ocisteno", "renset", "rensning", "rengjort",
              "rengoring",
              "rengjoring", "rengjord", "rengjorts", "puhdistettu", "puhdistus", "limpo", "limpa", "limpeza", "limpado",
              "tisztitva", "megtisztitva", "tisztitas", "curatat", "curatata", "curatare"),
    "adjust": ("serizeno", "serizen", "serizena", "serizeni", "nastaveno", "nastaveni", "kalibrovano", "justeret",
               "justering", "indstillet", "indstilling", "justert", "innstilt", "justerad", "justerat", "installd",
               "kalibrerad", "saadetty", "saato", "kalibroitu", "ajustado", "ajustada", "afinado", "afinada",
               "regulado",
               "calibrado", "calibrada", "beallitva", "beallitas", "kalibralva", "reglat", "reglata", "reglare"),
    "software": ("aktualizace", "aktualizovano", "aktualizace softwaru", "preprogramovano", "naprogramovano",
                 "kodovano",
                 "softwareopdatering", "opdateret", "opdatering", "kodet", "programmeret", "programvareoppdatering",
                 "oppdatert", "oppdatering", "programmert", "programvaruuppdatering", "uppdaterad", "uppdatering",
                 "kodad", "programmerad", "paivitetty", "ohjelmistopaivitys", "koodattu", "atualizado", "atualizacao",
                 "atualizacao de software", "codificado", "programado", "frissitve", "szoftverfrissites", "programozva",
                 "actualizat", "actualizare", "actualizare software", "codat", "programat"),
    "inspect": ("zkontrolovano", "zkontrolovan", "kontrola", "provereno", "prohlednuto", "overeno", "kontrolleret",
                "kontrol", "efterset", "undersogt", "tjekket", "kontrollert", "sjekket", "undersokt", "kontrollerad",
                "kontrollerat", "kollad", "undersokning", "tarkastettu", "tarkastus", "tarkistettu", "verificado",
                "verificada", "verificacao", "inspecionado", "inspecionada", "inspecao", "controlado", "ellenorizve",
                "ellenorzes", "atnezve", "verificat", "verificata", "verificare", "inspectat"),
    "erase": ("smazano", "vymazano", "mazani", "mazani zavad", "chyby smazany", "zavady smazany", "kody smazany",
              "pamet smazana", "pamet zavad smazana", "slettet", "fejl slettet", "fejlkoder slettet",
              "fejlhukommelse slettet",
              "koder slettet", "nulstillet", "feil slettet", "feilkoder slettet", "nullstilt", "raderad", "raderat",
              "raderade", "felkoder raderade", "fel raderade", "felminne raderat", "koder raderade", "poistettu",
              "nollattu", "vikakoodit poistettu", "vikamuisti nollattu", "apagado", "apagados", "apagada",
              "avarias apagadas",
              "codigos apagados", "erros apagados", "falhas apagadas", "memoria apagada", "torolve", "hibak torolve",
              "hibakodok torolve", "hibatorles", "sters", "sterse", "erori sterse", "coduri sterse"),
}  # fmt: skip
"""Words for what was done."""
MORE_MODULES: dict[str, tuple[str, ...]] = {
    "ECM": ("rizeni motoru", "ridici jednotka motoru", "jednotka motoru", "motor rj", "motorstyreenhed", "motorstyring",
            "motorstyreenhet", "motorstyrenhet", "motorstyrning", "moottorin ohjaus", "unidade do motor",
            "gestao do motor", "centralina do motor", "motorvezerlo", "motorvezerles", "calculator motor"),
    "TCM": ("prevodovka", "automaticka prevodovka", "rizeni prevodovky", "gearkasse", "automatgear", "transmission",
            "girkasse", "automatgir", "vaxellada", "automatlada", "vaihteisto", "automaattivaihteisto",
            "caixa de velocidades", "caixa automatica", "caixa", "valto", "automata valto", "sebessegvalto",
            "cutie de viteze", "cutie automata"),
    "ABS": ("brzdy", "brzdovy system", "brzdy abs", "bremser", "bremsesystem", "abs bremser", "bromsar", "bromssystem",
            "abs bromsar", "jarrut", "abs jarrut", "travoes", "sistema de travagem", "travagem", "fekek", "fekrendszer",
            "frane", "sistem de franare", "abs esp"),
    "SRS": ("airbagy", "airbag", "airbags", "kollisionspude", "airbagsystem", "krockkudde", "krockkuddar",
            "turvatyynyt",
            "turvatyyny", "legzsak", "legzsakok", "airbaguri"),
    "BCM": ("karoserie", "karosarska elektronika", "komfortni elektronika", "komfort", "karrosseri", "karosseri",
            "kaross",
            "karosseristyring", "komfortelektronik", "kori", "korielektroniikka", "carrocaria", "carroceria",
            "eletronica da carroceria", "habitaculo", "karosszeria", "komfort elektronika", "caroserie"),
    "IPC": ("pristrojova deska", "pristroje", "sdruzeny pristroj", "budiky", "pristrojovy stit", "instrumentpanel",
            "instrumentbraet", "instrumenter", "instrumentbord", "instrumentklynge", "kombiinstrument",
            "instrumentering",
            "mittaristo", "painel de instrumentos", "quadrante", "quadro", "muszerfal", "muszeregyseg", "bord",
            "ceasuri bord", "instrumente bord"),
    "EPS": ("posilovac rizeni", "rizeni", "servorizeni", "elektricke rizeni", "servostyring", "styretoj", "styring",
            "servostyrning", "styrning", "ohjaustehostin", "direcao assistida", "direccao assistida", "direcao",
            "direccao",
            "szervokormany", "kormany", "servodirectie", "directie asistata"),
    "HVAC": ("klimatizace", "klima", "topeni a klimatizace", "klimaanlaeg", "klimaanlaegg", "klimaanlegg",
             "klimaanlaeggning",
             "klimatanlaggning", "klimat", "klimatstyrning", "ilmastointi", "climatizacao", "ar condicionado",
             "klimaberendezes", "climatizare", "aer conditionat"),
    "EPB": ("parkovaci brzda", "elektricka parkovaci brzda", "rucni brzda", "parkeringsbremse", "handbremse",
            "parkeringsbrems", "parkeringsbroms", "seisontajarru", "travao de mao", "travao de estacionamento",
            "kezifek", "rogzitofek", "frana de parcare"),
    "IMMO": ("imobilizer", "startspaerre", "startsperre", "startsparr", "ajonesto", "imobilizador", "inditasgatlo"),
    "RADIO": ("radio", "autoradio", "navigace", "multimedia", "infotainment", "navigation", "navigasjon", "navigering"),
    "PAM": ("parkovaci asistent", "parkovaci senzory", "parkeringssensor", "parkeringshjaelp", "ryggesensor",
            "parkeringshjalp", "pysakointitutka", "sensores de estacionamento", "parkolo radar", "senzori parcare"),
    "TPMS": ("tlak v pneumatikach", "tlak pneumatik", "daektryk", "dekktrykk", "dacktryck", "rengaspaineet",
             "pressao dos pneus", "guminyomas", "presiune pneuri"),
    "GWM": ("brana", "gateway", "gateway modul"),
}  # fmt: skip
"""Names of control units."""
NO_CODES_TOO = (
    r"bez (?:z[aá]znam\w*|poruch\w*|n[aá]lez\w*|usterek|uwag)|(?:0|nula|nulla) (?:z[aá]vad|chyb|fejl|feil|fel)"
    r"|[zž][aá]dn\w+(?: \w+)?|nic|v po[rř][aá]dku|bez chyby|bez z[aá]vady"
    r"|ingen|intet|inget|inga|ingenting|ingen (?:fejl|feil|fel)\w*|fejlfri|feilfri|felfri|uden (?:fejl|anm)\w*"
    r"|uten (?:feil|anm)\w*|utan (?:fel|anm)\w*|i orden|i ordning|u\.?a\.?(?!\w)"
    r"|ei (?:vikoja|vikaa|vikakoodeja|koodeja)|kunnossa|nenhum[ao]?|sem (?:avaria|falha|erro|c[oó]digo|registo)s?"
    r"|em ordem|nincs(?: hiba\w*| k[oó]d\w*)?|hib[aá]tlan|rendben|hiba n[eé]lk[uü]l|f[aă]r[aă] (?:erori|coduri|defecte)"
    r"|nicio eroare"
)
"""Words that say that a unit stored no code."""
SILENT_TOO = (
    r"neodpov[ií]d[aá]|bez odpov[eě]di|[zž][aá]dn[aá] odpov[eě][dď]|nekomunikuje|bez komunikace|bez spojen[ií]"
    r"|nelze spojit|nedostupn[aáyý]|neodpovedal[ao]?|svarer ikke|svarede ikke|svarte ikke|(?:intet|ingen|inget) svar"
    r"|ingen (?:forbindelse|kontakt|kommunikas?tion|kommunikasjon|respons|reaktion)|ikke (?:kontakt|forbindelse|svar)"
    r"|svarar (?:inte|ej)|svarade inte|ej svar|ei vastaa|ei vastausta|ei yhteytt[aä]|ei vastannut"
    r"|n[aã]o (?:responde(?:u)?|comunica|comunicou|respondem)|sem (?:resposta|liga[cç][aã]o|contacto|contato)"
    r"|nem v[aá]laszol(?:t)?|nincs (?:v[aá]lasz|kapcsolat|kommunik[aá]ci[oó])|nu r[aă]spunde|f[aă]r[aă] r[aă]spuns"
    r"|nu comunic[aă]|brak odp\w*\.?|nie (?:odpowiedzia[lł]\w*|komunikuje)|no contest[oó]|no respondi[oó]"
    r"|no comunica|non comunica|n'?a pas r[eé]pondu|ne communique pas|muet(?:te)?|stumm|antwortete nicht|keine antw\.?"
    r"|niet gereageerd|gaf geen antwoord|did not (?:respond|reply)"
)
"""Words that say that a unit did not answer."""
ANSWERED_TOO = (
    r"ano|odpov[ií]d[aá]|odpov[eě]d[eě]l\w*|komunikuje|spojeno|svarer|svarte|svarede|svarar|svarade|forbundet|ansluten"
    r"|vastaa|yhteys ok|sim|responde|respondeu|comunica|ligado|v[aá]laszol|igen|kapcsol[oó]dva|r[aă]spunde|da|conectat"
)
"""Words, in small letters, that say of a unit in a column of answers that it did."""
YES_TOO = ("ano", "sim", "kylla", "igen", "da", "jo", "+")
NO_TOO = ("ne", "nej", "nei", "ei", "nem", "nu", "nao", "não")
TIMES_TOO = ("cas", "tid", "klokken", "klokkeslaet", "klokkeslett", "kl", "klockan", "klockslag", "kello", "aika",
"hora",
             "horas", "ido", "ora", "hodina", "h", "hh mm")  # fmt: skip
ERASED_TOO = ("smazano", "chyby smazany", "slettet", "koder slettet", "fejl slettet", "raderat", "koder raderade",
              "apagado", "codigos apagados", "avarias apagadas", "torolve", "hibak torolve")  # fmt: skip
FITTED_TOO = ("vymeneno", "vymeneny dil", "udskiftet", "skiftet", "byttet", "bytt", "utbytt", "vaihdettu",
"substituido",
              "substituida", "trocado", "cserelve", "inlocuit", "remplace", "remplacee", "sustituido", "sustituida",
              "cambiado", "sostituito", "sostituita", "cambiato", "vervangen", "wymieniono", "wymieniona",
              "wymieniony")  # fmt: skip
