//! Why: which lines, letter by letter, and in sentences a person can check against the mark.

use super::align::{Aligned, align};
use super::compete::{self, Claim};
use super::letters;
use super::observed::Observed;
use super::table::{Kind, Table};
use super::words;
use super::{Agreement, Beside, Proposal, Seen};
use crate::gazetteer::{Entry, List};
use std::collections::HashMap;

/// Proposals that are explained letter by letter; further ones get a single sentence.
const EXPLAINED: usize = 6;

/// ln weight above which a field counts as standing on the mark.
const STANDS: f32 = 3.0;

/// Forms of a list that were laid along the mark already; `None`: it doesn't stand there.
pub(super) type Known = HashMap<u32, Option<Aligned>>;

/// The fields of one entry along the mark; `None`: not on it.
struct Laid {
    name: Option<Aligned>,
    parts: Vec<Option<Aligned>>,
    town: Option<Aligned>,
}

/// Proposals with their reasons, from rows and chances, greatest first.
pub(super) fn proposals(
    table: &Table,
    list: &List,
    text: &Observed,
    kept: &[(usize, f64)],
    unlisted: f64,
    beside: &Beside,
    known: &mut Known,
) -> Vec<Proposal> {
    let laid: Vec<Laid> = kept
        .iter()
        .take(EXPLAINED)
        .map(|&(row, _)| lay(table, row, text, known))
        .collect();
    kept.iter()
        .enumerate()
        .map(|(i, &(row, probability))| {
            let e = &list.entries[row];
            let (lines, mut agreement) = match laid.get(i) {
                Some(l) => (
                    lines(l, text),
                    Agreement {
                        letters: spelled(l),
                        because: because(table, list, text, kept, unlisted, i, &laid),
                    },
                ),
                None => (
                    Vec::new(),
                    Agreement {
                        letters: Vec::new(),
                        because: vec![format!(
                            "{} rivals of this list are likelier.",
                            capital(&number(i))
                        )],
                    },
                ),
            };
            agreement.because.extend(beside.told(e));
            Proposal {
                lines,
                agreement,
                ..Proposal::of(e, probability)
            }
        })
        .collect()
}

fn lay(table: &Table, row: usize, text: &Observed, known: &mut Known) -> Laid {
    let mut get = |f: u32| {
        known
            .entry(f)
            .or_insert_with(|| {
                let a = align(table, f, text);
                (a.weight > STANDS).then_some(a)
            })
            .clone()
    };
    let r = table.row(row);
    // A street or a town of which more is guessed or contradicted than was seen stands nowhere
    let seen = |a: &Aligned| {
        let agree = a.count(Seen::Clear) + a.count(Seen::Unclear);
        agree > a.count(Seen::Lost) + a.count(Seen::Contradicted)
    };
    let names = r.names.iter().filter_map(|&f| get(f));
    let name = names.max_by(|a, b| a.weight.total_cmp(&b.weight));
    Laid {
        name,
        parts: r.parts.iter().map(|&f| get(f).filter(seen)).collect(),
        town: r.town.and_then(get).filter(seen),
    }
}

/// What the likeliest entries of a list claim of the mark.
pub(super) fn claims(
    (table, list): (&Table, &List),
    text: &Observed,
    kept: &[(usize, f64)],
    known: &mut Known,
) -> Vec<Claim> {
    kept.iter()
        .take(compete::MOST)
        .map(|&(row, chance)| {
            let l = lay(table, row, text, known);
            let rests: Vec<&Aligned> = match &l.name {
                Some(name) => vec![name],
                None => fields(&l).collect(),
            };
            let letters = rests.iter().flat_map(|a| a.letters());
            let mut columns: Vec<usize> = letters.filter_map(|l| l.2).collect();
            columns.sort_unstable();
            columns.dedup();
            let words = words::split(&list.entries[row].name);
            Claim {
                chance,
                columns,
                name: words.iter().map(|w| words::spell(w) + " ").collect(),
            }
        })
        .collect()
}

fn fields(l: &Laid) -> impl Iterator<Item = &Aligned> {
    l.name.iter().chain(l.parts.iter().flatten()).chain(&l.town)
}

fn lines(l: &Laid, text: &Observed) -> Vec<usize> {
    let mut out: Vec<usize> = fields(l)
        .flat_map(|a| a.letters())
        .filter_map(|(_, _, column)| column.map(|j| text.columns[j].line))
        .collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// The words used, with capitals at their beginnings, parted by spaces and fields by commas.
fn spelled(l: &Laid) -> Vec<(char, Seen)> {
    let mut out: Vec<(char, Seen)> = Vec::new();
    for (k, field) in fields(l).enumerate() {
        if k > 0 {
            out.push((',', Seen::Clear));
        }
        for word in &field.words {
            if !out.is_empty() {
                out.push((' ', Seen::Clear));
            }
            for (i, &(c, seen, _)) in word.iter().enumerate() {
                let c = letters::sign(c);
                out.push((if i == 0 { c.to_ascii_uppercase() } else { c }, seen));
            }
        }
    }
    out
}

pub(super) fn number(n: usize) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    WORDS.get(n).map_or(n.to_string(), |w| (*w).to_string())
}

