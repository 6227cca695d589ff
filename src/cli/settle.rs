//! `dorso settle`: records what a person decides about a mark, or undoes it.

use super::keeping::{self, AuthorOptions, StoreOption, usage};
use super::queue::{Places, proposal_words, today};
use super::{Finished, Outcome, put, put_json};
use crate::decisions::{
    self, Act, Bearer, Decision, DecisionId, DoubtKind, KeptMark, MarkId, SqliteStore, Store,
    Taken, holding, item, last_to_undo, queue,
};
use crate::error::{Error, Kind, Result};
use crate::marks::MarkKind;
use crate::photograph::Photograph;
use crate::proposals::Proposal;
use crate::readings;
use crate::run;
use clap::Subcommand;
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Name and version of the JSON.
const FORMAT: &str = "dorso.decision/1";

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// The mark, as dorso queue names it (1b); alone, tells all that is kept about it. Several with
    /// commas between them (1b,3d) are said to be no marks or unreadable, or put off, at once
    #[arg(value_name = "MARK")]
    mark: String,
    #[command(subcommand)]
    deed: Option<Deed>,
    #[command(flatten)]
    store: StoreOption,
    #[command(flatten)]
    author: AuthorOptions,
    /// Print one JSON document
    #[arg(long, global = true)]
    json: bool,
    /// Folder of the lists, for entries that the program didn't propose
    #[arg(long, value_name = "DIR", global = true)]
    gazetteer: Option<PathBuf>,
}

/// What is decided.
#[derive(Subcommand, Debug)]
enum Deed {
    /// It names this proposal (its number), or this entry of the lists
    Take {
        /// Number of the proposal, or key of an entry
        #[arg(value_name = "N|ENTRY")]
        which: String,
        /// The list, where several have an entry of that key
        #[arg(long, value_name = "NAME")]
        list: Option<String>,
    },
    /// It names no entry of the lists (or of this list)
    None {
        /// Only of this list
        #[arg(value_name = "LIST")]
        list: Option<String>,
    },
    /// It reads so
    Read {
        /// / between spaces parts lines; a dot below (U+0323) an unclear letter; [..] so many
        /// lost, [---] a number not known, [abc] supplied by you
        #[arg(value_name = "TEXT")]
        text: String,
    },
    /// Some of its words are the title, the lender, the lot, ... or state nothing
    Says {
        /// title, artist, lender, owner, lot, exhibition_year, ..., or nothing
        #[arg(value_name = "WHAT")]
        role: String,
        /// The words, as they stand in the reading
        #[arg(value_name = "WORDS")]
        words: String,
        /// What they say, where it isn't those words: a year as EDTF, a name without courtesies
        #[arg(long, value_name = "TEXT", default_value = "")]
        value: String,
    },
    /// A person looked and can't read it
    Unreadable,
    /// You looked at what doesn't fit together, and it stays as it is
    Stands,
    /// Somebody else is to be asked
    Ask {
        /// Who
        #[arg(value_name = "WHOM", num_args = 1.., required = true)]
        whom: Vec<String>,
    },
    /// Put off: after everything else, or until a day
    Later {
        /// A date (2024-06-01), or days, weeks or months from now (3d, 2w, 1m)
        #[arg(value_name = "WHEN")]
        when: Option<String>,
    },
    /// It is no mark at all: a shadow, a knot, a tear
    NotAMark,
    /// It is a mark of this kind
    Kind {
        /// printed_label, written_label, inscription, stamp, stencil, monogram, unknown
        #[arg(value_name = "KIND")]
        kind: String,
    },
    /// It is on this part of the object
    On {
        /// support, stretcher, slip, frame, backing, glass
        #[arg(value_name = "PART")]
        part: String,
        /// A second part that it runs over, unbroken
        #[arg(long, value_name = "PART")]
        over: Option<String>,
    },
    /// It is the same mark as another, seen on another photograph
    Same {
        /// The other mark
        #[arg(value_name = "MARK")]
        with: String,
    },
    /// One photograph shows another mark than the others do: give the number of its sighting as MARK,
    /// or say here than which
    Apart {
        /// Than this sighting alone
        #[arg(value_name = "MARK")]
        from: Option<String>,
    },
    /// Undo the last decision about this mark, or the one named
    Undo {
        /// Number of the decision, as printed when it was made (d12); may itself be an undoing
        #[arg(value_name = "DECISION")]
        which: Option<String>,
    },
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let ids = arguments.mark.split(',').map(keeping::mark_id);
    let ids: Vec<MarkId> = ids.collect::<Result<_>>()?;
    if ids.len() > 1 {
        for_several(&arguments)?;
    }
    let mut store = arguments.store.open()?;
    let clues = super::note::own_clues(arguments.gazetteer.as_deref())?;
    let mut pictures = BTreeSet::new();
    for id in &ids {
        let name = store.mark(*id)?.picture;
        pictures.insert(keeping::picture(&store, &name)?.id);
    }
    for picture in &pictures {
        keeping::hold_changed(&mut store, &clues, Some(*picture))?;
    }
    let marks = ids.iter().map(|id| store.mark(*id));
    let marks: Vec<KeptMark> = marks.collect::<Result<_>>()?;
    let Some(deed) = &arguments.deed else {
        return show(&store, &marks[0], arguments.json);
    };
    // All are understood before the first is kept
    let acts = marks.iter().map(|m| act(deed, m, &store, &arguments));
    let acts: Vec<Act> = acts.collect::<Result<_>>()?;
    let author = arguments.author.author()?;
    let mut decisions = Vec::new();
    for (id, act) in ids.iter().zip(&acts) {
        decisions.push(store.decide(*id, act, &author)?);
    }
    for id in &ids {
        look(&mut store, *id, &arguments)?;
    }
    let to_read = store.unread_together()?;
    for picture in pictures {
        if to_read.contains(&picture) {
            let file = arguments.store.file()?;
            let (index, _) = super::read::lists(arguments.gazetteer.as_deref(), Some(&file))?;
            run::together::read_together(&mut store, picture, &index)?;
        }
        keeping::hold_changed(&mut store, &clues, Some(picture))?;
    }
    tell(&decisions, &marks, &store, &arguments)?;
    Ok(Finished::Well)
}

