//! Letters as matching sees them: 37 folded signs, how common each is, and which are mistaken for
//! which.
//!
//! Case, accents and punctuation are folded away on both sides. Which sign is read for which was counted
//! (`confusions.csv`) on 60 made photographs of another seed than any that is measured on, and by the line
//! network on 3,342 real lines that it wasn't trained on (check pages and left-out sources of the sets that
//! its card names): 1,974 mistakes among 92,464 letters. Signs that are rare there, figures most of all,
//! lean on look-alikes (`LOOK_ALIKE`, common practice of reading old print and hands, weights by judgement),
//! which cover capitals and small letters alike, because a label in capitals and a hand in small letters
//! fold to the same signs. `PULL` and their share, `Costs::alike`, were set by what half of the real lines
//! make of the other half and all of them of the made marks (ln chance of a mistake: -2.64 and -3.00; by
//! look-alikes alone, as before, -3.14 and -3.22; by how common signs are, -3.12 and -3.27).

use unicode_normalization::UnicodeNormalization;

/// Number of signs: a to z, 0 to 9, &.
pub const SIGNS: usize = 37;

/// The index of the ampersand.
pub const AMPERSAND: u8 = 36;

/// Share of each sign in the wording of trade labels, about; sums to 1 after [`frequency`].
const SHARES: [f32; SIGNS] = [
    7.5, 1.7, 3.0, 4.0, 10.5, 1.8, 2.0, 4.5, 6.5, 0.5, 1.0, 4.5, 2.5, 7.0, 7.0, 1.8, 0.4, 7.0, 6.5,
    8.0, 2.5, 0.9, 1.8, 0.4, 1.7, 0.4, 0.8, 0.9, 0.9, 0.8, 0.8, 0.8, 0.7, 0.7, 0.8, 0.7, 0.6,
];

/// Pairs of folded signs commonly mistaken for each other, with a relative weight.
const LOOK_ALIKE: &[(char, char, f32)] = &[
    ('o', '0', 6.0),
    ('i', 'l', 6.0),
    ('i', '1', 5.0),
    ('l', '1', 6.0),
    ('i', 'j', 2.0),
    ('i', 't', 2.0),
    ('l', 't', 2.0),
    ('t', 'f', 2.5),
    ('c', 'e', 6.0),
    ('c', 'o', 3.0),
    ('e', 'o', 3.0),
    ('a', 'o', 3.0),
    ('a', 'e', 1.5),
    ('c', 'g', 3.0),
    ('g', '6', 2.0),
    ('o', 'q', 2.0),
    ('d', 'o', 2.5),
    ('g', 'q', 3.0),
    ('g', 'y', 1.5),
    ('g', '9', 2.0),
    ('q', '9', 2.0),
    ('s', '5', 5.0),
    ('s', 'f', 3.0),
    ('s', '8', 1.5),
    ('b', '8', 4.0),
    ('b', '6', 2.0),
    ('b', 'h', 4.0),
    ('h', 'k', 3.0),
    ('b', 'r', 1.5),
    ('b', 'd', 1.5),
    ('b', 'p', 1.5),
    ('h', 'n', 4.0),
    ('r', 'n', 2.0),
    ('r', 'k', 2.5),
    ('r', 'v', 1.5),
    ('r', 'p', 2.0),
    ('p', 'f', 2.5),
    ('e', 'f', 2.5),
    ('n', 'u', 5.0),
    ('u', 'v', 4.0),
    ('v', 'y', 2.5),
    ('v', 'w', 2.0),
    ('n', 'm', 4.0),
    ('m', 'w', 1.5),
    ('n', 'h', 3.0),
    ('h', 'm', 1.0),
    ('x', 'k', 2.0),
    ('z', '2', 5.0),
    ('a', '4', 1.0),
    ('1', '7', 4.0),
    ('3', '8', 5.0),
    ('3', '5', 4.0),
    ('5', '6', 2.5),
    ('0', '6', 2.5),
    ('6', '8', 3.0),
    ('0', '8', 2.0),
    ('4', '9', 2.0),
    ('2', '7', 2.0),
    ('0', '9', 2.0),
    ('8', '9', 1.5),
    ('8', '&', 3.0),
    ('a', '&', 3.0),
    ('l', 'h', 1.0),
    ('t', 'r', 1.5),
    ('d', 'a', 1.5),
    ('i', 'r', 1.0),
    ('n', 'a', 1.0),
    ('y', 'j', 1.0),
];

/// Signs read and true, with how often on made marks and on real lines.
const COUNTED: &str = include_str!("confusions.csv");

/// Mistakes of a sign that weigh as much as what look-alikes say of it.
const PULL: f32 = 80.0;

/// How often each sign, by its index, truly was each other one.
fn counted() -> Vec<[f32; SIGNS]> {
    let mut out = vec![[0f32; SIGNS]; SIGNS];
    for row in COUNTED.lines().skip(1) {
        let mut fields = row.split(',');
        let mut sign = || index(fields.next()?.chars().next()?);
        if let (Some(read), Some(truth)) = (sign(), sign())
            && read != truth
        {
            let times = fields.filter_map(|n| n.parse::<f32>().ok()).sum();
            out[read as usize][truth as usize] = times;
        }
    }
    out
}

