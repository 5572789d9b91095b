//! Everything that was ever done to a project: a tree of edits, never cut.
//!
//! Undo moves to the parent; a new edit after an undo starts a branch beside the old one, which stays in the tree and can be
//! gone back to. Every revision can be rebuilt by replaying the edits from the base.

use crate::project::{Edit, EditError, Project, RevisionId};
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The tree of edits and where we are in it.
#[derive(Debug, Clone)]
pub struct History {
    base: Arc<Project>,
    revisions: Vec<Revision>,
    /// The project after each revision, in the same order.
    snapshots: Vec<Arc<Project>>,
    now: Option<RevisionId>,
    /// The child that redo goes to, for each revision; the first entry is the base's.
    ahead: Vec<Option<RevisionId>>,
}

/// One edit in the tree.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Revision {
    /// Its number: 0, 1, 2 ... in the order the edits were made.
    pub id: RevisionId,
    /// The revision it was made on; the base without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub parent: Option<RevisionId>,
    /// When, as `2026-11-25T14:03:09`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// What was changed.
    pub edit: Edit,
}

impl History {
    /// A history that begins with `base`.
    #[must_use]
    pub fn new(base: Project) -> Self {
        Self {
            base: Arc::new(base),
            revisions: Vec::new(),
            snapshots: Vec::new(),
            now: None,
            ahead: vec![None],
        }
    }

    /// Replays `revisions` on `base` and goes to `now`.
    ///
    /// # Errors
    /// When an edit does not fit, or numbers or parents do not follow one another.
    pub fn replay(
        base: Project,
        revisions: Vec<Revision>,
        now: Option<RevisionId>,
    ) -> Result<Self, EditError> {
        let mut history = Self::new(base);
        for revision in revisions {
            let wrong = EditError::Refused(format!(
                "history: revision {} stands out of order",
                revision.id
            ));
            if index(revision.id) != history.revisions.len() {
                return Err(wrong);
            }
            if revision
                .parent
                .is_some_and(|parent| index(parent) >= history.revisions.len())
            {
                return Err(wrong);
            }
            history.now = revision.parent;
            history.record(revision.edit, revision.at)?;
        }
        if now.is_some_and(|now| index(now) >= history.revisions.len()) {
            return Err(EditError::Refused(
                "history: the current revision is not in it".to_owned(),
            ));
        }
        history.go_to(now);
        Ok(history)
    }

    /// The project now.
    #[must_use]
    pub fn project(&self) -> &Arc<Project> {
        self.project_at(self.now)
    }

    /// The project the history begins with.
    #[must_use]
    pub fn base(&self) -> &Arc<Project> {
        &self.base
    }

    /// The project after `revision` (`None`: the base).
    #[must_use]
    pub fn project_at(&self, revision: Option<RevisionId>) -> &Arc<Project> {
        revision
            .and_then(|id| self.snapshots.get(index(id)))
            .unwrap_or(&self.base)
    }

    /// Every edit ever made, oldest first.
    #[must_use]
    pub fn revisions(&self) -> &[Revision] {
        &self.revisions
    }

    /// Where we are; `None` at the base.
    #[must_use]
    pub const fn now(&self) -> Option<RevisionId> {
        self.now
    }

    /// Makes an edit on the project as it is now.
    ///
    /// # Errors
    /// When the edit does not fit; nothing is recorded then.
    pub fn record(&mut self, edit: Edit, at: Option<String>) -> Result<RevisionId, EditError> {
        let after = Arc::new(self.project().edited(&edit)?);
        let id = RevisionId(u32::try_from(self.revisions.len()).unwrap_or(u32::MAX));
        self.ahead[slot(self.now)] = Some(id);
        self.revisions.push(Revision {
            id,
            parent: self.now,
            at,
            edit,
        });
        self.snapshots.push(after);
        self.ahead.push(None);
        self.now = Some(id);
        Ok(id)
    }

    /// Whether there is anything to undo.
    #[must_use]
    pub const fn can_undo(&self) -> bool {
        self.now.is_some()
    }

    /// Whether there is anything to redo.
    #[must_use]
    pub fn can_redo(&self) -> bool {
        self.ahead[slot(self.now)].is_some()
    }

    /// Goes back by one edit; `false` at the base.
    pub fn undo(&mut self) -> bool {
        let Some(now) = self.now else { return false };
        self.now = self.revisions[index(now)].parent;
        true
    }

    /// Goes forward again by one edit; `false` where there is none.
    pub fn redo(&mut self) -> bool {
        let Some(next) = self.ahead[slot(self.now)] else {
            return false;
        };
        self.now = Some(next);
        true
    }

    /// Goes to any revision; redo from its ancestors then leads here. Unknown revisions are ignored.
    pub fn go_to(&mut self, revision: Option<RevisionId>) {
        if revision.is_some_and(|id| index(id) >= self.revisions.len()) {
            return;
        }
        self.now = revision;
        let mut at = revision;
        while let Some(id) = at {
            let parent = self.revisions[index(id)].parent;
            self.ahead[slot(parent)] = Some(id);
            at = parent;
        }
    }

    /// The edits from the base to now, with what people read of each.
    #[must_use]
    pub fn path(&self) -> Vec<(RevisionId, String)> {
        let mut path = Vec::new();
        let mut at = self.now;
        while let Some(id) = at {
            let revision = &self.revisions[index(id)];
            path.push((id, revision.edit.label(self.project_at(revision.parent))));
            at = revision.parent;
        }
        path.reverse();
        path
    }
}

fn index(id: RevisionId) -> usize {
    usize::try_from(id.0).unwrap_or(usize::MAX)
}

fn slot(at: Option<RevisionId>) -> usize {
    at.map_or(0, |id| index(id) + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Size;

    fn named(history: &mut History, name: &str) {
        history
            .record(Edit::NameScene(name.to_owned()), None)
            .unwrap();
    }

    #[test]
    fn a_branch_is_never_lost() {
        let mut history = History::new(Project::new("first", Size::new(10, 10)));
        named(&mut history, "second");
        named(&mut history, "third");
        let third = history.now();
        assert!(history.undo(), "undo");
        named(&mut history, "other");
        assert_eq!(history.project().name, "other");
        history.go_to(third);
        assert_eq!(history.project().name, "third");
        assert!(
            history.undo() && history.redo(),
            "redo leads back to where we went"
        );
        assert_eq!(history.project().name, "third");
        let again = History::replay(
            Project::clone(history.base()),
            history.revisions().to_vec(),
            history.now(),
        )
        .unwrap();
        assert_eq!(again.project(), history.project());
    }

    #[test]
    fn an_edit_that_does_not_fit_leaves_no_trace() {
        let mut history = History::new(Project::new("first", Size::new(10, 10)));
        let missing = Edit::RemovePlate(crate::project::PlateId(7));
        assert!(
            history.record(missing, None).is_err(),
            "there is no plate 7"
        );
        assert!(
            !history.can_undo() && history.revisions().is_empty(),
            "nothing recorded"
        );
    }
}
