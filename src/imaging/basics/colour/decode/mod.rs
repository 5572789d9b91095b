//! From the stored numbers of a photo to the working space.

mod planes;

use crate::geometry::{Rect, Size};
use crate::imaging::basics::colour::curves::{kept_light_table, to_light};
use crate::imaging::basics::colour::matrices;
use crate::imaging::basics::colour::matrices::{
    Matrix3, apply_single, single, working_from_d50, working_from_primaries, xyz_from_primaries,
};
use crate::imaging::basics::wide::wide;
use crate::pixels::convert::{clamp_index, narrow};
use crate::pixels::{ColourEncoding, Curve, Image, Numbers, Plane, Samples};
use moxcms::{ColorProfile, Layout, ToneReprCurve, TransformExecutor, TransformOptions};
use rayon::prelude::*;
use std::sync::Arc;

/// Why an encoding cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ColourError {
    /// The embedded colour profile is damaged or of a kind that cannot be used.
    #[error("the embedded colour profile cannot be used: {0}")]
    Profile(String),
    /// A photo has 1 to 4 numbers per pixel.
    #[error("{0} numbers per pixel; expected 1 to 4")]
    Channels(usize),
    /// The photo holds fewer numbers than its size asks for, or of another kind than the decoder was made for.
    #[error("the numbers of the photo do not fit its size or its decoder")]
    Numbers,
}

/// How finely the numbers of a photo are divided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// 8-bit codes.
    Eight,
    /// 16-bit codes.
    Sixteen,
    /// Floating point.
    Float,
}

impl Depth {
    /// The depth of `numbers`.
    #[must_use]
    pub const fn of(numbers: &Numbers) -> Self {
        match numbers {
            Numbers::U8(_) => Self::Eight,
            Numbers::U16(_) => Self::Sixteen,
            Numbers::F32(_) => Self::Float,
        }
    }
}

/// Turns the numbers of photos with one encoding into the working space. Made once per encoding, shared between threads.
#[derive(Debug, Clone)]
pub struct Decoder {
    way: Way,
    depth: Depth,
}

#[derive(Clone)]
enum Way {
    /// One table per channel, then a matrix.
    Tables([Arc<[f32]>; 3], [[f32; 3]; 3]),
    /// The curves worked out for each number, then a matrix.
    Curves([Curve; 3], [[f32; 3]; 3]),
    /// A profile with look-up tables for colour pictures, and one for grey pictures where it serves those; and what its colours are
    /// multiplied by.
    Profile(
        Arc<dyn TransformExecutor<f32> + Send + Sync>,
        usize,
        [f32; 3],
    ),
}

impl std::fmt::Debug for Way {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(match self {
            Self::Tables(..) => "Tables",
            Self::Curves(..) => "Curves",
            Self::Profile(..) => "Profile",
        })
    }
}

impl Decoder {
    /// A decoder for `encoding` and numbers of `depth`.
    ///
    /// # Errors
    /// [`ColourError::Profile`] when a look-up profile cannot be used.
    pub fn new(encoding: &ColourEncoding, depth: Depth) -> Result<Self, ColourError> {
        let way = match encoding {
            ColourEncoding::MatrixD50 {
                curves,
                xyz_from_rgb,
            } => Way::from_curves(curves, &working_from_d50(xyz_from_rgb), depth),
            ColourEncoding::Primaries { curves, xy } => {
                Way::from_curves(curves, &working_from_primaries(xy), depth)
            }
            ColourEncoding::IccTables(bytes) => Way::from_profile(bytes)?,
        };
        Ok(Self { way, depth })
    }

    /// A decoder for the numbers of `samples`.
    ///
    /// # Errors
    /// As [`Decoder::new`].
    pub fn for_samples(samples: &Samples) -> Result<Self, ColourError> {
        Self::new(&samples.encoding, Depth::of(&samples.numbers))
    }

