//! `dorso observe`: keeps what a person sees on the object beside the lettering.

use super::keeping::{self, AuthorOptions, StoreOption, usage};
use super::{Finished, Outcome, put, put_json, side};
use crate::decisions::{
    Deed, EventHeld, Happening, Observation, ObservationId, Sight, Store, UNITS, sides, standing,
};
use crate::error::{Error, Kind, Result};
use crate::evidence::{Choice, Feature, features, standard_sizes, unlike};
use crate::limits::TEXT_BYTES;
use crate::note::told::{self, ToldLink};
use std::fmt::Write as _;
use std::io::Read as _;
use std::path::PathBuf;

/// Arguments of the command.
#[derive(clap::Args, Debug)]
pub(crate) struct Arguments {
    /// The picture (its name or the beginning of it)
    #[arg(value_name = "PICTURE")]
    picture: String,
    /// What is seen: FEATURE=CHOICE (support=millboard), or the size of the support, height first:
    /// size=30x25in (in, cm or mm); none: tells what is kept and what can be chosen
    #[arg(value_name = "FEATURE=CHOICE")]
    seen: Vec<String>,
    /// Keep something that befell the object: owned, bought, inherited, given, bequeathed, sold,
    /// consigned, dealt (was with a dealer), exhibited, confiscated, restituted
    #[arg(long, value_name = "DEED", conflicts_with_all = ["seen", "undo"], requires = "who")]
    event: Option<String>,
    /// The owner, dealer, auction house or exhibition of the event
    #[arg(long, value_name = "NAME", requires = "event")]
    who: Option<String>,
    /// Town of the event
    #[arg(long, value_name = "TOWN", default_value = "", requires = "event")]
    place: String,
    /// Date of the event: 1932, 1932-05-14, c. 1890, 1888-95, 1930s (kept as EDTF)
    #[arg(long, value_name = "DATE", default_value = "", requires = "event")]
    when: String,
    /// How the event is known, or what the text of provenance is taken from: a document, a person
    #[arg(long, value_name = "TEXT", default_value = "")]
    source: String,
    /// Keep a text of provenance, as an old catalogue has it (a file, or - for standard input): taken
    /// apart link by link by the punctuation of the AAM guide and shown beside the text
    #[arg(long, value_name = "FILE|-", conflicts_with_all = ["seen", "undo", "event"])]
    provenance: Option<PathBuf>,
    /// Only show how the text is taken apart; keep nothing
    #[arg(long, requires = "provenance")]
    look: bool,
    /// The event is probably so
    #[arg(long, requires = "event", conflicts_with = "possibly")]
    probably: bool,
    /// The event is possibly so
    #[arg(long, requires = "event")]
    possibly: bool,
    /// It is shown that it passed from here directly to the next
    #[arg(long, requires = "event")]
    direct: bool,
    /// Say which side of the object a photograph of the picture (its name) shows, with --side: what
    /// photographs of different sides show is never taken for one mark
    #[arg(long, value_name = "NAME", conflicts_with_all = ["seen", "undo", "event", "provenance"], requires = "side")]
    photograph: Option<String>,
    /// back, front, edge, or frame (the back of a frame taken off)
    #[arg(long, value_name = "SIDE", requires = "photograph")]
    side: Option<String>,
    /// Folder of your lists, for what marks name once photographs are laid apart
    #[arg(long, value_name = "DIR")]
    gazetteer: Option<PathBuf>,
    /// Undo this observation or event (o3)
    #[arg(long, value_name = "NUMBER", conflicts_with = "seen")]
    undo: Option<String>,
    #[command(flatten)]
    store: StoreOption,
    #[command(flatten)]
    author: AuthorOptions,
    /// Print one JSON document
    #[arg(long)]
    json: bool,
}

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Outcome {
    let list = features()?;
    // All are understood before the first is kept
    let sights: Vec<Sight> = match &arguments.undo {
        Some(which) => vec![Sight::Undo {
            undoes: ObservationId::parse(which).ok_or_else(|| {
                usage(
                    which,
                    "this is no number of an observation",
                    "give it as it was printed, such as o3",
                )
            })?,
        }],
        None if arguments.event.is_some() => vec![event(&arguments)?],
        None if arguments.provenance.is_some() => vec![handed_in(&arguments)?],
        None => arguments
            .seen
            .iter()
            .map(|s| sight(s, &list))
            .collect::<Result<_>>()?,
    };
    let mut store = arguments.store.open()?;
    let picture = keeping::picture(&store, &arguments.picture)?;
    let shows = match (&arguments.photograph, &arguments.side) {
        (Some(name), Some(side)) => Some(side::shows(name, side, &picture)?),
        _ => None,
    };
    let sights: Vec<Sight> = sights.into_iter().chain(shows).collect();
    let before = sides(&store.observations(Some(picture.id))?);
    let mut out = String::new();
    if arguments.look {
        return look(&sights, arguments.json);
    }
    if !sights.is_empty() {
        let author = arguments.author.author()?;
        for s in &sights {
            let kept = store.observe(picture.id, s, &author)?;
            let _ = writeln!(out, "{}", told(&kept, &list));
        }
    }
    let all = store.observations(Some(picture.id))?;
    if sides(&all) != before {
        let by = arguments.author.author()?.by;
        let file = arguments.store.file()?;
        side::lay_anew(
            &mut store,
            &file,
            picture.id,
            arguments.gazetteer.as_deref(),
            &by,
        )?;
    }
    let holds = standing(&all);
    for u in unlike(&holds).iter().filter(|_| !sights.is_empty()) {
        let _ = writeln!(
            out,
            "These can't both be so: {} ({}, {}). Take one back: dorso observe PICTURE --undo NUMBER.",
            u.words, u.first, u.second
        );
    }
    if arguments.json {
        put_json(&serde_json::json!({
            "format": "dorso.observations/1",
            "picture": picture.name,
            "observations": holds,
            "choices": list,
        }))?;
        return Ok(Finished::Well);
    }
    if sights.is_empty() {
        let _ = writeln!(
            out,
            "{}: {} observation{}.",
            picture.name,
            holds.len(),
            if holds.len() == 1 { "" } else { "s" }
        );
        for o in &holds {
            let _ = writeln!(out, "  {}", told(o, &list));
        }
        out.push_str("What can be chosen, as FEATURE=CHOICE:\n");
        for f in &list {
            let names: Vec<&str> = f.choices.iter().map(|c| c.choice.as_str()).collect();
            let _ = writeln!(out, "  {}: {}", f.feature, names.join(", "));
        }
        out.push_str("  size: HEIGHTxWIDTH with in, cm or mm\nLook without opening, lifting or peeling anything; ask a conservator for more.\n");
    }
    put(&out)?;
    Ok(Finished::Well)
}

