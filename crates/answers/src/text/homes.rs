//! Homes as they come and go, as text.

use gladhand_node::Role;

use super::{Page, Piece, Text, line};
use crate::homes::{Invited, Joined, Retired, Serving, SetUp};

impl Text for SetUp {
    fn text(&self, _: Page) -> Vec<Piece> {
        let (role, next) = match self.role {
            Role::Depot => ("depot", "Next: `gladhand invite` for each laptop."),
            Role::Laptop => (
                "laptop",
                "It can record from now on. To merge with others: `gladhand join INVITE` with an invite of the depot.",
            ),
        };
        vec![
            line(format!("{}: a new {role} in {}", self.name, self.home)),
            line(format!("device key {}", self.device)),
            Piece::Aside(next.to_owned()),
        ]
    }
}

/// How much of an invite is shown in the advice: the whole line stands above.
const INVITE_START: usize = 24;

impl Text for Invited {
    fn text(&self, _: Page) -> Vec<Piece> {
        let mut out = vec![line(self.invite.as_str())];
        // An invite with a very long address fits no code; the line alone does as well.
        if let Ok(code) = qrcode::QrCode::new(self.invite.as_bytes()) {
            out.push(Piece::Aside(code.render::<qrcode::render::unicode::Dense1x2>().build()));
        }
        out.push(Piece::Aside(format!(
            "Good for one device until {}. On the device: gladhand join {}…",
            self.expires,
            self.invite.get(..INVITE_START).unwrap_or("")
        )));
        out
    }
}

pub(crate) const LATER: &str = "The depot enrols it at the first contact: `gladhand sync ADDR`, or `gladhand bundle write FILE` for the depot to read.";

impl Text for Joined {
    fn text(&self, _: Page) -> Vec<Piece> {
        let aside = |text: &str| Piece::Aside(text.to_owned());
        let failed = |why: &String| Piece::Warning(format!("gladhand: the first merge did not work: {why}"));
        let mut out: Vec<Piece> = self.not_merged.iter().map(failed).collect();
        let depot = self.joined.short();
        out.push(line(format!("{} has joined depot {depot}", self.name)));
        match (self.enrolled, &self.unreachable) {
            (true, _) if self.merged => out.push(aside("The depot has enrolled it, and both hold the same.")),
            (true, _) => out.push(aside("The depot has enrolled it. Merge with `gladhand sync`.")),
            (false, Some(why)) => out.extend([
                Piece::Aside(format!("gladhand: the depot cannot be reached now: {why}")),
                aside(LATER),
            ]),
            (false, None) => out.push(aside(LATER)),
        }
        out
    }
}

impl Text for Retired {
    fn text(&self, _: Page) -> Vec<Piece> {
        let places: Vec<String> = self.last.values().map(|seq| format!("entry {seq}")).collect();
        let counts = if places.is_empty() {
            "nothing of it counts".to_owned()
        } else {
            format!("what stands up to {} still counts", places.join(" and "))
        };
        let device = self.retired.short();
        vec![
            line(format!("{} ({device}) is retired: {counts}", self.name)),
            Piece::Aside(
                "Every node learns it with its next merge; what comes later from that device is set aside everywhere."
                    .to_owned(),
            ),
        ]
    }
}

impl Text for Serving {
    fn text(&self, _: Page) -> Vec<Piece> {
        let at = self
            .listen
            .map_or_else(String::new, |at| format!(", listening at {at}"));
        vec![line(format!("serving {} in {}{at}", self.serving, self.home))]
    }
}
