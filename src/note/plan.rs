//! The plan of a back: a photograph with its marks outlined and numbered, as a picture that every
//! format can show.

use super::{Crops, Cut, MarkNote, Note, NotedPhotograph, Shown, Standing};
use ab_glyph::{FontRef, PxScale};
use image::codecs::png::PngEncoder;
use image::imageops::{self, FilterType};
use image::{ImageReader, Rgb, RgbImage};
use imageproc::drawing::{draw_line_segment_mut, draw_text_mut, text_size};
use std::io::Cursor;

const DARK: Rgb<u8> = Rgb([0, 0, 0]);
const LIGHT: Rgb<u8> = Rgb([255, 255, 255]);

/// The fewest photographs that show every mark among them: the one with most marks, then each that shows
/// most of those that are left. A photograph with one mark that takes a quarter of it or more shows no
/// more than the mark's own picture does, and is left out.
pub(super) fn shown(note: &Note) -> Vec<&NotedPhotograph> {
    let mut left: Vec<&MarkNote> = note.marks.iter().collect();
    let mut out: Vec<&NotedPhotograph> = Vec::new();
    while !left.is_empty() {
        let count = |p: &NotedPhotograph| {
            let on = left.iter().filter(|m| m.on_photograph(p.id).is_some());
            on.count()
        };
        let wide = note.photographs.iter().filter(|p| !is_close_up(note, p));
        // Of equals the first: `max_by_key` would take the last
        let Some(best) = wide.rev().max_by_key(|p| count(p)) else {
            break;
        };
        if count(best) == 0 {
            break;
        }
        left.retain(|m| m.on_photograph(best.id).is_none());
        out.push(best);
    }
    out
}

fn is_close_up(note: &Note, p: &NotedPhotograph) -> bool {
    let mut own = note.marks.iter().filter_map(|m| m.on_photograph(p.id));
    let whole = f64::from(p.size.0) * f64::from(p.size.1);
    match (own.next(), own.next()) {
        (Some(only), None) => only.area() * 4.0 >= whole,
        _ => false,
    }
}

/// A picture of a note with its bytes turned to px.
pub(super) fn opened(cut: &Cut) -> Option<RgbImage> {
    let Cut::Jpeg { bytes, .. } = cut else {
        return None;
    };
    let reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format();
    Some(reader.ok()?.decode().ok()?.to_rgb8())
}

/// The pictures that a block stands for, as px: photographs with their marks outlined, or a mark.
pub fn pictures(note: &Note, crops: &Crops, which: &Shown) -> Vec<RgbImage> {
    match which {
        Shown::Backs => shown(note)
            .into_iter()
            .filter_map(|p| plan(note, p, crops.backs.get(&p.id)?))
            .collect(),
        Shown::Mark(id) => crops.marks.get(id).and_then(opened).into_iter().collect(),
        Shown::Chart => Vec::new(),
    }
}

/// Longest side of a picture in a document to be printed, px.
const SIDE: u32 = 1_000;

/// A picture as small as a printed document needs it.
pub fn printed(picture: &RgbImage) -> RgbImage {
    let (w, h) = picture.dimensions();
    let scale = (f64::from(SIDE) / f64::from(w.max(h).max(1))).min(1.0);
    let side = |s: u32| ((f64::from(s) * scale).round() as u32).max(1);
    imageops::resize(picture, side(w), side(h), FilterType::Triangle)
}

/// As PNG; `None` where it can't be written.
pub(super) fn png(picture: &RgbImage) -> Option<Vec<u8>> {
    let mut out = Vec::new();
    picture.write_with_encoder(PngEncoder::new(&mut out)).ok()?;
    Some(out)
}

/// The photograph with its marks outlined (a full line: decided; dashes: proposed; dots: open) and
/// numbered.
pub(super) fn plan(note: &Note, p: &NotedPhotograph, cut: &Cut) -> Option<RgbImage> {
    let mut picture = opened(cut)?;
    let scale = f64::from(picture.width()) / f64::from(p.size.0.max(1));
    let height = picture.width().max(picture.height()) as f32 / 36.0;
    let font = FontRef::try_from_slice(dejavu::sans::bold()).ok()?;
    let own = note.marks.iter();
    for (m, at) in own.filter_map(|m| Some((m, m.on_photograph(p.id)?))) {
        let on = at.0.iter();
        let corners: Vec<(f32, f32)> = on
            .map(|c| ((c.x * scale) as f32, (c.y * scale) as f32))
            .collect();
        let dash = match m.standing {
            Standing::Decided => (1.0, 0.0),
            Standing::Proposed => (12.0, 6.0),
            Standing::Open => (3.0, 6.0),
        };
        for (i, a) in corners.iter().enumerate() {
            line(&mut picture, *a, corners[(i + 1) % corners.len()], dash);
        }
        let b = at.bounds();
        let size = PxScale::from(height);
        let (w, h) = text_size(size, &font, &m.id);
        let x = (f64::from(b.x) * scale).clamp(0.0, f64::from(picture.width().saturating_sub(w)));
        let y = (f64::from(b.y) * scale - f64::from(h) * 1.3).max(0.0);
        for (dx, dy) in [(-1, -1), (1, -1), (-1, 1), (1, 1), (0, 0)] {
            let colour = if (dx, dy) == (0, 0) { LIGHT } else { DARK };
            draw_text_mut(
                &mut picture,
                colour,
                x as i32 + 2 * dx,
                y as i32 + 2 * dy,
                size,
                &font,
                &m.id,
            );
        }
    }
    Some(picture)
}

/// A line of light on dark, in dashes of so many px with gaps.
fn line(picture: &mut RgbImage, a: (f32, f32), b: (f32, f32), (dash, gap): (f32, f32)) {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = dx.hypot(dy).max(1.0);
    let at = |t: f32| (a.0 + dx * t / length, a.1 + dy * t / length);
    let thick = (picture.width() / 350).max(2) as i32;
    let (dash, gap) = (dash * thick as f32 / 2.0, gap * thick as f32 / 2.0);
    let step = if gap == 0.0 { length } else { dash + gap };
    let mut from = 0.0;
    while from < length {
        let to = if gap == 0.0 {
            length
        } else {
            (from + dash).min(length)
        };
        for step in -2 * thick..=2 * thick {
            // Dark on both sides of light, so that it is seen on every ground
            let colour = if step.abs() > thick { DARK } else { LIGHT };
            let shift = step as f32 / 2.0;
            let side = (-dy / length * shift, dx / length * shift);
            let (p, q) = (at(from), at(to));
            draw_line_segment_mut(
                picture,
                (p.0 + side.0, p.1 + side.1),
                (q.0 + side.0, q.1 + side.1),
                colour,
            );
        }
        from += step;
    }
}
