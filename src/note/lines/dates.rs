//! Dates of a line of provenance: values, and the pattern by which they were written.

use super::words::{Cursor, phrase};
use std::fmt;

/// How a date stands to what it dates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relation {
    /// On it, in it, at it.
    On,
    /// Not later than.
    By,
    /// Up to.
    Until,
    /// From then on.
    From,
    /// Later than.
    After,
    /// Earlier than.
    Before,
    /// Somewhen between this and the next.
    Between,
    /// This or the one before.
    Or,
    /// Birth.
    Born,
    /// Death.
    Died,
}

/// What stands in a written date, in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Sign {
    /// Letters between the values: ", ", "ca. ", "?".
    Plain(String),
    /// The year in so many figures.
    Year(usize),
    /// The last year in so many figures.
    LastYear(usize),
    /// Month in figures of at least so many places.
    MonthNumber(usize),
    /// The month by this number in the table of spellings.
    Month(usize),
    /// The last month, as `Month`.
    LastMonth(usize),
    /// Day, at least so many places.
    Day(usize),
    /// Last day, as `Day`.
    LastDay(usize),
    /// The century, with its ending.
    Century,
}

/// A point or a short stretch of time.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Moment {
    /// Year; the first of the decade or the century where only that is told; `None`: undated.
    pub year: Option<u32>,
    /// Month or, from 21, season as EDTF counts them.
    pub month: Option<u32>,
    /// Day.
    pub day: Option<u32>,
    /// Last year, month, day where it is a stretch.
    pub last: (Option<u32>, Option<u32>, Option<u32>),
    /// "About".
    pub about: bool,
    /// "?".
    pub doubtful: bool,
    /// Figures of the year that aren't told: 1 for a decade, 2 for a century.
    pub open: usize,
    pub(super) signs: Vec<Sign>,
}

/// One or two moments with their words.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Dated {
    pub(super) steps: Vec<Step>,
    pub(super) close: String,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Step {
    pub(super) relation: Relation,
    pub(super) words: String,
    pub(super) moment: Moment,
}

const MONTHS: [(&str, u32); 44] = [
    ("January", 1),
    ("February", 2),
    ("March", 3),
    ("April", 4),
    ("May", 5),
    ("June", 6),
    ("July", 7),
    ("August", 8),
    ("September", 9),
    ("October", 10),
    ("November", 11),
    ("December", 12),
    ("Jan.", 1),
    ("Feb.", 2),
    ("Mar.", 3),
    ("Apr.", 4),
    ("Jun.", 6),
    ("Jul.", 7),
    ("Aug.", 8),
    ("Sept.", 9),
    ("Sep.", 9),
    ("Oct.", 10),
    ("Nov.", 11),
    ("Dec.", 12),
    ("Jan", 1),
    ("Feb", 2),
    ("Mar", 3),
    ("Apr", 4),
    ("Jun", 6),
    ("Jul", 7),
    ("Aug", 8),
    ("Sept", 9),
    ("Sep", 9),
    ("Oct", 10),
    ("Nov", 11),
    ("Dec", 12),
    ("Spring", 21),
    ("Summer", 22),
    ("Autumn", 23),
    ("Fall", 23),
    ("Winter", 24),
    ("spring", 21),
    ("summer", 22),
    ("winter", 24),
];

/// A moment at the beginning of the text and its length, or `None`. What is given back prints
/// again as it was written.
pub(super) fn moment(text: &str) -> Option<(Moment, usize)> {
    let mut c = Cursor::new(text);
    let mut m = Moment::default();
    about(&mut c, &mut m);
    if !(slashed(&mut c, &mut m)
        || month_first(&mut c, &mut m)
        || day_first(&mut c, &mut m)
        || century(&mut c, &mut m)
        || year_only(&mut c, &mut m)
        || undated(&mut c, &mut m))
    {
        return None;
    }
    if m.year.is_some() {
        for mark in ["?", " (?)", "(?)"] {
            if c.eat(mark) {
                m.doubtful = true;
                m.signs.push(Sign::Plain(mark.into()));
                break;
            }
        }
    }
    // What would print otherwise isn't a date
    (m.to_string() == text[..c.at]).then_some((m, c.at))
}

