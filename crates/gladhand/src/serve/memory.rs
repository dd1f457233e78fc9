//! Memory that the allocator keeps after it was freed.
//!
//! glibc gives back only what is free at the end of its heaps, so a daemon that has once taken in a large history, or answered a
//! large question, would keep that memory for good. It is asked to give back everything when the daemon is quiet. Measured with
//! 400,000 entries: see DEVELOPERS.md.

/// Gives free memory back to the system.
#[cfg(target_env = "gnu")]
pub(super) fn give_back() {
    // SAFETY: `malloc_trim` takes no pointer, and may be called from any thread at any time.
    #[allow(unsafe_code)]
    unsafe {
        libc::malloc_trim(0);
    }
}

/// Other allocators give back by themselves.
#[cfg(not(target_env = "gnu"))]
pub(super) fn give_back() {}
