//! Module readings and counters of one port, with their limits and the margins to them.
//!
//! Margins go to the module's own warning limits, or to the interface type's published window
//! where the module has none; which of the two is said. A reading that the module does not
//! implement is told apart from one that could not be had.

use crate::calc::rates;
use crate::diagnose::observations::{Swing, own_contradictions};
use crate::diagnose::{JudgedBy, PortDiagnosis};
use crate::faults::Symptom;
use crate::module::{Carries, Flags, Lane, Limits, Module};
use crate::quantity::{Dbm, Decibels, Milliwatts};
use crate::render::text::{Page, Style, pad};
use crate::snapshot::{Counters, Fact, Missing, Port, Reason};
use crate::standards::accuracy;
use crate::standards::media::Row;

/// Readings, then what the counters did.
pub fn section(page: &mut Page, port: &Port, found: &PortDiagnosis, style: Style) {
    if let Fact::Known(module) = &found.module {
        let window = module.power_window(found.running.known().copied());
        module_section(page, "Module readings", module, window, style);
        for (name, text) in remarks(port, found, module) {
            let first = match name {
                "jumps" => format!("  {} ", pad(name, 14)),
                "doubt" => format!("  {name}: "),
                _ => format!("  {name} "),
            };
            page.wrapped(style, &first, &text);
        }
    }
    let lines = counters(port, found);
    if !lines.is_empty() {
        page.line("");
        page.line(&style.heading("Counters"));
        for (name, text) in lines {
            page.wrapped(style, &format!("  {} ", pad(name, 14)), &text);
        }
    }
}

/// What the counters did.
pub fn counters(port: &Port, found: &PortDiagnosis) -> Vec<(&'static str, String)> {
    // An adapter that is lost shows no other symptom: what it reads counts nothing.
    if found.symptoms == [Symptom::Lost] {
        vec![("all", "read all ones: they count nothing".to_owned())]
    } else {
        counter_lines(port)
    }
}

/// What limits are used in place of the module's own, what moved meanwhile, and what is doubted.
pub fn remarks(port: &Port, found: &PortDiagnosis, module: &Module) -> Vec<(&'static str, String)> {
    let mut remarks = Vec::new();
    for judged in &found.judged_by {
        if let Some(why) = &judged.own_limit {
            let JudgedBy { what, limit, source, .. } = judged;
            let text = format!("{what}: {limit} [{source}]; the module's own: {why}");
            remarks.push(("judged by", text));
        }
    }
    if let Some(swing) = Swing::of_jump(port) {
        let lane =
            if module.lanes.len() > 1 { format!("lane {}: ", swing.lane) } else { String::new() };
        let at =
            |(power, at): (Dbm, u64)| format!("{power} at {}.{} s", at / 1000, at % 1000 / 100);
        let text = format!(
            "{lane}received {} and {} of the watch; the table above shows one reading only",
            at(swing.least),
            at(swing.most)
        );
        remarks.push(("jumps", text));
    }
    for doubt in &module.doubts {
        remarks.push(("doubt", format!("{} ({})", doubt.text, doubt.source)));
    }
    // What contradicts itself besides counts as well, and stands here too.
    let told = |text: &String| module.doubts.iter().any(|doubt| doubt.text == *text);
    let besides = own_contradictions(module).into_iter().filter(|text| !told(text));
    remarks.extend(besides.map(|text| ("doubt", text)));
    remarks
}

/// What is said beside readings that are shown with their limits: what the module flags, which of
/// them are not there, and why, and what is published for its type.
pub fn beside_lanes(module: &Module, window: Option<&Row>) -> Vec<(String, String)> {
    let lanes = Lanes::of(module, window);
    let mut lines: Vec<(String, String)> = Vec::new();
    for (name, text) in not_ready(module) {
        lines.push((name.to_owned(), text));
    }
    for (name, missing, flags) in [
        ("temperature", module.temperature.why_missing(), &module.temperature_flags),
        ("supply", module.supply.why_missing(), &module.supply_flags),
    ] {
        if let Some(why) = missing.filter(|_| module.diagnostics != Fact::Known(false)) {
            lines.push((name.to_owned(), absent(why)));
        }
        if let Some(text) = flags.known().and_then(|flags| flag_words(*flags)) {
            lines.push((name.to_owned(), format!("the module flags {text}")));
        }
    }
    if module.diagnostics == Fact::Known(false) {
        lines.push(("readings".to_owned(), without_diagnostics(module)));
    }
    for lane in &module.lanes {
        if !lane.in_use {
            lines.push((format!("lane {}", lane.number), "not in use".to_owned()));
        } else if let Some(note) = lane_notes(lane) {
            lines.push((format!("lane {}", lane.number), note));
        }
    }
    let limits = limit_lines(module, window, !lanes.is_empty());
    let own = &module.thresholds;
    let limits = limits.into_iter().filter(|(name, _)| match *name {
        "transmit limit" => own.tx_power.known().is_none(),
        "receive limit" => own.rx_power.known().is_none(),
        "bias limit" => own.bias.known().is_none(),
        other => !matches!(other, "margins" | "own limits"),
    });
    let rest = lanes.absences().into_iter().chain(limits);
    lines.extend(rest.map(|(name, text)| (name.to_owned(), text)));
    if let Some(text) = latched(module) {
        lines.push(("flags".to_owned(), text.to_owned()));
    }
    if !lanes.is_empty() {
        lines.push(("accuracy".to_owned(), accuracy::SOURCE.to_owned()));
    }
    lines
}

