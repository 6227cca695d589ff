//! What needs a person, most worthwhile first. Pure: from kept marks and today's date.

use super::doubts::and;
use super::{
    Doubt, DoubtKind, Held, KeptMark, Lettering, MarkId, Maybe, Named, Settled, Taken, Waiting,
    reasons, two, worth,
};
use crate::readings;
use serde::{Deserialize, Serialize};

/// Where a mark stands on its way to being settled, in the order of the queue.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Needs a person now.
    Open,
    /// Put off until everything else is done.
    Later,
    /// Put off until that day (ISO date).
    Until(String),
    /// Waits for the answer of somebody.
    Asked(String),
    /// A person decided, nothing is left in doubt.
    Settled,
    /// Nothing was in doubt from the start.
    Clear,
    /// A person said that it is no mark.
    NotAMark,
}

impl State {
    /// One word for it, as in JSON.
    pub fn as_str(&self) -> &'static str {
        match self {
            State::Open => "open",
            State::Later => "later",
            State::Until(_) => "until",
            State::Asked(_) => "asked",
            State::Settled => "settled",
            State::Clear => "clear",
            State::NotAMark => "not_a_mark",
        }
    }

    /// True where a person can do something now.
    pub fn is_due(&self) -> bool {
        matches!(self, State::Open | State::Later)
    }
}

/// A mark in the queue.
#[derive(Debug, Clone, PartialEq)]
pub struct Item<'a> {
    /// The mark.
    pub mark: &'a KeptMark,
    /// Where it stands.
    pub state: State,
    /// Order among equals of state, 0 to 1, see [`worth`].
    pub worth: f64,
    /// What is still in doubt.
    pub doubts: Vec<Doubt>,
    /// The other places of the picture that are asked with this one.
    pub with: Vec<MarkId>,
}

impl Item<'_> {
    /// Whether it is a place to look at that waits for a person.
    pub fn is_place(&self) -> bool {
        self.state.is_due() && self.doubts.iter().any(|d| d.kind == DoubtKind::Place)
    }
}

/// All marks with their states, in the order in which a person should look: by state, then the
/// greatest worth first, then by number.
///
/// * `today`: ISO date; what was put off until then or earlier is open again.
pub fn queue<'a>(marks: &'a [KeptMark], today: &str) -> Vec<Item<'a>> {
    let mut items: Vec<Item> = marks.iter().map(|m| item(m, today)).collect();
    items.sort_by(|a, b| {
        a.state
            .cmp(&b.state)
            .then(b.worth.total_cmp(&a.worth))
            .then(a.mark.id.cmp(&b.mark.id))
    });
    items
}

/// Where one mark stands.
pub fn item<'a>(mark: &'a KeptMark, today: &str) -> Item<'a> {
    let seen = mark.latest();
    let doubts = open_doubts(mark);
    let state = state(mark, &doubts, today);
    let mut worth = worth(mark.kind(), mark.bears, &seen.reading, &mark.rivals);
    if mark.missing {
        // Found once, not found again: likelier than others to be no lettering at all.
        worth *= 0.5;
    }
    Item {
        mark,
        state,
        worth,
        doubts,
        with: Vec::new(),
    }
}

fn state(mark: &KeptMark, doubts: &[Doubt], today: &str) -> State {
    let s = &mark.settled;
    if s.not_a_mark.is_some() {
        return State::NotAMark;
    }
    match s.waiting.as_ref().map(|h| &h.value) {
        Some(Waiting::For(whom)) => return State::Asked(whom.clone()),
        Some(Waiting::Until(None)) => return State::Later,
        Some(Waiting::Until(Some(day))) if day.as_str() > today => {
            return State::Until(day.clone());
        }
        _ => {}
    }
    if !doubts.is_empty() {
        State::Open
    } else if s.is_decided() {
        State::Settled
    } else {
        // Its outline, kind or bearer may be set by hand: that says nothing of what it reads
        State::Clear
    }
}