/// One sign of an entry that is read as two: (sign, first, second).
pub const SPLITS: &[(char, char, char)] = &[
    ('m', 'r', 'n'),
    ('m', 'n', 'i'),
    ('m', 'i', 'n'),
    ('d', 'c', 'l'),
    ('w', 'v', 'v'),
    ('u', 'i', 'i'),
    ('u', 'l', 'i'),
    ('n', 'i', 'i'),
    ('n', 'r', 'i'),
    ('h', 'l', 'i'),
    ('h', 'l', 'n'),
    ('k', 'l', 'c'),
    ('b', 'l', 'o'),
    ('a', 'c', 'i'),
    ('m', 'i', 'u'),
    ('w', 'u', 'i'),
];

/// Index of a folded sign.
pub fn index(c: char) -> Option<u8> {
    match c {
        'a'..='z' => Some(c as u8 - b'a'),
        '0'..='9' => Some(c as u8 - b'0' + 26),
        '&' => Some(AMPERSAND),
        _ => None,
    }
}

/// The sign of an index.
pub fn sign(i: u8) -> char {
    match i {
        0..26 => (b'a' + i) as char,
        26..36 => (b'0' + i - 26) as char,
        _ => '&',
    }
}

/// Folds one user-perceived character: lower case, no accents, ligatures written out. Anything
/// that isn't a letter, a digit or an ampersand gives nothing.
pub fn fold(text: &str) -> Vec<u8> {
    let mut out = Vec::new();
    for c in text.nfkd().flat_map(char::to_lowercase) {
        match c {
            'æ' => out.extend([0, 4]),
            'œ' => out.extend([14, 4]),
            'ß' => out.extend([18, 18]),
            'ſ' => out.push(18),
            'ø' => out.push(14),
            'ł' => out.push(11),
            'đ' | 'ð' => out.push(3),
            'þ' => out.extend([19, 7]),
            '⁊' => out.push(AMPERSAND),
            c => out.extend(index(c)),
        }
    }
    out
}

/// Shares of the signs in label wording, and the chances of mistaking.
#[derive(Debug, Clone)]
pub struct Confusion {
    /// Share of each sign, sums to 1.
    pub share: [f32; SIGNS],
    /// `mistaken[read][true]`: given that a sign was misread, what it truly is; rows sum to 1.
    pub mistaken: Vec<[f32; SIGNS]>,
}

impl Default for Confusion {
    fn default() -> Self {
        Self::new(super::observed::Costs::default().alike)
    }
}

impl Confusion {
    /// `alike`: share of misreadings that are between look-alikes, 0 to 1, as far as they weren't counted.
    pub fn new(alike: f32) -> Self {
        let total: f32 = SHARES.iter().sum();
        let mut share = SHARES;
        share.iter_mut().for_each(|s| *s /= total);
        let mut weight = vec![[0f32; SIGNS]; SIGNS];
        for &(a, b, w) in LOOK_ALIKE {
            if let (Some(a), Some(b)) = (index(a), index(b)) {
                let (a, b) = (a as usize, b as usize);
                // The likelier true sign is the commoner one
                weight[a][b] += w * share[b].sqrt();
                weight[b][a] += w * share[a].sqrt();
            }
        }
        let counted = counted();
        let mistaken = (0..SIGNS)
            .map(|a| {
                let times: f32 = counted[a].iter().sum();
                let sum: f32 = weight[a].iter().sum();
                let alike = if sum > 0.0 { alike } else { 0.0 };
                let mut row = [0f32; SIGNS];
                for (c, r) in row.iter_mut().enumerate() {
                    if c != a {
                        let other = share[c] / (1.0 - share[a]);
                        let like = if sum > 0.0 { weight[a][c] / sum } else { 0.0 };
                        let judged = alike * like + (1.0 - alike) * other;
                        *r = (counted[a][c] + PULL * judged) / (times + PULL);
                    }
                }
                row
            })
            .collect();
        Confusion { share, mistaken }
    }

    /// Whether two signs are commonly mistaken for each other.
    pub fn alike(a: u8, b: u8) -> bool {
        let (a, b) = (sign(a), sign(b));
        LOOK_ALIKE
            .iter()
            .any(|&(x, y, _)| (x, y) == (a, b) || (y, x) == (a, b))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_of_mistakes_sums_to_one_and_never_holds_the_sign_itself() {
        let c = Confusion::default();
        assert!((c.share.iter().sum::<f32>() - 1.0).abs() < 1e-5);
        for (a, row) in c.mistaken.iter().enumerate() {
            assert!((row.iter().sum::<f32>() - 1.0).abs() < 1e-4, "{a}");
            assert_eq!(row[a], 0.0);
        }
    }

    #[test]
    fn look_alikes_cost_less_than_other_signs() {
        let c = Confusion::default();
        let at = |x: char, y: char| {
            let (x, y) = (index(x).unwrap() as usize, index(y).unwrap() as usize);
            c.mistaken[x][y] / c.share[y]
        };
        for (a, b, other) in [
            ('c', 'e', 't'),
            ('0', 'o', 'n'),
            ('1', 'l', 's'),
            ('5', 's', 'a'),
        ] {
            assert!(at(a, b) > 4.0 * at(a, other), "{a}{b}");
        }
    }

    #[test]
    fn folding_drops_case_accents_and_points_and_keeps_long_s() {
        let text: String = ["É", "ſ", "Æ", "'", ".", "&", "7"]
            .iter()
            .flat_map(|c| fold(c))
            .map(sign)
            .collect();
        assert_eq!(text, "esae&7");
    }
}
