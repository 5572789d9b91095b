//! Laying one picture over another: Porter-Duff operators and the blend modes of W3C Compositing and Blending Level 1.
//!
//! All work on linear light, premultiplied, under the W3C names. `source-over` and `plus-lighter` take light of any size. The blend
//! functions of the standard are defined for 0..=1 only: they see their arguments pinned to that range, while the light beside them
//! (where only one picture covers) passes unpinned.

mod modes;

use crate::imaging::basics::wide::wide;
use modes::mixed;
use rayon::prelude::*;

/// How a source is laid over a backdrop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Blend {
    /// Nothing remains.
    Clear,
    /// The source alone.
    Copy,
    /// The backdrop alone.
    Destination,
    /// The source in front of the backdrop.
    #[default]
    SourceOver,
    /// The source behind the backdrop.
    DestinationOver,
    /// The source where the backdrop is.
    SourceIn,
    /// The backdrop where the source is.
    DestinationIn,
    /// The source where the backdrop is not.
    SourceOut,
    /// The backdrop where the source is not.
    DestinationOut,
    /// The source on the backdrop, within its outline.
    SourceAtop,
    /// The backdrop on the source, within its outline.
    DestinationAtop,
    /// Each where the other is not.
    Xor,
    /// Light and coverage add up; coverage ends at 1.
    PlusLighter,
    /// The product.
    Multiply,
    /// The product of the complements.
    Screen,
    /// Multiply or screen by the backdrop.
    Overlay,
    /// The smaller.
    Darken,
    /// The larger.
    Lighten,
    /// The backdrop brightened by the source.
    ColorDodge,
    /// The backdrop darkened by the source.
    ColorBurn,
    /// Multiply or screen by the source.
    HardLight,
    /// A gentle form of hard light.
    SoftLight,
    /// The distance.
    Difference,
    /// The distance, with less contrast.
    Exclusion,
    /// Hue of the source, the rest of the backdrop.
    Hue,
    /// Saturation of the source, the rest of the backdrop.
    Saturation,
    /// Hue and saturation of the source, luminosity of the backdrop.
    Color,
    /// Luminosity of the source, the rest of the backdrop.
    Luminosity,
}

impl Blend {
    /// All of them, operators first.
    pub const ALL: [Self; 28] = [
        Self::Clear,
        Self::Copy,
        Self::Destination,
        Self::SourceOver,
        Self::DestinationOver,
        Self::SourceIn,
        Self::DestinationIn,
        Self::SourceOut,
        Self::DestinationOut,
        Self::SourceAtop,
        Self::DestinationAtop,
        Self::Xor,
        Self::PlusLighter,
        Self::Multiply,
        Self::Screen,
        Self::Overlay,
        Self::Darken,
        Self::Lighten,
        Self::ColorDodge,
        Self::ColorBurn,
        Self::HardLight,
        Self::SoftLight,
        Self::Difference,
        Self::Exclusion,
        Self::Hue,
        Self::Saturation,
        Self::Color,
        Self::Luminosity,
    ];

