//! A decoded module image, as text and JSON.

use serde_json::{Value, json};

use crate::module::{Checksum, Lane, Limits, Module};
use crate::quantity::{Dbm, Milliwatts};
use crate::render::readings::{self, Margins};
use crate::render::text::{Page, Style, pad};
use crate::snapshot::{Fact, Reason};
use crate::standards::media::Row;

/// Doubts, identity, checksums, readings, limits.
pub fn text(module: &Module, laid_out: &str, style: Style) -> String {
    let mut page = Page::default();
    // First: what follows is to be read in this light.
    if !module.doubts.is_empty() {
        page.line(&style.heading("Reasons not to take the module at its word"));
        for doubt in &module.doubts {
            page.wrapped(style, "  ", &format!("{} ({})", doubt.text, doubt.source));
        }
        page.line("");
    }
    page.line(&style.heading("Identity"));
    let mut row = |name: &str, value: String| {
        if !value.is_empty() {
            page.wrapped(style, &format!("  {} ", pad(name, 20)), &value);
        }
    };
    row("memory map", format!("{} ({})", module.family.standard(), module.recognised_by));
    row("image", laid_out.to_owned());
    for (name, fact) in [
        ("form factor", &module.form_factor),
        ("connector", &module.connector),
        ("maker", &module.vendor_name),
        ("company id", &module.vendor_oui),
        ("part number", &module.part_number),
        ("revision", &module.revision),
        ("serial number", &module.serial_number),
        ("date", &module.date_code),
        ("standard's revision", &module.standard_revision),
        ("power class", &module.power_class),
        ("module state", &module.state),
        ("technology", &module.technology),
        ("encoding", &module.encoding),
    ] {
        // What this family has no place for is no line.
        let nothing = fact
            .why_missing()
            .is_some_and(|why| why.reason == Reason::NotApplicable && why.detail.is_none());
        row(name, if nothing { String::new() } else { told(fact) });
    }
    row("carries", module.carries.text().to_owned());
    for claimed in &module.interface_types {
        row("interface type", format!("{} [{}]", claimed.name, claimed.source));
    }
    row("other claims", module.other_compliance.join(", "));
    let from = if module.top_speed_source.is_empty() {
        String::new()
    } else {
        format!(", by {}", module.top_speed_source)
    };
    row("top speed", format!("{}{from}", told(&module.top_speed)));
    row("FEC", module.fec.unwrap_or_default().to_owned());
    row(
        "signalling rate",
        told(&module.nominal_megabaud.clone().map(|rate| format!("{rate} MBd"))),
    );
    for reach in &module.reaches {
        let more = if reach.at_least { "more than " } else { "" };
        row("reach", format!("{more}{} on {}", reach.metres, reach.medium));
    }
    row("wavelength", known(&module.wavelength));
    row("cable length", known(&module.cable_length));
    row("cable type", module.cable_compliance.join(", "));
    row("options", module.options.join(", "));
    let diagnostics = match (&module.diagnostics, &module.calibration) {
        (Fact::Known(true), Fact::Known(calibration)) => format!(
            "implemented, {} calibration",
            match calibration {
                crate::module::Calibration::Internal => "internal",
                crate::module::Calibration::External => "external",
                crate::module::Calibration::Contradictory => "contradictory",
            }
        ),
        (Fact::Known(true), _) => "implemented".into(),
        (Fact::Known(false), _) => "not implemented".into(),
        (Fact::Missing(why), _) => readings::absent(why),
    };
    row("diagnostics", diagnostics);
    for checksum in &module.checksums {
        row("checksum", checksum_text(checksum));
    }
    for status in &module.status {
        row("status", (*status).to_owned());
    }
    if module.data_ready == Fact::Known(false) {
        row("status", "the module says that its readings are not ready".into());
    }
    readings::module_section(&mut page, "Readings", module, module.power_window(None), style);
    page.text
}

fn checksum_text(checksum: &Checksum) -> String {
    let Checksum { name, covers, .. } = checksum;
    match (&checksum.matches, checksum.stored_computed) {
        (Fact::Known(true), _) => format!("{name} ({covers}) right"),
        (Fact::Known(false), Some((stored, computed))) => {
            format!("{name} ({covers}) WRONG: stored {stored:02x}h, computed {computed:02x}h")
        }
        (Fact::Known(false), None) => format!("{name} ({covers}) WRONG"),
        (Fact::Missing(why), _) => format!("{name} ({covers}) {}", readings::absent(why)),
    }
}

fn told<T: ToString>(fact: &Fact<T>) -> String {
    match fact {
        Fact::Known(value) => value.to_string(),
        Fact::Missing(why) => readings::absent(why),
    }
}

fn known<T: ToString>(fact: &Fact<T>) -> String {
    fact.known().map_or_else(String::new, ToString::to_string)
}

