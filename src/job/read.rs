//! From the text of a job file to a checked [`Job`].

use std::fmt::{self, Write as _};

use super::alloys::Shelf;
use super::desk::{Assumption, Desk, MOST_SHOWN, Notice};
use super::fields::Fields;
use super::names::Names;
use super::node::{self, Node};
use super::shape::{Event, Job, JointIx, Wire, WireIx};
use super::steps::Things;
use super::{
    cycles, done, each as many, groups, heat, keys, log_fits, mend, plausible, steps, things,
};
use crate::alloy::AlloyBook;
use crate::yaml::{self, Fault, Place, Placed};

/// A job, and what is to be told about how it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadJob {
    /// The job.
    pub job: Job,
    /// What was understood differently from how it was written, in the order of the file.
    pub notices: Vec<Notice>,
    /// Every default that was used.
    pub assumed: Vec<Assumption>,
}

/// All that is wrong in a job file, shown with its lines.
#[derive(Clone, Debug, PartialEq)]
pub struct JobFaults {
    /// Sorted by place.
    pub faults: Vec<Fault>,
    shown: String,
}

impl JobFaults {
    fn new(mut faults: Vec<Fault>, file: &str, text: &str) -> Self {
        faults.sort_by(|a, b| {
            a.place
                .cmp(&b.place)
                .then_with(|| a.message.cmp(&b.message))
        });
        faults.dedup();
        let mut shown = yaml::render_all(&faults[..faults.len().min(MOST_SHOWN)], file, text);
        if faults.len() > MOST_SHOWN {
            let _ = write!(shown, "\n\nand {} more faults", faults.len() - MOST_SHOWN);
        }
        JobFaults { faults, shown }
    }
}

impl fmt::Display for JobFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.shown)
    }
}

impl std::error::Error for JobFaults {}

/// Reads the bytes of a job file; as [`read`], with what is no text refused.
///
/// # Errors
/// [`JobFaults`]: all that is wrong, each with its place.
pub fn read_bytes(bytes: &[u8], file: &str, book: &AlloyBook) -> Result<ReadJob, JobFaults> {
    match yaml::decode(bytes) {
        Ok(text) => read(text, file, book),
        Err(fault) => Err(JobFaults::new(vec![fault], file, "")),
    }
}

/// The fault of a line of the log that names a step which neither the job has nor the log has made necessary.
pub fn logs_nothing(bytes: &[u8], file: &str, event: &Event) -> JobFaults {
    let text = yaml::decode(bytes).unwrap_or_default();
    let line = usize::try_from(event.line).unwrap_or(usize::MAX);
    let found = text.lines().nth(line.saturating_sub(1));
    let column = found.and_then(|line| Some(line[..line.find(&event.step)?].chars().count()));
    let place = Place::at(line, column.unwrap_or(0) + 1).of_bytes(event.step.len());
    let place = Place::in_line(place, text);
    let own = event.step.split(['~', '#']).next().unwrap_or_default();
    let fault = Fault {
        message: format!(
            "no step is called `{}` at this point of the log: want one of the job, or one that `order` has put in",
            event.step
        ),
        place: Some(place),
        help: Some(format!("if `{own}` was done again, log `{own}`")),
    };
    JobFaults::new(vec![fault], file, text)
}

/// Reads a job file: ids resolved, units converted, alloys understood, defaults listed.
///
/// # Errors
/// [`JobFaults`]: all that is wrong, each with its place. What is no YAML at all gives one fault.
pub fn read(text: &str, file: &str, book: &AlloyBook) -> Result<ReadJob, JobFaults> {
    let mut desk = Desk::default();
    let job = match node::tree(text) {
        Ok(mut root) => job(&mut root, text, book, &mut desk),
        Err(fault) => {
            desk.faults = read_on(text, fault, book);
            None
        }
    };
    match job {
        Some(job) if desk.faults.is_empty() => {
            let mut notices = std::mem::take(&mut desk.notices);
            notices.sort_by_key(|notice| notice.place);
            Ok(ReadJob {
                job,
                notices,
                assumed: desk.take_assumptions(),
            })
        }
        _ => {
            // Too long a text is not worth drawing from.
            let shown = if text.len() > yaml::MAX_BYTES {
                ""
            } else {
                text
            };
            Err(JobFaults::new(desk.faults, file, shown))
        }
    }
}

