//! Renders photographs of the backs of invented pictures, with the truth beside each.
//!
//! `cargo run --release --example make_samples` writes the two dozen sample photographs of the story
//! into `samples/photographs`; `-- --seed N --count M --out DIR [--fonts unseen]` writes others, made
//! up from the seed, for measuring on; `-- --seed N --pictures M --out DIR` writes M pictures with three
//! to six photographs each, a folder for each picture. Fonts come first: `sh samples/maker/fonts.sh`.

mod back;
mod camera;
mod chance;
mod crowd;
mod dice;
mod drawing;
mod early;
mod fonts;
mod labels;
mod late;
mod materials;
mod ornament;
mod piece;
mod places;
mod series;
mod sheet;
mod story;
mod surface;
mod truth;
mod world;
mod written;

use clap::Parser;
use serde_json::json;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

#[derive(Parser)]
#[command(
    about = "Renders photographs of the backs of invented pictures, with the truth beside each"
)]
struct Args {
    /// Makes up other backs from this seed, instead of the story's.
    #[arg(long)]
    seed: Option<u64>,
    /// How many photographs to make up.
    #[arg(long, default_value_t = 24)]
    count: usize,
    /// How many pictures to make up, each photographed several times and in a folder of its own.
    #[arg(long, requires = "seed", conflicts_with = "count")]
    pictures: Option<usize>,
    /// Folder to write to.
    #[arg(long, default_value = "samples/photographs")]
    out: PathBuf,
    /// Which fonts: those that the samples use (seen), or others (unseen).
    #[arg(long, default_value = "seen")]
    fonts: String,
    /// Only the photographs whose name holds this.
    #[arg(long)]
    only: Option<String>,
    /// Only the photographs of this grade: easy, medium or hard.
    #[arg(long, value_parser = ["easy", "medium", "hard"])]
    grade: Option<String>,
    /// Width and height are divided by this, for a quick look.
    #[arg(long, default_value_t = 1)]
    smaller: usize,
    /// Writes beside each photograph NAME.parts.png: for each eighth px the part that shows there.
    #[arg(long)]
    parts: bool,
    /// Writes the truth only, from the same geometry, and leaves the photographs as they are.
    #[arg(long)]
    truth_only: bool,
    /// Writes beside each photograph NAME.bands.json: for each mark and line where its letters stand.
    #[arg(long)]
    bands: bool,
}

/// One photograph to be taken.
pub struct Photo {
    pub name: String,
    /// Name of the picture.
    pub picture: String,
    pub grade: &'static str,
    pub whole: bool,
    pub back: usize,
    pub shot: camera::Shot,
    pub light: surface::Light,
}

fn main() {
    if let Err(e) = run(&Args::parse()) {
        eprintln!("make_samples: {e}");
        std::process::exit(1);
    }
}

fn write(file: &Path, bytes: &[u8]) -> Result<(), String> {
    std::fs::write(file, bytes).map_err(|e| {
        format!(
            "{}: {e}; make room or choose another folder.",
            file.display()
        )
    })
}

/// Finest that what lies under the marks is made for pictures made up from a seed, px a mm.
const FINE: f32 = 3.0;

/// A row of `truth.csv`: file, list, entry, words, mark.
type Row = [String; 5];

fn run(args: &Args) -> Result<(), String> {
    let here = Path::new("samples/maker");
    let cases = fonts::Cases::open(here, &args.fonts)?;
    let world = world::World::open(Path::new("samples/gazetteer"), here)?;
    let (backs, photos) = match (args.seed, args.pictures) {
        (None, _) => story::tell(&world)?,
        (Some(seed), None) => chance::tell(&world, seed, args.count)?,
        (Some(seed), Some(pictures)) => series::tell(&world, seed, pictures)?,
    };
    let people = world.people();
    let mut tables: BTreeMap<PathBuf, Vec<Row>> = BTreeMap::new();
    let asked_for = |photo: &Photo| {
        args.only.as_ref().is_none_or(|o| photo.name.contains(o))
            && args.grade.as_ref().is_none_or(|g| photo.grade == g)
    };
    for photo in photos.iter().filter(|p| asked_for(p)) {
        let folder = match args.pictures {
            Some(_) => args.out.join(&photo.picture),
            None => args.out.clone(),
        };
        std::fs::create_dir_all(&folder)
            .map_err(|e| format!("{}: {e}; choose another folder.", folder.display()))?;
        let rows = take(args, photo, &backs[photo.back], &folder, &cases, &people)?;
        tables.entry(folder).or_default().extend(rows);
    }
    if args.only.is_none() && args.grade.is_none() {
        for (folder, rows) in &tables {
            write(&folder.join("truth.csv"), &table(rows, args.pictures)?)?;
        }
    }
    Ok(())
}

