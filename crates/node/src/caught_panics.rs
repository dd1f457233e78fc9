//! Panics of libraries that a node catches: the process need not report them a second time.

/// Keeps the default panic hook from telling about panics of sled and Automerge: those are caught, and told in our own
/// words. Whatever else panics is a bug, and is shown.
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
