//! The blend functions of W3C Compositing and Blending Level 1, sections 10.1 (separable) and 10.2 (non-separable).

use super::Blend;

/// Co-premultiplied result of the general formula: `(1 - ab) cs + as ab B(Cb, Cs) + (1 - as) cb`.
pub(super) fn mixed(mode: Blend, backdrop: [f32; 4], source: [f32; 4]) -> [f32; 4] {
    let (under, over) = (backdrop[3], source[3]);
    let both = over * under;
    let blended = if both > 0.0 {
        blend(mode, plain(backdrop), plain(source))
    } else {
        [0.0; 3]
    };
    let colour = [0, 1, 2]
        .map(|at| (1.0 - under) * source[at] + both * blended[at] + (1.0 - over) * backdrop[at]);
    [colour[0], colour[1], colour[2], over + under * (1.0 - over)]
}

/// The colour without its coverage, pinned to the range for which the functions are defined.
fn plain(pixel: [f32; 4]) -> [f32; 3] {
    [0, 1, 2].map(|at| (pixel[at] / pixel[3]).clamp(0.0, 1.0))
}

fn blend(mode: Blend, b: [f32; 3], s: [f32; 3]) -> [f32; 3] {
    match mode {
        Blend::Hue => with_luminosity(with_saturation(s, saturation(b)), luminosity(b)),
        Blend::Saturation => with_luminosity(with_saturation(b, saturation(s)), luminosity(b)),
        Blend::Color => with_luminosity(s, luminosity(b)),
        Blend::Luminosity => with_luminosity(b, luminosity(s)),
        Blend::Clear
        | Blend::Copy
        | Blend::Destination
        | Blend::SourceOver
        | Blend::DestinationOver
        | Blend::SourceIn
        | Blend::DestinationIn
        | Blend::SourceOut
        | Blend::DestinationOut
        | Blend::SourceAtop
        | Blend::DestinationAtop
        | Blend::Xor
        | Blend::PlusLighter
        | Blend::Multiply
        | Blend::Screen
        | Blend::Overlay
        | Blend::Darken
        | Blend::Lighten
        | Blend::ColorDodge
        | Blend::ColorBurn
        | Blend::HardLight
        | Blend::SoftLight
        | Blend::Difference
        | Blend::Exclusion => [0, 1, 2].map(|at| separable(mode, b[at], s[at])),
    }
}

/// `B(Cb, Cs)` of one channel. Modes without a function of their own give the source, as `normal` does.
fn separable(mode: Blend, b: f32, s: f32) -> f32 {
    match mode {
        Blend::Multiply => b * s,
        Blend::Screen => b + s - b * s,
        Blend::Overlay => separable(Blend::HardLight, s, b),
        Blend::Darken => b.min(s),
        Blend::Lighten => b.max(s),
        Blend::ColorDodge if b <= 0.0 => 0.0,
        Blend::ColorDodge if s >= 1.0 => 1.0,
        Blend::ColorDodge => (b / (1.0 - s)).min(1.0),
        Blend::ColorBurn if b >= 1.0 => 1.0,
        Blend::ColorBurn if s <= 0.0 => 0.0,
        Blend::ColorBurn => 1.0 - ((1.0 - b) / s).min(1.0),
        Blend::HardLight if s <= 0.5 => b * (2.0 * s),
        Blend::HardLight => separable(Blend::Screen, b, 2.0 * s - 1.0),
        Blend::SoftLight if s <= 0.5 => b - (1.0 - 2.0 * s) * b * (1.0 - b),
        Blend::SoftLight => {
            let d = if b <= 0.25 {
                ((16.0 * b - 12.0) * b + 4.0) * b
            } else {
                b.sqrt()
            };
            b + (2.0 * s - 1.0) * (d - b)
        }
        Blend::Difference => (b - s).abs(),
        Blend::Exclusion => b + s - 2.0 * b * s,
        Blend::Clear
        | Blend::Copy
        | Blend::Destination
        | Blend::SourceOver
        | Blend::DestinationOver
        | Blend::SourceIn
        | Blend::DestinationIn
        | Blend::SourceOut
        | Blend::DestinationOut
        | Blend::SourceAtop
        | Blend::DestinationAtop
        | Blend::Xor
        | Blend::PlusLighter
        | Blend::Hue
        | Blend::Saturation
        | Blend::Color
        | Blend::Luminosity => s,
    }
}

/// Lum of the standard: its own weights, not those of any colour space.
fn luminosity(c: [f32; 3]) -> f32 {
    0.3 * c[0] + 0.59 * c[1] + 0.11 * c[2]
}

fn smallest(c: [f32; 3]) -> f32 {
    c[0].min(c[1]).min(c[2])
}

fn largest(c: [f32; 3]) -> f32 {
    c[0].max(c[1]).max(c[2])
}

fn saturation(c: [f32; 3]) -> f32 {
    largest(c) - smallest(c)
}

/// `SetLum` with `ClipColor`.
fn with_luminosity(c: [f32; 3], wanted: f32) -> [f32; 3] {
    let shift = wanted - luminosity(c);
    let moved = c.map(|value| value + shift);
    let (level, low, high) = (luminosity(moved), smallest(moved), largest(moved));
    let mut out = moved;
    if low < 0.0 {
        out = out.map(|value| level + (value - level) * level / (level - low));
    }
    if high > 1.0 {
        out = out.map(|value| level + (value - level) * (1.0 - level) / (high - level));
    }
    out
}

/// `SetSat`: the smallest becomes 0, the largest `wanted`, the middle in proportion.
fn with_saturation(c: [f32; 3], wanted: f32) -> [f32; 3] {
    let (low, high) = (smallest(c), largest(c));
    if high <= low {
        return [0.0; 3];
    }
    c.map(|value| (value - low) * wanted / (high - low))
}
