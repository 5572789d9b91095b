//! The record as people read it: one line for every edit ever made, in the order they were made.

use crate::project::{History, NamedState, RevisionId};
use crate::session::{Session, SessionError};
use serde::Serialize;
use std::collections::BTreeSet;

/// One edit in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StepLine {
    /// Its number, counted from 1.
    pub number: u32,
    /// The number of the edit it was made on; 0 for the beginning.
    pub after: u32,
    /// When, as `2026-11-25T14:03:09`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// What was done.
    pub what: String,
    /// Whether it is part of the scene as it is now; else it was set aside by undo and is still there.
    pub in_use: bool,
    /// What people call the state after it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub named: Vec<String>,
}

/// Every edit in words.
#[must_use]
pub fn step_list(history: &History) -> Vec<StepLine> {
    let used: BTreeSet<RevisionId> = history.path().into_iter().map(|(id, _label)| id).collect();
    let line = |revision: &crate::project::Revision| StepLine {
        number: number(Some(revision.id)),
        after: number(revision.parent),
        at: revision.at.clone(),
        what: history.label(revision.id).to_owned(),
        in_use: used.contains(&revision.id),
        named: history
            .named()
            .iter()
            .filter(|state| state.revision == Some(revision.id))
            .map(|state| state.name.clone())
            .collect(),
    };
    history.revisions().iter().map(line).collect()
}

fn number(revision: Option<RevisionId>) -> u32 {
    revision.map_or(0, |id| id.0.saturating_add(1))
}

impl Session {
    /// The state that people call `name`.
    ///
    /// # Errors
    /// When no state has that name; says which names there are.
    pub fn state_called(&self, name: &str) -> Result<&NamedState, SessionError> {
        self.history().state_named(name).ok_or_else(|| {
            let names: Vec<&str> = self
                .history()
                .named()
                .iter()
                .map(|state| state.name.as_str())
                .collect();
            SessionError::Refused(if names.is_empty() {
                format!("no state of this scene is called '{name}': no state has a name yet")
            } else {
                format!(
                    "no state of this scene is called '{name}'; there are: {}",
                    names.join(", ")
                )
            })
        })
    }

    /// The revision of step `number` as the list counts them; 0 is the beginning.
    ///
    /// # Errors
    /// When there is no such step.
    pub fn step_number(&self, number: u32) -> Result<Option<RevisionId>, SessionError> {
        let count = self.history().revisions().len();
        let known = usize::try_from(number).is_ok_and(|number| number <= count);
        if known {
            Ok(number.checked_sub(1).map(RevisionId))
        } else {
            Err(SessionError::Refused(format!(
                "there is no step {number}: the last one is {count}"
            )))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Size;
    use crate::project::{Edit, Project};

    #[test]
    fn branches_and_names_are_told() {
        let mut history = History::new(Project::new("first", Size::new(8, 8)));
        for name in ["second", "third"] {
            history
                .record(Edit::NameScene(name.to_owned()), None)
                .unwrap();
        }
        history.undo();
        history
            .record(Edit::NameScene("other".to_owned()), None)
            .unwrap();
        let named = NamedState {
            name: "print".to_owned(),
            revision: Some(RevisionId(1)),
        };
        history.name_state(named).unwrap();
        let list = step_list(&history);
        let shape: Vec<(u32, u32, bool, usize)> = list
            .iter()
            .map(|line| (line.number, line.after, line.in_use, line.named.len()))
            .collect();
        assert_eq!(shape, [(1, 0, true, 0), (2, 1, false, 1), (3, 1, true, 0)]);
        assert_eq!(list[1].what, "scene named 'third'");
    }
}
