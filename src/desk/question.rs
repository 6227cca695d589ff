//! The one thing that a mark's page asks, with its answers.

use super::words as w;
use super::{item, proposed};
use crate::decisions::{Asked, Doubt, DoubtKind, KeptMark, Lettering, Named};
use crate::marks::MarkKind;
use crate::note::heading;
use crate::proposals::Proposal;
use maud::{Markup, html};

/// Answers that stand in the question itself.
const NAMED: usize = 3;

/// One answer that a key gives.
pub struct Answer {
    /// What a form says that gives it; see `deciding::picked`.
    pub pick: String,
    /// In words.
    pub words: String,
}

/// The question in words; nothing where nothing is asked here.
///
/// * `with`: how many other places are asked with it.
pub fn words(mark: &KeptMark, asked: &Asked, with: usize) -> Option<String> {
    match asked {
        Asked::Entry(list) => {
            let rivals = mark.rivals.iter().find(|r| r.list == *list)?;
            let shown: Vec<&Proposal> = rivals.shown().take(NAMED).collect();
            let names: Vec<String> = shown.iter().map(|p| with_years(p)).collect();
            let said = said(mark, list, shown.first()?);
            Some(w::which_entry(list, &said, &names))
        }
        Asked::Places => Some(w::ask_places(1 + with)),
        Asked::Taken(list) => Some(w::which_taken(list)),
        Asked::Reading if mark.latest().reading.lines.is_empty() => Some(w::ASK_UNREAD.to_owned()),
        Asked::Reading => Some(w::ASK_READING.to_owned()),
        Asked::Differs => Some(w::ASK_DIFFERS.to_owned()),
        Asked::Kind => Some(w::ASK_KIND.to_owned()),
        Asked::Conflict => Some(w::ASK_CONFLICT.to_owned()),
        Asked::Same | Asked::Nothing => None,
    }
}

/// The doubts that the question doesn't tell: they are told beside it.
pub fn others<'a>(doubts: &'a [Doubt], asked: &Asked) -> Vec<&'a Doubt> {
    let told = |d: &&Doubt| match asked {
        Asked::Entry(list) => d.list.as_ref() != Some(list),
        Asked::Same => d.kind != DoubtKind::Same,
        _ => true,
    };
    doubts.iter().filter(told).collect()
}

/// The answers, where they aren't entries of the lists and no reading to be typed.
pub fn answers(mark: &KeptMark, doubts: &[Doubt], asked: &Asked) -> Vec<Answer> {
    let answer = |pick: String, words: String| Answer { pick, words };
    match asked {
        Asked::Taken(list) => {
            let s = &mark.settled;
            let now = s.named.get(list).and_then(|h| match &h.value {
                Named::Entry(t) => Some(t),
                Named::Unlisted => None,
            });
            let before = s.also.get(list).into_iter().flatten().map(|h| &h.value);
            let all = now.into_iter().chain(before);
            all.map(|t| answer(format!("take:{}:{}", t.list, t.entry), t.name.clone()))
                .collect()
        }
        Asked::Differs => readings(mark)
            .into_iter()
            .enumerate()
            .map(|(i, (by, lines))| {
                let words = format!("{} ({by})", item::shown(&lines.join(" / ")));
                answer(format!("read:{i}"), words)
            })
            .collect(),
        Asked::Conflict => doubts
            .iter()
            .filter(|d| matches!(d.kind, DoubtKind::Conflict | DoubtKind::Missing))
            .map(|d| answer(format!("stands:{}", d.words), w::STANDS.to_owned()))
            .take(1)
            .collect(),
        Asked::Kind => MarkKind::ALL
            .into_iter()
            .filter(|k| *k != MarkKind::Unknown)
            .map(|k| answer(format!("kind:{}", k.as_str()), heading(k).to_owned()))
            .collect(),
        Asked::Entry(_) | Asked::Reading | Asked::Places | Asked::Same | Asked::Nothing => {
            Vec::new()
        }
    }
}

/// The readings given of a mark, with who gave them: the one that stands, other people's, the
/// program's; each once.
pub fn readings(mark: &KeptMark) -> Vec<(String, Vec<String>)> {
    let mut out: Vec<(String, Vec<String>)> = Vec::new();
    let s = &mark.settled;
    if let (Some(Lettering::Read(lines)), None) =
        (s.lettering.as_ref().map(|h| &h.value), s.answered())
    {
        out.push((w::A_PERSON.to_owned(), lines.clone()));
    }
    for a in &s.answers {
        if let Lettering::Read(lines) = &a.value.says {
            out.push((a.value.by.clone(), lines.clone()));
        }
    }
    let read = item::by_program(mark);
    if !read.is_empty() {
        out.push((w::THE_PROGRAM.to_owned(), read));
    }
    let mut seen: Vec<Vec<String>> = Vec::new();
    out.retain(|(_, lines)| {
        let new = !seen.contains(lines);
        seen.push(lines.clone());
        new
    });
    out
}

/// The answers as choices with keys, 1 to 9.
pub fn choices(answers: &[Answer]) -> Markup {
    html! {
        @if !answers.is_empty() {
            fieldset.list.plain {
                legend { (w::ANSWERS) }
                @for (i, a) in answers.iter().enumerate() {
                    label.choice {
                        input type="radio" name="pick" value=(a.pick) data-name=(a.words)
                            data-key=[(i < 9).then_some(i + 1)];
                        span.what { span.leiden { (a.words) } @if i < 9 { " " kbd { (i + 1) } } }
                    }
                }
            }
        }
    }
}

/// What the choices among the entries are for.
pub fn purpose(asked: &Asked) -> proposed::For<'_> {
    match asked {
        Asked::Entry(list) => proposed::For::Question(list),
        Asked::Nothing => proposed::For::Choosing,
        _ => proposed::For::Looking,
    }
}

fn with_years(p: &Proposal) -> String {
    match (p.not_before.as_str(), p.not_after.as_str()) {
        ("", "") => p.name.clone(),
        (a, b) => format!("{} ({a}–{b})", p.name),
    }
}

/// What stands on the mark that may be the entry: the words of the statement, else its lines.
fn said(mark: &KeptMark, list: &str, first: &Proposal) -> String {
    let seen = mark.latest();
    let stated = mark.statements().into_iter();
    let stated = stated.filter(|s| s.list.as_deref() == Some(list));
    if let Some(s) = stated.max_by(|a, b| a.listed.total_cmp(&b.listed)) {
        return s.words;
    }
    let lines = first
        .lines
        .iter()
        .filter_map(|i| seen.reading.lines.get(*i));
    let texts: Vec<&str> = lines.map(|l| l.text.trim()).collect();
    texts.join(" / ")
}
