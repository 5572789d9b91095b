//! Dust and hair: found by their shape, told apart from what belongs to the model.
