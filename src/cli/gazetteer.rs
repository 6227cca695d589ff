//! `dorso gazetteer`: check the lists, add a row, take in a spreadsheet, start lists of one's own.

use super::{Finished, Outcome, put, put_json, tell};
use crate::dating::typed;
use crate::error::{Error, Kind, Result};
use crate::gazetteer::edit::{self, Cells};
use crate::gazetteer::fold::Form;
use crate::gazetteer::import::{Plan, Taken, Why};
use crate::gazetteer::keys::Keys;
use crate::gazetteer::place::STARTER;
use crate::gazetteer::rows::{COLUMNS, Sheet, column_key};
use crate::gazetteer::{Entry, Fault, Place, Severity, check, locate, rows};
use crate::limits::LIST_BYTES;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

mod find;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(clap::Subcommand, Debug)]
enum Command {
    /// Say what is wrong in the lists, by file, row and column
    Check {
        /// Folder of the lists; without it: $DORSO_GAZETTEER, ./gazetteer, or the starter lists
        dir: Option<PathBuf>,
        /// Print one JSON document
        #[arg(long)]
        json: bool,
    },
    /// Add a row to a list, every other byte of the file staying as it is
    Add(Add),
    /// Take in a spreadsheet (saved as CSV) with column names of its own
    Import(Import),
    /// Look entries up: as typed, as heard, as damaged, with the pictures that name them
    Find(find::Find),
    /// Write the starter lists into a folder, to be kept and added to
    Start {
        /// Folder; it is made if it isn't there
        #[arg(default_value = "gazetteer")]
        dir: PathBuf,
    },
}

