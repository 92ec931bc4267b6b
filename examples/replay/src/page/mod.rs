//! The report as one page that needs nothing else: what to look at first, then the sections, a figure first in each.

mod believed;
mod beside;
mod data;
mod derived;
mod flagged;
mod held;
mod lanes;
mod loops;
mod multiples;
mod pauses;
mod plan;
mod plot;
mod section;
mod series;
mod shares;
mod strips;
mod support;
mod targets;
mod timing;
mod top;
mod tradeoff;
mod volumes;
mod windows;

use crate::report::{CAUTION, Report};
use crate::text::printable;
use base64::{Engine, prelude::BASE64_STANDARD};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use multiples::Multiples;
use sha2::{Digest, Sha256};
use tidevane::alarm::Change;
use tidevane::monitor::EventKind;
use tidevane::trend::LoadVerdict;
pub(crate) use windows::Windows;

const STYLE: &str = include_str!("style.css");
const SCRIPT: &str = include_str!("script.js");

/// The whole page.
pub(crate) fn write(report: &Report<'_>, windows: &Windows) -> String {
    let (summary, setup) = (report.summary, report.setup);
    let (multiples, levels) = (Multiples::new(summary, setup), volumes::tried(summary));
    let targets = targets::tried(summary);
    let name = printable(&summary.source);
    let file = name.rsplit(['/', '\\']).next().unwrap_or(&name);
    let title = format!("Second check of {file}");
    let figure = |id: &str| -> Option<Markup> {
        match id {
            "threshold" => Some(tradeoff::figure(summary)),
            "asked" => Some(strips::figures(summary, windows)),
            "leak" => Some(believed::figure(summary)),
            "support" => support::figure(summary, &setup.bedside),
            "load" => shares::figure(summary),
            "tube" => beside::figure(summary),
            "volume" => Some(
                html! { (volumes::histogram(summary, setup)) (targets::figure(summary, &targets)) },
            ),
            "lung" => Some(html! { (loops::figure(summary, windows)) (timing::figure(summary)) }),
            "levels" => Some(volumes::rings(summary, &levels)),
            "pauses" => pauses::figure(summary),
            "plan" => plan::figure(summary, &setup.bedside),
            "sensors" => flagged::figure(summary),
            _ => None,
        }
    };
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content=(policy());
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                (hatching())
                header {
                    h1 { (title) }
                    p.caution { (CAUTION) }
                    p.sheet { @for blank in ["Infant", "Bed", "Date and time", "Seen by"] { span { (blank) } } }
                }
                main {
                    (top::write(&report.top))
                    (top::legend())
                    ul.given { @for line in &report.given { li { (line.replace('`', "")) } } }
                    nav aria-label="Contents" {
                        a href="#time" { "Over time" }
                        @for section in report.doc.sections() { a href={ "#" (section.id) } { (section.title) } }
                    }
                    section id="time" {
                        h2 { "Over time" }
                        .try hidden {
                            label { "A moment" input type="range" id="moment" min="0" max=(multiples.bins.count - 1) value="0"; }
                            output id="said-moment" {}
                        }
                        (multiples.figure(summary))
                        figure id="waves" hidden {
                            figcaption id="said-waves" {}
                            svg.plot width="100%" height="150" role="img" aria-labelledby="said-waves" {}
                        }
                    }
                    @for section in report.doc.sections() { (section::write(section, figure(section.id))) }
                }
                footer { p { (CAUTION) } }
                script type="application/json" id="data" { (PreEscaped(data::json(summary, &multiples, (&levels, &targets), windows))) }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    }
    .into_string()
}

/// Why the moment of an event is looked at.
pub(crate) fn moment(what: &EventKind) -> Option<&'static str> {
    Some(match what {
        EventKind::MissedEffort(_) => "The first effort that was missed",
        EventKind::Load(LoadVerdict::StepBack(_)) => "When a step back was first asked for",
        EventKind::Alarm(alarm) if alarm.change == Change::On => {
            "When the first alarm would have rung"
        }
        EventKind::LungChanged(_) => "When the lung first changed",
        EventKind::OpenCircuit => "When the circuit first stood open",
        _ => return None,
    })
}

/// Nothing is loaded, and nothing runs but the style and script that are here.
fn policy() -> String {
    let hash = |text: &str| format!("'sha256-{}'", BASE64_STANDARD.encode(Sha256::digest(text)));
    format!(
        "default-src 'none'; style-src {}; script-src {}; base-uri 'none'; form-action 'none'",
        hash(STYLE),
        hash(SCRIPT)
    )
}

/// The hatching of what is doubtful.
fn hatching() -> Markup {
    html! {
        svg.hidden width="0" height="0" aria-hidden="true" focusable="false" {
            defs {
                pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    line.hatch x1="0" y1="0" x2="0" y2="6" {}
                }
            }
        }
    }
}
