//! The note as a Word document (Office Open XML, ECMA-376), written by docx-rs.

// XML 1.0 has no place for control characters
use super::markdown::visible;
use super::plan;
use super::{Block, Crops, Cut, Note, Shown};
use crate::error::{Error, Kind, Result};
use docx_rs::{
    BreakType, Docx as Document, LineSpacing, PageMargin, Paragraph, Pic, Run, RunFonts, Style,
    StyleType, Table, TableCell, TableCellMargins, TableRow, WidthType,
};
use std::io::Cursor;

/// A4, twentieths of a point.
const PAGE: (u32, u32) = (11_906, 16_838);
/// Width of the text: A4 less margins of 20 mm, in twentieths of a point.
const TEXT: usize = 9_638;
/// English metric units in a mm.
const EMU: u32 = 36_000;
/// Pictures are no wider than the text, and marks no higher than this, mm.
const WIDEST: u32 = 170;
const HIGHEST: u32 = 50;
/// The plan of a back is no higher than this, mm.
const PLAN: u32 = 150;

/// A Word document.
#[derive(Debug, Clone, Copy, Default)]
pub struct Docx;

impl Docx {
    /// The bytes of the document with its pictures.
    ///
    /// # Errors
    /// `Kind::Output` where it can't be packed.
    pub fn bytes(note: &Note, blocks: &[Block], crops: &Crops) -> Result<Vec<u8>> {
        let heading = |id: &str, name: &str, size: usize, level: usize| {
            Style::new(id, StyleType::Paragraph)
                .name(name)
                .size(size)
                .bold()
                .outline_lvl(level)
                .line_spacing(LineSpacing::new().before(200).after(60))
        };
        let margin = 1_134;
        let page = PageMargin::new()
            .top(margin)
            .bottom(margin)
            .left(margin)
            .right(margin);
        let document = Document::new()
            .page_size(PAGE.0, PAGE.1)
            .page_margin(page)
            .default_size(20)
            .default_fonts(RunFonts::new().ascii("DejaVu Sans").hi_ansi("DejaVu Sans"))
            .add_style(
                Style::new("Title", StyleType::Paragraph)
                    .name("Title")
                    .size(34)
                    .bold(),
            )
            .add_style(heading("Heading1", "heading 1", 26, 0))
            .add_style(heading("Heading2", "heading 2", 22, 1))
            .add_style(
                Style::new("Quote", StyleType::Paragraph)
                    .name("Quote")
                    .size(22)
                    .indent(Some(480), None, None, None),
            );
        let mut setter = Setter {
            document,
            note,
            crops,
        };
        setter.set(blocks);
        let mut out = Cursor::new(Vec::new());
        setter.document.build().pack(&mut out).map_err(|e| {
            Error::new(
                Kind::Output,
                "Word document",
                format!("it can't be packed ({e})"),
                "write the note as HTML or Markdown",
            )
        })?;
        Ok(out.into_inner())
    }
}

struct Setter<'a> {
    document: Document,
    note: &'a Note,
    crops: &'a Crops,
}

