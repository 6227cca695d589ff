//! The note as PDF: A4, with the plan of the back and the pictures of the marks, fonts embedded in part.
//!
//! Fonts are DejaVu Sans (Bitstream Vera licence: embedding and cutting down are allowed). Text is
//! broken at words by the widths of the font; no shaping is done: the note is in Latin letters with
//! marks below, for which DejaVu has places of its own.

use super::{Export, File, Subject};
use crate::error::{Error, Kind, Result};
use crate::note::{Block, Crops, Length, Note, Shown, blocks, cut};
use lines::{Font, Jpeg, Line, PAD, Setter, jpegs};

use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Content, Filter, Finish, Name, Rect, Ref, Str, TextStr};
use subsetter::subset;

mod lines;

pub(super) struct Pdf;

impl Export for Pdf {
    fn name(&self) -> &'static str {
        "pdf"
    }

    fn about(&self) -> &'static str {
        "the note as PDF"
    }

    fn files(&self, s: &Subject) -> Result<Vec<File>> {
        let crops = cut(s.picture, s.marks);
        let bytes = bytes(s.note, &blocks(s.note, Length::File), &crops)?;
        let ending = "note.pdf".into();
        Ok(vec![File { ending, bytes }])
    }
}

/// Blocks of a note with its pictures.
pub(super) fn bytes(note: &Note, all: &[Block], crops: &Crops) -> Result<Vec<u8>> {
    document(note, all, &|which| jpegs(note, crops, which))
}

/// A4, points.
const PAGE: (f32, f32) = (595.0, 842.0);
const MARGIN: f32 = 56.0;
/// Height of a line to the size of its letters.
const LEADING: f32 = 1.35;
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

type Showing<'a> = &'a dyn Fn(&Shown) -> Vec<Jpeg>;

/// The lines page by page.
fn pages(set: &[Line]) -> Vec<Vec<&Line>> {
    let mut pages: Vec<Vec<&Line>> = vec![Vec::new()];
    let mut y = PAGE.1 - MARGIN;
    for (i, l) in set.iter().enumerate() {
        // Headings, and the heads of a table, stay with what follows them
        let kept = set[i..].iter().take_while(|l| l.keeps).count();
        let need: f32 = set[i..].iter().take(kept + 1).map(Line::high).sum();
        if y - need < FLOOR && pages.last().is_some_and(|p| !p.is_empty()) {
            let before = pages.last().and_then(|p| p.last());
            // What is kept together was begun together
            if before.is_none_or(|b| !b.keeps) || y - l.high() < FLOOR {
                pages.push(Vec::new());
                y = PAGE.1 - MARGIN;
                // The heads of a table stand on each of its pages
                if let Some((p, head)) = pages.last_mut().zip(l.head) {
                    p.push(&set[head]);
                    y -= set[head].high();
                }
            }
        }
        y -= l.high();
        if let Some(p) = pages.last_mut() {
            p.push(l);
        }
    }
    pages
}

fn document(note: &Note, all: &[Block], shown: Showing) -> Result<Vec<u8>> {
    let mut plain = Font::new(dejavu::sans::regular())?;
    let mut bold = Font::new(dejavu::sans::bold())?;
    let mut setter = Setter {
        plain: &plain,
        bold: &bold,
        shown,
        lines: Vec::new(),
        jpegs: Vec::new(),
    };
    setter.set(all);
    let Setter { lines, jpegs, .. } = setter;
    let pages = pages(&lines);
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
    let pictures: Vec<Ref> = jpegs.iter().map(|_| new()).collect();
    let ids: Vec<(Ref, Ref)> = pages.iter().map(|_| (new(), new())).collect();
    let mut pdf = pdf_writer::Pdf::new();
    pdf.catalog(catalog)
        .pages(tree)
        .lang(TextStr(note.entry.language.as_str()));
    pdf.pages(tree)
        .kids(ids.iter().map(|i| i.0))
        .count(ids.len() as i32);
    pdf.document_info(info)
        .title(TextStr(&note.picture))
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
        let mut dict = resources.x_objects();
        for (at, ..) in page.iter().filter_map(|l| l.picture) {
            dict.pair(Name(format!("P{at}").as_bytes()), pictures[at]);
        }
        dict.finish();
        resources.finish();
        p.finish();
        let mut c = Content::new();
        let mut show = |c: &mut Content, text: &str, heavy: bool, size: f32, x: f32, y: f32| {
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
            if !l.cells.is_empty() {
                rules(&mut c, l, y);
                for cell in &l.cells {
                    let mut at = y - PAD;
                    for text in &cell.lines {
                        at -= l.size * LEADING;
                        let x = MARGIN + cell.x + PAD;
                        show(&mut c, text, l.bold, l.size, x, at + l.size * 0.3);
                    }
                }
                y -= l.high();
                continue;
            }
            y -= l.high();
            if let Some((at, wide, high)) = l.picture {
                c.save_state()
                    .transform([wide, 0.0, 0.0, high, MARGIN, y])
                    .x_object(Name(format!("P{at}").as_bytes()))
                    .restore_state();
                continue;
            }
            show(&mut c, &l.text, l.bold, l.size, MARGIN + l.indent, y);
        }
        let number = format!("{} / {}", n + 1, pages.len());
        show(&mut c, &number, false, 8.0, PAGE.0 / 2.0 - 10.0, 36.0);
        let stream = c.finish();
        pdf.stream(*content, &stream);
    }
    for (jpeg, id) in jpegs.iter().zip(pictures) {
        let mut image = pdf.image_xobject(id, &jpeg.bytes);
        image.filter(Filter::DctDecode);
        image.width(jpeg.size.0 as i32).height(jpeg.size.1 as i32);
        image.color_space().device_rgb();
        image.bits_per_component(8);
    }
    for (font, ids) in [&plain, &bold].into_iter().zip(fonts) {
        embed(&mut pdf, font, ids)?;
    }
    Ok(pdf.finish())
}

/// The rules around the cells of a row whose upper edge is at `y`, a grey ground below heads.
fn rules(c: &mut Content, row: &Line, y: f32) {
    let high = row.high();
    c.save_state().set_line_width(0.4).set_stroke_gray(0.55);
    for cell in &row.cells {
        let x = MARGIN + cell.x;
        if row.bold {
            c.set_fill_gray(0.92).rect(x, y - high, cell.wide, high);
            c.fill_nonzero();
        }
        c.rect(x, y - high, cell.wide, high).stroke();
    }
    c.restore_state();
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
