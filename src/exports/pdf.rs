//! The note as PDF: A4, text only, fonts embedded in part.
//!
//! Fonts are DejaVu Sans (Bitstream Vera licence: embedding and cutting down are allowed). Text is
//! broken at words by the widths of the font; no shaping is done: the note is in Latin letters with
//! marks below, for which DejaVu has places of its own.

use super::{Export, File, Subject};
use crate::error::{Error, Kind, Result};
use crate::note::{Block, Length, blocks};
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Content, Finish, Name, Rect, Ref, Str, TextStr};
use std::collections::BTreeMap;
use subsetter::{GlyphRemapper, subset};
use ttf_parser::{Face, GlyphId};
use unicode_normalization::UnicodeNormalization;

pub(super) struct Pdf;

impl Export for Pdf {
    fn name(&self) -> &'static str {
        "pdf"
    }

    fn about(&self) -> &'static str {
        "the note as PDF"
    }

    fn files(&self, s: &Subject) -> Result<Vec<File>> {
        Ok(vec![File {
            ending: "note.pdf".into(),
            bytes: document(&s.note.picture, &blocks(s.note, Length::File))?,
        }])
    }
}

/// A4, points.
const PAGE: (f32, f32) = (595.0, 842.0);
const MARGIN: f32 = 56.0;
/// Lines below this height go on the next page; the number of the page stands below.
const FLOOR: f32 = 64.0;

fn fault(what: impl std::fmt::Display) -> Error {
    Error::new(
        Kind::Output,
        "PDF",
        format!("the font can't be set ({what})"),
        "write the note as HTML and print that",
    )
}

/// A font with the signs used of it.
struct Font {
    data: &'static [u8],
    face: Face<'static>,
    used: GlyphRemapper,
    /// New number of a glyph: its sign and its width in thousandths.
    signs: BTreeMap<u16, (char, f32)>,
}

impl Font {
    fn new(data: &'static [u8]) -> Result<Font> {
        Ok(Font {
            data,
            face: Face::parse(data, 0).map_err(fault)?,
            used: GlyphRemapper::new(),
            signs: BTreeMap::new(),
        })
    }