/// What is said where nothing is measured.
fn without_diagnostics(module: &Module) -> String {
    let normal = matches!(module.carries, Carries::PassiveCopper | Carries::TwistedPair);
    match &module.diagnostics {
        Fact::Known(false) if normal => {
            "not implemented: no diagnostics, which is normal for this kind".into()
        }
        Fact::Known(_) => "not implemented: this module has no diagnostics".into(),
        Fact::Missing(why) => absent(why),
    }
}

/// What is said of a module that is not ready.
fn not_ready(module: &Module) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    if let Fact::Known(state) = &module.state
        && state != "ready"
    {
        lines.push(("state", format!("the module is not ready: {state}")));
        if let Fact::Known(class) = &module.power_class {
            lines.push(("power class", class.clone()));
        }
    }
    lines
}

/// What is said of flags that tell of an earlier time.
fn latched(module: &Module) -> Option<&'static str> {
    let flagged = module.lanes.iter().any(|lane| !latched_notes(lane).is_empty());
    (module.flags_latched && flagged)
        .then_some("latched: they tell what happened since they were last read, not what is so now")
}

/// Case, lanes, limits, and what the module flags.
pub fn module_section(
    page: &mut Page,
    heading: &str,
    module: &Module,
    window: Option<&Row>,
    style: Style,
) {
    page.line("");
    page.line(&style.heading(heading));
    let first = |name: &str| format!("  {} ", pad(name, 14));
    let mut row = |name: &str, text: String| page.wrapped(style, &first(name), &text);
    let readings = case_lines(module);
    let lanes = Lanes::of(module, window);
    if readings.is_empty() && lanes.is_empty() {
        row("none", without_diagnostics(module));
    }
    for (name, text) in not_ready(module) {
        row(name, text);
    }
    for (name, text) in readings {
        row(name, text);
    }
    if !lanes.is_empty() {
        if style.width >= Lanes::WIDTH {
            lanes.table(page, style);
        } else {
            lanes.lines(page, style);
        }
    } else {
        lanes.notes(page, style);
    }
    let mut row = |name: &str, text: String| page.wrapped(style, &first(name), &text);
    for (name, text) in lanes.absences() {
        row(name, text);
    }
    for (name, text) in limit_lines(module, window, !lanes.is_empty()) {
        row(name, text);
    }
    if let Some(text) = latched(module) {
        row("flags", text.into());
    }
}

/// Why a value is not there: *not implemented* is the module's word, anything else a gap.
pub fn absent(why: &Missing) -> String {
    let detail = why.detail.as_deref();
    match (why.reason, detail) {
        (Reason::NotImplemented, Some(detail)) => format!("not implemented: {detail}"),
        (Reason::NotImplemented, None) => "not implemented".into(),
        (Reason::NotApplicable, Some(detail)) => format!("does not apply: {detail}"),
        (Reason::NotApplicable, None) => "does not apply".into(),
        _ => format!("not known: {why}"),
    }
}

/// Temperature and supply, with the module's own limits.
fn case_lines(module: &Module) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    let word = |flags: &Fact<Flags>| {
        flags
            .known()
            .and_then(|flags| flag_words(*flags))
            .map_or_else(String::new, |words| format!("; the module flags {words}"))
    };
    if module.diagnostics == Fact::Known(false) {
        return lines;
    }
    let limits = &module.thresholds;
    lines.push((
        "temperature",
        match &module.temperature {
            Fact::Known(celsius) => {
                format!("{celsius}{}{}", own(&limits.temperature), word(&module.temperature_flags))
            }
            Fact::Missing(why) => absent(why),
        },
    ));
    lines.push((
        "supply",
        match &module.supply {
            Fact::Known(volts) => {
                format!("{volts}{}{}", own(&limits.supply), word(&module.supply_flags))
            }
            Fact::Missing(why) => absent(why),
        },
    ));
    lines
}

