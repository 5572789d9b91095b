//! Tiles set aside on disc between sessions, shared by all projects.

use crate::engine::Scratch;
use crate::files::folders::Folders;
use crate::files::scratch::DiscScratch;
use crate::project::Fingerprint;

/// The user's scratch folder, if there is one and it is wanted.
#[derive(Debug)]
pub(super) struct ScratchFolder {
    disc: Option<DiscScratch>,
}

impl ScratchFolder {
    /// Keeps up to `bytes` on disc; 0 keeps nothing. Without a folder to write to nothing is kept either, which costs time only.
    #[must_use]
    pub(super) fn open(bytes: u64) -> Self {
        let folders = (bytes > 0).then(Folders::of_user).and_then(Result::ok);
        Self {
            disc: folders.map(|folders| DiscScratch::open(&folders.cache.join("tiles"), bytes)),
        }
    }

    /// A store that begins empty and ends with its session, for proving that nothing rests on what was kept.
    #[must_use]
    pub(super) fn alone(bytes: u64) -> Self {
        let folders = (bytes > 0).then(Folders::of_user).and_then(Result::ok);
        let open = |folders: Folders| DiscScratch::open_alone(&folders.cache, bytes);
        Self {
            disc: folders.and_then(open),
        }
    }
}

impl Scratch for ScratchFolder {
    fn get(&self, stamp: Fingerprint) -> Option<Vec<u8>> {
        self.disc.as_ref()?.get(stamp.0)
    }

    fn has(&self, stamp: Fingerprint) -> bool {
        self.disc.as_ref().is_some_and(|disc| disc.has(stamp.0))
    }

    fn put(&self, stamp: Fingerprint, bytes: &[u8]) {
        if let Some(disc) = &self.disc {
            disc.put(stamp.0, bytes);
        }
    }
}
