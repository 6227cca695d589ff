//! `dorso settle`: records what a person decides about a mark, or undoes it.

use super::keeping::{self, AuthorOptions, StoreOption, usage};
use super::{Finished, Outcome, put, put_json};
use crate::decisions::{Act, Decision, KeptMark, MarkId, SqliteStore, Store};
use crate::error::Result;
use crate::photograph::Photograph;
use crate::run;
use clap::Subcommand;
use std::collections::BTreeSet;
use std::path::PathBuf;

mod deed;
mod told;

use deed::act;
use told::{DecisionOut, by_this_reading, next, seen_as, show, told};

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
