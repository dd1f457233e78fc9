//! What a home is asked again and again.

use std::path::Path;

use serde_json::Value;

use super::{Home, Ran};

impl Home {
    /// Records these lines. Every one must be good.
    #[track_caller]
    pub fn record(&self, lines: &[String]) -> Ran {
        self.feed(&["record", "--json", "-"], lines.join("\n")).done()
    }

    /// The findings, byte for byte.
    #[track_caller]
    pub fn findings(&self) -> String {
        self.run(&["findings", "--json"]).done().out
    }

    /// The report as JSON, byte for byte.
    #[track_caller]
    pub fn report(&self) -> String {
        self.run(&["report", "--format", "json"]).done().out
    }

    /// The history that these arguments select.
    #[track_caller]
    pub fn history(&self, args: &[&str]) -> Vec<Value> {
        let shown = self.run(&[&["history", "--json"], args].concat()).done().json();
        shown["rows"].as_array().expect("a list").clone()
    }

    /// The ids of all facts that are held, device by device: each fact of the whole history names all that are
    /// concurrent with it, which is most of them when devices work apart.
    #[track_caller]
    pub fn fact_ids(&self) -> Vec<String> {
        let devices = self.status()["devices"].as_array().unwrap().clone();
        let keys = devices.iter().map(|d| d["device"].as_str().unwrap().to_owned());
        keys.flat_map(|key| self.history(&["--device", &key]))
            .map(id_of)
            .collect()
    }

    /// The status.
    #[track_caller]
    pub fn status(&self) -> Value {
        self.run(&["status", "--json"]).done().json()
    }

    /// What is held: log to head.
    #[track_caller]
    pub fn vector(&self) -> Value {
        self.status()["vector"].clone()
    }

    /// The version vector as `bundle write --since` wants it.
    #[track_caller]
    pub fn since(&self) -> String {
        self.status()["since"].as_str().unwrap().to_owned()
    }

    /// The whole store must read back as it was written.
    #[track_caller]
    pub fn verifies(&self) {
        self.run(&["verify"]).done().shows(&["everything fits"]);
    }

    /// Writes everything into a bundle beside the home's folder.
    #[track_caller]
    pub fn write_bundle(&self, file: &Path) {
        self.run(&["bundle", "write", file.to_str().unwrap()]).done();
    }

    /// Reads a bundle.
    #[track_caller]
    pub fn read_bundle(&self, file: &Path) -> Ran {
        self.run(&["bundle", "read", file.to_str().unwrap()])
    }

    /// The texts of all notes, in the order of the history.
    #[track_caller]
    pub fn notes(&self) -> Vec<String> {
        let text = |line: &Value| line["fact"]["text"].as_str().map(str::to_owned);
        self.history(&[]).iter().filter_map(text).collect()
    }
}

fn id_of(line: Value) -> String {
    line["id"].as_str().unwrap().to_owned()
}