fn event(a: &Arguments) -> Result<Sight> {
    let named = a.event.clone().unwrap_or_default();
    let deed = Deed::parse(&named.trim().to_lowercase()).ok_or_else(|| {
        let known = Deed::ALL.map(Deed::as_str).join(", ");
        usage(
            &named,
            "this is nothing that befalls a picture here",
            format!("give one of {known}"),
        )
    })?;
    let held = match (a.probably, a.possibly) {
        (true, _) => EventHeld::Probably,
        (_, true) => EventHeld::Possibly,
        _ => EventHeld::Documented,
    };
    Ok(Sight::Event(
        Happening {
            deed,
            who: a.who.clone().unwrap_or_default(),
            place: a.place.clone(),
            when: a.when.clone(),
            source: a.source.clone(),
            held,
            direct: a.direct,
        }
        .checked()?,
    ))
}

/// The text of provenance in the file named.
fn handed_in(a: &Arguments) -> Result<Sight> {
    /// Longer than any line of provenance, bytes.
    const MOST: u64 = 1_000_000;
    let file = a.provenance.clone().unwrap_or_default();
    let place = file.display().to_string();
    let fault = |what: String, next: &str| Error::new(Kind::Text, &place, what, next);
    let mut bytes = Vec::new();
    let read = match place.as_str() {
        "-" => std::io::stdin().take(MOST + 1).read_to_end(&mut bytes),
        _ => TEXT_BYTES.read(&file).map(|read| {
            bytes = read;
            bytes.len()
        }),
    };
    read.map_err(|e| {
        fault(
            format!("it can't be read ({e})"),
            "name a text file with the lines of provenance",
        )
    })?;
    if bytes.len() as u64 > MOST {
        return Err(fault(
            "it is longer than any line of provenance".into(),
            "give the lines of one picture alone",
        ));
    }
    let text = String::from_utf8(bytes).map_err(|_| {
        fault(
            "it is no text in UTF-8".into(),
            "save it as plain text in UTF-8",
        )
    })?;
    let text = text.trim_start_matches('\u{feff}').trim().to_owned();
    if text.is_empty() {
        return Err(fault(
            "it is empty".into(),
            "paste the lines of provenance into it",
        ));
    }
    let source = a.source.trim().to_owned();
    if source.is_empty() && !a.look {
        return Err(usage(
            "--source",
            "it isn't said what the text is taken from",
            "give the catalogue, the file or the person: --source \"Sale catalogue, 1951\"",
        ));
    }
    Ok(Sight::Provenance { text, source })
}

