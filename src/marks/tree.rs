//! Component tree of a grey picture: every connected patch that is lighter than its surroundings,
//! at every level, each once, with its shape.
//!
//! Source of the construction: Berger et al. 2007, ICIP, "Effective component tree computation
//! with application to pattern recognition in astronomical imaging" (union-find over px sorted by
//! value). Stability of a patch over levels: Matas et al. 2002, BMVC (maximally stable extremal
//! regions).

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
    pub fn of(picture: &GrayImage) -> Tree {
        let (w, h) = (picture.width() as usize, picture.height() as usize);
        let img = picture.as_raw();
        let n = w * h;
        if n == 0 {
            return Tree { nodes: Vec::new() };
        }
        let mut starts = [0usize; 257];
        for &v in img {
            starts[256 - usize::from(v)] += 1;
        }
        for i in 1..257 {
            starts[i] += starts[i - 1];
        }
        let mut order = vec![0u32; n];
        let mut at = starts;
        for (p, &v) in img.iter().enumerate() {
            let slot = &mut at[255 - usize::from(v)];
            order[*slot] = p as u32;
            *slot += 1;
        }
        const NONE: u32 = u32::MAX;
        let mut parent = vec![NONE; n];
        let mut root = vec![NONE; n];
        let mut sides = vec![0i8; n];
        for &p in &order {
            let pi = p as usize;
            parent[pi] = p;
            root[pi] = p;
            let (x, y) = (pi % w, pi / w);
            let mut border = 4i8;
            let mut join = |q: usize, straight: bool| {
                if root[q] == NONE {
                    return;
                }
                if straight {
                    border -= 2;
                }
                let mut r = q as u32;
                while root[r as usize] != r {
                    let up = root[root[r as usize] as usize];
                    root[r as usize] = up;
                    r = up;
                }
                if r != p {
                    root[r as usize] = p;
                    parent[r as usize] = p;
                }
            };
            let (left, right, up, down) = (x > 0, x + 1 < w, y > 0, y + 1 < h);
            if left {
                join(pi - 1, true);
            }
            if right {
                join(pi + 1, true);
            }
            if up {
                join(pi - w, true);
                if left {
                    join(pi - w - 1, false);
                }
                if right {
                    join(pi - w + 1, false);
                }
            }
            if down {
                join(pi + w, true);
                if left {
                    join(pi + w - 1, false);
                }
                if right {
                    join(pi + w + 1, false);
                }
            }
            sides[pi] = border;
        }
        drop(root);
        for &p in order.iter().rev() {
            let q = parent[p as usize];
            let up = parent[q as usize];
            if img[up as usize] == img[q as usize] {
                parent[p as usize] = up;
            }
        }
        let mut id = vec![NONE; n];
        let mut nodes = Vec::new();
        for &p in &order {
            let q = parent[p as usize];
            if q == p || img[q as usize] != img[p as usize] {
                id[p as usize] = nodes.len() as u32;
                nodes.push(Node {
                    level: img[p as usize],
                    parent: q,
                    area: 0,
                    span: [u16::MAX, u16::MAX, 0, 0],
                    perimeter: 0,
                    sums: [0.0; 5],
                    seed: p,
                });
            }
        }
        for (p, &s) in sides.iter().enumerate() {
            let owner = if id[p] != NONE {
                id[p]
            } else {
                id[parent[p] as usize]
            };
            let (x, y) = (p % w, p / w);
            let node = &mut nodes[owner as usize];
            node.area += 1;
            node.perimeter += i32::from(s);
            let (xs, ys) = (x as u16, y as u16);
            node.span = [
                node.span[0].min(xs),
                node.span[1].min(ys),
                node.span[2].max(xs),
                node.span[3].max(ys),
            ];
            let (fx, fy) = (x as f64, y as f64);
            for (s, v) in node
                .sums
                .iter_mut()
                .zip([fx, fy, fx * fx, fx * fy, fy * fy])
            {
                *s += v;
            }
        }
        for i in 0..nodes.len() {
            let up = id[nodes[i].parent as usize];
            nodes[i].parent = up;
            if up as usize != i {
                let (low, high) = nodes.split_at_mut(up as usize);
                let (child, node) = (&low[i], &mut high[0]);
                node.area += child.area;
                node.perimeter += child.perimeter;
                node.span = [
                    node.span[0].min(child.span[0]),
                    node.span[1].min(child.span[1]),
                    node.span[2].max(child.span[2]),
                    node.span[3].max(child.span[3]),
                ];
                for (s, v) in node.sums.iter_mut().zip(child.sums) {
                    *s += v;
                }
            }
        }
        Tree { nodes }
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
        for (dx, dy) in [
            (-1, 0),
            (1, 0),
            (0, -1),
            (0, 1),
            (-1, -1),
            (1, -1),
            (-1, 1),
            (1, 1),
        ] {
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