/// Looks at a mark that is said to be a monogram now.
fn look(store: &mut SqliteStore, id: MarkId, arguments: &Arguments) -> Result<()> {
    if !matches!(arguments.deed, Some(Deed::Kind { .. })) {
        return Ok(());
    }
    let mark = store.mark(id)?;
    let Some(picture) = store.picture_of(mark.photograph)? else {
        return Ok(());
    };
    let file = arguments.store.file()?;
    let (index, _) = super::read::lists(arguments.gazetteer.as_deref(), Some(&file))?;
    let seen = run::signs::look(store, &mark, &picture.photographs, |p, outline, lines| {
        let photo = p.open().ok();
        let sign = |p: Photograph| run::signs::seen(&p.picture, outline, lines, &index);
        photo.map(sign).transpose()
    })?;
    if !seen {
        super::tell(&usage(
            &id.to_string(),
            "its photograph isn't where it was, so its letters can't be looked at",
            "read it again from its new place, then say once more what kind it is",
        ));
    }
    Ok(())
}

/// Letters seen of a monogram, with their chances; nothing of other marks.
fn seen_as(mark: &KeptMark) -> String {
    let sign = mark.latest().sign.as_ref();
    let Some(sign) = sign.filter(|_| mark.kind() == MarkKind::Monogram) else {
        return String::new();
    };
    let two = crate::decisions::two;
    let sets = sign.seen.told().iter();
    let sets: Vec<String> = sets
        .map(|s| format!("{} {}", s.letters, two(s.chance)))
        .collect();
    let mut out = format!(
        "     Its letters, whatever their order: {}; others, or none {}\n",
        sets.join(", "),
        two(sign.seen.other())
    );
    for p in sign.rivals.iter().flat_map(|r| r.proposals.iter().take(5)) {
        let _ = writeln!(out, "     {}: chance {}", p.name, two(p.probability));
    }
    out
}

/// Whether what is decided can be said of several marks at once: of those that nobody read.
fn for_several(arguments: &Arguments) -> Result<()> {
    match &arguments.deed {
        Some(Deed::NotAMark | Deed::Unreadable | Deed::Later { .. }) => Ok(()),
        _ => Err(usage(
            &arguments.mark,
            "this can't be said of several marks at once",
            "say not-a-mark, unreadable or later of them, or name one",
        )),
    }
}

/// Prints what was recorded and which mark comes next.
fn tell(
    decisions: &[Decision],
    marks: &[KeptMark],
    store: &SqliteStore,
    arguments: &Arguments,
) -> Result<()> {
    if arguments.json {
        let all: Vec<_> = decisions
            .iter()
            .map(|d| DecisionOut::new(d, true))
            .collect();
        return match &all[..] {
            [one] => put_json(one),
            several => put_json(&several),
        };
    }
    let mut out = String::new();
    for (decision, mark) in decisions.iter().zip(marks) {
        out.push_str(&told(decision, store, arguments)?);
        if let Act::Read { lines } = &decision.act {
            let picture = keeping::picture(store, &mark.picture)?.id;
            let said = by_this_reading(lines, mark, picture, store, arguments);
            out.push_str(&said);
        }
        if let Act::Kind { .. } = &decision.act {
            out.push_str(&seen_as(&store.mark(decision.mark)?));
        }
    }
    if let Some(last) = marks.last() {
        out.push_str(&next(store, last)?);
    }
    put(&out)
}

