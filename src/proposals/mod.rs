//! Weighs a mark's lines against the lists. "On none of your lists" is always a rival.
//!
//! In: lines of characters with chances, and the lists. Out: for each list, entries with their
//! chances and why. All scoring is behind [`Index::weigh`].

use crate::chance::{self, Tempering};
use crate::error::Error;
use crate::gazetteer::{Entry, Gazetteer, List};
use crate::marks::MarkKind;
use crate::monogram::{self, Artists};
use crate::readings::Line;
use crate::readings::learnt::{Row, SaidOf};
use crate::statements::{self, Statement};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use std::path::Path;
use std::sync::OnceLock;

mod align;
mod beside;
pub mod calibration;
mod compete;
mod edit;
mod elsewhere;
mod explain;
mod find;
mod initials;
mod joint;
mod kept;
pub mod letters;
mod observed;
mod persons;
mod placed;
mod quality;
mod table;
mod vocabulary;
mod words;

pub use words::is_given_name;

pub use beside::{Beside, Weight};
use calibration::Calibration;
pub use elsewhere::Wordings;
pub use find::Found;
pub use initials::date_beside;
use joint::Weighing;
pub use kept::beside as kept_beside;
use observed::Observed;
use table::Table;

/// How the letters of an entry agree with those of the lines.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Agreement {
    /// The entry's words with, for each letter, what was seen of it.
    pub letters: Vec<(char, Seen)>,
    /// Sentences for the person: what agreed, what was guessed, why it isn't higher.
    pub because: Vec<String>,
}

/// What was seen of a letter of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Seen {
    /// Read clearly.
    Clear,
    /// Read unclearly, or as a letter commonly mistaken for it.
    Unclear,
    /// Under a loss or gap.
    Lost,
    /// Another letter stands there.
    Contradicted,
}

/// A proposal: this mark names that entry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proposal {
    /// List.
    pub list: String,
    /// Key of the entry.
    pub entry: String,
    /// Name as listed.
    pub name: String,
    /// Chance that the mark names this entry, 0 to 1.
    pub probability: f64,
    /// Lines of the mark that it rests on.
    pub lines: Vec<usize>,
    /// Which place of the text, from 0, an entry of a list of places is weighed for: each has rivals of its own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<usize>,
    /// Town as listed, empty for not known.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub town: String,
    /// EDTF year, empty for not known.
    pub not_before: String,
    /// EDTF year, empty for not known.
    pub not_after: String,
    /// Source of the entry, as listed.
    pub source: String,
    /// Addresses that stand for the entry in lists of names.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub same_as: Vec<String>,
    /// Why.
    pub agreement: Agreement,
}

impl Proposal {
    /// That an entry is named with this chance, without reasons yet.
    fn of(e: &Entry, probability: f64) -> Proposal {
        Proposal {
            list: e.list.clone(),
            entry: e.entry.clone(),
            name: e.name.clone(),
            probability,
            lines: Vec::new(),
            place: None,
            town: e.town.clone(),
            not_before: e.from.clone(),
            not_after: e.to.clone(),
            source: e.source.clone(),
            same_as: e.same_as(),
            agreement: Agreement::default(),
        }
    }
}

/// The rivals of one list, or of one place of the text in a list of places: with `unlisted` their chances sum to 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rivals {
    /// List.
    pub list: String,
    /// Greatest chance first. Of a long list of which many entries may be meant these stand for all: they
    /// share what the others have.
    pub proposals: Vec<Proposal>,
    /// Chance that the mark names no entry of this list.
    pub unlisted: f64,
}

/// Most proposals of one list.
const MOST: usize = 20;

/// A mark with so few words may name a town and nothing else.
const FEW_WORDS: usize = 2;

/// The least likely proposals of a list are left out as long as they have no more than this together.
const LEFT_OUT: f64 = 0.01;

/// Proposals with a smaller chance are kept but not shown to the person beside the others: where little
/// can be read, all entries have a small chance.
pub const SHOWN_FROM: f64 = 0.03;

/// Proposals of one list that are shown to the person at once.
const SHOWN_MOST: usize = 5;

impl Rivals {
    /// The proposals that are shown to the person, and numbered where they are.
    pub fn shown(&self) -> impl Iterator<Item = &Proposal> {
        let likely = self
            .proposals
            .iter()
            .filter(|p| p.probability >= SHOWN_FROM);
        likely.take(SHOWN_MOST)
    }
}

