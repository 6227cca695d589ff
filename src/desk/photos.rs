//! Pictures for the pages, made on demand from the original photographs and kept for a while.
//!
//! A photograph is decoded once, halved again and again (each level the 2 × 2 mean of the one
//! before), and kept as long as there is room. Only files that the store names are opened, and only
//! shown if their bytes are still those that were read.

use crate::decisions::{KeptMark, KeptPhotograph, Missing};
use crate::enhance;
use crate::geometry::{Point, Quad};
use crate::marks::{self, Mark};
use image::codecs::jpeg::JpegEncoder;
use image::imageops::{self, FilterType};
use image::{DynamicImage, GrayImage, RgbImage};
use rayon::prelude::*;
use std::sync::{Arc, Mutex, MutexGuard};

/// Side of a tile, px.
pub const TILE: u32 = 512;
/// Longest side of a crop that is shown, px.
const CROP: u32 = 2000;
/// Longest side of a mark as other photographs show it, px.
const LIT: u32 = 1200;
/// The same while it is sought among their marks, px.
const SOUGHT: u32 = 320;
/// Room for decoded photographs, bytes; the last one is kept whatever its size.
const ROOM: usize = 420 << 20;
/// Room for coded pictures, bytes.
const ROOM_CODED: usize = 96 << 20;

/// The ways in which a crop is shown, in the order of the key that leads from one to the next.
pub const VARIANTS: [&str; 9] = [
    "colour",
    "flat",
    "local-contrast",
    "threshold",
    "inverted",
    "grey",
    "red",
    "green",
    "blue",
];

/// A decoded photograph: full size, half, quarter, ... down to one tile.
#[derive(Debug)]
pub struct Levels(pub Vec<RgbImage>);

impl Levels {
    fn new(picture: RgbImage) -> Levels {
        let mut all = vec![picture];
        while let Some(last) = all.last().filter(|p| p.width().max(p.height()) > TILE) {
            let half = halved(last);
            all.push(half);
        }
        Levels(all)
    }

    fn bytes(&self) -> usize {
        self.0.iter().map(|p| p.as_raw().len()).sum()
    }

    /// The smallest level on which `side` px of the full size are still at least `wanted`, and its
    /// number.
    fn for_side(&self, side: f64, wanted: f64) -> (usize, &RgbImage) {
        let mut level = 0;
        while level + 1 < self.0.len() && side / f64::from(2u32 << level) >= wanted {
            level += 1;
        }
        (level, &self.0[level])
    }
}

/// Half the size; each px the mean of 2 × 2. An odd last row or column counts itself twice.
fn halved(p: &RgbImage) -> RgbImage {
    let (w, h) = p.dimensions();
    let (nw, nh) = (w.div_ceil(2).max(1), h.div_ceil(2).max(1));
    let source = p.as_raw();
    let mut out = vec![0u8; nw as usize * nh as usize * 3];
    out.par_chunks_mut(nw as usize * 3)
        .enumerate()
        .for_each(|(y, row)| {
            let top = 2 * y;
            let low = (top + 1).min(h as usize - 1);
            for x in 0..nw as usize {
                let left = 2 * x;
                let right = (left + 1).min(w as usize - 1);
                for c in 0..3 {
                    let at = |x: usize, y: usize| u16::from(source[(y * w as usize + x) * 3 + c]);
                    let sum = at(left, top) + at(right, top) + at(left, low) + at(right, low);
                    row[x * 3 + c] = ((sum + 2) / 4) as u8;
                }
            }
        });
    RgbImage::from_raw(nw, nh, out).unwrap_or_else(|| RgbImage::new(nw, nh))
}

/// Things by key, the latest used last; the first ones go when there is no more room.
#[derive(Debug)]
struct Shelf<T> {
    items: Vec<(String, usize, Arc<T>)>,
}

impl<T> Default for Shelf<T> {
    fn default() -> Self {
        Shelf { items: Vec::new() }
    }
}

impl<T> Shelf<T> {
    fn get(&mut self, key: &str) -> Option<Arc<T>> {
        let at = self.items.iter().position(|(k, _, _)| k == key)?;
        let item = self.items.remove(at);
        let found = item.2.clone();
        self.items.push(item);
        Some(found)
    }

    fn put(&mut self, key: String, bytes: usize, item: Arc<T>, room: usize) {
        self.items.retain(|(k, _, _)| *k != key);
        self.items.push((key, bytes, item));
        let mut all: usize = self.items.iter().map(|i| i.1).sum();
        while all > room && self.items.len() > 1 {
            all -= self.items.remove(0).1;
        }
    }
}

/// What is decoded and coded just now.
#[derive(Debug, Default)]
pub struct Photos {
    decoded: Mutex<Shelf<Levels>>,
    coded: Mutex<Shelf<Vec<u8>>>,
    /// Held while a photograph is decoded: one at a time bounds the memory.
    decoding: Mutex<()>,
}