/// The first thing about a mark that doesn't fit, left as it is.
fn stands(mark: &KeptMark) -> Result<Act> {
    let doubts = item(mark, &today()).doubts;
    let unfit = |k: DoubtKind| matches!(k, DoubtKind::Conflict | DoubtKind::Missing);
    match doubts.into_iter().find(|d| unfit(d.kind)) {
        Some(d) => Ok(Act::Stands { words: d.words }),
        None => Err(usage(
            "stands",
            "nothing about this mark is told not to fit",
            "see dorso settle NUMBER for what is in doubt",
        )),
    }
}

fn act(deed: &Deed, mark: &KeptMark, store: &SqliteStore, a: &Arguments) -> Result<Act> {
    Ok(match deed {
        Deed::Take { which, list } => Act::Take(take(which, list.as_deref(), mark, a)?),
        Deed::None { list } => Act::Unlisted { list: list.clone() },
        Deed::Read { text } => {
            let lines = readings::from_typed(text)?;
            if lines.is_empty() {
                return Err(usage(
                    "TEXT",
                    "there is nothing to read in it",
                    "type what stands on the mark, or say unreadable",
                ));
            }
            Act::Read {
                lines: lines.into_iter().map(|l| l.leiden).collect(),
            }
        }
        Deed::Says { role, words, value } => decisions::says(mark, role, words, value)?,
        Deed::Unreadable => Act::Unreadable,
        Deed::Stands => stands(mark)?,
        Deed::Ask { whom } => Act::Ask {
            whom: whom.join(" "),
        },
        Deed::Later { when: None } => Act::PutOff { until: None },
        Deed::Later { when: Some(when) } => Act::PutOff {
            until: Some(day(when, &today())?),
        },
        Deed::NotAMark => Act::NotAMark,
        Deed::Kind { kind } => {
            let name = kind.replace([' ', '-'], "_");
            let known = MarkKind::ALL.map(MarkKind::as_str).join(", ");
            Act::Kind {
                kind: MarkKind::parse(&name).ok_or_else(|| {
                    usage(
                        kind,
                        "this is no kind of mark",
                        format!("give one of {known}"),
                    )
                })?,
            }
        }
        Deed::On { part, over } => {
            let bearer = self::part(part)?;
            let bridging = over.as_deref().map(self::part).transpose()?;
            if bridging == Some(bearer) {
                return Err(usage(
                    part,
                    "the two parts are the same",
                    "name two, or leave --over out",
                ));
            }
            Act::On { bearer, bridging }
        }
        Deed::Same { with } => Act::Same {
            with: keeping::mark_id(with)?,
        },
        Deed::Apart { from: Some(from) } => Act::Apart {
            from: vec![keeping::mark_id(from)?],
        },
        Deed::Apart { from: None } => {
            let own = keeping::mark_id(&a.mark)?;
            let others = mark.sightings.iter().map(|s| s.id).filter(|id| *id != own);
            Act::Apart {
                from: others.collect(),
            }
        }
        Deed::Undo { which: Some(which) } => Act::Undo {
            undoes: DecisionId::parse(which).ok_or_else(|| {
                usage(
                    which,
                    "this is no decision",
                    "give its number, for example d12",
                )
            })?,
        },
        Deed::Undo { which: None } => {
            let journal = store.journal_of(mark.id)?;
            let last = last_to_undo(&journal).ok_or_else(|| {
                Error::new(
                    Kind::Store,
                    format!("mark {}", mark.id),
                    "no decision about it holds, so there is nothing to undo",
                    format!(
                        "see dorso settle {} for what was decided and undone",
                        mark.id
                    ),
                )
            })?;
            Act::Undo { undoes: last.id }
        }
    })
}

