//! The changes to one plate.

use crate::geometry::Size;
use crate::project::edit::{find, remove};
use crate::project::plate::Lies;
use crate::project::{
    Develop, EditError, FrameId, FuseSettings, GroupId, Guidance, Guide, Made, Mask, MaskId,
    MaskPart, PartId, Pass, PassId, Plate, PracticalGroup, Shape, Source, Stack, StackMeasured,
    Step, StepId, Take, TakeMeasured, Variant, VariantId,
};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// One change to a plate.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum PlateEdit {
    /// Names the plate.
    Name(String),
    /// Records its size in reference pixels.
    RecordSize(Size),
    /// Adds a source.
    AddVariant(Arc<Variant>),
    /// Puts another source to use.
    UseVariant(VariantId),
    /// Names a source.
    NameVariant(VariantId, String),
    /// Sets a made source's recipe.
    SetMade(VariantId, Made),
    /// Sets how the reference frame is read.
    SetDevelop(VariantId, Develop),
    /// Sets how frames are joined.
    SetFuse(VariantId, FuseSettings),
    /// Sets what people say about joining the frames in some places.
    SetGuides(VariantId, Vec<Guide>),
    /// Chooses the reference frame; `None` for the usual one.
    SetReference(VariantId, Option<FrameId>),
    /// Lets a frame take part or not.
    UseFrame {
        /// Whose frame.
        variant: VariantId,
        /// Which.
        frame: FrameId,
        /// Whether it takes part.
        used: bool,
    },
    /// Records what was measured on a stack; its frames are put into the measured focus order.
    RecordStack(VariantId, StackMeasured),
    /// Records where a source lies on the plate.
    RecordPlace(VariantId, Lies),
    /// Adds a pass.
    AddPass(Pass),
    /// Changes a pass.
    SetPass(Pass),
    /// Takes a pass away, with its groups and takes.
    RemovePass(PassId),
    /// Gives a source its frames for a pass.
    SetTake(VariantId, Take),
    /// Records what was measured on a take.
    RecordTake(VariantId, PassId, TakeMeasured),
    /// Adds a mask.
    AddMask(Arc<Mask>),
    /// Changes a mask's own settings or all of it.
    SetMask(Arc<Mask>),
    /// Takes a mask away; what acted through it then acts everywhere.
    RemoveMask(MaskId),
    /// Adds a stroke or outline.
    AddPart(MaskId, Arc<MaskPart>),
    /// Changes a stroke or outline.
    SetPart(MaskId, Arc<MaskPart>),
    /// Takes a stroke or outline away.
    RemovePart(MaskId, PartId),
    /// Adds a practical group.
    AddGroup(PracticalGroup),
    /// Changes a practical group.
    SetGroup(PracticalGroup),
    /// Takes a practical group away.
    RemoveGroup(GroupId),
    /// Adds a step after the first `at`.
    AddStep {
        /// The step.
        step: Step,
        /// How many steps come before it.
        at: usize,
    },
    /// Changes a step.
    SetStep(Step),
    /// Takes a step away.
    RemoveStep(StepId),
}