fn about(c: &mut Cursor, m: &mut Moment) {
    let start = c.at;
    for w in ["circa", "about", "around", "ca.", "c.", "ca", "c", "~"] {
        if c.eat_word(w) {
            c.spaces();
            m.about = true;
            m.signs.push(Sign::Plain(c.text[start..c.at].into()));
            break;
        }
    }
    let start = c.at;
    let parts = [
        "the", "very", "early", "late", "mid-", "mid", "first", "second", "2nd", "1st", "half of the",
        "half of", "quarter of the",
    ];
    while parts.iter().any(|w| c.eat_word(w)) {
        c.spaces();
    }
    if c.at > start {
        m.signs.push(Sign::Plain(c.text[start..c.at].into()));
    }
}

fn slashed(c: &mut Cursor, m: &mut Moment) -> bool {
    let back = (c.at, m.signs.len());
    // Month first, as lines in American English have it, unless the month can only be the second
    let second: Option<u32> = c.rest().split('/').nth(1).and_then(|t| t.parse().ok());
    let read = |c: &mut Cursor, m: &mut Moment| -> Option<()> {
        let (a, wide) = c.number(1, 2)?;
        if !(1..=31).contains(&a) || !c.eat("/") {
            return None;
        }
        if a > 12 {
            m.signs.push(Sign::Day(wide));
            m.signs.push(Sign::Plain("/".into()));
            let (b, wide) = c.number(1, 2)?;
            if second != Some(b) || !(1..=12).contains(&b) || !c.eat("/") {
                return None;
            }
            m.signs.push(Sign::MonthNumber(wide));
            m.signs.push(Sign::Plain("/".into()));
            (m.year, m.month, m.day) = (Some(c.number(4, 4)?.0), Some(b), Some(a));
            m.signs.push(Sign::Year(4));
            return Some(());
        }
        m.signs.push(Sign::MonthNumber(wide));
        m.signs.push(Sign::Plain("/".into()));
        let (b, wide) = c.number(1, 4)?;
        if wide == 4 {
            (m.year, m.month) = (Some(b), Some(a));
            m.signs.push(Sign::Year(4));
            return Some(());
        }
        if !(1..=31).contains(&b) || !c.eat("/") {
            return None;
        }
        m.signs.push(Sign::Day(wide));
        m.signs.push(Sign::Plain("/".into()));
        let (y, wide) = c.number(2, 4)?;
        (m.month, m.day) = (Some(a), Some(b));
        m.year = Some(if wide == 2 { 1900 + y } else { y });
        m.signs.push(Sign::Year(wide));
        Some(())
    };
    let done = read(c, m).is_some() && c.ends_word() && m.year.is_some_and(sound);
    if !done {
        c.at = back.0;
        m.signs.truncate(back.1);
        (m.year, m.month, m.day) = (None, None, None);
    }
    done
}

fn sound(year: u32) -> bool {
    (1000..2100).contains(&year)
}

fn month(c: &mut Cursor) -> Option<(usize, u32)> {
    let found = MONTHS.iter().position(|(w, _)| c.eat_word(w))?;
    Some((found, MONTHS[found].1))
}

fn plain(c: &mut Cursor, m: &mut Moment, any: &[&str]) -> bool {
    let start = c.at;
    let had = any.iter().any(|s| c.eat(s));
    if had {
        c.spaces();
        m.signs.push(Sign::Plain(c.text[start..c.at].into()));
    }
    had
}

fn day(c: &mut Cursor) -> Option<(u32, usize)> {
    let at = c.at;
    match c.number(1, 2) {
        Some((d, wide)) if (1..=31).contains(&d) && !c.rest().starts_with(|x: char| x.is_ascii_digit()) => {
            Some((d, wide))
        }
        _ => {
            c.at = at;
            None
        }
    }
}

fn year(c: &mut Cursor) -> Option<u32> {
    let at = c.at;
    match c.number(4, 4) {
        Some((y, _)) if sound(y) && c.ends_number() => Some(y),
        _ => {
            c.at = at;
            None
        }
    }
}

