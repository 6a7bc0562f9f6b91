//! Many alike: an item with `many: 40` stands for forty, written out before anything else reads the job.
//!
//! Members are called after the item, with their number: `w01` to `w40`, so that their ids sort as they
//! stand beside each other. `*` in a value of the item stands for that number (`from: p*`). Elsewhere the
//! name of the item stands for all its members, where a list of names or places may stand.

use std::collections::BTreeMap;

use super::desk::Desk;
use super::fields::number_in;
use super::keys;
use super::node::Node;
use crate::yaml::Placed;

/// Most items of a kind, written out.
const MOST_WRITTEN: usize = 500;
/// Lists of a job whose items may be many.
const LISTS: [&str; 4] = ["parts", "joints", "wires", "steps"];
/// Keys with lists of names, and with places.
const NAMES: [&str; 7] = [
    "on", "over", "crosses", "closes", "after", "shielded", "sinks",
];
const PLACES: [&str; 3] = ["k", "k_with_sink", "sees_c"];

type Pairs = Vec<(Placed<String>, Placed<Node>)>;

/// Names of members by the name of their item.
type Groups = BTreeMap<String, Vec<String>>;

/// Writes out all that is many.
pub(super) fn write_out(root: &mut Placed<Node>, desk: &mut Desk) {
    let Node::Map(keys) = &mut root.value else {
        return;
    };
    let (mut things, mut steps) = (Groups::new(), Groups::new());
    for (key, value) in keys.iter_mut() {
        if !LISTS.contains(&key.value.as_str()) || !has_each(value) {
            continue;
        }
        let groups = if key.value == "steps" {
            &mut steps
        } else {
            &mut things
        };
        let place = value.place;
        let items = match std::mem::replace(&mut value.value, Node::Nothing) {
            Node::List(items) => items,
            other => vec![value.with(other)],
        };
        let mut all = Vec::with_capacity(items.len());
        for item in items {
            members_of(item, groups, desk, &mut all);
            if all.len() > MOST_WRITTEN {
                break;
            }
        }
        if all.len() > MOST_WRITTEN {
            let message = format!("written out, more than {MOST_WRITTEN} entries stand here");
            desk.fault(place, message);
            all.clear();
        }
        value.value = Node::List(all);
    }
    if things.is_empty() && steps.is_empty() {
        return;
    }
    // In the log a name is that of one thing: what was read was read at one place.
    for (key, value) in keys {
        if key.value == "guards" || LISTS.contains(&key.value.as_str()) {
            name_members(value, &things, &steps, &[]);
        }
    }
}

fn has_each(list: &Placed<Node>) -> bool {
    super::fields::items(list).iter().any(|item| {
        pairs(item).is_some_and(|pairs| pairs.iter().any(|(key, _)| key.value == "many"))
    })
}

fn pairs(item: &Placed<Node>) -> Option<&Pairs> {
    match &item.value {
        Node::Map(pairs) => Some(pairs),
        _ => None,
    }
}

/// The members of an item; the item itself, where it is one.
fn members_of(
    item: Placed<Node>,
    groups: &mut Groups,
    desk: &mut Desk,
    all: &mut Vec<Placed<Node>>,
) {
    let place = item.place;
    let Node::Map(mut keys) = item.value else {
        all.push(item);
        return;
    };
    let Some(at) = keys.iter().position(|(key, _)| key.value == "many") else {
        all.push(Placed {
            value: Node::Map(keys),
            place,
        });
        return;
    };
    let (_, asked) = keys.remove(at);
    let made = Each::read(&asked, &keys, desk).and_then(|each| {
        let id = keys.iter().position(|(key, _)| key.value == "id")?;
        let Node::Scalar(name) = &keys[id].1.value else {
            return None;
        };
        let name = name.clone();
        let mut names = Vec::with_capacity(each.count);
        for nth in 0..each.count {
            let number = each.number(nth);
            let mut member = each.member(&keys, nth);
            let own = if name.contains('*') {
                name.replace('*', &number)
            } else {
                format!("{name}{number}")
            };
            member[id].1.value = Node::Scalar(own.clone());
            names.push(own);
            all.push(Placed {
                value: Node::Map(member),
                place,
            });
        }
        groups.insert(name.replace('*', ""), names);
        Some(())
    });
    if made.is_none() {
        all.push(Placed {
            value: Node::Map(keys),
            place,
        });
    }
}

