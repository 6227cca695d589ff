//! The blocks of a note as lines and pictures ready to be set.

use super::{LEADING, MARGIN, PAGE, fault};
use crate::error::Result;
use crate::note::{Block, Crops, Note, Shown, pictures, printed};
use image::codecs::jpeg::JpegEncoder;
use std::collections::BTreeMap;
use subsetter::GlyphRemapper;
use ttf_parser::{Face, GlyphId};
use unicode_normalization::UnicodeNormalization;

/// A font with the signs used of it.
pub(super) struct Font {
    pub(super) data: &'static [u8],
    pub(super) face: Face<'static>,
    pub(super) used: GlyphRemapper,
    /// New number of a glyph: its sign and its width in thousandths.
    pub(super) signs: BTreeMap<u16, (char, f32)>,
}

impl Font {
    pub(super) fn new(data: &'static [u8]) -> Result<Font> {
        Ok(Font {
            data,
            face: Face::parse(data, 0).map_err(fault)?,
            used: GlyphRemapper::new(),
            signs: BTreeMap::new(),
        })
    }

    pub(super) fn scale(&self) -> f32 {
        1000.0 / f32::from(self.face.units_per_em())
    }

    fn glyph(&self, c: char) -> (char, GlyphId) {
        match self.face.glyph_index(c) {
            Some(g) => (c, g),
            // What the font hasn't is shown as U+FFFD
            None => (
                '\u{fffd}',
                self.face.glyph_index('\u{fffd}').unwrap_or(GlyphId(0)),
            ),
        }
    }

    /// Width of a text in points.
    fn width(&self, text: &str, size: f32) -> f32 {
        let units: f32 = text
            .chars()
            .map(|c| f32::from(self.face.glyph_hor_advance(self.glyph(c).1).unwrap_or(0)))
            .sum();
        units * self.scale() * size / 1000.0
    }

    /// The text as numbers of glyphs, two bytes each.
    pub(super) fn encoded(&mut self, text: &str) -> Vec<u8> {
        let mut out = Vec::new();
        for c in text.chars() {
            let (sign, glyph) = self.glyph(c);
            let new = self.used.remap(glyph.0);
            let wide = f32::from(self.face.glyph_hor_advance(glyph).unwrap_or(0)) * self.scale();
            self.signs.entry(new).or_insert((sign, wide));
            out.extend(new.to_be_bytes());
        }
        out
    }
}

/// A picture as its bytes.
pub(super) struct Jpeg {
    pub(super) bytes: Vec<u8>,
    /// px.
    pub(super) size: (u32, u32),
}

/// Highest picture of a mark and of a back, points.
const HIGHEST: [f32; 2] = [180.0, 420.0];

pub(super) fn jpegs(note: &Note, crops: &Crops, which: &Shown) -> Vec<Jpeg> {
    let jpeg = |p: image::RgbImage| {
        let small = printed(&p);
        let mut bytes = Vec::new();
        JpegEncoder::new_with_quality(&mut bytes, 80)
            .encode_image(&small)
            .ok()?;
        let size = small.dimensions();
        Some(Jpeg { bytes, size })
    };
    pictures(note, crops, which)
        .into_iter()
        .filter_map(jpeg)
        .collect()
}

/// A line ready to be set, a row of a table, or a picture.
#[derive(Default)]
pub(super) struct Line {
    pub(super) text: String,
    pub(super) bold: bool,
    pub(super) size: f32,
    pub(super) indent: f32,
    pub(super) before: f32,
    /// Whether it stands on one page with what follows.
    pub(super) keeps: bool,
    /// Place among the pictures, and points wide and high.
    pub(super) picture: Option<(usize, f32, f32)>,
    /// Cells of a row of a table.
    pub(super) cells: Vec<Cell>,
    /// Place of the row with the heads, which is set again on top of the next page.
    pub(super) head: Option<usize>,
}

impl Line {
    /// Points that it takes.
    pub(super) fn high(&self) -> f32 {
        let rows = self.cells.iter().map(|c| c.lines.len()).max();
        match rows {
            Some(n) => n as f32 * self.size * LEADING + 2.0 * PAD,
            None => self.size * LEADING + self.before,
        }
    }
}

