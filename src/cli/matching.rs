//! `dorso match`: proposals for a reading typed by a person.

use super::{Finished, Outcome, contract, put, put_json, tell};
use crate::decisions::two;
use crate::error::{Error, Kind, Result};
use crate::evidence::by_own_dates;
use crate::gazetteer::{self, Entry, Gazetteer};
use crate::proposals::{Index, Rivals, SHOWN_FROM};
use crate::readings::Line;
use crate::statements::{Role, Statement};
use std::path::{Path, PathBuf};

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// Folder with the lists [default: DORSO_GAZETTEER, gazetteer, or the starter lists]
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Weigh against this list only
    #[arg(long, value_name = "NAME")]
    list: Option<String>,
    /// Only entries in this town
    #[arg(long)]
    town: Option<String>,
    /// Only entries that may have stood in these years: 1868 or 1868-1875
    #[arg(long, value_name = "YEAR[-YEAR]")]
    years: Option<String>,
    /// Only entries whose trade holds this word
    #[arg(long, value_name = "WORD")]
    trade: Option<String>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
    /// What the mark says; lines parted by " / ". A dot below a letter (U+0323) marks it as
    /// unclear, [..] that many lost letters, [---] an unknown number, [abc] letters supplied by you
    #[arg(required = true, value_name = "TEXT")]
    text: Vec<String>,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let years = arguments.years.as_deref().map(years).transpose()?;
    let lines = crate::readings::from_typed(&arguments.text.join(" "))?;
    let place = gazetteer::locate(arguments.gazetteer.as_deref())?;
    let (mut lists, faults) = super::read::load(&place)?;
    for f in &faults {
        if f.severity == gazetteer::Severity::Unusable {
            tell(&Error::from(f));
        }
    }
    if let Some(name) = &arguments.list {
        known(&lists, name, &place)?;
        lists.lists.retain(|l| l.name == *name);
    }
    let before = lists.len();
    if arguments.town.is_some() || arguments.trade.is_some() || years.is_some() {
        for l in &mut lists.lists {
            let wanted = |e: &&Entry| {
                town(e, arguments.town.as_deref())
                    && trade(e, arguments.trade.as_deref())
                    && years.is_none_or(|y| within(e, y))
            };
            // A part of a list isn't kept in the place of the whole
            l.entries = l.entries.iter().filter(wanted).cloned().collect();
            l.digest = None;
        }
    }
    if before > 0 && lists.is_empty() {
        return Err(Error::new(
            Kind::Usage,
            "match",
            "no entry of the lists fits that town, years and trade",
            "leave one of --town, --years and --trade out",
        ));
    }
    let store = super::keeping::store_file(None).ok();
    let index = super::read::ready(lists, store.as_deref())?;
    let rivals = index.weigh(&lines, arguments.list.as_deref());
    let said = index.statements(&lines, None);
    let rivals = beside_dates(lines, rivals, &said, arguments.gazetteer.as_deref())?;
    if arguments.json {
        put_json(&contract::Matched::new(&rivals, &said))?;
    } else {
        put(&told(&index, &rivals))?;
        if !said.is_empty() {
            put(&format!("It states\n{}", super::fields::told(&said)))?;
        }
    }
    Ok(Finished::Well)
}

/// The rivals beside the year that the text states, where it states one: a firm with several addresses is met
/// at that of the year.
fn beside_dates(
    lines: Vec<Line>,
    rivals: Vec<Rivals>,
    said: &[Statement],
    lists: Option<&Path>,
) -> Result<Vec<Rivals>> {
    let dates = [Role::ExhibitionYear, Role::SaleDate, Role::Date];
    if !said.iter().any(|s| dates.contains(&s.role)) {
        return Ok(rivals);
    }
    by_own_dates(
        lines,
        rivals,
        said.to_vec(),
        &super::note::own_clues(lists)?,
    )
}

fn known(lists: &Gazetteer, name: &str, folder: &gazetteer::Place) -> Result<()> {
    if lists.lists.iter().any(|l| l.name == name) {
        return Ok(());
    }
    let names: Vec<&str> = lists.lists.iter().map(|l| l.name.as_str()).collect();
    let next = if names.is_empty() {
        format!("put lists into {folder} first")
    } else {
        format!("choose one of {}", names.join(", "))
    };
    Err(Error::new(
        Kind::Usage,
        format!("--list {name}"),
        "there is no such list",
        next,
    ))
}

fn fold(text: &str) -> String {
    text.to_lowercase()
}

fn town(e: &Entry, wanted: Option<&str>) -> bool {
    wanted.is_none_or(|w| fold(&e.town) == fold(w) || fold(&e.name) == fold(w))
}

fn trade(e: &Entry, wanted: Option<&str>) -> bool {
    wanted.is_none_or(|w| fold(&e.trade).contains(&fold(w)))
}

/// Whether the entry's years, where known, meet the span.
fn within(e: &Entry, (from, to): (i32, i32)) -> bool {
    let (first, last) = e.years();
    first.is_none_or(|f| f <= to) && last.is_none_or(|l| l >= from)
}

fn years(text: &str) -> Result<(i32, i32)> {
    let (a, b) = text.split_once(['-', '–', '/']).unwrap_or((text, text));
    match (a.trim().parse::<i32>(), b.trim().parse::<i32>()) {
        (Ok(a), Ok(b)) if a <= b => Ok((a, b)),
        _ => Err(Error::new(
            Kind::Usage,
            format!("--years {text}"),
            "this is no year and no span of years",
            "write 1868 or 1868-1875",
        )),
    }
}

/// The result for a person: chance, name, address, years, why.
fn told(index: &Index, rivals: &[Rivals]) -> String {
    let mut out = String::new();
    if rivals.is_empty() {
        return "Nothing was read that could be weighed, or the lists are empty.\n".into();
    }
    let (mut likely, mut others) = (Vec::new(), Vec::new());
    for (i, r) in rivals.iter().enumerate() {
        if i == 0 || r.unlisted < 0.75 {
            likely.push(r);
        } else {
            others.push(r.list.as_str());
        }
    }
    for r in likely {
        out += &format!("{}\n", r.list);
        for (i, p) in r.proposals.iter().enumerate() {
            // `--json` has them
            if i > 0 && p.probability < SHOWN_FROM {
                break;
            }
            let entry = index.gazetteer.entry(&p.list, &p.entry);
            let place = entry.map_or(String::new(), |e| {
                [e.address.as_str(), e.town.as_str()]
                    .iter()
                    .filter(|t| !t.is_empty())
                    .map(|t| format!(", {t}"))
                    .collect()
            });
            out += &format!(
                "  {:>5}  {}{place}{}\n         {}\n",
                two(p.probability),
                p.name,
                span(&p.not_before, &p.not_after),
                p.entry,
            );
            for b in &p.agreement.because {
                out += &format!("         {b}\n");
            }
        }
        out += &format!("  {:>5}  on none of this list\n", two(r.unlisted));
    }
    if !others.is_empty() {
        out += &format!("Most likely not named: {}.\n", others.join(", "));
    }
    out
}

fn span(from: &str, to: &str) -> String {
    match (from, to) {
        ("", "") => String::new(),
        (f, "") => format!(" (from {f})"),
        ("", t) => format!(" (to {t})"),
        (f, t) if f == t => format!(" ({f})"),
        (f, t) => format!(" ({f} to {t})"),
    }
}
