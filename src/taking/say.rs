//! What a photograph got and what is asked for, in words.

use super::{Capture, Edge, Got, Want};

/// Share of the marks of which a fault is told as one of the whole photograph.
const MOST_OF_THEM: f64 = 0.6;

/// Where a mark lies on the photograph, by column and row of three.
pub fn place_words(third: (usize, usize)) -> &'static str {
    match third {
        (0, 0) => "at the upper left",
        (1, 0) => "at the top",
        (2, 0) => "at the upper right",
        (0, 1) => "on the left",
        (1, 1) => "in the middle",
        (2, 1) => "on the right",
        (0, _) => "at the lower left",
        (1, _) => "at the bottom",
        _ => "at the lower right",
    }
}

fn edge_words(edge: Edge) -> &'static str {
    match edge {
        Edge::Top => "upper",
        Edge::Right => "right",
        Edge::Bottom => "lower",
        Edge::Left => "left",
    }
}

/// How much nearer, as one walks.
fn nearer_words(times: f64) -> String {
    match times {
        t if t < 1.75 => "to two thirds of the distance".into(),
        t if t < 2.5 => "to half the distance".into(),
        t if t < 3.5 => "to a third of the distance".into(),
        t => format!("to one part in {} of the distance", t.round() as u32),
    }
}

/// What is asked for, of what stands at these places; none: of the whole photograph.
///
/// ```
/// use dorso_seeing::taking::{Want, asking};
/// let words = asking(&Want::Nearer(2.0), &["at the upper left", "on the right"]);
/// assert_eq!(words, "Go nearer, to half the distance, to what stands at the upper left and on the right.");
/// ```
pub fn asking(want: &Want, places: &[&str]) -> String {
    let what = |before: &str| match places {
        [] => String::new(),
        some => format!("{before} what stands {}", listed(some)),
    };
    match want {
        Want::Nearer(times) => format!("Go nearer, {}{}.", nearer_words(*times), what(", to")),
        Want::Steadier => format!(
            "Once more{}, held still and in focus: it isn't sharp.",
            what(", of")
        ),
        Want::Lighter => format!("Once more{} with more light: it is too dark.", what(", of")),
        Want::OtherLight => {
            format!(
                "The same{} with light from another side: a reflection hides part of it.",
                what(", of")
            )
        }
        Want::Whole(edge) => format!(
            "Further to the {} edge{}: lettering is cut off there.",
            edge_words(*edge),
            what(", of")
        ),
    }
}

/// "a", "a and b", "a, b and c".
fn listed(all: &[&str]) -> String {
    match all {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

impl Got {
    /// What was got, in one line without a full stop.
    pub fn words(&self) -> String {
        let marks = match self.marks.len() {
            0 => "no mark found".to_owned(),
            1 => "1 mark".to_owned(),
            n => format!("{n} marks"),
        };
        let letters = self.smallest().map_or_else(String::new, |x| {
            format!(", smallest letters {} px high", x.round().max(1.0) as u32)
        });
        let asked = if self.lacks() {
            ""
        } else {
            ", nothing is missing"
        };
        format!("{marks}{letters}{asked}")
    }

    /// What another photograph should bring, one sentence for each thing, marks that lack the same named together.
    pub fn sentences(&self) -> Vec<String> {
        // Sentences are told apart by their words: "to half the distance" is one thing, whatever the figure
        let mut told: Vec<(String, Want, Vec<&Capture>)> = Vec::new();
        for look in &self.marks {
            for asked in &look.asked {
                let words = asking(&asked.want, &[]);
                match told.iter_mut().find(|t| t.0 == words) {
                    Some(t) => t.2.push(look),
                    None => told.push((words, asked.want, vec![look])),
                }
            }
        }
        let mut out: Vec<String> = self.asked.iter().map(|a| asking(&a.want, &[])).collect();
        for (words, want, looks) in told {
            let all = looks.len() as f64 >= MOST_OF_THEM * self.marks.len() as f64;
            let whole = all && !matches!(want, Want::Nearer(_)) && self.marks.len() > 1;
            let mut places: Vec<&str> = looks
                .iter()
                .map(|l| place_words(self.third(&l.outline)))
                .collect();
            places.sort_unstable();
            places.dedup();
            let sentence = if whole || self.marks.len() == 1 {
                words
            } else {
                asking(&want, &places)
            };
            if !out.contains(&sentence) {
                out.push(sentence);
            }
        }
        out
    }
}
