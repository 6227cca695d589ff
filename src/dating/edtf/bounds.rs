//! First and last day that an expression allows, in the proleptic Gregorian calendar.

use super::{Date, Edtf, End, Member, TwoDigits, Year};
use std::fmt;

/// A day; year 0 is the year before year 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day {
    /// Astronomical year.
    pub year: i64,
    /// 1 to 12.
    pub month: u8,
    /// 1 to 31.
    pub day: u8,
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.year < 0 { "-" } else { "" };
        let year = self.year.unsigned_abs();
        write!(f, "{sign}{year:04}-{:02}-{:02}", self.month, self.day)
    }
}

fn leap(year: i64) -> bool {
    year.rem_euclid(4) == 0 && (year.rem_euclid(100) != 0 || year.rem_euclid(400) == 0)
}

fn days_in(year: i64, month: u8) -> u8 {
    match month {
        2 if leap(year) => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// The day so many days after another (before it, where negative), as EDTF; `None` if the first is no day.
pub fn day_after((year, month, day): (i32, u8, u8), days: i64) -> Option<String> {
    let (mut year, mut month) = (i64::from(year), month);
    if !(1..=12).contains(&month) || !(1..=days_in(year, month)).contains(&day) {
        return None;
    }
    let mut day = i64::from(day) + days;
    while day > i64::from(days_in(year, month)) {
        day -= i64::from(days_in(year, month));
        (year, month) = if month == 12 {
            (year + 1, 1)
        } else {
            (year, month + 1)
        };
    }
    while day < 1 {
        (year, month) = if month == 1 {
            (year - 1, 12)
        } else {
            (year, month - 1)
        };
        day += i64::from(days_in(year, month));
    }
    Some(format!("{year:04}-{month:02}-{day:02}"))
}

/// First and last month of a division of the year, and whether it runs into the next year.
///
/// The format doesn't fix the months of a season; these are the meteorological ones of each
/// hemisphere. A winter without hemisphere (24) may be the one that begins the year or the one
/// that ends it, so it runs from January to February of the next year. 21 to 24 are read as
/// northern, as 25 to 28 are.
fn division(code: u8) -> Option<(u8, u8, bool)> {
    Some(match code {
        21 | 25 => (3, 5, false),
        22 | 26 => (6, 8, false),
        23 | 27 => (9, 11, false),
        24 => (1, 2, true),
        28 => (12, 2, true),
        29 => (9, 11, false),
        30 => (12, 2, true),
        31 => (3, 5, false),
        32 => (6, 8, false),
        33..=36 => ((code - 33) * 3 + 1, (code - 33) * 3 + 3, false),
        37..=39 => ((code - 37) * 4 + 1, (code - 37) * 4 + 4, false),
        40 | 41 => ((code - 40) * 6 + 1, (code - 40) * 6 + 6, false),
        _ => return None,
    })
}

pub(super) fn fits(value: u8, mask: &TwoDigits) -> bool {
    mask[0].is_none_or(|d| d == value / 10) && mask[1].is_none_or(|d| d == value % 10)
}

impl Year {
    /// First and last year that it allows; `None` beyond what 64 bits hold.
    pub fn span(&self) -> Option<(i64, i64)> {
        match *self {
            Year::Digits {
                negative,
                digits,
                significant,
            } => {
                let fill = |with: u8| {
                    digits
                        .iter()
                        .fold(0i64, |n, d| n * 10 + i64::from(d.unwrap_or(with)))
                };
                let (low, high) = match significant {
                    Some(s) => round(fill(0), u32::from(s), 4)?,
                    None => (fill(0), fill(9)),
                };
                Some(if negative { (-high, -low) } else { (low, high) })
            }
            Year::Long {
                mantissa,
                exponent,
                significant,
            } => {
                let year = 10i64
                    .checked_pow(u32::from(exponent))
                    .and_then(|p| mantissa.checked_mul(p))?;
                let size = year.checked_abs()?;
                let (low, high) = match significant {
                    Some(s) => round(size, u32::from(s), size.to_string().len() as u32)?,
                    None => (size, size),
                };
                Some(if year < 0 { (-high, -low) } else { (low, high) })
            }
        }
    }
}

/// The whole numbers of `length` digits that share the first `sure` digits with `size`.
fn round(size: i64, sure: u32, length: u32) -> Option<(i64, i64)> {
    let unit = 10i64.checked_pow(length.saturating_sub(sure))?;
    let low = size / unit * unit;
    Some((low, low.checked_add(unit - 1)?))
}

impl Date {
    /// First and last day that it allows; `None` if there is none (`1869-02-29`).
    pub fn span(&self) -> Option<(Day, Day)> {
        let (low, high) = self.year.span()?;
        if self.month.is_none() {
            return Some((first_of(low, 1), last_of(high, 12)));
        }
        // The first year nearly always has such a day; only 29 February needs a search, and a
        // masked year has at most 10,000 candidates.
        let first = self.years(low, high).find_map(|y| self.in_year(y, false))?;
        let last = self
            .years(low, high)
            .rev()
            .find_map(|y| self.in_year(y, true))?;
        Some((first, last))
    }

    /// Years of the span that fit the digits.
    fn years(&self, low: i64, high: i64) -> impl DoubleEndedIterator<Item = i64> + '_ {
        (low..=high).filter(move |y| match self.year {
            Year::Digits { digits, .. } => {
                let mut rest = y.unsigned_abs();
                digits.iter().rev().all(|d| {
                    let digit = (rest % 10) as u8;
                    rest /= 10;
                    d.is_none_or(|d| d == digit)
                })
            }
            Year::Long { .. } => true,
        })
    }

    /// First (or last) day that it allows in one year.
    fn in_year(&self, year: i64, last: bool) -> Option<Day> {
        let month = self.month?;
        if let [Some(a), Some(b)] = month
            && let Some((from, to, next)) = division(a * 10 + b)
        {
            return Some(if last {
                last_of(year + i64::from(next), to)
            } else {
                first_of(year, from)
            });
        }
        let pick = |m: u8| {
            let mut days = (1..=days_in(year, m)).filter(|d| match self.day {
                Some(mask) => fits(*d, &mask),
                None => true,
            });
            let day = if last { days.next_back() } else { days.next() }?;
            Some(Day {
                year,
                month: m,
                day,
            })
        };
        let mut months = (1..=12u8).filter(|m| fits(*m, &month));
        if last {
            months.rev().find_map(pick)
        } else {
            months.find_map(pick)
        }
    }
}

fn first_of(year: i64, month: u8) -> Day {
    Day {
        year,
        month,
        day: 1,
    }
}

fn last_of(year: i64, month: u8) -> Day {
    Day {
        year,
        month,
        day: days_in(year, month),
    }
}

impl Edtf {
    /// First day that it allows; `None` where it is open or unknown on that side.
    pub fn earliest(&self) -> Option<Day> {
        self.reach(false)
    }

    /// Last day that it allows; `None` where it is open or unknown on that side.
    pub fn latest(&self) -> Option<Day> {
        self.reach(true)
    }

    fn reach(&self, last: bool) -> Option<Day> {
        let of = |d: &Date| d.span().map(|(a, b)| if last { b } else { a });
        match self {
            Edtf::On(d) | Edtf::At(d, _) => of(d),
            Edtf::Interval(start, end) => match if last { end } else { start } {
                End::On(d) => of(d),
                End::Open | End::Unknown => None,
            },
            Edtf::OneOf(members) | Edtf::AllOf(members) => {
                let mut reach: Option<Day> = None;
                for m in members {
                    let day = match (m, last) {
                        (Member::Until(_), false) | (Member::Since(_), true) => return None,
                        (Member::On(d) | Member::Until(d) | Member::Since(d), _) => of(d)?,
                        (Member::Run(a, _), false) => of(a)?,
                        (Member::Run(_, b), true) => of(b)?,
                    };
                    reach = Some(match reach {
                        Some(r) if last => r.max(day),
                        Some(r) => r.min(day),
                        None => day,
                    });
                }
                reach
            }
        }
    }
}
