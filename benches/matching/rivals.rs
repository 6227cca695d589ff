//! The same questions put to measures of likeness between strings.

use serde_json::{Value, json};
use std::io::Write;
use std::process::{Command, Stdio};
use std::time::Instant;

/// Rows and questions as plain folded text.
pub struct Texts {
    /// Name, address and town of each row.
    pub rows: Vec<String>,
    /// Its name alone.
    pub names: Vec<String>,
    /// Lines of each question about a listed firm, and the row that is true.
    pub questions: Vec<(Vec<String>, usize)>,
}

/// How a measure did.
pub struct Did {
    pub name: String,
    /// Share of questions with the true row first.
    pub first: f64,
    /// Milliseconds a question.
    pub ms: f64,
}

/// Lower case, editorial signs left out.
pub fn folded(text: &str) -> String {
    let bare: String = text
        .chars()
        .filter(|c| !matches!(c, '[' | ']' | '\u{323}'))
        .collect();
    bare.replace("---", " ").to_lowercase().trim().to_string()
}

/// A measure from strsim in the better of two ways: the whole mark on whole rows, or its best line on
/// names.
pub fn strsim(name: &str, texts: &Texts, measure: fn(&str, &str) -> f64) -> Did {
    let best = |queries: &[String], rows: &[String]| {
        let mut best = (f64::MIN, 0);
        for q in queries {
            for (i, r) in rows.iter().enumerate() {
                let m = measure(q, r);
                if m > best.0 {
                    best = (m, i);
                }
            }
        }
        best.1
    };
    let ways = [false, true].map(|by_line| {
        let began = Instant::now();
        let mut first = 0;
        for (lines, truth) in &texts.questions {
            let found = if by_line {
                best(lines, &texts.names)
            } else {
                best(&[lines.join(" ")], &texts.rows)
            };
            first += usize::from(found == *truth);
        }
        let count = texts.questions.len().max(1) as f64;
        Did {
            name: name.into(),
            first: first as f64 / count,
            ms: began.elapsed().as_secs_f64() * 1e3 / count,
        }
    });
    let [whole, lines] = ways;
    if lines.first > whole.first {
        lines
    } else {
        whole
    }
}

/// Brier score and calibration error over ten bins of chances as stated and whether they came true, by
/// the scikit-learn library. The error says what is missing.
pub fn scikit_learn(stated: &[(f64, bool)]) -> Result<(f64, f64), String> {
    let python = python();
    let missing = || {
        format!("{python} can't import sklearn; set PYTHON to one that can to check the figures")
    };
    let told = asked(&python, &json!({ "stated": stated })).ok_or_else(missing)?;
    let number = |name: &str| told[name].as_f64().ok_or_else(missing);
    Ok((number("brier")?, number("calibration_error")?))
}

fn python() -> String {
    std::env::var("PYTHON").unwrap_or_else(|_| "python3".into())
}

/// What the script beside answers.
fn asked(python: &str, question: &Value) -> Option<Value> {
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/benches/matching/scorers.py");
    let mut child = Command::new(python)
        .arg(script)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    if let Some(mut to) = child.stdin.take() {
        to.write_all(question.to_string().as_bytes()).ok()?;
    }
    serde_json::from_slice(&child.wait_with_output().ok()?.stdout).ok()
}

/// All scorers of the rapidfuzz library, if Python has it; `only`: this one, for its time.
/// The error says what is missing.
pub fn rapidfuzz(texts: &Texts, only: Option<&str>) -> Result<(String, Vec<Did>), String> {
    let python = python();
    let missing =
        || format!("{python} can't import rapidfuzz; set PYTHON to one that can to have it beside");
    let questions: Vec<Value> = texts
        .questions
        .iter()
        .map(|(lines, _)| json!({"whole": lines.join(" "), "lines": lines}))
        .collect();
    let truth: Vec<usize> = texts.questions.iter().map(|q| q.1).collect();
    let question = json!({
        "rows": texts.rows, "names": texts.names, "questions": questions, "truth": truth,
        "timed_only": only.map(|o| vec![o]),
    });
    let told = asked(&python, &question).ok_or_else(missing)?;
    let version = told["version"].as_str().unwrap_or_default().to_string();
    let scorers = told["scorers"].as_object().ok_or_else(missing)?;
    let did = |(name, v): (&String, &Value)| Did {
        name: name.clone(),
        first: v["first"].as_f64().unwrap_or(0.0),
        ms: v["ms"].as_f64().unwrap_or(0.0),
    };
    Ok((version, scorers.iter().map(did).collect()))
}
