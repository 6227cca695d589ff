//! What is kept of photographs for laying them on each other, so that their px needn't be.

use crate::back::joins::{self, Look};
use crate::back::plan::{self, Features};
use crate::decisions::{KeptMark, KeptPhotograph};
use crate::geometry::Quad;
use crate::photograph::Photograph;
use rayon::prelude::*;
use std::collections::HashMap;

/// Photographs of which an album keeps what it needs; each takes some 150 kB.
const MOST: usize = 256;

/// What is kept of a photograph for putting it together with others, so that its px needn't be.
#[derive(Debug)]
pub(super) struct Shot {
    pub(super) features: Features,
    /// Width and height, upright, px.
    pub(super) size: (u32, u32),
    pub(super) looks: Vec<(Quad, Look)>,
}

/// Photographs as they were opened, by SHA-256.
#[derive(Debug, Default)]
pub struct Album {
    pub(super) shots: HashMap<String, Shot>,
}

impl Album {
    /// Takes in an opened photograph and the outlines of its marks, px.
    pub fn add(&mut self, photo: &Photograph, outlines: &[Quad]) {
        if self.shots.len() >= MOST {
            self.shots.clear();
        }
        let features = match self.shots.remove(&photo.sha256) {
            Some(shot) => shot.features,
            None => plan::features(&photo.picture),
        };
        let look = |o: &Quad| (*o, joins::look(&photo.picture, o));
        let looks = outlines.par_iter().map(look).collect();
        let size = (photo.width(), photo.height());
        let shot = Shot {
            features,
            size,
            looks,
        };
        self.shots.insert(photo.sha256.clone(), shot);
    }

    /// Whether the photograph is in it with these outlines.
    fn has(&self, sha256: &str, outlines: &[Quad]) -> bool {
        self.shots
            .get(sha256)
            .is_some_and(|s| outlines.iter().all(|o| s.looks.iter().any(|l| l.0 == *o)))
    }

    /// Opens photographs of the store that it hasn't; those that aren't where they were are left out.
    pub(super) fn open(&mut self, photographs: &[&KeptPhotograph], marks: &[KeptMark]) {
        for p in photographs {
            let outlines: Vec<Quad> = marks
                .iter()
                .filter_map(|m| m.on(p.id).map(|s| s.seen().outline))
                .collect();
            if self.has(&p.sha256, &outlines) {
                continue;
            }
            if let Ok(photo) = p.open() {
                self.add(&photo, &outlines);
            }
        }
    }
}
