//! Phrases of the desk with something to fill in.

use crate::decisions::{Bearer, two};
use crate::marks::Bearing;
use crate::readings::writing::Writing;

/// "1 mark", "2 marks".
pub(super) fn count(n: usize, noun: &str) -> String {
    if n == 1 {
        format!("1 {noun}")
    } else {
        format!("{n} {noun}s")
    }
}

pub fn count_pictures(n: usize) -> String {
    count(n, "picture")
}

pub fn count_photographs(n: usize) -> String {
    count(n, "photograph")
}

pub fn count_marks(n: usize) -> String {
    count(n, "mark")
}

pub fn count_due(n: usize) -> String {
    if n == 1 {
        "1 mark needs you".into()
    } else {
        format!("{n} marks need you")
    }
}

pub fn count_waiting(n: usize) -> String {
    if n == 1 {
        "1 mark waits for a day or an answer".into()
    } else {
        format!("{n} marks wait for a day or an answer")
    }
}

pub fn count_second(n: usize) -> String {
    if n == 1 {
        "1 mark is to be read a second time.".into()
    } else {
        format!("{n} marks are to be read a second time.")
    }
}

pub fn settled_of(settled: usize, all: usize) -> String {
    format!("{settled} of {all} settled or clear")
}

pub fn settle_of(due: usize, picture: &str) -> String {
    format!("{}: settle the marks of {picture}", count_due(due))
}

pub fn note_of(picture: &str) -> String {
    format!("Note of {picture}")
}

pub fn note_title(picture: &str) -> String {
    format!("{picture}: what its back says")
}

pub fn range(first: usize, last: usize, all: usize) -> String {
    format!("{first} to {last} of {all}")
}

pub fn never_a_file(name: &str) -> String {
    format!("The photograph {name} was never seen as a file.")
}

pub fn changed_since(name: &str) -> String {
    format!("The file {name} is no longer the photograph that was read.")
}

pub fn gone(name: &str) -> String {
    format!("The photograph {name} is no longer where it was last seen.")
}

pub fn cant_be_shown(name: &str, why: &str) -> String {
    format!("The photograph {name} can't be shown: {why}.")
}

pub fn until(day: &str) -> String {
    format!("put off until {day}")
}

pub fn waits_for(whom: &str) -> String {
    format!("waits for {whom}")
}

pub fn filling(photograph: &str) -> String {
    format!("filling {photograph}")
}

pub fn place_of(place: &str, photograph: &str) -> String {
    format!("{place} of {photograph}")
}

pub fn back_of(photograph: &str) -> String {
    format!("The back: {photograph}")
}

pub fn shown_on_back(mark: &str, place: &str) -> String {
    format!("The whole back with mark {mark} outlined, {place}")
}

pub fn viewer_words(photograph: &str) -> String {
    format!("Photograph {photograph}; plus and minus bring it nearer and farther, arrows move it")
}

pub fn photograph_with_marks(photograph: &str, marks: usize) -> String {
    format!(
        "Photograph {photograph} with {} outlined",
        count_marks(marks)
    )
}

pub fn outline_words(mark: &str, kind: &str, state: &str) -> String {
    format!("Mark {mark}, {}, {state}", kind.to_lowercase())
}

pub fn mark_title(mark: &str, kind: &str) -> String {
    format!("{mark} {kind}")
}

pub fn copies_of(mark: &str) -> String {
    format!("Copies of mark {mark} on other pictures")
}

pub fn to_mark(mark: &str) -> String {
    format!("mark {mark}")
}

pub fn who_fit(fit: usize) -> String {
    match fit {
        0 => "Nobody on the list of artists has such initials.".into(),
        1 => "One artist on the list may sign so.".into(),
        n => format!("{n} artists on the list may sign so."),
    }
}

pub fn tells_most(fact: &str, then: f64, now: f64) -> String {
    format!("What would tell most: {fact}. It would leave about {then} as open as {now} are now.")
}

pub fn read_mark(mark: &str) -> String {
    format!("Read mark {mark}")
}

pub fn nth_of(n: usize, all: usize) -> String {
    format!("{n} of {all} that need you")
}

