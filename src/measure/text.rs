//! Character and word error rates, and the pairing of read lines with true lines.

use unicode_normalization::UnicodeNormalization;

/// Counts of a least-cost alignment of a read text with the true one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Edits {
    /// Signs read as another.
    pub substituted: usize,
    /// True signs not read.
    pub deleted: usize,
    /// Signs read where none stands.
    pub inserted: usize,
    /// Signs of the true text.
    pub length: usize,
}

impl Edits {
    /// All errors.
    pub fn errors(&self) -> usize {
        self.substituted + self.deleted + self.inserted
    }

    /// Errors over true length; may exceed 1. Nothing true and nothing read: 0; nothing true but
    /// something read: 1 for each sign read.
    pub fn rate(&self) -> f64 {
        self.errors() as f64 / self.length.max(1) as f64
    }

    /// Sum of two counts: rates are pooled, not averaged.
    pub fn plus(self, other: Edits) -> Edits {
        Edits {
            substituted: self.substituted + other.substituted,
            deleted: self.deleted + other.deleted,
            inserted: self.inserted + other.inserted,
            length: self.length + other.length,
        }
    }
}

/// Least-cost edit counts between two sequences, all edits costing 1.
///
/// Source: V. Levenshtein 1966; S. Rice, *Measuring the Accuracy of Page-Reading Systems*, 1996.
/// Where several alignments cost the same, substitutions are preferred; the total is the same.
///
/// ```
/// let e = dorso::measure::text::edits(&['a', 'b', 'c'], &['a', 'x', 'c', 'd']);
/// assert_eq!((e.substituted, e.inserted, e.deleted, e.length), (1, 1, 0, 3));
/// ```
pub fn edits<T: PartialEq>(truth: &[T], read: &[T]) -> Edits {
    let mut row: Vec<Edits> = (0..=read.len())
        .map(|j| Edits {
            inserted: j,
            ..Edits::default()
        })
        .collect();
    for (i, t) in truth.iter().enumerate() {
        let mut corner = row[0];
        row[0].deleted = i + 1;
        for (j, r) in read.iter().enumerate() {
            let mut best = corner;
            best.substituted += usize::from(t != r);
            let mut deleted = row[j + 1];
            deleted.deleted += 1;
            let mut inserted = row[j];
            inserted.inserted += 1;
            for other in [deleted, inserted] {
                if other.errors() < best.errors() {
                    best = other;
                }
            }
            corner = row[j + 1];
            row[j + 1] = best;
        }
    }
    let mut out = row[read.len()];
    out.length = truth.len();
    out
}