    /// This decoder with the photo's own red, green and blue light multiplied by `gain_rgb` before they are mixed into the working space:
    /// exposure and white balance act on a camera's channels. The channels of a look-up profile are unknown, so there it is the
    /// colours of the working space.
    #[must_use]
    pub fn times(mut self, gain_rgb: [f32; 3]) -> Self {
        match &mut self.way {
            Way::Tables(_, matrix) | Way::Curves(_, matrix) => {
                for row in matrix {
                    row.iter_mut()
                        .zip(gain_rgb)
                        .for_each(|(value, gain)| *value *= gain);
                }
            }
            Way::Profile(_, _, gains) => {
                gains
                    .iter_mut()
                    .zip(gain_rgb)
                    .for_each(|(value, gain)| *value *= gain);
            }
        }
        self
    }

    /// The photo's own linear red, green and blue as a colour of the working space.
    #[must_use]
    pub fn mixed(&self, rgb: [f32; 3]) -> [f32; 3] {
        match &self.way {
            Way::Tables(_, matrix) | Way::Curves(_, matrix) => apply_single(matrix, rgb),
            Way::Profile(_, _, gains) => [0, 1, 2].map(|channel| rgb[channel] * gains[channel]),
        }
    }

    /// The way back from [`Decoder::mixed`], as a matrix.
    #[must_use]
    pub fn unmixing(&self) -> [[f32; 3]; 3] {
        let [red, green, blue] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
            .map(|rgb| self.mixed(rgb).map(f64::from));
        single(&matrices::inverse(
            &[0, 1, 2].map(|row| [red[row], green[row], blue[row]]),
        ))
    }

    /// The part of `samples` inside `rect` with its coverage multiplied in; without stored coverage it is solid, and outside the
    /// photo there is nothing.
    ///
    /// # Errors
    /// As [`Decoder::decode_planes`].
    pub fn decode_image(&self, samples: &Samples, rect: Rect) -> Result<Image, ColourError> {
        let mut out = Image::empty(rect);
        let reader = self.reader(samples, rect)?;
        out.data
            .par_chunks_mut(rect.width().max(1))
            .enumerate()
            .try_for_each(|(row, pixels)| {
                reader.row(row, |x, colour, coverage| {
                    pixels[x] = [
                        colour[0] * coverage,
                        colour[1] * coverage,
                        colour[2] * coverage,
                        coverage,
                    ];
                })
            })?;
        Ok(out)
    }

    /// The stored coverage inside `rect`, 0..=1; solid where none is stored, 0 outside the photo.
    ///
    /// # Errors
    /// As [`Decoder::decode_planes`].
    pub fn decode_coverage(&self, samples: &Samples, rect: Rect) -> Result<Plane, ColourError> {
        let image = self.decode_image(samples, rect)?;
        Ok(Plane {
            rect,
            data: image.data.iter().map(|pixel| pixel[3]).collect(),
        })
    }

    fn reader<'a>(&'a self, samples: &'a Samples, rect: Rect) -> Result<Reader<'a>, ColourError> {
        if !(1..=4).contains(&samples.channels) {
            return Err(ColourError::Channels(samples.channels));
        }
        let whole = samples.size.rect();
        let have = match &samples.numbers {
            Numbers::U8(numbers) => numbers.len(),
            Numbers::U16(numbers) => numbers.len(),
            Numbers::F32(numbers) => numbers.len(),
        };
        if Depth::of(&samples.numbers) != self.depth || have < whole.area() * samples.channels {
            return Err(ColourError::Numbers);
        }
        if let Way::Profile(_, colours, _) = &self.way {
            let stored = if samples.channels < 3 { 1 } else { 3 };
            if stored != *colours {
                return Err(ColourError::Profile(
                    "it is for another number of channels".into(),
                ));
            }
        }
        Ok(Reader {
            way: &self.way,
            samples,
            rect,
            met: rect.intersect(whole),
        })
    }
}

impl Way {
    fn from_curves(curves: &[Curve; 3], matrix: &Matrix3, depth: Depth) -> Self {
        let codes = match depth {
            Depth::Eight => 256,
            Depth::Sixteen => 65536,
            Depth::Float => return Self::Curves(curves.clone(), single(matrix)),
        };
        let tables = curves
            .each_ref()
            .map(|curve| kept_light_table(curve, codes));
        Self::Tables(tables, single(matrix))
    }