pub fn crop_words(text: &str) -> String {
    format!("The mark, upright, read as: {text}")
}

pub fn variant_words(variant: &str, mark: &str) -> String {
    format!("Mark {mark}, {}", variant.to_lowercase())
}

pub fn line_words(n: usize, chance: &str) -> String {
    format!("Line {n}, chance {chance} of being right as a whole")
}

/// How a line is written; print goes without saying.
pub fn written(writing: Writing) -> Option<&'static str> {
    match writing {
        Writing::Print => None,
        Writing::Script => Some("script"),
        Writing::Stencil => Some("stencil"),
        Writing::Typewriting => Some("typewriting"),
        Writing::Stamp => Some("stamp"),
    }
}

/// A list's name as a heading.
pub fn list_title(list: &str) -> String {
    match list {
        "framers" => "Framer".into(),
        "colourmen" => "Artists' colourman".into(),
        "towns" => "Town".into(),
        "exhibitions" => "Exhibition".into(),
        "artists" => "Artist".into(),
        "retailers" => "Retailer".into(),
        "sale_rooms" => "Sale room".into(),
        other => format!("List “{other}”"),
    }
}

/// The question which entry of a list a mark names.
///
/// * `words`: what stands on the mark.
/// * `names`: the first answers, with their years.
pub fn which_entry(list: &str, words: &str, names: &[String]) -> String {
    let (who, else_) = match list {
        "framers" => ("Which framer is", "another"),
        "colourmen" => ("Which artists' colourman is", "another"),
        "towns" => ("Which town is", "another"),
        "exhibitions" => ("Which exhibition is", "another"),
        "artists" => ("Who is", "somebody else"),
        "retailers" => ("Which retailer is", "another"),
        "sale_rooms" => ("Which sale room is", "another"),
        _ => ("Which entry of your list is", "another"),
    };
    format!("{who} “{words}”: {}, or {else_}?", names.join(", "))
}

/// The question which of the entries taken one after the other a mark names.
pub fn which_taken(list: &str) -> String {
    let what = match list {
        "artists" => "artist",
        "framers" | "colourmen" | "retailers" => "firm",
        "exhibitions" => "exhibition",
        "sale_rooms" => "sale room",
        _ => "entry",
    };
    format!("More than one {what} was taken for this one mark. Which is it?")
}

/// Two things seen that exclude each other.
pub fn not_both(words: &str) -> String {
    format!("These can't both be so: {words}. Which is it? Take the other back.")
}

pub fn measured(height: f64, width: f64) -> String {
    format!(
        "Measured: {height:.0} × {width:.0} mm ({:.1} × {:.1} in), height first",
        height / 25.4,
        width / 25.4
    )
}

pub fn why_named(name: &str) -> String {
    format!("Why {name}")
}

pub fn none_of(list: &str) -> String {
    format!("none of your list “{list}”")
}

pub fn names_entry(name: &str, entry: &str) -> String {
    format!("{name} ({entry}), by decision of a person")
}

pub fn years_from(year: &str) -> String {
    format!("from {year}, end not known")
}

pub fn years_to(year: &str) -> String {
    format!("to {year}, beginning not known")
}

pub fn source(source: &str) -> String {
    format!("source: {source}")
}

pub fn chance(chance: &str) -> String {
    format!("chance {chance}")
}

pub fn bearer(b: Bearer) -> &'static str {
    match b {
        Bearer::Support => "support (canvas, panel, board)",
        Bearer::Stretcher => "stretcher or strainer",
        Bearer::Slip => "slip, inset or mount",
        Bearer::Frame => "frame",
        Bearer::Backing => "backing board or dust cover",
        Bearer::Glass => "glass or its edging",
    }
}

/// What a mark may lie on, as the photograph shows it; not set yet.
pub fn bearing(b: &Bearing) -> String {
    let on: Vec<String> =
        b.on.iter()
            .filter(|o| o.1 >= 0.05)
            .map(|(part, p)| format!("{} ({})", part.as_str(), two(*p)))
            .collect();
    let over = b
        .bridges
        .filter(|o| o.1 >= 0.05)
        .map(|(part, p)| format!("; it may run over the {} too ({})", part.as_str(), two(p)));
    format!(
        "Not set yet. The photograph shows: {}{}.",
        on.join(", "),
        over.unwrap_or_default()
    )
}

