//! Link mode and interface type names, and what they tell.
//!
//! Names follow IEEE 802.3 (clause 1.4): a rate, `BASE`, a medium. The rate is the MAC's.

use crate::quantity::Mbps;

/// Rate of a named interface type or link mode: `10GBASE-SR`, `2.5GBASE-T`, `100BASE-TX half`,
/// `25G direct attach`. `None` where the name does not tell (`mode bit 121`).
pub fn speed_of(name: &str) -> Option<Mbps> {
    let digits = name.find(|c: char| !(c.is_ascii_digit() || c == '.'))?;
    let (number, rest) = name.split_at_checked(digits)?;
    let megabits = if rest.starts_with("BASE") {
        number.parse::<u32>().ok()?
    } else if rest.starts_with("GBASE") || rest.starts_with("G ") {
        // Whole megabits in every name that exists (2.5G is 2500).
        let (whole, tenths) = number.split_once('.').unwrap_or((number, "0"));
        let tenths = if tenths.len() == 1 { tenths.parse::<u32>().ok()? } else { return None };
        whole.parse::<u32>().ok()?.checked_mul(1000)?.checked_add(tenths * 100)?
    } else {
        return None;
    };
    Some(Mbps(megabits))
}

/// What is said of modes none of which has a rate in its name.
pub const ONLY_UNKNOWN: &str = "it offered only modes that this program does not know";

/// Fastest of several modes.
pub fn fastest<'a>(modes: impl IntoIterator<Item = &'a String>) -> Option<Mbps> {
    modes.into_iter().filter_map(|mode| speed_of(mode)).max()
}

/// True for modes over twisted pair that people plug an RJ45 into.
pub fn is_twisted_pair(name: &str) -> bool {
    let name = name.strip_suffix(" half").unwrap_or(name);
    name.ends_with("BASE-T") || name.ends_with("BASE-TX")
}

/// The FEC code's name as people write it.
pub fn fec_code(name: &str) -> &str {
    match name {
        "rs" => "RS-FEC",
        "base-r" => "BASE-R FEC",
        "ll-rs" => "low-latency RS-FEC",
        "none" => "no FEC",
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rate_in_the_name() {
        for (name, rate) in [
            ("10GBASE-SR", Some(10_000)),
            ("2.5GBASE-T", Some(2500)),
            ("1000BASE-T half", Some(1000)),
            ("100BASE-TX", Some(100)),
            ("100GBASE-LR/ER/FR", Some(100_000)),
            ("10G direct attach", Some(10_000)),
            ("mode bit 121", None),
            ("", None),
            ("99999999GBASE-X", None),
        ] {
            assert_eq!(speed_of(name), rate.map(Mbps), "{name}");
        }
    }
}
