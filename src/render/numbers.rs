//! How good a link is, in numbers: the section of `explain`.

use crate::calc::rates::ONE_INSTANT;
use crate::diagnose::PortDiagnosis;
use crate::diagnose::both_ends::Way;
use crate::diagnose::numbers::correction::From;
use crate::diagnose::numbers::light::{AS_EXPECTED, Lost, Received};
use crate::diagnose::numbers::throughput::{Fits, Load};
use crate::diagnose::numbers::{Correction, Errors, Light, Numbers, Throughput};
use crate::quantity::{BitsPerSecond, Seconds};
use crate::render::readings::absent;
use crate::render::text::{Page, Style, pad};
use crate::snapshot::{Fact, Reason};
use crate::standards::{accuracy, attenuation};

/// Where the figures come from, and what keeps them from being more.
pub const SOURCES: &str = "bounds: each at 95 %, exact where errors come one by one, a damaged frame \
    taken for one wrong bit; the kernel shows 0 for what a driver does not count. Data: frame \
    arithmetic of IEEE 802.3 (from memory), RFC 791, 9293, 7323";

/// The section; nothing for a link that does not run, but what became of a rate that was measured.
pub fn section(page: &mut Page, found: &PortDiagnosis, style: Style) {
    let numbers = match &found.numbers {
        Fact::Known(numbers) => numbers,
        Fact::Missing(why) => {
            if let Some(rate) = found.measured {
                let why = why.detail().unwrap_or(why.reason.text());
                let text =
                    format!("{rate}: nothing can be said of it, as no link runs here ({why})");
                page.line("");
                page.wrapped(style, "  You measured ", &text);
            }
            return;
        }
    };
    page.line("");
    page.line(&style.heading(HEADING));
    for (name, text) in rows(numbers) {
        page.wrapped(style, &format!("  {} ", pad(name, 14)), &text);
    }
    page.wrapped(style, "  ", &format!("[{SOURCES}]"));
}

/// Heading of the section.
pub const HEADING: &str = "How good it is";

/// Its lines: name and text.
pub fn rows(numbers: &Numbers) -> Vec<(&'static str, String)> {
    let mut rows = Vec::new();
    let mut row = |name, text: &str| rows.push((name, text.to_owned()));
    row(
        "bit errors",
        &match &numbers.errors {
            Fact::Known(errors) => errors_text(errors),
            Fact::Missing(why) if why.detail().is_some_and(|why| why.ends_with(ONE_INSTANT)) => {
                "not known from one look: --seconds 60 looks twice, a minute apart".to_owned()
            }
            Fact::Missing(why) => absent(why),
        },
    );
    match &numbers.correction {
        Fact::Known(correction) => row("FEC", &correction_text(correction)),
        Fact::Missing(why) if why.reason == Reason::NotApplicable => {}
        Fact::Missing(why) => row("FEC", &absent(why)),
    }
    let throughput = &numbers.throughput;
    row("carries", &carries_text(throughput));
    let loads = [("received", &throughput.received), ("sent", &throughput.sent)];
    let loads = loads.iter().filter_map(|(way, load)| Some(load_text(way, load.known()?)));
    let loads: Vec<String> = loads.collect();
    if !loads.is_empty() {
        row("on the wire", &format!("{}.", loads.join(", ")));
    }
    if let Some(measured) = &throughput.measured {
        row("you measured", &measured_text(measured, throughput));
    }
    match &numbers.light {
        Fact::Known(light) => row("light", &light_text(light)),
        Fact::Missing(why) if why.reason == Reason::NotApplicable => {}
        Fact::Missing(why) => row("light", why.detail().unwrap_or(why.reason.text())),
    }
    rows
}

/// A time; what is longer than anybody waits is said so.
fn time(seconds: Seconds) -> String {
    const YEARS: f64 = 365.25 * 86_400.0;
    match seconds.0 {
        beyond if beyond > 1000.0 * YEARS => "more than 1000 years".to_owned(),
        _ => seconds.to_string(),
    }
}