fn own<T: Shown>(limits: &Fact<Limits<T>>) -> String {
    limits.known().map_or_else(String::new, |limits| format!("; {}", limit_text(limits)))
}

/// Distance from a power down to a low limit and up to a high one; negative where crossed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margins {
    /// To the low limit.
    pub low: Decibels,
    /// To the high limit.
    pub high: Decibels,
}

impl Margins {
    /// `None` where there is no light, or a limit of no power.
    pub fn of(power: Milliwatts, low: Option<Dbm>, high: Option<Dbm>) -> Option<Self> {
        let power = power.dbm()?;
        Some(Self { low: power - low?, high: high? - power })
    }
}

/// A low and a high limit of one power.
pub type Window = (Option<Dbm>, Option<Dbm>);

/// The module's own warning limits, else the published window.
pub fn judged_by(own: &Fact<Limits<Milliwatts>>, published: Window) -> Window {
    match own {
        Fact::Known(limits) => (limits.low_warning.dbm(), limits.high_warning.dbm()),
        Fact::Missing(_) => published,
    }
}

/// The lanes of a module as they are shown.
struct Lanes<'a> {
    module: &'a Module,
    tx: Window,
    rx: Window,
}

impl<'a> Lanes<'a> {
    /// Columns that the table needs.
    const WIDTH: usize = 72;

    fn of(module: &'a Module, window: Option<&Row>) -> Self {
        let tx = window.map_or((None, None), |row| (row.tx_least, row.tx_most));
        let rx = window.map_or((None, None), |row| (row.rx_least, row.rx_most));
        Self {
            module,
            tx: judged_by(&module.thresholds.tx_power, tx),
            rx: judged_by(&module.thresholds.rx_power, rx),
        }
    }

    /// True if no lane measures anything.
    fn is_empty(&self) -> bool {
        self.module.lanes.iter().all(|lane| {
            lane.tx_power.known().is_none()
                && lane.rx_power.known().is_none()
                && lane.bias.known().is_none()
        })
    }

    fn table(&self, page: &mut Page, style: Style) {
        let right = |text: &str, width: usize| {
            let have = unicode_width::UnicodeWidthStr::width(text);
            format!("{}{text}", " ".repeat(width.saturating_sub(have)))
        };
        let head = |cells: [&str; 10]| {
            const WIDTHS: [usize; 10] = [6, 9, 8, 6, 6, 10, 8, 6, 6, 7];
            cells.iter().zip(WIDTHS).map(|(cell, width)| right(cell, width)).collect::<String>()
        };
        page.line(&format!(
            "{}{}{}",
            pad("        transmits", 22),
            pad("  margin, dB", 16),
            "receives        margin, dB   bias"
        ));
        page.line(&head(["lane", "dBm", "µW", "low", "high", "dBm", "µW", "low", "high", "mA"]));
        for lane in &self.module.lanes {
            let number = lane.number.to_string();
            if !lane.in_use {
                page.line(&format!("{}    not in use", right(&number, 6)));
                continue;
            }
            let [tx, tx_microwatts, tx_low, tx_high] = power_cells(&lane.tx_power, self.tx);
            let [rx, rx_microwatts, rx_low, rx_high] = power_cells(&lane.rx_power, self.rx);
            let bias = match &lane.bias {
                Fact::Known(current) => format!("{:.2}", current.0),
                Fact::Missing(why) => absent_cell(why).to_owned(),
            };
            page.line(&head([
                &number,
                &tx,
                &tx_microwatts,
                &tx_low,
                &tx_high,
                &rx,
                &rx_microwatts,
                &rx_low,
                &rx_high,
                &bias,
            ]));
            if let Some(note) = lane_notes(lane) {
                page.wrapped(style, "        ^ ", &note);
            }
        }
    }

