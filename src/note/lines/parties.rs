//! Who stands in a link: names, life dates and places put together from its pieces.

use super::{Link, Part, Role, Way};

/// A person, firm or institution of a link.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Party {
    /// How it stands to the first; `None` for the first.
    pub role: Option<Role>,
    /// Name; a kinship where nobody is named: "his heirs".
    pub name: String,
    /// "his nephew".
    pub kin: String,
    /// Birth and death as EDTF, either empty; the last where a couple has two.
    pub life: Vec<(String, String)>,
    /// Place, pieces joined by ", ".
    pub place: String,
}

/// What sort of link it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Somebody who had it.
    Owner,
    /// The artist.
    Artist,
    /// A dealer, by the brackets or by the words of the name.
    Dealer,
    /// A sale at auction.
    Sale,
    /// An agent.
    Agent,
    /// A museum, its department, a fund.
    Museum,
    /// Nothing of it was understood.
    Text,
}

impl Kind {
    /// The word for it.
    pub fn as_str(self) -> &'static str {
        match self {
            Kind::Owner => "owner",
            Kind::Artist => "artist",
            Kind::Dealer => "dealer",
            Kind::Sale => "sale",
            Kind::Agent => "agent",
            Kind::Museum => "museum",
            Kind::Text => "text",
        }
    }
}

fn spaced(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

impl Link {
    /// Everybody in the order told; the first is whose link it is.
    pub fn parties(&self) -> Vec<Party> {
        let mut all = vec![Party::default()];
        let mut gap = String::new();
        for part in &self.parts {
            let begun = all
                .last()
                .is_some_and(|p| !p.name.is_empty() || !p.place.is_empty());
            if let Part::Role(role, _) = part {
                if begun {
                    all.push(Party::default());
                }
                if let Some(p) = all.last_mut().filter(|_| begun) {
                    p.role = Some(*role);
                }
            }
            if let Part::Way(way, spelt) = part
                && begun
            {
                all.push(Party {
                    role: Some(brings(*way, spelt)),
                    ..Party::default()
                });
            }
            let Some(p) = all.last_mut() else { continue };
            match part {
                Part::Name(n) => add(&mut p.name, n, &gap),
                Part::Place(n) => add(&mut p.place, n, &gap),
                Part::Kin(k) => p.kin = spaced(k),
                Part::Life(d) => p.life.push(d.life()),
                _ => {}
            }
            gap = match part {
                Part::Gap(g) => g.clone(),
                _ => String::new(),
            };
        }
        // "X sale, New York": the place is the sale's
        for i in 1..all.len() {
            if all[i].name.is_empty() && all[i].kin.is_empty() && all[i - 1].place.is_empty() {
                all[i - 1].place = std::mem::take(&mut all[i].place);
            }
        }
        all.retain(|p| !p.name.is_empty() || !p.kin.is_empty() || !p.place.is_empty());
        // "Purchased from the artist by Miss Vane": it is hers
        let from = |p: &Part| matches!(p, Part::Way(_, w) if w.to_lowercase().ends_with("from"));
        let first = self.parts.iter().find(|p| matches!(p, Part::Way(..)));
        if first.is_some_and(from)
            && let Some(by) = all.iter().position(|p| p.role == Some(Role::By))
        {
            let mut whose = all.remove(by);
            whose.role = None;
            all[0].role = Some(Role::From);
            all.insert(0, whose);
        }
        for p in &mut all {
            if p.name.is_empty() {
                p.name = std::mem::take(&mut p.kin);
            }
        }
        all
    }

    /// What sort of link it is, by its words.
    pub fn kind(&self) -> Kind {
        if self.is_text() {
            return Kind::Text;
        }
        let all = self.parties();
        let Some(first) = all.first() else {
            return Kind::Owner;
        };
        let name = first.name.to_lowercase();
        let has = |words: &[&str]| words.iter().any(|w| name.contains(w));
        let agent = |p: &Part| matches!(p, Part::Detail(d) if d.to_lowercase().contains("agent"));
        if name == "the artist" || name == "artist" {
            Kind::Artist
        } else if self.parts.iter().any(agent) {
            Kind::Agent
        } else if self.parts.iter().any(is_auction) {
            Kind::Sale
        } else if has(&["museum", "institut", "university", "fund", "college"]) {
            Kind::Museum
        } else if self.bracketed || has(&["gallery", "galler", "galerie", "& co", "art dealer"]) {
            Kind::Dealer
        } else {
            Kind::Owner
        }
    }
}

/// How somebody named behind this way stands to the one before.
fn brings(way: Way, spelt: &str) -> Role {
    let last = spelt.split_whitespace().next_back().unwrap_or("");
    match last.to_lowercase().as_str() {
        "from" | "of" => Role::From,
        "through" | "via" => Role::Through,
        "at" => Role::At,
        "by" if way != Way::Sale => Role::By,
        _ if way == Way::Sale && !["to", "by"].contains(&last) => Role::At,
        _ => Role::To,
    }
}

/// A sale, and not a passing "sold to".
fn is_auction(part: &Part) -> bool {
    matches!(part, Part::Way(Way::Sale, w) if {
        let w = w.to_lowercase();
        ["sale", "auction", "sold at"].iter().any(|s| w.contains(s)) || w == "sold"
    })
}

fn add(to: &mut String, piece: &str, gap: &str) {
    if !to.is_empty() {
        to.push_str(if gap.contains(',') { ", " } else { " " });
    }
    to.push_str(&spaced(piece));
}
