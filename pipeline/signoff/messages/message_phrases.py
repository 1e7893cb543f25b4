"""The phrases a message may consist of, by language. Everything the grammar knows of a language stands here.

Small letters, without stops; alternatives with a bar between. Anything else isn't understood, so a phrase is listed
only if it can mean nothing else (common practice, no source; no native speaker has read those other than English).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Phrases:
    """The phrases of one language."""

    agree: str
    """The whole proof is correct."""
    rest: str
    """Everything that the message doesn't name is correct."""
    but: str
    """After `agree`, before the exceptions."""
    good: str
    """After numbers: they are correct."""
    wrong: str
    """After numbers: they are wrong, without saying how."""
    leave: str
    """After numbers: not to be cut."""
    leave_first: str
    """The same before numbers."""
    reads: str
    """After a number, before the wording wanted."""
    and_: str
    proof: str
    """Before a revision's letter."""
    greeting: str
    courtesy: str
    """Courtesies, which say nothing about the proof."""
    closing: str
    """Before the sender's name."""
    device: str
    """Begins the line that a telephone's mail program adds, of at most three words more."""
    opens: str
    """The first word of the line above a quoted mail: “on …”."""
    wrote: str
    """A word of the line above a quoted mail, which ends with a colon."""
    quoted: str
    """Between dashes, above the mail it answers; what is forwarded may be somebody's corrections."""
    header: str
    """The first two words with a colon above a quoted mail: from, and what follows it."""
    sent: str
    """Of `header`, those that say when."""
    doubt: str
    """Words never accepted in a wording or a subject, since more may be meant."""

    def list_alternatives(self, name: str) -> tuple[str, ...]:
        """List the alternatives of one kind, folded, the longest first."""
        return tuple(sorted(getattr(self, name).casefold().split("|"), key=lambda p: (-len(p), p)))

    def list_words(self) -> frozenset[str]:
        """List every word that means something in this language, the doubtful ones among them."""
        meant = (
            f.name for f in fields(self) if f.name not in ("greeting", "courtesy", "closing", "and_", "opens", "doubt")
        )
        long = {w for name in meant for w in getattr(self, name).casefold().replace("|", " ").split() if len(w) > 3}
        return frozenset(long | set(self.doubt.casefold().split("|")))


