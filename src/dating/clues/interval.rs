//! Years and days as limits, spans between them, and what is left when spans meet.

use super::super::edtf::{Day, Edtf};

/// A date that limits a span, as the table writes it: `1855`, `1857-06-25`, `1917~`.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// EDTF.
    pub text: String,
    /// First day it allows.
    pub first: Day,
    /// Last day it allows.
    pub last: Day,
}

impl Limit {
    /// Reads a date; `None` if it isn't one in EDTF with a first and a last day.
    pub fn read(text: &str) -> Option<Limit> {
        let e = Edtf::parse(text).ok()?;
        Some(Limit {
            first: e.earliest()?,
            last: e.latest()?,
            text: text.to_string(),
        })
    }
}

/// From a first to a last day; `None`: no limit on that side.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Span {
    /// Not before the first day of this.
    pub from: Option<Limit>,
    /// Not after the last day of this.
    pub to: Option<Limit>,
}

impl Span {
    /// Whether it is one day and no more.
    fn is_day(&self) -> bool {
        let day = |l: &Option<Limit>| l.as_ref().map(|l| (l.first, l.last));
        self.from.is_some() && day(&self.from) == day(&self.to)
    }

    /// The days that both allow; one reign's last day is not another's first.
    fn meet(&self, other: &Span) -> Option<Span> {
        let from = match (&self.from, &other.from) {
            (Some(a), Some(b)) => Some(if b.first > a.first { b } else { a }),
            (a, b) => a.as_ref().or(b.as_ref()),
        };
        let to = match (&self.to, &other.to) {
            (Some(a), Some(b)) => Some(if b.last < a.last { b } else { a }),
            (a, b) => a.as_ref().or(b.as_ref()),
        };
        if let (Some(f), Some(t)) = (from, to)
            && (f.first > t.last || f.first == t.last && !self.is_day() && !other.is_day())
        {
            return None;
        }
        Some(Span {
            from: from.cloned(),
            to: to.cloned(),
        })
    }

    /// Whether it goes on until the other begins, which begins no earlier.
    fn reaches(&self, other: &Span) -> bool {
        match (&self.to, &other.from) {
            (Some(t), Some(f)) => f.first <= t.last,
            _ => true,
        }
    }

    fn edtf(&self) -> String {
        match (&self.from, &self.to) {
            (Some(f), Some(t)) if f.text == t.text => f.text.clone(),
            (Some(f), Some(t)) => format!("{}..{}", f.text, t.text),
            (Some(f), None) => format!("{}..", f.text),
            (None, Some(t)) => format!("..{}", t.text),
            (None, None) => String::new(),
        }
    }
}

/// The days allowed by both of two sets of spans, in order of time; what overlaps is one span.
pub fn meet(a: &[Span], b: &[Span]) -> Vec<Span> {
    let mut all: Vec<Span> = a
        .iter()
        .flat_map(|x| b.iter().filter_map(|y| x.meet(y)))
        .collect();
    all.sort_by_key(|s| s.from.as_ref().map(|f| f.first));
    let mut out: Vec<Span> = Vec::new();
    for span in all {
        match out.last_mut() {
            Some(last) if last.reaches(&span) => last.to = later(last.to.take(), span.to),
            _ => out.push(span),
        }
    }
    out
}

/// The later of two ends; none is later than any.
fn later(a: Option<Limit>, b: Option<Limit>) -> Option<Limit> {
    let (a, b) = (a?, b?);
    Some(if b.last > a.last { b } else { a })
}

/// The spans as EDTF: the mark is of one date among them (`[1857..1917]`); empty without limits.
pub fn edtf(spans: &[Span]) -> String {
    let parts: Vec<String> = spans.iter().map(Span::edtf).collect();
    match parts.as_slice() {
        [] => String::new(),
        [one] if !one.contains("..") => one.clone(),
        _ if parts.iter().any(String::is_empty) => String::new(),
        _ => format!("[{}]", parts.join(",")),
    }
}
