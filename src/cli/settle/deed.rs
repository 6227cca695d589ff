//! What is decided of a mark, from the words of the command.

use super::{Arguments, Deed};
use crate::cli::keeping::{self, usage};
use crate::cli::queue::today;
use crate::decisions::{
    self, Act, Bearer, DecisionId, DoubtKind, KeptMark, SqliteStore, Taken, item, last_to_undo,
};
use crate::error::{Error, Kind, Result};
use crate::marks::MarkKind;
use crate::readings;

/// The first thing about a mark that doesn't fit, left as it is.
fn stands(mark: &KeptMark) -> Result<Act> {
    let doubts = item(mark, &today()).doubts;
    let unfit = |k: DoubtKind| matches!(k, DoubtKind::Conflict | DoubtKind::Missing);
    match doubts.into_iter().find(|d| unfit(d.kind)) {
        Some(d) => Ok(Act::Stands { words: d.words }),
        None => Err(usage(
            "stands",
            "nothing about this mark is told not to fit",
            "see dorso settle NUMBER for what is in doubt",
        )),
    }
}

pub(super) fn act(deed: &Deed, mark: &KeptMark, store: &SqliteStore, a: &Arguments) -> Result<Act> {
    Ok(match deed {
        Deed::Take { which, list } => Act::Take(take(which, list.as_deref(), mark, a)?),
        Deed::None { list } => Act::Unlisted { list: list.clone() },
        Deed::Read { text } => {
            let lines = readings::from_typed(text)?;
            if lines.is_empty() {
                return Err(usage(
                    "TEXT",
                    "there is nothing to read in it",
                    "type what stands on the mark, or say unreadable",
                ));
            }
            Act::Read {
                lines: lines.into_iter().map(|l| l.leiden).collect(),
            }
        }
        Deed::Says { role, words, value } => decisions::says(mark, role, words, value)?,
        Deed::Unreadable => Act::Unreadable,
        Deed::Stands => stands(mark)?,
        Deed::Ask { whom } => Act::Ask {
            whom: whom.join(" "),
        },
        Deed::Later { when: None } => Act::PutOff { until: None },
        Deed::Later { when: Some(when) } => Act::PutOff {
            until: Some(day(when, &today())?),
        },
        Deed::NotAMark => Act::NotAMark,
        Deed::Kind { kind } => {
            let name = kind.replace([' ', '-'], "_");
            let known = MarkKind::ALL.map(MarkKind::as_str).join(", ");
            Act::Kind {
                kind: MarkKind::parse(&name).ok_or_else(|| {
                    usage(
                        kind,
                        "this is no kind of mark",
                        format!("give one of {known}"),
                    )
                })?,
            }
        }
        Deed::On { part, over } => {
            let bearer = self::part(part)?;
            let bridging = over.as_deref().map(self::part).transpose()?;
            if bridging == Some(bearer) {
                return Err(usage(
                    part,
                    "the two parts are the same",
                    "name two, or leave --over out",
                ));
            }
            Act::On { bearer, bridging }
        }
        Deed::Same { with } => Act::Same {
            with: keeping::mark_id(with)?,
        },
        Deed::Apart { from: Some(from) } => Act::Apart {
            from: vec![keeping::mark_id(from)?],
        },
        Deed::Apart { from: None } => {
            let own = keeping::mark_id(&a.mark)?;
            let others = mark.sightings.iter().map(|s| s.id).filter(|id| *id != own);
            Act::Apart {
                from: others.collect(),
            }
        }
        Deed::Undo { which: Some(which) } => Act::Undo {
            undoes: DecisionId::parse(which).ok_or_else(|| {
                usage(
                    which,
                    "this is no decision",
                    "give its number, for example d12",
                )
            })?,
        },
        Deed::Undo { which: None } => {
            let journal = store.journal_of(mark.id)?;
            let last = last_to_undo(&journal).ok_or_else(|| {
                Error::new(
                    Kind::Store,
                    format!("mark {}", mark.id),
                    "no decision about it holds, so there is nothing to undo",
                    format!(
                        "see dorso settle {} for what was decided and undone",
                        mark.id
                    ),
                )
            })?;
            Act::Undo { undoes: last.id }
        }
    })
}

