//! When something is asked for: for each fault a logistic regression on one or two measures, fitted by
//! `training/fit_taking.py` on made photographs with planted faults (`rule.json`).

use super::measures::BLUREST;
use super::{Asked, Capture, Edge, Measures, Want};
use crate::chance::logistic;
use serde::Deserialize;
use std::sync::OnceLock;

static FITTED: &str = include_str!("rule.json");

/// What is asked for where its chance is at least this.
pub const ENOUGH: f64 = 0.5;

/// Where to go nearer, so near that an x is so high, px: from 7 on reading is as good as it gets, see
/// `benches/trials/taking.md`; the rest is for the hand and the focus.
const GOAL: f64 = 10.0;
/// Nobody is sent nearer by more than this at once.
const MOST_NEARER: f64 = 8.0;

/// What may be wrong with a mark's picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fault {
    /// Letters too small.
    Small,
    /// Not sharp.
    Blurred,
    /// Too dark.
    Dim,
    /// Burnt out.
    Glaring,
    /// Lettering runs off an edge of the photograph.
    Cut,
}

/// The faults with their names in the data.
pub const KEYS: [(Fault, &str); 5] = [
    (Fault::Small, "small"),
    (Fault::Blurred, "blurred"),
    (Fault::Dim, "dim"),
    (Fault::Glaring, "glaring"),
    (Fault::Cut, "cut"),
];

/// Log-odds of a fault: `bias` and so much for each measure.
#[derive(Debug, Clone, Deserialize)]
struct Fitted {
    bias: f64,
    weights: Vec<f64>,
}

#[derive(Debug, Deserialize)]
struct Rule {
    small: Fitted,
    blurred: Fitted,
    dim: Fitted,
    glaring: Fitted,
    cut: Fitted,
    /// Log-odds that a whole photograph is blurred, and that one on which no lettering shows is dim.
    blurred_whole: Fitted,
    dim_whole: Fitted,
    /// The same of a mirrored lamp, by the share that is burnt out.
    glaring_whole: Fitted,
}

fn rule() -> &'static Rule {
    static RULE: OnceLock<Rule> = OnceLock::new();
    // Held by a test below: the program carries it
    RULE.get_or_init(|| serde_json::from_str(FITTED).expect("rule.json is the program's own"))
}

impl Fitted {
    fn chance(&self, measures: &[f64]) -> f64 {
        let sum: f64 = self.weights.iter().zip(measures).map(|(w, m)| w * m).sum();
        logistic(self.bias + sum)
    }
}

/// Measures as the data weigh them: natural logarithms of lengths, light and contrast over grain.
impl Measures {
    fn blurred(&self) -> Option<[f64; 2]> {
        // A mark without an edge may be faint as well
        let blur = self.blur.filter(|b| *b < BLUREST)?.max(0.1);
        Some([blur.ln(), (blur / self.x_height.unwrap_or(20.0)).ln()])
    }
    fn dim(&self) -> [f64; 2] {
        let clear = self.contrast.max(0.004) / self.grain.max(0.002);
        [self.light.max(0.004).ln(), clear.ln()]
    }
    fn glaring(&self) -> [f64; 1] {
        [(self.burnt + 0.002).ln()]
    }
    /// Chance of a fault of a mark that was measured; `None` where it can't be told: grain and the rim of a reflection
    /// have edges of their own, so in the dark and beside a reflection nothing else is judged.
    pub fn fault(&self, fault: Fault) -> Option<f64> {
        let r = rule();
        let (dim, glaring) = (r.dim.chance(&self.dim()), r.glaring.chance(&self.glaring()));
        match fault {
            Fault::Dim => return Some(dim),
            Fault::Glaring => return Some(glaring),
            _ if dim >= ENOUGH || glaring >= ENOUGH => return None,
            _ => {}
        }
        Some(match fault {
            Fault::Small => r.small.chance(&[self.x_height?.ln()]),
            Fault::Blurred => r.blurred.chance(&self.blurred()?),
            _ => {
                let edges = EDGES.iter().map(|e| self.cut(*e));
                edges.fold(0.0, f64::max)
            }
        })
    }

    fn cut(&self, edge: Edge) -> f64 {
        let (margin, gap) = self.room(edge);
        rule().cut.chance(&[margin, (gap + 0.005).ln()])
    }
}

const EDGES: [Edge; 4] = [Edge::Top, Edge::Right, Edge::Bottom, Edge::Left];

fn asked(want: Want, chance: Option<f64>) -> Option<Asked> {
    let chance = chance.filter(|c| *c >= ENOUGH)?;
    Some(Asked { want, chance })
}

/// What another photograph of a mark should bring, the surest first.
pub(super) fn of_mark(m: &Measures) -> Vec<Asked> {
    let nearer = m
        .x_height
        .map_or(1.0, |x| (GOAL / x).clamp(1.25, MOST_NEARER));
    let mut all: Vec<Asked> = [
        asked(Want::Nearer(nearer), m.fault(Fault::Small)),
        asked(Want::Steadier, m.fault(Fault::Blurred)),
        asked(Want::Lighter, m.fault(Fault::Dim)),
        asked(Want::OtherLight, m.fault(Fault::Glaring)),
    ]
    .into_iter()
    .chain(EDGES.map(|e| asked(Want::Whole(e), m.fault(Fault::Cut).map(|_| m.cut(e)))))
    .flatten()
    .collect();
    all.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    all
}

/// Share of the photograph that the mark of a close-up fills.
const CLOSE: f64 = 0.2;

/// A close-up of a mark that is all there shows parts of what lies beside it: nobody asked for those.
pub(super) fn beside_the_point(marks: &mut [Capture], size: (u32, u32)) {
    let all = f64::from(size.0) * f64::from(size.1);
    let cut = |l: &Capture| l.asked.iter().any(|a| matches!(a.want, Want::Whole(_)));
    let large = |l: &Capture| l.outline.area() >= CLOSE * all;
    if !marks.iter().any(|l| large(l) && !cut(l)) {
        return;
    }
    for look in marks.iter_mut().filter(|l| !large(l)) {
        look.asked.retain(|a| !matches!(a.want, Want::Whole(_)));
    }
}

/// What a photograph lacks as a whole, by its edges and, where no lettering shows, by its light.
pub(super) fn of_whole(m: &Measures, marks: &[Capture]) -> Vec<Asked> {
    let lettered = marks.iter().any(|l| l.measures.x_height.is_some());
    let r = rule();
    let mut all: Vec<Asked> = Vec::new();
    let dim = r.dim_whole.chance(&m.dim());
    // Grain has sharp edges: how sharp a dark photograph is can't be told
    let blurred = m.blur.filter(|_| dim < ENOUGH);
    let blurred = blurred.map(|b| r.blurred_whole.chance(&[b.max(0.1).ln()]));
    all.extend(asked(Want::Steadier, blurred));
    if !lettered {
        all.extend(asked(Want::Lighter, Some(dim)));
    }
    let seen = marks.iter().flat_map(|l| &l.asked);
    if !seen.clone().any(|a| a.want == Want::OtherLight) {
        let glaring = r.glaring_whole.chance(&m.glaring());
        all.extend(asked(Want::OtherLight, Some(glaring)));
    }
    all
}
