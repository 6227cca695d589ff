//! Dates of a line of provenance: values, and the pattern by which they were written.

use std::fmt;

/// How a date stands to what it dates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relation {
    /// On it, in it, at it.
    On,
    /// Not later than.
    By,
    /// Up to.
    Until,
    /// From then on.
    From,
    /// Later than.
    After,
    /// Earlier than.
    Before,
    /// Somewhen between this and the next.
    Between,
    /// This or the one before.
    Or,
    /// Birth.
    Born,
    /// Death.
    Died,
}

/// What stands in a written date, in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Sign {
    /// Letters between the values: ", ", "ca. ", "?".
    Plain(String),
    /// The year in so many figures.
    Year(usize),
    /// The last year in so many figures.
    LastYear(usize),
    /// Month in figures of at least so many places.
    MonthNumber(usize),
    /// The month by this number in the table of spellings.
    Month(usize),
    /// Day, at least so many places.
    Day(usize),
    /// Last day, as `Day`.
    LastDay(usize),
    /// The century, with its ending.
    Century,
}

/// A point or a short stretch of time.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Moment {
    /// Year; the first of the decade or the century where only that is told; `None`: undated.
    pub year: Option<u32>,
    /// Month or, from 21, season as EDTF counts them.
    pub month: Option<u32>,
    /// Day.
    pub day: Option<u32>,
    /// Last year, month, day where it is a stretch.
    pub last: (Option<u32>, Option<u32>, Option<u32>),
    /// "About".
    pub about: bool,
    /// "?".
    pub doubtful: bool,
    /// Figures of the year that aren't told: 1 for a decade, 2 for a century.
    pub open: usize,
    pub(super) signs: Vec<Sign>,
}

/// One or two moments with their words.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Dated {
    pub(super) steps: Vec<Step>,
    pub(super) close: String,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Step {
    pub(super) relation: Relation,
    pub(super) words: String,
    pub(super) moment: Moment,
}

pub(super) const MONTHS: [(&str, u32); 44] = [
    ("January", 1),
    ("February", 2),
    ("March", 3),
    ("April", 4),
    ("May", 5),
    ("June", 6),
    ("July", 7),
    ("August", 8),
    ("September", 9),
    ("October", 10),
    ("November", 11),
    ("December", 12),
    ("Jan.", 1),
    ("Feb.", 2),
    ("Mar.", 3),
    ("Apr.", 4),
    ("Jun.", 6),
    ("Jul.", 7),
    ("Aug.", 8),
    ("Sept.", 9),
    ("Sep.", 9),
    ("Oct.", 10),
    ("Nov.", 11),
    ("Dec.", 12),
    ("Jan", 1),
    ("Feb", 2),
    ("Mar", 3),
    ("Apr", 4),
    ("Jun", 6),
    ("Jul", 7),
    ("Aug", 8),
    ("Sept", 9),
    ("Sep", 9),
    ("Oct", 10),
    ("Nov", 11),
    ("Dec", 12),
    ("Spring", 21),
    ("Summer", 22),
    ("Autumn", 23),
    ("Fall", 23),
    ("Winter", 24),
    ("spring", 21),
    ("summer", 22),
    ("winter", 24),
];

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = |f: &mut fmt::Formatter<'_>, n: Option<u32>, wide: usize| {
            n.map_or(Ok(()), |n| write!(f, "{n:0wide$}"))
        };
        for s in &self.signs {
            match s {
                Sign::Plain(t) => f.write_str(t)?,
                Sign::Year(2) => number(f, self.year.map(|y| y % 100), 2)?,
                Sign::Year(wide) => number(f, self.year, *wide)?,
                Sign::LastYear(wide @ 1..=2) => {
                    number(f, self.last.0.map(|y| y % 10u32.pow(*wide as u32)), *wide)?;
                }
                Sign::LastYear(wide) => number(f, self.last.0, *wide)?,
                Sign::MonthNumber(wide) => number(f, self.month, *wide)?,
                Sign::Month(at) => f.write_str(MONTHS[*at].0)?,
                Sign::Day(wide) => number(f, self.day, *wide)?,
                Sign::LastDay(wide) => number(f, self.last.2, *wide)?,
                Sign::Century => number(f, self.year.map(|y| y / 100 + 1), 1)?,
            }
        }
        Ok(())
    }
}