/// How a field agrees: "the name agrees letter for letter", ...
fn agrees(what: &str, a: &Aligned) -> String {
    let all = a.letters().count();
    let (clear, lost) = (a.count(Seen::Clear), a.count(Seen::Lost));
    let (unclear, against) = (a.count(Seen::Unclear), a.count(Seen::Contradicted));
    let absent = a.slots - a.words.len();
    if clear == all && absent == 0 {
        return format!("{what} agrees letter for letter");
    }
    let mut parts = if clear == all {
        vec![format!("{what} agrees letter for letter")]
    } else {
        vec![format!("{what}: {clear} of {all} letters agree")]
    };
    let mut tell = |n: usize, text: &str| {
        if n > 0 {
            parts.push(format!("{} {text}", number(n)));
        }
    };
    tell(unclear, "unclear or read as a letter like it");
    tell(lost, "lost and guessed");
    tell(against, "contradicted");
    tell(
        absent,
        if absent == 1 {
            "word of it not on the mark"
        } else {
            "words of it not on the mark"
        },
    );
    parts.join(", ")
}

/// Letters that speak against the entry: "the mark has L where the list has W".
fn against(a: &Aligned, text: &Observed) -> Option<String> {
    let found: Vec<String> = a
        .letters()
        .filter(|l| l.1 == Seen::Contradicted)
        .take(3)
        .map(|&(c, _, column)| {
            let c = letters::sign(c).to_ascii_uppercase();
            match column {
                Some(j) => format!(
                    "{} where the list has {c}",
                    letters::sign(text.columns[j].best).to_ascii_uppercase()
                ),
                None => format!("nothing where the list has {c}"),
            }
        })
        .collect();
    (!found.is_empty()).then(|| format!("The mark has {}.", found.join(", ")))
}

fn because(
    table: &Table,
    list: &List,
    text: &Observed,
    kept: &[(usize, f64)],
    unlisted: f64,
    i: usize,
    laid: &[Laid],
) -> Vec<String> {
    let (row, probability) = kept[i];
    let (e, l) = (&list.entries[row], &laid[i]);
    let mut out = Vec::new();
    let mut parts = Vec::new();
    match &l.name {
        Some(a) => parts.push(agrees("The name", a)),
        None => parts.push("The name can't be made out on the mark".into()),
    }
    let placed: Vec<&Aligned> = l.parts.iter().flatten().collect();
    if let Some(a) = placed.first() {
        parts.push(agrees("the address", a));
    } else if !l.parts.is_empty() && table.kind == Kind::Firms {
        parts.push("of the address nothing was read".into());
    }
    match (&l.town, table.row(row).town, table.kind) {
        (Some(a), _, Kind::Places) => parts.push(agrees("the county", a)),
        (Some(a), ..) => parts.push(agrees("the town", a)),
        (None, Some(_), Kind::Firms) => parts.push("the town wasn't read".into()),
        _ => {}
    }
    out.push(format!("{}.", parts.join("; ")));
    out.extend(fields(l).filter_map(|a| against(a, text)).take(2));
    let (mark, listed) = (words::trades(&text.words), table.trades[row]);
    // A painter's trade isn't a shop's: whose label names him says nothing of him
    if mark != 0 && listed != 0 && table.kind == Kind::Firms {
        out.push(if mark & listed != 0 {
            "The trade named on the mark fits.".to_string()
        } else {
            format!(
                "The trade named on the mark isn't the listed one ({}).",
                e.trade
            )
        });
    }
    if probability < 0.95 && unlisted > 0.1 {
        out.push(format!(
            "It isn't higher because {} on none of this list could be meant as well (chance {unlisted:.2}).",
            match table.kind {
                Kind::Firms => "a firm",
                Kind::Persons => "a person",
                Kind::Places => "a place",
            }
        ));
    }
    if let Some(text) = rival(list, kept, i, laid) {
        out.push(text);
    }
    if e.from_memory() {
        out.push(
            "This row of the list was set down from memory: check it in a directory before relying on it."
                .into(),
        );
    }
    out
}

/// How the nearest rival stands, by the lettering alone.
pub(super) const TIES: [&str; 3] = ["is as likely", "stands within reach", "is likelier"];

