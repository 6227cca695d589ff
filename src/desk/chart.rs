//! The dates of a picture's marks on one scale of years, drawn and as a table.

use super::item;
use super::words as w;
use crate::dating::edtf::Edtf;
use crate::decisions::KeptMark;
use maud::{Markup, html};

/// A proposal less likely than this isn't drawn.
const LEAST: f64 = 0.4;
/// Size of the drawing in its own units.
const WIDE: f64 = 720.0;
const ROW: f64 = 30.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 24.0;

/// What one mark says of years.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// Mark's number.
    pub mark: String,
    /// Name of the entry.
    pub name: String,
    /// First and last year; `None`: not known on that side.
    pub years: (Option<i64>, Option<i64>),
    /// The program's chance; `None`: a person decided.
    pub chance: Option<f64>,
}

/// The spans of what marks name, decided ones as such. Marks dated by nothing are left out.
pub fn spans(marks: &[KeptMark]) -> Vec<Span> {
    let year = |text: &str, last: bool| {
        let value = Edtf::parse(text.trim()).ok()?;
        let day = if last {
            value.latest()
        } else {
            value.earliest()
        }?;
        Some(day.year)
    };
    let mut out = Vec::new();
    for m in marks.iter().filter(|m| m.settled.not_a_mark.is_none()) {
        let mut add = |name: &str, from: &str, to: &str, chance| {
            let years = (year(from, false), year(to, true));
            let turned = matches!(years, (Some(a), Some(b)) if a > b);
            if years != (None, None) && !turned {
                out.push(Span {
                    mark: m.id.to_string(),
                    name: name.into(),
                    years,
                    chance,
                });
            }
        };
        for (t, _) in m.settled.taken() {
            add(&t.name, &t.not_before, &t.not_after, None);
        }
        for r in &m.rivals {
            let first = r.proposals.first().filter(|p| p.probability >= LEAST);
            if let (Some(p), None) = (first, m.settled.on_list(&r.list)) {
                add(&p.name, &p.not_before, &p.not_after, Some(p.probability));
            }
        }
    }
    out
}

fn years_words(s: &Span) -> String {
    match s.years {
        (Some(a), Some(b)) if a == b => a.to_string(),
        (Some(a), Some(b)) => format!("{a}–{b}"),
        (Some(a), None) => w::years_from(&a.to_string()),
        (None, Some(b)) => w::years_to(&b.to_string()),
        (None, None) => String::new(),
    }
}

/// First and last year of the scale: full tens around all that is given.
fn scale(spans: &[Span]) -> (i64, i64) {
    let all = spans.iter().flat_map(|s| [s.years.0, s.years.1]).flatten();
    let (low, high) = all.fold((i64::MAX, i64::MIN), |(a, b), y| (a.min(y), b.max(y)));
    (low.div_euclid(10) * 10 - 10, high.div_euclid(10) * 10 + 20)
}

/// The chart; nothing where nothing is dated.
pub fn chart(spans: &[Span]) -> Markup {
    if spans.is_empty() {
        return html! {};
    }
    let (low, high) = scale(spans);
    let x = |year: i64| LEFT + (year - low) as f64 / (high - low) as f64 * (WIDE - LEFT - RIGHT);
    let height = ROW * (spans.len() + 1) as f64;
    // As many labelled years as have room.
    let step = [10, 20, 25, 50, 100, 200, 500]
        .into_iter()
        .find(|s| (high - low) / s <= 9)
        .unwrap_or(1000);
    let ticks = (low / step * step..=high).step_by(step as usize);
    html! {
        section.dates aria-labelledby="dates-title" {
            h2 id="dates-title" { (w::DATES) }
            svg.chart viewBox=(format!("0 0 {WIDE} {height}")) aria-hidden="true" {
                @for year in ticks.filter(|y| *y >= low) {
                    line.grid x1=(x(year)) x2=(x(year)) y1="0" y2=(height - ROW) {}
                    text.year x=(x(year)) y=(height - 8.0) { (year) }
                }
                @for (i, s) in spans.iter().enumerate() {
                    @let y = ROW * i as f64 + 6.0;
                    @let from = x(s.years.0.unwrap_or(low));
                    @let to = x(s.years.1.map_or(high, |b| b + 1));
                    text.mark x="0" y=(y + 13.0) { (s.mark) }
                    rect class=(if s.chance.is_none() { "decided" } else { "proposed" })
                        x=(from) y=(y) width=((to - from).max(3.0)) height="16" {}
                }
            }
            p.hint { (w::CHART_HOW) }
            table {
                caption.hidden { (w::DATES) }
                thead { tr { th scope="col" { (w::MARK) } th scope="col" { (w::NAMES) } th scope="col" { (w::YEARS) } th scope="col" { (w::RESTS_ON) } } }
                tbody {
                    @for s in spans {
                        tr {
                            td { a href=(format!("/settle/{}", s.mark)) { (s.mark) } }
                            td { (s.name) }
                            td { (years_words(s)) }
                            td { @match s.chance { None => (w::A_PERSON), Some(p) => (item::chance(p)) } }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(from: Option<i64>, to: Option<i64>) -> Span {
        Span {
            mark: "1b".into(),
            name: "Orme".into(),
            years: (from, to),
            chance: None,
        }
    }

    #[test]
    fn the_scale_has_room_around_all_years_given() {
        assert_eq!(
            scale(&[span(Some(1868), Some(1875)), span(Some(1901), None)]),
            (1850, 1920)
        );
    }

    #[test]
    fn an_open_end_is_said_to_be_open() {
        assert!(years_words(&span(Some(1868), None)).contains("1868"));
        assert_eq!(years_words(&span(Some(1868), Some(1868))), "1868");
    }
}