pub fn told(mark: &str, act: &str) -> String {
    format!("{mark}: {act}. Saved.")
}

pub fn ask_places(count: usize) -> String {
    match count {
        1 => "Does anything stand at this place?".into(),
        n => format!("Does anything stand at these {n} places?"),
    }
}

pub fn nothing_at(count: usize) -> String {
    match count {
        1 => super::NOTHING_STANDS.into(),
        n => format!("Nothing stands at these {n} places"),
    }
}

pub fn place_shown(mark: &str) -> String {
    format!("Place {mark}")
}

pub fn taken_back(mark: &str, act: &str) -> String {
    format!("{mark}: taken back: {act}.")
}

pub fn undo_of(decision: &str) -> String {
    format!("Undo {decision}")
}

pub fn conflict_words(mark: &str) -> String {
    format!(
        "Mark {mark} was decided in another window, or by somebody else, since you looked. Nothing of yours was recorded yet."
    )
}

pub fn give_one_of(names: &str) -> String {
    format!("give one of {names}")
}

pub fn parted(mark: &str) -> String {
    format!("mark {mark} is parted in two")
}

pub fn joined(mark: &str, with: &str) -> String {
    format!("marks {mark} and {with} are one")
}

pub fn dropped_where(folder: &str) -> String {
    format!("Dropped photographs are copied, unaltered, to {folder}.")
}

pub fn brought(n: usize) -> String {
    format!("{} done.", count_photographs(n))
}

/// "2 of 9: back.jpg; about 3 minutes left."
pub fn bringing(n: usize, all: usize, name: &str, left: Option<f64>) -> String {
    let left = match left {
        None => "time left not known yet".to_owned(),
        Some(s) if s < 90.0 => format!("about {} left", count(s.ceil() as usize, "second")),
        Some(s) => format!("about {} left", count((s / 60.0).ceil() as usize, "minute")),
    };
    format!("{n} of {all}: {name}; {left}.")
}

pub fn bring_paused(n: usize) -> String {
    format!("Stopped; {} still to be read.", count_photographs(n))
}

pub fn answers_taken(taken: i64, passed: i64) -> String {
    let mut out = match taken {
        1 => "1 answer taken in.".to_owned(),
        n => format!("{n} answers taken in."),
    };
    if passed > 0 {
        out += &format!(" {passed} had been taken in before.");
    }
    out
}

pub fn mailed_lead(whom: &str, by: &str, n: usize) -> String {
    format!(
        "For {whom}, from {by}: {} from the back of a picture. Nothing leaves this page until you send the answers yourself.",
        count_marks(n)
    )
}

pub fn reading_as(by: &str) -> String {
    format!("Read by {by}, without the first reading")
}

/// Heading over the photographs that show a mark.
pub fn sightings_of(count: usize) -> String {
    format!("Shown by {count} photographs")
}

/// What a small picture of a mark shows.
pub fn shown_in(photograph: &str) -> String {
    format!("The mark in {photograph}")
}

/// How surely a photograph shows the same mark as the first.
pub fn joined_words(chance: f64) -> String {
    match chance {
        c if c >= 0.995 => String::new(),
        c => format!("(same mark: {c:.2})"),
    }
}

/// The question whether two sightings are one mark.
pub fn same_question(a: &str, b: &str) -> String {
    format!("Do {a} and {b} show one mark?")
}

/// How likely and why.
pub fn same_because(chance: f64, why: &str) -> String {
    format!("Chance {chance:.2}: {why}.")
}

/// Where a photograph lies on the plan.
pub fn placed_words(ground: &str, error_px: f64) -> String {
    format!("Placed on {ground}, within {error_px:.1} px.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_left_is_told_in_seconds_then_in_minutes() {
        assert!(bringing(1, 2, "a.jpg", Some(3.2)).contains("about 4 seconds left"));
        assert!(bringing(1, 2, "a.jpg", Some(130.0)).contains("about 3 minutes left"));
        assert!(bringing(1, 2, "a.jpg", None).contains("not known"));
    }
}
