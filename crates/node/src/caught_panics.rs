//! Keeps panics of libraries that a node catches off stderr: the node reports them as errors of its own.

/// Installs a panic hook that stays silent about panics inside sled and Automerge. All other panics are bugs and are printed.
///
/// The source file tells where a panic comes from; a path of a package registry holds the package's name.
pub fn hush() {
    let default = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let file = panic.location().map(std::panic::Location::file).unwrap_or_default();
        let caught = ["/sled-", "/automerge-", "/hexane-"]
            .iter()
            .any(|name| file.contains(name));
        if !caught {
            default(panic);
        }
    }));
}
