//! What the command tells: a mark with all that is known of it, what was recorded, what comes next.

use super::{Arguments, FORMAT};
use crate::cli::keeping;
use crate::cli::queue::{Places, proposal_words, today};
use crate::cli::{Finished, Outcome, fields, monogram, put, put_json, queue, read};
use crate::decisions::{self, Act, Decision, KeptMark, SqliteStore, Store, holding};
use crate::error::Result;
use crate::marks::MarkKind;
use crate::proposals::Proposal;
use crate::readings;
use crate::run;
use serde::Serialize;
use std::fmt::Write as _;

/// Letters seen of a monogram, with their chances; nothing of other marks.
pub(super) fn seen_as(mark: &KeptMark) -> String {
    let sign = mark.latest().sign.as_ref();
    let Some(sign) = sign.filter(|_| mark.kind() == MarkKind::Monogram) else {
        return String::new();
    };
    let two = decisions::two;
    let mut out = format!(
        "     Its letters, whatever their order: {}; others, or none {}\n",
        monogram::sets(&sign.seen),
        two(sign.seen.other())
    );
    for p in sign.rivals.iter().flat_map(|r| r.proposals.iter().take(5)) {
        let _ = writeln!(out, "     {}: chance {}", p.name, two(p.probability));
    }
    out
}

/// What was recorded, and how to undo it.
pub(super) fn told(d: &Decision, store: &SqliteStore, a: &Arguments) -> Result<String> {
    let again = a.store.again();
    let mut out = String::new();
    match &d.act {
        Act::Undo { undoes } => {
            let journal = store.journal_of(d.mark)?;
            let what = journal.iter().find(|o| o.id == *undoes).map_or_else(
                || undoes.to_string(),
                |o| format!("{undoes} ({})", o.act.words()),
            );
            let _ = writeln!(
                out,
                "{}: {what} is undone, by {} ({}).",
                d.mark, d.author.by, d.id
            );
            let _ = writeln!(
                out,
                "Take that back with: dorso settle {} undo {}{again}",
                d.mark, d.id
            );
        }
        act => {
            let _ = writeln!(
                out,
                "{}: {}, by {} ({}).",
                d.mark,
                act.words(),
                d.author.by,
                d.id
            );
            let _ = writeln!(out, "Undo it with: dorso settle {} undo{again}", d.mark);
        }
    }
    Ok(out)
}

/// What the lists make of a typed reading; nothing where they can't be used.
pub(super) fn by_this_reading(
    lines: &[String],
    mark: &KeptMark,
    picture: i64,
    store: &SqliteStore,
    a: &Arguments,
) -> String {
    let file = a.store.file().ok();
    let Ok((index, _)) = read::lists(a.gazetteer.as_deref(), file.as_deref()) else {
        return String::new();
    };
    let Ok(typed) = readings::from_typed(&lines.join(" / ")) else {
        return String::new();
    };
    let (kind, mark) = (mark.kind(), mark.id);
    let beside = run::known_beside(store, mark, picture).unwrap_or_default();
    let rivals = run::signs::typed(&index, kind, &lines.join(" "), &typed, &beside);
    let likely: Vec<&Proposal> = rivals
        .iter()
        .flat_map(|r| &r.proposals)
        .filter(|p| p.probability >= 0.1)
        .take(5)
        .collect();
    if likely.is_empty() {
        return "By this reading it names no entry of the lists that is worth telling.\n".into();
    }
    let mut out = String::from("By this reading it may name:\n");
    for (i, p) in likely.iter().enumerate() {
        let words = proposal_words(i + 1, p);
        let (_, words) = words.split_once("  ").unwrap_or(("", &words));
        let _ = writeln!(
            out,
            "  {words}\n    dorso settle {mark} take {}{}",
            keeping::quoted(&p.entry),
            a.store.again()
        );
    }
    out
}

/// The mark that is worth looking at next, of the same picture first.
pub(super) fn next(store: &SqliteStore, mark: &KeptMark) -> Result<String> {
    let due = store.due(&today(), None)?;
    let count = match due.len() {
        0 => return Ok("Nothing else needs a person.\n".into()),
        1 => "1 mark still needs a person".to_string(),
        n => format!("{n} marks still need a person"),
    };
    let own = store.picture_of(mark.photograph)?.map(|p| p.id);
    let of_picture = store.due(&today(), own)?;
    let next = of_picture.iter().chain(&due).find(|id| **id != mark.id);
    Ok(match next {
        Some(id) => format!(
            "{count}; next: {id} {}\n",
            queue::transcription(&store.mark(*id)?)
        ),
        None => format!("{count}: this one.\n"),
    })
}

