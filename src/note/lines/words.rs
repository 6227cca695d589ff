//! The words of a line of provenance, and reading them one after another.

/// A place in a text that moves on.
pub(super) struct Cursor<'a> {
    pub text: &'a str,
    pub at: usize,
}

impl<'a> Cursor<'a> {
    pub fn new(text: &'a str) -> Cursor<'a> {
        Cursor { text, at: 0 }
    }

    pub fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    pub fn eat(&mut self, what: &str) -> bool {
        let had = self.rest().starts_with(what);
        if had {
            self.at += what.len();
        }
        had
    }

    /// Eats it where no letter follows that would make another word of it.
    pub fn eat_word(&mut self, what: &str) -> bool {
        let Some(rest) = self.rest().strip_prefix(what) else {
            return false;
        };
        let open = what.ends_with(|c: char| c.is_alphabetic());
        if open && rest.starts_with(|c: char| c.is_alphabetic()) {
            return false;
        }
        self.at += what.len();
        true
    }

    /// White space, if any.
    pub fn spaces(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    /// A number of `least` to `most` figures, and how many there were.
    pub fn number(&mut self, least: usize, most: usize) -> Option<(u32, usize)> {
        let wide = self
            .rest()
            .bytes()
            .take(most)
            .take_while(u8::is_ascii_digit)
            .count();
        if wide < least {
            return None;
        }
        let n = self.rest()[..wide].parse().ok()?;
        self.at += wide;
        Some((n, wide))
    }

    /// Whether no letter or figure follows.
    pub fn ends_word(&self) -> bool {
        !self.rest().starts_with(|c: char| c.is_alphanumeric())
    }

    /// Whether what stood here was a whole number: no figure follows, not even behind a point.
    pub fn ends_number(&self) -> bool {
        let mut next = self.rest().chars();
        match next.next() {
            Some('.') => !next.next().is_some_and(|c| c.is_ascii_digit()),
            Some(c) => !c.is_ascii_digit(),
            None => true,
        }
    }
}

/// Length of the phrase at the beginning of the text: capitals don't count, a space stands for any
/// white space, and the phrase ends with a word.
pub(super) fn phrase(text: &str, words: &str) -> Option<usize> {
    let mut c = Cursor::new(text);
    for w in words.chars() {
        if w == ' ' {
            let from = c.at;
            c.spaces();
            if c.at == from {
                return None;
            }
            continue;
        }
        let have = c.rest().chars().next()?;
        let same = have.eq_ignore_ascii_case(&w) || (w == '\'' && have == '’');
        if !same {
            return None;
        }
        c.at += have.len_utf8();
    }
    let open = words.ends_with(|w: char| w.is_alphanumeric());
    (!open || c.ends_word()).then_some(c.at)
}

/// Whether a long word is this one with a letter too many, too few, wrong, or two changed about, behind the first two.
pub(super) fn slip(word: &str, meant: &str) -> bool {
    let (long, most) = (meant.chars().count(), 2 * meant.len());
    if long < 7 || word.len() > most || word.chars().count().abs_diff(long) > 1 {
        return false;
    }
    let (a, b) = (word.to_ascii_lowercase(), meant.to_ascii_lowercase());
    let begun = a.chars().take(2).eq(b.chars().take(2));
    begun && strsim::osa_distance(&a, &b) <= 1
}

/// As [`phrase`], but the first word may have a slip of the pen in it.
pub(super) fn slipped_phrase(text: &str, words: &str) -> Option<usize> {
    let (first, rest) = words.split_once(' ')?;
    // No word that matters is longer
    let near = text.char_indices().nth(24).map_or(text.len(), |(i, _)| i);
    let word = first_word(&text[..near]);
    if text.starts_with(char::is_whitespace) || !slip(word, first) {
        return None;
    }
    let behind = &text[word.len()..];
    let next = behind.trim_start();
    phrase(next, rest).map(|n| text.len() - next.len() + n)
}

/// The longest of the phrases at the beginning of the text.
pub(super) fn longest<T: Copy>(text: &str, all: &[(&str, T)]) -> Option<(T, usize)> {
    all.iter()
        .filter_map(|(w, t)| phrase(text, w).map(|n| (*t, n)))
        .max_by_key(|(_, n)| *n)
}

/// The first word, without signs behind it.
pub(super) fn first_word(text: &str) -> &str {
    let text = text.trim_start();
    let end = text
        .find(|c: char| c.is_whitespace() || ",;()[]".contains(c))
        .unwrap_or(text.len());
    &text[..end]
}

fn folded(word: &str) -> String {
    word.chars()
        .filter(|c| *c != '.')
        .collect::<String>()
        .to_lowercase()
}

/// Codes of the states and provinces as the posts of the United States and Canada write them.
const CODES: &str = "AL AK AZ AR CA CO CT DE DC FL GA HI ID IL IN IA KS KY LA ME MD MA MI MN MS MO MT NE NV NH NJ NM NY NC ND OH OK OR PA RI SC SD TN TX UT VT VA WA WV WI WY ON QC BC AB NS NB MB SK NYC UK USA";
/// Older short forms of the states, common practice.
const SHORT: &str = "ala ariz ark cal calif colo conn del fla ga ill ind kan kans ky la mass md mich minn miss mo mont neb nebr nev nh nj nm ny nc nd ohio okla ore oreg pa penn penna ri sc tenn tex va vt wash wis wyo dc co";
const REGIONS: &str = "alabama|alaska|arizona|arkansas|california|colorado|connecticut|delaware|florida|georgia|hawaii|idaho|illinois|indiana|iowa|kansas|kentucky|louisiana|maine|maryland|massachusetts|michigan|minnesota|mississippi|missouri|montana|nebraska|nevada|new hampshire|new jersey|new mexico|new york|north carolina|north dakota|ohio|oklahoma|oregon|pennsylvania|rhode island|south carolina|south dakota|tennessee|texas|utah|vermont|virginia|washington|west virginia|wisconsin|wyoming|ontario|quebec|england|scotland|wales|ireland|northern ireland|great britain|united kingdom|france|germany|west germany|italy|spain|portugal|netherlands|the netherlands|holland|belgium|luxembourg|switzerland|austria|hungary|poland|russia|ussr|soviet union|denmark|sweden|norway|finland|iceland|greece|turkey|israel|egypt|japan|china|india|korea|canada|mexico|cuba|brazil|argentina|chile|peru|colombia|venezuela|uruguay|australia|new zealand|south africa|united states|united states of america|bohemia|moravia|czechoslovakia|czech republic|romania|bulgaria|yugoslavia|croatia|serbia|ukraine|estonia|latvia|lithuania|bavaria|saxony|prussia|tuscany|devon|kent|surrey|sussex|essex|hampshire|oxfordshire|middlesex|norfolk|suffolk|yorkshire|lancashire|cornwall|somerset|wiltshire|berkshire|buckinghamshire|derbyshire|northumberland|worcestershire|gloucestershire";
/// Towns that lines of provenance name without their country, common practice.
const TOWNS: &str = "new york|new york city|london|paris|berlin|munich|vienna|rome|florence|venice|milan|amsterdam|the hague|brussels|antwerp|madrid|barcelona|zurich|geneva|basel|bern|berne|cologne|hamburg|frankfurt|dresden|leipzig|stuttgart|copenhagen|stockholm|oslo|edinburgh|glasgow|dublin|boston|philadelphia|chicago|pittsburgh|washington|baltimore|cleveland|cincinnati|detroit|st. louis|san francisco|los angeles|tokyo|kyoto|montreal|toronto|liverpool|manchester|cambridge|oxford|prague|budapest|warsaw|moscow|st. petersburg|lucerne|naples|turin|bologna|genoa|lyon|lyons|marseille|marseilles|nice";

/// A state, country or county, alone.
pub(super) fn is_region(chunk: &str) -> bool {
    let chunk = chunk.trim();
    let bare: String = chunk.chars().filter(|c| !". ".contains(*c)).collect();
    if CODES.split(' ').any(|c| c == bare) {
        return true;
    }
    let low = folded(chunk);
    if REGIONS.split('|').any(|r| r == low) {
        return true;
    }
    let small = bare.to_lowercase();
    small.len() < chunk.len() + 1
        && chunk.starts_with(char::is_uppercase)
        && SHORT.split(' ').any(|s| s == small)
}

/// A region that isn't also a town: "NY" and not "New York".
pub(super) fn is_only_region(chunk: &str) -> bool {
    let low = chunk.trim().to_lowercase();
    is_region(chunk) && low != "new york" && low != "washington"
}

/// A region or a town known well enough to stand alone, perhaps with another: "Paris and London".
pub(super) fn is_known_place(chunk: &str) -> bool {
    let one = |c: &str| is_region(c) || TOWNS.split('|').any(|t| t == c.trim().to_lowercase());
    // "W. London"
    let quarter = [
        "N. ", "S. ", "E. ", "W. ", "North ", "South ", "East ", "West ",
    ];
    let whole = quarter.iter().find_map(|q| chunk.strip_prefix(q));
    if one(chunk) || whole.is_some_and(one) {
        return true;
    }
    // "New York NY", "Paris France", "PA and Oakmont"
    let words: Vec<&str> = chunk.split_whitespace().collect();
    if words.len() > 6 {
        return false;
    }
    if let Some((a, b)) = chunk
        .split_once(" and ")
        .or_else(|| chunk.split_once(" & "))
    {
        return one(a) && starts_upper(b) && !is_person(b);
    }
    (1..words.len()).any(|n| one(&words[..n].join(" ")) && one(&words[n..].join(" ")))
        || words.split_last().is_some_and(|(l, before)| {
            !before.is_empty()
                && before.len() < 3
                && CODES.split(' ').any(|c| c == *l)
                && before.iter().all(|w| starts_upper(w) && !w.contains('&'))
        })
}

/// Given names of the continent, common practice; the British ones stand in the word lists of the
/// trade.
const GIVEN: &str = "alain andre andré angelo antoine antonio bernard bruno carl carlo claude dieter emil emile émile enrico erich ernst étienne eugene eugène fernand franz françois friedrich fritz gaston georg georges giovanni giuseppe gustav gustave hans heinrich hermann jacques jan jean johann josef jules julius karl kurt léon leon louis lucien luigi marcel marie mario max maurice michel otto pablo paolo pierre pietro raoul raymond rené roger rolf rudolf victor walter werner wilhelm wolfgang alice anna anne barbara edith eleanor emma grace helen ida joan judith julia kenneth laura lucy martha nancy ruth susan donald eric frank fred howard leonard martin norman stanley stephen tom";

/// Whether all up to an "and" are given names and initials, a name first: "Herbert", "William S.".
pub(super) fn all_given(chunk: &str) -> bool {
    let given = |word: &str| {
        let low = word.to_lowercase();
        word.starts_with(char::is_uppercase)
            && (GIVEN.split(' ').any(|g| g == low) || crate::proposals::is_given_name(&low))
    };
    let initial = |w: &str| w.len() == 2 && w.ends_with('.');
    let mut words = chunk.split(" and ").next().unwrap_or("").split_whitespace();
    words.next().is_some_and(given) && words.all(|w| given(w) || initial(w))
}

pub(super) fn starts_upper(text: &str) -> bool {
    text.trim_start().starts_with(char::is_uppercase)
}

/// Words by which a firm or an institution is known.
const FIRM: &str = "museum museums institute institution university college school gallery galleries galerie galleria galeria kunsthandel kunsthalle academy society foundation company co corp corporation inc ltd llc llp plc gmbh association assn library department division section fund trust bank sons son brothers bros collection club architects arts antiques auctions & associates partners editions press prints cie bookstore bookshop books conservancy church convent monastery shop studio seminary federation council";

pub(super) fn is_firm(chunk: &str) -> bool {
    chunk
        .split(|c: char| c.is_whitespace() || c == '-')
        .any(|word| {
            let low = folded(word);
            let low = low.trim_end_matches(',');
            let slipped = |f: &str| starts_upper(word) && slip(low, f);
            FIRM.split(' ').any(|f| f == low || slipped(f))
        })
}

/// What follows a name behind a comma and belongs to it.
pub(super) fn is_suffix(chunk: &str) -> bool {
    const ALL: &str = "inc ltd llc llp lp co corp jr sr ii iii iv esq ra ara rn md dd phd mp bt bart sj fils père & cie sa ag gmbh kg pa aia qc kc";
    let low = folded(chunk.trim().trim_end_matches('?'));
    // "PA" is a state here, "P.A." too
    low != "pa" && ALL.split(' ').any(|s| s == low)
}

/// "1220 Bennington Ave.": a number and a street, which is no year.
pub(super) fn is_address(text: &str) -> bool {
    const STREET: &str = "street st avenue ave road rd lane boulevard blvd place square drive";
    let rest = text.trim_start_matches(|c: char| c.is_ascii_digit());
    if rest.len() == text.len() || !rest.starts_with(' ') || !starts_upper(rest) {
        return false;
    }
    let mut words = rest.split_whitespace().take(4);
    // A comma ends the street
    let mut open = words.next().is_some_and(|w| !w.ends_with([',', ';']));
    words.any(|w| {
        let street = open
            && STREET
                .split(' ')
                .any(|s| s == folded(w.trim_end_matches([',', ';'])));
        open &= !w.ends_with([',', ';']);
        street
    })
}

const TITLES: &str = "mr mrs ms miss dr prof professor rev reverend sir lady lord baron baroness count countess duke duchess prince princess king queen earl marquis marquess captain capt viscountess marchioness baronet colonel col major maj general gen bt bart esq lt sgt judge senator governor m mme mlle madame monsieur mademoiselle herr frau hon messrs mesdames sister father brother cardinal pope viscount admiral graf freiherr don doña";

pub(super) fn is_title(word: &str) -> bool {
    let low = folded(word);
    TITLES.split(' ').any(|t| t == low)
}

/// A word that makes its bearer no duke "of" somewhere, and no school.
pub(super) fn is_plain(word: &str) -> bool {
    let low = folded(word);
    ["mr", "mrs", "ms", "miss", "dr"].contains(&low.as_str()) || !is_title(word) && !is_firm(word)
}

/// Looks like a person: a title, an initial, a kinsman.
pub(super) fn is_person(chunk: &str) -> bool {
    let mut words = chunk.split_whitespace().peekable();
    if words
        .peek()
        .is_some_and(|w| is_title(w) || WHOSE.contains(&w.to_lowercase().as_str()))
    {
        return true;
    }
    // "4th Prince de Wagram", "later Earl of"
    let second = chunk.split_whitespace().nth(1).is_some_and(is_title);
    let ordinal = first_word(chunk);
    let ordinal =
        ordinal.starts_with(|c: char| c.is_ascii_digit()) && ordinal.ends_with(['t', 'd', 'h']);
    if second && ordinal {
        return true;
    }
    words.any(|w| {
        let mut c = w.chars();
        matches!((c.next(), c.next(), c.next()), (Some(a), Some('.'), None) if a.is_uppercase())
    }) && !is_region(chunk)
}

pub(super) const WHOSE: [&str; 6] = ["his", "her", "their", "its", "whose", "the artist's"];

const KIN: &str = "son sons daughter daughters wife widow widower husband brother brothers sister sisters nephew nephews niece nieces grandson granddaughter grandsons grandchildren grandniece grandnephew mother father cousin heir heirs family children child descendants aunt uncle son-in-law daughter-in-law sister-in-law brother-in-law mother-in-law father-in-law stepson stepdaughter parents grandfather grandmother great-grandson great-granddaughter great-niece great-nephew grand-niece grand-nephew grand-daughter god-daughter godson goddaughter executor executrix executors partner companion";

fn is_kin(word: &str) -> bool {
    let low = word.to_lowercase();
    KIN.split(' ')
        .any(|k| k == low.trim_end_matches(['.', ',']))
}

/// Where a name ends and a town without a comma begins: "Institute Pittsburgh", "E. M. Hodgkins New
/// York".
pub(super) fn town_behind(chunk: &str) -> Option<usize> {
    let twice = |at: usize| chunk[..at].rfind(' ').unwrap_or(at);
    let at = chunk.rfind(' ')?;
    let person = [at, twice(at)].into_iter().find(|at| {
        let town = TOWNS
            .split('|')
            .any(|t| t == chunk[*at..].trim().to_lowercase());
        town && is_person(&chunk[..*at]) && chunk[..*at].split_whitespace().count() > 1
    });
    if person.is_some() {
        return person;
    }
    let (before, town) = (chunk[..at].trim_end(), &chunk[at + 1..]);
    let last = before.rsplit(' ').next().unwrap_or("");
    let named = last.starts_with(char::is_uppercase) && is_firm(last);
    let known = TOWNS.split('|').any(|t| t == town.to_lowercase());
    (named && known).then_some(before.len())
}

/// Length of a kinship at the beginning: "his nephew", "the artist's second wife".
pub(super) fn kinship(text: &str) -> Option<usize> {
    let mut c = Cursor::new(text);
    let had = [
        "his",
        "her",
        "their",
        "its",
        "the artist's",
        "artist's",
        "the sitter's",
        "the donor's",
        "the owner's",
        "the latter's",
    ]
    .iter()
    .find_map(|w| phrase(text, w))?;
    c.at += had;
    for _ in 0..3 {
        c.spaces();
        let word = first_word(c.rest());
        if word.is_empty() {
            return None;
        }
        c.at += word.len();
        if is_kin(word) {
            return Some(c.at - (word.len() - word.trim_end_matches(['.', ',']).len()));
        }
        if !word.starts_with(char::is_lowercase) {
            return None;
        }
    }
    None
}

/// Whether the whole chunk is kinship told behind a name: "his nephew", "son of the above".
pub(super) fn is_kinship(chunk: &str) -> bool {
    let chunk = chunk.trim();
    // "his grand-niece and god-daughter", "his nephew of Leeds"
    let goes_on = |rest: &str| match rest.strip_prefix("and ") {
        Some(more) => is_kin(more.trim()),
        None => rest.is_empty() || rest.starts_with("of "),
    };
    kinship(chunk).is_some_and(|n| goes_on(chunk[n..].trim_start()))
        || chunk.split_once(' ').is_some_and(|(w, rest)| {
            is_kin(w) && rest.trim_start().starts_with("of ") && w.starts_with(char::is_lowercase)
        })
}

/// Short forms behind which a full stop ends no sentence.
const ABBREVIATED: &str = "mr mrs ms dr st ste rev col capt maj gen prof messrs hon lt sgt no nos ca c d b vol p pp suppl esp ave blvd bros wm chas geo thos jas robt jos fr mme mlle mlles ed eds vs jan feb mar apr jun jul aug sept sep oct nov dec inv cat ill th ph lugt v n l ft mt rd repr fig bt lat approx acc";
/// Short forms that may end one: then what follows decides.
const ENDING: &str = "co inc ltd jr sr esq pa va vt ct conn mass mich cal calif fla ga ky md mo nj ny nh tenn tex wash wis ore penn cie corp llc etc dc d.c";

pub(super) enum Short {
    Never,
    Perhaps,
    Ends,
}

/// What a full stop behind this word does.
pub(super) fn full_stop(word: &str) -> Short {
    let low = word.to_lowercase();
    let single = word.chars().count() == 1 && word.chars().all(char::is_alphabetic);
    let initials = word.contains('.')
        && word
            .split('.')
            .all(|w| w.chars().count() <= 2 && w.chars().all(char::is_alphabetic));
    // "CA." is a state, "ca." is about
    if word.len() == 2 && CODES.split(' ').any(|c| c == word)
        || ENDING.split(' ').any(|e| e == low)
        || (initials && word.len() > 2)
    {
        Short::Perhaps
    } else if single || ABBREVIATED.split(' ').any(|a| a == low) {
        Short::Never
    } else {
        Short::Ends
    }
}

/// Small words that stand in names.
const PARTICLES: &str = "of the and de von van der den la le du des for et in y e al di da del della dell' d' zu zur zum und ten ter las los el à en bei am im a or with on at by from to née born formerly";

/// Whether a chunk reads like a sentence rather than a name.
pub(super) fn is_prose(chunk: &str) -> bool {
    let mut strange = 0;
    let mut verbs = 0;
    for w in chunk.split_whitespace() {
        let bare = w.trim_matches(|c: char| !c.is_alphanumeric());
        if bare.starts_with(char::is_lowercase) && !PARTICLES.split(' ').any(|p| p == bare) {
            strange += 1;
        }
        if [
            "is", "was", "are", "were", "has", "have", "had", "does", "did", "may", "see",
        ]
        .contains(&bare)
        {
            verbs += 1;
        }
    }
    strange >= 4 || (verbs > 0 && strange >= 2)
}