/// Lists made ready for matching.
#[derive(Debug)]
pub struct Index {
    /// The lists.
    pub gazetteer: Gazetteer,
    tables: Vec<Table>,
    splits: edit::Splits,
    confusion: letters::Confusion,
    fit: Calibration,
    learnt: Tempering,
    heard: Vec<SaidOf>,
    fields: OnceLock<statements::Lists>,
    artists: OnceLock<Artists>,
}

impl Index {
    /// What the lines of a mark state, by these lists.
    ///
    /// * `kind`: kind of the mark, where it is known.
    pub fn statements(&self, lines: &[Line], kind: Option<MarkKind>) -> Vec<Statement> {
        let stated = statements::of(lines, kind, self.fields());
        statements::said::heed(stated, lines, &self.heard)
    }

    fn fields(&self) -> &statements::Lists {
        self.fields
            .get_or_init(|| statements::Lists::new(&self.gazetteer))
    }

    /// Builds the index.
    pub fn new(gazetteer: Gazetteer) -> Self {
        Self::with(gazetteer, Calibration::default())
    }

    /// Builds the index with fitted numbers of one's own.
    pub fn with(gazetteer: Gazetteer, fit: Calibration) -> Self {
        let tables = gazetteer
            .lists
            .iter()
            .map(|l| Table::new(&l.name, &l.entries, of_persons(l)))
            .collect();
        Self::of(gazetteer, tables, fit)
    }

    /// Builds the index with the long lists as they were kept in `folder` when they were made ready
    /// last, and keeps there what had to be made anew. Sentences say what there couldn't be used or
    /// kept; the index is the same in any case.
    pub fn kept(gazetteer: Gazetteer, folder: &Path) -> (Self, Vec<Error>) {
        let table = |l: &List| kept::table(l, folder);
        let (tables, (fields, other)) = rayon::join(
            || gazetteer.lists.par_iter().map(table).unzip(),
            || statements::Lists::kept(&gazetteer, folder),
        );
        let (tables, told): (Vec<Table>, Vec<Option<Error>>) = tables;
        let told = told.into_iter().chain([other]).flatten().collect();
        let index = Self::of(gazetteer, tables, Calibration::default());
        index.fields.get_or_init(|| fields);
        (index, told)
    }

    fn of(gazetteer: Gazetteer, mut tables: Vec<Table>, fit: Calibration) -> Self {
        for (t, l) in tables.iter_mut().zip(&gazetteer.lists) {
            t.kind = kind(t.kind, l);
        }
        Index {
            gazetteer,
            tables,
            splits: edit::Splits::default(),
            confusion: letters::Confusion::new(fit.costs.alike),
            fit,
            learnt: Tempering::default(),
            heard: Vec::new(),
            fields: OnceLock::new(),
            artists: OnceLock::new(),
        }
    }

    /// With what was learnt from decisions of a person: how far chances are to be believed, and what words were said
    /// to be.
    pub fn taught(mut self, learnt: Option<Row>) -> Self {
        if let Some(row) = learnt {
            self.learnt = row.weighing.unwrap_or_default();
            self.heard = row.heard;
        }
        self
    }

    /// Weighs the lines of one mark against every list (or one): the single place where scores
    /// become chances. The list that most likely is named comes first, lists of towns after the
    /// others (a town says less than a firm, unless the mark has few other words); a mark of which
    /// nothing was read says nothing about any list, and lists without rows can't be named: these
    /// are left out. Entries of different lists that rest on the same words compete; where one
    /// list alone is asked, it has no such rivals.
    pub fn weigh(&self, lines: &[Line], only: Option<&str>) -> Vec<Rivals> {
        self.weigh_with(lines, only, &Beside::default(), false)
    }

    /// As [`Index::weigh`], with what is known beside the mark as a soft prior, told among the
    /// reasons of each proposal. [`Index::weigh`] is the same with the prior switched off.
    pub fn weigh_beside(&self, lines: &[Line], only: Option<&str>, beside: &Beside) -> Vec<Rivals> {
        self.weigh_with(lines, only, beside, false)
    }

    /// As [`Index::weigh`], but works every row in full: the slow twin, for tests and measuring.
    pub fn weigh_all(&self, lines: &[Line], only: Option<&str>) -> Vec<Rivals> {
        self.weigh_with(lines, only, &Beside::default(), true)
    }

