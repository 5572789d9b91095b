//! Floor 6: what is on the screen. Panels read the session and hand their wishes to a queue.

pub mod card_words;
pub mod gestures;
pub mod picture_words;
pub mod queue;
pub mod step_cards;
pub mod theme;
pub mod viewport;
pub mod words;
