//! Component tree of a grey picture: every connected patch that is lighter than its surroundings,
//! at every level, each once, with its shape.
//!
//! Source of the construction: Nistér & Stewénius 2008, ECCV, "Linear time maximally stable
//! extremal regions" (flooding with a stack of open patches). Stability of a patch over levels: Matas et al. 2002, BMVC (maximally stable extremal
//! regions).

use super::raster;
use crate::geometry::Rect;
use image::GrayImage;

/// A connected patch of px that are all at least as light as `level`.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    /// Least grey value in the patch.
    pub level: u8,
    /// The patch around it; itself for the whole picture. Always a greater index.
    pub parent: u32,
    /// px.
    pub area: u32,
    /// Left, top, right, bottom px, all inside.
    pub span: [u16; 4],
    /// Sides of px that border on darker px (4-neighbours), counted.
    pub perimeter: i32,
    /// Sums of x, y, x², xy, y².
    sums: [f64; 5],
    /// A px of it: y · width + x.
    pub seed: u32,
}

impl Node {
    /// Bounds, px.
    pub fn bounds(&self) -> Rect {
        let [l, t, r, b] = self.span.map(i32::from);
        Rect::new(l, t, (r - l + 1) as u32, (b - t + 1) as u32)
    }

    /// Centre of gravity, px.
    pub fn centre(&self) -> (f64, f64) {
        let n = f64::from(self.area);
        (self.sums[0] / n + 0.5, self.sums[1] / n + 0.5)
    }

    /// Sides of the rectangle with the same second moments (longer, shorter, px) and the
    /// direction of the longer one, radians.
    pub fn shape(&self) -> (f64, f64, f64) {
        let n = f64::from(self.area);
        let (mx, my) = (self.sums[0] / n, self.sums[1] / n);
        // A px is a square of its own: 1/12 keeps a single px from having no size.
        let a = self.sums[2] / n - mx * mx + 1.0 / 12.0;
        let b = self.sums[3] / n - mx * my;
        let c = self.sums[4] / n - my * my + 1.0 / 12.0;
        let mid = (a + c) / 2.0;
        let off = ((a - c) / 2.0).hypot(b);
        let side = |v: f64| (12.0 * v.max(1.0 / 12.0)).sqrt();
        (
            side(mid + off),
            side(mid - off),
            0.5 * (2.0 * b).atan2(a - c),
        )
    }

    /// Area over that of the rectangle with the same second moments: 1 for any rectangle or
    /// parallelogram, 1.05 for an ellipse, less for rings, strokes and ragged patches.
    pub fn fullness(&self) -> f64 {
        let (long, short, _) = self.shape();
        f64::from(self.area) / (long * short)
    }
}

/// All patches; children come before their parents, the whole picture last.
pub(crate) struct Tree {
    /// Patches.
    pub nodes: Vec<Node>,
}

impl Tree {
    /// Builds the tree of light patches (8-neighbours). Invert the picture for dark ones.
    ///
    /// The picture is flooded from px to px, brightest first; patches that wait for darker px lie
    /// on a stack. Each px is touched a fixed number of times, near the last one.
    pub fn of(picture: &GrayImage) -> Tree {
        let (w, h) = (picture.width() as usize, picture.height() as usize);
        if w == 0 || h == 0 {
            return Tree { nodes: Vec::new() };
        }
        Flood::new(picture.as_raw(), w, h).run()
    }

    /// For each patch, how much it grows when the level falls by `step`: (area there − area) /
    /// area. 0 for a patch with sharp edges.
    pub fn growth(&self, step: u8) -> Vec<f32> {
        self.nodes
            .iter()
            .map(|n| {
                let floor = n.level.saturating_sub(step);
                let mut up = n;
                loop {
                    let next = &self.nodes[up.parent as usize];
                    if std::ptr::eq(next, up) || next.level < floor {
                        break;
                    }
                    up = next;
                }
                (up.area - n.area) as f32 / n.area as f32
            })
            .collect()
    }
}