    fn weigh_with(
        &self,
        lines: &[Line],
        only: Option<&str>,
        beside: &Beside,
        all: bool,
    ) -> Vec<Rivals> {
        let text = Observed::new(lines, &self.fit.costs, &self.confusion);
        if text
            .columns
            .iter()
            .all(|c| c.stand != observed::Stand::Sign)
        {
            return Vec::new();
        }
        let lists = self.tables.iter().zip(&self.gazetteer.lists).enumerate();
        let asked =
            lists.filter(|(_, (t, l))| !t.names.is_empty() && only.is_none_or(|o| o == l.name));
        let (places, asked): (Vec<_>, Vec<_>) =
            asked.partition(|(_, (t, _))| t.kind == table::Kind::Places);
        let asked: Vec<(&Table, &List)> = asked.into_iter().map(|a| a.1).collect();
        let towns = self.towns(asked.iter().map(|a| a.0), &text);
        let mut kept: Vec<Vec<(usize, f64)>> = asked
            .iter()
            .map(|&at| {
                let (mut rows, unlisted) = self.shares(at, &text, &towns, beside, all);
                cut(&mut rows, unlisted);
                leave_out(&mut rows);
                rows
            })
            .collect();
        let mut known: Vec<explain::Known> = vec![explain::Known::new(); asked.len()];
        compete(&asked, &text, &mut kept, &mut known);
        for rows in &mut kept {
            let mut chances: Vec<f64> = rows.iter().map(|r| r.1).collect();
            let mut unlisted = chance::clamp(1.0 - chances.iter().sum::<f64>());
            self.learnt.apply(&mut chances, &mut unlisted);
            rows.iter_mut().zip(chances).for_each(|(r, p)| r.1 = p);
        }
        let mut out: Vec<Rivals> = asked
            .iter()
            .zip(kept.iter().zip(&mut known))
            .map(|(&(table, list), (kept, known))| {
                let unlisted = chance::clamp(1.0 - kept.iter().map(|k| k.1).sum::<f64>());
                Rivals {
                    list: table.list.clone(),
                    proposals: explain::proposals(
                        table, list, &text, kept, unlisted, beside, known,
                    ),
                    unlisted,
                }
            })
            .collect();
        out.sort_by(|a, b| a.unlisted.total_cmp(&b.unlisted));
        self.with_places(lines, &text, beside, &places, out)
    }

    /// The rivals of the other lists with the groups of the lists of places behind them, or before them where a mark of
    /// few words names a place.
    fn with_places(
        &self,
        lines: &[Line],
        text: &Observed,
        beside: &Beside,
        lists: &[(usize, (&Table, &List))],
        firms: Vec<Rivals>,
    ) -> Vec<Rivals> {
        if lists.is_empty() {
            return firms;
        }
        let named = statements::places(lines, None, self.fields());
        let mut places: Vec<Rivals> = Vec::new();
        for &(n, at) in lists {
            let of: Vec<&statements::Place> = named.iter().filter(|p| p.list == n).collect();
            places.extend(placed::groups(
                at,
                &of,
                text,
                (beside, &self.learnt),
                &firms,
            ));
        }
        let leads = text.count <= FEW_WORDS && places.iter().any(|r| r.unlisted < 0.5);
        if leads {
            places.into_iter().chain(firms).collect()
        } else {
            firms.into_iter().chain(places).collect()
        }
    }

    /// Chances of a list's rows (number of the row within the list, greatest first) and of
    /// "unlisted", without reasons, without the cut that proposals have and without what was learnt;
    /// for measuring, fitting and [`Wordings`]. What they lack to 1 is of rows that weren't worked one by
    /// one. `None`: no such list, or nothing was read.
    pub fn chances(&self, lines: &[Line], list: &str) -> Option<(Vec<(usize, f64)>, f64)> {
        let text = Observed::new(lines, &self.fit.costs, &self.confusion);
        let at = self.tables.iter().position(|t| t.list == list)?;
        let (table, list) = (&self.tables[at], &self.gazetteer.lists[at]);
        let read = text
            .columns
            .iter()
            .any(|c| c.stand == observed::Stand::Sign);
        (read && !table.names.is_empty()).then(|| {
            let towns = self.towns(std::iter::once(table), &text);
            self.shares((table, list), &text, &towns, &Beside::default(), false)
        })
    }

