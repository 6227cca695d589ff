//! Measures what is quick and writes the one table of results, `benches/RESULTS.md`.
//!
//! ```sh
//! make report                                                # builds what it runs; some minutes
//! cargo run --release --example report -- table              # writes the table from the figures kept, runs nothing
//! cargo run --release --example report -- KEY="FIGURE" ...   # keeps slower figures that were measured by hand
//! ```
//! Figures are kept in `benches/results.csv`: stage, key, what, figure, bar, command, date. Each is that of
//! its command on its date; keys that the quick commands measure are written anew. Run it in the
//! repository, with the program and the examples `score_marks`, `score_turns` and `trial_weighing` built.

use serde_json::Value;
use std::collections::BTreeMap;
use std::error::Error;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::Command;

type Fallible<T> = Result<T, Box<dyn Error>>;
/// Figures by key.
type Figures = BTreeMap<String, String>;

const KEPT: &str = "benches/results.csv";
const TABLE: &str = "benches/RESULTS.md";
const COLUMNS: [&str; 7] = ["stage", "key", "what", "figure", "bar", "command", "date"];
const HEADER: &str = "# Results as of now

Written by `make report`, which measures the quick ones anew; the others are kept in `results.csv` and told with
the day on which they were measured. What was tried before, with its figures, is in [trials/](trials/). Each figure
is that of its command on its day, most of them on 2 shared, loaded cores, where times are upper bounds. A bar is
what was aimed at. The samples are never fitted on, but some choices were made looking at them.

";

fn main() -> Fallible<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let mut rows = kept()?;
    let figures = match arguments.first().map(String::as_str) {
        None => measured()?,
        Some("table") => Figures::new(),
        Some(_) => named(&arguments)?,
    };
    let today = jiff::Zoned::now().date().to_string();
    for (key, figure) in figures {
        let row = rows.iter_mut().find(|r| r[1] == key);
        let row = row.ok_or_else(|| format!("{KEPT} has no row of key {key:?}; add one"))?;
        row[3] = figure;
        row[6].clone_from(&today);
    }
    keep(&rows)?;
    std::fs::write(TABLE, table(&rows))?;
    println!("{TABLE}");
    Ok(())
}

fn kept() -> Fallible<Vec<Vec<String>>> {
    let mut reader = csv::Reader::from_path(KEPT)?;
    if reader.headers()?.iter().ne(COLUMNS) {
        return Err(format!(
            "{KEPT}, row 1: its columns are to be {}",
            COLUMNS.join(", ")
        )
        .into());
    }
    reader
        .records()
        .map(|r| Ok(r?.iter().map(String::from).collect()))
        .collect()
}

fn keep(rows: &[Vec<String>]) -> Fallible<()> {
    let mut writer = csv::Writer::from_path(KEPT)?;
    writer.write_record(COLUMNS)?;
    rows.iter().try_for_each(|r| writer.write_record(r))?;
    Ok(writer.flush()?)
}

fn table(rows: &[Vec<String>]) -> String {
    let mut out = HEADER.to_owned();
    out += "| stage | what | figure | bar | command | measured |\n|---|---|---|---|---|---|\n";
    for r in rows {
        let cell = |i: usize| r[i].replace('|', "\\|");
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} | `{}` | {} |",
            cell(0),
            cell(2),
            cell(3),
            cell(4),
            cell(5),
            cell(6)
        );
    }
    out
}

fn named(arguments: &[String]) -> Fallible<Figures> {
    let part = |a: &String| {
        a.split_once('=')
            .map(|(k, f)| (k.to_owned(), f.to_owned()))
            .ok_or_else(|| format!("{a:?} is no KEY=FIGURE; keys stand in {KEPT}").into())
    };
    arguments.iter().map(part).collect()
}

/// What a program of this build prints; a relative path is one beside this example's folder.
fn printed(program: &str, arguments: &[&str]) -> Fallible<String> {
    let here = std::env::current_exe()?;
    let folder: PathBuf = here.ancestors().nth(2).ok_or("no build folder")?.into();
    eprintln!("{program} {}", arguments.join(" "));
    let done = Command::new(folder.join(program)).args(arguments).output();
    let done = done.map_err(|e| format!("{program}: {e}; make report builds it"))?;
    if !done.status.success() {
        let why = String::from_utf8_lossy(&done.stderr);
        return Err(format!("{program} failed: {why}").into());
    }
    Ok(String::from_utf8(done.stdout)?)
}

fn measured() -> Fallible<Figures> {
    let mut out = Figures::new();
    let samples = "samples/photographs";
    let lists = ["--gazetteer", "samples/gazetteer", "--json"];
    let text = printed("dorso", &[&["evaluate", samples], &lists[..]].concat())?;
    evaluated(&serde_json::from_str(&text)?, &mut out)?;
    marks(&printed("examples/score_marks", &[samples])?, &mut out)?;
    let turns = printed("examples/score_turns", &[samples])?;
    let turns = turns.lines().last().and_then(|l| l.strip_suffix(" wrong"));
    out.insert(
        "turns".into(),
        turns.ok_or("score_turns says nothing")?.into(),
    );
    let trial = printed("examples/trial_weighing", &["10000", "600", "1", "alone"])?;
    typed(&trial, &mut out)?;
    Ok(out)
}

