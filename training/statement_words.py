"""Invented names, and words of labels, for made marks (`make_statements.py`). From memory; common practice. No firm, person or
place is meant; towns are partly taken from the starter list of towns."""

import csv
import os

HERE = os.path.dirname(os.path.abspath(__file__))


def pick(r, of):
    return of[r.randrange(len(of))]


FIRST = """Thorn Amble Brad Cor Dun Ell Fen Garr Hather Ing Kel Lang Marl Nor Old Pen Quar Ram Sel Under Ven Wal Yar Ash Beck Birk Black Bram Brock
Burn Cald Carl Chad Clay Cold Cran Croft Dal Den Dray Eas Eg Els Fair Fal Farn Flax Fox Gal Gold Gran Green Grim Hack Hal Ham Hard Hart Hazel Hay Hel
Hol Horn Hux Ire Kirk Knap Lam Lath Led Lin Lock Lud Mal Mans Mel Mor Mos Nether Nut Oak Ot Pad Pil Plum Rad Rav Red Rip Ros Ruth Sand Scar Sed Shel
Skel Sled Stan Stock Stone Sud Sut Swin Tad Tan Tem Thrap Tid Tor Trum Twist Up Wad War Wel Wether Whin Wick Wim Win Wood Wrax Wyn Zel Pol Tre Pen
Lan Ros Bos Car Mac Fitz Strath Inver Auch Dal Kin Bal""".split()
SUR = """ray row wood by ley ton ham worth field shaw well bourne croft man gate stead more ford den ridge dale combe land bury wick thorp som ster
kin son ell et er low ock am ard ing ings sley stone tree water house way wright smith kins bert mond win""".split()
TOWN = """caster by ton ham ford borough mouth bridge minster chester wick pool haven burgh kirk thorpe stoke ley worth field market wold dale head
side wood bury stow sea port gate cliffe hampton ness moor rigg hurst""".split()
COMMON = """Smith Brown Green Wood King Hill Hall Clark Turner Walker Wright Cooper Ward Parker Bennett Carter Mills Lee Hunt Price Fox West North
Banks Field Lane Marsh Page Park Reed Rose Stone Street Bridge Castle Church Gates Moon Frost Snow Winter Summers Day May March Bishop Knight Abbott
Baker Butcher Carver Gilder Framer Taylor Potter Mason Fisher Shepherd Miller Gardner Lord Noble York Kent Derby Bath Lincoln London Lancaster Wells
Preston Burton Ashton Bolton Milton Newton Weston Sutton Norton Barton Hampton Clifton Graves Pledge Read Size Frame Brush Glass""".split()
GIVEN = """Arthur Alfred Ada Agnes Albert Alice Amelia Ann Anne Anthony Ambrose Barbara Benjamin Bertram Caroline Catherine Cecil Charles Charlotte
Clara Clement Cuthbert Daniel David Dorothy Edgar Edith Edmund Edward Edwin Eleanor Eliza Elizabeth Ellen Emily Ernest Esther Ethel Fanny Florence
Frances Francis Frank Frederick George Gertrude Gilbert Giles Grace Hannah Harold Harriet Helen Henry Herbert Hester Horace Hubert Hugh Humphrey Isaac
Isabel Jabez Jacob James Jane Jasper Jessie Joan John Jonathan Joseph Joshua Josiah Julia Kate Laura Lawrence Leonard Lewis Lilian Louisa Lucy Lydia
Mabel Margaret Maria Marian Mark Martha Mary Matilda Matthew Maud Maurice Michael Mildred Nathaniel Nicholas Norman Oliver Oscar Owen Patrick Percy
Peter Philip Phoebe Rachel Ralph Rebecca Reginald Richard Robert Roger Rosa Rowland Rupert Ruth Samuel Sarah Septimus Sidney Silas Simon Sophia Stephen
Susan Theodore Theophilus Thomas Timothy Tobias Victor Vincent Violet Walter Wilfred William Winifred Algernon Basil Beatrice Everard Lancelot
Marmaduke Phineas Roderick Selina Ursula""".split()
ABBREVIATED = {"William": ["Wm", "Wm.", "Will"], "John": ["Jno", "Jno.", "Jn"], "Thomas": ["Thos", "Thos."], "Charles": ["Chas", "Chas."], "James": ["Jas", "Jas."],
    "George": ["Geo", "Geo."], "Robert": ["Robt", "Robt."], "Richard": ["Richd", "Richd."], "Samuel": ["Saml", "Saml."], "Henry": ["Hy", "Hy."], "Edward": ["Edwd", "Edw."],
    "Joseph": ["Jos", "Jos."], "Benjamin": ["Benjn", "Benj."], "Frederick": ["Fredk", "Fredk."], "Daniel": ["Danl"], "Francis": ["Fras"], "Alfred": ["Alfd"], "Matthew": ["Mattw"]}