    /// What the names of towns weigh up to each column; nothing where none of the lists asked is of persons, whose
    /// surnames alone may be towns.
    fn towns<'a>(&self, mut asked: impl Iterator<Item = &'a Table>, text: &Observed) -> Vec<f32> {
        let counts = asked.any(|t| t.habits);
        let towns = self
            .tables
            .iter()
            .filter(|t| counts && t.kind == table::Kind::Places);
        joint::named_up_to(towns, text, &self.splits, self.fit.known_place)
    }

    fn shares(
        &self,
        (table, list): (&Table, &List),
        text: &Observed,
        towns: &[f32],
        beside: &Beside,
        all: bool,
    ) -> (Vec<(usize, f64)>, f64) {
        let elsewhere = match table.habits {
            true => towns.to_vec(),
            false => vec![0.0; towns.len()],
        };
        let weighing = Weighing::new(table, text, &self.splits, &self.fit, elsewhere);
        let scores = weighing.scores(all);
        let mut logs = vec![scores.rest];
        logs.extend(scores.rows.iter().map(|r| r.1));
        let shares = chance::normalise(&logs);
        let rows = scores.rows.iter().zip(&shares[1..]);
        let mut rows: Vec<(usize, f64)> = rows
            .map(|((r, _), p)| match beside.is_empty() {
                true => (*r, *p),
                false => (*r, p * beside.factor(&list.entries[*r])),
            })
            .collect();
        let all = shares[0] + rows.iter().map(|r| r.1).sum::<f64>();
        let unlisted = self.fit.unlisted(scores.premises);
        let named = chance::logistic(scores.together + all.ln() - unlisted);
        rows.iter_mut().for_each(|r| r.1 *= named / all);
        if !beside.is_empty() {
            rows.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        }
        (rows, 1.0 - named)
    }
}

/// Whether a list's entries are persons: as it declares, by their trades, or by its name.
fn of_persons(list: &List) -> bool {
    list.name == monogram::LIST
        || statements::lists::kind(list.role, &list.entries) == statements::Kind::Person
}

/// What a list's entries are: as it declares, else as the table was made, if that is no place that the statements take
/// for something else.
fn kind(made: table::Kind, list: &List) -> table::Kind {
    use statements::Kind;
    let declared = list.role.and_then(Kind::of_role);
    match (declared, made) {
        (Some(Kind::Place), _) => table::Kind::Places,
        (Some(Kind::Person), _) => table::Kind::Persons,
        (Some(_), _) => table::Kind::Firms,
        (None, table::Kind::Places)
            if statements::lists::kind(None, &list.entries) != Kind::Place =>
        {
            table::Kind::Firms
        }
        (None, made) => made,
    }
}

/// Cuts the rows down to the [`MOST`] likeliest. `unlisted`: its chance.
fn cut(rows: &mut Vec<(usize, f64)>, unlisted: f64) {
    rows.truncate(MOST);
    share(rows, 1.0 - unlisted);
}

/// Leaves out the last of the rows, greatest chance first, that hardly weigh: see [`LEFT_OUT`].
fn leave_out(rows: &mut Vec<(usize, f64)>) {
    let all: f64 = rows.iter().map(|r| r.1).sum();
    let mut left_out = 0.0;
    while let Some(&(_, p)) = rows.last()
        && left_out + p <= LEFT_OUT
    {
        left_out += p;
        rows.pop();
    }
    share(rows, all);
}

/// Gives the rows the chance `all` together, in proportion: they stand for those that were left out, since
/// that one of many entries is meant is no reason to say "on none".
fn share(rows: &mut [(usize, f64)], all: f64) {
    let sum: f64 = rows.iter().map(|r| r.1).sum();
    if sum > 0.0 {
        rows.iter_mut().for_each(|r| r.1 *= all / sum);
    }
}

/// Lets entries of different lists compete for the words that they rest on.
fn compete(
    asked: &[(&Table, &List)],
    text: &Observed,
    kept: &mut [Vec<(usize, f64)>],
    known: &mut [explain::Known],
) {
    let lists: Vec<usize> = (0..asked.len()).filter(|&i| !kept[i].is_empty()).collect();
    if lists.len() < 2 {
        return;
    }
    let claims: Vec<Vec<compete::Claim>> = lists
        .iter()
        .map(|&i| explain::claims(asked[i], text, &kept[i], &mut known[i]))
        .collect();
    for (&i, (each, left)) in lists.iter().zip(compete::settle(&claims)) {
        for (k, (_, p)) in kept[i].iter_mut().enumerate() {
            *p *= each.get(k).copied().unwrap_or(left);
        }
        kept[i].sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        leave_out(&mut kept[i]);
    }
}
