//! Words of the pages on which photographs are taken and a visit is kept.

pub const TAKE_PHOTOGRAPHS: &str = "Take photographs";
pub const CHOOSE_TAKEN: &str = "Choose photographs that were taken before";
pub const WHOLE_FIRST: &str = "First the whole back with all its edges.";
pub const LOT: &str = "Lot number, if there is one";
pub const NEXT_PICTURE: &str = "Next picture";
pub const STILL_MISSING: &str = "Still missing";
pub const TAKEN: &str = "Taken just now";
pub const RAKING: &str =
    "It is read poorly as it is: once more with the light from one side, low over the surface.";
pub const NOT_ARRIVED: &str = "this photograph isn't here";
pub const SEND_AGAIN: &str = "send it again";
pub const VISITS: &str = "Visits";
pub const THIS_VISIT: &str = "All pictures of this visit";
pub const NO_VISITS: &str = "No visit yet. One begins with the first photograph that is taken.";
pub const VISIT_NAME: &str = "What this visit is called";
pub const SALE_DAY: &str = "Day of the sale, if there is one";
pub const SAVE: &str = "Save";
pub const NOTHING_MISSING: &str = "No photograph is missing.";
pub const MORE_PHOTOGRAPHS: &str = "More photographs";

pub fn visit_of(day: &str) -> String {
    format!("Visit of {day}")
}
pub fn lot(number: &str) -> String {
    format!("lot {number}")
}
pub fn again(pictures: usize) -> String {
    match pictures {
        0 => "No photograph is missing.".into(),
        1 => "1 picture wants another photograph.".into(),
        n => format!("{n} pictures want another photograph."),
    }
}
pub fn marks_missing(count: usize) -> String {
    match count {
        1 => "1 mark wants another photograph:".into(),
        n => format!("{n} marks want another photograph:"),
    }
}
/// How long it is until the sale; `days` below 0: it is over.
pub fn sale_in(day: &str, days: i32) -> String {
    match days {
        0 => "The sale is today.".into(),
        1 => "The sale is tomorrow.".into(),
        n if n < 0 => format!("The sale was on {day}."),
        n => format!("The sale is on {day}, in {n} days."),
    }
}
/// Of how many marks the lettering is in no doubt.
pub fn read_well((marks, well): (usize, usize)) -> String {
    match marks {
        0 => "No mark found.".into(),
        n => format!("{well} of {n} marks read well."),
    }
}
/// How far a picture is that is being photographed.
pub fn read_so_far(waiting: usize, read: (usize, usize)) -> String {
    let still = match waiting {
        0 => String::new(),
        1 => " 1 photograph is still being read.".to_owned(),
        n => format!(" {n} photographs are still being read."),
    };
    read_well(read) + &still
}
