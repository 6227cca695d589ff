//! Texts of provenance that somebody handed in, and what the marks of the back say for or against
//! their links.

use super::certainty::with_number;
use super::compose::heading;
use super::facts::Facts;
use super::lines::{Kind, Line, Link, Party, Way};
use super::provenance::{self, Doubt, Event, Next, Who};
use super::{Basis, Sentence};
use crate::dating::edtf::Edtf;
use crate::decisions::{Observation, Sight, standing};
use crate::statements::Role;

/// A statement of less chance says nothing for or against a link.
const SPEAKS: f64 = 0.4;
/// Two words of a name are one from this likeness on (Jaro and Winkler), 0 to 1.
const SAME_WORD: f64 = 0.9;

/// A text with who handed it in.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// `o3`.
    pub id: String,
    /// Who.
    pub by: String,
    /// ISO 8601.
    pub at: String,
    /// What it is taken from.
    pub source: String,
    /// The text as it was handed in.
    pub text: String,
    /// Its links in order.
    pub links: Vec<ToldLink>,
}

/// A link of a text.
#[derive(Debug, Clone, PartialEq)]
pub struct ToldLink {
    /// As it stands.
    pub text: String,
    /// What sort of link.
    pub kind: Kind,
    /// Everybody in it; the first is whose link it is.
    pub parties: Vec<Party>,
    /// EDTF; may be empty.
    pub years: String,
    /// Ways of passing.
    pub ways: Vec<Way>,
    /// Lot or stock number.
    pub lot: Option<String>,
    /// Price as spelt.
    pub price: Option<String>,
    /// Its word of doubt.
    pub doubt: Doubt,
    /// What the sign behind it says.
    pub next: Next,
    /// Texts of its notes.
    pub notes: Vec<String>,
}

impl ToldLink {
    /// Whether nothing of it was understood.
    pub fn is_text(&self) -> bool {
        self.kind == Kind::Text
    }

    fn of(line: &Line, link: &Link) -> ToldLink {
        let note = |n: u32| line.note(n).map(str::to_owned);
        ToldLink {
            // Its notes are counted anew in a note
            text: without_numbers(link),
            kind: link.kind(),
            parties: link.parties(),
            years: link.years(),
            ways: link.ways(),
            lot: link.lot().map(str::to_owned),
            price: link.price().map(str::to_owned),
            doubt: link.doubt(),
            next: link.next(),
            notes: link.note_numbers().into_iter().filter_map(note).collect(),
        }
    }
}

/// What was understood of a link: what it is called and the value, nothing empty.
pub fn rows(l: &ToldLink) -> Vec<(&'static str, String)> {
    if l.is_text() {
        return vec![("kind", "left as text".into())];
    }
    let each = |f: &dyn Fn(&Party) -> String| {
        let all: Vec<String> = l.parties.iter().map(f).filter(|t| !t.is_empty()).collect();
        all.join("; ")
    };
    let life = |p: &Party| {
        let spans: Vec<String> = p.life.iter().map(|(a, b)| format!("{a}-{b}")).collect();
        spans.join(", ")
    };
    let doubt = match l.doubt {
        Doubt::None => "",
        Doubt::Probably => "probably",
        Doubt::Possibly => "possibly",
    };
    let ways: Vec<&str> = l.ways.iter().map(|w| w.as_str()).collect();
    let all = [
        ("kind", l.kind.as_str().to_owned()),
        ("who", each(&|p| p.name.clone())),
        ("life", each(&life)),
        ("kin", each(&|p| p.kin.clone())),
        ("where", each(&|p| p.place.clone())),
        ("when", provenance::date(&l.years)),
        ("how", ways.join(", ")),
        ("doubt", doubt.to_owned()),
        ("lot", l.lot.clone().unwrap_or_default()),
        ("price", l.price.clone().unwrap_or_default()),
        ("note", l.notes.join(" ")),
    ];
    all.into_iter().filter(|r| !r.1.is_empty()).collect()
}

