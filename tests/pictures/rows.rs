//! Rows of lettering on the samples, whose truth says how many lines each mark has.

use dorso::geometry::{Point, Quad};
use dorso::marks::{self, Flattened, Mark, MarkKind};
use dorso::readings;
use image::{GrayImage, RgbImage, imageops};
use serde_json::Value;

/// A mark of a sample, with its true lines; and the sample.
fn marked(name: &str, which: impl Fn(&Value) -> bool) -> (RgbImage, Mark, Vec<String>) {
    let at = |ending: &str| format!("samples/photographs/{name}.{ending}");
    let truth: Value = serde_json::from_str(&std::fs::read_to_string(at("json")).unwrap()).unwrap();
    let photograph = image::open(at("jpg")).unwrap().to_rgb8();
    let mut marks = truth["marks"].as_array().unwrap().iter();
    let mark = marks.find(|m| which(m)).unwrap();
    let corner = |i: usize| {
        let p = &mark["outline"][i];
        Point::new(p[0].as_f64().unwrap(), p[1].as_f64().unwrap())
    };
    let outlined = Mark {
        kind: MarkKind::Unknown,
        kind_chance: 1.0,
        outline: Quad([corner(0), corner(1), corner(2), corner(3)]),
        lettering: 1.0,
        bearing: None,
    };
    let lines = mark["lines"].as_array().unwrap().iter();
    let texts = lines.map(|l| l["text"].as_str().unwrap_or_default().to_owned());
    (photograph, outlined, texts.collect())
}

/// The first mark of a sample, flattened by its true outline, with the count of its lines.
fn first_mark(name: &str) -> (Flattened, usize) {
    let (photograph, mark, lines) = marked(name, |_| true);
    (marks::flatten(&photograph, &mark), lines.len())
}

fn grey(picture: &RgbImage) -> GrayImage {
    imageops::grayscale(picture)
}

#[test]
fn a_label_has_as_many_lines_as_its_truth() {
    for name in [
        "ferry-society-label",
        "quinces-framer",
        "winter-sale-label",
        "oaks-gallery-label",
    ] {
        let (flat, wanted) = first_mark(name);
        let lines = marks::lines(&grey(&flat.picture));
        assert!(
            lines.len().abs_diff(wanted) <= 1,
            "{name}: {} of {wanted}",
            lines.len()
        );
        let (w, h) = flat.picture.dimensions();
        for line in &lines {
            let b = line.bounds;
            assert!(
                b.x > -20 && b.right() < w as i32 + 20 && b.y > -20 && b.bottom() < h as i32 + 20
            );
            assert!(line.letter_height > 4.0, "{name}: {line:?}");
        }
    }
}

#[test]
fn lettering_that_stands_off_the_level_is_turned_level() {
    let (flat, _) = first_mark("ferry-society-label");
    let paper = *flat.picture.get_pixel(flat.picture.width() / 2, 6);
    for degrees in [-4.0f32, 3.0] {
        let turned = imageproc::geometric_transformations::rotate_about_center(
            &flat.picture,
            degrees.to_radians(),
            imageproc::geometric_transformations::Interpolation::Bilinear,
            imageproc::geometric_transformations::Border::Constant(paper),
        );
        let level = marks::levelled(&turned).expect("it is off the level");
        let left = level.outline.slope_degrees() - f64::from(degrees);
        assert!(left.abs() < 0.7, "{degrees}: {left}");
        let again = marks::levelled(&level.picture).map(|l| l.outline.slope_degrees());
        assert!(again.is_none_or(|d| d.abs() < 1.0), "{again:?}");
        // The way back: the middle of the new picture is the middle of the old one.
        let (w, h) = level.picture.dimensions();
        let middle = level.to_photograph(Point::new(f64::from(w) / 2.0, f64::from(h) / 2.0));
        let (w, h) = turned.dimensions();
        assert!(
            (middle.x - f64::from(w) / 2.0).abs() < 1.0
                && (middle.y - f64::from(h) / 2.0).abs() < 1.0
        );
    }
}

#[test]
fn bare_ground_has_no_rows_to_level() {
    let wood = RgbImage::from_fn(400, 300, |x, y| {
        let v = 110 + ((x / 40 + y.wrapping_mul(7)) % 13) as u8;
        image::Rgb([v + 20, v, v - 40])
    });
    assert!(marks::levelled(&wood).is_none());
}

#[test]
fn large_figures_in_chalk_on_canvas_are_read_though_no_row_is_found() {
    let recognisers = readings::recognisers().unwrap();
    for name in ["ferry-back", "ferry-raking"] {
        let (photograph, mark, lines) = marked(name, |m| m["lines"][0]["text"] == "214");
        let middle = mark.outline.centre();
        let off = |m: &Mark| {
            let c = m.outline.centre();
            (c.x - middle.x).hypot(c.y - middle.y)
        };
        let found = marks::find(&photograph);
        let nearest = found.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        let flat = marks::flatten(&photograph, nearest.unwrap());
        let (reading, _) = readings::read(&flat, &recognisers).unwrap();
        let read: Vec<&str> = reading.lines.iter().map(|l| l.text.as_str()).collect();
        assert_eq!(read, lines, "{name}");
    }
}
