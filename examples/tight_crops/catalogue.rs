//! Lines as sale and exhibition catalogues set them: a number with a full stop, a title, dots or a gap, a price, a
//! closing sign.

use crate::Fallible;
use crate::measure::{pictures, truth};
use ab_glyph::{Font, FontVec, PxScale, ScaleFont, point};
use dorso::gazetteer::Gazetteer;
use dorso::measure::text;
use dorso::proposals::Index;
use dorso::readings;
use dorso::run;
use image::{GrayImage, Luma, imageops};
use rand::{Rng, SeedableRng, seq::IndexedRandom};
use rand_chacha::ChaCha8Rng;
use std::collections::BTreeMap;
use std::path::Path;

const FIRST: [&str; 10] = [
    "The Ferry",
    "Mill Pool",
    "Evening",
    "A Grey Day",
    "Cattle Watering",
    "The Lock",
    "Winter Morning",
    "Old Kiln",
    "Study of Elms",
    "Portrait of a Lady",
];
const SECOND: [&str; 8] = [
    " at Dunmarsh",
    " near Ellerdyke",
    ", Rothcaster",
    " on the Wendle",
    ", with figures",
    " at Lomaxby",
    "",
    ", after rain",
];

/// Lines on a picture.
const LINES: usize = 5;

/// One line: its text as it is compared, and as it is set, each piece with the gap before it, widths of an n.
struct Set {
    text: String,
    pieces: Vec<(f64, String)>,
}

fn line(r: &mut ChaCha8Rng) -> Set {
    let pick =
        |r: &mut ChaCha8Rng, of: &[&str]| of.choose(r).copied().unwrap_or_default().to_string();
    let head = format!("{}.", r.random_range(1..900));
    let title = pick(r, &FIRST) + &pick(r, &SECOND);
    let price = match r.random_range(0..4) {
        0 => format!(
            "{},{:03}",
            r.random_range(1..20),
            100 * r.random_range(0..10)
        ),
        1 => format!("£{} {}s.", r.random_range(2..90), r.random_range(1..20)),
        2 => (50 * r.random_range(1..12)).to_string(),
        _ => (500 * r.random_range(2..30)).to_string(),
    };
    let apart = if r.random_bool(0.5) { 1.0 } else { 0.6 };
    let (text, middle, last) = match r.random_range(0..4) {
        0 => (
            format!("{head} {title} ... {price}"),
            ".".repeat(r.random_range(4..16)),
            price,
        ),
        1 => (
            format!("{head} {title} ... {price}"),
            ". ".repeat(r.random_range(4..12)).trim().to_string(),
            price,
        ),
        2 => (format!("{head} {title} {price}"), String::new(), price),
        _ => (format!("{head} {title}.—"), String::new(), String::new()),
    };
    let mut pieces = vec![(0.0, head)];
    if last.is_empty() {
        pieces.push((apart, format!("{title}.—")));
    } else {
        pieces.push((apart, title));
        let gap = if middle.is_empty() {
            r.random_range(3.0..14.0)
        } else {
            apart
        };
        if !middle.is_empty() {
            pieces.push((apart, middle));
        }
        pieces.push((gap, last));
    }
    Set { text, pieces }
}

fn draw(r: &mut ChaCha8Rng, font: &FontVec, lines: &[Set]) -> GrayImage {
    let size = r.random_range(24.0..52.0f32);
    let font = font.as_scaled(PxScale::from(size));
    let n = font.h_advance(font.glyph_id('n'));
    let (paper, ink) = (
        r.random_range(175.0..238.0f32),
        r.random_range(25.0..95.0f32),
    );
    let (margin, step) = (
        size * r.random_range(0.7..1.6),
        size * r.random_range(1.15..1.6),
    );
    let mut strokes: Vec<(i32, i32, f32)> = Vec::new();
    let mut widest = 0.0f32;
    for (i, line) in lines.iter().enumerate() {
        let (mut x, foot) = (margin, margin + size * 0.8 + step * i as f32);
        for (gap, piece) in &line.pieces {
            x += *gap as f32 * n;
            for sign in piece.chars() {
                let id = font.glyph_id(sign);
                let glyph = id.with_scale_and_position(font.scale(), point(x, foot));
                x += font.h_advance(id);
                if let Some(outline) = font.outline_glyph(glyph) {
                    let b = outline.px_bounds();
                    outline.draw(|dx, dy, c| {
                        strokes.push((b.min.x as i32 + dx as i32, b.min.y as i32 + dy as i32, c))
                    });
                }
            }
        }
        widest = widest.max(x);
    }
    let h = margin * 2.0 + size + step * (lines.len() - 1) as f32;
    let mut grey = vec![vec![paper; (widest + margin) as usize]; h as usize];
    for (x, y, c) in strokes {
        if let Some(px) = grey
            .get_mut(y.max(0) as usize)
            .and_then(|row| row.get_mut(x.max(0) as usize))
        {
            *px = px.min(paper - (paper - ink) * c);
        }
    }
    let (shade, noise) = (r.random_range(0.0..25.0f32), r.random_range(2.0..9.0f32));
    let picture = GrayImage::from_fn(grey[0].len() as u32, grey.len() as u32, |x, y| {
        let grain = noise * (r.random::<f32>() + r.random::<f32>() - 1.0);
        let darker = shade * x as f32 / widest;
        Luma([(grey[y as usize][x as usize] - darker + grain).clamp(0.0, 255.0) as u8])
    });
    imageops::blur(&picture, r.random_range(0.5..1.1))
}

