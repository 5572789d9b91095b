//! Measures what is not measured yet, or was measured on other inputs, and records it.

use crate::engine::{Watch, measure};
use crate::project::{Edit, PassId, Plate, PlateEdit, PlateId, Project, Variant, VariantId};
use crate::session::{Session, SessionError};

/// One thing that is to be measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Due {
    /// The frames of a source: registration and gains.
    Stack(PlateId, VariantId),
    /// The frames of a pass.
    Take(PlateId, VariantId, PassId),
    /// Where a later source lies on its plate.
    Place(PlateId, VariantId),
}

impl Session {
    /// What has to be measured before the scene can be built, in the order it must be done.
    #[must_use]
    pub fn due(&self) -> Vec<Due> {
        let project = self.project();
        let mut due = Vec::new();
        for plate in &project.plates {
            let takes = plate.passes.iter().filter_map(|pass| plate.take(pass.id));
            let mut variants: Vec<VariantId> = vec![plate.current];
            variants.extend(takes.clone().map(|(variant, _take)| variant.id));
            if let Some(first) = plate.variants.first() {
                variants.push(first.id);
            }
            variants.extend(
                plate
                    .steps
                    .iter()
                    .flat_map(|step| step.kind.variants_used()),
            );
            let frames = plate.steps.iter().flat_map(|step| step.kind.frames_used());
            let of_frames = frames.filter_map(|frame| plate.variant_of_frame(frame));
            variants.extend(of_frames.map(|variant| variant.id));
            variants.sort_unstable();
            variants.dedup();
            for id in variants {
                let Some(variant) = plate.variant_by_id(id) else {
                    continue;
                };
                due.extend(due_of(project, plate, variant));
            }
            for (variant, take) in takes {
                if measure::take_is_due(project, plate, variant, take) {
                    due.push(Due::Take(plate.id, variant.id, take.pass));
                }
            }
        }
        due
    }

    /// Measures one thing and gives the edit that records it; changes nothing itself.
    ///
    /// # Errors
    /// When a frame cannot be read or registered, or the work was stopped.
    pub fn measured(&self, due: Due, watch: &dyn Watch) -> Result<Edit, SessionError> {
        let world = self.world(watch);
        let engine = self.engine();
        let edit = match due {
            Due::Stack(plate, variant) => {
                let measured = engine.measure_stack(&world, plate, variant)?;
                Edit::Plate(plate, PlateEdit::RecordStack(variant, measured))
            }
            Due::Take(plate, variant, pass) => {
                let measured = engine.measure_take(&world, plate, variant, pass)?;
                Edit::Plate(plate, PlateEdit::RecordTake(variant, pass, measured))
            }
            Due::Place(plate, variant) => {
                let lies = engine.measure_place(&world, plate, variant)?;
                Edit::Plate(plate, PlateEdit::RecordPlace(variant, lies))
            }
        };
        Ok(edit)
    }

    /// Measures a source of a plate that need not be in use, as far as that is due, as recorded edits.
    ///
    /// # Errors
    /// When there is no such source; as [`Session::measured`].
    pub(in crate::session) fn measure_source(
        &mut self,
        plate: PlateId,
        source: VariantId,
        watch: &dyn Watch,
    ) -> Result<(), SessionError> {
        let project = self.project();
        let plate = project.plate(plate);
        let both = plate.and_then(|plate| Some((plate, plate.variant_by_id(source)?)));
        let (plate, source) = both.ok_or_else(|| {
            SessionError::Refused("this source is not in the scene any more".to_owned())
        })?;
        let due: Vec<Due> = due_of(project, plate, source).collect();
        for one in due {
            let edit = self.measured(one, watch)?;
            self.record(edit)?;
        }
        Ok(())
    }

    /// Measures everything about a plate again, then what became due by it, as recorded edits; what comes out as it was is not
    /// recorded again.
    ///
    /// # Errors
    /// As [`Session::prepare`] and [`Session::measured`].
    pub fn measure_again(&mut self, plate: PlateId, watch: &dyn Watch) -> Result<(), SessionError> {
        self.measure_all(watch)?;
        for due in self.all_of(plate) {
            let edit = self.measured(due, watch)?;
            let project = self.project();
            if project.edited(&edit)? != **project {
                self.record(edit)?;
            }
        }
        self.measure_all(watch)
    }

    /// Everything that can be measured about a plate, in the order it must be done.
    fn all_of(&self, plate: PlateId) -> Vec<Due> {
        let Some(plate) = self.project().plate(plate) else {
            return Vec::new();
        };
        let mut all = Vec::new();
        for variant in &plate.variants {
            if variant.stack().is_some() {
                all.push(Due::Stack(plate.id, variant.id));
            }
            if variant.lies.is_some() {
                all.push(Due::Place(plate.id, variant.id));
            }
        }
        for (variant, take) in plate.passes.iter().filter_map(|pass| plate.take(pass.id)) {
            all.push(Due::Take(plate.id, variant.id, take.pass));
        }
        all
    }

    /// Prepares the project and measures everything that is due, as recorded edits.
    ///
    /// # Errors
    /// As [`Session::prepare`] and [`Session::measured`].
    pub fn measure_all(&mut self, watch: &dyn Watch) -> Result<(), SessionError> {
        self.prepare()?;
        // A measurement can make another one due (a pass waits for its stack), never endlessly.
        for _round in 0..4 {
            let due = self.due();
            if due.is_empty() {
                return Ok(());
            }
            for one in due {
                let edit = self.measured(one, watch)?;
                self.record(edit)?;
            }
        }
        Ok(())
    }
}

/// What has to be measured of one source.
fn due_of(project: &Project, plate: &Plate, variant: &Variant) -> impl Iterator<Item = Due> {
    let stack = measure::stack_is_due(project, variant);
    let place = measure::place_is_due(project, plate, variant);
    let stack = stack.then_some(Due::Stack(plate.id, variant.id));
    let place = place.then_some(Due::Place(plate.id, variant.id));
    stack.into_iter().chain(place)
}