FOREIGN = {
    "fr": dict(given="Jean Pierre Jacques Louis François Henri Antoine Marie Jeanne Claude Émile René Gustave Gaston Eugène Jules Léon Auguste Armand Camille Adèle Berthe Hortense Édouard".split(),
        a="Ber Mar Du Dela Cha Bou Fon Gré La Le Mou Per Ro Sau Tré Val Vau Bel Cor Des Gar Lam Mont Pel Ravi".split(), b="tin nard court ville mont berg tier lain rel val cher nier deau roche lart net rand vois gny rault gneux lange dier".split(),
        town="Paris Lyon Rouen Bordeaux Lille Bruxelles Genève Nantes Dijon Tours Marseille Toulouse Nancy Amiens".split(),
        street=["rue {}", "boulevard {}", "quai {}", "rue de {}", "place {}", "rue du {}", "rue des {}", "avenue {}"], sw="la Paix|Saint-Honoré|Bac|Rivoli|Seine|Petits Champs|l'Échiquier|la Boétie|Moulins|Saint-Jacques|Notre-Dame|la Gare|l'Abbaye|Richelieu".split("|")),
    "de": dict(given="Hans Karl Carl Friedrich Wilhelm Heinrich Johann Georg Gottfried Otto Ludwig Franz Josef Max Ernst Hermann Klara Margarete Elise Anton Jürgen Käthe".split(),
        a="Berg Stein Hoch Lind Eber Wald Schön Kar Hart Roth Brand Feld Grün Heil Kreu Lang Müh Neu Ober Rei Schu Ves Wein Zim".split(), b="mann er stein bach feld hardt meyer hof berger inger ner lein sen ler per wald ing haus burg".split(),
        town="Berlin München Dresden Düsseldorf Wien Köln Hamburg Leipzig Frankfurt Stuttgart Karlsruhe Weimar Hannover Nürnberg".split(),
        street=["{}straße", "{}strasse", "{}str.", "{}platz", "{}gasse", "{} Straße", "Am {}", "{}weg"], sw="Leipziger|Linden|Potsdamer|Brienner|König|Schiller|Markt|Theater|Ludwig|Goethe|Wilhelm|Kaiser|Park|Neu".split("|")),
    "nl": dict(given="Jan Pieter Willem Hendrik Cornelis Gerrit Dirk Adriaan Jacobus Johanna Klaas Maria Anna".split(),
        a="Van\u00a0der\u00a0 de\u00a0 Ver Bos Kui Ho Ma Roe Sta Wou Haa Nij Scha Bloem Dek Post Mol".split(), b="meer berg kamp hof man stra huizen ker nink veld brink sloot beek ters wijk laan pers".split(),
        town="Amsterdam Rotterdam Utrecht Haarlem Leiden Arnhem Groningen Antwerpen Gent 's-Gravenhage Delft Dordrecht".split(),
        street=["{}straat", "{}gracht", "{}kade", "{}laan", "{}weg", "{}plein", "Lange {}straat"], sw="Heren|Keizers|Prinsen|Kerk|Hof|Molen|Spui|Noord|Park|Stations|Konings|Brede|Nieuwe\u00a0".split("|")),
    "it": dict(given="Luigi Giovanni Giuseppe Antonio Francesco Carlo Pietro Paolo Vincenzo Domenico Angelo Giacomo Lorenzo Maddalena Teresa".split(),
        a="Bel Car Fer Mo Ra San Tor Ver Bian Cas Don Gal Lom Man Pel Ric Sal Val".split(), b="lini telli rari roni setti naldi cini bardi velli netti gatti doni rosi pini chi tano luzzi".split(),
        town="Roma Firenze Milano Torino Venezia Napoli Bologna Genova Padova Verona Siena".split(),
        street=["Via {}", "Via dei {}", "Corso {}", "Piazza {}", "Via del {}", "Viale {}"], sw="Nazionale|Condotti|Babuino|Roma|Garibaldi|Tornabuoni|Fossi|Mazzini|Vittorio\u00a0Emanuele|Manzoni|Servi|Po".split("|")),
}
STREETS = "Street Street Street St. St. St Road Rd. Lane Place Square Sq. Row Terrace Gate Hill Yard Court Parade Crescent Buildings Arcade Walk Gardens Passage Avenue Mews".split()
STREETWORDS = """High King Queen Church Great Old Upper Lower North South New Castle Bridge Mill Market Park Chapel Mount Duke Albert Victoria George
Princes Regent Bold Deansgate Wellington Nelson Bond Baker Oxford Silver Fleet Friar Minster Abbey Canal Dock Quay College School Spring Well Cross Broad""".split()
ONEWORD = "Highgate Stricklandgate Cornhill Cheapside Haymarket Northgate Southgate Westgate Eastgate Broadgate Piccadilly Poultry Stonegate Micklegate Briggate Kirkgate Sandgate".split()
TRADE = {
    "maker": """carver & gilder|carvers & gilders|carver and gilder|carver, gilder & picture frame maker|picture frame maker|picture frame makers|frame maker and gilder|
looking glass & picture frame manufacturer|carver, gilder, & printseller|wholesale frame manufacturer|framer & mounter|gilder|artists' colourman|artists' colourmen|
artists' colourman & stationer|colourman to artists|artists' colour manufacturers|artists' repository|prepared canvas & panel manufacturers|print seller & frame maker|
cabinet maker & gilder|carvers, gilders, and picture restorers|picture liner & restorer|mount cutter & framer|moulding manufacturers|decorator, carver and gilder|
practical gilders|joiner & frame maker|plate glass factor and gilder|drawing material warehouse|fine art framers""",
    "seller": """fine art dealer|fine art dealers|printseller|printsellers & publishers|picture dealer|dealers in works of art|print seller|bookseller & stationer|
antique dealer|dealer in antiques and pictures|art dealer|fine art repository|fine art gallery|printseller & publisher|dealers in modern pictures""",
    "sale": "auctioneers|auctioneers & valuers|auctioneer|auctioneer and estate agent|fine art auctioneers|auctioneers, valuers & estate agents",
    "fr": "doreur|doreurs|encadreur|encadrements|marchand de tableaux|doreur sur bois|marchand de couleurs|encadreur-doreur|couleurs et toiles|miroitier|marchand d'estampes|fabrique de cadres|cadres et dorures|restaurateur de tableaux|couleurs fines",
    "de": "Kunsthandlung|Vergolder|Rahmenfabrik|Hofvergolder|Kunst- und Rahmenhandlung|Vergolder und Rahmenmacher|Einrahmungen|Bilderrahmen|Glaserei und Einrahmung|Malutensilien|Spiegel- und Rahmenfabrik|Kunsthändler",
    "nl": "lijstenmaker|lijstenmakerij|vergulder|kunsthandel|vergulder en lijstenmaker|kunsthandelaar|inlijstingen|fabriek van lijsten|spiegels en lijsten|schildersbenodigdheden",
    "it": "doratore|corniciaio|negoziante di quadri|fabbrica di cornici|doratore e corniciaio|belle arti|colori e tele|cornici e specchi|stampe e quadri|intagliatore e doratore",
}
TRADE = {k: v.replace("\n", "").split("|") for k, v in TRADE.items()}
SELLS = ("archand", "Kunst", "kunsthandel", "negoziante", "stampe", "estampes")