    fn scale(&self) -> f32 {
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
    fn encoded(&mut self, text: &str) -> Vec<u8> {
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

/// A line ready to be set.
struct Line {
    text: String,
    bold: bool,
    size: f32,
    indent: f32,
    before: f32,
}

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

fn lines(all: &[Block], plain: &Font, bold: &Font) -> Vec<Line> {
    let whole = PAGE.0 - 2.0 * MARGIN;
    let mut out: Vec<Line> = Vec::new();
    let mut add = |text: &str, heavy: bool, size: f32, indent: f32, before: f32| {
        // NFC: letters with marks have glyphs of their own
        let text: String = crate_visible(text).nfc().collect();
        let font = if heavy { bold } else { plain };
        for (i, t) in broken(font, &text, size, whole - indent)
            .into_iter()
            .enumerate()
        {
            out.push(Line {
                text: t,
                bold: heavy,
                size,
                indent,
                before: if i == 0 { before } else { 0.0 },
            });
        }
    };
    for b in all {
        match b {
            Block::Title(t) => add(t, true, 17.0, 0.0, 0.0),
            Block::Heading(t) => add(t, true, 12.0, 0.0, 12.0),
            Block::Paragraph(t) => add(t, false, 9.5, 0.0, 5.0),
            Block::Point(t) => add(&format!("• {t}"), false, 9.5, 10.0, 3.0),
            Block::Verse(v) => {
                for (i, t) in v.iter().enumerate() {
                    add(t, false, 10.5, 24.0, if i == 0 { 5.0 } else { 1.0 });
                }
            }
        }
    }
    out
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

fn document(title: &str, all: &[Block]) -> Result<Vec<u8>> {
    let mut plain = Font::new(dejavu::sans::regular())?;
    let mut bold = Font::new(dejavu::sans::bold())?;
    let set = lines(all, &plain, &bold);
    let mut pages: Vec<Vec<&Line>> = vec![Vec::new()];
    let mut y = PAGE.1 - MARGIN;
    for l in &set {
        let step = l.size * 1.35 + l.before;
        // A heading doesn't stand alone at the foot of a page
        let need = if l.bold { step + 30.0 } else { step };
        if y - need < FLOOR && pages.last().is_some_and(|p| !p.is_empty()) {
            pages.push(Vec::new());
            y = PAGE.1 - MARGIN;
        }
        y -= step;
        if let Some(p) = pages.last_mut() {
            p.push(l);
        }
    }
    let mut next = 1;
    let mut new = || {
        let r = Ref::new(next);
        next += 1;
        r
    };
    let (catalog, tree, info) = (new(), new(), new());
    let fonts = [
        [new(), new(), new(), new(), new()],
        [new(), new(), new(), new(), new()],
    ];
    let ids: Vec<(Ref, Ref)> = pages.iter().map(|_| (new(), new())).collect();
    let mut pdf = pdf_writer::Pdf::new();
    pdf.catalog(catalog).pages(tree).lang(TextStr("en-GB"));
    pdf.pages(tree)
        .kids(ids.iter().map(|i| i.0))
        .count(ids.len() as i32);
    pdf.document_info(info)
        .title(TextStr(title))
        .creator(TextStr("Dorso"));
    for (n, (page, (id, content))) in pages.iter().zip(&ids).enumerate() {
        let mut p = pdf.page(*id);
        p.parent(tree)
            .media_box(Rect::new(0.0, 0.0, PAGE.0, PAGE.1))
            .contents(*content);
        let mut resources = p.resources();
        let mut dict = resources.fonts();
        dict.pair(Name(b"F0"), fonts[0][0]);
        dict.pair(Name(b"F1"), fonts[1][0]);
        dict.finish();
        resources.finish();
        p.finish();
        let mut c = Content::new();
        let mut show = |text: &str, heavy: bool, size: f32, x: f32, y: f32| {
            let font = if heavy { &mut bold } else { &mut plain };
            let bytes = font.encoded(text);
            c.begin_text()
                .set_font(Name(if heavy { b"F1" } else { b"F0" }), size)
                .set_text_matrix([1.0, 0.0, 0.0, 1.0, x, y])
                .show(Str(&bytes))
                .end_text();
        };
        let mut y = PAGE.1 - MARGIN;
        for l in page {
            y -= l.size * 1.35 + l.before;
            show(&l.text, l.bold, l.size, MARGIN + l.indent, y);
        }
        let number = format!("{} / {}", n + 1, pages.len());
        show(&number, false, 8.0, PAGE.0 / 2.0 - 10.0, 36.0);
        let stream = c.finish();
        pdf.stream(*content, &stream);
    }
    for (font, ids) in [&plain, &bold].into_iter().zip(fonts) {
        embed(&mut pdf, font, ids)?;
    }
    Ok(pdf.finish())
}

fn embed(pdf: &mut pdf_writer::Pdf, font: &Font, ids: [Ref; 5]) -> Result<()> {
    let [whole, cid, descriptor, cmap, file] = ids;
    let info = SystemInfo {
        registry: Str(b"Adobe"),
        ordering: Str(b"Identity"),
        supplement: 0,
    };
    let bold = font.face.is_bold();
    let name: &[u8] = if bold {
        b"DORSOB+DejaVuSans-Bold"
    } else {
        b"DORSOA+DejaVuSans"
    };
    pdf.type0_font(whole)
        .base_font(Name(name))
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(cid)
        .to_unicode(cmap);
    let mut c = pdf.cid_font(cid);
    c.subtype(CidFontType::Type2)
        .base_font(Name(name))
        .system_info(info)
        .font_descriptor(descriptor)
        .default_width(0.0)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    let mut widths = c.widths();
    for (glyph, (_, wide)) in &font.signs {
        widths.consecutive(*glyph, [*wide]);
    }
    widths.finish();
    c.finish();
    let scale = font.scale();
    let b = font.face.global_bounding_box();
    let em = |v: i16| f32::from(v) * scale;
    pdf.font_descriptor(descriptor)
        .name(Name(name))
        .flags(FontFlags::NON_SYMBOLIC)
        .bbox(Rect::new(
            em(b.x_min),
            em(b.y_min),
            em(b.x_max),
            em(b.y_max),
        ))
        .italic_angle(0.0)
        .ascent(em(font.face.ascender()))
        .descent(em(font.face.descender()))
        .cap_height(em(font.face.capital_height().unwrap_or(729)))
        .stem_v(if bold { 140.0 } else { 80.0 })
        .font_file2(file);
    let mut map = UnicodeCmap::new(Name(b"Custom"), info);
    for (glyph, (sign, _)) in &font.signs {
        map.pair(*glyph, *sign);
    }
    let map = map.finish();
    pdf.cmap(cmap, &map);
    let data = subset(font.data, 0, &font.used).map_err(|e| fault(format!("{e:?}")))?;
    pdf.stream(file, &data)
        .pair(Name(b"Length1"), data.len() as i32);
    Ok(())
}
