//! All ways one by one, and what the likeliest comes to.

use super::*;
use proptest::prelude::*;

const SET: Weighing = Weighing {
    share: 0.4,
    usual: 1.5,
};

/// Remembers three signs; what follows goes by the last two.
struct Told;

impl Wording for Told {
    fn beginning(&self) -> u64 {
        1 << 8
    }

    fn follows(&self, before: u64, sign: Option<u8>) -> f64 {
        let sign = sign.map_or(7, u64::from);
        -((((before & 0xffff) * 31 + sign * 17) % 11) as f64) / 3.0
    }

    fn after(&self, before: u64, sign: u8) -> u64 {
        (before << 8 | u64::from(sign)) & 0xff_ffff
    }
}

/// What a text is worth by the wording.
fn worth(signs: &[u8]) -> f64 {
    let mut before = Told.beginning();
    let mut sum = 0.0;
    for &sign in signs {
        sum += SET.share * (Told.follows(before, Some(sign)) + SET.usual);
        before = Told.after(before, sign);
    }
    sum + SET.share * (Told.follows(before, None) + SET.usual)
}

fn logs(rows: &[Vec<f64>]) -> Vec<f32> {
    let whole = |row: &[f64]| row.iter().sum::<f64>();
    let rows = rows.iter();
    rows.flat_map(|row| {
        row.iter()
            .map(|p| (p / whole(row)).ln() as f32)
            .collect::<Vec<_>>()
    })
    .collect()
}

fn text(ways: &Ways) -> Vec<u8> {
    ways.signs.iter().map(|s| s.label).collect()
}

proptest! {
    /// All labellings of a few steps, one by one: what they spell, and where each sign begins.
    #[test]
    fn a_sign_s_chance_at_a_step_is_the_sum_over_all_ways_on_which_it_begins_there(
        rows in prop::collection::vec(prop::collection::vec(0.05f64..1.0, 3), 1..6),
    ) {
        let flat = logs(&rows);
        let found = ways(&flat, 3, &Told, SET);
        let mut wanted = vec![[0.0; 3]; rows.len()];
        let mut all = 0.0;
        for way in 0..3usize.pow(rows.len() as u32) {
            let labels: Vec<usize> = (0..rows.len()).map(|t| way / 3usize.pow(t as u32) % 3).collect();
            let begins = |t: usize| labels[t] > 0 && (t == 0 || labels[t - 1] != labels[t]);
            let said: Vec<u8> = (0..rows.len()).filter(|&t| begins(t)).map(|t| labels[t] as u8).collect();
            let own: f64 = labels.iter().enumerate().map(|(t, &l)| f64::from(flat[3 * t + l])).sum();
            let counts = (own + worth(&said)).exp();
            all += counts;
            for t in (0..rows.len()).filter(|&t| begins(t)) {
                wanted[t][labels[t]] += counts;
            }
        }
        for (t, wanted) in wanted.iter().enumerate() {
            for label in 1..3u8 {
                let own = found.steps[t].iter().find(|s| s.0 == label).map_or(0.0, |s| s.1);
                let wanted = wanted[usize::from(label)] / all;
                prop_assert!((own - wanted).abs() < 1e-5, "{own} {wanted}");
            }
        }
    }

    #[test]
    fn signs_stand_from_left_to_right_on_steps_of_their_own(
        rows in prop::collection::vec(prop::collection::vec(0.01f64..1.0, 5), 1..30),
    ) {
        let found = ways(&logs(&rows), 5, &Told, SET);
        prop_assert!(found.signs.windows(2).all(|w| w[0].step < w[1].step));
        for sign in &found.signs {
            prop_assert!(sign.step < rows.len() && sign.label > 0);
            prop_assert!(sign.chances.iter().any(|c| c.0 == sign.label));
        }
    }
}

/// Rows of four labels, of which one has the most; of the rest, one may have some.
fn row(label: usize, chance: f64, other: (usize, f64)) -> Vec<f64> {
    let mut row = vec![(1.0 - chance - other.1) / 2.0; 4];
    (row[label], row[other.0]) = (chance, other.1);
    row
}

/// After the sign 1 the sign 3 is usual, and nothing else is.
struct Usual;

impl Wording for Usual {
    fn beginning(&self) -> u64 {
        1 << 8
    }

    fn follows(&self, before: u64, sign: Option<u8>) -> f64 {
        if before & 255 == 1 && sign == Some(3) {
            -0.1
        } else {
            -4.0
        }
    }

    fn after(&self, _: u64, sign: u8) -> u64 {
        1 << 8 | u64::from(sign)
    }
}

#[test]
fn the_usual_sign_wins_where_two_are_as_likely_and_a_clear_one_stays() {
    let blank = row(0, 0.998, (1, 0.001));
    let line = |second: Vec<f64>| logs(&[row(1, 0.99, (0, 0.006)), blank.clone(), second]);
    let doubtful = ways(&line(row(2, 0.5, (3, 0.45))), 4, &Usual, SET);
    assert_eq!(text(&doubtful), [1, 3]);
    let clear = ways(&line(row(2, 0.9985, (3, 0.0005))), 4, &Usual, SET);
    assert_eq!(text(&clear), [1, 2]);
}

#[test]
fn two_signs_that_the_best_path_reads_as_one_stand_where_the_wording_has_both() {
    // 1 at the first step is likelier than nothing only together with 3 behind it
    let rows = [
        row(0, 0.55, (1, 0.44)),
        row(0, 0.95, (1, 0.03)),
        row(3, 0.9, (2, 0.08)),
    ];
    assert_eq!(text(&ways(&logs(&rows), 4, &Usual, SET)), [1, 3]);
    let none = Weighing { share: 0.0, ..SET };
    assert_eq!(text(&ways(&logs(&rows), 4, &Usual, none)), [3]);
}

#[test]
fn nothing_is_read_on_bare_ground_and_of_no_steps() {
    let bare: Vec<Vec<f64>> = (0..40).map(|_| row(0, 0.998, (1, 0.001))).collect();
    assert!(ways(&logs(&bare), 4, &Usual, SET).signs.is_empty());
    assert_eq!(ways(&[], 4, &Usual, SET), Ways::default());
}

/// The greatest of each row, like ones in a row being one, without "no sign".
fn best_path(logs: &[f32], labels: usize) -> Vec<u8> {
    let rows = logs.chunks(labels);
    let mut best: Vec<usize> = rows
        .map(|row| {
            (0..labels)
                .max_by(|&a, &b| row[a].total_cmp(&row[b]))
                .unwrap()
        })
        .collect();
    best.dedup();
    best.into_iter()
        .filter(|l| *l > 0)
        .map(|l| l as u8)
        .collect()
}

proptest! {
    #[test]
    fn the_best_path_through_what_is_written_back_is_the_likeliest_way_where_all_are_clear(
        signs in prop::collection::vec(1usize..4, 1..8),
    ) {
        let mut rows = Vec::new();
        for sign in &signs {
            rows.push(row(*sign, 0.96, (0, 0.02)));
            rows.push(row(0, 0.97, (*sign, 0.02)));
        }
        let mut flat = logs(&rows);
        let found = ways(&flat, 4, &Told, SET);
        found.stand(&mut flat, 4);
        prop_assert_eq!(best_path(&flat, 4), text(&found));
        let wanted: Vec<u8> = signs.iter().map(|s| *s as u8).collect();
        prop_assert_eq!(text(&found), wanted);
        prop_assert!(flat.iter().all(|l| l.is_finite() && *l <= 1e-6));
    }
}