/// How many, and what differs.
struct Each<'n> {
    count: usize,
    /// A value for each member.
    lists: Vec<(&'n Placed<String>, &'n [Placed<Node>])>,
    /// From one member to the next, mm.
    pitch: Option<[f64; 2]>,
}

impl<'n> Each<'n> {
    fn read(asked: &'n Placed<Node>, keys: &Pairs, desk: &mut Desk) -> Option<Self> {
        let mut each = Each {
            count: 0,
            lists: Vec::new(),
            pitch: None,
        };
        match &asked.value {
            Node::Scalar(_) => each.count = count(asked, desk)?,
            Node::Map(said) => {
                for (key, value) in said {
                    match (key.value.as_str(), &value.value) {
                        ("count", _) => each.count = count(value, desk)?,
                        ("pitch_mm", Node::List(items)) => each.pitch = Some(pair(items).or_else(|| {
                            desk.fault(value.place, "`pitch_mm`: want two numbers, from one member to the next, such as `[0.8, 0]`");
                            None
                        })?),
                        (_, Node::List(items)) => each.lists.push((key, items)),
                        (name, _) => {
                            desk.fault(value.place, format!("`{name}` in `many`: want a list with one entry for each member"));
                            return None;
                        }
                    }
                }
            }
            other => {
                desk.fault(
                    asked.place,
                    format!(
                        "found {} after `many`: want a number, or `{{count: 40, length_mm: […]}}`",
                        other.kind()
                    ),
                );
                return None;
            }
        }
        each.fits(asked, keys, desk).then_some(each)
    }

    /// Whether lists are as long as there are members, and nothing is said twice.
    fn fits(&mut self, asked: &Placed<Node>, keys: &Pairs, desk: &mut Desk) -> bool {
        if self.count == 0 {
            self.count = self.lists.first().map_or(0, |(_, items)| items.len());
        }
        if !(1..=keys::MOST_EACH as usize).contains(&self.count) {
            desk.fault(
                asked.place,
                format!(
                    "`many` without a `count`: want a whole number from 1 to {}",
                    keys::MOST_EACH
                ),
            );
            return false;
        }
        let mut fits = true;
        for (key, items) in &self.lists {
            if items.len() != self.count {
                desk.fault(
                    key.place,
                    format!(
                        "`{}` has {} entries: want {}, one for each member",
                        key.value,
                        items.len(),
                        self.count
                    ),
                );
                fits = false;
            }
            if keys.iter().any(|(other, _)| other.value == key.value) {
                desk.fault(
                    key.place,
                    format!(
                        "`{}` stands in `many` and beside it: want it once",
                        key.value
                    ),
                );
                fits = false;
            }
        }
        if self.pitch.is_some() && start_of(keys).is_none() {
            desk.fault(
                asked.place,
                "`pitch_mm` wants `at_mm` beside `many`: where the first member is",
            );
            fits = false;
        }
        fits
    }

    /// From 1, with zeros before it, so that ids sort by it.
    fn number(&self, nth: usize) -> String {
        let wide = self.count.to_string().len();
        format!("{:0wide$}", nth + 1)
    }

    fn member(&self, keys: &Pairs, nth: usize) -> Pairs {
        let mut member = keys.clone();
        let number = self.number(nth);
        for (_, value) in &mut member {
            numbered(value, &number);
        }
        for (key, items) in &self.lists {
            if let Some(value) = items.get(nth) {
                let mut value = value.clone();
                numbered(&mut value, &number);
                member.push(((*key).clone(), value));
            }
        }
        if let (Some(pitch), Some(start)) = (self.pitch, start_of(keys)) {
            let far = u32::try_from(nth).map_or(0.0, f64::from);
            let at = member.iter_mut().find(|(key, _)| key.value == "at_mm");
            if let Some((
                _,
                Placed {
                    value: Node::List(items),
                    ..
                },
            )) = at
            {
                for (axis, item) in items.iter_mut().enumerate().take(2) {
                    // To a nanometre: sums of decimal steps stay decimal.
                    let mm = ((start[axis] + far * pitch[axis]) * 1e6).round() / 1e6;
                    item.value = Node::Scalar(mm.to_string());
                }
            }
        }
        member
    }
}