impl Moment {
    /// First and last as EDTF; the same where it is no stretch. `None`: undated.
    fn ends(&self) -> Option<(String, String)> {
        let y = self.year?;
        let mut year = format!("{y:04}");
        year.replace_range(4 - self.open.min(4).., &"X".repeat(self.open.min(4)));
        let sign = match (self.about, self.doubtful) {
            (true, true) => "%",
            (true, false) => "~",
            (false, true) => "?",
            _ => "",
        };
        let date = |year: &str, month: Option<u32>, day: Option<u32>| {
            let mut d = year.to_string();
            for n in [month, day.filter(|_| month.is_some())]
                .into_iter()
                .flatten()
            {
                d += &format!("-{n:02}");
            }
            d + sign
        };
        let first = date(&year, self.month, self.day);
        let (ly, lm, ld) = self.last;
        if (ly, lm, ld) == (None, None, None) {
            return Some((first.clone(), first));
        }
        let year = ly.map_or(year, |y| format!("{y:04}"));
        let last = date(
            &year,
            lm.or(self.month),
            ld.or(if lm.is_some() { None } else { self.day }),
        );
        Some((first, last))
    }
}

impl Dated {
    /// The moments with their relations, in order.
    pub fn steps(&self) -> impl Iterator<Item = (Relation, &Moment)> {
        self.steps.iter().map(|s| (s.relation, &s.moment))
    }

    /// As EDTF: `1868`, `1917-04-16/1917-04-17`, `[..1920]` for "by 1920", `/1920` for "until
    /// 1920", `[1920..]` for "after 1920". A stretch is that in which it surely was there: "by 1917
    /// until at least 1929" is `1917/1929`. Empty: undated.
    pub fn edtf(&self) -> String {
        let steps: Vec<(Relation, String, String)> = self
            .steps
            .iter()
            .filter_map(|s| s.moment.ends().map(|(a, b)| (s.relation, a, b)))
            .collect();
        match steps.as_slice() {
            [] => String::new(),
            [(_, a, _)] if self.steps.len() > 1 => format!("{a}/"),
            [(r, a, b)] => match r {
                Relation::By | Relation::Before => format!("[..{b}]"),
                Relation::Until | Relation::Died => format!("/{b}"),
                Relation::From | Relation::Born => format!("{a}/"),
                Relation::After => format!("[{a}..]"),
                _ if a == b => a.clone(),
                _ => format!("{a}/{b}"),
            },
            [(Relation::Between, a, _), (_, _, b)] => format!("[{a}..{b}]"),
            [(_, a, _), (Relation::Or, _, b)] => format!("[{a},{b}]"),
            [(_, a, _), .., (_, _, b)] => format!("{a}/{b}"),
        }
    }
}

impl fmt::Display for Dated {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for s in &self.steps {
            write!(f, "{}{}", s.words, s.moment)?;
        }
        f.write_str(&self.close)
    }
}

impl Dated {
    /// Birth and death as EDTF, either empty where untold.
    pub fn life(&self) -> (String, String) {
        let of = |r: Relation| {
            let step = self.steps.iter().find(|s| s.relation == r);
            step.and_then(|s| s.moment.ends())
                .map_or_else(String::new, |(a, _)| a)
        };
        let (born, mut died) = (of(Relation::Born), of(Relation::Died));
        if died.len() == 4 && died.starts_with("00") && born.len() >= 4 {
            died = format!("{}{}", &born[..2], &died[2..]);
        }
        (born, died)
    }
}