/// All faults of a text that is no YAML: those of form, and what is wrong besides where reading went on.
fn read_on(text: &str, first: Fault, book: &AlloyBook) -> Vec<Fault> {
    if text.len() > mend::LONGEST || node::form(text).is_none() {
        return vec![first];
    }
    let mended = mend::mend(text, first, node::form);
    let mut faults = mended.faults;
    let Some(whole) = mended.text else {
        return faults;
    };
    let mut desk = Desk::default();
    if let Ok(mut root) = node::tree(&whole) {
        let _ = job(&mut root, &whole, book, &mut desk);
    }
    let told = desk
        .faults
        .into_iter()
        .filter(|fault| !(mended.cut && mend::hangs_on_the_cut(fault)));
    faults.extend(told.map(|fault| mend::placed(fault, text)));
    faults
}

fn job(root: &mut Placed<Node>, text: &str, book: &AlloyBook, desk: &mut Desk) -> Option<Job> {
    if root.value == Node::Nothing {
        desk.faults.push(
            Fault::of_file("the file is empty: want a job")
                .help("`meltstair new` writes one to start from"),
        );
        return None;
    }
    many::write_out(root, desk);
    let root = &*root;
    let fields = Fields::open(root, &keys::JOB, desk)?;
    let title = fields.text("job", desk).map(|t| t.value.to_owned());
    let want = things::want(&fields, desk);
    let mut shelf = Shelf::new(book, want.cadmium_accepted);
    shelf.read_pins(&fields, desk);
    shelf.read_stock(&fields, desk);
    let names = Names::gather(&fields, desk);
    let ambient = things::ambient(&fields, desk);
    let board = things::board(&fields, desk);
    let (learned, marks) = heat::learned(&fields, desk);
    let guards = each(&fields, "guards", |node| things::guard(node, &names, desk));
    let parts = each(&fields, "parts", |node| {
        things::part(node, &names, &mut shelf, desk)
    });
    let mut position = 0;
    let joints = each(&fields, "joints", |node| {
        position += 1;
        things::joint(
            node,
            JointIx(position - 1),
            &parts,
            &names,
            &mut shelf,
            desk,
        )
    });
    let mut wires = each(&fields, "wires", |node| own_wire(node, &names, desk));
    let refer = Things {
        names: &names,
        joints: &joints,
        parts: &parts,
        ambient,
        wires: wires.len(),
    };
    let (steps, brought) = steps::steps(&fields, &refer, &mut shelf, desk);
    wires.extend(brought);
    let places: Vec<_> = fields
        .items("steps")
        .iter()
        .map(|item| item.place)
        .collect();
    cycles::check(&steps, &places, desk);
    let done = done::events(root, &fields, &names, &shelf, text, desk);
    let reels = shelf.take_reels(desk);
    let mut read = Job {
        title: title?,
        want,
        stock: std::mem::take(&mut shelf.stock),
        pins: std::mem::take(&mut shelf.pins),
        ambient,
        board,
        learned,
        zones: names.zones.clone(),
        guards: all(guards, desk)?,
        parts: all(parts, desk)?,
        joints: all(joints, desk)?,
        wires: all(wires, desk)?,
        reels,
        steps: all(steps, desk)?,
        done: all(done, desk)?,
    };
    cross_both_ways(&mut read);
    groups::gather(&mut read);
    groups::check_counts(&read, &fields, desk);
    plausible::check(&read, &fields, desk);
    log_fits::check(&read, &fields, desk);
    log_fits::take_other_tools(&mut read);
    log_fits::mark_order(&mut read);
    heat::check_places(&read, &places, desk);
    heat::check_learned(&mut read, &marks, desk);
    Some(read)
}

/// A wire that crosses another one is crossed by it.
fn cross_both_ways(job: &mut Job) {
    for one in 0..job.wires.len() {
        for other in job.wires[one].crosses.clone() {
            let back = &mut job.wires[other.0].crosses;
            if !back.contains(&WireIx(one)) {
                back.push(WireIx(one));
            }
        }
    }
}

fn each<T>(
    fields: &Fields,
    key: &str,
    mut read: impl FnMut(&Placed<Node>) -> Option<T>,
) -> Vec<Option<T>> {
    fields.items(key).iter().map(&mut read).collect()
}

/// All of them, or none: nothing that the file says may get lost without a fault.
fn all<T>(read: Vec<Option<T>>, desk: &mut Desk) -> Option<Vec<T>> {
    let all: Option<Vec<T>> = read.into_iter().collect();
    if all.is_none() && desk.faults.is_empty() {
        desk.faults.push(Fault::of_file(
            "something in this file was not understood: this is a defect of the program",
        ));
    }
    all
}

fn own_wire(node: &Placed<Node>, names: &Names, desk: &mut Desk) -> Option<Wire> {
    let fields = Fields::open(node, &keys::WIRE, desk)?;
    let id = fields.text("id", desk)?;
    things::wire(&fields, id.value, names, desk)
}
