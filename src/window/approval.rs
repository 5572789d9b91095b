//! How photos were grouped into stacks and passes, for approval: names, roles and plates can be changed, photos moved.

use crate::session::grouping::{Group, GroupRole, PhotoSeen};
use crate::window::build_sheet::thumbs;
use crate::window::small_pictures::SmallPictures;
use crate::window::{theme, words};

/// Groups that wait for approval.
#[derive(Debug, Clone, PartialEq)]
pub struct Approval {
    /// The groups.
    pub groups: Vec<Group>,
    /// Where they go.
    pub into: Into,
}

/// Where approved groups go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Into {
    /// A new scene of this name.
    NewScene(String),
    /// The scene that is open, which has plates of these names.
    OpenScene(Vec<String>),
}

/// What people decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decided {
    /// Take the groups.
    Take,
    /// Give them up.
    Back,
}

/// Where a photo shall go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Move {
    To(usize),
    NewGroup,
    Out,
}

impl Approval {
    /// Shows the groups.
    pub fn ui(&mut self, ui: &mut egui::Ui, small: &mut SmallPictures) -> Option<Decided> {
        let decided = egui::Panel::bottom("decide")
            .show(ui, |ui| self.decide_ui(ui))
            .inner;
        let mut moved = None;
        egui::ScrollArea::vertical()
            .auto_shrink(false)
            .show(ui, |ui| {
                ui.add_space(theme::place::PART);
                ui.heading(words::APPROVE);
                ui.label(words::APPROVE_HELP);
                if let Into::NewScene(name) = &mut self.into {
                    ui.horizontal(|ui| {
                        let label = ui.label(words::SCENE_NAME);
                        ui.text_edit_singleline(name).labelled_by(label.id);
                    });
                }
                for at in 0..self.groups.len() {
                    ui.add_space(theme::sheet::GAP);
                    ui.separator();
                    self.group_ui(ui, at);
                    if let Some(change) = self.photos_ui(ui, at, small) {
                        moved = Some((at, change));
                    }
                }
            });
        if let Some((from, (photo, to))) = moved {
            self.move_photo((from, photo), to);
        }
        decided
    }

    fn decide_ui(&self, ui: &mut egui::Ui) -> Option<Decided> {
        let mut decided = None;
        let fault = self.fault();
        ui.add_space(theme::sheet::GAP);
        ui.horizontal(|ui| {
            let take = egui::Button::new(words::TAKE_GROUPS);
            if ui.add_enabled(fault.is_none(), take).clicked() {
                decided = Some(Decided::Take);
            }
            if ui.button(words::BACK).clicked() {
                decided = Some(Decided::Back);
            }
            match &fault {
                Some(fault) => ui.label(fault),
                None => ui.weak(self.summary()),
            }
        });
        ui.add_space(theme::sheet::GAP);
        decided
    }

    /// How many plates and passes the groups make.
    fn summary(&self) -> String {
        let unlit = |group: &&Group| group.role == GroupRole::Unlit;
        let plates = self.groups.iter().filter(unlit).count();
        words::groups_make(plates, self.groups.len() - plates)
    }

    fn group_ui(&mut self, ui: &mut egui::Ui, at: usize) {
        let group = &mut self.groups[at];
        let number = at + 1;
        ui.push_id(("group", at), |ui| {
            ui.horizontal_wrapped(|ui| {
                let text = |text| {
                    egui::TextEdit::singleline(text).desired_width(theme::approval::NAME_FIELD)
                };
                ui.label(words::GROUP);
                ui.add(text(&mut group.name))
                    .accessible_name(words::group_name(number));
                ui.label(words::IS);
                egui::ComboBox::from_id_salt("role")
                    .selected_text(words::role(group.role))
                    .show_ui(ui, |ui| {
                        for role in ROLES {
                            ui.selectable_value(&mut group.role, role, words::role(role));
                        }
                    })
                    .response
                    .accessible_name(words::group_role(number));
                ui.label(words::OF_PLATE);
                ui.add(text(&mut group.plate))
                    .accessible_name(words::group_plate(number));
                ui.weak(words::photos(group.photos.len()));
            });
        });
    }

    fn photos_ui(
        &self,
        ui: &mut egui::Ui,
        at: usize,
        small: &mut SmallPictures,
    ) -> Option<(usize, Move)> {
        let mut moved = None;
        let group = &self.groups[at];
        ui.horizontal_wrapped(|ui| {
            for (place, photo) in group.photos.iter().enumerate() {
                ui.push_id(("photo", at, place), |ui| {
                    let size = theme::approval::photo(ui);
                    let layout = egui::Layout::top_down(egui::Align::Min);
                    ui.allocate_ui_with_layout(size, layout, |ui| {
                        ui.set_width(size.x);
                        ui.spacing_mut().item_spacing.y = 2.0;
                        let to = self.photo_ui(ui, (at, photo), small);
                        moved = to.map(|to| (place, to)).or(moved);
                    });
                });
            }
        });
        moved
    }

