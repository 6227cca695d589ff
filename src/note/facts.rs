//! What one mark says, for the entry of a catalogue: by a person's decision, else by the lists, else in
//! its own words.

use super::Basis;
use super::provenance::{Doubt, Event, Who};
use crate::decisions::{self, Bearer, KeptMark, Lettering, Named, Stated};
use crate::gazetteer::Gazetteer;
use crate::marks::Part;
use crate::readings::{self, Character, Line};
use crate::statements::{self, Lists, Role};

/// A letter with a smaller chance makes its word doubtful.
const DOUBTFUL: f64 = 0.5;

/// Words of a mark that are quoted at most.
const QUOTED: usize = 16;

/// A quotation of which less than this is likely to be right is none.
const LEGIBLE: f64 = 0.25;

/// The lists of firms.
const FIRMS: [&str; 4] = ["framers", "colourmen", "retailers", "sale_rooms"];

/// A fact with what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Fact {
    pub(super) text: String,
    pub(super) basis: Basis,
}

impl Fact {
    /// Chance that it is right; 1 for what a person decided.
    pub(super) fn chance(&self) -> f64 {
        match self.basis {
            Basis::Program(p) => p,
            _ => 1.0,
        }
    }
}

/// Words of a mark as they are quoted.
pub(super) struct Quoted {
    pub(super) words: String,
    pub(super) fact: Fact,
}

/// Where a mark is.
pub(super) struct On {
    /// Part, as in a key of the wording.
    pub(super) part: &'static str,
    /// Second part that it runs over.
    pub(super) over: Option<&'static str>,
    pub(super) basis: Basis,
}

/// What one mark says.
pub(super) struct Facts<'a> {
    pub(super) mark: &'a KeptMark,
    pub(super) said: Vec<Stated>,
    /// Whose the reading is.
    read_by: Option<crate::decisions::DecisionId>,
}

/// What a statement rests on.
fn basis(stated: &Stated) -> Basis {
    match stated.by {
        Some(decision) => Basis::Person(decision),
        None => Basis::Program(stated.statement.chance),
    }
}

