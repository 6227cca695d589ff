//! The entry of a catalogue: each mark once, in a few words, in the order in which salerooms print
//! them; provenance of owners, dealers and sales only; what was exhibited, with year, number, title
//! and price as the label gives them.
//!
//! Doubt is told in the trade's words, each held to its chance by [`TABLE`]; what is less likely than
//! the last of them isn't said. Order and register are common practice; the line of provenance follows
//! the AAM guide, see [`super::provenance`].

use super::certainty::PLAIN;
use super::facts::{Fact, Facts, On};
use super::provenance::{self, Detail, Event, Who};
use super::wording::{Language, Slots, Telling, Wording, lesser};
use super::{Basis, Sentence};
use crate::evidence::{Solved, Years, apart};
use crate::marks::MarkKind;
use crate::statements::Role;

/// Words of doubt in an entry, each from this chance on; greatest first. A person's decision stands
/// plainly, and so does what is right nineteen times in twenty.
pub const TABLE: [(f64, &str); 3] = [(PLAIN, ""), (0.75, "probably"), (0.40, "possibly")];

/// The word for a chance; `None` for what is left unsaid.
///
/// ```
/// use dorso_telling::note::entry_word;
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
    /// Sentences by what they speak of: words, and the mark or the part of the object.
    pub about: Vec<(String, String)>,
    /// Language that it is written in.
    pub language: Language,
}

impl Entry {
    /// All sentences that rest on marks.
    pub fn sentences(&self) -> impl Iterator<Item = &Sentence> {
        let told = [&self.inscribed, &self.reverse, &self.exhibited];
        told.into_iter().flatten()
    }

    /// The mark or the part that a sentence speaks of.
    pub(super) fn about(&self, words: &str) -> Option<&str> {
        let found = self.about.iter().find(|a| a.0 == words);
        found.map(|a| a.1.as_str())
    }
}