#[derive(clap::Args, Debug)]
struct Add {
    /// List, such as framers
    #[arg(long)]
    list: String,
    /// Name of the firm, society or person
    #[arg(long)]
    name: String,
    /// Another form of the name; may be given again
    #[arg(long)]
    variant: Vec<String>,
    /// Trade
    #[arg(long, default_value = "")]
    trade: String,
    /// Premises
    #[arg(long, default_value = "")]
    address: String,
    /// Town
    #[arg(long, default_value = "")]
    town: String,
    /// First year there, as 1868, 1868~ or 187X
    #[arg(long, default_value = "")]
    from: String,
    /// Last year there
    #[arg(long, default_value = "")]
    to: String,
    /// Where the facts come from; "from memory" if from there
    #[arg(long)]
    source: String,
    /// Anything else
    #[arg(long, default_value = "")]
    note: String,
    /// Key of the row; made from name and town if not given
    #[arg(long)]
    key: Option<String>,
    /// Start the list if there is none of that name
    #[arg(long)]
    new_list: bool,
    /// Folder of the lists
    #[arg(long)]
    gazetteer: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

#[derive(clap::Args, Debug)]
struct Import {
    /// The spreadsheet, saved as CSV
    file: PathBuf,
    /// List that takes the rows, such as framers
    #[arg(long)]
    list: String,
    /// Where columns go, as "Firm=name,Street=address,Dates=years"; nothing behind = leaves one out
    #[arg(long, default_value = "")]
    columns: String,
    /// Source for rows that name none
    #[arg(long)]
    source: Option<String>,
    /// Say what would be done, and write nothing
    #[arg(long)]
    dry_run: bool,
    /// Start the list if there is none of that name
    #[arg(long)]
    new_list: bool,
    /// Folder of the lists
    #[arg(long)]
    gazetteer: Option<PathBuf>,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    match arguments.command {
        Command::Check { dir, json } => run_check(dir.as_deref(), json),
        Command::Add(a) => run_add(a),
        Command::Import(a) => run_import(a),
        Command::Find(a) => find::run(&a),
        Command::Start { dir } => run_start(&dir),
    }
}

fn run_check(dir: Option<&Path>, as_json: bool) -> Outcome {
    let place = locate(dir)?;
    let sheets = place.sheets()?;
    let mut all = Vec::new();
    let mut lists = Vec::new();
    for sheet in &sheets {
        let mut faults = sheet.faults.clone();
        faults.extend(check::check(sheet));
        faults.sort_by_key(|f| f.row);
        lists.push(json!({
            "list": sheet.list,
            "file": sheet.file.display().to_string(),
            "rows": sheet.rows,
            "used": sheet.entries.len(),
            "extra_columns": extra_columns(sheet),
            "dialect": sheet.dialect,
        }));
        all.extend(faults);
    }
    let unusable = count(&all, Severity::Unusable);
    let doubtful = count(&all, Severity::Doubtful);
    if as_json {
        put_json(&json!({
            "format": "dorso.gazetteer_check/1",
            "place": place.to_string(),
            "lists": lists,
            "faults": all.iter().map(fault_json).collect::<Vec<_>>(),
            "unusable": unusable,
            "doubtful": doubtful,
        }))?;
    } else {
        let mut text = format!("{place}\n");
        for s in &sheets {
            text += &format!("  {}: {}", s.list, counted(s.rows, "row", "rows"));
            if s.entries.len() < s.rows {
                text += &format!(", {} used", s.entries.len());
            }
            let extra = extra_columns(s);
            if !extra.is_empty() {
                text += &format!("; kept, not used: {}", extra.join(", "));
            }
            text.push('\n');
        }
        if sheets.is_empty() {
            text += "  no list (*.csv) lies here\n";
        }
        for f in &all {
            let mark = match f.severity {
                Severity::Unusable => "not usable",
                Severity::Doubtful => "doubtful",
            };
            text += &format!("{mark}: {}\n", one_line(f));
        }
        text += &format!("{unusable} not usable, {doubtful} doubtful\n");
        put(&text)?;
    }
    Ok(if unusable == 0 {
        Finished::Well
    } else {
        Finished::WithFaults
    })
}

fn extra_columns(sheet: &Sheet) -> Vec<String> {
    sheet
        .columns
        .iter()
        .filter(|c| !COLUMNS.contains(&column_key(c).as_str()) && !c.trim().is_empty())
        .map(|c| c.trim().to_string())
        .collect()
}

fn count(faults: &[Fault], severity: Severity) -> usize {
    faults.iter().filter(|f| f.severity == severity).count()
}

fn counted(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

fn one_line(f: &Fault) -> String {
    f.to_string().replace(['\n', '\r'], " ")
}

fn fault_json(f: &Fault) -> Value {
    json!({
        "file": f.file.display().to_string(),
        "row": f.row,
        "column": f.column,
        "severity": f.severity,
        "what": f.what,
        "next": f.next,
    })
}

/// The folder of the user's own lists.
fn own_folder(named: Option<&Path>) -> Result<PathBuf> {
    match locate(named)? {
        Place::Folder(dir) => Ok(dir),
        Place::Starter => Err(Error::new(
            Kind::Gazetteer,
            "gazetteer",
            "you have no lists of your own yet, and those in the program can't be changed",
            "run `dorso gazetteer start` to get them as files",
        )),
    }
}

/// The file of a list, and what stands in it; `None` if it is to be made.
fn own_list(dir: &Path, list: &str, new_list: bool) -> Result<(PathBuf, Option<Sheet>)> {
    let simple = !list.is_empty()
        && !list.starts_with('.')
        && list
            .chars()
            .all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '.' | ' '));
    if !simple {
        return Err(Error::new(
            Kind::Usage,
            format!("--list \"{list}\""),
            "this is no name for a list",
            "use letters, digits, - and _",
        ));
    }
    let sheets = crate::gazetteer::sheets(dir)?;
    let names: Vec<String> = sheets.iter().map(|s| s.list.clone()).collect();
    let found = sheets.into_iter().find(|s| s.list == list.to_lowercase());
    match found {
        Some(s) => Ok((s.file.clone(), Some(s))),
        None if new_list => Ok((dir.join(format!("{list}.csv")), None)),
        None => Err(Error::new(
            Kind::Usage,
            format!("--list {list}"),
            format!(
                "{} has no such list (it has {})",
                dir.display(),
                if names.is_empty() {
                    "none".to_string()
                } else {
                    names.join(", ")
                }
            ),
            "mend the name, or give --new-list to start it",
        )),
    }
}

