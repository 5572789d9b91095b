//! Plain loops compiled once more for the wider registers of newer processors, chosen when the program runs.
//!
//! The numbers stay the same bit for bit: the compiler neither fuses multiply and add nor changes the order of sums by itself.

/// Does `work` in the widest registers that this processor has. Only what is inlined into `work` gains, and `work` itself only as
/// `wide(#[inline(always)] || ...)`: left to itself the compiler keeps a large closure apart, in narrow registers.
#[inline(always)]
pub fn wide<R>(work: impl FnOnce() -> R) -> R {
    pulp::Arch::new().dispatch(work)
}