def trades(role, lang):
    """Trades of a maker, a seller or a sale room."""
    if lang == "en" or role == "sale":
        return TRADE[role if role in ("maker", "seller", "sale") else "maker"]
    sells = [t for t in TRADE[lang] if any(s in t for s in SELLS)]
    return sells if role == "seller" else [t for t in TRADE[lang] if t not in sells]


NOISE = {
    "en": """Every description of frames made to order|Old frames re-gilt|Pictures cleaned, lined and restored|Estimates free|Established over fifty years|Mounts cut to order|
By appointment to Her Majesty|By appointment|to Her Majesty the Queen and the Royal Family|Wholesale and Retail|Country orders promptly attended to|Washable gold mouldings|
Looking glasses re-silvered|Drawings mounted|Prints and drawings mounted & framed in the best style|Glass of all kinds|Plate glass cut to any size|Engravings neatly framed|Please turn over|
All communications to be addressed to the Secretary|This label to be pasted on the back|Made in England|Trade Mark|Registered|Patent No. 1247|Prize medal 1862|No connection with any other house|
Works: Mill Lane|A large assortment of gilt mouldings always in stock|Merchants and the trade supplied|Oil paintings carefully restored|Telephone 427|Tel. 1183|Telegrams: Pictor|Tel. Gerrard 2210|
Terms moderate|Opposite the Town Hall|Near the Station|next the Bank|Maps and plans varnished|Room I|North Gallery|Drawing Room|over the sideboard|Dining room|back parlour|On the stairs|Best bedroom|
Reframed|relined|Exhibition medal 1884|Gold medal Paris 1878|Silver medal 1851|Medals 1862, 1867|New frame|Not framed|unframed|in a maple frame|under glass|Varnish removed|Stained|touched up|Returned|Collected|Paid in full|Packed|entered|cleaned and varnished|with thanks|Please keep this label|Not to be removed|For office use only|To be filled in by the artist|Rules on the other side|Varnishing day|Hon. Secretary|
Accepted|Passed|Received|Examined|checked|hung|Screen|wall|bought with the house|see letter|see over|Ledger|Invoice|with original frame|copy|Photographed|Negative|Paid|glazed|Do not write here""",
    "fr": "Cadres sur mesure|Redorure de vieux bois|Maison de confiance|Spécialité de passe-partout|Nettoyage et vernissage|Glaces et consoles|Diplôme d'honneur|Ne rien écrire ici|reproduction interdite|Rentoilage|Prix modérés|Réparation de vieux cadres|Gros et détail|Encadrements en tous genres|Médaille d'or|Maison fondée en 1842|Téléphone 21.47|Restauration de tableaux|Fournisseur de la Cour|Expédition en province|à coller au dos du tableau|Dorure en tous genres|voir au verso|Reçu|Grand choix de glaces",
    "de": "Alle Arten Rahmen|Spezialität: Photographierahmen|Oval- und Phantasierahmen|Bilder werden gereinigt|Lieferung frei Haus|Muster auf Wunsch|Ausgezeichnet mit goldener Medaille|Vor Gebrauch schütteln|Nachdruck verboten|nicht unterschreiben|Reiche Auswahl|Reparaturen werden angenommen|Gegründet 1861|Fernsprecher 412|Eigene Werkstatt|Hoflieferant|Neuvergoldung alter Rahmen|Billige Preise|Bitte auf die Rückseite kleben|Eingegangen|geprüft|Ankauf und Verkauf|siehe Rückseite|Vom Künstler auszufüllen",
    "nl": "Schilderijen worden gerestaureerd|Verguldwerk|Groot magazijn|Levering aan huis|Inlijsten van platen|Bekroond met goud|Speciaal adres|dit etiket niet verwijderen|Spiegels in alle maten|Alle soorten lijsten|Opgericht 1870|Telefoon 318|Ruime keuze|Spoedige bediening|Hofleverancier|Restauratie van schilderijen|op de achterzijde te plakken|zie ommezijde|ontvangen",
    "it": "Dorature e restauri|Specialità in cornici antiche|Deposito di specchi|Premiato con medaglia|Si eseguisce ogni lavoro|Prezzi fissi|da compilare|non staccare|riproduzione vietata|Si restaurano quadri antichi|Casa fondata nel 1858|Lavori su misura|Grande assortimento di cornici|Telefono 224|Prezzi modici|da incollare sul retro|vedi retro|Fornitore della Real Casa|Doratura a fuoco",
}
NOISE = {k: v.replace("\n", "").split("|") for k, v in NOISE.items()}
# Headings by role and language; the last third of each (by a hash) is held out by turns.
HEADINGS = {
    "title": {"en": "Title|Title of Work|Title of Picture|Subject|Name of Picture|Name of Work|Title:|Picture|Work|Description|Entitled|Title of Painting|Subject of Picture|Name of Drawing|Full Title|Called|Work called|Title of exhibit|Drawing",
        "fr": "Titre|Sujet|Titre de l'œuvre|Désignation|Titre du tableau|Œuvre|Tableau|Sujet du tableau|Désignation de l'ouvrage", "de": "Titel|Gegenstand|Bezeichnung|Titel des Bildes|Bild|Titel des Werkes|Benennung|Bezeichnung des Werkes|Darstellung",
        "nl": "Titel|Onderwerp|Voorstelling|Titel van het werk|Benaming|Schilderij|Titel schilderij", "it": "Titolo|Soggetto|Titolo dell'opera|Opera|Titolo del quadro|Quadro|Denominazione"},
    "artist": {"en": "Artist|Artist's Name|Name of Artist|Painter|Painted by|by|Painter's name|The work of|Exhibitor|Artist's full name|Name|Name of Painter|Pinxit|From the brush of|Artist:|Drawn by|Author|Full Name of Artist|Name of exhibitor|Signed",
        "fr": "Artiste|Auteur|Nom de l'artiste|Peintre|par|Peint par|Nom|Nom et prénoms|Exposant|Nom de l'auteur", "de": "Künstler|Name des Künstlers|Maler|gemalt von|von|Name|Künstlername|Aussteller|Vor- und Zuname",
        "nl": "Kunstenaar|Naam van den kunstenaar|Schilder|door|geschilderd door|Naam|Inzender|Vervaardiger|Naam schilder", "it": "Artista|Autore|Nome dell'artista|Pittore|dipinto da|Nome|di|Espositore|Nome e cognome"},
    "artist_address": {"en": "Address|Artist's Address|Full Address|Address of Artist|Residence|Address:|Residing at|Postal address|Artist's full address|of|Address in full",
        "fr": "Adresse|Demeurant|Adresse de l'artiste|Domicile|Demeure", "de": "Adresse|Wohnort|Wohnung|Anschrift|Adresse des Künstlers|wohnhaft",
        "nl": "Adres|Woonplaats|Adres van den kunstenaar|wonende|Volledig adres", "it": "Indirizzo|Domicilio|Residenza|Indirizzo dell'artista|abitante"},
    "owner": {"en": "Owner|Property of|The property of|Proprietor|Belonging to|Owner's name|In the possession of|From the collection of|The Collection of|Collection|Name of Owner|belongs to|Ex coll.|Owned by|Collection of|Bought by|Purchased by|Given to|Bequeathed to|Presented to|Left to|Formerly the property of|Purchaser",
        "fr": "Propriétaire|Appartient à|Collection|Appartenant à|Nom du propriétaire|Propriété de|de la collection de|Coll.|Acquéreur", "de": "Besitzer|Eigentümer|Eigentum von|Sammlung|Im Besitz von|Besitz|Eigentum|aus der Sammlung|Name des Besitzers",
        "nl": "Eigenaar|Eigendom van|Verzameling|Collectie|Toebehoorende aan|Bezitter|in het bezit van", "it": "Proprietario|Proprietà|Collezione|Di proprietà di|Raccolta|Appartenente a|Proprietà di"},
    "lender": {"en": "Lent by|Lender|Loan from|Lent to the exhibition by|Kindly lent by|Name of Lender|On loan from|Lender's name|By courtesy of|Contributed by|Lent by kind permission of|Loaned by|Contributor|Lent|Name and address of lender|Lender's name and address|Lent for exhibition by|The loan of|Borrowed from|Deposited by|On deposit from|Lent through|Loan by|Loan of",
        "fr": "Prêté par|Prêteur|Obligeamment prêté par|Dépôt de|Prêt de|Nom du prêteur|Communiqué par|Prêt", "de": "Leihgeber|Geliehen von|Als Leihgabe von|Ausgeliehen von|Leihgabe von|Verleiher|Leihgabe|Name des Leihgebers", "nl": "Bruikleen van|Bruikleengever|In bruikleen van|In bruikleen gegeven door|Geleend van|Uitgeleend door|Bruikleen", "it": "Prestato da|Prestatore|Gentilmente prestato da|Prestito di|In prestito da|Concesso da"},
    "consignee": {"en": "Return to|To be returned to|Deliver to|Send to|Forward to|Return|Please return to|To|Agent|Name of Agent|c/o|To be called for by|Return address|After exhibition return to|To be delivered to|Consigned to|London agent|For|Collected by|To be collected by|To be fetched by|Will be called for by|Fetched by|Hand to|Dispatch to|Send back to|Address for return|Returned to|To be sent to|Please deliver to|Please forward to|Pass to|Addressee|If unsold return to|Carriage to",
        "fr": "Retourner à|Renvoyer à|Faire parvenir à|Expédier à|À renvoyer à|À rendre à|Destinataire|Livrer à|À retourner à|Retour à|Remettre à", "de": "Zurück an|Bitte zurück an|Abzuliefern an|Abzuholen von|Rücksendung an|Zurückzusenden an|Empfänger|An|Rückgabe an|Zu senden an", "nl": "Terug te zenden aan|Te zenden aan|Af te halen door|Afleveren aan|Terug aan|Bestemd voor|Te bezorgen bij|Aan|Retour aan|Afzender", "it": "Restituire a|Inviare a|Rendere a|Destinatario|Da restituire a|Consegnare a|Spedire a|Al Signor|Rimandare a"},
    "price": {"en": "Price|Price:|Price £|Value|Price in guineas|Insurance value|Sale price|Value for insurance|Cost|Asking price|Lowest price|Price, including frame|Price with frame|Price asked|Insured for|Valued at",
        "fr": "Prix|Prix demandé|Valeur|Valeur d'assurance|Prix de vente|Estimation", "de": "Preis|Verkaufspreis|Wert|Versicherungswert|Preis mit Rahmen|Schätzpreis", "nl": "Prijs|Waarde|Verkoopprijs|Verzekerde waarde|Vraagprijs", "it": "Prezzo|Valore|Prezzo di vendita|Valore assicurato|Prezzo richiesto"},
    "catalogue_number": {"en": "No.|No|Catalogue No.|Cat. No.|Number|No. in Catalogue|Cat.|Exhibit No.|Picture No.|Cat no|Number in catalogue|No. of work|Exhibition No.|N°|Exhibit|Entry No.|Catalogue",
        "fr": "N°|No|N° du catalogue|Numéro|Cat. n°|No du catalogue", "de": "Nr.|Kat.-Nr.|Katalog Nr.|Nummer|No.|Katalognummer", "nl": "No.|Nr.|Catalogus No.|Nummer|Cat. nr.|Catalogusnummer", "it": "N.|N°|Numero|Catalogo N.|N. di catalogo|Numero del catalogo"},
    "lot": {"en": "Lot|Lot No.|LOT|lot|Lot:|Lot number|Lot no", "fr": "Lot|Lot n°|N° du lot|Vacation lot", "de": "Los|Los Nr.|Losnummer|Los-Nr.", "nl": "Kavel|Lot|Kavel nr.|Kavelnummer", "it": "Lotto|Lotto N.|Lotto n°"},
    "stock_number": {"en": "Stock No.|Stock|Ref.|Stock no|Ref. No.|Our No.|Ledger No.|Inv. No.|Stock number|Register No.|Inventory No.|Book No.|Our ref.|Stock Book|Neg. No.|Reference|Photo No.|Store No.|Serial No.",
        "fr": "N° d'inventaire|Inv.|Stock n°|Réf.|N° de stock|Registre|Photo n°", "de": "Lager-Nr.|Inv.-Nr.|Lagernummer|Inv. Nr.|Inventar-Nr.|Buch Nr.|Foto Nr.", "nl": "Inv. nr.|Voorraad nr.|Inventaris|Stocknr.|Boek No.", "it": "Inv.|N. inv.|Inventario|N. di magazzino|Rif."},
    "exhibition": {"en": "Exhibited at|Exhibited|Exhibition|Shown at|Exhibition at|Exhibited at the|Shown at the|Exh.|Hung at|Sent to|exhib.", "fr": "Exposé à|Exposition|Exposé au|Exp.", "de": "Ausgestellt|Ausstellung|Ausgestellt in|Ausst.", "nl": "Tentoongesteld|Tentoonstelling|Tentoongesteld te|Tent.", "it": "Esposto|Esposizione|Mostra|Esposto a"},
    "exhibition_year": {"en": "Exhibition|Year|Season|Exhibition of|Exhibition,", "fr": "Exposition|Exposition de|Année|Salon de", "de": "Ausstellung|Ausstellung von|Jahr|Kunstausstellung", "nl": "Tentoonstelling|Jaar|Tentoonstelling van", "it": "Esposizione|Anno|Mostra|Esposizione del"},
    "date": {"en": "Date|Dated|Date:|Painted|Painted in|Year|Bought in|Bought on|Purchased|Cleaned in|Varnished|Restored|Begun|Finished|Hung|Acquired|Inherited|Presented|Lined|Mounted|Sold on|Delivered on|Entered|Arrived|Signed and dated|Date of work|Received|Sent in|Framed|Bought|Relined|Given|When painted|Completed|Rec'd|Reframed|cleaned|Delivered",
        "fr": "Date|Daté|le|Année|Peint en|Reçu le|Fait en", "de": "Datum|Datiert|Jahr|gemalt|den|Entstanden|am", "nl": "Datum|Gedateerd|Jaar|geschilderd|den|Gemaakt in", "it": "Data|Datato|Anno|dipinto nel|li|Eseguito nel"},
    "size": {"en": "Size|Size:|Dimensions|Measurements|Size of frame|Sight size|Size without frame|Canvas size|Size in inches|Frame size|Measures|Outside measure", "fr": "Dimensions|Format|Grandeur|Hauteur et largeur|Mesures", "de": "Größe|Maße|Grösse|Format|Bildgröße|Masse", "nl": "Afmetingen|Maat|Grootte|Formaat|Afm.", "it": "Dimensioni|Misure|Formato|Misura"},
    "medium": {"en": "Medium|Material|Medium:|Whether oil or water colour|Technique|Class of work|Nature of work|Execution|Style|Oil or Water Colour", "fr": "Technique|Genre|Matière|Procédé|Nature de l'ouvrage", "de": "Technik|Material|Art|Ausführung", "nl": "Techniek|Materiaal|Soort", "it": "Tecnica|Materia|Genere|Materiale"},
    "dealer": {"en": "With|From|Bought from|Supplied by|Bought of|Purchased from|Sold by|Dealer|Through|Bt. from|Acquired from|from|Per|Publisher|Had of|Sold through|Agent for sale|Stocked by|Handled by|Retailed by|Vendor|Seller|Sold by Messrs|Obtained of|Obtained from|Procured of|Published by", "fr": "Chez|Acheté chez|Marchand|Vendu par|Acquis chez|En vente chez|Provenant de chez|Éditeur", "de": "Bei|Gekauft bei|Händler|Bezogen von|Zu haben bei|Erworben bei|Verlag von", "nl": "Bij|Gekocht bij|Handelaar|Gekocht van|Te koop bij|Uitgever", "it": "Presso|Acquistato da|Comprato da|Venduto da|In vendita presso|Mercante"},
    "sale": {"en": "Sale|Sold at|Bought at|Sold by|Sale of|Auction|Bt. at|Purchased at|Sold at the rooms of|From the sale of|at|Auction at", "fr": "Vente|Vente de|Vendu à|Vente aux enchères|Acheté à la vente", "de": "Auktion|Versteigert bei|Versteigerung|Verkauft bei|Auktion bei", "nl": "Veiling|Verkocht bij|Geveild bij|Verkooping", "it": "Vendita|Asta|Venduto presso|Asta di"},
    "sale_date": {"en": "Sale|Sold|Day of sale|Date of sale|on|Sale day|Sale held|To be sold", "fr": "Vente du|le|Vendu le|Date de la vente", "de": "Auktion vom|am|Versteigerung am|vom", "nl": "Veiling van|op|Verkooping van|den", "it": "Vendita del|il|Asta del|del"},
    "maker": {"en": "Framed by|Frame by|Made by|Frame made by|Manufactured by|Sold and framed by|Gilded by|Relined by|Prepared by|Lined by|from|Mounted by|Canvas by|Restored by", "fr": "Encadré par|Cadre de|Maison|Fabriqué par|Rentoilé par", "de": "Gerahmt von|Rahmen von|Einrahmung|Firma|Hergestellt von", "nl": "Ingelijst door|Lijst van|Firma|Geleverd door", "it": "Cornice di|Ditta|Incorniciato da|Fornito da"},
    "part": {"en": "Part", "fr": "Partie", "de": "Teil", "nl": "Deel", "it": "Parte"},
}
HEADINGS = {role: {k: v.split("|") for k, v in langs.items()} for role, langs in HEADINGS.items()}
INSTRUCTION = {
    "en": "Glass with care|This side up|Please handle gently|Beware of the glass|Lift from below|Carry upright|Not to be laid flat|Do not hang in sunlight|Store in a dry place|Do not roll|Do not fold|Keep flat|Lift here|Open other side|Do not nail|Do not open|Carry with both hands|Return the case|Empty case to be returned|Screws only|Fragile|Keep dry|With care|Handle with care|Top|Do not touch|Do not varnish|Keep this way up|Care of glass|Unpack with care|Please do not remove|Not to be lifted by the frame|Glass|Do not hang over a fire|Lay flat|No hooks|Stand upright|Keep from damp|This way up|Open this side|Wet paint|Hang in a good light|Do not lay flat|Remove screws before opening|Keep away from heat|Handle by edges only|To be hung on the line|Use no hooks|Not to be photographed|Not to be washed",
    "fr": "Fragile|Haut|Bas|Tenir debout|Ne pas rouler|Verre fragile|Ne pas toucher|Craint l'humidité|Attention au verre|À manier avec soin|Ne pas renverser|Haut et bas|Ne pas vernir|Tenir au sec", "de": "Vorsicht Glas|Nicht stürzen|Oben|Unten|Hier öffnen|Nicht rollen|Vor Sonne schützen|Vor Nässe schützen|Zerbrechlich|Nicht werfen|Vorsicht|Nicht berühren|Trocken aufbewahren", "nl": "Breekbaar|Voorzichtig|Niet kantelen|Boven|Onder|Hier openen|Niet rollen|Glas voorzichtig|Droog houden|Niet aanraken", "it": "Fragile|Alto|Attenzione vetro|Non arrotolare|Aprire qui|Non capovolgere|Maneggiare con cura|Non toccare|Tenere all'asciutto"}