/// The decoded module as JSON: a known value is bare, a missing one names its reason.
pub fn json(module: &Module, laid_out: &str) -> Value {
    let window = module.power_window(None);
    json!({
        "family": module.family,
        "recognised_by": module.recognised_by,
        "image": laid_out,
        "form_factor": module.form_factor,
        "connector": module.connector,
        "carries": module.carries,
        "vendor_name": module.vendor_name,
        "vendor_oui": module.vendor_oui,
        "part_number": module.part_number,
        "revision": module.revision,
        "serial_number": module.serial_number,
        "date_code": module.date_code,
        "interface_types": module.interface_types,
        "other_compliance": module.other_compliance,
        "top_speed_mbps": module.top_speed,
        "top_speed_source": module.top_speed_source,
        "fec": module.fec,
        "technology": module.technology,
        "speeds_mbps": module.speeds,
        "nominal_megabaud": module.nominal_megabaud,
        "encoding": module.encoding,
        "reaches": module.reaches,
        "wavelength_nm": module.wavelength,
        "cable_length_m": module.cable_length,
        "cable_compliance": module.cable_compliance,
        "options": module.options,
        "power_class": module.power_class,
        "standard_revision": module.standard_revision,
        "checksums": module.checksums.iter().map(|checksum| json!({
            "name": checksum.name,
            "covers": checksum.covers,
            "matches": checksum.matches,
            "stored": checksum.stored_computed.map(|(stored, _)| stored),
            "computed": checksum.stored_computed.map(|(_, computed)| computed),
        })).collect::<Vec<_>>(),
        "diagnostics": module.diagnostics,
        "calibration": module.calibration,
        "rx_power_kind": module.rx_power_kind,
        "state": module.state,
        "data_ready": module.data_ready,
        "temperature_celsius": module.temperature,
        "supply_volts": module.supply,
        "temperature_flags": module.temperature_flags,
        "supply_flags": module.supply_flags,
        "lanes": module.lanes.iter().map(|each| lane(each, module, window)).collect::<Vec<_>>(),
        "limits": {
            "source": module.thresholds_source,
            "temperature_celsius": limits(&module.thresholds.temperature),
            "supply_volts": limits(&module.thresholds.supply),
            "bias_milliamps": limits(&module.thresholds.bias),
            "tx_power_milliwatts": limits(&module.thresholds.tx_power),
            "rx_power_milliwatts": limits(&module.thresholds.rx_power),
        },
        "published_limits": window.map(|row| json!({
            "interface": row.interface,
            "tx_least_dbm": row.tx_least,
            "tx_most_dbm": row.tx_most,
            "rx_least_dbm": row.rx_least,
            "rx_most_dbm": row.rx_most,
            "source": format!("{} [{}]", row.cite(), row.source),
        })),
        "flags_latched": module.flags_latched,
        "status": module.status,
        "doubts": module.doubts.iter().map(super::json::doubt).collect::<Vec<_>>(),
    })
}

/// Margins of one power to the module's own limits and to the published ones, in dB; negative
/// where a limit is crossed, null where there is no light or no such limit.
fn margins(
    power: &Fact<Milliwatts>,
    own: &Fact<Limits<Milliwatts>>,
    (least, most): (Option<Dbm>, Option<Dbm>),
) -> Value {
    let to = |low: Option<Dbm>, high: Option<Dbm>| {
        let margins = power.known().and_then(|power| Margins::of(*power, low, high))?;
        Some(json!({"low_db": margins.low, "high_db": margins.high}))
    };
    let own = own.known();
    let dbm = |pick: fn(&Limits<Milliwatts>) -> Milliwatts| own.and_then(|own| pick(own).dbm());
    json!({
        "own_warning": to(dbm(|own| own.low_warning), dbm(|own| own.high_warning)),
        "own_alarm": to(dbm(|own| own.low_alarm), dbm(|own| own.high_alarm)),
        "published": to(least, most),
    })
}

fn lane(lane: &Lane, module: &Module, window: Option<&Row>) -> Value {
    let limits = &module.thresholds;
    let tx = window.map_or((None, None), |row| (row.tx_least, row.tx_most));
    let rx = window.map_or((None, None), |row| (row.rx_least, row.rx_most));
    let dbm =
        |power: &Fact<Milliwatts>| power.known().and_then(|power| power.dbm()).map(|Dbm(x)| x);
    json!({
        "lane": lane.number,
        "in_use": lane.in_use,
        "bias_milliamps": lane.bias,
        "tx_power_milliwatts": lane.tx_power,
        "tx_power_dbm": dbm(&lane.tx_power),
        "rx_power_milliwatts": lane.rx_power,
        "rx_power_dbm": dbm(&lane.rx_power),
        "tx_margins": margins(&lane.tx_power, &limits.tx_power, tx),
        "rx_margins": margins(&lane.rx_power, &limits.rx_power, rx),
        "data_path_state": lane.data_path_state,
        "rx_los": lane.rx_los,
        "tx_los": lane.tx_los,
        "rx_loss_of_lock": lane.rx_loss_of_lock,
        "tx_loss_of_lock": lane.tx_loss_of_lock,
        "tx_fault": lane.tx_fault,
        "tx_disabled": lane.tx_disabled,
        "bias_flags": lane.bias_flags,
        "tx_power_flags": lane.tx_power_flags,
        "rx_power_flags": lane.rx_power_flags,
    })
}

fn limits<T: serde::Serialize + Clone>(limits: &Fact<Limits<T>>) -> Value {
    serde_json::to_value(limits).unwrap_or(Value::Null)
}