/// A cell of a table: where it begins, from the margin, how wide it is (points), and its lines.
pub(super) struct Cell {
    pub(super) x: f32,
    pub(super) wide: f32,
    pub(super) lines: Vec<String>,
}

/// Room between the rule of a cell and its text, points.
pub(super) const PAD: f32 = 3.0;
/// Size of the letters in a table, points.
const TABLE: f32 = 8.0;
/// A row is parted where it has more lines.
const MOST_LINES: usize = 40;

/// Breaks a text at words; a word wider than the line is broken within.
fn broken(font: &Font, text: &str, size: f32, width: f32) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let mut word = word.to_string();
        loop {
            let with = if line.is_empty() {
                word.clone()
            } else {
                format!("{line} {word}")
            };
            if font.width(&with, size) <= width {
                line = with;
                break;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
                continue;
            }
            let mut head = String::new();
            for c in word.chars() {
                head.push(c);
                if font.width(&head, size) > width && head.chars().count() > 1 {
                    head.pop();
                    break;
                }
            }
            word = word.split_off(head.len());
            lines.push(head);
            if word.is_empty() {
                break;
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// Lines as they are set.
pub(super) struct Setter<'a> {
    pub(super) plain: &'a Font,
    pub(super) bold: &'a Font,
    /// The pictures that a block stands for.
    pub(super) shown: &'a dyn Fn(&Shown) -> Vec<Jpeg>,
    pub(super) lines: Vec<Line>,
    pub(super) jpegs: Vec<Jpeg>,
}

impl Setter<'_> {
    fn add(&mut self, text: &str, heavy: bool, size: f32, indent: f32, before: f32) {
        // NFC: letters with marks have glyphs of their own
        let text: String = crate_visible(text).nfc().collect();
        let font = if heavy { self.bold } else { self.plain };
        let width = PAGE.0 - 2.0 * MARGIN - indent;
        for (i, text) in broken(font, &text, size, width).into_iter().enumerate() {
            self.lines.push(Line {
                text,
                bold: heavy,
                size,
                indent,
                before: if i == 0 { before } else { 0.0 },
                keeps: heavy,
                ..Line::default()
            });
        }
    }

    /// A table with rules; its heads stay with the first row.
    fn table(&mut self, heads: &[&str], rows: &[Vec<String>]) {
        let shown = |t: &str| crate_visible(t).nfc().collect::<String>();
        let heads: Vec<String> = heads.iter().map(|h| shown(h)).collect();
        let rows: Vec<Vec<String>> = rows
            .iter()
            .map(|r| r.iter().map(|c| shown(c)).collect())
            .collect();
        let wide = columns(self.bold, self.plain, &heads, &rows);
        let head = self.lines.len();
        self.row(&heads, &wide, None);
        for row in &rows {
            self.row(row, &wide, Some(head));
        }
    }

    /// One row; `head` is `None` for the heads themselves.
    fn row(&mut self, texts: &[String], wide: &[f32], head: Option<usize>) {
        let font = if head.is_none() {
            self.bold
        } else {
            self.plain
        };
        let set: Vec<Vec<String>> = texts
            .iter()
            .zip(wide)
            .map(|(t, w)| broken(font, t, TABLE, w - 2.0 * PAD))
            .collect();
        let most = set.iter().map(Vec::len).max().unwrap_or(0).max(1);
        for from in (0..most).step_by(MOST_LINES) {
            let mut x = 0.0;
            let cell = |(lines, w): (&Vec<String>, &f32)| {
                let lines = lines.iter().skip(from).take(MOST_LINES).cloned();
                let cell = Cell {
                    x,
                    wide: *w,
                    lines: lines.collect(),
                };
                x += w;
                cell
            };
            self.lines.push(Line {
                bold: head.is_none(),
                size: TABLE,
                keeps: head.is_none(),
                cells: set.iter().zip(wide).map(cell).collect(),
                head,
                ..Line::default()
            });
        }
    }

    pub(super) fn set(&mut self, blocks: &[Block]) {
        for b in blocks {
            match b {
                Block::Title(t) => self.add(t, true, 17.0, 0.0, 0.0),
                Block::Heading(t) => self.add(t, true, 12.0, 0.0, 12.0),
                Block::Subheading(t) => self.add(t, true, 10.5, 0.0, 9.0),
                Block::Paragraph(t) => self.add(t, false, 9.5, 0.0, 5.0),
                Block::Point(t) => self.add(&format!("• {t}"), false, 9.5, 10.0, 3.0),
                Block::Verse(v) => {
                    for (i, t) in v.iter().enumerate() {
                        self.add(t, false, 10.5, 24.0, if i == 0 { 5.0 } else { 1.0 });
                        // The lettering stands below its picture on one page
                        if let Some(line) = self.lines.last_mut().filter(|_| i + 1 < v.len()) {
                            line.keeps = true;
                        }
                    }
                }
                Block::Table {
                    caption,
                    heads,
                    rows,
                } => {
                    self.add(caption, true, 9.5, 0.0, 10.0);
                    self.gap(3.0);
                    self.table(heads, rows);
                    self.gap(4.0);
                }
                Block::Picture(which) => self.picture(which),
                // What is folded away is a page's, which can be opened
                Block::More { .. } => {}
            }
        }
    }

    /// So many points of nothing, before and behind a table.
    fn gap(&mut self, before: f32) {
        self.lines.push(Line {
            before,
            keeps: true,
            ..Line::default()
        });
    }

    /// A picture as wide as the page or as high as it may be.
    fn picture(&mut self, which: &Shown) {
        let highest = HIGHEST[usize::from(*which == Shown::Backs)];
        for jpeg in (self.shown)(which) {
            let (w, h) = (jpeg.size.0 as f32, jpeg.size.1 as f32);
            let wide = PAGE.0 - 2.0 * MARGIN;
            let scale = (wide / w).min(highest / h).min(0.5);
            self.lines.push(Line {
                size: h * scale / LEADING,
                before: 6.0,
                keeps: *which != Shown::Backs,
                picture: Some((self.jpegs.len(), w * scale, h * scale)),
                ..Line::default()
            });
            self.jpegs.push(jpeg);
        }
    }
}