INSTRUCTION = {k: v.split("|") for k, v in INSTRUCTION.items()}
PART = "Frame no. 2|one of two|2nd of a pair|third of four|No. 2 of 3|Companion to no. 3|Left panel|right-hand wing|Lower half|back of frame|Inner frame|Slip|Case 1 of 2|Parcel 3|Set of three|Pair with no. 12|Volet gauche|Linker Flügel|Rechter Flügel|Rückseite|Rahmen|Kiste 2|Caisse 4|Cadre|Kist 3|Lijst|Cassa 2|Cornice|Frame|Stretcher|Backboard|1 of 2|2 of 3|Left wing|Right wing|Centre panel|Pair|One of a pair|No. 1 of a pair|Case 3|Box 2|Crate 4|Lid|frame only|companion picture|Part I|part 2|Pendant|one of a set of four|Upper half|Left hand panel|3 of 4|second of a pair|Glass|2/2|1/3".split("|")
MEDIUM = {
    "en": "Oil|Oil on canvas|Water colour|Watercolour|oil on panel|Oil painting|oils|Pastel|Chalk drawing|Pencil|Etching|Tempera|Mezzotint|pen and ink|oil on board|Water-colour drawing|Gouache|charcoal|Oil on millboard|pencil and wash|oil on copper|Drypoint|Crayons|red chalk|Bodycolour|Lithograph|ink and wash on paper|Oil on paper laid on board|tempera on panel|aquatint|Wood engraving|black and white chalk",
    "fr": "huile sur toile|Aquarelle|Pastel|huile sur bois|Fusain|Gouache|Eau-forte|Peinture à l'huile|Dessin au crayon|sanguine|huile sur carton", "de": "Öl auf Leinwand|Aquarell|Pastell|Öl auf Holz|Radierung|Kreide|Ölgemälde|Bleistift|Tusche|Öl auf Pappe", "nl": "olieverf op doek|Aquarel|olieverf op paneel|Ets|Krijt|Pastel|Olieverf|Potlood", "it": "Olio su tela|Acquerello|Pastello|Olio su tavola|Acquaforte|Tempera|carboncino|Matita"}
