//! Who is at the other end, in its own words: one line.

use crate::chain::far::port_name;
use crate::snapshot::{Fact, Neighbour, Port, Reason};

/// What is said of who was heard; nothing where nobody listened.
pub fn line(port: &Port) -> Option<String> {
    let seconds = port.listened_milliseconds.known().map_or_else(
        || "some time".to_owned(),
        // For people only; a rounded figure.
        |milliseconds| format!("{}.{} s", milliseconds / 1000, milliseconds % 1000 / 100),
    );
    match &port.neighbours {
        Fact::Missing(why) if why.reason == Reason::NotAsked => None,
        Fact::Missing(why) => Some(format!("not listened for: {why}")),
        Fact::Known(heard) => Some(match heard.as_slice() {
            [] => format!(
                "nobody announced itself in {seconds} of listening; that does not say that nobody \
                 is there: who announces at all does so every 30 s as a rule"
            ),
            [one] => format!("{} (its own words, IEEE 802.1AB)", words(one)),
            [first, ..] => format!(
                "{} announced themselves in {seconds}, so that it is not known who is at the end \
                 of this cable; one is {}",
                heard.len(),
                words(first)
            ),
        }),
    }
}

fn words(told: &Neighbour) -> String {
    let host = told.system_name.as_deref().unwrap_or(&told.chassis.name);
    let mut all = vec![format!("port {} on {host}", port_name(told))];
    if let Some(as_what) = &told.capabilities
        && !as_what.is_empty()
    {
        all.push(as_what.join(" and "));
    }
    all.extend(told.interface_type.clone());
    if let Some(negotiation) = &told.autonegotiation {
        let on = match (negotiation.supported, negotiation.enabled) {
            (false, _) => "no autonegotiation",
            (true, false) => "autonegotiation off",
            (true, true) => "autonegotiation on",
        };
        all.push(on.into());
    }
    all.extend(told.largest_frame_octets.map(|octets| format!("frames up to {octets} octets")));
    all.extend(told.port_vlan.map(|vlan| format!("VLAN {vlan}")));
    all.join(", ")
}