fn errors_text(errors: &Errors) -> String {
    let Errors { watched_seconds, damaged_frames, received_bits, .. } = errors;
    let history = match errors.damaged_before {
        0 => String::new(),
        before => format!(" {before} more were damaged before, over a time that is not known."),
    };
    let some = if *damaged_frames == 0 {
        "no frame was".to_owned()
    } else {
        format!("{damaged_frames} damaged frames, and none whole, were")
    };
    let (Some(ratio), Some(below)) = (errors.ratio, errors.ratio_below) else {
        return format!(
            "{some} received in {watched_seconds}: that says nothing of the bit-error ratio. Look \
             while there is traffic on the link, and for longer: --seconds 60.{history}"
        );
    };
    let among = format!("{:.2e} bits received in {watched_seconds}", received_bits.0);
    let Some(above) = errors.ratio_above else {
        return format!(
            "no damaged frame in {among}: bit-error ratio below {below} (95 %). {}{history}",
            shown_text(errors)
        );
    };
    let one = if *damaged_frames == 1 { "frame" } else { "frames" };
    let judged = if above > errors.specified_ratio {
        format!("That is more than the {:e} its type is specified for.", errors.specified_ratio.0)
    } else {
        shown_text(errors)
    };
    let hour = errors.expected_damaged_an_hour.map_or_else(String::new, |hour| {
        let ratio = errors.specified_ratio.0;
        format!(
            " At {ratio:e} and this traffic, {hour:.1} damaged frames an hour are to be expected."
        )
    });
    format!(
        "{damaged_frames} damaged {one} in {among}: bit-error ratio {ratio}, above {above} and below \
         {below} (95 % each). {judged}{hour}{history}"
    )
}

/// Whether the specified ratio is shown, or what it takes.
fn shown_text(errors: &Errors) -> String {
    let specified = errors.specified_ratio.0;
    let (here, full) = (errors.more_seconds_at_this_traffic, errors.more_seconds_at_full_speed);
    match (here, full) {
        (_, Some(Seconds(full))) if full <= 0.0 => {
            format!("That shows the {specified:e} its type is specified for.")
        }
        (Some(here), Some(full)) => format!(
            "To show the {specified:e} its type is specified for takes {} more without damage at \
             this traffic, {} at best at full speed.",
            time(here),
            time(full)
        ),
        _ => String::new(),
    }
}

fn correction_text(found: &Correction) -> String {
    let Correction { code, watched_seconds, corrected, .. } = found;
    let what = match found.counted {
        From::Bits => "bits",
        From::Codewords => "codewords",
    };
    let by_lane = if found.corrected_by_lane.len() > 1 {
        let lanes: Vec<String> = found.corrected_by_lane.iter().map(u64::to_string).collect();
        format!(" (by lane: {})", lanes.join(", "))
    } else {
        String::new()
    };
    let times = found.times_below_limit.map(|times| match times {
        1.0.. => format!("{} times below", figures(times)),
        _ => format!("{} times above", figures(1.0 / times)),
    });
    let limit = match (found.limit_ratio, times) {
        (Some(limit), Some(times)) => format!(", {times} the {:e} it is designed for", limit.0),
        _ => String::new(),
    };
    let ratio = match (found.raw_ratio, found.raw_ratio_below) {
        (Some(raw), _) => format!("raw bit-error ratio {raw}{limit}"),
        (None, Some(below)) => format!("raw bit-error ratio below {below} (95 %){limit}"),
        (None, None) => "more than a ratio can be told from".to_owned(),
    };
    let bursts = match (found.counted, found.raw_ratio) {
        (From::Codewords, Some(_)) => " (larger where errors come in bursts)",
        _ => "",
    };
    let floor = found.seconds_between_lost_at_most.map_or_else(String::new, |between| {
        format!(
            " Random errors of that ratio lose one codeword in {}; real ones come in bursts and lose \
             more.",
            time(between)
        )
    });
    let lost = match (found.uncorrectable, found.frame_loss_ratio) {
        (None, _) => " Whether codewords are lost is not counted.".to_owned(),
        (Some(0), _) => " No codeword was lost.".to_owned(),
        (Some(lost), ratio) => {
            let ratio = ratio.map(|ratio| format!(", about {ratio} of all")).unwrap_or_default();
            format!(" {lost} codewords could not be corrected: frames are lost{ratio}.")
        }
    };
    let standing = match found.times_below_limit {
        Some(..9.95) => " Healthy links are ten times below it, or more (common practice).",
        _ => "",
    };
    let cite = found.limit.as_ref().map(|limit| format!(" [{limit}]")).unwrap_or_default();
    format!(
        "{code}: {corrected} {what} corrected in {watched_seconds}{by_lane}, {ratio}{bursts}.\
         {standing}{floor}{lost}{cite}"
    )
}

/// Two figures or so of a factor.
fn figures(times: f64) -> String {
    match times {
        1e4.. => format!("{times:.0e}"),
        10.0.. => format!("{times:.0}"),
        _ => format!("{times:.1}"),
    }
}