fn held<T>(m: &Mutex<T>) -> MutexGuard<'_, T> {
    m.lock().unwrap_or_else(|e| e.into_inner())
}

/// A coded picture, or one sentence on why there is none.
pub type Coded = Result<Arc<Vec<u8>>, String>;

impl Photos {
    /// A photograph on all its levels.
    pub fn levels(&self, p: &KeptPhotograph) -> Result<Arc<Levels>, String> {
        if let Some(found) = held(&self.decoded).get(&p.sha256) {
            return Ok(found);
        }
        let _one_at_a_time = held(&self.decoding);
        if let Some(found) = held(&self.decoded).get(&p.sha256) {
            return Ok(found);
        }
        let levels = Arc::new(Levels::new(original(p)?));
        held(&self.decoded).put(p.sha256.clone(), levels.bytes(), levels.clone(), ROOM);
        Ok(levels)
    }

    fn coded(&self, key: String, make: impl FnOnce() -> Coded) -> Coded {
        if let Some(found) = held(&self.coded).get(&key) {
            return Ok(found);
        }
        let made = make()?;
        held(&self.coded).put(key, made.len(), made.clone(), ROOM_CODED);
        Ok(made)
    }

    /// The whole photograph, its longer side `longest` px or its own if that is less.
    pub fn whole(&self, p: &KeptPhotograph, longest: u32) -> Coded {
        self.coded(format!("{}/whole/{longest}", p.sha256), || {
            let levels = self.levels(p)?;
            let side = f64::from(p.width.max(p.height));
            let (_, picture) = levels.for_side(side, f64::from(longest));
            jpeg(&DynamicImage::ImageRgb8(smaller(picture, longest)), 85)
        })
    }

    /// One tile of a level (0: full size), by column and row.
    pub fn tile(&self, p: &KeptPhotograph, level: usize, column: u32, row: u32) -> Coded {
        let key = format!("{}/tile/{level}/{column}/{row}", p.sha256);
        self.coded(key, || {
            let levels = self.levels(p)?;
            let picture = levels
                .0
                .get(level)
                .ok_or("The photograph has no such level.")?;
            let (x, y) = (column.saturating_mul(TILE), row.saturating_mul(TILE));
            if x >= picture.width() || y >= picture.height() {
                return Err("The photograph has no such tile.".into());
            }
            let (w, h) = (
                TILE.min(picture.width() - x),
                TILE.min(picture.height() - y),
            );
            let tile = imageops::crop_imm(picture, x, y, w, h).to_image();
            jpeg(&DynamicImage::ImageRgb8(tile), 88)
        })
    }

    /// A mark, flattened and upright, in one of [`VARIANTS`]. `sighting` tells outlines apart.
    pub fn crop(&self, p: &KeptPhotograph, mark: &KeptMark, sighting: i64, variant: &str) -> Coded {
        let key = |v: &str| format!("{}/crop/{}/{sighting}/{v}", p.sha256, mark.id);
        if let Some(found) = held(&self.coded).get(&key(variant)) {
            return Ok(found);
        }
        if !VARIANTS.contains(&variant) {
            return Err("A mark isn't shown in this way.".into());
        }
        let flat = self.flat(p, mark)?;
        let put = |name: &str, picture: DynamicImage, quality| -> Coded {
            let coded = jpeg(&picture, quality)?;
            held(&self.coded).put(key(name), coded.len(), coded.clone(), ROOM_CODED);
            Ok(coded)
        };
        match variant {
            "colour" => return put("colour", DynamicImage::ImageRgb8(flat), 90),
            "red" | "green" | "blue" => {
                let channel = ["red", "green", "blue"].iter().position(|c| *c == variant);
                let c = channel.unwrap_or(0);
                let grey = GrayImage::from_fn(flat.width(), flat.height(), |x, y| {
                    image::Luma([flat.get_pixel(x, y).0[c]])
                });
                return put(variant, DynamicImage::ImageLuma8(grey), 90);
            }
            _ => {}
        }
        for v in enhance::variants(&flat) {
            if v.name == "flat" {
                let mut turned = v.picture.clone();
                imageops::invert(&mut turned);
                put("inverted", DynamicImage::ImageLuma8(turned), 90)?;
            }
            put(&v.name, DynamicImage::ImageLuma8(v.picture), 90)?;
        }
        // A crop that is too small to enhance has grey values only.
        let made = held(&self.coded).get(&key(variant));
        match made {
            Some(found) => Ok(found),
            None => put(
                variant,
                DynamicImage::ImageLuma8(imageops::grayscale(&flat)),
                90,
            ),
        }
    }

