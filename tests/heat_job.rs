//! Heat through the job file: what wins over what, which way things move, what is refused.

use meltstair::alloy::AlloyBook;
use meltstair::bench::{
    Flow, LimitOf, Model, Note, Passage, Seen, SeenBy, Setting, Verdict, tool_spread,
};
use meltstair::job::{self, Job, Tool};
use meltstair::melt::MeltBook;
use meltstair::plan;
use meltstair::quantity::Celsius;
use std::sync::Arc;

const AIR: &str = "nozzle_mm: 8, flow_l_min: 20, standoff_mm: 16, set_c: 320";
const BOARD: &str =
    "{size_mm: [84, 52], thickness_mm: 1.0, layers: 4, copper_um: 35, coverage: 0.4}";

/// A chip set with low-melt balls beside leaded tails, a lead-free rim and a plastic jack.
fn text(board: &str, set: &str) -> String {
    format!(
        "job: bell buoy, invented
board: {board}
guards:
  - {{id: label, kind: laminate, limit_c: 130, at_mm: [80, 8], reach_mm: 3}}
  - {{id: jack, kind: plastic, limit_c: 190, at_mm: [78, 46], reach_mm: 4}}
parts:
  - {{id: store, balls: {{count: 49, diameter_um: 300, alloy: Bi58Sn42}}, at_mm: [30, 26], size_mm: [8, 8, 1]}}
joints:
  - {{id: site, at: store, pad_um: 300}}
  - {{id: tails, count: 9, alloy: Sn63Pb37, mg: 0.05, at_mm: [54, 26], reach_mm: 2}}
  - {{id: rim, count: 24, alloy: Sn96.5Ag3Cu0.5, mg: 0.4, at_mm: [62, 14], reach_mm: 6}}
  - {{id: lost, count: 3, alloy: Sn96.5Ag3Cu0.5, mg: 0.4, at_mm: [66, 40]}}
steps:
  - {{id: set, do: place, part: store, on: site, tool: air, {set}}}
"
    )
}

fn read(text: &str) -> Job {
    match job::read(text, "job.yaml", AlloyBook::shipped()) {
        Ok(read) => read.job,
        Err(faults) => panic!("{faults}"),
    }
}

fn passage(text: &str) -> Passage {
    let job = read(text);
    let melts = MeltBook::new(Arc::new(AlloyBook::shipped().clone()), Vec::new());
    let checked = plan::check(&Setting::new(&job, &melts), &plan::as_written(&job).plan);
    checked.steps[0].passage.clone()
}

fn seen(passage: &Passage, joint: usize) -> Seen {
    let found = passage.sights.iter().find(|s| s.joint.0 == joint);
    found.expect("it stands").seen
}

/// A thousandth of variance each, nothing correlated.
const COVARIANCE: &str = "0.001, 0, 0, 0, 0, 0, 0, 0.001, 0, 0, 0, 0, 0, 0.001, 0, 0, 0, 0, 0.001, 0, 0, 0, 0.001, 0, 0, 0.001, 0, 0.001";

const TAILS: usize = 1;
const RIM: usize = 2;
const LOST: usize = 3;

#[test]
fn what_is_stated_wins_then_a_coupling_then_the_model_and_else_nothing_is_known() {
    let stated = passage(&text(
        BOARD,
        &format!(
            "{AIR}, preheat_c: 100, seconds: 5, k: {{tails: 0.5, rim: 0.3}}, sees_c: {{tails: 120}}"
        ),
    ));
    assert_eq!(
        seen(&stated, TAILS),
        Seen::At(Celsius::whole(120), SeenBy::Stated)
    );
    assert!(matches!(
        seen(&stated, RIM),
        Seen::At(_, SeenBy::Coupling(_))
    ));
    // The output says that the model would say otherwise, for both.
    let differs = |joint: usize| {
        stated.notes.iter().any(|note| {
            matches!(note, Note::ModelDiffers(meltstair::bench::SetBy::Joint(j), _, _) if j.0 == joint)
        })
    };
    assert!(differs(TAILS) && differs(RIM), "{:?}", stated.notes);

    let computed = passage(&text(BOARD, &format!("{AIR}, preheat_c: 100, seconds: 5")));
    let Seen::At(rim, SeenBy::Computed { by, free, .. }) = seen(&computed, RIM) else {
        panic!("{:?}", seen(&computed, RIM));
    };
    assert_eq!(by, Model::Field);
    assert!(rim <= free && rim > Celsius::whole(100), "{rim} {free}");
    // Nobody says how far three joints reach: they are no point, and nothing is known of them.
    assert_eq!(seen(&computed, LOST), Seen::UpTo(Some(Celsius::whole(320))));
    // A body stands in the stream.
    let label = limit(&computed, 0);
    assert!(
        matches!(label, Seen::At(_, SeenBy::Computed { .. })),
        "{label:?}"
    );

    for (board, set) in [
        // Half a board is none; nor is half a tool (which is refused, below).
        (
            "{size_mm: [84, 52], layers: 4}",
            format!("{AIR}, preheat_c: 100"),
        ),
        (BOARD, "set_c: 320, preheat_c: 100".to_owned()),
    ] {
        // A place alone bounds nothing: the target under its body lags, and bare joints run ahead.
        let unknown = passage(&text(board, &set));
        assert_eq!(
            seen(&unknown, RIM),
            Seen::UpTo(Some(Celsius::whole(320))),
            "{board}"
        );
        assert_eq!(unknown.verdict(), Verdict::Unknown);
    }
}

