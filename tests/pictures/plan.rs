//! Photographs are laid on one plan: made textures of which the true maps are known, seen through turns,
//! scales, tilts and other light.

use dorso::back::plan::{Features, Plan, features, lay};
use dorso::geometry::{Homography, Point};
use image::{Rgb, RgbImage};
use proptest::prelude::*;

/// A surface without end: soft spots and strokes at many scales, another for each seed.
struct Surface {
    seed: u32,
}

fn mixed(mut v: u32) -> u32 {
    v ^= v >> 16;
    v = v.wrapping_mul(0x7feb_352d);
    v ^= v >> 15;
    v = v.wrapping_mul(0x846c_a68b);
    v ^ (v >> 16)
}

impl Surface {
    fn corner(&self, x: i32, y: i32, layer: u32) -> f64 {
        let v = mixed(
            (x as u32).wrapping_mul(0x9e37_79b1)
                ^ mixed(y as u32 ^ mixed(self.seed ^ (layer << 24))),
        );
        f64::from(v % 1024) / 1023.0
    }

    /// Brightness at a place, 0 to 1.
    fn at(&self, p: Point) -> f64 {
        let mut sum = 0.0;
        for (layer, cell) in [5.0, 11.0, 24.0, 55.0, 120.0].into_iter().enumerate() {
            let (x, y) = (p.x / cell, p.y / cell);
            let (i, j) = (x.floor(), y.floor());
            let soft = |t: f64| t * t * (3.0 - 2.0 * t);
            let (u, v) = (soft(x - i), soft(y - j));
            let c = |a: f64, b: f64| self.corner((i + a) as i32, (j + b) as i32, layer as u32);
            sum += (1.0 - v) * ((1.0 - u) * c(0.0, 0.0) + u * c(1.0, 0.0))
                + v * ((1.0 - u) * c(0.0, 1.0) + u * c(1.0, 1.0));
        }
        sum / 5.0
    }

    /// Photographed: `map` takes places on the surface to px.
    fn seen(&self, w: u32, h: u32, map: &Homography, light: impl Fn(f64, f64) -> f64) -> RgbImage {
        let back = map.inverse().expect("a map that can be undone");
        RgbImage::from_fn(w, h, |x, y| {
            let (x, y) = (f64::from(x) + 0.5, f64::from(y) + 0.5);
            let v = 255.0 * light(x, y) * self.at(back.apply(Point::new(x, y)));
            Rgb([v.clamp(0.0, 255.0) as u8; 3])
        })
    }
}

/// Turned by `degrees` about (cx, cy) on the surface, which comes to lie at the middle of a picture of
/// w x h px, `scale` px for one of the surface's; the horizon tilted by `tilt`.
fn shot(w: u32, h: u32, centre: (f64, f64), degrees: f64, scale: f64, tilt: f64) -> Homography {
    let (s, c) = degrees.to_radians().sin_cos();
    let (s, c) = (scale * s, scale * c);
    let (cx, cy) = centre;
    let flat = Homography([
        c,
        -s,
        s * cy - c * cx,
        s,
        c,
        -s * cx - c * cy,
        0.0,
        0.0,
        1.0,
    ]);
    let leaning = Homography([1.0, 0.0, 0.0, 0.0, 1.0, 0.0, tilt, 0.3 * tilt, 1.0]);
    let (x, y) = (f64::from(w) / 2.0, f64::from(h) / 2.0);
    let middle = Homography([1.0, 0.0, x, 0.0, 1.0, y, 0.0, 0.0, 1.0]);
    let leaned = leaning.after(&flat).expect("a plane seen from the front");
    middle.after(&leaned).expect("a plane seen from the front")
}

fn even(_: f64, _: f64) -> f64 {
    0.9
}

/// Greatest distance between where corners and middle of photograph `i` are placed and where they
/// truly lie on photograph `g`.
fn off(plan: &Plan, i: usize, maps: &[Homography], size: (u32, u32), g: usize) -> f64 {
    let place = plan.places[i].as_ref().expect("placed");
    let truth = maps[g]
        .after(&maps[i].inverse().expect("undone"))
        .expect("a map");
    let (w, h) = (f64::from(size.0), f64::from(size.1));
    [(0.0, 0.0), (w, 0.0), (0.0, h), (w, h), (w / 2.0, h / 2.0)]
        .into_iter()
        .map(|(x, y)| {
            let p = Point::new(x, y);
            place.to_plan.apply(p).distance(truth.apply(p))
        })
        .fold(0.0, f64::max)
}

const WHOLE: (u32, u32) = (800, 600);
const CLOSE: (u32, u32) = (400, 300);

#[test]
fn whole_views_and_a_close_up_come_to_lie_where_they_belong() {
    let surface = Surface { seed: 3 };
    let maps = [
        shot(CLOSE.0, CLOSE.1, (330.0, 240.0), 4.0, 1.6, 0.0),
        shot(WHOLE.0, WHOLE.1, (400.0, 300.0), 0.0, 1.0, 0.0),
        shot(WHOLE.1, WHOLE.0, (400.0, 300.0), 90.0, 0.98, 0.0),
        shot(WHOLE.0, WHOLE.1, (405.0, 296.0), 181.0, 0.9, 1e-4),
    ];
    let dim = |x: f64, _: f64| 0.25 + 0.3 * x / 800.0;
    let photos = [
        surface.seen(CLOSE.0, CLOSE.1, &maps[0], even),
        surface.seen(WHOLE.0, WHOLE.1, &maps[1], even),
        surface.seen(WHOLE.1, WHOLE.0, &maps[2], dim),
        surface.seen(WHOLE.0, WHOLE.1, &maps[3], even),
    ];
    let found: Vec<Features> = photos.iter().map(features).collect();
    let plan = lay(&found);
    let ground = plan.ground.expect("a ground");
    assert!(ground > 0, "a whole view is the ground, not the close-up");
    let sizes = [CLOSE, WHOLE, (WHOLE.1, WHOLE.0), WHOLE];
    for (i, size) in sizes.into_iter().enumerate() {
        let place = plan.places[i].as_ref().expect("placed");
        let far = off(&plan, i, &maps, size, ground);
        assert!(far < 2.0, "photograph {i} lies {far} px off");
        assert!(place.face == 0 && place.chance > 0.9, "{place:?}");
        assert!(place.error_px < 2.0, "{place:?}");
    }
}

