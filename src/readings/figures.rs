//! Noughts that were taken for the letter O, which many faces and typewriters cut alike.

use super::Character;

/// Fewer signs than this side by side tell nothing.
const LEAST: usize = 3;

/// Chance that an O among figures is a nought. Set by judgement: common practice in numbers of catalogues
/// and collections, of which few mix letters and figures without a stop or a dash between.
const NOUGHT: f64 = 0.95;

/// Reads an O as a nought where it stands in a number: in a run of figures and Os, one figure at least,
/// with no letter, and nothing lost, on either side. The O stays among the alternatives.
pub(super) fn noughts(line: &mut [Character]) {
    let is_o = |c: &Character| matches!(c.text.as_str(), "O" | "o");
    let in_number = |c: &Character| is_o(c) || figure(c);
    let mut at = 0;
    while at < line.len() {
        let end = (at..line.len())
            .find(|&i| in_number(&line[i]) != in_number(&line[at]))
            .unwrap_or(line.len());
        let parts = |c: Option<&Character>| {
            c.is_none_or(|c| !c.is_lost() && !c.text.chars().any(char::is_alphanumeric))
        };
        let number = in_number(&line[at])
            && end - at >= LEAST
            && line[at..end].iter().any(figure)
            && parts(at.checked_sub(1).and_then(|i| line.get(i)))
            && parts(line.get(end));
        if number {
            line[at..end].iter_mut().filter(|c| is_o(c)).for_each(swap);
        }
        at = end;
    }
}

fn figure(c: &Character) -> bool {
    c.text.len() == 1 && c.text.bytes().all(|b| b.is_ascii_digit())
}

fn swap(c: &mut Character) {
    let nought = c.alternatives.iter().position(|a| a.0 == "0");
    let both = c.confidence + nought.map_or(0.0, |i| c.alternatives.remove(i).1);
    let letter = std::mem::replace(&mut c.text, "0".into());
    c.confidence = both * NOUGHT;
    c.alternatives.push((letter, both * (1.0 - NOUGHT)));
    c.alternatives.sort_by(|a, b| b.1.total_cmp(&a.1));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> String {
        let sign = |c: char| Character::sure(c.to_string().trim_matches('_'), 0.8);
        let mut line: Vec<Character> = text.chars().map(sign).collect();
        noughts(&mut line);
        line.iter().map(|c| c.text.as_str()).collect()
    }

    #[test]
    fn an_o_in_a_number_is_a_nought_and_one_in_a_word_or_alone_isnt() {
        assert_eq!(read("FEN-L-00Ooo6"), "FEN-L-000006");
        assert_eq!(read("No. 1OO"), "No. 100");
        for same in ["OOO", "No.12", "HOO1", "1OOm", "to 2o", "O2", "_O12"] {
            assert_eq!(read(same), same.trim_matches('_'), "{same}");
        }
    }

    #[test]
    fn the_letter_stays_an_alternative_and_chances_sum_to_at_most_one() {
        let o = Character {
            alternatives: vec![("0".into(), 0.3), ("Q".into(), 0.1)],
            ..Character::sure("O", 0.6)
        };
        let mut line = vec![Character::sure("1", 0.9), o, Character::sure("2", 0.9)];
        noughts(&mut line);
        let c = &line[1];
        assert_eq!(c.text, "0");
        assert!((c.confidence - 0.855).abs() < 1e-9, "{}", c.confidence);
        assert!((c.alternatives[1].1 - 0.045).abs() < 1e-9 && c.alternatives[1].0 == "O");
        let sum: f64 = c.confidence + c.alternatives.iter().map(|a| a.1).sum::<f64>();
        assert!(sum <= 1.0 + 1e-9);
    }
}
