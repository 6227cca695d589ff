//! The network as the program runs it, against onnxruntime on the same pictures.

use dorso::readings::LineReader;
use dorso::readings::line_model::{HEIGHT, LineModel, Posteriors};
use image::GrayImage;

fn decoded64(text: &str) -> Vec<u8> {
    let value = |c: u8| match c {
        b'A'..=b'Z' => u32::from(c - b'A'),
        b'a'..=b'z' => u32::from(c - b'a') + 26,
        b'0'..=b'9' => u32::from(c - b'0') + 52,
        b'+' => 62,
        _ => 63,
    };
    let mut out = Vec::new();
    for four in text.trim_end_matches('=').as_bytes().chunks(4) {
        let bits = four
            .iter()
            .enumerate()
            .fold(0, |b, (i, &c)| b | value(c) << (18 - 6 * i));
        out.extend_from_slice(&bits.to_be_bytes()[1..four.len()]);
    }
    out
}

fn reference() -> Vec<serde_json::Value> {
    let whole: serde_json::Value =
        serde_json::from_str(include_str!("../reference/line_model.json")).unwrap();
    whole["lines"].as_array().unwrap().clone()
}

fn picture(line: &serde_json::Value) -> GrayImage {
    let width = line["width"].as_u64().unwrap() as u32;
    GrayImage::from_raw(width, HEIGHT, decoded64(line["grey"].as_str().unwrap())).unwrap()
}

/// The lines of the reference of which the first network alone is asked: of script the second is asked too,
/// which has its own reference (`readings/hands.rs`).
fn of_the_first_alone() -> Vec<serde_json::Value> {
    let mut lines = reference();
    assert_eq!(lines.len(), 5);
    lines.retain(|l| !["script", "made hand"].contains(&l["class"].as_str().unwrap()));
    assert_eq!(lines.len(), 3);
    lines
}

#[test]
fn the_network_finds_the_chances_that_onnxruntime_finds() {
    let model = LineModel::load().unwrap();
    let lines = of_the_first_alone();
    for line in &lines {
        let found = model.posteriors(&picture(line)).unwrap();
        assert_eq!(found.steps as u64, line["steps"].as_u64().unwrap());
        for (row, top) in found
            .chances
            .chunks(found.labels)
            .zip(line["top"].as_array().unwrap())
        {
            let label = top[0].as_u64().unwrap() as usize;
            let sum: f32 = row.iter().sum();
            assert!((sum - 1.0).abs() < 1e-4);
            // The reference is at temperature 1; a temperature keeps the order.
            let best = (0..row.len())
                .max_by(|&a, &b| row[a].total_cmp(&row[b]))
                .unwrap();
            assert!(best == label || row[best] - row[label] < 1e-3);
        }
    }
}

#[test]
fn a_line_is_read_as_onnxruntime_reads_it_with_chances_that_sum_to_one_at_most() {
    let model = LineModel::load().unwrap();
    for line in &of_the_first_alone() {
        let read = model.read(&picture(line)).unwrap().unwrap();
        let text: String = read.characters.iter().map(|c| c.text.as_str()).collect();
        assert_eq!(text, line["best"].as_str().unwrap().trim());
        let spans = &read.spans;
        assert_eq!(spans.len(), read.characters.len());
        assert!(
            spans
                .windows(2)
                .all(|s| s[0].0 <= s[0].1 && s[0].1 <= s[1].1)
        );
        for c in &read.characters {
            let sum: f64 = c.confidence + c.alternatives.iter().map(|a| a.1).sum::<f64>();
            assert!(c.confidence > 0.0 && sum <= 1.0 + 1e-4, "{c:?}");
        }
    }
}

#[test]
fn a_peak_below_no_sign_is_a_faint_letter_and_the_edge_of_a_letter_beside_is_none() {
    let model = LineModel::load().unwrap();
    let labels = model
        .posteriors(&GrayImage::new(16, HEIGHT))
        .unwrap()
        .labels;
    // signs by their chances; "no sign" has the rest
    let steps: [&[(usize, f32)]; 9] = [
        &[(5, 0.9)],
        &[(5, 0.3), (7, 0.1)],
        &[(7, 0.02)],
        &[(9, 0.2), (11, 0.04)],
        &[(9, 0.3), (11, 0.04)],
        &[(9, 0.1)],
        &[(3, 0.02)],
        &[(6, 0.04)],
        &[(8, 0.9)],
    ];
    let mut chances = vec![0.0; steps.len() * labels];
    for (row, signs) in chances.chunks_mut(labels).zip(steps) {
        row[0] = 1.0 - signs.iter().map(|s| s.1).sum::<f32>();
        for &(sign, chance) in signs {
            row[sign] = chance;
        }
    }
    let posteriors = Posteriors {
        steps: steps.len(),
        labels,
        chances,
        writing: None,
        seen: None,
    };
    let read = model.decode(&posteriors);
    assert_eq!(read.iter().map(|r| r.1.start).collect::<Vec<_>>(), [0, 8]);
    let faint = model.faint(&posteriors);
    assert_eq!(faint.iter().map(|f| f.1).collect::<Vec<_>>(), [4, 7]);
    let first = &faint[0].0;
    assert!(first.is_lost() && (first.confidence - 0.66).abs() < 1e-6);
    let others: Vec<f64> = first.alternatives.iter().map(|a| a.1).collect();
    assert!((others[0] - 0.3).abs() < 1e-6 && (others[1] - 0.04).abs() < 1e-6);
}

#[test]
fn an_empty_line_of_any_size_is_no_fault() {
    let model = LineModel::load().unwrap();
    for (w, h) in [(1, 1), (5, 300), (4000, 12), (64, 64)] {
        let blank = GrayImage::from_pixel(w, h, image::Luma([200]));
        let read = model.read(&blank).unwrap();
        assert!(read.is_none_or(|l| l.spans.len() == l.characters.len()));
    }
}

#[test]
fn how_a_line_is_written_is_told_as_by_onnxruntime_and_the_regression() {
    // `training/writing.py`'s features and `writing.json`, onnxruntime 1.x, on the reference lines: print,
    // script, stencil, typewriting, each for as likely as another.
    let told = [
        [0.535, 0.041, 0.389, 0.035],
        [0.000, 1.000, 0.000, 0.000],
        [0.000, 1.000, 0.000, 0.000],
        [0.008, 0.008, 0.002, 0.983],
        [0.184, 0.013, 0.787, 0.015],
    ];
    let model = LineModel::load().unwrap();
    for (i, (line, told)) in reference().iter().zip(told).enumerate() {
        let found = model.posteriors(&picture(line)).unwrap().writing.unwrap();
        for (found, told) in found.iter().zip(told) {
            assert!((found - told).abs() < 0.01, "line {i}: {found} {told}");
        }
    }
}
