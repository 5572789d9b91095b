//! Keys that work wherever the focus is. Keys of the picture and of the sheet stand with them.

use crate::session::Command;
use crate::window::queue::{Ask, Dialogue, Next, Queue};
use egui::{Key, KeyboardShortcut, Modifiers};

const WITH_SHIFT: Modifiers = Modifiers::COMMAND.plus(Modifiers::SHIFT);

/// The keys and what they ask, longer combinations first so that they are not taken for shorter ones.
fn keys() -> [(KeyboardShortcut, Ask); 8] {
    let plain = |key| KeyboardShortcut::new(Modifiers::COMMAND, key);
    let shift = |key| KeyboardShortcut::new(WITH_SHIFT, key);
    [
        (shift(Key::Z), Ask::Command(Command::Redo)),
        (plain(Key::Z), Ask::Command(Command::Undo)),
        (plain(Key::Y), Ask::Command(Command::Redo)),
        (shift(Key::S), Ask::OpenDialogue(Dialogue::SaveAs)),
        (plain(Key::S), Ask::Save),
        (plain(Key::O), Ask::OpenDialogue(Dialogue::Open)),
        (plain(Key::I), Ask::OpenDialogue(Dialogue::AddPhotos)),
        (plain(Key::B), Ask::OpenDialogue(Dialogue::Build)),
    ]
}

/// The key that closes the window works on every page.
pub fn listen_for_close(ctx: &egui::Context, queue: &mut Queue) {
    let close = KeyboardShortcut::new(Modifiers::COMMAND, Key::Q);
    if ctx.input_mut(|input| input.consume_shortcut(&close)) {
        queue.ask(Ask::Leave(Next::Close));
    }
}

/// Asks what the keys of this frame stand for. While text is typed, only keys that text fields do not use count.
pub fn listen(ctx: &egui::Context, queue: &mut Queue) {
    let typing = ctx.text_edit_focused();
    for (shortcut, ask) in keys() {
        let of_text = matches!(shortcut.logical_key, Key::Z | Key::Y);
        if typing && of_text {
            continue;
        }
        if ctx.input_mut(|input| input.consume_shortcut(&shortcut)) {
            queue.ask(ask);
        }
    }
}
