//! The check of the user's own alloy file.

use std::sync::Arc;

use meltstair::alloy::AlloyBook;
use meltstair::melt::MeltBook;
use meltstair::show::own::{OwnFile, of};
use meltstair::show::say::Say;

fn checked(text: &str) -> OwnFile {
    let shipped = AlloyBook::shipped();
    let book = shipped.with_user_file(text).expect("a file of own alloys");
    let melts = MeltBook::new(Arc::new(shipped.clone()), Vec::new());
    of(&book, shipped, &melts, Say::default())
}

const SOURCES: &str = "
sources:
  spool: {title: label of our spool, publisher: ours, year: '2024', address: shelf, kind: own}
";

#[test]
fn a_file_that_agrees_is_clean() {
    let own = checked(&format!(
        "{SOURCES}alloys:
  - {{alloy: Sn63Pb37, use_c: 183/183, why: ours, readings_c: {{spool: 183/183}}}}
stock: [{{alloy: 63/37}}, {{alloy: sac305}}]
"
    ));
    assert!(own.is_clean(), "{own:?}");
    assert_eq!(own.stock, ["Sn63Pb37", "Sn96.5Ag3Cu0.5"]);
    let text = own.text(Say::default());
    assert!(
        text.starts_with("own alloys: 1, on the shelf: 2, all understood; nothing disagrees"),
        "{text}"
    );
}

/// A tin-lead alloy with 70 % tin: eutectic at 183 °C (published in many lists), whatever a label says.
#[test]
fn a_solidus_that_flatters_is_told() {
    let own = checked(&format!(
        "{SOURCES}alloys:
  - {{alloy: Sn70Pb30, use_c: 192/192, why: label, density_g_cm3: 4.1, density_from: spool, readings_c: {{spool: 192/192}}}}
"
    ));
    assert!(!own.is_clean());
    let text = own.text(Say::default());
    assert!(
        text.contains("its solidus is 192 °C, but it begins to melt at 18"),
        "{text}"
    );
    assert!(
        text.contains("it replaces the alloy of the table, whose solidus is 183 °C, not 192 °C"),
        "{text}"
    );
    assert!(text.contains("its density is 4.10 g/cm³"), "{text}");
    assert!(text.contains("lead"), "{text}");
}

#[test]
fn where_there_are_no_phase_data_that_is_told() {
    let own = checked(&format!(
        "{SOURCES}alloys:
  - {{alloy: Bi50Pb26.7Sn13.3Cd10, use_c: 70/70, why: label, readings_c: {{spool: 70/70}}}}
"
    ));
    let text = own.text(Say::default());
    assert!(
        text.contains("there are no phase data to check it against"),
        "{text}"
    );
    assert!(text.contains("cadmium"), "{text}");
}
