//! Names of months, feasts, sovereigns and the small words beside years, as they stand on labels.
//!
//! All are folded: lower case, no accents, no apostrophes. From memory and common practice, but where a
//! source is named.

/// Months by their names and short forms in English, French, German, Italian and Dutch.
const MONTHS: [&str; 12] = [
    "jan january jany janr januy janvier janv januar janner jaenner gennaio genn gen januari",
    "feb february feby febr febry fevrier fevr fev februar febbraio febbr februari",
    "mar march mch marz maerz mars marzo maart mrt",
    "apr april aprl avril avr aprile",
    "may mai maggio mag mei",
    "jun june juin juni giugno giu",
    "jul july jully juillet juil juli luglio lug",
    "aug august augt aout agosto ago augustus",
    "sep sept september septr septbr septembre settembre sett set 7ber 7bre",
    "oct october octr octbr octobre oktober okt ottobre ott 8ber 8bre",
    "nov november novr novbr novembre 9ber 9bre",
    "dec december decr decbr decembre dezember dez dicembre dic xber xbre 10ber 10bre",
];

/// 1 to 12.
pub fn month(word: &str) -> Option<u8> {
    let at = MONTHS
        .iter()
        .position(|m| m.split(' ').any(|n| n == word))?;
    u8::try_from(at + 1).ok()
}

/// Months of the French republic, vendémiaire first; the days after the last are `complementaire`.
const REPUBLICAN: [&str; 13] = [
    "vendemiaire",
    "brumaire",
    "frimaire",
    "nivose",
    "pluviose",
    "ventose",
    "germinal",
    "floreal",
    "prairial",
    "messidor",
    "thermidor fervidor",
    "fructidor",
    "complementaire complementaires sansculottides",
];

/// 1 to 13.
pub fn republican_month(word: &str) -> Option<u8> {
    let at = REPUBLICAN
        .iter()
        .position(|m| m.split(' ').any(|n| n == word))?;
    u8::try_from(at + 1).ok()
}

/// Day of September on which each year of the French republic began, from 1792 on (decree of 5 October
/// 1793, by the equinox at Paris).
pub const REPUBLICAN_NEW_YEAR: [u8; 14] = [22, 22, 22, 23, 22, 22, 22, 23, 23, 23, 23, 24, 23, 23];

/// Days on which rents and accounts fell due, month and day. English quarter days and Scottish terms.
pub const TERMS: &[(&[&str], u8, u8)] = &[
    (&["lady", "day"], 3, 25),
    (&["midsummer", "day"], 6, 24),
    (&["midsummer"], 6, 24),
    (&["michaelmas", "day"], 9, 29),
    (&["michaelmas"], 9, 29),
    (&["christmas", "day"], 12, 25),
    (&["christmas"], 12, 25),
    (&["xmas"], 12, 25),
    (&["noel"], 12, 25),
    (&["weihnachten"], 12, 25),
    (&["candlemas"], 2, 2),
    (&["whitsunday"], 5, 15),
    (&["lammas"], 8, 1),
    (&["martinmas"], 11, 11),
    (&["new", "years", "day"], 1, 1),
];

/// Seasons with the code of EDTF.
pub const SEASONS: &[(&str, u8)] = &[
    ("spring", 21),
    ("printemps", 21),
    ("fruhjahr", 21),
    ("fruhling", 21),
    ("primavera", 21),
    ("voorjaar", 21),
    ("summer", 22),
    ("ete", 22),
    ("sommer", 22),
    ("estate", 22),
    ("zomer", 22),
    ("autumn", 23),
    ("automne", 23),
    ("herbst", 23),
    ("autunno", 23),
    ("herfst", 23),
    ("najaar", 23),
    ("winter", 24),
    ("hiver", 24),
    ("inverno", 24),
];

/// Forms of a name, forms of the number behind it, and the first day: year, month, day.
pub type Reign = (
    &'static [&'static str],
    &'static [&'static str],
    i32,
    u8,
    u8,
);

/// First day of each reign whose years statutes and deeds count, with the folded name and the number
/// behind it. Source: Whitaker's Almanack (from memory).
pub const REIGNS: &[Reign] = &[
    (&["george", "geo"], &["i", "1", "1st", "first"], 1714, 8, 1),
    (
        &["george", "geo"],
        &["ii", "2", "2d", "2nd", "second"],
        1727,
        6,
        11,
    ),
    (
        &["george", "geo"],
        &["iii", "3", "3d", "3rd", "third"],
        1760,
        10,
        25,
    ),
    (
        &["george", "geo"],
        &["iv", "4", "4th", "fourth"],
        1820,
        1,
        29,
    ),
    (
        &["william", "will", "wm", "gul"],
        &["iv", "4", "4th", "fourth"],
        1830,
        6,
        26,
    ),
    (&["victoria", "vict", "vic"], &[], 1837, 6, 20),
    (
        &["edward", "edw"],
        &["vii", "7", "7th", "seventh"],
        1901,
        1,
        22,
    ),
    (&["george", "geo"], &["v", "5", "5th", "fifth"], 1910, 5, 6),
    (
        &["george", "geo"],
        &["vi", "6", "6th", "sixth"],
        1936,
        12,
        11,
    ),
    (
        &["elizabeth", "eliz"],
        &["ii", "2", "2nd", "second"],
        1952,
        2,
        6,
    ),
];

/// Before a year: it is an estimate.
pub const ABOUT: &[&str] = &[
    "c",
    "ca",
    "cca",
    "circa",
    "circ",
    "cir",
    "about",
    "abt",
    "around",
    "approx",
    "approximately",
    "vers",
    "env",
    "environ",
    "um",
    "gegen",
    "etwa",
    "verso",
    "omstreeks",
    "rond",
    "hacia",
];

/// Before a year: earlier than it.
pub const BEFORE: &[&str] = &["before", "avant", "vor", "prior", "prima", "voor", "ante"];

/// Before a year: later than it.
pub const AFTER: &[&str] = &["after", "apres", "nach", "dopo", "na", "post"];

/// Small words that may stand between a day and its month, or before a year.
pub const LINKS: &[&str] = &[
    "ye", "y", "day", "of", "de", "the", "in", "im", "en", "anno", "ano", "ad", "domini", "dom",
    "den", "le", "il", "di", "del", "den", "des", "jahre", "annee", "lannee", "year",
];
