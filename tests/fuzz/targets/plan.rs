//! A plan: as a file, and as words.
#![no_main]

use libfuzzer_sys::fuzz_target;
use linkwright::plan::{Plan, judge, read, suggest, ways, words};
use linkwright::render::{Style, json, plan as text};

/// Links that are judged of one input.
const FEW: usize = 50;

fn all_of(plan: &Plan) {
    let judged: Vec<_> = plan.links.iter().take(FEW).map(judge).collect();
    for (place, (link, planned)) in plan.links.iter().zip(&judged).enumerate() {
        let name = text::name(link, place);
        let whole = text::whole(&name, link, planned, Style::default());
        assert!(whole.chars().all(|c| c == '\n' || !c.is_control()));
        let _ = json::to_string(&text::json(&name, planned), false);
    }
    let site = ways::Site::new(plan, &judged);
    for host in site.hosts().into_iter().take(FEW) {
        let _ = site.from(host, true);
    }
}

fuzz_target!(|bytes: &[u8]| {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    if let Ok(plan) = read::read(text) {
        all_of(&plan);
    }
    if let Ok(links) = words::links(text) {
        all_of(&Plan { links, ..Plan::default() });
    }
    if let Ok((asked, speed)) = words::question(text) {
        let _ = suggest::suggest(&asked, speed);
    }
});
