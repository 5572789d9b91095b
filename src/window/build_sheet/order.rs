//! The order of the rows is the order of the scene: where a moved row goes among the placements.

use crate::project::{Edit, PlateId, Project};
use crate::window::build_sheet::facts::{front_placement, front_to_back};

/// Which way a row is moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// One row towards the front (up).
    Forward,
    /// One row towards the back (down).
    Back,
}

/// The edit that moves a plate by one row; none at the end of the sheet, or where the plate is not placed.
#[must_use]
pub fn step(project: &Project, plate: PlateId, way: Way) -> Option<Edit> {
    let order = front_to_back(project);
    let at = order.iter().position(|other| *other == plate)?;
    let beyond = match way {
        Way::Forward => at.checked_sub(1)?,
        Way::Back => at + 1,
    };
    to_row(project, plate, *order.get(beyond)?)
}

/// The edit that moves a plate to the row where `target` stands; none where either is not placed or nothing would change.
#[must_use]
pub fn to_row(project: &Project, plate: PlateId, target: PlateId) -> Option<Edit> {
    if plate == target {
        return None;
    }
    let (_from, placed) = front_placement(project, plate)?;
    // Once the moved one is taken out, the target's old number is the place just beyond it, seen from where the moved one came.
    let (to, _target) = front_placement(project, target)?;
    Some(Edit::MovePlacement {
        placement: placed.id,
        to,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Point, Size};
    use crate::project::{
        Blend, Placement, PlacementId, Placing, Plate, Source, Stack, Variant, VariantId,
    };
    use std::sync::Arc;

    fn plate(id: u32) -> Arc<Plate> {
        let variant = Variant {
            id: VariantId(id + 100),
            name: "first".to_owned(),
            source: Source::Stack(Stack::of(Vec::new())),
            takes: Vec::new(),
            lies: None,
        };
        Arc::new(Plate {
            id: PlateId(id),
            name: format!("plate {id}"),
            size: None,
            passes: Vec::new(),
            variants: vec![Arc::new(variant)],
            current: VariantId(id + 100),
            masks: Vec::new(),
            groups: Vec::new(),
            steps: Vec::new(),
        })
    }

    fn scene() -> Project {
        let mut project = Project::new("order", Size::new(8, 8));
        for id in 1..=3 {
            project.plates.push(plate(id));
            project.placements.push(Arc::new(Placement {
                id: PlacementId(id + 10),
                name: String::new(),
                plate: PlateId(id),
                placing: Placing::Upright {
                    centre: Point::new(4.0, 4.0),
                    scale: 1.0,
                    turn_deg: 0.0,
                    mirrored: false,
                },
                blend: Blend::SourceOver,
                strength: 1.0,
                visible: true,
                distance_m: None,
            }));
        }
        project
    }

    fn order_after(edit: &Edit) -> Vec<u32> {
        let after = scene().edited(edit).unwrap();
        front_to_back(&after).iter().map(|plate| plate.0).collect()
    }

    #[test]
    fn a_row_goes_where_it_is_put() {
        assert_eq!(front_to_back(&scene()), [3, 2, 1].map(PlateId));
        let forward = step(&scene(), PlateId(1), Way::Forward).unwrap();
        assert_eq!(order_after(&forward), [3, 1, 2]);
        let back = step(&scene(), PlateId(3), Way::Back).unwrap();
        assert_eq!(order_after(&back), [2, 3, 1]);
        assert_eq!(step(&scene(), PlateId(3), Way::Forward), None);
        assert_eq!(step(&scene(), PlateId(1), Way::Back), None);
        let far = to_row(&scene(), PlateId(3), PlateId(1)).unwrap();
        assert_eq!(order_after(&far), [2, 1, 3]);
    }
}