/// NFC, runs of white space as one space, none at the ends: the form in which texts are compared.
/// Case, punctuation and diacritics count.
pub fn normal(text: &str) -> String {
    text.nfc()
        .collect::<String>()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

/// Character errors of one text, both brought to [`normal`] form.
///
/// ```
/// let e = dorso::measure::text::characters("CARVER & GILDER", "CARYER & GILDFR");
/// assert_eq!((e.errors(), e.length), (2, 15));
/// ```
pub fn characters(truth: &str, read: &str) -> Edits {
    let t: Vec<char> = normal(truth).chars().collect();
    let r: Vec<char> = normal(read).chars().collect();
    edits(&t, &r)
}

/// Word errors of one text.
///
/// ```
/// let e = dorso::measure::text::words("carver and gilder", "carver gilder");
/// assert_eq!((e.errors(), e.length), (1, 3));
/// ```
pub fn words(truth: &str, read: &str) -> Edits {
    let (t, r) = (normal(truth), normal(read));
    let t: Vec<&str> = t.split(' ').filter(|w| !w.is_empty()).collect();
    let r: Vec<&str> = r.split(' ').filter(|w| !w.is_empty()).collect();
    edits(&t, &r)
}

/// Pairs read lines with true lines so that the sum of character errors is least. A true line
/// without partner counts as deleted, a read line without partner as inserted. Marks on a back
/// have no fixed order among each other, so an order of its own must not be held against a
/// reading; within a line order counts.
///
/// Returns for each true line the read line it was paired with. Cost O(n³), n lines in all.
pub fn pair_lines(truth: &[String], read: &[String]) -> Vec<Option<usize>> {
    let t: Vec<Vec<char>> = truth.iter().map(|s| normal(s).chars().collect()).collect();
    let r: Vec<Vec<char>> = read.iter().map(|s| normal(s).chars().collect()).collect();
    let n = t.len() + r.len();
    if n == 0 {
        return Vec::new();
    }
    // Square matrix: true lines then stand-ins for "inserted"; read lines then stand-ins for
    // "deleted".
    let mut cost = vec![vec![0i64; n]; n];
    for (i, row) in cost.iter_mut().enumerate() {
        for (j, c) in row.iter_mut().enumerate() {
            *c = match (t.get(i), r.get(j)) {
                (Some(a), Some(b)) => edits(a, b).errors() as i64,
                (Some(a), None) => a.len() as i64,
                (None, Some(b)) => b.len() as i64,
                (None, None) => 0,
            };
        }
    }
    let column_of = assign(&cost);
    (0..t.len())
        .map(|i| Some(column_of[i]).filter(|&j| j < r.len()))
        .collect()
}

/// Character errors over all lines, paired by [`pair_lines`].
pub fn characters_by_line(truth: &[String], read: &[String]) -> Edits {
    by_line(truth, read, characters)
}

/// Word errors over all lines, paired by [`pair_lines`].
pub fn words_by_line(truth: &[String], read: &[String]) -> Edits {
    by_line(truth, read, words)
}

fn by_line(truth: &[String], read: &[String], count: fn(&str, &str) -> Edits) -> Edits {
    let pairs = pair_lines(truth, read);
    let mut free = vec![true; read.len()];
    let mut sum = Edits::default();
    for (line, pair) in truth.iter().zip(&pairs) {
        let partner = pair.map_or("", |j| {
            free[j] = false;
            read[j].as_str()
        });
        sum = sum.plus(count(line, partner));
    }
    for (line, _) in read.iter().zip(&free).filter(|(_, free)| **free) {
        sum = sum.plus(count("", line));
    }
    sum
}

/// Share of words found, whatever their order: F1 over the two bags of words, compared without
/// case and without punctuation at their ends. Both empty: 1.
pub fn word_f1(truth: &str, read: &str) -> f64 {
    let bag = |s: &str| -> Vec<String> {
        s.split_whitespace()
            .map(|w| {
                w.trim_matches(|c: char| !c.is_alphanumeric())
                    .to_lowercase()
            })
            .filter(|w| !w.is_empty())
            .collect()
    };
    let t = bag(truth);
    let mut r = bag(read);
    if t.is_empty() && r.is_empty() {
        return 1.0;
    }
    let read_count = r.len();
    let mut both = 0usize;
    for w in &t {
        if let Some(at) = r.iter().position(|x| x == w) {
            r.swap_remove(at);
            both += 1;
        }
    }
    2.0 * both as f64 / (t.len() + read_count) as f64
}

/// Column for each row so that the summed cost is least.
///
/// Source: the shortest augmenting path form of the assignment problem, R. Jonker and
/// A. Volgenant, *Computing* 38, 1987, without its speed-ups. Square matrix.
fn assign(cost: &[Vec<i64>]) -> Vec<usize> {
    let n = cost.len();
    let far = i64::MAX / 4;
    let (mut of_row, mut of_column) = (vec![0i64; n + 1], vec![0i64; n + 1]);
    let mut row_at = vec![n; n + 1];
    for row in 0..n {
        row_at[n] = row;
        let mut column = n;
        let mut least = vec![far; n + 1];
        let mut from = vec![n; n + 1];
        let mut used = vec![false; n + 1];
        loop {
            used[column] = true;
            let r = row_at[column];
            let (mut step, mut next) = (far, n);
            for c in 0..n {
                if used[c] {
                    continue;
                }
                let reduced = cost[r][c] - of_row[r] - of_column[c];
                if reduced < least[c] {
                    least[c] = reduced;
                    from[c] = column;
                }
                if least[c] < step {
                    step = least[c];
                    next = c;
                }
            }
            for c in 0..=n {
                if used[c] {
                    of_row[row_at[c]] += step;
                    of_column[c] -= step;
                } else {
                    least[c] -= step;
                }
            }
            column = next;
            if row_at[column] == n {
                break;
            }
        }
        while column != n {
            row_at[column] = row_at[from[column]];
            column = from[column];
        }
    }
    let mut out = vec![0; n];
    for c in 0..n {
        out[row_at[c]] = c;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn lines(text: &[&str]) -> Vec<String> {
        text.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn order_of_lines_is_not_held_against_a_reading() {
        let truth = lines(&["LOT 14", "THE OLD FERRY"]);
        let read = lines(&["THE OLD FERRY", "LOT 14"]);
        assert_eq!(characters_by_line(&truth, &read).errors(), 0);
    }

    #[test]
    fn a_line_not_read_counts_as_deleted_and_a_line_too_many_as_inserted() {
        let truth = lines(&["ABCD", "EFG"]);
        let e = characters_by_line(&truth, &lines(&["ABCD"]));
        assert_eq!((e.deleted, e.inserted, e.length), (3, 0, 7));
        let e = characters_by_line(&truth, &lines(&["ABCD", "EFG", "xyzxyzxyz"]));
        assert_eq!((e.deleted, e.inserted), (0, 9));
    }

    #[test]
    fn an_empty_truth_counts_every_sign_read() {
        let e = characters_by_line(&[], &lines(&["abc"]));
        assert_eq!((e.errors(), e.length), (3, 0));
        assert!((e.rate() - 3.0).abs() < 1e-12);
    }

    #[test]
    fn words_found_in_any_order_count_for_f1() {
        assert!((word_f1("a b c d", "d c x") - 2.0 * 2.0 / 7.0).abs() < 1e-12);
        assert!((word_f1("", "") - 1.0).abs() < 1e-12);
    }

    /// All ways of pairing, for small matrices: the slow twin of `assign`.
    fn least_by_trying(cost: &[Vec<i64>], row: usize, used: &mut Vec<bool>) -> i64 {
        if row == cost.len() {
            return 0;
        }
        let mut best = i64::MAX;
        for c in 0..cost.len() {
            if !used[c] {
                used[c] = true;
                best = best.min(cost[row][c] + least_by_trying(cost, row + 1, used));
                used[c] = false;
            }
        }
        best
    }

    proptest! {
        #[test]
        fn pairing_is_as_cheap_as_the_best_of_all_pairings(
            cost in (1usize..6).prop_flat_map(|n| proptest::collection::vec(
                proptest::collection::vec(0i64..50, n), n))
        ) {
            let found = assign(&cost);
            let mut seen = vec![false; cost.len()];
            for &c in &found { prop_assert!(!seen[c]); seen[c] = true; }
            let sum: i64 = found.iter().enumerate().map(|(r, &c)| cost[r][c]).sum();
            let mut used = vec![false; cost.len()];
            prop_assert_eq!(sum, least_by_trying(&cost, 0, &mut used));
        }

        #[test]
        fn edit_counts_agree_with_the_library_distance(a in "[abc ]{0,12}", b in "[abc ]{0,12}") {
            let e = edits(&a.chars().collect::<Vec<_>>(), &b.chars().collect::<Vec<_>>());
            prop_assert_eq!(e.errors(), strsim::levenshtein(&a, &b));
            prop_assert_eq!(a.chars().count() + e.inserted, b.chars().count() + e.deleted);
        }
    }
}