/// The entry of the marks of a picture.
///
/// * `links`: the line of provenance, as [`super::links`] has it.
pub(super) fn entry(
    facts: &[Facts<'_>],
    links: &[(Event, Basis)],
    solved: &Solved,
    language: Language,
) -> Entry {
    let w = language.wording();
    let mut out = Entry {
        language,
        ..Entry::default()
    };
    for f in facts {
        let inscription = matches!(f.mark.kind(), MarkKind::Inscription | MarkKind::Monogram);
        let (to, told) = match inscription {
            true => (&mut out.inscribed, inscribed(f, w)),
            false => (&mut out.reverse, reverse(f, w)),
        };
        let about = f.mark.id.to_string();
        out.about.push((told.words.clone(), about.clone()));
        once(to, told);
        if let Some(told) = exhibited(f, w, Telling::Words) {
            out.about.push((told.words.clone(), about));
            once(&mut out.exhibited, told);
        }
    }
    let shown = |(e, _): &&(Event, Basis)| matches!(&e.who, Who::Statement(t) if t.starts_with("exhibited, "));
    for (e, basis) in links.iter().filter(shown) {
        let mut e = e.clone();
        e.notes.clear();
        let words = provenance::line_in(&[e], w);
        let words = words.replacen("Exhibited, ", "", 1);
        once(
            &mut out.exhibited,
            Sentence {
                words,
                basis: *basis,
            },
        );
    }
    out.provenance = provenance_line(links, w);
    for (part, told) in dates(solved, w, Telling::Words) {
        out.about.push((told.words.clone(), part));
        out.dates.push(told);
    }
    let conflict = |c: &crate::evidence::Conflict| {
        let sides = without_numbers(&c.sides());
        let all = fact(String::new(), c.chance);
        let slots = Slots::default().fact("all", all).text("sides", sides);
        sentence(w.fill("conflict", &slots, Telling::Words))
    };
    for told in solved.conflicts.iter().filter_map(conflict) {
        once(&mut out.notes, told);
    }
    out
}

/// The same fact is said once.
fn once(to: &mut Vec<Sentence>, told: Sentence) {
    if to.iter().all(|s| s.words != told.words) {
        to.push(told);
    }
}

fn sentence(filled: Option<(String, Basis)>) -> Option<Sentence> {
    let (words, basis) = filled?;
    // What ends in an abbreviation has its full stop
    let words = words.replace("..", ".");
    Some(Sentence { words, basis })
}

fn fact(text: String, chance: f64) -> Option<(String, Basis)> {
    Some((text, Basis::Program(chance)))
}

fn told(f: Option<Fact>) -> Option<(String, Basis)> {
    f.map(|f| (f.text, f.basis))
}

/// On what part of the object the mark is. In the note for the file it stands below that part, and only
/// what is in doubt, or lies over two parts, is told again.
fn place(f: &Facts<'_>, w: &Wording, how: Telling) -> Option<(String, Basis)> {
    let On { part, over, basis } = f.on()?;
    let doubtful = matches!(basis, Basis::Program(p) if p < TABLE[0].0);
    if how != Telling::Words && over.is_none() && !doubtful {
        return None;
    }
    let words = match over {
        Some(b) => {
            let bare = |p: &str| w.text(&format!("over.{p}")).to_owned();
            w.plain("over", &[("a", &bare(part)), ("b", &bare(b))])
        }
        None => w.text(&format!("on.{part}")).to_owned(),
    };
    Some((words, basis))
}

/// Noun and place of a mark.
fn slots(f: &Facts<'_>, w: &Wording, how: Telling) -> Slots {
    let noun = w
        .text(&format!("noun.{}", f.mark.kind().as_str()))
        .to_owned();
    Slots::default()
        .text("noun", noun)
        .text("there", there(f))
        .fact("place", place(f, w, how))
}

/// What follows the name of a mark that nobody has read or spoken of, where it is not sure that there
/// is any lettering.
fn there(f: &Facts<'_>) -> &'static str {
    let spoken_of = f.mark.settled != crate::decisions::Settled::default();
    match spoken_of || f.mark.bears >= TABLE[0].0 {
        true => "",
        false => " (?)",
    }
}

/// What else a mark states fairly surely: not told of the showing or of the firm, in the provenance,
/// or in the words before it.
fn tail(f: &Facts<'_>, w: &Wording, told: &[Role], before: &str) -> Option<(String, Basis)> {
    const SHOWING: [Role; 6] = [
        Role::Exhibition,
        Role::ExhibitionYear,
        Role::CatalogueNumber,
        Role::Title,
        Role::Artist,
        Role::Price,
    ];
    let shown = exhibited(f, w, Telling::Words).is_some();
    let owned = f.owner().is_some();
    // A trade is told by the noun, and a number of which nothing is known tells nothing
    let passed = |r: Role| {
        told.contains(&r)
            || matches!(r, Role::Trade | Role::Part)
            || shown && SHOWING.contains(&r)
            || owned && matches!(r, Role::Owner | Role::Lender)
    };
    let mut pieces = Vec::new();
    let mut least = Basis::Record;
    for (role, name) in Role::ALL {
        let sure = |x: &Fact| x.chance() >= TABLE[1].0 && !before.contains(&x.text);
        let Some(fact) = f.role(role).filter(|_| !passed(role)).filter(sure) else {
            continue;
        };
        let text = match role {
            Role::SaleDate | Role::Date | Role::ExhibitionYear => w.date(&fact.text),
            _ => fact.text,
        };
        let slots = Slots::default().fact("x", Some((text, fact.basis)));
        if let Some((said, basis)) = w.inside(&format!("state.{name}"), &slots) {
            pieces.push(said);
            least = lesser(least, basis);
        }
    }
    (!pieces.is_empty()).then(|| (pieces.join(", "), least))
}

/// What stands there in its own words, where they are sure enough to be quoted.
fn quoted(f: &Facts<'_>) -> Option<(String, Basis)> {
    let q = f.quoted()?;
    word(q.fact.chance())?;
    Some((q.words, q.fact.basis))
}

fn inscribed(f: &Facts<'_>, w: &Wording) -> Sentence {
    let all = slots(f, w, Telling::Words);
    let quoted = quoted(f);
    let before = quoted.as_ref().map_or("", |q| q.0.as_str());
    let all = all.fact("tail", tail(f, w, &[], before));
    let words = match f.mark.kind() {
        MarkKind::Monogram => {
            let all = all
                .clone()
                .fact("words", quoted)
                .fact("who", told(f.on_list("artists")));
            w.fill("inscribed.monogram", &all, Telling::Words)
        }
        _ => {
            let all = all.clone().fact("words", quoted);
            w.fill("inscribed", &all, Telling::Words)
        }
    };
    let indistinct = || w.fill("inscribed.indistinct", &all, Telling::Words);
    sentence(words.or_else(indistinct)).unwrap_or_else(nothing)
}

/// No pattern of a file is without words; an empty sentence would be seen by the tests.
fn nothing() -> Sentence {
    Sentence {
        words: String::new(),
        basis: Basis::Record,
    }
}

fn reverse(f: &Facts<'_>, w: &Wording) -> Sentence {
    if let Some(told) = of_whom(f, w, Telling::Words) {
        return told;
    }
    let quoted = quoted(f);
    let before = quoted.as_ref().map_or("", |q| q.0.as_str());
    let all = slots(f, w, Telling::Words).fact("tail", tail(f, w, &[], before));
    let told = w.fill(
        "mark.quoted",
        &all.clone().fact("words", quoted),
        Telling::Words,
    );
    let indistinct = || w.fill("mark.indistinct", &all, Telling::Words);
    sentence(told.or_else(indistinct)).unwrap_or_else(nothing)
}

/// Whose mark it is: that of a body that showed the picture, or of a firm.
fn of_whom(f: &Facts<'_>, w: &Wording, how: Telling) -> Option<Sentence> {
    let all = slots(f, w, how);
    let firm = f.firm();
    let of_firm = firm.as_ref().map_or(0.0, |x| x.1.chance());
    let rest = |told: &[Role], before: &str| match how {
        Telling::Words => tail(f, w, told, before),
        // The tables of the note for the file have them
        Telling::Figures(_) => None,
    };
    let article = |name: &str| match wants_article(name) {
        true => w.text("article").to_owned(),
        false => String::new(),
    };
    if let Some(show) = f.exhibition().filter(|x| x.chance() >= of_firm) {
        let noun = w
            .text(&format!("show.{}", f.mark.kind().as_str()))
            .to_owned();
        let name = show.text.clone();
        let slots = Slots::default()
            .text("noun", noun)
            .text("article", article(&name))
            .fact("show", told(Some(show)))
            // The note for the file tells the showing by itself
            .fact("year", year(f, w).filter(|_| how == Telling::Words))
            .fact(
                "tail",
                rest(&[Role::Exhibition, Role::ExhibitionYear], &name),
            )
            .fact("place", place(f, w, how));
        if let Some(said) = w.fill("mark.show", &slots, how) {
            return sentence(Some(said));
        }
    }
    let (list, name) = firm?;
    let further = |role| {
        // The tables of the note for the file have these too
        let told_here = how == Telling::Words || !matches!(role, Role::Address | Role::Town);
        let other = |x: &Fact| !name.text.contains(&x.text) && x.chance() >= TABLE[1].0;
        told(f.role(role).filter(other)).filter(|_| told_here)
    };
    let date = |x: (String, Basis)| (w.date(&x.0), x.1);
    let mut known = vec![Role::Address, Role::Town];
    known.extend(match list {
        "sale_rooms" => vec![Role::Sale, Role::Lot, Role::SaleDate],
        "retailers" => vec![Role::Dealer],
        _ => vec![Role::Maker],
    });
    let slots = all
        .fact("tail", rest(&known, &name.text))
        .text("article", article(&name.text))
        .fact("address", further(Role::Address))
        .fact("town", further(Role::Town))
        .fact("lot", further(Role::Lot))
        .fact("day", further(Role::SaleDate).map(date))
        .fact("firm", told(Some(name)));
    sentence(w.fill(&format!("mark.{list}"), &slots, how))
}

fn year(f: &Facts<'_>, w: &Wording) -> Option<(String, Basis)> {
    f.role(Role::ExhibitionYear)
        .map(|y| (w.date(&y.text), y.basis))
}

/// Whether a body's name goes with an article: it is called by what it is.
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
pub(super) fn exhibited(f: &Facts<'_>, w: &Wording, how: Telling) -> Option<Sentence> {
    sentence(w.fill("exhibited", &showing(f, w), how))
}

fn showing(f: &Facts<'_>, w: &Wording) -> Slots {
    Slots::default()
        .fact("show", told(f.exhibition()))
        .fact("year", year(f, w))
        .fact("number", told(f.role(Role::CatalogueNumber)))
        .fact("title", told(f.role(Role::Title)))
        .fact("artist", told(f.role(Role::Artist)))
        .fact("price", told(f.role(Role::Price)))
}

/// What a mark is, in one sentence of the note for the file.
pub(super) fn is(f: &Facts<'_>, w: &Wording, how: Telling) -> Sentence {
    let plain = || sentence(w.fill("mark.plain", &slots(f, w, how), how));
    of_whom(f, w, how).or_else(plain).unwrap_or_else(nothing)
}

/// When each part was made, and which parts did not begin together; each with the parts' names.
pub(super) fn dates(solved: &Solved, w: &Wording, how: Telling) -> Vec<(String, Sentence)> {
    let the = |b: &str| w.text(&format!("the.{b}")).to_owned();
    let part = |(b, d): &(crate::decisions::Bearer, crate::evidence::Dated)| {
        let (key, from, to) = limits(&d.years)?;
        let slots = Slots::default()
            .text("the", the(b.as_str()))
            .fact("years", fact(String::new(), d.chance))
            .text("from", from)
            .text("to", to);
        let told = sentence(w.fill(key, &slots, how))?;
        Some((b.as_str().to_owned(), told))
    };
    let mut out: Vec<(String, Sentence)> = solved.parts.iter().filter_map(part).collect();
    for a in apart(solved) {
        let slots = Slots::default()
            .text("older", the(a.older.0.as_str()))
            .text("younger", the(a.younger.0.as_str()))
            .fact("apart", fact(String::new(), a.chance));
        let parts = format!("{}-{}", a.older.0.as_str(), a.younger.0.as_str());
        out.extend(sentence(w.fill("apart", &slots, how)).map(|s| (parts, s)));
    }
    out
}

/// The pattern for these years and its ends.
pub(super) fn limits(y: &Years) -> Option<(&'static str, String, String)> {
    let text = |n: Option<i32>| n.map_or_else(String::new, |n| n.to_string());
    let key = match (y.from, y.to) {
        (None, None) => return None,
        (Some(a), Some(b)) if a == b => "dated.in",
        (Some(_), Some(_)) => "dated.between",
        (Some(_), None) => "dated.from",
        (None, Some(_)) => "dated.by",
    };
    Some((key, text(y.from), text(y.to)))
}

/// The links without the numbers of their notes.
fn provenance_line(links: &[(Event, Basis)], w: &Wording) -> String {
    let mut events: Vec<Event> = Vec::new();
    for (e, _) in links {
        let mut e = e.clone();
        e.notes.clear();
        e.details.retain(|d| !matches!(d, Detail::Mark(_)));
        if let Who::Statement(words) = &mut e.who {
            let key = match words.as_str() {
                t if t.starts_with("Whereabouts") => "provenance.gap",
                t if t.starts_with("No owner") => "provenance.none",
                // A showing stands among the showings
                _ => continue,
            };
            *words = w.text(key).into();
        }
        if !events.contains(&e) {
            events.push(e);
        }
    }
    provenance::line_in(&events, w)
}

/// A clause of the evidence without the numbers of its marks: "printed label on the frame".
fn without_numbers(words: &str) -> String {
    let number = |w: &str| {
        let w = w.trim_matches(|c: char| !c.is_alphanumeric());
        let figures = w.trim_end_matches(|c: char| c.is_ascii_lowercase());
        figures.len() < w.len()
            && !figures.is_empty()
            && figures.bytes().all(|b| b.is_ascii_digit())
    };
    let kept: Vec<&str> = words.split_whitespace().filter(|w| !number(w)).collect();
    kept.join(" ")
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
    fn the_numbers_of_marks_are_left_out_of_an_entry() {
        let words = "printed label 7h on the frame (it names Orme: 1853 to 1874) and stencil 16t";
        let plain = "printed label on the frame (it names Orme: 1853 to 1874) and stencil";
        assert_eq!(without_numbers(words), plain);
    }
}
