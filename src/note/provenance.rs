//! Events as a line of provenance.
//!
//! Order, punctuation and words by N. H. Yeide, K. Akinsha and A. L. Walsh, *The AAM Guide to
//! Provenance Research*, 2001: earliest first; life dates in square brackets; dealers, auction
//! houses and agents in round ones; a semicolon where a thing passed directly, a full stop where
//! that isn't shown; "possibly" and "probably" for doubt; numbered notes for the evidence.

use super::compose::heading;
use super::wording::{Language, Wording};
use crate::marks::MarkKind;

/// Doubt of a link in the guide's two words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Doubt {
    /// Told without a word of doubt: only what a person decided.
    #[default]
    None,
    /// Fairly likely, some evidence.
    Probably,
    /// May be, thin evidence.
    Possibly,
}

impl Doubt {
    /// The guide's word for a chance; never more than the table of the note allows.
    pub fn of(chance: f64) -> Doubt {
        if chance >= 0.75 {
            Doubt::Probably
        } else {
            Doubt::Possibly
        }
    }

    fn word(self, w: &Wording) -> &str {
        match self {
            Doubt::None => "",
            Doubt::Probably => w.text("doubt.probably"),
            Doubt::Possibly => w.text("doubt.possibly"),
        }
    }
}

/// How it came to them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum How {
    /// Not told.
    #[default]
    Untold,
    /// By descent to; with the kin, if known: "her nephew".
    Descent(Option<String>),
    /// By inheritance to; with the kin, if known.
    Inheritance(Option<String>),
    /// Purchased by.
    PurchasedBy,
    /// Sold to.
    SoldTo,
    /// A gift to; whose: "her".
    Gift(String),
    /// Bequeathed to.
    BequeathedTo,
    /// Consigned to.
    ConsignedTo,
    /// With (a dealer): presence, not title.
    With,
    /// Exchanged with.
    Exchanged,
    /// Confiscated by.
    Confiscated,
    /// Restituted to.
    Restituted,
}

impl How {
    fn words(&self, w: &Wording) -> String {
        let (key, slot) = match self {
            How::Untold => return String::new(),
            How::Descent(k) => ("how.descent", k.as_ref().map(|k| ("kin", k))),
            How::Inheritance(k) => ("how.inheritance", k.as_ref().map(|k| ("kin", k))),
            How::PurchasedBy => ("how.purchased", None),
            How::SoldTo => ("how.sold", None),
            How::Gift(whose) if whose.is_empty() => ("how.gift", None),
            How::Gift(whose) => ("how.gift", Some(("whose", whose))),
            How::BequeathedTo => ("how.bequeathed", None),
            How::ConsignedTo => ("how.consigned", None),
            How::With => ("how.with", None),
            How::Exchanged => ("how.exchanged", None),
            How::Confiscated => ("how.confiscated", None),
            How::Restituted => ("how.restituted", None),
        };
        let slots: Vec<_> = slot.iter().map(|(n, t)| (*n, t.as_str())).collect();
        w.plain(key, &slots)
    }
}

/// When, from EDTF.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum When {
    /// Not told.
    #[default]
    Untold,
    /// A date or a span: `1868`, `1932-05-14`, `1888~/1895~`.
    On(String),
    /// Not later than.
    By(String),
    /// At least to then.
    UntilAtLeast(String),
    /// Before; with "?" where the year itself is doubtful.
    Before(String),
    /// As it stands, with the editor's signs: `190[2]`.
    ByRead(String),
}

impl When {
    fn words(&self, w: &Wording) -> String {
        let with = |key: &str, date: &str| w.plain(key, &[("date", date)]);
        match self {
            When::Untold => String::new(),
            When::On(d) => w.date(d),
            When::By(d) => with("when.by", &w.date(d)),
            When::UntilAtLeast(d) => with("when.until", &w.date(d)),
            When::Before(d) => with("when.before", &w.date(d)),
            When::ByRead(text) => with("when.by", text),
        }
    }
}

/// What passes from this link to the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Next {
    /// Directly: semicolon.
    Directly,
    /// Not shown: full stop.
    #[default]
    Unknown,
    /// The text goes on elsewhere.
    Further,
    /// As `Unknown`, and the text goes on elsewhere.
    UnknownFurther,
}

/// Who, or what is stated where nobody is named.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Who {
    /// An owner, with life dates if known.
    Owner {
        /// Name.
        name: String,
        /// `1821`, `1899`.
        life: Option<(String, String)>,
    },
    /// A dealer, auction house, agent or maker: in round brackets.
    Trade(String),
    /// A sale without a named seller, by a house: in round brackets after "Anon. sale".
    AnonymousSale(String),
    /// A statement of its own: a gap, or what a part bears.
    Statement(String),
    /// A link of a text that somebody handed in, as it stands there.
    Text(String),
}

/// What tells a link from others of the same firm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Detail {
    /// Its number in a sale.
    Lot(String),
    /// The firm's own number.
    Stock(String),
    /// The mark that names the firm; only a note for the file tells it.
    Mark(MarkKind),
    /// In somebody's words, told as they are.
    Told(String),
}