fn carries_text(found: &Throughput) -> String {
    let assumed = if found.mtu_assumed { ", assumed as it is not known" } else { "" };
    let Some(data) = found.data_bits_per_second else {
        return format!("an MTU of {} carries no IPv4", found.mtu_octets);
    };
    let shared =
        if found.half_duplex { "; half duplex, so that both directions share it" } else { "" };
    let tag = found.data_in_a_vlan_bits_per_second.map_or_else(String::new, |tagged| {
        format!("; {} less in a VLAN", BitsPerSecond(data.0 - tagged.0))
    });
    let slot = match found.slot_mbps {
        Some(slot) if found.slot_is_lowest => {
            format!(" The slot carries {slot}, which is less: that is the most.")
        }
        Some(slot) => format!(" The slot carries more: {slot}."),
        None => " What the slot carries is not known.".to_owned(),
    };
    let frames = found.smallest_frames_per_second.map_or_else(String::new, |frames| {
        let count = match frames.0 {
            1e6.. => format!("{:.2} million", frames.0 / 1e6),
            few => format!("{few:.0}"),
        };
        format!(", or {count} frames of 64 octets a second")
    });
    format!(
        "{data} of data at most (TCP over IPv4 with timestamps, MTU {}{assumed}{tag}){frames}\
         {shared}.{slot}",
        found.mtu_octets.0
    )
}

fn load_text(way: &str, load: &Load) -> String {
    let odd = if load.share > 1.05 { ", more than it can carry: a count is wrong" } else { "" };
    let percent = load.share * 100.0;
    let percent = match percent {
        10.0.. => format!("{percent:.0}"),
        _ => format!("{percent:.1}"),
    };
    format!("{} {way} ({percent} % of the speed{odd})", load.wire_bits_per_second)
}

fn measured_text(measured: &Fits, found: &Throughput) -> String {
    let mut text = format!("{}. ", measured.bits_per_second);
    if measured.fits.is_empty() {
        text.push_str("Nothing can be said of it with this MTU.");
    }
    let sentences: Vec<&str> = measured.fits.iter().map(|fit| fit.text.as_str()).collect();
    text.push_str(&sentences.join(" Or: "));
    if found.half_duplex && measured.fits.iter().any(|fit| fit.kind == "full") {
        text.push_str(" The link runs half duplex: both directions share that.");
    }
    text
}

fn light_text(light: &Light) -> String {
    let splices = match light.splices {
        0 => String::new(),
        1 => ", 1 splice".to_owned(),
        more => format!(", {more} splices"),
    };
    let pairs = if light.connectors == 1 { "pair" } else { "pairs" };
    let mut text = format!(
        "{} of {} with {} connector {pairs}{splices} usually lose {}, {} at most.",
        light.length_m, light.medium, light.connectors, light.typical_loss_db, light.most_loss_db
    );
    for lost in &light.ways {
        text.push_str(&lost_text(lost));
    }
    if let Some(received) = &light.received {
        text.push_str(&received_text(received));
    }
    if light.ways.is_empty() && light.received.is_none() {
        text.push_str(" The readings to hold that against are not known.");
    }
    text.push_str(&format!(" [{}]", attenuation::SOURCE));
    text
}

fn lost_text(lost: &Lost) -> String {
    let way = if lost.way == Way::In { "in" } else { "out" };
    let lane = lost.lane.map(|lane| format!(", worst lane {lane}")).unwrap_or_default();
    let excess = match (lost.excess_db, lost.excess_in_connectors) {
        (Some(excess), Some(pairs)) => {
            let doubt = if lost.may_be_the_readings {
                " Both readings, off by all they may be, still explain it."
            } else {
                ""
            };
            let more = connectors(pairs);
            format!(". Beyond all of that, {excess} are left: what {more} would lose.{doubt}")
        }
        _ => ", which the run may lose, as readings go.".to_owned(),
    };
    let Lost { loss_db, loss_least_db, loss_most_db, .. } = lost;
    format!(" Way {way}{lane}: {loss_db} lost ({loss_least_db} to {loss_most_db}){excess}")
}

/// So many pairs, at their worst.
fn connectors(pairs: u32) -> String {
    let word = if pairs == 1 { "pair" } else { "pairs" };
    format!("{pairs} more connector {word} at {:.2} dB each", attenuation::CONNECTOR_MOST.0)
}

fn received_text(received: &Received) -> String {
    let Received { received_dbm, expected_least_dbm, expected_most_dbm, standing } = received;
    let by = if *standing == AS_EXPECTED {
        String::new()
    } else {
        format!(" by more than the {} a reading may be off", accuracy::POWER)
    };
    format!(
        " Way in: {received_dbm} received, {standing}{by}: {expected_least_dbm} to \
         {expected_most_dbm}, by what its type may send."
    )
}
