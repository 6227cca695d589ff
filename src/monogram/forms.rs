//! The initials that a name may be signed with.

use super::letters::{Packed, capital};
use crate::gazetteer::Entry;
use std::collections::BTreeMap;

/// Initials in the order of the name, with the share of signs made so; shares sum to 1.
pub type Initials = Vec<(Packed, f64)>;

/// Shares of a name's forms. No figures were found on how often painters used which: set by
/// judgement from common practice.
const SURNAME_ALONE: f64 = 0.04;
const GIVEN_ALONE: f64 = 0.03;
/// Of names with several Christian names: all of them, the first, the last.
const SEVERAL: (f64, f64, f64) = (0.6, 0.27, 0.06);
/// Of the other forms of a name in a row, together.
const VARIANTS: f64 = 0.25;

const TITLES: [&str; 22] = [
    "sir", "lord", "lady", "baron", "baroness", "count", "countess", "duke", "duchess", "dr",
    "mrs", "miss", "mr", "mme", "madame", "rev", "reverend", "hon", "captain", "colonel", "prof",
    "dame",
];
const AFTER: [&str; 15] = [
    "jr", "sr", "junior", "senior", "ii", "iii", "iv", "v", "i", "ra", "ara", "rsa", "elder",
    "younger", "esq",
];
const PARTICLES: [&str; 34] = [
    "de", "du", "des", "la", "le", "les", "van", "von", "der", "den", "ten", "ter", "zu", "zur",
    "af", "av", "da", "di", "del", "della", "dei", "degli", "dos", "das", "do", "y", "e", "el",
    "dall", "dalla", "vander", "vom", "und", "d",
];
/// Where the name itself ends.
const ENDS: [&str; 9] = [
    "of", "called", "the", "with", "and", "known", "duc", "earl", "gen",
];

/// A name in its parts; letters without accents.
#[derive(Debug, Default)]
struct Parts {
    given: Vec<u8>,
    particles: Vec<u8>,
    /// Each surname with what it may begin with: "MacNab" M, or M and N.
    surnames: Vec<Vec<(Vec<u8>, f64)>>,
}

/// Initials of all forms of the name of a row.
pub fn forms(e: &Entry) -> Initials {
    let mut all: BTreeMap<Packed, f64> = BTreeMap::new();
    let others: Vec<&String> = e.variants.iter().filter(|v| !v.trim().is_empty()).collect();
    let own = if others.is_empty() {
        1.0
    } else {
        1.0 - VARIANTS
    };
    add(&e.name, own, &mut all);
    for v in &others {
        add(v, VARIANTS / others.len() as f64, &mut all);
    }
    let sum: f64 = all.values().sum();
    all.into_iter().map(|(p, s)| (p, s / sum)).collect()
}

fn add(name: &str, weight: f64, all: &mut BTreeMap<Packed, f64>) {
    let mut put = |letters: &[u8], share: f64| {
        if let Some(p) = Packed::of(letters) {
            *all.entry(p).or_default() += weight * share;
        }
    };
    for (name, share) in born(name) {
        let parts = parts(&name);
        let ends = surnames(&parts);
        let given = &parts.given;
        if given.is_empty() {
            ends.iter().for_each(|(s, w)| put(s, share * w));
            continue;
        }
        put(&given[..1], share * GIVEN_ALONE);
        ends.iter()
            .for_each(|(s, w)| put(s, share * w * SURNAME_ALONE));
        let left = share * (1.0 - GIVEN_ALONE - SURNAME_ALONE);
        let starts: Vec<(&[u8], f64)> = if given.len() == 1 {
            vec![(given, 1.0)]
        } else {
            let (every, first, last) = SEVERAL;
            let all = every + first + last;
            vec![
                (given, every / all),
                (&given[..1], first / all),
                (&given[given.len() - 1..], last / all),
            ]
        };
        for (start, s) in &starts {
            for (end, w) in &ends {
                put(&[start, end.as_slice()].concat(), left * s * w);
            }
        }
    }
}

/// A name, and the name at birth where the text gives one: "Anna Rowe née Lindley".
fn born(name: &str) -> Vec<(String, f64)> {
    let lower = name.to_lowercase();
    for mark in [" née ", " nee ", " geb. ", " born "] {
        if let Some(at) = lower.find(mark)
            && name.is_char_boundary(at)
            && name.is_char_boundary(at + mark.len())
        {
            let (now, then) = (&name[..at], &name[at + mark.len()..]);
            let first = now.rsplit_once(' ').map_or("", |n| n.0);
            return vec![(now.to_string(), 0.6), (format!("{first} {then}"), 0.4)];
        }
    }
    vec![(name.to_string(), 1.0)]
}

/// What the surnames may begin with, particles counted or not, double ones whole or in part.
fn surnames(parts: &Parts) -> Vec<(Vec<u8>, f64)> {
    let single: Vec<(Vec<u8>, f64)> = match &parts.surnames[..] {
        [] => return Vec::new(),
        [one] => one.clone(),
        [first, .., last] => {
            let mut out = Vec::new();
            for (a, x) in first {
                for (b, y) in last {
                    out.push(([a.as_slice(), b].concat(), 0.6 * x * y));
                }
            }
            out.extend(first.iter().map(|(a, x)| (a.clone(), 0.2 * x)));
            out.extend(last.iter().map(|(b, y)| (b.clone(), 0.2 * y)));
            out
        }
    };
    if parts.particles.is_empty() {
        return single;
    }
    let with = single.iter().flat_map(|(s, w)| {
        let all = [parts.particles.as_slice(), s].concat();
        let first = [&parts.particles[..1], s].concat();
        [(s.clone(), 0.6 * w), (all, 0.2 * w), (first, 0.2 * w)]
    });
    with.collect()
}

