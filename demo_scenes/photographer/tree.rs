//! Bounding-volume tree over the parts (binned surface-area splits, flattened).

use crate::part::{Hit, Part, Plane};
use crate::vec3::{V3, v3};

#[derive(Clone, Copy, Debug)]
struct Node {
    lo: V3,
    hi: V3,
    /// First part of a leaf, or the second child of a fork.
    at: u32,
    /// Parts of a leaf; 0 for a fork.
    count: u16,
    axis: u16,
}

/// Parts, planes and the tree over them.
#[derive(Debug)]
pub(crate) struct Tree {
    nodes: Vec<Node>,
    /// Parts in tree order.
    pub(crate) parts: Vec<Part>,
    /// Planes of the convex parts.
    pub(crate) planes: Vec<Plane>,
}

#[derive(Clone, Copy)]
struct Item {
    lo: V3,
    hi: V3,
    mid: V3,
    part: u32,
}

const BINS: usize = 16;

fn area(lo: V3, hi: V3) -> f32 {
    let d = hi - lo;
    d.x * d.y + d.y * d.z + d.z * d.x
}

fn bounds(items: &[Item]) -> (V3, V3) {
    let big = f32::INFINITY;
    let start = (v3(big, big, big), v3(-big, -big, -big));
    items
        .iter()
        .fold(start, |(lo, hi), it| (lo.min(it.lo), hi.max(it.hi)))
}

/// Bin of a middle along an axis.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the bins"
)]
fn bin_of(x: f32, lo: f32, scale: f32) -> usize {
    (((x - lo) * scale).max(0.0) as usize).min(BINS - 1)
}

#[expect(clippy::cast_precision_loss, reason = "counts are small")]
fn best_split(items: &[Item]) -> Option<(usize, f32)> {
    let big = f32::INFINITY;
    let mut best: Option<(f32, usize, f32)> = None;
    for axis in 0..3 {
        let lo = items.iter().fold(big, |a, i| a.min(i.mid.at(axis)));
        let hi = items.iter().fold(-big, |a, i| a.max(i.mid.at(axis)));
        if hi - lo < 1e-5 {
            continue;
        }
        let scale = BINS as f32 / (hi - lo);
        let mut bins = [(0_usize, v3(big, big, big), v3(-big, -big, -big)); BINS];
        for it in items {
            let b = &mut bins[bin_of(it.mid.at(axis), lo, scale)];
            *b = (b.0 + 1, b.1.min(it.lo), b.2.max(it.hi));
        }
        for cut in 1..BINS {
            let join = |r: &[(usize, V3, V3)]| {
                r.iter()
                    .fold((0, v3(big, big, big), v3(-big, -big, -big)), |a, b| {
                        (a.0 + b.0, a.1.min(b.1), a.2.max(b.2))
                    })
            };
            let (l, r) = (join(&bins[..cut]), join(&bins[cut..]));
            if l.0 == 0 || r.0 == 0 {
                continue;
            }
            let cost = area(l.1, l.2) * l.0 as f32 + area(r.1, r.2) * r.0 as f32;
            if best.is_none_or(|b| cost < b.0) {
                best = Some((cost, axis, lo + cut as f32 / scale));
            }
        }
    }
    best.map(|b| (b.1, b.2))
}

impl Tree {
    /// Builds the tree.
    pub(crate) fn build(parts: &[Part], planes: Vec<Plane>) -> Self {
        let mut items: Vec<Item> = Vec::with_capacity(parts.len());
        for (i, p) in parts.iter().enumerate() {
            let (lo, hi) = p.bounds();
            items.push(Item {
                lo,
                hi,
                mid: (lo + hi) * 0.5,
                part: u32::try_from(i).unwrap_or(0),
            });
        }
        let mut tree = Self {
            nodes: Vec::new(),
            parts: Vec::new(),
            planes,
        };
        if !items.is_empty() {
            tree.grow(&mut items, parts);
        }
        tree
    }

    fn grow(&mut self, items: &mut [Item], parts: &[Part]) {
        let (lo, hi) = bounds(items);
        let me = self.nodes.len();
        let first = u32::try_from(self.parts.len()).unwrap_or(0);
        self.nodes.push(Node {
            lo,
            hi,
            at: first,
            count: 0,
            axis: 0,
        });
        let split = if items.len() <= 2 {
            None
        } else {
            best_split(items)
        };
        let cut = split.map_or(0, |(axis, at)| {
            items.sort_by(|a, b| a.mid.at(axis).total_cmp(&b.mid.at(axis)));
            items.partition_point(|i| i.mid.at(axis) < at)
        });
        if cut == 0 || cut == items.len() {
            self.parts.extend(
                items
                    .iter()
                    .filter_map(|i| parts.get(i.part as usize).copied()),
            );
            self.nodes[me].count = u16::try_from(items.len()).unwrap_or(u16::MAX);
            return;
        }
        self.nodes[me].axis = split.map_or(0, |s| u16::try_from(s.0).unwrap_or(0));
        let (left, right) = items.split_at_mut(cut);
        self.grow(left, parts);
        self.nodes[me].at = u32::try_from(self.nodes.len()).unwrap_or(0);
        self.grow(right, parts);
    }

    /// Nearest hit with `t` in `span`.
    pub(crate) fn nearest(&self, o: V3, d: V3, span: (f32, f32)) -> Option<Hit> {
        self.walk::<false>(o, d, span)
    }

    /// Whether anything lies on the ray within `span`.
    pub(crate) fn blocked(&self, o: V3, d: V3, span: (f32, f32)) -> bool {
        self.walk::<true>(o, d, span).is_some()
    }

    fn walk<const ANY: bool>(&self, o: V3, d: V3, span: (f32, f32)) -> Option<Hit> {
        if self.nodes.is_empty() {
            return None;
        }
        let safe = |x: f32| 1.0 / if x.abs() < 1e-9 { 1e-9 } else { x };
        let inv = v3(safe(d.x), safe(d.y), safe(d.z));
        let mut stack = [0_u32; 64];
        let mut top = 1;
        let mut hi = span.1;
        let mut found: Option<Hit> = None;
        while top > 0 {
            top -= 1;
            let id = stack[top];
            let node = &self.nodes[id as usize];
            let (a, b) = ((node.lo - o) * inv, (node.hi - o) * inv);
            let (n, f) = (a.min(b), a.max(b));
            let enter = n.x.max(n.y).max(n.z).max(span.0);
            let leave = f.x.min(f.y).min(f.z).min(hi);
            if enter > leave {
                continue;
            }
            if node.count > 0 {
                for k in node.at..node.at + u32::from(node.count) {
                    if let Some((t, face)) =
                        self.parts[k as usize].meet(o, d, (span.0, hi), &self.planes)
                    {
                        hi = t;
                        found = Some(Hit { t, part: k, face });
                        if ANY {
                            return found;
                        }
                    }
                }
            } else {
                let neg = d.at(node.axis as usize) < 0.0;
                let (first, second) = if neg {
                    (node.at, id + 1)
                } else {
                    (id + 1, node.at)
                };
                stack[top] = second;
                stack[top + 1] = first;
                top += 2;
            }
        }
        found
    }
}
