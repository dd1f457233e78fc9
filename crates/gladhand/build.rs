//! How the release binary is linked, nothing else.
//!
//! The part of the line tables that cannot be kept apart from the binary is compressed, which takes 14 MB off it. Backtraces
//! read it as it is. Only where the linker is known to do it; tests and debug builds link faster without.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    let is = |name: &str, value: &str| std::env::var(name).is_ok_and(|found| found == value);
    if is("PROFILE", "release") && is("CARGO_CFG_TARGET_OS", "linux") {
        println!("cargo::rustc-link-arg-bins=-Wl,--compress-debug-sections=zlib");
    }
}
