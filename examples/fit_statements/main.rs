//! Fits and measures the model of `src/statements` on made marks (`training/make_statements.py`).
//!
//! `fit_statements fit MARKS OUT [EPOCHS] [DECAY]` fits the weights; `fit_statements temper MODEL MARKS OUT` fits how far
//! its chances are to be believed, on marks that the fit never saw; `fit_statements believe MODEL OTHER OUT` takes that from
//! another model; `fit_statements score MODEL MARKS [LABEL]` measures, `errors MODEL MARKS` and `towns MODEL MARKS` show what is told
//! wrongly, `speed MODEL LISTS TEXT` times one mark.

mod fit;
mod made;
mod score;

use dorso::statements::Model;
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = match words[..] {
        ["fit", marks, out, ref rest @ ..] => {
            let number = |i: usize, or: f32| rest.get(i).and_then(|n| n.parse().ok()).unwrap_or(or);
            fit::fit(Path::new(marks), number(0, 8.0) as usize, number(1, 2e-5)).and_then(|m| save(&m, out))
        }
        ["temper", model, marks, out] => {
            load(model).and_then(|m| score::temper(m, Path::new(marks))).and_then(|m| save(&m, out))
        }
        ["score", model, marks, ref rest @ ..] => {
            load(model).and_then(|m| score::score(&m, Path::new(marks), rest.first().copied().unwrap_or("marks")))
        }
        ["believe", model, other, out] => load(model).and_then(|m| {
            let other = load(other)?;
            let (belief, places, told_from) = (other.belief, other.places, other.told_from);
            save(&Model { belief, places, told_from, ..m }, out)
        }),
        ["speed", model, lists, text] => load(model).and_then(|m| score::speed(&m, Path::new(lists), text)),
        ["towns", model, marks] => load(model).and_then(|m| score::towns(&m, Path::new(marks))),
        ["errors", model, marks] => load(model).and_then(|m| score::errors(&m, Path::new(marks))),
        _ => Err("use: fit MARKS OUT [EPOCHS] [DECAY] | temper MODEL MARKS OUT | believe MODEL OTHER OUT | score MODEL MARKS [LABEL] | errors MODEL MARKS | towns MODEL MARKS | speed MODEL LISTS TEXT".into()),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("fit_statements: {e}");
            ExitCode::FAILURE
        }
    }
}

fn load(path: &str) -> Result<Model, String> {
    let bytes = std::fs::read(path).map_err(|e| format!("{path}: {e}"))?;
    Model::read(&bytes).ok_or_else(|| format!("{path}: no model of this program"))
}

fn save(model: &Model, path: &str) -> Result<(), String> {
    std::fs::write(path, model.write()).map_err(|e| format!("{path}: {e}"))
}
