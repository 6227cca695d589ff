//! Arched and hanging baselines, set here letter by letter on a circle.

use ab_glyph::{Font, FontRef, Glyph, OutlinedGlyph, PxScale, ScaleFont, point};
use dorso::geometry::Rect;
use dorso::marks::{self, Mark, MarkKind};
use dorso::measure::text::{self, Edits};
use dorso::readings;
use image::{DynamicImage, GrayImage, Luma, imageops};

const WIDE: u32 = 1100;
const HIGH: u32 = 420;

fn outlined(font: &FontRef<'_>, c: char, size: f32) -> Option<OutlinedGlyph> {
    let glyph: Glyph = font
        .glyph_id(c)
        .with_scale_and_position(PxScale::from(size), point(0.0, 0.0));
    font.outline_glyph(glyph)
}

/// Sets a line in the middle of the picture on a circle of that radius (0: straight, above 0: arched,
/// below 0: hanging), its middle letter's foot at `foot`.
fn set(picture: &mut GrayImage, text: &str, size: f32, foot: f32, radius: f32) {
    let font = FontRef::try_from_slice(dejavu::serif::bold()).unwrap();
    let scaled = font.as_scaled(size);
    let advance = |c: char| scaled.h_advance(font.glyph_id(c)) * 1.08;
    let mut along = -text.chars().map(advance).sum::<f32>() / 2.0;
    for c in text.chars() {
        let middle = along + advance(c) / 2.0;
        along += advance(c);
        let Some(glyph) = outlined(&font, c, size) else {
            continue;
        };
        let turn = if radius == 0.0 { 0.0 } else { middle / radius };
        let (sin, cos) = turn.sin_cos();
        let at = match radius == 0.0 {
            true => (WIDE as f32 / 2.0 + middle, foot),
            false => (
                WIDE as f32 / 2.0 + radius * sin,
                foot + radius * (1.0 - cos),
            ),
        };
        let bounds = glyph.px_bounds();
        let (w, h) = (bounds.width() as u32 + 1, bounds.height() as u32 + 1);
        let mut letter = GrayImage::new(w, h);
        glyph.draw(|x, y, v| letter.put_pixel(x, y, Luma([(255.0 * v.min(1.0)) as u8])));
        let reach = (size * 1.5) as i32;
        for dy in -reach..reach {
            for dx in -reach..reach {
                let (x, y) = (at.0 as i32 + dx, at.1 as i32 + dy);
                if x < 0 || y < 0 || x >= WIDE as i32 || y >= HIGH as i32 {
                    continue;
                }
                let (ox, oy) = (x as f32 - at.0, y as f32 - at.1);
                let (u, v) = (cos * ox + sin * oy, -sin * ox + cos * oy);
                let (u, v) = (u + advance(c) / 2.0 - bounds.min.x, v - bounds.min.y);
                let inside = u >= 0.0 && v >= 0.0 && u < w as f32 - 1.0 && v < h as f32 - 1.0;
                if inside && let Some(p) = imageops::interpolate_bilinear(&letter, u, v) {
                    let px = picture.get_pixel_mut(x as u32, y as u32);
                    px.0[0] = px.0[0].min(225 - (u16::from(p.0[0]) * 190 / 255) as u8);
                }
            }
        }
    }
}

/// A label whose first line stands on a circle of that radius.
fn label(name: &str, radius: f32) -> GrayImage {
    let mut picture = GrayImage::from_pixel(WIDE, HIGH, Luma([225]));
    let foot = if radius < 0.0 { 190.0 } else { 110.0 };
    set(&mut picture, name, 62.0, foot, radius);
    set(&mut picture, "CARVERS AND GILDERS", 36.0, 270.0, 0.0);
    set(&mut picture, "41 GOSLING STREET", 36.0, 330.0, 0.0);
    picture
}

#[test]
fn an_arched_line_is_found_whole_and_its_middle_is_followed() {
    for radius in [760.0f32, 1100.0, -900.0] {
        let picture = label("ASHCOMBE & SONS", radius);
        let lines = marks::lines(&picture);
        assert_eq!(lines.len(), 3, "radius {radius}: {lines:?}");
        let bent = lines.iter().find(|l| l.bend != 0.0).unwrap();
        assert!(f64::from(bent.bounds.w) > 600.0, "{bent:?}");
        let rise = |off: f64| {
            let r = f64::from(radius);
            r - r.signum() * (r * r - off * off).sqrt()
        };
        let middle = f64::from(WIDE) / 2.0;
        let level = bent.middle(middle);
        for off in [-280.0, -150.0, 150.0, 280.0] {
            let off_by = bent.middle(middle + off) - level - rise(off);
            // A sixth of a capital, 44 px high
            assert!(off_by.abs() < 7.0, "radius {radius}, {off}: {off_by}");
        }
        let others = lines.iter().filter(|l| l.bend == 0.0);
        assert_eq!(others.count(), 2, "radius {radius}");
    }
}

#[test]
fn straight_lines_of_capitals_and_small_letters_are_not_bent() {
    let mut picture = GrayImage::from_pixel(WIDE, HIGH, Luma([225]));
    let texts = [
        "Sir Piers Haldenby, Knight",
        "gilders, looking-glass makers",
        "J. Q. PELLOWAY & SON",
    ];
    for (i, text) in texts.iter().enumerate() {
        set(&mut picture, text, 44.0, 90.0 + 120.0 * i as f32, 0.0);
    }
    let lines = marks::lines(&picture);
    assert_eq!(lines.len(), 3, "{lines:?}");
    assert!(lines.iter().all(|l| l.bend == 0.0), "{lines:?}");
}

#[test]
fn arched_names_are_read() {
    let recognisers = readings::recognisers().unwrap();
    let mut edits = Edits::default();
    for (name, radius) in [
        ("ASHCOMBE & SONS", 760.0),
        ("W. H. NETHERBY", 820.0),
        ("TREWITT BROTHERS", 900.0),
        ("T. & E. HOLLIS", -800.0),
    ] {
        let picture = DynamicImage::ImageLuma8(label(name, radius)).to_rgb8();
        let mark = Mark {
            kind: MarkKind::PrintedLabel,
            outline: Rect::new(0, 0, WIDE, HIGH).quad(),
            lettering: 1.0,
            bearing: None,
            kind_chance: 1.0,
        };
        let flat = marks::flatten(&picture, &mark);
        let (reading, _) = readings::read(&flat, &recognisers).unwrap();
        let read: Vec<String> = reading
            .lines
            .iter()
            .map(|l| text::normal(&l.text))
            .collect();
        let truth = [name, "CARVERS AND GILDERS", "41 GOSLING STREET"].map(String::from);
        edits = edits.plus(text::characters_by_line(&truth, &read));
    }
    assert!(edits.rate() < 0.02, "{:.4} of the characters", edits.rate());
}