MEDIUM = {k: v.split("|") for k, v in MEDIUM.items()}
THINGS = """River Bridge Mill Castle Cottage Church Shore Storm Boats Sheep Cattle Horses Flowers Roses Fruit Girl Boy Mother Child Gipsy Shepherd Harvest Snow Moor Loch
Glen Abbey Valley Woods Lane Ferry Market Gate Garden Dog Fisherman Hayfield Ruin Old Oak Pool Heath Rocks Tarn Fells Windmill Barn Milkmaid Terrier Poppies Cherries
Kitchen Forge Anvil Weaver Reader Letter Lesson Sonata Blacksmith Orchard Quarry Lighthouse Estuary Marsh Ford Cornfield Chrysanthemums Primroses Kittens Spaniel Grouse
Trout Salmon Pheasant Plough Wagon Team Smithy Well Bluebells Meadow Lagoon Temple Bazaar Minaret Bridesmaid Soldier Sailor Wreck Regatta Pilot Net Sail Tide""".split()
ADJ = "Old Quiet Grey Golden Misty Summer Winter Autumn Evening Morning Silent Lonely Last First Wild Breezy Rainy Sunny Stormy Still Early Late Ruined Favourite Little Young Distant Highland Rustic Windy Wet Frosty Deserted Broken Blue Red White Dark Happy Sleeping Forgotten".split()
ABSTRACT = "Meditation|Solitude|Hope|The Last Load|Waiting|Contentment|Good News|Homeward|Expectation|The Letter|A Doubtful Customer|Reflections|Gathering Clouds|Under the Trees|The End of the Day|Day Dreams|In Disgrace|A Stitch in Time|Feeding Time|The Rivals|An Anxious Moment|Rest by the Way|Forgiven|The Truant|After Rain|Between Showers|The Wanderer|Low Tide|Ebb Tide|High Noon|Toilers|Caught|Adrift|A Quiet Pipe|The Empty Chair|Convalescent|Sweet Seventeen|The New Frock|Grace before Meat|Far from Home|A Foregone Conclusion|Two Strings|Youth|Silence|Sorrow|Echo|Fortune|The Pledge Redeemed|Who goes there?|Lost|Found".split("|")
# Words of paper that was at hand (newspapers, ledgers, school books): they state nothing.
SCRAP = """the and of to in that was for with his had from they were which this have been their would when there who will more said into than about could time
only other these first any some over great such before very after under years made being day where through much should well still against between never
house people country government morning because although meeting Parliament corn wheat barley shipping weather price market yesterday letter
gentlemen honourable member question committee railway company shares sermon lesson chapter verse rule sum answer boys girls must learn write copy soap tea
sugar boot shoe coal gas water candles horse carriage servant wanted apply situation respectable young cook housemaid let unfurnished rooms sale piano
remedy pills cough cure bottle chemist every sufferer relief certain""".split()
ADVERT = [["Agents for", "Makers of", "Sole importers of", "Always in stock,", "Specialists in", "Importers of", "A choice of", "Large stock of", "Cleaners of", "Dealers in all", "Every kind of", "Repairs to", "Estimates for"],
    ["gilt mouldings", "brushes and colours", "engravings", "chimney glasses", "mounts and mats", "old frames", "window cornices", "water-colour boards", "oak frames", "cut glass", "ornamental frames", "sketching materials", "brackets and consoles", "girandoles", "maps, charts and plans"],
    ["", "", "of the best quality", "at lowest prices", "on the shortest notice", "to order", "for the trade", "at moderate charges", "in town or country", "by experienced men", "with despatch", "wholesale"]]
