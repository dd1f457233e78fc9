//! Panics that the code under test catches itself (hostile Automerge documents, a damaged index) are not shown; the
//! words of the one that fails a trial are.

use std::cell::RefCell;
use std::sync::Once;

thread_local! {
    static LAST: RefCell<Option<String>> = const { RefCell::new(None) };
    static IN_TRIAL: RefCell<bool> = const { RefCell::new(false) };
}

/// What the last panic of this thread said, and where.
pub(super) fn last() -> Option<String> {
    LAST.with(|last| last.borrow_mut().take())
}

/// Whether panics of this thread are kept back.
pub(super) fn keep_back(yes: bool) {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let shown = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if IN_TRIAL.with(|t| *t.borrow()) {
                LAST.with(|last| *last.borrow_mut() = Some(info.to_string()));
            } else {
                shown(info);
            }
        }));
    });
    IN_TRIAL.with(|t| *t.borrow_mut() = yes);
}