/// The nearest rival, and what would settle it between the two.
fn rival(list: &List, kept: &[(usize, f64)], i: usize, laid: &[Laid]) -> Option<String> {
    let (row, probability) = kept[i];
    let j = if i == 0 { 1 } else { 0 };
    let (other, p) = *kept.get(j)?;
    if i > 0 && p - probability > 0.6 || p < 0.02 {
        return None;
    }
    let (e, o) = (&list.entries[row], &list.entries[other]);
    let settle = settles(e, o, laid.get(i));
    let [as_likely, within_reach, likelier] = TIES;
    let tied = if (p - probability).abs() < 1e-3 {
        as_likely
    } else if p < probability {
        within_reach
    } else {
        likelier
    };
    Some(format!(
        "{} {tied} ({p:.2}); {settle}.",
        capital(&label(o, e))
    ))
}

fn capital(text: &str) -> String {
    let mut c = text.chars();
    c.next()
        .map_or(String::new(), |f| f.to_uppercase().chain(c).collect())
}

/// A rival named by what sets it apart.
fn label(o: &Entry, e: &Entry) -> String {
    if o.name != e.name {
        return match (o.town == e.town, o.address == e.address) {
            (true, true) => o.name.clone(),
            _ => format!("{} of {}", o.name, o.town),
        };
    }
    let years = match (o.from.as_str(), o.to.as_str()) {
        ("", "") => String::new(),
        (f, t) => format!(" ({f}-{t})"),
    };
    match (o.address.as_str(), o.town == e.town) {
        ("", true) => format!("another row of the same firm{years}"),
        ("", false) => format!("the same firm at {}{years}", o.town),
        (a, true) => format!("the same firm at {a}{years}"),
        (a, false) => format!("the same firm at {a}, {}{years}", o.town),
    }
}

/// What would settle it between two entries.
fn settles(e: &Entry, o: &Entry, laid: Option<&Laid>) -> String {
    let (a, b) = (words::split(&e.name), words::split(&o.name));
    if a != b {
        let differ: Vec<usize> = (0..a.len().min(b.len()))
            .filter(|&k| a[k] != b[k])
            .collect();
        if a.len() == b.len() && differ.len() == 1 {
            let (x, y) = (&a[differ[0]], &b[differ[0]]);
            let (sx, sy) = (words::spell(x), words::spell(y));
            if x.len() == y.len() {
                let at: Vec<usize> = (0..x.len()).filter(|&k| x[k] != y[k]).collect();
                if let [k] = at[..] {
                    return format!(
                        "a clear {} letter of \"{}\" would settle it ({} or {})",
                        ordinal(k + 1),
                        capital(&sx),
                        letters::sign(x[k]).to_ascii_uppercase(),
                        letters::sign(y[k]).to_ascii_uppercase()
                    );
                }
            }
            return format!(
                "a clear reading of \"{}\" or \"{}\" would settle it",
                capital(&sx),
                capital(&sy)
            );
        }
        if e.town != o.town && !e.town.is_empty() && laid.is_none_or(|l| l.town.is_none()) {
            return format!("a legible town would settle it ({} or {})", e.town, o.town);
        }
        return "a clearer name would settle it".into();
    }
    if e.address != o.address {
        let (x, y) = (words::split(&e.address), words::split(&o.address));
        let (a, b) = (numbers(&x), numbers(&y));
        if !a.is_empty() && !b.is_empty() && street(&x) == street(&y) {
            return format!(
                "a legible house number would settle it ({} or {})",
                a.join(" and "),
                b.join(" and ")
            );
        }
        return format!(
            "a legible address would settle it ({} or {})",
            place(e),
            place(o)
        );
    }
    if e.town != o.town {
        return format!("a legible town would settle it ({} or {})", e.town, o.town);
    }
    "a date on the mark would settle it".into()
}

fn is_number(w: &words::Word) -> bool {
    w.first().is_some_and(|&c| (26..36).contains(&c))
}

fn numbers(all: &[words::Word]) -> Vec<String> {
    all.iter()
        .filter(|w| is_number(w))
        .map(|w| words::spell(w))
        .collect()
}

fn street(all: &[words::Word]) -> Vec<&words::Word> {
    let joint = |w: &words::Word| matches!(words::spell(w).as_str(), "&" | "and");
    all.iter().filter(|w| !is_number(w) && !joint(w)).collect()
}

fn place(e: &Entry) -> &str {
    if e.address.is_empty() {
        "an address that isn't listed"
    } else {
        &e.address
    }
}

fn ordinal(n: usize) -> String {
    const WORDS: [&str; 11] = [
        "", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth",
        "tenth",
    ];
    WORDS.get(n).map_or(format!("{n}th"), |w| (*w).to_string())
}
