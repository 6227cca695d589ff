//! `dorso gazetteer find`: entries as typed, as heard, as damaged, with the pictures that name them.

use crate::cli::contract::short;
use crate::cli::keeping::StoreOption;
use crate::cli::{Finished, Outcome, put, put_json, read};
use crate::decisions::two;
use crate::error::Result;
use crate::proposals::Found;
use crate::readings;
use serde_json::{Value, json};
use std::fmt::Write as _;
use std::path::PathBuf;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(super) struct Find {
    /// A name, a street, a town: as typed, as heard, or with the signs of `dorso match` for what is lost
    #[arg(required = true, value_name = "TEXT")]
    text: Vec<String>,
    /// Look in this list only
    #[arg(long, value_name = "NAME")]
    list: Option<String>,
    /// How many entries to tell
    #[arg(long, value_name = "N", default_value_t = 12)]
    most: usize,
    /// Folder with the lists [default: DORSO_GAZETTEER, gazetteer, or the starter lists]
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    #[command(flatten)]
    store: StoreOption,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub(super) fn run(a: &Find) -> Outcome {
    let text = a.text.join(" ");
    let lines = readings::from_typed(&text)?;
    let (index, _) = read::lists(a.gazetteer.as_deref(), None)?;
    let found = index.find(&lines, &text, a.list.as_deref(), a.most);
    let file = a.store.file()?;
    let store = file.exists().then(|| a.store.open()).transpose()?;
    let named = |f: &Found| -> Result<Vec<String>> {
        let Some(store) = &store else {
            return Ok(Vec::new());
        };
        let pictures = store.naming(&f.entry.list, &f.entry.entry)?;
        Ok(pictures.into_iter().map(|p| p.1).collect())
    };
    let named: Vec<Vec<String>> = found.iter().map(named).collect::<Result<_>>()?;
    if a.json {
        let all: Vec<Value> = found
            .iter()
            .zip(&named)
            .map(|(f, named)| told(f, named))
            .collect();
        put_json(&json!({ "format": "dorso.entries/1", "entries": all }))?;
        return Ok(Finished::Well);
    }
    let mut out = String::new();
    for (f, named) in found.iter().zip(&named) {
        out += &words(f, named);
    }
    if found.is_empty() {
        out += "No entry of your lists is like that. Add one with: dorso gazetteer add\n";
    }
    put(&out)?;
    Ok(Finished::Well)
}

fn told(f: &Found, named: &[String]) -> Value {
    let e = f.entry;
    json!({
        "list": e.list, "entry": e.entry, "name": e.name, "trade": e.trade, "address": e.address, "town": e.town,
        "from": e.from, "to": e.to, "source": e.source, "same_as": e.same_as(),
        "probability": f.chance.map(short), "pictures": named,
    })
}

fn words(f: &Found, named: &[String]) -> String {
    let e = f.entry;
    let chance = f.chance.map_or_else(|| "-".to_owned(), two);
    let mut out = format!(
        "{chance:>7}  {} · {}\n         {} in {}; {}\n",
        e.name,
        e.facts(),
        e.entry,
        e.list,
        e.source
    );
    for n in e.numbers() {
        let _ = writeln!(out, "         {}: {}", n.whose, n.address);
    }
    if !named.is_empty() {
        let _ = writeln!(out, "         named by: {}", named.join(", "));
    }
    out
}
