//! The person's choice among the cleaned pictures of a mark, and what was measured of them.

use super::Arguments;
use crate::cli::keeping::{self, StoreOption, quoted};
use crate::decisions::{self, Act, KeptMark, SqliteStore, Store};
use crate::enhance::{self, Variant};
use crate::error::{Error, Kind, Result};
use crate::geometry::Quad;
use crate::marks::{self, Mark};
use crate::photograph::Photograph;

/// For each mark found the one that the store knows at its place; none where there is no store.
pub(super) fn known_marks(
    option: &StoreOption,
    photo: &Photograph,
    found: &[Mark],
) -> Result<Vec<Option<KeptMark>>> {
    let file = option.file()?;
    if !file.exists() {
        return Ok(vec![None; found.len()]);
    }
    tied(&SqliteStore::open_existing(&file)?, photo, found)
}

fn tied(store: &SqliteStore, photo: &Photograph, found: &[Mark]) -> Result<Vec<Option<KeptMark>>> {
    let (number, kept) = store.marks_on(&photo.sha256)?;
    let outlines: Vec<Quad> = found.iter().map(|m| m.outline).collect();
    let tied = decisions::at_places(&kept, number, &outlines);
    Ok(tied
        .into_iter()
        .map(|m| m.map(|m| m.as_on(number)))
        .collect())
}

/// Keeps the person's choice and says so, with the way to undo it and to read by it.
///
/// * `mark`: `m3` as on the sheet, or the mark's number in the store.
pub(super) fn choose(
    arguments: &Arguments,
    photo: &Photograph,
    found: &[Mark],
    mark: &str,
    variant: &str,
) -> Result<String> {
    let mut store = arguments.store.open()?;
    let on_sheet = mark
        .strip_prefix(['m', 'M'])
        .and_then(|n| n.parse::<usize>().ok());
    let kept = match on_sheet {
        Some(n) => {
            let at = n
                .checked_sub(1)
                .filter(|i| *i < found.len())
                .ok_or_else(|| {
                    let range = match found.len() {
                        0 => "no mark was found on it".to_string(),
                        1 => "it has only m1".to_string(),
                        n => format!("it has m1 to m{n}"),
                    };
                    let place = format!("{}, mark {mark}", photo.file.display());
                    Error::new(
                        Kind::Usage,
                        place,
                        range,
                        "give the number that the sheet shows",
                    )
                })?;
            tied(&store, photo, found)?.swap_remove(at)
        }
        None => {
            let id = keeping::mark_id(mark)?;
            let (number, all) = store.marks_on(&photo.sha256)?;
            let found = all
                .into_iter()
                .find(|k| k.sightings.iter().any(|s| s.id == id));
            found.map(|k| k.as_on(number))
        }
    };
    let kept = kept.ok_or_else(|| {
        Error::new(
            Kind::Store,
            format!("{}, mark {mark}", photo.file.display()),
            "the store knows no such mark on this photograph, so the choice can't be kept with it",
            format!(
                "read the photograph first: dorso read {}{}",
                quoted(&photo.file.display().to_string()),
                arguments.store.again()
            ),
        )
    })?;
    let flat = marks::flatten(
        &photo.picture,
        &Mark {
            kind: kept.kind(),
            outline: kept.latest().outline,
            kind_chance: 1.0,
            lettering: 1.0,
            bearing: None,
        },
    );
    let names: Vec<String> = enhance::variants(&flat.picture)
        .into_iter()
        .map(|v| v.name)
        .collect();
    if !names.iter().any(|n| n == variant) {
        return Err(Error::new(
            Kind::Usage,
            format!("\"{variant}\""),
            "the mark has no cleaned picture of this name that is read",
            format!("give one of {}", names.join(", ")),
        ));
    }
    let act = Act::Variant {
        variant: variant.into(),
    };
    let decision = store.decide(kept.id, &act, &arguments.author.author()?)?;
    let (id, again) = (kept.id, arguments.store.again());
    Ok(format!(
        "{id}: {}, by {} ({}).\nUndo it with: dorso settle {id} undo{again}\n\
         Read by it with: dorso read {}{again}\n",
        act.words(),
        decision.author.by,
        decision.id,
        quoted(&photo.file.display().to_string()),
    ))
}

/// Stands behind the name of a cleaned picture in readings that earlier versions kept, where its letters were as large as
/// photographed.
const OWN_SIZE: &str = "-own-size";

/// Name of the cleaned picture that the mark's last reading was taken from; nothing where nothing was read.
pub(super) fn read_from(kept: &KeptMark) -> Option<&'static str> {
    let reading = &kept.latest().reading;
    if reading.lines.is_empty() {
        return None;
    }
    let voters = &reading.voters;
    let by = |name: &str| {
        let read =
            |v: &String| v.split('/').nth(1).map(|on| on.trim_end_matches(OWN_SIZE)) == Some(name);
        voters.iter().any(read)
    };
    enhance::CHOICE.into_iter().find(|name| by(name))
}

/// What the person chose for a mark, or how to choose.
pub(super) fn words(kept: &KeptMark, photo: &Photograph, again: &str) -> Vec<String> {
    let file = quoted(&photo.file.display().to_string());
    let how = format!(
        "dorso enhance {file} --mark {} --choose PICTURE{again}",
        kept.id
    );
    match &kept.settled.variant {
        Some(held) => vec![format!(
            "Chosen by a person: {} ({}). It is read first when the photograph is read again. Undo \
             it with: dorso settle {} undo {}{again}",
            held.value, held.decision, kept.id, held.decision
        )],
        None => vec![format!(
            "If you read another one better, choose it with: {how}"
        )],
    }
}

/// Which picture is read first, with what was measured of it and of the others.
pub(super) fn why(variants: &[Variant]) -> Vec<String> {
    let [first, rest @ ..] = variants else {
        return Vec::new();
    };
    let Some(merit) = first.merit else {
        return vec![format!(
            "First in the usual order: {}. No lettering was found on which the pictures could be \
             measured.",
            first.name
        )];
    };
    let figures = |m: &enhance::Merit| {
        format!(
            "lettering {:.1} deviations off its ground, {:.0}% of the ink in letters",
            m.apart,
            100.0 * m.in_letters
        )
    };
    let mut out = format!(
        "First in the usual order: {}; measured: {}",
        first.name,
        figures(&merit)
    );
    let others: Vec<String> = rest
        .iter()
        .filter_map(|v| v.merit.map(|m| format!("{} {}", v.name, figures(&m))))
        .collect();
    if !others.is_empty() {
        out += &format!(". Beside it: {}", others.join("; "));
    }
    let choice: Vec<&str> = rest
        .iter()
        .map(|v| v.name.as_str())
        .filter(|n| enhance::CHOICE.contains(n))
        .collect();
    let mut all = vec![out + "."];
    if !choice.is_empty() {
        all.push(format!(
            "Where {} isn't read clearly, these are read too: {}; that whose letters are the clearest counts.",
            first.name,
            choice.join(", ")
        ));
    }
    all
}