const NONE: u32 = u32::MAX;

/// A patch that isn't closed yet.
#[derive(Clone)]
struct Open {
    /// 255 − grey value.
    depth: u16,
    area: u32,
    span: [u16; 4],
    perimeter: i32,
    sums: [f64; 5],
    seed: u32,
    /// Last closed patch in it; the others follow by `sibling`.
    child: u32,
}

impl Open {
    fn at(depth: u16) -> Open {
        Open {
            depth,
            area: 0,
            span: [u16::MAX, u16::MAX, 0, 0],
            perimeter: 0,
            sums: [0.0; 5],
            seed: 0,
            child: NONE,
        }
    }

    fn take(&mut self, other: &Open) {
        self.area += other.area;
        self.perimeter += other.perimeter;
        for k in 0..2 {
            self.span[k] = self.span[k].min(other.span[k]);
            self.span[k + 2] = self.span[k + 2].max(other.span[k + 2]);
        }
        self.sums
            .iter_mut()
            .zip(other.sums)
            .for_each(|(a, b)| *a += b);
    }
}

/// The state of flooding. The picture has a rim of one px that counts as visited.
struct Flood {
    depth: Vec<u8>,
    visited: Vec<bool>,
    /// Width with the rim.
    wide: usize,
    /// px that wait, by depth, each with the next neighbour to look at.
    waiting: Vec<Vec<(u32, u8)>>,
    open: Vec<Open>,
    nodes: Vec<Node>,
    sibling: Vec<u32>,
}

impl Flood {
    fn new(grey: &[u8], w: usize, h: usize) -> Flood {
        let wide = w + 2;
        let mut depth = vec![255u8; wide * (h + 2)];
        let mut visited = vec![true; wide * (h + 2)];
        for y in 0..h {
            let at = (y + 1) * wide + 1;
            for x in 0..w {
                depth[at + x] = 255 - grey[y * w + x];
            }
            visited[at..at + w].fill(false);
        }
        Flood {
            depth,
            visited,
            wide,
            waiting: vec![Vec::new(); 256],
            open: Vec::new(),
            nodes: Vec::new(),
            sibling: Vec::new(),
        }
    }

    fn run(mut self) -> Tree {
        let w = self.wide;
        let around = [1, w + 1, w, w - 1];
        // Neighbours 0..4 lie ahead, 4..8 behind.
        let step = |p: usize, k: usize| -> usize {
            if k < 4 {
                p + around[k]
            } else {
                p - around[k - 4]
            }
        };
        let (mut p, mut next) = (w + 1, 0u8);
        self.visited[p] = true;
        let mut level = self.depth[p];
        self.open.push(Open::at(u16::from(level)));
        loop {
            while next < 8 {
                let q = step(p, usize::from(next));
                next += 1;
                if self.visited[q] {
                    continue;
                }
                self.visited[q] = true;
                let d = self.depth[q];
                if d >= level {
                    self.waiting[usize::from(d)].push((q as u32, 0));
                } else {
                    self.waiting[usize::from(level)].push((p as u32, next));
                    (p, next, level) = (q, 0, d);
                    self.open.push(Open::at(u16::from(level)));
                }
            }
            self.add(p);
            let mut up = usize::from(level);
            while up < 256 && self.waiting[up].is_empty() {
                up += 1;
            }
            if up == 256 {
                break;
            }
            if up > usize::from(level) {
                self.rise(up as u16);
                level = up as u8;
            }
            if let Some((q, k)) = self.waiting[up].pop() {
                (p, next) = (q as usize, k);
            }
        }
        while let Some(last) = self.open.pop() {
            let id = self.close(&last);
            if let Some(below) = self.open.last_mut() {
                self.sibling[id as usize] = below.child;
                below.child = id;
                below.take(&last);
            }
        }
        let root = self.nodes.len() - 1;
        self.nodes[root].parent = root as u32;
        Tree { nodes: self.nodes }
    }

