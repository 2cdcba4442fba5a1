//! Module readings and counters of one port, with their limits.

use crate::calc::rates;
use crate::diagnose::PortDiagnosis;
use crate::module::{Lane, Limits, Module};
use crate::quantity::Milliwatts;
use crate::render::text::{Page, Style, pad};
use crate::snapshot::{Fact, Port, Reason};
use crate::standards::media::Row;

/// Readings, then what the counters did.
pub fn section(page: &mut Page, port: &Port, found: &PortDiagnosis, style: Style) {
    if let Fact::Known(module) = &found.module {
        let lines = module_lines(module, module.power_window(found.running.known().copied()));
        if !lines.is_empty() {
            page.line("");
            page.line(&style.heading("Module readings"));
            for (name, text) in lines {
                page.wrapped(style, &format!("  {} ", pad(&name, 14)), &text);
            }
        }
        for doubt in &module.doubts {
            page.wrapped(style, "  doubt: ", &format!("{} ({})", doubt.text, doubt.source));
        }
    }
    let lines = counter_lines(port);
    if !lines.is_empty() {
        page.line("");
        page.line(&style.heading("Counters"));
        for (name, text) in lines {
            page.wrapped(style, &format!("  {} ", pad(name, 14)), &text);
        }
    }
}

/// One line a reading: value, the module's own limits, the type's published window.
pub fn module_lines(module: &Module, window: Option<&Row>) -> Vec<(String, String)> {
    let mut lines = Vec::new();
    let own =
        |limits: &Fact<String>| limits.known().map_or_else(String::new, |text| format!(", {text}"));
    let word =
        |flags: &Fact<crate::module::Flags>| flags.known().map_or("", |flags| flag_word(*flags));
    if let Fact::Known(celsius) = module.temperature {
        let limits = limit_text(&module.thresholds.temperature);
        let text = format!("{celsius}{}{}", own(&limits), word(&module.temperature_flags));
        lines.push(("temperature".to_owned(), text));
    }
    if let Fact::Known(volts) = module.supply {
        let limits = limit_text(&module.thresholds.supply);
        let text = format!("{volts}{}{}", own(&limits), word(&module.supply_flags));
        lines.push(("supply".to_owned(), text));
    }
    let several = module.lanes.len() > 1;
    for lane in module.lanes.iter().filter(|lane| lane.in_use) {
        lane_lines(&mut lines, module, lane, several, window);
    }
    if lines.is_empty() && module.diagnostics == Fact::Known(false) {
        let text = "this module has no diagnostics, which is normal for its kind";
        lines.push(("none".to_owned(), text.to_owned()));
    }
    lines
}

fn lane_lines(
    lines: &mut Vec<(String, String)>,
    module: &Module,
    lane: &Lane,
    several: bool,
    window: Option<&Row>,
) {
    let name = |what: &str| {
        if several { format!("lane {} {what}", lane.number) } else { what.to_owned() }
    };
    if let Fact::Known(current) = lane.bias {
        let limits = limit_text(&module.thresholds.bias);
        let limits = limits.known().map_or_else(String::new, |text| format!(", {text}"));
        lines.push((name("laser bias"), format!("{current}{limits}")));
    }
    for (what, power, own, least, most) in [
        (
            "transmits",
            &lane.tx_power,
            &module.thresholds.tx_power,
            window.and_then(|row| row.tx_least),
            window.and_then(|row| row.tx_most),
        ),
        (
            "receives",
            &lane.rx_power,
            &module.thresholds.rx_power,
            window.and_then(|row| row.rx_least),
            window.and_then(|row| row.rx_most),
        ),
    ] {
        let power = match power {
            Fact::Known(power) => *power,
            Fact::Missing(why)
                if module.carries.is_optical() && why.reason != Reason::NotImplemented =>
            {
                lines.push((name(what), format!("not known: {why}")));
                continue;
            }
            Fact::Missing(_) => continue,
        };
        let mut text = power.to_string();
        if let Some(limits) = limit_text(own).known() {
            text.push_str(&format!(", {limits}"));
        }
        if let (Some(least), Some(most), Some(row)) = (least, most, window) {
            text.push_str(&format!("; {} {least} to {most}", row.interface));
            if let Some(dbm) = power.dbm() {
                text.push_str(&format!(", margin {} and {}", dbm - least, most - dbm));
            }
        }
        lines.push((name(what), text));
    }
    let states = [
        (&lane.rx_los, "receiver reports loss of signal"),
        (&lane.tx_los, "transmitter input reports loss of signal"),
        (&lane.rx_loss_of_lock, "receiver reports loss of lock"),
        (&lane.tx_loss_of_lock, "transmitter reports loss of lock"),
        (&lane.tx_fault, "transmitter fault"),
        (&lane.tx_disabled, "transmitter switched off"),
    ];
    for (state, words) in states {
        if *state == Fact::Known(true) {
            lines.push((name("state"), words.to_owned()));
        }
    }
}

