//! Alloys that are not known, and the test that decides most.

use meltstair::bench::Setting;
use meltstair::melt::MeltBook;
use meltstair::plan::{self, Answer, Budget, FindOut, Shows, Test};
use meltstair::quantity::{Celsius, KelvinStep};

use crate::plan_help::{book, read_text};

/// By hand: chip at 165 near old joints with coupling 0.6 over 100: they see 139.
const METER: &str = "
job: goat-milking meter
readings: {Sn63Pb37: [183, 183], Sn96.5Ag3Cu0.5: [217, 220], Bi58Sn42: [138, 138]}
joints:
  - {id: old, count: 8, alloy: {one_of: [Sn63Pb37, Sn96.5Ag3Cu0.5, Bi58Sn42]}, mg: 0.5, must: stay_solid}
  - {id: new, count: 4}
steps:
  - {id: set, do: solder, joint: new, alloy: Bi58Sn42, mg: 0.2, tool: air, peak_c: 165, preheat_c: 100, k: {old: 0.6}}
";

fn test_for(text: &str) -> Option<FindOut> {
    let job = read_text(text);
    let melts: MeltBook = book(&job);
    let setting = Setting::new(&job, &melts);
    plan::find_out(&setting, Budget::default()).unwrap()
}

#[test]
fn a_touch_at_150_tells_whether_the_old_joints_bear_it() {
    let test = test_for(METER).expect("a test");
    assert_eq!(test.test, Test::Touch(Celsius::whole(150)));
    assert!(!test.usual_only);
    let branch = |shows| test.branches.iter().find(|b| b.shows == shows).unwrap();
    let solid = branch(Shows::StaysSolid);
    assert_eq!(solid.candidates, [0, 1]);
    // Leaded keeps 183 − 139 = 44, lead-free 78: 44 holds for both.
    assert_eq!(
        solid.answer.plan().unwrap().1.margin,
        Some(KelvinStep::whole(44))
    );
    let melts = branch(Shows::Melts);
    assert_eq!(melts.candidates, [2]);
    assert!(matches!(melts.answer, Answer::Impossible { .. }));
    assert!(melts.next.is_none());
}

/// Where the step is cool enough for all of them, nothing need be found out.
#[test]
fn a_plan_that_holds_for_all_needs_no_test() {
    assert!(test_for(&METER.replace("k: {old: 0.6}", "k: {old: 0.2}")).is_none());
    let job = read_text(&METER.replace("k: {old: 0.6}", "k: {old: 0.2}"));
    let melts = book(&job);
    let answer = plan::order(&Setting::new(&job, &melts), Budget::default(), &mut |_| {
        true
    })
    .unwrap();
    // Tin-bismuth keeps least: 138 − (100 + 0.2 · 65).
    assert_eq!(answer.plan().unwrap().1.margin, Some(KelvinStep::whole(25)));
}