/// `May 3, 1853`, `May 27-28,1853`, `June 1953`, `March 30 - April 2, 1900`, `October-December 1940`.
fn month_first(c: &mut Cursor, m: &mut Moment) -> bool {
    let back = (c.at, m.clone());
    let read = |c: &mut Cursor, m: &mut Moment| -> Option<()> {
        let (spelt, number) = month(c)?;
        m.month = Some(number);
        m.signs.push(Sign::Month(spelt));
        let gap = c.at;
        c.spaces();
        let space = c.text[gap..c.at].to_string();
        if let Some((d, wide)) = day(c) {
            m.day = Some(d);
            m.signs.extend([Sign::Plain(space), Sign::Day(wide)]);
        } else {
            c.at = gap;
        }
        let dash = (c.at, m.signs.len());
        if plain(c, m, &["-", "–", " - ", " – ", " to "]) {
            let last = month(c);
            if let Some((spelt, number)) = last {
                m.last.1 = Some(number);
                m.signs.push(Sign::LastMonth(spelt));
                plain(c, m, &[" "]);
            }
            if (last.is_none() || m.day.is_some())
                && let Some((d, wide)) = day(c)
            {
                m.last.2 = Some(d);
                m.signs.push(Sign::LastDay(wide));
            } else if last.is_none() {
                c.at = dash.0;
                m.signs.truncate(dash.1);
            }
        }
        plain(c, m, &[" of ", ", ", ",", " ,", ". ", " "]);
        m.year = Some(year(c)?);
        m.signs.push(Sign::Year(4));
        Some(())
    };
    let done = read(c, m).is_some();
    if !done {
        (c.at, *m) = back;
    }
    done
}

/// `14 May 1902`, `16-17 April 1917`, `17, May 1925`.
fn day_first(c: &mut Cursor, m: &mut Moment) -> bool {
    let back = (c.at, m.clone());
    let read = |c: &mut Cursor, m: &mut Moment| -> Option<()> {
        let (d, wide) = day(c)?;
        m.day = Some(d);
        m.signs.push(Sign::Day(wide));
        if plain(c, m, &["-", "–", " - "]) {
            let (d, wide) = day(c)?;
            m.last.2 = Some(d);
            m.signs.push(Sign::LastDay(wide));
        }
        if !plain(c, m, &[", ", " ", "."]) {
            return None;
        }
        let (spelt, number) = month(c)?;
        if number > 12 {
            return None;
        }
        m.month = Some(number);
        m.signs.push(Sign::Month(spelt));
        plain(c, m, &[", ", ",", " "]);
        m.year = Some(year(c)?);
        m.signs.push(Sign::Year(4));
        Some(())
    };
    let done = read(c, m).is_some();
    if !done {
        (c.at, *m) = back;
    }
    done
}

/// `18th century`.
fn century(c: &mut Cursor, m: &mut Moment) -> bool {
    let back = c.at;
    if let Some((n, 2)) = c.number(2, 2)
        && (10..=21).contains(&n)
    {
        let from = c.at;
        let ending = ["th", "st"].iter().any(|e| c.eat(e));
        if ending && (c.eat_word(" century") || c.eat_word(" Century") || c.eat_word(" c.") || c.eat_word(" C.")) {
            m.year = Some((n - 1) * 100);
            m.open = 2;
            m.signs.push(Sign::Century);
            m.signs.push(Sign::Plain(c.text[from..c.at].into()));
            return true;
        }
    }
    c.at = back;
    false
}

/// `1879`, `1970s`, `1970's`, `1925-27`.
fn year_only(c: &mut Cursor, m: &mut Moment) -> bool {
    let back = c.at;
    let Some((y, _)) = c.number(4, 4) else {
        return false;
    };
    if !sound(y) {
        c.at = back;
        return false;
    }
    m.signs.push(Sign::Year(4));
    m.year = Some(y);
    if y % 10 == 0 && (c.eat("'s") || c.eat("s") || c.eat("’s")) {
        m.open = 1;
        m.signs.push(Sign::Plain(c.text[back + 4..c.at].into()));
    } else if let Some(last) = short_year(c, y) {
        m.signs.push(Sign::Plain("-".into()));
        m.last.0 = Some(last);
        m.signs.push(Sign::LastYear(2));
    }
    if c.ends_number() && c.ends_word() {
        return true;
    }
    c.at = back;
    (m.year, m.last.0, m.open) = (None, None, 0);
    m.signs.pop();
    false
}

fn short_year(c: &mut Cursor, y: u32) -> Option<u32> {
    let back = c.at;
    if c.eat("-")
        && let Some((n, 2)) = c.number(2, 2)
        && n > y % 100
        && c.ends_word()
    {
        return Some(y / 100 * 100 + n);
    }
    c.at = back;
    None
}