    /// A mark as another photograph shows it, laid on its own picture; `None` if none of that
    /// photograph's marks is recognisably this one.
    pub fn lit(
        &self,
        own: &KeptPhotograph,
        mark: &KeptMark,
        other: &KeptPhotograph,
        marks: &[KeptMark],
    ) -> Result<Option<Arc<Vec<u8>>>, String> {
        let sighting = mark.look().id;
        let among: Vec<String> = marks.iter().map(|m| m.id.to_string()).collect();
        let key = format!(
            "{}/light/{}/{sighting}/{}/{}",
            own.sha256,
            mark.id,
            other.sha256,
            among.join(" ")
        );
        let coded = self.coded(key, || {
            let sought = self.flat_for(own, mark, SOUGHT)?;
            let crops: Vec<RgbImage> = marks
                .iter()
                .map(|m| self.flat_for(other, m, SOUGHT))
                .collect::<Result<_, String>>()?;
            let laid = match enhance::same_mark(&sought, &crops) {
                Some(same) => Some(
                    same.laid_on(
                        &self.flat_for(own, mark, LIT)?,
                        &self.flat_for(other, &marks[same.crop], LIT)?,
                    )
                    .over_grey(),
                ),
                None => None,
            };
            match laid {
                Some(laid) => jpeg(&DynamicImage::ImageRgb8(laid), 90),
                None => Ok(Arc::default()), // kept too: it isn't sought again
            }
        })?;
        Ok((!coded.is_empty()).then_some(coded))
    }

    /// A mark's picture at the size at which it is shown.
    pub fn flat(&self, p: &KeptPhotograph, mark: &KeptMark) -> Result<RgbImage, String> {
        self.flat_for(p, mark, CROP)
    }

    /// A mark's picture, its longer side at most `longest` px.
    fn flat_for(
        &self,
        p: &KeptPhotograph,
        mark: &KeptMark,
        longest: u32,
    ) -> Result<RgbImage, String> {
        let levels = self.levels(p)?;
        let seen = mark.latest();
        let (w, h) = seen.outline.size();
        let (level, picture) = levels.for_side(w.max(h), f64::from(longest));
        let part = 1.0 / f64::from(1u32 << level);
        let outline = Quad(seen.outline.0.map(|c| Point::new(c.x * part, c.y * part)));
        let flat = marks::flatten(
            picture,
            &Mark {
                kind: mark.kind(),
                outline,
                kind_chance: 1.0,
                lettering: seen.lettering,
                bearing: None,
            },
        );
        Ok(smaller(&flat.picture, longest))
    }
}

fn original(p: &KeptPhotograph) -> Result<RgbImage, String> {
    use super::words as w;
    p.open()
        .map(|photo| photo.picture)
        .map_err(|why| match why {
            Missing::Unseen => w::never_a_file(&p.name()),
            Missing::Changed => w::changed_since(&p.name()),
            Missing::Gone => w::gone(&p.name()),
            Missing::Unopened(what) => w::cant_be_shown(&p.name(), &what),
        })
}

fn smaller(picture: &RgbImage, longest: u32) -> RgbImage {
    let (w, h) = picture.dimensions();
    let scale = f64::from(longest) / f64::from(w.max(h).max(1));
    if scale >= 1.0 {
        return picture.clone();
    }
    let side = |s: u32| ((f64::from(s) * scale).round() as u32).max(1);
    imageops::resize(picture, side(w), side(h), FilterType::Triangle)
}

/// Codes a picture as JPEG of that quality, 1 to 100.
pub fn jpeg(picture: &DynamicImage, quality: u8) -> Coded {
    if picture.width() == 0 || picture.height() == 0 {
        return Err("The outline of this mark has no area, so there is no picture of it.".into());
    }
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, quality)
        .encode_image(picture)
        .map_err(|e| format!("The picture can't be made ({e})."))?;
    Ok(Arc::new(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn halving_takes_the_mean_of_four_and_keeps_odd_edges() {
        let p = RgbImage::from_fn(3, 3, |x, y| Rgb([(x * 40 + y * 10) as u8, 0, 255]));
        let half = halved(&p);
        assert_eq!(half.dimensions(), (2, 2));
        assert_eq!(half.get_pixel(0, 0).0, [25, 0, 255]);
        assert_eq!(half.get_pixel(1, 1).0, [100, 0, 255]);
    }

    #[test]
    fn levels_end_with_one_tile() {
        let levels = Levels::new(RgbImage::new(3 * TILE, 5));
        assert_eq!(
            levels.0.iter().map(|p| p.width()).collect::<Vec<_>>(),
            [3 * TILE, 3 * TILE / 2, 3 * TILE / 4]
        );
        assert_eq!(levels.for_side(1536.0, 400.0).0, 1);
        assert_eq!(levels.for_side(1536.0, 5000.0).0, 0);
    }

    #[test]
    fn the_shelf_lets_go_of_what_was_used_longest_ago() {
        let mut shelf = Shelf::default();
        for (key, n) in [("a", 1), ("b", 2)] {
            shelf.put(key.into(), 40, Arc::new(n), 100);
        }
        assert!(shelf.get("a").is_some());
        shelf.put("c".into(), 40, Arc::new(3), 100);
        assert!(shelf.get("b").is_none() && shelf.get("a").is_some());
        shelf.put("d".into(), 400, Arc::new(4), 100);
        assert_eq!(shelf.items.len(), 1);
    }
}