    /// Puts a px into the patch on top.
    fn add(&mut self, p: usize) {
        let (x, y) = (p % self.wide - 1, p / self.wide - 1);
        let own = self.depth[p];
        // Of two neighbours of the same depth the later one closes the side between them.
        let mut border = 4;
        for (q, first) in [
            (p - 1, true),
            (p + 1, false),
            (p - self.wide, true),
            (p + self.wide, false),
        ] {
            let inside = self.depth[q] < own || (first && self.depth[q] == own && !self.rim(q));
            border -= 2 * i32::from(inside);
        }
        let width = self.wide - 2;
        let Some(top) = self.open.last_mut() else {
            return;
        };
        top.area += 1;
        top.perimeter += border;
        top.seed = (y * width + x) as u32;
        let (xs, ys) = (x as u16, y as u16);
        top.span = [
            top.span[0].min(xs),
            top.span[1].min(ys),
            top.span[2].max(xs),
            top.span[3].max(ys),
        ];
        let (fx, fy) = (x as f64, y as f64);
        top.sums
            .iter_mut()
            .zip([fx, fy, fx * fx, fx * fy, fy * fy])
            .for_each(|(a, b)| *a += b);
    }

    fn rim(&self, q: usize) -> bool {
        let x = q % self.wide;
        x == 0 || x + 1 == self.wide || q < self.wide || q + self.wide >= self.depth.len()
    }

    /// Writes a patch down; its children learn who it is.
    fn close(&mut self, patch: &Open) -> u32 {
        let id = self.nodes.len() as u32;
        let mut child = patch.child;
        while child != NONE {
            self.nodes[child as usize].parent = id;
            child = self.sibling[child as usize];
        }
        self.nodes.push(Node {
            level: (255 - patch.depth) as u8,
            parent: id,
            area: patch.area,
            span: patch.span,
            perimeter: patch.perimeter,
            sums: patch.sums,
            seed: patch.seed,
        });
        self.sibling.push(NONE);
        id
    }

    /// Closes patches until the one on top is as deep as `depth`.
    fn rise(&mut self, depth: u16) {
        while let Some(top) = self.open.pop() {
            if top.depth >= depth {
                self.open.push(top);
                return;
            }
            let id = self.close(&top);
            match self.open.last_mut() {
                Some(below) if below.depth <= depth => {
                    self.sibling[id as usize] = below.child;
                    below.child = id;
                    below.take(&top);
                }
                _ => {
                    let mut grown = top;
                    grown.depth = depth;
                    grown.child = id;
                    self.open.push(grown);
                    return;
                }
            }
        }
    }
}

