//! Invented backs for the tests of the store and the note: nothing here was ever made, hung or sold.
#![allow(dead_code)]

use ab_glyph::{FontRef, PxScale};
use dorso::decisions::{Author, Run, SeenMark, SeenPhotograph};
use dorso::geometry::{Quad, Rect};
use dorso::marks::MarkKind;
use dorso::proposals::{Agreement, Proposal, Rivals, Seen};
use dorso::readings::{Character, Line, Reading, leiden};
use image::{Rgb, RgbImage};
use imageproc::drawing;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::path::PathBuf;

pub const MONDAY: &str = "2024-05-06T10:12:40+01:00";
pub const TUESDAY: &str = "2024-05-07T09:00:00+01:00";

/// A line of that text, every letter of the same chance; `_` stands for a lost letter, and a
/// letter after `?` has a chance of 0.4.
pub fn line(text: &str, confidence: f64, top: i32) -> Line {
    let mut characters = Vec::new();
    let mut doubtful = false;
    for c in text.chars() {
        if c == '?' {
            doubtful = true;
            continue;
        }
        let lost = c == '_';
        characters.push(Character {
            text: if lost { String::new() } else { c.to_string() },
            confidence: if lost {
                0.0
            } else if doubtful {
                0.4
            } else {
                confidence
            },
            alternatives: if doubtful {
                vec![("K".into(), 0.3)]
            } else {
                Vec::new()
            },
        });
        doubtful = false;
    }
    let mut out = Line {
        text: characters.iter().map(|c| c.text.as_str()).collect(),
        leiden: String::new(),
        characters,
        confidence,
        bounds: Rect::new(60, top, 300, 30),
        within: Rect::new(10, top, 300, 30),
        writing: None,
    };
    out.leiden = leiden::print(&out);
    out
}

pub fn reading(lines: &[(&str, f64)]) -> Reading {
    Reading {
        lines: lines
            .iter()
            .enumerate()
            .map(|(i, (t, c))| line(t, *c, 60 + 40 * i as i32))
            .collect(),
        voters: vec!["tesseract/flat".into()],
        ..Reading::default()
    }
}

pub fn proposal(list: &str, entry: &str, name: &str, probability: f64) -> Proposal {
    Proposal {
        town: String::new(),
        list: list.into(),
        entry: entry.into(),
        name: name.into(),
        probability,
        lines: vec![0],
        place: None,
        not_before: "1868".into(),
        not_after: "1875".into(),
        source: "Invented Directory, 1870".into(),
        same_as: Vec::new(),
        agreement: Agreement {
            letters: name.chars().map(|c| (c, Seen::Clear)).collect(),
            because: vec!["all letters agree".into()],
        },
    }
}

/// Rivals of a list; what is left of 1 is unlisted.
pub fn rivals(list: &str, proposals: Vec<Proposal>) -> Rivals {
    Rivals {
        list: list.into(),
        unlisted: 1.0 - proposals.iter().map(|p| p.probability).sum::<f64>(),
        proposals,
    }
}

pub fn mark(
    label: &str,
    kind: MarkKind,
    outline: Quad,
    reading: Reading,
    rivals: Vec<Rivals>,
) -> SeenMark {
    SeenMark {
        label: label.into(),
        kind,
        outline,
        lettering: 0.9,
        reading,
        rivals,
        bearing: None,
        statements: Vec::new(),
        sign: None,
    }
}

/// A firm's label that the program can't place at one of two addresses.
pub fn firm_label() -> SeenMark {
    mark(
        "m1",
        MarkKind::PrintedLabel,
        Rect::new(50, 40, 340, 160).quad(),
        reading(&[
            ("THACKWRAY & SON", 0.92),
            ("CARVE?RS & GILDERS", 0.71),
            ("KE__AL", 0.55),
        ]),
        vec![
            rivals(
                "framers",
                vec![
                    proposal("framers", "thackwray-kendal-2", "Thackwray & Son", 0.48),
                    proposal("framers", "thackwray-kendal-1", "Thackwray & Son", 0.41),
                ],
            ),
            rivals("towns", vec![proposal("towns", "kendal", "Kendal", 0.95)]),
        ],
    )
}

