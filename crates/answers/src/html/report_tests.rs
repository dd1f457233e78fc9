//! A small report as a page, letter by letter.

use serde_json::json;

use super::*;

fn small() -> ShiftReport {
    let finding = |id: &str, status: &str, ruling: serde_json::Value| {
        json!({
            "id": id, "rule": "two-pairs", "severity": "stop", "subject": "LC<1>", "jobs": ["J1"], "facts": [],
            "standing": "-", "status": status, "says": "It's on \"two\" trailers.", "next": "Look & say.",
            "trailers": [], "step": {"step": "unlink"}, "ruling": ruling,
        })
    };
    let line = |job: &str, relied_on: &str, signed_at: Option<&str>, findings: &[&str]| {
        json!({
            "job": job, "trailer": ["4821 </td>"], "vin": [], "fleet": ["Larkspur Freight"], "yard": [], "purpose": "fit", "approvals": [], "tracker": [], "planned_tracker": [],
            "planned_camera": [],
            "camera": [], "wall": [], "load": [], "state": "signed-off", "relied_on": relied_on, "opened_at": [],
            "opened_by": [], "opened_on": [], "signed_at": signed_at.as_slice(), "signed_on": [],
            "signed_by": signed_at.map(|_| "mara").as_slice(), "findings": findings,
        })
    };
    let text = json!({
        "scope": {"from": null, "to": null, "yard": "<Tolland's>", "fleet": "a&b"},
        "standard": "depot \"7\"", "vector": {}, "totals": {
            "jobs": 2, "states": {}, "relied_on": {"yes": 1, "no": 1}, "open": {}, "settled": 1, "cleared": 0,
        },
        "trailers": [], "jobs": [
            line("J1", "no", Some("2026-03-02T16:57:00-05:00"), &["f-1", "f-2"]),
            line("J2", "yes", None, &[]),
        ],
        "findings": [
            finding("f-1", "open", json!(null)),
            finding("f-2", "settled", json!({"ruling": "accepted", "by": "bram", "why": "1 < 2", "at": null})),
            finding("f-3", "cleared", json!(null)),
        ],
    });
    serde_json::from_value(text).unwrap()
}

#[test]
fn a_page_says_what_the_report_says_and_no_text_becomes_markup() {
    let expected = r##"<body><h1>Shift report</h1>
<p>Scope: yard &lt;Tolland's&gt;, fleet a&amp;b. Work standard depot &quot;7&quot;.</p>
<p>2 jobs; can be relied on: yes 1, no 1.</p>
<h2>Jobs</h2>
<table><thead><tr><th scope="col">job</th>
<th scope="col">trailer</th>
<th scope="col">fleet</th>
<th scope="col">camera</th>
<th scope="col">tracker</th>
<th scope="col">state</th>
<th scope="col">relied on</th>
<th scope="col">signed</th>
<th scope="col">by</th>
<th scope="col">findings</th>
</tr></thead>
<tbody><tr><td>J1</td>
<td>4821 &lt;/td&gt;</td>
<td>Larkspur Freight</td>
<td>–</td>
<td>–</td>
<td>signed-off</td>
<td class="no">no</td>
<td>2026-03-02 16:57</td>
<td>mara</td>
<td><a href="#f-1">f-1</a> <a href="#f-2">f-2</a></td>
</tr>
<tr><td>J2</td>
<td>4821 &lt;/td&gt;</td>
<td>Larkspur Freight</td>
<td>–</td>
<td>–</td>
<td>signed-off</td>
<td>yes</td>
<td>–</td>
<td>–</td>
<td></td>
</tr>
</tbody></table>
<h2>Open findings</h2>
<article id="f-1" class="stop"><p><strong>stop</strong> two-pairs <code>LC&lt;1&gt;</code> (open) <code>f-1</code></p>
<p>It's on &quot;two&quot; trailers.</p>
<p class="next">Look &amp; say.</p>
</article>
<h2>Settled and cleared</h2>
<article id="f-2" class="done"><p><strong>stop</strong> two-pairs <code>LC&lt;1&gt;</code> (settled) <code>f-2</code></p>
<p>It's on &quot;two&quot; trailers.</p>
<p>Settled by bram: accepted (1 &lt; 2)</p>
</article>
<article id="f-3" class="done"><p><strong>stop</strong> two-pairs <code>LC&lt;1&gt;</code> (cleared) <code>f-3</code></p>
<p>It's on &quot;two&quot; trailers.</p>
</article>
</body></html>
"##;
    let page = render(&small());
    let (head, body) = page.split_at(page.find("<body>").unwrap());
    assert!(
        head.starts_with("<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><title>Shift report</title>")
    );
    assert!(head.contains(STYLE), "its rules as they are");
    // What a browser makes no difference between is compared without it.
    let plain = |text: &str| text.replace(">\n", ">");
    assert_eq!(plain(body), plain(expected));
}