PHRASES: Mapping[str, Phrases] = {
    "en": Phrases(
        agree="all correct|all is correct|all are correct|everything is correct|everything correct"
        "|all fine|all is fine"
        "|everything is fine|everything fine|all ok|all is ok|everything ok|everything is ok"
        "|all okay|all good"
        "|all agreed|agreed as shown|all approved|approved|approved as shown|all correct as shown|yes all correct"
        "|they are all correct|they're all correct|all names are correct|the proof is correct|it is all correct"
        "|it's all correct|all looks correct|everything looks correct",
        rest="the rest is correct|the rest is fine|the rest is ok|the rest are correct"
        "|the rest are fine|the others are"
        " correct|the others are fine|everything else is correct|everything else is fine|all others are correct"
        "|all the others are correct|all else is correct|otherwise all correct",
        but="except|except for|apart from|other than|but not|excepting",
        good="ok|okay|fine|correct|is ok|is fine|is correct|are ok|are fine|are correct|agreed"
        "|all correct|good|approved",
        wrong="wrong|is wrong|are wrong|not correct|is not correct|are not correct|incorrect",
        leave="do not cut|don't cut|dont cut|not to be cut|should not be cut|leave out|please leave out"
        "|please do not cut"
        "|is not to be cut|are not to be cut",
        leave_first="do not cut|don't cut|dont cut|please do not cut|please don't cut|leave out|please leave out",
        reads="should read|should be|must read|change to|please change to",
        and_="and|&",
        proof="proof|revision",
        greeting="hi|hello|dear|dear sir|dear madam|dear sir or madam|dear sirs"
        "|good morning|good afternoon|good evening|hi there|hello there|morning"
        "|hi all|hello all",
        courtesy="thanks|thank you|many thanks|thanks a lot|thank you very much|thanks very much"
        "|with thanks|cheers"
        "|thanks for the proof|thank you for the proof|thanks for your work|thanks so much|thank you so much"
        "|thanks for this|thank you for this|thanks for these|thanks for sending this|thank you for sending this"
        "|thanks for sending these|thanks for your message|thank you for your message|thanks for your email"
        "|have a nice day|have a good day|have a nice weekend|have a good weekend|yes|they look lovely"
        "|it looks lovely|looking forward to them|please go ahead|go ahead|thanks again|lovely work",
        closing="kind regards|best regards|regards|best wishes|best|yours|yours sincerely|yours faithfully|cheers"
        "|all the best|sincerely|with kind regards|warm regards|many thanks|thanks|thank you|kindest regards",
        device="sent from my|sent from a",
        opens="on",
        wrote="wrote",
        quoted="original message|original mail",
        header="from|sent|date|to|subject",
        sent="sent|date",
        doubt="not|no|but|if|unless|until|wait|hold|stop|check|checking|ask|asking|question|wrong"
        "|mistake|error|maybe"
        "|perhaps|think|sure|unsure|believe|hope|later|should|would|could|can|please|also|except"
        "|however|others|other"
        "|rest|change|changes|missing|need|needs|instead|never|don't|isn't|aren't|yet|still|only"
        "|and then|cancel|cancelled|canceled|or",
    ),
    "de": Phrases(
        agree="alles richtig|alles korrekt|alles ist richtig|alles ist korrekt|alles in ordnung"
        "|alles ist in ordnung"
        "|alles okay|alles ok|alles passt|passt alles|alles stimmt|stimmt alles"
        "|alle richtig|alle korrekt"
        "|alles freigegeben|freigegeben|einverstanden|alles bestens|ja alles richtig|alles so richtig",
        rest="der rest ist richtig|der rest ist korrekt|der rest passt|der rest stimmt|die anderen sind richtig"
        "|die übrigen sind richtig|alle anderen sind richtig|alles andere ist richtig"
        "|alles andere stimmt|sonst alles richtig"
        "|alles andere passt|ansonsten alles richtig",
        but="außer|ausser|bis auf|mit ausnahme von|nur nicht|ausgenommen",
        good="ok|okay|richtig|korrekt|passt|stimmt|passen|stimmen|ist richtig|sind richtig|in ordnung"
        "|ist in ordnung"
        "|sind in ordnung|freigegeben|gut|alles richtig",
        wrong="falsch|ist falsch|sind falsch|nicht richtig|ist nicht richtig|sind nicht richtig|stimmt nicht"
        "|stimmen nicht",
        leave="nicht schneiden|bitte nicht schneiden|nicht fertigen|bitte nicht fertigen|weglassen"
        "|bitte weglassen"
        "|nicht ausführen|entfällt|entfallen",
        leave_first="nicht schneiden|bitte nicht schneiden|bitte weglassen",
        reads="soll heißen|muss heißen|ändern in|bitte ändern in|soll lauten|muss lauten",
        and_="und|u.|&",
        proof="korrekturabzug|probeabzug|abzug|proof|freigabebogen|freigabe|entwurf",
        greeting="hallo|guten tag|guten morgen|guten abend|moin|servus|grüß gott|liebe|lieber|sehr geehrte"
        "|sehr geehrter"
        "|sehr geehrte damen und herren|hallo zusammen|hi",
        courtesy="danke|vielen dank|danke schön|dankeschön|besten dank|herzlichen dank|danke sehr|danke dir"
        "|danke ihnen"
        "|vielen dank für den entwurf|vielen dank für die mühe|danke für die mühe|danke dafür|vielen dank dafür"
        "|danke fürs schicken"
        "|vielen dank für die zusendung|danke für die nachricht|ja|schönen tag noch"
        "|schönes wochenende|schönen tag|sieht toll aus|wir freuen uns|danke im voraus",
        closing="mit freundlichen grüßen|mit freundlichem gruß|freundliche grüße|viele grüße|liebe grüße"
        "|beste grüße"
        "|schöne grüße|herzliche grüße|gruß|lg|vg|mfg|grüße|danke|vielen dank",
        device="von meinem|gesendet von meinem|gesendet von",
        opens="am",
        wrote="schrieb",
        quoted="ursprüngliche nachricht|originalnachricht",
        header="von|gesendet|datum|an|betreff",
        sent="gesendet|datum",
        doubt="nicht|kein|keine|nein|aber|falls|wenn|sofern|außer|warten|halt|stopp|prüfen|prüfe|fragen"
        "|frage|falsch"
        "|fehler|vielleicht|glaube|denke|sicher|unsicher|hoffe|später|bitte|auch|jedoch|andere"
        "|anderen|rest|ändern"
        "|änderung|fehlt|statt|nie|noch|nur|erst|bis|oder|stornieren|wohl|eigentlich",
    ),
    "fr": Phrases(
        agree="tout est correct|tout correct|tout est juste|tout est bon|tout est ok|tout est parfait"
        "|tout est en ordre"
        "|tout va bien|tout est conforme|bon pour accord|tout ok|tous sont corrects|c'est tout bon"
        "|oui tout est correct"
        "|tout bon|tout est exact",
        rest="le reste est correct|le reste est bon|les autres sont corrects|tout le reste est correct"
        "|le reste est juste"
        "|le reste est ok|sinon tout est correct",
        but="sauf|sauf le|sauf les|excepté|hormis|à l'exception de|à part",
        good="ok|correct|corrects|est correct|sont corrects|est bon|sont bons|juste|justes|est juste|bon|bons|d'accord",
        wrong="faux|est faux|sont faux|incorrect|est incorrect|pas correct|n'est pas correct|ne sont pas corrects",
        leave="ne pas couper|ne pas découper|ne pas graver|à ne pas couper|à ne pas graver|à supprimer"
        "|ne pas fabriquer"
        "|ne pas faire|à laisser de côté",
        leave_first="ne pas couper|ne pas découper|ne pas graver|ne pas fabriquer|ne pas faire|supprimer",
        reads="doit être|devrait être|doit se lire|à changer en|doit devenir",
        and_="et|&",
        proof="épreuve|bon à tirer|l'épreuve|bat",
        greeting="bonjour|bonsoir|salut|cher|chère|bonjour à tous|madame|monsieur|madame monsieur",
        courtesy="merci|merci beaucoup|merci bien|un grand merci|merci d'avance|mille mercis"
        "|merci pour votre travail"
        "|merci pour l'épreuve|merci pour votre envoi|merci pour l'envoi|merci pour votre message|bonne journée"
        "|bonne soirée|bon week-end|oui"
        "|merci encore|c'est très joli"
        "|beau travail",
        closing="cordialement|bien cordialement|bien à vous|salutations|meilleures salutations"
        "|sincères salutations"
        "|à bientôt|amicalement|bonne journée|merci|cdlt",
        device="envoyé de mon|envoyé depuis mon|envoyé à partir de mon",
        opens="le",
        wrote="écrit",
        quoted="message d'origine|message original|message initial",
        header="de|envoyé|date|à|objet",
        sent="envoyé|date",
        doubt="pas|ne|non|mais|si|sauf|attendre|attendez|stop|vérifier|vérifie|demander|question|faux"
        "|erreur|fausse"
        "|peut-être|pense|crois|sûr|sûre|espère|plus|aussi|cependant|autres|autre|reste|changer|changement|manque"
        "|plutôt|jamais|encore|seulement|ou|annuler|sous|réserve|toutefois",
    ),
    "es": Phrases(
        agree="todo correcto|todo está correcto|todo es correcto|todo bien|todo está bien|todo en orden|todo ok"
        "|todo perfecto|todos correctos|todo conforme|aprobado|todo aprobado|conforme"
        "|sí todo correcto|está todo correcto"
        "|está todo bien",
        rest="el resto está bien|el resto es correcto|lo demás está bien|los demás están bien"
        "|los demás son correctos"
        "|todo lo demás está bien|el resto está correcto|por lo demás todo correcto",
        but="excepto|excepto el|excepto los|salvo|salvo el|salvo los|menos|menos el|menos los|a excepción de",
        good="ok|correcto|correctos|bien|está bien|están bien|es correcto|son correctos|aprobado|aprobados|conforme",
        wrong="mal|está mal|están mal|incorrecto|incorrectos|no es correcto|no son correctos|no está bien",
        leave="no cortar|no grabar|no se corta|no se cortan|no hacer|eliminar|no fabricar|por favor no cortar",
        leave_first="no cortar|no grabar|no hacer|eliminar|por favor no cortar|no corten",
        reads="debe decir|debería decir|debe ser|debería ser|cambiar a",
        and_="y|e|&",
        proof="prueba|la prueba|muestra",
        greeting="hola|buenos días|buenas tardes|buenas noches|buenas|estimado|estimada|estimados|querido|querida",
        courtesy="gracias|muchas gracias|mil gracias|muchísimas gracias|gracias por todo|gracias por su trabajo"
        "|gracias por la prueba|gracias por el envío|gracias por enviarlo|gracias por su mensaje"
        "|gracias de antemano|buen día|buen fin de semana"
        "|que tenga un buen día|sí"
        "|quedan preciosas|muy bonito",
        closing="saludos|un saludo|saludos cordiales|un cordial saludo|atentamente|un abrazo|cordialmente|gracias"
        "|muchas gracias",
        device="enviado desde mi|enviado desde un",
        opens="el",
        wrote="escribió",
        quoted="mensaje original",
        header="de|enviado|fecha|para|asunto",
        sent="enviado|fecha",
        doubt="no|ni|pero|si|salvo|excepto|menos|esperar|espere|espera|parar|revisar|reviso|preguntar"
        "|pregunta|mal|error"
        "|quizás|quizá|creo|pienso|seguro|segura|espero|luego|también|además|aunque|otros|otras"
        "|resto|cambiar|cambio|falta"
        "|nunca|todavía|aún|solo|sólo|o|cancelar|después|tal|vez",
    ),
    "it": Phrases(
        agree="tutto corretto|è tutto corretto|tutto è corretto|tutto giusto|tutto bene|tutto a posto"
        "|tutto ok|va tutto bene"
        "|è tutto giusto|tutto perfetto|tutti corretti|approvato|tutto approvato|tutto in ordine"
        "|sì tutto corretto"
        "|è tutto a posto",
        rest="il resto è corretto|il resto va bene|gli altri vanno bene|gli altri sono corretti"
        "|tutto il resto è corretto"
        "|tutto il resto va bene|per il resto tutto corretto",
        but="tranne|tranne il|tranne i|eccetto|eccetto il|salvo|a parte|a eccezione di|escluso|esclusi",
        good="ok|corretto|corretti|va bene|vanno bene|giusto|giusti|è corretto|sono corretti|approvato|approvati",
        wrong="sbagliato|sbagliati|è sbagliato|sono sbagliati|non è corretto|non sono corretti|non va bene|errato",
        leave="non tagliare|non incidere|da non tagliare|da non incidere|da eliminare|non fare|da non fare",
        leave_first="non tagliare|non incidere|eliminare|per favore non tagliare|non fare",
        reads="deve essere|dovrebbe essere|si deve leggere|cambiare in|deve diventare",
        and_="e|ed|&",
        proof="bozza|la bozza|prova",
        greeting="ciao|buongiorno|buonasera|buon pomeriggio|salve|gentile|egregio|gentili signori|cara|caro",
        courtesy="grazie|grazie mille|molte grazie|tante grazie|vi ringrazio|la ringrazio|grazie per il lavoro"
        "|grazie per la bozza|grazie per l'invio|grazie del messaggio|grazie per il messaggio"
        "|grazie in anticipo|buona giornata|buona serata|buon fine settimana|sì"
        "|sono bellissime|bel lavoro",
        closing="cordiali saluti|saluti|distinti saluti|un saluto|a presto|cordialmente|un caro saluto"
        "|grazie|grazie mille",
        device="inviato da|inviato dal mio",
        opens="il",
        wrote="scritto",
        quoted="messaggio originale",
        header="da|inviato|data|a|oggetto",
        sent="inviato|data",
        doubt="non|no|né|ma|se|però|salvo|tranne|aspettare|aspetta|aspettate|fermo|fermi|controllare"
        "|controllo|chiedere"
        "|domanda|sbagliato|errore|forse|credo|penso|sicuro|sicura|spero|dopo|anche|inoltre|altri"
        "|altre|resto|cambiare"
        "|cambio|manca|mai|ancora|solo|soltanto|o|oppure|annullare|tuttavia|poi",
    ),
    "nl": Phrases(
        agree="alles klopt|alles is correct|alles correct|alles goed|alles is goed|alles in orde"
        "|alles is in orde|alles oké"
        "|alles ok|alles akkoord|akkoord|klopt allemaal|het klopt allemaal|alles juist"
        "|ja alles klopt|allemaal correct"
        "|alles is akkoord|allemaal goed",
        rest="de rest klopt|de rest is goed|de rest is correct|de andere kloppen|de anderen kloppen"
        "|al het andere klopt"
        "|verder klopt alles|de rest is in orde",
        but="behalve|uitgezonderd|met uitzondering van",
        good="ok|oké|goed|correct|klopt|kloppen|is goed|zijn goed|is correct|zijn correct|akkoord|in orde|is in orde",
        wrong="fout|is fout|zijn fout|klopt niet|kloppen niet|niet goed|is niet goed|niet correct|onjuist",
        leave="niet snijden|niet frezen|niet maken|niet uitvoeren|weglaten|graag weglaten|vervalt|vervallen",
        leave_first="niet snijden|niet maken|graag weglaten|niet frezen",
        reads="moet zijn|moet worden|moet luiden|wijzigen in|graag wijzigen in",
        and_="en|&",
        proof="drukproef|proef|proefdruk|de proef",
        greeting="hallo|hoi|goedemorgen|goedemiddag|goedenavond|goedendag|dag|beste|geachte|geachte heer"
        "|geachte mevrouw"
        "|hallo allemaal",
        courtesy="dank u|dank je|dankjewel|dank u wel|bedankt|hartelijk dank|heel erg bedankt|veel dank"
        "|alvast bedankt"
        "|bedankt voor de proef|bedankt voor het sturen|bedankt voor het toesturen|bedankt voor uw bericht"
        "|bedankt voor het werk|fijne dag|fijn weekend|prettige dag|ja"
        "|ziet er mooi uit"
        "|mooi werk",
        closing="met vriendelijke groet|met vriendelijke groeten|vriendelijke groet|groeten|groet"
        "|hartelijke groeten|mvg"
        "|hartelijke groet|bedankt|veel groeten",
        device="verzonden vanaf mijn|verstuurd vanaf mijn|verzonden vanaf een",
        opens="op",
        wrote="schreef",
        quoted="oorspronkelijk bericht|origineel bericht",
        header="van|verzonden|datum|aan|onderwerp",
        sent="verzonden|datum",
        doubt="niet|geen|nee|maar|als|indien|mits|tenzij|behalve|wachten|wacht|stop|controleren"
        "|controleer|vragen|vraag"
        "|fout|misschien|denk|geloof|zeker|onzeker|hoop|later|graag|ook|echter|andere|anderen|rest"
        "|wijzigen|wijziging"
        "|ontbreekt|nooit|nog|alleen|pas|tot|of|annuleren|wel|eigenlijk",
    ),
    "pl": Phrases(
        agree="wszystko się zgadza|wszystko poprawne|wszystko jest poprawne|wszystko dobrze|wszystko jest dobrze"
        "|wszystko w porządku|wszystko jest w porządku|wszystko ok|wszystko jest ok"
        "|wszystko prawidłowo|zatwierdzam"
        "|akceptuję|zatwierdzam wszystko|akceptuję wszystko|tak wszystko się zgadza"
        "|wszystkie poprawne|zgadza się wszystko",
        rest="reszta się zgadza|reszta jest poprawna|reszta jest dobrze|pozostałe są poprawne"
        "|pozostałe się zgadzają"
        "|cała reszta się zgadza|reszta w porządku|poza tym wszystko się zgadza",
        but="oprócz|poza|z wyjątkiem|prócz|za wyjątkiem",
        good="ok|dobrze|poprawne|poprawny|się zgadza|się zgadzają|zgadza się|zgadzają się|jest poprawny"
        "|są poprawne"
        "|w porządku|jest ok|są ok",
        wrong="źle|jest źle|są źle|błędne|błędny|jest błędny|są błędne|niepoprawne|niepoprawny"
        "|się nie zgadza|nie zgadza się",
        leave="nie wycinać|nie ciąć|nie grawerować|proszę nie wycinać|nie wykonywać|pominąć|proszę pominąć|nie robić",
        leave_first="nie wycinać|nie ciąć|proszę nie wycinać|proszę pominąć|pominąć|nie wykonywać",
        reads="ma brzmieć|powinno być|powinno brzmieć|ma być|zmienić na|proszę zmienić na",
        and_="i|oraz|&",
        proof="korekta|próba|projekt|wydruk próbny|arkusz próbny",
        greeting="dzień dobry|witam|cześć|dobry wieczór|szanowni państwo|szanowna pani|szanowny panie|hej|witaj",
        courtesy="dziękuję|dziękujemy|bardzo dziękuję|dzięki|wielkie dzięki|dziękuję bardzo|dziękuję za projekt"
        "|dziękuję za pracę|dziękuję za przesłanie|dziękuję za wiadomość|dzięki za przesłanie|z góry dziękuję"
        "|miłego dnia|miłego weekendu|tak|pięknie wygląda|dobra robota",
        closing="pozdrawiam|z poważaniem|pozdrowienia|serdecznie pozdrawiam|z wyrazami szacunku"
        "|łączę pozdrowienia"
        "|dziękuję|dzięki",
        device="wysłane z mojego|wysłano z mojego|wysłane z",
        opens="w|dnia",
        wrote="napisał",
        quoted="wiadomość oryginalna|oryginalna wiadomość",
        header="od|wysłano|data|do|temat",
        sent="wysłano|data",
        doubt="nie|ale|jeśli|jeżeli|gdy|chyba|oprócz|czekać|proszę|czekaj|stop|sprawdzić|sprawdzę"
        "|zapytać|pytanie|źle|błąd"
        "|może|myślę|sądzę|pewny|pewna|później|też|także|jednak|inne|reszta|zmienić|zmiana|brakuje"
        "|zamiast|nigdy|jeszcze"
        "|tylko|lub|albo|anulować|dopiero|raczej",
    ),
    "cy": Phrases(
        agree="popeth yn gywir|mae popeth yn gywir|popeth yn iawn|mae popeth yn iawn|pob un yn gywir"
        "|mae pob un yn gywir"
        "|cytuno|rwy'n cytuno|popeth yn dda|i gyd yn gywir|maen nhw i gyd yn gywir|popeth yn ok",
        rest="mae'r gweddill yn gywir|mae'r gweddill yn iawn|y gweddill yn gywir|y gweddill yn iawn"
        "|mae popeth arall yn gywir|popeth arall yn gywir",
        but="heblaw|heblaw am|ac eithrio|ar wahân i|oni bai am",
        good="yn gywir|yn iawn|iawn|cywir|ok|yn dda|mae'n gywir",
        wrong="yn anghywir|anghywir|ddim yn gywir|yn wallus",
        leave="peidiwch â thorri|dim torri|i beidio â'i dorri|gadewch allan|i'w hepgor",
        leave_first="peidiwch â thorri|gadewch allan|hepgorwch",
        reads="dylai ddarllen|dylai fod|newid i|newidiwch i",
        and_="a|ac|&",
        proof="proflen|y broflen",
        greeting="helo|shwmae|bore da|prynhawn da|noswaith dda|annwyl|hia|haia",
        courtesy="diolch|diolch yn fawr|llawer o ddiolch|diolch am y broflen|diolch am hyn|diolch am anfon"
        "|diolch am eich neges|diolch am eich gwaith"
        "|diolch o galon|ie"
        "|diwrnod da|penwythnos da|maen nhw'n edrych yn hyfryd|diolch eto",
        closing="cofion gorau|cofion cynnes|cofion|yn gywir iawn|dymuniadau gorau|yr eiddoch yn gywir|hwyl|diolch",
        device="anfonwyd o fy|anfonwyd o'm",
        opens="ar",
        wrote="ysgrifennodd",
        quoted="neges wreiddiol",
        header="oddi wrth|anfonwyd|dyddiad|at|pwnc",
        sent="anfonwyd|dyddiad",
        doubt="ddim|dim|na|nid|nad|ond|os|oni|heblaw|aros|arhoswch|stopio|gwirio|gofyn|cwestiwn|anghywir"
        "|camgymeriad|gwall"
        "|efallai|meddwl|credu|siŵr|gobeithio|wedyn|hefyd|fodd|eraill|arall|gweddill|newid|ar goll"
        "|yn lle|byth|eto|yn unig"
        "|neu|canslo|pan",
    ),
}

DOUBTFUL: frozenset[str] = frozenset().union(*(each.list_words() for each in PHRASES.values()))
"""The courtesies of all languages together: clients mix them."""
