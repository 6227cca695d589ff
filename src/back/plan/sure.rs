//! How surely two photographs lie to each other as fitted.

use super::fit::Signs;

/// Chance that a fit is right.
pub(super) fn chance(s: &Signs) -> f64 {
    let z = -9.0 + 2.0 * s.agreeing.ln_1p() + 2.0 * ((s.alike + 2.0) / (s.rival_alike + 2.0)).ln();
    1.0 / (1.0 + (-z).exp())
}