    /// One photo: its picture, its name, how it was exposed, and the way into another group.
    fn photo_ui(
        &self,
        ui: &mut egui::Ui,
        (at, photo): (usize, &PhotoSeen),
        small: &mut SmallPictures,
    ) -> Option<Move> {
        let room = egui::vec2(ui.available_width(), theme::approval::PICTURE_HEIGHT);
        let (rect, space) = ui.allocate_exact_size(room, egui::Sense::hover());
        let name = words::file_name(&photo.path);
        if ui.is_rect_visible(rect) {
            ui.painter().rect_filled(rect, 0.0, theme::picture::COMING);
            if let Some(texture) = small.get(&photo.path, ui.ctx()) {
                let inside = egui::Rect::from_center_size(
                    rect.center(),
                    thumbs::fitted(photo.size, rect.size()),
                );
                let whole = egui::Rect::from_min_max(egui::Pos2::ZERO, egui::pos2(1.0, 1.0));
                ui.painter()
                    .image(texture.id(), inside, whole, egui::Color32::WHITE);
            }
        }
        space.on_hover_text(seen(photo));
        let small_text = |text: &str| egui::RichText::new(text).small();
        ui.add(egui::Label::new(small_text(&name)).truncate());
        let exposure = photo.exposure_s.map(words::exposure_time);
        let exposure = exposure.unwrap_or_else(|| words::NO_EXPOSURE.to_owned());
        ui.add(egui::Label::new(small_text(&exposure).weak()).truncate());
        self.move_ui(ui, at, &name)
    }

    fn move_ui(&self, ui: &mut egui::Ui, at: usize, name: &str) -> Option<Move> {
        let mut chosen = None;
        ui.menu_button(words::MOVE_TO, |ui| {
            for (other, group) in self.groups.iter().enumerate() {
                if other != at && ui.button(&group.name).clicked() {
                    chosen = Some(Move::To(other));
                }
            }
            if ui.button(words::GROUP_OF_ITS_OWN).clicked() {
                chosen = Some(Move::NewGroup);
            }
            if ui.button(words::LEAVE_OUT).clicked() {
                chosen = Some(Move::Out);
            }
        })
        .response
        .accessible_name(words::move_photo(name));
        chosen
    }

    fn move_photo(&mut self, (from, photo): (usize, usize), to: Move) {
        let Some(group) = self.groups.get_mut(from) else {
            return;
        };
        if photo >= group.photos.len() {
            return;
        }
        let moved = group.photos.remove(photo);
        match to {
            Move::To(to) => {
                if let Some(group) = self.groups.get_mut(to) {
                    group.photos.push(moved);
                    group
                        .photos
                        .sort_by(|a, b| (&a.taken, &a.path).cmp(&(&b.taken, &b.path)));
                }
            }
            Move::NewGroup => {
                let group = &self.groups[from];
                let name = words::another(&group.name);
                self.groups.push(Group {
                    role: group.role,
                    plate: name.clone(),
                    name,
                    photos: vec![moved],
                });
            }
            Move::Out => {}
        }
        self.groups.retain(|group| !group.photos.is_empty());
    }

    /// Why the groups cannot be taken yet.
    fn fault(&self) -> Option<String> {
        let unlit = |plate: &str| {
            self.groups
                .iter()
                .filter(|group| group.role == GroupRole::Unlit && group.plate == plate)
                .count()
        };
        if self.groups.is_empty() {
            return Some(words::NO_GROUPS.to_owned());
        }
        if self
            .groups
            .iter()
            .any(|group| group.plate.trim().is_empty())
        {
            return Some(words::PLATE_WITHOUT_NAME.to_owned());
        }
        let there = |plate: &String| match &self.into {
            Into::OpenScene(plates) => plates.contains(plate),
            Into::NewScene(_) => false,
        };
        self.groups.iter().find_map(|group| {
            let count = unlit(&group.plate);
            match there(&group.plate) {
                true if count > 0 => Some(words::plate_is_there(&group.plate)),
                false if count != 1 => Some(words::unlit_groups(&group.plate, count)),
                _fits => None,
            }
        })
    }
}

const ROLES: [GroupRole; 4] = [
    GroupRole::Unlit,
    GroupRole::Light,
    GroupRole::Silhouette,
    GroupRole::CleanPlate,
];

fn seen(photo: &PhotoSeen) -> String {
    let size = words::pixels(photo.size.width, photo.size.height);
    let exposure = photo.exposure_s.map(words::exposure_time);
    [photo.taken.clone(), exposure, Some(size)]
        .into_iter()
        .flatten()
        .collect::<Vec<String>>()
        .join(" · ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Size;
    use std::path::PathBuf;

    fn group(name: &str, role: GroupRole, count: usize) -> Group {
        let photo = |at: usize| PhotoSeen {
            path: PathBuf::from(format!("{name}_{at}.jpg")),
            taken: None,
            exposure_s: None,
            size: Size::new(4, 3),
        };
        Group {
            name: name.to_owned(),
            role,
            plate: "barge".to_owned(),
            photos: (0..count).map(photo).collect(),
        }
    }

    #[test]
    fn moving_the_last_photo_takes_the_group_away() {
        let mut approval = Approval {
            groups: vec![
                group("barge", GroupRole::Unlit, 2),
                group("lit", GroupRole::Light, 1),
            ],
            into: Into::OpenScene(vec!["tug".to_owned()]),
        };
        assert_eq!(approval.fault(), None);
        approval.move_photo((1, 0), Move::To(0));
        assert_eq!(approval.groups.len(), 1);
        assert_eq!(approval.groups[0].photos.len(), 3);
        approval.groups[0].role = GroupRole::Light;
        assert!(approval.fault().is_some(), "a plate needs its unlit group");
        approval.groups[0].plate = "tug".to_owned();
        assert_eq!(approval.fault(), None, "a pass of a plate that is there");
        approval.groups[0].role = GroupRole::Unlit;
        assert!(approval.fault().is_some(), "a new source is a swap");
    }
}