fn undated(c: &mut Cursor, m: &mut Moment) -> bool {
    let start = c.at;
    let had = ["n.d.", "nd.", "nd", "no date", "undated"]
        .iter()
        .any(|w| c.eat_word(w));
    if had {
        m.signs.push(Sign::Plain(c.text[start..c.at].into()));
    }
    had
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = |f: &mut fmt::Formatter<'_>, n: Option<u32>, wide: usize| {
            n.map_or(Ok(()), |n| write!(f, "{n:0wide$}"))
        };
        for s in &self.signs {
            match s {
                Sign::Plain(t) => f.write_str(t)?,
                Sign::Year(2) => number(f, self.year.map(|y| y % 100), 2)?,
                Sign::Year(wide) => number(f, self.year, *wide)?,
                Sign::LastYear(2) => number(f, self.last.0.map(|y| y % 100), 2)?,
                Sign::LastYear(wide) => number(f, self.last.0, *wide)?,
                Sign::MonthNumber(wide) => number(f, self.month, *wide)?,
                Sign::Month(at) | Sign::LastMonth(at) => f.write_str(MONTHS[*at].0)?,
                Sign::Day(wide) => number(f, self.day, *wide)?,
                Sign::LastDay(wide) => number(f, self.last.2, *wide)?,
                Sign::Century => number(f, self.year.map(|y| y / 100 + 1), 1)?,
            }
        }
        Ok(())
    }
}

impl Moment {
    /// First and last as EDTF; the same where it is no stretch. `None`: undated.
    fn ends(&self) -> Option<(String, String)> {
        let y = self.year?;
        let mut year = format!("{y:04}");
        year.replace_range(4 - self.open.min(4).., &"X".repeat(self.open.min(4)));
        let sign = match (self.about, self.doubtful) {
            (true, true) => "%",
            (true, false) => "~",
            (false, true) => "?",
            _ => "",
        };
        let date = |year: &str, month: Option<u32>, day: Option<u32>| {
            let mut d = year.to_string();
            for n in [month, day.filter(|_| month.is_some())].into_iter().flatten() {
                d += &format!("-{n:02}");
            }
            d + sign
        };
        let first = date(&year, self.month, self.day);
        let (ly, lm, ld) = self.last;
        if (ly, lm, ld) == (None, None, None) {
            return Some((first.clone(), first));
        }
        let year = ly.map_or(year, |y| format!("{y:04}"));
        let last = date(&year, lm.or(self.month), ld.or(if lm.is_some() { None } else { self.day }));
        Some((first, last))
    }
}

impl Dated {
    /// The moments with their relations, in order.
    pub fn steps(&self) -> impl Iterator<Item = (Relation, &Moment)> {
        self.steps.iter().map(|s| (s.relation, &s.moment))
    }

    /// As EDTF: `1868`, `1917-04-16/1917-04-17`, `[..1920]` for "by 1920", `/1920` for "until
    /// 1920", `[1920..]` for "after 1920". A stretch is that in which it surely was there: "by 1917
    /// until at least 1929" is `1917/1929`. Empty: undated.
    pub fn edtf(&self) -> String {
        let steps: Vec<(Relation, String, String)> = self
            .steps
            .iter()
            .filter_map(|s| s.moment.ends().map(|(a, b)| (s.relation, a, b)))
            .collect();
        match steps.as_slice() {
            [] => String::new(),
            [(_, a, _)] if self.steps.len() > 1 => format!("{a}/"),
            [(r, a, b)] => match r {
                Relation::By | Relation::Before => format!("[..{b}]"),
                Relation::Until | Relation::Died => format!("/{b}"),
                Relation::From | Relation::Born => format!("{a}/"),
                Relation::After => format!("[{a}..]"),
                _ if a == b => a.clone(),
                _ => format!("{a}/{b}"),
            },
            [(Relation::Between, a, _), (_, _, b)] => format!("[{a}..{b}]"),
            [(_, a, _), (Relation::Or, _, b)] => format!("[{a},{b}]"),
            [(_, a, _), .., (_, _, b)] => format!("{a}/{b}"),
        }
    }
}

impl fmt::Display for Dated {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for s in &self.steps {
            write!(f, "{}{}", s.words, s.moment)?;
        }
        f.write_str(&self.close)
    }
}

