//! Entries of made pictures: whatever is settled or sure is told, once; short, without figures, and no
//! more surely than it is.

use super::*;
use dorso::decisions::SeenMark;
use dorso::statements::{Role, Statement};
use rand::{Rng, SeedableRng, rngs::StdRng};

/// Sorts of made marks: kind, roles with words that are made unlike by a number.
const SORTS: [(MarkKind, &[(Role, &str)]); 7] = [
    (
        MarkKind::PrintedLabel,
        &[
            (Role::Exhibition, "Guild of Painters at Wexmoor"),
            (Role::ExhibitionYear, "18"),
            (Role::CatalogueNumber, "3"),
            (Role::Title, "The Weir at Lanby"),
            (Role::Artist, "T. Ovenden"),
            (Role::Price, "£4"),
        ],
    ),
    (
        MarkKind::PrintedLabel,
        &[
            (Role::Maker, "J. Marlopp"),
            (Role::Trade, "carver and gilder"),
            (Role::Address, "Hob Lane"),
            (Role::Town, "Dunmere"),
        ],
    ),
    (
        MarkKind::Stencil,
        &[
            (Role::Sale, "Tarrant and Voss"),
            (Role::SaleDate, "19"),
            (Role::Lot, "2"),
        ],
    ),
    (
        MarkKind::WrittenLabel,
        &[
            (Role::Dealer, "Ostrey Rooms"),
            (Role::StockNumber, "7"),
            (Role::Town, "Lanby"),
        ],
    ),
    (MarkKind::WrittenLabel, &[(Role::Owner, "Mrs E. Quilter")]),
    (
        MarkKind::Inscription,
        &[(Role::Title, "Evening at Sallow"), (Role::Date, "18")],
    ),
    (MarkKind::Stamp, &[(Role::UnknownNumber, "5")]),
];

/// A mark of that sort whose values nothing else on the back has.
fn made(n: usize, sort: usize, rng: &mut StdRng) -> SeenMark {
    let (kind, roles) = &SORTS[sort];
    let chances = [0.99, 0.97, 0.96, 0.85, 0.6, 0.2];
    let statements: Vec<Statement> = roles
        .iter()
        .map(|(role, words)| {
            let value = match role {
                Role::ExhibitionYear | Role::SaleDate | Role::Date => format!("{words}{}", 50 + n),
                _ if words.len() < 4 => format!("{words}{:02}", n + 11),
                _ => format!("{words} {}", (b'A' + n as u8) as char),
            };
            Statement {
                role: *role,
                words: value.clone(),
                value,
                line: 0,
                chance: chances[rng.random_range(0..chances.len())],
                list: None,
                entry: None,
                listed: 0.0,
                places: Vec::new(),
            }
        })
        .collect();
    let words: Vec<&str> = statements.iter().map(|s| s.words.as_str()).collect();
    let read = words.join(" ");
    let confidence = [0.98, 0.8, 0.3][rng.random_range(0..3)];
    let y = 10 + 60 * n as i32;
    let mut out = mark(
        &format!("m{n}"),
        *kind,
        Rect::new(20, y, 300, 40).quad(),
        reading(&[(&read, confidence)]),
        Vec::new(),
    );
    out.statements = statements;
    out
}

fn back(seed: u64) -> (Note, Vec<SeenMark>) {
    let mut rng = StdRng::seed_from_u64(seed);
    let marks: Vec<SeenMark> = (0..rng.random_range(3..9))
        .map(|n| {
            let sort = rng.random_range(0..SORTS.len());
            made(n, sort, &mut rng)
        })
        .collect();
    let dir = tempfile::tempdir().unwrap();
    let mut s = SqliteStore::open(&dir.path().join("s.sqlite")).unwrap();
    s.record_run(&run(vec![photograph("b.jpg", 'a', marks.clone())]))
        .unwrap();
    (note_of(&s), marks)
}

/// The text of an entry up to the key.
fn told(note: &Note) -> String {
    let e = &note.entry;
    let all = e
        .inscribed
        .iter()
        .chain(&e.reverse)
        .chain(&e.exhibited)
        .chain(&e.dates)
        .chain(&e.notes);
    let all: Vec<&str> = all.map(|s| s.words.as_str()).collect();
    format!("{}\n{}", all.join("\n"), e.provenance)
}