    /// The same on a narrow terminal: a line a reading.
    fn lines(&self, page: &mut Page, style: Style) {
        for lane in &self.module.lanes {
            let mut row = |what: &str, text: &str| {
                page.wrapped(style, &format!("  lane {} {what} ", lane.number), text);
            };
            if !lane.in_use {
                row("is not in use", "");
                continue;
            }
            for (what, power, window) in
                [("transmits", &lane.tx_power, self.tx), ("receives", &lane.rx_power, self.rx)]
            {
                if let Fact::Known(power) = power {
                    let margins = Margins::of(*power, window.0, window.1);
                    let margins = margins.map_or_else(String::new, |margins| {
                        format!(", margin {} low and {} high", margins.low, margins.high)
                    });
                    row(what, &format!("{power}{margins}"));
                }
            }
            if let Fact::Known(current) = lane.bias {
                row("bias", &current.to_string());
            }
            if let Some(note) = lane_notes(lane) {
                row("flags", &note);
            }
        }
    }

    /// What lanes without measurements flag all the same.
    fn notes(&self, page: &mut Page, style: Style) {
        for lane in self.module.used_lanes() {
            if let Some(note) = lane_notes(lane) {
                page.wrapped(style, &format!("  lane {}: ", lane.number), &note);
            }
        }
    }

    /// Why a reading is not there, for lanes that have the same reason together.
    fn absences(&self) -> Vec<(&'static str, String)> {
        let mut lines = Vec::new();
        let known_to_have_none = self.module.diagnostics == Fact::Known(false);
        let dark =
            !(self.module.carries.is_optical() || self.module.carries == Carries::ActiveCable);
        if known_to_have_none || (dark && self.is_empty()) {
            return lines;
        }
        type Why = fn(&Lane) -> Option<&Missing>;
        let quantities: [(&str, Why); 3] = [
            ("transmits", |lane| lane.tx_power.why_missing()),
            ("receives", |lane| lane.rx_power.why_missing()),
            ("laser bias", |lane| lane.bias.why_missing()),
        ];
        for (name, why) in quantities {
            let mut groups: Vec<(&Missing, Vec<u8>)> = Vec::new();
            for lane in self.module.used_lanes() {
                let Some(why) = why(lane) else { continue };
                match groups.iter_mut().find(|(known, _)| known.reason == why.reason) {
                    Some((_, lanes)) => lanes.push(lane.number),
                    None => groups.push((why, vec![lane.number])),
                }
            }
            for (why, lanes) in groups {
                lines.push((name, format!("{}: {}", lanes_text(&lanes), absent(why))));
            }
        }
        lines
    }
}

/// `lane 3`, `lanes 1 to 4`, `lanes 1, 3 and 7`.
pub(super) fn lanes_text(lanes: &[u8]) -> String {
    // Somebody else's readings may name lanes in any order, and twice.
    let mut lanes = lanes.to_vec();
    lanes.sort_unstable();
    lanes.dedup();
    match lanes.as_slice() {
        [] => "no lane".into(),
        [one] => format!("lane {one}"),
        [first, .., last] if usize::from(last.abs_diff(*first)) + 1 == lanes.len() => {
            format!("lanes {first} to {last}")
        }
        [rest @ .., last] => {
            let rest: Vec<String> = rest.iter().map(u8::to_string).collect();
            format!("lanes {} and {last}", rest.join(", "))
        }
    }
}

/// What stands in the table for a value that is not there.
fn absent_cell(why: &Missing) -> &'static str {
    match why.reason {
        Reason::NotImplemented => "none",
        Reason::NotApplicable => "-",
        _ => "?",
    }
}

/// dBm, µW, margin to the low and to the high limit.
fn power_cells(power: &Fact<Milliwatts>, (low, high): Window) -> [String; 4] {
    let power = match power {
        Fact::Known(power) => *power,
        Fact::Missing(why) => {
            let empty = || "-".to_owned();
            return [absent_cell(why).to_owned(), empty(), empty(), empty()];
        }
    };
    let margins = Margins::of(power, low, high);
    let margin = |pick: fn(Margins) -> Decibels| {
        margins.map_or_else(|| "-".to_owned(), |margins| tenths(pick(margins).0))
    };
    [
        power.dbm().map_or_else(|| "no light".into(), |Dbm(dbm)| format!("{:.2}", dbm + 0.0)),
        format!("{:.1}", power.0 * 1000.0),
        margin(|margins| margins.low),
        margin(|margins| margins.high),
    ]
}

/// One decimal, never "-0.0".
fn tenths(value: f64) -> String {
    format!("{:.1}", (value * 10.0).round() / 10.0 + 0.0)
}

