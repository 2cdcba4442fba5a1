//! The drawings: chain and readings, as SVG inside the page.
//!
//! Each has a title, says in its own letters what it shows, and stands beside a table of the same.
//! Shape and letters carry the meaning, colour repeats it: the further out a stretch of a scale is,
//! the thinner it is. Sizes are drawing units, a pixel on the narrowest screens.

use maud::{Markup, html};

use crate::report::{Bar, Drawn, DrawnPart, Gauge, Limit, Words};

/// Width of a drawing.
const WIDTH: f64 = 340.0;
/// Room at each side of a scale.
const SIDE: f64 = 8.0;
/// From one row to the next.
const ROW: f64 = 40.0;

/// A number as it is written into a drawing: a tenth of a unit is finer than any screen.
fn at(value: f64) -> String {
    format!("{:.1}", value + 0.0)
}

fn place(row: usize) -> f64 {
    // A drawing has a few rows.
    f64::from(u16::try_from(row).unwrap_or(u16::MAX)) * ROW
}

/// The parts of a link, the most that each can carry as the length of its bar.
pub fn chain(drawn: &Drawn, title: &str) -> Markup {
    let most = drawn.parts.iter().filter_map(|part| part.most_mbps);
    let most = most.chain(drawn.running_mbps).max().map_or(1, |speed| speed.0.max(1));
    let along = |mbps: u32| (WIDTH - 2.0 * SIDE) * f64::from(mbps) / f64::from(most);
    let rows = place(drawn.parts.len());
    let (foot, height) = (rows + 4.0, rows + 24.0);
    html! {
        svg role="img" aria-label=(title) viewBox={ "0 0 " (at(WIDTH)) " " (at(height)) } {
            title { (title) }
            line.joint x1="3" x2="3" y1="24" y2=(at(rows - 10.0)) {}
            @for (row, part) in drawn.parts.iter().enumerate() {
                (link(part, place(row), along))
            }
            @if let Some(running) = drawn.running_mbps {
                @let x = at(SIDE + along(running.0));
                @for row in 0..drawn.parts.len() {
                    line.running x1=(x) x2=(x) y1=(at(place(row) + 17.0)) y2=(at(place(row) + 35.0)) {}
                }
                line.running x1=(x) x2=(x) y1=(at(rows - 5.0)) y2=(at(foot)) {}
                @if along(running.0) > WIDTH / 2.0 {
                    text x=(x) y=(at(foot + 14.0)) text-anchor="end" { "runs at " (running.to_string()) }
                } @else {
                    text x=(x) y=(at(foot + 14.0)) { "runs at " (running.to_string()) }
                }
            }
        }
    }
}

fn link(part: &DrawnPart, top: f64, along: impl Fn(u32) -> f64) -> Markup {
    let class = if part.mark.is_empty() { "bar" } else { "bar marked" };
    html! {
        text x=(at(SIDE)) y=(at(top + 14.0)) { (part.part) ": " (part.most) }
        @if !part.mark.is_empty() {
            text.strong x=(at(WIDTH)) y=(at(top + 14.0)) text-anchor="end" { "◀ " (part.mark) }
        }
        @match part.most_mbps {
            Some(most) => rect class=(class) x=(at(SIDE)) y=(at(top + 20.0)) height="12"
                width=(at(along(most.0).max(2.0))) {},
            None => rect.unknown x=(at(SIDE)) y=(at(top + 20.0)) height="12"
                width=(at(WIDTH - 2.0 * SIDE)) {},
        }
    }
}

/// From the least to the most that is shown, with room at both ends.
fn scale(gauge: &Gauge) -> (f64, f64) {
    let all = || {
        let values = gauge.bars.iter().filter_map(|bar| bar.value);
        values.chain(gauge.limits.iter().map(|limit| limit.value))
    };
    let least = all().fold(f64::INFINITY, f64::min);
    let most = all().fold(f64::NEG_INFINITY, f64::max);
    if least > most {
        return (0.0, 1.0);
    }
    let room = ((most - least) * 0.08).max(0.01);
    (least - room, most + room)
}

