//! The numbers of the weighing by name, for trying and fitting them.

use dorso::proposals::calibration::Calibration;

/// A number of the weighing.
pub enum Knob {
    /// Half precision.
    Single(fn(&mut Calibration) -> &mut f32),
    /// Double precision.
    Double(fn(&mut Calibration) -> &mut f64),
}

/// All numbers that may be set from outside.
pub const KNOBS: &[(&str, Knob)] = &[
    ("slope", Knob::Double(|c| &mut c.slope)),
    ("measured_slope", Knob::Double(|c| &mut c.measured_slope)),
    ("among", Knob::Double(|c| &mut c.among)),
    ("bias", Knob::Double(|c| &mut c.unlisted_bias)),
    ("few", Knob::Double(|c| &mut c.few)),
    ("long", Knob::Double(|c| &mut c.long)),
    ("long_share", Knob::Double(|c| &mut c.long_share)),
    ("shared", Knob::Double(|c| &mut c.shared)),
    ("known", Knob::Single(|c| &mut c.known)),
    ("half_known", Knob::Single(|c| &mut c.half_known)),
    ("known_place", Knob::Single(|c| &mut c.known_place)),
    ("common", Knob::Single(|c| &mut c.common)),
    ("trade_agrees", Knob::Single(|c| &mut c.trade_agrees)),
    ("trade_differs", Knob::Single(|c| &mut c.trade_differs)),
    ("misread", Knob::Single(|c| &mut c.costs.misread)),
    ("measured", Knob::Single(|c| &mut c.costs.measured)),
    ("prior", Knob::Single(|c| &mut c.costs.prior)),
    ("inner", Knob::Single(|c| &mut c.costs.inner)),
    ("alike", Knob::Single(|c| &mut c.costs.alike)),
    ("added", Knob::Single(|c| &mut c.costs.added)),
    ("missing", Knob::Single(|c| &mut c.costs.missing)),
    (
        "missing_by_loss",
        Knob::Single(|c| &mut c.costs.missing_by_loss),
    ),
    (
        "missing_by_stretch",
        Knob::Single(|c| &mut c.costs.missing_by_stretch),
    ),
    (
        "further_at_edge",
        Knob::Single(|c| &mut c.costs.further_at_edge),
    ),
    (
        "missing_at_edge",
        Knob::Single(|c| &mut c.costs.missing_at_edge),
    ),
    (
        "loss_too_long",
        Knob::Single(|c| &mut c.costs.loss_too_long),
    ),
    ("off_word", Knob::Single(|c| &mut c.costs.off_word)),
    ("space_within", Knob::Single(|c| &mut c.costs.space_within)),
    ("split", Knob::Single(|c| &mut c.costs.split)),
    ("name", Knob::Single(|c| &mut c.absence.name)),
    ("other_name", Knob::Single(|c| &mut c.absence.other_name)),
    ("address", Knob::Single(|c| &mut c.absence.address)),
    ("further", Knob::Single(|c| &mut c.absence.further)),
    ("town", Knob::Single(|c| &mut c.absence.town)),
    (
        "other_address",
        Knob::Single(|c| &mut c.absence.other_address),
    ),
    ("unread", Knob::Single(|c| &mut c.absence.unread)),
    ("other_town", Knob::Single(|c| &mut c.absence.other_town)),
];

/// The number called `name`; only one of the examples that share this file asks for it.
#[allow(dead_code)]
pub fn get(fit: &mut Calibration, name: &str) -> Option<f64> {
    match &KNOBS.iter().find(|k| k.0 == name)?.1 {
        Knob::Single(f) => Some(f64::from(*f(fit))),
        Knob::Double(f) => Some(*f(fit)),
    }
}

/// Sets the number called `name`; `false` if there is none.
pub fn set(fit: &mut Calibration, name: &str, value: f64) -> bool {
    match KNOBS.iter().find(|k| k.0 == name).map(|k| &k.1) {
        Some(Knob::Single(f)) => *f(fit) = value as f32,
        Some(Knob::Double(f)) => *f(fit) = value,
        None => return false,
    }
    true
}

/// The shipped numbers, changed by those arguments that read `NAME=NUMBER`.
pub fn from_arguments(arguments: &[String]) -> Calibration {
    let mut fit = Calibration::default();
    for (name, value) in arguments.iter().filter_map(|a| a.split_once('=')) {
        if let Ok(value) = value.parse() {
            set(&mut fit, name, value);
        }
    }
    fit
}
