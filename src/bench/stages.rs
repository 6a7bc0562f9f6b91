//! A profile that somebody states stage by stage: how fast it goes, and how long it stands above a temperature.
//!
//! Each stage is a straight line. It begins at room temperature, wherever the preheat stands.

use crate::job::Stage;
use crate::quantity::{Celsius, KelvinStep, Ramp};

/// Its corners: seconds and temperature, from the start.
fn corners(from: Celsius, stages: &[Stage]) -> Vec<(f64, Celsius)> {
    let mut now = 0.0;
    let mut all = vec![(now, from)];
    for stage in stages {
        now += f64::from(stage.seconds);
        all.push((now, stage.to));
    }
    all
}

/// How fast each stage goes, up or down.
pub fn ramps(from: Celsius, stages: &[Stage]) -> Vec<Ramp> {
    let starts = std::iter::once(from).chain(stages.iter().map(|stage| stage.to));
    let pairs = starts.zip(stages);
    pairs
        .map(|(start, stage)| Ramp::over(stage.to - start, stage.seconds))
        .collect()
}

/// The fastest of its stages, up or down; none without stages.
pub(super) fn fastest_of(from: Celsius, stages: &[Stage]) -> Option<Ramp> {
    ramps(from, stages).into_iter().max()
}

/// How long it stands above a level, s, and whether it is still above it where the stages end.
pub fn seconds_above(from: Celsius, stages: &[Stage], level: Celsius) -> (f64, bool) {
    let corners = corners(from, stages);
    let mut seconds = 0.0;
    for pair in corners.windows(2) {
        let ((start, a), (end, b)) = (pair[0], pair[1]);
        let (a, b) = ((a - level).kelvin(), (b - level).kelvin());
        let span = end - start;
        seconds += match (a > 0.0, b > 0.0) {
            (true, true) => span,
            (false, false) => 0.0,
            _ => span * a.max(b) / (a - b).abs(),
        };
    }
    let still = corners.last().is_some_and(|(_, t)| *t > level);
    (seconds, still)
}

/// What a profile is to a place that sees `seen` at its peak, with the board preheated to `preheat`: the temperature of
/// the target above which the place is above `level`. None where it never is.
pub fn level_at_target(
    (preheat, peak): (Celsius, Celsius),
    seen: Celsius,
    level: Celsius,
) -> Option<Celsius> {
    if seen <= level {
        return None;
    }
    // As soon as the board is there, all of it is.
    let (rise, arrives) = ((peak - preheat).kelvin(), (seen - preheat).kelvin());
    if level <= preheat || arrives <= 0.0 || rise <= 0.0 {
        return Some(level);
    }
    let share = (level - preheat).kelvin() / arrives;
    Some(preheat + KelvinStep::whole(1).scaled(share * rise - 1e-3))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stage(to: i32, seconds: u32) -> Stage {
        Stage {
            to: Celsius::whole(to),
            seconds,
        }
    }

    /// 125 K in 50 s, 30 K in 60, 60 K in 30, 190 K down in 95.
    fn profile() -> [Stage; 4] {
        [
            stage(150, 50),
            stage(180, 60),
            stage(240, 30),
            stage(50, 95),
        ]
    }

    #[test]
    fn ramps_are_what_each_stage_moves_in_a_second() {
        let room = Celsius::whole(25);
        let told: Vec<f64> = ramps(room, &profile()).iter().map(|r| r.k_s()).collect();
        assert_eq!(told, [2.5, 0.5, 2.0, 2.0]);
        assert_eq!(fastest_of(room, &profile()), Ramp::new(2.5).ok());
        assert_eq!(fastest_of(room, &[]), None);
    }

    /// Above 217 °C: 23 K up at 2 K/s and 23 K down at 2 K/s.
    #[test]
    fn time_above_is_counted_along_straight_lines() {
        let room = Celsius::whole(25);
        let (seconds, still) = seconds_above(room, &profile(), Celsius::whole(217));
        assert!((seconds - 23.0).abs() < 1e-9 && !still);
        let (seconds, still) = seconds_above(room, &profile()[..3], Celsius::whole(217));
        assert!((seconds - 11.5).abs() < 1e-9 && still);
        assert!(seconds_above(room, &profile(), Celsius::whole(240)).0.abs() < 1e-9);
    }

    /// Half of the rise over 120 °C arrives: 160 there is 200 at the target.
    #[test]
    fn a_place_is_above_a_level_while_the_target_is_above_another() {
        let at = |seen, level| {
            let ends = (Celsius::whole(120), Celsius::whole(240));
            level_at_target(ends, Celsius::whole(seen), Celsius::whole(level))
        };
        let level = at(180, 160).map(Celsius::degrees);
        assert!(level.is_some_and(|level| (199.9..=200.0).contains(&level)));
        assert_eq!(at(180, 180), None);
        assert_eq!(at(180, 110), Some(Celsius::whole(110)));
    }
}
