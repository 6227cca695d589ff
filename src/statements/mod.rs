//! What a mark states, in its own words: maker, town, title, lot and the like, each with a chance.
//!
//! In: lines of characters with chances, the kind of mark, and the lists. Out: [`Statement`]s. One model weighs
//! everything at once: a mark is cut into stretches of words, each of which says something (a [`Role`]), is a
//! heading or says nothing, and may name an entry of the lists or none. The weight of a cut is the exponential of
//! a sum of fitted weights (a semi-Markov conditional random field, S. Sarawagi and W. Cohen, NIPS 2004), and all
//! cuts are summed exactly, so that chances need no further rule. `training/fit_statements.sh` fits the weights.

use crate::error::Result;
use crate::gazetteer::Gazetteer;
use crate::marks::MarkKind;
use crate::readings::Line;
use serde::{Deserialize, Serialize};
use std::ops::Range;

mod beside;
pub mod chain;
pub mod features;
mod hits;
mod kept;
mod letters;
pub mod lexicon;
pub mod links;
pub mod lists;
pub mod model;
mod near;
pub mod places;
pub mod said;
mod shapes;
pub mod told;
mod values;
pub mod words;

pub use lists::{Kind, Lists};
pub use model::Model;
pub use places::Place;

/// What a stretch of words says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[allow(missing_docs)]
pub enum Role {
    Maker,
    Trade,
    Address,
    Town,
    Exhibition,
    ExhibitionYear,
    CatalogueNumber,
    Title,
    Artist,
    ArtistAddress,
    Owner,
    Lender,
    Consignee,
    Dealer,
    Sale,
    SaleDate,
    Lot,
    StockNumber,
    Price,
    Size,
    Medium,
    Date,
    Instruction,
    Part,
    UnknownNumber,
}

impl Role {
    /// Every role with its name in the interface, in the order of the model's labels.
    pub const ALL: [(Role, &'static str); 25] = [
        (Role::Maker, "maker"),
        (Role::Trade, "trade"),
        (Role::Address, "address"),
        (Role::Town, "town"),
        (Role::Exhibition, "exhibition"),
        (Role::ExhibitionYear, "exhibition_year"),
        (Role::CatalogueNumber, "catalogue_number"),
        (Role::Title, "title"),
        (Role::Artist, "artist"),
        (Role::ArtistAddress, "artist_address"),
        (Role::Owner, "owner"),
        (Role::Lender, "lender"),
        (Role::Consignee, "consignee"),
        (Role::Dealer, "dealer"),
        (Role::Sale, "sale"),
        (Role::SaleDate, "sale_date"),
        (Role::Lot, "lot"),
        (Role::StockNumber, "stock_number"),
        (Role::Price, "price"),
        (Role::Size, "size"),
        (Role::Medium, "medium"),
        (Role::Date, "date"),
        (Role::Instruction, "instruction"),
        (Role::Part, "part"),
        (Role::UnknownNumber, "unknown_number"),
    ];

    /// Name in the interface.
    pub fn as_str(self) -> &'static str {
        Role::ALL[self as usize].1
    }

    /// Name in sentences.
    pub fn told(self) -> String {
        self.as_str().replace('_', " ")
    }

    /// The role of that name, if it is one.
    pub fn parse(name: &str) -> Option<Role> {
        Role::ALL.iter().find(|r| r.1 == name).map(|r| r.0)
    }

    /// What entries it can name: makers sell and sellers make, but no town owns a picture.
    pub fn kinds(self) -> &'static [Kind] {
        match self {
            Role::Maker | Role::Dealer => &[Kind::Maker, Kind::Seller],
            Role::Sale => &[Kind::Sale],
            Role::Exhibition => &[Kind::Show],
            Role::Artist => &[Kind::Person],
            Role::Owner | Role::Lender => &[Kind::Person, Kind::Show],
            Role::Consignee => &[Kind::Person, Kind::Maker, Kind::Seller],
            Role::Town => &[Kind::Place],
            _ => &[],
        }
    }

    /// Whether an entry of a list can be what it names.
    pub fn names(self) -> bool {
        !self.kinds().is_empty()
    }
}

/// One fact that a mark states.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Statement {
    /// What it says.
    pub role: Role,
    /// In normal form: a year or a day as EDTF, a name without courtesies, all else as written.
    pub value: String,
    /// As it stands, losses by the editorial signs.
    pub words: String,
    /// Line of its first word, from 0.
    pub line: usize,
    /// Chance that role and value are both right, 0 to 1.
    pub chance: f64,
    /// List of the entry that it names, if it is on one.
    pub list: Option<String>,
    /// Key of that entry.
    pub entry: Option<String>,
    /// Chance of that entry, 0 to 1; 0 where none is named.
    #[serde(default)]
    pub listed: f64,
    /// Where it stands: line, and positions of that line, one for each line that it runs over.
    #[serde(default)]
    pub places: Vec<(usize, Range<usize>)>,
}

/// What the lines of one mark state, in the order in which it stands there. Nothing legible: nothing.
///
/// * `kind`: kind of the mark, where it is known.
pub fn of(lines: &[Line], kind: Option<MarkKind>, lists: &Lists) -> Vec<Statement> {
    told::statements(&Mark::new(lines, kind), lists, Model::shipped())
}

/// What words say in a role, in normal form: a year or a day as EDTF, a name without courtesies, all else as typed.
///
/// # Errors
/// `Kind::Usage` where the editorial signs in `words` can't be understood.
pub fn normal(role: Role, words: &str) -> Result<String> {
    let lines = crate::readings::from_typed(words)?;
    let mark = Mark::new(&lines, None);
    let value = values::value(role, &mark.words, None, &Lists::new(&Gazetteer::default()));
    Ok(value.text)
}

/// The listed places that the lines of one mark name, each with a chance of its own, in the order of the text.
pub fn places(lines: &[Line], kind: Option<MarkKind>, lists: &Lists) -> Vec<Place> {
    told::places(&Mark::new(lines, kind), lists, Model::shipped())
}

/// As [`of`], with lists made ready for this call alone.
pub fn of_lists(lines: &[Line], kind: Option<MarkKind>, lists: &Gazetteer) -> Vec<Statement> {
    of(lines, kind, &Lists::new(lists))
}

/// A mark as this stage sees it.
#[derive(Debug, Clone)]
pub struct Mark {
    /// Its words in reading order.
    pub words: Vec<words::Word>,
    /// What each word is in the lexicon.
    pub known: Vec<lexicon::Known>,
    /// Kind, where it is known.
    pub kind: Option<MarkKind>,
    /// Number of lines.
    pub lines: usize,
}

impl Mark {
    /// Of lines as read or typed.
    pub fn new(lines: &[Line], kind: Option<MarkKind>) -> Self {
        let words = words::words(lines);
        Mark {
            known: words.iter().map(lexicon::look_up).collect(),
            words,
            kind,
            lines: lines.len(),
        }
    }
}