fn take(which: &str, list: Option<&str>, mark: &KeptMark, a: &Arguments) -> Result<Taken> {
    let numbered = mark.numbered();
    if let Ok(n) = which.parse::<usize>()
        && list.is_none()
    {
        return match n.checked_sub(1).and_then(|i| numbered.get(i)) {
            Some(p) => Ok((*p).into()),
            None => Err(Error::new(
                Kind::Usage,
                format!("mark {}", mark.id),
                match numbered.len() {
                    0 => format!("there is no proposal {n}: the program made none"),
                    1 => format!("there is no proposal {n}, only one"),
                    k => format!("there is no proposal {n}, only 1 to {k}"),
                },
                format!(
                    "see dorso settle {}, or give the key of an entry of your lists",
                    mark.id
                ),
            )),
        };
    }
    if let Some(p) = mark.proposed(list, which) {
        return Ok(p.into());
    }
    let store = a.store.file()?;
    let (index, _) = super::read::lists(a.gazetteer.as_deref(), Some(&store))?;
    let found: Vec<_> = index
        .gazetteer
        .entries()
        .filter(|e| e.entry == which && list.is_none_or(|l| l == e.list))
        .collect();
    match found[..] {
        [e] => Ok(e.into()),
        [] => Err(Error::new(
            Kind::Usage,
            format!("\"{which}\""),
            "neither the proposals for this mark nor the lists have an entry of this key",
            format!(
                "see dorso settle {} for the proposals, or name the folder of your lists with --gazetteer DIR",
                mark.id
            ),
        )),
        _ => Err(usage(
            which,
            "several lists have an entry of this key",
            "say which with --list NAME",
        )),
    }
}

fn part(name: &str) -> Result<Bearer> {
    Bearer::parse(name).ok_or_else(|| {
        let known = Bearer::ALL.map(Bearer::as_str).join(", ");
        usage(
            name,
            "this is no part of the object",
            format!("give one of {known}"),
        )
    })
}

/// An ISO date, or so many days, weeks or months after `today`.
fn day(text: &str, today: &str) -> Result<String> {
    let wrong = || {
        usage(
            text,
            "this is no day to come",
            "give a date such as 2030-06-01, or 3d, 2w or 1m from now",
        )
    };
    let now: jiff::civil::Date = today.parse().map_err(|_| wrong())?;
    let date = match text.parse::<jiff::civil::Date>() {
        Ok(date) => date,
        Err(_) => {
            let unit = text.chars().last().ok_or_else(wrong)?;
            let count: i64 = text[..text.len() - unit.len_utf8()]
                .parse()
                .map_err(|_| wrong())?;
            if !(1..=1000).contains(&count) {
                return Err(wrong());
            }
            let span = jiff::Span::new();
            let span = match unit {
                'd' => span.days(count),
                'w' => span.weeks(count),
                'm' => span.months(count),
                _ => return Err(wrong()),
            };
            now.checked_add(span).map_err(|_| wrong())?
        }
    };
    if date <= now {
        Err(wrong())
    } else {
        Ok(date.to_string())
    }
}

/// What was recorded, and how to undo it.
fn told(d: &Decision, store: &SqliteStore, a: &Arguments) -> Result<String> {
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
fn by_this_reading(
    lines: &[String],
    mark: &KeptMark,
    picture: i64,
    store: &SqliteStore,
    a: &Arguments,
) -> String {
    let file = a.store.file().ok();
    let Ok((index, _)) = super::read::lists(a.gazetteer.as_deref(), file.as_deref()) else {
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
fn next(store: &SqliteStore, mark: &KeptMark) -> Result<String> {
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
            super::queue::transcription(&store.mark(*id)?)
        ),
        None => format!("{count}: this one.\n"),
    })
}

fn show(store: &SqliteStore, mark: &KeptMark, json: bool) -> Outcome {
    let journal: Vec<Decision> = store.journal_of(mark.id)?.into_iter().collect();
    let holding = holding(&journal);
    let marks = [mark.clone()];
    let mut copies = run::copies(store, mark)?;
    run::look(mark, &mut copies);
    let elsewhere = &copies.found;
    let places = Places::new(&copies.pictures);
    for item in queue(&marks, &today()) {
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
            let _ = write!(out, "     It states\n{}", super::fields::told(&states));
        }
        for r in &mark.rivals {
            let chance = crate::decisions::two(r.unlisted);
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
    item: super::queue::ItemOut,
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
struct DecisionOut {
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
    fn new(d: &Decision, holds: bool) -> Self {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_to_come_may_be_a_date_or_a_time_from_now() {
        let on = |t: &str| day(t, "2024-01-31").ok();
        assert_eq!(on("2024-02-01").as_deref(), Some("2024-02-01"));
        assert_eq!(on("3d").as_deref(), Some("2024-02-03"));
        assert_eq!(on("2w").as_deref(), Some("2024-02-14"));
        assert_eq!(on("1m").as_deref(), Some("2024-02-29"));
    }

    #[test]
    fn a_day_that_is_past_or_no_day_is_refused() {
        for t in [
            "2024-01-31",
            "2023-12-24",
            "0d",
            "-3d",
            "3x",
            "",
            "wé",
            "99999999999999999999d",
            "1001m",
        ] {
            assert!(day(t, "2024-01-31").is_err(), "{t}");
        }
    }
}