fn flag_word(flags: crate::module::Flags) -> &'static str {
    if flags.high_alarm {
        " (module flags a high alarm)"
    } else if flags.low_alarm {
        " (module flags a low alarm)"
    } else if flags.high_warning {
        " (module flags a high warning)"
    } else if flags.low_warning {
        " (module flags a low warning)"
    } else {
        ""
    }
}

/// A quantity as limits are shown.
trait Shown {
    fn shown(&self) -> String;
}

macro_rules! shown {
    ($($name:ident),*) => {$(
        impl Shown for crate::quantity::$name {
            fn shown(&self) -> String {
                self.to_string()
            }
        }
    )*};
}
shown!(Celsius, Volts, Milliamps);

impl Shown for Milliwatts {
    fn shown(&self) -> String {
        self.dbm().map_or_else(|| "0 mW".into(), |dbm| dbm.to_string())
    }
}

fn limit_text<T: Shown>(limits: &Fact<Limits<T>>) -> Fact<String> {
    limits.as_ref().map(|limits| {
        format!(
            "own limits {} to {} (alarm {} and {})",
            limits.low_warning.shown(),
            limits.high_warning.shown(),
            limits.low_alarm.shown(),
            limits.high_alarm.shown()
        )
    })
}

/// What the counters did over the observed time; errors that stand still are history.
pub fn counter_lines(port: &Port) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    let change = |pick: fn(&crate::snapshot::Counters) -> &Fact<u64>| {
        rates::change(&port.instants, |instant| {
            instant.counters.as_ref().and_then(|counters| pick(counters).clone())
        })
    };
    for (what, errors, frames) in [
        ("received", change(|c| &c.receive_errors), change(|c| &c.received_frames)),
        ("sent", change(|c| &c.transmit_errors), change(|c| &c.sent_frames)),
    ] {
        if let (Fact::Known(errors), Fact::Known(frames)) = (&errors, &frames) {
            let history = if errors.by == 0 && errors.total > 0 {
                format!(" ({} before that, standing still)", errors.total)
            } else {
                String::new()
            };
            let text = format!(
                "{} frames in {:.1} s, {} errors{history}",
                frames.by, frames.seconds, errors.by
            );
            lines.push((what, text));
        }
    }
    type Pick = fn(&crate::snapshot::FecCounters) -> &Fact<crate::snapshot::LaneCounts>;
    let words: [(&str, Pick); 2] = [
        ("corrected", |counters| &counters.corrected_blocks),
        ("uncorrectable", |counters| &counters.uncorrectable_blocks),
    ];
    for (name, pick) in words {
        let words = rates::change(&port.instants, |instant| {
            instant
                .fec_counters
                .as_ref()
                .and_then(|counters| pick(counters).as_ref().map(|counts| counts.total))
        });
        if let Fact::Known(words) = words {
            lines.push((name, format!("{} codewords in {:.1} s", words.by, words.seconds)));
        }
    }
    lines
}