impl<'a> Facts<'a> {
    pub(super) fn of(mark: &'a KeptMark) -> Facts<'a> {
        let typed = mark
            .settled
            .lettering
            .as_ref()
            .and_then(|h| match &h.value {
                Lettering::Read(lines) => Some((lines, h.decision)),
                Lettering::Unreadable => None,
            });
        let said = match typed {
            None => mark.states(),
            Some((lines, _)) => {
                // What a person typed is taken apart by its wording alone.
                let lines = readings::from_typed(&lines.join(" / ")).unwrap_or_default();
                let none = Lists::new(&Gazetteer::default());
                let read = statements::of(&lines, Some(mark.kind()), &none);
                decisions::corrected(&read, &lines, &mark.settled.said)
            }
        };
        Facts {
            mark,
            said,
            read_by: typed.map(|t| t.1),
        }
    }

    /// The likeliest statement of that role.
    pub(super) fn role(&self, role: Role) -> Option<Fact> {
        let best = self.best(role)?;
        Some(Fact {
            text: sentence_case(&best.statement.value),
            basis: basis(best),
        })
    }

    /// The same, as stated.
    fn best(&self, role: Role) -> Option<&Stated> {
        let of = self.said.iter().filter(|s| s.statement.role == role);
        of.max_by(|a, b| a.statement.chance.total_cmp(&b.statement.chance))
    }

    /// What it names on a list: a person's decision, else the likeliest entry.
    pub(super) fn on_list(&self, list: &str) -> Option<Fact> {
        match self
            .mark
            .settled
            .on_list(list)
            .map(|h| (&h.value, h.decision))
        {
            Some((Named::Entry(t), d)) => {
                return Some(Fact {
                    text: t.name.clone(),
                    basis: Basis::Person(d),
                });
            }
            Some((Named::Unlisted, _)) => return None,
            None => {}
        }
        let rivals = self.mark.rivals.iter().find(|r| r.list == list)?;
        // Entries of one firm at several addresses speak for one name.
        let first = rivals.proposals.first()?;
        let same = rivals.proposals.iter().filter(|p| p.name == first.name);
        Some(Fact {
            text: first.name.clone(),
            basis: Basis::Program(same.map(|p| p.probability).sum::<f64>().min(1.0)),
        })
    }

    /// The likelier of two facts.
    fn likelier(a: Option<Fact>, b: Option<Fact>) -> Option<Fact> {
        match (a, b) {
            (Some(a), Some(b)) if b.chance() > a.chance() => Some(b),
            (Some(a), _) => Some(a),
            (None, b) => b,
        }
    }

    /// The body that showed the picture.
    pub(super) fn exhibition(&self) -> Option<Fact> {
        Self::likelier(self.on_list("exhibitions"), self.role(Role::Exhibition))
    }

    /// The firm whose mark it is, and the list of its trade; "firm" where that isn't known.
    pub(super) fn firm(&self) -> Option<(&'static str, Fact)> {
        let listed = FIRMS
            .iter()
            .filter_map(|list| Some((*list, self.on_list(list)?)));
        let own = [
            ("firm", Role::Maker),
            ("retailers", Role::Dealer),
            ("sale_rooms", Role::Sale),
        ];
        let said = own
            .into_iter()
            .filter_map(|(trade, role)| Some((trade, self.role(role)?)));
        // Of equals the listed one, since it tells the trade; a plain one has no better.
        let plain = super::entry::TABLE[0].0;
        listed.chain(said).rev_max(|x| x.1.chance().min(plain))
    }

    /// The owner whom it names, as a link of the provenance, with its chance.
    pub(super) fn owner(&self) -> Option<(Event, f64)> {
        let named = |role| {
            let best = self.best(role)?;
            Some(Fact {
                text: best
                    .statement
                    .words
                    .trim_end_matches([',', ';', ':', ' '])
                    .to_owned(),
                basis: basis(best),
            })
        };
        // With the courtesies that the mark gives.
        let owner = named(Role::Owner).or_else(|| named(Role::Lender))?;
        let enough = owner.chance() >= super::entry::TABLE[2].0;
        enough.then(|| {
            let p = owner.chance();
            let name = owner.text;
            let event = Event {
                doubt: Doubt::of(p),
                ..Event::new(Who::Owner { name, life: None })
            };
            (event, p)
        })
    }

    /// The part of the object that bears it.
    pub(super) fn on(&self) -> Option<On> {
        if let Some(held) = &self.mark.settled.on {
            let (a, b) = held.value;
            return Some(On {
                part: a.as_str(),
                over: b.map(Bearer::as_str),
                basis: Basis::Person(held.decision),
            });
        }
        let bearing = self.mark.bearing()?;
        let &(part, chance) = bearing.on.first()?;
        let over = bearing.bridges.filter(|b| b.1 >= 0.75 && b.0 != part);
        let chance = over.map_or(chance, |b| chance.min(b.1));
        (chance >= super::entry::TABLE[1].0).then(|| On {
            part: part.as_str(),
            over: over.map(|b| Part::as_str(b.0)),
            basis: Basis::Program(chance),
        })
    }

    /// Its words, doubtful ones followed by "(?)"; `None` where too little can be read.
    pub(super) fn quoted(&self) -> Option<Quoted> {
        if let Some(Lettering::Read(lines)) = self.mark.settled.lettering.as_ref().map(|h| &h.value)
        {
            let decision = self.read_by?;
            let words = lines
                .join(" / ")
                .replace("[---]", "[…]")
                .replace("[..]", "[…]");
            return Some(Quoted {
                fact: Fact {
                    text: words.clone(),
                    basis: Basis::Person(decision),
                },
                words: shortened(&words),
            });
        }
        if self.mark.settled.lettering.is_some() {
            return None;
        }
        let lines = &self.mark.latest().reading.lines;
        let likely: Vec<&Line> = lines.iter().filter(|l| l.confidence >= LEGIBLE).collect();
        let least = likely.iter().map(|l| l.confidence).reduce(f64::min)?;
        let words: Vec<String> = likely.iter().map(|l| quoted_line(l)).collect();
        let words = words.join(" / ");
        Some(Quoted {
            fact: Fact {
                text: words.clone(),
                basis: Basis::Program(least),
            },
            words: shortened(&words),
        })
    }
}

/// The greatest by a measure, of equals the first.
trait RevMax: Iterator + Sized {
    fn rev_max(self, by: impl Fn(&Self::Item) -> f64) -> Option<Self::Item> {
        self.fold(None, |best: Option<Self::Item>, x| match best {
            Some(b) if by(&b) >= by(&x) => Some(b),
            _ => Some(x),
        })
    }
}

impl<I: Iterator> RevMax for I {}

/// What stands in capitals alone, as it is written in a sentence.
fn sentence_case(text: &str) -> String {
    let capitals = text.chars().filter(|c| c.is_uppercase()).count();
    if capitals < 4 || text.chars().any(char::is_lowercase) {
        return text.to_owned();
    }
    let word = |w: &str| match w {
        "OF" | "AND" | "THE" | "IN" => w.to_lowercase(),
        // Initials stay: "J.", "M.A."
        _ if w.contains('.') && w.chars().filter(|c| c.is_alphabetic()).count() <= 2 => w.into(),
        _ => {
            let mut begins = true;
            let each = |c: char| {
                let out = match begins {
                    true => c.to_string(),
                    false => c.to_lowercase().collect(),
                };
                begins = !c.is_alphabetic() && c != '\'' && c != '’';
                out
            };
            w.chars().map(each).collect::<String>()
        }
    };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

fn shortened(words: &str) -> String {
    let all: Vec<&str> = words.split(' ').collect();
    if all.len() <= QUOTED {
        return words.to_owned();
    }
    let kept = all[..QUOTED].join(" ");
    format!("{} …", kept.trim_end_matches([' ', '/']))
}

fn quoted_line(l: &Line) -> String {
    let gap = |c: &Character| !c.is_lost() && c.text.trim().is_empty();
    let word = |w: &[Character]| -> String {
        let mut out = String::new();
        for c in w {
            match c.is_lost() {
                true if !out.ends_with("[…]") => out += "[…]",
                true => {}
                false => out += &c.text,
            }
        }
        let doubtful = w.iter().any(|c| !c.is_lost() && c.confidence < DOUBTFUL);
        if doubtful { out + " (?)" } else { out }
    };
    let parts = l.characters.split(gap).filter(|w| !w.is_empty());
    parts.map(word).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_in_capitals_is_written_as_in_a_sentence() {
        assert_eq!(sentence_case("J. CATTERMAUL & SON"), "J. Cattermaul & Son");
        assert_eq!(sentence_case("64 GOSLING STREET"), "64 Gosling Street");
        assert_eq!(sentence_case("GUILD OF ST ELOY"), "Guild of St Eloy");
        assert_eq!(sentence_case("T. Wrenfield"), "T. Wrenfield");
        assert_eq!(sentence_case("£42"), "£42");
    }
}