/// Bytes of `truth.csv`; the mark is named where several photographs show it.
fn table(rows: &[Row], pictures: Option<usize>) -> Result<Vec<u8>, String> {
    let columns = if pictures.is_some() { 5 } else { 4 };
    let mut csv = csv::Writer::from_writer(Vec::new());
    csv.write_record(&["file", "list", "entry", "words", "mark"][..columns])
        .map_err(|e| e.to_string())?;
    for row in rows {
        csv.write_record(&row[..columns])
            .map_err(|e| e.to_string())?;
    }
    csv.into_inner().map_err(|e| e.to_string())
}

/// Takes one photograph and writes it with its truth; what it names.
fn take(
    args: &Args,
    photo: &Photo,
    back: &back::Back,
    folder: &Path,
    cases: &fonts::Cases,
    people: &[(String, String)],
) -> Result<Vec<Row>, String> {
    let mut shot = photo.shot.clone();
    let k = args.smaller.max(1);
    (shot.w, shot.h) = (shot.w / k, shot.h / k);
    // As if shrunk from the full size: what blurs and what is grainy there does less here.
    for v in [
        &mut shot.blur,
        &mut shot.defocus,
        &mut shot.shake,
        &mut shot.grain,
    ] {
        *v /= k as f32;
    }
    let scale = shot.px_per_mm() * 1.06;
    // Among many photographs of one back its wood and canvas needn't be made as finely as its marks.
    let fine = match args.pictures {
        Some(_) => scale.min(FINE).max(scale / 3.0),
        None => scale,
    };
    let (surface, made) = back.build(shot.window(), scale, fine, cases);
    let marks = truth::of(&truth::Scene {
        back,
        made: &made,
        shot: &shot,
        people,
        cuts: args.pictures.is_some(),
    });
    let beside = |kind: &str| folder.join(format!("{}.{kind}", photo.name));
    if !args.truth_only {
        let lit = surface::lit(&surface, &photo.light);
        let (size, origin) = ((surface.w, surface.h), [surface.x0, surface.y0]);
        drop(surface);
        let picture = shot.take(&lit, size, origin, scale);
        write(
            &beside("jpg"),
            &camera::jpeg(&picture, shot.quality, shot.orientation)?,
        )?;
    }
    if args.parts {
        let mut bytes = std::io::Cursor::new(Vec::new());
        places::map(back, &shot, 8)
            .write_to(&mut bytes, image::ImageFormat::Png)
            .map_err(|e| e.to_string())?;
        write(&beside("parts.png"), bytes.get_ref())?;
    }
    if args.bands {
        let bands: Vec<_> = marks.iter().map(|m| &m.bands).collect();
        write(&beside("bands.json"), json!(bands).to_string().as_bytes())?;
    }
    write_truth(photo, &shot, &marks, beside)?;
    let file = format!("{}.jpg", photo.name);
    let mut rows = Vec::new();
    for m in &marks {
        for [list, entry] in m.names.clone() {
            rows.push([file.clone(), list, entry, m.words.clone(), m.of.clone()]);
        }
    }
    Ok(rows)
}

/// Writes the lines and the marks beside a photograph.
fn write_truth(
    photo: &Photo,
    shot: &camera::Shot,
    marks: &[truth::MarkTruth],
    beside: impl Fn(&str) -> PathBuf,
) -> Result<(), String> {
    let file = format!("{}.jpg", photo.name);
    let lines = marks.iter().flat_map(|m| &m.lines);
    let text: String = lines.map(|l| format!("{l}\n")).collect();
    write(&beside("txt"), text.as_bytes())?;
    let whole = json!({
        "photograph": file,
        "grade": photo.grade,
        "picture": photo.picture,
        "whole_back": photo.whole,
        "skew_degrees": truth::skew(shot),
        "map": truth::map(shot),
        "marks": marks.iter().map(|m| m.json.clone()).collect::<Vec<_>>(),
    });
    println!(
        "{file}: {} marks, {} lines",
        marks.len(),
        text.lines().count()
    );
    let text = serde_json::to_string_pretty(&whole).map_err(|e| e.to_string())?;
    write(&beside("json"), format!("{text}\n").as_bytes())
}