#[test]
fn whatever_is_sure_is_told_and_none_of_it_twice() {
    let mut sure = 0;
    for seed in 0..20 {
        let (note, marks) = back(seed);
        let text = told(&note);
        for s in marks.iter().flat_map(|m| &m.statements) {
            // A trade is told by the noun of the mark
            if s.chance < 0.95 || s.role == Role::Trade {
                continue;
            }
            sure += 1;
            let times = text.matches(s.value.as_str()).count();
            // The name and the year of a showing tell which label it is and where it was shown
            let most = match s.role {
                Role::Exhibition | Role::ExhibitionYear | Role::Dealer | Role::Sale => 2,
                Role::SaleDate | Role::Lot | Role::StockNumber | Role::Town | Role::Owner => 2,
                _ => 1,
            };
            assert!(
                (1..=most).contains(&times),
                "{seed}: {:?} {times} times in\n{text}",
                s
            );
        }
        let mut lines: Vec<&str> = text.lines().collect();
        let all = lines.len();
        lines.sort_unstable();
        lines.dedup();
        assert_eq!(lines.len(), all, "{seed}: a sentence twice in\n{text}");
    }
    assert!(sure > 100, "{sure}");
}

#[test]
fn an_entry_is_short_and_has_no_figures_of_chances() {
    let mut a_mark: Vec<usize> = Vec::new();
    let (mut words, mut sentences) = (0, 0);
    for seed in 0..20 {
        let (note, marks) = back(seed);
        let text = told(&note);
        let count = |t: &str| t.split_whitespace().count();
        a_mark.push(count(&text).div_ceil(marks.len()));
        for line in text.lines().filter(|l| !l.is_empty()) {
            sentences += 1;
            words += count(line);
        }
        let decimal = |w: &str| {
            w.trim_matches(['(', ')', ',', '.']).parse::<f64>().is_ok()
                && w.trim_end_matches(['.', ',']).contains('.')
        };
        assert!(!text.split_whitespace().any(decimal), "{text}");
        for m in &note.marks {
            assert!(
                !text
                    .split(|c: char| !c.is_alphanumeric())
                    .any(|w| w == m.id),
                "{} in {text}",
                m.id
            );
        }
    }
    a_mark.sort_unstable();
    let median = a_mark[a_mark.len() / 2];
    println!(
        "median {median} words a mark, {:.1} words a sentence",
        words as f64 / sentences as f64
    );
    assert!(median <= 30, "{a_mark:?}");
    assert!(words <= 25 * sentences, "{words} words in {sentences}");
}

/// Whether a sentence quotes a mark as a whole and says nothing of what is meant.
fn quoted(line: &str) -> bool {
    let Some((start, _)) = line.split_once('“') else {
        return false;
    };
    let start = start.trim_end_matches([' ', ',']);
    let start = start
        .trim_end_matches(" probably")
        .trim_end_matches(" possibly");
    let nouns = ["Inscribed", "label", "Label", "Stencil", "Stamp"];
    nouns
        .iter()
        .any(|n| start.trim_end_matches(',').ends_with(n))
}

#[test]
fn no_sentence_of_an_entry_is_surer_than_what_is_behind_it() {
    let mut doubtful = 0;
    for seed in 0..20 {
        let (note, marks) = back(seed);
        let text = told(&note);
        for s in marks.iter().flat_map(|m| &m.statements) {
            if entry_word(s.chance).is_none() && s.role != Role::Trade {
                let quoted = note
                    .entry
                    .sentences()
                    .any(|x| x.words.contains('“') && x.words.contains(&s.value));
                assert!(
                    quoted || !text.contains(s.value.as_str()),
                    "{seed}: {s:?} in\n{text}"
                );
                continue;
            }
            let Some(word) = entry_word(s.chance).filter(|w| !w.is_empty()) else {
                continue;
            };
            // Its word of doubt stands somewhere before it in its sentence
            for line in text.lines().filter(|l| l.contains(s.value.as_str())) {
                let at = line.find(s.value.as_str()).unwrap();
                // A quotation of the whole mark says what stands there, and its word is that of the reading
                if quoted(line) {
                    continue;
                }
                let before = line[..at].to_lowercase();
                let allowed: &[&str] = if word == "probably" {
                    &["probably", "possibly"]
                } else {
                    &["possibly"]
                };
                assert!(
                    allowed.iter().any(|w| before.contains(w)),
                    "{seed}: {s:?} in {line}"
                );
                doubtful += 1;
            }
        }
    }
    assert!(doubtful > 20, "{doubtful}");
}
