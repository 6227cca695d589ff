//! The type cases: fonts by the part they play on a label, and glyphs as paths.

use crate::drawing::Path;
use ab_glyph::{Font, FontVec, OutlineCurve};
use std::collections::BTreeMap;
use std::path::Path as FilePath;

/// The parts that type plays on labels.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub enum Role {
    Fat,
    Didone,
    DidoneBold,
    DidoneItalic,
    Clarendon,
    ClarendonBold,
    Slab,
    Grotesque,
    GrotesqueBold,
    Oldstyle,
    Copperplate,
    Hand,
    Scrawl,
    Typewriter,
    Stencil,
    Blackletter,
}

impl Role {
    fn parse(name: &str) -> Option<Role> {
        Some(match name {
            "fat" => Role::Fat,
            "didone" => Role::Didone,
            "didone-bold" => Role::DidoneBold,
            "didone-italic" => Role::DidoneItalic,
            "clarendon" => Role::Clarendon,
            "clarendon-bold" => Role::ClarendonBold,
            "slab" => Role::Slab,
            "grotesque" => Role::Grotesque,
            "grotesque-bold" => Role::GrotesqueBold,
            "oldstyle" => Role::Oldstyle,
            "copperplate" => Role::Copperplate,
            "hand" => Role::Hand,
            "scrawl" => Role::Scrawl,
            "typewriter" => Role::Typewriter,
            "stencil" => Role::Stencil,
            "blackletter" => Role::Blackletter,
            _ => return None,
        })
    }

    /// Written by hand rather than set in type.
    pub fn written(self) -> bool {
        matches!(self, Role::Hand | Role::Scrawl)
    }
}

/// One font, with its own measures.
pub struct Face {
    font: FontVec,
    /// Height of H in font units.
    pub cap: f32,
    /// Height of x over the height of H.
    pub x_share: f32,
}

impl Face {
    fn open(bytes: Vec<u8>) -> Result<Face, String> {
        let font = FontVec::try_from_vec(bytes).map_err(|e| e.to_string())?;
        let tall = |c: char| -> f32 {
            let path = glyph(&font, c).0;
            path.bounds().map_or(0.0, |b| -b[1])
        };
        let cap = tall('H').max(1.0);
        let x_share = tall('x') / cap;
        Ok(Face { font, cap, x_share })
    }

    /// A glyph's path and advance, both in cap heights; baseline at 0, y down.
    pub fn glyph(&self, c: char) -> (Path, f32) {
        let (path, advance) = glyph(&self.font, c);
        let k = 1.0 / self.cap;
        (path.map(|p| [p[0] * k, p[1] * k]), advance * k)
    }

    pub fn kern(&self, a: char, b: char) -> f32 {
        let (a, b) = (self.font.glyph_id(a), self.font.glyph_id(b));
        self.font.kern_unscaled(a, b) / self.cap
    }
}

/// Path in font units with y down, and advance.
fn glyph(font: &FontVec, c: char) -> (Path, f32) {
    let id = font.glyph_id(c);
    let advance = font.h_advance_unscaled(id);
    let mut path = Path::default();
    let Some(outline) = font.outline(id) else {
        return (path, advance);
    };
    let mut last = None;
    for curve in outline.curves {
        let (start, points): (_, Vec<ab_glyph::Point>) = match curve {
            OutlineCurve::Line(a, b) => (a, vec![b]),
            OutlineCurve::Quad(a, b, c) => (
                a,
                (1..=6)
                    .map(|i| {
                        let t = i as f32 / 6.0;
                        let u = 1.0 - t;
                        ab_glyph::point(
                            u * u * a.x + 2.0 * u * t * b.x + t * t * c.x,
                            u * u * a.y + 2.0 * u * t * b.y + t * t * c.y,
                        )
                    })
                    .collect(),
            ),
            OutlineCurve::Cubic(a, b, c, d) => (
                a,
                (1..=8)
                    .map(|i| {
                        let t = i as f32 / 8.0;
                        let u = 1.0 - t;
                        let (k0, k1, k2, k3) =
                            (u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t);
                        ab_glyph::point(
                            k0 * a.x + k1 * b.x + k2 * c.x + k3 * d.x,
                            k0 * a.y + k1 * b.y + k2 * c.y + k3 * d.y,
                        )
                    })
                    .collect(),
            ),
        };
        if last != Some((start.x, start.y)) {
            path.0.push(vec![[start.x, -start.y]]);
        }
        if let Some(contour) = path.0.last_mut() {
            contour.extend(points.iter().map(|p| [p.x, -p.y]));
        }
        last = points.last().map(|p| (p.x, p.y));
    }
    (path, advance)
}

/// Every font of one group, by role.
pub struct Cases(BTreeMap<Role, Vec<Face>>);

impl Cases {
    /// Opens the fonts that `fonts.txt` names for a group (`seen` or `unseen`).
    pub fn open(folder: &FilePath, group: &str) -> Result<Cases, String> {
        let list = folder.join("fonts.txt");
        let text = std::fs::read_to_string(&list)
            .map_err(|e| format!("{}: {e}; run from the crate's root.", list.display()))?;
        let mut cases: BTreeMap<Role, Vec<Face>> = BTreeMap::new();
        for line in text.lines().filter(|l| !l.starts_with('#')) {
            let words: Vec<&str> = line.split_whitespace().collect();
            let [of, role, package, weight, style] = words[..] else {
                continue;
            };
            if of != group {
                continue;
            }
            let role = Role::parse(role).ok_or_else(|| {
                format!("fonts.txt: no role is called {role:?}; correct the line.")
            })?;
            let file = folder
                .join("fonts")
                .join(format!("{package}-{weight}-{style}.ttf"));
            let bytes = std::fs::read(&file).map_err(|e| {
                format!(
                    "{}: {e}; run `sh samples/maker/fonts.sh` first.",
                    file.display()
                )
            })?;
            let face = Face::open(bytes)
                .map_err(|e| format!("{}: {e}; fetch it again.", file.display()))?;
            cases.entry(role).or_default().push(face);
        }
        if cases.is_empty() {
            return Err(format!(
                "fonts.txt: no group is called {group:?}; take seen or unseen."
            ));
        }
        Ok(Cases(cases))
    }

    /// The face of a role that a number chooses.
    pub fn face(&self, role: Role, choice: u64) -> &Face {
        let faces = self.0.get(&role).or_else(|| self.0.values().next());
        match faces {
            Some(faces) => &faces[(choice % faces.len() as u64) as usize],
            None => unreachable!("a group without fonts is refused when it is opened"),
        }
    }
}
