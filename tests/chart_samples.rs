//! Invented jobs for the pictures, as plain data: nothing here is computed by the engine.

use meltstair::quantity::{Celsius, KelvinStep, Length};
use meltstair::show::chart::{
    Basis, Ceiling, Dot, Drop, Footprint, Happening, HeatMap, Landmark, LifeLine, Mark, Over,
    Placed, RouteBar, Routes, Segment, Staircase, Standing, Tightest, Trace, TracePoint, Traces,
    Tread, TreadKind,
};

/// A step with heat at one place.
pub fn tread(number: usize, label: &str, peak: i32, tool: &str) -> Tread {
    Tread {
        number,
        id: format!("s{number}"),
        label: label.to_owned(),
        kind: TreadKind::Heat,
        peak: Some(Celsius::whole(peak)),
        must_reach: None,
        tool: tool.to_owned(),
        mark: Mark::Holds,
        done: false,
    }
}

/// A segment of measured solder.
pub fn segment(
    from: Option<usize>,
    to: Option<usize>,
    alloy: &str,
    melt: f64,
    flow: f64,
) -> Segment {
    Segment {
        from_step: from,
        to_step: to,
        alloy: alloy.to_owned(),
        first_melt: Some(Celsius::nearest(melt)),
        flow: Some(Celsius::nearest(flow)),
        kind: Standing::Joint,
        basis: Basis::Measured,
    }
}

/// A joint with its segments.
pub fn life(joint: &str, segments: Vec<Segment>) -> LifeLine {
    LifeLine {
        joint: joint.to_owned(),
        segments,
        drops: Vec::new(),
    }
}

fn mark(margin: f64) -> Mark {
    if margin < 0.0 {
        Mark::Melts
    } else if margin < 5.0 {
        Mark::Close
    } else {
        Mark::Holds
    }
}

/// What a joint sees at a share `k` of the way from preheat to peak, against its line.
pub fn sees(step: usize, over: Over, at: f64, line: f64) -> Dot {
    let margin = line - at;
    Dot {
        step,
        over,
        at: Celsius::nearest(at),
        band: None,
        margin: KelvinStep::new(margin).ok(),
        mark: mark(margin),
    }
}

/// Dots for every joint that stands before a step, `share` telling how much of the heat each sees.
pub fn expose(stairs: &mut Staircase, preheat: f64, share: impl Fn(usize, usize) -> f64) {
    for step in 0..stairs.steps.len() {
        let tread = &stairs.steps[step];
        let Some(peak) = tread.peak.filter(|_| tread.kind != TreadKind::NoHeat) else {
            continue;
        };
        for line in 0..stairs.lines.len() {
            let stands = |segment: &&Segment| {
                segment.kind == Standing::Joint
                    && segment.from_step.is_none_or(|from| from < step)
                    && segment.to_step.is_none_or(|to| to > step)
            };
            let Some(segment) = stairs.lines[line].segments.iter().find(stands) else {
                continue;
            };
            let at = preheat + share(step, line) * (peak.degrees() - preheat);
            let dot = match segment.first_melt {
                Some(melt) => sees(step, Over::Line(line), at, melt.degrees()),
                None => Dot {
                    margin: None,
                    mark: Mark::Unknown,
                    ..sees(step, Over::Line(line), at, at)
                },
            };
            stairs.dots.push(dot);
        }
    }
    let worst = |dot: &&Dot| dot.margin;
    stairs.tightest = stairs
        .dots
        .iter()
        .filter(|dot| dot.margin.is_some())
        .min_by_key(worst)
        .map(|dot| Tightest {
            step: dot.step,
            over: dot.over,
        });
    for step in 0..stairs.steps.len() {
        let worst = stairs
            .dots
            .iter()
            .filter(|dot| dot.step == step)
            .map(|dot| dot.mark)
            .max();
        stairs.steps[step].mark = worst.unwrap_or(stairs.steps[step].mark);
    }
}