impl Setter<'_> {
    fn add(&mut self, p: Paragraph) {
        let document = std::mem::take(&mut self.document);
        self.document = document.add_paragraph(p);
    }

    fn text(&mut self, style: &str, text: &str) {
        self.add(paragraph(style, text));
    }

    fn set(&mut self, blocks: &[Block]) {
        for b in blocks {
            match b {
                Block::Title(t) => self.text("Title", t),
                Block::Heading(t) => self.text("Heading1", t),
                Block::Subheading(t) => self.text("Heading2", t),
                Block::Paragraph(t) => self.text("", t),
                Block::Point(t) => {
                    let p = paragraph("", &format!("•\u{a0}{t}"));
                    self.add(p.indent(Some(240), None, None, None));
                }
                Block::Verse(lines) => {
                    let mut run = Run::new();
                    for (i, l) in lines.iter().enumerate() {
                        if i > 0 {
                            run = run.add_break(BreakType::TextWrapping);
                        }
                        run = run.add_text(visible(l));
                    }
                    self.add(Paragraph::new().style("Quote").add_run(run));
                }
                Block::Table {
                    caption,
                    heads,
                    rows,
                } => self.table(caption, heads, rows),
                Block::Picture(shown) => self.picture(shown),
                // What is folded away is a page's, which can be opened
                Block::More { .. } => {}
            }
        }
    }

    fn table(&mut self, caption: &str, heads: &[&str], rows: &[Vec<String>]) {
        self.text("Heading2", caption);
        let wide = columns(heads, rows);
        let cell = |t: &str, wide: &usize, bold: bool| {
            let run = Run::new().size(16).add_text(visible(t));
            let run = if bold { run.bold() } else { run };
            TableCell::new()
                .width(*wide, WidthType::Dxa)
                .add_paragraph(Paragraph::new().add_run(run))
        };
        let head = heads.iter().zip(&wide).map(|(h, w)| cell(h, w, true));
        let head = TableRow::new(head.collect());
        let body = rows.iter().map(|r| {
            let cells = r.iter().zip(&wide).map(|(c, w)| cell(c, w, false));
            TableRow::new(cells.collect())
        });
        let table = Table::new(std::iter::once(head).chain(body).collect())
            .set_grid(wide.clone())
            .margins(TableCellMargins::new().margin(40, 80, 40, 80))
            .width(TEXT, WidthType::Dxa);
        let document = std::mem::take(&mut self.document);
        self.document = document.add_table(table);
        self.text("", "");
    }

    fn picture(&mut self, shown: &Shown) {
        match shown {
            Shown::Backs => {
                for p in plan::shown(self.note) {
                    let Some(cut) = self.crops.backs.get(&p.id) else {
                        continue;
                    };
                    match plan::plan(self.note, p, cut) {
                        Some(picture) => {
                            self.inline(&picture, PLAN);
                            self.text("", &p.name);
                        }
                        None => self.missing(cut),
                    }
                }
            }
            Shown::Mark(id) => {
                if let Some(cut) = self.crops.marks.get(id) {
                    match plan::opened(cut) {
                        Some(picture) => self.inline(&picture, HIGHEST),
                        None => self.missing(cut),
                    }
                }
            }
            // The sentences on the parts say the same in words
            Shown::Chart => {}
        }
    }

    fn missing(&mut self, cut: &Cut) {
        if let Cut::Missing(why) = cut {
            self.text("", why);
        }
    }

    /// A picture in a line of its own, no higher than so many mm.
    fn inline(&mut self, picture: &image::RgbImage, highest: u32) {
        let (w, h) = picture.dimensions();
        let small = plan::printed(picture);
        let Some(bytes) = plan::png(&small) else {
            return;
        };
        // As large as fits, at 6 px a mm at the most
        let fits = (f64::from(WIDEST) / f64::from(w))
            .min(f64::from(highest) / f64::from(h))
            .min(1.0 / 6.0);
        let mm = |s: u32| (f64::from(s) * fits * f64::from(EMU)).round() as u32;
        let pic = Pic::new_with_dimensions(bytes, small.width(), small.height()).size(mm(w), mm(h));
        let p = Paragraph::new().add_run(Run::new().add_image(pic));
        self.add(p.keep_next(true).line_spacing(LineSpacing::new().after(60)));
    }
}

/// Widths of columns, twentieths of a point: room for the longest word in each, the rest by the longest
/// text, within bounds (signs).
fn columns(heads: &[&str], rows: &[Vec<String>]) -> Vec<usize> {
    const MOST: usize = 60;
    /// A letter of 8 points is about as wide; twentieths of a point.
    const LETTER: usize = 105;
    let texts = |i: usize| {
        let cells = rows.iter().filter_map(move |r| r.get(i));
        cells.map(String::as_str).chain([heads[i]])
    };
    let long = |t: &str| t.chars().count().min(MOST);
    let word = |i: usize| texts(i).flat_map(str::split_whitespace).map(long).max();
    let words: Vec<usize> = (0..heads.len())
        .map(|i| (word(i).unwrap_or(0).min(MOST / 3) + 3) * LETTER)
        .collect();
    let signs: Vec<usize> = (0..heads.len())
        .map(|i| texts(i).map(long).max().unwrap_or(0).max(1))
        .collect();
    let all: usize = signs.iter().sum();
    let room = TEXT.saturating_sub(words.iter().sum());
    let each = words.iter().zip(&signs);
    each.map(|(w, n)| w + room * n / all).collect()
}

fn paragraph(style: &str, text: &str) -> Paragraph {
    let p = Paragraph::new().add_run(Run::new().add_text(visible(text)));
    match style {
        "" => p.line_spacing(LineSpacing::new().after(100)),
        // A heading doesn't stand alone at the foot of a page
        _ => p.style(style).keep_next(true),
    }
}
