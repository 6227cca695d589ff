//! What the clues of one mark leave together, and what can't be true of it.

use super::interval::{self, Limit, Span};
use super::{Clue, Dating, Sure};

impl Clue {
    /// The sides that are at least so sure.
    fn sides(&self, at_least: Sure) -> Vec<Span> {
        let after = self.sure_after.unwrap_or(self.sure);
        let kept = |s: &Span| Span {
            from: s.from.clone().filter(|_| self.sure >= at_least),
            to: s.to.clone().filter(|_| after >= at_least),
        };
        self.limits.iter().map(kept).collect()
    }

    /// As a person would say it: `“Ltd” was not used before 1855`.
    fn told(&self) -> String {
        let words = self.words.split_whitespace().collect::<Vec<_>>().join(" ");
        let year = |t: &str| {
            t.get(..4).map_or(t.to_owned(), |y| {
                if t.ends_with('~') {
                    format!("about {y}")
                } else {
                    y.to_owned()
                }
            })
        };
        let one = |a: Option<&str>, b: Option<&str>| match (a, b) {
            (Some(a), Some(b)) if year(a) == year(b) => format!("is of {}", year(a)),
            (Some(a), Some(b)) => format!("is of {} to {}", year(a), year(b)),
            (Some(a), None) => format!("is not older than {}", year(a)),
            (None, Some(b)) => format!("is not younger than {}", year(b)),
            (None, None) => "has no date".into(),
        };
        let all: Vec<String> = match self.spans.as_slice() {
            [] => vec![one(self.not_before.as_deref(), self.not_after.as_deref())],
            several => several
                .iter()
                .map(|[a, b]| one(a.as_deref(), b.as_deref()))
                .collect(),
        };
        format!("\"{words}\" {}", all.join(" or "))
    }

    /// Whether both rest on the same words: they are one thing said, not two.
    fn shares_words(&self, other: &Clue) -> bool {
        self.tokens.0 < other.tokens.1 && other.tokens.0 < self.tokens.1
    }
}

fn open(spans: &[Span]) -> bool {
    spans.iter().any(|s| *s == Span::default())
}

/// Hard clues first, then usual ones where they don't contradict: dates that are written before what is
/// only usual practice.
pub(super) fn join(mut clues: Vec<Clue>) -> Dating {
    let mut spans = vec![Span::default()];
    let mut conflicts = Vec::new();
    for i in 0..clues.len() {
        let sides = clues[i].sides(Sure::Hard);
        if open(&sides) {
            continue;
        }
        clues[i].cuts = true;
        spans = interval::meet(&spans, &sides);
        for j in 0..i {
            let apart = interval::meet(&sides, &clues[j].sides(Sure::Hard)).is_empty();
            if apart && !clues[i].shares_words(&clues[j]) {
                conflicts.push(format!(
                    "{}, but {}: one of them is misread, a part was added later, or it is a later copy.",
                    clues[j].told(),
                    clues[i].told()
                ));
            }
        }
    }
    if spans.is_empty() && conflicts.is_empty() {
        let words = "These clues can't all be true of one mark, though any two of them can.";
        conflicts.push(words.into());
    }
    let mut order: Vec<usize> = (0..clues.len()).collect();
    order.sort_by_key(|i| clues[*i].kind != "year");
    for i in order {
        let sides = clues[i].sides(Sure::Usual);
        if sides == clues[i].sides(Sure::Hard) || spans.is_empty() {
            continue;
        }
        match fitting(&spans, &sides) {
            Some((left, whole)) => {
                clues[i].cuts = true;
                spans = left;
                if !whole {
                    conflicts.push(left_out(&clues[i], "one of its years was"));
                }
            }
            None => conflicts.push(left_out(&clues[i], "it was")),
        }
    }
    let show = |l: &Option<Limit>| l.as_ref().map(|l| l.text.clone());
    let last = spans.last().cloned().unwrap_or_default();
    Dating {
        not_before: spans.first().and_then(|s| show(&s.from)),
        in_use_until: in_use(&clues, &last),
        not_after: show(&last.to),
        edtf: interval::edtf(&spans),
        clues,
        conflicts,
    }
}

/// What is left beside a clue, and whether all of it fits; else only its first years. `None`: nothing fits.
fn fitting(spans: &[Span], sides: &[Span]) -> Option<(Vec<Span>, bool)> {
    let left = interval::meet(spans, sides);
    if !left.is_empty() {
        return Some((left, true));
    }
    let from: Vec<Span> = sides
        .iter()
        .map(|s| Span {
            from: s.from.clone(),
            to: None,
        })
        .collect();
    let left = interval::meet(spans, &from);
    (!left.is_empty() && !open(&from)).then_some((left, false))
}

fn left_out(clue: &Clue, what: &str) -> String {
    format!(
        "{}, which doesn't fit the other clues; it rests on usual practice, and {what} left out of the interval.",
        clue.told()
    )
}

/// The year by which all but one in twenty of such marks had been put on, where the clue that sets the
/// last year goes on in use.
fn in_use(clues: &[Clue], last: &Span) -> Option<String> {
    let to = last.to.as_ref()?;
    let sets = |c: &&Clue| c.cuts && c.limits.iter().any(|l| l.to.as_ref() == Some(to));
    let margin = clues
        .iter()
        .filter(sets)
        .map(|c| c.margin.years(0.05))
        .min()?;
    let year = i64::from(margin) + to.last.year;
    (margin > 0).then(|| format!("{year:04}"))
}
