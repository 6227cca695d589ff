//! The entry of a catalogue: each mark once, in a few words, in the order in which salerooms print
//! them; provenance of owners, dealers and sales only; what was exhibited, with year, number, title
//! and price as the label gives them.
//!
//! Doubt is told in the trade's words, each held to its chance by [`TABLE`]; what is less likely than
//! the last of them isn't said. Order and register are common practice; the line of provenance follows
//! the AAM guide, see [`super::provenance`].

use super::facts::{Fact, Facts, Quoted};
use super::provenance::{self, Event, Who};
use super::{Basis, Sentence};
use crate::decisions::KeptMark;
use crate::marks::MarkKind;
use crate::statements::Role;

/// Words of doubt in an entry, each from this chance on; greatest first. A person's decision stands
/// plainly, and so does what is right nineteen times in twenty.
pub const TABLE: [(f64, &str); 3] = [(0.95, ""), (0.75, "probably"), (0.40, "possibly")];

/// The table in words, without figures.
pub const KEY: &str = "A plain statement rests on a person's decision or on a reading that is right nineteen times in twenty or more; “probably” stands for three times in four or more, “possibly” for two in five or more; what is less likely is left out. “(?)” follows a doubtful word, “[…]” stands for what is lost. The note for the file gives the chances.";

/// The word for a chance; `None` for what is left unsaid.
///
/// ```
/// use dorso::note::entry_word;
/// assert_eq!(entry_word(0.96), Some(""));
/// assert_eq!(entry_word(0.8), Some("probably"));
/// assert_eq!(entry_word(0.2), None);
/// ```
pub fn word(chance: f64) -> Option<&'static str> {
    TABLE.iter().find(|t| chance >= t.0).map(|t| t.1)
}

/// An entry, part by part; each sentence with the least sure of what it rests on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Entry {
    /// Written on the object itself.
    pub inscribed: Vec<Sentence>,
    /// Labels, stamps and stencils.
    pub reverse: Vec<Sentence>,
    /// Owners, dealers and sales, in one line.
    pub provenance: String,
    /// Showings.
    pub exhibited: Vec<Sentence>,
    /// What dates the parts.
    pub dates: Vec<Sentence>,
    /// What else a reader has to know.
    pub notes: Vec<Sentence>,
}

impl Entry {
    /// All sentences that rest on marks.
    pub fn sentences(&self) -> impl Iterator<Item = &Sentence> {
        let told = [&self.inscribed, &self.reverse, &self.exhibited];
        told.into_iter().flatten()
    }
}

/// The entry of the marks of a picture.
///
/// * `links`: the line of provenance, as [`super::links`] has it.
/// * `dates`: sentences on the parts, with chances and numbers.
pub(super) fn entry(
    marks: &[&KeptMark],
    links: &[(Event, Basis)],
    dates: &[Sentence],
    conflicts: &[Sentence],
) -> Entry {
    let facts: Vec<Facts<'_>> = marks.iter().map(|m| Facts::of(m)).collect();
    let mut out = Entry::default();
    for f in &facts {
        let inscription = matches!(f.mark.kind(), MarkKind::Inscription | MarkKind::Monogram);
        let (to, told) = match inscription {
            true => (&mut out.inscribed, inscribed(f)),
            false => (&mut out.reverse, reverse(f)),
        };
        once(to, told);
        if let Some(told) = exhibited(f) {
            once(&mut out.exhibited, told);
        }
    }
    out.provenance = provenance_line(links, &facts);
    let told = |s: &&Sentence| {
        let enough = match s.basis {
            Basis::Program(p) => p >= TABLE[2].0,
            Basis::Person(_) => true,
            // Which marks date no part is the file note's.
            Basis::Record => false,
        };
        enough && !s.words.starts_with("Otherwise")
    };
    out.dates = dates.iter().filter(told).map(without_figures).collect();
    out.notes = conflicts.iter().map(without_figures).collect();
    out
}

/// The same fact is said once.
fn once(to: &mut Vec<Sentence>, told: Sentence) {
    if to.iter().all(|s| s.words != told.words) {
        to.push(told);
    }
}

/// Pieces of a sentence with the least sure of what they rest on.
struct Saying {
    words: String,
    least: Basis,
}

impl Saying {
    fn new(words: impl Into<String>) -> Saying {
        Saying {
            words: words.into(),
            least: Basis::Record,
        }
    }