/// The px of a patch, found again by flooding from its seed.
pub(crate) fn pixels(picture: &GrayImage, node: &Node) -> Vec<(u16, u16)> {
    let (w, h) = (picture.width() as i32, picture.height() as i32);
    let [l, t, r, b] = node.span.map(i32::from);
    let width = (r - l + 1) as usize;
    let mut seen = vec![false; width * (b - t + 1) as usize];
    let mut stack = vec![(node.seed as i32 % w, node.seed as i32 / w)];
    let mut out = Vec::with_capacity(node.area as usize);
    let place = |x: i32, y: i32| (y - t) as usize * width + (x - l) as usize;
    seen[place(stack[0].0, stack[0].1)] = true;
    while let Some((x, y)) = stack.pop() {
        out.push((x as u16, y as u16));
        for (dx, dy) in raster::AROUND {
            let (nx, ny) = (x + dx, y + dy);
            if nx < l.max(0) || ny < t.max(0) || nx > r.min(w - 1) || ny > b.min(h - 1) {
                continue;
            }
            if !seen[place(nx, ny)] && picture.get_pixel(nx as u32, ny as u32).0[0] >= node.level {
                seen[place(nx, ny)] = true;
                stack.push((nx, ny));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Every patch at every level by flooding, the slow plain way: level, area, perimeter, bounds.
    fn plainly(picture: &GrayImage) -> Vec<(u8, u32, i32, Rect)> {
        let (w, h) = (picture.width() as i32, picture.height() as i32);
        let at = |x: i32, y: i32| {
            (x >= 0 && y >= 0 && x < w && y < h).then(|| picture.get_pixel(x as u32, y as u32).0[0])
        };
        let mut out = Vec::new();
        for level in 0..=255u8 {
            let lit = |x: i32, y: i32| at(x, y).is_some_and(|v| v >= level);
            let mut seen = vec![false; (w * h) as usize];
            for start in 0..w * h {
                if seen[start as usize] || !lit(start % w, start / w) {
                    continue;
                }
                seen[start as usize] = true;
                let mut stack = vec![(start % w, start / w)];
                let (mut area, mut border, mut own) = (0, 0, false);
                let (mut l, mut t, mut r, mut b) = (w, h, 0, 0);
                while let Some((x, y)) = stack.pop() {
                    area += 1;
                    own |= at(x, y) == Some(level);
                    (l, t, r, b) = (l.min(x), t.min(y), r.max(x), b.max(y));
                    for dx in -1..=1i32 {
                        for dy in -1..=1i32 {
                            let (nx, ny) = (x + dx, y + dy);
                            border += i32::from(dx.abs() + dy.abs() == 1 && !lit(nx, ny));
                            if lit(nx, ny) && !seen[(ny * w + nx) as usize] {
                                seen[(ny * w + nx) as usize] = true;
                                stack.push((nx, ny));
                            }
                        }
                    }
                }
                if own {
                    let bounds = Rect::new(l, t, (r - l + 1) as u32, (b - t + 1) as u32);
                    out.push((level, area, border, bounds));
                }
            }
        }
        out.sort_by_key(|p| (p.0, p.1, p.2, p.3.x, p.3.y, p.3.w, p.3.h));
        out
    }

    proptest! {
        #[test]
        fn flooding_finds_the_patches_that_plain_search_finds(
            (w, h, grey) in (1u32..9, 1u32..9).prop_flat_map(|(w, h)| {
                (Just(w), Just(h), prop::collection::vec(0u8..6, (w * h) as usize))
            })
        ) {
            let grey: Vec<u8> = grey.into_iter().map(|v| v * 51).collect();
            let picture = GrayImage::from_raw(w, h, grey).unwrap();
            let tree = Tree::of(&picture);
            let mut found: Vec<_> = tree
                .nodes
                .iter()
                .map(|n| (n.level, n.area, n.perimeter, n.bounds()))
                .collect();
            found.sort_by_key(|p| (p.0, p.1, p.2, p.3.x, p.3.y, p.3.w, p.3.h));
            prop_assert_eq!(found, plainly(&picture));
            for (i, n) in tree.nodes.iter().enumerate() {
                let last = i + 1 == tree.nodes.len();
                prop_assert!(n.parent as usize > i || (last && n.parent as usize == i));
                prop_assert_eq!(pixels(&picture, n).len(), n.area as usize);
            }
        }
    }

    #[test]
    fn no_picture_has_no_patches() {
        assert!(Tree::of(&GrayImage::new(0, 0)).nodes.is_empty());
        assert!(Tree::of(&GrayImage::new(0, 5)).nodes.is_empty());
    }

    #[test]
    fn a_tilted_rectangle_is_full_and_a_ring_is_not() {
        let full = |inside: &dyn Fn(f64, f64) -> bool| {
            let picture = GrayImage::from_fn(80, 80, |x, y| {
                image::Luma([u8::from(inside(f64::from(x) - 40.0, f64::from(y) - 40.0)) * 200])
            });
            Tree::of(&picture).nodes[0].fullness()
        };
        let (c, s) = (0.9, 0.435_889_894);
        let tilted = full(&|x, y| (x * c + y * s).abs() < 30.0 && (y * c - x * s).abs() < 12.0);
        let ring = full(&|x, y| (24.0..30.0).contains(&x.hypot(y)));
        assert!((tilted - 1.0).abs() < 0.05, "{tilted}");
        assert!(ring < 0.6, "{ring}");
    }
}