const RELATIONS: &[(&str, Relation)] = &[
    ("until sometime in or before", Relation::Until),
    ("by the time of his death in", Relation::By),
    ("by the time of her death in", Relation::By),
    ("until sometime before", Relation::Until),
    ("until sometime after", Relation::Until),
    ("until at least", Relation::Until),
    ("until his death in", Relation::Until),
    ("until her death in", Relation::Until),
    ("until his death on", Relation::Until),
    ("until her death on", Relation::Until),
    ("until likely", Relation::Until),
    ("until probably", Relation::Until),
    ("until about", Relation::Until),
    ("until after", Relation::Until),
    ("until before", Relation::Until),
    ("until in", Relation::Until),
    ("until", Relation::Until),
    ("up to", Relation::Until),
    ("no later than", Relation::By),
    ("not later than", Relation::By),
    ("in or before", Relation::By),
    ("at least by", Relation::By),
    ("by at least", Relation::By),
    ("but by", Relation::By),
    ("likely by", Relation::By),
    ("probably by", Relation::By),
    ("possibly by", Relation::By),
    ("by", Relation::By),
    ("sometime before", Relation::Before),
    ("before", Relation::Before),
    ("sometime after", Relation::After),
    ("after", Relation::After),
    ("since", Relation::From),
    ("as of", Relation::By),
    ("from", Relation::From),
    ("between", Relation::Between),
    ("beginning", Relation::From),
    ("in the", Relation::On),
    ("beginning in", Relation::From),
    ("in", Relation::On),
    ("on", Relation::On),
    ("-", Relation::Until),
];

const JOINS: [(&str, Relation); 10] = [
    ("until", Relation::Until),
    ("through", Relation::Until),
    ("to", Relation::Until),
    ("and", Relation::Until),
    ("or", Relation::Or),
    ("-", Relation::Until),
    ("–", Relation::Until),
    ("—", Relation::Until),
    ("/", Relation::Until),
    ("through", Relation::Until),
];

/// A date with its words at the beginning of the text, and its length.
pub(super) fn dated(text: &str) -> Option<(Dated, usize)> {
    let mut at = 0;
    let mut steps: Vec<Step> = Vec::new();
    while let Some((step, length)) = step(&text[at..], steps.last()) {
        at += length;
        steps.push(step);
        if steps.len() == 4 {
            break;
        }
    }
    (!steps.is_empty()).then_some((
        Dated {
            steps,
            close: String::new(),
        },
        at,
    ))
}

fn step(text: &str, before: Option<&Step>) -> Option<(Step, usize)> {
    let mut c = Cursor::new(text);
    let mut relation = Relation::On;
    if let Some(b) = before {
        c.spaces();
        c.eat(",");
        c.spaces();
        let join = JOINS.iter().find(|(w, _)| phrase(c.rest(), w).is_some());
        let longer = RELATIONS.iter().find(|(w, r)| {
            matches!(r, Relation::Until | Relation::By) && phrase(c.rest(), w).is_some()
        });
        let (words, r) = longer.or(join)?;
        // "and" joins only what "between" opened, else it begins something new
        if *words == "and" && b.relation != Relation::Between {
            return None;
        }
        c.at += phrase(c.rest(), words)?;
        relation = *r;
    } else {
        let doubt = ["probably", "possibly", "likely", "perhaps", "apparently"];
        if let Some(n) = doubt.iter().find_map(|w| phrase(text, w)) {
            c.at += n;
            c.spaces();
        }
        let rest = c.rest();
        if let Some((words, r)) = RELATIONS.iter().find(|(w, _)| phrase(rest, w).is_some()) {
            c.at += phrase(rest, words)?;
            relation = *r;
        }
    }
    c.spaces();
    let open = before.is_some() && relation == Relation::Until;
    let (moment, length) = moment(c.rest()).or_else(|| unknown(c.rest()).filter(|_| open))?;
    let words = text[..c.at].to_string();
    c.at += length;
    Some((
        Step {
            relation,
            words,
            moment,
        },
        c.at,
    ))
}

