//! Which part of a picture is seen, and how large.

use crate::geometry::{Point, Rect, Size};
use crate::pixels::convert::narrow;
use egui::{Pos2, Vec2, pos2};

/// Smallest and largest zoom in points of the window per pixel of the picture.
const ZOOM: (f64, f64) = (0.005, 64.0);

/// Deepest zoom level asked for.
const DEEPEST: u32 = 10;

/// What of a picture is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    centre: Point,
    zoom: f64,
    fits: bool,
}

impl Default for View {
    fn default() -> Self {
        Self {
            centre: Point::default(),
            zoom: 1.0,
            fits: true,
        }
    }
}

/// Where pixels of the picture lie in the window, for one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Map {
    /// The picture's part of the window.
    pub area: egui::Rect,
    /// Pixel position in its middle.
    pub centre: Point,
    /// Points of the window per pixel of the picture.
    pub zoom: f64,
    /// Pixels of the screen per point of the window.
    pub pixels_per_point: f32,
}

impl View {
    /// Brings the view up to date with the window and gives the map; a fitted view follows the window's size.
    pub fn map(&mut self, area: egui::Rect, size: Size, pixels_per_point: f32) -> Map {
        if self.fits {
            let (width, height) = (f64::from(size.width), f64::from(size.height));
            let across = f64::from(area.width()) / width.max(1.0);
            let down = f64::from(area.height()) / height.max(1.0);
            self.zoom = across.min(down).clamp(ZOOM.0, ZOOM.1);
            self.centre = Point::new(width * 0.5, height * 0.5);
        }
        Map {
            area,
            centre: self.centre,
            zoom: self.zoom,
            pixels_per_point,
        }
    }

    /// Shows the whole picture from now on.
    pub const fn fit(&mut self) {
        self.fits = true;
    }

    /// One pixel of the picture as one pixel of the screen, about `at`.
    pub fn one_to_one(&mut self, map: &Map, at: Pos2) {
        let screen = f64::from(map.pixels_per_point).max(0.1);
        self.zoom_by(map, at, 1.0 / (screen * self.zoom));
    }

    /// Zooms by `factor`; the pixel under `at` stays there.
    pub fn zoom_by(&mut self, map: &Map, at: Pos2, factor: f64) {
        let held = map.to_picture(at);
        self.zoom = (self.zoom * factor).clamp(ZOOM.0, ZOOM.1);
        let middle = map.area.center();
        self.centre = Point::new(
            held.x - f64::from(at.x - middle.x) / self.zoom,
            held.y - f64::from(at.y - middle.y) / self.zoom,
        );
        self.fits = false;
    }

    /// Moves the picture by `by` points.
    pub fn pan(&mut self, by: Vec2) {
        if by != Vec2::ZERO {
            self.centre.x -= f64::from(by.x) / self.zoom;
            self.centre.y -= f64::from(by.y) / self.zoom;
            self.fits = false;
        }
    }

    /// Brings a pixel position to the middle.
    pub const fn look_at(&mut self, at: Point) {
        self.centre = at;
        self.fits = false;
    }

    /// Points of the window per pixel of the picture.
    #[must_use]
    pub const fn zoom(&self) -> f64 {
        self.zoom
    }
}

impl Map {
    /// Where a pixel position lies in the window.
    #[must_use]
    pub fn to_window(&self, at: Point) -> Pos2 {
        let middle = self.area.center();
        pos2(
            middle.x + narrow((at.x - self.centre.x) * self.zoom),
            middle.y + narrow((at.y - self.centre.y) * self.zoom),
        )
    }

    /// The pixel position under a point of the window.
    #[must_use]
    pub fn to_picture(&self, at: Pos2) -> Point {
        let middle = self.area.center();
        Point::new(
            self.centre.x + f64::from(at.x - middle.x) / self.zoom,
            self.centre.y + f64::from(at.y - middle.y) / self.zoom,
        )
    }

    /// Corners of what is seen, clockwise from the top left, in pixels of the picture.
    #[must_use]
    pub fn seen(&self) -> [Point; 4] {
        [
            self.area.left_top(),
            self.area.right_top(),
            self.area.right_bottom(),
            self.area.left_bottom(),
        ]
        .map(|corner| self.to_picture(corner))
    }

    /// A length in pixels of the picture, in points of the window.
    #[must_use]
    pub fn length(&self, pixels: f64) -> f32 {
        narrow(pixels * self.zoom)
    }
}

/// The zoom level whose pixels come nearest to those of the screen, where one picture pixel takes `screen_px` of them.
#[must_use]
pub fn nearest_level(screen_px: f64, size: Size) -> u32 {
    let mut level = 0;
    let mut reach = screen_px;
    // Half an octave to each side: below the square root of one half the next level is nearer.
    while reach < std::f64::consts::FRAC_1_SQRT_2
        && level < DEEPEST
        && size.at_level(level).area() > 1
    {
        reach *= 2.0;
        level += 1;
    }
    level
}

/// Pixels at `level` that hold the positions `corners` of the picture.
#[must_use]
pub fn rect_at_level(corners: &[Point], level: u32) -> Rect {
    let shrink = 1.0 / f64::from(1_u32 << level.min(31));
    let small: Vec<Point> = corners
        .iter()
        .map(|corner| Point::new(corner.x * shrink, corner.y * shrink))
        .collect();
    Rect::around(&small)
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::vec2;

    fn area() -> egui::Rect {
        egui::Rect::from_min_size(pos2(100.0, 50.0), vec2(400.0, 300.0))
    }

    #[test]
    fn zooming_keeps_the_pixel_under_the_pointer() {
        let mut view = View::default();
        let size = Size::new(1200, 600);
        let map = view.map(area(), size, 1.0);
        let at = pos2(170.0, 120.0);
        let before = map.to_picture(at);
        view.zoom_by(&map, at, 3.7);
        let after = view.map(area(), size, 1.0).to_picture(at);
        assert!(before.distance(after) < 1e-9, "{before:?} {after:?}");
    }

    #[test]
    fn one_to_one_minds_the_pixels_of_a_point() {
        let mut view = View::default();
        let map = view.map(area(), Size::new(5000, 3000), 2.0);
        view.one_to_one(&map, area().center());
        assert!((view.zoom() - 0.5).abs() < 1e-12, "{}", view.zoom());
    }

    #[test]
    fn levels_follow_the_zoom() {
        let size = Size::new(6000, 4000);
        let levels = [2.0, 1.0, 0.72, 0.7, 0.5, 0.25, 0.11].map(|zoom| nearest_level(zoom, size));
        assert_eq!(levels, [0, 0, 0, 1, 1, 2, 3]);
    }
}
