//! Stand-in for gestures; the real ones are in another branch and replace this file.