/// Shows how a text is taken apart.
fn look(sights: &[Sight], json: bool) -> Outcome {
    for s in sights {
        let Sight::Provenance { text, .. } = s else {
            continue;
        };
        let links = told::links(text);
        match json {
            true => put_json(&serde_json::json!({
                "format": "dorso.provenance/1",
                "text": text,
                "links": links.iter().map(told::rows).collect::<Vec<_>>(),
            }))?,
            false => put(&beside(&links))?,
        }
    }
    Ok(Finished::Well)
}

/// Each link as it stands, and below it what was understood.
fn beside(links: &[ToldLink]) -> String {
    let mut out = String::new();
    let left = links.iter().filter(|l| l.is_text()).count();
    for (i, l) in links.iter().enumerate() {
        let _ = writeln!(out, "{:>3}  {}", i + 1, l.text);
        for (what, value) in told::rows(l) {
            let _ = writeln!(out, "       {what}: {value}");
        }
    }
    let _ = writeln!(
        out,
        "{} link{}, {left} left as text.",
        links.len(),
        if links.len() == 1 { "" } else { "s" }
    );
    out
}

fn sight(text: &str, list: &[Feature]) -> Result<Sight> {
    let names: Vec<&str> = list.iter().map(|f| f.feature.as_str()).collect();
    let Some((feature, choice)) = text.split_once('=') else {
        return Err(usage(
            text,
            "this is no observation",
            "write FEATURE=CHOICE, such as support=millboard",
        ));
    };
    let (feature, choice) = (feature.trim().to_lowercase(), choice.trim().to_lowercase());
    if feature == "size" {
        return size(text, &choice);
    }
    let Some(f) = list.iter().find(|f| f.feature == feature) else {
        return Err(usage(
            text,
            format!("there is no feature \"{feature}\""),
            format!("give one of {}, size", names.join(", ")),
        ));
    };
    if f.choice(&choice).is_none() {
        let choices: Vec<&str> = f.choices.iter().map(|c| c.choice.as_str()).collect();
        return Err(usage(
            text,
            format!("\"{choice}\" is no choice of {feature}"),
            format!("give one of {}", choices.join(", ")),
        ));
    }
    Ok(Sight::Feature { feature, choice })
}

/// `30x25in`, `76.2 x 63.5 cm`, `762x635mm`.
fn size(whole: &str, text: &str) -> Result<Sight> {
    let wrong = || {
        usage(
            whole,
            "this is no size",
            "write height and width with the unit, such as size=30x25in or size=76.2x63.5cm",
        )
    };
    let text = text.replace(' ', "");
    let of = |(unit, _): &(&str, f64)| {
        let (height, width) = text.strip_suffix(unit)?.split_once(['x', '×'])?;
        Sight::size(height, width, unit)
    };
    UNITS.iter().find_map(of).ok_or_else(wrong)
}

