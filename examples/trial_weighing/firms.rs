//! Invented firms with confusable names, and readings of their labels damaged in known ways.
//!
//! Everything is drawn from one seed. Two sets of names: costs are fitted on [`Names::Fitting`]
//! only, and figures are reported on [`Names::Trial`].

use dorso::gazetteer::{Entry, Gazetteer, List};
use rand::prelude::*;
use rand_chacha::ChaCha8Rng;

/// Which names are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Names {
    /// For reporting.
    #[allow(dead_code)]
    Trial,
    /// For fitting costs and calibration.
    Fitting,
}

/// How badly a reading is damaged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Damage {
    /// Share of the name's letters lost in one run.
    pub lost: f64,
    /// Chance that a letter still there was read as another.
    pub misread: f64,
}

/// 30% lost, 10% misread.
pub const USUAL: Damage = Damage {
    lost: 0.30,
    misread: 0.10,
};

/// 45% lost, 16% misread.
pub const HARD: Damage = Damage {
    lost: 0.45,
    misread: 0.16,
};

/// A damaged reading with its truth.
#[derive(Debug, Clone)]
pub struct Question {
    /// Lines with editorial signs, parted by line breaks.
    pub text: String,
    /// Key of the true entry; `None`: on no list.
    pub entry: Option<String>,
}

const GIVEN: &[(&str, &str)] = &[
    ("John", "Jno."),
    ("James", "Jas."),
    ("Joseph", "Jos."),
    ("William", "Wm."),
    ("Walter", "Walt."),
    ("Thomas", "Thos."),
    ("Charles", "Chas."),
    ("George", "Geo."),
    ("Henry", "Hy."),
    ("Robert", "Robt."),
    ("Richard", "Richd."),
    ("Edward", "Edwd."),
    ("Edmund", "Edm."),
    ("Samuel", "Saml."),
    ("Daniel", "Danl."),
    ("Frederick", "Fredk."),
    ("Benjamin", "Benjn."),
    ("Alfred", "A."),
    ("Peter", "P."),
    ("Stephen", "S."),
];

const TYPES: &[(&str, &str)] = &[
    ("Street", "St."),
    ("Road", "Rd."),
    ("Lane", "Lane"),
    ("Square", "Sq."),
    ("Row", "Row"),
    ("Place", "Pl."),
    ("Terrace", "Terr."),
];

const TRADES: &[&str] = &[
    "carver and gilder",
    "picture frame maker",
    "artists' colourman",
    "printseller",
    "looking glass manufacturer",
];

struct Sounds {
    heads: &'static [&'static str],
    middles: &'static [&'static str],
    tails: &'static [&'static str],
    streets: &'static [&'static str],
    towns: &'static [&'static str],
    ends: &'static [&'static str],
}

const TRIAL: Sounds = Sounds {
    heads: &[
        "Har", "Hor", "Hal", "Mar", "Mer", "Mor", "Thor", "Thack", "Tar", "Ler", "Lan", "Bar",
        "Ber", "Bran", "Cran", "Car", "Dar", "Dun", "Pen", "Pem", "Wal", "Wil", "Wen", "Sal",
        "Sel", "Ram", "Rad", "Gar", "Gil", "Ash",
    ],
    middles: &["", "", "ro", "ra", "le", "ing", "en", "der", "mo", "ne"],
    tails: &[
        "by", "ley", "low", "ton", "wick", "worth", "field", "man", "son", "well", "bury", "shaw",
        "combe", "wood", "ridge",
    ],
    streets: &[
        "Castle", "Chapel", "Cherry", "Church", "Market", "Marlet", "Mercer", "Minster", "Tanner",
        "Turner", "Tallow", "Finkle", "Fisher", "Friar", "Forge", "Bridge", "Broad", "Brook",
        "Baker", "Barker", "Silver", "Salter", "Saddler", "Sheep", "Stone", "Well", "Water",
        "Wharf", "West", "North", "South", "Queen", "King", "Prince", "Duke", "High", "Hill",
        "Long", "Low", "Lime",
    ],
    towns: &[
        "Wex", "Hal", "Kend", "Carn", "Marl", "Ludd", "Stam", "Oak", "Pet", "Roth", "Sed", "Thir",
        "Ulver", "Whit", "Eg", "Bam", "Cros", "Dar", "Fal", "Gar",
    ],
    ends: &["ham", "ford", "caster"],
};

