//! Everything that was ever done to a project: a tree of edits, never cut.
//!
//! Undo moves to the parent; a new edit after an undo starts a branch beside the old one, which stays in the tree and can be
//! gone back to. Every revision can be rebuilt by replaying the edits from the base. Whole projects are kept only where we
//! are, where we just were, and at every so many edits, so that memory grows with the number of edits and not with its square.

use crate::project::{Edit, EditError, Project, RevisionId};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Edits between two kept projects.
const SPAN: usize = 128;

/// The tree of edits and where we are in it.
#[derive(Debug, Clone)]
pub struct History {
    base: Arc<Project>,
    revisions: Vec<Revision>,
    /// What people read of each revision, and the number of edits that lead to it from the base.
    notes: Vec<(String, usize)>,
    /// The project after every [`SPAN`]th edit of each branch.
    kept: BTreeMap<RevisionId, Arc<Project>>,
    /// The projects where we just were.
    recent: BTreeMap<RevisionId, Arc<Project>>,
    now: Option<RevisionId>,
    project: Arc<Project>,
    /// The child that redo goes to, for each revision; the first entry is the base's.
    ahead: Vec<Option<RevisionId>>,
    named: Vec<NamedState>,
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

/// A state of the scene that people gave a name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamedState {
    /// The name; unique in the history.
    pub name: String,
    /// The revision; the base without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revision: Option<RevisionId>,
}

