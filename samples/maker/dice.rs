//! Seeded chance and natural-looking noise, the same on every machine.

/// A small seeded generator (splitmix64; constants as published by Steele, Lea and Flood, 2014).
#[derive(Clone)]
pub struct Dice(u64);

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Dice {
    pub fn new(seed: u64) -> Self {
        Dice(mix(seed ^ 0x5851_F42D_4C95_7F2D))
    }

    /// A generator of its own for a part of the work, so that a change in one part leaves the rest.
    pub fn part(&self, name: &str) -> Self {
        let mut h = self.0;
        for b in name.bytes() {
            h = mix(h ^ u64::from(b)).wrapping_add(0x9E37_79B9_7F4A_7C15);
        }
        Dice(h)
    }

    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        mix(self.0)
    }

    /// Uniform in 0 to 1.
    pub fn unit(&mut self) -> f32 {
        (self.bits() >> 40) as f32 / (1u64 << 24) as f32
    }

    /// Uniform between two bounds.
    pub fn between(&mut self, a: f32, b: f32) -> f32 {
        a + (b - a) * self.unit()
    }

    /// A whole number from `a` to `b`, both included.
    pub fn whole(&mut self, a: i32, b: i32) -> i32 {
        a + (self.bits() % (b - a + 1) as u64) as i32
    }

    pub fn chance(&mut self, p: f32) -> bool {
        self.unit() < p
    }

    /// One of a slice.
    pub fn pick<'a, T>(&mut self, of: &'a [T]) -> &'a T {
        &of[(self.bits() % of.len() as u64) as usize]
    }

    /// Bell-shaped, mean 0, standard deviation about 1.
    pub fn bell(&mut self) -> f32 {
        (0..6).map(|_| self.unit()).sum::<f32>() * std::f32::consts::SQRT_2 - 4.242_64
    }

    /// A seed for noise.
    pub fn seed(&mut self) -> u32 {
        self.bits() as u32
    }
}

#[inline]
fn hash(x: i32, y: i32, seed: u32) -> f32 {
    let mut h = (x as u32).wrapping_mul(0x9E37_79B1)
        ^ (y as u32).wrapping_mul(0x85EB_CA77)
        ^ seed.wrapping_mul(0xC2B2_AE3D);
    h = (h ^ (h >> 15)).wrapping_mul(0x2C1B_3C6D);
    h = (h ^ (h >> 12)).wrapping_mul(0x297A_2D39);
    h ^= h >> 15;
    (h >> 8) as f32 / 16_777_216.0
}

/// White noise on a grid, 0 to 1.
pub fn speck(x: i32, y: i32, seed: u32) -> f32 {
    hash(x, y, seed)
}

/// Rounded down; quicker than the library's where the processor has no instruction for it.
#[inline]
fn floor(x: f32) -> i32 {
    let i = x as i32;
    if i as f32 > x { i - 1 } else { i }
}

/// Value noise, 0 to 1, one lattice step per unit.
#[inline]
pub fn noise(x: f32, y: f32, seed: u32) -> f32 {
    let (ix, iy) = (floor(x), floor(y));
    let (fx, fy) = (ix as f32, iy as f32);
    let ease = |t: f32| t * t * (3.0 - 2.0 * t);
    let (u, v) = (ease(x - fx), ease(y - fy));
    let a = hash(ix, iy, seed);
    let b = hash(ix.wrapping_add(1), iy, seed);
    let c = hash(ix, iy.wrapping_add(1), seed);
    let d = hash(ix.wrapping_add(1), iy.wrapping_add(1), seed);
    (a + (b - a) * u) * (1.0 - v) + (c + (d - c) * u) * v
}

/// Noise summed over octaves, about 0 to 1 with its mean at 0.5.
pub fn fbm(x: f32, y: f32, octaves: u32, seed: u32) -> f32 {
    let (mut sum, mut weight, mut total) = (0.0, 0.5, 0.0);
    let (mut px, mut py) = (x, y);
    for i in 0..octaves {
        sum += weight * noise(px, py, seed.wrapping_add(i.wrapping_mul(7919)));
        total += weight;
        weight *= 0.5;
        let (qx, qy) = (px * 1.62 - py * 1.21, px * 1.21 + py * 1.62);
        px = qx + 17.3;
        py = qy - 9.1;
    }
    sum / total
}

/// 0 below `a`, 1 above `b`, eased between.
pub fn step(a: f32, b: f32, t: f32) -> f32 {
    let u = ((t - a) / (b - a)).clamp(0.0, 1.0);
    u * u * (3.0 - 2.0 * u)
}

pub fn lerp(a: f32, b: f32, t: f32) -> f32 {
    a + (b - a) * t
}

pub type Rgb = [f32; 3];

pub fn blend(a: Rgb, b: Rgb, t: f32) -> Rgb {
    [
        lerp(a[0], b[0], t),
        lerp(a[1], b[1], t),
        lerp(a[2], b[2], t),
    ]
}

pub fn times(a: Rgb, b: Rgb) -> Rgb {
    [a[0] * b[0], a[1] * b[1], a[2] * b[2]]
}

pub fn scaled(a: Rgb, k: f32) -> Rgb {
    [a[0] * k, a[1] * k, a[2] * k]
}

/// Linear light from an sRGB value given as 0xRRGGBB (transfer function of IEC 61966-2-1).
pub fn colour(hex: u32) -> Rgb {
    let one = |v: u32| {
        let c = (v & 255) as f32 / 255.0;
        if c <= 0.04045 {
            c / 12.92
        } else {
            ((c + 0.055) / 1.055).powf(2.4)
        }
    };
    [one(hex >> 16), one(hex >> 8), one(hex)]
}
