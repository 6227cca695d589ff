//! A photograph's own measure, and its features in it.

use super::features::{Features, Spot};
use crate::geometry::Homography;

/// A photograph's own measure: the middle 0, half the longer side 1.
#[derive(Clone, Copy)]
pub(super) struct Frame {
    pub x: f64,
    pub y: f64,
    pub half: f64,
}

impl Frame {
    pub fn of(f: &Features) -> Frame {
        let (x, y) = (f64::from(f.width) / 2.0, f64::from(f.height) / 2.0);
        Frame {
            x,
            y,
            half: x.max(y),
        }
    }

    /// From px.
    pub fn inward(&self) -> Homography {
        let s = 1.0 / self.half;
        Homography([s, 0.0, -self.x * s, 0.0, s, -self.y * s, 0.0, 0.0, 1.0])
    }

    /// To px.
    pub fn outward(&self) -> Homography {
        let s = self.half;
        Homography([s, 0.0, self.x, 0.0, s, self.y, 0.0, 0.0, 1.0])
    }

    pub fn mark(&self, s: &Spot) -> Mark {
        Mark {
            x: (f64::from(s.x) - self.x) / self.half,
            y: (f64::from(s.y) - self.y) / self.half,
            size: f64::from(s.size) / self.half,
            angle: s.angle,
        }
    }
}

/// A feature in its frame's measure.
#[derive(Clone, Copy)]
pub(super) struct Mark {
    pub x: f64,
    pub y: f64,
    pub size: f64,
    pub angle: f32,
}

/// Features by place.
pub(super) struct Grid {
    cells: Vec<Vec<u32>>,
}

/// Cells across a frame.
const ACROSS: usize = 64;

impl Grid {
    pub fn of(marks: &[Mark]) -> Grid {
        let mut cells = vec![Vec::new(); ACROSS * ACROSS];
        for (i, m) in marks.iter().enumerate() {
            cells[cell(m.y) * ACROSS + cell(m.x)].push(i as u32);
        }
        Grid { cells }
    }

    pub fn near(&self, x: f64, y: f64, far: f64) -> impl Iterator<Item = usize> + '_ {
        let inside = x.abs() < 1.0 + far && y.abs() < 1.0 + far;
        let (x0, x1, y0, y1) = (cell(x - far), cell(x + far), cell(y - far), cell(y + far));
        (y0..=y1)
            .filter(move |_| inside)
            .flat_map(move |j| (x0..=x1).map(move |i| j * ACROSS + i))
            .flat_map(|c| self.cells[c].iter().map(|&i| i as usize))
    }
}

fn cell(v: f64) -> usize {
    (((v + 1.0) / 2.0 * ACROSS as f64) as usize).min(ACROSS - 1)
}
