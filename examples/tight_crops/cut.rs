//! Labels and lines cut out of made photographs.

use crate::Fallible;
use crate::truth::{Known, known, quad};
use dorso::geometry::{Homography, Point, Quad};
use dorso::measure::text::normal;
use image::{Rgb, RgbImage};
use serde_json::Value;
use std::path::Path;

/// Ways of cutting a label, with what is added on each side, share of its shorter side.
const WAYS: [(&str, f64); 3] = [("edge", 0.0), ("inside", -0.02), ("outside", 0.03)];

/// Room above and below the places of a line's signs, shares of their height, so that no sign is cut.
const ROOM: (f64, f64) = (0.45, 0.3);

/// Lines whose type is lower than this aren't cut, px.
const LEAST: f64 = 14.0;

/// A label of a made photograph: its corners in reading order, its lines that can be read by eye.
pub struct Label {
    pub name: String,
    pub outline: Quad,
    pub lines: Vec<String>,
}

/// The labels of a made photograph that lie wholly on it.
pub fn labels(photo: &Known) -> Vec<Label> {
    let marks = photo.truth["marks"].as_array().into_iter().flatten();
    marks
        .filter(|m| m.get("part").is_none())
        .filter(|m| m["kind"].as_str().is_some_and(|k| k.ends_with("label")))
        .filter_map(|m| {
            let lines: Vec<String> = legible(m).map(|t| normal(&t)).collect();
            let every = m["lines"].as_array().map_or(0, Vec::len);
            (lines.len() == every && every > 0).then_some(())?;
            Some(Label {
                name: format!("{}-{}", photo.name, m["mark"].as_str()?),
                outline: quad(&m["outline"])?,
                lines,
            })
        })
        .collect()
}

fn legible(mark: &Value) -> impl Iterator<Item = String> {
    let lines = mark["lines"].as_array().into_iter().flatten();
    lines
        .filter(|l| l["legible"].as_bool() == Some(true))
        .filter_map(|l| Some(l["text"].as_str()?.to_string()))
}

/// Cuts the labels of all photographs, and the lines of those that have `NAME.bands.json`.
pub fn all(photos: &Path, out: &Path) -> Fallible<()> {
    std::fs::create_dir_all(out)?;
    for photo in known(photos) {
        let bands = std::fs::read_to_string(photos.join(format!("{}.bands.json", photo.name)));
        let bands: Value = bands.map_or(Ok(Value::Null), |b| serde_json::from_str(&b))?;
        for label in labels(&photo) {
            for (way, share) in WAYS {
                let picture = flat(&photo.picture, &grown(&label.outline, share));
                save(
                    out,
                    &format!("{}-{way}", label.name),
                    &picture,
                    &label.lines,
                )?;
            }
            let at = photo.truth["marks"].as_array().and_then(|marks| {
                let own = |m: &Value| {
                    label
                        .name
                        .ends_with(&format!("-{}", m["mark"].as_str().unwrap_or("?")))
                };
                marks.iter().position(own)
            });
            let bands = at.and_then(|at| bands[at].as_array());
            for (i, (band, text)) in bands.into_iter().flatten().zip(&label.lines).enumerate() {
                if bands.map(Vec::len) != Some(label.lines.len()) {
                    continue;
                }
                if let Some(line) = of_line(band, &label.outline) {
                    let name = format!("{}-{i}-line", label.name);
                    save(
                        out,
                        &name,
                        &flat(&photo.picture, &line),
                        std::slice::from_ref(text),
                    )?;
                }
            }
        }
    }
    Ok(())
}

fn save(out: &Path, name: &str, picture: &RgbImage, lines: &[String]) -> Fallible<()> {
    picture.save(out.join(format!("{name}.png")))?;
    std::fs::write(out.join(format!("{name}.txt")), lines.join("\n") + "\n")?;
    Ok(())
}

fn frame(w: f64, h: f64) -> Quad {
    Quad([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| Point::new(x, y)))
}

/// An outline with so much more on each side, share of its shorter side.
fn grown(outline: &Quad, share: f64) -> Quad {
    let (w, h) = outline.size();
    let m = w.min(h) * share;
    let wider = [(-m, -m), (w + m, -m), (w + m, h + m), (-m, h + m)];
    match Homography::between(&frame(w, h), outline) {
        Some(map) => Quad(wider.map(|(x, y)| map.apply(Point::new(x, y)))),
        None => *outline,
    }
}

/// Corners of a line's type on the photograph: the upright box on the label around the places of its signs, with room.
fn of_line(band: &Value, label: &Quad) -> Option<Quad> {
    let (w, h) = label.size();
    let map = Homography::between(&frame(w, h), label)?;
    let back = map.inverse()?;
    let signs = band.as_array()?;
    let corners: Vec<Point> = signs
        .iter()
        .filter(|s| s[0].as_bool() == Some(true))
        .filter_map(|s| quad(&s[1]))
        .flat_map(|q| q.0.map(|p| back.apply(p)))
        .collect();
    let ends = |of: fn(&Point) -> f64| {
        let all = corners.iter().map(of);
        (
            all.clone().fold(f64::INFINITY, f64::min),
            all.fold(f64::NEG_INFINITY, f64::max),
        )
    };
    let ((l, r), (t, b)) = (ends(|p| p.x), ends(|p| p.y));
    let high = b - t;
    let (t, b) = (t - ROOM.0 * high, b + ROOM.1 * high);
    let (l, r) = (l - ROOM.1 * high / 2.0, r + ROOM.1 * high / 2.0);
    (high > LEAST)
        .then(|| Quad([(l, t), (r, t), (r, b), (l, b)].map(|(x, y)| map.apply(Point::new(x, y)))))
}

/// What lies in an outline, flattened; bilinear.
fn flat(photo: &RgbImage, outline: &Quad) -> RgbImage {
    let (w, h) = outline.size();
    let (w, h) = (w.round().max(4.0), h.round().max(4.0));
    let (pw, ph) = photo.dimensions();
    let Some(map) = Homography::between(&frame(w, h), outline) else {
        return RgbImage::new(4, 4);
    };
    RgbImage::from_fn(w as u32, h as u32, |x, y| {
        let p = map.apply(Point::new(f64::from(x) + 0.5, f64::from(y) + 0.5));
        let (u, v) = ((p.x - 0.5).max(0.0), (p.y - 0.5).max(0.0));
        let (fu, fv) = (u.fract(), v.fract());
        let at = |dx: u32, dy: u32, c: usize| {
            let (x, y) = ((u as u32 + dx).min(pw - 1), (v as u32 + dy).min(ph - 1));
            f64::from(photo.get_pixel(x, y).0[c])
        };
        Rgb([0, 1, 2].map(|c| {
            let top = at(0, 0, c) * (1.0 - fu) + at(1, 0, c) * fu;
            let low = at(0, 1, c) * (1.0 - fu) + at(1, 1, c) * fu;
            (top * (1.0 - fv) + low * fv).round() as u8
        }))
    })
}
