//! Draws the window's triangles on the processor, so that pictures of it can be tested and made without any graphics package.
#![allow(
    unreachable_pub,
    clippy::allow_attributes,
    reason = "shared by several test binaries"
)]

use egui::epaint::{self, Vertex};
use egui::{Color32, ColorImage, TextureFilter, TextureId, TextureOptions};
use std::collections::BTreeMap;

/// Draws egui's tessellated triangles into a picture.
#[derive(Debug, Default)]
pub struct CpuRenderer {
    textures: BTreeMap<TextureId, (ColorImage, TextureOptions)>,
}

/// Premultiplied red, green, blue, coverage, 0..=255, row by row.
struct Canvas {
    width: i32,
    height: i32,
    pixels: Vec<[f32; 4]>,
}

/// Left, top, right and bottom in pixels.
type Clip = [i32; 4];

impl egui_kittest::TestRenderer for CpuRenderer {
    fn handle_delta(&mut self, delta: &mut egui::TexturesDelta) {
        #[expect(
            clippy::iter_over_hash_type,
            reason = "each texture is taken over by itself"
        )]
        for (id, changes) in delta.set.drain() {
            for change in changes {
                let egui::ImageData::Color(image) = &change.image;
                match change.pos {
                    None => {
                        let whole = ColorImage::clone(image);
                        self.textures.insert(id, (whole, change.options));
                    }
                    Some(at) => {
                        if let Some((whole, _options)) = self.textures.get_mut(&id) {
                            paste(whole, image, at);
                        }
                    }
                }
            }
        }
        #[expect(
            clippy::iter_over_hash_type,
            reason = "each texture is dropped by itself"
        )]
        for id in delta.free.drain() {
            self.textures.remove(&id);
        }
    }

    fn render(
        &mut self,
        ctx: &egui::Context,
        output: &egui::FullOutput,
    ) -> Result<image::RgbaImage, String> {
        let scale = ctx.pixels_per_point();
        let size = ctx.content_rect().size() * scale;
        let (width, height) = (whole(size.x), whole(size.y));
        let count = usize::try_from(width * height).unwrap_or(0);
        let mut canvas = Canvas {
            width,
            height,
            pixels: vec![[0.0; 4]; count],
        };
        for primitive in ctx.tessellate(output.shapes.clone(), scale) {
            let rect = primitive.clip_rect;
            let clip = [rect.min.x, rect.min.y, rect.max.x, rect.max.y].map(|at| whole(at * scale));
            let epaint::Primitive::Mesh(mesh) = primitive.primitive else {
                return Err("paint callbacks are not supported".to_owned());
            };
            let Some((texture, options)) = self.textures.get(&mesh.texture_id) else {
                return Err(format!("missing texture {:?}", mesh.texture_id));
            };
            for corners in mesh.indices.chunks_exact(3) {
                let corner = |at: usize| {
                    let index = usize::try_from(corners[at]).unwrap_or(0);
                    let mut vertex = mesh.vertices[index];
                    vertex.pos = (vertex.pos.to_vec2() * scale).to_pos2();
                    vertex
                };
                canvas.fill(clip, [corner(0), corner(1), corner(2)], (texture, *options));
            }
        }
        Ok(canvas.finished())
    }
}

fn paste(whole: &mut ColorImage, part: &ColorImage, [x, y]: [usize; 2]) {
    let [width, height] = part.size;
    let stride = whole.size[0];
    for row in 0..height {
        let from = &part.pixels[row * width..(row + 1) * width];
        let start = (y + row) * stride + x;
        whole.pixels[start..start + width].copy_from_slice(from);
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "rounded pixel positions of a test window are small"
)]
fn whole(value: f32) -> i32 {
    value.round() as i32
}