fn told(o: &Observation, list: &[Feature]) -> String {
    let head = format!("{} ({}): ", o.id, o.author.by);
    let found = |feature: &str, choice: &str| -> Option<Choice> {
        let f = list.iter().find(|f| f.feature == feature)?;
        f.choice(choice).cloned()
    };
    match &o.sight {
        Sight::Undo { undoes } => format!("{head}undoes {undoes}."),
        Sight::Provenance { text, source } => {
            let shown = beside(&told::links(text));
            format!(
                "{head}text of provenance. Source: {source}.\n{}",
                shown.trim_end()
            )
        }
        Sight::Shows { name, side, .. } => format!("{head}{name} shows the {}.", side.as_str()),
        Sight::Wording {
            length,
            passage,
            words,
            ..
        } => {
            format!("{head}wording of {length} {passage}: {words}")
        }
        Sight::Event(h) => {
            let parts = [h.who.as_str(), &h.place, &h.when];
            let parts: Vec<&str> = parts.into_iter().filter(|p| !p.is_empty()).collect();
            format!(
                "{head}{}: {}. Source: {}.",
                h.deed.as_str(),
                parts.join(", "),
                h.source.trim_end_matches('.')
            )
        }
        Sight::Size { height, width } => {
            let sizes = standard_sizes(*height, *width);
            let names: Vec<String> = sizes
                .iter()
                .map(|m| format!("{} {}, by {}", m.trade, m.name, m.source))
                .collect();
            let fits = if names.is_empty() {
                "none of the standard sizes".to_string()
            } else {
                names.join("; ")
            };
            format!("{head}{height:.0} x {width:.0} mm: {fits}.")
        }
        Sight::Feature { feature, choice } => match found(feature, choice) {
            None => format!("{head}{feature}={choice}."),
            Some(c) => {
                let date = match (c.not_before.as_str(), c.not_after.as_str()) {
                    ("", "") => "no date".to_string(),
                    (a, "") => format!("not before {a}"),
                    ("", b) => format!("not after {b}"),
                    (a, b) => format!("{a} to {b}"),
                };
                let sure = c.sure.map_or("", |s| s.told());
                let sure = if sure.is_empty() {
                    String::new()
                } else {
                    format!(" ({sure})")
                };
                let caution = if c.caution.is_empty() {
                    String::new()
                } else {
                    format!(" Caution: {}.", c.caution)
                };
                format!(
                    "{head}{feature}={choice}: {}; {date}{sure}. Source: {}.{caution}",
                    c.means, c.source
                )
            }
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_understood_in_every_unit_and_nonsense_is_refused() {
        let list = features().unwrap();
        let mm = |t: &str| match sight(t, &list) {
            Ok(Sight::Size { height, width }) => Some((height.round(), width.round())),
            _ => None,
        };
        assert_eq!(mm("size=30x25in"), Some((762.0, 635.0)));
        assert_eq!(mm("size=76,2 x 63,5 cm"), Some((762.0, 635.0)));
        assert_eq!(mm("SIZE=762×635mm"), Some((762.0, 635.0)));
        for wrong in [
            "size=30x25",
            "size=in",
            "size=0x10cm",
            "size=-3x9cm",
            "size=nanx3cm",
            "size=infx3mm",
        ] {
            assert_eq!(mm(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn a_slip_is_answered_with_what_can_be_chosen() {
        let list = features().unwrap();
        let e = sight("support=milboard", &list).unwrap_err().to_string();
        assert!(e.contains("millboard") && e.contains("plywood"), "{e}");
        let e = sight("suport=panel", &list).unwrap_err().to_string();
        assert!(e.contains("support, stretcher"), "{e}");
    }
}
