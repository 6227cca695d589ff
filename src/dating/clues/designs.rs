//! British registered designs: the lozenge of 1842-83 and the numbers from 1884.
//!
//! Source: National Archives guide *Registered designs 1839-1991*; G. Godden, *Encyclopaedia of
//! British Pottery and Porcelain Marks*, 1964. The numbers were taken from one copy and agree with
//! Godden, from memory, to within a few; those of 1903 to 1912 are estimates.

/// Year letters of the first cycle, 1842-67.
pub const FIRST_CYCLE: &[(char, i32)] = &[
    ('A', 1845),
    ('B', 1858),
    ('C', 1844),
    ('D', 1852),
    ('E', 1855),
    ('F', 1847),
    ('G', 1863),
    ('H', 1843),
    ('I', 1846),
    ('J', 1854),
    ('K', 1857),
    ('L', 1856),
    ('M', 1859),
    ('N', 1864),
    ('O', 1862),
    ('P', 1851),
    ('Q', 1866),
    ('R', 1861),
    ('S', 1849),
    ('T', 1867),
    ('U', 1848),
    ('V', 1850),
    ('W', 1865),
    ('X', 1842),
    ('Y', 1853),
    ('Z', 1860),
];

/// Year letters of the second cycle, 1868-83. W stands only for 1-6 March 1878.
pub const SECOND_CYCLE: &[(char, i32)] = &[
    ('A', 1871),
    ('C', 1870),
    ('D', 1878),
    ('E', 1881),
    ('F', 1873),
    ('H', 1869),
    ('I', 1872),
    ('J', 1880),
    ('K', 1883),
    ('L', 1882),
    ('P', 1877),
    ('S', 1875),
    ('U', 1874),
    ('V', 1876),
    ('W', 1878),
    ('X', 1868),
    ('Y', 1879),
];

/// Month letters of both cycles.
pub const MONTHS: &[(char, u8)] = &[
    ('C', 1),
    ('G', 2),
    ('W', 3),
    ('H', 4),
    ('E', 5),
    ('M', 6),
    ('I', 7),
    ('R', 8),
    ('D', 9),
    ('B', 10),
    ('K', 11),
    ('A', 12),
];

/// First number of each January from 1884 on.
pub const NUMBERS: &[(i32, u32)] = &[
    (1884, 1),
    (1885, 19756),
    (1886, 40480),
    (1887, 64520),
    (1888, 90483),
    (1889, 116648),
    (1890, 141273),
    (1891, 163767),
    (1892, 185713),
    (1893, 205240),
    (1894, 224720),
    (1895, 246975),
    (1896, 268392),
    (1897, 291241),
    (1898, 311658),
    (1899, 331707),
    (1900, 351202),
    (1901, 368154),
    (1902, 385180),
    (1903, 403200),
    (1904, 424400),
    (1905, 447800),
    (1906, 471860),
    (1907, 493900),
    (1908, 518640),
    (1909, 535170),
    (1910, 552000),
    (1911, 574817),
    (1912, 594195),
    (1913, 612431),
    (1914, 630190),
    (1915, 644935),
    (1916, 653521),
    (1917, 658988),
    (1918, 662872),
    (1919, 666128),
    (1920, 673750),
    (1921, 680147),
    (1922, 687144),
    (1923, 694999),
    (1924, 702671),
    (1925, 710165),
    (1926, 718057),
    (1927, 726330),
    (1928, 734370),
    (1929, 742725),
    (1930, 751160),
    (1931, 760583),
    (1932, 769670),
    (1933, 779292),
    (1934, 789019),
    (1935, 799097),
    (1936, 808794),
    (1937, 817293),
    (1938, 825231),
    (1939, 832610),
    (1940, 837520),
    (1941, 838590),
    (1942, 839230),
    (1943, 839980),
    (1944, 841040),
    (1945, 842670),
    (1946, 845550),
    (1947, 849730),
    (1948, 853260),
    (1949, 856999),
    (1950, 860854),
    (1951, 863970),
];

/// The year in which a number was registered; `None` for 0.
///
/// ```
/// use dorso_weighing::dating::clues::designs::year_of_number;
/// assert_eq!(year_of_number(116_648), Some(1889));
/// assert_eq!(year_of_number(141_272), Some(1889));
/// ```
///
/// Numbers after January 1951 all give 1951: not before that year.
pub fn year_of_number(number: u32) -> Option<i32> {
    NUMBERS
        .iter()
        .rev()
        .find(|(_, first)| *first <= number)
        .map(|(year, _)| *year)
}

/// What stands in the corners of a lozenge, as far as legible.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Lozenge {
    /// Below the class.
    pub top: String,
    /// Right corner.
    pub right: String,
    /// Bottom corner.
    pub bottom: String,
    /// Left corner.
    pub left: String,
}

impl Lozenge {
    /// The date of registration in EDTF, as exactly as the corners say: `1868`, `1868-01`,
    /// `1868-01-12`. `None` where they give no year.
    ///
    /// First cycle: top year, left month, right day, bottom parcel. Second: top day, left parcel,
    /// right year, bottom month. A corner with figures tells which.
    ///
    /// ```
    /// use dorso_weighing::dating::clues::designs::Lozenge;
    /// let l = Lozenge { top: "X".into(), right: "12".into(), bottom: "5".into(), left: "C".into() };
    /// assert_eq!(l.date(), Some("1842-01-12".into()));
    /// ```
    pub fn date(&self) -> Option<String> {
        let figures = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
        let letter = |t: &str| {
            let mut c = t.chars();
            match (c.next(), c.next()) {
                (Some(c), None) if c.is_ascii_alphabetic() => Some(c.to_ascii_uppercase()),
                _ => None,
            }
        };
        let first = figures(&self.right) || figures(&self.bottom) || letter(&self.top).is_some();
        let second = figures(&self.top) || figures(&self.left) || letter(&self.right).is_some();
        if first == second {
            return None;
        }
        let (table, year, month, day) = if first {
            (FIRST_CYCLE, &self.top, &self.left, &self.right)
        } else {
            (SECOND_CYCLE, &self.right, &self.bottom, &self.top)
        };
        let year_letter = letter(year)?;
        let find = |c: char| MONTHS.iter().find(|(l, _)| *l == c).map(|(_, m)| *m);
        let mut year = table.iter().find(|(l, _)| *l == year_letter)?.1;
        let month_letter = letter(month);
        let mut month = month_letter.and_then(find);
        let day: Option<u8> = day.parse().ok().filter(|d| (1..=31).contains(d));
        // Known irregular (Godden, from memory)
        if first && month_letter == Some('R') && year == 1857 && day.is_none_or(|d| d <= 19) {
            month = None;
        }
        if first && month_letter == Some('K') && year == 1860 {
            month = None;
        }
        if !first && year_letter == 'W' {
            (year, month) = (1878, Some(3));
        }
        Some(match (month, day) {
            (Some(m), Some(d)) => format!("{year:04}-{m:02}-{d:02}"),
            (Some(m), None) => format!("{year:04}-{m:02}"),
            _ => format!("{year:04}"),
        })
    }
}
