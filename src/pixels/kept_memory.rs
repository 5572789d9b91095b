//! Memory of large pictures, kept by the program between one picture and the next.

/// Blocks smaller than this come out of memory that the program keeps, bytes.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
const KEPT_BLOCKS: i32 = 1 << 30;
/// Free memory from which on it goes back to the system, bytes.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
const KEPT_FREE: i32 = 1 << 30;
/// All threads take from one such memory: what one of them freed waits for any other, and a picture does not have to fit into a part of it.
#[cfg(all(target_os = "linux", target_env = "gnu"))]
const ARENAS: i32 = 1;

/// Lets freed pictures wait for the next ones instead of going back to the system, which would have to clear every page of them again:
/// that took a quarter of the processor's time for a stack of eight frames of 24 megapixels. To be called once, before other threads begin. Where the
/// system's allocator has no such choice nothing happens.
#[cfg_attr(
    all(target_os = "linux", target_env = "gnu"),
    expect(
        unsafe_code,
        reason = "the allocator's choices have no safe way to them"
    )
)]
pub fn keep_memory() {
    #[cfg(all(target_os = "linux", target_env = "gnu"))]
    for (what, bytes) in [
        (libc::M_MMAP_THRESHOLD, KEPT_BLOCKS),
        (libc::M_TRIM_THRESHOLD, KEPT_FREE),
        (libc::M_ARENA_MAX, ARENAS),
    ] {
        // SAFETY: takes two numbers and touches nothing but the allocator's own settings, under its own lock.
        let _taken = unsafe { libc::mallopt(what, bytes) };
    }
}
