//! Module readings over time, as text and as JSON.

use serde_json::{Value, json};

use crate::calc::trend::{self, Drift, Slope, Trend};
use crate::diagnose::over_time::{Change, Drifts, Watched, drifts};
use crate::module::over_time::Monitored;
use crate::quantity::Seconds;
use crate::render::readings::lanes_text;
use crate::render::text::{Page, Style, pad};
use crate::snapshot::{Fact, Port};

/// From so many lanes on, those of which there is nothing to tell share a line.
const MANY_LANES: usize = 3;

/// The section, where there were such readings.
pub fn section(page: &mut Page, port: &Port, style: Style) {
    let Some((heading, lines)) = told(port) else { return };
    page.line("");
    page.heading(style, &heading);
    for (name, text) in lines {
        let name = if name == NOT_KNOWN { name.to_owned() } else { pad(name, 14) };
        page.wrapped(style, &format!("  {name} "), &text);
    }
}

const NOT_KNOWN: &str = "not known";

/// Its heading and lines, name and text.
pub fn told(port: &Port) -> Option<(String, Vec<(&'static str, String)>)> {
    Some(match drifts(&port.module)? {
        Fact::Missing(why) => ("Readings over time".to_owned(), vec![(NOT_KNOWN, why.to_string())]),
        Fact::Known(found) => {
            let heading = match found.readings {
                0 | 1 => "Readings taken once more".to_owned(),
                times => format!("Readings over {}, taken {times} times", found.span),
            };
            (heading, lines(&found))
        }
    })
}

fn lines(found: &Drifts) -> Vec<(&'static str, String)> {
    let mut lines = Vec::new();
    let of = |what: Monitored| found.watched.iter().filter(move |one| one.what == what);
    let lanes = of(Monitored::RxPower).count().max(of(Monitored::Bias).count());
    for (what, name) in [
        (Monitored::Temperature, "temperature"),
        (Monitored::Supply, "supply"),
        (Monitored::Bias, "laser bias"),
        (Monitored::TxPower, "transmits"),
        (Monitored::RxPower, "receives"),
    ] {
        let (quiet, telling): (Vec<&Watched>, Vec<&Watched>) =
            of(what).partition(|one| lanes >= MANY_LANES && is_quiet(one));
        let (quiet, alone) =
            if quiet.len() > 1 { (quiet, Vec::new()) } else { (Vec::new(), quiet) };
        if !quiet.is_empty() {
            lines.push((name, together(&quiet)));
        }
        let mut telling = [telling, alone].concat();
        telling.sort_by_key(|one| one.lane);
        for one in telling {
            let lane = match one.lane {
                Some(lane) if lanes > 1 => format!("{}: ", lanes_text(&[lane])),
                _ => String::new(),
            };
            lines.push((name, format!("{lane}{}", words(one, found))));
        }
    }
    lines.extend(failures(found));
    if found.watched.iter().any(|one| slope(one).is_some_and(tells)) {
        lines.push((
            "±",
            "the trend lies within it at 95 %, with room for readings that hang together and for \
             the step that they come in"
                .into(),
        ));
    }
    lines
}

fn slope(one: &Watched) -> Option<&Slope> {
    one.trend.as_ref()?.slope.as_ref()
}

fn tells(slope: &Slope) -> bool {
    matches!(slope.drift, Drift::Rises | Drift::Falls)
}

/// Nothing to tell of it but between what it stayed.
fn is_quiet(one: &Watched) -> bool {
    one.dark == 0 && slope(one).is_some_and(|slope| slope.drift == Drift::None)
}

/// Several lanes in one line.
fn together(quiet: &[&Watched]) -> String {
    let lanes: Vec<u8> = quiet.iter().filter_map(|one| one.lane).collect();
    let trends = || quiet.iter().filter_map(|one| Some((*one, one.trend?)));
    let least = trends().map(|(_, trend)| trend.least).fold(f64::INFINITY, f64::min);
    let most = trends().map(|(_, trend)| trend.most).fold(f64::NEG_INFINITY, f64::max);
    let moved = trends().map(|(_, trend)| trend.most - trend.least).fold(0.0, f64::max);
    let Some((one, _)) = trends().next() else { return String::new() };
    let mut text = format!("{}: {}", lanes_text(&lanes), range(one, least, most));
    if !is_constant(one, least, most) {
        let moved = figure(moved, decimals(one));
        let unit = one.unit_of_difference();
        text.push_str(&format!(
            "; none moves by more than {moved} {unit}, none has a trend beyond the noise"
        ));
    }
    text
}

/// What is told of one quantity.
fn words(one: &Watched, found: &Drifts) -> String {
    let mut text = String::new();
    let all = one.readings;
    if all.saturating_add(found.failed.len()) < found.readings {
        text.push_str(&format!("in {all} of {} readings: ", found.readings));
    }
    let Some(trend) = &one.trend else {
        return text + &format!("no light in any of {all} readings");
    };
    if one.dark > 0 {
        text.push_str(&format!(
            "no light in {} of {all} readings: {}; with light ",
            one.dark,
            changes(one)
        ));
    }
    text.push_str(&range(one, trend.least, trend.most));
    if !is_constant(one, trend.least, trend.most) {
        text.push_str(&format!(", mean {}", figure(trend.mean, decimals(one))));
    }
    text + &match &trend.slope {
        _ if one.dark > 0 => "; no trend is told where light comes and goes".to_owned(),
        None => format!(
            "; too little to tell a trend, which takes {} readings over {}",
            trend::LEAST_READINGS,
            trend::LEAST_SPAN
        ),
        Some(slope) => match slope.drift {
            Drift::Rises => format!("; rises {}", a_minute(one, slope)),
            Drift::Falls => format!("; falls {}", a_minute(one, slope)),
            Drift::None if is_constant(one, trend.least, trend.most) => String::new(),
            Drift::None => "; no trend beyond the noise".into(),
            Drift::Wanders => "; no straight trend: it moves, but may as well come back".into(),
        },
    }
}

/// `light went at 31.0 s`, `light came or went 7 times, first at 12.0 s`.
fn changes(one: &Watched) -> String {
    match one.changes.as_slice() {
        [] => "it did not come or go".into(),
        [(at, Change::Came)] => format!("light came at {at}"),
        [(at, Change::Went)] => format!("light went at {at}"),
        [(at, _), ..] => {
            format!("light came or went {} times, first at {at}", one.changes.len())
        }
    }
}

/// Readings that failed, those of one reason together, and the end.
fn failures(found: &Drifts) -> Vec<(&'static str, String)> {
    let mut reasons: Vec<(String, usize)> = Vec::new();
    for (_, why) in &found.failed {
        let why = why.to_string();
        match reasons.iter_mut().find(|(known, _)| *known == why) {
            Some((_, times)) => *times += 1,
            None => reasons.push((why, 1)),
        }
    }
    let mut lines: Vec<(&'static str, String)> = reasons
        .into_iter()
        .map(|(why, times)| ("failed", format!("{times} of {} readings: {why}", found.readings)))
        .collect();
    if let Some((Seconds(at), _)) = found.ended {
        lines.push(("ended", format!("at {at:.1} s: that reading failed, and none came after it")));
    }
    lines
}

fn decimals(one: &Watched) -> usize {
    match one.what {
        Monitored::Temperature => 1,
        Monitored::Supply => 3,
        Monitored::Bias | Monitored::TxPower | Monitored::RxPower => 2,
    }
}

/// Rounded, never "-0.0".
fn figure(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(zero) if zero.bytes().all(|byte| matches!(byte, b'0' | b'.')) => zero.to_owned(),
        _ => text,
    }
}

fn is_constant(one: &Watched, least: f64, most: f64) -> bool {
    figure(least, decimals(one)) == figure(most, decimals(one))
}

fn range(one: &Watched, least: f64, most: f64) -> String {
    let (low, high) = (figure(least, decimals(one)), figure(most, decimals(one)));
    if is_constant(one, least, most) {
        format!("{low} {} throughout", one.unit())
    } else {
        format!("{low} to {high} {}", one.unit())
    }
}

/// `0.8 ± 0.2 °C a minute`: as many figures as the uncertainty has a use for, and it rounded up.
fn a_minute(one: &Watched, slope: &Slope) -> String {
    const MOST_DECIMALS: usize = 4;
    let (by, plus_minus) = (slope.a_second.abs() * 60.0, slope.plus_minus * 60.0);
    let digits = (0..MOST_DECIMALS)
        .zip([1.0, 0.1, 0.01, 0.001])
        .find(|(_, place)| plus_minus >= *place)
        .map_or(MOST_DECIMALS, |(digits, _)| digits);
    let scale = [1.0, 10.0, 100.0, 1000.0].get(digits).copied().unwrap_or(10_000.0);
    format!(
        "{by:.digits$} ± {:.digits$} {} a minute",
        (plus_minus * scale).ceil() / scale,
        one.unit_of_difference()
    )
}

/// The same for programs; null where nobody asked for such readings.
pub fn value(port: &Port) -> Value {
    let found = match drifts(&port.module) {
        None => return Value::Null,
        Some(Fact::Missing(why)) => return json!({"missing": why}),
        Some(Fact::Known(found)) => found,
    };
    json!({
        "span_seconds": found.span,
        "readings": found.readings,
        "failed": found.failed.iter().map(|(at, why)| json!({
            "at_seconds": at,
            "reason": why.reason,
            "detail": why.detail,
        })).collect::<Vec<_>>(),
        "ended_early": found.ended.is_some(),
        "series": found.watched.iter().map(series).collect::<Vec<_>>(),
        "confidence": trend::CONFIDENCE,
        "source": trend::SOURCE,
    })
}

fn series(one: &Watched) -> Value {
    let figures = |pick: fn(&Trend) -> f64| one.trend.as_ref().map(pick);
    let slope = slope(one);
    json!({
        "reading": one.what,
        "lane": one.lane,
        "unit": one.unit(),
        "readings": one.readings,
        "readings_without_light": one.what.is_light().then_some(one.dark),
        "light_changes": one.changes.iter().map(|(at, change)| json!({
            "at_seconds": at,
            "light": change,
        })).collect::<Vec<_>>(),
        "least": figures(|trend| trend.least),
        "mean": figures(|trend| trend.mean),
        "most": figures(|trend| trend.most),
        "trend": match slope.map(|slope| slope.drift) {
            None => "not-told",
            Some(Drift::Rises) => "rises",
            Some(Drift::Falls) => "falls",
            Some(Drift::None) => "none",
            Some(Drift::Wanders) => "wanders",
        },
        "slope_a_minute": slope.map(|slope| slope.a_second * 60.0),
        "slope_plus_minus": slope.map(|slope| slope.plus_minus * 60.0),
    })
}