impl From<&str> for Detail {
    fn from(words: &str) -> Self {
        Detail::Told(words.into())
    }
}

impl Detail {
    fn words(&self, w: &Wording) -> String {
        match self {
            Detail::Lot(n) => w.plain("state.lot", &[("x", n)]),
            Detail::Stock(n) => w.plain("state.stock_number", &[("x", n)]),
            Detail::Mark(kind) => lower(heading(*kind)),
            Detail::Told(words) => words.clone(),
        }
    }
}

/// A link of the provenance.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event {
    /// Doubt of the whole link.
    pub doubt: Doubt,
    /// How it came to them.
    pub how: How,
    /// Who.
    pub who: Who,
    /// What they were: "carver and gilder".
    pub trade: String,
    /// Town.
    pub place: String,
    /// What they did, before the date: "purchased from the artist", "reframed".
    pub did: String,
    /// When.
    pub when: When,
    /// What tells the link from others of the same firm.
    pub details: Vec<Detail>,
    /// Numbers of the notes.
    pub notes: Vec<usize>,
    /// To the next link.
    pub next: Next,
}

impl Event {
    /// A link that only names somebody.
    pub fn new(who: Who) -> Event {
        Event {
            doubt: Doubt::None,
            how: How::Untold,
            who,
            trade: String::new(),
            place: String::new(),
            did: String::new(),
            when: When::Untold,
            details: Vec::new(),
            notes: Vec::new(),
            next: Next::Unknown,
        }
    }

    /// The link in British English, without the sign behind it.
    pub fn words(&self) -> String {
        self.words_in(Language::British.wording())
    }

    pub(super) fn words_in(&self, w: &Wording) -> String {
        let name = match &self.who {
            Who::Owner { name, life } => match life {
                Some((a, b)) => format!("{name} [{a}-{b}]"),
                None => name.clone(),
            },
            Who::Trade(n) | Who::AnonymousSale(n) | Who::Statement(n) | Who::Text(n) => n.clone(),
        };
        let mut parts = vec![name];
        parts.extend([&self.trade, &self.place].into_iter().cloned());
        parts.push(
            [self.did.clone(), self.when.words(w)]
                .iter()
                .filter(|w| !w.is_empty())
                .cloned()
                .collect::<Vec<_>>()
                .join(" "),
        );
        parts.extend(self.details.iter().map(|d| d.words(w)));
        parts.retain(|p| !p.is_empty());
        let mut said = parts.join(", ");
        for n in &self.notes {
            said += &format!(" [{n}]");
        }
        let said = match &self.who {
            Who::Trade(_) => format!("({said})"),
            Who::AnonymousSale(_) => w.plain("sale.anonymous", &[("said", &said)]),
            _ => said,
        };
        // Round brackets are a dealer's: they say "with" by themselves.
        let how = match (&self.who, &self.how) {
            (Who::Trade(_), How::With) => String::new(),
            (_, how) => how.words(w),
        };
        [self.doubt.word(w).to_string(), how, said]
            .into_iter()
            .filter(|w| !w.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    }
}

/// The whole line in British English. A link begins with a capital where it begins a sentence.
pub fn line(events: &[Event]) -> String {
    line_in(events, Language::British.wording())
}

pub(super) fn line_in(events: &[Event], w: &Wording) -> String {
    let mut out = String::new();
    let mut begins = true;
    for (i, e) in events.iter().enumerate() {
        let words = e.words_in(w);
        out += &if begins { capital(&words) } else { words };
        begins = e.next != Next::Directly;
        out += match e.next {
            Next::Directly => ";",
            Next::Further => "; ...",
            Next::Unknown => ".",
            Next::UnknownFurther => ". ...",
        };
        if i + 1 < events.len() {
            out.push(' ');
        }
    }
    out
}

/// Notes with their numbers, from 1, run on.
pub fn notes(all: &[String]) -> String {
    all.iter()
        .enumerate()
        .map(|(i, n)| format!("[{}] {n}", i + 1))
        .collect::<Vec<_>>()
        .join(" ")
}

/// The key that the guide asks to be printed with the line.
pub const KEY: &str = "Earliest first. A semicolon stands where the picture passed directly from one to the next, a full stop where that is not shown. Dealers, auction houses, agents and makers stand in round brackets, life dates and notes in square ones.";

/// With a small letter first.
pub(super) fn lower(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| {
        c.to_lowercase().collect::<String>() + chars.as_str()
    })
}

/// With a capital first.
pub(super) fn capital(words: &str) -> String {
    let mut chars = words.chars();
    chars.next().map_or_else(String::new, |c| {
        c.to_uppercase().collect::<String>() + chars.as_str()
    })
}

/// An EDTF date as the guide writes it: `14 May 1932`, `c. 1890`, `1888-1895`, `1936?`. What isn't
/// understood stays as it is.
pub fn date(edtf: &str) -> String {
    Language::British.wording().date(edtf)
}