/// Five steps, leaded jumpers, a bismuth chip whose pads drop when they meet.
pub fn tide_gauge() -> Staircase {
    let mut stairs = Staircase {
        title: "Tide gauge logger, torn pads under the pump driver".to_owned(),
        verdict: Some(Mark::Holds),
        line: "holds: 18 K left, jumper ends in step 5 (chip down at 165 °C)".to_owned(),
        steps: vec![
            tread(1, "rebuild pads of U4", 203, "iron"),
            Tread {
                kind: TreadKind::NoHeat,
                peak: None,
                ..tread(2, "paint mask", 0, "")
            },
            Tread {
                kind: TreadKind::WholeBoard,
                ..tread(3, "cure mask", 90, "lamp and plate")
            },
            tread(4, "solder jumper ends", 203, "iron"),
            tread(5, "set U4", 165, "air"),
            Tread {
                kind: TreadKind::NoHeat,
                peak: None,
                ..tread(6, "check for shorts", 0, "meter")
            },
        ],
        lines: vec![
            life(
                "rim",
                vec![segment(None, None, "Sn96.5Ag3Cu0.5", 217.0, 220.0)],
            ),
            LifeLine {
                joint: "pads".to_owned(),
                segments: vec![
                    segment(Some(0), Some(4), "Sn63Pb37", 183.0, 183.0),
                    Segment {
                        basis: Basis::Computed,
                        ..segment(Some(4), None, "Bi58Sn42 + leaded film", 95.3, 146.6)
                    },
                ],
                drops: vec![Drop {
                    at_step: 4,
                    from: Some(Celsius::whole(183)),
                    to: Some(Celsius::nearest(95.3)),
                    reason: "lead in bismuth alloy".to_owned(),
                }],
            },
            life(
                "jumper ends",
                vec![segment(Some(3), None, "Sn63Pb37", 183.0, 183.0)],
            ),
        ],
        ceilings: vec![Ceiling {
            name: "mask".to_owned(),
            limit: Celsius::whole(200),
            from_step: Some(2),
            to_step: None,
        }],
        service: Some(Celsius::whole(45)),
        ..Staircase::default()
    };
    expose(&mut stairs, 25.0, |step, line| match (step, line) {
        (3, 1) => 0.45,
        (_, 0) => 0.4,
        _ => 1.0,
    });
    stairs.dots.push(sees(3, Over::Ceiling(0), 106.0, 200.0));
    stairs.dots.push(sees(4, Over::Ceiling(0), 165.0, 200.0));
    stairs
}

/// Joints × steps in a made-up pattern that has equal lines, drops, removals and unknown solder in it.
pub fn crowd(joints: usize, steps: usize) -> Staircase {
    let mut stairs = Staircase {
        title: format!("Organ console stop relay: {joints} joints in {steps} steps"),
        verdict: Some(Mark::Melts),
        line: "melts: shown for its crowd, not for its sense".to_owned(),
        service: Some(Celsius::whole(40)),
        steps: (0..steps).map(|step| crowd_step(step, steps)).collect(),
        lines: (0..joints)
            .map(|joint| crowd_joint(joint, joints, steps))
            .collect(),
        ..Staircase::default()
    };
    let ceiling = |name: &str, limit, from_step, to_step| Ceiling {
        name: name.to_owned(),
        limit: Celsius::whole(limit),
        from_step,
        to_step,
    };
    stairs.ceilings = vec![
        ceiling("mask", 200, Some(2), None),
        ceiling("U4 body", 245, None, Some(steps - 2)),
    ];
    expose(&mut stairs, 60.0, |step, line| {
        0.2 + 0.07 * ((step * 5 + line * 3) % 9) as f64
    });
    stairs
}