/// Makes so many pictures of catalogue lines in faces of a folder, one face a picture.
pub fn make(faces: &Path, out: &Path, seed: u64, count: usize) -> Fallible<()> {
    std::fs::create_dir_all(out)?;
    let mut files: Vec<_> = std::fs::read_dir(faces)?
        .filter_map(|f| Some(f.ok()?.path()))
        .collect();
    files.retain(|f| f.extension().is_some_and(|e| e == "ttf" || e == "otf"));
    files.sort();
    let mut r = ChaCha8Rng::seed_from_u64(seed);
    for i in 0..count {
        let file = files
            .choose(&mut r)
            .ok_or("no face in that folder; name one that holds .ttf files")?;
        let font = FontVec::try_from_vec(std::fs::read(file)?)?;
        let lines: Vec<Set> = (0..LINES).map(|_| line(&mut r)).collect();
        let name = out.join(format!("c{seed}-{i:03}-catalogue"));
        draw(&mut r, &font, &lines).save(name.with_extension("png"))?;
        let texts: Vec<&str> = lines.iter().map(|l| l.text.as_str()).collect();
        std::fs::write(name.with_extension("txt"), texts.join("\n") + "\n")?;
    }
    Ok(())
}

/// A line with every run of three dots and more, and of dots and spaces, as three dots.
pub fn squeezed(line: &str) -> String {
    let line = line.replace('…', "...").replace('·', ".");
    let signs: Vec<char> = line.chars().collect();
    let (mut out, mut at) = (String::new(), 0);
    while at < signs.len() {
        let run = signs[at..]
            .iter()
            .take_while(|c| matches!(c, '.' | ' '))
            .count();
        let dots = signs[at..at + run].iter().filter(|c| **c == '.').count();
        if dots >= 3 {
            out.push_str(" ... ");
        } else {
            out.extend(&signs[at..at + run.max(1)]);
        }
        at += run.max(1);
    }
    text::normal(&out)
}

/// What of a true line went wrong.
fn faults(truth: &str, read: &str) -> Vec<&'static str> {
    let mut out = Vec::new();
    let number: String = truth.chars().take_while(char::is_ascii_digit).collect();
    match read
        .strip_prefix(number.as_str())
        .map(|rest| rest.chars().next())
    {
        Some(Some('.')) => {}
        Some(Some(',')) => out.push("comma for the stop after the number"),
        Some(_) => out.push("stop after the number lost"),
        None => out.push("number wrong"),
    }
    let last = truth.rsplit(' ').next().unwrap_or_default();
    if truth.ends_with(".—") {
        let dash = read.ends_with(['—', '–', '-']);
        let stop = read.trim_end_matches(['—', '–', '-', ' ']).ends_with('.');
        if !(dash && stop) {
            out.push("closing stop or dash lost");
        } else if !read.ends_with('—') {
            out.push("closing dash another");
        }
    } else if read.rsplit(' ').next() != Some(last) {
        out.push("price wrong");
    }
    if truth.contains("...") {
        let (t, r) = (letters(truth), letters(read));
        if !read.contains("...") {
            out.push("dots lost");
        }
        if r.len() > t.len() {
            out.push("letters invented");
        }
    } else if letters(read).len() > letters(truth).len() {
        out.push("letters invented");
    }
    out
}

fn letters(line: &str) -> Vec<char> {
    line.chars().filter(|c| c.is_alphanumeric()).collect()
}

/// Counts what goes wrong with catalogue lines of a folder.
pub fn score(folder: &Path, show: bool) -> Fallible<()> {
    let recognisers = readings::recognisers()?;
    let index = Index::new(Gazetteer::default());
    let mut count = 0;
    let mut wrong: BTreeMap<&str, usize> = BTreeMap::new();
    let mut edits = text::Edits::default();
    for photo in pictures(folder)? {
        let lines: Vec<String> = truth(&photo.file)?.iter().map(|l| squeezed(l)).collect();
        let read = run::read_photograph(&photo, &recognisers, &index)?;
        let read = read.marks.iter().flat_map(|m| &m.reading.lines);
        let read: Vec<String> = read.map(|l| squeezed(&l.text)).collect();
        edits = edits.plus(text::characters_by_line(&lines, &read));
        for (line, pair) in lines.iter().zip(text::pair_lines(&lines, &read)) {
            let said = pair.map_or("", |at| read[at].as_str());
            let found = faults(line, said);
            count += 1;
            if show && said != line {
                println!("{line}\n{said}   {found:?}");
            }
            found
                .into_iter()
                .for_each(|f| *wrong.entry(f).or_default() += 1);
        }
    }
    println!("{count} lines, CER {:.4}", edits.rate());
    wrong.iter().for_each(|(what, n)| println!("{n:4} {what}"));
    Ok(())
}