impl Canvas {
    fn finished(&self) -> image::RgbaImage {
        let side = |length: i32| u32::try_from(length).unwrap_or(0);
        let mut picture = image::RgbaImage::new(side(self.width), side(self.height));
        for (pixel, colour) in picture.pixels_mut().zip(&self.pixels) {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to 0..=255"
            )]
            let byte = |value: f32| (value.clamp(0.0, 255.0) + 0.5) as u8;
            *pixel = image::Rgba(colour.map(byte));
        }
        picture
    }

    /// Fills one triangle. A pixel on an edge that two triangles share belongs to exactly one of them (top-left rule).
    fn fill(&mut self, clip: Clip, corners: [Vertex; 3], texture: (&ColorImage, TextureOptions)) {
        let points = corners.map(|corner| (f64::from(corner.pos.x), f64::from(corner.pos.y)));
        let area = edge(points[0], points[1], points[2]);
        if area == 0.0 {
            return;
        }
        let sign = area.signum();
        let owns = [(1, 2), (2, 0), (0, 1)].map(|(from, to): (usize, usize)| {
            let across = (points[to].0 - points[from].0) * sign;
            let down = (points[to].1 - points[from].1) * sign;
            down < 0.0 || (down == 0.0 && across > 0.0)
        });
        let [left, top, right, bottom] = self.bounds(clip, &corners);
        for y in top..bottom {
            for x in left..right {
                let at = (f64::from(x) + 0.5, f64::from(y) + 0.5);
                let shares = [(1, 2), (2, 0), (0, 1)]
                    .map(|(from, to): (usize, usize)| edge(points[from], points[to], at) * sign);
                let outside = |corner: usize| {
                    shares[corner] < 0.0 || (shares[corner] == 0.0 && !owns[corner])
                };
                if (0..3).any(outside) {
                    continue;
                }
                let shares = shares.map(|share| narrow(share / area.abs()));
                self.blend((x, y), mixed(&corners, shares, texture));
            }
        }
    }

    fn bounds(&self, clip: Clip, corners: &[Vertex; 3]) -> Clip {
        let mut rect = egui::Rect::NOTHING;
        for corner in corners {
            rect.extend_with(corner.pos);
        }
        [
            whole(rect.min.x.floor()).max(clip[0]).max(0),
            whole(rect.min.y.floor()).max(clip[1]).max(0),
            whole(rect.max.x.ceil()).min(clip[2]).min(self.width),
            whole(rect.max.y.ceil()).min(clip[3]).min(self.height),
        ]
    }

    fn blend(&mut self, (x, y): (i32, i32), colour: [f32; 4]) {
        let at = usize::try_from(y * self.width + x).unwrap_or(0);
        let below = &mut self.pixels[at];
        let through = 1.0 - colour[3] / 255.0;
        for (below, over) in below.iter_mut().zip(colour) {
            *below = over + *below * through;
        }
    }
}

fn edge(from: (f64, f64), to: (f64, f64), at: (f64, f64)) -> f64 {
    (to.0 - from.0) * (at.1 - from.1) - (to.1 - from.1) * (at.0 - from.0)
}

#[expect(clippy::cast_possible_truncation, reason = "shares of 0..=1")]
fn narrow(share: f64) -> f32 {
    share as f32
}

fn mixed(
    corners: &[Vertex; 3],
    shares: [f32; 3],
    (texture, options): (&ColorImage, TextureOptions),
) -> [f32; 4] {
    let mix = |of: &dyn Fn(&Vertex) -> f32| {
        of(&corners[0]) * shares[0] + of(&corners[1]) * shares[1] + of(&corners[2]) * shares[2]
    };
    let texel = sample(
        texture,
        (mix(&|corner| corner.uv.x), mix(&|corner| corner.uv.y)),
        options,
    );
    std::array::from_fn(|channel| {
        mix(&|corner| f32::from(corner.color[channel])) * texel[channel] / 255.0
    })
}

fn sample(image: &ColorImage, (u, v): (f32, f32), options: TextureOptions) -> [f32; 4] {
    let [width, height] = image.size;
    let last = |side: usize| i32::try_from(side).unwrap_or(1) - 1;
    let at = |x: i32, y: i32| -> [f32; 4] {
        let x = usize::try_from(x.clamp(0, last(width))).unwrap_or(0);
        let y = usize::try_from(y.clamp(0, last(height))).unwrap_or(0);
        let colour: Color32 = image.pixels[y * width + x];
        colour.to_array().map(f32::from)
    };
    let side = |side: usize| f32::from(u16::try_from(side).unwrap_or(u16::MAX));
    let (x, y) = (u * side(width), v * side(height));
    if options.magnification == TextureFilter::Nearest {
        return at(whole(x.floor()), whole(y.floor()));
    }
    let (x, y) = (x - 0.5, y - 0.5);
    let (right, down) = (x - x.floor(), y - y.floor());
    let (left, top) = (whole(x.floor()), whole(y.floor()));
    let corners = [
        at(left, top),
        at(left + 1, top),
        at(left, top + 1),
        at(left + 1, top + 1),
    ];
    std::array::from_fn(|channel| {
        let above = corners[0][channel] * (1.0 - right) + corners[1][channel] * right;
        let below = corners[2][channel] * (1.0 - right) + corners[3][channel] * right;
        above * (1.0 - down) + below * down
    })
}