    fn from_profile(bytes: &[u8]) -> Result<Self, ColourError> {
        let failed = |error: moxcms::CmsError| ColourError::Profile(format!("{error:?}"));
        let source = ColorProfile::new_from_slice(bytes).map_err(failed)?;
        let space = source.color_space;
        let (layout, colours) = if space == moxcms::DataColorSpace::Gray {
            (Layout::Gray, 1)
        } else if space == moxcms::DataColorSpace::Rgb {
            (Layout::Rgb, 3)
        } else {
            return Err(ColourError::Profile(format!("colour space {space:?}")));
        };
        let options = TransformOptions {
            allow_extended_range_rgb_xyz: true,
            prefer_fixed_point: false,
            ..TransformOptions::default()
        };
        let transform = source
            .create_transform_f32(layout, &working_profile(), Layout::Rgb, options)
            .map_err(failed)?;
        Ok(Self::Profile(transform, colours, [1.0; 3]))
    }
}

/// The working space as a profile: BT.2020 colorants adapted to D50, straight curves.
fn working_profile() -> ColorProfile {
    let mut profile = ColorProfile::new_bt2020();
    let straight = Some(ToneReprCurve::Parametric(vec![1.0]));
    profile.red_trc.clone_from(&straight);
    profile.green_trc.clone_from(&straight);
    profile.blue_trc = straight;
    profile.cicp = None;
    let d65 = matrices::xyz_from_xy(matrices::D65_XY);
    let xyz = xyz_from_primaries(&ColourEncoding::BT2020_XY);
    let d50 = matrices::multiply(&matrices::adapt(d65, matrices::PCS_WHITE), &xyz);
    let column = |at: usize| moxcms::Xyzd::new(d50[0][at], d50[1][at], d50[2][at]);
    profile.red_colorant = column(0);
    profile.green_colorant = column(1);
    profile.blue_colorant = column(2);
    profile
}

/// Reads rows of a photo that lie in a rectangle.
struct Reader<'a> {
    way: &'a Way,
    samples: &'a Samples,
    rect: Rect,
    met: Rect,
}