/// Widths of columns, points: room for the longest word of each, no more than a third of the page, the
/// rest by how long their texts are.
fn columns(bold: &Font, plain: &Font, heads: &[String], rows: &[Vec<String>]) -> Vec<f32> {
    let whole = PAGE.0 - 2.0 * MARGIN;
    let long = |i: usize, by_words: bool| {
        let cells = rows.iter().filter_map(move |r| r.get(i));
        let texts = cells.map(|t| (plain, t)).chain([(bold, &heads[i])]);
        let wide = texts.map(|(font, t)| match by_words {
            true => t
                .split_whitespace()
                .map(|w| font.width(w, TABLE))
                .fold(0.0, f32::max),
            false => font.width(t, TABLE),
        });
        wide.fold(0.0, f32::max)
    };
    let least: Vec<f32> = (0..heads.len())
        .map(|i| long(i, true).min(whole / 3.0) + 2.0 * PAD + 0.5)
        .collect();
    let wanted: Vec<f32> = (0..heads.len())
        .map(|i| (long(i, false) + 2.0 * PAD + 0.5 - least[i]).clamp(0.0, 3.0 * whole))
        .collect();
    let (taken, more) = (least.iter().sum::<f32>(), wanted.iter().sum::<f32>());
    let room = whole - taken;
    let part = match room >= 0.0 && more > 0.0 {
        true => (room / more).min(1.0),
        false => 0.0,
    };
    // Where even the longest words don't fit, all columns are narrowed alike
    let narrowed = if room < 0.0 { whole / taken } else { 1.0 };
    let all = least.iter().zip(&wanted);
    all.map(|(l, w)| (l + w * part) * narrowed).collect()
}

/// Without control characters and changes of writing direction.
fn crate_visible(text: &str) -> String {
    text.chars()
        .filter(|c| {
            !c.is_control()
                && !matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}')
        })
        .collect()
}
