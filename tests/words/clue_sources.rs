//! A clue that names a law or a treaty begins or ends near it: the years of the table against those in the
//! names of their own sources.

use dorso::dating::clues::Clues;

/// A law comes into force, and is done away with, within so many years of its own.
const IN_FORCE: i32 = 5;

const LAWS: [&str; 9] = [
    " Act", "loi ", "legge", "esetz", "wet ", "reaty", "atent", "warrant", "Order ",
];

/// Years of four figures in a text.
fn years(text: &str) -> Vec<i32> {
    let figures = text.split(|c: char| !c.is_ascii_digit());
    let four = figures
        .filter(|f| f.len() == 4)
        .filter_map(|f| f.parse().ok());
    four.filter(|y| (1500..2030).contains(y)).collect()
}

#[test]
fn a_clue_from_a_law_begins_or_ends_near_the_year_of_the_law() {
    let clues = Clues::built_in().expect("built-in table");
    let mut seen = 0;
    for row in clues.rows() {
        let of_law = years(row.source);
        let law = LAWS.iter().any(|l| row.source.contains(l));
        let memory = row.source.contains("from memory");
        let Some(wording) = row.wordings.first().filter(|_| law && !memory) else {
            continue;
        };
        let text = format!("{}{wording}{}", row.place.0, row.place.1);
        let dating = clues.date(&text);
        let found = dating.clues.iter().find(|c| c.id == row.id);
        let found = found.unwrap_or_else(|| panic!("{}: {text}", row.id));
        let mut ends: Vec<i32> = [&found.not_before, &found.not_after]
            .into_iter()
            .flatten()
            .flat_map(|t| years(t))
            .collect();
        for span in &found.spans {
            ends.extend(span.iter().flatten().flat_map(|t| years(t)));
        }
        if of_law.is_empty() || ends.is_empty() {
            continue;
        }
        let near = |e: &i32| of_law.iter().any(|l| (e - l).abs() <= IN_FORCE);
        assert!(
            ends.iter().any(near),
            "{}: {ends:?} beside \"{}\"",
            row.id,
            row.source
        );
        seen += 1;
    }
    assert!(seen >= 80, "{seen}");
}