    /// Adds a fact with its word of doubt: `lead`, the word, `then`, the fact.
    fn add(&mut self, lead: &str, fact: &Fact, text: &str) -> bool {
        let Some(doubt) = word(fact.chance()) else {
            return false;
        };
        let doubt = if doubt.is_empty() {
            String::new()
        } else {
            format!("{doubt} ")
        };
        self.words += &format!("{lead}{doubt}{text}");
        self.least = lesser(self.least, fact.basis);
        true
    }

    fn end(mut self) -> Sentence {
        if !self.words.ends_with(['.', '…', '?', '!']) {
            self.words.push('.');
        }
        Sentence {
            words: self.words,
            basis: self.least,
        }
    }
}

/// The less sure of two.
fn lesser(a: Basis, b: Basis) -> Basis {
    match (a, b) {
        (Basis::Program(x), Basis::Program(y)) => Basis::Program(x.min(y)),
        (Basis::Program(x), _) | (_, Basis::Program(x)) => Basis::Program(x),
        (Basis::Person(d), _) | (_, Basis::Person(d)) => Basis::Person(d),
        _ => Basis::Record,
    }
}

/// Adds on what part of the object the mark is.
fn place(saying: &mut Saying, f: &Facts<'_>) {
    if let Some((fact, words)) = f.place() {
        saying.add(", ", &fact, &words);
    }
}

fn inscribed(f: &Facts<'_>) -> Sentence {
    let mut out = match (f.mark.kind(), f.quoted()) {
        (MarkKind::Monogram, _) => Saying::new("Inscribed with a monogram, not resolved"),
        (_, Some(q)) => quoting("Inscribed", &q).unwrap_or(Saying::new("Indistinctly inscribed")),
        (_, None) => Saying::new("Indistinctly inscribed"),
    };
    place(&mut out, f);
    out.end()
}

/// What stands there in its own words, with the word of doubt for them; nothing where they are too
/// doubtful to be quoted.
fn quoting(start: &str, q: &Quoted) -> Option<Saying> {
    let mut out = Saying::new(start);
    let lead = match word(q.fact.chance())? {
        "" => " ",
        _ => ", ",
    };
    out.add(lead, &q.fact, &format!("“{}”", q.words));
    Some(out)
}

fn reverse(f: &Facts<'_>) -> Sentence {
    let noun = noun(f.mark.kind());
    let exhibition = f.exhibition();
    let firm = f.firm();
    let of_firm = firm.as_ref().map_or(0.0, |x| x.1.chance());
    let mut out = if let Some(show) = exhibition.filter(|x| x.chance() >= of_firm.max(TABLE[2].0)) {
        let mut out = Saying::new(format!("Exhibition {noun}"));
        of(&mut out, &show);
        if let Some(year) = f.role(Role::ExhibitionYear) {
            out.add(", ", &year, &provenance::date(&year.text));
        }
        out
    } else if let Some((trade, name)) = firm.filter(|x| x.1.chance() >= TABLE[2].0) {
        let mut out = Saying::new(match trade {
            "" => provenance::capital(noun),
            t => format!("{} {noun}", provenance::capital(t)),
        });
        of(&mut out, &name);
        for role in [Role::Address, Role::Town] {
            let told = f.role(role).filter(|x| !name.text.contains(&x.text));
            if let Some(fact) = told.filter(|x| x.chance() >= TABLE[1].0) {
                out.add(", ", &fact, &fact.text);
            }
        }
        out
    } else {
        let noun = provenance::capital(noun);
        let quoted = f.quoted().and_then(|q| quoting(&noun, &q));
        quoted.unwrap_or(Saying::new(format!("{noun}, indistinct")))
    };
    place(&mut out, f);
    out.end()
}

/// "of the Rothcaster Society", ", probably of T. Lane".
fn of(out: &mut Saying, name: &Fact) {
    let article = if wants_article(&name.text) {
        "the "
    } else {
        ""
    };
    let text = format!("of {article}{}", name.text);
    let lead = if word(name.chance()) == Some("") {
        " "
    } else {
        ", "
    };
    out.add(lead, name, &text);
}

/// Whether a body's name goes with "the": it is called by what it is.
fn wants_article(name: &str) -> bool {
    const BODIES: [&str; 12] = [
        "society",
        "academy",
        "institute",
        "institution",
        "club",
        "guild",
        "association",
        "exhibition",
        "museum",
        "salon",
        "union",
        "gallery",
    ];
    let lower = name.to_lowercase();
    !lower.starts_with("the ") && BODIES.iter().any(|b| lower.contains(b))
}

