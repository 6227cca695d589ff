//! The measures held against jiwer, rapidfuzz and scikit-learn (see
//! `tests/reference/make_error_rates.py`).

use dorso::measure::chances::{Stated, brier, calibration_error};
use dorso::measure::text::{Edits, characters, words};
use serde::Deserialize;

#[derive(Deserialize)]
struct Reference {
    pairs: Vec<Pair>,
    pooled: Pooled,
    chances: Vec<f64>,
    right: Vec<bool>,
    brier: f64,
    ece: f64,
}

#[derive(Deserialize)]
struct Pair {
    truth: String,
    read: String,
    distance: usize,
    cer: f64,
    wer: f64,
}

#[derive(Deserialize)]
struct Pooled {
    cer: f64,
    wer: f64,
}

fn reference() -> Reference {
    serde_json::from_str(include_str!("../reference/error_rates.json")).expect("reference values")
}

#[test]
fn error_rates_equal_those_of_the_reference_libraries() {
    let r = reference();
    let (mut c, mut w) = (Edits::default(), Edits::default());
    assert!(r.pairs.len() >= 30);
    for p in &r.pairs {
        let (pc, pw) = (characters(&p.truth, &p.read), words(&p.truth, &p.read));
        assert_eq!(pc.errors(), p.distance, "{} / {}", p.truth, p.read);
        assert!(
            (pc.rate() - p.cer).abs() < 1e-12,
            "{} / {}",
            p.truth,
            p.read
        );
        assert!(
            (pw.rate() - p.wer).abs() < 1e-12,
            "{} / {}",
            p.truth,
            p.read
        );
        c = c.plus(pc);
        w = w.plus(pw);
    }
    assert!((c.rate() - r.pooled.cer).abs() < 1e-12);
    assert!((w.rate() - r.pooled.wer).abs() < 1e-12);
}

#[test]
fn brier_score_and_calibration_error_equal_those_of_the_reference_library() {
    let r = reference();
    let stated: Vec<Stated> = r
        .chances
        .iter()
        .zip(&r.right)
        .map(|(&chance, &right)| Stated { chance, right })
        .collect();
    assert!((brier(&stated).expect("stated") - r.brier).abs() < 1e-12);
    assert!((calibration_error(&stated, 10).expect("stated") - r.ece).abs() < 1e-12);
}