impl Plate {
    pub(super) fn apply(&mut self, edit: &PlateEdit) -> Result<(), EditError> {
        match edit {
            PlateEdit::Name(name) => self.name.clone_from(name),
            PlateEdit::RecordSize(size) => self.size = Some(*size),
            PlateEdit::AddVariant(variant) => {
                if self.variant_by_id(variant.id).is_some() {
                    return Err(EditError::NumberTaken { id: variant.id.0 });
                }
                self.variants.push(Arc::clone(variant));
            }
            PlateEdit::UseVariant(id) => {
                self.variant_mut(*id)?;
                self.current = *id;
            }
            PlateEdit::NameVariant(id, name) => self.variant_mut(*id)?.name.clone_from(name),
            PlateEdit::SetMade(id, made) => {
                self.variant_mut(*id)?.source = Source::Made(made.clone());
            }
            PlateEdit::SetDevelop(id, develop) => self.stack_mut(*id)?.develop = *develop,
            PlateEdit::SetFuse(id, fuse) => self.stack_mut(*id)?.fuse = *fuse,
            PlateEdit::SetGuides(id, guides) => self.set_guides(*id, guides)?,
            PlateEdit::SetReference(id, reference) => self.stack_mut(*id)?.reference = *reference,
            PlateEdit::UseFrame {
                variant,
                frame,
                used,
            } => self.use_frame(*variant, *frame, *used)?,
            PlateEdit::RecordStack(id, measured) => record_stack(self.stack_mut(*id)?, measured),
            PlateEdit::RecordPlace(id, lies) => self.variant_mut(*id)?.lies = Some(lies.clone()),
            PlateEdit::AddPass(pass) => {
                if self.pass(pass.id).is_some() {
                    return Err(EditError::NumberTaken { id: pass.id.0 });
                }
                self.passes.push(pass.clone());
            }
            PlateEdit::SetPass(pass) => {
                let at = find(&self.passes, "pass", pass.id.0, |old| old.id == pass.id)?;
                self.passes[at] = pass.clone();
            }
            PlateEdit::RemovePass(id) => self.remove_pass(*id)?,
            PlateEdit::SetTake(id, take) => self.set_take(*id, take)?,
            PlateEdit::RecordTake(id, pass, measured) => {
                let takes = &mut self.variant_mut(*id)?.takes;
                let at = find(takes, "pass", pass.0, |take| take.pass == *pass)?;
                takes[at].measured = Some(measured.clone());
            }
            PlateEdit::AddMask(_)
            | PlateEdit::SetMask(_)
            | PlateEdit::RemoveMask(_)
            | PlateEdit::AddPart(..)
            | PlateEdit::SetPart(..)
            | PlateEdit::RemovePart(..) => self.apply_to_masks(edit)?,
            PlateEdit::AddGroup(_)
            | PlateEdit::SetGroup(_)
            | PlateEdit::RemoveGroup(_)
            | PlateEdit::AddStep { .. }
            | PlateEdit::SetStep(_)
            | PlateEdit::RemoveStep(_) => self.apply_to_steps(edit)?,
        }
        Ok(())
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "`apply` hands over only the kinds named here"
    )]
    fn apply_to_masks(&mut self, edit: &PlateEdit) -> Result<(), EditError> {
        match edit {
            PlateEdit::AddMask(mask) => {
                if self.mask(mask.id).is_some() {
                    return Err(EditError::NumberTaken { id: mask.id.0 });
                }
                self.needs_of_mask(mask)?;
                self.masks.push(Arc::clone(mask));
            }
            PlateEdit::SetMask(mask) => {
                self.needs_of_mask(mask)?;
                *self.mask_mut(mask.id)? = Mask::clone(mask);
            }
            PlateEdit::RemoveMask(id) => {
                remove(&mut self.masks, "mask", id.0, |mask| mask.id == *id)?;
                self.masks
                    .iter_mut()
                    .for_each(|mask| without_parts(mask, |shape| shape.mask_used() == Some(*id)));
                self.groups
                    .iter_mut()
                    .for_each(|group| group.mask = group.mask.filter(|mask| mask != id));
                self.steps.iter_mut().for_each(|step| {
                    step.mask = step.mask.filter(|mask| mask != id);
                    step.kind.forget_mask(*id);
                });
                self.variants
                    .iter_mut()
                    .for_each(|variant| without_guides(variant, *id));
            }
            PlateEdit::AddPart(id, part) => {
                self.mask_mut(*id)?.parts.push_back(Arc::clone(part));
                self.needs_of_part(*id, part)?;
            }
            PlateEdit::SetPart(id, part) => {
                let parts = &mut self.mask_mut(*id)?.parts;
                let at = parts.iter().position(|old| old.id == part.id);
                parts[at.ok_or(unknown_part(part.id))?] = Arc::clone(part);
                self.needs_of_part(*id, part)?;
            }
            PlateEdit::RemovePart(id, part) => {
                let parts = &mut self.mask_mut(*id)?.parts;
                let at = parts.iter().position(|old| old.id == *part);
                parts.remove(at.ok_or(unknown_part(*part))?);
            }
            _other => {}
        }
        Ok(())
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "`apply` hands over only the kinds named here"
    )]
    fn apply_to_steps(&mut self, edit: &PlateEdit) -> Result<(), EditError> {
        match edit {
            PlateEdit::AddGroup(group) => {
                find(&self.passes, "pass", group.pass.0, |pass| {
                    pass.id == group.pass
                })?;
                if self.groups.iter().any(|old| old.id == group.id) {
                    return Err(EditError::NumberTaken { id: group.id.0 });
                }
                self.groups.push(group.clone());
            }
            PlateEdit::SetGroup(group) => {
                let at = find(&self.groups, "practical group", group.id.0, |old| {
                    old.id == group.id
                })?;
                self.groups[at] = group.clone();
            }
            PlateEdit::RemoveGroup(id) => {
                remove(&mut self.groups, "practical group", id.0, |group| {
                    group.id == *id
                })?;
            }
            PlateEdit::AddStep { step, at } => {
                if self.steps.iter().any(|old| old.id == step.id) {
                    return Err(EditError::NumberTaken { id: step.id.0 });
                }
                self.steps.insert((*at).min(self.steps.len()), step.clone());
            }
            PlateEdit::SetStep(step) => {
                let at = find(&self.steps, "step", step.id.0, |old| old.id == step.id)?;
                self.steps[at] = step.clone();
            }
            PlateEdit::RemoveStep(id) => {
                remove(&mut self.steps, "step", id.0, |step| step.id == *id)?;
            }
            _other => {}
        }
        Ok(())
    }

    #[expect(
        clippy::fn_params_excessive_bools,
        reason = "handed on from the edit's field of that name"
    )]
    fn use_frame(
        &mut self,
        variant: VariantId,
        frame: FrameId,
        used: bool,
    ) -> Result<(), EditError> {
        let looks = |step: &Step| step.kind.frames_used().any(|other| other == frame);
        let is_looked_at = self.steps.iter().any(looks);
        let frames = &mut self.stack_mut(variant)?.frames;
        let at = find(frames, "frame", frame.0, |entry| entry.frame == frame)?;
        if !used && is_looked_at {
            return Err(EditError::Refused(
                "a place of the plate is filled from this frame: fill it from something else first"
                    .to_owned(),
            ));
        }
        if !used
            && frames
                .iter()
                .filter(|entry| entry.used && entry.frame != frame)
                .count()
                == 0
        {
            return Err(EditError::Refused(
                "a stack needs at least one frame that takes part".to_owned(),
            ));
        }
        frames[at].used = used;
        Ok(())
    }

    fn set_guides(&mut self, id: VariantId, guides: &[Guide]) -> Result<(), EditError> {
        for guide in guides {
            find(&self.masks, "mask", guide.mask.0, |mask| {
                mask.id == guide.mask
            })?;
            if let Guidance::Prefer(frames) = guide.does
                && !(-100.0..=100.0).contains(&frames)
            {
                return Err(EditError::Refused(
                    "the depth can be moved by up to 100 frames".to_owned(),
                ));
            }
        }
        let stack = self.stack_mut(id)?;
        for guide in guides {
            if let Guidance::TakeFrom(frame) = guide.does {
                find(&stack.frames, "frame", frame.0, |entry| {
                    entry.frame == frame
                })?;
            }
        }
        stack.guides = guides.to_vec();
        Ok(())
    }

    fn remove_pass(&mut self, id: PassId) -> Result<(), EditError> {
        remove(&mut self.passes, "pass", id.0, |pass| pass.id == id)?;
        for mask in &mut self.masks {
            without_parts(mask, |shape| shape.pass_used() == Some(id));
        }
        self.groups.retain(|group| group.pass != id);
        self.steps
            .retain(|step| !step.kind.passes_used().contains(&id));
        for variant in &mut self.variants {
            if variant.takes.iter().any(|take| take.pass == id) {
                Arc::make_mut(variant).takes.retain(|take| take.pass != id);
            }
        }
        Ok(())
    }

    fn set_take(&mut self, variant: VariantId, take: &Take) -> Result<(), EditError> {
        find(&self.passes, "pass", take.pass.0, |pass| {
            pass.id == take.pass
        })?;
        let takes = &mut self.variant_mut(variant)?.takes;
        match takes.iter_mut().find(|old| old.pass == take.pass) {
            Some(old) => old.clone_from(take),
            None => takes.push(take.clone()),
        }
        Ok(())
    }

    fn variant_mut(&mut self, id: VariantId) -> Result<&mut Variant, EditError> {
        let at = find(&self.variants, "source", id.0, |variant| variant.id == id)?;
        Ok(Arc::make_mut(&mut self.variants[at]))
    }

    fn stack_mut(&mut self, id: VariantId) -> Result<&mut Stack, EditError> {
        match &mut self.variant_mut(id)?.source {
            Source::Stack(stack) => Ok(stack),
            Source::Made(_) => Err(EditError::Refused("a made plate has no frames".to_owned())),
        }
    }

    /// A mask takes in masks and looks at passes that are there, and never itself.
    fn needs_of_mask(&self, mask: &Mask) -> Result<(), EditError> {
        for part in &mask.parts {
            self.needs_of_shape(mask.id, &part.shape)?;
        }
        self.not_within_itself(mask)
    }

    /// What a part that was just put into mask `id` needs. Only what it brings is looked at, however much is there already.
    fn needs_of_part(&self, id: MaskId, part: &MaskPart) -> Result<(), EditError> {
        self.needs_of_shape(id, &part.shape)?;
        match self.mask(id) {
            Some(mask) if part.shape.mask_used().is_some() => self.not_within_itself(mask),
            _drawn => Ok(()),
        }
    }

    fn needs_of_shape(&self, mask: MaskId, shape: &Shape) -> Result<(), EditError> {
        if let Some(other) = shape.mask_used().filter(|other| *other != mask) {
            find(&self.masks, "mask", other.0, |old| old.id == other)?;
        }
        if let Some(pass) = shape.pass_used() {
            find(&self.passes, "pass", pass.0, |old| old.id == pass)?;
        }
        Ok(())
    }

    fn not_within_itself(&self, mask: &Mask) -> Result<(), EditError> {
        if self.mask_is_within(mask.id, mask) {
            return Err(EditError::Refused(format!(
                "mask '{}' would be made of itself: choose another mask",
                mask.name
            )));
        }
        Ok(())
    }

    fn mask_mut(&mut self, id: MaskId) -> Result<&mut Mask, EditError> {
        let at = find(&self.masks, "mask", id.0, |mask| mask.id == id)?;
        Ok(Arc::make_mut(&mut self.masks[at]))
    }
}