/// What the program is in doubt about and no person has decided yet.
fn open_doubts(mark: &KeptMark) -> Vec<Doubt> {
    let seen = mark.latest();
    let s = &mark.settled;
    let unreadable = matches!(&s.lettering, Some(h) if h.value == Lettering::Unreadable);
    if mark.piece_of.is_some() || mark.is_unlikely() {
        return Vec::new();
    }
    if s.not_a_mark.is_some() || (unreadable && s.answers.is_empty()) {
        return Vec::new();
    }
    let looked = s.lettering.is_some() || !s.named.is_empty();
    let mut out = Vec::new();
    out.extend(
        s.also
            .iter()
            .filter_map(|(list, also)| taken_twice(s, list, also)),
    );
    if let Some(words) = difference(mark) {
        out.push(Doubt::new(DoubtKind::Differs, words));
    }
    out.extend(
        mark.conflicts
            .iter()
            .map(|words| Doubt::new(DoubtKind::Conflict, words.clone())),
    );
    out.extend(
        mark.differing
            .iter()
            .map(|words| Doubt::new(DoubtKind::Differs, words.clone())),
    );
    out.extend(
        mark.maybe
            .iter()
            .map(|m| Doubt::new(DoubtKind::Same, sameness(mark, m))),
    );
    if mark.is_place() {
        let words = format!(
            "nothing could be read here, and likelier than not nothing stands here (lettering {})",
            two(mark.bears)
        );
        out.push(Doubt::new(DoubtKind::Place, words));
        return out;
    }
    let undecided: Vec<_> = mark
        .rivals
        .iter()
        .filter(|r| s.on_list(&r.list).is_none())
        .cloned()
        .collect();
    let by_program = reasons(mark.kind(), &seen.reading, &undecided, &mark.statements());
    out.extend(by_program.into_iter().filter(|d| match d.kind {
        DoubtKind::Unread | DoubtKind::Unclear | DoubtKind::Kind => !looked,
        _ => true,
    }));
    out.retain(|d| s.stands.iter().all(|h| h.value != d.words));
    // A mark that was read surely once needs nobody only because it wasn't found again.
    if mark.missing && !looked && !out.is_empty() {
        let words = "the last reading of its photograph didn't find it again";
        out.push(Doubt::new(DoubtKind::Missing, words.into()));
    }
    out
}

/// Whether two sightings are one mark, as a clause.
fn sameness(mark: &KeptMark, maybe: &Maybe) -> String {
    let (chance, why) = (two(maybe.chance), &maybe.why);
    if maybe.mark == mark.id {
        format!(
            "{} and {} may show two marks and not one (one with a chance of {chance}: {why})",
            maybe.other, maybe.own
        )
    } else {
        format!(
            "it may be the same mark as {} ({chance}: {why})",
            maybe.mark
        )
    }
}

/// Two entries of one list taken for one mark.
fn taken_twice(s: &Settled, list: &str, also: &[Held<Taken>]) -> Option<Doubt> {
    let Named::Entry(now) = &s.named.get(list)?.value else {
        return None;
    };
    let before = also.iter().map(|a| a.value.name.as_str());
    let names: Vec<&str> = before.chain([now.name.as_str()]).collect();
    // One label may well name two towns
    (list != "towns").then(|| Doubt {
        kind: DoubtKind::Differs,
        words: format!(
            "{} were taken for one mark, all from your list \u{201c}{list}\u{201d}",
            and(&names)
        ),
        list: Some(list.to_owned()),
    })
}

/// What somebody read otherwise than it stands, if anything: another person, or the program where a
/// second reading by another person is the only one that stands.
fn difference(mark: &KeptMark) -> Option<String> {
    let s = &mark.settled;
    let standing = s.lettering.as_ref()?;
    if let Some(first) = s.answered() {
        let lines = mark.latest().reading.lines.iter();
        let program = Lettering::Read(lines.map(|l| l.leiden.clone()).collect());
        let read = letters(&program).unwrap_or_default();
        if !read.is_empty() && Some(read) != letters(&standing.value) {
            return Some(format!(
                "{} reads {}; the program reads {}",
                first.by,
                said(&first.says),
                said(&program)
            ));
        }
    }
    let other = s.answers.iter().find(|a| {
        a.decision != standing.decision && letters(&a.value.says) != letters(&standing.value)
    })?;
    let stands = match s.answered() {
        Some(first) => format!("{} reads {}", first.by, said(&first.says)),
        None => format!("it stands as {}", said(&standing.value)),
    };
    let how = if other.value.blind {
        ", without having seen that, reads "
    } else {
        " reads "
    };
    Some(format!(
        "{stands}; {}{how}{}",
        other.value.by,
        said(&other.value.says)
    ))
}

fn said(lettering: &Lettering) -> String {
    match lettering {
        Lettering::Read(lines) => format!("\"{}\"", lines.join(" / ")),
        Lettering::Unreadable => "nothing".into(),
    }
}

/// What stands on the object by a reading, without signs of doubt, case and spaces.
pub(super) fn letters(lettering: &Lettering) -> Option<String> {
    let Lettering::Read(lines) = lettering else {
        return None;
    };
    let text = lines.join("\n");
    let read = readings::from_typed(&text).map_or(text, |lines| {
        lines.iter().map(|l| l.text.as_str()).collect::<String>()
    });
    let plain = read.chars().filter(|c| c.is_alphanumeric());
    Some(plain.flat_map(char::to_uppercase).collect())
}