fn limit(passage: &Passage, guard: usize) -> Seen {
    let found = passage
        .limits
        .iter()
        .find(|l| matches!(l.of, LimitOf::Guard(g) if g.0 == guard));
    found.expect("it is there").seen
}

/// Under the tool nothing but the tool's own temperature is known.
#[test]
fn under_the_nozzle_only_the_air_itself_bounds() {
    let beside = text(BOARD, &format!("{AIR}, preheat_c: 100, seconds: 5")).replace(
        "at_mm: [54, 26], reach_mm: 2",
        "at_mm: [35, 26], reach_mm: 2",
    );
    let passage = passage(&beside);
    // As hot as a dial of 320 °C may really mean.
    let Seen::UpTo(Some(top)) = seen(&passage, TAILS) else {
        panic!("{:?}", seen(&passage, TAILS))
    };
    assert!(top >= Celsius::whole(320), "{top}");
    let tails = passage.sights.iter().find(|s| s.joint.0 == TAILS);
    assert_eq!(tails.expect("it stands").verdict, Verdict::Unknown);
}

/// The hot edge that verdicts use never falls when more heat comes in: hotter air, more preheat, a longer
/// stay, a higher peak; and it falls with the distance.
#[test]
fn more_heat_never_cools_a_neighbour() {
    let hot = |set: &str, at: &str| {
        let text = text(BOARD, set).replace("at_mm: [62, 14]", at);
        match seen(&passage(&text), RIM) {
            Seen::At(t, _) => t,
            Seen::UpTo(_) => panic!("under the tool"),
        }
    };
    let set = |air: i32, preheat: i32, seconds: &str, peak: i32| {
        format!(
            "nozzle_mm: 8, flow_l_min: 20, standoff_mm: 16, set_c: {air}, preheat_c: {preheat}, peak_c: {peak}{seconds}"
        )
    };
    let far = "at_mm: [62, 14]";
    // Air that is hotter still brings the target to its peak sooner and goes: then neighbours see less.
    for pair in [240, 260, 280, 300].windows(2) {
        for seconds in ["", ", seconds: 40"] {
            let [less, more] = [pair[0], pair[1]].map(|air| hot(&set(air, 90, seconds, 230), far));
            assert!(less <= more, "air {pair:?}{seconds}: {less} {more}");
        }
    }
    for pair in [40, 80, 120, 140].windows(2) {
        let [less, more] = [pair[0], pair[1]].map(|pre| hot(&set(320, pre, "", 200), far));
        assert!(less <= more, "preheat {pair:?}: {less} {more}");
    }
    for pair in [10, 30, 60, 120].windows(2) {
        let [less, more] =
            [pair[0], pair[1]].map(|s| hot(&set(320, 90, &format!(", seconds: {s}"), 230), far));
        assert!(less <= more, "seconds {pair:?}: {less} {more}");
    }
    for pair in [150, 170, 200, 240].windows(2) {
        let [less, more] = [pair[0], pair[1]].map(|peak| hot(&set(320, 90, "", peak), far));
        assert!(less <= more, "peak {pair:?}: {less} {more}");
    }
    for pair in [[48, 20], [56, 18], [64, 14], [72, 12]].windows(2) {
        let [near, away] = [pair[0], pair[1]].map(|[x, y]| {
            hot(
                &set(320, 90, ", seconds: 5", 200),
                &format!("at_mm: [{x}, {y}]"),
            )
        });
        assert!(near >= away, "{pair:?}: {near} {away}");
    }
}