/// What a lane reports beside its readings, in one line of words; none if all is well.
fn lane_notes(lane: &Lane) -> Option<String> {
    let mut notes = latched_notes(lane);
    if let Fact::Known(state) = &lane.data_path_state
        && lane.in_use
        && state != "activated"
    {
        notes.push(format!("data path: {state}"));
    }
    (!notes.is_empty()).then(|| notes.join("; "))
}

/// Losses, faults and flags of a lane, which some families latch.
fn latched_notes(lane: &Lane) -> Vec<String> {
    let states = [
        (&lane.rx_los, "receiver reports loss of signal"),
        (&lane.tx_los, "transmitter input reports loss of signal"),
        (&lane.rx_loss_of_lock, "receiver reports loss of lock"),
        (&lane.tx_loss_of_lock, "transmitter reports loss of lock"),
        (&lane.tx_fault, "transmitter fault"),
        (&lane.tx_disabled, "transmitter switched off"),
    ];
    let mut notes: Vec<String> = states
        .iter()
        .filter(|(state, _)| **state == Fact::Known(true))
        .map(|(_, words)| (*words).to_owned())
        .collect();
    for (what, flags) in [
        ("transmit power", &lane.tx_power_flags),
        ("receive power", &lane.rx_power_flags),
        ("laser bias", &lane.bias_flags),
    ] {
        if let Some(words) = flags.known().and_then(|flags| flag_words(*flags)) {
            notes.push(format!("{what}: the module flags {words}"));
        }
    }
    notes
}

/// Every flag that is set, in words.
fn flag_words(flags: Flags) -> Option<String> {
    let words: Vec<&str> = [
        (flags.high_alarm, "a high alarm"),
        (flags.low_alarm, "a low alarm"),
        (flags.high_warning, "a high warning"),
        (flags.low_warning, "a low warning"),
    ]
    .into_iter()
    .filter_map(|(set, words)| set.then_some(words))
    .collect();
    (!words.is_empty()).then(|| words.join(" and "))
}

/// The limits that the lanes are held against, and where they are from.
fn limit_lines(
    module: &Module,
    window: Option<&Row>,
    measured: bool,
) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    if !measured {
        return lines;
    }
    let limits = &module.thresholds;
    for (name, text) in [
        ("transmit limit", limits.tx_power.as_ref().map(limit_text)),
        ("receive limit", limits.rx_power.as_ref().map(limit_text)),
        ("bias limit", limits.bias.as_ref().map(limit_text)),
    ] {
        lines.push((
            name,
            match text {
                Fact::Known(text) => text,
                Fact::Missing(why) => format!("the module's own: {}", absent(&why)),
            },
        ));
    }
    let all = [limits.tx_power.known(), limits.rx_power.known()];
    let own = all.iter().flatten().count();
    if own > 0 {
        lines.push(("own limits", module.thresholds_source.to_owned()));
    }
    if let Some(row) = window {
        let span = |least: Option<Dbm>, most: Option<Dbm>| match (least, most) {
            (Some(least), Some(most)) => format!("{least} to {most}"),
            _ => "not told".to_owned(),
        };
        lines.push((
            "published",
            format!(
                "{}: transmit {}, receive {} [{}]",
                row.interface,
                span(row.tx_least, row.tx_most),
                span(row.rx_least, row.rx_most),
                row.cite(),
            ),
        ));
    }
    let whose = match (own, window) {
        (2, _) => "to the module's own warning limits",
        (1, _) => {
            "to the module's own warning limits where it has them, else to the published ones"
        }
        (_, Some(_)) => "to the published limits, as the module has none that can be used",
        (_, None) => "none: no limit is known",
    };
    let low_high = "low is the distance down to the low limit, high the one up to the high limit";
    lines.push(("margins", format!("{whose}; {low_high}; {}", accuracy::SOURCE)));
    lines
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

fn limit_text<T: Shown>(limits: &Limits<T>) -> String {
    format!(
        "warns below {} and above {}, alarms below {} and above {}",
        limits.low_warning.shown(),
        limits.high_warning.shown(),
        limits.low_alarm.shown(),
        limits.high_alarm.shown()
    )
}

