//! What one end is set to: speed, lanes, and the speeds that its module and its port share.
//!
//! In: a port and its decoded module. Out: facts. A speed that a port reports while it is down is
//! believed only where nothing is negotiated: then it is the setting.

use crate::module::{Carries, Module};
use crate::quantity::Mbps;
use crate::snapshot::{Fact, Port, Reason};
use crate::standards::names;

/// Speed that the port runs at, or is set to where it negotiates none.
pub fn set_speed(port: &Port) -> Fact<Mbps> {
    let ethernet = &port.ethernet;
    let told = ethernet.speed_mbps.known().filter(|speed| (1..=1_600_000).contains(*speed));
    let up = port.carrier == Fact::Known(true);
    match (&ethernet.autonegotiation, told) {
        (_, Some(speed)) if up => Fact::Known(Mbps(*speed)),
        (Fact::Known(false), Some(speed)) => Fact::Known(Mbps(*speed)),
        (Fact::Known(true), _) => Fact::missing_with(
            Reason::NotApplicable,
            "autonegotiation is on: the port settles its speed with the far end",
        ),
        (Fact::Known(false), None) => {
            // A port that is set often offers the one mode alone.
            let speeds = ethernet.advertised_modes.as_ref().map(|modes| speeds_of(modes));
            match speeds.known().map(Vec::as_slice) {
                Some([speed]) => Fact::Known(*speed),
                _ => Fact::missing_with(
                    Reason::NotReported,
                    "the driver does not tell the set speed while the link is down",
                ),
            }
        }
        (Fact::Missing(why), _) => Fact::Missing(why.clone()),
    }
}

/// Rates of named modes, lowest first, each once.
pub fn speeds_of(modes: &[String]) -> Vec<Mbps> {
    let mut speeds: Vec<Mbps> = modes.iter().filter_map(|mode| names::speed_of(mode)).collect();
    speeds.sort_unstable();
    speeds.dedup();
    speeds
}

/// Lanes that a named mode runs on: the figure behind the medium (`100GBASE-SR4`), else one.
/// Twisted pair has pairs and no lanes.
pub fn lanes_of_mode(name: &str) -> Option<u32> {
    names::speed_of(name)?;
    let name = name.split([' ', '/']).next().unwrap_or_default();
    if names::is_twisted_pair(name) {
        return None;
    }
    let digits = name.rsplit(|c: char| !c.is_ascii_digit()).next().unwrap_or_default();
    // `SR10` has ten; whatever is more (`LX10`) is a reach.
    match digits.parse::<u32>() {
        Ok(lanes @ 1..=8) => Some(lanes),
        Ok(10) if name.ends_with("SR10") || name.ends_with("CR10") => Some(10),
        Err(_) => Some(1),
        Ok(_) => None,
    }
}

/// Lanes that the port runs on: as the driver says, else by the modes of the speed it is set to.
pub fn lanes(port: &Port) -> Fact<u32> {
    if let Fact::Known(lanes) = port.ethernet.lanes
        && (1..=16).contains(&lanes)
    {
        return Fact::Known(lanes);
    }
    let modes = port.ethernet.supported_modes.clone();
    set_speed(port).and_then(|speed| modes.and_then(|modes| lanes_at(&modes, speed)))
}

/// Lanes of the modes of one speed, where they agree.
pub fn lanes_at(modes: &[String], speed: Mbps) -> Fact<u32> {
    let mut lanes: Vec<u32> = modes
        .iter()
        .filter(|mode| names::speed_of(mode) == Some(speed))
        .filter_map(|mode| lanes_of_mode(mode))
        .collect();
    lanes.sort_unstable();
    lanes.dedup();
    match lanes.as_slice() {
        [lanes] => Fact::Known(*lanes),
        _ => Fact::missing_with(Reason::NotReported, "its modes do not tell how many lanes it has"),
    }
}

/// Lanes that the cage or cable end has: by form factor, where a cable tells no lanes.
pub fn cage_lanes(module: &Module) -> Option<u32> {
    let used = u32::try_from(module.used_lanes().count()).unwrap_or(0);
    if module.carries.is_optical() && used > 0 {
        return Some(used);
    }
    let fastest = module.interface_types.iter().max_by_key(|claimed| claimed.speed);
    if let Some(lanes) = fastest.and_then(|claimed| lanes_of_mode(&claimed.name))
        && lanes > 1
    {
        return Some(lanes);
    }
    let form = module.form_factor.known()?;
    Some(match form.as_str() {
        form if form.starts_with("QSFP-DD") || form.starts_with("OSFP") => 8,
        form if form.starts_with("QSFP") => 4,
        form if form.starts_with("SFP-DD") || form.starts_with("DSFP") => 2,
        form if form.starts_with("SFP") => 1,
        _ => return None,
    })
}

/// Speeds that the module and its port have in common. Twisted-pair modules convert: they are
/// not asked.
pub fn common_speeds(port: &Port, module: &Fact<Module>) -> Fact<Vec<Mbps>> {
    let module = match module {
        Fact::Known(module) if module.carries == Carries::TwistedPair => {
            return Fact::missing_with(Reason::NotApplicable, "twisted pair negotiates its speed");
        }
        Fact::Known(module) if module.speeds.is_empty() => {
            return Fact::missing_with(Reason::NotReported, "the module does not tell its rate");
        }
        Fact::Known(module) => module,
        Fact::Missing(why) => return Fact::Missing(why.clone()),
    };
    port.ethernet
        .supported_modes
        .as_ref()
        .map(|modes| speeds_of(modes).into_iter().filter(|speed| can_run(module, *speed)).collect())
}

/// True if the module claims this rate, for all its lanes or for some of them. What a wire carries
/// it carries at a lower rate as well.
pub fn can_run(module: &Module, speed: Mbps) -> bool {
    if !module.carries.is_optical() {
        return module.speeds.iter().any(|claimed| speed <= *claimed);
    }
    let lanes = u64::from(cage_lanes(module).unwrap_or(1));
    module.speeds.iter().any(|claimed| {
        let part = u64::from(speed.0) * lanes;
        *claimed == speed
            || (claimed.0 > 0 && speed < *claimed && part.is_multiple_of(u64::from(claimed.0)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Names of IEEE 802.3 clause 1.4.
    #[test]
    fn lanes_in_a_modes_name() {
        for (name, lanes) in [
            ("25GBASE-CR", Some(1)),
            ("100GBASE-CR4", Some(4)),
            ("100GBASE-LR4/ER4", Some(4)),
            ("100GBASE-SR10", Some(10)),
            ("400GBASE-SR8", Some(8)),
            ("1000BASE-X", Some(1)),
            ("1000BASE-LX10", None),
            ("1000BASE-T", None),
            ("mode bit 121", None),
        ] {
            assert_eq!(lanes_of_mode(name), lanes, "{name}");
        }
    }
}