fn crowd_step(step: usize, steps: usize) -> Tread {
    let (label, tool, kind) = [
        ("tin wire ends", "iron", TreadKind::Heat),
        ("set the driver", "air", TreadKind::Heat),
        ("lift the old chip", "air", TreadKind::Removal),
        ("bake dry", "plate", TreadKind::WholeBoard),
        ("solder far ends", "iron", TreadKind::Heat),
        ("glue corner", "air", TreadKind::Heat),
        ("dress pads", "iron", TreadKind::Heat),
        ("check shorts", "meter", TreadKind::NoHeat),
    ][step % 8];
    let falling = 240 - i32::try_from(step * 97 / steps).expect("a few steps");
    let peak = match kind {
        TreadKind::WholeBoard => 75,
        _ => falling - 7 * i32::from(step % 3 == 1),
    };
    Tread {
        kind,
        ..tread(step + 1, label, peak, tool)
    }
}

fn crowd_joint(joint: usize, joints: usize, steps: usize) -> LifeLine {
    let (alloy, melt, flow) = [
        ("Sn96.5Ag3Cu0.5", 217.0, 220.0),
        ("Sn63Pb37", 183.0, 183.0),
        ("Sn62Pb36Ag2", 179.0, 179.0),
        ("Bi58Sn42", 138.0, 138.0),
        ("Sn43Pb43Bi14", 95.3, 163.0),
        ("In52Sn48", 118.0, 118.0),
        ("Sn60Pb40", 183.0, 191.0),
    ][joint % 7];
    let made = (!joint.is_multiple_of(4)).then(|| joint * (steps - 4) / joints);
    let first = segment(made, None, alloy, melt, flow);
    let mut line = life(&format!("J{}", joint + 1), vec![first]);
    if joint % 5 == 1 {
        let at = (made.unwrap_or(0) + steps / 2).min(steps - 2);
        line.segments[0].to_step = Some(at);
        line.segments.push(Segment {
            basis: Basis::Floor,
            ..segment(Some(at), None, "Bi58Sn42 + leaded film", 95.3, 146.6)
        });
        line.drops.push(Drop {
            at_step: at,
            from: Some(Celsius::nearest(melt)),
            to: Some(Celsius::nearest(95.3)),
            reason: "lead in bismuth alloy".to_owned(),
        });
    }
    if joint % 5 == 2 {
        let at = (made.unwrap_or(0) + steps / 3).min(steps - 2);
        line.segments[0].to_step = Some(at);
        line.segments.push(Segment {
            kind: Standing::Residue,
            ..segment(Some(at), None, alloy, melt, flow)
        });
    }
    if joint % 7 == 6 {
        let first = &mut line.segments[0];
        (first.first_melt, first.flow, first.basis) = (None, None, Basis::Unknown);
    }
    line
}

fn mm(at: f64) -> Length {
    Length::from_mm(at).expect("a length")
}

/// A board of 84 × 52 mm with a warm place left of its middle.
pub fn some_map() -> HeatMap {
    let edges = |count: i32, step: f64| (0..=count).map(|at| mm(f64::from(at) * step)).collect();
    let warm =
        |x: f64, y: f64| 40.0 + 175.0 * (-((x - 34.0).powi(2) + (y - 27.0).powi(2)) / 420.0).exp();
    let place = |name: &str, x: f64, y: f64, mark: Mark| Placed {
        name: name.to_owned(),
        x: mm(x),
        y: mm(y),
        at: Some(Celsius::nearest(warm(x, y).round())),
        reach: Some(mm(2.0)),
        mark,
    };
    HeatMap {
        title: "Tide gauge logger, step 5: set U4".to_owned(),
        line: "holds, 38 K left: tails see 143 °C".to_owned(),
        across: edges(42, 2.0),
        up: edges(26, 2.0),
        cells: (0..26)
            .flat_map(|y| {
                (0..42).map(move |x| (f64::from(x) * 2.0 + 1.0, f64::from(y) * 2.0 + 1.0))
            })
            .map(|(x, y)| Celsius::nearest(warm(x, y)))
            .collect(),
        isotherms: vec![
            Landmark {
                name: "tails".to_owned(),
                at: Celsius::whole(181),
            },
            Landmark {
                name: "site".to_owned(),
                at: Celsius::whole(95),
            },
        ],
        places: vec![
            place("U4", 34.0, 27.0, Mark::Holds),
            place("tails", 44.0, 38.0, Mark::Holds),
            place("rim", 20.0, 14.0, Mark::Holds),
            place("clock", 70.0, 40.0, Mark::Holds),
            place("plug", 52.0, 18.0, Mark::Close),
        ],
        tool: Some(Footprint {
            across: (mm(29.0), mm(39.0)),
            up: (mm(22.0), mm(32.0)),
        }),
        notes: vec!["An estimate: no reading from this board yet".to_owned()],
    }
}