const FITTING: Sounds = Sounds {
    heads: &[
        "Fen", "Fin", "Far", "Nor", "Nar", "Nel", "Ol", "Old", "Os", "Kel", "Kil", "Kar", "Vin",
        "Ven", "Trem", "Tren", "Pol", "Pal", "Col", "Cul", "Cor", "Hub", "Hum", "Sten", "Stan",
        "Win", "Won", "Yar", "Bux", "Bos",
    ],
    middles: &["", "", "a", "er", "ber", "ti", "or", "es", "ga", "nel"],
    tails: &[
        "ard", "brook", "cote", "croft", "dale", "ford", "gate", "ham", "hurst", "land", "mere",
        "nell", "stone", "thorpe", "way",
    ],
    streets: &[
        "Abbey", "Albion", "Angel", "Anchor", "Bell", "Bond", "Bull", "Butter", "Canon", "Cross",
        "Dean", "Dyer", "Ferry", "Fore", "George", "Glover", "Grove", "Ivy", "Kirk", "Lamb",
        "Maiden", "Mill", "Mount", "Nelson", "New", "Orchard", "Park", "Pipe", "Pool", "Pump",
        "Quay", "Rope", "Rose", "Sand", "Swan", "Temple", "Tower", "Union", "Vine", "Wool",
    ],
    towns: &[
        "Al", "Bel", "Cam", "Dor", "El", "Fen", "Glen", "Hex", "Ives", "Kir", "Lan", "Mel", "Nes",
        "Or", "Pol", "Rip", "Sal", "Tor", "Ux", "Wim",
    ],
    ends: &["wick", "bridge", "port"],
};

/// Invented firms and questions about them.
pub struct Firms {
    sounds: &'static Sounds,
    rng: ChaCha8Rng,
    surnames: Vec<String>,
    /// Surnames that no entry has.
    strange: Vec<String>,
    /// Firms on the list.
    pub listed: Vec<Entry>,
    made: std::collections::HashSet<String>,
}

impl Firms {
    /// `count` firms from a seed.
    pub fn new(names: Names, count: usize, seed: u64) -> Self {
        let sounds = match names {
            Names::Trial => &TRIAL,
            Names::Fitting => &FITTING,
        };
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut surnames: Vec<String> = Vec::new();
        for h in sounds.heads {
            for m in sounds.middles {
                for t in sounds.tails {
                    surnames.push(format!("{h}{m}{t}"));
                }
            }
        }
        surnames.sort();
        surnames.dedup();
        surnames.shuffle(&mut rng);
        let strange = surnames.split_off((count / 12).clamp(20, 3000).min(surnames.len()));
        let mut firms = Firms {
            sounds,
            rng,
            surnames,
            strange,
            listed: Vec::new(),
            made: std::collections::HashSet::new(),
        };
        for i in 0..count {
            let mut e = firms.firm();
            e.entry = format!("firm-{i}");
            e.row = i + 2;
            firms.listed.push(e);
        }
        firms
    }

    /// The list as the program takes it.
    pub fn gazetteer(&self) -> Gazetteer {
        Gazetteer {
            lists: vec![List {
                name: "framers".into(),
                file: "framers.csv".into(),
                role: None,
                entries: self.listed.clone().into(),
                digest: None,
            }],
        }
    }

