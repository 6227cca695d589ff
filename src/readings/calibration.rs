//! From shares of the vote to chances that mean something, and what is text at all.

use super::Character;
use super::vote::{Row, Slot};

/// Rows whose letters have a smaller mean chance than this are grain or ornament, not text.
const TEXT_FROM: f64 = 0.45;

/// Alternatives with a smaller chance than this are left out.
const ALTERNATIVE_FROM: f64 = 0.005;

/// A row's characters with calibrated chances, or nothing if it isn't text.
pub(super) fn characters(row: &Row) -> Option<Vec<Character>> {
    let mut out: Vec<Character> = row.slots.iter().filter_map(character).collect();
    let blank = |c: &Character| c.text == " ";
    while out.last().is_some_and(blank) {
        out.pop();
    }
    let lead = out.iter().take_while(|c| blank(c)).count();
    out.drain(..lead);
    out.dedup_by(|a, b| a.text == " " && b.text == " ");
    let letters: Vec<&Character> = out
        .iter()
        .filter(|c| c.text.chars().any(char::is_alphanumeric))
        .collect();
    let mean = letters.iter().map(|c| c.confidence).sum::<f64>() / letters.len().max(1) as f64;
    let least = if letters.len() < 3 { 0.7 } else { TEXT_FROM };
    (!letters.is_empty() && mean >= least).then_some(out)
}

/// A slot's winner with its alternatives; nothing where the vote says that nothing stands there.
fn character(slot: &Slot) -> Option<Character> {
    let (text, share) = slot.shares.first()?;
    if text.is_empty() {
        return None;
    }
    Some(Character {
        text: text.clone(),
        confidence: crate::chance::clamp(*share),
        alternatives: slot.shares[1..]
            .iter()
            .filter(|s| s.1 >= ALTERNATIVE_FROM)
            .cloned()
            .collect(),
    })
}