fn run_add(mut a: Add) -> Outcome {
    for (option, value) in [("--from", &mut a.from), ("--to", &mut a.to)] {
        if value.is_empty() {
            continue;
        }
        *value = typed(value).ok_or_else(|| {
            Error::new(
                Kind::Usage,
                format!("{option} {value}"),
                "this is not understood as a year",
                "write it as 1868, c. 1868, 1868-75, 1870s or before 1880",
            )
        })?;
    }
    for (option, value) in [("--name", &a.name), ("--source", &a.source)] {
        if value.trim().is_empty() {
            return Err(Error::new(
                Kind::Usage,
                option,
                "it is empty",
                "say the firm's name, and where the facts come from (or \"from memory\")",
            ));
        }
    }
    let dir = own_folder(a.gazetteer.as_deref())?;
    let held = edit::hold(&dir)?;
    let (file, sheet) = own_list(&dir, &a.list, a.new_list)?;
    let mut entry = Entry {
        list: a.list.clone(),
        entry: a.key.clone().unwrap_or_default(),
        name: a.name.trim().to_string(),
        variants: a.variant.iter().map(|v| v.trim().to_string()).collect(),
        trade: a.trade,
        address: a.address,
        town: a.town,
        from: a.from,
        to: a.to,
        source: a.source,
        note: a.note,
        ..Entry::default()
    };
    let have: &[Entry] = sheet.as_ref().map_or(&[], |s| &s.entries);
    refuse_twice(&file, have, &entry)?;
    if entry.entry.is_empty() {
        let taken = have.iter().map(|e| e.entry.as_str());
        entry.entry = Keys::new(taken).fresh(&entry.name, &entry.town);
    }
    let row = edit::append(&file, &[cells(&entry)], &held)?;
    if let Ok(bytes) = LIST_BYTES.read(&file) {
        let now = rows::read(&file, &bytes);
        for f in check::check(&now).iter().filter(|f| f.row == Some(row)) {
            tell(&Error::from(f));
        }
    }
    if a.json {
        put_json(&json!({
            "format": "dorso.gazetteer_add/1",
            "file": file.display().to_string(),
            "row": row,
            "entry": entry.entry,
        }))?;
    } else {
        put(&format!("{}, row {row}: {}\n", file.display(), entry.entry))?;
    }
    Ok(Finished::Well)
}

/// An error if the key or the firm at that address in those years is on the list already.
fn refuse_twice(file: &Path, have: &[Entry], new: &Entry) -> Result<()> {
    let form = Form::of(new);
    for e in have {
        let what = if !new.entry.is_empty() && e.entry == new.entry {
            format!("the key \"{}\" is taken", e.entry)
        } else if Form::of(e) == form && check::Years::of(e).share(&check::Years::of(new)) {
            format!(
                "\"{}\" is on the list already, at the same address in the same years (key \"{}\")",
                e.name, e.entry
            )
        } else {
            continue;
        };
        return Err(Error::new(
            Kind::Gazetteer,
            format!("{}, row {}", file.display(), e.row),
            what,
            "change that row in your spreadsheet, or give other years, another address or another --key",
        ));
    }
    Ok(())
}

fn cells(e: &Entry) -> Cells {
    let values = [
        e.entry.clone(),
        e.name.clone(),
        e.variants.join("|"),
        e.trade.clone(),
        e.address.clone(),
        e.town.clone(),
        e.from.clone(),
        e.to.clone(),
        e.source.clone(),
        e.note.clone(),
    ];
    COLUMNS
        .map(str::to_string)
        .into_iter()
        .zip(values)
        .collect()
}