    /// The name in the standard.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::Copy => "copy",
            Self::Destination => "destination",
            Self::SourceOver => "source-over",
            Self::DestinationOver => "destination-over",
            Self::SourceIn => "source-in",
            Self::DestinationIn => "destination-in",
            Self::SourceOut => "source-out",
            Self::DestinationOut => "destination-out",
            Self::SourceAtop => "source-atop",
            Self::DestinationAtop => "destination-atop",
            Self::Xor => "xor",
            Self::PlusLighter => "plus-lighter",
            Self::Multiply => "multiply",
            Self::Screen => "screen",
            Self::Overlay => "overlay",
            Self::Darken => "darken",
            Self::Lighten => "lighten",
            Self::ColorDodge => "color-dodge",
            Self::ColorBurn => "color-burn",
            Self::HardLight => "hard-light",
            Self::SoftLight => "soft-light",
            Self::Difference => "difference",
            Self::Exclusion => "exclusion",
            Self::Hue => "hue",
            Self::Saturation => "saturation",
            Self::Color => "color",
            Self::Luminosity => "luminosity",
        }
    }

    /// The mode of that name; also the standard's other names `normal` (source-over) and `lighter` (plus-lighter).
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        match name {
            "normal" => Some(Self::SourceOver),
            "lighter" => Some(Self::PlusLighter),
            _ => Self::ALL.into_iter().find(|mode| mode.name() == name),
        }
    }

    /// Whether the backdrop stays as it is where the source has no coverage, so that only the source's rectangle needs work.
    #[must_use]
    pub const fn keeps_backdrop(self) -> bool {
        !matches!(
            self,
            Self::Clear
                | Self::Copy
                | Self::SourceIn
                | Self::DestinationIn
                | Self::SourceOut
                | Self::DestinationAtop
        )
    }

    /// Whether it only dims an opaque backdrop and adds light to it, so that several sources can be gathered into one ([`gather_image`]).
    #[must_use]
    pub const fn only_dims(self) -> bool {
        matches!(self, Self::SourceOver | Self::PlusLighter)
    }

    /// The shares of source and backdrop in the result for their coverages, `None` for blend modes.
    ///
    /// Source: Porter, Duff, Compositing digital images, 1984.
    const fn shares(self, source: f32, backdrop: f32) -> Option<(f32, f32)> {
        Some(match self {
            Self::Clear => (0.0, 0.0),
            Self::Copy => (1.0, 0.0),
            Self::Destination => (0.0, 1.0),
            Self::SourceOver => (1.0, 1.0 - source),
            Self::DestinationOver => (1.0 - backdrop, 1.0),
            Self::SourceIn => (backdrop, 0.0),
            Self::DestinationIn => (0.0, source),
            Self::SourceOut => (1.0 - backdrop, 0.0),
            Self::DestinationOut => (0.0, 1.0 - source),
            Self::SourceAtop => (backdrop, 1.0 - source),
            Self::DestinationAtop => (1.0 - backdrop, source),
            Self::Xor => (1.0 - backdrop, 1.0 - source),
            Self::PlusLighter => (1.0, 1.0),
            Self::Multiply
            | Self::Screen
            | Self::Overlay
            | Self::Darken
            | Self::Lighten
            | Self::ColorDodge
            | Self::ColorBurn
            | Self::HardLight
            | Self::SoftLight
            | Self::Difference
            | Self::Exclusion
            | Self::Hue
            | Self::Saturation
            | Self::Color
            | Self::Luminosity => return None,
        })
    }
}

/// The result of laying `source` over `backdrop` at full strength.
#[must_use]
#[inline]
pub fn blend_pixel(mode: Blend, backdrop: [f32; 4], source: [f32; 4]) -> [f32; 4] {
    let Some((of_source, of_backdrop)) = mode.shares(source[3], backdrop[3]) else {
        return mixed(mode, backdrop, source);
    };
    let mut out = [0, 1, 2, 3].map(|at| of_source * source[at] + of_backdrop * backdrop[at]);
    if mode == Blend::PlusLighter {
        out[3] = out[3].min(1.0);
    }
    out
}

/// Lays `source` over `backdrop`, pixel by pixel, at `strength` 0..=1.
///
/// Strength 1 is the operator itself and 0 leaves the backdrop bit for bit; between them the result is blended from both, which for
/// `source-over`, `plus-lighter` and the blend modes is the same as fading the source.
#[inline(always)]
pub fn blend_row(mode: Blend, strength: f32, backdrop: &mut [[f32; 4]], source: &[[f32; 4]]) {
    let strength = strength.clamp(0.0, 1.0);
    if strength <= 0.0 {
        return;
    }
    if mode == Blend::SourceOver {
        for (under, over) in backdrop.iter_mut().zip(source) {
            let rest = 1.0 - over[3] * strength;
            *under = [0, 1, 2, 3].map(|at| over[at] * strength + under[at] * rest);
        }
        return;
    }
    let faded = |under: &[f32; 4], out: [f32; 4]| {
        if strength < 1.0 {
            [0, 1, 2, 3].map(|at| under[at] + (out[at] - under[at]) * strength)
        } else {
            out
        }
    };
    if mode == Blend::PlusLighter {
        for (under, over) in backdrop.iter_mut().zip(source) {
            let mut out = [0, 1, 2, 3].map(|at| over[at] + under[at]);
            out[3] = out[3].min(1.0);
            *under = faded(under, out);
        }
        return;
    }
    for (under, over) in backdrop.iter_mut().zip(source) {
        let out = blend_pixel(mode, *under, *over);
        *under = faded(under, out);
    }
}

/// Rows that one thread does on end, at least: a row alone is too little to hand over.
const ROWS_TOGETHER: usize = 8;