fn take(which: &str, list: Option<&str>, mark: &KeptMark, a: &Arguments) -> Result<Taken> {
    let numbered = mark.numbered();
    if let Ok(n) = which.parse::<usize>()
        && list.is_none()
    {
        return match n.checked_sub(1).and_then(|i| numbered.get(i)) {
            Some(p) => Ok((*p).into()),
            None => Err(Error::new(
                Kind::Usage,
                format!("mark {}", mark.id),
                match numbered.len() {
                    0 => format!("there is no proposal {n}: the program made none"),
                    1 => format!("there is no proposal {n}, only one"),
                    k => format!("there is no proposal {n}, only 1 to {k}"),
                },
                format!(
                    "see dorso settle {}, or give the key of an entry of your lists",
                    mark.id
                ),
            )),
        };
    }
    if let Some(p) = mark.proposed(list, which) {
        return Ok(p.into());
    }
    let store = a.store.file()?;
    let (index, _) = crate::cli::read::lists(a.gazetteer.as_deref(), Some(&store))?;
    let found: Vec<_> = index
        .gazetteer
        .entries()
        .filter(|e| e.entry == which && list.is_none_or(|l| l == e.list))
        .collect();
    match found[..] {
        [e] => Ok(e.into()),
        [] => Err(Error::new(
            Kind::Usage,
            format!("\"{which}\""),
            "neither the proposals for this mark nor the lists have an entry of this key",
            format!(
                "see dorso settle {} for the proposals, or name the folder of your lists with --gazetteer DIR",
                mark.id
            ),
        )),
        _ => Err(usage(
            which,
            "several lists have an entry of this key",
            "say which with --list NAME",
        )),
    }
}

fn part(name: &str) -> Result<Bearer> {
    Bearer::parse(name).ok_or_else(|| {
        let known = Bearer::ALL.map(Bearer::as_str).join(", ");
        usage(
            name,
            "this is no part of the object",
            format!("give one of {known}"),
        )
    })
}

/// An ISO date, or so many days, weeks or months after `today`.
fn day(text: &str, today: &str) -> Result<String> {
    let wrong = || {
        usage(
            text,
            "this is no day to come",
            "give a date such as 2030-06-01, or 3d, 2w or 1m from now",
        )
    };
    let now: jiff::civil::Date = today.parse().map_err(|_| wrong())?;
    let date = match text.parse::<jiff::civil::Date>() {
        Ok(date) => date,
        Err(_) => {
            let unit = text.chars().last().ok_or_else(wrong)?;
            let count: i64 = text[..text.len() - unit.len_utf8()]
                .parse()
                .map_err(|_| wrong())?;
            if !(1..=1000).contains(&count) {
                return Err(wrong());
            }
            let span = jiff::Span::new();
            let span = match unit {
                'd' => span.days(count),
                'w' => span.weeks(count),
                'm' => span.months(count),
                _ => return Err(wrong()),
            };
            now.checked_add(span).map_err(|_| wrong())?
        }
    };
    if date <= now {
        Err(wrong())
    } else {
        Ok(date.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_to_come_may_be_a_date_or_a_time_from_now() {
        let on = |t: &str| day(t, "2024-01-31").ok();
        assert_eq!(on("2024-02-01").as_deref(), Some("2024-02-01"));
        assert_eq!(on("3d").as_deref(), Some("2024-02-03"));
        assert_eq!(on("2w").as_deref(), Some("2024-02-14"));
        assert_eq!(on("1m").as_deref(), Some("2024-02-29"));
    }

    #[test]
    fn a_day_that_is_past_or_no_day_is_refused() {
        for t in [
            "2024-01-31",
            "2023-12-24",
            "0d",
            "-3d",
            "3x",
            "",
            "wé",
            "99999999999999999999d",
            "1001m",
        ] {
            assert!(day(t, "2024-01-31").is_err(), "{t}");
        }
    }
}