impl History {
    /// A history that begins with `base`.
    #[must_use]
    pub fn new(mut base: Project) -> Self {
        base.next_id = base.next_id.max(base.largest_id().saturating_add(1));
        let base = Arc::new(base);
        Self {
            project: Arc::clone(&base),
            base,
            revisions: Vec::new(),
            notes: Vec::new(),
            kept: BTreeMap::new(),
            recent: BTreeMap::new(),
            now: None,
            ahead: vec![None],
            named: Vec::new(),
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
            let count = history.revisions.len();
            let known = revision.parent.is_none_or(|parent| index(parent) < count);
            if index(revision.id) != count || !known {
                return Err(EditError::Refused(format!(
                    "history: revision {} stands out of order",
                    revision.id
                )));
            }
            history.step_to(revision.parent);
            let label = revision.edit.label(&history.project);
            // Nobody else holds the project between two kept ones, so it is changed in place.
            Arc::make_mut(&mut history.project).edit(&revision.edit)?;
            history.push(revision, label);
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
    pub const fn project(&self) -> &Arc<Project> {
        &self.project
    }

    /// The project the history begins with.
    #[must_use]
    pub const fn base(&self) -> &Arc<Project> {
        &self.base
    }

    /// The project after `revision` (`None`: the base). Replays up to 128 edits.
    #[must_use]
    pub fn project_at(&self, revision: Option<RevisionId>) -> Arc<Project> {
        let (start, chain) = self.chain_to(revision);
        chain
            .into_iter()
            .fold(start, |before, id| self.after(&before, id))
    }

    /// Every edit ever made, oldest first.
    #[must_use]
    pub fn revisions(&self) -> &[Revision] {
        &self.revisions
    }

    /// What people read of a revision.
    #[must_use]
    pub fn label(&self, revision: RevisionId) -> &str {
        self.notes
            .get(index(revision))
            .map_or("", |(label, _depth)| label.as_str())
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
        let after = Arc::new(self.project.edited(&edit)?);
        let label = edit.label(&self.project);
        let id = RevisionId(u32::try_from(self.revisions.len()).unwrap_or(u32::MAX));
        let revision = Revision {
            id,
            parent: self.now,
            at,
            edit,
        };
        self.remember();
        self.project = after;
        self.push(revision, label);
        Ok(id)
    }

    /// Adds a revision whose project is the one now.
    fn push(&mut self, revision: Revision, label: String) {
        let id = revision.id;
        let depth = 1 + revision
            .parent
            .map_or(0, |parent| self.notes[index(parent)].1);
        if depth.is_multiple_of(SPAN) {
            self.kept.insert(id, Arc::clone(&self.project));
        }
        self.ahead[slot(revision.parent)] = Some(id);
        self.ahead.push(None);
        self.notes.push((label, depth));
        self.revisions.push(revision);
        self.now = Some(id);
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
        self.remember();
        self.step_to(self.revisions[index(now)].parent);
        true
    }

    /// Goes forward again by one edit; `false` where there is none.
    pub fn redo(&mut self) -> bool {
        let Some(next) = self.ahead[slot(self.now)] else {
            return false;
        };
        // In place where nobody else looks at the project; it fitted when it was recorded, so it fits again.
        let edit = &self.revisions[index(next)].edit;
        if Arc::make_mut(&mut self.project).edit(edit).is_err() {
            let now = self.now.take();
            self.project = Arc::clone(&self.base);
            self.step_to(now);
            return false;
        }
        self.now = Some(next);
        true
    }

    /// Goes to any revision; redo from its ancestors then leads here. Unknown revisions are ignored.
    pub fn go_to(&mut self, revision: Option<RevisionId>) {
        if revision.is_some_and(|id| index(id) >= self.revisions.len()) {
            return;
        }
        self.remember();
        self.step_to(revision);
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
            path.push((id, self.label(id).to_owned()));
            at = self.revisions[index(id)].parent;
        }
        path.reverse();
        path
    }

    /// The named states, in the order they were named.
    #[must_use]
    pub fn named(&self) -> &[NamedState] {
        &self.named
    }

    /// The revision that is called `name`.
    #[must_use]
    pub fn state_named(&self, name: &str) -> Option<&NamedState> {
        self.named.iter().find(|state| state.name == name)
    }

    /// Gives a state a name. A name that is in use moves to this state.
    ///
    /// # Errors
    /// When the name is empty, or there is no such revision.
    pub fn name_state(&mut self, state: NamedState) -> Result<(), EditError> {
        if state.name.trim().is_empty() {
            return Err(EditError::Refused("a state needs a name".to_owned()));
        }
        if let Some(id) = state
            .revision
            .filter(|id| index(*id) >= self.revisions.len())
        {
            return Err(EditError::Unknown {
                what: "revision",
                id: id.0,
            });
        }
        match self.named.iter_mut().find(|old| old.name == state.name) {
            Some(old) => *old = state,
            None => self.named.push(state),
        }
        Ok(())
    }

    /// Takes a name away; the state itself stays in the tree. `false` where there is no such name.
    pub fn forget_name(&mut self, name: &str) -> bool {
        let before = self.named.len();
        self.named.retain(|state| state.name != name);
        self.named.len() < before
    }

    /// Keeps the project now at hand, for going back to it.
    fn remember(&mut self) {
        if let Some(now) = self.now {
            self.recent.insert(now, Arc::clone(&self.project));
        }
        while self.recent.len() > 2 * SPAN {
            // The oldest edit is the farthest from where work goes on.
            self.recent.pop_first();
        }
    }

    /// Goes to a revision of the tree, keeping the projects on the way at hand.
    fn step_to(&mut self, revision: Option<RevisionId>) {
        if revision == self.now {
            return;
        }
        let (start, chain) = self.chain_to(revision);
        self.project = start;
        if chain.len() > 1 {
            self.recent.clear();
        }
        for id in chain {
            self.project = self.after(&self.project, id);
            self.recent.insert(id, Arc::clone(&self.project));
        }
        self.now = revision;
    }

    /// The nearest project at hand on the way to `revision`, and the edits from there, first to last.
    fn chain_to(&self, revision: Option<RevisionId>) -> (Arc<Project>, Vec<RevisionId>) {
        let mut chain = Vec::new();
        let mut at = revision;
        let start = loop {
            if at == self.now {
                break &self.project;
            }
            let Some(id) = at else { break &self.base };
            if let Some(found) = self.kept.get(&id).or_else(|| self.recent.get(&id)) {
                break found;
            }
            let Some(step) = self.revisions.get(index(id)) else {
                break &self.base;
            };
            chain.push(id);
            at = step.parent;
        };
        chain.reverse();
        (Arc::clone(start), chain)
    }

    /// The project after the edit of revision `id`. It fitted when it was recorded, so it fits again.
    fn after(&self, before: &Arc<Project>, id: RevisionId) -> Arc<Project> {
        before
            .edited(&self.revisions[index(id)].edit)
            .map_or_else(|_never| Arc::clone(before), Arc::new)
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

    #[test]
    fn every_state_of_a_long_tree_is_what_replaying_gives() {
        let mut history = History::new(Project::new("first", Size::new(10, 10)));
        let mut want = vec!["first".to_owned()];
        for number in 0..1000_u32 {
            // Now and then a branch from some way back.
            if number % 97 == 96 {
                history.go_to(Some(RevisionId(number / 2)));
            }
            named(&mut history, &format!("edit {number}"));
            want.push(format!("edit {number}"));
        }
        let at = |history: &History, id: Option<RevisionId>| history.project_at(id).name.clone();
        for number in (0..1000_u32).rev() {
            let id = Some(RevisionId(number));
            assert_eq!(at(&history, id), want[slot(id)], "{number}");
        }
        let newest = history.now();
        let mut back = 0;
        while history.undo() {
            back += 1;
            assert_eq!(history.project().name, want[slot(history.now())]);
        }
        assert_eq!(history.project(), history.base());
        while history.redo() {
            back -= 1;
            assert_eq!(history.project().name, want[slot(history.now())]);
        }
        assert_eq!((back, history.now()), (0, newest));
        assert!(history.recent.len() <= 3 * SPAN, "{}", history.recent.len());
        let again = History::replay(
            Project::clone(history.base()),
            history.revisions().to_vec(),
            history.now(),
        )
        .unwrap();
        assert_eq!(again.project(), history.project());
        assert_eq!(again.notes, history.notes);
        let mut again = again;
        while again.undo() {}
        while again.redo() {}
        assert_eq!(again.now(), newest, "the way back is the way we came");
    }

    #[test]
    fn states_have_names_and_names_have_one_state() {
        let mut history = History::new(Project::new("first", Size::new(10, 10)));
        named(&mut history, "second");
        let state = |name: &str, revision| NamedState {
            name: name.to_owned(),
            revision,
        };
        history.name_state(state("print", None)).unwrap();
        history.name_state(state("print", history.now())).unwrap();
        assert_eq!(
            history.state_named("print").unwrap().revision,
            history.now()
        );
        assert!(history.name_state(state(" ", None)).is_err(), "no name");
        let nowhere = state("x", Some(RevisionId(7)));
        assert!(history.name_state(nowhere).is_err(), "no state");
        assert!(
            history.forget_name("print") && !history.forget_name("print"),
            "once"
        );
    }
}