TITLES = {
    "fr": ["Vue de {w}", "Paysage", "Le Pont de {w}", "Nature morte", "Portrait de Mme {p}", "Bords de la {w}", "Coucher de soleil", "La Moisson", "Effet de neige", "Le Moulin de {w}", "Jeune fille au chapeau", "Environs de {t}", "Marée basse à {t}", "Roses et pivoines", "Intérieur d'église", "La Lecture", "Le Vieux Port", "Sous bois", "Tête d'étude", "Le Repos"],
    "de": ["Ansicht von {t}", "Landschaft mit Kühen", "Stilleben", "Bildnis der Frau {p}", "Am {w}see", "Mondnacht", "Herbstabend", "Waldinneres", "Blick auf {t}", "Bauernhof im Schnee", "Blumenstück", "Mädchen am Fenster", "Partie bei {t}", "Die Mühle", "Abendstimmung", "Selbstbildnis", "Heimkehr der Herde", "Wintermorgen"],
    "nl": ["Gezicht op {t}", "Landschap met koeien", "Stilleven", "Portret van Mevr. {p}", "Haven van {t}", "Molen bij {t}", "Wintergezicht", "Boerderij", "Strand met visschers", "Avond aan de {w}", "Bloemen", "De oude brug", "Schapen op de heide", "Kerkinterieur"],
    "it": ["Veduta di {t}", "Paesaggio", "Natura morta", "Ritratto della Signora {p}", "Tramonto sul {w}", "Il ponte di {t}", "Marina", "Testa di vecchio", "Mattino d'aprile", "La madre", "Fiori", "Il mercato di {t}", "Chiostro", "Barche a {t}"],
}
TITLE_EN = """View of {t}|View near {t}|{a} {n}|The {n}|{n} and {n}|A {n} by the {n}|On the {w}|{t}|{t} from the {n}|Near {t}|The {n} at {t}|Portrait of {p}|Portrait of a {n}|{p}|Study of {n}|Still life|Still
Life with {n}|Landscape with {n}|Landscape|{x}|{x}|{x}|Evening on the {n}|Morning, {t}|{t} Harbour|{t} Castle|{t} from the {n}, evening|The {a} {n}|In the {n}|The {n}'s Return|Head of a {n}|{n} off {t}|A {a} {n}
|A {a} {n} near {t}|{a} Days|The {a} {n} at {t}|Where the {n} meets the {n}|"{x}"|"The {n}"|The {n}, {t}|At {t}|On the road to {t}|{t} Market|Interior of {t} Church|{n}|{n} in a {n}|By the {n}|A {n}|Among the {n}
|The {n} of {t}|Coast near {t}|Old {n}, {t}|{w} Bridge|The {n} that was|{p} and her {n}|Self-portrait|{a} {n} with {n}|When {n} come home|"{a} {n}"|The Artist's {n}|Sketch for "The {n}"|Untitled|{w} Water|From {t} to {w}|Off the coast of {t}
|Moonlight, {t}|Sunset over the {n}|The {a} {n}: {x}|Cattle watering at {t}|{x} - {t}|The road by the {n}|The {n} and the {n}|Abbey of {t}|{n}, {n} and {n}|The Mayor of {t}|Mrs. {s} of {t}|{x}, or the {a} {n}""".replace("\n", "").split("|")


def table(name):
    with open(f"{HERE}/../gazetteer/{name}.csv", encoding="utf8") as f:
        return list(csv.DictReader(f))


TOWN_ROWS = table("towns")
