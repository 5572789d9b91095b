//! All visible text.

// Picture and step cards
pub use crate::window::card_words as card;
pub use crate::window::picture_words as picture;
