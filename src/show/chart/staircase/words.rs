//! The staircase in sentences, for who cannot see it.

use super::super::Scale;
use super::super::lettering::plain;
use super::{Staircase, TreadKind, dots};

pub(super) fn description(stairs: &Staircase, scale: Scale) -> String {
    let mut sentences = Vec::new();
    if !stairs.line.is_empty() {
        sentences.push(plain(&stairs.line));
    }
    if let Some(tightest) = stairs.tightest {
        let dot = stairs
            .dots
            .iter()
            .find(|dot| dot.step == tightest.step && dot.over == tightest.over);
        if let (Some(dot), Some(step)) = (dot, stairs.steps.get(tightest.step)) {
            let head = dots::callout_head(dot.margin, dot.mark, scale);
            sentences.push(format!(
                "{head}: {} in step {}",
                plain(stairs.name(tightest.over)),
                step.number
            ));
        }
    }
    for tread in &stairs.steps {
        let heat = match (tread.kind, tread.peak) {
            (TreadKind::NoHeat, _) | (_, None) => "no heat".to_owned(),
            (TreadKind::WholeBoard, Some(peak)) => {
                format!("whole board at {}", scale.temperature(peak))
            }
            (_, Some(peak)) => format!("peak {}", scale.temperature(peak)),
        };
        sentences.push(format!(
            "Step {}, {}: {heat}, {}",
            tread.number,
            plain(&tread.label),
            tread.mark.word()
        ));
    }
    sentences.join(". ")
}
