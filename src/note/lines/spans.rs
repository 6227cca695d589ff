//! Dates with the words around them: "by 1917 until at least 1929", "[1821-1899]".

use super::dates::{Dated, Moment, Relation, Sign, Step};
use super::moment::{moment, sound};
use super::words::{Cursor, phrase};

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
        ("d ", Relation::Died),
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
    // "(Frankfurt 1788-1855 Naples)": where, behind when
    let there: String = c
        .rest()
        .chars()
        .take_while(|x| x.is_alphabetic() || *x == ' ')
        .take(40)
        .collect();
    if there.starts_with(char::is_uppercase) {
        c.at += there.len();
    }
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
    /// Two bare years as far apart as a life are one, long ago ("Milan 1783-1861") or behind a bracket
    /// that opens.
    pub(super) fn as_life(&self, bracket: bool) -> Option<Dated> {
        let [a, b] = self.steps.as_slice() else {
            return None;
        };
        let bare = |m: &Moment| m.month.is_none() && m.open == 0;
        let (from, to) = (a.moment.year?, b.moment.year?);
        let apart = (40..=100).contains(&to.saturating_sub(from));
        let dash = a.words.is_empty() && b.words.trim().len() <= 3 && !b.words.contains("to");
        (bare(&a.moment) && bare(&b.moment) && apart && dash && (bracket || to < 1950)).then(|| {
            let mut d = self.clone();
            d.steps[0].relation = Relation::Born;
            d.steps[1].relation = Relation::Died;
            d
        })
    }
}