/// A peak at the upper end of the window keeps the margin of the one who sets it.
#[test]
fn the_upper_end_of_a_window_still_holds() {
    for seconds in ["", ", seconds: 5"] {
        let set = |peak: &str| format!("{AIR}, preheat_c: 100{seconds}{peak}");
        let at_plan = passage(&text(BOARD, &set("")));
        let Some(to) = at_plan.window.to else {
            panic!("no upper end")
        };
        // A tenth below, for what is cut off in print.
        let peak = format!(", peak_c: {:.1}", to.degrees() - 0.05);
        let at_end = passage(&text(BOARD, &set(&peak)));
        let margin = at_end.sights.iter().filter_map(|s| s.margin).min();
        let least = at_plan.sights.iter().filter_map(|s| s.margin).min();
        assert!(
            margin >= least.min(Some(meltstair::quantity::KelvinStep::whole(5))),
            "{seconds}: {margin:?} at {to}"
        );
    }
}

/// A tool that cannot bring its target to flow does not, unless a peak is stated or was read.
#[test]
fn a_tool_that_is_too_weak_does_not_flow() {
    let weak = "nozzle_mm: 4, flow_l_min: 8, standoff_mm: 40, set_c: 170";
    let short = passage(&text(BOARD, weak));
    let target = short.target.as_ref().expect("it is heated");
    assert_eq!(target.flow, Flow::Not);
    assert!(
        short
            .notes
            .iter()
            .any(|n| matches!(n, Note::FallsShort(..)))
    );
    let stated = passage(&text(BOARD, &format!("{weak}, peak_c: 165")));
    assert_ne!(
        stated.target.as_ref().expect("it is heated").flow,
        Flow::Not
    );
    assert!(
        stated
            .notes
            .iter()
            .any(|n| matches!(n, Note::FallsShort(..)))
    );
    // Long enough in strong air it does; in a second it does not.
    let flow = |seconds: u32| {
        let set = format!("{AIR}, preheat_c: 100, seconds: {seconds}");
        passage(&text(BOARD, &set))
            .target
            .expect("it is heated")
            .flow
    };
    assert_eq!(flow(1), Flow::Not);
    assert_ne!(flow(120), Flow::Not);
}

/// What was learned moves the bound.
#[test]
fn what_was_learned_moves_the_bound() {
    let set = format!("{AIR}, peak_c: 230");
    let sees = |text: &str| match seen(&passage(text), RIM) {
        Seen::At(t, _) => t,
        Seen::UpTo(_) => panic!("under the tool"),
    };
    let before = sees(&text(BOARD, &set).replace("at_mm: [62, 14]", "at_mm: [76, 8]"));
    let with = |from: &str| {
        let learned = format!(
            "learned:\n  files: [{{file: run.csv, hash: \"00\", step: set}}]\n  \
             air: {{losses: 1.6, coupling: 0.5, conduction: 1, mixing: 0.8, dial: 1, body: 1, preheater: 1, structure: 0.08, \
             covariance: [{COVARIANCE}], from: \"{from}\"}}\n"
        );
        text(BOARD, &set)
            .replace("guards:", &format!("{learned}guards:"))
            .replace("at_mm: [62, 14]", "at_mm: [76, 8]")
    };
    let mark = job::learned::standing(&read(&with("")), job::learned::Kind::Air).expect("a file");
    let text = with(&mark);
    assert!(sees(&text) < before, "{} {before}", sees(&text));
    // Of other readings, or of another set-up, nothing was learned.
    assert_eq!(sees(&with("0123456789abcdef")), before);
    let other = text.replace("flow_l_min: 20", "flow_l_min: 20.5");
    let notices = job::read(&other, "job.yaml", AlloyBook::shipped())
        .expect("read")
        .notices;
    assert!(
        notices.iter().any(|n| n.message.contains("not used")),
        "{notices:?}"
    );
}