    fn pick<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.rng.random_range(0..all.len())]
    }

    /// A firm that is on no list.
    #[allow(dead_code)]
    pub fn stranger(&mut self) -> Entry {
        self.firm()
    }

    /// A firm that isn't made yet.
    fn firm(&mut self) -> Entry {
        loop {
            let i = self.rng.random_range(0..self.surnames.len());
            let surname = self.surnames[i].clone();
            let (given, _) = self.pick(GIVEN);
            let (second, _) = self.pick(GIVEN);
            let name = match self.rng.random_range(0..20) {
                0..9 => format!("{given} {surname}"),
                9..12 => format!("{given} {surname} & Son"),
                12..14 => format!("{surname} & Co."),
                14..16 => format!("{surname} Brothers"),
                16..18 => format!("{} & {} {surname}", &given[..1], &second[..1]),
                _ => {
                    let k = self.rng.random_range(0..self.surnames.len());
                    format!("{surname} & {}", self.surnames[k])
                }
            };
            let number = self.rng.random_range(1..120);
            let street = self.pick(self.sounds.streets);
            let (kind, _) = self.pick(TYPES);
            let (head, tail) = (self.pick(self.sounds.towns), self.pick(self.sounds.ends));
            let town = format!("{head}{tail}");
            if !self.made.insert(format!("{name} {town}")) {
                continue;
            }
            let from = self.rng.random_range(1790..1900);
            return Entry {
                list: "framers".into(),
                name,
                trade: self.pick(TRADES).into(),
                address: format!("{number} {street} {kind}"),
                town,
                from: from.to_string(),
                to: (from + self.rng.random_range(2..30)).to_string(),
                source: "invented for trials".into(),
                ..Entry::default()
            };
        }
    }

    /// A label on which nothing is lost, read well: of a firm on the list, or of one whose surname no
    /// entry has (every other of them at the premises of a listed firm).
    #[allow(dead_code)]
    pub fn clear(&mut self, listed: bool) -> Question {
        let i = self.rng.random_range(0..self.listed.len());
        let mut entry = self.listed[i].clone();
        if !listed {
            let own = self.firm();
            let k = self.rng.random_range(0..self.strange.len());
            let (given, _) = self.pick(GIVEN);
            entry.name = format!("{given} {}", self.strange[k]);
            if self.rng.random_bool(0.5) {
                (entry.address, entry.town, entry.trade) = (own.address, own.town, own.trade);
            }
        }
        let mut lines = vec![self.as_printed(&entry.name)];
        if self.rng.random_bool(0.6) {
            lines.push(entry.trade.to_uppercase());
        }
        lines.push(entry.address.clone());
        if self.rng.random_bool(0.5) {
            lines.push(entry.town.to_uppercase());
        }
        Question {
            text: self.misread(&lines.join("\n"), 0.01),
            entry: listed.then_some(entry.entry),
        }
    }

    /// A damaged reading of a label; `listed`: of a firm on the list.
    pub fn question(&mut self, listed: bool, damage: Damage) -> Question {
        let entry = if listed {
            let i = self.rng.random_range(0..self.listed.len());
            self.listed[i].clone()
        } else {
            self.firm()
        };
        let name = self.as_printed(&entry.name);
        let name = self.run_lost(&name, damage.lost);
        let name = self.misread(&name, damage.misread);
        let mut lines = vec![name];
        if self.rng.random_bool(0.6) {
            let trade = self.misread(&entry.trade.to_uppercase(), damage.misread);
            lines.push(trade);
        }
        let mut street = entry.address.clone();
        if self.rng.random_bool(0.5) {
            for (long, short) in TYPES {
                street = street.replace(long, short);
            }
        }
        let mut town = entry.town.to_uppercase();
        let whole = self.rng.random_bool(0.5);
        let harmed = if self.rng.random_bool(0.5) {
            &mut town
        } else {
            &mut street
        };
        if whole {
            harmed.clear();
        } else {
            let text = harmed.clone();
            *harmed = self.torn(&text);
        }
        let street = self.misread(&street, damage.misread);
        let town = self.misread(&town, damage.misread);
        lines.extend([street, town].into_iter().filter(|l| !l.is_empty()));
        Question {
            text: lines.join("\n"),
            entry: listed.then_some(entry.entry),
        }
    }

    /// Given names in full, shortened or as an initial; capitals or not.
    fn as_printed(&mut self, name: &str) -> String {
        let mut out = name.to_string();
        for (long, short) in GIVEN {
            if name.starts_with(long) {
                out = match self.rng.random_range(0..4) {
                    0 => name.replacen(long, short, 1),
                    1 => name.replacen(long, &format!("{}.", &long[..1]), 1),
                    _ => out,
                };
                break;
            }
        }
        if self.rng.random_bool(0.6) {
            out = out.to_uppercase();
        }
        out
    }

    /// A run of `share` of the letters is lost; told by points, or one time in four as of unknown
    /// length.
    fn run_lost(&mut self, text: &str, share: f64) -> String {
        let all: Vec<char> = text.chars().collect();
        let count = (all.len() as f64 * share).round() as usize;
        if count == 0 {
            return text.to_string();
        }
        let at = self.rng.random_range(0..=all.len() - count);
        let sign = if self.rng.random_bool(0.25) {
            "[---]".to_string()
        } else {
            format!("[{}]", ".".repeat(count))
        };
        let (head, tail) = (&all[..at], &all[at + count..]);
        head.iter().collect::<String>() + &sign + &tail.iter().collect::<String>()
    }

    /// Half of it torn away at one end.
    fn torn(&mut self, text: &str) -> String {
        let all: Vec<char> = text.chars().collect();
        let keep = all.len() / 2;
        if self.rng.random_bool(0.5) {
            all[..keep].iter().collect::<String>() + "[---]"
        } else {
            "[---]".to_string() + &all[all.len() - keep..].iter().collect::<String>()
        }
    }

    /// Letters outside brackets are read as others, six times in ten as one that looks alike; some
    /// are lost or added.
    fn misread(&mut self, text: &str, chance: f64) -> String {
        let mut out = String::new();
        let mut within = false;
        for c in text.chars() {
            within = (within || c == '[') && c != ']';
            if within || !c.is_alphanumeric() || !self.rng.random_bool(chance) {
                out.push(c);
                continue;
            }
            // One misreading in eight loses the letter, one in sixteen adds one
            match self.rng.random_range(0..16) {
                0 | 1 => continue,
                2 => out.push(c),
                _ => {}
            }
            if self.rng.random_bool(0.6) {
                out.push_str(self.alike(c));
            } else if c.is_ascii_digit() {
                out.push(char::from(b'0' + self.rng.random_range(0..10)));
            } else {
                let x = char::from(b'a' + self.rng.random_range(0..26));
                out.push(if c.is_uppercase() {
                    x.to_ascii_uppercase()
                } else {
                    x
                });
            }
        }
        out
    }

    fn alike(&mut self, c: char) -> &'static str {
        let all: &[&'static str] = match c {
            'a' => &["o", "e", "ci"],
            'b' => &["h", "6", "lo"],
            'c' => &["e", "o"],
            'd' => &["cl", "a"],
            'e' => &["c", "o"],
            'f' => &["t", "s"],
            'g' => &["q", "y", "9"],
            'h' => &["b", "k", "li"],
            'i' => &["l", "1", "t"],
            'k' => &["h", "x"],
            'l' => &["i", "1", "t"],
            'm' => &["rn", "n", "in"],
            'n' => &["u", "h", "ri", "m"],
            'o' => &["c", "e", "a", "0"],
            'r' => &["n", "t"],
            's' => &["5", "f", "8"],
            't' => &["f", "l"],
            'u' => &["n", "v", "ii"],
            'v' => &["y", "u"],
            'w' => &["vv", "v"],
            'y' => &["v", "g"],
            'A' => &["R", "4"],
            'B' => &["8", "R", "E"],
            'C' => &["G", "O"],
            'D' => &["O", "B"],
            'E' => &["F", "B"],
            'F' => &["P", "E"],
            'G' => &["C", "6"],
            'H' => &["N", "K"],
            'I' => &["1", "L", "T"],
            'K' => &["X", "R"],
            'L' => &["I", "T"],
            'M' => &["N", "W"],
            'N' => &["H", "M"],
            'O' => &["0", "Q", "C"],
            'P' => &["F", "R"],
            'R' => &["K", "P"],
            'S' => &["5", "8"],
            'T' => &["I", "F"],
            'U' => &["V", "O"],
            'V' => &["Y", "U"],
            'W' => &["VV", "M"],
            'Y' => &["V", "T"],
            '0' => &["6", "O"],
            '1' => &["7", "l"],
            '3' => &["8", "5"],
            '5' => &["S", "6"],
            '6' => &["8", "0"],
            '7' => &["1", "2"],
            '8' => &["3", "B"],
            _ => &["o", "n", "r"],
        };
        self.pick(all)
    }
}
