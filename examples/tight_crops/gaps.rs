//! Strips of photographs on which nothing is written.

use crate::Fallible;
use crate::measure::{pictures, truth};
use dorso::gazetteer::Gazetteer;
use dorso::geometry::Rect;
use dorso::measure::text;
use dorso::proposals::Index;
use dorso::readings::{self, Line, LineReader, line_model::LineModel};
use dorso::run;
use image::{GrayImage, imageops};
use rayon::prelude::*;
use std::path::Path;

/// A line counts as read as it stands from this share of wrong characters down.
const READ: f64 = 0.1;

/// Strips lower than this aren't taken, px.
const LEAST: i32 = 8;

/// A strip is at most so many times as high as the line above it.
const MOST: f64 = 1.5;

/// Mean chance of its letters from which a row of three letters and more is text, and from which one of fewer is.
const TEXT: (f64, f64) = (0.5, 0.85);

/// Where nothing is written beside and under the lines of a mark: under a line that the text has just before the next
/// one below, and behind the end of a line that ends well before the longest.
fn strips(truth: &[String], lines: &[&Line]) -> Vec<(&'static str, Rect)> {
    let read: Vec<String> = lines.iter().map(|l| l.text.clone()).collect();
    let pairs = text::pair_lines(truth, &read);
    let well = |i: usize| {
        let at = pairs[i]?;
        let wrong = text::characters(&truth[i], &read[at]).rate();
        (wrong <= READ).then_some(lines[at].bounds)
    };
    let mut out = Vec::new();
    for i in 1..truth.len() {
        let (Some(a), Some(b)) = (well(i - 1), well(i)) else {
            continue;
        };
        let over = a.right().min(b.right()) - a.x.max(b.x);
        let (from, to) = (a.bottom() + 1, b.y - 1);
        let (left, right) = (a.x.min(b.x), a.right().max(b.right()));
        if over > 0 && to - from >= LEAST && f64::from(to - from) < 3.0 * f64::from(a.h) {
            let h = (to - from).min((MOST * f64::from(a.h)) as i32);
            out.push((
                "between",
                Rect::new(left, from, (right - left) as u32, h as u32),
            ));
        }
        for (short, long) in [(a, b), (b, a)] {
            let (h, off) = (short.h as i32, short.h as i32 / 3);
            let free = long.right() - short.right() - off;
            if free > 2 * h && h >= LEAST {
                out.push((
                    "behind",
                    Rect::new(short.right() + off, short.y, free as u32, short.h),
                ));
            }
            let free = short.x - off - long.x;
            if free > 2 * h && h >= LEAST {
                out.push(("before", Rect::new(long.x, short.y, free as u32, short.h)));
            }
        }
    }
    out
}

fn cut(picture: &GrayImage, place: &Rect) -> Option<GrayImage> {
    let (w, h) = (picture.width() as i32, picture.height() as i32);
    let (l, t) = (place.x.max(0), place.y.max(0));
    let (r, b) = (place.right().min(w), place.bottom().min(h));
    (r - l > 12 && b - t >= LEAST).then(|| {
        imageops::crop_imm(picture, l as u32, t as u32, (r - l) as u32, (b - t) as u32).to_image()
    })
}

/// Reads the strips of a folder's photographs.
pub fn folder(folder: &Path, show: bool) -> Fallible<()> {
    let recognisers = readings::recognisers()?;
    let model = LineModel::load()?;
    let index = Index::new(Gazetteer::default());
    let (mut count, mut letters) = (0, 0);
    for photo in pictures(folder)? {
        let lines = truth(&photo.file)?;
        let read = run::read_photograph(&photo, &recognisers, &index)?;
        let grey = imageops::grayscale(&photo.picture);
        let taken: Vec<Rect> = read
            .marks
            .iter()
            .flat_map(|m| &m.reading.lines)
            .map(|l| l.bounds)
            .collect();
        for mark in &read.marks {
            // Lines that run level: else the box of one reaches over the next
            let level = |l: &&Line| mark.outline.slope_degrees().abs() < 2.0 && l.is_measured();
            let own: Vec<&Line> = mark.reading.lines.iter().filter(level).collect();
            let free = strips(&lines, &own);
            let free = free
                .into_iter()
                .filter(|s| taken.iter().all(|t| t.intersect(&s.1).is_none()));
            let cuts: Vec<_> = free
                .filter_map(|(kind, s)| Some((kind, s, cut(&grey, &s)?)))
                .collect();
            let said: Vec<_> = cuts
                .par_iter()
                .map(|(kind, place, strip)| Ok((kind, place, model.read(strip)?)))
                .collect::<dorso::error::Result<_>>()?;
            for (kind, place, line) in said {
                count += 1;
                let signs = line.iter().flat_map(|l| &l.characters);
                let found: Vec<_> = signs
                    .filter(|c| c.text.chars().any(char::is_alphanumeric))
                    .collect();
                let mean =
                    found.iter().map(|c| c.confidence).sum::<f64>() / found.len().max(1) as f64;
                if found.is_empty() || mean < if found.len() < 3 { TEXT.1 } else { TEXT.0 } {
                    continue;
                }
                letters += 1;
                let text: String = found.iter().map(|c| c.text.as_str()).collect();
                if show {
                    println!("{} {kind} {place:?} {mean:.2} {text}", photo.file.display());
                }
            }
        }
    }
    println!("{letters} of {count} strips give a letter");
    Ok(())
}