#[test]
fn what_cannot_be_is_refused_with_the_reason() {
    let air = |set: &str| text(BOARD, set);
    let board = |board: &str| text(board, AIR);
    let learned =
        |of: &str| text(BOARD, AIR).replace("guards:", &format!("learned: {of}\nguards:"));
    let covariance = |numbers: &str| {
        learned(&format!(
            "{{air: {{losses: 1, coupling: 1, conduction: 1, mixing: 1, dial: 1, body: 1, preheater: 1, structure: 0.1, from: a, covariance: [{numbers}]}}}}"
        ))
    };
    for (text, says) in [
        (
            air("nozzle_mm: 8"),
            "want `flow_l_min`, `standoff_mm`, `set_c` beside it",
        ),
        (
            air("nozzle_mm: 8, flow_l_min: 20, standoff_mm: 10"),
            "want `set_c` beside it",
        ),
        (
            air("tip_mm: 2, set_c: 300"),
            "`tip_mm` describes `tool: iron`",
        ),
        (
            air("nozzle_mm: 800, flow_l_min: 20, standoff_mm: 10, set_c: 300"),
            "out of range: want a number from 0.5 to 100 mm",
        ),
        (
            air("nozzle_mm: -1, flow_l_min: 20, standoff_mm: 10, set_c: 300"),
            "out of range",
        ),
        (
            air("nozzle_mm: 8, flow_l_min: .nan, standoff_mm: 10, set_c: 300"),
            "not a finite number",
        ),
        (
            air("nozzle_mm: 8, flow_l_min: 20, standoff_mm: 10, set_c: 80, preheat_c: 90"),
            "no hotter than the board",
        ),
        (
            air(&format!("{AIR}, preheat_area_mm: [1, 2, 3]")),
            "holds 3 numbers: want 4",
        ),
        (
            air(&format!("{AIR}, nozle_mm: 3")),
            "did you mean `nozzle_mm`?",
        ),
        (
            board(
                "{size_mm: [84, 52], thickness_mm: 0.2, layers: 12, copper_um: 70, coverage: 0.4}",
            ),
            "do not fit in a board of 0.2 mm: want at most 2 layers",
        ),
        (
            board("{size_mm: [20, 20], thickness_mm: 1, layers: 4, copper_um: 35, coverage: 0.4}"),
            "`set` works at (30, 26) mm, off the board: want 0 to 20 by 0 to 20 mm",
        ),
        (
            board("{size_mm: [84, 52], thickness_mm: 1, layers: 4, copper_um: 35, coverage: 40}"),
            "out of range",
        ),
        (
            board(
                "{size_mm: [84, 52], thickness_mm: 1, layers: 4, copper_um: 35, coverage: 0.4, pours: [{area_mm: [1, 1, 4, 4]}]}",
            ),
            "lacks the key `coverage`",
        ),
        (learned("{oven: {}}"), "not a key of `learned`"),
        (learned("{air: {losses: 1}}"), "lacks the key `covariance`"),
        (covariance("1, 1, 1"), "holds 3 numbers: want 28"),
        (
            covariance(&COVARIANCE.replacen(", 0,", ", 0.5,", 1)),
            "the learned covariance is none",
        ),
        (
            covariance(&COVARIANCE.replacen("0.001", "-0.001", 1)),
            "the learned covariance is none",
        ),
        (
            text(BOARD, AIR).replace("reach_mm: 2", "reach_mm: far"),
            "not a number",
        ),
        (
            text(BOARD, AIR).replace("size_mm: [8, 8, 1]", "size_mm: [8]"),
            "holds 1 numbers: want 2 or 3",
        ),
    ] {
        match job::read(&text, "job.yaml", AlloyBook::shipped()) {
            Ok(_) => panic!("it was read:\n{text}"),
            Err(faults) => {
                let shown = faults.to_string();
                assert!(shown.contains(says), "want {says}\n{shown}");
            }
        }
    }
}

/// Copper pours have no closed form: what is known is the field, or nothing.
#[test]
fn a_board_with_pours_has_a_field_and_no_steady_bound() {
    let pours = BOARD.replace(
        "0.4}",
        "0.4, pours: [{area_mm: [0, 0, 20, 20], coverage: 0.9}]}",
    );
    let sees = |set: &str| seen(&passage(&text(&pours, set)), RIM);
    let steady = sees(&format!("{AIR}, preheat_c: 100"));
    let field_only = |by: SeenBy| {
        matches!(
            by,
            SeenBy::Computed {
                by: Model::Field,
                ..
            }
        )
    };
    assert!(
        matches!(steady, Seen::UpTo(_)) || matches!(steady, Seen::At(_, by) if field_only(by)),
        "{steady:?}"
    );
    let field = sees(&format!("{AIR}, preheat_c: 100, seconds: 5"));
    assert!(matches!(
        field,
        Seen::At(
            _,
            SeenBy::Computed {
                by: Model::Field,
                ..
            }
        )
    ));
}