fn start_of(keys: &Pairs) -> Option<[f64; 2]> {
    let (_, at) = keys.iter().find(|(key, _)| key.value == "at_mm")?;
    match &at.value {
        Node::List(items) => pair(items),
        _ => None,
    }
}

fn pair(items: &[Placed<Node>]) -> Option<[f64; 2]> {
    let number = |item: &Placed<Node>| match &item.value {
        Node::Scalar(word) => number_in(word),
        _ => None,
    };
    match items {
        [x, y] => Some([number(x)?, number(y)?]),
        _ => None,
    }
}

fn count(said: &Placed<Node>, desk: &mut Desk) -> Option<usize> {
    let count = super::fields::whole(said, "many", (1, keys::MOST_EACH), desk)?;
    usize::try_from(count).ok()
}

/// `*` in every value becomes the number of the member.
fn numbered(value: &mut Placed<Node>, number: &str) {
    match &mut value.value {
        Node::Scalar(word) if word.contains('*') => *word = word.replace('*', number),
        Node::Scalar(_) | Node::Nothing => {}
        Node::List(items) => items.iter_mut().for_each(|item| numbered(item, number)),
        Node::Map(pairs) => {
            for (key, value) in pairs {
                if key.value.contains('*') {
                    key.value = key.value.replace('*', number);
                }
                numbered(value, number);
            }
        }
    }
}

/// The names of items become those of their members, wherever several names or places may stand.
fn name_members(value: &mut Placed<Node>, things: &Groups, steps: &Groups, own: &[String]) {
    match &mut value.value {
        Node::List(items) => {
            for item in items {
                name_members(item, things, steps, own);
            }
        }
        Node::Map(pairs) => {
            let mut own = own.to_vec();
            own.extend(pairs.iter().filter_map(works_on));
            for (key, value) in pairs {
                let groups = if key.value == "after" { steps } else { things };
                if NAMES.contains(&key.value.as_str()) {
                    names(value, groups);
                }
                if PLACES.contains(&key.value.as_str()) || key.value == "after" {
                    places(value, groups, &own);
                }
                name_members(value, things, steps, &own);
            }
        }
        Node::Scalar(_) | Node::Nothing => {}
    }
}

fn names(value: &mut Placed<Node>, groups: &Groups) {
    let group = |item: &Placed<Node>| match &item.value {
        Node::Scalar(word) => groups.get(word),
        _ => None,
    };
    let all = super::fields::items(value);
    if !all.iter().any(|item| group(item).is_some()) {
        return;
    }
    let written = all.iter().flat_map(|item| match group(item) {
        None => vec![item.clone()],
        Some(members) => {
            let member = |name: &String| item.with(Node::Scalar(name.clone()));
            members.iter().map(member).collect()
        }
    });
    // Of a longer one nothing is written out: its names are then told as unknown.
    let written: Vec<Placed<Node>> = written.take(MOST_WRITTEN + 1).collect();
    if written.len() <= MOST_WRITTEN {
        value.value = Node::List(written);
    }
}

/// What a step works on: a coupling to all of a family is one to all others.
fn works_on((key, value): &(Placed<String>, Placed<Node>)) -> Option<String> {
    match &value.value {
        Node::Scalar(word) if ["joint", "part"].contains(&key.value.as_str()) => Some(word.clone()),
        _ => None,
    }
}

fn places(value: &mut Placed<Node>, groups: &Groups, own: &[String]) {
    let Node::Map(pairs) = &mut value.value else {
        return;
    };
    if !pairs.iter().any(|(key, _)| groups.contains_key(&key.value)) {
        return;
    }
    let written = pairs
        .iter()
        .flat_map(|(key, value)| match groups.get(&key.value) {
            None => vec![(key.clone(), value.clone())],
            Some(members) => {
                let member = |name: &String| (key.with(name.clone()), value.clone());
                let others = members.iter().filter(|name| !own.contains(name));
                others.map(member).collect()
            }
        });
    *pairs = written.collect();
}
