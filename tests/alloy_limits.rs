//! The data of limits: every row has its source and its mark.

use std::collections::BTreeMap;

use meltstair::alloy::limits;
use meltstair::yaml;
use serde_json::Value;

type Rows = BTreeMap<String, Vec<BTreeMap<String, Value>>>;
type Sources = BTreeMap<String, BTreeMap<String, Value>>;

#[test]
fn every_row_cites_a_source_and_says_how_well_it_is_known() {
    let sources: Sources = yaml::read(limits::SOURCES).unwrap();
    let mut cited = Vec::new();
    let mut count = 0;
    for (file, text) in limits::FILES {
        let groups: Rows = yaml::read(text).unwrap_or_else(|why| panic!("{file}: {why:?}"));
        for (group, rows) in &groups {
            for row in rows {
                let what = format!("{file}, {group}: {row:?}");
                let mark = row["mark"].as_str().unwrap();
                assert!(
                    ["seen", "memory", "practice", "derived"].contains(&mark),
                    "{what}"
                );
                let from = row["from"].as_array().unwrap();
                assert!(!from.is_empty() || mark == "derived", "{what}");
                for id in from {
                    let id = id.as_str().unwrap();
                    assert!(sources.contains_key(id), "{what}");
                    cited.push(id.to_owned());
                    // A row counts as read only if one of its documents was.
                    let read = |id: &str| sources[id]["kind"] == "seen";
                    let any_read = from.iter().any(|id| read(id.as_str().unwrap()));
                    assert!(mark != "seen" || any_read, "{what}");
                }
                count += 1;
            }
        }
    }
    assert!(count > 200, "{count}");
    for id in sources.keys() {
        assert!(cited.contains(id), "{id} is cited nowhere");
    }
}
