//! Marks found on photographs with known truth: recall at IoU 0.5 by grade and kind, false marks a
//! photograph, seconds.
//!
//! `cargo run --release --example score_marks -- FOLDER [-v]`; beside each `NAME.jpg` lies `NAME.json`
//! with the true outlines. A true mark is found when an outline that is likely to carry lettering
//! shares at least half of the joint area with it. A found outline without such a partner is false,
//! unless it lies within a true mark (a part of it: told apart as "parts").

mod truth;

use dorso::marks;
use std::collections::BTreeMap;
use std::time::Instant;
use truth::{Known, known, quad};

fn main() {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let Some(folder) = args.iter().find(|a| !a.starts_with('-')) else {
        eprintln!("score_marks: a folder of photographs with truth is wanted; name one.");
        std::process::exit(2);
    };
    let loud = args.iter().any(|a| a == "-v");
    let mut by: BTreeMap<String, (usize, usize)> = BTreeMap::new();
    let (mut wrong, mut parts, mut photographs, mut seconds) = (0, 0, 0, 0.0);
    for Known {
        name,
        truth,
        picture,
    } in known(folder.as_ref())
    {
        let start = Instant::now();
        let found: Vec<_> = marks::find(&picture)
            .into_iter()
            .filter(|m| m.lettering >= marks::LIKELY)
            .collect();
        let took = start.elapsed().as_secs_f64();
        seconds += took;
        photographs += 1;
        let grade = truth["grade"].as_str().unwrap_or("?").to_string();
        let mut used = vec![false; found.len()];
        let mut outlines = Vec::new();
        for m in truth["marks"].as_array().into_iter().flatten() {
            let Some(q) = quad(&m["outline"]) else {
                continue;
            };
            outlines.push(q);
            let best = (0..found.len())
                .map(|i| (i, q.iou(&found[i].outline)))
                .max_by(|a, b| a.1.total_cmp(&b.1));
            let hit = best.is_some_and(|b| b.1 >= 0.5);
            if let (true, Some((i, _))) = (hit, best) {
                used[i] = true;
            }
            let kind = m["kind"].as_str().unwrap_or("?");
            for key in [
                format!("grade {grade}"),
                format!("kind {kind}"),
                "all".into(),
            ] {
                let e = by.entry(key).or_default();
                e.0 += usize::from(hit);
                e.1 += 1;
            }
            if loud && !hit {
                println!(
                    "  missed {} {kind} {:?} best {:.2}",
                    name,
                    m["lines"][0]["text"].as_str().unwrap_or(""),
                    best.map_or(0.0, |b| b.1)
                );
            }
        }
        let (mut w, mut p) = (0, 0);
        for (m, used) in found.iter().zip(&used) {
            if *used {
                continue;
            }
            let inside = outlines
                .iter()
                .any(|q| q.overlap(&m.outline) > 0.5 * m.outline.area());
            if inside { p += 1 } else { w += 1 }
        }
        wrong += w;
        parts += p;
        println!(
            "{:<28} {grade:<7} {took:.2} s, found {}, false {w}, parts {p}",
            name,
            found.len()
        );
    }
    for (key, (hit, all)) in by {
        println!(
            "{key:<24} {hit:>4} of {all:<4} {:.3}",
            hit as f64 / all as f64
        );
    }
    println!(
        "false a photograph {:.2}, parts {:.2}, seconds {:.2}",
        wrong as f64 / f64::from(photographs.max(1)),
        parts as f64 / f64::from(photographs.max(1)),
        seconds / f64::from(photographs.max(1))
    );
}
