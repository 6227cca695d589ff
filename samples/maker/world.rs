//! The invented scenario: rows of the demo lists, firms on no list, people and their pictures.

use crate::dice::Dice;
use std::path::Path;

/// A row of a list, or of the firms that are on none.
#[derive(Clone, Debug)]
pub struct Firm {
    /// Empty for a firm on no list.
    pub list: String,
    pub entry: String,
    /// As it stands on this mark.
    pub style: String,
    pub trade: String,
    pub address: String,
    pub town: String,
    pub from: String,
}

pub struct World {
    pub listed: Vec<Firm>,
    pub unlisted: Vec<Firm>,
}

fn rows(file: &Path, list: &str) -> Result<Vec<(Firm, Vec<String>)>, String> {
    let mut reader = csv::Reader::from_path(file)
        .map_err(|e| format!("{}: {e}; restore the file.", file.display()))?;
    let mut out = Vec::new();
    for row in reader.records() {
        let row = row.map_err(|e| format!("{}: {e}; mend the row.", file.display()))?;
        let get = |i: usize| row.get(i).unwrap_or("").to_owned();
        let variants = get(2)
            .split('|')
            .filter(|v| !v.is_empty())
            .map(str::to_owned)
            .collect();
        out.push((
            Firm {
                list: list.to_owned(),
                entry: if list.is_empty() {
                    String::new()
                } else {
                    get(0)
                },
                style: get(1),
                trade: get(3),
                address: get(4),
                town: get(5),
                from: get(6),
            },
            variants,
        ));
    }
    Ok(out)
}

impl World {
    pub fn open(lists: &Path, maker: &Path) -> Result<World, String> {
        let mut listed = Vec::new();
        for list in [
            "framers",
            "colourmen",
            "exhibitions",
            "artists",
            "retailers",
            "sale_rooms",
            "towns",
        ] {
            for (firm, variants) in rows(&lists.join(format!("{list}.csv")), list)? {
                for v in &variants {
                    listed.push(Firm {
                        style: v.clone(),
                        ..firm.clone()
                    });
                }
                listed.push(firm);
            }
        }
        let unlisted = rows(&maker.join("unlisted.csv"), "")?
            .into_iter()
            .flat_map(|(firm, variants)| {
                let mut all: Vec<Firm> = variants
                    .iter()
                    .map(|v| Firm {
                        style: v.clone(),
                        ..firm.clone()
                    })
                    .collect();
                all.push(firm);
                all
            })
            .collect();
        Ok(World { listed, unlisted })
    }

    /// Listed people: entry, and a way in which the name is written.
    pub fn people(&self) -> Vec<(String, String)> {
        self.listed
            .iter()
            .filter(|f| f.list == "artists")
            .map(|f| (f.entry.clone(), f.style.clone()))
            .collect()
    }

    /// The row of a list, in the style asked for (the whole name where the style is empty).
    pub fn row(&self, entry: &str, style: &str) -> Result<Firm, String> {
        self.listed
            .iter()
            .filter(|f| f.entry == entry)
            .find(|f| !style.is_empty() && f.style == style)
            .or_else(|| self.listed.iter().rfind(|f| f.entry == entry))
            .map(|f| {
                if style.is_empty() {
                    f.clone()
                } else {
                    Firm {
                        style: style.to_owned(),
                        ..f.clone()
                    }
                }
            })
            .ok_or_else(|| format!("the demo lists have no entry {entry}; correct the story."))
    }

    /// A firm on no list, by the beginning of its style.
    pub fn stranger(&self, begins: &str) -> Result<Firm, String> {
        self.unlisted
            .iter()
            .find(|f| f.style.starts_with(begins))
            .cloned()
            .ok_or_else(|| format!("unlisted.csv has no firm {begins}; correct the story."))
    }

    /// Any firm whose trade is of a list's kind, on it or, one time in three, on none.
    pub fn any(&self, list: &str, dice: &mut Dice) -> Firm {
        let fits = |trade: &str| match list {
            "framers" => ["gilder", "fram"].iter().any(|w| trade.contains(w)),
            "colourmen" => ["colourm", "repository", "canvas"]
                .iter()
                .any(|w| trade.contains(w)),
            "exhibitions" => trade.contains("exhibit"),
            "sale_rooms" => trade.contains("auction"),
            _ => trade.contains("dealer"),
        };
        let strangers: Vec<&Firm> = self.unlisted.iter().filter(|f| fits(&f.trade)).collect();
        let known: Vec<&Firm> = self.listed.iter().filter(|f| f.list == list).collect();
        if dice.chance(1.0 / 3.0) && !strangers.is_empty() {
            (*dice.pick(&strangers)).clone()
        } else {
            (*dice.pick(&known)).clone()
        }
    }

    pub fn artist(&self, dice: &mut Dice) -> Firm {
        let known: Vec<&Firm> = self.listed.iter().filter(|f| f.list == "artists").collect();
        (*dice.pick(&known)).clone()
    }
}

pub const TITLES: &[&str] = &[
    "The Ferry at Dunmarsh",
    "Evening, Saltergate Bay",
    "A Drayshire Lane",
    "The Mill Pool, Ellerdyke",
    "Portrait of a Gentleman",
    "Gathering Storm",
    "The Reapers",
    "Low Tide, Cranmouth",
    "Near Great Thornsey",
    "A Quiet Corner",
    "The Old Bridge, Ouselbridge",
    "Study of Oaks",
    "Waiting for the Boats",
    "Winter Fuel",
    "The Gleaner's Rest",
    "On the Dray below Westry",
    "Still Life with Quinces",
    "A Wexmoor Farm",
];

pub const OWNERS: &[(&str, &str)] = &[
    ("Mrs. Orde-Pelling", "Thornsey Hall"),
    ("Colonel Askwith Dunn", "The Lodge, Aldercombe"),
    ("Miss E. Farrowby", "9 Park Crescent"),
    ("The Revd. H. Tillotby", "Westry Rectory"),
    ("Sir Piers Haldenby", "Haldenby Park"),
    ("J. W. Cawthorpe, Esq.", "Brackenholt House"),
];

pub const JOTTINGS: &[&str] = &[
    "Front Parlour",
    "Mr Dray 12/6",
    "this way up",
    "to be varnished",
    "for Miss Farrowby",
    "2 coats size",
    "regilt slip",
    "best frame",
    "return to Orme",
    "cleaned 1884",
    "stairs",
    "Pd 4/-",
    "No glass",
    "27 x 20",
];
