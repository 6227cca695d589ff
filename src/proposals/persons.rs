//! How labels name a person who is listed by all names: as listed, by initials, by one given name, by the surname alone.

/// Shares of the habits: as listed; by all initials; by the first of several; by the first of several given names; by
/// the surname alone. Fitted on made labels (`benches/trials/lists.md`).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habits {
    /// As listed, in any of the listed forms.
    pub listed: f32,
    /// J. M. W. Turner.
    pub initials: f32,
    /// J. Turner.
    pub initial: f32,
    /// Joseph Turner.
    pub first: f32,
    /// Turner.
    pub surname: f32,
}

/// See [`Habits`].
pub const HABITS: Habits = Habits {
    listed: 0.5,
    initials: 0.18,
    initial: 0.04,
    first: 0.04,
    surname: 0.24,
};

/// Given names and the surname with its particles; nothing of a name of one word or one that is written surname first.
fn parts(name: &str) -> Option<(Vec<&str>, Vec<&str>)> {
    let words: Vec<&str> = name.split_whitespace().collect();
    let small = |w: &&str| w.starts_with(char::is_lowercase);
    let particle = words.iter().skip(1).position(small).map(|i| i + 1);
    let last = particle.unwrap_or(words.len().saturating_sub(1));
    let (given, surname) = words.split_at(last);
    let both = !given.is_empty() && !surname.is_empty() && !name.contains(',');
    both.then(|| (given.to_vec(), surname.to_vec()))
}

/// The surname of a name, if that can be told.
pub fn surname(name: &str) -> Option<String> {
    Some(parts(name)?.1.join(" "))
}

/// Other ways to write a name, each with its share; none of a name of one word.
///
/// * `name`: given names before the surname, particles in small letters belonging to that.
pub fn ways(name: &str) -> Vec<(String, f32)> {
    let Some((given, surname)) = parts(name) else {
        return Vec::new();
    };
    let surname = surname.join(" ");
    let initials = given.iter().filter_map(|w| w.chars().next());
    let initials: Vec<String> = initials.map(String::from).collect();
    let with = |before: &str| format!("{before} {surname}");
    let mut out = vec![
        (with(&initials.join(" ")), HABITS.initials),
        (surname.clone(), HABITS.surname),
    ];
    if given.len() > 1 {
        out.push((with(&initials[0]), HABITS.initial));
        out.push((with(given[0]), HABITS.first));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(name: &str) -> Vec<String> {
        ways(name).into_iter().map(|w| w.0).collect()
    }

    #[test]
    fn a_person_is_named_by_initials_one_name_or_the_surname() {
        assert_eq!(
            texts("Amos Bert Wintle"),
            ["A B Wintle", "Wintle", "A Wintle", "Amos Wintle"]
        );
        assert_eq!(
            texts("Jan van der Quell"),
            ["J van der Quell", "van der Quell"]
        );
        assert_eq!(texts("Quillo"), Vec::<String>::new());
        assert_eq!(texts(""), Vec::<String>::new());
    }
}
