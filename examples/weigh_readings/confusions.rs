//! Counts which sign is read for which on lines whose text is known, for `src/proposals/confusions.csv`.
//!
//! Of each true line the read line that is most like it. Only lines of which seven letters in ten agree
//! count, and of these only letters between two that agree: in a garbled line nobody can tell what stands
//! for what.

use super::marks::Asked;
use dorso::proposals::letters;
use dorso::readings::learnt::{self, Pair};
use dorso::readings::line_model::LineModel;
use dorso::readings::{self, Line, Reading};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// How alike the read and the true line must be.
const ALIKE: f64 = 0.7;

/// Sign read and true sign → on made photographs, on real lines.
type Counts = BTreeMap<(char, char), [usize; 2]>;

/// Prints the counts as CSV. `lines`: folders of pictures of single lines.
pub fn run(asked: &[Asked], lines: &[PathBuf]) -> Result<(), Box<dyn std::error::Error>> {
    let mut counts = Counts::new();
    for mark in asked {
        for true_line in mark.wording.split(" / ") {
            count(&mark.lines, true_line, 0, &mut counts);
        }
    }
    for folder in lines {
        of_lines(folder, &mut counts)?;
    }
    println!("read,true,made,real");
    for ((read, truth), [made, real]) in counts {
        println!("{read},{truth},{made},{real}");
    }
    Ok(())
}

fn of_lines(folder: &Path, counts: &mut Counts) -> Result<(), Box<dyn std::error::Error>> {
    let model = LineModel::load()?;
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)?
        .filter_map(|f| Some(f.ok()?.path()))
        .filter(|f| f.extension().is_some_and(|e| e == "png"))
        .collect();
    files.sort();
    for file in files {
        let truth = std::fs::read_to_string(file.with_extension("txt"))?;
        let picture = image::open(&file)?.to_luma8();
        let whole = dorso::geometry::Rect::new(0, 0, picture.width(), picture.height());
        let signs = model.decode(&model.posteriors(&picture)?);
        let signs = signs.into_iter().map(|s| s.0).collect();
        let line = Line::from_characters(signs, whole, whole);
        count(&[line], truth.trim(), 1, counts);
    }
    Ok(())
}

/// Counts the letters of the read line that is most like the true one.
fn count(read: &[Line], truth: &str, kind: usize, counts: &mut Counts) {
    let nearest = read
        .iter()
        .map(|l| (l, learnt::likeness(&l.text, truth)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let Some((line, _)) = nearest.filter(|(_, like)| *like >= ALIKE) else {
        return;
    };
    let reading = Reading {
        lines: vec![line.clone()],
        ..Reading::default()
    };
    // Texts of others have signs that mean something else here
    let truth = readings::from_typed(truth).unwrap_or_default();
    let letters = learnt::pairs(&reading, &truth);
    for three in letters.windows(3) {
        let [before, at, after] = three else { continue };
        if let (true, Some((read, truth)), true) = (agree(before), folded(at), agree(after)) {
            counts.entry((read, truth)).or_default()[kind] += 1;
        }
    }
}

fn agree(pair: &Pair) -> bool {
    pair.truth
        .as_deref()
        .is_some_and(|t| letters::fold(t) == letters::fold(&pair.read.text))
}

/// Both signs, folded, if each is one.
fn folded(pair: &Pair) -> Option<(char, char)> {
    let one = |text: &str| match letters::fold(text)[..] {
        [sign] => Some(letters::sign(sign)),
        _ => None,
    };
    Some((one(&pair.read.text)?, one(pair.truth.as_deref()?)?))
}
