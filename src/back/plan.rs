//! stub
use crate::geometry::Homography;
use image::RgbImage;
#[derive(Debug)]
pub struct Features {}
#[derive(Debug)]
pub struct Place {
    pub face: usize,
    pub to_plan: Homography,
    pub error_px: f64,
    pub chance: f64,
}
#[derive(Debug)]
pub struct Plan {
    pub ground: Option<usize>,
    pub places: Vec<Option<Place>>,
}
pub fn features(_p: &RgbImage) -> Features {
    Features {}
}
pub fn lay(p: &[&Features]) -> Plan {
    Plan {
        ground: None,
        places: p.iter().map(|_| None).collect(),
    }
}