fn without_numbers(link: &Link) -> String {
    let mut out = String::new();
    for p in &link.parts {
        match p {
            super::lines::Part::Note(..) => out.truncate(out.trim_end().len()),
            p => out += &p.to_string(),
        }
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The links of a text. Any text; what isn't understood is a link of [`Kind::Text`].
pub fn links(text: &str) -> Vec<ToldLink> {
    let line = Line::parse(text);
    line.links.iter().map(|l| ToldLink::of(&line, l)).collect()
}

/// The texts that hold, taken apart.
pub(super) fn all(observations: &[Observation]) -> Vec<Told> {
    let told = |o: &Observation| match &o.sight {
        Sight::Provenance { text, source } => Some(Told {
            id: o.id.to_string(),
            by: o.author.by.clone(),
            at: o.author.at.clone(),
            source: source.clone(),
            text: text.clone(),
            links: links(text),
        }),
        _ => None,
    };
    standing(observations)
        .into_iter()
        .filter_map(told)
        .collect()
}

/// What a mark says of somebody who had the picture or sold it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Claim {
    /// "stencil 16t".
    mark: String,
    name: String,
    chance: f64,
    /// EDTF.
    day: Option<(String, f64)>,
    lot: Option<(String, f64)>,
}

/// The claims of a mark.
pub(super) fn claims(f: &Facts<'_>) -> Vec<Claim> {
    let mark = format!("{} {}", heading(f.mark.kind()), f.mark.id);
    let fact = |role| f.role(role).map(|x| (x.chance(), x.text));
    let turned = |x: Option<(f64, String)>| x.filter(|x| x.0 >= SPEAKS).map(|(p, t)| (t, p));
    let mut out = Vec::new();
    let mut add = |name: String, chance: f64, sale: bool| {
        let claim = Claim {
            mark: mark.clone(),
            name,
            chance,
            day: turned(fact(Role::SaleDate)).filter(|_| sale),
            lot: turned(fact(Role::Lot)).filter(|_| sale),
        };
        if chance >= SPEAKS && !out.contains(&claim) {
            out.push(claim);
        }
    };
    if let Some((event, p)) = f.owner()
        && let Who::Owner { name, .. } = event.who
    {
        add(name, p, false);
    }
    if let Some((list, name)) = f.firm()
        && ["retailers", "sale_rooms"].contains(&list)
    {
        let p = name.chance();
        add(name.text, p, true);
    }
    out
}

/// Who a link of a note names.
pub(super) fn who(event: &Event) -> &str {
    match &event.who {
        Who::Owner { name, .. } => name,
        Who::Trade(n) | Who::AnonymousSale(n) | Who::Statement(n) | Who::Text(n) => n,
    }
}

/// Whether a text tells of somebody of that name.
pub(super) fn names(told: &[Told], name: &str) -> bool {
    let links = told.iter().flat_map(|t| &t.links);
    links
        .flat_map(|l| &l.parties)
        .any(|p| same_name(&p.name, name))
}

/// What a mark says for or against a link; nothing where it speaks of somebody else.
pub(super) fn beside(c: &Claim, link: &ToldLink) -> Option<Sentence> {
    if !link.parties.iter().any(|p| same_name(&p.name, &c.name)) {
        return None;
    }
    let (mut p, mut agrees, mut differs) = (c.chance, Vec::new(), Vec::new());
    if let (Some((lot, q)), Some(told)) = (&c.lot, &link.lot) {
        let side = if lot == told {
            &mut agrees
        } else {
            &mut differs
        };
        side.push((format!("lot {lot}"), format!("lot {told}"), *q));
    }
    if let Some((day, q)) = &c.day
        && let Some(within) = within(day, &link.years)
    {
        let (day, told) = (provenance::date(day), provenance::date(&link.years));
        let side = if within { &mut agrees } else { &mut differs };
        side.push((day, told, *q));
    }
    let words = if differs.is_empty() {
        p = agrees.iter().map(|a| a.2).fold(p, f64::min);
        let mut said = vec![format!("“{}”", c.name)];
        said.extend(agrees.into_iter().map(|a| a.0));
        format!(
            "{} speaks for it, {} reading {}.",
            c.mark,
            with_number(p),
            said.join(", ")
        )
    } else {
        p = differs.iter().map(|a| a.2).fold(p, f64::min);
        let said: Vec<String> = differs
            .iter()
            .map(|(own, told, _)| format!("{own} where the text has {told}"))
            .collect();
        format!(
            "{} names the same “{}” but speaks against it, {} reading {}.",
            c.mark,
            c.name,
            with_number(p),
            said.join(" and ")
        )
    };
    let basis = Basis::Program(p);
    Some(Sentence { words, basis })
}

/// Whether a day lies within other years; `None` where either is no date.
fn within(day: &str, years: &str) -> Option<bool> {
    let (a, b) = (Edtf::parse(day).ok()?, Edtf::parse(years).ok()?);
    let ends =
        |e: &Edtf| Some((e.earliest(), e.latest())).filter(|x| x.0.is_some() || x.1.is_some());
    let ((a0, a1), (b0, b1)) = (ends(&a)?, ends(&b)?);
    let before = matches!((a1, b0), (Some(a), Some(b)) if a < b);
    let after = matches!((a0, b1), (Some(a), Some(b)) if a > b);
    Some(!before && !after)
}

/// Whether two names may be of one person or firm: their last names agree, or most words of the
/// shorter, and no initial is against it.
pub(super) fn same_name(a: &str, b: &str) -> bool {
    let (a, b) = (name_words(a), name_words(b));
    let alike = |x: &str, y: &str| {
        x == y || x.len() > 3 && y.len() > 3 && strsim::jaro_winkler(x, y) >= SAME_WORD
    };
    let long = |w: &&String| w.chars().count() > 2;
    let (la, lb): (Vec<_>, Vec<_>) = (
        a.iter().filter(long).collect(),
        b.iter().filter(long).collect(),
    );
    let least = la.len().min(lb.len());
    if least == 0 {
        return false;
    }
    let shared = la.iter().filter(|x| lb.iter().any(|y| alike(x, y))).count();
    if 2 * shared < least || shared == 0 {
        return false;
    }
    if shared >= 2 || a.len() < 2 || b.len() < 2 {
        return true;
    }
    // One word in common: initials or first names before it must not disagree
    let first = |w: &[String]| w[0].chars().next();
    first(&a) == first(&b)
}

/// Words of a name without courtesies and what every firm is called.
fn name_words(name: &str) -> Vec<String> {
    const PASSED: [&str; 27] = [
        "mr",
        "mrs",
        "miss",
        "ms",
        "dr",
        "messrs",
        "sir",
        "lady",
        "lord",
        "rev",
        "revd",
        "esq",
        "the",
        "and",
        "co",
        "ltd",
        "limited",
        "inc",
        "son",
        "sons",
        "bros",
        "brothers",
        "company",
        "of",
        "gallery",
        "galleries",
        "sale",
    ];
    name.to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty() && !PASSED.contains(w))
        .map(str::to_owned)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claim(name: &str, day: &str, lot: &str) -> Claim {
        let some = |t: &str| Some((t.to_owned(), 0.85)).filter(|_| !t.is_empty());
        Claim {
            mark: "Stencil 2c".into(),
            name: name.into(),
            chance: 0.9,
            day: some(day),
            lot: some(lot),
        }
    }

    const TEXT: &str = "Alda Renshaw [1821-1899], Kendal, until 1868 [1]; (sale, Harbottle & Vane, London, 14 May 1902, lot 217).\n\nNotes:\n[1]. Label on the back.";

    #[test]
    fn names_agree_without_courtesies_and_differ_by_initials() {
        assert!(same_name(
            "Messrs Harbottle & Vane",
            "Harbottle and Vane Ltd"
        ));
        assert!(same_name("Mrs A. Renshaw", "Alda Renshaw"));
        assert!(same_name("Harbotle & Vane", "Harbottle & Vane"));
        assert!(!same_name("Thomas Renshaw", "Alda Renshaw"));
        assert!(!same_name("Oakes Gallery", "Pell Gallery"));
        assert!(!same_name("", "Oakes"));
    }

    #[test]
    fn a_stencil_speaks_for_the_sale_whose_lot_and_day_it_has() {
        let links = links(TEXT);
        assert_eq!(links.len(), 2);
        assert_eq!(links[0].notes, ["Label on the back."]);
        assert!(!links[0].text.contains("[1]"), "{}", links[0].text);
        let own = claim("Harbottle & Vane", "1902-05-14", "217");
        assert_eq!(beside(&own, &links[0]), None);
        let said = beside(&own, &links[1]).unwrap();
        assert_eq!(
            said.words,
            "Stencil 2c speaks for it, probably (0.85) reading “Harbottle & Vane”, lot 217, 14 May 1902."
        );
        assert_eq!(said.basis, Basis::Program(0.85));
    }

    #[test]
    fn another_lot_speaks_against_it() {
        let said = beside(&claim("Harbottle & Vane", "", "271"), &links(TEXT)[1]).unwrap();
        assert!(
            said.words
                .contains("against it, probably (0.85) reading lot 271 where the text has lot 217"),
            "{}",
            said.words
        );
    }
}
