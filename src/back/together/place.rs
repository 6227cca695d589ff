//! Where the lines of several sightings stand beside each other.

use super::View;
use crate::geometry::{Homography, Point, Quad, Rect};
use crate::readings::Line;

/// An upright box in px of the frame: the flattened mark of the clearest sighting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    pub left: f64,
    pub right: f64,
    pub top: f64,
    pub bottom: f64,
    /// Whether the map was measured; else the outlines are taken to hold the same.
    pub sure: bool,
}

impl Place {
    /// Part of the lesser height that both share; negative where they stand apart, in the same unit.
    pub fn level_with(&self, other: &Place) -> f64 {
        let shared = self.bottom.min(other.bottom) - self.top.max(other.top);
        shared / self.height().min(other.height())
    }

    /// Whether it stands on the other's row and most of its length on the other: then the two are one, whatever
    /// is read.
    pub fn lies_upon(&self, other: &Place) -> bool {
        let shared = self.right.min(other.right) - self.left.max(other.left);
        self.level_with(other) >= UPON && shared >= UPON * (self.right - self.left).max(1.0)
    }

    pub fn height(&self) -> f64 {
        (self.bottom - self.top).max(1.0)
    }

    pub fn middle(&self) -> f64 {
        (self.top + self.bottom) / 2.0
    }

    /// As wide as both, and as high as itself.
    pub fn beside(&self, other: &Place) -> Place {
        Place {
            left: self.left.min(other.left),
            right: self.right.max(other.right),
            ..*self
        }
    }

    /// The least box around both.
    pub fn union(&self, other: &Place) -> Place {
        Place {
            left: self.left.min(other.left),
            right: self.right.max(other.right),
            top: self.top.min(other.top),
            bottom: self.bottom.max(other.bottom),
            sure: self.sure && other.sure,
        }
    }
}

/// See [`Place::lies_upon`]. Set by judgement.
const UPON: f64 = 0.6;

/// Map from px of the flattened mark, in which [`Line::within`] is told, to px of its photograph.
fn to_photograph(outline: &Quad) -> Option<(Homography, Quad)> {
    let (w, h) = outline.size();
    let frame = frame(w.round().max(1.0), h.round().max(1.0));
    Some((Homography::between(&frame, outline)?, frame))
}

fn frame(w: f64, h: f64) -> Quad {
    Quad([
        Point::new(0.0, 0.0),
        Point::new(w, 0.0),
        Point::new(w, h),
        Point::new(0.0, h),
    ])
}

/// Ways from the flattened mark of each sighting into the frame.
pub(super) struct Frame {
    /// For each view: its map, and whether that was measured.
    maps: Vec<Option<(Homography, bool)>>,
    /// What each sighting shows of the frame: its outline there.
    shown: Vec<Option<Quad>>,
}

impl Frame {
    /// * `views`: clearest first.
    /// * `known`: for each, the map from px of its photograph into one plane common to all, where measured.
    pub fn of(views: &[&View<'_>], known: &[Option<Homography>]) -> Frame {
        // The clearest of which the place is known; where none is, the clearest
        let several = known.iter().flatten().count() > 1;
        let first = known
            .iter()
            .position(|k| several && k.is_some())
            .unwrap_or(0);
        let ground = views.get(first).and_then(|v| {
            let (_, own) = to_photograph(&v.outline)?;
            let plane = known[first].map_or(v.outline, |m| mapped(&v.outline, &m));
            Some((Homography::between(&plane, &own)?, own))
        });
        let maps: Vec<Option<(Homography, bool)>> = views
            .iter()
            .enumerate()
            .map(|(i, v)| {
                let (into_plane, own) = ground?;
                let (_, flat) = to_photograph(&v.outline)?;
                let measured = known[i].filter(|_| several).and_then(|m| {
                    let there = mapped(&mapped(&v.outline, &m), &into_plane);
                    Homography::between(&flat, &there)
                });
                match measured {
                    Some(map) => Some((map, true)),
                    None => Some((Homography::between(&flat, &own)?, i == first)),
                }
            })
            .collect();
        let shown = views.iter().zip(&maps);
        let shown =
            shown.map(|(v, map)| Some(mapped(&to_photograph(&v.outline)?.1, &map.as_ref()?.0)));
        Frame {
            shown: shown.collect(),
            maps,
        }
    }

    /// Where a line of a view stands; nothing where the outline has no area.
    pub fn place(&self, view: usize, line: &Line) -> Option<Place> {
        let (map, sure) = self.maps.get(view).copied().flatten()?;
        let c = mapped(&line.within.quad(), &map).0;
        let mean = |a: f64, b: f64| (a + b) / 2.0;
        let place = Place {
            left: mean(c[0].x, c[3].x),
            right: mean(c[1].x, c[2].x),
            top: mean(c[0].y, c[1].y),
            bottom: mean(c[2].y, c[3].y),
            sure,
        };
        let all = [place.left, place.right, place.top, place.bottom];
        all.iter().all(|v| v.is_finite()).then_some(place)
    }

    /// Number of sightings.
    pub fn views(&self) -> usize {
        self.maps.len()
    }

    /// Whether a view's outline holds the left (0) or right end of a place.
    pub fn shows_end(&self, view: usize, place: &Place, end: usize) -> bool {
        let x = match end {
            0 => place.left,
            _ => place.right,
        };
        self.shown[view].is_some_and(|q| q.holds(Point::new(x, place.middle())))
    }

    /// Whether a view shows the middle of a place, its own or another's.
    pub fn shows(&self, view: usize, place: &Place) -> bool {
        let middle = Point::new((place.left + place.right) / 2.0, place.middle());
        self.shown[view].is_some_and(|q| q.holds(middle))
    }
}

/// An outline through a map.
fn mapped(quad: &Quad, map: &Homography) -> Quad {
    Quad(quad.0.map(|p| map.apply(p)))
}

/// A line's boxes as they lie on another sighting's photograph and flattened mark, px.
///
/// * `known`: map from the line's photograph to the other; without one the outlines are taken to hold the same.
pub(super) fn carried(
    line: &Line,
    from: &Quad,
    to: &Quad,
    known: Option<&Homography>,
) -> Option<(Rect, Rect)> {
    let (out_of, flat) = to_photograph(from)?;
    let (_, other) = to_photograph(to)?;
    let onto = match known {
        Some(map) => mapped(&mapped(&line.within.quad(), &out_of), map),
        None => {
            let there = Homography::between(&flat, to)?;
            mapped(&line.within.quad(), &there)
        }
    };
    let within = mapped(&onto, &Homography::between(to, &other)?);
    let sound = |q: &Quad| q.0.iter().all(|p| p.x.abs() < 1e6 && p.y.abs() < 1e6);
    (sound(&onto) && sound(&within)).then(|| (onto.bounds(), within.bounds()))
}