/// Life dates inside brackets, such as `[1821-1899]`, `(d. 1902)`, `[?-1510]`, and the length.
pub(super) fn life(text: &str) -> Option<(Dated, usize)> {
    let open = text.chars().next().filter(|c| "[(".contains(*c))?;
    let mut c = Cursor::new(text);
    c.at = open.len_utf8();
    let mut steps = Vec::new();
    let mut from = 0;
    c.spaces();
    let end = if open == '[' { "]" } else { ")" };
    // "(Prague 1836 - 1909)", "(English 1677-1726)": where, before when
    let named: String = c
        .rest()
        .chars()
        .take_while(|x| x.is_alphabetic() || *x == ' ')
        .take(40)
        .collect();
    if named.ends_with(' ') && named.starts_with(char::is_uppercase) {
        c.at += named.len();
    }
    let single = [
        ("born in", Relation::Born),
        ("born", Relation::Born),
        ("b.", Relation::Born),
        ("died in", Relation::Died),
        ("died", Relation::Died),
        ("d. before", Relation::Died),
        ("d. after", Relation::Died),
        ("d.", Relation::Died),
    ];
    if let Some((w, r)) = single.iter().find(|(w, _)| c.rest().starts_with(w)) {
        c.at += w.len();
        c.spaces();
        steps.push(take(&mut c, &mut from, *r)?);
    } else {
        if !c.eat("?") {
            steps.extend(take(&mut c, &mut from, Relation::Born));
        }
        c.spaces();
        if !["-", "–", "—"].iter().any(|d| c.eat(d)) {
            return None;
        }
        c.spaces();
        if !c.eat("?") {
            ["after ", "before "].iter().any(|w| c.eat(w));
            steps.extend(take(&mut c, &mut from, Relation::Died));
        }
        if steps.is_empty() {
            return None;
        }
    }
    c.spaces();
    if !c.eat(end) {
        return None;
    }
    let close = c.text[from..c.at].to_string();
    Some((Dated { steps, close }, c.at))
}

fn take(c: &mut Cursor, from: &mut usize, relation: Relation) -> Option<Step> {
    let (moment, length) = short(c.rest()).or_else(|| moment(c.rest()))?;
    let words = c.text[*from..c.at].to_string();
    c.at += length;
    *from = c.at;
    Some(Step {
        relation,
        words,
        moment,
    })
}

/// In life dates `1905-74` is birth and death, not a stretch; so a year is taken by itself.
fn short(text: &str) -> Option<(Moment, usize)> {
    let mut c = Cursor::new(text);
    let (y, wide) = c.number(2, 4)?;
    if !c.rest().starts_with(['-', '–', ' ', ']', ')']) || wide == 3 || (wide == 4 && !sound(y)) {
        return None;
    }
    if wide == 2 && !c.rest().starts_with([']', ')']) {
        return None;
    }
    let signs = vec![Sign::Year(wide)];
    let m = Moment {
        year: Some(y),
        signs,
        ..Moment::default()
    };
    Some((m, c.at))
}

impl Dated {
    /// Birth and death as EDTF, either empty where untold.
    pub fn life(&self) -> (String, String) {
        let of = |r: Relation| {
            let step = self.steps.iter().find(|s| s.relation == r);
            step.and_then(|s| s.moment.ends())
                .map_or_else(String::new, |(a, _)| a)
        };
        let (born, mut died) = (of(Relation::Born), of(Relation::Died));
        if died.len() == 4 && died.starts_with("00") && born.len() >= 4 {
            died = format!("{}{}", &born[..2], &died[2..]);
        }
        (born, died)
    }
}

/// "?" where an end isn't known.
fn unknown(text: &str) -> Option<(Moment, usize)> {
    text.starts_with('?').then(|| {
        let signs = vec![Sign::Plain("?".into())];
        let m = Moment {
            signs,
            ..Moment::default()
        };
        (m, 1)
    })
}

/// Life dates without brackets: "b. 1870", "d. c. 1904".
pub(super) fn life_untied(text: &str) -> Option<(Dated, usize)> {
    let mut c = Cursor::new(text);
    let words = [
        ("born in", Relation::Born),
        ("born", Relation::Born),
        ("b.", Relation::Born),
        ("died in", Relation::Died),
        ("died", Relation::Died),
        ("d.", Relation::Died),
    ];
    let (w, r) = words.iter().find(|(w, _)| text.starts_with(w))?;
    c.at = w.len();
    c.spaces();
    let step = take(&mut c, &mut 0, *r)?;
    let steps = vec![step];
    Some((
        Dated {
            steps,
            close: String::new(),
        },
        c.at,
    ))
}

impl Dated {
    /// Two bare years as far apart as a life, long ago, are one: "Milan 1783-1861".
    pub(super) fn as_life(&self) -> Option<Dated> {
        let [a, b] = self.steps.as_slice() else {
            return None;
        };
        let bare = |m: &Moment| m.month.is_none() && m.open == 0;
        let (from, to) = (a.moment.year?, b.moment.year?);
        let apart = (40..=100).contains(&to.saturating_sub(from));
        let dash = a.words.is_empty() && b.words.trim().len() <= 3 && !b.words.contains("to");
        (bare(&a.moment) && bare(&b.moment) && apart && dash && to < 1950).then(|| {
            let mut d = self.clone();
            d.steps[0].relation = Relation::Born;
            d.steps[1].relation = Relation::Died;
            d
        })
    }
}