const fn unknown_part(id: PartId) -> EditError {
    EditError::Unknown {
        what: "mask part",
        id: id.0,
    }
}

/// Takes the parts for which `gone` holds out of a mask.
fn without_parts(mask: &mut Arc<Mask>, gone: impl Fn(&Shape) -> bool) {
    if mask.parts.iter().any(|part| gone(&part.shape)) {
        Arc::make_mut(mask).parts.retain(|part| !gone(&part.shape));
    }
}

/// Takes what is said through a mask out of a source.
fn without_guides(variant: &mut Arc<Variant>, mask: MaskId) {
    let acts = |guide: &Guide| guide.mask == mask;
    if variant
        .stack()
        .is_some_and(|stack| stack.guides.iter().any(acts))
        && let Source::Stack(stack) = &mut Arc::make_mut(variant).source
    {
        stack.guides.retain(|guide| !acts(guide));
    }
}

/// Keeps the measurement and puts the frames into its focus order; frames that were not measured stand last.
fn record_stack(stack: &mut Stack, measured: &StackMeasured) {
    let place = |frame: FrameId| {
        measured
            .frames
            .iter()
            .position(|entry| entry.frame == frame)
            .unwrap_or(usize::MAX)
    };
    stack.frames.sort_by_key(|entry| place(entry.frame));
    stack.measured = Some(measured.clone());
}

