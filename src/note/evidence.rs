//! Sentences on dates part by part, conflicts, observations, and what to look up next.

use super::certainty::with_number;
use super::facts::Facts;
use super::wording::{Language, Telling};
use super::{Basis, Evidence, Sentence, dates, entry, reasons};
use crate::decisions::{Item, Observation, Sight, standing};
use crate::error::Result;
use crate::evidence::{
    Feature, Gathered, Solved, apart, chart, features, questions, standard_sizes,
};

/// Other years of less chance stand in the chart alone.
const RIVAL: f64 = 0.1;

/// A date of less chance isn't told in short.
const BRIEF: f64 = 0.4;

pub(super) fn evidence(
    items: &[Item],
    journal: &[Observation],
    (gathered, solved): (&Gathered, &Solved),
    (facts, language): (&[Facts<'_>], Language),
) -> Result<Evidence> {
    let list = features()?;
    let holds = standing(journal);
    let program = |words: String, p: f64| Sentence {
        words,
        basis: Basis::Program(p),
    };
    let record = |words: String| Sentence {
        words,
        basis: Basis::Record,
    };
    let mut parts = Vec::new();
    for (b, d) in &solved.parts {
        if let Some(words) = reasons::made(*b, d, gathered, solved) {
            parts.push((Some(*b), program(words, d.chance)));
        }
        let rivals: Vec<&(_, f64)> = d.rivals.iter().filter(|r| r.1 >= RIVAL).collect();
        let said: Vec<String> = rivals
            .iter()
            .map(|(y, p)| format!("{} {}", with_number(*p), reasons::years(y)))
            .collect();
        if let Some(least) = rivals.iter().map(|r| r.1).reduce(f64::min) {
            let words = format!("If not, then {}.", said.join(" or "));
            parts.push((Some(*b), program(words, least)));
        }
    }
    for a in apart(solved) {
        let words = format!(
            "So the {} and the {} did, {}, not begin together; frames and backings are changed, boards used again.",
            a.older.0.as_str(),
            a.younger.0.as_str(),
            with_number(a.chance)
        );
        parts.push((None, program(words, a.chance)));
    }
    parts.extend(
        reasons::picture(facts, solved)
            .into_iter()
            .map(|s| (None, s)),
    );
    let mut conflicts = Vec::new();
    for c in &solved.conflicts {
        conflicts.push(program(
            format!(
                "If all is read right, which it {} is, these can't be true together: “{}”.",
                with_number(c.chance),
                c.sides()
            ),
            c.chance,
        ));
        for d in &c.dissolves {
            conflicts.push(program(
                format!(
                    "It would be dissolved if “{}” ({}), which by itself is {} so, not “{}”.",
                    d.words,
                    d.mark,
                    with_number(d.chance),
                    d.instead
                ),
                d.chance,
            ));
        }
        for m in &c.may_be {
            conflicts.push(record(format!("Or it may be that {m}.")));
        }
    }
    Ok(Evidence {
        // Events and texts stand in the line of provenance, wordings in their places
        observed: holds
            .iter()
            .filter(|o| {
                matches!(
                    o.sight,
                    Sight::Feature { .. } | Sight::Size { .. } | Sight::Shows { .. }
                )
            })
            .map(|o| record(observed(o, &list)))
            .collect(),
        brief: entry::dates(solved, language.wording(), Telling::Figures(BRIEF))
            .into_iter()
            .map(|d| d.1)
            .collect(),
        of_parts: parts.iter().map(|p| p.0).collect(),
        parts: parts.into_iter().map(|p| p.1).collect(),
        conflicts,
        chart: chart(&gathered.back, solved),
        questions: questions(&gathered.back, solved, items, &holds, &list),
    })
}

/// What a person saw, what it may mean and where that is from.
fn observed(o: &Observation, list: &[Feature]) -> String {
    let who = format!("{}, {} ({})", o.author.by, dates::day(&o.author.at), o.id);
    match &o.sight {
        Sight::Undo { undoes } => format!("{who}: undoes {undoes}."),
        Sight::Event(h) => format!("{who}: {} ({}).", h.who, h.deed.as_str()),
        Sight::Provenance { source, .. } => format!("{who}: a text of provenance ({source})."),
        Sight::Shows { name, side, .. } => format!("{who}: {name} shows the {}.", side.as_str()),
        Sight::Wording { passage, words, .. } => format!("{who}: {passage}: {words}"),
        Sight::Size { height, width } => {
            let sizes = standard_sizes(*height, *width);
            let like = match sizes.first() {
                Some(m) => format!(
                    "it has the measures of the {} size {} ({})",
                    m.trade, m.name, m.source
                ),
                None => "none of the standard sizes; it may have been cut, or made to order".into(),
            };
            format!("{who}: the support measures {height:.0} × {width:.0} mm; {like}.")
        }
        Sight::Feature { feature, choice } => {
            let found = list
                .iter()
                .find(|f| f.feature == *feature)
                .and_then(|f| f.choice(choice));
            let feature = feature.replace('-', " ");
            let shown = choice.replace('-', " ");
            match found {
                None => format!("{who}: {feature}: {shown}."),
                Some(c) => {
                    let caution = if c.caution.is_empty() {
                        String::new()
                    } else {
                        format!(" Caution: {}.", c.caution)
                    };
                    let span = dates::span(&c.not_before, &c.not_after)
                        .map(|s| format!("; {s}"))
                        .unwrap_or_default();
                    format!(
                        "{who}: {feature}: {shown}; it may mean: {}{span} ({}).{caution}",
                        c.means,
                        c.source.trim()
                    )
                }
            }
        }
    }
}