/// A showing: who showed it, when, under what number and title, as by whom, at what price.
fn exhibited(f: &Facts<'_>) -> Option<Sentence> {
    let show = f.exhibition().filter(|x| x.chance() >= TABLE[2].0)?;
    let mut out = Saying::new("");
    out.add("", &show, &show.text);
    match f.role(Role::ExhibitionYear) {
        Some(year) => {
            out.add(", ", &year, &provenance::date(&year.text));
        }
        None => out.words += ", in a year not stated",
    }
    if let Some(n) = f.role(Role::CatalogueNumber) {
        out.add(", ", &n, &format!("no. {}", n.text));
    }
    if let Some(title) = f.role(Role::Title) {
        out.add(", ", &title, &format!("as “{}”", title.text));
    }
    if let Some(artist) = f.role(Role::Artist) {
        out.add(", ", &artist, &format!("as by {}", artist.text));
    }
    if let Some(price) = f.role(Role::Price) {
        out.add(", ", &price, &format!("at {}", price.text));
    }
    out.words = provenance::capital(&out.words);
    Some(out.end())
}

fn noun(kind: MarkKind) -> &'static str {
    match kind {
        MarkKind::PrintedLabel => "label",
        MarkKind::WrittenLabel => "handwritten label",
        MarkKind::Stamp => "stamp",
        MarkKind::Stencil => "stencil",
        MarkKind::Inscription => "inscription",
        MarkKind::Monogram => "monogram",
        MarkKind::Unknown => "mark",
    }
}

/// Owners, dealers and sales: framers, colourmen and showings have their own places in the entry.
fn provenance_line(links: &[(Event, Basis)], facts: &[Facts<'_>]) -> String {
    let kept = |e: &Event| match &e.who {
        Who::Owner { .. } | Who::AnonymousSale(_) => true,
        Who::Trade(_) => !e.trade.contains("framer") && !e.trade.contains("colourman"),
        Who::Statement(words) => words.starts_with("Whereabouts"),
    };
    let mut events: Vec<Event> = facts.iter().filter_map(Facts::owner).collect();
    for (e, _) in links.iter().filter(|l| kept(&l.0)) {
        let mut e = e.clone();
        e.notes.clear();
        e.details
            .retain(|d| d != "printed label" && d != "stamp" && d != "stencil");
        if !events.contains(&e) {
            events.push(e);
        }
    }
    let named = |e: &Event| !matches!(e.who, Who::Statement(_));
    if !events.iter().any(named) {
        events.insert(
            0,
            Event::new(Who::Statement(
                "No owner, dealer or sale is told by the back".into(),
            )),
        );
    }
    provenance::line(&events)
}

/// A sentence of the file note without its figures and the numbers of its marks.
fn without_figures(s: &Sentence) -> Sentence {
    let mut words = String::new();
    let mut depth = 0usize;
    for c in s.words.chars() {
        match c {
            '(' => depth += 1,
            ')' if depth > 0 => depth -= 1,
            _ if depth == 0 => words.push(c),
            _ => {}
        }
    }
    let mut words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    // The file note has more words of doubt than an entry's table.
    const PLAINER: [(&str, &str); 5] = [
        (" ,", ","),
        (" .", "."),
        (" ;", ";"),
        (", very probably,", ""),
        (", perhaps,", ", possibly,"),
    ];
    for (from, to) in PLAINER {
        words = words.replace(from, to);
    }
    Sentence {
        words,
        basis: s.basis,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bodies_called_by_what_they_are_take_an_article() {
        assert!(wants_article("Rothcaster Society of Artists"));
        assert!(!wants_article("The Guild of St Eloy"));
        assert!(!wants_article("T. Ravensby & Son"));
    }

    #[test]
    fn figures_and_numbers_of_marks_are_left_out() {
        let s = Sentence {
            words: "The frame was made, probably (0.94), not after 1874 (rests on 7h, 16t).".into(),
            basis: Basis::Program(0.94),
        };
        let plain = "The frame was made, probably, not after 1874.";
        assert_eq!(without_figures(&s).words, plain);
        let s = Sentence {
            words: "The slip was made, perhaps (0.44), by 1860 (rests on 3d).".into(),
            basis: Basis::Program(0.44),
        };
        let possible = "The slip was made, possibly, by 1860.";
        assert_eq!(without_figures(&s).words, possible);
    }
}