impl Reader<'_> {
    /// The fast way for 16-bit colour with one table per channel: looks up all numbers of a row, then the matrix, many pixels in one go.
    /// Whether it is open. The same numbers come out as by [`Reader::row`].
    fn row_of_tables(&self, row: usize, channels: [&mut [f32]; 3]) -> bool {
        let (Numbers::U16(numbers), Way::Tables(tables, matrix)) =
            (&self.samples.numbers, self.way)
        else {
            return false;
        };
        let y = self.rect.y0 + crate::pixels::convert::coordinate(row);
        if self.samples.channels != 3 || y < self.met.y0 || y >= self.met.y1 {
            return false;
        }
        // Tables of known size need no look at the bounds for each number.
        let table = |channel: usize| <&[f32; 1 << 16]>::try_from(&*tables[channel]);
        let (Ok(of_red), Ok(of_green), Ok(of_blue)) = (table(0), table(1), table(2)) else {
            return false;
        };
        let width = self.samples.size.rect().width();
        let start = (clamp_index(y) * width + clamp_index(self.met.x0)) * 3;
        let first = clamp_index(self.met.x0 - self.rect.x0);
        let count = self.met.width();
        let (pixels, _) = numbers[start..start + count * 3].as_chunks::<3>();
        let [red, green, blue] = channels.map(|channel| &mut channel[first..first + count]);
        let places = red.iter_mut().zip(green.iter_mut()).zip(blue.iter_mut());
        for (((r, g), b), pixel) in places.zip(pixels) {
            *r = of_red[usize::from(pixel[0])];
            *g = of_green[usize::from(pixel[1])];
            *b = of_blue[usize::from(pixel[2])];
        }
        wide(
            #[inline(always)]
            || {
                for ((r, g), b) in red.iter_mut().zip(green).zip(blue) {
                    [*r, *g, *b] = apply_single(matrix, [*r, *g, *b]);
                }
            },
        );
        true
    }

    /// Calls `put` with column (from the left of the rectangle), colour and coverage for each photo pixel of row `row` (from its top).
    fn row(
        &self,
        row: usize,
        mut put: impl FnMut(usize, [f32; 3], f32),
    ) -> Result<(), ColourError> {
        let y = self.rect.y0 + crate::pixels::convert::coordinate(row);
        if y < self.met.y0 || y >= self.met.y1 {
            return Ok(());
        }
        let channels = self.samples.channels;
        let Size { width, .. } = self.samples.size;
        let start = (clamp_index(y) * usize::try_from(width).unwrap_or(0)
            + clamp_index(self.met.x0))
            * channels;
        let range = start..start + self.met.width() * channels;
        let first = clamp_index(self.met.x0 - self.rect.x0);
        match (&self.samples.numbers, self.way) {
            (Numbers::U8(numbers), Way::Tables(tables, matrix)) => {
                for (x, pixel) in numbers[range].chunks_exact(channels).enumerate() {
                    let light = pick(pixel).map(|(at, code)| tables[at][usize::from(code)]);
                    put(
                        first + x,
                        apply_single(matrix, light),
                        coverage(pixel).map_or(1.0, unit_u8),
                    );
                }
                Ok(())
            }
            (Numbers::U16(numbers), Way::Tables(tables, matrix)) => {
                for (x, pixel) in numbers[range].chunks_exact(channels).enumerate() {
                    let light = pick(pixel).map(|(at, code)| tables[at][usize::from(code)]);
                    put(
                        first + x,
                        apply_single(matrix, light),
                        coverage(pixel).map_or(1.0, unit_u16),
                    );
                }
                Ok(())
            }
            (Numbers::F32(numbers), Way::Curves(curves, matrix)) => {
                for (x, pixel) in numbers[range].chunks_exact(channels).enumerate() {
                    let light = pick(pixel)
                        .map(|(at, code)| narrow(to_light(&curves[at], f64::from(code))));
                    put(
                        first + x,
                        apply_single(matrix, light),
                        coverage(pixel).unwrap_or(1.0),
                    );
                }
                Ok(())
            }
            (Numbers::U8(numbers), Way::Profile(..)) => {
                let row: Vec<f32> = numbers[range].iter().map(|code| unit_u8(*code)).collect();
                self.profile_row(&row, first, put)
            }
            (Numbers::U16(numbers), Way::Profile(..)) => {
                let row: Vec<f32> = numbers[range].iter().map(|code| unit_u16(*code)).collect();
                self.profile_row(&row, first, put)
            }
            (Numbers::F32(numbers), Way::Profile(..)) => {
                self.profile_row(&numbers[range], first, put)
            }
            (Numbers::U8(_) | Numbers::U16(_), Way::Curves(..))
            | (Numbers::F32(_), Way::Tables(..)) => Err(ColourError::Numbers),
        }
    }

    fn profile_row(
        &self,
        row: &[f32],
        first: usize,
        mut put: impl FnMut(usize, [f32; 3], f32),
    ) -> Result<(), ColourError> {
        let Way::Profile(transform, colours, gains) = self.way else {
            return Err(ColourError::Numbers);
        };
        let pixels = row.chunks_exact(self.samples.channels);
        let bare: Vec<f32> = pixels
            .clone()
            .flat_map(|pixel| pixel[..*colours].iter().copied())
            .collect();
        let mut out = vec![0.0; pixels.len() * 3];
        transform
            .transform(&bare, &mut out)
            .map_err(|error| ColourError::Profile(format!("{error:?}")))?;
        for (x, (colour, pixel)) in out.chunks_exact(3).zip(pixels).enumerate() {
            put(
                first + x,
                [0, 1, 2].map(|channel| colour[channel] * gains[channel]),
                coverage(pixel).unwrap_or(1.0),
            );
        }
        Ok(())
    }
}

/// The three colour numbers of a pixel with their channel; grey stands for all three.
fn pick<T: Copy>(pixel: &[T]) -> [(usize, T); 3] {
    if pixel.len() < 3 {
        [(0, pixel[0]), (1, pixel[0]), (2, pixel[0])]
    } else {
        [(0, pixel[0]), (1, pixel[1]), (2, pixel[2])]
    }
}

fn coverage<T: Copy>(pixel: &[T]) -> Option<T> {
    match pixel.len() {
        2 => Some(pixel[1]),
        4 => Some(pixel[3]),
        _ => None,
    }
}

fn unit_u8(code: u8) -> f32 {
    f32::from(code) / 255.0
}

fn unit_u16(code: u16) -> f32 {
    f32::from(code) / 65535.0
}

#[cfg(test)]
mod tests;