/// What the counters did over the observed time; errors that stand still are history.
pub fn counter_lines(port: &Port) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    let change = |pick: fn(&Counters) -> &Fact<u64>| {
        rates::change(&port.instants, |instant| {
            instant.counters.as_ref().and_then(|counters| pick(counters).clone())
        })
    };
    for (what, errors, frames) in [
        ("received", change(|c| &c.receive_errors), change(|c| &c.received_frames)),
        ("sent", change(|c| &c.transmit_errors), change(|c| &c.sent_frames)),
    ] {
        if let (Fact::Known(errors), Fact::Known(frames)) = (&errors, &frames) {
            let word = |count: u64| if count == 1 { "error" } else { "errors" };
            let errors = match (errors.by, errors.total) {
                (0, total @ 1..) => {
                    let stand = if total == 1 { "stands" } else { "stand" };
                    format!(
                        "{total} {} {stand} since the counters started, none in the {:.1} s watched",
                        word(total),
                        errors.seconds
                    )
                }
                (by, _) => format!("{by} {}{}", word(by), errors.interval_text()),
            };
            let text = format!("{} frames in {:.1} s, {errors}", frames.by, frames.seconds);
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
            let text = match name {
                "uncorrectable" => format!("codewords: {}", words.errors_text()),
                _ => format!("{} codewords in {:.1} s", words.by, words.seconds),
            };
            lines.push((name, text));
        }
    }
    lines.extend(grown(port));
    lines.extend(private(port));
    lines.extend(dropped(port));
    if lines.is_empty() && port.instants.len() == 1 {
        lines
            .push(("rates", "not known: one instant gives no rate (--seconds 1 takes two)".into()));
    }
    lines
}

/// What is told only where it grew: a verdict may rest on it.
fn grown(port: &Port) -> Vec<(&'static str, String)> {
    let lost = rates::change(&port.instants, |instant| instant.carrier_down_count.clone());
    let waits = rates::change(&port.instants, |instant| {
        instant.pause_frames.as_ref().and_then(|frames| frames.received.clone())
    });
    [
        ("link lost", "times it went down", lost),
        ("collisions", "late ones", rates::late_collisions(&port.instants)),
        ("asked to wait", "pause frames received", waits),
    ]
    .into_iter()
    .filter_map(|(name, what, change)| {
        let change = change.known().filter(|change| change.by > 0)?;
        Some((name, format!("{what}: {}", change.errors_text())))
    })
    .collect()
}

/// Drivers' own counters of known meaning that grew.
fn private(port: &Port) -> Vec<(&'static str, String)> {
    /// So many are shown at most.
    const MOST: usize = 10;
    let grown = rates::private(&port.instants);
    let mut lines: Vec<(&'static str, String)> = Vec::new();
    for one in grown.iter().take(MOST) {
        let (row, change) = (one.row, one.change);
        let note = if row.note.is_empty() { String::new() } else { format!(", {}", row.note) };
        let (what, from) = (row.kind.text(), row.cite());
        let text = format!(
            "{}: {} in {:.1} s: {what}{note} [{from}]",
            one.name, change.by, change.seconds
        );
        lines.push(("driver's own", text));
    }
    if let Some(more @ 1..) = grown.len().checked_sub(MOST) {
        lines.push(("driver's own", format!("and {more} more that grew")));
    }
    lines
}

/// Good frames that were lost in this host meanwhile: no matter of the link, so no verdict rests
/// on it, but a user who looks for lost frames must know.
fn dropped(port: &Port) -> Option<(&'static str, String)> {
    type Pick = fn(&Counters) -> &Fact<u64>;
    let kinds: [(&str, Pick); 4] = [
        ("missed by the adapter", |counters| &counters.receive_missed),
        ("without room in its receive list", |counters| &counters.receive_overruns),
        ("dropped after they were received", |counters| &counters.receive_discards),
        ("dropped before they were sent", |counters| &counters.transmit_discards),
    ];
    let rising: Vec<String> = kinds
        .into_iter()
        .filter_map(|(what, pick)| {
            let change = rates::change(&port.instants, |instant| {
                instant.counters.as_ref().and_then(|counters| pick(counters).clone())
            });
            let change = change.known().filter(|change| change.by > 0)?;
            Some(format!("{} {what} in {:.1} s", change.by, change.seconds))
        })
        .collect();
    (!rising.is_empty()).then(|| {
        let text =
            format!("frames were dropped in this host, not on the link: {}", rising.join(", "));
        ("note", text)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lanes of somebody else's readings come in any order (found by fuzzing).
    #[test]
    fn lanes_in_words() {
        assert_eq!(lanes_text(&[]), "no lane");
        assert_eq!(lanes_text(&[3, 3]), "lane 3");
        assert_eq!(lanes_text(&[4, 1, 3, 2]), "lanes 1 to 4");
        assert_eq!(lanes_text(&[7, 1, 3]), "lanes 1, 3 and 7");
        assert_eq!(lanes_text(&[255, 0]), "lanes 0 and 255");
    }
}