/// The body of the target stands in the air: its top counts against its limit, not its balls. Height and weight of the
/// body matter; without a height it may be as hot as the air.
#[test]
fn the_top_of_the_body_counts_against_its_limit() {
    let job = |size: &str| {
        format!(
            "job: one chip, invented
stock: [Sn96.5Ag3Cu0.5]
board: {{size_mm: [90, 60], thickness_mm: 1.2, layers: 4, copper_um: 35, coverage: 0.4}}
parts:
  - {{id: chip, balls: {{count: 400, diameter_um: 450, alloy: Sn96.5Ag3Cu0.5}}, on: site, dry: true, limit_c: 250, at_mm: [40, 30], size_mm: {size}, mass_mg: 500}}
joints:
  - {{id: site, at: chip, pad_um: 400}}
steps:
  - {{id: go, do: remove, part: chip, tool: air, nozzle_mm: 8, flow_l_min: 30, standoff_mm: 20, set_c: 350, seconds: 90, peak_c: 240}}
"
        )
    };
    let top = |size: &str| {
        let passage = passage(&job(size));
        let found = passage
            .limits
            .iter()
            .find(|l| matches!(l.of, LimitOf::Part(_)));
        let found = *found.expect("it has a limit");
        let Seen::At(t, SeenBy::Top(more)) = found.seen else {
            panic!("{:?}", found.seen);
        };
        assert_eq!(t, Celsius::whole(240) + more);
        assert_eq!(found.verdict, Verdict::Limit);
        t
    };
    let (flat, high, unknown) = (top("[14, 14, 0.8]"), top("[14, 14, 3]"), top("[14, 14]"));
    assert!(flat < high, "{flat} {high}");
    assert!(unknown > flat, "{unknown} {flat}");
}

/// Over a preheater the underside is hotter than the face that the preheat is stated of: by `q t/k`, 3 to 11 K at
/// 120 °C for 0.8 to 2 mm (8 W/m²K and rays from above). With an iron that hardly touches, since air warms the upper face
/// again, and a place that is warmer takes less from below.
#[test]
fn the_underside_is_hotter_over_a_preheater() {
    let hot = |side: &str| {
        let set = "tip_mm: 2.4, contact_k_w: 200, set_c: 320, preheat_c: 120, seconds: 3";
        let text = text(BOARD, set).replace("tool: air", "tool: iron").replace(
            "mg: 0.4, at_mm: [62, 14]",
            &format!("mg: 0.4, at_mm: [76, 8]{side}"),
        );
        match seen(&passage(&text), RIM) {
            Seen::At(t, _) => t,
            Seen::UpTo(_) => panic!("under the tool"),
        }
    };
    let (above, under) = (hot(""), hot(", side: under"));
    let more = (under - above).kelvin();
    assert!((3.0..11.0).contains(&more), "{above} {under}");
}

/// What a board does not say of its copper is guessed, with a wider band.
#[test]
fn a_board_half_described_is_guessed_wide() {
    let set = format!("{AIR}, preheat_c: 100, seconds: 5");
    let sees = |board: &str| match seen(&passage(&text(board, &set)), RIM) {
        Seen::At(t, _) => t,
        Seen::UpTo(_) => panic!("not computed"),
    };
    let said =
        sees("{size_mm: [84, 52], thickness_mm: 1.0, layers: 4, copper_um: 35, coverage: 0.5}");
    let guessed = sees("{size_mm: [84, 52], thickness_mm: 1.0}");
    assert!(guessed > said, "{guessed} {said}");
}

/// A bare joint beside a chip under wide air runs ahead of the balls below it: it is not capped at the target and a
/// spread. With places alone nothing is known.
#[test]
fn a_neighbour_that_runs_ahead_of_the_target_melts() {
    let job = |board: &str, described: &str| {
        format!(
            "job: wide air, invented
stock: [Bi58Sn42]
{board}parts:
  - {{id: chip, balls: {{count: 400, diameter_um: 450, alloy: Bi58Sn42}}, on: site, dry: true, at_mm: [60, 50], size_mm: [35, 35, 3.2], mass_mg: 12000}}
joints:
  - {{id: site, at: chip, pad_um: 400}}
  - {{id: beside, count: 8, alloy: Sn63Pb37, mg: 0.4, at_mm: [84.5, 50], reach_mm: 1}}
steps:
  - {{id: go, do: remove, part: chip, tool: air, preheat_c: 100{described}}}
"
        )
    };
    let board = "board: {size_mm: [160, 110], thickness_mm: 1.6, layers: 8, copper_um: 35, coverage: 0.6}\n";
    let air = ", nozzle_mm: 25, flow_l_min: 120, standoff_mm: 40, set_c: 360, seconds: 90";
    let melted = passage(&job(board, air));
    let beside = melted
        .sights
        .iter()
        .find(|s| s.joint.0 == 1)
        .expect("it stands");
    assert_eq!(beside.verdict, Verdict::Melts);
    let peak = melted.peak.expect("heated");
    assert!(
        matches!(beside.seen, Seen::At(t, _) if t > peak + tool_spread(Tool::Air)),
        "{:?}",
        beside.seen
    );
    let places = passage(&job("", ""));
    assert_eq!(seen(&places, 1), Seen::UpTo(None));
    assert_eq!(places.verdict(), Verdict::Unknown);
}