impl PlateEdit {
    /// What people read in the list of edits.
    #[must_use]
    pub fn label(&self) -> String {
        let said = match self {
            Self::Name(name) => return format!("named '{name}'"),
            Self::AddVariant(variant) => return format!("source '{}' added", variant.name),
            Self::NameVariant(_, name) => return format!("source named '{name}'"),
            Self::AddPass(pass) => return format!("pass '{}' added", pass.name),
            Self::AddMask(mask) => return format!("mask '{}' added", mask.name),
            Self::AddGroup(group) => return format!("practical group '{}' added", group.name),
            Self::SetGroup(group) => return format!("practical group '{}' changed", group.name),
            Self::AddStep { step, .. } => return format!("{} added", step.kind.word()),
            Self::SetStep(step) => return format!("{} changed", step.kind.word()),
            Self::UseFrame { used: true, .. } => "frame taken in",
            Self::UseFrame { used: false, .. } => "frame left out",
            Self::RecordSize(_) => "size recorded",
            Self::UseVariant(_) => "another source in use",
            Self::SetMade(..) => "recipe changed",
            Self::SetDevelop(..) => "reference frame set",
            Self::SetFuse(..) => "fuse settings changed",
            Self::SetGuides(_, guides) => {
                return guides.last().map_or_else(
                    || "frames joined without guidance".to_owned(),
                    |last| format!("guided: {}", last.does.word()),
                );
            }
            Self::SetReference(..) => "reference frame chosen",
            Self::RecordStack(..) => "registered and matched",
            Self::RecordPlace(..) => "source registered to the plate",
            Self::SetPass(_) => "pass changed",
            Self::RemovePass(_) => "pass removed",
            Self::SetTake(..) => "frames of a pass set",
            Self::RecordTake(..) => "pass registered",
            Self::SetMask(_) => "mask changed",
            Self::RemoveMask(_) => "mask removed",
            Self::AddPart(_, part) => return format!("{} drawn", part.shape.word()),
            Self::SetPart(_, part) => return format!("{} changed", part.shape.word()),
            Self::RemovePart(..) => "stroke or outline removed",
            Self::RemoveGroup(_) => "practical group removed",
            Self::RemoveStep(_) => "step removed",
        };
        said.to_owned()
    }
}
