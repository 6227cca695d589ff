//! Reading a date as it is written: `14 May 1902`, `May 27-28, 1853`, `c. 1890`, `4/10/1969`.

use super::dates::{MONTHS, Moment, Sign};
use super::words::Cursor;

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
        "the",
        "very",
        "early",
        "late",
        "mid-",
        "mid",
        "first",
        "second",
        "2nd",
        "1st",
        "half of the",
        "half of",
        "quarter of the",
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
        // "6/30,1969": a slip
        let slip = c.rest().starts_with(',');
        if !(1..=31).contains(&b) || !(c.eat("/") || c.eat(",")) {
            return None;
        }
        m.signs.push(Sign::Day(wide));
        m.signs
            .push(Sign::Plain(if slip { "," } else { "/" }.into()));
        let (y, wide) = c.number(2, 4)?;
        (m.month, m.day) = (Some(a), Some(b));
        if slip && wide != 4 {
            return None;
        }
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

pub(super) fn sound(year: u32) -> bool {
    (1000..2100).contains(&year)
}

/// The month, and how it prints again.
fn month(c: &mut Cursor) -> Option<(Sign, u32)> {
    if let Some(found) = MONTHS.iter().position(|(w, _)| c.eat_word(w)) {
        return Some((Sign::Month(found), MONTHS[found].1));
    }
    let word = super::words::first_word(c.rest());
    let (_, number) = MONTHS[..12].iter().find(|(m, _)| misspelt(word, m))?;
    c.at += word.len();
    Some((Sign::Plain(word.into()), *number))
}

/// "Decemmber", "Aprill": one letter too many, or one too few, of a long word.
fn misspelt(word: &str, month: &str) -> bool {
    let (long, short) = if word.len() > month.len() {
        (word, month)
    } else {
        (month, word)
    };
    let at = long
        .bytes()
        .zip(short.bytes())
        .take_while(|(a, b)| a == b)
        .count();
    word.is_ascii()
        && month.len() > 4
        && long.len() == short.len() + 1
        && at > 2
        && long[at + 1..] == short[at..]
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
        Some((d, wide))
            if (1..=31).contains(&d) && !c.rest().starts_with(|x: char| x.is_ascii_digit()) =>
        {
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
    let read = |c: &mut Cursor, m: &mut Moment| -> Option<()> {
        let (spelt, number) = month(c)?;
        m.month = Some(number);
        m.signs.push(spelt);
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
            if let Some((spelt, number)) = last.clone() {
                m.last.1 = Some(number);
                m.signs.push(spelt);
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
    tried(c, m, read)
}

/// Reads on, or goes back to where it began and leaves all as it was.
fn tried(
    c: &mut Cursor,
    m: &mut Moment,
    read: impl FnOnce(&mut Cursor, &mut Moment) -> Option<()>,
) -> bool {
    let back = (c.at, m.clone());
    let done = read(c, m).is_some();
    if !done {
        (c.at, *m) = back;
    }
    done
}

/// `14 May 1902`, `16-17 April 1917`, `17, May 1925`.
fn day_first(c: &mut Cursor, m: &mut Moment) -> bool {
    let read = |c: &mut Cursor, m: &mut Moment| -> Option<()> {
        // "[29-31 March] 1911"
        let open = plain(c, m, &["["]);
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
        m.signs.push(spelt);
        // "29 April-1 May 1863"
        if m.last.2.is_none() && plain(c, m, &["-", "–", " - "]) {
            let (d, wide) = day(c)?;
            m.last.2 = Some(d);
            m.signs.push(Sign::LastDay(wide));
            plain(c, m, &[" "]);
            let (spelt, number) = month(c)?;
            m.last.1 = Some(number);
            m.signs.push(spelt);
        }
        if open && !plain(c, m, &["]"]) {
            return None;
        }
        plain(c, m, &[", ", ",", " "]);
        m.year = Some(year(c)?);
        m.signs.push(Sign::Year(4));
        Some(())
    };
    tried(c, m, read)
}

/// `18th century`.
fn century(c: &mut Cursor, m: &mut Moment) -> bool {
    let back = c.at;
    if let Some((n, 2)) = c.number(2, 2)
        && (10..=21).contains(&n)
    {
        let from = c.at;
        let ending = ["th", "st"].iter().any(|e| c.eat(e));
        if ending
            && (c.eat_word(" century")
                || c.eat_word(" Century")
                || c.eat_word(" c.")
                || c.eat_word(" C."))
        {
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
    } else if let Some((last, wide)) = short_year(c, y) {
        m.signs.push(Sign::Plain("-".into()));
        m.last.0 = Some(last);
        m.signs.push(Sign::LastYear(wide));
    }
    if c.ends_number() && c.ends_word() {
        return true;
    }
    c.at = back;
    (m.year, m.last.0, m.open) = (None, None, 0);
    m.signs.pop();
    false
}

/// The last year and its figures: "1925-27", "2004-5".
fn short_year(c: &mut Cursor, y: u32) -> Option<(u32, usize)> {
    let back = c.at;
    if c.eat("-")
        && let Some((n, wide)) = c.number(1, 2)
        && let unit = 10u32.pow(wide as u32)
        && n > y % unit
        && c.ends_word()
    {
        return Some((y / unit * unit + n, wide));
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
