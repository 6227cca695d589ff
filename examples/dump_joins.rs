//! Measures every pair of sightings of made pictures, for fitting which of them are one mark.
//!
//! ```text
//! dump_joins read FOLDER KEPT          reads the photographs of FOLDER (made by make_samples --pictures),
//!                                      lays them on plans, and keeps both in KEPT; what is kept stays
//! dump_joins pairs FOLDER KEPT [true|none]  prints a row for each pair, on the plans as laid, as they truly
//!                                      are, or without any
//! ```

use dorso::back::joins::{self, Look, Way, look};
use dorso::back::plan::{self, Plan};
use dorso::gazetteer::Gazetteer;
use dorso::proposals::Index;
use dorso::{photograph, readings, run};
use std::path::Path;

#[allow(dead_code)]
mod backs;

use backs::{Fallible, Picture, Sighting};

fn main() -> Fallible<()> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    match args[..] {
        ["read", folder, kept] => read(Path::new(folder), Path::new(kept)),
        ["pairs", folder, kept] => pairs(Path::new(folder), Path::new(kept), ""),
        ["pairs", folder, kept, how @ ("true" | "none")] => {
            pairs(Path::new(folder), Path::new(kept), how)
        }
        _ => Err("dump_joins read|pairs FOLDER KEPT [true|none]".into()),
    }
}

/// Reads what isn't kept yet; a picture is laid anew when it has more photographs than its kept plan.
fn read(folder: &Path, kept: &Path) -> Fallible<()> {
    std::fs::create_dir_all(kept)?;
    let recognisers = readings::recognisers()?;
    let index = Index::new(Gazetteer::default());
    for file in backs::photographs(folder)? {
        let name = file
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let (to, looks) = (
            kept.join(format!("{name}.json")),
            kept.join(format!("{name}.looks")),
        );
        if to.exists() && looks.exists() {
            continue;
        }
        let photo = photograph::open(&file)?;
        let read: run::ReadPhotograph = match std::fs::read_to_string(&to) {
            Ok(text) => serde_json::from_str(&text)?,
            Err(_) => {
                let read = run::read_photograph(&photo, &recognisers, &index)?;
                std::fs::write(&to, serde_json::to_string(&read)?)?;
                read
            }
        };
        let of = |m: &run::ReadMark| look(&photo.picture, &m.outline);
        let seen: Vec<Look> = read.marks.iter().map(of).collect();
        std::fs::write(&looks, serde_json::to_string(&seen)?)?;
        eprintln!("{name}");
    }
    for picture in backs::pictures(folder, kept)? {
        if picture.laid.is_some() {
            continue;
        }
        let mut seen = Vec::new();
        for p in &picture.photos {
            seen.push(plan::features(&photograph::open(&p.read.file)?.picture));
        }
        let laid = backs::plan_to_keep(&plan::lay(&seen));
        std::fs::write(
            kept.join(format!("{}.plan", picture.name)),
            laid.to_string(),
        )?;
        eprintln!("{} laid", picture.name);
    }
    Ok(())
}

fn pairs(folder: &Path, kept: &Path, how: &str) -> Fallible<()> {
    println!("picture,a,b,same,way,measures");
    for picture in backs::pictures(folder, kept)? {
        let plan = match how {
            "true" => picture.true_plan(),
            "none" => Plan {
                ground: None,
                places: picture.photos.iter().map(|_| None).collect(),
            },
            _ => match picture.laid.clone() {
                Some(laid) => laid,
                None => continue,
            },
        };
        let sightings = picture.sightings();
        let shown = picture.shown(&sightings);
        for m in joins::measured(&shown, &plan) {
            let (a, b) = (&sightings[m.pair.0], &sightings[m.pair.1]);
            let same = picture
                .same(a, b)
                .map_or("?", |s| if s { "1" } else { "0" });
            let way = match m.way {
                Way::Together => "together",
                Way::Apart => "apart",
                Way::Unplaced => "unplaced",
            };
            let measures: Vec<String> = m.measures.iter().map(|x| format!("{x:.5}")).collect();
            println!(
                "{},{},{},{same},{way},{}",
                picture.name,
                label(&picture, a),
                label(&picture, b),
                measures.join(" "),
            );
        }
    }
    Ok(())
}

fn label(picture: &Picture, s: &Sighting) -> String {
    let photo = &picture.photos[s.photo];
    let of = s.of.as_deref().unwrap_or("-");
    format!("{}:{}:{of}", photo.name, photo.read.marks[s.mark].mark)
}
