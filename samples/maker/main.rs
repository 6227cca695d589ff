//! Renders photographs of the backs of invented pictures, with the truth beside each.
//!
//! `cargo run --release --example make_samples` writes the two dozen sample photographs of the story
//! into `samples/photographs`; `-- --seed N --count M --out DIR [--fonts unseen]` writes others, made
//! up from the seed, for measuring on. Fonts come first: `sh samples/maker/fonts.sh`.

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
mod sheet;
mod story;
mod surface;
mod truth;
mod world;
mod written;

use clap::Parser;
use serde_json::json;
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

fn run(args: &Args) -> Result<(), String> {
    let here = Path::new("samples/maker");
    let cases = fonts::Cases::open(here, &args.fonts)?;
    let world = world::World::open(Path::new("samples/gazetteer"), here)?;
    let (backs, photos) = match args.seed {
        None => story::tell(&world)?,
        Some(seed) => chance::tell(&world, seed, args.count)?,
    };
    std::fs::create_dir_all(&args.out)
        .map_err(|e| format!("{}: {e}; choose another folder.", args.out.display()))?;
    let write = |name: &str, bytes: &[u8]| {
        let file = args.out.join(name);
        std::fs::write(&file, bytes).map_err(|e| {
            format!(
                "{}: {e}; make room or choose another folder.",
                file.display()
            )
        })
    };
    let people = world.people();
    let mut table: Vec<[String; 4]> = Vec::new();
    let asked_for = |photo: &Photo| {
        args.only.as_ref().is_none_or(|o| photo.name.contains(o))
            && args.grade.as_ref().is_none_or(|g| photo.grade == g)
    };
    for photo in photos.iter().filter(|p| asked_for(p)) {
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
        let back = &backs[photo.back];
        let scale = shot.px_per_mm() * 1.06;
        let (surface, made) = back.build(shot.window(), scale, &cases);
        let marks = truth::of(back, &made, &shot, &people);
        if !args.truth_only {
            let lit = surface::lit(&surface, &photo.light);
            let (size, origin) = ((surface.w, surface.h), [surface.x0, surface.y0]);
            drop(surface);
            let picture = shot.take(&lit, size, origin, scale);
            write(
                &format!("{}.jpg", photo.name),
                &camera::jpeg(&picture, shot.quality, shot.orientation)?,
            )?;
        }
        if args.parts {
            let mut bytes = std::io::Cursor::new(Vec::new());
            places::map(back, &shot, 8)
                .write_to(&mut bytes, image::ImageFormat::Png)
                .map_err(|e| e.to_string())?;
            write(&format!("{}.parts.png", photo.name), bytes.get_ref())?;
        }
        if args.bands {
            let bands: Vec<_> = marks.iter().map(|m| &m.bands).collect();
            write(
                &format!("{}.bands.json", photo.name),
                json!(bands).to_string().as_bytes(),
            )?;
        }
        let file = format!("{}.jpg", photo.name);
        let lines: Vec<&str> = marks
            .iter()
            .flat_map(|m| m.lines.iter().map(String::as_str))
            .collect();
        write(
            &format!("{}.txt", photo.name),
            lines
                .iter()
                .map(|l| format!("{l}\n"))
                .collect::<String>()
                .as_bytes(),
        )?;
        let whole = json!({
            "photograph": file,
            "grade": photo.grade,
            "picture": back.slug,
            "whole_back": photo.whole,
            "skew_degrees": truth::skew(&shot),
            "marks": marks.iter().map(|m| m.json.clone()).collect::<Vec<_>>(),
        });
        let text = serde_json::to_string_pretty(&whole).map_err(|e| e.to_string())?;
        write(
            &format!("{}.json", photo.name),
            format!("{text}\n").as_bytes(),
        )?;
        for m in &marks {
            for [list, entry] in m.names.clone() {
                table.push([file.clone(), list, entry, m.words.clone()]);
            }
        }
        println!("{file}: {} marks, {} lines", marks.len(), lines.len());
    }
    if args.only.is_none() && args.grade.is_none() {
        let mut csv = csv::Writer::from_writer(Vec::new());
        csv.write_record(["file", "list", "entry", "words"])
            .map_err(|e| e.to_string())?;
        for row in &table {
            csv.write_record(row).map_err(|e| e.to_string())?;
        }
        write("truth.csv", &csv.into_inner().map_err(|e| e.to_string())?)?;
    }
    Ok(())
}
