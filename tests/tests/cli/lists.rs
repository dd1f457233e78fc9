//! A fleet's own list becomes stock facts, and what differs from what is known is said.

use gladhand_tests::process::TempHome;
use serde_json::Value;

#[test]
fn a_list_is_read_and_what_differs_is_told() {
    let home = TempHome::laptop();
    let file = home.path.join("list.csv");
    let list = "Unit no.;VIN;Tracker ID;Camera\nLF 5396;1G4AH59H45G118341;LT-1001;LC-1\nLF 5397;;LT-1002;\n;;;\n";
    std::fs::write(&file, list).unwrap();
    let file = file.to_str().unwrap();
    let map = ["--map", "Unit no.=trailer", "--map", "Tracker ID=tracker"];
    let args = [&["stock", "read", file, "--fleet", "Larkspur Freight"][..], &map].concat();
    let first = home.run(&args).exits(4);
    assert!(
        first.tells("list.csv:4: rejected: no trailer, tracker or camera"),
        "{first}"
    );
    assert!(first.tells("3 entries recorded, 0 as known already"), "{first}");

    // The same once more, and with another tracker in one row and another spelling in the other.
    std::fs::write(
        file,
        list.replace("LT-1001", "LT-1009")
            .replace("LF 5397", "lf-5397")
            .replace("\n;;;", ""),
    )
    .unwrap();
    let again = home.good(&args);
    assert!(
        again.tells("trailer LF 5396: tracker was LT-1001, the list says LT-1009"),
        "{again}"
    );
    assert!(
        again.tells("1 entry recorded, 2 as known already, 1 that differ"),
        "{again}"
    );

    // A pair with the tracker that the list gave first is told.
    home.good(&["job", "--trailer", "LF5396", "--fleet", "larkspur freight"]);
    home.good(&["link", "LC-1", "LT-1001"]);
    let found = home.json("findings");
    let rules: Vec<&str> = found["findings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|f| f["rule"].as_str().unwrap())
        .collect();
    assert!(rules.contains(&"not-the-listed-tracker"), "{rules:?}");
    let shown = |key: &str| -> Value { found["findings"][0][key].clone() };
    assert_eq!(shown("trailers"), serde_json::json!(["LF 5396"]));
}

#[test]
fn a_list_that_cannot_be_understood_records_nothing() {
    let home = TempHome::laptop();
    home.run(&["stock", "read", "nowhere.csv"]).exits(2);
    let file = home.path.join("list.csv");
    std::fs::write(&file, "trailer,tracker\nLF 1,LT-1\n").unwrap();
    let file = file.to_str().unwrap();
    let refused = home.run(&["stock", "read", file, "--map", "trailer=unit"]).exits(2);
    assert!(
        refused.tells("KEY is one of fleet, trailer, vin, tracker, camera"),
        "{refused}"
    );
    let fleetless = home.run(&["stock", "read", file]).exits(4);
    assert!(fleetless.tells("no fleet: give --fleet NAME"), "{fleetless}");
    assert_eq!(home.json("history")["rows"].as_array().unwrap().len(), 0);
}