fn run_import(a: Import) -> Outcome {
    let mut named = Vec::new();
    for part in a.columns.split(',').filter(|p| !p.trim().is_empty()) {
        let Some((heading, column)) = part.rsplit_once('=') else {
            return Err(Error::new(
                Kind::Usage,
                format!("--columns \"{part}\""),
                "a heading and a column with = between them was expected",
                "write it as \"Firm=name,Street=address\"",
            ));
        };
        named.push((heading.trim().to_string(), column_key(column)));
    }
    let bytes = LIST_BYTES.read(&a.file).map_err(|e| {
        Error::new(
            Kind::Gazetteer,
            a.file.display(),
            format!("the spreadsheet can't be read ({e})"),
            "name the CSV file that you saved from it",
        )
    })?;
    let plan = Plan::new(&bytes, &named)
        .map_err(|(what, next)| Error::new(Kind::Gazetteer, a.file.display(), what, next))?;
    let dir = own_folder(a.gazetteer.as_deref())?;
    let held = match a.dry_run {
        true => None,
        false => Some(edit::hold(&dir)?),
    };
    let (file, sheet) = own_list(&dir, &a.list, a.new_list)?;
    let have: &[Entry] = sheet.as_ref().map_or(&[], |s| &s.entries);
    let source = a.source.clone().unwrap_or_else(|| {
        let name = a.file.file_name().unwrap_or_default().to_string_lossy();
        format!("imported from {name}")
    });
    let columns = sheet.as_ref().map(|s| s.columns.as_slice());
    let taken = plan.take(&a.file, have, columns, &source);
    let first = match &held {
        Some(held) if !taken.cells.is_empty() => Some(edit::append(&file, &taken.cells, held)?),
        _ => None,
    };
    for f in &taken.faults {
        tell(&Error::from(f));
    }
    let unusable = count(&taken.faults, Severity::Unusable);
    if a.json {
        put_json(&json!({
            "format": "dorso.gazetteer_import/1",
            "file": a.file.display().to_string(),
            "list": file.display().to_string(),
            "columns": plan.places,
            "rows": taken.rows,
            "taken": taken.cells.len(),
            "already_there": taken.same,
            "not_usable": unusable,
            "first_row": first,
            "written": first.is_some(),
            "dates": taken.rewritten.iter()
                .map(|(row, was, is)| json!({"row": row, "was": was, "is": is}))
                .collect::<Vec<_>>(),
            "faults": taken.faults.iter().map(fault_json).collect::<Vec<_>>(),
        }))?;
    } else {
        put(&told(&a, &plan, &taken, &file, columns, first))?;
    }
    Ok(if unusable == 0 {
        Finished::Well
    } else {
        Finished::WithFaults
    })
}

/// What was done, for a person: mapping, dates, counts.
fn told(
    a: &Import,
    plan: &Plan,
    taken: &Taken,
    file: &Path,
    columns: Option<&[String]>,
    first: Option<usize>,
) -> String {
    let mut text = String::from("columns:\n");
    for p in &plan.places {
        let own = columns.is_none_or(|c| c.iter().any(|c| column_key(c) == column_key(&p.column)));
        let to = match p.why {
            Why::Named if p.column.is_empty() => "left out, as you said".to_string(),
            Why::Named => format!("{} (as you said)", p.column),
            Why::SameName => p.column.clone(),
            Why::Guessed => format!("{} (guessed from the heading)", p.column),
            Why::Kept if own && !p.heading.is_empty() => "a column of its own".to_string(),
            Why::Kept => "note".to_string(),
        };
        text += &format!("  \"{}\" -> {to}\n", p.heading);
    }
    if !taken.rewritten.is_empty() {
        text += "dates:\n";
        for (row, was, is) in &taken.rewritten {
            text += &format!("  row {row}: \"{was}\" -> {is}\n");
        }
    }
    let rows = taken.cells.len();
    text += &match first {
        Some(first) => format!(
            "{} taken into {}, from row {first} on",
            counted(rows, "row", "rows"),
            file.display()
        ),
        None if a.dry_run => format!(
            "{} would be taken into {}; nothing was written",
            counted(rows, "row", "rows"),
            file.display()
        ),
        None => format!("no row taken into {}", file.display()),
    };
    let unusable = count(&taken.faults, Severity::Unusable);
    text += &format!("; {} there already, {unusable} not usable\n", taken.same);
    text.replace('\r', " ")
}

fn run_start(dir: &Path) -> Outcome {
    let failed = |place: &Path, e: std::io::Error| {
        Error::new(
            Kind::Output,
            place.display(),
            format!("it can't be written ({e})"),
            "make room or choose another folder, then try again",
        )
    };
    std::fs::create_dir_all(dir).map_err(|e| failed(dir, e))?;
    let there = STARTER.iter().find(|(name, _)| dir.join(name).exists());
    if let Some((name, _)) = there {
        return Err(Error::new(
            Kind::Output,
            dir.join(name).display(),
            "there is a list of that name already, and nothing was written",
            "choose another folder",
        ));
    }
    let mut text = String::new();
    for (name, content) in STARTER {
        let file = dir.join(name);
        edit::replace(&file, b"", content.as_bytes())?;
        text += &format!("{}\n", file.display());
    }
    put(&text)?;
    Ok(Finished::Well)
}
