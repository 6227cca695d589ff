//! How well pictures with known texts are read.

use crate::Fallible;
use crate::cut;
use crate::truth::known;
use dorso::gazetteer::Gazetteer;
use dorso::geometry::Rect;
use dorso::marks::{self, Mark, MarkKind};
use dorso::measure::text::{self, Edits};
use dorso::photograph::{self, Photograph};
use dorso::proposals::Index;
use dorso::readings::{self, LineReader, Recognisers, line_model::LineModel};
use dorso::run;
use image::{DynamicImage, ImageFormat, RgbImage, imageops};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::Cursor;
use std::path::Path;

/// What one way of reading gave, summed over pictures.
#[derive(Default, Clone)]
struct Sum {
    pictures: usize,
    edits: Edits,
    f1: f64,
}

impl Sum {
    fn add(&mut self, truth: &[String], read: &[String]) {
        self.pictures += 1;
        self.edits = self.edits.plus(text::characters_by_line(truth, read));
        self.f1 += text::word_f1(&truth.join("\n"), &read.join("\n"));
    }
}

/// Sums by group and way of reading, with how many pictures came out in none or several marks.
type Table = BTreeMap<(String, &'static str), Sum>;

fn print(table: &Table) {
    let mut table = table.clone();
    let all: Vec<_> = table.iter().map(|(k, s)| (k.1, s.clone())).collect();
    for (way, s) in all {
        let sum = table.entry(("~ all".into(), way)).or_default();
        sum.pictures += s.pictures;
        sum.edits = sum.edits.plus(s.edits);
        sum.f1 += s.f1;
    }

    println!(
        "{:28} {:9} {:>4} {:>6} {:>6}",
        "group", "read", "n", "CER", "F1"
    );
    for ((group, way), s) in &table {
        let f1 = s.f1 / s.pictures.max(1) as f64;
        println!(
            "{group:28} {way:9} {:4} {:6.3} {f1:6.3}",
            s.pictures,
            s.edits.rate()
        );
    }
}

/// The true lines beside a picture.
pub fn truth(file: &Path) -> Fallible<Vec<String>> {
    let words = std::fs::read_to_string(file.with_extension("txt"))?;
    Ok(words
        .lines()
        .map(text::normal)
        .filter(|l| !l.is_empty())
        .collect())
}

/// Pictures of a folder that have a text beside them.
pub fn pictures(folder: &Path) -> Fallible<Vec<Photograph>> {
    let mut out = Vec::new();
    for file in photograph::expand(&[folder.to_path_buf()]) {
        let file = file?;
        if file.with_extension("txt").exists() {
            out.push(photograph::open(&file)?);
        }
    }
    Ok(out)
}

/// The same picture as people's programs change it, with the name of the change.
fn varied(photo: &Photograph, vary: bool) -> Fallible<Vec<(&'static str, Photograph)>> {
    let with = |picture: RgbImage| Photograph {
        file: photo.file.clone(),
        sha256: photo.sha256.clone(),
        picture,
    };
    let mut all = vec![("", with(photo.picture.clone()))];
    if vary {
        let (w, h) = photo.picture.dimensions();
        for (name, by) in [(" x2", 2), (" x3", 3)] {
            let large = imageops::resize(
                &photo.picture,
                w * by,
                h * by,
                imageops::FilterType::CatmullRom,
            );
            all.push((name, with(large)));
        }
        let mut bytes = Cursor::new(Vec::new());
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, 60)
            .encode_image(&DynamicImage::ImageRgb8(photo.picture.clone()))?;
        let again = image::load_from_memory_with_format(bytes.get_ref(), ImageFormat::Jpeg)?;
        all.push((" q60", with(again.to_rgb8())));
    }
    Ok(all)
}

fn by_the_program(
    photo: &Photograph,
    with: &Recognisers,
    index: &Index,
) -> Fallible<(usize, Vec<String>)> {
    let read = run::read_photograph(photo, with, index)?;
    let lines = read.marks.iter().flat_map(|m| &m.reading.lines);
    let marks = read
        .marks
        .iter()
        .filter(|m| !m.reading.lines.is_empty())
        .count();
    Ok((marks, lines.map(|l| l.text.clone()).collect()))
}