#[test]
fn strangers_lie_on_no_plan_together_and_two_faces_on_two() {
    let (front, back) = (Surface { seed: 11 }, Surface { seed: 12 });
    let first = shot(WHOLE.0, WHOLE.1, (400.0, 300.0), 0.0, 1.0, 0.0);
    let near = shot(CLOSE.0, CLOSE.1, (300.0, 300.0), -3.0, 1.5, 0.0);
    let far = shot(CLOSE.0, CLOSE.1, (500.0, 200.0), 3.0, 1.3, 0.0);
    let see =
        |s: &Surface, size: (u32, u32), m: &Homography| features(&s.seen(size.0, size.1, m, even));
    let two = lay(&[see(&front, WHOLE, &first), see(&back, WHOLE, &first)]);
    assert!(two.ground.is_none() && two.places.iter().all(Option::is_none));
    let plan = lay(&[
        see(&back, WHOLE, &first),
        see(&front, CLOSE, &near),
        see(&front, WHOLE, &first),
        see(&back, CLOSE, &near),
        see(&front, CLOSE, &far),
    ]);
    let faces: Vec<usize> = plan
        .places
        .iter()
        .map(|p| p.as_ref().expect("placed").face)
        .collect();
    assert_eq!(faces, [1, 0, 0, 1, 0]);
    assert_eq!(plan.ground, Some(2));
}

#[test]
fn without_a_whole_view_the_plan_is_pieced_together() {
    let surface = Surface { seed: 21 };
    let maps: Vec<Homography> = (0..4)
        .map(|i| {
            shot(
                CLOSE.0,
                CLOSE.1,
                (200.0 + 180.0 * f64::from(i), 200.0),
                2.0 * f64::from(i),
                1.0,
                0.0,
            )
        })
        .collect();
    let found: Vec<Features> = maps
        .iter()
        .map(|m| features(&surface.seen(CLOSE.0, CLOSE.1, m, even)))
        .collect();
    let plan = lay(&found);
    let ground = plan.ground.expect("a ground");
    assert!(ground == 1 || ground == 2, "one in the middle: {ground}");
    for i in 0..4 {
        let far = off(&plan, i, &maps, CLOSE, ground);
        assert!(far < 6.0, "photograph {i} lies {far} px off");
    }
}

#[test]
fn what_shows_nothing_is_unplaced() {
    let surface = Surface { seed: 31 };
    let map = shot(WHOLE.0, WHOLE.1, (400.0, 300.0), 0.0, 1.0, 0.0);
    let whole = features(&surface.seen(WHOLE.0, WHOLE.1, &map, even));
    let turned = shot(WHOLE.0, WHOLE.1, (400.0, 300.0), 30.0, 0.9, 0.0);
    let other = features(&surface.seen(WHOLE.0, WHOLE.1, &turned, even));
    let bare = features(&RgbImage::from_pixel(300, 200, Rgb([120; 3])));
    let tiny = features(&RgbImage::from_pixel(8, 3, Rgb([120; 3])));
    let plan = lay(&[bare.clone(), whole, tiny, other]);
    assert!(plan.places[0].is_none() && plan.places[2].is_none());
    assert!(plan.places[1].is_some() && plan.places[3].is_some());
    assert!(lay(&[]).places.is_empty());
    let alone = lay(&[bare]);
    assert_eq!(alone.ground, Some(0));
}

#[test]
fn features_are_kept_small_and_come_back_from_their_bytes() {
    let surface = Surface { seed: 41 };
    let map = shot(1600, 1200, (800.0, 600.0), 0.0, 1.0, 0.0);
    let found = features(&surface.seen(1600, 1200, &map, even));
    let bytes = found.to_bytes();
    assert!(
        bytes.len() > 50_000 && bytes.len() <= 150_000,
        "{}",
        bytes.len()
    );
    let back = Features::from_bytes(&bytes).expect("whole bytes");
    assert_eq!(back.to_bytes(), bytes);
    assert_eq!((back.width, back.height), (1600, 1200));
    assert!(Features::from_bytes(&bytes[..bytes.len() - 1]).is_none());
    assert!(Features::from_bytes(b"something else").is_none());
    assert!(Features::from_bytes(&[]).is_none());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_turn_and_scale_is_found(seed in 0u32..1000, degrees in -180.0f64..180.0, scale in 0.5f64..2.0, tilt in -2e-4f64..2e-4) {
        let surface = Surface { seed };
        let maps = [
            shot(500, 400, (300.0, 250.0), 0.0, 1.0, 0.0),
            shot(500, 400, (310.0, 240.0), degrees, scale, tilt),
        ];
        let found = maps.map(|m| features(&surface.seen(500, 400, &m, even)));
        let plan = lay(&found);
        let ground = plan.ground.expect("a ground");
        let true_map = maps[ground].after(&maps[1 - ground].inverse().expect("undone")).expect("a map");
        let place = plan.places[1 - ground].as_ref().expect("placed");
        let middle = Point::new(250.0, 200.0);
        prop_assert!(place.to_plan.apply(middle).distance(true_map.apply(middle)) < 1.5);
    }
}