/// Lays `source` over `backdrop` where they meet, by rows on several threads.
///
/// For modes that change the backdrop where there is no source (see [`Blend::keeps_backdrop`]) the part of the backdrop outside the
/// source's rectangle is treated as covered by an empty source.
pub fn blend_image(
    mode: Blend,
    strength: f32,
    backdrop: &mut crate::pixels::Image,
    source: &crate::pixels::Image,
) {
    let whole;
    let source = if mode.keeps_backdrop() || source.rect.covers(backdrop.rect) {
        source
    } else {
        whole = source.crop(backdrop.rect);
        &whole
    };
    let (rect, met) = (backdrop.rect, backdrop.rect.intersect(source.rect));
    if met.is_empty() {
        return;
    }
    backdrop
        .data
        .par_chunks_mut(rect.width())
        .zip(rect.y0..rect.y1)
        .with_min_len(ROWS_TOGETHER)
        .filter(|(_, y)| (met.y0..met.y1).contains(y))
        .for_each(|(row, y)| {
            let first = crate::pixels::convert::clamp_index(met.x0 - rect.x0);
            let from = source.rect.index(met.x0, y);
            let under = &mut row[first..first + met.width()];
            let over = &source.data[from..from + met.width()];
            wide(
                #[inline(always)]
                || blend_row(mode, strength, under, over),
            );
        });
}

/// Gathers `source` over what `gathered` has so far: laid over an opaque backdrop with `source-over`, the result is that of laying over all
/// sources, one after the other. For modes that only dim ([`Blend::only_dims`]).
pub fn gather_image(
    mode: Blend,
    strength: f32,
    gathered: &mut crate::pixels::Image,
    source: &crate::pixels::Image,
) {
    if mode == Blend::PlusLighter {
        // It adds light and hides nothing.
        let mut light = source.clone();
        light.data.iter_mut().for_each(|pixel| pixel[3] = 0.0);
        blend_image(Blend::SourceOver, strength, gathered, &light);
    } else {
        blend_image(mode, strength, gathered, source);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn names_go_there_and_back() {
        for mode in Blend::ALL {
            assert_eq!(Blend::from_name(mode.name()), Some(mode));
        }
        assert_eq!(Blend::from_name("lighter"), Some(Blend::PlusLighter));
        assert_eq!(Blend::from_name("unheard-of"), None);
    }

    #[test]
    fn light_above_white_passes_over_and_plus() {
        let lamp = [9.0, 4.0, 2.0, 1.0];
        let hull = [0.1, 0.1, 0.1, 1.0];
        assert_eq!(blend_pixel(Blend::SourceOver, hull, lamp), lamp);
        let sum = blend_pixel(Blend::PlusLighter, hull, lamp);
        assert!(
            (sum[0] - 9.1).abs() < 1e-5 && (sum[3] - 1.0).abs() < 1e-7,
            "{sum:?}"
        );
    }

    fn pixel() -> impl Strategy<Value = [f32; 4]> {
        (0.0..2.0_f32, 0.0..2.0_f32, 0.0..2.0_f32, 0.0..=1.0_f32)
            .prop_map(|(r, g, b, a)| [r * a, g * a, b * a, a])
    }

    proptest! {
        #[test]
        fn over_is_associative_and_nothing_is_neutral(a in pixel(), b in pixel(), c in pixel()) {
            let over = |under, top| blend_pixel(Blend::SourceOver, under, top);
            let (left, right) = (over(over(a, b), c), over(a, over(b, c)));
            for (l, r) in left.iter().zip(right) {
                prop_assert!((l - r).abs() < 1e-5);
            }
            prop_assert_eq!(over(a, [0.0; 4]), a);
        }

        #[test]
        fn gathered_sources_lie_over_a_backdrop_as_they_do_one_by_one(
            under in pixel(),
            over in proptest::collection::vec((pixel(), 0.0..=1.0_f32, proptest::bool::ANY), 1..6),
        ) {
            let one = crate::geometry::Rect::new(0, 0, 1, 1);
            let picture = |pixel: [f32; 4]| crate::pixels::Image::from_fn(one, |_x, _y| pixel);
            let opaque = [under[0], under[1], under[2], 1.0];
            let (mut apart, mut gathered, mut together) =
                (picture(opaque), picture([0.0; 4]), picture(opaque));
            for (pixel, strength, adds) in over {
                let mode = if adds { Blend::PlusLighter } else { Blend::SourceOver };
                blend_image(mode, strength, &mut apart, &picture(pixel));
                gather_image(mode, strength, &mut gathered, &picture(pixel));
            }
            blend_image(Blend::SourceOver, 1.0, &mut together, &gathered);
            for (a, b) in apart.data[0].iter().zip(together.data[0]) {
                prop_assert!((a - b).abs() < 5e-6, "{a} {b}");
            }
        }

        #[test]
        fn modes_that_say_so_keep_the_backdrop(under in pixel(), at in 0..28_usize) {
            let mode = Blend::ALL[at];
            let out = blend_pixel(mode, under, [0.0; 4]);
            if mode.keeps_backdrop() {
                prop_assert_eq!(out, under);
            }
            let mut row = [under];
            blend_row(mode, 0.0, &mut row, &[[0.3, 0.2, 0.1, 0.5]]);
            prop_assert_eq!(row[0], under);
        }
    }
}