fn as_one_mark(photo: &Photograph, with: &Recognisers) -> Fallible<Vec<String>> {
    let (w, h) = photo.picture.dimensions();
    let mark = Mark {
        kind: MarkKind::Unknown,
        kind_chance: 1.0,
        outline: Rect::new(0, 0, w, h).quad(),
        lettering: 1.0,
        bearing: None,
    };
    let (reading, _) = readings::read(&marks::flatten(&photo.picture, &mark), with)?;
    Ok(reading.lines.into_iter().map(|l| l.text).collect())
}

fn by_the_network(photo: &Photograph, model: &LineModel) -> Fallible<Vec<String>> {
    let read = model.read(&imageops::grayscale(&photo.picture))?;
    let text = read.map(|r| {
        r.characters
            .iter()
            .map(|c| c.text.as_str())
            .collect::<String>()
    });
    Ok(text.into_iter().collect())
}

/// Measures a folder of pictures.
pub fn folder(folder: &Path, flags: &[&str]) -> Fallible<()> {
    let has = |flag| flags.contains(&flag);
    let recognisers = readings::recognisers()?;
    let model = LineModel::load()?;
    let index = Index::new(Gazetteer::default());
    let mut table = Table::new();
    let mut parted: BTreeMap<String, usize> = BTreeMap::new();
    for photo in pictures(folder)? {
        let lines = truth(&photo.file)?;
        let stem = photo
            .file
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let group = stem.rsplit('-').next().unwrap_or_default().to_string();
        for (change, photo) in varied(&photo, has("--vary"))? {
            let group = format!("{group}{change}");
            let mut told = Vec::new();
            let mut put = |way: &'static str, read: Vec<String>| {
                table
                    .entry((group.clone(), way))
                    .or_default()
                    .add(&lines, &read);
                told.push((
                    way,
                    text::characters_by_line(&lines, &read),
                    read.join(" / "),
                ));
            };
            if !has("--alone") {
                let (marks, read) = by_the_program(&photo, &recognisers, &index)?;
                *parted.entry(group.clone()).or_default() += usize::from(marks != 1);
                put("program", read);
                if !has("--program") {
                    put("one mark", as_one_mark(&photo, &recognisers)?);
                }
            }
            if lines.len() == 1 {
                put("network", by_the_network(&photo, &model)?);
            }
            if has("--show") && told.iter().any(|t| t.1.errors() > 0) {
                println!("{stem}{change}: {}", lines.join(" / "));
                told.iter().for_each(|(way, edits, read)| {
                    println!("  {way:9} {:3} {read}", edits.errors())
                });
            }
        }
    }
    print(&table);
    parted
        .iter()
        .for_each(|(group, n)| println!("{group:28} in no mark or several: {n}"));
    Ok(())
}

/// Measures the labels of made photographs as they are read on the whole photographs.
pub fn photographs(photos: &Path) -> Fallible<()> {
    let recognisers = readings::recognisers()?;
    let index = Index::new(Gazetteer::default());
    let mut table = Table::new();
    for photo in known(photos) {
        let labels = cut::labels(&photo);
        if labels.is_empty() {
            continue;
        }
        let whole = Photograph {
            file: photos.join(&photo.name),
            sha256: String::new(),
            picture: photo.picture.clone(),
        };
        let read = run::read_photograph(&whole, &recognisers, &index)?;
        let lines: Vec<_> = read.marks.iter().flat_map(|m| &m.reading.lines).collect();
        let rows: Vec<_> = labels
            .par_iter()
            .map(|label| {
                let own = lines
                    .iter()
                    .filter(|l| label.outline.holds(l.bounds.quad().centre()));
                (label, own.map(|l| l.text.clone()).collect::<Vec<_>>())
            })
            .collect();
        for (label, own) in rows {
            table
                .entry(("labels".into(), "photo"))
                .or_default()
                .add(&label.lines, &own);
            println!(
                "{} {:.3}",
                label.name,
                text::characters_by_line(&label.lines, &own).rate()
            );
            for (truth, pair) in label.lines.iter().zip(text::pair_lines(&label.lines, &own)) {
                let read: Vec<String> = pair.map(|i| own[i].clone()).into_iter().collect();
                table
                    .entry(("their lines".into(), "photo"))
                    .or_default()
                    .add(std::slice::from_ref(truth), &read);
            }
        }
    }
    print(&table);
    Ok(())
}