/// A target, and three joints that only look on.
pub fn some_traces() -> Traces {
    let trace = |name: &str, top: f64, melt: i32, target: bool, mark: Mark| Trace {
        name: name.to_owned(),
        points: (0..=60)
            .map(|at| {
                let s = f64::from(at) * 2.0;
                let rise = 1.0 - (-s.min(80.0) / 22.0).exp();
                let fall = if s > 80.0 {
                    (-(s - 80.0) / 30.0).exp()
                } else {
                    1.0
                };
                let at = 25.0 + (top - 25.0) * rise * fall;
                TracePoint {
                    after: std::time::Duration::from_secs_f64(s),
                    at: Celsius::nearest((at * 10.0).round() / 10.0),
                    band: (!target)
                        .then(|| (Celsius::nearest(at - 6.0), Celsius::nearest(at + 6.0))),
                }
            })
            .collect(),
        first_melt: Some(Celsius::whole(melt)),
        target,
        mark,
    };
    let happening = |name: &str, s| Happening {
        name: name.to_owned(),
        after: std::time::Duration::from_secs(s),
    };
    Traces {
        title: "Tide gauge logger, step 5: set U4".to_owned(),
        line: "close, 4 K left: site".to_owned(),
        traces: vec![
            trace("U4", 220.2, 183, true, Mark::Holds),
            trace("tails", 140.0, 181, false, Mark::Holds),
            trace("rim", 120.0, 181, false, Mark::Holds),
            trace("site", 88.0, 95, false, Mark::Close),
        ],
        moments: vec![happening("air on", 0), happening("air off", 80)],
        notes: vec!["Bands: what one comparison reading leaves open".to_owned()],
    }
}

/// Three ways, of which one holds, one melts and one is not known.
pub fn some_routes() -> Routes {
    let route = |name: &str, mark, margin: Option<f64>, weakest: &str, heats, steps| RouteBar {
        name: name.to_owned(),
        mark,
        margin: margin.and_then(|margin| KelvinStep::new(margin).ok()),
        weakest: weakest.to_owned(),
        heats,
        peak: Some(Celsius::whole(
            150 + 15 * i32::try_from(heats).expect("few"),
        )),
        steps,
        takes: Some(std::time::Duration::from_secs(60 * 75 * u64::from(heats))),
        unknowns: Vec::new(),
    };
    Routes {
        title: "Organ console: three ways to the combination store".to_owned(),
        line: "the jumper route is best: 18 K left, one heat on the store".to_owned(),
        routes: vec![
            route(
                "jumpers.yaml",
                Mark::Holds,
                Some(18.0),
                "tails in step 4",
                1,
                6,
            ),
            route(
                "swap.yaml",
                Mark::Softens,
                Some(-5.3),
                "site in step 2",
                3,
                9,
            ),
            RouteBar {
                unknowns: vec!["glue under U4".to_owned()],
                ..route("lift.yaml", Mark::Unknown, None, "", 2, 4)
            },
        ],
        best: Some(0),
        notes: vec!["Minutes: common practice where the job does not say".to_owned()],
    }
}