/// A stamp on which nothing could be read.
pub fn blind_stamp() -> SeenMark {
    mark(
        "m2",
        MarkKind::Stamp,
        Rect::new(600, 420, 120, 120).quad(),
        Reading::default(),
        Vec::new(),
    )
}

/// A chalk number, surely read, on no list.
pub fn chalk_number() -> SeenMark {
    mark(
        "m3",
        MarkKind::Inscription,
        Rect::new(420, 40, 150, 60).quad(),
        reading(&[("417", 0.97)]),
        vec![rivals("framers", Vec::new())],
    )
}

pub fn photograph(file: &str, sha: char, marks: Vec<SeenMark>) -> SeenPhotograph {
    SeenPhotograph {
        file: PathBuf::from(file),
        sha256: sha.to_string().repeat(64),
        width: 800,
        height: 600,
        skew_degrees: -0.4,
        marks,
    }
}

pub fn run(photographs: Vec<SeenPhotograph>) -> Run {
    Run {
        picture: None,
        joins: None,
        suggested: None,
        by: "A. Carrow".into(),
        at: MONDAY.into(),
        program: "dorso 0.1.0; tesseract 5.3".into(),
        photographs,
    }
}

pub fn carrow(why: &str) -> Author {
    Author {
        by: "A. Carrow".into(),
        at: TUESDAY.into(),
        why: why.into(),
    }
}

/// A PNG in colour of that size and so many bits a colour, without its px.
pub fn png_head(width: u32, height: u32, bits: u8) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut head = b"IHDR".to_vec();
    head.extend(width.to_be_bytes());
    head.extend(height.to_be_bytes());
    head.extend([bits, 2, 0, 0, 0]);
    for chunk in [head, b"IDAT".to_vec(), b"IEND".to_vec()] {
        bytes.extend((chunk.len() as u32 - 4).to_be_bytes());
        bytes.extend(&chunk);
        bytes.extend(crc(&chunk).to_be_bytes());
    }
    bytes
}

/// CRC-32 as PNG asks for it (ISO 3309; PNG specification, annex D).
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0u32, |c, b| {
        (0..8).fold(c ^ u32::from(*b), |c, _| {
            if c & 1 == 1 {
                0xedb8_8320 ^ (c >> 1)
            } else {
                c >> 1
            }
        })
    })
}

/// The most memory that a program held at one time, MiB, watched until it ends.
///
/// * `status`: its file below `/proc` (Linux, proc(5): `VmHWM`).
pub fn most_held(status: &str) -> u64 {
    let mut most = 0;
    while let Ok(text) = std::fs::read_to_string(status) {
        let line = text.lines().find_map(|l| l.strip_prefix("VmHWM:"));
        // One that has ended and isn't waited for yet holds nothing
        let Some(kib) = line.and_then(|l| l.split_whitespace().next()?.parse::<u64>().ok()) else {
            break;
        };
        most = most.max(kib / 1024);
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    most
}

/// A photograph with K over B on a strewn ground, dark on light, and where they are.
pub fn monogram() -> (RgbImage, Rect) {
    let mut dice = ChaCha8Rng::seed_from_u64(36);
    let mut photo = RgbImage::from_fn(700, 500, |_, _| {
        let v = dice.random_range(150..190);
        Rgb([v, v - 10, v - 25])
    });
    let font = FontRef::try_from_slice(dejavu::serif::bold()).unwrap();
    for (letter, x) in [("K", 300), ("B", 372)] {
        drawing::draw_text_mut(
            &mut photo,
            Rgb([60, 30, 25]),
            x,
            200,
            PxScale::from(120.0),
            &font,
            letter,
        );
    }
    (photo, Rect::new(296, 210, 170, 100))
}
