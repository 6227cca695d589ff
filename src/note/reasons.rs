//! Why a part is dated as it is, as a person would say it aloud.

use super::certainty::{self, with_number};
use super::facts::Facts;
use super::{Basis, Sentence};
use crate::decisions::Bearer;
use crate::evidence::{Dated, Gathered, Mark, Reading, Role, Solved, Years};
use crate::statements;

/// A showing of less chance says nothing of the picture.
const SHOWN: f64 = 0.4;

/// "between 1853 and 1874", "in 1873", "in 1853 or later", "by 1874".
pub(super) fn years(y: &Years) -> String {
    match (y.from, y.to) {
        (Some(a), Some(b)) if a == b => format!("in {a}"),
        (Some(a), Some(b)) => format!("between {a} and {b}"),
        (Some(a), None) => format!("in {a} or later"),
        (None, Some(b)) => format!("by {b}"),
        (None, None) => "in any year".into(),
    }
}

/// "The frame was probably made between 1853 and 1874, since printed label 1b names ..."; the summary
/// and the chart have the chance. `None` for a part without a limit.
pub(super) fn made(
    part: Bearer,
    dated: &Dated,
    gathered: &Gathered,
    solved: &Solved,
) -> Option<String> {
    if dated.years == Years::OPEN {
        return None;
    }
    let name = part.as_str();
    let word = certainty::word(dated.chance);
    let mut said = format!("The {name} was {word}made {}", years(&dated.years));
    let all: Vec<(&Mark, &Reading)> = gathered
        .back
        .marks
        .iter()
        .enumerate()
        .filter(|(_, m)| dated.rests_on.contains(&m.id))
        .flat_map(|(i, m)| limiting(m, i, &dated.years, solved))
        .collect();
    let clauses = clauses(&all);
    if !clauses.is_empty() {
        said += &format!(", since {}", and(&clauses));
    }
    let own = |m: &Mark| m.bearer == Some(part);
    let makers = all.iter().any(|(m, r)| r.role == Role::Maker && own(m));
    let later = |(m, r): &&(&Mark, &Reading)| r.role == Role::Later || !own(m);
    let mut later: Vec<&str> = all
        .iter()
        .filter(later)
        .map(|(m, _)| m.id.as_str())
        .collect();
    later.dedup();
    let mut why = Vec::new();
    if makers {
        why.push(format!(
            "a maker's mark is as old as the {name} that bears it"
        ));
    }
    if !later.is_empty() {
        let was = if later.len() == 1 {
            "it was"
        } else {
            "they were"
        };
        why.push(format!("{was} on the {name} by then"));
    }
    if !dated.proposed.is_empty() {
        why.push("only the photograph tells what part bears it".into());
    }
    let memory = |m: &Mark| m.claims.iter().any(|c| c.source.contains("memory"));
    if all.iter().any(|(m, _)| memory(m)) {
        why.push("some years are from memory, to be checked".into());
    }
    if !why.is_empty() {
        said += &format!("; {}", and(&why));
    }
    Some(said + ".")
}

/// The readings of a mark that set a limit of these years: of each claim the likeliest one.
fn limiting<'a>(
    m: &'a Mark,
    place: usize,
    years: &Years,
    solved: &Solved,
) -> Vec<(&'a Mark, &'a Reading)> {
    let best = |c: usize| {
        let chances = solved.readings.get(place)?.get(c)?;
        let all = m.claims[c].readings.iter().zip(chances);
        all.max_by(|a, b| a.1.total_cmp(b.1)).map(|x| x.0)
    };
    let limits = |r: &Reading| {
        let from = r.role == Role::Maker && r.years.from.is_some() && r.years.from == years.from;
        from || r.years.to.is_some() && r.years.to == years.to
    };
    let all: Vec<&Reading> = (0..m.claims.len()).filter_map(best).collect();
    let set: Vec<&Reading> = all.iter().copied().filter(|r| limits(r)).collect();
    let told = if set.is_empty() { all } else { set };
    told.into_iter().map(|r| (m, r)).collect()
}

/// One clause for each thing said, with all marks that say it.
fn clauses(all: &[(&Mark, &Reading)]) -> Vec<String> {
    let mut out: Vec<(String, Vec<&Mark>)> = Vec::new();
    for (m, r) in all {
        // The same words of another mark
        let key = clause(m, r).replace(&m.name, "");
        match out
            .iter_mut()
            .find(|o| o.0.replace(&o.1[0].name, "") == key)
        {
            Some(o) => o.1.push(m),
            None => out.push((clause(m, r), vec![m])),
        }
    }
    let told = |(said, marks): (String, Vec<&Mark>)| {
        let rest: Vec<String> = marks[1..].iter().map(|m| m.name.clone()).collect();
        match rest.len() {
            0 => said,
            1 => format!("{said} (so does {})", rest[0]),
            _ => format!("{said} (so do {})", and(&rest)),
        }
    };
    out.into_iter().map(told).collect()
}

/// "printed label 1b names Thackwray & Son, listed 1868 to 1875".
fn clause(m: &Mark, r: &Reading) -> String {
    let words = match &r.entry {
        Some(key) => r.words.replace(&format!(" ({key})"), ""),
        None => r.words.clone(),
    };
    let said = match words.strip_prefix("it ") {
        Some(rest) => format!("{} {rest}", m.name),
        None if words.contains(" on it ") => words.replace(" on it ", &format!(" on {} ", m.name)),
        None => format!("{} says so", m.name),
    };
    let own =
        r.years.from.is_some_and(|y| said.contains(&y.to_string())) && r.years.from == r.years.to;
    match (own, r.entry.is_some()) {
        (true, _) => said,
        (_, true) => format!("{said}, listed {}", r.years.words()),
        _ => format!("{said} ({})", r.years.words()),
    }
}

/// "a", "a and b", "a, b and c".
pub(super) fn and(all: &[String]) -> String {
    super::Language::British.wording().joined(all)
}

/// What would follow for the picture, which no mark dates.
pub(super) fn picture(facts: &[Facts<'_>], solved: &Solved) -> Vec<Sentence> {
    let mut out = Vec::new();
    let mut add = |words: String, p: f64| {
        out.push(Sentence {
            words,
            basis: Basis::Program(p),
        });
    };
    let shown = facts.iter().filter_map(|f| {
        let year = f.role(statements::Role::ExhibitionYear)?;
        let show = f.exhibition()?;
        let p = year.chance().min(show.chance());
        (p >= SHOWN && year.text.len() >= 4).then_some((f.mark, year.text, p))
    });
    let earliest = shown.min_by(|a, b| a.1.cmp(&b.1));
    if let Some((m, year, p)) = earliest {
        let kind = m.kind().as_str().replace('_', " ");
        add(
            format!(
                "If {kind} {} belongs to the picture, it was painted, {}, by {year}.",
                m.id,
                with_number(p)
            ),
            p,
        );
    }
    let support = solved.parts.iter().find(|p| p.0 == Bearer::Support);
    if let Some((d, from)) = support.and_then(|(_, d)| Some((d, d.years.from?))) {
        add(
            format!(
                "If the picture was painted on this support when that was new, it was painted, {}, in {from} or later.",
                with_number(d.chance)
            ),
            d.chance,
        );
    }
    if !out.is_empty() {
        let words = "The picture itself is dated by no mark on its back.".into();
        out.insert(
            0,
            Sentence {
                words,
                basis: Basis::Record,
            },
        );
    }
    out
}