/// Readings on the scale of their limits.
pub fn gauge(gauge: &Gauge, title: &str) -> Markup {
    let (least, most) = scale(gauge);
    let along = |value: f64| SIDE + (WIDTH - 2.0 * SIDE) * (value - least) / (most - least);
    let mut ends: Vec<f64> = gauge.limits.iter().map(|limit| limit.value).collect();
    ends.extend([least, most]);
    ends.sort_by(f64::total_cmp);
    let rows = place(gauge.bars.len());
    let side = |above: bool| gauge.limits.iter().filter(move |limit| limit.above == above).rev();
    let lines = side(false).count().max(side(true).count());
    let height = rows + 6.0 + 15.0 * f64::from(u16::try_from(lines).unwrap_or(0));
    html! {
        svg role="img" aria-label=(title) viewBox={ "0 0 " (at(WIDTH)) " " (at(height)) } {
            title { (title) }
            @for (row, bar) in gauge.bars.iter().enumerate() {
                (reading(gauge, bar, place(row), &ends, along))
            }
            @for (line, limit) in side(false).enumerate() {
                (named(limit, gauge, 0.0, "start", rows, line))
            }
            @for (line, limit) in side(true).enumerate() {
                (named(limit, gauge, WIDTH, "end", rows, line))
            }
        }
    }
}

/// A limit's name and value under the scale.
fn named(limit: &Limit, gauge: &Gauge, x: f64, anchor: &str, rows: f64, line: usize) -> Markup {
    let y = rows + 12.0 + 15.0 * f64::from(u16::try_from(line).unwrap_or(0));
    html! {
        text.small x=(at(x)) y=(at(y)) text-anchor=(anchor) {
            (limit.name) " " (number(limit.value)) " " (gauge.unit)
        }
    }
}

/// A limit as it is written.
pub fn number(value: f64) -> String {
    format!("{:.2}", value + 0.0)
}

fn reading(gauge: &Gauge, bar: &Bar, top: f64, ends: &[f64], along: impl Fn(f64) -> f64) -> Markup {
    let stretches = ends.iter().zip(ends.iter().skip(1)).filter(|(from, to)| from < to);
    html! {
        text x="0" y=(at(top + 13.0)) { (bar.of) ": " (short(bar)) }
        text.small x=(at(WIDTH)) y=(at(top + 13.0)) text-anchor="end" { (bar.standing) }
        @for (from, to) in stretches {
            @let (class, height) = match gauge.crossed(f64::midpoint(*from, *to)) {
                None if gauge.limits.is_empty() => ("plain", 6.0),
                None => ("within", 12.0),
                Some(limit) if limit.alarm => ("alarm", 4.0),
                Some(_) => ("warning", 8.0),
            };
            rect class=(class) x=(at(along(*from))) y=(at(top + 27.0 - height / 2.0))
                width=(at(along(*to) - along(*from))) height=(at(height)) {}
        }
        @for limit in &gauge.limits {
            @let x = at(along(limit.value));
            line.limit x1=(x) x2=(x) y1=(at(top + 20.0)) y2=(at(top + 34.0)) {}
        }
        @if let Some(value) = bar.value {
            @let (x, y) = (along(value), top + 27.0);
            polygon.reading points={
                (at(x)) "," (at(y - 8.0)) " " (at(x + 6.0)) "," (at(y)) " "
                (at(x)) "," (at(y + 8.0)) " " (at(x - 6.0)) "," (at(y))
            } {}
        }
    }
}

/// The reading without what stands in brackets behind it.
fn short(bar: &Bar) -> &str {
    let text = Words::text(&bar.shown);
    text.split_once(" (").map_or(text, |(short, _)| short)
}