/// The figures of `dorso evaluate --json`.
fn evaluated(all: &Value, out: &mut Figures) -> Fallible<()> {
    let number = |v: &Value| v.as_f64().ok_or("evaluate gives no such figure");
    for (key, field) in [
        ("cer", "cer"),
        ("words", "word_f1"),
        ("listed-first", "listed_first"),
        ("none-first", "unlisted_first"),
        ("brier", "brier"),
    ] {
        out.insert(key.into(), format!("{:.3}", number(&all[field])?));
    }
    let luck = &all["ece_by_luck"];
    let ece = [&all["ece"], &luck[0], &luck[1]].map(number);
    let [ece, mean, most] = ece;
    let told = format!("{:.3} ({:.3}; {:.3})", ece?, mean?, most?);
    out.insert("ece".into(), told);
    let seconds = number(&all["seconds_per_photo"])?;
    out.insert("photo-seconds".into(), format!("{seconds:.1} s{}", load()));
    let images = all["per_image"].as_array().ok_or("no photographs")?;
    let of = |i: &Value| (i["cer"].as_f64(), i["file"].as_str().map(name));
    let mut worst: Vec<_> = images.iter().map(of).collect();
    worst.sort_by(|a, b| b.0.unwrap_or(0.0).total_cmp(&a.0.unwrap_or(0.0)));
    let worst = worst.into_iter().take(3);
    let worst = worst.filter_map(|(c, f)| Some(format!("{} {:.2}", f?, c?)));
    out.insert("worst".into(), worst.collect::<Vec<_>>().join(", "));
    Ok(())
}

/// How much else the machine does, where it tells that (Linux).
fn load() -> String {
    let text = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let last = text.split(' ').next().filter(|w| !w.is_empty());
    last.map_or(String::new(), |w| format!(" at a load of {w}"))
}

/// A photograph's name without folder and ending.
fn name(file: &str) -> String {
    let stem = std::path::Path::new(file).file_stem();
    stem.unwrap_or_default().to_string_lossy().into_owned()
}

/// The figures of `score_marks`.
fn marks(text: &str, out: &mut Figures) -> Fallible<()> {
    for grade in ["easy", "medium", "hard"] {
        let line = text
            .lines()
            .find(|l| l.starts_with(&format!("grade {grade}")));
        let share = line.and_then(|l| l.split_whitespace().last());
        let share = share.ok_or("score_marks gives no grades")?;
        out.insert(format!("marks-{grade}"), share.into());
    }
    let last = text.lines().last().unwrap_or("");
    let figures: Vec<&str> = last
        .split([' ', ','])
        .filter(|w| w.parse::<f64>().is_ok())
        .collect();
    let [wrong, _, seconds] = figures[..] else {
        return Err("score_marks gives no last line".into());
    };
    out.insert("marks-false".into(), wrong.into());
    out.insert("marks-seconds".into(), format!("{seconds} s{}", load()));
    Ok(())
}

/// One part of what `trial_weighing` prints.
struct Trial {
    first: String,
    none: String,
    ece: String,
    brier: String,
    sure: String,
}

/// The figures of `trial_weighing`: usual losses, hard ones, none.
fn typed(text: &str, out: &mut Figures) -> Fallible<()> {
    let last = |part: &str, start: &str| {
        let line = part.lines().find(|l| l.trim_start().starts_with(start));
        line.and_then(|l| l.split_whitespace().last())
            .map(String::from)
    };
    let after = |part: &str, word: &str| {
        let rest = part.split(word).nth(1)?;
        Some(rest.split_whitespace().next()?.to_owned())
    };
    let trial = |part: &str| {
        Some(Trial {
            first: last(part, "right firm first")?,
            none: last(part, "on no list, known as such")?,
            ece: after(part, "  ECE ")?,
            brier: after(part, "Brier ")?,
            sure: part
                .split("above: ")
                .nth(1)?
                .lines()
                .next()?
                .replace("wrong ", ""),
        })
    };
    let mut parts = Vec::new();
    for start in ["usual:\n", "hard:\n", "nothing lost"] {
        let part = text.split(start).nth(1).and_then(trial);
        parts.push(part.ok_or("trial_weighing says nothing of one of its three parts")?);
    }
    let [usual, hard, clear] = &parts[..] else {
        return Err("trial_weighing has other parts".into());
    };
    for (key, figure) in [
        ("typed-first", format!("{} / {}", usual.first, hard.first)),
        ("typed-none", format!("{} / {}", usual.none, hard.none)),
        (
            "typed-ece",
            format!(
                "{} / {}; {} / {}",
                usual.ece, hard.ece, usual.brier, hard.brier
            ),
        ),
        ("typed-sure", format!("{} / {}", usual.sure, hard.sure)),
        (
            "typed-clear",
            format!(
                "{}; {}; {}; {}",
                clear.first, clear.none, clear.brier, clear.sure
            ),
        ),
    ] {
        out.insert(key.into(), figure);
    }
    Ok(())
}
