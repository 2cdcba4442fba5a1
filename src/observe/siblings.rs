//! Which interfaces stand on the same device of the bus.
//!
//! In: the ports of one host with their bus addresses. Out: each one's siblings. PCI addresses
//! are compared without the function number: some adapters give every leg of a split cage a
//! function of its own.

use std::collections::HashMap;

use crate::snapshot::{Fact, Port, Reason};

/// More interfaces than any cage has legs are not told: a device may have thousands.
const MOST: usize = 16;

/// The address without its function, where it has one (`0000:3b:00` of `0000:3b:00.1`).
fn device(address: &str) -> &str {
    address.rsplit_once('.').map_or(address, |(device, _)| device)
}

/// Fills in what is not told yet. Unless the list is `whole`, a port that has no sibling in it may
/// have one elsewhere, and nothing is told.
pub fn fill(ports: &mut [Port], whole: bool) {
    let mut by_device: HashMap<String, Vec<String>> = HashMap::new();
    for port in ports.iter() {
        if let Fact::Known(address) = &port.bus_address {
            by_device.entry(device(address).to_owned()).or_default().push(port.name.clone());
        }
    }
    for port in ports.iter_mut().filter(|port| port.device_siblings.is_not_asked()) {
        let Fact::Known(address) = &port.bus_address else { continue };
        let Some(names) = by_device.get(device(address)) else { continue };
        if names.len() < 2 && !whole {
            continue;
        }
        port.device_siblings = if names.len() > MOST {
            Fact::missing_with(Reason::NotReported, "too many interfaces share this device")
        } else {
            Fact::Known(names.iter().filter(|name| **name != port.name).cloned().collect())
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn siblings_share_all_but_the_function() {
        let at = |name: &str, address: &str| Port {
            name: name.into(),
            bus_address: Fact::Known(address.into()),
            ..Port::default()
        };
        let mut ports = [at("a", "0000:3b:00.0"), at("b", "0000:3b:00.1"), at("c", "0000:3c:00.0")];
        fill(&mut ports, true);
        assert_eq!(ports[0].device_siblings, Fact::Known(vec!["b".to_owned()]));
        assert_eq!(ports[1].device_siblings, Fact::Known(vec!["a".to_owned()]));
        assert_eq!(ports[2].device_siblings, Fact::Known(Vec::new()));
        let mut alone = [at("a", "0000:3b:00.0")];
        fill(&mut alone, false);
        assert!(alone[0].device_siblings.is_not_asked());
        let mut many: Vec<Port> = (0..40).map(|n| at(&format!("v{n}"), "0000:3b:00.0")).collect();
        fill(&mut many, true);
        assert!(many.iter().all(|port| port.device_siblings.known().is_none()));
    }
}