fn parts(name: &str) -> Parts {
    let words = words(name);
    let mut out = Parts::default();
    let particle = |w: &String| PARTICLES.contains(&w.to_lowercase().as_str());
    // The surname is the last word with what hangs on it by a particle or a hyphen; without a
    // particle all words before are Christian names.
    let Some(last) = words.len().checked_sub(1) else {
        return out;
    };
    let from = (1..last)
        .find(|i| particle(&words[*i]))
        .unwrap_or(last)
        .min(last);
    for w in &words[..from] {
        out.given.extend(w.split('-').filter_map(initial));
    }
    for w in &words[from..] {
        if particle(w) && out.surnames.is_empty() {
            out.particles.extend(initial(w));
        } else if !particle(w) {
            out.surnames
                .extend(w.split('-').filter(|p| !p.is_empty()).filter_map(begins));
        }
    }
    out
}

/// Words of a name: without titles, numbers, and what comes after.
fn words(name: &str) -> Vec<String> {
    let name = name.split(['(', ',', ';', '"']).next().unwrap_or("");
    let name = name
        .replace('.', ". ")
        .replace("d'", "d' ")
        .replace("D'", "d' ");
    let mut out: Vec<String> = Vec::new();
    for word in name.split_whitespace() {
        let plain = word.trim_matches(['.', '\'', '’']).to_lowercase();
        if out.len() > 1 && ENDS.contains(&plain.as_str()) {
            break;
        }
        let title = TITLES.contains(&plain.as_str());
        let after = out.len() > 1 && AFTER.contains(&plain.as_str()) && !word.ends_with('.');
        if plain.is_empty() || title || after {
            continue;
        }
        out.push(
            word.trim_matches(['.', '’'])
                .trim_end_matches('\'')
                .to_string(),
        );
    }
    out
}

/// The first letter as a capital without its accent.
fn initial(word: &str) -> Option<u8> {
    let first = word.chars().find(|c| c.is_alphabetic())?;
    match first {
        'Æ' | 'æ' => Some(b'A'),
        c => capital(c),
    }
}

/// What a surname may begin with: Mac and O' are counted, taken along, or left out.
fn begins(word: &str) -> Option<Vec<(Vec<u8>, f64)>> {
    let first = initial(word)?;
    let after = |rest: &str| {
        rest.chars()
            .next()
            .filter(|c| c.is_uppercase())
            .and_then(|_| initial(rest))
    };
    for prefix in ["Mac", "Mc", "M'", "M’"] {
        if let Some(next) = word.strip_prefix(prefix).and_then(after) {
            return Some(vec![
                (vec![b'M'], 0.7),
                (vec![b'M', next], 0.2),
                (vec![next], 0.1),
            ]);
        }
    }
    for prefix in ["O'", "O’"] {
        if let Some(next) = word.strip_prefix(prefix).and_then(after) {
            return Some(vec![
                (vec![b'O'], 0.6),
                (vec![b'O', next], 0.3),
                (vec![next], 0.1),
            ]);
        }
    }
    Some(vec![(vec![first], 1.0)])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(name: &str, variants: &[&str]) -> Vec<(String, f64)> {
        let e = Entry {
            name: name.into(),
            variants: variants.iter().map(|v| v.to_string()).collect(),
            ..Entry::default()
        };
        let mut all: Vec<(String, f64)> =
            forms(&e).into_iter().map(|(p, s)| (p.text(), s)).collect();
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        all
    }

    fn has(all: &[(String, f64)], text: &str) -> bool {
        all.iter().any(|a| a.0 == text)
    }

    #[test]
    fn the_full_initials_lead_and_shares_sum_to_one() {
        for (name, text) in [
            ("Orlando Pym Hartwell", "OPH"),
            ("Sir Jonas Wetherby", "JW"),
            ("Edda Thorne the Younger", "ET"),
            ("J.W. Callow", "JWC"),
            ("Øystein Ärnholt", "OA"),
            ("Anton Ferrow I", "AF"),
        ] {
            let all = of(name, &[]);
            assert_eq!(all[0].0, text, "{name}");
            let sum: f64 = all.iter().map(|a| a.1).sum();
            assert!((sum - 1.0).abs() < 1e-9, "{name}");
        }
    }

    #[test]
    fn a_name_has_the_forms_that_it_may_be_signed_with() {
        let all = of("Orlando Pym Hartwell", &[]);
        assert!(has(&all, "OH") && has(&all, "PH") && has(&all, "H") && has(&all, "O"));
        let double = of("Mary Ashby-Lorne", &[]);
        assert!(has(&double, "MAL") && has(&double, "MA") && has(&double, "ML"));
        let mac = of("Ian MacTarvit", &[]);
        assert_eq!(mac[0].0, "IM");
        assert!(has(&mac, "IMT") && has(&mac, "IT"));
        assert!(!has(&of("Jan Macher", &[]), "IMH"));
        let o = of("Niall O'Durrow", &[]);
        assert!(has(&o, "NO") && has(&o, "NOD") && has(&o, "ND"));
        let van = of("Pieter van der Loon", &[]);
        assert_eq!(van[0].0, "PL");
        assert!(has(&van, "PVDL") && has(&van, "PVL"));
        let maiden = of("Anna Rowe née Lindley", &[]);
        assert!(has(&maiden, "AR") && has(&maiden, "AL"));
        assert!(has(&of("Carla Wend", &["Carla Bright"]), "CB"));
    }

    #[test]
    fn a_name_without_letters_has_no_form() {
        assert!(of("1234", &[]).is_empty());
        assert!(of("", &[]).is_empty());
    }
}