pub(super) fn show(store: &SqliteStore, mark: &KeptMark, json: bool) -> Outcome {
    let journal: Vec<Decision> = store.journal_of(mark.id)?.into_iter().collect();
    let holding = holding(&journal);
    let marks = [mark.clone()];
    let mut copies = run::copies(store, mark)?;
    run::look(mark, &mut copies);
    let elsewhere = &copies.found;
    let places = Places::new(&copies.pictures);
    for item in decisions::queue(&marks, &today()) {
        if json {
            put_json(&MarkOut {
                format: "dorso.mark/1",
                item: places.json(&item),
                elsewhere: elsewhere.iter().map(ElsewhereOut::new).collect(),
                decisions: journal
                    .iter()
                    .map(|d| DecisionOut::new(d, holding.contains(&d.id)))
                    .collect(),
            })?;
            continue;
        }
        let mut out = places.paragraph(&item, usize::MAX);
        for (i, p) in mark.numbered().into_iter().enumerate() {
            for why in &p.agreement.because {
                let _ = writeln!(out, "     {}: {why}", i + 1);
            }
        }
        out.push_str(&seen_as(mark));
        let states = mark.statements();
        if !states.is_empty() {
            let _ = write!(out, "     It states\n{}", fields::told(&states));
        }
        for r in &mark.rivals {
            let chance = decisions::two(r.unlisted);
            let _ = writeln!(out, "     none of list \"{}\": chance {chance}", r.list);
        }
        if mark.sightings.len() > 1 {
            for s in &mark.sightings {
                let _ = writeln!(out, "     {}", places.sighting_words(s));
            }
            let _ = writeln!(
                out,
                "     If one shows another mark: dorso settle ITS-NUMBER apart"
            );
        }
        for e in elsewhere {
            let _ = writeln!(out, "     {}.", e.words());
        }
        if journal.is_empty() {
            out.push_str("Nothing was decided yet.\n");
        }
        for d in &journal {
            let undone = if holding.contains(&d.id) {
                ""
            } else {
                ", undone"
            };
            let why = match d.author.why.as_str() {
                "" => String::new(),
                why => format!(": {why}"),
            };
            let _ = writeln!(
                out,
                "{:<5}{} {}, by {}{undone}{why}",
                d.id.to_string(),
                d.author.at,
                d.act.words(),
                d.author.by
            );
        }
        put(&out)?;
    }
    Ok(Finished::Well)
}

#[derive(Debug, Serialize)]
struct MarkOut {
    format: &'static str,
    #[serde(flatten)]
    item: queue::ItemOut,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    elsewhere: Vec<ElsewhereOut>,
    decisions: Vec<DecisionOut>,
}

/// A mark of another picture that may be a copy of the same label.
#[derive(Debug, Serialize)]
struct ElsewhereOut {
    mark: String,
    picture: String,
    reads: Vec<String>,
    by_a_person: bool,
    chance: f64,
    looks_alike: Option<bool>,
}

impl ElsewhereOut {
    fn new(e: &run::Elsewhere) -> Self {
        ElsewhereOut {
            mark: e.mark.to_string(),
            picture: e.picture.clone(),
            reads: e.reads.clone(),
            by_a_person: e.settled,
            chance: e.chance,
            looks_alike: e.looks_alike,
        }
    }
}

#[derive(Debug, Serialize)]
pub(super) struct DecisionOut {
    format: &'static str,
    decision: String,
    mark: String,
    by: String,
    at: String,
    why: String,
    holds: bool,
    words: String,
    #[serde(flatten)]
    act: Act,
    undo: String,
}

impl DecisionOut {
    pub(super) fn new(d: &Decision, holds: bool) -> Self {
        DecisionOut {
            format: FORMAT,
            decision: d.id.to_string(),
            mark: d.mark.to_string(),
            by: d.author.by.clone(),
            at: d.author.at.clone(),
            why: d.author.why.clone(),
            holds,
            words: d.act.words(),
            act: d.act.clone(),
            undo: format!("dorso settle {} undo {}", d.mark, d.id),
        }
    }
}
