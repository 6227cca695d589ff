//! Writes the candidates for marks on photographs with known truth, one a line, for fitting the
//! choice among them (`training/fit_marks.py`) and the proposal of a bearer (`training/fit_bearers.py`).
//!
//! `cargo run --release --example dump_candidates -- FOLDER... > candidates.csv`
//!
//! Columns: photograph; paper (1) or cluster (0); eight numbers of the outline; greatest IoU with a
//! true mark; number of that mark, its kind and its grade; measures; what shows around and under it.
//! A line that begins with `#` names a photograph, its grade, and of each true mark kind, bearer and
//! second bearer, parted by `|`.

mod truth;

use dorso::geometry::Quad;
use dorso::marks;
use truth::{Known, known, quad};

fn main() {
    for folder in std::env::args().skip(1) {
        for Known {
            name,
            truth,
            picture,
        } in known(folder.as_ref())
        {
            let grade = truth["grade"].as_str().unwrap_or("?");
            let marks: Vec<(Quad, &str, String)> = truth["marks"]
                .as_array()
                .into_iter()
                .flatten()
                .filter_map(|m| {
                    let word = |key: &str| m[key].as_str().unwrap_or("");
                    let told = [word("kind"), word("bearer"), word("bridges")].join("|");
                    Some((quad(&m["outline"])?, m["kind"].as_str()?, told))
                })
                .collect();
            println!(
                "#{name},{grade},{}",
                marks
                    .iter()
                    .map(|m| m.2.as_str())
                    .collect::<Vec<_>>()
                    .join(",")
            );
            for c in marks::candidates(&picture) {
                let (best, iou) = marks
                    .iter()
                    .map(|m| m.0.iou(&c.outline))
                    .enumerate()
                    .fold((0, 0.0), |b, t| if t.1 > b.1 { t } else { b });
                let kind = if iou > 0.0 { marks[best].1 } else { "none" };
                let corners: Vec<String> = c
                    .outline
                    .0
                    .iter()
                    .flat_map(|p| [format!("{:.1}", p.x), format!("{:.1}", p.y)])
                    .collect();
                let all = c.measures.iter().chain(&c.parts);
                let measures: Vec<String> = all.map(|v| format!("{v:.5}")).collect();
                println!(
                    "{name},{},{},{iou:.3},{best},{kind},{grade},{}",
                    u8::from(c.paper),
                    corners.join(","),
                    measures.join(",")
                );
            }
        }
    }
}
