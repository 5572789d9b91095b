//! The line that keeps a distance from a closed one, inside it.

use egui::{Pos2, Vec2, vec2};

/// Length of its straight pieces, in points of the window, and how many of them an edge has at most.
const PIECE: f32 = 4.0;
const PIECES: f32 = 500.0;
/// How much nearer than asked it may come, in points.
const NEARER: f32 = 0.1;

/// The pieces of the line inside `outline` that lies `depth` from it; none where no place is so deep.
pub(super) fn inset(outline: &[Pos2], depth: f32) -> Vec<Vec<Pos2>> {
    let edges: Vec<(Pos2, Pos2)> = {
        let next = outline.iter().cycle().skip(1);
        outline.iter().copied().zip(next.copied()).collect()
    };
    let area: f32 = edges.iter().map(|(a, b)| a.x * b.y - b.x * a.y).sum();
    let inward = |(from, to): &(Pos2, Pos2)| {
        let along = (*to - *from).normalized() * depth.copysign(area);
        vec2(-along.y, along.x)
    };
    let mut line = Vec::new();
    for (edge, next) in edges.iter().zip(edges.iter().cycle().skip(1)) {
        let (from, to) = *edge;
        let (off, turned) = (inward(edge), inward(next));
        shares(from.distance(to), |share| {
            line.push(from.lerp(to, share) + off);
        });
        // Round a corner that points inwards; elsewhere these places are not deep enough.
        shares((turned - off).length(), |share| {
            line.push(to + (off + (turned - off) * share).normalized() * depth);
        });
    }
    line.extend(line.first().copied());
    let is_deep = |at: &Pos2| {
        let mut far = edges.iter().map(|edge| distance(*edge, *at));
        far.all(|far| far >= depth - NEARER)
    };
    let deep = line.split(|at| !is_deep(at));
    deep.filter(|piece| piece.len() > 1)
        .map(<[Pos2]>::to_vec)
        .collect()
}

/// Calls `with` for shares from 0 to 1 that cut `length` into pieces.
fn shares(length: f32, mut with: impl FnMut(f32)) {
    let pieces = (length / PIECE).ceil().clamp(1.0, PIECES);
    let mut step = 0.0;
    while step <= pieces {
        with(step / pieces);
        step += 1.0;
    }
}

fn distance((from, to): (Pos2, Pos2), at: Pos2) -> f32 {
    let along: Vec2 = to - from;
    let share = (at - from).dot(along) / along.length_sq().max(1e-9);
    (from + along * share.clamp(0.0, 1.0)).distance(at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::pos2;

    fn ell() -> Vec<Pos2> {
        let corners = [
            (0.0, 0.0),
            (300.0, 0.0),
            (300.0, 100.0),
            (100.0, 100.0),
            (100.0, 300.0),
            (0.0, 300.0),
        ];
        corners.map(|(x, y)| pos2(x, y)).to_vec()
    }

    #[test]
    fn all_of_it_is_as_deep_as_asked_whichever_way_the_outline_runs() {
        for turned in [false, true] {
            let mut outline = ell();
            if turned {
                outline.reverse();
            }
            let found = inset(&outline, 20.0);
            let at: Vec<Pos2> = found.into_iter().flatten().collect();
            assert!(at.len() > 100, "{}", at.len());
            for at in &at {
                let inside = at.x > 0.0 && at.y > 0.0 && (at.x < 100.0 || at.y < 100.0);
                assert!(inside, "{at:?}");
                let next = outline.iter().cycle().skip(1);
                let edges = outline.iter().zip(next);
                let far = edges.map(|(a, b)| distance((*a, *b), *at));
                let nearest = far.fold(f32::MAX, f32::min);
                assert!((nearest - 20.0).abs() < 0.2, "{at:?}: {nearest}");
            }
            // It goes round the corner that points inwards.
            let round = pos2(100.0, 100.0) - Vec2::splat(20.0 / 2.0_f32.sqrt());
            assert!(at.iter().any(|at| at.distance(round) < PIECE));
        }
    }

    #[test]
    fn an_outline_that_is_nowhere_so_deep_has_none() {
        assert!(inset(&ell(), 60.0).is_empty());
        assert!(inset(&[], 5.0).is_empty());
    }
}
